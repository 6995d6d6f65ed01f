"""
What the rest of the program asks of compositions: what a candle is made of, and its class.

Nothing here writes (``keeping`` does). Reading is done in bulk: however many oils a formula has,
its compositions come in two queries.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pourwright.core.hazard.assess import Assessment, assess
from pourwright.core.hazard.model import Composition, Market, Mixture, Portion, mixture_of
from pourwright.core.hazard.us import UsAssessment
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.hazard.models import ItemComposition, State
from pourwright.workshop.hazard.records import core_of
from pourwright.workshop.stores.models import Item, Kind

# Whose composition the gate asks for; a wax counts where one is on record.
ASKED_OF = (Kind.OIL, Kind.DYE, Kind.ADDITIVE)


# --- compositions --------------------------------------------------------------------------------


def confirmed_for(items: Iterable[Item]) -> dict[int, ItemComposition]:
    """Return the confirmed composition of each item that has one, with its rows: two queries."""
    found = (
        ItemComposition.objects.filter(item__in=[item.pk for item in items], state=State.CONFIRMED)
        .select_related("item", "sheet")
        .defer("typed", "reading")
        .prefetch_related("rows")
    )
    return {record.item_id: record for record in found}


def compositions_for(items: Iterable[Item]) -> dict[int, Composition]:
    """Return by the item's key what each is made of; an item without a confirmed one is absent."""
    return {pk: core_of(record) for pk, record in confirmed_for(items).items()}


def composition_of(item: Item) -> Composition | None:
    """Return what an item is made of by its confirmed composition, or None where there is none."""
    return compositions_for([item]).get(item.pk)


# --- what a candle is made of --------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """
    A candle's mass taken apart: the portions of known composition, all of it added up, and gaps.

    ``gaps`` are oils, dyes and additives without a confirmed composition; ``waxes_taken`` are
    waxes of which none is known and which are taken as harmless.
    """

    portions: tuple[Portion, ...]
    mixture: Mixture
    gaps: tuple[Item, ...] = ()
    waxes_taken: tuple[Item, ...] = ()
    pct_of_whole: Mapping[int, Fraction]

    @property
    def complete(self) -> bool:
        return not self.gaps


def whole_of(
    recipe: formulas.Recipe,
    *,
    compositions: Mapping[int, Composition] | None = None,
    instead: Mapping[int, Composition] | None = None,
) -> Whole:
    """
    Return what a recipe comes to, each material in percent of the whole, exactly.

    ``compositions`` by item key, where they were read already; ``instead`` takes the place of
    some of them, to see what a waiting sheet would change.
    """
    shares = pct_of_whole(recipe)
    items = [item for item, _ in shares]
    known = compositions_for(items) if compositions is None else compositions
    known = {**known, **(instead or {})}
    portions = tuple(
        Portion(composition=known[item.pk], pct_of_whole=pct)
        for item, pct in shares
        if item.pk in known
    )
    lacking = [item for item in items if item.pk not in known]
    return Whole(
        portions=portions,
        mixture=mixture_of(portions),
        gaps=tuple(item for item in lacking if item.kind in ASKED_OF),
        waxes_taken=tuple(item for item in lacking if item.kind == Kind.WAX),
        pct_of_whole={item.pk: pct for item, pct in shares},
    )


def pct_of_whole(recipe: formulas.Recipe) -> list[tuple[Item, Fraction]]:
    """Return each material of a recipe with its percentage of the finished candle mass."""
    formula = formulas.formula_of(recipe)
    mix = formula.mix_pct_of_wax
    return [
        *(
            (item, 100 * 100 * part / mix)
            for (item, _), part in zip(recipe.waxes, formula.wax_fractions, strict=True)
        ),
        *(
            (item, formula.load_pct_of_whole * part)
            for (item, _), part in zip(recipe.oils, formula.oil_fractions, strict=True)
        ),
        *((item, 100 * Fraction(pct) / mix) for item, pct in recipe.extras),
    ]


def mixture_for(
    version: FormulaVersion, *, instead: Mapping[int, Composition] | None = None
) -> Whole:
    """Return what a formula's version comes to: ``mixture``, ``portions`` and ``gaps``."""
    return whole_of(formulas.recipe_of(version), instead=instead)


def portions_of(version: FormulaVersion) -> list[Portion]:
    """Return the portions of known composition in a formula's version."""
    return list(mixture_for(version).portions)


def assess_version(
    version: FormulaVersion,
    *,
    market: Market | str,
    on: date,
    package_ml: Fraction | None = None,
    marketed_before: bool = False,
    instead: Mapping[int, Composition] | None = None,
) -> Assessment | UsAssessment:
    """
    Return the class and the label's elements of a version in a market on a day .

    What has no confirmed composition is left out: ask ``mixture_for`` for its gaps and show them.
    """
    return assess(
        mixture_for(version, instead=instead).mixture,
        market=Market(market),
        on=on,
        package_ml=package_ml,
        marketed_before=marketed_before,
    )
