"""What the burn book's pages read: pieces in lists, what is due, verdicts, a burn's curve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count, Q, Sum
from django.utils import timezone

from pourwright.core.amounts import System, show_length, show_temperature
from pourwright.core.burns.due import due_minutes, pool_deadline_h
from pourwright.core.burns.house import HouseLimits
from pourwright.core.burns.record import Burn, Candle, Reading
from pourwright.core.burns.verdict import BurnVerdict, judge_burn
from pourwright.core.errors import BadInput
from pourwright.core.rules import rule
from pourwright.papers.burn_pictures import Band, Curve, Limit, Panel, burn_svg
from pourwright.papers.candle import CandleDrawing, Pool
from pourwright.workshop.burns import records
from pourwright.workshop.burns.models import PieceState, TestBurn, TestPiece
from pourwright.workshop.designs import services as designs
from pourwright.workshop.formulas.services import core_formula, with_parts

TABS = (
    ("", "Open"), ("curing", "Curing"), ("ready", "Ready"), ("ended", "Finished and discarded"),
    ("all", "All"),
)  # fmt: skip
ALIGHT = Q(left_out="", minutes=None)
# A reading is asked for this long before it is due, so that it is taken in time.
EARLY_MINUTES = 3


# --- pieces --------------------------------------------------------------------------------------


def listed(tab: str, *, on: date):
    """Return the pieces of a tab, the newest first, with how often and how long they burned."""
    counted = Q(burns__left_out="")
    rows = (
        TestPiece.objects.select_related(
            "version__design", "version__vessel__vessel", "version__formula_version", "wick", "lot"
        )
        .prefetch_related(*with_parts("version__formula_version__"))
        .annotate(
            burnt_times=Count("burns", filter=counted),
            burnt_minutes=Sum("burns__minutes", filter=counted),
            burns_now=Count("burns", filter=counted & Q(burns__minutes=None)),
        )
        .order_by("-id")
    )
    if tab == "all":
        return rows
    if tab == "ended":
        return rows.exclude(state=PieceState.OPEN)
    rows = rows.filter(state=PieceState.OPEN)
    if tab == "curing":
        return rows.filter(ready_on__gt=on)
    if tab == "ready":
        return rows.filter(Q(ready_on=None) | Q(ready_on__lte=on))
    return rows


def dressed(rows: Sequence[TestPiece], *, on: date) -> None:
    """Put on each listed piece its icon and its state in a word."""
    for row in rows:
        row.icon = designs.icon_of(_drawn(row))
        row.tone, row.word = state_of(row, alight=bool(row.burns_now), on=on)
        row.hours = hours_words(row.burnt_minutes)
        row.cure = cure_words(row, on=on)


def state_of(piece: TestPiece, *, alight: bool, on: date) -> tuple[str, str]:
    """Return a piece's state as tone and word."""
    if piece.state == PieceState.FINISHED:
        return "quiet", "finished"
    if piece.state == PieceState.DISCARDED:
        return "quiet", "discarded"
    if alight:
        return "warn", "burns now"
    if piece.ready_on and piece.ready_on > on:
        left = (piece.ready_on - on).days
        return "wait", f"{left} day{'' if left == 1 else 's'} to cure"
    return "ok", "ready"


def cure_words(piece: TestPiece, *, on: date) -> str:
    """Return a piece's cure age in words."""
    days = ((piece.ended_on or on) - piece.poured_on).days
    return f"{days} day{'' if days == 1 else 's'}"


def hours_words(minutes) -> str:
    """Return minutes as hours and minutes: ``3:05``."""
    if not minutes:
        return "–"
    whole = round(minutes)
    return f"{whole // 60}:{whole % 60:02d}"


def _drawn(piece: TestPiece) -> CandleDrawing:
    version = piece.version
    return designs.draw(
        vessel=designs.core_vessel(version.vessel),
        density_g_ml=designs.cold_density_g_ml(core_formula(version.formula_version)),
        fill_mg=piece.fill_mg,
        wick_count=piece.wick_count,
        trim_mm=float(piece.trim_mm),
        name=f"{piece.number}, {version.design.name}",
    )


def drawing_of(piece: TestPiece, *, lit: bool = False) -> CandleDrawing:
    """Return a piece's drawing: its wicks where they stand, its pool as it was last read."""
    found = _drawn(piece)
    if piece.positions:
        places = tuple((float(x), float(y)) for x, y in piece.positions)
        found = replace(found, wick_positions_mm=places)
    pool = None
    for burn in records.burns_of(piece):
        for reading in records.core_readings(burn.readings.all()):
            if reading.pool_mm:
                pool = reading
    if pool is not None and found.fill_height_mm:
        wide = float(sum(pool.pool_mm) / len(pool.pool_mm))
        depth = min(float(pool.depth_mm or 6), found.fill_height_mm)
        found = replace(found, pool=Pool(diameter_mm=wide, depth_mm=depth, source="measured"))
    return replace(found, lit=lit)


def alight() -> list[TestBurn]:
    """Return what burns now, the longest first."""
    return list(
        TestBurn.objects.filter(ALIGHT)
        .select_related("piece__version__design", "session")
        .order_by("lit_at")
    )


def ready_to_light(*, on: date):
    """Return open pieces that have cured and do not burn."""
    return (
        TestPiece.objects.filter(state=PieceState.OPEN)
        .filter(Q(ready_on=None) | Q(ready_on__lte=on))
        .exclude(burns__in=TestBurn.objects.filter(ALIGHT))
        .exclude(burns__in=TestBurn.objects.filter(left_out="", last=True))
        .select_related("version__design", "wick")
        .order_by("version__design__name", "id")
    )


# --- verdicts ------------------------------------------------------------------------------------

TONES = {
    "fail": "bad", "out of scope": "quiet", "incomplete": "wait", "under-wicked": "warn",
    "over-wicked": "warn", "warn": "warn", "criteria met": "ok",
}  # fmt: skip
STANDING_TONES = {
    "passed": "ok", "failed": "bad", "criteria not met": "warn", "not complete": "wait",
    "no series": "wait",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A burn with what it showed; ``problem`` where it cannot be judged."""

    burn: TestBurn
    core: Burn | None
    verdict: BurnVerdict | None
    problem: str = ""

    @property
    def rate_mg_per_h(self) -> int | None:
        rate = self.core and self.core.rate_g_per_h
        return round(1000 * rate) if rate else None

    @property
    def tone(self) -> str:
        return TONES[self.verdict.verdict] if self.verdict else "wait"

    @property
    def word(self) -> str:
        if self.burn.minutes is None:
            return "burns now"
        return self.verdict.words if self.verdict else "not judged"


def judged(burn: TestBurn, *, units: System) -> Judged:
    """Return a burn's verdict under the rules of the day on which it was lit, in these units."""
    on = timezone.localdate(burn.lit_at)
    core = None
    try:
        core = records.core_burn(burn)
        verdict = judge_burn(
            core, records.candle_of(burn.piece), on=on, house=records.limits_on(on), units=units
        )
    except BadInput as problem:
        return Judged(burn=burn, core=core, verdict=None, problem=str(problem))
    return Judged(burn=burn, core=core, verdict=verdict)


# --- what is due ---------------------------------------------------------------------------------

ASKS = {"flame": "Flame", "pool": "Pool", "wall": "Wall", "soot": "Soot, wick"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A reading that is asked for: ``state`` is read, now, missed or later."""

    group: str
    minute: int
    at: datetime
    state: str

    @property
    def title(self) -> str:
        return ASKS[self.group]


def has_read(group: str, reading: Reading) -> bool:
    """Return whether a reading holds what a group asks for."""
    if group == "flame":
        return bool(reading.flame_mm)
    if group == "pool":
        return len(reading.pool_mm) >= 2 or reading.depth_mm is not None
    if group == "wall":
        return bool(reading.walls)
    return reading.soot is not None or reading.mushroom_mm is not None


def due_of(
    burn: TestBurn,
    readings: Sequence[Reading],
    *,
    candle: Candle | None,
    house: HouseLimits,
    minute: Decimal,
) -> list[Due]:
    """
    Return the readings that a burn asks for, in order, as they stand at a minute.

    Flame and pool are due as the core says; outside temperatures, soot and the wick's head are
    asked with each pool and at the end.
    """
    found = []
    within = house.rule["due_within_minutes"]
    for due, groups in _asked(burn, candle=candle, house=house).items():
        for group in groups:
            read = any(abs(r.minute - due) <= within and has_read(group, r) for r in readings)
            state = "later"
            if read:
                state = "read"
            elif minute > due + within:
                state = "missed"
            elif minute >= due - EARLY_MINUTES:
                state = "now"
            at = burn.lit_at + timedelta(minutes=due)
            found.append(Due(group=group, minute=due, at=at, state=state))
    return found


def _asked(
    burn: TestBurn, *, candle: Candle | None, house: HouseLimits
) -> dict[int, tuple[str, ...]]:
    """
    Return the groups that are asked for at each minute.

    What lies close together is asked once, at the earlier time: the pool is to be seen before it
    must be full.
    """
    until = Fraction(burn.planned_minutes)
    every = house.rule["pool_due_every_minutes"]
    if candle is None:
        hourly = [*range(every, int(until) + 1, every)]
        flame, pool = {*house.rule["flame_due_minutes"], *hourly}, {*hourly}
    else:
        core = due_minutes(candle, house, until=until)
        flame, pool = ({int(m) for m in core[name]} for name in ("flame", "pool"))
    pool |= {int(until)}
    found: dict[int, tuple[str, ...]] = {}
    for minute in sorted(m for m in flame | pool if m <= until):
        near = [m for m in found if minute - m < house.rule["due_within_minutes"]]
        asked = tuple(ASKS) if minute in pool else ("flame",)
        if near:
            found[near[-1]] = tuple(g for g in ASKS if g in (*found[near[-1]], *asked))
        else:
            found[minute] = asked
    return found


def by_minute(due: Sequence[Due]) -> list[tuple[int, datetime, list[Due]]]:
    """Return what is due, together for each time."""
    found: dict[int, list[Due]] = {}
    for one in due:
        found.setdefault(one.minute, []).append(one)
    return [(minute, rows[0].at, rows) for minute, rows in found.items()]


def asked_first(due: Sequence[Due]) -> str:
    """Return the group to be read first: what is due now, else what comes next."""
    for state in ("now", "missed", "later"):
        for one in due:
            if one.state == state and (state != "missed" or not _read_since(due, one)):
                return one.group
    return "flame"


def _read_since(due: Sequence[Due], missed: Due) -> bool:
    return any(
        one.state == "read" and one.group == missed.group and one.minute > missed.minute
        for one in due
    )


# --- the curve -----------------------------------------------------------------------------------


def band_of(burn: TestBurn):
    """
    Return the model's band for a burn, or None where there is none.

    ``heat.services.band_for(burn)`` gives an object with ``bands``, by ``pool_mm``, ``depth_mm``
    and ``wall_c`` each a sequence of (hours, low, high), and ``words`` of what it is.
    """
    try:
        from pourwright.workshop.heat import services as heat

        found = heat.band_for(burn)
    except (ImportError, AttributeError):
        return None
    except BadInput:
        return None
    return found


def curves_of(
    burn: TestBurn,
    core: Burn | None,
    *,
    candle: Candle | None,
    house: HouseLimits,
    units: str,
    minute: Decimal | None,
    widths: Sequence[int] = (560, 330),
) -> list[str]:
    """Return a burn's curve at each width: pool, depth, wall and flame with their limits."""
    readings = core.readings if core else ()
    if not readings and candle is None:
        return []
    panels = _panels(burn, readings, candle=candle, house=house, units=units)
    planned = burn.minutes if burn.minutes is not None else burn.planned_minutes
    until = float(planned) / 60
    now_h = None if minute is None or burn.minutes is not None else float(minute) / 60
    desc = f"{len(readings)} readings; the figures stand in the table beside it."
    return [
        str(
            burn_svg(
                panels, until_h=until, now_h=now_h, title=f"{burn}: what was read over the hours",
                desc=desc, width=width, prefix=f"curve-{width}",
            )
        )
        for width in widths
    ]  # fmt: skip


def _panels(
    burn: TestBurn,
    readings: Sequence[Reading],
    *,
    candle: Candle | None,
    house: HouseLimits,
    units: str,
) -> list[Panel]:
    us = units == "us"

    def mm(value) -> float:
        return float(value) / 25.4 if us else float(value)

    def c(value) -> float:
        return float(value) * 9 / 5 + 32 if us else float(value)

    def length(value: float) -> str:
        return f"{value:.3g} in" if us else f"{value:.4g} mm"

    def heat(value: float) -> str:
        return f"{value:.4g} °F" if us else f"{value:.4g} °C"

    def limit(value, *, warm: bool = False, words: str) -> Limit:
        shown = (
            show_temperature(Fraction(value), units)
            if warm
            else show_length(Fraction(value), units)
        )
        return Limit(value=c(value) if warm else mm(value), label=f"{words} {shown}")

    def curve(label: str, look: int, value, to) -> Curve:
        points = tuple(
            (float(r.minute) / 60, to(found)) for r in readings if (found := value(r)) is not None
        )
        return Curve(label=label, look=look, points=points)

    model = band_of(burn)

    def band(name: str, to) -> Band | None:
        points = model.bands.get(name) if model else None
        if not points:
            return None
        return Band(points=tuple((h, to(low), to(high)) for h, low, high in points),
                    label="modelled")  # fmt: skip

    pool_limits: tuple[Limit, ...] = ()
    moments: tuple[tuple[float, str], ...] = ()
    if candle is not None:
        pool_limits = (limit(candle.inside_diameter_mm, words="vessel"),)
        deadline = float(pool_deadline_h(candle, house))
        moments = ((deadline, "full by"),)
    if burn.full_pool_minute is not None:
        moments = (*moments, (float(burn.full_pool_minute) / 60, "full"))
    fire = rule("burns/fire_safety_eu", on=timezone.localdate(burn.lit_at))
    walls = (
        curve("at the pool", 1, lambda r: r.wall_pool_c, c),
        curve("above it", 2, lambda r: r.wall_dry_c, c),
        curve("base", 3, lambda r: r.base_c, c),
    )
    return [
        Panel(
            title="Pool’s width", show=length, limits=pool_limits, moments=moments,
            curves=(curve("width", 1, _mean_pool, mm),), band=band("pool_mm", mm),
        ),
        Panel(
            title="Pool’s depth", show=length, band=band("depth_mm", mm),
            curves=(curve("depth", 1, lambda r: r.depth_mm, mm),),
            limits=(limit(house["pool_depth_mm"], words="at most"),),
        ),
        Panel(
            title="Outside", show=heat, curves=tuple(w for w in walls if w.points) or walls[:1],
            limits=(
                limit(house["wall_warn_c"], warm=True, words="warn above"),
                limit(house["wall_fail_c"], warm=True, words="fail above"),
            ),
            band=band("wall_c", c),
        ),
        Panel(
            title="Flame, the highest", show=length,
            curves=(curve("flame", 1, lambda r: max(r.flame_mm, default=None), mm),),
            limits=(
                limit(house["flame_warn_mm"], words="warn above"),
                limit(fire["flame_mm"], words="fail above"),
            ),
        ),
    ]  # fmt: skip


def _mean_pool(reading: Reading) -> Fraction | None:
    if not reading.pool_mm:
        return None
    return sum(reading.pool_mm, Fraction(0)) / len(reading.pool_mm)
