"""A design version as the simulations see it: a straight-sided vessel, right in depth and mass."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

from pourwright.core.errors import BadInput
from pourwright.core.heat.materials import Wall, Wax
from pourwright.core.vessel.shapes import BrimOnly
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import core_vessel
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.heat.materials import wall_of_item, wax_of
from pourwright.workshop.stores.models import Shape


class NotMeasured(BadInput):
    """Too little is known of a vessel to simulate what happens in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """
    A candle's wax and vessel; lengths in mm, inside. ``notes`` say what was taken for what.

    The diameter is the one at which the fill stands as high as in the real vessel.
    """

    wax: Wax
    wall: Wall
    inside_mm: float
    depth_mm: float
    rim_mm: float
    base_mm: float
    notes: tuple[str, ...] = ()

    @property
    def fill_g(self) -> float:
        return self.wax.density_kg_m3 / 1e6 * pi * self.inside_mm**2 / 4 * self.depth_mm


def standing_of(version: DesignVersion) -> Standing:
    """
    Return a design version's wax in its vessel.

    Raises ``NotMeasured`` where the vessel's inside is not known, and the core's own where the
    fill runs over.
    """
    vessel = core_vessel(version.vessel)
    if vessel is None or isinstance(vessel.shape, BrimOnly):
        raise NotMeasured(
            f"The inside of {version.vessel.name} is not measured: enter its diameter and depth on "
            "its page in the stores."
        )
    wax = wax_of(version)
    ml = version.fill_mg / wax.density_kg_m3  # mg / (kg/m3) is a volume in mm3/1000
    depth = vessel.height_mm(ml)
    rim = vessel.depth_mm
    if depth is None or rim is None or depth <= 0:
        raise NotMeasured(
            f"The depth of {version.vessel.name} is not measured: enter it on its page in the "
            "stores."
        )
    notes = [*wax.notes]
    facts = facts_of(version.vessel, "vessel")
    if facts.shape != Shape.STRAIGHT:
        notes.append(
            "The vessel is taken as straight-sided, as wide as lets the fill stand as high as it "
            "does."
        )
    return Standing(
        wax=wax, wall=wall_of_item(version.vessel), inside_mm=2 * sqrt(ml * 1000 / (pi * depth)),
        depth_mm=depth, rim_mm=max(rim, depth), base_mm=float(facts.base_mm), notes=tuple(notes),
    )  # fmt: skip
