"""
Closing a pour: what went in (``account``, ``used``) and what came of it (``made``), in the books.

One transaction under locks. Inputs go from the store to the place *worked up*; what came of them
goes from there to shelf, store or scrap with all of their value (see
``docs/decisions/0003-cost-of-a-pour.md``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from pourwright.workshop.designs.services import cure_days
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours import planning
from pourwright.workshop.pours.account import Account, Outcome
from pourwright.workshop.pours.allocation import add_up, by_lot
from pourwright.workshop.pours.made import Made, add_work, made_of
from pourwright.workshop.pours.models import Filling, LotCost, Pour, PourState, Take, Use
from pourwright.workshop.pours.used import Used, give_value, pieces_used, weighed
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.ledger import Step
from pourwright.workshop.stores.models import (
    Entry,
    EntryKind,
    Kind,
    Lot,
    LotSource,
    Origin,
    Place,
)
from pourwright.workshop.stores.services import new_lot


def close(
    pour: Pour,
    *,
    outcomes: Mapping[int, Outcome],
    left: Mapping[int, int],
    left_plain_mg: int,
    minutes: Decimal | None,
    on: date,
    at: datetime,
    workshop: Workshop,
    client_id: UUID | None,
) -> Entry:
    """Close a locked, open pour; see ``services.close``."""
    pitchers = list(pour.pitchers.select_related("formula_version__formula__mix"))
    fillings = list(
        Filling.objects.filter(pitcher__pour=pour).select_related(
            "design_version__design__candle",
            "design_version__vessel",
            "design_version__wick",
            "design_version__formula_version",
            "pitcher",
            "lot",
            "seconds_lot",
        )
    )
    takes = list(pour.takes.select_related("item", "lot__item"))
    account = Account(pitchers, fillings, takes, outcomes, left, left_plain_mg)
    account.check()
    used = weighed(account) + pieces_used(pour, fillings, takes, outcomes)
    give_value(used)
    made = made_of(account, used)
    add_work(made, fillings, outcomes, minutes=minutes, workshop=workshop)
    _name_lots(made, used, on=on, workshop=workshop)
    entry = ledger.post(
        kind=EntryKind.POUR, on=on, at=at, client_id=client_id, steps=_steps(used, made)
    )
    _record(pour, entry, made, account, minutes=minutes, on=on, at=at)
    _record_pieces(takes, used)
    return entry


# --- writing -------------------------------------------------------------------------------------

# Lots are numbered in one order by everybody, so that two closings never wait for each other.
_ORDER = {Kind.CANDLE: 0, Kind.MIX: 1, Kind.WAX: 2}


def _name_lots(made: list[Made], used: Sequence[Used], *, on: date, workshop: Workshop) -> None:
    expiry = {one.lot.pk: one.lot.best_before for one in used}
    made.sort(key=lambda one: _ORDER[one.item.kind])
    for one in made:
        facts = {"note": one.note, "best_before": None, "ready_on": None}
        if one.filling is None:
            dates = [expiry[portion.lot] for portion in one.portions if expiry[portion.lot]]
            facts["best_before"] = min(dates, default=None)
        else:
            version = one.filling.design_version
            facts["ready_on"] = planning.days_after(on, cure_days(version, workshop))
            facts["best_before"] = planning.months_after(on, version.best_before_months)
        kept = _lot_before(one)
        if kept is None:
            one.lot = new_lot(one.item, origin=one.origin, began_on=on, **facts)
        else:
            for name, value in {"began_on": on, "origin": one.origin, **facts}.items():
                setattr(kept, name, value)
            kept.save()
            one.lot = kept


def _lot_before(one: Made) -> Lot | None:
    """Return the lot that an earlier closing, since undone, gave its number to: labels bear it."""
    if one.filling is not None:
        return one.filling.seconds_lot if one.origin == Origin.SECONDS else one.filling.lot
    return one.pitcher.left_lot if one.pitcher is not None else None


def _steps(used: Sequence[Used], made: Sequence[Made]) -> list[Step]:
    steps = [
        Step(lot=one.lot, from_place=Place.STORE, to_place=Place.MADE, qty=one.qty, value=one.value)
        for one in used
    ]
    for one in made:
        steps.append(
            Step(
                lot=one.lot,
                from_place=Place.MADE,
                to_place=one.place,
                qty=one.qty,
                value=one.value,
            )
        )
        if one.scrapped:
            steps.append(
                Step(
                    lot=one.lot,
                    from_place=Place.MADE,
                    to_place=Place.SCRAP,
                    qty=one.scrapped,
                    value=0,
                )
            )
        steps += [
            Step(lot=one.lot, from_place=Place.WORK, to_place=one.place, qty=0, value=value)
            for value in one.work.values()
        ]
    return steps


def _record_pieces(takes: Sequence[Take], used: Sequence[Used]) -> None:
    """Keep how many vessels, wicks and parts were used, beside how many were planned."""
    counted = {take: 0 for take in takes if take.use == Use.PIECE}
    for one in used:
        if one.take.use == Use.PIECE and one.take.pk:
            counted[one.take] += one.qty
        elif one.take.use == Use.PIECE:
            one.take.actual = one.qty
            one.take.save()
    for take, qty in counted.items():
        take.actual = qty
    Take.objects.bulk_update(counted, ["actual"])


def _record(
    pour: Pour,
    entry: Entry,
    made: Sequence[Made],
    account: Account,
    *,
    minutes: Decimal | None,
    on: date,
    at: datetime,
) -> None:
    LotSource.objects.bulk_create(
        LotSource(entry=entry, parent_id=parent, child=one.lot, qty=qty, value=value)
        for one in made
        for parent, (qty, value) in by_lot(one.portions).items()
    )
    LotCost.objects.filter(lot__in=[one.lot for one in made]).delete()
    LotCost.objects.bulk_create(
        LotCost(lot=one.lot, component=part, value=value)
        for one in made
        for part, value in add_up(one.parts, one.work).items()
        if value
    )
    for one in made:
        if one.filling is not None and one.origin == Origin.SECONDS:
            one.filling.seconds_lot = one.lot
        elif one.filling is not None:
            one.filling.lot = one.lot
        elif one.pitcher is not None:
            one.pitcher.left_lot = one.lot
    for pitcher in account.pitchers:
        pitcher.left_mg = account.left[pitcher.pk]
        pitcher.save(update_fields=["left_mg", "left_lot"])
        for filling in account.fillings[pitcher.pk]:
            outcome = account.outcome(filling)
            filling.good, filling.seconds = outcome.good, outcome.seconds
            filling.scrapped, filling.fill_mg = outcome.scrapped, outcome.fill_mg
            filling.save()
    pour.state, pour.entry, pour.closed_at = PourState.CLOSED, entry, at
    pour.on, pour.minutes = on, minutes
    pour.save()
