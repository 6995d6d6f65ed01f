"""
How much wax a vessel takes, how high it stands, and where the liquid will reach at pouring.

Densities are g/ml: the cold one of the set mix, the liquid one at the pouring temperature. Wax
shrinks as it sets, so the same weight stands higher when it is poured. Floats throughout: a density
from a data sheet is good to two figures.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from pourwright.core.errors import BadInput
from pourwright.core.vessel.shapes import Overfull
from pourwright.core.vessel.vessel import Vessel

# How full, of the brim, candles are commonly poured: about two thirds to three quarters. Common
# practice, no source. Room is left for the flame and for a lid.
NORMAL_FILL_PCT = (66.0, 74.0)
NORMAL_FILL_SOURCE = "common practice, no source"

DENSITY_RANGE_G_PER_ML = (0.5, 1.5)


class BadDensity(BadInput):
    """A density that no wax has."""


class BadFill(BadInput):
    """A fill that cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """
    A vessel filled with set wax.

    Heights are from the inside base and None where the vessel's shape is not known. The liquid
    figures are None where no liquid density was given.
    """

    brim_ml: float
    brim_wax_g: float
    fill_g: float
    fill_ml: float
    fill_pct_of_brim: float
    height_mm: float | None
    headspace_mm: float | None
    headspace_ml: float
    liquid_ml: float | None
    liquid_pct_of_brim: float | None
    liquid_height_mm: float | None
    liquid_headspace_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalFill:
    """How much wax a vessel commonly takes: a range, and where the range is from."""

    low_g: float
    high_g: float
    low_pct_of_brim: float
    high_pct_of_brim: float
    source: str


def fill_by_weight(
    vessel: Vessel,
    *,
    fill_g: float,
    density_g_per_ml: float,
    liquid_density_g_per_ml: float | None = None,
) -> Fill:
    """
    Return the fill of a weight of wax.

    Raises Overfull where it does not fit, set or liquid.
    """
    _check_density("density", density_g_per_ml)
    if not (isfinite(fill_g) and fill_g > 0):
        raise BadFill(f"The fill weight is {fill_g:g} g; it must be above 0.")
    fill_ml = fill_g / density_g_per_ml
    brim_ml = vessel.brim_ml
    if fill_ml > brim_ml * (1 + 1e-9):
        raise Overfull(
            f"{fill_g:.1f} g of wax at {density_g_per_ml:g} g/ml is {fill_ml:.1f} ml, but the "
            f"vessel holds {brim_ml:.1f} ml to the brim, {brim_ml * density_g_per_ml:.1f} g. "
            "Lower the fill weight."
        )
    height = vessel.height_mm(fill_ml)
    liquid_ml = _liquid_ml(
        fill_g, brim_ml=brim_ml, cold=density_g_per_ml, liquid=liquid_density_g_per_ml
    )
    liquid_height = None if liquid_ml is None else vessel.height_mm(liquid_ml)
    return Fill(
        brim_ml=brim_ml,
        brim_wax_g=brim_ml * density_g_per_ml,
        fill_g=fill_g,
        fill_ml=fill_ml,
        fill_pct_of_brim=100 * fill_ml / brim_ml,
        height_mm=height,
        headspace_mm=_room(vessel, height),
        headspace_ml=max(brim_ml - fill_ml, 0.0),
        liquid_ml=liquid_ml,
        liquid_pct_of_brim=None if liquid_ml is None else 100 * liquid_ml / brim_ml,
        liquid_height_mm=liquid_height,
        liquid_headspace_mm=_room(vessel, liquid_height),
    )


def fill_by_volume(
    vessel: Vessel,
    *,
    fill_ml: float,
    density_g_per_ml: float,
    liquid_density_g_per_ml: float | None = None,
) -> Fill:
    """Return the fill of a volume of set wax; refusals as :func:`fill_by_weight`."""
    _check_density("density", density_g_per_ml)
    if not (isfinite(fill_ml) and fill_ml > 0):
        raise BadFill(f"The fill volume is {fill_ml:g} ml; it must be above 0.")
    return fill_by_weight(
        vessel,
        fill_g=fill_ml * density_g_per_ml,
        density_g_per_ml=density_g_per_ml,
        liquid_density_g_per_ml=liquid_density_g_per_ml,
    )


def fill_by_height(
    vessel: Vessel,
    *,
    height_mm: float,
    density_g_per_ml: float,
    liquid_density_g_per_ml: float | None = None,
) -> Fill:
    """Return the fill up to a height; needs a vessel whose shape is known."""
    if not (isfinite(height_mm) and height_mm > 0):
        raise BadFill(f"The fill height is {height_mm:g} mm; it must be above 0.")
    return fill_by_volume(
        vessel,
        fill_ml=vessel.shape.volume_ml(height_mm),
        density_g_per_ml=density_g_per_ml,
        liquid_density_g_per_ml=liquid_density_g_per_ml,
    )


def normal_fill(
    vessel: Vessel,
    *,
    density_g_per_ml: float,
    fill_pct_of_brim: tuple[float, float] = NORMAL_FILL_PCT,
) -> NormalFill:
    """
    Return how much wax a vessel commonly takes.

    A vessel sold by fluid ounces tells its volume to the brim. The wax in it weighs less for two
    reasons: it is not filled to the brim, and wax is lighter than water. The range is the trade's
    habit and no limit: the headspace that a lid or a flame needs decides.
    """
    _check_density("density", density_g_per_ml)
    low, high = fill_pct_of_brim
    if not 0 < low <= high <= 100:
        raise BadFill(
            f"A normal fill of {low:g} to {high:g} % of the brim is no range in 0 to 100."
        )
    brim_g = vessel.brim_ml * density_g_per_ml
    return NormalFill(
        low_g=brim_g * low / 100,
        high_g=brim_g * high / 100,
        low_pct_of_brim=low,
        high_pct_of_brim=high,
        source=NORMAL_FILL_SOURCE if fill_pct_of_brim == NORMAL_FILL_PCT else "given",
    )


def _liquid_ml(fill_g: float, *, brim_ml: float, cold: float, liquid: float | None) -> float | None:
    if liquid is None:
        return None
    _check_density("liquid density", liquid)
    if liquid > cold:
        raise BadDensity(
            f"The liquid density {liquid:g} g/ml is above the cold one, {cold:g}; wax shrinks as "
            "it sets, so the liquid one is lower. Are they the wrong way round?"
        )
    liquid_ml = fill_g / liquid
    if liquid_ml > brim_ml * (1 + 1e-9):
        raise Overfull(
            f"{fill_g:.1f} g fits once it has set, but as liquid it is {liquid_ml:.1f} ml and the "
            f"vessel holds {brim_ml:.1f} ml: it would run over at pouring. Lower the fill weight."
        )
    return liquid_ml


def _room(vessel: Vessel, height_mm: float | None) -> float | None:
    if height_mm is None or vessel.depth_mm is None:
        return None
    return max(vessel.depth_mm - height_mm, 0.0)


def _check_density(what: str, value: float) -> None:
    low, high = DENSITY_RANGE_G_PER_ML
    if not (isfinite(value) and low <= value <= high):
        raise BadDensity(
            f"The {what} is {value:g} g/ml; waxes lie between {low:g} and {high:g}, most near 0.9."
        )
