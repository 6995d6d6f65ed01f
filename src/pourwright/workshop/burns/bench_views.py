"""
The burn at the bench: one page that times it and takes what is read, and the entries it sends.

Every entry is a plain form. Sent by the page's script (which says so in a header) it is answered
in JSON, so that what waited while the connection was down can be sent later, each once.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from pourwright.core.burns.cautions import cautions
from pourwright.core.errors import BadInput
from pourwright.workshop.burns import forms, queries, records, services
from pourwright.workshop.burns.models import BurnPhoto, BurnReading, TestBurn
from pourwright.workshop.house import doors

SCRIPT = "HTTP_X_BURN_ENTRY"


def _burn(pk: int) -> TestBurn:
    return get_object_or_404(
        records.with_readings(TestBurn.objects).select_related(
            "piece__version__design", "piece__version__formula_version",
            "piece__version__vessel__vessel", "piece__wick", "session", "instead_of",
        ),
        pk=pk,
    )  # fmt: skip


@require_safe
def burn(request, pk: int):
    return _page(request, _burn(pk))


def _page(request, shown: TestBurn, sent: dict | None = None, status: int = 200):
    """Render a burn: at the bench while it burns, else what it showed; ``sent`` is a bound form."""
    newer = getattr(shown, "entered_anew", None)
    if newer is not None and not sent:
        return redirect("burns:burn", pk=newer.pk)
    sent = sent or {}
    now, on = doors.now(), doors.today()
    minute = services.minute_of(shown, now)
    found = queries.judged(shown, units=request.workshop.units)
    house = records.limits_on(on)
    try:
        candle = records.candle_of(shown.piece)
    except BadInput:
        candle = None
    burns = shown.minutes is None and not shown.left_out
    due = (
        queries.due_of(shown, found.core.readings, candle=candle, house=house, minute=minute)
        if burns and found.core
        else []
    )
    told = cautions(on=on)
    context = {
        "burn": shown, "piece": shown.piece, "found": found, "candle": candle,
        "due": queries.by_minute(due),
        "burns": burns, "minute": minute, "so_far": queries.hours_words(minute),
        "lit_ms": int(shown.lit_at.timestamp() * 1000), "now_ms": int(now.timestamp() * 1000),
        "curves": queries.curves_of(
            shown, found.core, candle=candle, house=house, units=request.workshop.units,
            minute=minute,
        ),
        "band": queries.band_of(shown),
        "readings": [row for row in shown.readings.all() if not row.left_out],
        "left_out": [row for row in shown.readings.all() if row.left_out],
        "photos": shown.photos.defer("image").filter(left_out=""),
        "stop_now": told.stop_now, "closing": told.closing,
        "reason": forms.ReasonForm(workshop=request.workshop),
        "over_by": _over_by(shown, minute, house.rule["due_within_minutes"]),
        "within": house.rule["due_within_minutes"], "early": queries.EARLY_MINUTES,
    }  # fmt: skip
    if burns:
        context |= _entries(request, shown, sent, queries.asked_first(due))
    else:
        context["after"] = sent.get("after") or forms.AfterForm(
            workshop=request.workshop, burn=shown, auto_id="after-%s"
        )
    template = "burns/bench.html" if burns else "burns/burn.html"
    return render(request, template, context, status=status)


def _over_by(shown: TestBurn, minute, within: int) -> str:
    """Return how much longer it burns than it was meant to, in hours; empty where it does not."""
    longer = minute - shown.planned_minutes
    return queries.hours_words(longer) if longer > within else ""


def _entries(request, shown: TestBurn, sent: dict, first: str) -> dict:
    """Return the bench's forms, the one that was sent among them and open."""
    groups = []
    for name, kind in forms.GROUPS.items():
        form = sent.get(name) or kind(workshop=request.workshop, burn=shown, auto_id=f"{name}-%s")
        opened = name in sent or (name == first and not sent)
        groups.append((name, kind.title, form, opened))
    return {
        "groups": groups,
        "photo": sent.get("photo")
        or forms.PhotoForm(workshop=request.workshop, burn=shown, auto_id="photo-%s"),
        "photo_sent": "photo" in sent,
        "full": forms.FullForm(workshop=request.workshop, burn=shown, auto_id="full-%s"),
        "out": sent.get("out")
        or forms.OutForm(workshop=request.workshop, burn=shown, auto_id="out-%s"),
    }


# --- entries -------------------------------------------------------------------------------------


def _entry(request, pk: int, name: str, form, act: Callable, said: str) -> HttpResponse:
    """Record what a form says; answer the script in JSON, anybody else with a page."""
    by_script = SCRIPT in request.META
    if form.is_valid():
        try:
            act(form.told())
        except BadInput as problem:
            form.add_error(None, str(problem))
        else:
            if by_script:
                return JsonResponse({"ok": True})
            doors.say(request, said)
            return redirect("burns:burn", pk=pk)
    if by_script:
        words = [str(error) for errors in form.errors.values() for error in errors]
        return JsonResponse({"refused": " ".join(words)}, status=422)
    return _page(request, _burn(pk), {name: form}, status=422)


@require_POST
def read(request, pk: int, group: str):
    shown = _burn(pk)
    kind = forms.GROUPS.get(group)
    if kind is None:
        raise Http404(group)
    form = kind(request.POST, workshop=request.workshop, burn=shown, auto_id=f"{group}-%s")

    def act(told: dict) -> None:
        services.read(shown, at=doors.now(), **told)

    return _entry(request, pk, group, form, act, f"{kind.title}: on record.")


@require_POST
def full(request, pk: int):
    shown = _burn(pk)
    form = forms.FullForm(request.POST, workshop=request.workshop, burn=shown)

    def act(told: dict) -> None:
        services.full_pool(shown, at=doors.now(), minute=told["minute"])

    return _entry(request, pk, "full", form, act, "The full pool is on record.")


@require_POST
def photo(request, pk: int):
    shown = _burn(pk)
    form = forms.PhotoForm(
        request.POST, request.FILES, workshop=request.workshop, burn=shown, auto_id="photo-%s"
    )

    def act(told: dict) -> None:
        services.photo(shown, at=doors.now(), **told)

    return _entry(request, pk, "photo", form, act, "The photo is kept.")


@require_POST
def out(request, pk: int):
    shown = _burn(pk)
    form = forms.OutForm(request.POST, workshop=request.workshop, burn=shown, auto_id="out-%s")

    def act(told: dict) -> None:
        services.put_out(shown, at=doors.now(), **told)

    return _entry(request, pk, "out", form, act, "Put out. Weigh the piece when the wax has set.")


@require_POST
def after(request, pk: int):
    shown = _burn(pk)
    form = forms.AfterForm(request.POST, workshop=request.workshop, burn=shown, auto_id="after-%s")
    if form.is_valid():
        with doors.refusals(form):
            services.weigh_after(shown, at=doors.now(), **form.cleaned_data)
            doors.say(request, "On record.")
            return redirect("burns:burn", pk=pk)
    return _page(request, _burn(pk), {"after": form}, status=422)


# --- mending -------------------------------------------------------------------------------------


def anew(request, pk: int):
    """Enter a burn anew with what was wrong mended."""
    shown = _burn(pk)
    form = forms.AnewForm(request.POST or None, workshop=request.workshop, instance=shown)
    if request.method == "POST" and form.is_valid():
        told = form.told()
        with doors.refusals(form):
            made = services.enter_anew(shown, reason=told.pop("reason"), at=doors.now(), **told)
            doors.say(request, "Entered anew; what stood before is kept as left out.")
            return redirect("burns:burn", pk=made.pk)
    return render(request, "burns/anew.html", {"burn": shown, "form": form})


def leave_out(request, pk: int):
    """Leave a burn out, with the reason."""
    shown = _burn(pk)
    form = forms.LeaveOutForm(request.POST or None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            services.leave_out_burn(shown, at=doors.now(), **form.cleaned_data)
            doors.say(request, f"{shown} is left out; it stays in the book.")
            return redirect("burns:piece", number=shown.piece.number)
    return render(request, "burns/leave_out.html", {"burn": shown, "form": form})


@require_POST
def leave_out_reading(request, pk: int):
    reading = get_object_or_404(BurnReading.objects.select_related("burn"), pk=pk)
    form = forms.ReasonForm(request.POST, workshop=request.workshop)
    try:
        services.leave_out_reading(
            reading, reason=form.cleaned_data["reason"] if form.is_valid() else "",
            at=doors.now(),
        )  # fmt: skip
        doors.say(request, "That reading is left out; it stays in the book.")
    except BadInput as problem:
        doors.warn(request, str(problem))
    return redirect("burns:burn", pk=reading.burn_id)


@require_safe
def picture(request, pk: int):
    """Send a photo; its bytes never change, so a browser may keep it."""
    found = get_object_or_404(BurnPhoto, pk=pk)
    response = HttpResponse(bytes(found.image), content_type=found.content_type)
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Disposition"] = f'inline; filename="burn-{found.burn_id}-{pk}.jpg"'
    return response


@require_POST
def leave_out_photo(request, pk: int):
    found = get_object_or_404(BurnPhoto.objects.defer("image"), pk=pk)
    form = forms.ReasonForm(request.POST, workshop=request.workshop)
    try:
        services.leave_out_photo(
            found, reason=form.cleaned_data["reason"] if form.is_valid() else ""
        )
    except BadInput as problem:
        doors.warn(request, str(problem))
    return redirect("burns:burn", pk=found.burn_id)
