"""
Set texts and signs below one another in a region, as large as they fit.

Every text has a size that it would like and a least one, which a law or legibility asks for. One
factor between the two is found for all, so that the texts keep their order of weight. Where even
the least sizes do not fit, nothing is drawn smaller: ``DoesNotFit`` says how much room is lacking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, inf
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.papers.labels.marks import BLACK, Box, Mark, Words
from pourwright.papers.labels.regions import Region
from pourwright.papers.typefaces import MM_PER_PT, REGULAR, Typeface

Align = Literal["left", "middle"]
Anchor = Literal["top", "middle", "foot"]

# Lines stand 120 % of the type's size apart: asked for of hazard labels from 2028 on, and common
# practice in text setting for the rest.
LINE = 1.2


class DoesNotFit(BadInput):
    """What must stand on a label does not fit on it at its least size."""

    def __init__(self, message: str, *, lacking_mm: float) -> None:
        super().__init__(message)
        self.lacking_mm = lacking_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A run of words in one face; a paragraph is made of pieces."""

    text: str
    face: Typeface = REGULAR
    role: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """
    Text that is broken into lines.

    ``least_pt`` is the smallest that it may be, ``wish_pt`` the largest that it would like.
    ``gap_mm`` stands above it.
    """

    pieces: tuple[Piece, ...]
    least_pt: float
    wish_pt: float
    align: Align = "left"
    gap_mm: float = 0.8
    fill: str = BLACK
    keep_whole: bool = False

    def size(self, factor: float) -> float:
        return self.least_pt + factor * max(0.0, self.wish_pt - self.least_pt)


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """
    Drawn things of fixed size in a row, broken into rows where the line is too short.

    Each is its width, its height and its marks, drawn from (0, 0).
    """

    items: tuple[tuple[float, float, tuple[Mark, ...]], ...]
    align: Align = "left"
    gap_mm: float = 1.0
    apart_mm: float = 1.5


Part = Paragraph | Signs


@dataclass(frozen=True, slots=True)
class Setting:
    """What was set: the marks of each part in turn, and the box that all of them take."""

    parts: tuple[tuple[Mark, ...], ...]
    box: Box

    @property
    def marks(self) -> tuple[Mark, ...]:
        return tuple(mark for part in self.parts for mark in part)

    @property
    def smallest_pt(self) -> float:
        """The smallest type in it; endless where there is none."""
        sizes = [mark.size_pt for mark in self.marks if isinstance(mark, Words)]
        return min(sizes, default=inf)


@dataclass(slots=True)
class _Pen:
    """Where the next line goes, what was drawn so far, and how far a line ran over its end."""

    region: Region
    y: float
    parts: list[list[Mark]] = field(default_factory=list)
    over_mm: float = 0.0

    @property
    def marks(self) -> list[Mark]:
        return self.parts[-1]

    def room(self, height: float) -> tuple[float, float]:
        return self.region.span(self.y, self.y + height)

    def start_of(self, width: float, left: float, right: float, align: Align) -> float:
        self.over_mm = max(self.over_mm, width - (right - left))
        return left if align == "left" else left + (right - left - width) / 2

    @property
    def fits(self) -> bool:
        return self.y <= self.region.foot + SLACK and self.over_mm <= SLACK


SLACK = 1e-6


def set_parts(
    parts: Sequence[Part], region: Region, *, what: str, anchor: Anchor = "top"
) -> Setting:
    """
    Return the parts set as large as they fit.

    Raises ``DoesNotFit`` with what is lacking at the least sizes; ``what`` names the face of the
    label in that message.
    """
    low, high = 0.0, 1.0
    found = _set(parts, region, 0.0, anchor)
    if found is None:
        raise _too_small(parts, region, what)
    if whole := _set(parts, region, 1.0, anchor):
        found, low = whole, 1.0
    while high - low > 0.002:
        middle = (low + high) / 2
        if larger := _set(parts, region, middle, anchor):
            found, low = larger, middle
        else:
            high = middle
    start, pen = found
    drawn = [mark.box for part in pen.parts for mark in part]
    left = min((box.x for box in drawn), default=region.span(start, start)[0])
    right = max((box.right for box in drawn), default=left)
    return Setting(
        parts=tuple(map(tuple, pen.parts)),
        box=Box(x=left, y=start, width=right - left, height=pen.y - start),
    )


def height_mm(parts: Sequence[Part], region: Region, factor: float) -> float:
    """
    Return how much height parts take at a factor from 0 (least sizes) to 1; endless where a line is
    too long for the region. In a rectangle the heights of groups add up.
    """
    pen = _draw(parts, region, factor, region.top)
    return inf if pen.over_mm > SLACK else pen.y - region.top


def _set(
    parts: Sequence[Part], region: Region, factor: float, anchor: Anchor
) -> tuple[float, _Pen] | None:
    """Return where the parts begin and how they are drawn at a factor, or None if they overrun."""
    room = region.foot - region.top
    for step in range(10):  # a circle's first lines are too short: begin further down
        start = region.top + room * step / 20
        pen = _draw(parts, region, factor, start)
        if pen.fits:
            break
    else:
        return None
    height = pen.y - start
    settled = {"top": start, "middle": region.top + (room - height) / 2,
               "foot": region.foot - height}[anchor]  # fmt: skip
    again = _draw(parts, region, factor, settled)
    return (settled, again) if again.fits else (start, pen)


def _too_small(parts: Sequence[Part], region: Region, what: str) -> DoesNotFit:
    pen = _draw(parts, region, 0.0, region.top)
    taller = max(0.0, pen.y - region.foot)
    lacking = []
    if pen.over_mm > SLACK:
        lacking.append(f"{_up(pen.over_mm)} mm more width for its longest line")
    if taller > SLACK:
        lacking.append(f"{_up(taller)} mm more height")
    height = max(region.foot - region.top, 0)
    return DoesNotFit(
        f"{what} does not fit at the least lawful sizes: it has {height:.1f} mm of height and "
        f"lacks {' and '.join(lacking) or 'room'}. A larger label, another column, a fold-out or "
        "a tag would hold it.",
        lacking_mm=max(taller, pen.over_mm),
    )


def _up(mm: float) -> str:
    return f"{ceil(mm * 10) / 10:.1f}"


def _draw(parts: Sequence[Part], region: Region, factor: float, start: float) -> _Pen:
    pen = _Pen(region=region, y=start)
    for number, part in enumerate(parts):
        if number:
            pen.y += part.gap_mm
        pen.parts.append([])
        if isinstance(part, Paragraph):
            _draw_paragraph(pen, part, factor)
        else:
            _draw_signs(pen, part)
    return pen


# --- text ----------------------------------------------------------------------------------------

_Word = tuple[str, Piece]


def _draw_paragraph(pen: _Pen, part: Paragraph, factor: float) -> None:
    size = part.size(factor)
    rise, hang = _ink(part, size)
    step = LINE * size * MM_PER_PT
    words = _words(part)
    first = True
    while words:
        if not first:
            pen.y += step - rise
        first = False
        left, right = pen.room(rise)
        line, words = _take_line(words, right - left, size, keep_whole=part.keep_whole)
        x = pen.start_of(_width(line, size), left, right, part.align)
        pen.y += rise
        pen.marks.extend(_line_marks(line, x=x, y=pen.y, size=size, fill=part.fill))
    pen.y += hang


def _ink(part: Paragraph, size: float) -> tuple[float, float]:
    """Return how far any line's ink reaches above and below its base line."""
    reach = [piece.face.extent_mm(f"dp{piece.text}", size_pt=size) for piece in part.pieces]
    return max(above for above, _ in reach), max(below for _, below in reach)


def _words(part: Paragraph) -> list[_Word]:
    return [(word, piece) for piece in part.pieces for word in piece.text.split()]


def _take_line(
    words: list[_Word], room: float, size: float, *, keep_whole: bool
) -> tuple[list[_Word], list[_Word]]:
    """Return the words that fit on a line, one at least, and the rest."""
    if keep_whole:
        return words, []
    count, width = 0, 0.0
    for word, piece in words:
        wider = width + piece.face.width_mm(word, size_pt=size)
        if count:
            wider += piece.face.width_mm(" ", size_pt=size)
            if wider > room + 1e-9:
                break
        count, width = count + 1, wider
    return words[:count], words[count:]


def _width(line: Sequence[_Word], size: float) -> float:
    return sum(piece.face.width_mm(word, size_pt=size) for word, piece in line) + sum(
        piece.face.width_mm(" ", size_pt=size) for _, piece in line[1:]
    )


def _line_marks(
    line: Sequence[_Word], *, x: float, y: float, size: float, fill: str
) -> list[Words]:
    """Return a line as few marks as may be: one for each run of the same piece."""
    marks: list[Words] = []
    runs: list[tuple[Piece, list[str]]] = []
    for word, piece in line:
        if runs and runs[-1][0] is piece:
            runs[-1][1].append(word)
        else:
            runs.append((piece, [word]))
    for number, (piece, run) in enumerate(runs):
        if number:
            x += piece.face.width_mm(" ", size_pt=size)
        text = " ".join(run)
        marks.append(
            Words(text=text, x=x, y=y, size_pt=size, face=piece.face, fill=fill, role=piece.role)
        )
        x += piece.face.width_mm(text, size_pt=size)
    return marks


# --- signs ---------------------------------------------------------------------------------------


def _draw_signs(pen: _Pen, part: Signs) -> None:
    left_over = list(part.items)
    first = True
    while left_over:
        if not first:
            pen.y += part.apart_mm
        first = False
        height = max(item[1] for item in left_over)
        left, right = pen.room(height)
        row, width = [], 0.0
        while left_over:
            wider = width + (part.apart_mm if row else 0) + left_over[0][0]
            if row and wider > right - left + 1e-9:
                break
            row.append(left_over.pop(0))
            width = wider
        x = pen.start_of(width, left, right, part.align)
        for item_width, item_height, marks in row:
            dy = pen.y + (height - item_height) / 2
            pen.marks.extend(mark.moved(x, dy) for mark in marks)
            x += item_width + part.apart_mm
        pen.y += height
