"""Where a design's wicks can stand in its vessel, and what follows; found placements are kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from pourwright.core.amounts import System
from pourwright.core.errors import BadInput
from pourwright.core.wicks.insides import BadInside, Inside, VesselForm, inside_of, straight
from pourwright.core.wicks.insides import outline_from as _outline_from
from pourwright.core.wicks.outlines import Outline, Oval
from pourwright.workshop.designs import queries, services
from pourwright.workshop.designs.models import DesignVersion

if TYPE_CHECKING:
    from pourwright.core.wicks.covering import Placement
    from pourwright.core.wicks.tolerance import RingRange, Scatter

Layout = Literal["slices", "smallest"]
KEPT = 256


class NotPlaced(BadInput):
    """Too little is known of the vessel's inside to place wicks in it; ``at`` says where to go."""

    def __init__(self, message: str, *, at: str = "vessel") -> None:
        super().__init__(message)
        self.at = at


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """An inside that the stores cannot describe, given with the question; lengths in mm."""

    form: VesselForm
    width_mm: float
    length_mm: float | None = None
    corner_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of a placement; lengths in mm."""

    layout: Layout
    gap_mm: float
    spacing_mm: float
    shape: Shape | None = None


def inside_for(version: DesignVersion, shape: Shape | None = None) -> Inside:
    """
    Return the inside of a version's vessel at its fill, or of the shape given in its stead.

    Raises NotPlaced where the stores know too little, BadInside where a shape cannot be.
    """
    vessel = services.core_vessel(version.vessel)
    wall = {} if vessel is None or vessel.wall_mm is None else {"wall_mm": vessel.wall_mm}
    if shape is not None:
        outline = _outline_from(
            form=shape.form, width_mm=shape.width_mm, length_mm=shape.length_mm,
            corner_mm=shape.corner_mm,
        )  # fmt: skip
        return straight(outline, **wall)
    if vessel is None:
        raise NotPlaced(
            f"How wide {version.vessel.name} is inside is not known yet. Enter its inside diameter "
            "with the vessel in the stores, and its depth where it narrows."
        )
    facts = queries.facts_of(services.spec_of(version))
    height = facts.fill.height_mm if facts.fill is not None else None
    try:
        return inside_of(vessel, fill_height_mm=height)
    except BadInside as problem:
        if height is None and vessel.shape.depth_mm is not None:
            raise NotPlaced(
                f"{version.vessel.name} is not as wide at the brim as at the floor, and how high "
                "the wax stands in it is not known: enter the wax’s cold density in the stores."
                + (f" {facts.problem}" if facts.problem else ""),
                at="wax",
            ) from problem
        raise NotPlaced(
            f"{problem} Enter it with {version.vessel.name} in the stores."
        ) from problem


def is_round(outline: Outline) -> bool:
    return isinstance(outline, Oval) and outline.is_round


_found: dict[tuple, Placement] = {}


def placed(inside: Inside, count: int, asked: Asked) -> Placement:
    """Return the placement asked for. Raises BadWicks where so many do not fit."""
    from pourwright.core.wicks.covering import equal_slices, place, placement_of

    outline = inside.surface
    if _by_slices(outline, asked):
        return placement_of(equal_slices(outline.half_width_mm, count), outline)
    key = _key(outline, count, asked)
    if key not in _found:
        if len(_found) >= KEPT:
            _found.clear()
        _found[key] = place(
            outline, count, least_gap_mm=asked.gap_mm, least_spacing_mm=asked.spacing_mm
        )
    return _found[key]


def is_quick(inside: Inside, count: int, asked: Asked) -> bool:
    """Whether the placement is known by now, or takes no search to find."""
    return _by_slices(inside.surface, asked) or _key(inside.surface, count, asked) in _found


def _by_slices(outline: Outline, asked: Asked) -> bool:
    """Equal slices are a round vessel's; any other is always searched."""
    return asked.layout == "slices" and is_round(outline)


def _key(outline: Outline, count: int, asked: Asked) -> tuple:
    return outline, count, asked.gap_mm, asked.spacing_mm


def too_near(placement: Placement, asked: Asked) -> list[str]:
    """Return where wicks stand nearer than they should: to the ``wall``, to another ``wick``."""
    found = []
    if placement.wall_clearance_mm < asked.gap_mm - 1e-6:
        found.append("wall")
    if placement.spacing_mm is not None and placement.spacing_mm < asked.spacing_mm - 1e-6:
        found.append("wick")
    return found


def covered(placement: Placement, outline: Outline, *, reach_mm: float) -> float:
    """Return the share of the surface that lone pools of a reach cover, 0 to 1."""
    import numpy as np

    from pourwright.core.wicks.covering import covered_share

    return covered_share(np.array(placement.positions_mm), outline, pool_radius_mm=reach_mm)


@lru_cache(maxsize=KEPT)
def scatter(positions: tuple[tuple[float, float], ...], outline: Outline) -> Scatter:
    """Return what wicks that stand 1 mm off by chance add to the reach."""
    import numpy as np

    from pourwright.core.wicks.tolerance import scatter_of

    return scatter_of(np.array(positions), outline, sd_mm=1.0)


def rings(outline: Outline, count: int, asked: Asked) -> RingRange | None:
    """Return the rings that are as good as the best one, in a round vessel."""
    from pourwright.core.wicks.tolerance import as_good_rings

    if not is_round(outline):
        return None
    return as_good_rings(
        vessel_inner_radius_mm=outline.half_width_mm, wick_count=count,
        least_gap_mm=asked.gap_mm, least_spacing_mm=asked.spacing_mm,
    )  # fmt: skip


def small_picture(version: DesignVersion, *, size: float, units: System) -> str:
    """
    Return a design's wicks from above, small; empty where the vessel's inside is not known.

    In equal slices, as the candle is drawn, with lone pools of their reach; nothing is searched.
    """
    from pourwright.core.wicks.places import ring_positions_mm, ring_radius_mm
    from pourwright.core.wicks.tolerance import ring_reach_mm
    from pourwright.papers.wicks_above import wicks_above_svg

    try:
        inside = inside_for(version)
    except BadInput:
        return ""
    radius, count = inside.surface.half_width_mm, version.wick_count
    ring = ring_radius_mm(vessel_inner_radius_mm=radius, wick_count=count)
    reach = ring_reach_mm(vessel_inner_radius_mm=radius, ring_radius_mm=ring, on_ring=count)
    places = ring_positions_mm(vessel_inner_radius_mm=radius, wick_count=count)
    return str(
        wicks_above_svg(
            places, inside, pool_radius_mm=reach, size=size, units=units, prefix="wicks-small"
        )
    )
