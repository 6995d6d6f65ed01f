"""
Market days: what is to be brought, and afterwards what was taken, sold, brought back, sold out.

What was sold leaves the shelf as a sale on a market stall, so that the ledger, the shelf and a
candle's trace know of it; the count and the takings are set against each other and both stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID

from django.db import transaction

from pourwright.core.errors import BadInput
from pourwright.workshop.designs.models import Design
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import Channel, Order
from pourwright.workshop.planning.models import Market, MarketDay, MarketLine


class BadMarketDay(BadInput):
    """A market day whose counts cannot be, or that is recorded already."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """One candle's count at the end of the day; ``sold_out_at`` where none were left."""

    design: Design
    taken: int
    back: int
    sold: int | None = None
    sold_out_at: time | None = None

    @property
    def gone(self) -> int:
        """How many did not come back, sold or not."""
        return self.taken - self.back


def new_day(market: Market, *, on: date, client_id: UUID | None = None, **facts) -> MarketDay:
    """Enter a day at a market. Raises ``BadMarketDay`` where that day is entered already."""
    with transaction.atomic():
        if client_id and (before := MarketDay.objects.filter(client_id=client_id).first()):
            return before
        if MarketDay.objects.filter(market=market, on=on).exists():
            raise BadMarketDay(f"{market} on {on.day} {on:%B %Y} is entered already.")
        return MarketDay.objects.create(market=market, on=on, client_id=client_id, **facts)


def want(day: MarketDay, wanted: Sequence[tuple[Design, int]]) -> None:
    """Say how many of each are to be ready for a day to come; 0 takes a candle off."""
    with transaction.atomic():
        locked = _open(day)
        for design, count in wanted:
            if count < 0:
                raise BadMarketDay(f"{count} of {design.name}; give 0 or more.")
            if count:
                MarketLine.objects.update_or_create(
                    day=locked, design=design, defaults={"wanted": count}
                )
            else:
                locked.lines.filter(design=design).delete()


def record(
    day: MarketDay,
    counted: Sequence[Counted],
    *,
    takings_minor100: int | None,
    on: date,
    at: datetime,
    sell: bool = True,
) -> MarketDay:
    """
    Record what came of a day, once.

    Each candle's sold is what did not come back unless it is counted itself; more sold than gone is
    refused. With ``sell`` the sold leave the shelf, from released lots, the oldest first; where
    they are not there it is refused, and nothing is recorded.
    """
    if on < day.on:
        raise BadMarketDay(f"{day} is still to come; record it when it is over.")
    with transaction.atomic():
        locked = _open(day)
        sold: list[tuple[Design, int]] = []
        for row in counted:
            number = _sold(row)
            MarketLine.objects.update_or_create(
                day=locked, design=row.design,
                defaults={
                    "taken": row.taken, "back": row.back, "sold": number,
                    "sold_out_at": row.sold_out_at,
                },
            )  # fmt: skip
            if number:
                sold.append((row.design, number))
        if not counted:
            raise BadMarketDay("Nothing was taken: count at least one candle.")
        locked.takings_minor100, locked.recorded_at = takings_minor100, at
        if sell and sold:
            locked.order = _sale(locked, sold, on=on, at=at)
        locked.save()
    return locked


def _sold(row: Counted) -> int:
    name = row.design.name
    if row.taken < 0 or row.back < 0 or (row.sold or 0) < 0:
        raise BadMarketDay(f"{name}: counts are 0 or more.")
    if row.back > row.taken:
        raise BadMarketDay(f"{name}: {row.back} came back of {row.taken} taken.")
    sold = row.gone if row.sold is None else row.sold
    if sold > row.gone:
        raise BadMarketDay(
            f"{name}: {sold} sold, but of {row.taken} taken {row.back} came back; "
            f"{row.gone} can have been sold."
        )
    if row.sold_out_at is not None and row.back:
        raise BadMarketDay(f"{name} was sold out, but {row.back} came back.")
    return sold


def _sale(day: MarketDay, sold: Sequence[tuple[Design, int]], *, on: date, at: datetime) -> Order:
    lines = [
        (design, count, orders.default_price_minor100(design, Channel.MARKET) or 0, False)
        for design, count in sold
    ]
    order = orders.new_order(
        channel=Channel.MARKET, on=day.on, due=day.on, lines=lines, reference=day.market.name
    )
    orders.despatch(order, on=on, at=at)
    return order


def counted_minor100(day: MarketDay) -> int:
    """Return what the count comes to at the stall's prices, to set beside the takings."""
    prices = {line.design_id: line.price_minor100 for line in day.order.lines.all()} if (
        day.order
    ) else {}  # fmt: skip
    total = 0
    for line in day.lines.select_related("design"):
        price = prices.get(line.design_id)
        if price is None:
            price = orders.default_price_minor100(line.design, Channel.MARKET) or 0
        total += (line.sold or 0) * price
    return total


def _open(day: MarketDay) -> MarketDay:
    locked = MarketDay.objects.select_for_update().select_related("market").get(pk=day.pk)
    if locked.recorded_at is not None:
        raise BadMarketDay(f"{locked} is recorded; what was counted stands.")
    return locked
