"""
What changes formulas: a new one, and its next version.

A version that was poured or designed with never changes; revising it makes the next one. What an
oil's safety limit forbids is never saved; what is above the wax's limit only with a reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.core.exceptions import ObjectDoesNotExist
from django.db import transaction
from django.db.models import Prefetch

from pourwright.core import formula as core
from pourwright.core.errors import BadInput
from pourwright.workshop.formulas.models import (
    Formula,
    FormulaExtra,
    FormulaOil,
    FormulaVersion,
    FormulaWax,
)
from pourwright.workshop.stores.models import Basis, Item, Kind, Measure


class CannotFormulate(BadInput):
    """What was given does not make a formula of this workshop."""


Part = tuple[Item, Decimal]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """
    What goes in: waxes and oils by share, dye and additives as per cent of the wax, and a load
    (per cent) on one of its bases. Temperatures in °C.
    """

    waxes: Sequence[Part]
    oils: Sequence[Part] = ()
    extras: Sequence[Part] = ()
    load_pct: Decimal = Decimal(0)
    load_basis: str = Basis.OF_WAX
    add_at_c: Decimal | None = None
    pour_at_c: Decimal | None = None
    stir_minutes: Decimal = Decimal(2)
    override_reason: str = ""
    note: str = ""


# --- as the core sees it -------------------------------------------------------------------------


def core_formula(version: FormulaVersion) -> core.Formula:
    """
    Return the version as the core computes with it, limits and densities by the items' facts.

    A version that was loaded ``with_parts`` keeps it beside them, for lists ask more than once.
    """
    if "waxes" not in getattr(version, "_prefetched_objects_cache", {}):
        return formula_of(recipe_of(version))
    if not hasattr(version, "as_core"):
        version.as_core = formula_of(recipe_of(version))
    return version.as_core


def recipe_of(version: FormulaVersion) -> Recipe:
    """Return what a version says, to compare it or to start from it."""
    return Recipe(
        waxes=[(part.item, part.share) for part in _parts(version, "waxes", "item__wax")],
        oils=[(part.item, part.share) for part in _parts(version, "oils", "item__oil")],
        extras=[(part.item, part.pct_of_wax) for part in _parts(version, "extras", "item")],
        load_pct=version.load_pct,
        load_basis=version.load_basis,
        add_at_c=version.add_at_c,
        pour_at_c=version.pour_at_c,
        stir_minutes=version.stir_minutes,
        override_reason=version.override_reason,
        note=version.note,
    )


def _parts(version: FormulaVersion, name: str, related: str):
    """Return a version's parts with their items, from a prefetch where there is one."""
    if name in getattr(version, "_prefetched_objects_cache", {}):
        return getattr(version, name).all()
    return getattr(version, name).select_related(related)


def with_parts(path: str = "") -> list[Prefetch]:
    """Return what a list prefetches so that ``core_formula`` asks nothing more of the database."""
    return [
        Prefetch(f"{path}waxes", FormulaWax.objects.select_related("item__wax")),
        Prefetch(f"{path}oils", FormulaOil.objects.select_related("item__oil")),
        Prefetch(f"{path}extras", FormulaExtra.objects.select_related("item")),
    ]


def formula_of(recipe: Recipe) -> core.Formula:
    """Return a recipe as the core computes with it; raises its BadInput for what is no formula."""
    return core.Formula(
        waxes=tuple(_wax_part(item, share) for item, share in recipe.waxes),
        oils=tuple(_oil_part(item, share) for item, share in recipe.oils),
        extras=tuple(
            core.Extra(name=item.name, pct_of_wax=Fraction(pct)) for item, pct in recipe.extras
        ),
        load=load_of(recipe.load_pct, recipe.load_basis),
        adding_temp_c=fraction(recipe.add_at_c),
    )


def load_of(pct: Decimal, basis: str) -> core.Load:
    """Return a load with its basis, of the kind that the core never mixes up."""
    if basis == Basis.OF_WHOLE:
        return core.LoadOfWhole(Fraction(pct))
    return core.LoadOfWax(Fraction(pct))


def fraction(value: Decimal | None) -> Fraction | None:
    return None if value is None else Fraction(value)


def facts_of(item: Item, name: str):
    """Return an item's facts (``wax``, ``oil``, ``vessel``, ``wick``), or None where none stand."""
    try:
        return getattr(item, name)
    except ObjectDoesNotExist:
        return None


def _wax_part(item: Item, share: Decimal) -> core.WaxPart:
    facts = facts_of(item, "wax")
    if facts is None:
        return core.WaxPart(name=item.name, share=Fraction(share))
    limit = facts.max_load_pct
    return core.WaxPart(
        name=item.name,
        share=Fraction(share),
        max_load=None if limit is None else load_of(limit, facts.max_load_basis),
        density_g_per_ml=fraction(facts.density_cold_g_ml),
        liquid_density_g_per_ml=fraction(facts.density_liquid_g_ml),
    )


def _oil_part(item: Item, share: Decimal) -> core.OilPart:
    facts = facts_of(item, "oil")
    return core.OilPart(
        name=item.name,
        share=Fraction(share),
        flash_point_c=fraction(facts and facts.flash_point_c),
        max_pct_of_whole=fraction(facts and facts.max_pct_of_whole),
    )


def findings(version: FormulaVersion) -> tuple[core.Finding, ...]:
    """Return what the core finds in a version; a reason on record stands on what it passes."""
    return findings_in(core_formula(version), override_reason=version.override_reason)


def findings_in(formula: core.Formula, *, override_reason: str = "") -> tuple[core.Finding, ...]:
    return tuple(
        replace(finding, override_reason=override_reason.strip())
        if finding.severity == "refuse unless overridden"
        else finding
        for finding in core.check_limits(formula)
    )


# --- writing -------------------------------------------------------------------------------------


def new_formula(*, name: str, idea: str = "", recipe: Recipe, on: date) -> FormulaVersion:
    """Make a formula with its first version, and the item that its left-over mix is kept as."""
    name = _free_name(name)
    _check(recipe)
    with transaction.atomic():
        mix = Item.objects.create(kind=Kind.MIX, name=name, measure=Measure.MASS)
        formula = Formula.objects.create(name=name, idea=idea.strip(), mix=mix)
        return _write(FormulaVersion(formula=formula, number=1, made_on=on), recipe)


def revise(formula: Formula, *, recipe: Recipe, on: date) -> FormulaVersion:
    """
    Change a formula's newest version, or make the next one where that one was used.

    Where nothing differs the newest version is returned as it is.
    """
    _check(recipe)
    with transaction.atomic():
        formula = Formula.objects.select_for_update().get(pk=formula.pk)
        newest = newest_version(formula)
        if newest is not None and same(recipe_of(newest), recipe):
            return newest
        if newest is None or newest.used:
            number = newest.number + 1 if newest else 1
            return _write(FormulaVersion(formula=formula, number=number, made_on=on), recipe)
        newest.waxes.all().delete()
        newest.oils.all().delete()
        newest.extras.all().delete()
        return _write(newest, recipe)


def describe(formula: Formula, *, name: str, idea: str = "") -> Formula:
    """Rename a formula or change its idea; no version changes by that."""
    with transaction.atomic():
        formula = Formula.objects.select_for_update().get(pk=formula.pk)
        if name.strip() != formula.name:
            formula.name = _free_name(name)
            Item.objects.filter(pk=formula.mix_id).update(name=formula.name)
        formula.idea = idea.strip()
        formula.save(update_fields=["name", "idea"])
    return formula


def change(
    formula: Formula, *, name: str, idea: str = "", recipe: Recipe, on: date
) -> FormulaVersion:
    """Rename and revise in one step: both or neither."""
    with transaction.atomic():
        formula = describe(formula, name=name, idea=idea)
        return revise(formula, recipe=recipe, on=on)


def retire(formula: Formula, *, retired: bool = True) -> None:
    """Take a formula out of the lists, or put it back; its versions and lots stay."""
    Formula.objects.filter(pk=formula.pk).update(retired=retired)
    Item.objects.filter(pk=formula.mix_id).update(retired=retired)


def newest_version(formula: Formula) -> FormulaVersion | None:
    return formula.versions.order_by("-number").first()


def same(one: Recipe, other: Recipe) -> bool:
    """Return whether two recipes say the same, however their numbers are written."""
    return _plain(one) == _plain(other)


def _plain(recipe: Recipe):
    def parts(given: Sequence[Part]) -> list[tuple[int, Decimal]]:
        return [(item.pk, Decimal(amount)) for item, amount in given]

    def number(value) -> Decimal | None:
        return None if value is None else Decimal(value)

    return (
        parts(recipe.waxes), parts(recipe.oils), parts(recipe.extras),
        Decimal(recipe.load_pct), str(recipe.load_basis),
        number(recipe.add_at_c), number(recipe.pour_at_c), number(recipe.stir_minutes),
        recipe.override_reason.strip(), recipe.note.strip(),
    )  # fmt: skip


def _free_name(name: str) -> str:
    name = name.strip()
    if not name:
        raise CannotFormulate("A formula needs a name, for example the scent it is after.")
    if Formula.objects.filter(name=name).exists():
        raise CannotFormulate(
            f"There is a formula “{name}” already; give this one another name, or revise that one."
        )
    return name


KINDS = (
    ("waxes", (Kind.WAX,), "a wax"),
    ("oils", (Kind.OIL,), "a fragrance oil"),
    ("extras", (Kind.DYE, Kind.ADDITIVE), "a dye or an additive"),
)


def check_kinds(recipe: Recipe) -> None:
    """Refuse a part that stands in the wrong row."""
    for name, kinds, words in KINDS:
        for item, _ in getattr(recipe, name):
            if item.kind not in kinds:
                raise CannotFormulate(
                    f"“{item.name}” is kept as {Kind(item.kind).label}, not as {words}; "
                    "choose another."
                )


def _check(recipe: Recipe) -> None:
    check_kinds(recipe)
    if recipe.stir_minutes is not None and recipe.stir_minutes < 0:
        raise CannotFormulate(f"{recipe.stir_minutes} minutes to stir; give 0 or more.")
    core.refuse_over_limit(
        core.check_limits(formula_of(recipe)), override_reason=recipe.override_reason
    )


def _write(version: FormulaVersion, recipe: Recipe) -> FormulaVersion:
    version.load_pct = recipe.load_pct
    version.load_basis = recipe.load_basis
    version.add_at_c = recipe.add_at_c
    version.pour_at_c = recipe.pour_at_c
    version.stir_minutes = 0 if recipe.stir_minutes is None else recipe.stir_minutes
    version.override_reason = recipe.override_reason.strip()
    version.note = recipe.note.strip()
    version.save()
    FormulaWax.objects.bulk_create(
        FormulaWax(version=version, item=item, share=share) for item, share in recipe.waxes
    )
    FormulaOil.objects.bulk_create(
        FormulaOil(version=version, item=item, share=share) for item, share in recipe.oils
    )
    FormulaExtra.objects.bulk_create(
        FormulaExtra(version=version, item=item, pct_of_wax=pct) for item, pct in recipe.extras
    )
    return version
