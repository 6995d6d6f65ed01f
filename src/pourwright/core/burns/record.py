"""
A test burn as it is written down: the piece, its readings, and the series that pieces make.

Lengths in mm, temperatures in °C, times in minutes from lighting, masses in g; exact fractions, so
that a reading equal to a limit keeps it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from fractions import Fraction

from pourwright.core.amounts import INCH_MM, number
from pourwright.core.errors import BadInput


class BadBurn(BadInput):
    """A burn whose figures cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """
    What was read at one time of a burn; what was not read is None or empty.

    ``flame_mm`` has one height a wick, pool surface to tip. ``pool_mm`` has the pool's width in
    two directions. Walls are outside temperatures. ``soot`` is 0 none to 3 thick.
    """

    minute: Fraction
    flame_mm: tuple[Fraction, ...] = ()
    pool_mm: tuple[Fraction, ...] = ()
    depth_mm: Fraction | None = None
    wall_pool_c: Fraction | None = None
    wall_dry_c: Fraction | None = None
    base_c: Fraction | None = None
    soot: int | None = None
    mushroom_mm: Fraction | None = None

    @property
    def wall_c(self) -> Fraction | None:
        """The hottest of the outside temperatures read."""
        return max(self.walls, default=None)

    @property
    def walls(self) -> tuple[Fraction, ...]:
        read = (self.wall_pool_c, self.wall_dry_c, self.base_c)
        return tuple(temperature for temperature in read if temperature is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Candle:
    """
    What the verdict must know of the candle that burns.

    ``inside_diameter_mm`` is the vessel's at the wax, or that of a circle of equal area.
    """

    inside_diameter_mm: Fraction
    wick_count: int = 1
    container: bool = True
    tea_light: bool = False

    def __post_init__(self) -> None:
        if not 10 <= self.inside_diameter_mm <= 600:
            raise BadBurn(
                f"Inside diameter {number(self.inside_diameter_mm, places=1, strip=True)} mm is no "
                "candle's; give 10 to 600 mm."
            )
        if not 1 <= self.wick_count <= 20:
            raise BadBurn(f"{self.wick_count} wicks; a candle here has 1 to 20.")

    @property
    def inches(self) -> Fraction:
        return self.inside_diameter_mm / INCH_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Burn:
    """
    One burn of one piece, from lighting until it was out.

    ``minutes`` is None while it burns. ``full_pool_minute`` is when the pool was seen to reach the
    wall all round. ``last`` says that the piece was to burn to its natural end; whether it
    ``went_out_by_itself`` is then asked. ``vessel_failed`` says in words what cracked or leaked.
    ``afterglow_s`` has one time a wick. ``soot_index`` is a laboratory's, per hour.
    """

    number: int
    minutes: Fraction | None
    readings: tuple[Reading, ...]
    full_pool_minute: Fraction | None = None
    mass_before_g: Fraction | None = None
    mass_after_g: Fraction | None = None
    room_c: Fraction | None = None
    humidity_pct: Fraction | None = None
    draught: str = ""
    trim_mm: Fraction | None = None
    cure_days: int | None = None
    afterglow_s: tuple[Fraction, ...] = ()
    relit: bool | None = None
    secondary_flame_s: Fraction | None = None
    vessel_failed: str = ""
    pool_flashed: bool = False
    soot_index: Fraction | None = None
    last: bool = False
    went_out_by_itself: bool | None = None
    residue_mm: Fraction | None = None
    residue_g: Fraction | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _sensible(self)

    @property
    def burned_g(self) -> Fraction | None:
        if self.mass_before_g is None or self.mass_after_g is None:
            return None
        return self.mass_before_g - self.mass_after_g

    @property
    def rate_g_per_h(self) -> Fraction | None:
        """Wax burned an hour, by weighing; None where it was not weighed or not ended."""
        if self.burned_g is None or not self.minutes:
            return None
        return self.burned_g * 60 / self.minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """
    A test piece and its burns in order.

    ``part_only`` says that its whole life is not asked of it: a try in the search for a wick, or a
    piece given up. What it showed still counts, against the design as for it.
    """

    name: str
    burns: tuple[Burn, ...]
    part_only: bool = False

    @property
    def whole_life(self) -> bool:
        """Whether it was burnt to its natural end, no burn left out."""
        numbers = [burn.number for burn in self.burns]
        ended = bool(self.burns) and self.burns[-1].last and self.burns[-1].minutes is not None
        return ended and numbers == list(range(1, len(numbers) + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """All pieces of one design that were put to the test."""

    candle: Candle
    pieces: tuple[Piece, ...]

    @property
    def burns(self) -> tuple[Burn, ...]:
        return tuple(burn for piece in self.pieces for burn in piece.burns)


def _sensible(burn: Burn) -> None:
    """Refuse what cannot have been read: times that go back, a candle that gained mass."""
    if burn.number < 1:
        raise BadBurn(f"Burn {burn.number}; a piece's burns are counted from 1.")
    if burn.minutes is not None and not 0 < burn.minutes <= 6000:
        raise BadBurn(f"Burn {burn.number} lasts {_plain(burn.minutes)} min; give 0 to 6000.")
    times = [reading.minute for reading in burn.readings]
    if times != sorted(set(times)) or (times and times[0] < 0):
        raise BadBurn(
            f"Burn {burn.number}: readings are written in order of time, from 0 min, each once; "
            f"found {', '.join(_plain(time) for time in times)}."
        )
    ends = burn.minutes
    if ends is not None and times and times[-1] > ends:
        raise BadBurn(
            f"Burn {burn.number}: a reading at {_plain(times[-1])} min, after its end at "
            f"{_plain(ends)} min."
        )
    if burn.full_pool_minute is not None and not 0 <= burn.full_pool_minute <= (ends or 6000):
        raise BadBurn(
            f"Burn {burn.number}: the pool is full at {_plain(burn.full_pool_minute)} min, which "
            "is not within the burn."
        )
    if burn.burned_g is not None and burn.burned_g < 0:
        raise BadBurn(
            f"Burn {burn.number}: {_plain(burn.mass_after_g or 0)} g after and "
            f"{_plain(burn.mass_before_g or 0)} g before; a candle loses mass."
        )
    for reading in burn.readings:
        _not_negative(f"Burn {burn.number}, {_plain(reading.minute)} min", reading)
    _not_negative(f"Burn {burn.number}", burn)


def _not_negative(where: str, record: Reading | Burn) -> None:
    for field in fields(record):
        value = getattr(record, field.name)
        if field.name in ("readings", "room_c") or isinstance(value, str | bool):
            continue
        given: Sequence[Fraction | None] = value if isinstance(value, tuple) else (value,)
        if any(part is not None and part < 0 for part in given):
            raise BadBurn(f"{where}: {field.name} is below zero.")


def _plain(value: Fraction | int) -> str:
    return number(value, places=2, strip=True)
