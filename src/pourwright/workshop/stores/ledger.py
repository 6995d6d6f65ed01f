"""
The stock ledger: the only way in which a quantity changes.

Every change is one ``Entry`` with its moves, written whole or not at all, never edited. A mistake
is undone by an entry of opposite moves with a reason. What a move is worth follows from what it
takes: a share of the value there by quantity, and all of the rest with the last of it, so that
value is conserved to the last unit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Sum

from pourwright.core.costing import take_value
from pourwright.core.errors import BadInput
from pourwright.workshop.stores.models import (
    INSIDE,
    Balance,
    Entry,
    EntryKind,
    Item,
    Lot,
    Move,
    Place,
)


class Overdrawn(BadInput):
    """A move takes more than a lot holds."""


class CannotUndo(BadInput):
    """An entry that cannot be undone, or not any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """
    A move that is wanted. ``value`` empty: what that quantity is worth where it is taken from.

    A step from outside the workshop (a purchase, labour, what was just made) states its value.
    """

    lot: Lot
    from_place: str
    to_place: str
    qty: int
    value: int | None = None


def post(
    *,
    kind: str,
    on: date,
    at: datetime,
    steps: Iterable[Step],
    reason: str = "",
    client_id: UUID | None = None,
    undoes: Entry | None = None,
) -> Entry:
    """
    Write one entry with its moves and bring the balances along; all of it or nothing.

    Quantities are whole milligrams or pieces, values whole hundredths of the minor unit.
    A ``client_id`` that was posted before returns that entry and writes nothing.
    Raises ``Overdrawn`` when a place inside the workshop would hold less than nothing.
    """
    steps = list(steps)
    with transaction.atomic():
        if client_id and (before := Entry.objects.filter(client_id=client_id).first()):
            return before
        balances = _locked_balances(steps)
        entry = Entry.objects.create(
            kind=kind, on=on, at=at, reason=reason, client_id=client_id, undoes=undoes
        )
        moves = [_move(entry, step, balances) for step in steps]
        Move.objects.bulk_create(moves)
        _save(balances.values())
    return entry


def _save(balances: Iterable[Balance]) -> None:
    """Write balances back; by plain SQL, for every stock movement passes here, many rows each."""
    with connection.cursor() as cursor:
        cursor.executemany(
            "UPDATE stores_balance SET qty = %s, value = %s WHERE id = %s",
            [(balance.qty, balance.value, balance.pk) for balance in balances],
        )


def _locked_balances(steps: Sequence[Step]) -> dict[tuple[int, str], Balance]:
    """Return the balances that the steps touch, their lots locked in one order by everybody."""
    lots = sorted({step.lot.pk for step in steps})
    list(Lot.objects.select_for_update().filter(pk__in=lots).order_by("pk").values_list("pk"))
    wanted = {
        (step.lot.pk, str(place)) for step in steps for place in (step.from_place, step.to_place)
    }
    found = {(b.lot_id, b.place): b for b in Balance.objects.filter(lot_id__in=lots)}
    new = [Balance(lot_id=lot, place=place) for lot, place in sorted(wanted - found.keys())]
    Balance.objects.bulk_create(new)
    found |= {(b.lot_id, b.place): b for b in new}
    return {key: found[key] for key in sorted(wanted)}


def _move(entry: Entry, step: Step, balances: dict[tuple[int, str], Balance]) -> Move:
    source = balances[step.lot.pk, str(step.from_place)]
    target = balances[step.lot.pk, str(step.to_place)]
    inside = step.from_place in INSIDE
    if inside and step.qty > source.qty:
        raise Overdrawn(_overdrawn(step, source.qty))
    value = step.value
    if value is None:
        value = take_value(source.qty, source.value, step.qty) if inside else 0
    if inside and value > source.value:
        raise Overdrawn(
            f"Lot {step.lot.code} is worth less there than the move takes away; "
            "undo the later entries first."
        )
    source.qty -= step.qty
    source.value -= value
    target.qty += step.qty
    target.value += value
    return Move(
        entry=entry,
        lot=step.lot,
        from_place=step.from_place,
        to_place=step.to_place,
        qty=step.qty,
        value=value,
    )


def _overdrawn(step: Step, held: int) -> str:
    item = step.lot.item
    place = Place(step.from_place).label
    if item.by_mass:
        return (
            f"{step.qty / 1000:,.1f} g are wanted of {item.name}, lot {step.lot.code}, but the "
            f"{place} holds {held / 1000:,.1f} g of it. Take less, or another lot, or correct the "
            "count first."
        )
    return (
        f"{step.qty:,} are wanted of {item.name}, lot {step.lot.code}, but the {place} holds "
        f"{held:,} of it. Take fewer, or another lot, or correct the count first."
    )


def undo(
    entry: Entry, *, reason: str, on: date, at: datetime, client_id: UUID | None = None
) -> Entry:
    """
    Undo an entry by opposite moves, the last move first.

    What the entry brought must still be there. Values go back as they came (see ``_opposite``).
    """
    if not reason.strip():
        raise CannotUndo("Undoing needs a reason: say what was wrong.")
    with transaction.atomic():
        entry = Entry.objects.select_for_update().get(pk=entry.pk)
        if entry.kind == EntryKind.UNDO:
            raise CannotUndo("An undo cannot itself be undone; enter the thing again.")
        if hasattr(entry, "undone_by"):
            raise CannotUndo("This was undone before; nothing was changed.")
        moves = list(entry.moves.select_related("lot__item").order_by("-id"))
        steps = _opposite(moves)
        return post(
            kind=EntryKind.UNDO,
            on=on,
            at=at,
            steps=steps,
            reason=reason.strip(),
            client_id=client_id,
            undoes=entry,
        )


def _opposite(moves: Sequence[Move]) -> list[Step]:
    """
    Return the steps that take ``moves`` back.

    Value: the same as came, unless the lot would be left with pieces worth less than nothing, or
    with value but no pieces; then what is there. Both ends of a step stay equal, so the sum of
    all values stays nothing.
    """
    lots = sorted({move.lot_id for move in moves})
    list(Lot.objects.select_for_update().filter(pk__in=lots).order_by("pk").values_list("pk"))
    there = {(b.lot_id, b.place): (b.qty, b.value) for b in Balance.objects.filter(lot__in=lots)}
    steps = []
    for move in moves:
        qty, value = there[move.lot_id, move.to_place]
        back = move.value
        if move.to_place in INSIDE:
            back = value if move.qty and qty == move.qty else min(value, move.value)
        there[move.lot_id, move.to_place] = (qty - move.qty, value - back)
        qty, value = there[move.lot_id, move.from_place]
        there[move.lot_id, move.from_place] = (qty + move.qty, value + back)
        steps.append(
            Step(
                lot=move.lot,
                from_place=move.to_place,
                to_place=move.from_place,
                qty=move.qty,
                value=back,
            )
        )
    return steps


def held(lot: Lot, place: str = Place.STORE) -> tuple[int, int]:
    """Return (quantity, value) of a lot at a place."""
    found = Balance.objects.filter(lot=lot, place=place).first()
    return (found.qty, found.value) if found else (0, 0)


def oldest_first(item: Item, place: str = Place.STORE) -> list[Balance]:
    """Return what is held of an item, the lot that came first at the head."""
    return oldest_first_of([item.pk], place)[item.pk]


def oldest_first_of(items: Iterable[int], place: str = Place.STORE) -> dict[int, list[Balance]]:
    """Return what is held of each item, by the items' keys, the lot that came first at the head."""
    found: dict[int, list[Balance]] = defaultdict(list)
    for balance in (
        Balance.objects.filter(lot__item__in=items, place=place, qty__gt=0)
        .select_related("lot__item")
        .order_by("lot__began_on", "lot_id")
    ):
        found[balance.lot.item_id].append(balance)
    return found


def stock_of(item: Item, place: str = Place.STORE) -> int:
    return (
        Balance.objects.filter(lot__item=item, place=place).aggregate(total=Sum("qty"))["total"]
        or 0
    )


def qty_by_item(items: Iterable[int], place: str) -> dict[int, int]:
    """Return how much of each item a place holds, by the items' keys; nothing held, no key."""
    held = Balance.objects.filter(lot__item__in=items, place=place, qty__gt=0)
    return dict(held.values_list("lot__item").annotate(total=Sum("qty")))


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something wrong in the ledger, and where."""

    lot: str
    place: str
    message: str


def check_ledger() -> list[Finding]:
    """Compare every balance with the sum of its moves, in the database; no finding: all is well."""
    sums = """
        SELECT lot_id, place, SUM(qty), SUM(value) FROM (
            SELECT lot_id, to_place AS place, qty, value FROM stores_move
            UNION ALL
            SELECT lot_id, from_place, -qty, -value FROM stores_move
            UNION ALL
            SELECT lot_id, place, -qty, -value FROM stores_balance
        ) AS every_line
        GROUP BY lot_id, place
        HAVING SUM(qty) <> 0 OR SUM(value) <> 0
    """
    with connection.cursor() as cursor:
        cursor.execute(sums)
        wrong = cursor.fetchall()
    codes = dict(Lot.objects.filter(pk__in=[row[0] for row in wrong]).values_list("pk", "code"))
    return [
        Finding(
            lot=codes[lot],
            place=place,
            message=f"moves and balance differ by {qty} in quantity and {value} in value",
        )
        for lot, place, qty, value in wrong
    ]
