"""Designs: the list, a design's page with its gate and price, and the form for the next version."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST
from django.views.decorators.vary import vary_on_headers

from pourwright.papers.candle import above_svg, section_svg, shared_px_per_mm
from pourwright.workshop.designs import placing, queries, services
from pourwright.workshop.designs.costing import estimate_lines
from pourwright.workshop.designs.forms import PriceForm, SpecForms
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.designs.prices import priced
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.formulas.services import newest_version, recipe_of
from pourwright.workshop.formulas.views import version_asked
from pourwright.workshop.gates.services import released_at, released_ids
from pourwright.workshop.gates.show import gate_of
from pourwright.workshop.hazard import news, showing
from pourwright.workshop.hazard.of_designs import pack_of
from pourwright.workshop.house.doors import refusals, say, today
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.stores.models import Lot

DRAWN_PX = 250
WICKS_PX = 200


def index(request):
    retired = request.GET.get("show") == "retired"
    # Each row is drawn and costed anew, so a page of them is shorter.
    found = page_of(
        request, queries.listed(retired=retired), search=["name", "label_name"], size=25
    )
    queries.with_newest(found.rows, request.workshop)
    return render(request, "designs/index.html", {"slice": found, "retired": retired})


@vary_on_headers("HX-Request")
def design(request, pk: int):
    """Show a design's newest version, or an earlier one (``?version=2``)."""
    shown = get_object_or_404(Design, pk=pk)
    versions = list(queries.versions_with_all().filter(design=shown).order_by("-number"))
    version = version_asked(request, versions)
    cost = estimate_lines(version, request.workshop)
    price_form, prices = _price(request, version, cost)
    context = {"design": shown, "version": version, "price_form": price_form, "prices": prices}
    if request.htmx:
        return render(request, "designs/_price.html", context)
    released = released_ids(DesignVersion, [one.pk for one in versions])
    lots = list(queries.lots_of(shown))
    sellable = released_ids(Lot, [lot.pk for lot in lots])
    return render(
        request,
        "designs/design.html",
        context
        | {
            "newest": version is versions[0],
            "gate": gate_of(version, on=today()),
            "facts": queries.facts_of(services.spec_of(version)),
            "declared": services.declared_of(version),
            "cure_days": services.cure_days(version, request.workshop),
            "markets": services.markets_of(version, request.workshop),
            "cost": cost,
            **_drawings(services.drawing(version), request.workshop),
            "wicks_above": placing.small_picture(
                version, size=WICKS_PX, units=request.workshop.units
            ),
            **_cost_pictures(cost, request.workshop),
            "versions": _history(versions, released, request.workshop),
            "lots": [(lot, lot.pk in sellable) for lot in lots],
            **_hazard(request, version),
        },
    )


def _hazard(request, version) -> dict:
    """Return the design's class and label in a market, and what is new about its sheets."""
    pack = pack_of(version)
    recipe = recipe_of(version.formula_version)
    panel = showing.panel_of(
        recipe, markets=services.markets_of(version, request.workshop),
        asked=request.GET.get("market"), on=today(), package_ml=pack.ml, deep=False,
    )  # fmt: skip
    numbered = showing.numbered(panel.whole, request.workshop)
    found = news.news_for(
        (item for item, _ in showing.materials(recipe)), today(), since=released_at(version),
        workshop=request.workshop,
    )  # fmt: skip
    trace = reverse("formulas:hazard", args=[version.formula_version.formula_id])
    at = f"{trace}?version={version.formula_version.number}&market={panel.market}"
    return {
        "panel": replace(panel, ufi=numbered.code, trace_at=at),
        "pack": pack,
        "numbered": numbered,
        "sheets": [([one], _effects(one, version, request.workshop)) for one in found],
    }


def _effects(one: news.News, version, workshop) -> list[news.Effect]:
    """Return what confirming a waiting sheet would change on this design's label."""
    if one.draft is None:
        return []
    return news.effects_of(one.draft, [version], on=today(), workshop=workshop)


def _drawings(picture, workshop) -> dict:
    scale = shared_px_per_mm(picture, size=DRAWN_PX)
    units = workshop.units
    return {
        "section": section_svg(picture, size=DRAWN_PX, px_per_mm=scale, units=units),
        "above": above_svg(picture, size=DRAWN_PX, px_per_mm=scale, units=units),
    }


def _cost_pictures(cost, workshop) -> dict:
    """Return the cost's picture for a desk and for a phone: text is drawn at its true size."""
    return {
        "cost_wide": queries.cost_picture(
            cost, currency=workshop.currency, width=560, prefix="cost"
        ),
        "cost_narrow": queries.cost_picture(
            cost, currency=workshop.currency, width=320, prefix="cost-phone"
        ),
    }


PRICE_START = {"margin": 50, "fee": 0, "fixed_fee": 0, "wholesale_margin": 30, "wholesale_fee": 0}


def _price(request, version, cost):
    """Return the price's form and what it comes to; it is asked for in the address."""
    asked = "margin" in request.GET
    form = PriceForm(request.GET if asked else PRICE_START, workshop=request.workshop)
    prices = []
    if form.is_valid() and cost.breakdown.total_minor100:
        with refusals(form):
            prices = priced(
                version, form.cleaned_data, cost_minor100=cost.breakdown.total_minor100,
                currency=request.workshop.currency,
            )  # fmt: skip
    return form, prices


def _history(versions, released, workshop):
    specs = [services.spec_of(version) for version in versions]
    changes = [queries.differences(old, new, workshop=workshop) for new, old in pairwise(specs)]
    return [
        (version, changed, version.pk in released)
        for version, changed in zip(versions, [*changes, None], strict=True)
    ]


def new(request):
    """Make a design, from nothing, from another one (``?from=``) or a formula (``?formula=``)."""
    start, spec = {"wick_count": 1, "trim_mm": 6}, None
    if (other := request.GET.get("from", "")).isdigit():
        source = get_object_or_404(Design, pk=other)
        spec = services.spec_of(services.newest_version(source))
        start = {"name": f"{source.name}, another"}
    elif (formula := request.GET.get("formula", "")).isdigit():
        start["formula_version"] = newest_version(get_object_or_404(Formula, pk=formula))
    return _edit(request, design=None, spec=spec, start=start)


def edit(request, pk: int):
    """Change a design; where its newest version is fixed, this makes the next, not released."""
    design = get_object_or_404(Design, pk=pk)
    version = services.newest_version(design)
    start = {"name": design.name, "label_name": design.label_name}
    return _edit(
        request, design=design, spec=services.spec_of(version), start=start, version=version
    )


def _edit(request, *, design, spec, start, version=None):
    forms = SpecForms(request.POST or None, workshop=request.workshop, spec=spec, initial=start)
    fixed = version is not None and services.is_fixed(version)
    context = {
        "lacking": queries.lacking, "forms": forms, "form": forms.form, "design": design,
        "version": version,
        "next_number": version.number + 1 if fixed else None,
        "released": fixed and bool(released_ids(DesignVersion, [version.pk])),
        **_preview(request, forms, spec),
    }  # fmt: skip
    if request.method == "POST":
        if request.htmx:
            return render(request, "designs/_preview.html", context)
        if "work" not in request.POST and forms.is_valid():
            with refusals(forms.form, "fill_mg" if context.get("overfull") else None):
                return _save(request, design, forms)
    return render(request, "designs/edit.html", context)


NEEDED = ("formula_version", "vessel", "wick", "fill_mg", "wick_count", "trim_mm")


def _preview(request, forms: SpecForms, spec) -> dict:
    """Return the drawing and the facts of what the form says so far."""
    if forms.form.is_bound:
        forms.form.is_valid()
        given = getattr(forms.form, "cleaned_data", {})
        if any(given.get(name) in (None, "") for name in NEEDED):
            return {"preview_missing": True}
        spec = services.DesignSpec(**{name: given[name] for name in NEEDED})
    if spec is None:
        return {"preview_missing": True}
    facts = queries.facts_of(spec)
    return {
        "facts": facts,
        "overfull": facts.problem,
        **_drawings(queries.drawing_of(spec), request.workshop),
    }


def _save(request, design: Design | None, forms: SpecForms):
    given = forms.form.cleaned_data
    names = {"name": given["name"], "label_name": given["label_name"]}
    if design is None:
        version = services.new_design(**names, spec=forms.spec, on=today())
        say(request, f"{version.design.name} is designed. It is sold when it is released.")
    else:
        version = services.change(design, **names, spec=forms.spec, on=today())
        say(request, f"Kept as {version}.")
    return redirect(reverse("designs:design", args=[version.design_id]))


@require_POST
def retire(request, pk: int):
    design = get_object_or_404(Design, pk=pk)
    services.retire(design, retired=not design.retired)
    say(request, f"{design.name} is " + ("back in the list." if design.retired else "retired."))
    return redirect("designs:design", pk=pk)
