"""Heat: how a design's candles set, how long a melt takes, what they are made of, and the score."""

from __future__ import annotations

from decimal import Decimal
from urllib.parse import urlencode

import numpy as np
from django.db.models import Q
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from pourwright.core.errors import BadInput
from pourwright.core.heat.words import BURN_CAUTION, MELT_CAUTION, SCREENING
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.formulas.views import version_asked
from pourwright.workshop.heat import burning as burns
from pourwright.workshop.heat import forms, materials, melts, recorded, services
from pourwright.workshop.heat import setting as settings
from pourwright.workshop.heat.candles import standing_of
from pourwright.workshop.heat.models import Forecast, ForecastKind, MaterialOverride
from pourwright.workshop.house import doors, jobs
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.pours.models import Melter, Pour, Step
from pourwright.workshop.stores.models import Item, Kind

BESIDE = "bcd"  # prefixes of what is set beside the first
MADE_OF = (Kind.WAX, Kind.VESSEL)


def _version(request, pk: int) -> DesignVersion:
    """Return the version that ``?version=`` names, else the newest."""
    shown = get_object_or_404(Design, pk=pk)
    versions = list(
        DesignVersion.objects.filter(design=shown)
        .select_related("design", "formula_version__formula", "vessel__vessel", "wick__wick")
        .order_by("-number")
    )
    if not versions:
        raise Http404(pk)
    return version_asked(request, versions)


# --- setting -------------------------------------------------------------------------------------


@vary_on_headers("HX-Request")
def setting(request, pk: int):
    """
    Show how a version sets, up to four ways side by side; a POST keeps the first as a forecast.

    What is not worked out yet beyond the first comes with a second request, so that the first
    answer is there at once.
    """
    version = _version(request, pk)
    units = request.workshop.units
    given = request.POST if request.method == "POST" else request.GET
    form, beside, asks = _asks(request, given, version)
    context = {
        "design": version.design, "version": version, "form": form, "beside": beside,
        "here": reverse("heat:setting", args=[pk]), "units": units,
        "carried": {name: given[name] for name in ("version", "pour") if name in given},
        "materials": _materials_of(version, units), "screening": SCREENING,
    }  # fmt: skip
    if asks:
        try:
            context |= _set(request, version, asks, given)
        except BadInput as problem:
            context["problem"] = str(problem)
    if request.method == "POST" and context.get("shown"):
        pour = Pour.objects.filter(number=given.get("pour", "")).first()
        kept = services.keep_setting(
            version, context["shown"][0].setting, at=doors.now(), pour=pour
        )
        doors.say(request, "Kept. Enter here when they could be moved.")
        return redirect("heat:forecast", pk=kept.pk)
    return render(request, f"heat/{'_setting' if request.htmx else 'setting'}.html", context)


def _asks(request, given, version):
    """Return the form of the first pour, those beside it, and what is asked (none if faulty)."""
    usual = settings.usual_ask(version)
    start = {"room_c": settings.USUAL_ROOM_C}
    if usual is not None:
        start["pour_c"] = usual.pour_c
    start |= _of_pour(given)
    bound = "pour_c" in given
    form = forms.SettingForm(given if bound else None, workshop=request.workshop, initial=start)
    beside = [
        forms.BesideForm(given if bound else None, workshop=request.workshop, prefix=prefix)
        for prefix in BESIDE
    ]
    if not bound:
        return form, beside, [settings.Ask(**start)] if "pour_c" in start else []
    if not all([form.is_valid(), *(other.is_valid() for other in beside)]):
        return form, beside, []
    first = form.ask()
    return form, beside, [first, *filter(None, (other.ask(first) for other in beside))]


def _of_pour(given) -> dict:
    """Return how warm the pour that ``?pour=`` names was, as far as it was read."""
    pour = Pour.objects.filter(number=given.get("pour", "")).first()
    if pour is None:
        return {}
    read = pour.readings.filter(step=Step.POUR, temp_c__isnull=False).last()
    found = {"pour_c": read.temp_c if read else None, "room_c": pour.room_c}
    return {name: value for name, value in found.items() if value is not None}


def _set(request, version: DesignVersion, asks, given) -> dict:
    standing = standing_of(version)
    units = request.workshop.units
    pours = [settings.pour_of(standing, ask) for ask in asks]
    waits = "all" not in given and not all(map(settings.is_known, pours[1:]))
    if waits:
        asks, pours = asks[:1], pours[:1]
    found = [settings.setting_of(pour) for pour in pours]
    everything = given.copy()
    everything["all"] = "1"
    return {
        "standing": standing,
        "shown": settings.shown(found, asks, units=units),
        "key": settings.key(found, units=units),
        "hours": max(one.hours for one in found),
        "curves_wide": settings.curves(found, units=units, width=700, prefix="curves-wide"),
        "curves_narrow": settings.curves(found, units=units, width=340, prefix="curves-narrow"),
        "figures": settings.figures(found, units=units),
        "words": found[0].words,
        "not_modelled": found[0].not_modelled,
        "notes": standing.notes,
        "rest": everything.urlencode() if waits else "",
        "asked": given.urlencode(),
    }


def _materials_of(version: DesignVersion, units: str) -> list[materials.Known]:
    items = [part.item for part in version.formula_version.waxes.select_related("item__wax")]
    return [materials.known(item, units=units) for item in [*items, version.vessel]]


# --- burning -------------------------------------------------------------------------------------


@vary_on_headers("HX-Request")
def burning(request, pk: int):
    """
    Show how a version burns; a POST names in ``do`` what is kept or asked of the background.

    The band comes with a second request: it takes four burns to work out.
    """
    version = _version(request, pk)
    given = request.POST if request.method == "POST" else request.GET
    units = request.workshop.units
    rate = recorded.rate_of(version.wick, version)
    start = {"hours": burns.USUAL_HOURS, "room_c": settings.USUAL_ROOM_C}
    if rate is not None:
        start["rate_g_h"] = Decimal(str(round(rate.g_h, 3)))
    bound = "rate_g_h" in given
    form = forms.BurnForm(given if bound else None, workshop=request.workshop, initial=start)
    ask = None
    if bound:
        ask = form.cleaned_data if form.is_valid() else None
    elif rate is not None:
        ask = start
    context = {
        "design": version.design, "version": version, "form": form, "rate": rate,
        "here": reverse("heat:burning", args=[pk]), "units": units, "screening": SCREENING,
        "carried": {name: given[name] for name in ("version",) if name in given},
        "caution": BURN_CAUTION, "materials": _materials_of(version, units),
        "fit": burns.fit_for(version, version.wick),
    }  # fmt: skip
    if ask is not None:
        try:
            context |= _burnt(request, version, ask, context["fit"], given)
            if request.method == "POST":
                return _asked_of_burning(request, version, ask, context)
        except BadInput as problem:
            context["problem"] = str(problem)
    return render(request, f"heat/{'_burning' if request.htmx else 'burning'}.html", context)


def _burnt(request, version: DesignVersion, ask: dict, fit: burns.Fit, given) -> dict:
    standing = standing_of(version)
    units, hours = request.workshop.units, float(ask["hours"])
    plain = recorded.candle_of(
        standing, rate_g_h=float(ask["rate_g_h"]), wicks=version.wick_count,
        room_c=float(ask["room_c"]),
    )  # fmt: skip
    candle = fit.calibration.applied(plain) if fit.calibration else plain
    key = "" if fit.calibration is None else fit.job.key
    burn = burns.burn_of(candle, hours=hours)
    band = None
    wanted = "all" in given or request.POST.get("do") == "keep"
    if wanted or burns.has_band(plain, hours=hours, key=key):
        band = burns.band_of(plain, fit.calibration, hours=hours, key=key)
    points = burns.measured(version, hours=hours)
    everything = given.copy()
    everything["all"] = "1"
    life = burns.life_args(candle, hours=hours, units=units)
    solid = burns.solid_args(candle, hours=hours) if version.wick_count > 1 else None
    context = {
        "standing": standing, "burn": burn, "band": band, "hours": hours,
        "played": burns.played_burn(burn, units=units),
        "charts": burns.curves(burn, band, points=points, units=units, width=340,
                               prefix="chart"),
        "rows": _burn_rows(burn, band), "rest": "" if band else everything.urlencode(),
        "asked": {"rate_g_h": ask["rate_g_h"], "hours": ask["hours"],
                  "room_c": f"{ask['room_c'].normalize():f} °C"},
        "life_args": life, "solid_args": solid,
    }  # fmt: skip
    for name, args in (("life", life), ("solid", solid)):
        job = jobs.found(f"heat.{name}", args) if args else None
        context[f"{name}_job"] = jobs.look(job, at=doors.now()) if job else None
    job = context["life_job"]
    if job is not None and job.result:
        context["life"] = job.result
        context["life_played"] = burns.played_life(candle, job.result, units=units)
        context["life_wide"], context["life_narrow"] = (
            burns.life_curve(job.result, candle, units=units, width=width, prefix=f"life-{width}")
            for width in (700, 340)
        )
    job = context["solid_job"]
    if job is not None and job.result:
        context["solid"] = job.result
        context["solid_above"] = burns.above(job.result)
    if fit.job is not None:
        jobs.look(fit.job, at=doors.now())
    return context


def _burn_rows(burn, band) -> list[tuple]:
    """Return what is told of each hour: the middle, and the band's ends where it is known."""
    rows = []
    end = float(burn.times_h[-1])
    for at in [*(h for h in (1.0, 2.0, 3.0) if h < end - 0.01), end]:
        cells = []
        for name in ("pool_mm", "depth_mm", "wall_c"):
            ends = None
            if band is not None:
                n = len(band.low[name])
                ends = tuple(
                    float(np.interp(at, burn.times_h[:n], one[name][:n]))
                    for one in (band.low, band.high)
                )
            cells.append((name, burn.at(getattr(burn, name), at), ends))
        rows.append((at, cells))
    return rows


def _asked_of_burning(request, version: DesignVersion, ask: dict, context: dict):
    """Do what the form's button says, and go back to the page."""
    do = request.POST.get("do", "")
    carried = dict(context["carried"]) | {name: str(v) for name, v in context["asked"].items()}
    back = f"{context['here']}?{urlencode(carried)}"
    at, fit = doors.now(), context["fit"]
    if do == "keep":
        basis = "unverified: fitted to no burn of yours"
        if fit.calibration is not None:
            basis = f"fitted to {fit.burns} burn{'' if fit.burns == 1 else 's'} of yours"
        kept = services.keep_burn(
            version, context["band"], cell_mm=burns.CELL_MM, at=at, basis=basis,
            recorded_as_kept=fit.args["recorded"],
        )  # fmt: skip
        doors.say(request, "Kept as a forecast.")
        return redirect("heat:forecast", pk=kept.pk)
    if do == "fit" and fit.burns:
        jobs.ask("heat.calibrate", fit.args, at=at, where=back)
    elif do == "life":
        jobs.ask("heat.life", context["life_args"], at=at, where=f"{back}#life")
    elif do == "solid" and context["solid_args"]:
        jobs.ask("heat.solid", context["solid_args"], at=at, where=f"{back}#solid")
    return redirect(back + (f"#{do}" if do in ("life", "solid", "fit") else ""))


# --- melting -------------------------------------------------------------------------------------


def melter(request, pk: int):
    """Show how long a melter takes for a mass of one wax; a POST keeps its own efficiency."""
    found = get_object_or_404(Melter, pk=pk)
    form = forms.ValueForm(
        request.POST or None, workshop=request.workshop, names=("efficiency",),
        initial={"name": "efficiency", "by": request.workshop.maker},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        with doors.refusals(form, "value"):
            materials.keep_value(
                melter=found, name="efficiency", value=given["read"], source=given["source"],
                by=given["by"], at=doors.now(),
            )  # fmt: skip
            doors.say(request, "Kept. Melts in it are worked out with that from now on.")
            return redirect("heat:melter", pk=pk)
    return _melt(request, melter=found, own=form)


@require_safe
def pour_melt(request, number: str):
    """Show how long a pour's own melt takes in its melter."""
    pour = get_object_or_404(Pour.objects.select_related("melter"), number=number)
    return _melt(request, melter=pour.melter, pour=pour)


def _melt(request, *, melter: Melter | None, pour: Pour | None = None, own=None):
    parts = melts.parts_of_pour(pour) if pour else []
    data = request.GET if "mass_mg" in request.GET else None
    start = _melt_initial(request, melter, pour, parts)
    form = forms.MeltForm(
        data, workshop=request.workshop, of_pour=bool(parts), initial=start
    )  # fmt: skip
    context = {
        "melter": melter, "pour": pour, "form": form, "caution": MELT_CAUTION,
        "screening": SCREENING, "own_form": own,
    }  # fmt: skip
    if melter is not None:
        context["efficiency"] = melts.efficiency_of(melter)
    given = None
    if form.is_bound:
        given = dict(form.cleaned_data) if form.is_valid() else None
    elif all(start[name] is not None for name in start if name not in ("wax", "pour_c")):
        given = start | {"pot_mm": None}  # all is known: the answer is there at once
    if given is not None and (parts or given.get("wax")):
        wax = given.pop("wax", None)
        try:
            context["melt"] = melts.melted(
                parts or [(wax, 1)], melts.MeltAsk(**given),
                air_c=float(pour.room_c) if pour and pour.room_c is not None else 21.0,
            )  # fmt: skip
        except BadInput as problem:
            context["problem"] = str(problem)
    return render(request, "heat/melt.html", context)


def _melt_initial(request, melter, pour, parts) -> dict:
    items = [item for item, _ in parts] or melts.waxes()[:1]
    asked = request.GET.get("wax", "")
    if not parts and asked.isdigit():
        items = list(Item.objects.filter(pk=asked, kind=Kind.WAX).select_related("wax")) or items
    melt_to, pour_at = melts.temperatures_of(items)
    mass = sum(mg for _, mg in parts) or (melter.capacity_mg if melter else None)
    share = melts.efficiency_of(melter)[0] if melter else melts.EFFICIENCY
    return {
        "wax": items[0] if items and not parts else None,
        "mass_mg": mass,
        "power_w": melter.power_w if melter else None,
        "start_c": pour.room_c if pour and pour.room_c is not None else Decimal(21),
        "melt_to_c": melt_to,
        "pour_c": pour_at,
        "efficiency_pct": Decimal(round(share * 1000)) / 10,
    }


# --- what things are made of ---------------------------------------------------------------------


def material(request, pk: int):
    """Show a wax's or a vessel's values with their sources; a POST sets one."""
    item = get_object_or_404(Item, pk=pk, kind__in=MADE_OF)
    return _material(request, item)


def flame(request):
    """Show the burn model's own values, which hold for the whole workshop."""
    return _material(request, None)


def _material(request, item: Item | None):
    units = request.workshop.units
    do = request.POST.get("do", "")
    here = reverse("heat:material", args=[item.pk]) if item else reverse("heat:flame")
    value_form = forms.ValueForm(
        request.POST if do == "value" else None, workshop=request.workshop,
        names=materials.offered(item), initial={"by": request.workshop.maker},
    )  # fmt: skip
    kind_form = None
    if item is not None:
        kinds, _ = materials.kinds_of(item)
        kind_form = forms.KindForm(
            request.POST if do == "kind" else None, workshop=request.workshop, item=item,
            auto_id="kind_%s",
            initial={"kinds": list(kinds) if item.kind == Kind.WAX else kinds[0],
                     "by": request.workshop.maker},
        )  # fmt: skip
    if do == "value" and value_form.is_valid():
        given = value_form.cleaned_data
        with doors.refusals(value_form, "value"):
            materials.keep_value(
                item=item, name=given["name"], value=given["read"], source=given["source"],
                by=given["by"], at=doors.now(),
            )  # fmt: skip
            doors.say(request, "Kept. Simulations use it from now on.")
            return redirect(here)
    elif do == "kind" and kind_form is not None and kind_form.is_valid():
        with doors.refusals(kind_form, "kinds"):
            materials.keep_kind(
                item, kinds=kind_form.chosen(), by=kind_form.cleaned_data["by"], at=doors.now()
            )
            doors.say(request, "Kept.")
            return redirect(here)
    elif do == "back" and request.POST.get("name") in materials.MEASURES:
        materials.keep_value(
            item=item, name=request.POST["name"], value=None, source="", at=doors.now(),
            by=request.workshop.maker,
        )  # fmt: skip
        doors.say(request, "Back to the table’s value.")
        return redirect(here)
    known = materials.known(item, units=units) if item else materials.known_flame(units=units)
    return render(
        request, "heat/material.html",
        {
            "item": item, "known": known, "value_form": value_form, "kind_form": kind_form,
            "history": _history(item, units),
        },
    )  # fmt: skip


def _history(item: Item | None, units: str) -> list[tuple]:
    rows = MaterialOverride.objects.filter(item=item, melter=None)[:30]
    return [
        (
            row,
            materials.MEASURES[row.name].words,
            "" if row.value is None else materials.shown_value(row.name, row.value, units),
        )
        for row in rows
        if row.name in materials.MEASURES
    ]


# --- forecasts and the score ---------------------------------------------------------------------


@require_safe
def score(request):
    """Show how often the forecasts that were kept came true, and which they are."""
    rows = Forecast.objects.select_related("version__design", "pour", "burn__piece")
    kind = request.GET.get("kind", "")
    found = page_of(
        request, rows.filter(kind=kind) if kind in ForecastKind.values else rows,
        search=("version__design__name",), size=25,
    )  # fmt: skip
    for row in found.rows:
        row.hits = services.hits(row)
    return render(
        request, "heat/score.html",
        {
            "slice": found, "kind": kind, "kinds": ForecastKind.choices, "screening": SCREENING,
            "scores": services.scores(
                list(rows.filter(Q(outcome__isnull=False) | Q(burn__minutes__isnull=False)))
            ),
        },
    )  # fmt: skip


def forecast(request, pk: int):
    """Show a forecast beside what was recorded; for a setting, a POST records it."""
    found = get_object_or_404(
        Forecast.objects.select_related("version__design", "pour", "burn__piece"), pk=pk
    )
    form, job = None, None
    if found.kind == ForecastKind.BURN and not found.values:
        if request.method == "POST":
            services.ask_for_values(found, at=doors.now())
            return redirect("heat:forecast", pk=pk)
        job = jobs.found("heat.forecast", {"forecast": found.pk})
        job = jobs.look(job, at=doors.now()) if job else None
    if found.kind == ForecastKind.SET:
        form = forms.OutcomeForm(
            request.POST or None, workshop=request.workshop, initial=_outcome_initial(found)
        )
        if request.method == "POST" and form.is_valid():
            given = form.cleaned_data
            with doors.refusals(form):
                services.record_outcome(
                    found,
                    outcome={
                        "movable_h": services.hours_from(given["movable"], field="Moved"),
                        "set_through_h": services.hours_from(given["through"], field="Set through"),
                    },
                    note=given["note"], at=doors.now(),
                )  # fmt: skip
                doors.say(request, "Recorded beside the forecast.")
                return redirect("heat:forecast", pk=pk)
    return render(
        request, "heat/forecast.html",
        {
            "forecast": found, "form": form, "job": job, "hits": services.hits(found),
            "asked": _asked_words(found, request.workshop.units), "screening": SCREENING,
        },
    )  # fmt: skip


def _outcome_initial(found: Forecast) -> dict:
    def clock(name: str) -> str:
        hours = (found.outcome or {}).get(name)
        return "" if hours is None else f"{int(hours)}:{round(hours % 1 * 60):02d}"

    return {
        "movable": clock("movable_h"), "through": clock("set_through_h"),
        "note": found.outcome_note,
    }  # fmt: skip


def _asked_words(found: Forecast, units: str) -> str:
    if found.kind != ForecastKind.SET:
        return ""
    given = found.inputs
    gap = given["room"].get("gap_mm")
    vessel = given.get("vessel_c")
    return settings.words_of(
        settings.Ask(
            pour_c=Decimal(str(given["pour_c"])), room_c=Decimal(str(given["room"]["air_c"])),
            vessel_c=None if vessel is None else Decimal(str(vessel)),
            gap_mm=None if gap is None else Decimal(str(gap)),
        ),
        units=units,
    )  # fmt: skip
