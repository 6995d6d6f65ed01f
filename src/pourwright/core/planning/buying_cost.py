"""
What a set of orders costs and whether it comes in time, reckoned exactly, apart from any planner.

Stock is followed lot by lot: the oldest lot that still keeps is used first.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.planning.buying import Cost
from pourwright.core.planning.needs import Field, Item


@dataclass(frozen=True, slots=True, order=True)
class Bought:
    """So many packs of an offer, ordered on a day counted from today."""

    day: int
    offer: str
    packs: int


@dataclass(frozen=True, slots=True)
class Fault:
    """``amount`` of a material is not there by the day on which it should be."""

    material: str
    day: int
    amount: int


def merged(bought: Iterable[Bought]) -> tuple[Bought, ...]:
    """Return the same with one entry for each day and offer, in order."""
    sums: dict[tuple[int, str], int] = defaultdict(int)
    for row in bought:
        sums[row.day, row.offer] += row.packs
    return tuple(sorted(Bought(day, offer, n) for (day, offer), n in sums.items() if n))


def cost_of(field: Field, bought: Sequence[Bought]) -> Cost:
    """
    Return goods, freight and holding.

    Holding counts each bought unit from its arrival to its use, or to the end where it is left;
    ``bought`` must hold each day and offer once.
    """
    goods = 0
    orders: dict[tuple[str, int], int] = defaultdict(int)
    arrived: dict[str, int] = defaultdict(int)
    for row in bought:
        offer = field.offers[row.offer]
        value = row.packs * offer.price_minor100(row.packs)
        goods += value
        orders[offer.supplier, row.day] += value
        stays = field.end - row.day - offer.lead_days
        arrived[offer.material] += row.packs * offer.pack * stays
    freight = sum(
        field.suppliers[supplier].charge_minor100(value) for (supplier, _), value in orders.items()
    )
    holding = Fraction(0)
    for item in field.items:
        used = sum(need.amount * (field.end - need.used) for need in item.needs)
        holding += item.holding * (arrived[item.supply.key] - used)
    return Cost(goods_minor100=goods, freight_minor100=freight, holding_minor100=holding)


def cash_by_month(field: Field, bought: Sequence[Bought]) -> dict[str, int]:
    """Return what is ordered for in each calendar month, freight with it."""
    orders: dict[tuple[str, int], int] = defaultdict(int)
    for row in bought:
        offer = field.offers[row.offer]
        orders[offer.supplier, row.day] += row.packs * offer.price_minor100(row.packs)
    months: dict[str, int] = defaultdict(int)
    for (supplier, day), value in orders.items():
        months[field.month(day)] += value + field.suppliers[supplier].charge_minor100(value)
    return dict(months)


def faults_of(field: Field, bought: Sequence[Bought]) -> list[Fault]:
    """Return every net need that the orders do not cover by its day, with lots that keep."""
    found = []
    for item in field.items:
        found += item_faults(item, [row for row in bought if field.item_of[row.offer] is item])
    return found


def item_faults(item: Item, bought: Sequence[Bought]) -> list[Fault]:
    """Return the faults of one material; ``bought`` holds its own rows only."""
    by_key = {offer.key: offer for offer in item.offers}
    lots = sorted(
        [row.day + by_key[row.offer].lead_days, row.packs * by_key[row.offer].pack]
        for row in bought
    )
    found = []
    for need in item.needs:
        open_amount = need.amount
        for lot in lots:
            if lot[0] > need.by:
                break
            if item.keeps is not None and lot[0] + item.keeps < need.used:
                continue
            taken = min(lot[1], open_amount)
            lot[1] -= taken
            open_amount -= taken
        if open_amount:
            found.append(Fault(item.supply.key, need.used, open_amount))
    return found
