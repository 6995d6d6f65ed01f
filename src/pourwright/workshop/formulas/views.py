"""Formulas: the list, a formula's page with its calculator, and the form for the next version."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from django.db.models import Prefetch
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST
from django.views.decorators.vary import vary_on_headers

from pourwright.core.errors import BadInput
from pourwright.workshop.formulas import identifiers, queries, services
from pourwright.workshop.formulas.batches import work_out
from pourwright.workshop.formulas.forms import BatchForm, RecipeForms
from pourwright.workshop.formulas.models import Formula, FormulaVersion
from pourwright.workshop.hazard import showing
from pourwright.workshop.hazard.services import mixture_for
from pourwright.workshop.house.doors import refusals, say, today, warn
from pourwright.workshop.house.lists import page_of


def index(request):
    retired = request.GET.get("show") == "retired"
    found = page_of(
        request,
        queries.listed(retired=retired),
        search=["name", "idea", "versions__oils__item__name"],
    )
    queries.with_newest(found.rows)
    for row in found.rows:
        row.sums = _sums(row.newest) if row.newest else None
        row.load = queries.load_words(row.newest) if row.newest else ""
    return render(request, "formulas/index.html", {"slice": found, "retired": retired})


def _sums(version: FormulaVersion):
    return queries.sums_of(services.core_formula(version), override_reason=version.override_reason)


@vary_on_headers("HX-Request")
def formula(request, pk: int):
    """Show a formula; with the calculator's fields in the address, a batch of it."""
    shown = get_object_or_404(Formula, pk=pk)
    versions = list(
        shown.versions.prefetch_related(*services.with_parts(), Prefetch("designs")).order_by(
            "-number"
        )
    )
    version = version_asked(request, versions)
    designs = list(queries.designs_with(shown).select_related("design"))
    form, worked = _batch(request, version, designs)
    context = {
        "formula": shown,
        "version": version,
        "batch_form": form,
        "worked": worked,
        "ways": BatchForm.WAYS,
        "by": form["by"].value(),
    }
    if request.htmx:
        return render(request, "formulas/_batch.html", context)
    return render(
        request,
        "formulas/formula.html",
        context
        | {
            "newest": version is versions[0],
            "sums": _sums(version),
            "versions": _history(versions, request.workshop.units),
            "designs": designs,
            "pours": list(queries.pours_with(shown)),
            "left": list(queries.left_over(shown)),
            "panel": _panel(request, services.recipe_of(version), at=_trace_at(version)),
            "codes": showing.codes_of(services.recipe_of(version), on=today()),
        },
    )


def hazard(request, pk: int):
    """Show every decision of a formula's classification in a market, sum by sum."""
    shown = get_object_or_404(Formula, pk=pk)
    versions = list(shown.versions.prefetch_related(*services.with_parts()).order_by("-number"))
    version = version_asked(request, versions)
    panel = _panel(request, services.recipe_of(version), deep=False)
    return render(
        request,
        "formulas/hazard.html",
        {"formula": shown, "version": version, "newest": version is versions[0], "panel": panel},
    )


@require_POST
def number(request, pk: int):
    """Give a recipe its formulation number, the next free one unless a number was written."""
    versions = FormulaVersion.objects.filter(formula=pk)
    asked = next((v for v in versions if str(v.number) == request.POST.get("version")), None)
    if asked is None:
        raise Http404
    back = _came_from(request, asked)
    written = request.POST.get("number", "").strip()
    try:
        if written and not (written.isascii() and written.isdigit()):
            raise identifiers.BadFormulation(f"“{written[:20]}” is not a whole number.")
        whole = mixture_for(asked)
        given = identifiers.give_number(
            asked,
            recipe=identifiers.print_of_recipe(whole.pct_of_whole),
            made_of=identifiers.print_of_mixture(whole.mixture),
            on=today(),
            number=int(written) if written else None,
        )
    except BadInput as problem:
        warn(request, str(problem))
    else:
        say(request, f"Formulation number {given.number} stands for this recipe.")
    return redirect(back)


def _came_from(request, version: FormulaVersion) -> str:
    """Return the page to go back to: the design that it was given from, else the formula."""
    market = request.POST.get("market", "")
    tail = f"&market={market}" if market.isalpha() else ""
    design = request.POST.get("design", "")
    if design.isdigit():
        return reverse("designs:design", args=[design]) + f"?{tail.lstrip('&')}#identifier"
    page = reverse("formulas:formula", args=[version.formula_id])
    return f"{page}?version={version.number}{tail}#hazard"


def _panel(request, recipe, *, at: str = "", **how):
    """Return the hazard panel of a recipe in the market that was asked for, if any."""
    panel = showing.panel_of(
        recipe, markets=request.workshop.market_list, asked=_market(request), on=today(), **how
    )
    code = showing.numbered(panel.whole, request.workshop).code
    return replace(panel, ufi=code, trace_at=f"{at}&market={panel.market}" if at else "")


def _market(request) -> str | None:
    return request.POST.get("market") or request.GET.get("market")


def _trace_at(version: FormulaVersion) -> str:
    address = reverse("formulas:hazard", args=[version.formula_id])
    return f"{address}?version={version.number}"


def version_asked(request, versions):
    """Return the version that the address asks for by number (``?version=2``), else the newest."""
    asked = request.GET.get("version")
    if asked is None:
        return versions[0]
    for version in versions:
        if str(version.number) == asked:
            return version
    raise Http404


def _batch(request, version: FormulaVersion, designs):
    """Return the calculator's form, and the batch where its fields were sent and make sense."""
    by = request.GET.get("by")
    if by not in BatchForm.ASKS:
        by = BatchForm.BY_VESSELS
    start = {
        "by": by,
        "number": 12,
        "fill": designs[0].fill_mg if designs else None,
        "loss": request.workshop.loss_pct,
        "oil_goes_in": "melter",
    }
    if "loss" not in request.GET:
        return BatchForm(workshop=request.workshop, initial=start, by=by), None
    form = BatchForm(request.GET, workshop=request.workshop, by=by)
    if form.is_valid():
        with refusals(form):
            return form, work_out(
                services.core_formula(version), form.cleaned_data, workshop=request.workshop,
                past_wax_limit=bool(version.override_reason),
            )  # fmt: skip
    return form, None


def _history(versions, units: str):
    """Return each version with what it changed from the one before, newest first."""
    recipes = [services.recipe_of(version) for version in versions]
    changes = [queries.differences(old, new, units=units) for new, old in pairwise(recipes)]
    return list(zip(versions, [*changes, None], map(queries.load_words, versions), strict=True))


def new(request):
    """Write a new formula, from nothing or from another one's newest version (``?from=``)."""
    start, recipe = {}, None
    if (other := request.GET.get("from", "")).isdigit():
        source = get_object_or_404(Formula, pk=other)
        recipe = services.recipe_of(services.newest_version(source))
        start = {"name": f"{source.name}, another", "idea": source.idea}
    return _edit(request, formula=None, recipe=recipe, start=start)


def edit(request, pk: int):
    """Change a formula; where its newest version was used, this makes the next one."""
    formula = get_object_or_404(Formula, pk=pk)
    version = services.newest_version(formula)
    start = {"name": formula.name, "idea": formula.idea}
    return _edit(
        request, formula=formula, recipe=services.recipe_of(version), start=start, version=version
    )


def _edit(request, *, formula, recipe, start, version=None):
    forms = RecipeForms(
        request.POST or None,
        workshop=request.workshop,
        recipe=recipe or services.Recipe(waxes=[]),
        initial=start,
    )
    context = {
        "forms": forms, "form": forms.form, "formula": formula, "version": version,
        "next_number": version.number + 1 if version and version.used else None,
        "markets": showing.tabs(request.workshop.market_list, _market(request)),
        **_preview(request, forms, recipe),
    }  # fmt: skip
    if request.method == "POST":
        if request.htmx:
            return render(request, "formulas/_live.html", context)
        if "work" not in request.POST and forms.is_valid():
            with refusals(forms.form):
                return _save(request, formula, forms)
            # Refusals were added to the form: show what it comes to beside them.
    return render(request, "formulas/edit.html", context)


def _preview(request, forms: RecipeForms, recipe) -> dict:
    """Return what the form's formula comes to so far, or why it cannot be told."""
    bound = forms.form.is_bound
    if bound and not forms.is_valid():
        return {"problem": "Something above cannot be read yet."}
    wanted = forms.recipe if bound else recipe
    if wanted is None or not wanted.waxes:
        return {"problem": "Choose a wax to begin."}
    try:
        services.check_kinds(wanted)
        formula = services.formula_of(wanted)
    except BadInput as problem:
        return {"problem": str(problem)}
    return {
        "sums": queries.sums_of(formula, override_reason=wanted.override_reason),
        "panel": _panel(request, wanted, bar_px=showing.BAR_BESIDE_PX, live=bool(request.htmx)),
        "codes": showing.codes_of(wanted, on=today()),
    }


def _save(request, formula: Formula | None, forms: RecipeForms):
    facts = forms.form.cleaned_data
    if formula is None:
        version = services.new_formula(
            name=facts["name"], idea=facts["idea"], recipe=forms.recipe, on=today()
        )
        say(request, f"{version.formula.name} is written down.")
    else:
        version = services.change(
            formula, name=facts["name"], idea=facts["idea"], recipe=forms.recipe, on=today()
        )
        say(request, f"Kept as {version}.")
    return redirect(reverse("formulas:formula", args=[version.formula_id]))


@require_POST
def retire(request, pk: int):
    formula = get_object_or_404(Formula, pk=pk)
    services.retire(formula, retired=not formula.retired)
    say(request, f"{formula.name} is " + ("back in the list." if formula.retired else "retired."))
    return redirect("formulas:formula", pk=pk)
