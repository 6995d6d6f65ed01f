"""Numbers of a net check: cut off, written plainly, summed and spread exactly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

from pourwright.core.amounts import number


def cut(value: Fraction, places: int) -> Fraction:
    """Return a number of zero or more cut off after ``places`` decimals, never rounded up."""
    scale = 10**places
    return Fraction(int(value * scale), scale)


def raised(value: Fraction, step: Fraction) -> Fraction:
    """Return a number raised to the next multiple of ``step``, itself if it is one."""
    return -(-value // step) * step


def plain(value: Fraction | int, places: int) -> str:
    """Return a number as a label or a list writes it: no thousands mark, no closing zeros."""
    shown = number(Fraction(value), places=places).replace(",", "")
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def signed(value: Fraction, places: int) -> str:
    """Return an error with its sign: "+0.40", "−0.25"."""
    shown = number(value, places=places)
    return shown if value <= 0 else f"+{shown}"


@dataclass(frozen=True, slots=True)
class Spread:
    """A sample's size, mean and variance (divisor n - 1), all exact; the variance 0 for one."""

    count: int
    mean: Fraction
    variance: Fraction

    @property
    def sd(self) -> float:
        """Standard deviation, for showing; comparisons are made by squares, exactly."""
        return sqrt(self.variance)


def spread(values: Sequence[Fraction]) -> Spread:
    """Return the exact spread of one value or more."""
    count = len(values)
    mean = sum(values, Fraction(0)) / count
    squares = sum(((value - mean) ** 2 for value in values), Fraction(0))
    return Spread(count, mean, squares / (count - 1) if count > 1 else Fraction(0))
