"""
Walks through the candles that lie near one: the load moves, or one oil's dose, all else held.

Along a path one number t moves and every concentration is a quotient of two straight lines,

    c_i(t) = (a_i + b_i t) / (d + e t),

because what is added also makes the whole heavier. With the denominators multiplied out, every
comparison of a weighted sum with a limit is linear in t, so that the points at which a rule turns
are exact fractions (``headroom``). a, b, d and e are integers over one common denominator, left
out because it cancels.

Two walks:

* **The load** moves from nothing; the oils keep their shares of the blend, the wax and the dyes
  and additives (in percent of the wax) stay.
* **One oil's dose** moves from nothing; the other oils' doses, the wax, the dyes and the additives
  stay as they are. The load thus moves with it; the others are not cut to make room, because that
  is what a maker does who adds a little more of one oil to the melt.

t is in percent of the wax on both; ``pct_of_whole_at`` gives the same on the other basis.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.core.formula import Formula
from pourwright.core.hazard.model import (
    Composition,
    Ingredient,
    Mixture,
    Portion,
    Range,
    Substance,
    joined,
    mixture_of,
)

# A walk reaches at least this load: most waxes take less. Common practice, no source.
SENSIBLE_MOST_PCT_OF_WAX = Fraction(12)
MOST_PCT_OF_WAX = Fraction(100)


class NoWalk(BadInput):
    """There is nothing to move, or the place asked for lies outside the walk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """So much of a material for every hundred of wax."""

    composition: Composition
    pct_of_wax: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Doses:
    """
    A candle by its doses on the wax. The waxes come to 100 together.

    A material whose safety sheet is not at hand is a ``Composition`` without ingredients: it counts
    in the whole and brings nothing.
    """

    waxes: tuple[Dose, ...]
    oils: tuple[Dose, ...] = ()
    extras: tuple[Dose, ...] = ()

    def __post_init__(self) -> None:
        if any(dose.pct_of_wax < 0 for dose in self.all):
            raise NoWalk("A dose is less than nothing; give 0 or more percent of the wax.")
        if sum((dose.pct_of_wax for dose in self.waxes), Fraction(0)) != 100:
            raise NoWalk("The waxes do not come to 100 % of the wax.")

    @property
    def all(self) -> tuple[Dose, ...]:
        return (*self.waxes, *self.oils, *self.extras)

    @property
    def load_pct_of_wax(self) -> Fraction:
        return sum((dose.pct_of_wax for dose in self.oils), Fraction(0))

    @property
    def mix_pct_of_wax(self) -> Fraction:
        """Everything in the mix, in percent of the wax."""
        return sum((dose.pct_of_wax for dose in self.all), Fraction(0))

    @property
    def portions(self) -> tuple[Portion, ...]:
        mix = self.mix_pct_of_wax
        return tuple(
            Portion(composition=dose.composition, pct_of_whole=100 * dose.pct_of_wax / mix)
            for dose in self.all
        )

    @property
    def mixture(self) -> Mixture:
        return mixture_of(self.portions)


def doses_of(
    formula: Formula,
    *,
    oils: Mapping[str, Composition],
    waxes: Mapping[str, Composition] | None = None,
    extras: Mapping[str, Composition] | None = None,
) -> Doses:
    """
    Return a formula's doses; the mappings give each part's composition by its name in the formula.

    A part without a composition is taken to bring nothing; the caller says so to the maker.
    """
    waxes, extras = waxes or {}, extras or {}
    load = formula.load_pct_of_wax

    def dose(name: str, known: Mapping[str, Composition], pct_of_wax: Fraction) -> Dose:
        composition = known.get(name) or Composition(name=name)
        return Dose(composition=composition, pct_of_wax=pct_of_wax)

    return Doses(
        waxes=tuple(
            dose(part.name, waxes, 100 * fraction)
            for part, fraction in zip(formula.waxes, formula.wax_fractions, strict=True)
        ),
        oils=tuple(
            dose(part.name, oils, load * fraction)
            for part, fraction in zip(formula.oils, formula.oil_fractions, strict=True)
        ),
        extras=tuple(dose(part.name, extras, part.pct_of_wax) for part in formula.extras),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One material on a walk: its dose is ``start + slope t``."""

    composition: Composition
    start: Fraction
    slope: Fraction
    is_oil: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """
    A walk: every concentration along one number t, from ``low`` to ``high``.

    The concentration of the substance at a place in ``substances`` is, in percent of the whole,
    ``(starts[place] + slopes[place] t) / (whole_start + whole_slope t)``, all integers; the order
    is that of ``mixture_at(t).present``. What moves is ``moved_slope t`` over the same. ``unit``
    says what t is in.
    """

    kind: Literal["load", "oil", "amount"]
    name: str
    unit: str
    low: Fraction
    high: Fraction
    present: Fraction
    legs: tuple[Leg, ...]
    substances: tuple[Substance, ...]
    starts: tuple[int, ...]
    slopes: tuple[int, ...]
    whole_start: int
    whole_slope: int
    moved_slope: int

    def whole_at(self, t: Fraction) -> Fraction:
        """Return the whole candle in the unit of the doses."""
        return sum((leg.start + leg.slope * t for leg in self.legs), Fraction(0))

    def concentrations_at(self, t: Fraction) -> tuple[Fraction, ...]:
        """Return percent of the whole of each substance, in the order of ``substances``."""
        self._check(t)
        # (a + b p/q) / (d + e p/q), with one division a substance.
        p, q = t.numerator, t.denominator
        whole = self.whole_start * q + self.whole_slope * p
        return tuple(
            Fraction(start * q + slope * p, whole)
            for start, slope in zip(self.starts, self.slopes, strict=True)
        )

    def portions_at(self, t: Fraction) -> tuple[Portion, ...]:
        self._check(t)
        whole = self.whole_at(t)
        return tuple(
            Portion(
                composition=leg.composition, pct_of_whole=100 * (leg.start + leg.slope * t) / whole
            )
            for leg in self.legs
        )

    def mixture_at(self, t: Fraction) -> Mixture:
        """Return the whole candle at t, as ``classify`` takes it."""
        return mixture_of(self.portions_at(t))

    def pct_of_whole_at(self, t: Fraction) -> Fraction:
        """Return what moves (all oil, the one, or all that is listed) in percent of the whole."""
        p, q = t.numerator, t.denominator
        return Fraction(self.moved_slope * p, self.whole_start * q + self.whole_slope * p)

    def t_of_whole(self, pct_of_whole: Fraction) -> Fraction:
        """Return t at which what moves is ``pct_of_whole``, 0 to below 100, of the whole."""
        rest = self.moved_slope - pct_of_whole * self.whole_slope
        if rest <= 0 or pct_of_whole < 0:
            raise NoWalk(f"{float(pct_of_whole):g} % of the whole is never reached.")
        return pct_of_whole * self.whole_start / rest

    def share_at(self, t: Fraction) -> Fraction | None:
        """Return an oil's share of all oil in percent at t; None on other walks or without oil."""
        if self.kind != "oil":
            return None
        oil = sum((leg.start + leg.slope * t for leg in self.legs if leg.is_oil), Fraction(0))
        return 100 * t / oil if oil else None

    def _check(self, t: Fraction) -> None:
        if t < 0 or self.whole_at(t) <= 0:
            raise NoWalk(f"The place {float(t):g} lies outside the walk.")


def load_path(doses: Doses, *, most_pct_of_wax: Fraction | None = None) -> Path:
    """
    Return the walk along the load, the oils' shares held.

    It reaches twice the present load and at least ``SENSIBLE_MOST_PCT_OF_WAX``, but no more than
    100 % of the wax; ``most_pct_of_wax`` sets another end. Raises ``NoWalk`` without oil.
    """
    return _load_path(doses, _Table.of(doses), most_pct_of_wax)


def oil_path(doses: Doses, place: int, *, most_pct_of_wax: Fraction | None = None) -> Path:
    """
    Return the walk along the dose of the oil at ``place``, the other oils and the wax held.

    It reaches twice the oil's dose and at least the present load of all oils, but no more than
    100 % of the wax; ``most_pct_of_wax`` sets another end. Raises ``NoWalk`` for no such oil.
    """
    return _oil_path(doses, place, _Table.of(doses), most_pct_of_wax)


def all_paths(doses: Doses) -> tuple[Path, ...]:
    """Return the walk along the load and then one along each oil's dose."""
    table = _Table.of(doses)
    load = _load_path(doses, table, None)
    if len(doses.oils) == 1:
        return (load,)
    return (load, *(_oil_path(doses, place, table, None) for place in range(len(doses.oils))))


def amount_path(mixture: Mixture) -> Path:
    """
    Return the walk for a candle of which only the whole's substances are known.

    t is the amount of everything listed in percent of what it is now: 50 is half of each. It
    reaches 200, or what fills the whole.
    """
    listed = sum((presence.pct_of_whole for presence in mixture.present), Fraction(0))
    if not listed:
        raise NoWalk("Nothing is listed, so there is nothing to move.")
    composition = Composition(
        name="what is listed",
        ingredients=tuple(
            Ingredient(
                substance=presence.substance,
                pct=Range(high=presence.pct_of_whole, open_above=presence.open_above),
            )
            for presence in mixture.present
        ),
    )
    scale = lcm(*(presence.pct_of_whole.denominator for presence in mixture.present))
    return Path(
        kind="amount",
        name="amount",
        unit="% of the present amount",
        low=Fraction(0),
        # Listed upper ends may come to more than the whole; the present is always on the walk.
        high=max(Fraction(100), min(Fraction(200), 10_000 / listed)),
        present=Fraction(100),
        legs=(Leg(composition=composition, start=Fraction(0), slope=Fraction(1)),
              Leg(composition=Composition(name="the rest"), start=Fraction(100),
                  slope=Fraction(-1))),
        substances=tuple(presence.substance for presence in mixture.present),
        starts=(0,) * len(mixture.present),
        slopes=tuple(int(presence.pct_of_whole * scale) for presence in mixture.present),
        whole_start=100 * scale,
        whole_slope=0,
        moved_slope=int(listed * scale),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Table:
    """What each material of a candle brings of each substance, over one denominator."""

    substances: tuple[Substance, ...]
    # A row a material: (place of the substance, percent of the material times ``scale``).
    rows: tuple[tuple[tuple[int, int], ...], ...]
    scale: int

    @classmethod
    def of(cls, doses: Doses) -> _Table:
        places: dict[str, int] = {}
        said: list[list[Substance]] = []
        found: list[list[tuple[int, Fraction]]] = []
        for dose in doses.all:
            alone = mixture_of([Portion(composition=dose.composition, pct_of_whole=Fraction(100))])
            row = []
            for presence in alone.present:
                key = presence.substance.key
                if key not in places:
                    places[key] = len(said)
                    said.append([])
                said[places[key]].append(presence.substance)
                row.append((places[key], presence.pct_of_whole))
            found.append(row)
        scale = lcm(*(pct.denominator for row in found for _, pct in row))
        return cls(
            # Sheets may differ on a substance: what ``mixture_of`` makes of that holds here too.
            substances=tuple(joined(one) for one in said),
            rows=tuple(
                tuple((place, pct.numerator * (scale // pct.denominator)) for place, pct in row)
                for row in found
            ),
            scale=scale,
        )

    def brought(self, amounts: Sequence[int]) -> list[int]:
        """Return what these amounts of the materials bring of each substance."""
        total = [0] * len(self.substances)
        for amount, row in zip(amounts, self.rows, strict=True):
            if amount:
                for place, pct in row:
                    total[place] += amount * pct
        return total


def _load_path(doses: Doses, table: _Table, most: Fraction | None) -> Path:
    load = doses.load_pct_of_wax
    if load <= 0:
        raise NoWalk("There is no oil in the formula, so there is no load to move.")
    legs = [
        *(_held(dose) for dose in doses.waxes),
        *(
            Leg(
                composition=dose.composition,
                start=Fraction(0),
                slope=dose.pct_of_wax / load,
                is_oil=True,
            )
            for dose in doses.oils
        ),
        *(_held(dose) for dose in doses.extras),
    ]
    reach = max(2 * load, SENSIBLE_MOST_PCT_OF_WAX)
    return _path("load", "load", legs, table, present=load, most=most, reach=reach)


def _oil_path(doses: Doses, place: int, table: _Table, most: Fraction | None) -> Path:
    if not 0 <= place < len(doses.oils):
        raise NoWalk(f"The formula has {len(doses.oils)} oils; there is no oil {place + 1}.")
    moved = doses.oils[place]
    legs = [
        *(_held(dose) for dose in doses.waxes),
        *(_held(dose, is_oil=True) for dose in doses.oils),
        *(_held(dose) for dose in doses.extras),
    ]
    legs[len(doses.waxes) + place] = Leg(
        composition=moved.composition, start=Fraction(0), slope=Fraction(1), is_oil=True
    )
    reach = max(2 * moved.pct_of_wax, doses.load_pct_of_wax)
    return _path(
        "oil", moved.composition.name, legs, table,
        present=moved.pct_of_wax, most=most, reach=reach,
    )  # fmt: skip


def _held(dose: Dose, *, is_oil: bool = False) -> Leg:
    return Leg(
        composition=dose.composition, start=dose.pct_of_wax, slope=Fraction(0), is_oil=is_oil
    )


def _path(
    kind: Literal["load", "oil"],
    name: str,
    legs: Sequence[Leg],
    table: _Table,
    *,
    present: Fraction,
    most: Fraction | None,
    reach: Fraction,
) -> Path:
    high = min(reach, MOST_PCT_OF_WAX) if most is None else most
    scale = lcm(*(number.denominator for leg in legs for number in (leg.start, leg.slope)))
    starts = [int(leg.start * scale) for leg in legs]
    slopes = [int(leg.slope * scale) for leg in legs]
    return Path(
        kind=kind,
        name=name,
        unit="% of the wax",
        low=Fraction(0),
        high=max(high, present),
        present=present,
        legs=tuple(legs),
        substances=table.substances,
        starts=tuple(table.brought(starts)),
        slopes=tuple(table.brought(slopes)),
        whole_start=sum(starts) * table.scale,
        whole_slope=sum(slopes) * table.scale,
        moved_slope=100 * sum(slopes) * table.scale,
    )
