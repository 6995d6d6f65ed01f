"""
What is drawn on a label, before it is a PDF or an SVG.

Lengths are millimetres; x runs right and y down from the label's upper left corner after cutting.
A mark may carry a ``role``: the need that it fulfils, such as "net_us" or "H317". Readers of a
drawing (checks, tests) find by it where a text stands and how tall it came out.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from pourwright.papers.typefaces import REGULAR, Typeface

BLACK = "#000000"
WHITE = "#ffffff"


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle by its upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def foot(self) -> float:
        return self.y + self.height

    def inset(self, by: float) -> Box:
        return Box(
            x=self.x + by, y=self.y + by, width=self.width - 2 * by, height=self.height - 2 * by
        )

    def holds(self, other: Box, *, slack: float = 1e-6) -> bool:
        return (
            other.x >= self.x - slack
            and other.y >= self.y - slack
            and other.right <= self.right + slack
            and other.foot <= self.foot + slack
        )

    def meets(self, other: Box, *, slack: float = 1e-6) -> bool:
        """Return whether the two overlap by more than the slack."""
        return (
            self.x < other.right - slack
            and other.x < self.right - slack
            and self.y < other.foot - slack
            and other.y < self.foot - slack
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A line of text on its base line, starting at x."""

    text: str
    x: float
    y: float
    size_pt: float
    face: Typeface = REGULAR
    fill: str = BLACK
    role: str = ""

    @property
    def box(self) -> Box:
        above, below = self.face.extent_mm(self.text, size_pt=self.size_pt)
        width = self.face.width_mm(self.text, size_pt=self.size_pt)
        return Box(x=self.x, y=self.y - above, width=width, height=above + below)

    def moved(self, dx: float, dy: float) -> Words:
        return replace(self, x=self.x + dx, y=self.y + dy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """
    A filled or stroked path: SVG path data in a view box of its own, placed into a box.

    ``view`` is (x, y, width, height) of the data's own coordinates; it fills ``box`` evenly.
    """

    d: str
    view: tuple[float, float, float, float]
    box: Box
    fill: str | None = BLACK
    stroke: str | None = None
    stroke_width: float = 0
    even_odd: bool = False
    role: str = ""

    @property
    def scale(self) -> float:
        return self.box.width / self.view[2]

    def moved(self, dx: float, dy: float) -> Outline:
        return replace(self, box=replace(self.box, x=self.box.x + dx, y=self.box.y + dy))


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A raster picture (PNG or JPEG bytes) drawn into a box."""

    data: bytes
    box: Box
    role: str = "art"

    def moved(self, dx: float, dy: float) -> Picture:
        return replace(self, box=replace(self.box, x=self.box.x + dx, y=self.box.y + dy))


Mark = Words | Outline | Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """
    One label: its size after cutting, how far colour runs beyond, and what stands on it.

    ``safe_mm`` is how far from the edge nothing that must be read may stand.
    """

    name: str
    title: str
    width: float
    height: float
    shape: Literal["rectangle", "circle"] = "rectangle"
    bleed_mm: float = 0
    safe_mm: float = 2
    ground: str | None = None
    marks: tuple[Mark, ...] = field(default=())

    @property
    def box(self) -> Box:
        return Box(x=0, y=0, width=self.width, height=self.height)

    @property
    def safe(self) -> Box:
        return self.box.inset(self.safe_mm)

    def texts(self) -> tuple[Words, ...]:
        return tuple(mark for mark in self.marks if isinstance(mark, Words))


def rectangle(
    box: Box, *, fill: str | None = BLACK, stroke: str | None = None, width: float = 0,
    role: str = "",
) -> Outline:  # fmt: skip
    """Return a plain rectangle as a mark."""
    view = (0.0, 0.0, box.width, box.height)
    d = f"M0 0H{box.width:.4f}V{box.height:.4f}H0Z"
    return Outline(d=d, view=view, box=box, fill=fill, stroke=stroke, stroke_width=width, role=role)
