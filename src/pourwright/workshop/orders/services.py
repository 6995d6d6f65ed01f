"""
What changes orders: taken, sent from released lots, sent back, cancelled.

Each is one transaction that locks the order first and then, in one order, the lots it takes from.
The date and the time are handed in by the door.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Sum

from pourwright.core.errors import BadInput
from pourwright.workshop.designs.models import Design
from pourwright.workshop.gates import services as gates
from pourwright.workshop.house.models import next_number
from pourwright.workshop.orders.models import (
    Channel,
    Customer,
    Despatch,
    DespatchLine,
    Order,
    OrderLine,
    OrderState,
    Return,
)
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.ledger import Step
from pourwright.workshop.stores.models import (
    Balance,
    Entry,
    EntryKind,
    Lot,
    LotSource,
    Origin,
    Place,
)

Line = tuple[Design, int, int, bool]
Pick = tuple[OrderLine, Lot, int]


class CannotOrder(BadInput):
    """An order that does not say enough, or cannot be changed any more."""


class CannotSend(BadInput):
    """A despatch of what is not there, not released, or not open."""


class CannotTakeBack(BadInput):
    """A return of what was not sent."""


# --- taking an order -----------------------------------------------------------------------------


def new_order(
    *,
    channel: str,
    on: date,
    lines: Sequence[Line],
    customer: Customer | None = None,
    due: date | None = None,
    reference: str = "",
    note: str = "",
) -> Order:
    """
    Take an order: lines of (design, number, price each in 1/100 of the minor unit, seconds).

    A market sale needs no customer; any other order does, so that a recall can reach them.
    """
    _check_head(channel=channel, customer=customer, on=on, due=due)
    _check_lines(lines)
    with transaction.atomic():
        order = Order.objects.create(
            number=next_number("S"),
            customer=customer,
            channel=channel,
            on=on,
            due=due,
            reference=reference,
            note=note,
        )
        OrderLine.objects.bulk_create(
            OrderLine(order=order, design=design, qty=qty, price_minor100=price, seconds=seconds)
            for design, qty, price, seconds in lines
        )
    return order


def change_order(
    order: Order,
    *,
    channel: str,
    on: date,
    lines: Sequence[tuple[OrderLine | None, Design, int, int, bool]],
    customer: Customer | None = None,
    due: date | None = None,
    reference: str = "",
    note: str = "",
) -> Order:
    """
    Change an open order. Each line comes with the line it was before, or None for a new one.

    What was sent stands: its line keeps its design, and asks for no fewer than were sent.
    """
    _check_head(channel=channel, customer=customer, on=on, due=due)
    _check_lines([line[1:] for line in lines])
    with transaction.atomic():
        order = _locked(order)
        _must_be_open(order)
        before = {state.line.pk: state for state in line_states(order)}
        ever_sent = set(
            DespatchLine.objects.filter(order_line__order=order).values_list(
                "order_line", flat=True
            )
        )
        kept = set()
        for line, design, qty, price, seconds in lines:
            if line is None:
                OrderLine.objects.create(
                    order=order, design=design, qty=qty, price_minor100=price, seconds=seconds
                )
                continue
            if line.pk not in before:
                raise CannotOrder(f"That line is no part of order {order.number}.")
            kept.add(line.pk)
            old = before[line.pk]
            if line.pk in ever_sent and (old.line.design_id, old.line.seconds) != (
                design.pk,
                seconds,
            ):
                raise CannotOrder(
                    f"{old.line.design.name} was sent on this line, so it stays; add another line "
                    f"for {design.name}."
                )
            if qty < old.sent:
                raise CannotOrder(
                    f"{old.line.design.name}: {old.sent} were sent already, so the line cannot "
                    f"ask for {qty}."
                )
            old.line.design, old.line.qty = design, qty
            old.line.price_minor100, old.line.seconds = price, seconds
            old.line.save()
        for gone in before.keys() - kept:
            if gone in ever_sent:
                raise CannotOrder(
                    f"{before[gone].line.design.name} was sent on this order, so its line stays."
                )
            before[gone].line.delete()
        order.channel, order.customer, order.on, order.due = channel, customer, on, due
        order.reference, order.note = reference, note
        order.state = _state_by_lines(order)
        order.save()
    return order


def default_price_minor100(design: Design, channel: str) -> int | None:
    """Return what the design's newest version costs on a channel, or None where it has no price."""
    version = design.current
    if version is None:
        return None
    return version.wholesale_minor100 if channel == Channel.WHOLESALE else version.price_minor100


# --- what is open, and what could be sent ---------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class LineState:
    """A line of an order, how many of it went out, and how many of those came back."""

    line: OrderLine
    sent: int
    returned: int

    @property
    def open(self) -> int:
        return max(self.line.qty - self.sent, 0)


def line_states(order: Order) -> list[LineState]:
    """Return every line with what was sent of it; despatches that were undone do not count."""
    stands = DespatchLine.objects.filter(
        order_line__order=order, despatch__entry__undone_by__isnull=True
    )
    sent = dict(stands.values_list("order_line").annotate(Sum("qty")).order_by())
    returned = dict(
        Return.objects.filter(despatch_line__order_line__order=order, entry__undone_by__isnull=True)
        .values_list("despatch_line__order_line")
        .annotate(Sum("qty"))
        .order_by()
    )
    lines = order.lines.select_related("design__candle")
    return [
        LineState(line=line, sent=sent.get(line.pk, 0), returned=returned.get(line.pk, 0))
        for line in lines
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """A line that cannot be sent whole: how many lack, and when more can be expected."""

    line: OrderLine
    wanted: int
    there: int
    next_lot: Lot | None
    next_qty: int
    why: str

    @property
    def lacking(self) -> int:
        return self.wanted - self.there

    def __str__(self) -> str:
        what = f"{self.line.design.name}{' (seconds)' if self.line.seconds else ''}"
        return (
            f"{what}: {self.wanted:,} wanted, {self.there:,} released and on the shelf, "
            f"{self.lacking:,} short. {self.why}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """What could be sent now, oldest lots first, and what lacks."""

    picks: list[Pick]
    short: list[Short]


def suggest(order: Order, *, on: date) -> Suggestion:
    """Return what of the open lines could be sent on a day: released lots, the oldest first."""
    picks: list[Pick] = []
    short: list[Short] = []
    left: dict[int, int] = {}
    states = [state for state in line_states(order) if state.open]
    sellable = gates.sellable_of({state.line.design.candle_id for state in states}, on=on)
    for state in states:
        wanted = state.open
        can = sellable[state.line.design.candle_id, state.line.seconds]
        for balance in can:
            free = left.setdefault(balance.lot_id, balance.qty)
            take = min(wanted, free)
            if take:
                picks.append((state.line, balance.lot, take))
                left[balance.lot_id] -= take
                wanted -= take
        if wanted:
            short.append(_short(state.line, state.open, state.open - wanted, can, on))
    return Suggestion(picks=picks, short=short)


def _short(
    line: OrderLine, wanted: int, there: int, sellable: Sequence[Balance], on: date
) -> Short:
    waiting = _waiting(line, sellable, on)
    next_lot, next_qty, why = None, 0, "No further lot of it is on the shelf; pour some."
    if waiting:
        next_lot, next_qty = waiting[0].lot, waiting[0].qty
        ready = next_lot.ready_on
        if ready and ready > on:
            why = f"The next lot is {next_lot.code} with {next_qty:,}, cured on {_day(ready)}."
        else:
            why = f"Lot {next_lot.code} with {next_qty:,} waits for its release."
    return Short(
        line=line, wanted=wanted, there=there, next_lot=next_lot, next_qty=next_qty, why=why
    )


def _waiting(line: OrderLine, sellable: Sequence[Balance], on: date) -> list[Balance]:
    """Return what is on the shelf of a line's design but cannot be sold yet, the ripest first."""
    can = {balance.lot_id for balance in sellable}
    held = ledger.oldest_first(line.design.candle, Place.SHELF)
    waiting = [
        balance
        for balance in held
        if balance.lot_id not in can and (balance.lot.origin == Origin.SECONDS) == line.seconds
    ]
    return sorted(waiting, key=lambda balance: balance.lot.ready_on or on)


# --- sending -------------------------------------------------------------------------------------


def despatch(
    order: Order,
    *,
    on: date,
    at: datetime,
    picks: Sequence[Pick] | None = None,
    carrier: str = "",
    client_id: UUID | None = None,
) -> Despatch:
    """
    Send candles of an order out: ``picks`` of (line, lot, number), or all that is open.

    Without picks the oldest released lots go first and everything that is open must be there; with
    picks a part of the order can go. The order is done when nothing is open any more.

    Raises ``CannotSend`` for a lot that is not released (it says why not), for more than is open or
    there, and for an order that is not open. A ``client_id`` that was sent before returns that
    despatch and sends nothing.
    """
    with transaction.atomic():
        order = _locked(order)
        if before := _recorded(client_id, EntryKind.DESPATCH):
            return before.despatch
        _must_be_open(order, CannotSend)
        states = {state.line.pk: state for state in line_states(order)}
        _lock_shelf(states.values())
        if picks is None:
            suggestion = suggest(order, on=on)
            if suggestion.short:
                raise CannotSend(" ".join(str(short) for short in suggestion.short))
            picks = suggestion.picks
        else:
            picks = [pick for pick in picks if pick[2]]
            _check_picks(picks, states, on)
        if not picks:
            raise CannotSend(f"Nothing is picked to send of order {order.number}; say which lots.")
        entry = ledger.post(
            kind=EntryKind.DESPATCH,
            on=on,
            at=at,
            client_id=client_id,
            steps=[
                Step(lot=lot, from_place=Place.SHELF, to_place=Place.SOLD, qty=qty)
                for _, lot, qty in picks
            ],
        )
        sent = Despatch.objects.create(order=order, on=on, carrier=carrier, entry=entry)
        DespatchLine.objects.bulk_create(
            DespatchLine(despatch=sent, order_line=line, lot=lot, qty=qty)
            for line, lot, qty in picks
        )
        was_open = sum(state.open for state in states.values())
        goes = sum(qty for _, _, qty in picks)
        order.state = OrderState.SENT if goes == was_open else OrderState.OPEN
        order.save(update_fields=["state"])
    return sent


def _lock_shelf(states) -> None:
    """Lock what may be taken from, so that its release and number hold until it is done."""
    candles = [state.line.design.candle_id for state in states]
    pks = Balance.objects.filter(lot__item__in=candles, place=Place.SHELF, qty__gt=0).values_list(
        "lot", flat=True
    )
    locked = Lot.objects.select_for_update().filter(pk__in=list(pks)).order_by("pk")
    list(locked.values_list("pk"))


def _check_picks(picks: Sequence[Pick], states: dict[int, LineState], on: date) -> None:
    by_line: dict[int, int] = defaultdict(int)
    by_lot: dict[int, int] = defaultdict(int)
    candles = {state.line.design.candle_id for state in states.values()}
    sellable = gates.sellable_of(candles, on=on)
    for line, lot, qty in picks:
        if line.pk not in states:
            raise CannotSend(
                f"A line for {line.design.name} is no part of this order; pick for its own lines."
            )
        line = states[line.pk].line
        if qty < 0:
            raise CannotSend(f"{qty} of lot {lot.code}: a number of candles is one or more.")
        can = sellable[line.design.candle_id, line.seconds]
        there = sum(balance.qty for balance in can if balance.lot_id == lot.pk)
        if not there:
            raise CannotSend(_why_not(line, lot, on))
        by_line[line.pk] += qty
        by_lot[lot.pk] += qty
        if by_lot[lot.pk] > there:
            raise CannotSend(
                f"{by_lot[lot.pk]:,} of lot {lot.code} are picked, but {there:,} are on the "
                f"shelf: {by_lot[lot.pk] - there:,} too many."
            )
        if by_line[line.pk] > states[line.pk].open:
            raise CannotSend(
                f"{line.design.name}: {by_line[line.pk]:,} are picked, but "
                f"{states[line.pk].open:,} are open on the order."
            )


def _why_not(line: OrderLine, lot: Lot, on: date) -> str:
    """Say why a lot cannot go out on a line."""
    if lot.item_id != line.design.candle_id:
        return f"Lot {lot.code} is {lot.item.name}, and the order asks for {line.design.name}."
    qty, _ = ledger.held(lot, Place.SHELF)
    if not qty:
        return f"Lot {lot.code}: nothing of it is on the shelf any more; pick another lot."
    if (lot.origin == Origin.SECONDS) != line.seconds:
        if line.seconds:
            return f"Lot {lot.code} is of first quality, and the line was ordered as seconds."
        return f"Lot {lot.code} is seconds, and the line was not ordered as seconds."
    if lot.ready_on and lot.ready_on > on:
        return f"Lot {lot.code} is curing until {_day(lot.ready_on)}; it is not released yet."
    if not gates.is_released(lot):
        return (
            f"Lot {lot.code} is not released. Its page on the shelf shows which checks are open; "
            "only what is released can be sold."
        )
    return (
        f"The design version of lot {lot.code} is not released; only what is released can be sold."
    )


def undo_despatch(
    sent: Despatch, *, reason: str, on: date, at: datetime, client_id: UUID | None = None
) -> Order:
    """
    Undo a despatch that never left, or was entered wrongly: the candles are back on the shelf.

    The order is open again. What customers sent back is a return, not an undo.
    """
    with transaction.atomic():
        order = _locked(sent.order)
        came_back = Return.objects.filter(
            despatch_line__despatch=sent, entry__undone_by__isnull=True
        )
        if first := came_back.select_related("lot").first():
            raise CannotSend(
                f"Some of it came back as lot {first.lot.code}, so it did leave; enter the rest as "
                "a return too."
            )
        ledger.undo(sent.entry, reason=reason, on=on, at=at, client_id=client_id)
        if order.state != OrderState.CANCELLED:
            order.state = _state_by_lines(order)
            order.save(update_fields=["state"])
    return order


# --- what comes back -----------------------------------------------------------------------------


def take_back(
    despatch_line: DespatchLine,
    *,
    qty: int,
    reason: str,
    on: date,
    at: datetime,
    client_id: UUID | None = None,
) -> Return:
    """
    Take candles back from a customer: a lot of its own, set apart until someone has looked at it.

    Raises ``CannotTakeBack`` for more than is still with the customer, and without a reason.
    """
    if qty <= 0:
        raise CannotTakeBack(f"{qty} came back; say how many, one or more.")
    if not reason.strip():
        raise CannotTakeBack("A return needs a reason: say why they came back.")
    with transaction.atomic():
        _locked(despatch_line.despatch.order)
        if before := _recorded(client_id, EntryKind.RETURN):
            return before.returned
        if Entry.objects.filter(undoes=despatch_line.despatch.entry_id).exists():
            raise CannotTakeBack("That despatch was undone; the candles never left.")
        out = still_out(despatch_line)
        if qty > out:
            raise CannotTakeBack(
                f"{qty:,} of lot {despatch_line.lot.code} are said to have come back, but {out:,} "
                "are still with the customer."
            )
        lot, entry = stores.derive(
            parent=despatch_line.lot,
            from_place=Place.SOLD,
            to_place=Place.RETURNED,
            qty=qty,
            origin=Origin.RETURN,
            kind=EntryKind.RETURN,
            on=on,
            at=at,
            reason=reason.strip(),
            note=f"from order {despatch_line.despatch.order.number}",
            client_id=client_id,
        )
        return Return.objects.create(
            despatch_line=despatch_line, lot=lot, qty=qty, reason=reason.strip(), entry=entry
        )


def still_out(despatch_line: DespatchLine) -> int:
    """Return how many of a sent line have not come back."""
    back = despatch_line.returns.filter(entry__undone_by__isnull=True).aggregate(n=Sum("qty"))
    return despatch_line.qty - (back["n"] or 0)


def return_to_shelf(
    lot: Lot,
    *,
    found: str,
    on: date,
    at: datetime,
    qty: int | None = None,
    client_id: UUID | None = None,
) -> Entry:
    """
    Put returned candles back on the shelf after looking at them; ``found`` says what was seen.

    They are a lot of their own and are sold only once that lot is released; what was sold as
    seconds comes back as seconds. ``qty`` empty: all.
    """
    if not found.strip():
        raise CannotTakeBack(
            "Before a return goes back on the shelf someone looks at it: say what was found "
            "(unburnt, seal whole, glass sound)."
        )
    held, _ = ledger.held(lot, Place.RETURNED)
    qty = held if qty is None else qty
    if not 0 < qty <= held:
        raise CannotTakeBack(
            f"{qty:,} of lot {lot.code} to put back, but {held:,} of it are set apart."
        )
    reason = f"looked at: {found.strip()}"
    if LotSource.objects.filter(child=lot, parent__origin=Origin.SECONDS).exists():
        return stores.derive(
            parent=lot, from_place=Place.RETURNED, to_place=Place.SHELF, qty=qty,
            origin=Origin.SECONDS, kind=EntryKind.RETURN, on=on, at=at, reason=reason,
            client_id=client_id,
        )[1]  # fmt: skip
    step = Step(lot=lot, from_place=Place.RETURNED, to_place=Place.SHELF, qty=qty)
    return ledger.post(
        kind=EntryKind.RETURN, on=on, at=at, steps=[step], reason=reason, client_id=client_id
    )


# --- the end of an order -------------------------------------------------------------------------


def cancel(order: Order, *, reason: str) -> Order:
    """Cancel what is open of an order. What was sent stays sent; a reason is kept in its note."""
    if not reason.strip():
        raise CannotOrder("Cancelling needs a reason: say why the order will not be sent.")
    with transaction.atomic():
        order = _locked(order)
        _must_be_open(order)
        order.state = OrderState.CANCELLED
        order.note = f"{order.note}\nCancelled: {reason.strip()}".strip()
        order.save(update_fields=["state", "note"])
    return order


def reopen(order: Order) -> Order:
    """Open a cancelled order again."""
    with transaction.atomic():
        order = _locked(order)
        if order.state != OrderState.CANCELLED:
            raise CannotOrder(f"Order {order.number} is not cancelled; nothing was changed.")
        order.state = _state_by_lines(order)
        order.save(update_fields=["state"])
    return order


def _recorded(client_id: UUID | None, kind: str) -> Entry | None:
    """Return the entry recorded under this id, if any; another kind's is a refusal."""
    before = Entry.objects.filter(client_id=client_id).first() if client_id else None
    if before and (before.kind != kind or not hasattr(before, _RECORD[kind])):
        raise CannotSend(
            "This form was used for something else before; open the page again and enter it there."
        )
    return before


_RECORD = {EntryKind.DESPATCH: "despatch", EntryKind.RETURN: "returned"}


def _locked(order: Order) -> Order:
    return Order.objects.select_for_update().get(pk=order.pk)


def _must_be_open(order: Order, refusal: type[BadInput] = CannotOrder) -> None:
    if order.state != OrderState.OPEN:
        raise refusal(
            f"Order {order.number} is {order.get_state_display()}; only an open order can be "
            "changed or sent."
        )


def _state_by_lines(order: Order) -> str:
    still_open = any(state.open for state in line_states(order))
    return OrderState.OPEN if still_open else OrderState.SENT


def _check_head(*, channel: str, customer: Customer | None, on: date, due: date | None) -> None:
    if channel not in Channel.values:
        raise CannotOrder(f"“{channel}” is no channel; there are: {', '.join(Channel.values)}.")
    if customer is None and channel != Channel.MARKET:
        raise CannotOrder(
            "A direct or wholesale order needs its customer, so that a recall can reach them; "
            "only a sale at a market stall goes without."
        )
    if due and due < on:
        raise CannotOrder(f"Due on {_day(due)}, before it was ordered on {_day(on)}.")


def _check_lines(lines: Sequence[Line]) -> None:
    if not lines:
        raise CannotOrder("An order needs at least one line: a design and how many of it.")
    for design, qty, price, _ in lines:
        if qty <= 0:
            raise CannotOrder(f"{design.name}: {qty} ordered; a line asks for one or more.")
        if price < 0:
            raise CannotOrder(f"{design.name}: a price is nothing or more.")


def _day(when: date) -> str:
    return f"{when.day} {when:%b %Y}"
