"""Flat things to cut: loops of lines and arcs, circles, and plates with openings; all in mm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan, atan2, ceil, cos, hypot, pi, sin, tan

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Corner:
    """
    A corner of a loop and the way on from it.

    ``bulge`` is 0 for a line to the next corner, else the tangent of a quarter of the arc's angle,
    positive where it turns to the left, as a DXF polyline has it.
    """

    x: float
    y: float
    bulge: float = 0.0


Loop = tuple[Corner, ...]


@dataclass(frozen=True, slots=True)
class Round:
    """A circle."""

    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True)
class Arc:
    """What a bulge stands for: centre, radius, the angle it begins at and how far it turns."""

    x: float
    y: float
    radius: float
    start: float
    turn: float


Edge = Round | Loop


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """A flat part: its outline, counter-clockwise, and the openings in it."""

    outline: Edge
    openings: tuple[Edge, ...] = ()

    def box(self) -> tuple[float, float, float, float]:
        """Return left, low, right and high."""
        points = polygon(self.outline, steps=360)
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return min(xs), min(ys), max(xs), max(ys)

    @property
    def area_mm2(self) -> float:
        return abs(area_mm2(self.outline)) - sum(abs(area_mm2(one)) for one in self.openings)


def arc_of(start: Corner, end: Corner) -> Arc:
    """Return the arc from a corner with a bulge to the next one."""
    turn = 4 * atan(start.bulge)
    dx, dy = end.x - start.x, end.y - start.y
    # From the chord's middle to the centre, square to the chord.
    away = 1 / (2 * tan(turn / 2))
    x, y = (start.x + end.x) / 2 - dy * away, (start.y + end.y) / 2 + dx * away
    radius = hypot(start.x - x, start.y - y)
    return Arc(x, y, radius, atan2(start.y - y, start.x - x), turn)


def sides(loop: Loop) -> Iterator[tuple[Corner, Corner]]:
    """Yield each corner with the next, the last with the first."""
    for number, corner in enumerate(loop):
        yield corner, loop[(number + 1) % len(loop)]


def polygon(edge: Edge, *, steps: int = 128) -> list[Point]:
    """Return an edge as corners alone, so many to a full turn, counter-clockwise if it was."""
    if isinstance(edge, Round):
        return [
            (edge.x + edge.radius * cos(2 * pi * n / steps),
             edge.y + edge.radius * sin(2 * pi * n / steps))
            for n in range(steps)
        ]  # fmt: skip
    points: list[Point] = []
    for start, end in sides(edge):
        points.append((start.x, start.y))
        if abs(start.bulge) > 1e-9:
            arc = arc_of(start, end)
            parts = max(1, ceil(abs(arc.turn) / (2 * pi) * steps))
            for n in range(1, parts):
                angle = arc.start + arc.turn * n / parts
                points.append((arc.x + arc.radius * cos(angle), arc.y + arc.radius * sin(angle)))
    return points


def area_mm2(edge: Edge) -> float:
    """Return the exact area inside an edge, negative where it runs clockwise."""
    if isinstance(edge, Round):
        return pi * edge.radius**2
    area = 0.0
    for start, end in sides(edge):
        area += (start.x * end.y - end.x * start.y) / 2
        if abs(start.bulge) > 1e-9:
            arc = arc_of(start, end)
            area += arc.radius**2 * (arc.turn - sin(arc.turn)) / 2
    return area


def moved(edge: Edge, dx: float, dy: float = 0.0) -> Edge:
    """Return an edge moved sideways."""
    if isinstance(edge, Round):
        return Round(edge.x + dx, edge.y + dy, edge.radius)
    return tuple(Corner(c.x + dx, c.y + dy, c.bulge) for c in edge)
