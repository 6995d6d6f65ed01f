"""
What changes the stores: receipts, opening stock, counts, scrap, and lots set aside.

Each is one transaction and one ledger entry. The date and the time are handed in by the door.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import wraps
from uuid import UUID

from django.db import IntegrityError, transaction

from pourwright.core.errors import BadInput
from pourwright.core.shares import split_exactly
from pourwright.workshop.house.models import next_number
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.ledger import Step
from pourwright.workshop.stores.models import (
    INSIDE,
    LOT_PREFIX,
    Balance,
    Entry,
    EntryKind,
    Item,
    Kind,
    Lot,
    LotSource,
    Move,
    Origin,
    Place,
    Receipt,
    ReceiptLine,
    Spread,
    Supplier,
)


class CannotReceive(BadInput):
    """A receipt that does not say enough."""


class CannotCorrect(BadInput):
    """A count, scrap or setting aside that does not fit what is there."""


# A thousand tonnes, a thousand million pieces; ten thousand million of the currency.
MOST_QTY = 10**12
MOST_VALUE = 10**14
EARLIEST = date(1980, 1, 1)
LATEST = date(2200, 1, 1)


def recorded_once(write: Callable) -> Callable:
    """
    Let a service that is told a ``client_id`` record it once, however often it is sent.

    The service itself looks for an entry of that id first. Two that are sent at the same moment
    may both find none; then the database refuses the later one, which is asked again and finds
    the first one's entry.
    """

    @wraps(write)
    def once(*, client_id: UUID | None = None, **told):
        if client_id is None:
            return write(client_id=None, **told)
        try:
            with transaction.atomic():
                return write(client_id=client_id, **told)
        except IntegrityError:
            if not Entry.objects.filter(client_id=client_id).exists():
                raise
            return write(client_id=client_id, **told)

    return once


def _recorded(client_id: UUID | None, kind: str) -> Entry | None:
    """Return the entry recorded under this id, if any; another kind's is a refusal."""
    if client_id is None:
        return None
    before = Entry.objects.filter(client_id=client_id).first()
    if before is not None and before.kind != kind:
        raise CannotCorrect(
            "This form was used for something else before; open the page again and enter it there."
        )
    return before


def _check_day(what: str, day: date | None) -> None:
    if day is not None and not EARLIEST <= day <= LATEST:
        raise CannotReceive(f"{what} is {day:%Y-%m-%d}; check the year.")


def _check_lot(item: Item, *, qty: int, value: int, on: date, best_before: date | None) -> None:
    """Refuse what no parcel and no store holds; ``on`` is the day it came."""
    if qty > MOST_QTY:
        raise CannotReceive(f"{item.name}: that is more than any workshop holds; check the unit.")
    if not 0 <= value <= MOST_VALUE:
        raise CannotReceive(f"{item.name}: its price cannot be right; check it.")
    _check_day("The day it came", on)
    _check_day("The best-before day", best_before)
    if best_before is not None and best_before < on:
        raise CannotReceive(
            f"{item.name}: best before {best_before:%Y-%m-%d} is earlier than the day it came, "
            f"{on:%Y-%m-%d}; check both."
        )


def new_lot(item: Item, *, origin: str, began_on: date, **facts) -> Lot:
    """Return a new lot under the next number of its kind; call inside a transaction."""
    return Lot.objects.create(
        code=next_number(LOT_PREFIX[item.kind]),
        item=item,
        origin=origin,
        began_on=began_on,
        **facts,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """A line of a receipt. ``qty`` in milligrams or pieces; the price is the whole line's."""

    item: Item
    qty: int
    price_minor100: int
    best_before: date | None = None
    supplier_lot: str = ""


@recorded_once
def receive(
    *,
    lines: Sequence[Received],
    on: date,
    at: datetime,
    supplier: Supplier | None = None,
    freight_minor100: int = 0,
    spread: str = Spread.BY_VALUE,
    reference: str = "",
    note: str = "",
    client_id: UUID | None = None,
) -> Receipt:
    """
    Take in a parcel: a lot for each line, its price and its share of the freight as value.

    Freight is spread over the lines by value or by weight, exact to the last unit.
    """
    if not lines:
        raise CannotReceive("A receipt needs at least one line: an item and how much of it came.")
    for line in lines:
        if line.qty <= 0:
            raise CannotReceive(
                f"{line.item.name}: {line.qty} came; a receipt takes more than nothing."
            )
        _check_lot(
            line.item,
            qty=line.qty,
            value=line.price_minor100,
            on=on,
            best_before=line.best_before,
        )
    if not 0 <= freight_minor100 <= MOST_VALUE:
        raise CannotReceive("The freight cannot be right; give what was paid, or 0.")
    with transaction.atomic():
        if before := _recorded(client_id, EntryKind.RECEIPT):
            return before.receipt
        freight = freight_shares(lines, freight_minor100=freight_minor100, spread=spread)
        lots = [
            new_lot(
                line.item,
                origin=Origin.RECEIPT,
                began_on=on,
                best_before=line.best_before,
                supplier_lot=line.supplier_lot,
            )
            for line in lines
        ]
        entry = ledger.post(
            kind=EntryKind.RECEIPT,
            on=on,
            at=at,
            client_id=client_id,
            steps=[
                Step(
                    lot=lot,
                    from_place=Place.SUPPLIER,
                    to_place=Place.STORE,
                    qty=line.qty,
                    value=line.price_minor100 + share,
                )
                for lot, line, share in zip(lots, lines, freight, strict=True)
            ],
        )
        receipt = Receipt.objects.create(
            number=next_number("R"),
            supplier=supplier,
            on=on,
            reference=reference,
            freight_minor100=freight_minor100,
            spread=spread,
            note=note,
            entry=entry,
        )
        ReceiptLine.objects.bulk_create(
            ReceiptLine(
                receipt=receipt,
                lot=lot,
                qty=line.qty,
                price_minor100=line.price_minor100,
                freight_minor100=share,
            )
            for lot, line, share in zip(lots, lines, freight, strict=True)
        )
    return receipt


def freight_shares(lines: Sequence[Received], *, freight_minor100: int, spread: str) -> list[int]:
    """Return each line's share of the freight, exact to the last unit."""
    return split_exactly(freight_minor100, _freight_weights(lines, spread))


def _freight_weights(lines: Sequence[Received], spread: str) -> list[int]:
    if spread == Spread.BY_VALUE:
        return [line.price_minor100 for line in lines]
    weights = []
    for line in lines:
        each = 1 if line.item.by_mass else line.item.piece_mg
        if each is None:
            raise CannotReceive(
                f"Freight by weight needs to know what one {line.item.name} weighs; "
                "enter that on its page, or spread the freight by value."
            )
        weights.append(line.qty * each)
    return weights


@recorded_once
def open_with(
    *,
    item: Item,
    qty: int,
    value: int,
    on: date,
    at: datetime,
    began_on: date | None = None,
    client_id: UUID | None = None,
    **facts,
) -> Lot:
    """Enter stock that was there before the books began, at the value the maker gives it."""
    if qty <= 0:
        raise CannotReceive(f"{item.name}: opening stock of {qty}; enter only what is there.")
    if item.kind == Kind.CANDLE:
        began = facts.get("ready_on")
        if began and began_on and began < began_on:
            raise CannotReceive("It cannot have cured before it was poured; check both days.")
    _check_lot(item, qty=qty, value=value, on=began_on or on, best_before=facts.get("best_before"))
    with transaction.atomic():
        if before := _recorded(client_id, EntryKind.OPENING):
            return before.moves.get().lot
        lot = new_lot(item, origin=Origin.OPENING, began_on=began_on or on, **facts)
        place = Place.SHELF if item.kind == "candle" else Place.STORE
        step = Step(lot=lot, from_place=Place.OPENING, to_place=place, qty=qty, value=value)
        ledger.post(kind=EntryKind.OPENING, on=on, at=at, steps=[step], client_id=client_id)
    return lot


@recorded_once
def count(
    *,
    lot: Lot,
    place: str,
    counted: int,
    reason: str,
    on: date,
    at: datetime,
    client_id: UUID | None = None,
) -> Entry | None:
    """
    Set what is held of a lot to what was counted; return the entry, or None if it agrees.

    What is found too much comes in at what the lot is worth by the unit; what lacks goes out the
    same way.
    """
    if counted < 0:
        raise CannotCorrect(f"{counted} counted; a count is nothing or more.")
    if counted > MOST_QTY:
        raise CannotCorrect("That is more than any workshop holds; check the unit.")
    _check_inside(place)
    with transaction.atomic():
        if before := _recorded(client_id, EntryKind.COUNT):
            return before
        Lot.objects.select_for_update().get(pk=lot.pk)
        qty, value = ledger.held(lot, place)
        if counted == qty:
            return None
        if counted > qty:
            more = counted - qty
            worth = value * more // qty if qty else 0
            step = Step(lot=lot, from_place=Place.CORRECTION, to_place=place, qty=more, value=worth)
        else:
            step = Step(lot=lot, from_place=place, to_place=Place.CORRECTION, qty=qty - counted)
        return ledger.post(
            kind=EntryKind.COUNT,
            on=on,
            at=at,
            steps=[step],
            reason=reason.strip(),
            client_id=client_id,
        )


def _check_inside(place: str) -> None:
    if place not in INSIDE:
        raise CannotCorrect(f"“{place}” is no place in the workshop.")


@recorded_once
def scrap(
    *,
    lot: Lot,
    place: str,
    qty: int,
    reason: str,
    on: date,
    at: datetime,
    client_id: UUID | None = None,
) -> Entry:
    """Throw away part of a lot, or all of it."""
    if qty <= 0:
        raise CannotCorrect(f"{qty} to scrap; say how much, more than nothing.")
    if not reason.strip():
        raise CannotCorrect("Scrap needs a reason: say what was wrong with it.")
    _check_inside(place)
    _recorded(client_id, EntryKind.SCRAP)
    step = Step(lot=lot, from_place=place, to_place=Place.SCRAP, qty=qty)
    return ledger.post(
        kind=EntryKind.SCRAP,
        on=on,
        at=at,
        steps=[step],
        reason=reason.strip(),
        client_id=client_id,
    )


SET_ASIDE = {Origin.TESTER: Place.TEST, Origin.GIFT: Place.GIVEN, Origin.SECONDS: Place.SHELF}


@recorded_once
def set_aside(
    *,
    lot: Lot,
    place: str,
    qty: int,
    origin: str,
    on: date,
    at: datetime,
    note: str = "",
    client_id: UUID | None = None,
) -> Lot:
    """
    Take some of a lot as testers, gifts or seconds: a lot of their own, traced to this one.

    The new lot carries its share of the value. Gifts leave the workshop at once.
    """
    if origin not in SET_ASIDE:
        raise CannotCorrect(f"“{origin}”: set aside as a tester, a gift or seconds.")
    if qty <= 0:
        raise CannotCorrect(f"{qty} to set aside; say how many, more than none.")
    return derive(
        parent=lot, from_place=place, to_place=SET_ASIDE[origin], qty=qty, origin=origin,
        kind=EntryKind.SET_ASIDE, on=on, at=at, note=note, client_id=client_id,
    )[0]  # fmt: skip


def derive(
    *,
    parent: Lot,
    from_place: str,
    to_place: str,
    qty: int,
    origin: str,
    kind: str,
    on: date,
    at: datetime,
    note: str = "",
    reason: str = "",
    client_id: UUID | None = None,
) -> tuple[Lot, Entry]:
    """
    Make a lot out of part of another, with its share of the value, and the thread between them.

    ``from_place`` may be outside (a sale that comes back): its value is then a share of what went
    there.
    """
    with transaction.atomic():
        if before := _recorded(client_id, kind):
            return before.sources.get().child, before
        Lot.objects.select_for_update().get(pk=parent.pk)
        there, worth = ledger.held(parent, from_place)
        if qty > there:
            raise ledger.Overdrawn(
                f"{qty:,} are wanted of lot {parent.code}, but {there:,} are "
                f"at “{Place(from_place).label}”."
            )
        value = ledger.take_value(there, worth, qty)
        child = new_lot(
            parent.item,
            origin=origin,
            began_on=parent.began_on,
            best_before=parent.best_before,
            ready_on=parent.ready_on,
            note=note,
        )
        entry = ledger.post(
            kind=kind,
            on=on,
            at=at,
            reason=reason,
            client_id=client_id,
            steps=[
                Step(lot=parent, from_place=from_place, to_place=Place.MADE, qty=qty, value=value),
                Step(lot=child, from_place=Place.MADE, to_place=to_place, qty=qty, value=value),
            ],
        )
        LotSource.objects.create(entry=entry, parent=parent, child=child, qty=qty, value=value)
    return child, entry


def in_store(item: Item) -> list[Balance]:
    return ledger.oldest_first(item, Place.STORE)


# --- undoing -------------------------------------------------------------------------------------

# What is undone here. The rest is undone where it was done, for more than stock hangs on it.
UNDONE_HERE = (
    EntryKind.RECEIPT,
    EntryKind.OPENING,
    EntryKind.COUNT,
    EntryKind.SCRAP,
    EntryKind.SET_ASIDE,
)
# These made their lots: whatever happened to a lot since stands on them.
MADE_LOTS = (EntryKind.RECEIPT, EntryKind.OPENING)


def why_not_undone(entry: Entry) -> str:
    """Return in words why an entry cannot be undone here, or nothing where it can."""
    if entry.kind == EntryKind.UNDO:
        return "An undo cannot itself be undone; enter the thing again."
    if hasattr(entry, "undone_by"):
        return "This was undone before."
    if entry.kind not in UNDONE_HERE:
        return f"A {entry.get_kind_display()} is undone on its own page, not in the ledger."
    if entry.kind in MADE_LOTS and (since := _first_since(entry)):
        return (
            f"Lot {since.lot.code} has been touched since: {since.entry.get_kind_display()} on "
            f"{since.entry.on.day} {since.entry.on:%b %Y}. Undo that first, or correct the count."
        )
    return ""


def _first_since(entry: Entry) -> Move | None:
    """Return the first move of the entry's lots that came after it and still stands."""
    return (
        Move.objects.filter(
            lot__in=entry.moves.values("lot"),
            entry__gt=entry.pk,
            entry__undone_by__isnull=True,
        )
        .exclude(entry__kind=EntryKind.UNDO)
        .select_related("entry", "lot")
        .order_by("id")
        .first()
    )


@recorded_once
def undo_entry(
    *, entry: Entry, reason: str, on: date, at: datetime, client_id: UUID | None = None
) -> Entry:
    """
    Undo a receipt, opening stock, a count, scrap or a setting aside, with a reason.

    What came in is undone only while nothing else has happened to its lots.
    """
    with transaction.atomic():
        if before := _recorded(client_id, EntryKind.UNDO):
            return before
        lots = entry.moves.values("lot")
        list(Lot.objects.select_for_update().filter(pk__in=lots).order_by("pk").values_list("pk"))
        entry = Entry.objects.select_for_update(of=("self",)).get(pk=entry.pk)
        if why := why_not_undone(entry):
            raise ledger.CannotUndo(why)
        return ledger.undo(entry, reason=reason, on=on, at=at, client_id=client_id)
