"""What is poured: chosen by what the shelf lacks, weighed, closed, finished, checked, released."""

from __future__ import annotations

from collections import defaultdict
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.db import transaction

from pourwright.workshop.demo import burning, weighing
from pourwright.workshop.demo.buying import RECALL_LOT
from pourwright.workshop.demo.catalogue import design_row, release_design
from pourwright.workshop.demo.life import G, Life
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.pours import services as pours
from pourwright.workshop.pours.models import Filling, Pitcher, Pour, Step, Use
from pourwright.workshop.pours.planning import blend_name, waxes_of
from pourwright.workshop.pours.services import CannotPour, Outcome, PitcherPlan
from pourwright.workshop.shelf import services as shelf
from pourwright.workshop.stores import ledger, services
from pourwright.workshop.stores.models import Item, Kind, Lot, Origin, Place

# Away: two weeks in summer, ten days at the turn of the year.
AWAY = ((198, 212), (318, 328), (563, 577), (683, 690))
NET_SEEN = (
    "Five of the lot weighed on the bench scale: the lightest held {least} g, label says {label} g."
)
AGAIN_NET = "Came back unopened; the lot it was sold from was weighed before."
OLD_STOCK = "From before the books: the batch sheet is in the folder, poured and cured that spring."
MOST_AT_ONCE, LEAST_AT_ONCE = 22, 8
MOST_WAX_MG = 7_500 * G
ABANDONED_POUR = 23
TESTERS = 3
LAST_FINISH = 7  # days before the end: the last pour still waits for its trimming


@dataclass(frozen=True, slots=True)
class Wish:
    """So many of a design that the shelf lacks."""

    key: str
    version: DesignVersion
    number: int


def is_pour_day(life: Life) -> bool:
    """Return whether the maker pours: once a week, twice before the winter markets."""
    if any(first <= life.day < last for first, last in AWAY) or life.day < 2:
        return False
    if life.days_left in (0, 1):
        return False
    winter = life.on.month in (10, 11)
    return life.day % 7 == 2 or (winter and life.day % 14 == 5)


def season(life: Life) -> float:
    """Return how much of a design's usual number is wanted on the shelf at this time of year."""
    month = (life.on + timedelta(days=25)).month
    first_year = 0.7 if life.day < 365 else 1.0
    return first_year * {10: 1.3, 11: 1.7, 12: 1.6, 1: 0.8, 2: 0.9, 7: 0.8}.get(month, 1.0)


def pour_what_lacks(life: Life) -> None:
    """Pour the design that the shelf lacks most, or two that share a melt; fewer where it must."""
    for wishes in _melts(life):
        number = {wish.key: wish.number for wish in wishes}
        while max(number.values()) >= LEAST_AT_ONCE // 2:
            plans = [_pitcher(life, wish, number[wish.key]) for wish in wishes]
            pour, extra_mg = _planned(life, plans)
            if pour is not None:
                _pour(life, pour, extra_mg=extra_mg)
                return
            number = {key: n * 2 // 3 for key, n in number.items()}


def _melts(life: Life) -> list[list[Wish]]:
    """Return what could be poured, the most wanted first: one design, or two of the same wax."""
    wishes = _wishes(life)
    by_wax: dict[tuple, list[Wish]] = defaultdict(list)
    for wish in wishes:
        by_wax[_wax_of(wish.version)].append(wish)
    pairs = [group[:2] for group in by_wax.values() if len(group) > 1]
    singles = [[wish] for wish in wishes]
    return pairs + singles if life.chance("pours").random() < 0.25 else singles


def _wishes(life: Life) -> list[Wish]:
    found = []
    shelf_holds = life.held(Place.SHELF)
    for key, version in life.designs.items():
        row = design_row(key)
        if not row.get("released", True) and version.used:
            continue
        there = shelf_holds.get(version.design.candle_id, 0)
        lacks = round(row["wanted"] * season(life)) - there
        number = min(max(lacks, LEAST_AT_ONCE), MOST_AT_ONCE)
        if lacks > 3:
            found.append((lacks / row["wanted"], Wish(key, version, number - number % 2)))
    return [wish for _, wish in sorted(found, key=lambda pair: (-pair[0], pair[1].key))]


def _wax_of(version: DesignVersion) -> tuple:
    parts = version.formula_version.waxes.all()
    return tuple((part.item_id, part.share) for part in parts)


def _pitcher(life: Life, wish: Wish, number: int) -> PitcherPlan:
    number = max(number, 2)
    room = number * wish.version.fill_mg // 3
    return PitcherPlan(
        formula_version=wish.version.formula_version,
        fillings=[(wish.version, number)],
        remelts=_to_remelt(life, wish.version, room),
    )


def _to_remelt(life: Life, version: DesignVersion, room: int) -> list[tuple[Lot, int]]:
    """Melt again what is left of the same formula, up to a third of the pitcher."""
    remelts = []
    division = life.workshop.scale_division_mg
    for balance in ledger.oldest_first(_left_as(version)):
        take = min(balance.qty, room)
        take -= take % division
        if take > 20 * G:
            remelts.append((balance.lot, take))
            room -= take
    return remelts


def _left_as(version: DesignVersion) -> Item:
    """Return the item that a design's mix is kept as: plain blends have one of their own."""
    formula = version.formula_version
    blend = waxes_of(formula)
    if len(blend) > 1 and not formula.oils.exists():
        name = blend_name(blend.values())
        return Item.objects.filter(kind=Kind.WAX, name=name).first() or formula.formula.mix
    return formula.formula.mix


# --- one pour ------------------------------------------------------------------------------------


def _planned(life: Life, plans: list[PitcherPlan]) -> tuple[Pour | None, int]:
    """Return the pour as planned and the wax melted beyond it; no pour where something lacks."""
    extra = 300 * G if life.chance("bench").random() < 0.12 and len(plans) == 1 else 0
    fresh = sum(n * v.fill_mg for plan in plans for v, n in plan.fillings) + extra
    if fresh > MOST_WAX_MG:
        return None, 0
    with suppress(_Short), transaction.atomic():
        pour = pours.plan(
            on=life.on,
            pitchers=plans,
            workshop=life.workshop,
            melter=life.melters[1 if fresh > 4_500 * G else 0],
            extra_wax_mg=extra,
        )
        if pours.shortages(pour):
            raise _Short
        return pour, extra
    return None, 0


class _Short(Exception):
    """The stores do not suffice: forget the plan."""


def _pour(life: Life, pour: Pour, *, extra_mg: int) -> None:
    life.pours += 1
    if life.pours == ABANDONED_POUR:
        pours.abandon(pour, reason="power cut before the wax had melted", at=life.at(10))
        return
    pours.open_pour(pour, at=life.at(9, 5))
    weigh_all(life, pour)
    read_all(life, pour)
    close(life, pour, extra_mg=extra_mg)


def weigh_all(life: Life, pour: Pour, *, most: int | None = None) -> None:
    """Weigh, a division or two off as a hand does, in the order of the bench."""
    dice = life.chance("scale")
    takes = list(pour.takes.exclude(use=Use.PIECE).select_related("item"))
    for minute, take in enumerate(takes[:most]):
        off = dice.choice((-1, 0, 0, 0, 1)) * pour.scale_division_mg
        actual = (
            take.target + off if abs(off) <= take.tolerance and take.target > 5 * G else take.target
        )
        at = life.at(9 + (10 + 3 * minute) // 60, (10 + 3 * minute) % 60)
        try:
            pours.weigh(take, actual=actual, at=at)
        except CannotPour:
            # The lot holds exactly what was planned of it.
            pours.weigh(take, actual=take.target, at=at)


def read_all(life: Life, pour: Pour) -> None:
    dice = life.chance("thermometer")
    room = Decimal(dice.randint(185, 224)) / 10
    pours.read(pour, step=Step.ROOM, at=life.at(9), temp_c=room)
    pours.read(pour, step=Step.MELT, at=life.at(10, 5), temp_c=Decimal(dice.randint(75, 80)))
    for pitcher in pour.pitchers.select_related("formula_version"):
        version = pitcher.formula_version
        steps = [(Step.POUR, version.pour_at_c, None)]
        if version.add_at_c is not None:
            stirred = version.stir_minutes
            steps = [(Step.ADD, version.add_at_c, None), (Step.STIR, None, stirred), *steps]
        for minute, (step, temp, minutes) in enumerate(steps):
            off = Decimal(dice.choice((-10, -5, 0, 0, 5))) / 10
            at = life.at(10, 15 + 12 * pitcher.position + 3 * minute)
            pours.read(
                pour, step=step, at=at, pitcher=pitcher, minutes=minutes,
                temp_c=None if temp is None else temp + off,
            )  # fmt: skip


def close(life: Life, pour: Pour, *, extra_mg: int = 0) -> None:
    """Enter what came of it; keep what is left in a pitcher when it is worth keeping."""
    outcomes: dict[int, Outcome] = {}
    left: dict[int, int] = {}
    for pitcher in pour.pitchers.all():
        for filling in pitcher.fillings.select_related("design_version"):
            outcomes[filling.pk] = _outcome(life, filling)
        left[pitcher.pk] = _left_of(life, pitcher, outcomes)
    pours.close(
        pour,
        outcomes=outcomes,
        left=left,
        left_plain_mg=max(extra_mg - 12 * G, 0),
        on=life.on,
        at=life.at(13, 30),
        workshop=life.workshop,
    )
    for filling in Filling.objects.filter(pitcher__pour=pour).select_related(
        "lot__item", "seconds_lot__item", "design_version"
    ):
        days = life.chance("finish").choice((1, 2, 2, 3))
        for lot in filter(None, (filling.lot, filling.seconds_lot)):
            due = life.on + timedelta(days=days)
            life.to_finish.append((due, lot, filling.design_version))


def _outcome(life: Life, filling: Filling) -> Outcome:
    """Mostly all good; now and then a second (a frosted top) or one for the bin."""
    dice = life.chance("outcome")
    wanted = filling.wanted
    seconds = dice.choice((0, 0, 0, 0, 0, 1, 1, 2)) if wanted > 4 else 0
    scrapped = dice.choice((0,) * 9 + (1,)) if wanted > 4 else 0
    fewer = 1 if _keeps_some(filling.pitcher) or dice.random() < 0.1 else 0
    good = max(wanted - seconds - scrapped - fewer, 1)
    return Outcome(good=good, seconds=seconds, scrapped=scrapped)


def _keeps_some(pitcher: Pitcher) -> bool:
    """The oil lot of the recall also goes into a leftover, which is melted again."""
    return pitcher.takes.filter(use=Use.OIL, lot__supplier_lot=RECALL_LOT).exists()


def _left_of(life: Life, pitcher: Pitcher, outcomes: dict[int, Outcome]) -> int:
    mix = pitcher.wax_mg + sum(
        take.target if take.actual is None else take.actual
        for take in pitcher.takes.exclude(use=Use.PIECE)
    )
    poured = sum(
        outcomes[filling.pk].poured * filling.design_version.fill_mg
        for filling in pitcher.fillings.select_related("design_version")
    )
    over = (mix - poured) * 7 // 10
    division = pitcher.pour.scale_division_mg
    return over - over % division if over > 90 * G else 0


# --- after the pour ------------------------------------------------------------------------------


def finish_what_has_set(life: Life) -> None:
    """Trim, wipe, label and box what is a day or two old, as far as the parts go."""
    later = []
    for due, lot, version in life.to_finish:
        if due > life.on or life.days_left < LAST_FINISH or not _finish(life, lot, version):
            later.append((due, lot, version))
    life.to_finish = later


def _finish(life: Life, lot: Lot, version: DesignVersion) -> bool:
    held, _ = ledger.held(lot, Place.SHELF)
    if not held or shelf.parts_short(shelf.parts_needed(version, held)):
        return not held
    shelf.finish(
        lot,
        checks=dict.fromkeys(Finishing.CHECKS, True),
        by=life.workshop.maker,
        minutes=Decimal(held) * Decimal("1.5"),
        on=life.on,
        at=life.at(15),
        workshop=life.workshop,
    )
    life.to_release.append((lot, version))
    _testers(life, lot, version)
    return True


def _testers(life: Life, lot: Lot, version: DesignVersion) -> None:
    """The first lot of a design gives three testers; they burn down, and the design is released."""
    if version.pk in life.released or lot.origin != Origin.POUR:
        return
    if not lot.item.lots.filter(origin=Origin.TESTER).exists():
        services.set_aside(
            lot=lot, place=Place.SHELF, qty=TESTERS, origin=Origin.TESTER, on=life.on,
            at=life.at(15, 30), note="to burn down before the design is released",
        )  # fmt: skip


def burn_testers(life: Life) -> None:
    """Burn a tester on a Sunday; with the last one the design is released."""
    if life.day % 5 or life.day < 10:
        return
    for key, version in life.designs.items():
        if version.pk in life.released or key == burning.SERIES:
            continue
        row = design_row(key)
        testers = version.design.candle.lots.filter(origin=Origin.TESTER).first()
        if testers is None:
            continue
        held, _ = ledger.held(testers, Place.TEST)
        keep = 0 if row.get("released", True) else 1
        if held > keep:
            shelf.burn(
                testers, qty=1, on=life.on, at=life.at(19),
                reason="burnt to the end, four hours at a time",
            )  # fmt: skip
            if held == 1:
                release_design(life, key)


def release_what_has_cured(life: Life) -> None:
    """Weigh five of each cured lot, later all of it, and release it."""
    later = []
    for lot, version in life.to_release:
        if lot.ready_on >= life.on or version.pk not in life.released or life.days_left < 3:
            later.append((lot, version))
            continue
        _release(life, lot, version)
    life.to_release = later


def _release(life: Life, lot: Lot, version: DesignVersion) -> None:
    if weighing.is_logged(life):
        weighing.net_check(life, lot, version)
        gates.release(lot, by=life.workshop.maker, on=life.on, at=life.at(16, 5))
        return
    label = version.fill_mg // G - 5
    least = label + life.chance("net").randint(2, 5)
    gates.waive(
        subject=lot, check_name="net", reason=NET_SEEN.format(least=least, label=label),
        by=life.workshop.maker, at=life.at(16),
    )  # fmt: skip
    gates.release(lot, by=life.workshop.maker, on=life.on, at=life.at(16, 5))


def release_again(life: Life, lot: Lot) -> None:
    """What came back unopened is ticked, passed and released like any lot."""
    _tick_and_release(life, lot, reason=AGAIN_NET)


def release_old_stock(life: Life, lot: Lot) -> None:
    """Stock from before the books has no pour; each check is passed by hand or ticked."""
    _tick_and_release(life, lot, reason=OLD_STOCK)


def _tick_and_release(life: Life, lot: Lot, *, reason: str) -> None:
    maker = life.workshop.maker
    checks = dict.fromkeys(Finishing.CHECKS, True)
    shelf.finish(
        lot, checks=checks, by=maker, on=life.on, at=life.at(12, 30), workshop=life.workshop
    )
    for check in gates.lot_checks(lot, on=life.on):
        if not check.passed:
            gates.waive(
                subject=lot, check_name=check.name, reason=reason, by=maker, at=life.at(12, 35)
            )
    gates.release(lot, by=maker, on=life.on, at=life.at(12, 40))
