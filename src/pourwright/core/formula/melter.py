"""
What a melter can take, by mass and by the liquid's volume.

Which mass counts depends on where the oil goes in. ``oil_goes_in="melter"``: oil and extras are
stirred into the melter, so the whole mix must fit. ``"pitcher"``: plain wax is drawn off and
scented in pitchers, so only the wax must fit.

Caution: leave headspace as the melter's maker says; hot wax that runs over can burn and catch fire.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from pourwright.core.amounts import show_mass, show_volume
from pourwright.core.errors import BadInput

OilGoesIn = Literal["melter", "pitcher"]


class MelterTooSmall(BadInput):
    """The melter cannot take what was asked for."""


class BadMelter(BadInput):
    """The melter's own figures do not make sense."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Melter:
    """
    A melter's usable capacity: by mass, by volume, or the smaller of the two.

    A volume needs the liquid's density at the temperature of the melt, in g/ml (melted wax takes
    more room than cold wax: ask the supplier, or weigh a measured volume).
    """

    usable_g: Fraction | None = None
    usable_ml: Fraction | None = None
    liquid_density_g_per_ml: Fraction | None = None
    oil_goes_in: OilGoesIn = "melter"

    def __post_init__(self) -> None:
        if self.usable_g is None and self.usable_ml is None:
            raise BadMelter("A melter needs a capacity; give its mass, its volume or both.")
        for size in (self.usable_g, self.usable_ml, self.liquid_density_g_per_ml):
            if size is not None and size <= 0:
                raise BadMelter("A melter's capacity and density are more than zero.")
        if self.usable_ml is not None and self.liquid_density_g_per_ml is None:
            raise BadMelter(
                "A melter's volume needs the density of the melted wax, for example 0.80 g/ml."
            )

    @property
    def most_g(self) -> Fraction:
        """The most that it can hold, in grams."""
        by_volume = None
        if self.usable_ml is not None and self.liquid_density_g_per_ml is not None:
            by_volume = self.usable_ml * self.liquid_density_g_per_ml
        return min(size for size in (self.usable_g, by_volume) if size is not None)

    def refuse_unless_it_fits(self, *, wax_g: Fraction, mix_g: Fraction) -> None:
        """Raise ``MelterTooSmall`` where the mass that counts is more than the melter takes."""
        in_melter_g = wax_g if self.oil_goes_in == "pitcher" else mix_g
        if in_melter_g <= self.most_g:
            return
        what = "wax" if self.oil_goes_in == "pitcher" or wax_g > self.most_g else "wax with oil"
        counted_g = wax_g if what == "wax" else mix_g
        raise MelterTooSmall(
            f"{_both(counted_g)} of {what} does not fit the melter, which takes "
            f"{_both(self.most_g)}{self._why()}; melt less, or in several melts."
        )

    def _why(self) -> str:
        if self.usable_ml is None or self.most_g == self.usable_g:
            return ""
        volume = f"{show_volume(self.usable_ml, 'metric')}, {show_volume(self.usable_ml, 'us')}"
        return f" ({volume} of melted wax)"


def _both(mass_g: Fraction) -> str:
    return f"{show_mass(mass_g, 'us', style='compound')} ({show_mass(mass_g, 'metric')})"
