"""Where lines of a label may run: a rectangle, or a circle whose lines are its chords."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Protocol

from pourwright.papers.labels.marks import Box


class Region(Protocol):
    """A shape that tells how far a line between two heights may reach."""

    @property
    def top(self) -> float: ...

    @property
    def foot(self) -> float: ...

    def span(self, top: float, foot: float) -> tuple[float, float]:
        """Return the left and right ends between two heights; the same twice where none is."""
        ...


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle."""

    box: Box

    @property
    def top(self) -> float:
        return self.box.y

    @property
    def foot(self) -> float:
        return self.box.foot

    def span(self, top: float, foot: float) -> tuple[float, float]:
        return self.box.x, self.box.right


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle by its middle and radius."""

    x: float
    y: float
    radius: float

    @property
    def top(self) -> float:
        return self.y - self.radius

    @property
    def foot(self) -> float:
        return self.y + self.radius

    def span(self, top: float, foot: float) -> tuple[float, float]:
        furthest = max(abs(top - self.y), abs(foot - self.y))
        if furthest >= self.radius:
            return self.x, self.x
        half = sqrt(self.radius**2 - furthest**2)
        return self.x - half, self.x + half
