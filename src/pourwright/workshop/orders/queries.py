"""What the orders' pages read, a few queries for a whole list."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import F, QuerySet, Sum

from pourwright.workshop.designs.services import icon
from pourwright.workshop.gates import services as gates
from pourwright.workshop.orders import services
from pourwright.workshop.orders.models import (
    Customer,
    Despatch,
    DespatchLine,
    Order,
    OrderLine,
    OrderState,
    Return,
)
from pourwright.workshop.shelf.lots import icons_of, newest_versions
from pourwright.workshop.stores.models import Lot

TABS = (
    ("open", "Open"),
    ("sent", "Sent"),
    ("cancelled", "Cancelled"),
    ("all", "All"),
)
TONES = {OrderState.OPEN: "wait", OrderState.SENT: "ok", OrderState.CANCELLED: "quiet"}


def listed(tab: str) -> QuerySet[Order]:
    """Return the orders of one tab: open ones by when they are due, others the newest first."""
    rows = Order.objects.select_related("customer")
    if tab == "open":
        return rows.filter(state=OrderState.OPEN).order_by(
            F("due").asc(nulls_last=True), "on", "id"
        )
    if tab in (OrderState.SENT, OrderState.CANCELLED):
        rows = rows.filter(state=tab)
    return rows.order_by("-on", "-id")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An order in a list: what is on it, how much of it went, and its state in a word."""

    order: Order
    icon: str
    what: str
    wanted: int
    sent: int
    value: int
    tone: str
    word: str


def rows_of(orders: Sequence[Order], *, on: date) -> list[Row]:
    lines: dict[int, list[OrderLine]] = defaultdict(list)
    for line in OrderLine.objects.filter(order__in=orders).select_related("design"):
        lines[line.order_id].append(line)
    sent = dict(
        DespatchLine.objects.filter(
            order_line__order__in=orders, despatch__entry__undone_by__isnull=True
        )
        .values_list("order_line__order")
        .annotate(Sum("qty"))
        .order_by()
    )
    candles = {found[0].design.candle_id for found in lines.values()}
    icons = {item: icon(version) for item, version in newest_versions(candles).items()}
    return [_row(order, lines[order.pk], sent.get(order.pk, 0), icons, on) for order in orders]


def _row(order: Order, lines: list[OrderLine], sent: int, icons: dict[int, str], on: date) -> Row:
    what = ", ".join(f"{line.qty} × {line.design.name}" for line in lines[:2])
    if len(lines) > 2:
        what += f" and {len(lines) - 2} more"
    wanted = sum(line.qty for line in lines)
    tone, word = state_of(order, wanted=wanted, sent=sent, on=on)
    return Row(
        order=order,
        icon=icons.get(lines[0].design.candle_id, "") if lines else "",
        what=what,
        wanted=wanted,
        sent=sent,
        value=sum(line.qty * line.price_minor100 for line in lines),
        tone=tone,
        word=word,
    )


def state_of(order: Order, *, wanted: int, sent: int, on: date) -> tuple[str, str]:
    """Return an order's state: a tone and a word."""
    if order.state == OrderState.OPEN:
        if order.due and order.due < on:
            return "bad", f"overdue, {wanted - sent} open"
        if sent:
            return "warn", f"{sent} of {wanted} sent"
    return TONES[order.state], order.get_state_display()


# --- one order -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A released lot that could go out on a line, and how many of it are suggested."""

    line: OrderLine
    lot: Lot
    there: int
    suggested: int

    @property
    def field(self) -> str:
        return f"pick-{self.line.pk}-{self.lot.pk}"


def offers(order: Order, *, on: date) -> tuple[list[Offer], list[services.Short]]:
    """Return every released lot that could go out, the oldest first, and what lacks."""
    suggestion = services.suggest(order, on=on)
    picked = {(line.pk, lot.pk): qty for line, lot, qty in suggestion.picks}
    found = []
    for state in services.line_states(order):
        if not state.open:
            continue
        line = state.line
        found += [
            Offer(
                line=line,
                lot=balance.lot,
                there=balance.qty,
                suggested=picked.get((line.pk, balance.lot_id), 0),
            )
            for balance in gates.sellable(line.design, on=on, seconds=line.seconds)
        ]
    return found, suggestion.short


@dataclass(frozen=True, slots=True, kw_only=True)
class SentLine:
    line: DespatchLine
    icon: str
    returns: list[Return]
    out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SentParcel:
    """A despatch with its lines, and whether it was undone."""

    despatch: Despatch
    undone: bool
    reason: str
    lines: list[SentLine]


def parcels(order: Order) -> list[SentParcel]:
    """Return what went out, the newest first, with what came back of it."""
    sent = list(order.despatches.select_related("entry", "entry__undone_by").order_by("-on", "-id"))
    lines = list(
        DespatchLine.objects.filter(despatch__in=sent)
        .select_related("lot__item", "order_line__design", "despatch__order")
        .order_by("id")
    )
    back: dict[int, list[Return]] = defaultdict(list)
    for one in Return.objects.filter(
        despatch_line__in=lines, entry__undone_by__isnull=True
    ).select_related("lot", "entry"):
        back[one.despatch_line_id].append(one)
    icons = icons_of(list({line.lot_id: line.lot for line in lines}.values()))
    by_despatch: dict[int, list[SentLine]] = defaultdict(list)
    for line in lines:
        returns = back[line.pk]
        by_despatch[line.despatch_id].append(
            SentLine(
                line=line,
                icon=icons.get(line.lot_id, ""),
                returns=returns,
                out=line.qty - sum(one.qty for one in returns),
            )
        )
    return [
        SentParcel(
            despatch=one,
            undone=(undo := getattr(one.entry, "undone_by", None)) is not None,
            reason=undo.reason if undo else "",
            lines=by_despatch[one.pk],
        )
        for one in sent
    ]


def known_customers(most: int = 300) -> list[str]:
    """Return customers as they are offered while a name is typed, told apart where two share it."""
    rows = list(Customer.objects.order_by("name").values_list("name", "pk")[:most])
    shared = {name for name, _ in rows if sum(other == name for other, _ in rows) > 1}
    return [f"{name} #{pk}" if name in shared else name for name, pk in rows]
