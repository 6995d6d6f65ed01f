"""
Melting a batch: how long this melter takes for this mass, and the heat left for the pour.

The heat that the wax takes, by its own heats and melting range, over the power that reaches it. A
melter's efficiency is common practice, no source, until you have timed yours.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import isfinite

from pourwright.core.errors import BadInput
from pourwright.core.heat.both import both_c
from pourwright.core.heat.correlations import lumped_cooling
from pourwright.core.heat.materials import Wax
from pourwright.core.heat.words import MELT_CAUTION, SCREENING

EFFICIENCY = 0.75
EFFICIENCY_SOURCE = "common practice, no source: 0.6 to 0.85 for a jacketed or dry melter"
POT_LOSS_W_M2_K = 10.0
POT_LOSS_SOURCE = "this program's own: still air and radiation on a warm pot, W/(m2 K)"


class BadMelt(BadInput):
    """A melt that cannot be worked out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Melt:
    """
    What a melt takes. Heats in J, times in minutes.

    ``left_j`` is what the batch gives off from the melt's end down to the pour, ``window_min`` how
    long a stirred, unheated batch takes from the melt's end to the pour temperature, and
    ``to_melting_min`` until it begins to set; both None where the pot's surface is not known.
    """

    heat_j: float
    warm_j: float
    melt_j: float
    above_j: float
    minutes: float
    warm_min: float
    melt_min: float
    above_min: float
    left_j: float
    to_pour_min: float | None
    to_melting_min: float | None
    warnings: tuple[str, ...]
    words: tuple[str, ...] = (SCREENING, MELT_CAUTION)


def melt(
    wax: Wax, *, mass_kg: float, power_w: float, start_c: float, melt_to_c: float,
    efficiency: float = EFFICIENCY, pour_c: float | None = None, pot_area_m2: float | None = None,
    air_c: float = 21.0, loss_w_m2_k: float = POT_LOSS_W_M2_K,
) -> Melt:  # fmt: skip
    """
    Return heat and time of a melt: E = m [cp_s (Tm - T0) + L + cp_l (T - Tm)], t = E/(eta P).

    Over a melting range the mean of both specific heats counts beside the latent heat. Raises
    ``BadMelt`` for a mass, a power or temperatures that make no melt.
    """
    for name, value, low, high in (
        ("mass", mass_kg, 0.0, 2000.0), ("power", power_w, 0.0, 100000.0),
        ("efficiency", efficiency, 0.0, 1.0),
    ):  # fmt: skip
        if not (isfinite(value) and low < value <= high):
            raise BadMelt(f"The {name} is {value:g}; it is above {low:g} and at most {high:g}.")
    if not start_c < wax.melting_start_c:
        raise BadMelt(
            f"The wax starts at {both_c(start_c)}; {wax.name} begins to melt at "
            f"{both_c(wax.melting_start_c)}, so there it is melting already."
        )
    if not wax.melting_end_c < melt_to_c <= 150:
        raise BadMelt(
            f"The melt ends at {both_c(melt_to_c)}; {wax.name} is all liquid above "
            f"{both_c(wax.melting_end_c)}, and this works up to {both_c(150)}."
        )
    down_to = wax.melting_end_c if pour_c is None else pour_c
    if not wax.melting_end_c <= down_to <= melt_to_c:
        raise BadMelt(
            f"The pour is at {both_c(down_to)}; it lies between {both_c(wax.melting_end_c)}, where "
            f"all is liquid, and the melt's end, {both_c(melt_to_c)}."
        )
    steps = (start_c, wax.melting_start_c, wax.melting_end_c, melt_to_c)
    warm, melting, above = (
        mass_kg * wax.heat_j_kg(high, from_c=low) for low, high in pairwise(steps)
    )
    minutes = [heat / (efficiency * power_w) / 60 for heat in (warm, melting, above)]
    to_pour = to_melting = None
    if pot_area_m2 is not None:
        pot = lumped_cooling(
            mass_kg=mass_kg, specific_heat_j_kg_k=wax.specific_heat_liquid_j_kg_k,
            loss_w_m2_k=loss_w_m2_k, area_m2=pot_area_m2, start_c=melt_to_c, air_c=air_c,
        )  # fmt: skip
        to_pour, to_melting = pot.time_s(down_to) / 60, pot.time_s(wax.melting_end_c) / 60
    return Melt(
        heat_j=warm + melting + above, warm_j=warm, melt_j=melting, above_j=above,
        minutes=sum(minutes), warm_min=minutes[0], melt_min=minutes[1], above_min=minutes[2],
        left_j=mass_kg * wax.heat_j_kg(melt_to_c, from_c=down_to),
        to_pour_min=to_pour, to_melting_min=to_melting, warnings=_warnings(wax, melt_to_c),
    )  # fmt: skip


def _warnings(wax: Wax, melt_to_c: float) -> tuple[str, ...]:
    if melt_to_c >= wax.flash_point_c:
        return (
            f"{both_c(melt_to_c)} is at or above the flash point of {wax.name}, "
            f"{both_c(wax.flash_point_c)}: never do that.",
        )
    return ()
