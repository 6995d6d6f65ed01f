"""
Ordering in a fixed rhythm: every week, fortnight, four weeks, or everything today.

This is what a plan is measured against, and where its search starts. On each order day a material
gets what the next order day would bring too late, in the pack mix that costs least for it alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd

import numpy as np

from pourwright.core.planning.buying import Offer
from pourwright.core.planning.buying_cost import Bought, merged
from pourwright.core.planning.needs import Field, Item

MOST_GRAINS = 20_000
FAR = 10**18


def rhythm(field: Field, days: Sequence[int]) -> tuple[Bought, ...]:
    """Return the orders of a maker who orders on these days only (the first is today)."""
    bought: list[Bought] = []
    for item in field.items:
        if item.needs:
            bought += item_rhythm(item, days)
    return merged(bought)


def just_in_time(field: Field) -> tuple[Bought, ...]:
    """Return orders for each need by itself, as late as its fastest offer allows."""
    bought: list[Bought] = []
    for item in field.items:
        fastest = min((offer.lead_days for offer in item.offers), default=0)
        days = sorted({need.by - fastest for need in item.needs})
        if field.weekly:
            days = sorted({day // 7 * 7 for day in days})
        if days:
            bought += item_rhythm(item, days)
    return merged(bought)


def moved_later(field: Field, bought: Sequence[Bought]) -> tuple[Bought, ...]:
    """Return orders moved to days that the field looks at; none comes too late by that."""
    moved = []
    for row in bought:
        days = field.days[field.offers[row.offer].supplier]
        later = [day for day in days if day >= row.day]
        if later:
            moved.append(Bought(later[0], row.offer, row.packs))
    return merged(moved)


def item_rhythm(item: Item, days: Sequence[int]) -> list[Bought]:
    """Return one material's orders on these days, each covering what the next brings too late."""
    fastest = min(offer.lead_days for offer in item.offers)
    lots: list[list[int]] = []  # [arrival, what is left]
    bought: list[Bought] = []
    place = 0
    for day, following in zip(days, [*days[1:], None], strict=True):
        upto = place
        while upto < len(item.needs) and (
            following is None or item.needs[upto].by < following + fastest
        ):
            upto += 1
        open_amount, first = 0, None
        for need in item.needs[place:upto]:
            left = _use(lots, need.used, need.amount, item.keeps)
            if left and first is None:
                first = need.by
            open_amount += left
        place = upto
        if first is None:
            continue
        fitting = [offer for offer in item.offers if day + offer.lead_days <= first]
        mix = cheapest_mix(fitting or [_fastest(item.offers)], open_amount)
        total = 0
        for offer, packs in mix:
            bought.append(Bought(day, offer.key, packs))
            total += offer.pack * packs
        arrival = day + max(offer.lead_days for offer, _ in mix)
        lots.append([arrival, total - open_amount])
    return bought


def _fastest(offers: Sequence[Offer]) -> Offer:
    return min(offers, key=lambda offer: offer.lead_days)


def _use(lots: list[list[int]], day: int, amount: int, keeps: int | None) -> int:
    for lot in lots:
        if keeps is not None and lot[0] + keeps < day:
            continue
        taken = min(lot[1], amount)
        lot[1] -= taken
        amount -= taken
    return amount


def least_price(offers: Sequence[Offer], amount: int) -> int | None:
    """Return the least money that covers an amount in one order; None where it is not proven."""
    if -(-amount // gcd(*(offer.pack for offer in offers))) > MOST_GRAINS:
        return None
    return sum(_price_of(row) for row in cheapest_mix(offers, amount))


def cheapest_mix(offers: Sequence[Offer], amount: int) -> list[tuple[Offer, int]]:
    """
    Return the packs, of any of these offers, that cover an amount for the least money.

    Exact by dynamic programming over "at least so much", up to ``MOST_GRAINS`` steps of the packs'
    common divisor; above that the best offer by itself.
    """
    grain = gcd(*(offer.pack for offer in offers))
    steps = -(-amount // grain)
    if steps > MOST_GRAINS:
        return [min((_alone(offer, amount) for offer in offers), key=_price_of)]
    best = np.full(steps + 1, FAR, dtype=np.int64)
    best[0] = 0
    tables = []
    for offer in offers:
        size = offer.pack // grain
        counts = np.zeros(steps + 1, dtype=np.int64)
        new = best.copy()
        for packs in range(1, max(-(-steps // size), offer.prices[-1].from_packs) + 1):
            reach = min(packs * size, steps + 1)
            before = np.zeros(steps + 1, dtype=np.int64)
            before[reach:] = best[: steps + 1 - reach]
            price = before + packs * offer.price_minor100(packs)
            better = price < new
            new[better] = price[better]
            counts[better] = packs
        tables.append((offer, size, counts))
        best = new
    mix = []
    left = steps
    for offer, size, counts in reversed(tables):
        if packs := int(counts[left]):
            mix.append((offer, packs))
            left = max(0, left - packs * size)
    return mix[::-1]


def _alone(offer: Offer, amount: int) -> tuple[Offer, int]:
    needed = -(-amount // offer.pack)
    counts = [needed, *(price.from_packs for price in offer.prices if price.from_packs > needed)]
    return min(((offer, packs) for packs in counts), key=_price_of)


def _price_of(mix: tuple[Offer, int]) -> int:
    return mix[1] * mix[0].price_minor100(mix[1])
