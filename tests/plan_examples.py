"""A small workshop with evenings, a pot and an order, and the plan that is followed in it."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from candle_examples import Bench, customer
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import Order
from pourwright.workshop.planning import services
from pourwright.workshop.planning.models import Plan, WeeklySession
from pourwright.workshop.pours.models import Melter

EVENING = time(18)


def evenings(*weekdays: int, minutes: int = 180) -> None:
    """Have somebody there on these weekdays, from six on."""
    for weekday in weekdays:
        WeeklySession.objects.create(weekday=weekday, starts=EVENING, minutes=minutes)


def pot(capacity_mg: int = 4_000_000) -> Melter:
    return Melter.objects.create(name="Pot", capacity_mg=capacity_mg)


def an_order(bench: Bench, *, on: date, qty: int = 12, days: int = 28, **more) -> Order:
    return orders.new_order(
        on=on, lines=[(bench.design, qty, 240_000, False)], channel="direct",
        due=on + timedelta(days=days), customer=customer(), **more,
    )  # fmt: skip


def planned(bench: Bench, *, now: datetime, qty: int = 12) -> Plan:
    """Return a plan that is followed, for an order taken on its day."""
    evenings(0, 3)
    pot()
    an_order(bench, on=now.date(), qty=qty)
    return services.follow(services.make_at_once(now=now, effort=1))
