"""
What has to be bought for when: use, less what is there and coming, as whole days from today.

What is there is used before what is bought (first in, first out); what arrives already ordered is
used as soon as it is there. So what remains are net needs, each to be there ``by`` a day and used
on ``used``. An order can be moved later, to the last day on which all of it still comes in time,
without any cost rising: it holds the same packs, so its freight stays, and they are held for less
time; two orders that meet are one, which pays one freight and no higher prices. (Dearer only where
freight costs more than the value it is free from: a price break may then undo two free ones.)
Therefore only such days (and the ends of months, where cash is limited) need to be looked at: see
``order_days``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import gcd

from pourwright.core.planning.buying import DAYS_A_YEAR, Buying, Offer, Supplier, Supply

MOST_ORDER_DAYS = 36
"""Beyond so many days per supplier, orders go out on one day a week."""
WEEK = 7


@dataclass(frozen=True, slots=True)
class NetNeed:
    """``amount`` must have arrived ``by`` a day and is used on ``used``, wished for on ``wish``."""

    by: int
    used: int
    wish: int
    amount: int


@dataclass(frozen=True, slots=True)
class Item:
    """A material with its net needs and its offers; ``grain`` divides every pack of it."""

    supply: Supply
    offers: tuple[Offer, ...]
    needs: tuple[NetNeed, ...]
    holding: Fraction
    grain: int
    keeps: int | None
    missing: tuple[tuple[int, int], ...] = ()
    """(day, amount) of needs that nobody offers anything for."""

    @property
    def amount(self) -> int:
        return sum(need.amount for need in self.needs)


@dataclass(frozen=True, slots=True)
class Field:
    """A whole purchase in days from today, ready for any planner of it."""

    buying: Buying
    items: tuple[Item, ...]
    suppliers: dict[str, Supplier]
    days: dict[str, tuple[int, ...]]
    weekly: bool
    end: int
    offers: dict[str, Offer] = field(default_factory=dict)
    item_of: dict[str, Item] = field(default_factory=dict)

    def date(self, day: int) -> dt.date:
        return self.buying.today + dt.timedelta(days=day)

    def month(self, day: int) -> str:
        return self.date(day).strftime("%Y-%m")


def field_of(buying: Buying) -> Field:
    """Return a checked purchase in days, with the days on which orders need be looked at."""
    items = tuple(_item(material, buying) for material in buying.materials)
    end = (buying.until - buying.today).days
    every = {supplier.key: order_days(supplier.key, items, buying) for supplier in buying.suppliers}
    weekly = any(len(days) > MOST_ORDER_DAYS for days in every.values())
    if weekly:
        every = {
            key: tuple(range(0, (days[-1] if days else 0) + 1, WEEK)) for key, days in every.items()
        }
    return Field(
        buying=buying, items=items, suppliers={row.key: row for row in buying.suppliers},
        days=every, weekly=weekly, end=end, offers={row.key: row for row in buying.offers},
        item_of={offer.key: item for item in items for offer in item.offers},
    )  # fmt: skip


def order_days(supplier: str, items: Sequence[Item], buying: Buying) -> tuple[int, ...]:
    """Return the days on which an order to a supplier may be worth placing, today among them."""
    days = {0}
    for item in items:
        for offer in item.offers:
            if offer.supplier == supplier:
                days |= {need.by - offer.lead_days for need in item.needs}
    if buying.cash_minor100 is not None and days:
        day = buying.today
        while (ends := _month_end(day)) and (ends - buying.today).days < max(days):
            days.add((ends - buying.today).days)
            day = ends + dt.timedelta(days=1)
    return tuple(sorted(day for day in days if day >= 0))


def _month_end(day: dt.date) -> dt.date:
    following = (day.replace(day=28) + dt.timedelta(days=4)).replace(day=1)
    return following - dt.timedelta(days=1)


def _item(material: Supply, buying: Buying) -> Item:
    offers = tuple(offer for offer in buying.offers if offer.material == material.key)
    net = net_uses(material, buying.today)
    soonest = min((offer.lead_days for offer in offers), default=None)
    needs: list[NetNeed] = []
    missing: list[tuple[int, int]] = []
    for day, amount in net:
        if soonest is None:
            missing.append((day, amount))
            continue
        by, used = max(day - buying.spare_days, soonest), max(day, soonest)
        if needs and (needs[-1].by, needs[-1].used) == (by, used):
            last = needs.pop()
            needs.append(NetNeed(by, used, last.wish, last.amount + amount))
        else:
            needs.append(NetNeed(by, used, day, amount))
    keeps = [offer.keeps_days for offer in offers if offer.keeps_days is not None]
    return Item(
        supply=material, offers=offers, needs=tuple(needs),
        holding=_holding(material, offers, buying),
        grain=gcd(*(offer.pack for offer in offers)) or 1, keeps=min(keeps, default=None),
        missing=tuple(missing),
    )  # fmt: skip


def net_uses(material: Supply, today: dt.date) -> list[tuple[int, int]]:
    """Return (day, amount) of what stock and arrivals do not cover, in order of day."""
    coming = sorted((max((row.on - today).days, 0), row.amount) for row in material.arrivals)
    free, place, net = material.on_hand, 0, []
    for on, amount in sorted((row.on, row.amount) for row in material.needs):
        day = (on - today).days
        while place < len(coming) and coming[place][0] <= day:
            free += coming[place][1]
            place += 1
        taken = min(free, amount)
        free -= taken
        if amount > taken:
            net.append((day, amount - taken))
    return net


def _holding(material: Supply, offers: Sequence[Offer], buying: Buying) -> Fraction:
    if material.holding_minor100 is not None:
        return material.holding_minor100
    if not offers:
        return Fraction(0)
    unit = min(Fraction(offer.prices[0].minor100, offer.pack) for offer in offers)
    return unit * buying.holding_per_year / DAYS_A_YEAR
