"""
The falling surface: fuel is taken from the pool, and all that flows is levelled.

Each ring has a top of its own, whose cell is half to one and a half times its layer's height; a
cell that gets thinner joins the one below, one that gets thicker is parted. Volume and energy move
together and are kept to rounding.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.heat.marching import Array, Counts
from pourwright.core.heat.section import LEAST_TOP, MOST_TOP, Section

FLOWS = 0.6  # liquid share from which wax flows; this program's own, no source


class NoFuel(BadInput):
    """A wick that has no wax left to draw."""


Mask = np.ndarray[Any, np.dtype[np.bool_]]


def take_fuel(section: Section, fuel_m3: float, wick_rings: Counts) -> float:
    """
    Take a volume from the pool and level it; return the energy that left with it, J.

    Where nothing flows yet (a cold start) it is taken below the wick, whose rings ``wick_rings``
    numbers.
    """
    liquid = section.liquid
    rings = np.arange(len(section.tops_m))
    flowing = liquid[rings, section.cells - 1] >= FLOWS
    floors = np.zeros(len(rings))
    if flowing.any():
        floors = _floors(section, liquid)
    else:
        flowing = np.isin(rings, wick_rings)
    level = _level(section, flowing, floors, fuel_m3)
    if level <= section.layers_m[1] * LEAST_TOP:
        raise NoFuel("The wax below the wick is used up.")
    areas = section.areas_m2
    targets = np.where(flowing, np.maximum(level, floors), section.tops_m)
    taken_j = taken_m3 = 0.0
    for j in np.flatnonzero(targets < section.tops_m):
        taken_m3 += areas[j] * (section.tops_m[j] - targets[j])
        taken_j += _lower(section, int(j), float(targets[j]))
    per_m3 = taken_j / taken_m3
    for j in np.flatnonzero(targets > section.tops_m):
        _raise(section, int(j), float(targets[j]), per_m3 * areas[j])
    return per_m3 * fuel_m3


def _floors(section: Section, liquid: Array) -> Array:
    """Return how far down each ring flows."""
    floors = section.tops_m.copy()
    for j, count in enumerate(section.cells):
        k = int(count) - 1
        while k >= 0 and liquid[j, k] >= FLOWS:
            floors[j] = section.layers_m[k]
            k -= 1
    return floors


def _level(section: Section, flowing: Mask, floors: Array, fuel_m3: float) -> float:
    """Return the one height that holds what flows, less the fuel."""
    areas = section.areas_m2
    volume = float((areas * section.tops_m)[flowing].sum()) - fuel_m3
    free = flowing.copy()
    level = 0.0
    for _ in range(len(floors)):
        held = float((areas * floors)[flowing & ~free].sum())
        if not free.any():
            return 0.0
        level = (volume - held) / float(areas[free].sum())
        stuck = free & (floors > level)
        if not stuck.any():
            break
        free = free & ~stuck
    return level


def _lower(section: Section, j: int, to_m: float) -> float:
    """Lower one ring's top; return the energy that was above, J."""
    energy, faces = section.energy_j, section.layers_m
    k, top, taken = int(section.cells[j]) - 1, float(section.tops_m[j]), 0.0
    while k > 0 and to_m <= faces[k]:
        taken += energy[j, k]
        energy[j, k] = 0.0
        top = float(faces[k])
        k -= 1
    share = (top - to_m) / (top - faces[k])
    taken += share * energy[j, k]
    energy[j, k] *= 1 - share
    if k > 0 and to_m - faces[k] < LEAST_TOP * (faces[k + 1] - faces[k]):
        energy[j, k - 1] += energy[j, k]
        energy[j, k] = 0.0
        k -= 1
    section.cells[j], section.tops_m[j] = k + 1, to_m
    return float(taken)


def _raise(section: Section, j: int, to_m: float, j_per_m: float) -> None:
    """Raise one ring's top with wax of so much energy per metre."""
    energy, faces = section.energy_j, section.layers_m
    k = int(section.cells[j]) - 1
    energy[j, k] += j_per_m * (to_m - section.tops_m[j])
    last = len(faces) - 2
    while k < last and to_m - faces[k] > MOST_TOP * (faces[k + 1] - faces[k]):
        above = (to_m - faces[k + 1]) / (to_m - faces[k])
        energy[j, k + 1] = energy[j, k] * above
        energy[j, k] *= 1 - above
        k += 1
    section.cells[j], section.tops_m[j] = k + 1, to_m


def cells_under(tops_m: Array, layers_m: Array) -> Counts:
    """Return how many cells each ring has, its top cell within its limits."""
    heights = np.diff(layers_m)
    k = np.clip(np.searchsorted(layers_m, tops_m - 1e-12) - 1, 0, len(heights) - 1)
    thin = (tops_m - layers_m[k] < LEAST_TOP * heights[k]) & (k > 0)
    return np.asarray(k - thin + 1, dtype=np.int64)
