"""
What changes the stores: receipts, opening stock, counts, scrap, and lots set aside.

Each is one transaction and one ledger entry. The date and the time are handed in by the door.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from pourwright.core.errors import BadInput
from pourwright.core.shares import split_exactly
from pourwright.workshop.house.models import next_number
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.ledger import Step
from pourwright.workshop.stores.models import (
    LOT_PREFIX,
    Balance,
    Entry,
    EntryKind,
    Item,
    Lot,
    LotSource,
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
    with transaction.atomic():
        if client_id and (before := Entry.objects.filter(client_id=client_id).first()):
            return before.receipt
        freight = split_exactly(freight_minor100, _freight_weights(lines, spread))
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


def open_with(
    *,
    item: Item,
    qty: int,
    value: int,
    on: date,
    at: datetime,
    began_on: date | None = None,
    **facts,
) -> Lot:
    """Enter stock that was there before the books began, at the value the maker gives it."""
    if qty <= 0:
        raise CannotReceive(f"{item.name}: opening stock of {qty}; enter only what is there.")
    with transaction.atomic():
        lot = new_lot(item, origin=Origin.OPENING, began_on=began_on or on, **facts)
        place = Place.SHELF if item.kind == "candle" else Place.STORE
        step = Step(lot=lot, from_place=Place.OPENING, to_place=place, qty=qty, value=value)
        ledger.post(kind=EntryKind.OPENING, on=on, at=at, steps=[step])
    return lot


def count(
    *, lot: Lot, place: str, counted: int, reason: str, on: date, at: datetime
) -> Entry | None:
    """
    Set what is held of a lot to what was counted; return the entry, or None if it agrees.

    What is found too much comes in at what the lot is worth by the unit; what lacks goes out the
    same way.
    """
    if counted < 0:
        raise CannotCorrect(f"{counted} counted; a count is nothing or more.")
    with transaction.atomic():
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
        return ledger.post(kind=EntryKind.COUNT, on=on, at=at, steps=[step], reason=reason)


def scrap(*, lot: Lot, place: str, qty: int, reason: str, on: date, at: datetime) -> Entry:
    """Throw away part of a lot, or all of it."""
    if qty <= 0:
        raise CannotCorrect(f"{qty} to scrap; say how much, more than nothing.")
    if not reason.strip():
        raise CannotCorrect("Scrap needs a reason: say what was wrong with it.")
    step = Step(lot=lot, from_place=place, to_place=Place.SCRAP, qty=qty)
    return ledger.post(kind=EntryKind.SCRAP, on=on, at=at, steps=[step], reason=reason.strip())


SET_ASIDE = {Origin.TESTER: Place.TEST, Origin.GIFT: Place.GIVEN, Origin.SECONDS: Place.SHELF}


def set_aside(
    *,
    lot: Lot,
    place: str,
    qty: int,
    origin: str,
    on: date,
    at: datetime,
    note: str = "",
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
        kind=EntryKind.SET_ASIDE, on=on, at=at, note=note,
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
