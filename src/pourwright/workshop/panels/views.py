"""Scent panels: the list, planning one, its page, one assessor at a time, and throw by cure."""

from __future__ import annotations

import secrets

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from pourwright.core.burns.cautions import cautions
from pourwright.core.errors import BadInput
from pourwright.core.panel_plans import panel_cautions
from pourwright.intake.panel_answers import PANEL_ANSWERS
from pourwright.papers.panel_sheets import blind_sheets_pdf, key_pdf
from pourwright.workshop.designs.models import Design
from pourwright.workshop.house import doors
from pourwright.workshop.house.exchange_views import CSV, BringInForm, read_sent
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.panels import bringing, forms, queries, services, show
from pourwright.workshop.panels.models import Panel, PanelAnswer

MOST_SEED = 2**31


def index(request):
    """List panels, the newest first."""
    found = page_of(request, queries.listed(), search=["number", "question", "room"], size=25)
    return render(request, "panels/index.html", {"slice": found})


# --- planning ------------------------------------------------------------------------------------


@vary_on_headers("HX-Request")
def new(request):
    """Plan a panel; what is typed so far tells what so many assessors can show."""
    on, workshop = doors.today(), request.workshop
    posted = request.method == "POST"
    working = posted and ("HX-Request" in request.headers or "work" in request.POST)
    design, data = None, request.POST if posted else None
    if (pk := request.GET.get("design", "")).isdigit():
        design = Design.objects.filter(pk=pk).first()
    start = {"on": on, "client_id": doors.new_id()} | ({"scent": "cold"} if design else {})
    form = forms.PlanForm(data, workshop=workshop, initial=start)
    rows = forms.candle_rows(
        data, workshop=workshop, on=on, design=design, wide="rows" in request.GET
    )
    if posted and not working and (made := _planned(form, rows)) is not None:
        doors.say(request, f"Panel {made.number} is planned: print its sheets, then ask.")
        return redirect("panels:panel", number=made.number)
    said = _said(form, rows) if posted else []
    if "HX-Request" in request.headers:
        return render(request, "panels/_beforehand.html", {"said": said})
    context = {
        "form": form, "rows": rows, "design": design, "said": said,
        "cautions": panel_cautions(on=on), "fire": cautions(on=on),
    }  # fmt: skip
    wrong = posted and not working
    return render(request, "panels/new.html", context, status=422 if wrong else 200)


def _planned(form, rows) -> Panel | None:
    valid = form.is_valid()
    if not rows.is_valid() or not valid:
        return None
    given = dict(form.cleaned_data)
    candidates = [row.candidate() for row in rows if row.filled]
    with doors.refusals(form):
        return services.plan(candidates, **given, seed=secrets.randbelow(MOST_SEED), at=doors.now())
    return None


def _said(form, rows) -> list[str]:
    """Return what can be said beforehand of what is typed so far; faults are told on saving."""
    form.is_valid()
    given = form.cleaned_data
    if any(given.get(name) is None for name in ("kind", "assessors", "alpha")):
        return ["Give the number of assessors and the risk, and it says what so many can show."]
    filled = sum(row.filled for row in rows if row.is_valid()) if rows.is_valid() else 0
    try:
        return show.beforehand(
            kind=given["kind"], assessors=given["assessors"], candles=max(2, filled),
            alpha=float(given["alpha"]), tell_pct=given.get("tell_pct"),
            power_pct=given.get("power_pct"), asks=given.get("asks") or "strength",
        )  # fmt: skip
    except BadInput as problem:
        return [str(problem)]


# --- a panel -------------------------------------------------------------------------------------


def _panel(number: str) -> Panel:
    return get_object_or_404(queries.panel_named(number))


def panel(request, number: str):
    """Show a panel; a POST closes it, discards it, leaves an answer out, or plans for one more."""
    shown = _panel(number)
    form = forms.ReasonForm(request.POST or None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form, "reason" if request.POST.get("do") != "close" else None):
            doors.say(request, _done(request.POST.get("do", ""), shown, form.cleaned_data))
            return redirect("panels:panel", number=number)
    servings = queries.servings_of(shown)
    answered = sum(given is not None for _, given in servings)
    candles = queries.candles_of(shown)
    context = {
        "panel": shown, "servings": servings, "answered": answered,
        "waiting": len(servings) - answered, "left_out": queries.left_out_of(shown),
        "aged": [(one, one.cure_days(shown.on)) for one in candles],
        "beforehand": show.beforehand_of(shown),
        "how": show.how(shown), "cautions": panel_cautions(on=shown.on),
        "fire": cautions(on=shown.on), "form": form,
        "result": show.result_shown(shown) if shown.is_closed else None,
    }  # fmt: skip
    return render(request, "panels/panel.html", context, status=422 if form.errors else 200)


def _done(do: str, shown: Panel, given: dict) -> str:
    on = doors.today()
    if do == "close":
        services.close(shown, on=on)
        return "Closed: the codes are opened and the result stands."
    if do == "discard":
        services.discard(shown, on=on, reason=given["reason"])
        return "Discarded; it stays on record."
    if do == "one more":
        services.more_assessors(shown, count=1)
        return f"Assessor {shown.planned + 1} has an order too."
    answer = get_object_or_404(PanelAnswer, pk=given["answer"] or 0, serving__panel=shown)
    services.leave_out(answer, reason=given["reason"])
    return f"The answer of assessor {answer.serving.number} does not count; enter it anew."


def answer(request, number: str):
    """Enter what one assessor said: the next who has not answered, or the one asked for."""
    shown = _panel(number)
    if not shown.is_open:
        return redirect("panels:panel", number=number)
    servings = queries.servings_of(shown)
    waiting = [serving for serving, given in servings if given is None]
    wanted = (request.POST or request.GET).get("assessor", "")
    serving = next((one for one in waiting if str(one.number) == wanted), None)
    if request.method == "POST" and serving is None:
        # Sent again, or by a second phone: what counts is whether this very answer is there.
        serving = next((one for one, _ in servings if str(one.number) == wanted), None)
    serving = serving or (waiting[0] if waiting else None)
    if serving is None:
        doors.say(request, "Everybody has answered.")
        return redirect("panels:panel", number=number)
    form = forms.AnswerForm(
        request.POST or None, workshop=request.workshop, serving=serving,
        ranking=shown.is_ranking, initial={"assessor": serving.number},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            services.answer(shown, assessor=serving.number, at=doors.now(), **form.given())
            doors.say(request, f"The answer of assessor {serving.number} is entered.")
            return redirect("panels:answer", number=number)
    context = {
        "panel": shown, "form": form, "serving": serving, "ask": show.ask(shown),
        "waiting": waiting, "count": len(servings), "answered": len(servings) - len(waiting),
        "steps": [
            "done" if given else "now" if one.pk == serving.pk else "" for one, given in servings
        ],
        "odd": form.data.get("odd", ""),
    }  # fmt: skip
    return render(request, "panels/answer.html", context, status=422 if form.errors else 200)


def bring_in(request, number: str):
    """Take the answers of a file: checked first, then all of them or none."""
    shown = _panel(number)
    form = BringInForm(request.POST or None, request.FILES or None, label_suffix="")
    outcome = None
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            rows, text = read_sent(form)
            outcome = bringing.bring_in(
                shown, rows, at=doors.now(), only_check=request.POST.get("do") != "bring"
            )
            if outcome.kept:
                many = "answer is" if outcome.made == 1 else "answers are"
                doors.say(request, f"{outcome.made} {many} entered.")
                return redirect("panels:panel", number=number)
            form = BringInForm(initial={"text": text}, label_suffix="")
    servings = queries.servings_of(shown)
    context = {
        "panel": shown, "form": form, "outcome": outcome, "columns": PANEL_ANSWERS.columns,
        "answered": sum(given is not None for _, given in servings),
    }  # fmt: skip
    return render(request, "panels/bring_in.html", context)


@require_safe
def answers_file(request, number: str):
    """Send a file of the panel to be filled in, a line for each who has not answered."""
    shown = _panel(number)
    response = HttpResponse(bringing.blank_file(shown), content_type=CSV)
    response["Content-Disposition"] = f'attachment; filename="panel-{shown.number}-answers.csv"'
    return response


@require_safe
def blind_sheets(request, number: str):
    """Send the assessors' sheets as a PDF."""
    shown = _panel(number)
    made = blind_sheets_pdf(
        show.paper_of(shown, workshop_name=request.workshop.name), units=request.workshop.units
    )
    return _pdf(made, f"panel-{shown.number}-blind-sheets")


@require_safe
def key(request, number: str):
    """Send the key as a PDF, for whoever sets the candles out."""
    shown = _panel(number)
    made = key_pdf(
        show.paper_of(shown, workshop_name=request.workshop.name), units=request.workshop.units
    )
    return _pdf(made, f"panel-{shown.number}-key")


def _pdf(made: bytes, name: str) -> HttpResponse:
    response = HttpResponse(made, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return response


# --- a design over cure time ---------------------------------------------------------------------


@require_safe
def design(request, pk: int):
    """Show what the panels say of a design's throw as it cures, cold and hot apart."""
    shown = get_object_or_404(Design, pk=pk)
    panels = queries.panels_of(shown)
    context = {
        "design": shown, "panels": panels, "sections": show.by_cure(shown),
    }  # fmt: skip
    return render(request, "panels/design.html", context)
