"""What a pour really took of which lots, and what it is worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pourwright.core.costing import take_value
from pourwright.core.shares import split_exactly
from pourwright.workshop.pours import planning
from pourwright.workshop.pours.account import Account, CannotClose, Outcome, mass_words
from pourwright.workshop.pours.allocation import Portion
from pourwright.workshop.pours.models import Filling, Pour, PourState, Take, Use
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Balance, Item, Kind, Lot, Place

PART_OF = {
    Use.WAX: "wax",
    Use.OIL: "fragrance",
    Use.EXTRA: "additives",
    Use.REMELT: "wax",
}
PIECE_PART = {Kind.VESSEL: "vessel", Kind.WICK: "wick"}


@dataclass(slots=True, kw_only=True)
class Used:
    """So much that a take really took of its lot, and what it is worth."""

    take: Take
    lot: Lot
    qty: int
    value: int = 0


def weighed(account: Account) -> list[Used]:
    """Return what was weighed into melter and pitchers, of which lots."""
    found = []
    for take in account.takes:
        qty = account.qty(take)
        if not qty:
            continue
        if take.lot is None:
            raise CannotClose(
                f"{take.item.name} was planned without a lot; say which lot it came from."
            )
        found.append(Used(take=take, lot=take.lot, qty=qty))
    return found


def pieces_used(
    pour: Pour,
    fillings: Sequence[Filling],
    takes: Sequence[Take],
    outcomes: Mapping[int, Outcome],
) -> list[Used]:
    """
    Return the vessels, wicks and parts that were used: as counted, else by what was poured.

    More than was planned comes from the oldest lots that have it.
    """
    pieces = [take for take in takes if take.use == Use.PIECE]
    stock = planning.Stock.for_items(
        {take.item for take in pieces}, states=(PourState.OPEN,), without=pour.pk
    )
    found = []
    for filling in fillings:
        poured = outcomes[filling.pk].poured
        for item, each in planning.pieces_each(filling.design_version):
            own = [t for t in pieces if t.filling_id == filling.pk and t.item_id == item.pk]
            counted = sum(take.actual for take in own if take.actual is not None)
            rest = max(poured * each - counted, 0)
            for take in own:
                qty = take.actual
                if qty is None:
                    qty = min(rest, take.target)
                    rest -= qty
                if qty and take.lot is not None:
                    stock.give(take.lot, qty)
                    found.append(Used(take=take, lot=take.lot, qty=qty))
            if rest and not (own and all(take.actual is not None for take in own)):
                found += _more_pieces(pour, filling, item, rest, stock)
    return found


def _more_pieces(
    pour: Pour, filling: Filling, item: Item, rest: int, stock: planning.Stock
) -> list[Used]:
    drawn = stock.draw(item, rest, division_mg=1)
    lacking = rest - sum(qty for _, qty in drawn)
    if lacking:
        raise CannotClose(
            f"More of {filling.design_version.design.name} were poured than planned, and the store "
            f"lacks {lacking:,} of {item.name} for them; correct the number or the count first."
        )
    return [
        Used(
            take=Take(
                pour=pour,
                pitcher=filling.pitcher,
                filling=filling,
                use=Use.PIECE,
                item=item,
                lot=lot,
                position=900,
                target=0,
            ),
            lot=lot,
            qty=qty,
        )
        for lot, qty in drawn
    ]


def give_value(used: Sequence[Used]) -> None:
    """Lock the lots and give each use its share of their value, one after the other."""
    pks = sorted({one.lot.pk for one in used})
    list(Lot.objects.select_for_update().filter(pk__in=pks).order_by("pk").values_list("pk"))
    there = {
        balance.lot_id: [balance.qty, balance.value]
        for balance in Balance.objects.filter(lot__in=pks, place=Place.STORE)
    }
    for one in used:
        held = there.get(one.lot.pk, [0, 0])
        if one.qty > held[0]:
            raise ledger.Overdrawn(
                f"{_qty(one.lot.item, one.qty)} were taken of {one.lot.item.name}, lot "
                f"{one.lot.code}, but the store holds {_qty(one.lot.item, held[0])} of it by the "
                "books. Correct the weight, take another lot, or correct the count first."
            )
        one.value = take_value(held[0], held[1], one.qty)
        held[0] -= one.qty
        held[1] -= one.value


def _qty(item: Item, qty: int) -> str:
    return mass_words(qty) if item.by_mass else f"{qty:,}"


def portion_of(one: Used) -> Portion:
    return Portion(lot=one.lot.pk, qty=one.qty, parts=_parts_of(one))


def _parts_of(one: Used) -> tuple[tuple[str, int], ...]:
    """Return what a use is worth, by part; mix melted again brings the parts it was made of."""
    if one.take.use == Use.PIECE:
        return ((PIECE_PART.get(one.take.item.kind, "wick"), one.value),)
    if one.take.use == Use.REMELT:
        costs = [(cost.component, cost.value) for cost in one.lot.costs.order_by("component")]
        if any(value for _, value in costs):
            split = split_exactly(one.value, [value for _, value in costs])
            return tuple(
                (part, value) for (part, _), value in zip(costs, split, strict=True) if value
            )
    return ((PART_OF[one.take.use], one.value),)
