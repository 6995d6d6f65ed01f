"""Pours: the list, planning one, its page and sheet, the bench, closing it, and the melters."""

from __future__ import annotations

from contextlib import nullcontext

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST
from django.views.decorators.vary import vary_on_headers

from pourwright.core.errors import BadInput
from pourwright.papers.candle import section_svg
from pourwright.papers.pour_sheet import scale_places
from pourwright.workshop.designs.models import Design
from pourwright.workshop.designs.services import drawing, newest_version
from pourwright.workshop.house.doors import now, refusals, say, today, warn
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.pours import bench as benches
from pourwright.workshop.pours import queries, services
from pourwright.workshop.pours.forms import (
    CloseForm,
    DrawForm,
    MelterForm,
    PlanForms,
    ReadForm,
    ReasonForm,
    RestForm,
    WeighForm,
)
from pourwright.workshop.pours.models import Melter, Pour, PourState, Step, Use
from pourwright.workshop.pours.sheet import sheet_pdf

TABS = (("", "All"), *((state.value, state.label.capitalize()) for state in PourState))


def index(request):
    state = request.GET.get("state", "")
    rows = queries.found(queries.listed(state), request.GET.get("q", ""))
    found = page_of(request, rows)
    found.rows[:] = queries.as_rows(found.rows)
    return render(request, "pours/index.html", {"slice": found, "tabs": TABS, "state": state})


def _pour(number: str) -> Pour:
    return get_object_or_404(Pour.objects.select_related("melter", "entry"), number=number)


# --- planning ------------------------------------------------------------------------------------


@vary_on_headers("HX-Request")
def new(request):
    """Plan a pour; ``?design=3&number=12`` begins with that."""
    forms = PlanForms(
        request.POST or None,
        workshop=request.workshop,
        initial={"on": today(), "melter": queries.usual_melter()},
        rows=_first_row(request),
        offers=queries.remelts_on_offer(),
    )
    context = {
        "forms": forms, "form": forms.form, "places": _places(request),
        "any_design": Design.objects.filter(retired=False).exists(),
    }  # fmt: skip
    if request.method == "POST" and forms.is_valid():
        with refusals(forms.form):
            asked = _asked(forms, request)
            if "look" not in request.POST and not request.htmx and asked:
                pour = services.plan(
                    **asked, workshop=request.workshop,
                    client_id=forms.form.cleaned_data["client_id"],
                )  # fmt: skip
                say(request, f"Pour {pour.number} is planned.")
                return redirect("pours:pour", number=pour.number)
            context |= _preview(request, asked)
    template = "pours/_scheme.html" if request.htmx else "pours/new.html"
    return render(request, template, context)


def _first_row(request) -> list[dict]:
    pk = request.GET.get("design", "")
    if not pk.isdigit():
        return []
    number = request.GET.get("number", "")
    version = newest_version(get_object_or_404(Design, pk=pk))
    return [{"design": version, "number": int(number) if number.isdigit() else None}]


def _asked(forms: PlanForms, request) -> dict | None:
    """Return what the plan asks for; nothing where nothing is poured yet or a row is wrong."""
    given = forms.form.cleaned_data
    pitchers = forms.pitchers()
    if forms.remelts.errors:
        return None
    if not pitchers:
        if not request.htmx:
            forms.form.add_error(None, "Choose at least one design and how many of it.")
        return None
    return {
        "on": given["on"],
        "pitchers": pitchers,
        "melter": given["melter"],
        "loss_pct": given["loss_pct"],
        "extra_wax_mg": given["extra_wax_mg"] or 0,
    }


def _preview(request, asked: dict | None) -> dict:
    if asked is None:
        return {}
    loss = asked["loss_pct"]
    workshop = request.workshop
    wanted = services.scheme(
        **{**asked, "loss_pct": workshop.loss_pct if loss is None else loss},
        division_mg=workshop.scale_division_mg,
    )
    return {"scheme": wanted, "melter": asked["melter"]}


def _places(request, division_mg: int | None = None) -> int:
    return scale_places(division_mg or request.workshop.scale_division_mg, request.workshop.units)


# --- a pour --------------------------------------------------------------------------------------


def pour(request, number: str):
    shown = _pour(number)
    pitchers, takes, readings = benches.load(shown)
    fillings = [filling for pitcher in pitchers for filling in pitcher.fillings.all()]
    for place, filling in enumerate(fillings):
        filling.section = section_svg(
            drawing(filling.design_version), size=150, dimensions=False, prefix=f"candle-{place}",
        )  # fmt: skip
    for take in takes:
        take.off = services.off_by(take)
    made = queries.made_of(shown, fillings)
    currency = request.workshop.currency
    context = {
        "pour": shown,
        "tone": queries.TONES[shown.state],
        "pitchers": pitchers,
        "fillings": fillings,
        "waxes": [take for take in takes if take.use == Use.WAX],
        "pieces": [take for take in takes if take.use == Use.PIECE],
        "by_pitcher": [
            (pitcher, [t for t in takes if t.pitcher_id == pitcher.pk and t.use != Use.PIECE])
            for pitcher in pitchers
        ],
        "readings": readings,
        "shortages": services.shortages(shown) if shown.state == PourState.PLANNED else [],
        "warm": benches.temperatures(shown, pitchers),
        "made": made,
        "cost_wide": queries.cost_picture(made, currency=currency, width=560, prefix="cost"),
        "cost_narrow": queries.cost_picture(made, currency=currency, width=320, prefix="cost-2"),
        "places": _places(request, shown.scale_division_mg),
        "reason": ReasonForm(),
        "mix_mg": sum(pitcher.mix_mg for pitcher in pitchers),
    }
    return render(request, "pours/pour.html", context)


def sheet(request, number: str):
    """Send the pour sheet as a PDF, for the printer or the screen."""
    shown = _pour(number)
    response = HttpResponse(
        sheet_pdf(shown, workshop=request.workshop), content_type="application/pdf"
    )
    response["Content-Disposition"] = f'inline; filename="pour-sheet-{shown.number}.pdf"'
    return response


@require_POST
def open_at_bench(request, number: str):
    shown = _pour(number)
    if shown.state == PourState.OPEN:
        return redirect("pours:bench", number=number)
    try:
        services.open_pour(shown, at=now())
    except BadInput as problem:
        warn(request, str(problem))
        return redirect("pours:pour", number=number)
    return redirect("pours:bench", number=number)


@require_POST
def abandon(request, number: str):
    return _with_reason(
        request, number, lambda pour, reason: services.abandon(pour, reason=reason, at=now()),
        "is abandoned; the stores are as they were.",
    )  # fmt: skip


@require_POST
def reopen(request, number: str):
    return _with_reason(
        request,
        number,
        lambda pour, reason: services.reopen(pour, reason=reason, on=today(), at=now()),
        "is back at the bench; its lots keep their numbers.",
    )


def _with_reason(request, number: str, act, word: str):
    form = ReasonForm(request.POST)
    reason = form.cleaned_data["reason"] if form.is_valid() else ""
    try:
        act(_pour(number), reason)
        say(request, f"Pour {number} {word}")
    except BadInput as problem:
        warn(request, str(problem))
    return redirect("pours:pour", number=number)


# --- the bench -----------------------------------------------------------------------------------


def bench(request, number: str):
    """Show one step, the one asked for or the first not done; record what is sent."""
    shown = _pour(number)
    if shown.state != PourState.OPEN:
        return redirect("pours:pour", number=number)
    steps = benches.steps_of(shown)
    place = benches.current(steps, request.GET.get("step"))
    step = steps[place]
    if step.kind == "close":
        undone = [one for one in steps if not one.done and one.kind != "close"]
        return render(
            request,
            "pours/bench.html",
            _bench_context(request, shown, steps, place) | {"undone": undone},
        )
    form, rest = _bench_form(request, step), None
    if request.method == "POST" and "rest" in request.POST and step.kind == "weigh":
        rest = RestForm(request.POST, workshop=request.workshop, take=step.take)
        if rest.is_valid():
            with refusals(rest):
                more = services.rest_from(step.take, lot=rest.cleaned_data["lot"])
                return _to_step(number, f"weigh-{more.pk}")
    elif request.method == "POST" and (form is None or form.is_valid()):
        with refusals(form) if form is not None else nullcontext():
            _record(request, shown, step, form)
            after = benches.steps_of(shown)
            return _to_step(number, benches.following(after, benches.current(after, step.key)).key)
    context = _bench_context(request, shown, steps, place) | {"form": form, "rest": rest}
    if step.kind == "weigh":
        context |= _weighing(request, shown, step, rest)
    return render(request, "pours/bench.html", context)


def _to_step(number: str, key: str):
    return redirect(f"{reverse('pours:bench', args=[number])}?step={key}")


def _bench_form(request, step: benches.BenchStep):
    data = request.POST if request.method == "POST" and "rest" not in request.POST else None
    workshop = request.workshop
    if step.kind == "weigh":
        start = {} if step.take.actual is None else {"actual": step.take.actual}
        return WeighForm(data, workshop=workshop, take=step.take, initial=start)
    if step.kind == "draw":
        drawn = step.pitcher.wax_drawn_mg
        return DrawForm(data, workshop=workshop, initial={} if drawn is None else {"actual": drawn})
    if step.kind == "temp":
        return ReadForm(data, workshop=workshop, asks_minutes=step.asks_minutes)
    return None


def _record(request, shown: Pour, step: benches.BenchStep, form) -> None:
    """Hand an entry to its service, and tell what the maker must know about it."""
    given = form.cleaned_data if form is not None else {}
    if step.kind == "weigh":
        take = services.weigh(
            step.take, actual=given["actual"], at=now(), lot=given["lot"],
            client_id=given["client_id"],
        )  # fmt: skip
        if services.off_by(take):
            warn(request, f"{take.item.name} is out of tolerance; it is recorded as it is.")
        if take.pitcher_id:
            for sentence in benches.over_limit(shown, take.pitcher):
                warn(request, f"{sentence} As it is, nothing of this pitcher can be kept.")
    elif step.kind == "draw":
        services.draw_off(step.pitcher, actual=given["actual"], at=now())
    elif step.kind == "ready":
        services.prepared(step.filling, at=now())
    else:
        reading = services.read(
            shown, step=step.reading, at=now(), temp_c=given.get("temp_c"),
            minutes=given.get("minutes"), pitcher=step.pitcher, note=given["note"],
            client_id=given["client_id"],
        )  # fmt: skip
        _warn_of_heat(request, shown, step, reading)


def _warn_of_heat(request, shown: Pour, step: benches.BenchStep, reading) -> None:
    if reading.temp_c is None:
        return
    if step.reading == Step.ADD and any(reading.temp_c >= at for _, at in step.flashes):
        warn(
            request,
            "That is at or above a flash point of the oils: the vapour can catch fire. Let it "
            "cool, and keep flames and sparks away.",
        )
    if step.reading == Step.MELT:
        limit = benches.temperatures(shown, list(shown.pitchers.all())).never_above
        if limit is not None and reading.temp_c > limit:
            warn(request, "That is hotter than this wax may ever be; turn the heat off now.")


def _bench_context(request, shown: Pour, steps, place: int) -> dict:
    return {
        "pour": shown,
        "steps": steps,
        "step": steps[place],
        "place": place,
        "before": steps[place - 1] if place else None,
        "later": steps[place + 1] if place + 1 < len(steps) else None,
        "done": sum(step.done for step in steps),
        "places": _places(request, shown.scale_division_mg),
    }


def _weighing(request, shown: Pour, step: benches.BenchStep, rest) -> dict:
    take = step.take
    found = {
        "off": services.off_by(take),
        "bar": benches.tolerance_bar(
            take, division_mg=shown.scale_division_mg, units=request.workshop.units
        )
        if take.item.by_mass
        else "",
    }
    if take.actual is not None and take.target - take.actual > take.tolerance:
        asks = rest or RestForm(workshop=request.workshop, take=take)
        if asks.fields["lot"].queryset.exists():
            found |= {"rest": asks, "rest_mg": take.target - take.actual}
    return found


# --- the end -------------------------------------------------------------------------------------


def close(request, number: str):
    shown = _pour(number)
    if shown.state != PourState.OPEN:
        return redirect("pours:pour", number=number)
    pitchers, _, _ = benches.load(shown)
    form = CloseForm(
        request.POST or None,
        workshop=request.workshop,
        pour=shown,
        pitchers=pitchers,
        initial={"on": today()},
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        with refusals(form):
            services.close(
                shown, outcomes=form.outcomes(), left=form.left(),
                left_plain_mg=given["left_plain_mg"] or 0, minutes=given["minutes"],
                on=given["on"], at=now(), workshop=request.workshop,
                client_id=given["client_id"],
            )  # fmt: skip
            say(request, f"Pour {number} is closed; its lots are on the shelf.")
            return redirect("pours:pour", number=number)
    undone = [step for step in benches.steps_of(shown) if step.kind == "weigh" and not step.done]
    context = {"pour": shown, "form": form, "undone": undone}
    return render(request, "pours/close.html", context)


# --- melters -------------------------------------------------------------------------------------


def melters(request):
    return render(request, "pours/melters.html", {"melters": Melter.objects.order_by("name")})


def melter_new(request):
    return _melter(request, None)


def melter(request, pk: int):
    return _melter(request, get_object_or_404(Melter, pk=pk))


def _melter(request, melter: Melter | None):
    form = MelterForm(request.POST or None, instance=melter, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with refusals(form):
            kept = services.save_melter(form.save(commit=False))
            say(request, f"{kept.name} is kept.")
            return redirect("pours:melters")
    return render(request, "pours/melter.html", {"form": form, "melter": melter})
