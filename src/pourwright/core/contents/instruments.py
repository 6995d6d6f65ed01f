"""
Checks of the workshop's instruments: a test weight on the scale, ice and boiling water for the
thermometer. What the fills and temperatures lean on.

Water boils below 100 °C wherever the air is thinner: the point is worked out from the pressure, or
from the altitude by the standard atmosphere.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import log10, pow

from pourwright.core.contents.figures import plain, signed
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

# How far a thermometer may be off, and how long a check is leant on. Common practice, no source.
THERMOMETER_TOLERANCE_C = Fraction(1)
CHECK_DAYS = 180


class BadReading(BadInput):
    """A reading of a check that cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How far an instrument was off in a check, and whether that is within what is allowed."""

    off: Fraction
    allowed: Fraction
    passed: bool
    words: str


def scale_outcome(*, test_g: Fraction, reading_g: Fraction, allowed_g: Fraction) -> Outcome:
    """Return how a scale read a test weight of known mass."""
    if test_g <= 0:
        raise BadReading("A test weight is more than 0.")
    off = reading_g - test_g
    passed = abs(off) <= allowed_g
    words = f"{plain(test_g, 3)} g read as {plain(reading_g, 3)} g: off by {signed(off, 3)} g, "
    words += f"{plain(allowed_g, 3)} g allowed."
    return Outcome(off=off, allowed=allowed_g, passed=passed, words=words)


def thermometer_outcome(
    *, true_c: Fraction, reading_c: Fraction, allowed_c: Fraction = THERMOMETER_TOLERANCE_C
) -> Outcome:
    """Return how a thermometer read a fixed point."""
    off = reading_c - true_c
    passed = abs(off) <= allowed_c
    words = f"{plain(true_c, 1)} °C read as {plain(reading_c, 1)} °C: off by {signed(off, 1)} °C, "
    words += f"{plain(allowed_c, 1)} °C allowed."
    return Outcome(off=off, allowed=allowed_c, passed=passed, words=words)


def pressure_kpa(*, altitude_m: float) -> float:
    """
    Return the mean pressure of the air at an altitude of -500 to 5000 m.

    p = 101.325 (1 - 2.25577e-5 h)^5.25588. Source: ICAO standard atmosphere (from memory, high).
    A day's weather moves it by some 3 %, which is about 1 °C at the boiling point.

    >>> round(pressure_kpa(altitude_m=800), 1)
    92.1
    """
    if not -500 <= altitude_m <= 5000:
        raise BadReading(f"{altitude_m:g} m; give an altitude of -500 to 5000 m.")
    table = _points()
    factor = 1 - float(table["altitude_factor"]) * altitude_m
    return float(table["sea_level_kpa"]) * pow(factor, float(table["altitude_power"]))


def boiling_point_c(*, kpa: float) -> float:
    """
    Return where water boils at a pressure of 50 to 110 kPa, within 0.1 °C.

    Antoine: T = B / (A - log10 p) - C, p in mmHg. Source: handbook constants (from memory, high).
    """
    if not 50 <= kpa <= 110:
        raise BadReading(
            f"{kpa:g} kPa; give the pressure where you are, 50 to 110 kPa (1013 hPa is 101.3)."
        )
    table = _points()
    mmhg = kpa / float(table["kpa_per_mmhg"])
    a, b, c = (float(table[f"antoine_{letter}"]) for letter in "abc")
    return b / (a - log10(mmhg)) - c


def _points() -> Rule:
    return rule("quality/instrument_checks", on=date(2026, 11, 25))


def leans_on(checked_on: date | None, *, on: date, days: int = CHECK_DAYS) -> tuple[bool, str]:
    """Return whether a check is recent enough to lean on, and its age in words."""
    if checked_on is None:
        return False, "never checked"
    age = (on - checked_on).days
    if age < 0:
        return False, "checked after this day"
    words = "checked that day" if age == 0 else f"checked {age} day{'s'[: age > 1]} before"
    return age <= days, words
