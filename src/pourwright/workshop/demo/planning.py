"""
When the maker pours, what she takes to markets, what her suppliers offer, and the plan she follows.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import time, timedelta

from pourwright.core.errors import BadInput
from pourwright.workshop.demo.life import Life
from pourwright.workshop.designs.models import Design
from pourwright.workshop.house.models import next_number
from pourwright.workshop.orders.models import Channel, Order
from pourwright.workshop.planning import buying, markets, purchases, services
from pourwright.workshop.planning.models import (
    DayOff,
    Market,
    MarketDay,
    Means,
    Purchase,
    StockTarget,
    WeeklySession,
)

EVENINGS = ((1, time(18, 30), 150), (3, time(18, 30), 150), (5, time(9, 30), 240))
PLACES, STALL = 24, 48
MARKETS_SINCE = timedelta(days=300)
AHEAD_DAYS = 14
EFFORT = 2
KEPT = 22

# (item, pack, days to arrive, (from packs, price of a pack in hundredths of a penny) ...)
OFFERS = (
    ("soy", 5_000_000, 6, ((1, 295_000), (4, 271_000))),
    ("soy", 20_000_000, 6, ((1, 980_000),)),
    ("tumbler", 24, 9, ((1, 350_400), (4, 331_000))),
    ("wick3", 100, 5, ((1, 58_000), (5, 52_000))),
)
FREIGHT = {"soy": (118_000, 1_500_000), "tumbler": (165_000, 2_000_000)}


def today(life: Life) -> None:
    """Enter the means, the markets and the offers, and plan the weeks to come."""
    for weekday, starts, minutes in EVENINGS:
        WeeklySession.objects.create(weekday=weekday, starts=starts, minutes=minutes)
    DayOff.objects.create(
        from_on=life.on + timedelta(19), until_on=life.on + timedelta(20), reason="a wedding"
    )
    means = Means.load()
    means.table_places = PLACES
    means.save()
    _offers(life)
    market = _markets(life)
    for version in sorted(life.designs.values(), key=lambda version: version.pk)[:4]:
        StockTarget.objects.create(design=version.design, qty=KEPT)
    if market is not None:
        _next_day(life, market)
    try:
        plan = services.follow(services.make_at_once(now=life.at(9), effort=EFFORT))
    except BadInput:
        return  # a life too short to want anything
    _order_first(life, plan)


def _offers(life: Life) -> None:
    for key, pack, lead, prices in OFFERS:
        item = life.items.get(key)
        if item is not None and item.supplier is not None:
            purchases.keep_offer(
                item, supplier=item.supplier, pack_qty=pack, prices=prices, lead_days=lead
            )
    for key, (charge, free_from) in FREIGHT.items():
        item = life.items.get(key)
        if item is not None and item.supplier is not None:
            purchases.keep_freight(
                item.supplier, charge_minor100=charge, free_from_minor100=free_from
            )


def _markets(life: Life) -> Market | None:
    """Write down the markets of the last months, as the till had them; the one gone to most."""
    dice = life.chance("stalls")
    days: dict[str, list[Order]] = defaultdict(list)
    sales = Order.objects.filter(channel=Channel.MARKET, on__gte=life.on - MARKETS_SINCE)
    for order in sales.order_by("on", "id"):
        days[order.reference].append(order)
    made = []
    for name, orders in sorted(days.items()):
        market = Market.objects.create(
            name=name, stall_places=STALL, opens=time(9, 30), closes=time(15, 30)
        )
        made.append((len(orders), -market.pk, market))
        for order in orders:
            _one_day(life, market, order, dice)
    return max(made)[2] if made else None


def _one_day(life: Life, market: Market, order: Order, dice) -> None:
    day = markets.new_day(market, on=order.on)
    sold: dict[Design, int] = defaultdict(int)
    total = 0
    for line in order.lines.select_related("design").order_by("id"):
        total += line.qty * line.price_minor100
        if not line.seconds:
            sold[line.design] += line.qty
    counted = []
    for design, count in sold.items():
        back = dice.choice((0, 0, 1, 2, 3, 5))
        out = time(dice.choice((12, 13, 14)), dice.choice((0, 15, 40))) if not back else None
        counted.append(
            markets.Counted(design=design, taken=count + back, back=back, sold_out_at=out)
        )
    if not counted:
        day.delete()
        return
    short = dice.choice((0, 0, 0, 10_000))
    markets.record(
        day,
        counted,
        takings_minor100=max(0, total - short),
        on=order.on,
        at=life.at(18),
        sell=False,
    )
    MarketDay.objects.filter(pk=day.pk).update(order=order)


def _next_day(life: Life, market: Market) -> None:
    ahead = life.on + timedelta(AHEAD_DAYS)
    ahead += timedelta((5 - ahead.weekday()) % 7)
    day = markets.new_day(market, on=ahead)
    known = Design.objects.filter(market_lines__day__market=market).distinct().order_by("pk")
    markets.want(day, [(design, 14 + 6 * place) for place, design in enumerate(known[:4])])


def _order_first(life: Life, plan) -> None:
    """Send the most urgent of the orders that the plan asks for; where it asks for none, wax."""
    from pourwright.core.planning.purchases import plan_purchases

    asked = buying.asked(plan, today=life.on)
    wanted = purchases.to_order(plan_purchases(asked.buying, effort=purchases.EFFORT), asked)
    if wanted:
        purchases.ordered(wanted[0], on=life.on)
        return
    wax = life.items["soy"]
    order = Purchase.objects.create(
        number=next_number(purchases.NUMBERS), supplier=wax.supplier, on=life.on,
        expected_on=life.on + timedelta(6), freight_minor100=FREIGHT["soy"][0],
    )  # fmt: skip
    order.lines.create(item=wax, packs=1, pack_qty=20_000_000, price_minor100=980_000)
