"""What Today says of the plan that is followed: what to melt, order and count, and what is late."""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import Q
from django.urls import reverse

from pourwright.workshop.house.today import LATE, SHOWN, SOON, TODAY, WAITING, Line, when
from pourwright.workshop.orders.models import OrderLine, OrderState
from pourwright.workshop.planning import buying, purchases
from pourwright.workshop.planning.models import MarketDay, Plan, PlannedMelt
from pourwright.workshop.planning.problem import number_in, product_key
from pourwright.workshop.planning.services import followed

ORDER_WITHIN = timedelta(days=7)
MOST_WORDS = 160


def lines(on: date) -> tuple[list[Line], list[Line]]:
    """
    Return what is to be done and what is at risk by the plan.

    To be done: the melts of today and of the next session, the market days to be counted. At risk:
    what will be late, what must be ordered, parcels overdue, and a plan that no longer fits.
    """
    plan = followed()
    if plan is None:
        return _to_count(on), _parcels(on)
    risks = [*_parcels(on), *_unfit(plan, on), *_late(plan, on), *_to_order(plan, on)]
    return [*_melts(plan, on), *_to_count(on)], risks


def _melts(plan: Plan, on: date) -> list[Line]:
    rows = plan.melts.filter(pour__isnull=True, on__gte=on).order_by("on", "session_starts", "id")
    first = rows.first()
    if first is None:
        return []
    near = rows.filter(
        Q(on=on) | Q(on=first.on, session_starts=first.session_starts)
    ).select_related("melter").prefetch_related("fillings__design_version__design")  # fmt: skip
    return [_melt(plan, row, on) for row in near[:SHOWN]]


def _melt(plan: Plan, row: PlannedMelt, on: date) -> Line:
    what = ", ".join(
        f"{filling.qty} × {filling.design_version.design.name}" for filling in row.fillings.all()
    )
    return Line(
        rank=TODAY if row.on == on else SOON, on=row.on, when=when(row.on, on),
        what=f"Melt and pour at {row.starts or row.session_starts:%H:%M}",
        address=_page(plan), detail=f"{what} · {row.melter.name}", tone="wait", word="planned",
    )  # fmt: skip


def _to_count(on: date) -> list[Line]:
    days = MarketDay.objects.filter(on__lte=on, recorded_at__isnull=True).select_related("market")
    return [
        Line(
            rank=TODAY if day.on == on else LATE, on=day.on, when=when(day.on, on),
            what=f"{day.market}: count what sold",
            address=reverse("planning:market_day", args=[day.pk]),
            detail="taken, brought back, sold out and when", tone="warn", word="to be counted",
        )
        for day in days.order_by("on", "id")[:SHOWN]
    ]  # fmt: skip


def _parcels(on: date) -> list[Line]:
    return [
        Line(
            rank=LATE, on=row.expected_on, when=when(row.expected_on, on),
            what=f"{row.number} has not come",
            address=reverse("planning:purchase", args=[row.number]), detail=row.supplier.name,
            tone="warn", word="overdue",
        )
        for row in purchases.on_the_way().filter(expected_on__lt=on)[:SHOWN]
    ]  # fmt: skip


def _unfit(plan: Plan, on: date) -> list[Line]:
    """Return a line where a session passed without its melt or an order came in since."""
    missed = plan.melts.filter(pour__isnull=True, on__lt=on).count()
    known = {row["key"] for row in plan.problem["lines"]}
    poured = {row["key"] for row in plan.problem["products"]}
    orders = OrderLine.objects.filter(
        order__state=OrderState.OPEN, seconds=False, order__on__gte=plan.start_on,
        order__due__lte=plan.until_on,
    ).select_related("order")  # fmt: skip
    new = {
        row.order.number
        for row in orders
        if f"order-{row.pk}" not in known and product_key(row.design_id) in poured
    }
    said = []
    if missed:
        said.append(f"{missed} melt{'' if missed == 1 else 's'} passed without being poured")
    if new:
        said.append(f"{', '.join(sorted(new)[:3])}{' and more' if len(new) > 3 else ''} came since")
    if not said:
        return []
    return [
        Line(
            rank=LATE, on=on, when="Plan", what=f"{plan.number} no longer fits",
            address=_page(plan), detail=f"{'; '.join(said)}: plan anew", tone="warn",
            word="plan anew",
        )
    ]  # fmt: skip


def _late(plan: Plan, on: date) -> list[Line]:
    """Return the orders that the plan has late, with why."""
    answers = {
        number_in(row["line"]): row
        for row in (plan.answer or {}).get("lines", ())
        if row["late"] and row["line"].startswith("order-")
    }
    rows = OrderLine.objects.filter(
        pk__in=answers, order__state=OrderState.OPEN, order__due__gte=on
    ).select_related("order", "design")  # fmt: skip
    return [
        Line(
            rank=LATE, on=row.order.due, when=when(row.order.due, on),
            what=f"{row.order.number}: {answers[row.pk]['late']} of {row.qty} {row.design.name}",
            address=_page(plan), detail=_why(answers[row.pk]), tone="bad", word="will be late",
        )
        for row in rows.order_by("order__due", "id")[:SHOWN]
    ]  # fmt: skip


def _why(answer: dict) -> str:
    words = (answer.get("reason") or {}).get("words", "")
    return words if len(words) <= MOST_WORDS else f"{words[:MOST_WORDS].rsplit(' ', 1)[0]} …"


def _to_order(plan: Plan, on: date) -> list[Line]:
    found = []
    for row in buying.running_out(plan, today=on):
        by = row.order_by or row.on
        if by <= on + ORDER_WITHIN:
            late = by <= on
            found.append(
                Line(
                    rank=LATE if late else WAITING, on=max(by, on), when=when(max(by, on), on),
                    what=f"Order {row.item.name}", address=reverse("planning:buy"),
                    detail=f"out on {when(row.on, on)} by {plan.number}",
                    tone="bad" if late else "warn", word="order today" if late else "order by then",
                )
            )  # fmt: skip
    return found[:SHOWN]


def _page(plan: Plan) -> str:
    return reverse("planning:plan", args=[plan.number])
