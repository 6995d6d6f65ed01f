"""Where wicks stand in a round vessel."""

from __future__ import annotations

from math import cos, isfinite, pi, sin

from pourwright.core.errors import BadInput

MOST_WICKS = 10


class BadWicks(BadInput):
    """That many wicks cannot be placed in that vessel."""


def ring_radius_mm(*, vessel_inner_radius_mm: float, wick_count: int) -> float:
    """
    Return the radius of the ring that equally spaced wicks stand on; 0 for one wick.

    Each wick stands at the centroid of its equal slice of the wax surface:

        p = 2/3 R sin(pi / n) / (pi / n)

    Range: 1 to 10 wicks, round vessels, the inside radius at the wax surface.
    Source: centroid of a circular sector [MathWorld-CircularSector]. That the centroid suits a
    wick is common practice, no source: confirm with a test burn.

    >>> round(ring_radius_mm(vessel_inner_radius_mm=45, wick_count=3), 1)
    24.8
    """
    if not 1 <= wick_count <= MOST_WICKS:
        raise BadWicks(
            f"{wick_count} wicks were asked for; 1 to {MOST_WICKS} can be placed on one ring."
        )
    if not (isfinite(vessel_inner_radius_mm) and vessel_inner_radius_mm > 0):
        raise BadWicks(
            f"The vessel's inside radius is {vessel_inner_radius_mm:g} mm; it must be above 0."
        )
    if wick_count == 1:
        return 0.0
    half_slice = pi / wick_count
    return 2 / 3 * vessel_inner_radius_mm * sin(half_slice) / half_slice


def ring_positions_mm(
    *, vessel_inner_radius_mm: float, wick_count: int
) -> tuple[tuple[float, float], ...]:
    """
    Return the places of the wicks from the vessel's middle, x to the right and y away.

    One wick stands in the middle, more on the ring of :func:`ring_radius_mm`. An odd number has
    one wick at the far side, an even number one at the right, so that two wicks lie in the plane
    of the section drawing.
    """
    radius = ring_radius_mm(vessel_inner_radius_mm=vessel_inner_radius_mm, wick_count=wick_count)
    if wick_count == 1:
        return ((0.0, 0.0),)
    first = pi / 2 if wick_count % 2 else 0.0
    step = 2 * pi / wick_count
    return tuple(
        (radius * cos(first + i * step), radius * sin(first + i * step)) for i in range(wick_count)
    )
