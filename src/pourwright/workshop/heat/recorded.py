"""
The workshop's burns as the calibration takes them, and how fast a wick burns by them.

What the model is fitted to are burns of the same waxes with wicks of the same series: the first
burns of the newest pieces, each from cold, with as much wax as was left, its rate as weighed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from pourwright.core.burns.record import Reading
from pourwright.core.errors import BadInput
from pourwright.core.heat.burning import Candle
from pourwright.core.heat.calibrate import Recorded
from pourwright.core.heat.losses import Room
from pourwright.core.wicks.places import ring_radius_mm
from pourwright.workshop.burns.models import TestBurn, TestPiece
from pourwright.workshop.burns.records import core_readings, with_readings
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.heat.candles import Standing, standing_of
from pourwright.workshop.heat.materials import flame_of_workshop
from pourwright.workshop.stores.models import Item

MOST_BURNS = 6  # more add little, and each costs some ten seconds
LOOKED_AT = 200
LEAST_LEFT_MM = 15.0
LEAST_RATE_MINUTES = 60
# A depth is the burn's last where it was read within this share of its end.
LAST_SHARE = Decimal("0.85")
USUAL_ROOM_C = 21.0


class NoRate(BadInput):
    """How fast the wick burns is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """How fast one wick burns, g/h, and whose word that is."""

    g_h: float
    words: str


def rate_of(wick: Item, version: DesignVersion | None = None) -> Rate | None:
    """Return a wick's rate: as weighed in burns of the same waxes, else by its supplier."""
    burns = TestBurn.objects.filter(
        piece__wick=wick, left_out="", minutes__gte=LEAST_RATE_MINUTES,
        mass_before_mg__isnull=False, mass_after_mg__isnull=False,
    ).select_related("piece__version__formula_version").order_by("-id")[:LOOKED_AT]  # fmt: skip
    waxes_of = _Waxes()
    burnt_g = wick_hours = 0.0
    count = 0
    for burn in burns:
        if version is not None and waxes_of(burn.piece.version) != waxes_of(version):
            continue
        burnt_g += (burn.mass_before_mg - burn.mass_after_mg) / 1000
        wick_hours += float(burn.minutes) / 60 * burn.piece.wick_count
        count += 1
    if count and burnt_g > 0:
        burns_word = "burn" if count == 1 else "burns"
        return Rate(g_h=burnt_g / wick_hours, words=f"weighed in {count} {burns_word} of yours")
    facts = facts_of(wick, "wick")
    if facts is not None and facts.burn_rate_g_h is not None:
        return Rate(g_h=float(facts.burn_rate_g_h), words="the supplier’s chart")
    return None


class _Waxes(dict):
    """The waxes of formula versions, each asked for once."""

    def __call__(self, version: DesignVersion) -> frozenset[int]:
        pk = version.formula_version_id
        if pk not in self:
            self[pk] = frozenset(version.formula_version.waxes.values_list("item", flat=True))
        return self[pk]


# --- candles -------------------------------------------------------------------------------------


def candle_of(
    standing: Standing, *, rate_g_h: float, wicks: int, room_c: float = USUAL_ROOM_C,
    ring_mm: float | None = None, left: float = 1.0, name: str = "",
) -> Candle:  # fmt: skip
    """
    Return the core's candle; ``left`` is the share of the fill that is still there.

    Wicks stand on the ring of equal slices unless ``ring_mm`` says otherwise.
    """
    if ring_mm is None:
        ring_mm = ring_radius_mm(vessel_inner_radius_mm=standing.inside_mm / 2, wick_count=wicks)
    return Candle(
        name=name, wax=standing.wax, wall=standing.wall, inside_diameter_mm=standing.inside_mm,
        wax_depth_mm=standing.depth_mm * left, rim_mm=standing.rim_mm, base_mm=standing.base_mm,
        burn_rate_g_h=rate_g_h, wicks=wicks, ring_radius_mm=ring_mm, room=Room(air_c=room_c),
        flame=flame_of_workshop(),
    )  # fmt: skip


def ring_of(piece: TestPiece) -> float | None:
    """Return the mean distance of a piece's wicks from the middle; None where none are noted."""
    if not piece.positions or piece.wick_count == 1:
        return None
    return sum((x * x + y * y) ** 0.5 for x, y in piece.positions) / len(piece.positions)


def candle_of_piece(
    piece: TestPiece, *, before: TestBurn | None = None, room_c: float | None = None,
    rate_g_h: float | None = None,
) -> Candle:  # fmt: skip
    """
    Return a test piece as it stands before one of its burns (None: before its next).

    Raises ``NoRate``, and BadInput where its vessel is not measured.
    """
    rate = rate_g_h
    if rate is None:
        known = rate_of(piece.wick, piece.version)
        if known is None:
            raise NoRate(
                f"How fast {piece.wick.name} burns is not known: enter it with the wick in the "
                "stores, or weigh a burn."
            )
        rate = known.g_h
    burnt_g = 0.0
    for burn in piece.burns.filter(left_out="", minutes__isnull=False):
        if before is not None and burn.number >= before.number:
            continue
        weighed = burn.mass_before_mg is not None and burn.mass_after_mg is not None
        burnt_g += (
            (burn.mass_before_mg - burn.mass_after_mg) / 1000
            if weighed
            else rate * piece.wick_count * float(burn.minutes) / 60
        )
    version = piece.version
    version.fill_mg = piece.fill_mg  # what was poured into this one; the version is not saved
    left = max(1 - burnt_g * 1000 / piece.fill_mg, 0.01)
    return candle_of(
        standing_of(version), rate_g_h=rate, wicks=piece.wick_count, left=left,
        room_c=USUAL_ROOM_C if room_c is None else room_c, ring_mm=ring_of(piece),
        name=piece.number,
    )  # fmt: skip


# --- recorded burns ------------------------------------------------------------------------------


def recorded_for(
    version: DesignVersion, wick: Item, *, before: datetime | None = None
) -> list[Recorded]:
    """Return the burns that the model is fitted to for this wax and wick series, oldest first."""
    burns = with_readings(
        TestBurn.objects.filter(left_out="", minutes__isnull=False, piece__wick__kind="wick")
    ).select_related(
        "piece__version__formula_version", "piece__version__vessel__vessel", "piece__wick__wick"
    )
    if before is not None:
        burns = burns.filter(lit_at__lt=before)
    waxes_of, series = _Waxes(), _series(wick)
    found: list[tuple[datetime, Recorded]] = []
    # First burns first: from a full, level candle, which is what the model begins with.
    newest = sorted(burns.order_by("-lit_at")[:LOOKED_AT], key=lambda burn: burn.number)
    for burn in newest:
        if len(found) == MOST_BURNS:
            break
        if _series(burn.piece.wick) != series:
            continue
        if waxes_of(burn.piece.version) != waxes_of(version):
            continue
        one = recorded_of(burn)
        if one is not None:
            found.append((burn.lit_at, one))
    return [one for _, one in sorted(found, key=lambda pair: pair[0])]


def _series(wick: Item) -> tuple[str, int]:
    """Return what tells a wick's series: its name, or the wick itself where none is noted."""
    facts = facts_of(wick, "wick")
    return (facts.series, 0) if facts is not None and facts.series else ("", wick.pk)


def recorded_of(burn: TestBurn) -> Recorded | None:
    """Return a burn as the calibration takes it; None where there is nothing to learn from it."""
    weighed = burn.mass_before_mg is not None and burn.mass_after_mg is not None
    hours = float(burn.minutes) / 60
    if not 0.25 <= hours <= 24:
        return None
    rate = None
    if weighed:
        rate = (burn.mass_before_mg - burn.mass_after_mg) / 1000 / hours / burn.piece.wick_count
    room = None if burn.room_c is None else float(burn.room_c)
    try:
        candle = candle_of_piece(burn.piece, before=burn, room_c=room, rate_g_h=rate)
        if candle.wax_depth_mm < LEAST_LEFT_MM:
            return None
        found = _read(burn, candle, core_readings(burn.readings.all()), hours)
    except BadInput:
        return None
    return found if found.readings() else None


def _read(burn: TestBurn, candle: Candle, readings: Sequence[Reading], hours: float) -> Recorded:
    inside = candle.inside_diameter_mm
    pool = tuple(
        (float(r.minute) / 60, min(float(sum(r.pool_mm) / len(r.pool_mm)), inside))
        for r in readings
        if r.pool_mm and 0 < r.minute <= burn.minutes
    )
    depths = [r.depth_mm for r in readings
              if r.depth_mm is not None and r.minute >= LAST_SHARE * burn.minutes]  # fmt: skip
    walls = [w for r in readings for w in (r.wall_pool_c, r.wall_dry_c) if w is not None]
    full = burn.full_pool_minute
    return Recorded(
        candle=replace(candle, name=""), hours=hours,
        pool_mm=tuple((at, width) for at, width in pool if width > 0),
        depth_mm=float(depths[-1]) if depths else None,
        touches_h=None if full is None else float(full) / 60,
        wall_c=float(max(walls)) if walls else None,
    )  # fmt: skip
