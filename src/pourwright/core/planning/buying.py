"""
What is to be bought and what an answer is: frozen records, and what is refused about them.

Amounts are whole milligrams or pieces, money is 1/100 of the currency's minor unit (``_minor100``),
days are dates. Suppliers, materials and offers are named by ``key``.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.core.planning.model import Arrival

MOST_PACKS = 100_000
DAYS_A_YEAR = 365


class BadPurchase(BadInput):
    """What is wanted or offered cannot be planned from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """So much of a material is used on a day, before anything that comes later counts."""

    on: dt.date
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """
    A material: what is on hand and coming, and when it is used.

    ``holding_minor100`` is what keeping one unit (mg or piece) for one day costs. None: the yearly
    rate of the whole purchase, on the material's cheapest list price.
    """

    key: str
    name: str
    unit: Literal["mg", "pieces"]
    on_hand: int = 0
    arrivals: tuple[Arrival, ...] = ()
    needs: tuple[Need, ...] = ()
    holding_minor100: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """The price of each pack where at least ``from_packs`` are ordered at once."""

    from_packs: int
    minor100: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """
    A pack that a supplier sells a material in.

    The reached price holds for all packs of the order. ``keeps_days`` run from arrival; where a
    material's offers differ, the shortest counts for all of them.
    """

    key: str
    material: str
    supplier: str
    pack: int
    lead_days: int
    prices: tuple[Price, ...]
    keeps_days: int | None = None

    def price_minor100(self, packs: int) -> int:
        """Return the price of each pack in an order of so many (1 or more)."""
        reached = [price.minor100 for price in self.prices if price.from_packs <= packs]
        return reached[-1] if reached else self.prices[0].minor100


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplier:
    """Who sells, and what is charged for sending an order below ``free_from_minor100``."""

    key: str
    name: str
    freight_minor100: int = 0
    free_from_minor100: int | None = None

    def charge_minor100(self, goods_minor100: int) -> int:
        """Return the freight of an order of this value."""
        free = self.free_from_minor100
        return 0 if free is not None and goods_minor100 >= free else self.freight_minor100


@dataclass(frozen=True, slots=True, kw_only=True)
class Buying:
    """
    All that a purchase plan is made from.

    Orders can be placed from ``today``; holding is counted to ``until``, which lies after the last
    use. ``spare_days`` of each material are to lie between its arrival and its use, where there is
    time for them. ``cash_minor100`` is the most that may be ordered for in a calendar month.
    """

    today: dt.date
    until: dt.date
    materials: tuple[Supply, ...]
    offers: tuple[Offer, ...]
    suppliers: tuple[Supplier, ...]
    holding_per_year: Fraction = Fraction(0)
    spare_days: int = 0
    cash_minor100: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Packs:
    """So many packs of an offer, ordered on a day."""

    on: dt.date
    offer: str
    packs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One offer in an order. ``price_minor100`` is that of a pack."""

    offer: str
    material: str
    packs: int
    amount: int
    price_minor100: int
    arrives_on: dt.date

    @property
    def value_minor100(self) -> int:
        return self.packs * self.price_minor100


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """
    One order to send. ``now_costs_minor100``: what holding it from today on would cost more.

    ``latest_on``: sent later than this, something of it comes too late.
    """

    supplier: str
    on: dt.date
    lines: tuple[OrderLine, ...]
    freight_minor100: int
    latest_on: dt.date
    now_costs_minor100: Fraction = Fraction(0)

    @property
    def goods_minor100(self) -> int:
        return sum(line.value_minor100 for line in self.lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What a set of orders comes to: goods, freight, and holding what was bought too early."""

    goods_minor100: int
    freight_minor100: int
    holding_minor100: Fraction

    @property
    def paid_minor100(self) -> int:
        return self.goods_minor100 + self.freight_minor100

    @property
    def total_minor100(self) -> Fraction:
        return self.goods_minor100 + self.freight_minor100 + self.holding_minor100


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """
    A material that no order can bring in time.

    ``short`` of it is missing from ``needed_on`` until ``comes_on`` (None: nobody offers it),
    though it is ordered today. ``days_late`` is between the two.
    """

    material: str
    needed_on: dt.date
    short: int
    comes_on: dt.date | None
    days_late: int | None
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """
    How long a material lasts.

    ``out_on_without``: the first day on which something is missing if nothing is ordered;
    ``short_without`` is all that is then missing. ``out_on_with``: the same with the orders (late
    arrivals only). ``last_order_on``: the last day to order for the first use that is not covered,
    with the days spare; None where nothing is needed or where that day has passed.
    """

    material: str
    out_on_without: dt.date | None
    short_without: int
    out_on_with: dt.date | None
    left_at_end: int
    last_order_on: dt.date | None
    must_order_today: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Rhythm:
    """What ordering in a fixed rhythm costs; ``cost`` None with the reason where it cannot be."""

    name: str
    every_days: int | None
    cost: Cost | None
    orders: int
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CashShort:
    """A month whose limit is too small for what must be ordered in it, at least by this much."""

    month: str
    over_minor100: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchasePlan:
    """
    What to order from whom by when, and how good that is.

    ``bound_minor100``: no plan (ordering on ``order_days``) costs less. ``gap`` is the share of
    the total by which the bound falls short of it. ``finished``: the search ran as far as its
    effort allows; a stopped one gives the best so far.
    """

    orders: tuple[Order, ...]
    cost: Cost
    bound_minor100: Fraction
    rhythms: tuple[Rhythm, ...]
    outlook: tuple[Outlook, ...]
    late: tuple[Late, ...]
    cash_short: tuple[CashShort, ...]
    order_days: Literal["any day", "one day a week"]
    finished: bool

    @property
    def gap(self) -> Fraction:
        total = self.cost.total_minor100
        return max(Fraction(0), (total - self.bound_minor100) / total) if total else Fraction(0)


def check(buying: Buying) -> None:
    """Raise ``BadPurchase`` where records contradict each other, naming the first."""
    for kind, keys in (
        ("material", [row.key for row in buying.materials]),
        ("offer", [row.key for row in buying.offers]),
        ("supplier", [row.key for row in buying.suppliers]),
    ):
        if twice := _twice(keys):
            raise BadPurchase(f'Two {kind}s are named "{twice}"; give each a name of its own.')
    if buying.until < buying.today:
        raise BadPurchase(f"The plan ends on {buying.until}, before it begins ({buying.today}).")
    if buying.spare_days < 0 or buying.holding_per_year < 0:
        raise BadPurchase("Days spare and the holding rate cannot be negative.")
    if buying.cash_minor100 is not None and buying.cash_minor100 < 0:
        raise BadPurchase("The cash limit of a month cannot be negative; leave it out for none.")
    for supplier in buying.suppliers:
        if supplier.freight_minor100 < 0 or (supplier.free_from_minor100 or 0) < 0:
            raise BadPurchase(f"{supplier.name}: freight cannot be negative.")
    for material in buying.materials:
        _check_material(material, buying)
    materials = {row.key for row in buying.materials}
    suppliers = {row.key for row in buying.suppliers}
    for offer in buying.offers:
        if offer.material not in materials:
            raise BadPurchase(f'Offer {offer.key}: no material is named "{offer.material}".')
        if offer.supplier not in suppliers:
            raise BadPurchase(f'Offer {offer.key}: no supplier is named "{offer.supplier}".')
        _check_offer(offer, buying)


def _twice(keys: Iterable[str]) -> str | None:
    seen: set[str] = set()
    for key in keys:
        if key in seen:
            return key
        seen.add(key)
    return None


def _check_material(material: Supply, buying: Buying) -> None:
    amounts = [material.on_hand, *(row.amount for row in material.arrivals)]
    if min([*amounts, *(row.amount for row in material.needs)]) < 0:
        raise BadPurchase(f"{material.name}: an amount cannot be negative.")
    for need in material.needs:
        if not buying.today <= need.on < buying.until:
            raise BadPurchase(
                f"{material.name} is used on {need.on}; the plan runs from {buying.today} to the "
                f"day before {buying.until}."
            )


def _check_offer(offer: Offer, buying: Buying) -> None:
    if offer.pack < 1 or offer.lead_days < 0:
        raise BadPurchase(
            f"Offer {offer.key}: a pack holds something, and comes in 0 days or more."
        )
    if not offer.prices or offer.prices[0].from_packs != 1:
        raise BadPurchase(f"Offer {offer.key}: give the price from 1 pack on first.")
    for before, after in zip(offer.prices, offer.prices[1:], strict=False):
        if after.from_packs <= before.from_packs or after.minor100 > before.minor100:
            raise BadPurchase(
                f"Offer {offer.key}: each price break needs more packs and a price that is no "
                f"higher; from {after.from_packs} packs it is dearer or stands twice."
            )
    if offer.prices[-1].minor100 < 0 or offer.prices[-1].from_packs > MOST_PACKS:
        raise BadPurchase(f"Offer {offer.key}: a price or a number of packs is out of range.")
    if offer.keeps_days is not None and offer.keeps_days < buying.spare_days:
        raise BadPurchase(
            f"Offer {offer.key} keeps {offer.keeps_days} days, fewer than the "
            f"{buying.spare_days} days spare that are wanted before use; make those fewer."
        )
