"""The inside of a vessel seen from above: round, oval, or a rectangle with rounded corners."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import cos, pi, sin
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from pourwright.core.errors import BadInput

Points = NDArray[np.float64]

# The boundary is followed by so many points; places on it are then refined, so that this number
# decides what is found, not how exactly.
STEPS = 1440


class BadOutline(BadInput):
    """Measures that are no vessel."""


class Outline(Protocol):
    """
    A convex outline around the origin; lengths in millimetres.

    ``at`` maps a parameter from 0 to 1, once round, to points on the boundary.
    """

    @property
    def area_mm2(self) -> float: ...

    @property
    def half_width_mm(self) -> float: ...

    @property
    def half_height_mm(self) -> float: ...

    def at(self, s: Points) -> Points: ...

    def wall_gap(self, points: Points) -> Points:
        """Return how far points are from the wall, negative outside."""
        ...

    def half_chord(self, y: Points) -> Points:
        """Return half the width at heights above the middle."""
        ...


@dataclass(frozen=True)
class Oval:
    """An ellipse with half axes; a circle where they are the same."""

    half_width_mm: float
    half_height_mm: float

    def __post_init__(self) -> None:
        _refuse(self.half_width_mm, self.half_height_mm)

    @property
    def is_round(self) -> bool:
        return self.half_width_mm == self.half_height_mm

    @property
    def area_mm2(self) -> float:
        return pi * self.half_width_mm * self.half_height_mm

    def at(self, s: Points) -> Points:
        angle = 2 * pi * s
        return np.stack(
            [self.half_width_mm * np.cos(angle), self.half_height_mm * np.sin(angle)], axis=-1
        )

    def wall_gap(self, points: Points) -> Points:
        if self.is_round:
            gap: Points = self.half_width_mm - np.hypot(points[..., 0], points[..., 1])
            return gap
        inside = (points[..., 0] / self.half_width_mm) ** 2 + (
            points[..., 1] / self.half_height_mm
        ) ** 2 <= 1
        away = np.linalg.norm(points - self._nearest(points), axis=-1)
        signed: Points = np.where(inside, away, -away)
        return signed

    def _nearest(self, points: Points) -> Points:
        """
        Return the wall's nearest points, by the evolute's centre of curvature.

        Six rounds reach far less than a micrometre for the ovals that vessels have.
        """
        a, b = self.half_width_mm, self.half_height_mm
        x, y = np.abs(points[..., 0]), np.abs(points[..., 1])
        tx = np.full_like(x, np.sqrt(0.5))
        ty = tx.copy()
        for _ in range(6):
            ex, ey = (a**2 - b**2) * tx**3 / a, (b**2 - a**2) * ty**3 / b
            r = np.hypot(a * tx - ex, b * ty - ey)
            q = np.maximum(np.hypot(x - ex, y - ey), 1e-12)
            tx = np.clip(((x - ex) * r / q + ex) / a, 0, 1)
            ty = np.clip(((y - ey) * r / q + ey) / b, 0, 1)
            length = np.hypot(tx, ty)
            tx, ty = tx / length, ty / length
        return np.stack(
            [np.copysign(a * tx, points[..., 0]), np.copysign(b * ty, points[..., 1])], axis=-1
        )

    def half_chord(self, y: Points) -> Points:
        across = np.clip(1 - (y / self.half_height_mm) ** 2, 0, None)
        return self.half_width_mm * np.sqrt(across)


def disc(radius_mm: float) -> Oval:
    """Return a round vessel's outline."""
    return Oval(radius_mm, radius_mm)


@dataclass(frozen=True)
class Rectangle:
    """A rectangle by half its sides, its corners rounded with a radius."""

    half_width_mm: float
    half_height_mm: float
    corner_mm: float = 0.0

    def __post_init__(self) -> None:
        _refuse(self.half_width_mm, self.half_height_mm)
        if not 0 <= self.corner_mm <= min(self.half_width_mm, self.half_height_mm):
            raise BadOutline(
                f"A corner’s radius of {self.corner_mm:g} mm does not fit sides of "
                f"{2 * self.half_width_mm:g} by {2 * self.half_height_mm:g} mm."
            )

    @property
    def area_mm2(self) -> float:
        return 4 * self.half_width_mm * self.half_height_mm - (4 - pi) * self.corner_mm**2

    @cached_property
    def _pieces(self) -> list[tuple[float, float, tuple[float, ...]]]:
        """The boundary counter-clockwise from the right: length, kind and where it runs."""
        a, b, r = self.half_width_mm, self.half_height_mm, self.corner_mm
        x, y = a - r, b - r
        quarter = pi / 2 * r
        return [
            (2 * y, 0, (a, -y, 0.0, 1.0)), (quarter, 1, (x, y, 0.0, r)),
            (2 * x, 0, (x, b, -1.0, 0.0)), (quarter, 1, (-x, y, pi / 2, r)),
            (2 * y, 0, (-a, y, 0.0, -1.0)), (quarter, 1, (-x, -y, pi, r)),
            (2 * x, 0, (-x, -b, 1.0, 0.0)), (quarter, 1, (x, -y, 1.5 * pi, r)),
        ]  # fmt: skip

    def at(self, s: Points) -> Points:
        whole = sum(piece[0] for piece in self._pieces)
        if np.ndim(s) == 0:
            return self._point(float(s) % 1.0 * whole)
        along = np.asarray(s, dtype=float) % 1.0 * whole
        out = np.zeros((*along.shape, 2))
        start = 0.0
        for length, kind, where in self._pieces:
            here = (along >= start) & (along <= start + length)
            t = along[here] - start
            if kind == 0:
                x, y, dx, dy = where
                out[here] = np.stack([x + dx * t, y + dy * t], axis=-1)
            elif length > 0:
                x, y, angle, r = where
                turn = angle + t / r
                out[here] = np.stack([x + r * np.cos(turn), y + r * np.sin(turn)], axis=-1)
            start += length
        return out

    def _point(self, along: float) -> Points:
        """Return one place on the wall: refining asks for thousands of them, one by one."""
        for length, kind, where in self._pieces:
            if along <= length or where is self._pieces[-1][2]:
                x, y, third, fourth = where
                if kind == 0:
                    return np.array([x + third * along, y + fourth * along])
                turn = third + (along / fourth if fourth else 0.0)
                return np.array([x + fourth * cos(turn), y + fourth * sin(turn)])
            along -= length
        raise AssertionError("the last piece ends the walk")

    def wall_gap(self, points: Points) -> Points:
        r = self.corner_mm
        dx = np.abs(points[..., 0]) - (self.half_width_mm - r)
        dy = np.abs(points[..., 1]) - (self.half_height_mm - r)
        outside = np.hypot(np.clip(dx, 0, None), np.clip(dy, 0, None))
        return r - (outside + np.minimum(np.maximum(dx, dy), 0))

    def half_chord(self, y: Points) -> Points:
        r = self.corner_mm
        rise = np.clip(np.abs(y) - (self.half_height_mm - r), 0, r)
        return np.where(
            np.abs(y) > self.half_height_mm,
            0.0,
            self.half_width_mm - r + np.sqrt(np.clip(r**2 - rise**2, 0, None)),
        )


def _refuse(half_width_mm: float, half_height_mm: float) -> None:
    if not (0 < half_width_mm < 2000 and 0 < half_height_mm < 2000):
        raise BadOutline(
            f"A vessel of {2 * half_width_mm:g} by {2 * half_height_mm:g} mm inside was given; "
            "each is more than 0 mm and less than 4 m."
        )
