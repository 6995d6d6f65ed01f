"""
The vessel and its wax as drawn lines, in millimetres: pure geometry for every kind of drawing.

The section lies in the plane through the vessel's axis: x to the right of the axis, z up from the
inside base. Curves come as points close enough to pass for smooth. Roundings at base and rim are
the drawing's own: they are not measured and no volume is computed from them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import acos, cos, hypot, isfinite, pi, sin, sqrt, tan

from pourwright.core.errors import BadInput
from pourwright.core.vessel.shapes import MM3_PER_ML, BrimOnly, Shape, WaterMarks

Point = tuple[float, float]

# Drawn where the maker has not measured them; nothing is computed from them.
DRAWN_WALL_MM = 3.0
DRAWN_BASE_MM = 5.0
# The proportion of depth to diameter drawn for a vessel of which only the volume is known.
DRAWN_DEPTH_TO_DIAMETER = 1.1

_ARC_STEPS = 8


class BadWall(BadInput):
    """A wall or base thickness cannot be right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """
    A vessel's drawn outline.

    ``inner`` and ``outer`` are the right half of the section, from the axis at the base outwards
    and up to the rim, where they meet on the rounded top of the wall. ``measured`` is False where
    the shape is a stand-in for a vessel of which only the volume is known; such a drawing says so.
    """

    inner: tuple[Point, ...]
    outer: tuple[Point, ...]
    depth_mm: float
    base_mm: float
    wall_mm: float
    top_inner_radius_mm: float
    top_outer_radius_mm: float
    widest_outer_radius_mm: float
    measured: bool

    @property
    def outside_height_mm(self) -> float:
        """Return the height from the table to the rim."""
        return self.depth_mm + self.base_mm

    def wall(self) -> tuple[Point, ...]:
        """Return the cut wall and base as one closed line, both halves."""
        half = (*self.outer, *reversed(self.inner))
        inner_left = tuple((-x, z) for x, z in self.inner)
        outer_left = tuple((-x, z) for x, z in reversed(self.outer))
        return (*half, *inner_left, *outer_left)

    def inside(self) -> tuple[Point, ...]:
        """Return the hollow as one closed line, from the left rim round to the right rim."""
        left = tuple((-x, z) for x, z in reversed(self.inner))
        return (*left, *self.inner)

    def inner_radius_mm(self, height_mm: float) -> float:
        """Return the drawn inside radius at a height, roundings included."""
        for (x0, z0), (x1, z1) in pairwise(self.inner):
            if z0 <= height_mm <= z1 and z1 > z0:
                return x0 + (x1 - x0) * (height_mm - z0) / (z1 - z0)
        return self.inner[-1][0] if height_mm > 0 else self.inner[0][0]

    def wax(self, fill_height_mm: float, *, meniscus_mm: float = 0.0) -> tuple[Point, ...]:
        """
        Return the wax as one closed line: the hollow below the fill height.

        ``meniscus_mm`` lets the surface climb the wall by so much, as set wax does; it is drawn
        only and stays below the rim.
        """
        top = min(fill_height_mm, self.depth_mm)
        edge = min(top + max(meniscus_mm, 0.0), self.depth_mm)
        right = [(x, z) for x, z in self.inner if z < edge]
        radius = self.inner_radius_mm(edge)
        right.append((radius, edge))
        left = [(-x, z) for x, z in reversed(right)]
        return (*left, *right, *_meniscus(radius, top, edge))


def _meniscus(radius: float, level: float, edge: float) -> list[Point]:
    """Return the surface between the two edges, from right to left, ends left out."""
    rise = edge - level
    if rise <= 0:
        return []
    reach = min(4 * rise, radius / 2)
    curve = []
    for step in range(1, _ARC_STEPS + 1):
        share = step / _ARC_STEPS
        curve.append((radius - reach * share, level + rise * (1 - share) ** 2))
    return [*curve, *((-x, z) for x, z in reversed(curve))]


@lru_cache(maxsize=512)  # one list draws the same few vessels many times over
def outline_of(
    shape: Shape, *, wall_mm: float | None = None, base_mm: float | None = None
) -> Outline:
    """
    Return the outline to draw for a shape.

    ``wall_mm`` and ``base_mm`` are the thickness of wall and base; where they are not known they
    are drawn at a common thickness. Raises BadWall where one is negative or beyond 50 mm.
    """
    wall = _thickness("wall", wall_mm, DRAWN_WALL_MM)
    base = _thickness("base", base_mm, DRAWN_BASE_MM)
    profile, measured = _profile(shape)
    depth = profile[-1][1]
    narrowest = min(x for x, _ in profile)
    inner_corner = min(5.0, narrowest * 0.22, depth * 0.25)
    inner = _half(profile, bottom=0.0, corner=inner_corner)

    outer_profile = [(x + wall, z) for x, z in profile]
    foot = _extend_down(outer_profile, -base)
    outer = _half(foot, bottom=-base, corner=min(inner_corner + wall * 0.7, narrowest * 0.35))

    rim = wall / 2
    if rim > 0:
        inner, outer = _round_rim(inner, outer, depth=depth, rim=rim)
    return Outline(
        inner=tuple(inner),
        outer=tuple(outer),
        depth_mm=depth,
        base_mm=base,
        wall_mm=wall,
        top_inner_radius_mm=profile[-1][0],
        top_outer_radius_mm=profile[-1][0] + wall,
        widest_outer_radius_mm=max(x for x, _ in foot),
        measured=measured,
    )


def drawn_fill_height_mm(shape: Shape, *, fill_ml: float) -> float:
    """
    Return how high to draw a fill: true where the shape is measured.

    Of a vessel known only by its volume the stand-in shape is filled to the same share.
    """
    height = shape.height_mm(fill_ml)
    if height is not None:
        return height
    profile, _ = _profile(shape)
    return profile[-1][1] * fill_ml / shape.brim_ml


def _profile(shape: Shape) -> tuple[list[Point], bool]:
    """Return the sharp inner profile from base to rim and whether it was measured."""
    if isinstance(shape, BrimOnly):
        diameter, depth = _stand_in(shape)
        return [(diameter / 2, 0.0), (diameter / 2, depth)], False
    if isinstance(shape, WaterMarks):
        edges = [0.0, *(h for h, _ in shape.marks)]
        middles = [(a + b) / 2 for a, b in pairwise(edges)]
        points = [(shape.radius_mm(h), h) for h in (0.0, *middles, shape.depth_mm)]
        return _softened(points), True
    return [(shape.radius_mm(0), 0.0), (shape.radius_mm(shape.depth_mm), shape.depth_mm)], True


def _softened(points: list[Point]) -> list[Point]:
    """Return the line with its corners cut three times over, ends kept: Chaikin's curve."""
    for _ in range(3):
        softer = [points[0]]
        for (x0, z0), (x1, z1) in pairwise(points):
            softer.append((x0 * 0.75 + x1 * 0.25, z0 * 0.75 + z1 * 0.25))
            softer.append((x0 * 0.25 + x1 * 0.75, z0 * 0.25 + z1 * 0.75))
        points = [*softer, points[-1]]
    return points


def _stand_in(shape: BrimOnly) -> tuple[float, float]:
    """Return the diameter and depth of a straight body with the brim volume."""
    volume_mm3 = shape.brim_ml * MM3_PER_ML
    if shape.depth_mm is not None:
        return 2 * sqrt(volume_mm3 / (pi * shape.depth_mm)), shape.depth_mm
    if shape.inside_diameter_mm is not None:
        area_mm2 = pi * (shape.inside_diameter_mm / 2) ** 2
        return shape.inside_diameter_mm, volume_mm3 / area_mm2
    diameter: float = (4 * volume_mm3 / (pi * DRAWN_DEPTH_TO_DIAMETER)) ** (1 / 3)
    return diameter, diameter * DRAWN_DEPTH_TO_DIAMETER


def _half(profile: list[Point], *, bottom: float, corner: float) -> list[Point]:
    """Return axis, rounded corner and wall: the half profile with its foot rounded."""
    while len(profile) > 2 and profile[1][1] - profile[0][1] < 1.5 * corner:
        profile = [profile[0], *profile[2:]]
    (x0, z0), (x1, z1) = profile[0], profile[1]
    length = hypot(x1 - x0, z1 - z0)
    up = ((x1 - x0) / length, (z1 - z0) / length)
    # The corner turns from "along the base" to "up the wall"; its radius is cut to what fits.
    turn = acos(max(-1.0, min(1.0, up[0])))
    setback = corner * tan(turn / 2)
    limit = min(x0 * 0.9, length * 0.9)
    if setback > limit:
        corner, setback = corner * limit / setback, limit
    if corner <= 0:
        return [(0.0, bottom), *profile]
    centre = (x0 - setback, bottom + corner)
    points: list[Point] = [(0.0, bottom)]
    for step in range(_ARC_STEPS + 1):
        angle = -pi / 2 + turn * step / _ARC_STEPS
        points.append((centre[0] + corner * cos(angle), centre[1] + corner * sin(angle)))
    return [*points, *profile[1:]]


def _extend_down(profile: list[Point], to_z: float) -> list[Point]:
    """Return the profile with its lowest stretch carried on down to a level."""
    (x0, z0), (x1, z1) = profile[0], profile[1]
    x = x0 + (x1 - x0) / (z1 - z0) * (to_z - z0)
    return [(max(x, x0 * 0.5), to_z), *profile[1:]]


def _round_rim(
    inner: list[Point], outer: list[Point], *, depth: float, rim: float
) -> tuple[list[Point], list[Point]]:
    """Return both profiles ending on a half-round rim whose top is at the depth."""
    height = min(rim, depth * 0.2)
    spring = depth - height
    inner_x, outer_x = _x_at(inner, spring), _x_at(outer, spring)
    centre = (inner_x + outer_x) / 2
    reach = (outer_x - inner_x) / 2
    quarter = [pi / 2 * step / _ARC_STEPS for step in range(_ARC_STEPS + 1)]
    inner_rim = [(centre - reach * cos(a), spring + height * sin(a)) for a in quarter]
    outer_rim = [(centre + reach * cos(a), spring + height * sin(a)) for a in quarter]
    return (
        [*(p for p in inner if p[1] < spring), *inner_rim],
        [*(p for p in outer if p[1] < spring), *outer_rim],
    )


def _x_at(profile: list[Point], z: float) -> float:
    for (x0, z0), (x1, z1) in pairwise(profile):
        if z0 <= z <= z1 and z1 > z0:
            return x0 + (x1 - x0) * (z - z0) / (z1 - z0)
    return profile[-1][0]


def _thickness(what: str, given_mm: float | None, drawn_mm: float) -> float:
    if given_mm is None:
        return drawn_mm
    if not (isfinite(given_mm) and 0 <= given_mm <= 50):
        raise BadWall(f"The {what} is {given_mm:g} mm thick; it must be 0 to 50 mm.")
    return given_mm
