"""
What changes a pour: plan it, open it at the bench, weigh, read off, close, abandon, reopen.

A pour moves nothing until it is closed. Times and dates are handed in by the door; each entry of
the bench may carry an id of its own, and sending it twice records it once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db import transaction

from pourwright.core import amounts
from pourwright.core.errors import BadInput
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.gates.models import Decision
from pourwright.workshop.house.models import Workshop, next_number
from pourwright.workshop.pours import closing
from pourwright.workshop.pours.account import CannotClose, Outcome
from pourwright.workshop.pours.models import (
    Filling,
    LotCost,
    Melter,
    Pitcher,
    Pour,
    PourState,
    Reading,
    Step,
    Take,
    Use,
    Weighing,
)
from pourwright.workshop.pours.planning import (
    CannotPlan,
    PitcherPlan,
    PlannedTake,
    Scheme,
    Shortage,
    claims,
    scheme,
    tolerance_of,
    waxes_of,
)
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Balance, Entry, Lot, Move, Place

__all__ = [
    "CannotClose",
    "CannotPlan",
    "CannotPour",
    "Outcome",
    "PitcherPlan",
    "Scheme",
    "Shortage",
    "abandon",
    "close",
    "draw_off",
    "open_pour",
    "plan",
    "prepared",
    "read",
    "reopen",
    "rest_from",
    "save_melter",
    "scheme",
    "shortages",
    "weigh",
]

# Pours are numbered as batches: "P" is a part's lot.
NUMBERS = "B"


class CannotPour(BadInput):
    """A step that does not fit the pour's state, the stores or the thermometer."""


def plan(
    *,
    on: date,
    pitchers: Sequence[PitcherPlan],
    workshop: Workshop,
    melter: Melter | None = None,
    loss_pct: Decimal | None = None,
    extra_wax_mg: int = 0,
    client_id: UUID | None = None,
) -> Pour:
    """
    Make a planned pour: pitchers, fillings, and what is to be taken from which lots.

    Masses in milligrams; ``loss_pct`` is per cent of the mix (the workshop's where empty). What
    the store lacks is planned without a lot: a plan may be short, opening it may not.
    """
    with transaction.atomic():
        if client_id and (before := Pour.objects.filter(client_id=client_id).first()):
            return before
        wanted = scheme(
            on=on,
            pitchers=pitchers,
            division_mg=workshop.scale_division_mg,
            loss_pct=workshop.loss_pct if loss_pct is None else loss_pct,
            melter=melter,
            extra_wax_mg=extra_wax_mg,
        )
        pour = Pour.objects.create(
            number=next_number(NUMBERS),
            on=on,
            melter=melter,
            scale_division_mg=wanted.division_mg,
            loss_pct=wanted.loss_pct,
            client_id=client_id,
        )
        made, fillings = [], []
        for position, planned in enumerate(wanted.pitchers, start=1):
            pitcher = Pitcher.objects.create(
                pour=pour,
                position=position,
                formula_version=planned.plan.formula_version,
                wax_mg=planned.wax_mg,
                mix_mg=planned.mix_mg,
            )
            made.append(pitcher)
            fillings += [
                Filling.objects.create(pitcher=pitcher, design_version=version, wanted=number)
                for version, number in planned.plan.fillings
            ]
        _write_takes(pour, wanted.takes, made, fillings)
    return pour


def _write_takes(
    pour: Pour,
    takes: Sequence[PlannedTake],
    pitchers: Sequence[Pitcher],
    fillings: Sequence[Filling],
) -> None:
    Take.objects.bulk_create(
        Take(
            pour=pour,
            pitcher=None if take.pitcher is None else pitchers[take.pitcher],
            filling=None if take.filling is None else fillings[take.filling],
            use=take.use,
            item=take.item,
            lot=take.lot,
            position=position,
            target=take.target,
            tolerance=take.tolerance,
        )
        for position, take in enumerate(takes, start=1)
    )


def _locked(pour: Pour, *states: str, doing: str) -> Pour:
    """Return the pour, locked, in one of these states, or say why not."""
    pour = Pour.objects.select_for_update(of=("self",)).get(pk=pour.pk)
    _refuse_unless(pour, *states, doing=doing)
    return pour


def _refuse_unless(pour: Pour, *states: str, doing: str) -> None:
    if pour.state not in states:
        raise CannotPour(f"Pour {pour.number} is {pour.get_state_display()}; {doing}")


# --- opening -------------------------------------------------------------------------------------


def open_pour(pour: Pour, *, at: datetime) -> Pour:
    """
    Begin at the bench: the formulas and designs are fixed from now on.

    The planned lots are kept where they still hold enough; else lots are chosen anew, oldest
    first. Raises ``CannotPour`` where the stores are short, with all that lacks.
    """
    with transaction.atomic():
        pour = _locked(pour, PourState.PLANNED, doing="only a planned pour is opened.")
        pitchers = list(pour.pitchers.select_related("formula_version__formula"))
        fillings = list(
            Filling.objects.filter(pitcher__pour=pour)
            .select_related("design_version__formula_version", "design_version__design")
            .order_by("pitcher__position", "id")
        )
        takes = list(pour.takes.select_related("item", "lot__item"))
        _fix_versions(pitchers, fillings)
        wanted = _scheme_again(pour, pitchers, fillings, takes)
        if wanted.shortages:
            raise CannotPour(f"The stores are short: {'; '.join(map(lacking, wanted.shortages))}.")
        if not _still_good(pour, takes, wanted, pitchers, fillings):
            pour.takes.all().delete()
            for pitcher, planned in zip(pitchers, wanted.pitchers, strict=True):
                pitcher.wax_mg, pitcher.mix_mg = planned.wax_mg, planned.mix_mg
                pitcher.save(update_fields=["wax_mg", "mix_mg"])
            _write_takes(pour, wanted.takes, pitchers, fillings)
        pour.state, pour.opened_at = PourState.OPEN, at
        pour.save(update_fields=["state", "opened_at"])
    return pour


def _fix_versions(pitchers: Sequence[Pitcher], fillings: Sequence[Filling]) -> None:
    designs = {filling.design_version_id for filling in fillings}
    formulas = {filling.design_version.formula_version_id for filling in fillings}
    formulas |= {pitcher.formula_version_id for pitcher in pitchers if pitcher.formula_version_id}
    DesignVersion.objects.filter(pk__in=designs, used=False).update(used=True)
    FormulaVersion.objects.filter(pk__in=formulas, used=False).update(used=True)


def _scheme_again(
    pour: Pour, pitchers: Sequence[Pitcher], fillings: Sequence[Filling], takes: Sequence[Take]
) -> Scheme:
    """Work the plan out anew: the stores, a formula or a safety limit may have changed since."""
    first = pitchers[0].formula_version or fillings[0].design_version.formula_version
    blend = waxes_of(first)
    wax_mg = sum(take.target for take in takes if take.use == Use.WAX)
    plans = []
    for place, pitcher in enumerate(pitchers):
        again = [
            (take.lot, take.target)
            for take in takes
            if take.lot is not None
            and (
                (take.use == Use.REMELT and take.pitcher_id == pitcher.pk)
                # Plain wax of a blend, put in by name; it belongs to the whole melt.
                or (place == 0 and take.use == Use.WAX and take.item_id not in blend)
            )
        ]
        own = [f for f in fillings if f.pitcher_id == pitcher.pk]
        plans.append(
            PitcherPlan(
                formula_version=pitcher.formula_version,
                fillings=[(filling.design_version, filling.wanted) for filling in own],
                remelts=again,
            )
        )
    return scheme(
        on=pour.on,
        pitchers=plans,
        division_mg=pour.scale_division_mg,
        loss_pct=pour.loss_pct,
        melter=pour.melter,
        extra_wax_mg=wax_mg - sum(pitcher.wax_mg for pitcher in pitchers),
        states=(PourState.OPEN,),
        without=pour.pk,
    )


def _still_good(
    pour: Pour,
    takes: Sequence[Take],
    wanted: Scheme,
    pitchers: Sequence[Pitcher],
    fillings: Sequence[Filling],
) -> bool:
    """Return whether the planned takes still ask for the same, of lots that still hold it."""
    if any(take.lot is None for take in takes):
        return False
    before: dict[tuple, int] = defaultdict(int)
    for take in takes:
        before[take.use, take.item_id, take.pitcher_id, take.filling_id] += take.target
    now: dict[tuple, int] = defaultdict(int)
    for new in wanted.takes:
        pitcher = None if new.pitcher is None else pitchers[new.pitcher].pk
        filling = None if new.filling is None else fillings[new.filling].pk
        now[new.use, new.item.pk, pitcher, filling] += new.target
    if before != now:
        return False
    of_lot: dict[int, int] = defaultdict(int)
    for take in takes:
        of_lot[take.lot_id] += take.target
    claimed = claims({take.item_id for take in takes}, states=(PourState.OPEN,), without=pour.pk)
    there = dict(
        Balance.objects.filter(lot__in=of_lot, place=Place.STORE).values_list("lot", "qty")
    )
    return all(there.get(lot, 0) - claimed.get(lot, 0) >= qty for lot, qty in of_lot.items())


def lacking(short: Shortage) -> str:
    """Return what lacks of an item in words, in both systems."""
    if short.item.by_mass:
        return (
            f"{short.item.name} lacks {_g(short.lacking)} of the {_g(short.needed)} that are needed"
        )
    return f"{short.item.name} lacks {short.lacking:,} of the {short.needed:,} that are needed"


def _g(mg: int) -> str:
    grams = amounts.from_mg(mg)
    return f"{amounts.show_mass(grams, 'metric')} ({amounts.show_mass(grams, 'us')})"


def shortages(pour: Pour) -> list[Shortage]:
    """Return what a planned pour lacks as it stands: what it could give no lot."""
    found: dict[int, list] = {}
    for take in pour.takes.select_related("item"):
        row = found.setdefault(take.item_id, [take.item, 0, 0])
        row[1] += take.target
        row[2] += take.target if take.lot_id else 0
    return [
        Shortage(item=item, needed=needed, there=there)
        for item, needed, there in found.values()
        if there < needed
    ]


# --- at the bench --------------------------------------------------------------------------------

AT_BENCH = "weights and readings are entered while it is at the bench."


def weigh(
    take: Take,
    *,
    actual: int,
    at: datetime,
    client_id: UUID | None = None,
    lot: Lot | None = None,
) -> Take:
    """
    Record what was really weighed or counted, in milligrams or pieces, and from which lot.

    Weighing again corrects it; each weight is kept as it was entered. A weight out of tolerance is
    taken as it is (``off_by`` tells); one that the lot cannot have given is refused.
    """
    with transaction.atomic():
        pour = Pour.objects.select_for_update().get(takes=take.pk)
        if client_id and (before := Weighing.objects.filter(client_id=client_id).first()):
            return before.take
        _refuse_unless(pour, PourState.OPEN, doing=AT_BENCH)
        take = Take.objects.select_related("item", "lot").get(pk=take.pk)
        if actual < 0:
            raise CannotPour(f"{take.item.name}: a weight is nothing or more.")
        source = lot or take.lot
        if source is None:
            raise CannotPour(f"Say which lot of {take.item.name} it came from.")
        if source.item_id != take.item_id:
            raise CannotPour(
                f"Lot {source.code} is {source.item.name}, and {take.item.name} is wanted; "
                f"take a lot of {take.item.name}."
            )
        _refuse_more_than_there(pour, take, source, actual)
        Weighing.objects.create(take=take, lot=source, actual=actual, at=at, client_id=client_id)
        take.actual, take.lot, take.weighed_at = actual, source, at
        take.save(update_fields=["actual", "lot", "weighed_at"])
    return take


def _refuse_more_than_there(pour: Pour, take: Take, lot: Lot, actual: int) -> None:
    there, _ = ledger.held(lot, Place.STORE)
    elsewhere = sum(
        other.actual if other.actual is not None else other.target
        for other in Take.objects.filter(lot=lot, pour__state=PourState.OPEN).exclude(pk=take.pk)
    )
    free = max(there - elsewhere, 0)
    if actual <= free:
        return
    if take.item.by_mass:
        raise CannotPour(
            f"{_g(actual)} of {take.item.name} from lot {lot.code}: by the books {_g(free)} of it "
            "are free. Weigh again, take another lot, or correct the count in the stores first."
        )
    raise CannotPour(
        f"{actual:,} of {take.item.name} from lot {lot.code}: by the books {free:,} of it are "
        "free. Count again, take another lot, or correct the count in the stores first."
    )


def off_by(take: Take) -> int:
    """Return by how much a weight is out of tolerance, with its sign; 0 within it or unweighed."""
    if take.actual is None:
        return 0
    off = take.actual - take.target
    return off if abs(off) > take.tolerance else 0


def rest_from(take: Take, *, lot: Lot) -> Take:
    """
    Ask for the rest of a weighing from another lot, because the first one ran out.

    Returns the new weighing. Asking again while that one is not yet weighed returns it.
    """
    with transaction.atomic():
        pour = Pour.objects.select_for_update().get(takes=take.pk)
        _refuse_unless(pour, PourState.OPEN, doing=AT_BENCH)
        take = Take.objects.select_related("item").get(pk=take.pk)
        if lot.item_id != take.item_id:
            raise CannotPour(f"Lot {lot.code} is not {take.item.name}; take a lot of that.")
        asked = pour.takes.filter(
            item=take.item, lot=lot, pitcher=take.pitcher, filling=take.filling, use=take.use,
            actual=None,
        ).first()  # fmt: skip
        if asked is not None:
            return asked
        rest = take.target - (take.actual or 0)
        if take.actual is None or rest <= 0:
            raise CannotPour(
                f"Enter what lot {take.lot.code if take.lot else ''} gave first; "
                "the rest then comes from another lot."
            )
        division = pour.scale_division_mg
        by_mass = take.item.by_mass
        extra = Take.objects.create(
            pour=pour,
            pitcher=take.pitcher,
            filling=take.filling,
            use=take.use,
            item=take.item,
            lot=lot,
            position=take.position,
            target=rest,
            tolerance=tolerance_of(rest, by_mass=by_mass, division_mg=division),
        )
        take.target = take.actual
        take.save(update_fields=["target"])
    return extra


def prepared(filling: Filling, *, at: datetime) -> None:
    """Note that a filling's vessels and wicks stand ready."""
    with transaction.atomic():
        _locked(filling.pitcher.pour, PourState.OPEN, doing=AT_BENCH)
        filling.takes.filter(use=Use.PIECE, weighed_at=None).update(weighed_at=at)


def draw_off(pitcher: Pitcher, *, actual: int, at: datetime) -> Pitcher:
    """Record how much wax was drawn off the melt into a pitcher, in milligrams."""
    with transaction.atomic():
        _locked(pitcher.pour, PourState.OPEN, doing=AT_BENCH)
        if actual < 0:
            raise CannotPour("Wax drawn off is nothing or more.")
        pitcher.wax_drawn_mg = actual
        pitcher.save(update_fields=["wax_drawn_mg"])
    return pitcher


# No melt is colder or hotter; beyond it the unit was mistaken. Common practice, no source.
COLDEST_C, HOTTEST_C = Decimal(-20), Decimal(150)


def read(
    pour: Pour,
    *,
    step: str,
    at: datetime,
    temp_c: Decimal | None = None,
    minutes: Decimal | None = None,
    pitcher: Pitcher | None = None,
    note: str = "",
    client_id: UUID | None = None,
) -> Reading:
    """Record the temperature (°C) and time at which a step happened, or how long it took."""
    with transaction.atomic():
        if client_id and (before := Reading.objects.filter(client_id=client_id).first()):
            return before
        pour = _locked(pour, PourState.OPEN, doing=AT_BENCH)
        if step not in Step.values:
            raise CannotPour(f"“{step}” is no step of a pour.")
        if pitcher is not None and pitcher.pour_id != pour.pk:
            raise CannotPour("That pitcher belongs to another pour.")
        if temp_c is not None and not COLDEST_C <= temp_c <= HOTTEST_C:
            shown = amounts.show_temperature(Fraction(temp_c), "metric")
            raise CannotPour(
                f"{shown} is not a temperature that wax is worked at; it lies between −20 °C and "
                "150 °C (−4 °F and 302 °F). Write the unit, such as 74 C or 165 F."
            )
        if minutes is not None and minutes < 0:
            raise CannotPour("Minutes are nothing or more.")
        if step == Step.ROOM and temp_c is not None:
            pour.room_c = temp_c
            pour.save(update_fields=["room_c"])
        return Reading.objects.create(
            pour=pour,
            pitcher=pitcher,
            step=step,
            temp_c=temp_c,
            minutes=minutes,
            at=at,
            note=note,
            client_id=client_id,
        )


# --- the end -------------------------------------------------------------------------------------


def close(
    pour: Pour,
    *,
    outcomes: Mapping[int, Outcome],
    left: Mapping[int, int],
    left_plain_mg: int = 0,
    minutes: Decimal | None = None,
    on: date,
    at: datetime,
    workshop: Workshop,
    client_id: UUID | None = None,
) -> Entry:
    """
    Close a pour: move what it took, make its lots with their costs, in one transaction.

    ``outcomes`` by filling, ``left`` (scented mix kept, mg) by pitcher, ``left_plain_mg`` plain
    wax kept. ``minutes`` of work in all; without them each design's own count. What was not
    weighed counts as its target where something came of it. Raises ``CannotClose``.
    """
    with transaction.atomic():
        if client_id and (before := Entry.objects.filter(client_id=client_id).first()):
            return before
        pour = _locked(pour, PourState.OPEN, doing="only a pour at the bench is closed.")
        return closing.close(
            pour,
            outcomes=outcomes,
            left=left,
            left_plain_mg=left_plain_mg,
            minutes=minutes,
            on=on,
            at=at,
            workshop=workshop,
            client_id=client_id,
        )


def abandon(pour: Pour, *, reason: str, at: datetime) -> Pour:
    """Give a pour up before anything was made of it; the stores stay as they are."""
    with transaction.atomic():
        pour = _locked(
            pour, PourState.PLANNED, PourState.OPEN, doing="it cannot be abandoned any more."
        )
        if not reason.strip():
            raise CannotPour("Abandoning a pour needs a reason: say what happened.")
        pour.state, pour.closed_at = PourState.ABANDONED, at
        pour.note = f"{pour.note}\nAbandoned: {reason.strip()}".strip()
        pour.save(update_fields=["state", "closed_at", "note"])
    return pour


def reopen(pour: Pour, *, reason: str, on: date, at: datetime) -> Pour:
    """
    Undo a closing, so that what was entered can be corrected; the lots keep their numbers.

    Refused once anything has happened to a lot of the pour since, or one is released.
    """
    with transaction.atomic():
        pour = _locked(pour, PourState.CLOSED, doing="only a closed pour is reopened.")
        lots = _lots_of(pour)
        _refuse_if_moved_on(pour, lots)
        ledger.undo(pour.entry, reason=reason, on=on, at=at)
        LotCost.objects.filter(lot__in=lots).delete()
        pour.takes.filter(use=Use.PIECE, target=0).delete()
        pour.takes.filter(use=Use.PIECE).update(actual=None)
        pour.pitchers.update(left_mg=None)
        Filling.objects.filter(pitcher__pour=pour).update(
            good=None, seconds=None, scrapped=None, fill_mg=None
        )
        pour.state, pour.entry, pour.closed_at = PourState.OPEN, None, None
        pour.save(update_fields=["state", "entry", "closed_at"])
    return pour


def _lots_of(pour: Pour) -> list[Lot]:
    """Return the lots that the closing made, locked."""
    made = set(pour.entry.moves.filter(from_place=Place.MADE).values_list("lot", flat=True))
    return list(Lot.objects.select_for_update().filter(pk__in=made).order_by("pk"))


def _refuse_if_moved_on(pour: Pour, lots: Sequence[Lot]) -> None:
    later = (
        Move.objects.filter(lot__in=lots, entry__undone_by__isnull=True, entry__undoes__isnull=True)
        .exclude(entry=pour.entry)
        .select_related("lot", "entry")
        .first()
    )
    if later is not None:
        raise CannotPour(
            f"Lot {later.lot.code} has gone on since ({later.entry.get_kind_display()} of "
            f"{later.entry.on.day} {later.entry.on:%b %Y}); undo that first, then reopen the pour."
        )
    for lot in lots:
        last = (
            lot.decisions.filter(what__in=[Decision.What.RELEASED, Decision.What.WITHDRAWN])
            .order_by("-id")
            .first()
        )
        if last is not None and last.what == Decision.What.RELEASED:
            raise CannotPour(
                f"Lot {lot.code} is released for sale; withdraw that first, with a reason."
            )


# --- melters -------------------------------------------------------------------------------------


def save_melter(melter: Melter) -> Melter:
    """Save a melter; it needs at least one capacity that says how much it takes."""
    if melter.capacity_mg is None and melter.capacity_ml is None:
        raise CannotPour("A melter needs a usable capacity: a mass, a volume, or both.")
    if melter.capacity_mg == 0 or melter.capacity_ml == 0:
        raise CannotPour("A melter's capacity is more than nothing.")
    melter.save()
    return melter
