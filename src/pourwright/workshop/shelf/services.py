"""
What happens to candles on the shelf: finishing, with the parts it takes, and burning testers.

Counts, scrap, testers, gifts and seconds are the stores' own (``stores.services``): a candle lot
is a lot like any other.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import F

from pourwright.core.amounts import from_mg, show_mass
from pourwright.core.costing import labour_minor100, overhead_minor100
from pourwright.core.errors import BadInput
from pourwright.workshop.designs.models import DesignVersion, Stage
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import LotCost
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.ledger import Step
from pourwright.workshop.stores.models import (
    Balance,
    Entry,
    EntryKind,
    Item,
    Lot,
    LotSource,
    Move,
    Place,
)

TITLES = {name: Finishing._meta.get_field(name).verbose_name for name in Finishing.CHECKS}


class CannotFinish(BadInput):
    """A finishing that is not complete, was done before, or lacks its parts."""


class CannotBurn(BadInput):
    """A burn of candles that are not on the test table."""


def tick(lot: Lot, *, check: str, done: bool, by: str = "") -> Finishing:
    """Tick one finishing check of a lot, or take the tick away; until it is finished."""
    if check not in Finishing.CHECKS:
        raise CannotFinish(f"“{check}” is no finishing check; there are: {_listed(TITLES)}.")
    with transaction.atomic():
        finishing = _locked_finishing(lot)
        if finishing.done_at:
            raise CannotFinish(
                f"Lot {lot.code} is finished already; take the finishing back first."
            )
        setattr(finishing, check, done)
        if finishing.complete:
            # The gate reads the ticks: the last one comes with the parts, or not at all.
            raise CannotFinish(
                f"“{TITLES[check]}” is the last check of lot {lot.code}; finish the lot, which "
                "also takes its parts from the store."
            )
        finishing.by = by or finishing.by
        finishing.save()
    return finishing


def finish(
    lot: Lot,
    *,
    checks: Mapping[str, bool],
    by: str,
    on: date,
    at: datetime,
    workshop: Workshop,
    minutes: Decimal | int | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> Finishing:
    """
    Finish a lot: every check ticked, and the parts that finishing takes put on each candle held.

    Parts come first in, first out; they, the ``minutes`` at the workshop's rate and the overhead on
    both become part of the lot's value. A lot taken from one that was finished (a return, say) has
    its parts on already and takes none. Checks that were ticked before stand.

    Raises ``CannotFinish`` when a check is missing, when parts lack (it says how many of which),
    or when nothing of the lot is on the shelf.
    """
    with transaction.atomic():
        finishing = _locked_finishing(lot)
        if client_id and Entry.objects.filter(client_id=client_id).exists():
            return finishing
        if finishing.done_at:
            raise CannotFinish(f"Lot {lot.code} was finished before; nothing was changed.")
        for name, done in checks.items():
            if name not in Finishing.CHECKS:
                raise CannotFinish(f"“{name}” is no finishing check; there are: {_listed(TITLES)}.")
            setattr(finishing, name, done)
        if missing := [TITLES[name] for name in Finishing.CHECKS if not getattr(finishing, name)]:
            raise CannotFinish(
                f"Lot {lot.code} is not finished yet; still to do: {'; '.join(missing)}."
            )
        held, _ = ledger.held(lot, Place.SHELF)
        if not held:
            raise CannotFinish(f"No candle of lot {lot.code} is on the shelf; nothing to finish.")
        _put_on(
            lot,
            parts=[] if packed_before(lot) else parts_needed(_poured_as(lot), held),
            minutes=minutes or 0,
            on=on,
            at=at,
            workshop=workshop,
            client_id=client_id,
        )
        finishing.by = by
        finishing.done_at = at
        finishing.note = note
        finishing.save()
    return finishing


def _poured_as(lot: Lot) -> DesignVersion | None:
    version = gates.design_version_ids([lot.pk])[lot.pk]
    return version and DesignVersion.objects.get(pk=version)


def parts_needed(version: DesignVersion | None, candles: int) -> list[tuple[Item, int]]:
    """Return what finishing so many candles takes: items with milligrams or pieces."""
    if version is None:
        return []
    parts = version.parts.filter(stage=Stage.FINISH).select_related("item")
    return [(part.item, part.qty * candles) for part in parts]


def parts_short(parts: list[tuple[Item, int]]) -> list[tuple[Item, int, int]]:
    """Return (item, wanted, in the store) for each part that does not suffice."""
    there = ledger.qty_by_item([item.pk for item, _ in parts], Place.STORE)
    return [
        (item, wanted, there.get(item.pk, 0))
        for item, wanted in parts
        if there.get(item.pk, 0) < wanted
    ]


def packed_before(lot: Lot) -> bool:
    """Return whether the lot was taken from one that was finished by then."""
    source = LotSource.objects.filter(
        child=lot, entry__undone_by__isnull=True, parent__item=lot.item
    ).select_related("entry")
    for link in source:
        done = Finishing.objects.filter(lot=link.parent_id, done_at__lte=link.entry.at).exists()
        if done or packed_before(link.parent):
            return True
    return False


def take_back_finishing(lot: Lot, *, reason: str, on: date, at: datetime) -> Finishing:
    """
    Undo a finishing entered by mistake: the parts go back to the store, the checks are open again.

    Refused once candles of the lot have left the shelf, for their value went with them.
    """
    with transaction.atomic():
        finishing = _locked_finishing(lot)
        if not finishing.done_at:
            raise CannotFinish(f"Lot {lot.code} is not finished; there is nothing to take back.")
        if not reason.strip():
            raise CannotFinish("Taking a finishing back needs a reason: say what was wrong.")
        entry = finishing_entry(lot)
        if entry:
            last = entry.moves.order_by("-id").values_list("id", flat=True).first()
            left = Move.objects.filter(
                lot=lot, from_place=Place.SHELF, id__gt=last, entry__undone_by__isnull=True
            ).exclude(entry__kind=EntryKind.UNDO)
            if left.exists():
                raise CannotFinish(
                    f"Candles of lot {lot.code} have left the shelf since it was finished; undo "
                    "that first."
                )
            for component, value in finishing_costs(lot, entry).items():
                cost = LotCost.objects.select_for_update().get(lot=lot, component=component)
                cost.value -= value
                cost.save()
            ledger.undo(entry, reason=reason, on=on, at=at)
        for name in Finishing.CHECKS:
            setattr(finishing, name, False)
        finishing.done_at = None
        finishing.note = f"taken back: {reason.strip()}"[:200]
        finishing.save()
        gates.recheck(lot, on=on, at=at)
    return finishing


def finishing_entry(lot: Lot) -> Entry | None:
    """Return the entry that put the parts on a lot, unless it was undone."""
    return Entry.objects.filter(
        kind=EntryKind.FINISH, moves__lot=lot, undone_by__isnull=True
    ).first()


def finishing_costs(lot: Lot, entry: Entry) -> dict[str, int]:
    """Return what finishing added to a lot, by component."""
    added: dict[str, int] = {}
    moves = entry.moves.filter(lot=lot, to_place=Place.SHELF).order_by("id")
    work = iter(("labour", "overhead"))  # the order in which finish() posts them
    for move in moves:
        component = "packaging" if move.from_place == Place.MADE else next(work)
        added[component] = added.get(component, 0) + move.value
    return {component: value for component, value in added.items() if value}


def burn(
    lot: Lot,
    *,
    qty: int,
    on: date,
    at: datetime,
    reason: str,
    client_id: UUID | None = None,
) -> Entry:
    """Enter candles of the test table as burnt."""
    if qty <= 0:
        raise CannotBurn(f"{qty} burnt; say how many, one or more.")
    held, _ = ledger.held(lot, Place.TEST)
    if qty > held:
        raise CannotBurn(
            f"{qty} of lot {lot.code} are wanted for burning, but {held} are on the test table. "
            "Set candles aside as testers first."
        )
    step = Step(lot=lot, from_place=Place.TEST, to_place=Place.BURNT, qty=qty)
    return ledger.post(
        kind=EntryKind.TEST, on=on, at=at, steps=[step], reason=reason.strip(), client_id=client_id
    )


def _locked_finishing(lot: Lot) -> Finishing:
    Lot.objects.select_for_update().get(pk=lot.pk)
    finishing, _ = Finishing.objects.get_or_create(lot=lot)
    return finishing


def _listed(titles: Mapping[str, str]) -> str:
    return ", ".join(titles)


def _put_on(lot, *, parts, minutes, on, at, workshop, client_id) -> None:
    """Move the parts out of the store, and their value with the work onto the lot."""
    taken = _taken_oldest_first(parts, units=workshop.units)
    packaging = sum(value for _, _, value in taken)
    labour = labour_minor100(minutes=minutes, rate_minor100_per_hour=workshop.labour_rate_minor100)
    overhead = overhead_minor100(
        base_minor100=packaging + labour, overhead_pct=workshop.overhead_pct
    )
    steps = [
        Step(lot=part, from_place=Place.STORE, to_place=Place.MADE, qty=qty, value=value)
        for part, qty, value in taken
    ]
    if packaging:
        steps.append(_value_alone(lot, Place.MADE, packaging))
    if labour or overhead:
        steps += [_value_alone(lot, Place.WORK, labour), _value_alone(lot, Place.WORK, overhead)]
    if not steps:
        return
    entry = ledger.post(kind=EntryKind.FINISH, on=on, at=at, steps=steps, client_id=client_id)
    LotSource.objects.bulk_create(
        LotSource(entry=entry, parent=part, child=lot, qty=qty, value=value)
        for part, qty, value in taken
    )
    for component, value in (
        ("packaging", packaging),
        ("labour", labour),
        ("overhead", overhead),
    ):
        _add_cost(lot, component, value)


def _value_alone(lot: Lot, from_place: str, value: int) -> Step:
    return Step(lot=lot, from_place=from_place, to_place=Place.SHELF, qty=0, value=value)


def _add_cost(lot: Lot, component: str, value: int) -> None:
    if not value:
        return
    costs = LotCost.objects.filter(lot=lot, component=component)
    if not costs.update(value=F("value") + value):
        LotCost.objects.create(lot=lot, component=component, value=value)


def _taken_oldest_first(parts: list[tuple[Item, int]], *, units: str) -> list[tuple[Lot, int, int]]:
    """Return (lot, quantity, value) for what the parts are taken from; refuse what is short."""
    wanted: dict[int, list] = {}
    for item, qty in parts:
        wanted.setdefault(item.pk, [item, 0])[1] += qty
    candidates = Balance.objects.filter(lot__item__in=wanted, place=Place.STORE, qty__gt=0)
    pks = list(candidates.values_list("lot", flat=True))
    list(Lot.objects.select_for_update().filter(pk__in=pks).order_by("pk").values_list("pk"))
    if short := parts_short([(item, qty) for item, qty in wanted.values()]):
        raise CannotFinish(f"The store lacks parts for this: {_short_words(short, units)}.")
    taken = []
    held = ledger.oldest_first_of(wanted)
    for item, qty in wanted.values():
        for balance in held[item.pk]:
            take = min(qty, balance.qty)
            if take:
                value = ledger.take_value(balance.qty, balance.value, take)
                taken.append((balance.lot, take, value))
            qty -= take
    return taken


def _short_words(short: list[tuple[Item, int, int]], units: str) -> str:
    return "; ".join(
        f"{item.name}: {_amount(item, wanted, units)} wanted, {_amount(item, there, units)} there, "
        f"{_amount(item, wanted - there, units)} short"
        for item, wanted, there in short
    )


def _amount(item: Item, qty: int, units: str) -> str:
    return show_mass(from_mg(qty), units) if item.by_mass else f"{qty:,}"
