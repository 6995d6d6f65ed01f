"""
A good first purchase plan, by trying order days: where the mixed-integer search starts from.

Every material orders on a set of days, lot for lot: each order covers what the next would bring
too late (``rhythms``). First one set for all materials of a group is improved by adding and taking
out single days, then each material's own. Money here is plain floats: the plan is costed exactly
afterwards. ``near_orders`` narrows a field to the days beside a plan's, where small programmes
improve it further.
"""

from __future__ import annotations

import dataclasses
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pourwright.core.planning.buying_cost import Bought, item_faults, merged
from pourwright.core.planning.needs import Field, Item
from pourwright.core.planning.rhythms import item_rhythm

PERIODS = (1, 2, 3, 4, 5, 6, 8, 12, 1000)
MOST_PASSES = 6
NEAR = 3
"""So many order days on either side of an order are near it."""
Days = tuple[int, ...]


@dataclass(slots=True)
class _Own:
    """What one material orders on a set of days: its rows, and what it adds to each order."""

    bought: tuple[Bought, ...]
    cost: float
    orders: Mapping[tuple[str, int], int]


@dataclass(slots=True)
class _Trial:
    field: Field
    items: Sequence[Item]
    kept: dict[tuple[int, Days], _Own | None] = dataclasses.field(default_factory=dict)

    def own(self, place: int, days: Days) -> _Own | None:
        """Return a material's orders on these days; None where something then comes too late."""
        key = (place, days)
        if key not in self.kept:
            self.kept[key] = self._own(self.items[place], days)
        return self.kept[key]

    def _own(self, item: Item, days: Days) -> _Own | None:
        bought = merged(item_rhythm(item, days))
        if item_faults(item, bought):
            return None
        cost, orders = 0.0, dict[tuple[str, int], int]()
        holding = float(item.holding)
        for row in bought:
            offer = self.field.offers[row.offer]
            value = row.packs * offer.price_minor100(row.packs)
            stays = self.field.end - row.day - offer.lead_days
            cost += value + holding * row.packs * offer.pack * stays
            key = (offer.supplier, row.day)
            orders[key] = orders.get(key, 0) + value
        return _Own(bought, cost, orders)

    def total(self, chosen: Sequence[Days]) -> float:
        """Return what everything costs when each material orders on its own days."""
        cost, orders = 0.0, dict[tuple[str, int], int]()
        for place, days in enumerate(chosen):
            own = self.own(place, days)
            if own is None:
                return float("inf")
            cost += own.cost
            for key, value in own.orders.items():
                orders[key] = orders.get(key, 0) + value
        for (supplier, _), value in orders.items():
            cost += self.field.suppliers[supplier].charge_minor100(value)
        return cost


def good_start(ground: Field, items: Sequence[Item]) -> tuple[Bought, ...]:
    """Return orders of these materials; empty where no set of days that was tried serves."""
    suppliers = {offer.supplier for item in items for offer in item.offers}
    days = sorted({day for supplier in suppliers for day in ground.days[supplier]})
    trial = _Trial(ground, items)
    best, cost = _one_set(trial, days)
    if cost == float("inf"):
        return ()
    best = _own_sets(trial, best, cost, days)
    rows: list[Bought] = []
    for place, chosen in enumerate(best):
        own = trial.own(place, chosen)
        rows += own.bought if own is not None else ()
    return merged(rows)


def near_orders(ground: Field, bought: Sequence[Bought]) -> Field:
    """
    Return the same field with the order days near these orders alone.

    An order on a day that the field does not look at counts as one on the next day that it does.
    """
    kept = {}
    for supplier, days in ground.days.items():
        sent = {row.day for row in bought if ground.offers[row.offer].supplier == supplier}
        places = {bisect_left(days, day) for day in sent}
        kept[supplier] = tuple(
            day
            for place, day in enumerate(days)
            if any(abs(place - other) <= NEAR for other in places)
        )
    return dataclasses.replace(ground, days=kept)


def _one_set(trial: _Trial, days: Sequence[int]) -> tuple[list[Days], float]:
    """Return the best set of days for all materials together."""
    count = len(trial.items)
    sets = [tuple(sorted({0, *days[::period]})) for period in PERIODS]
    cost, best = min((trial.total([chosen] * count), chosen) for chosen in sets)
    for _ in range(MOST_PASSES):
        before = cost
        for day in days[1:]:
            tried = _toggled(best, day)
            if (less := trial.total([tried] * count)) < cost:
                cost, best = less, tried
        for day in best[1:]:
            for other in _beside(days, day):
                tried = tuple(sorted({*best, other} - {day}))
                if day in best and (less := trial.total([tried] * count)) < cost:
                    cost, best = less, tried
        if cost >= before:
            break
    return [best] * count, cost


def _own_sets(trial: _Trial, best: list[Days], cost: float, days: Sequence[int]) -> list[Days]:
    """Return the best days of each material by itself, the others' as they are."""
    for _ in range(MOST_PASSES):
        before = cost
        used = sorted({day for chosen in best for day in chosen})
        for place in range(len(best)):
            for day in used[1:]:
                tried = [*best]
                tried[place] = _toggled(best[place], day)
                if (less := trial.total(tried)) < cost:
                    cost, best = less, tried
        if cost >= before:
            break
    return best


def _toggled(days: Days, day: int) -> Days:
    return tuple(sorted({*days} ^ {day}))


def _beside(days: Sequence[int], day: int) -> list[int]:
    place = list(days).index(day) if day in days else 0
    return [*days[max(1, place - 1) : place], *days[place + 1 : place + 2]]
