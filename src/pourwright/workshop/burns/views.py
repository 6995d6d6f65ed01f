"""The burn book's pages: pieces, sets, lighting, the maker's limits, and what to burn next."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from pourwright.core.burns.cautions import cautions
from pourwright.core.errors import BadInput
from pourwright.papers.candle import above_svg, section_svg, shared_px_per_mm
from pourwright.workshop.burns import evidence, forms, queries, records, searching, services
from pourwright.workshop.burns.models import (
    BurnSession,
    PieceState,
    Purpose,
    SearchSettings,
    TestBurn,
    TestPiece,
)
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.heat.services import forecast_for_burn
from pourwright.workshop.house import doors
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.stores.models import Item, Kind


@require_safe
def index(request):
    """Show the pieces, and what burns now."""
    on = doors.today()
    tab = request.GET.get("show", "")
    rows = page_of(
        request, queries.listed(tab, on=on), size=25,
        search=("number", "version__design__name", "wick__name"),
    )  # fmt: skip
    queries.dressed(rows.rows, on=on)
    context = {
        "slice": rows, "tabs": queries.TABS, "tab": tab,
        "alight": _timed(queries.alight()),
        "design_choice": Design.objects.filter(retired=False).order_by("name"),
        "any": bool(rows.rows) or TestPiece.objects.exists(),
    }  # fmt: skip
    return render(request, "burns/index.html", context)


def _timed(burns):
    """Put on each burn how long it has burned."""
    now = doors.now()
    for burn in burns:
        burn.so_far = queries.hours_words(services.minute_of(burn, now))
    return burns


@require_safe
def design(request, pk: int):
    """Show all of a design's pieces, what its series lacks, and what to burn next."""
    shown = get_object_or_404(Design, pk=pk)
    on = doors.today()
    version = designs.newest_version(shown)
    rows = list(queries.listed("all", on=on).filter(version__design=shown))
    queries.dressed(rows, on=on)
    context = {"design": shown, "version": version, "rows": rows, "series": _series(version, on)}
    return render(request, "burns/design.html", context)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Series:
    """What the burns say of a version, in the words of the page."""

    tone: str
    state: str
    says: str
    missing: tuple[str, ...] = ()
    findings: tuple = ()
    warnings: tuple = ()
    tests: tuple = ()
    closing: str = ""


def _series(version: DesignVersion, on) -> _Series:
    try:
        found = evidence.standing_of(version, on=on)
    except BadInput as problem:
        return _Series(tone="wait", state="not judged", says=str(problem))
    verdict = found.verdict
    return _Series(
        tone=queries.STANDING_TONES[found.state], state=found.state, says=found.says,
        missing=verdict.missing if verdict else (), findings=verdict.findings if verdict else (),
        warnings=verdict.warnings if verdict else (), tests=found.tests,
        closing=cautions(on=on).closing,
    )  # fmt: skip


# --- a piece -------------------------------------------------------------------------------------


def _piece(number: str) -> TestPiece:
    return get_object_or_404(records.with_burns(TestPiece.objects), number=number)


def piece(request, number: str):
    """Show a piece with its burns; a POST finishes or discards it."""
    shown = _piece(number)
    on = doors.today()
    reason = forms.ReasonForm(
        request.POST if request.POST.get("do") == "discard" else None, workshop=request.workshop
    )
    if request.method == "POST":
        said = _end(request, shown, reason, on)
        if said:
            doors.say(request, said)
            return redirect("burns:piece", number=number)
    units = request.workshop.units
    burns = [queries.judged(burn, units=units) for burn in records.burns_of(shown)]
    burns_now = next((one.burn for one in burns if one.burn.minutes is None), None)
    picture = queries.drawing_of(shown, lit=burns_now is not None)
    scale = shared_px_per_mm(picture, size=200)
    tone, word = queries.state_of(shown, alight=burns_now is not None, on=on)
    ended = any(one.burn.last and one.burn.minutes is not None for one in burns)
    context = {
        "piece": shown, "tone": tone, "word": word, "burns": burns, "burns_now": burns_now,
        "section": section_svg(picture, px_per_mm=scale, prefix="section", units=units),
        "above": above_svg(picture, px_per_mm=scale, prefix="above", units=units),
        "cure": queries.cure_words(shown, on=on),
        "as_designed": records.is_as_designed(shown),
        "left_out": TestBurn.objects.filter(piece=shown).exclude(left_out="")
        .select_related("entered_anew"),
        "series": _series(designs.newest_version(shown.version.design), on),
        "newest": designs.newest_version(shown.version.design),
        "reason": reason, "can_light": shown.state == PieceState.OPEN and not burns_now
        and not ended, "ended": ended and shown.state == PieceState.OPEN,
    }  # fmt: skip
    return render(request, "burns/piece.html", context)


def _end(request, shown: TestPiece, reason, on) -> str:
    do = request.POST.get("do")
    stamp = {"on": on, "at": doors.now()}
    if do == "finish":
        try:
            services.finish(shown, **stamp)
        except BadInput as problem:
            doors.warn(request, str(problem))
            return ""
        return f"{shown.number} is finished."
    if do == "discard":
        if reason.is_valid():
            with doors.refusals(reason):
                services.discard(shown, reason=reason.cleaned_data["reason"], **stamp)
                return f"{shown.number} is discarded; what it showed still counts."
        return ""
    raise Http404(do)


def take(request, pk: int):
    """Take pieces of a design's version: ``?wick=4&count=2&purpose=search&lot=L-0012``."""
    version = get_object_or_404(
        DesignVersion.objects.select_related(
            "design", "vessel__vessel", "wick__wick", "formula_version__formula"
        ),
        pk=pk,
    )
    form = forms.TakeForm(
        request.POST or None, workshop=request.workshop, version=version,
        initial=_take_initial(request, version),
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            made = services.take_pieces(
                version, on=doors.today(), at=doors.now(), workshop=request.workshop,
                **form.cleaned_data,
            )  # fmt: skip
            names = ", ".join(piece.number for piece in made)
            doors.say(request, f"In the book: {names}. Write the number on each.")
            if len(made) == 1:
                return redirect("burns:piece", number=made[0].number)
            return redirect("burns:design", pk=version.design_id)
    context = {"form": form, "version": version, "days": designs.cure_days(version,
               request.workshop)}  # fmt: skip
    return render(request, "burns/take.html", context)


def _take_initial(request, version: DesignVersion) -> dict:
    asked = request.GET
    wick = Item.objects.filter(
        kind=Kind.WICK, pk=asked["wick"] if asked.get("wick", "").isdigit() else version.wick_id
    ).first()
    lots = forms.lots_of(version)
    search = asked.get("purpose") == Purpose.SEARCH
    lot = lots.filter(code=asked["lot"]).first() if "lot" in asked else None
    if lot is None and not search and "wick" not in asked:
        lot = lots.first()
    count, wicks = asked.get("count", ""), asked.get("wicks", "")
    return {
        "lot": lot, "wick": wick or version.wick,
        "wick_count": int(wicks) if wicks.isdigit() else version.wick_count,
        "count": int(count) if count.isdigit() else 1,
        "purpose": Purpose.SEARCH if search else Purpose.SERIES, "trim_mm": version.trim_mm,
        "fill_mg": version.fill_mg, "poured_on": None if lot else doors.today(),
    }  # fmt: skip


# --- lighting ------------------------------------------------------------------------------------


def light(request, number: str):
    """Ask for every caution and what is known before the flame; then light it."""
    shown = _piece(number)
    on = doors.today()
    session = _session(request)
    counted = records.burns_of(shown)
    curing = bool(shown.ready_on and shown.ready_on > on)
    form = forms.LightForm(
        request.POST or None, workshop=request.workshop, on=on, curing=curing,
        initial={
            "by": (session and session.by) or request.workshop.maker, "trim_mm": shown.trim_mm,
            "room_c": _room_before(session),
        },
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            burn = services.light(shown, at=doors.now(), on=on, session=session, **form.told())
            forecast_for_burn(shown, on=on, at=burn.lit_at, burn=burn)
            return redirect("burns:burn", pk=burn.pk)
    told = cautions(on=on)
    context = {
        "piece": shown, "form": form, "session": session, "number": len(counted) + 1,
        "stop_now": told.stop_now, "closing": told.closing, "curing": curing,
        "alight": [] if session else _timed(queries.alight()),
    }  # fmt: skip
    return render(request, "burns/light.html", context)


def _session(request) -> BurnSession | None:
    pk = request.GET.get("set", "")
    return get_object_or_404(BurnSession, pk=pk) if pk.isdigit() else None


def _room_before(session: BurnSession | None):
    """The room is the same for all of a set: what was read for the first is offered again."""
    burn = session and session.burns.filter(left_out="").order_by("-id").first()
    return burn.room_c if burn else None


def set_new(request):
    """Ask what room and person allow, then begin a set."""
    on = doors.today()
    row = SearchSettings.load()
    form = forms.SetForm(
        request.POST or None, workshop=request.workshop,
        initial={"by": request.workshop.maker, "room_holds": row.side_by_side,
                 "person_watches": row.side_by_side},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            made = services.begin_session(on=on, at=doors.now(), **form.cleaned_data)
            return redirect("burns:set", pk=made.pk)
    return render(request, "burns/set_new.html", {"form": form, "told": cautions(on=on)})


@require_safe
def side_by_side(request, pk: int):
    """Show a set: what burns of it, and what can be lit yet."""
    session = get_object_or_404(BurnSession, pk=pk)
    on = doors.today()
    burns = list(
        session.burns.filter(left_out="").select_related("piece__version__design").order_by("id")
    )
    burning = [burn for burn in burns if burn.minutes is None]
    open_set = session.on == on
    context = {
        "session": session, "burning": _timed(burning),
        "over": [burn for burn in burns if burn.minutes is not None],
        "room": session.most - len(burning) if open_set else 0, "open_set": open_set,
        "ready": list(queries.ready_to_light(on=on)[:60]) if open_set else [],
        "stop_now": cautions(on=on).stop_now,
    }  # fmt: skip
    return render(request, "burns/set.html", context)


# --- the maker's own -----------------------------------------------------------------------------


def limits(request):
    """Change the maker's own limits of a burn, and what a burn must meet in a search."""
    on = doors.today()
    sent = request.POST.get("do")
    try:
        found = records.limits_on(on)
    except BadInput as problem:
        doors.warn(request, str(problem))
        raise
    limits_form = forms.LimitsForm(
        request.POST if sent == "limits" else None, workshop=request.workshop, limits=found,
        initial={"by": request.workshop.maker},
    )  # fmt: skip
    search_form = forms.SearchForm(
        request.POST if sent == "search" else None, workshop=request.workshop,
        instance=SearchSettings.load(),
    )  # fmt: skip
    form = {"limits": limits_form, "search": search_form}.get(sent)
    if request.method == "POST" and form is not None and form.is_valid():
        with doors.refusals(form):
            if sent == "limits":
                services.set_limits(on=on, at=doors.now(), **form.told())
            else:
                services.set_search(**form.cleaned_data)
            doors.say(request, "Kept.")
            return redirect("burns:limits")
    context = {"form": limits_form, "search": search_form, "rule": found.rule}
    return render(request, "burns/limits.html", context)


# --- the next burn -------------------------------------------------------------------------------


def next_burn(request, pk: int):
    """Show what to burn next for a design, from all the workshop's burns."""
    shown = get_object_or_404(Design, pk=pk)
    version = designs.newest_version(shown)
    if version is None:
        raise Http404("a design without a version")
    names, lacking = searching.series_of()
    row = SearchSettings.load()
    asked = request.GET if "wick_count" in request.GET else None
    start = {
        "series": names, "wick_count": version.wick_count, "side_by_side": row.side_by_side,
    }  # fmt: skip
    form = forms.NextForm(asked, workshop=request.workshop, series=names, initial=start)
    found, problem = None, ""
    given = start if asked is None else (form.cleaned_data if form.is_valid() else None)
    if given is not None:
        try:
            found = searching.search(
                version, series=given["series"] or names, wick_count=given["wick_count"],
                side_by_side=given["side_by_side"], on=doors.today(), workshop=request.workshop,
            )  # fmt: skip
        except BadInput as refused:
            problem = str(refused)
    take = reverse("burns:take", args=[version.pk])
    links = []
    for one in found.proposed if found else ():
        links.append(
            (one, f"{take}?purpose=search&wick={one.wick.pk}&wicks={given['wick_count']}"
             f"&count={one.pieces}")
        )  # fmt: skip
    context = {
        "design": shown, "version": version, "form": form, "found": found, "problem": problem,
        "lacking": lacking, "links": links, "criteria": row, "take": take,
        "wicks": given["wick_count"] if given else version.wick_count,
    }  # fmt: skip
    return render(request, "burns/next.html", context)
