"""Which oils are in a mix, and which of them are above their safety limit there."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction

from pourwright.core import amounts
from pourwright.workshop.formulas.services import core_formula, newest_version
from pourwright.workshop.pours.models import Take, Use
from pourwright.workshop.stores.models import Item, Kind, Lot, LotSource


def oils_over_limit(weighed: Sequence[tuple[Take, int]], *, wax_mg: int) -> list[str]:
    """Return a sentence for each oil above its safety limit in a pitcher's mix as weighed."""
    whole = wax_mg + sum(qty for _, qty in weighed)
    if not whole:
        return []
    oils: dict[int, Fraction] = defaultdict(Fraction)
    items: dict[int, Item] = {}
    for take, qty in weighed:
        if take.use == Use.OIL:
            oils[take.item_id] += qty
            items[take.item_id] = take.item
        elif take.use == Use.REMELT and take.lot is not None:
            for item, share in oils_in(take.lot).values():
                oils[item.pk] += qty * share
                items[item.pk] = item
    found = []
    for pk, mg in oils.items():
        limit = getattr(getattr(items[pk], "oil", None), "max_pct_of_whole", None)
        if limit is not None and 100 * mg > Fraction(limit) * whole:
            found.append(
                f"{items[pk].name} is {amounts.show_percent(100 * mg / whole, places=3)} of the "
                f"mix as weighed; its safety limit is "
                f"{amounts.show_percent(Fraction(limit), places=3)}."
            )
    return found


def oils_in(mix: Lot, *, depth: int = 8) -> dict[int, tuple[Item, Fraction]]:
    """
    Return the oils in a lot of mix, by item, as shares of its mass; from what really went into it.

    A lot from before the books has no record: it is taken to be of its formula's newest version.
    """
    sources = list(
        LotSource.objects.filter(child=mix, entry__undone_by__isnull=True).select_related(
            "parent__item__oil"
        )
    )
    whole = sum(source.qty for source in sources if source.parent.item.by_mass)
    if not whole or depth == 0:
        return _oils_by_formula(mix)
    found: dict[int, tuple[Item, Fraction]] = {}
    for source in sources:
        item, share = source.parent.item, Fraction(source.qty, whole)
        if item.kind == Kind.OIL:
            found[item.pk] = (item, found.get(item.pk, (item, Fraction(0)))[1] + share)
        elif item.kind == Kind.MIX:
            for pk, (oil, part) in oils_in(source.parent, depth=depth - 1).items():
                found[pk] = (oil, found.get(pk, (oil, Fraction(0)))[1] + share * part)
    return found


def _oils_by_formula(mix: Lot) -> dict[int, tuple[Item, Fraction]]:
    version = newest_version(mix.item.formula)
    if version is None:
        return {}
    formula = core_formula(version)
    parts = version.oils.select_related("item__oil")
    return {
        part.item_id: (part.item, formula.load_pct_of_whole * fraction / 100)
        for part, fraction in zip(parts, formula.oil_fractions, strict=True)
    }
