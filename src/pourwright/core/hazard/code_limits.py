"""
The fragrance industry's own limits: how much of each oil a finished candle may hold.

A supplier's certificate gives an oil's limit for each category of product; candles are in category
12. The code binds its members only and says nothing about classification or labels. An oil may be
within its limit and still need a hazard label, and the other way round.

Source: rules/industry/oil_limits.toml.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

RULE: Final = "industry/oil_limits"
NO_RESTRICTION: Final = Fraction(100)


class BadOilLimit(BadInput):
    """A limit or a share that no oil has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeOil:
    """
    An oil of a blend: its share of the oils, in any unit common to all, and its limit.

    ``limit_pct_of_whole`` is of the finished candle, 0 to 100; 100 is ``NO_RESTRICTION``, and None
    says that no certificate is on record.
    """

    name: str
    share: Fraction
    limit_pct_of_whole: Fraction | None = None

    def __post_init__(self) -> None:
        if self.share < 0:
            raise BadOilLimit(f"The share of {self.name} is below zero; it is zero or more.")
        limit = self.limit_pct_of_whole
        if limit is not None and not 0 <= limit <= 100:
            raise BadOilLimit(
                f"The limit of {self.name} is {float(limit):g} %; it lies between 0 and 100 % of "
                'the candle. "No restriction" is 100 %.'
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class OilAtLimit:
    """
    One oil of the blend against its own limit.

    ``load_pct_of_whole`` is the load of the whole blend at which this oil reaches its limit; above
    100 it never does. ``dose_pct_of_whole`` and ``within`` are at the load asked about.
    """

    oil: CodeOil
    share_of_oils: Fraction
    load_pct_of_whole: Fraction | None
    dose_pct_of_whole: Fraction | None = None
    within: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeLimits:
    """
    What a blend may be loaded with, percent of the whole candle, by two tests.

    ``each_pct_of_whole``: every oil alone within its limit, min(L_i / w_i). It does not suffice
    where two oils share a restricted substance. ``together_pct_of_whole``: the sum of dose over
    limit at most 1, 1 / sum(w_i / L_i); it always suffices, so it is the lower. Both leave out the
    oils in ``unknown``, of which no certificate is on record. At a given load ``used`` is that sum
    (1 is full), and ``within_each`` and ``within_together`` answer the tests; all three are None
    without a load.
    """

    oils: tuple[OilAtLimit, ...]
    each_pct_of_whole: Fraction
    together_pct_of_whole: Fraction
    tightest: tuple[str, ...]
    unknown: tuple[str, ...]
    used: Fraction | None
    within_each: bool | None
    within_together: bool | None
    rule: Rule

    @property
    def standing(self) -> str:
        """In a few words, what such a limit is and is not."""
        return f"{self.rule['standing']}"


def code_limits(
    oils: Sequence[CodeOil], *, on: date, load_pct_of_whole: Fraction | None = None
) -> CodeLimits:
    """
    Return the highest load of a blend by each oil's limit, and where a load stands.

    An oil without a share is left out. "No restriction" counts as 100 %: its restricted substances
    may fill their limits in the pure oil. Loads are at most 100 %. Raises ``BadOilLimit`` where no
    oil has a share, or the load is not between 0 and 100 %.
    """
    if load_pct_of_whole is not None and not 0 <= load_pct_of_whole <= 100:
        raise BadOilLimit(
            f"The load is {float(load_pct_of_whole):g} % of the whole; it lies between 0 and 100 %."
        )
    blend = [oil for oil in oils if oil.share > 0]
    total = sum((oil.share for oil in blend), Fraction(0))
    if not total:
        raise BadOilLimit("The blend has no oil with a share; give at least one.")
    rows = tuple(_row(oil, oil.share / total, load_pct_of_whole) for oil in blend)
    known = [row for row in rows if row.load_pct_of_whole is not None]
    each = min([NO_RESTRICTION, *(_load(row) for row in known)])
    used_per_pct = _used_per_pct(known)
    if used_per_pct is None:
        together, used = Fraction(0), None
    else:
        together = min(NO_RESTRICTION, 1 / used_per_pct) if used_per_pct else NO_RESTRICTION
        used = None if load_pct_of_whole is None else load_pct_of_whole * used_per_pct
    asked = load_pct_of_whole
    return CodeLimits(
        oils=rows,
        each_pct_of_whole=each,
        together_pct_of_whole=together,
        tightest=tuple(row.oil.name for row in known if _load(row) == each < NO_RESTRICTION),
        unknown=tuple(row.oil.name for row in rows if row.load_pct_of_whole is None),
        used=used,
        within_each=None if asked is None else asked <= each,
        within_together=None if asked is None else asked <= together,
        rule=rule(RULE, on=on),
    )


def _row(oil: CodeOil, share: Fraction, load: Fraction | None) -> OilAtLimit:
    limit = oil.limit_pct_of_whole
    dose = None if load is None else load * share
    return OilAtLimit(
        oil=oil,
        share_of_oils=share,
        load_pct_of_whole=None if limit is None else limit / share,
        dose_pct_of_whole=dose,
        within=None if limit is None or dose is None else dose <= limit,
    )


def _load(row: OilAtLimit) -> Fraction:
    assert row.load_pct_of_whole is not None
    return row.load_pct_of_whole


def _used_per_pct(rows: Sequence[OilAtLimit]) -> Fraction | None:
    """Return how much of the room one percent of load takes; None where an oil may not be used."""
    if any(_load(row) == 0 for row in rows):
        return None
    return sum((1 / _load(row) for row in rows), Fraction(0))
