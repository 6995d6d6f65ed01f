"""A formula: what goes into a candle's wax, as shares and percentages. Amounts come later."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.amounts import number
from pourwright.core.errors import BadInput
from pourwright.core.formula.load import (
    NO_LOAD,
    Load,
    LoadOfWax,
    LoadOfWhole,
    as_load_of_wax,
    as_load_of_whole,
)

MOST_OILS = 12


class BadFormula(BadInput):
    """The parts do not make a formula."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaxPart:
    """
    One wax of the blend.

    ``share`` is a part by mass, more than zero. ``max_load`` is the supplier's limit for oil, on
    the basis that the supplier states. Densities are in g/ml: cold, and liquid when melted.
    """

    name: str
    share: Fraction = Fraction(1)
    max_load: Load | None = None
    density_g_per_ml: Fraction | None = None
    liquid_density_g_per_ml: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OilPart:
    """
    One fragrance oil.

    ``share`` is a part by mass of all oils, more than zero. ``max_pct_of_whole`` is its safety
    limit: the most of this oil, in percent of the finished candle, that its sheet allows.
    """

    name: str
    share: Fraction = Fraction(1)
    flash_point_c: Fraction | None = None
    max_pct_of_whole: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """Dye or another additive, in percent of the wax's mass."""

    name: str
    pct_of_wax: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """
    Waxes and oils by share, extras by percent of the wax, and a load on one of its two bases.

    ``adding_temp_c`` is the wax's temperature when the oils go in. Raises ``BadFormula`` where
    there is no wax, a share is not above zero, a name comes twice, or oils and load disagree.
    """

    waxes: tuple[WaxPart, ...]
    load: Load = NO_LOAD
    oils: tuple[OilPart, ...] = ()
    extras: tuple[Extra, ...] = ()
    adding_temp_c: Fraction | None = None

    def __post_init__(self) -> None:
        if not self.waxes:
            raise BadFormula("A formula needs a wax, and none was given.")
        if len(self.oils) > MOST_OILS:
            raise BadFormula(
                f"A formula takes up to {MOST_OILS} oils and {len(self.oils)} were given."
            )
        for kind, parts in (("Wax", self.waxes), ("Oil", self.oils)):
            for part in parts:
                if part.share <= 0:
                    raise BadFormula(
                        f'{kind} "{part.name}" has a share of {_shown(part.share)}; '
                        "a share is more than zero."
                    )
        for extra in self.extras:
            if extra.pct_of_wax < 0:
                raise BadFormula(
                    f'Extra "{extra.name}" is {_shown(extra.pct_of_wax)} % of the wax; '
                    "an amount is zero or more."
                )
        _refuse_doubles("wax", (part.name for part in self.waxes))
        _refuse_doubles("oil", (part.name for part in self.oils))
        _refuse_doubles("extra", (part.name for part in self.extras))
        if self.oils and self.load_pct_of_wax == 0:
            raise BadFormula("The load is 0 % but oils are given; give a load or leave them out.")
        if not self.oils and self.load_pct_of_wax > 0:
            raise BadFormula(f"The load is {self.load} but no oil is given; name at least one.")

    @property
    def extras_pct_of_wax(self) -> Fraction:
        return sum((extra.pct_of_wax for extra in self.extras), Fraction(0))

    @property
    def load_of_wax(self) -> LoadOfWax:
        return as_load_of_wax(self.load, extras_pct_of_wax=self.extras_pct_of_wax)

    @property
    def load_of_whole(self) -> LoadOfWhole:
        return as_load_of_whole(self.load, extras_pct_of_wax=self.extras_pct_of_wax)

    @property
    def load_pct_of_wax(self) -> Fraction:
        return self.load_of_wax.pct_of_wax

    @property
    def load_pct_of_whole(self) -> Fraction:
        return self.load_of_whole.pct_of_whole

    @property
    def mix_pct_of_wax(self) -> Fraction:
        """Everything in the mix, in percent of the wax: more than 100 by oils and extras."""
        return 100 + self.load_pct_of_wax + self.extras_pct_of_wax

    @property
    def wax_fractions(self) -> tuple[Fraction, ...]:
        """Each wax's part of all wax; they add up to one."""
        return _normalised(part.share for part in self.waxes)

    @property
    def oil_fractions(self) -> tuple[Fraction, ...]:
        """Each oil's part of all oil; they add up to one, unless there is none."""
        return _normalised(part.share for part in self.oils)

    @property
    def liquid_density_g_per_ml(self) -> Fraction | None:
        """
        The melted wax's density, by volume (1/rho = sum of w/rho), if it is known of every wax.

        Rule of ideal mixing: volumes add up.
        """
        volume = Fraction(0)
        for part, fraction in zip(self.waxes, self.wax_fractions, strict=True):
            if not part.liquid_density_g_per_ml:
                return None
            volume += fraction / part.liquid_density_g_per_ml
        return 1 / volume


def _normalised(shares: Iterable[Fraction]) -> tuple[Fraction, ...]:
    given = tuple(shares)
    whole = sum(given, Fraction(0))
    return tuple(share / whole for share in given)


def _refuse_doubles(kind: str, names: Iterable[str]) -> None:
    for name, times in Counter(names).items():
        if not name.strip():
            raise BadFormula(f"A formula has {_article(kind)} without a name; name it.")
        if times > 1:
            raise BadFormula(f'The {kind} "{name}" is given {times} times; give each once.')


def _article(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def _shown(value: Fraction) -> str:
    return number(value, places=3, strip=True)
