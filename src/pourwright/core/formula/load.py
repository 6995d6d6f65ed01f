"""
A fragrance load, which always carries its basis.

"Of the wax" is the trade's habit: oil per hundred of wax. "Of the whole" is what safety sheets and
the law mean: oil per hundred of everything in the candle. The two types compare with their own kind
only, and turn into each other only when asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.amounts import number
from pourwright.core.errors import BadInput


class LoadOutOfRange(BadInput):
    """The load is one that no candle has."""


@dataclass(frozen=True, slots=True, order=True)
class LoadOfWax:
    """Oil as a percentage of the wax's mass, 0 to 100."""

    pct_of_wax: Fraction

    def __post_init__(self) -> None:
        if not 0 <= self.pct_of_wax <= 100:
            raise LoadOutOfRange(
                f"Load is {_shown(self.pct_of_wax)} % of the wax; a load lies between 0 and 100 %."
            )

    def of_whole(self, *, extras_pct_of_wax: Fraction = Fraction(0)) -> LoadOfWhole:
        """
        Return the same load on the whole: 100 a / (100 + a + e).

        ``extras_pct_of_wax`` (e) is dye and additives, which are part of the whole.

        >>> LoadOfWax(Fraction(25)).of_whole().pct_of_whole
        Fraction(20, 1)
        """
        whole = 100 + self.pct_of_wax + extras_pct_of_wax
        return LoadOfWhole(100 * self.pct_of_wax / whole)

    def __str__(self) -> str:
        return f"{_shown(self.pct_of_wax)} % of the wax"


@dataclass(frozen=True, slots=True, order=True)
class LoadOfWhole:
    """Oil as a percentage of the candle's whole mass (wax, oil, dye and additives), 0 to 50."""

    pct_of_whole: Fraction

    def __post_init__(self) -> None:
        if not 0 <= self.pct_of_whole <= 50:
            raise LoadOutOfRange(
                f"Load is {_shown(self.pct_of_whole)} % of the whole; "
                "a load lies between 0 and 50 %."
            )

    def of_wax(self, *, extras_pct_of_wax: Fraction = Fraction(0)) -> LoadOfWax:
        """
        Return the same load on the wax: h (100 + e) / (100 - h).

        ``extras_pct_of_wax`` (e) is dye and additives, which are part of the whole.

        >>> LoadOfWhole(Fraction(20)).of_wax().pct_of_wax
        Fraction(25, 1)
        """
        rest = 100 - self.pct_of_whole
        return LoadOfWax(self.pct_of_whole * (100 + extras_pct_of_wax) / rest)

    def __str__(self) -> str:
        return f"{_shown(self.pct_of_whole)} % of the whole"


Load = LoadOfWax | LoadOfWhole

NO_LOAD = LoadOfWax(Fraction(0))


def as_load_of_wax(load: Load, *, extras_pct_of_wax: Fraction) -> LoadOfWax:
    """Return ``load`` on the wax, converting only where it is on the whole."""
    if isinstance(load, LoadOfWax):
        return load
    return load.of_wax(extras_pct_of_wax=extras_pct_of_wax)


def as_load_of_whole(load: Load, *, extras_pct_of_wax: Fraction) -> LoadOfWhole:
    """Return ``load`` on the whole, converting only where it is on the wax."""
    if isinstance(load, LoadOfWhole):
        return load
    return load.of_whole(extras_pct_of_wax=extras_pct_of_wax)


def _shown(value: Fraction) -> str:
    return number(value, places=3, strip=True)
