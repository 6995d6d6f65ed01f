"""
What a vessel loses to the room: coefficients for its wall, its base and the wax surface.

Convection by the textbook forms for still air, radiation to a room at the air's temperature. Set
anew now and then as a run goes on, not every step.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import asin, pi

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.heat.correlations import lying_loss_w_m2_k, upright_loss_w_m2_k
from pourwright.core.heat.marching import Array, Shell
from pourwright.core.heat.section import ShellShape

STEFAN_BOLTZMANN = 5.670374419e-8
ZERO_C_K = 273.15
LEAST_DIFFERENCE_K = 0.5  # still air never stands quite still; keeps the forms above zero
NARROW_GAP_MM = 12.0


class BadRoom(BadInput):
    """A room or a table that cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """
    Where the vessel stands.

    ``table_w_m2_k`` is the contact of base and table, ``surface_share`` how much of its free loss
    the wax surface keeps below a rim, ``dry_wall_w_m2_k`` the loss of the dry wall's inside; all
    three are this program's own guesses, no source. ``gap_mm`` is the free space between vessels
    that stand in rows, None for one alone. ``draught`` multiplies all convection.
    """

    air_c: float = 21.0
    table_w_m2_k: float = 5.0
    surface_share: float = 0.7
    surface_emissivity: float = 0.95
    dry_wall_w_m2_k: float = 4.0
    gap_mm: float | None = None
    draught: float = 1.0

    def __post_init__(self) -> None:
        for name, low, high in (
            ("air_c", -10, 45), ("table_w_m2_k", 0, 1000), ("surface_share", 0, 1.5),
            ("surface_emissivity", 0, 1), ("dry_wall_w_m2_k", 0, 100), ("draught", 0.2, 10),
        ):  # fmt: skip
            value = getattr(self, name)
            if not low <= value <= high:
                raise BadRoom(f"{name} is {value:g}; this works between {low:g} and {high:g}.")
        if self.gap_mm is not None and not 0 <= self.gap_mm <= 10000:
            raise BadRoom(f"gap_mm is {self.gap_mm:g}; it is between 0 and 10000, or left out.")


def open_share(outside_radius_m: float, gap_mm: float | None) -> float:
    """
    Return the share of its surroundings that a vessel's wall sees past its neighbours.

    Four neighbours in rows, each as warm as it is, each hiding an angle of 2 asin(R/(2R + gap)).
    """
    if gap_mm is None:
        return 1.0
    hidden = 4 * 2 * asin(outside_radius_m / (2 * outside_radius_m + gap_mm / 1000)) / (2 * pi)
    return 1 - min(hidden, 1.0)


def radiation(emissivity: float, face_c: Array, around_c: float) -> Array:
    """Return the radiation coefficient of faces, W/(m2 K)."""
    face, around = face_c + ZERO_C_K, around_c + ZERO_C_K
    return np.asarray(
        emissivity * STEFAN_BOLTZMANN * (face * face + around * around) * (face + around)
    )


def surface_loss(room: Room, surface_c: Array, areas_m2: Array, radius_m: float) -> Array:
    """Return the wax surface's coefficient at each of its parts, W/(m2 K)."""
    mean = float(np.dot(surface_c, areas_m2) / areas_m2.sum())
    above = max(abs(mean - room.air_c), LEAST_DIFFERENCE_K)
    convection = lying_loss_w_m2_k(
        face_c=room.air_c + above, air_c=room.air_c, length_m=radius_m / 2
    )
    return room.surface_share * (
        room.draught * convection + radiation(room.surface_emissivity, surface_c, room.air_c)
    )


def vessel_rates(
    room: Room, shape: ShellShape, shell_c: Array, *, emissivity: float, wet_m: float,
    heat: Array | None = None, dry_inside: bool = True,
) -> Shell:  # fmt: skip
    """
    Return the vessel's chain with its losses as it stands; ``wet_m`` is how high the wax stands.

    ``heat`` is what is put into its nodes from within, W.
    """
    n = shape.base_nodes
    wall_c = shell_c[n:]
    areas = shape.outer_area_m2[n:]
    mean = float(np.dot(wall_c, areas) / areas.sum())
    height = float(shape.faces_m[-1])
    above = max(abs(mean - room.air_c), LEAST_DIFFERENCE_K)
    convection = room.draught * upright_loss_w_m2_k(
        face_c=room.air_c + above, air_c=room.air_c, height_m=height
    )
    outside = float(areas[0] / (2 * pi * (shape.faces_m[1] - shape.faces_m[0])))
    share = open_share(outside, room.gap_mm)
    if room.gap_mm is not None:
        # Closer than this the warm layers of air meet; this program's own judgement, no source.
        convection *= min(1.0, room.gap_mm / NARROW_GAP_MM)
    side = convection + share * radiation(emissivity, wall_c, room.air_c)
    outer = np.concatenate(
        [
            shape.outer_area_m2[:n] * _series(room.table_w_m2_k, shape.base_half),
            areas * side / (1 + side * shape.half),
        ]
    )
    inner = np.zeros_like(outer)
    if dry_inside:
        heights = np.diff(shape.faces_m)
        dry = np.clip(shape.faces_m[1:] - wet_m, 0.0, heights) / heights
        inner[n:] = shape.inner_area_m2[n:] * dry * _series(room.dry_wall_w_m2_k, shape.half)
    return shape.shell(
        outer=outer, inner=inner, heat=np.zeros_like(outer) if heat is None else heat
    )


def _series(loss: float, resistance: float) -> float:
    return loss / (1 + loss * resistance)


def outside_c(shell: Shell, shell_c: Array, air_c: float, *, shape: ShellShape) -> Array:
    """Return the outside face's temperature at each node, °C."""
    half = np.where(np.arange(shell_c.size) < shape.base_nodes, shape.base_half, shape.half)
    return np.asarray(shell_c - shell.outer / shape.outer_area_m2 * (shell_c - air_c) * half)
