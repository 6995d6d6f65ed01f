"""
A jig as a paper template, true to size: to drill by, to cut card by, or to check a printed jig on.

A jig that is larger than the paper runs over several sheets, which overlap; each carries the lines
to cut and crosses to lay on its neighbour's, a ruler each way, and the cautions.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from io import BytesIO
from math import ceil, cos, degrees, sin

import numpy as np
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from pourwright.core.amounts import in_both, show_length
from pourwright.core.errors import BadInput
from pourwright.core.wicks.flat import Edge, Round, arc_of, sides
from pourwright.core.wicks.jigs import CAUTIONS, Jig, inset
from pourwright.core.wicks.outlines import Outline
from pourwright.papers.labels.sheets import PAPERS
from pourwright.papers.typefaces import BOLD, REGULAR, Typeface

PT_PER_MM = 72 / 25.4

MARGIN_MM = 12.0
HEAD_MM = 26.0
FOOT_MM = 42.0
OVERLAP_MM = 12.0
RULER_MM = 100.0
MOST_SHEETS = 30


class BadPaper(BadInput):
    """The template does not go on that paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """How a drawing is spread over paper: sheet by sheet, each showing a window of it, in mm."""

    paper: tuple[float, float]
    columns: int
    rows: int
    left: float
    low: float
    width: float
    height: float

    @property
    def window(self) -> tuple[float, float]:
        """How much of the drawing one sheet shows."""
        return self.paper[0] - 2 * MARGIN_MM, self.paper[1] - HEAD_MM - FOOT_MM

    def origin(self, column: int, row: int) -> tuple[float, float]:
        """Return where the drawing's (0, 0) lies on a sheet, from its lower left corner."""
        wide, high = self.window
        spread = (self.columns * (wide - OVERLAP_MM) + OVERLAP_MM,
                  self.rows * (high - OVERLAP_MM) + OVERLAP_MM)  # fmt: skip
        # The drawing stands in the middle of all the sheets; row 0 is the top one.
        start_x = (spread[0] - self.width) / 2 - self.left
        start_y = (spread[1] - self.height) / 2 - self.low
        down = self.rows - 1 - row
        return (
            MARGIN_MM + start_x - column * (wide - OVERLAP_MM),
            FOOT_MM + start_y - down * (high - OVERLAP_MM),
        )


def sheets_for(jig: Jig, *, paper: str = "A4") -> Sheets:
    """
    Return how a jig goes on paper, lengthwise or across, whichever takes fewer sheets.

    Raises ``BadPaper`` where the paper is not known or more than 30 sheets would be needed.
    """
    if paper not in PAPERS:
        raise BadPaper(f"The paper “{paper}” is not known; it is one of {', '.join(PAPERS)}.")
    boxes = [layer.plate.box() for layer in jig.layers]
    left, low = min(box[0] for box in boxes) - 2, min(box[1] for box in boxes) - 2
    width = max(box[2] for box in boxes) + 2 - left
    height = max(box[3] for box in boxes) + 2 - low
    size = PAPERS[paper]
    found = min(
        (
            Sheets(paper=turned, columns=_number(width, turned[0] - 2 * MARGIN_MM),
                   rows=_number(height, turned[1] - HEAD_MM - FOOT_MM),
                   left=left, low=low, width=width, height=height)
            for turned in (size, size[::-1])
        ),
        key=lambda sheets: sheets.columns * sheets.rows,
    )  # fmt: skip
    if found.columns * found.rows > MOST_SHEETS:
        raise BadPaper(
            f"The jig is {width:.0f} by {height:.0f} mm and would need "
            f"{found.columns * found.rows} sheets of {paper}; take larger paper."
        )
    return found


def _number(length: float, window: float) -> int:
    return max(1, ceil((length - OVERLAP_MM) / (window - OVERLAP_MM)))


def jig_pdf(jig: Jig, *, title: str, paper: str = "A4") -> bytes:
    """Return the template; the same jig gives the same bytes."""
    sheets = sheets_for(jig, paper=paper)
    out = BytesIO()
    canvas = Canvas(out, invariant=1, initialFontName=_registered(REGULAR))
    canvas.setTitle(title)
    canvas.setCreator("Pourwright")
    canvas.setSubject(" ".join(CAUTIONS))
    for row in range(sheets.rows):
        for column in range(sheets.columns):
            canvas.setPageSize(_points(*sheets.paper))
            _Sheet(canvas, jig, sheets, column, row).draw(title)
            canvas.showPage()
    canvas.save()
    return out.getvalue()


class _Sheet:
    """One sheet of paper: millimetres from its lower left corner, y up."""

    def __init__(self, canvas: Canvas, jig: Jig, sheets: Sheets, column: int, row: int) -> None:
        self.canvas, self.jig, self.sheets = canvas, jig, sheets
        self.column, self.row = column, row
        self.x0, self.y0 = sheets.origin(column, row)

    def draw(self, title: str) -> None:
        wide, high = self.sheets.window
        canvas = self.canvas
        canvas.saveState()
        window = canvas.beginPath()
        window.rect(*_points(MARGIN_MM, FOOT_MM, wide, high))
        canvas.clipPath(window, stroke=0, fill=0)
        self._jig()
        canvas.restoreState()
        self._joins()
        self._head(title)
        self._foot()

    def at(self, x: float, y: float) -> tuple[float, float]:
        return (self.x0 + x) * PT_PER_MM, (self.y0 + y) * PT_PER_MM

    # --- the drawing

    def _jig(self) -> None:
        jig, canvas = self.jig, self.canvas
        self._pen(0.5, "#6b6b6b", dash=(6, 2, 1, 2))
        self._stroke(_as_edge(jig.inside))
        for layer in jig.layers[1:]:
            self._pen(0.4, "#6b6b6b", dash=(3, 2))
            self._stroke(layer.plate.outline)
        top = jig.layers[0].plate
        self._pen(0.7, "#000000")
        self._stroke(top.outline)
        for opening in top.openings:
            self._stroke(opening)
        for number, hole in enumerate(jig.holes, start=1):
            self._pen(0.35, "#000000")
            reach = max(hole.radius + 2.5, 4.0)
            x, y = hole.x, hole.y
            canvas.line(*self.at(x - reach, y), *self.at(x + reach, y))
            canvas.line(*self.at(x, y - reach), *self.at(x, y + reach))
            if len(jig.holes) > 1:
                self._words(str(number), self.x0 + x + hole.radius + 1, self.y0 + y + 1.2, 7)
        self._pen(0.35, "#6b6b6b", dash=(4, 1.5, 1, 1.5))
        canvas.line(*self.at(-8, 0), *self.at(8, 0))
        canvas.line(*self.at(0, -8), *self.at(0, 8))

    def _pen(self, width: float, colour: str, dash: tuple[float, ...] = ()) -> None:
        self.canvas.setLineWidth(width)
        self.canvas.setStrokeColor(colour)
        self.canvas.setDash(*([list(dash)] if dash else []))

    def _stroke(self, edge: Edge) -> None:
        path = self.canvas.beginPath()
        if isinstance(edge, Round):
            path.circle(*self.at(edge.x, edge.y), edge.radius * PT_PER_MM)
        else:
            path.moveTo(*self.at(edge[0].x, edge[0].y))
            for start, end in sides(edge):
                if abs(start.bulge) < 1e-9:
                    path.lineTo(*self.at(end.x, end.y))
                else:
                    self._arc(path, start, end)
            path.close()
        self.canvas.drawPath(path, stroke=1, fill=0)

    def _arc(self, path, start, end) -> None:
        """Add an arc as cubic curves of at most a quarter turn."""
        arc = arc_of(start, end)
        parts = max(1, ceil(abs(degrees(arc.turn)) / 90 - 1e-9))
        step = arc.turn / parts
        pull = 4 / 3 * np.tan(step / 4) * arc.radius
        for number in range(parts):
            a = arc.start + number * step
            b = a + step
            ax, ay = arc.x + arc.radius * cos(a), arc.y + arc.radius * sin(a)
            bx, by = arc.x + arc.radius * cos(b), arc.y + arc.radius * sin(b)
            path.curveTo(
                *self.at(ax - pull * sin(a), ay + pull * cos(a)),
                *self.at(bx + pull * sin(b), by - pull * cos(b)),
                *self.at(bx, by),
            )

    # --- marks and words

    def _joins(self) -> None:
        """Draw where to cut and lay this sheet on the next ones: the overlap's middle."""
        sheets = self.sheets
        wide, high = sheets.window
        half = OVERLAP_MM / 2
        self._pen(0.35, "#000000", dash=(1.5, 2))
        upright = [
            x for x, there in ((MARGIN_MM + half, self.column > 0),
                               (MARGIN_MM + wide - half, self.column < sheets.columns - 1)) if there
        ]  # fmt: skip
        level = [
            y for y, there in ((FOOT_MM + half, self.row < sheets.rows - 1),
                               (FOOT_MM + high - half, self.row > 0)) if there
        ]  # fmt: skip
        for x in upright:
            self.canvas.line(*_points(x, FOOT_MM, x, FOOT_MM + high))
        for y in level:
            self.canvas.line(*_points(MARGIN_MM, y, MARGIN_MM + wide, y))
        self._pen(0.5, "#000000")
        for x in upright:
            for share in (0.2, 0.5, 0.8):
                self._cross(x, FOOT_MM + share * high)
        for y in level:
            for share in (0.2, 0.5, 0.8):
                self._cross(MARGIN_MM + share * wide, y)

    def _cross(self, x: float, y: float) -> None:
        self.canvas.line(*_points(x - 3, y - 3, x + 3, y + 3))
        self.canvas.line(*_points(x - 3, y + 3, x + 3, y - 3))

    def _head(self, title: str) -> None:
        sheets = self.sheets
        top = sheets.paper[1]
        self._words(title, MARGIN_MM, top - 13, 12, BOLD)
        what = _what(self.jig)
        many = sheets.columns * sheets.rows
        if many > 1:
            what += (
                f"  Sheet {self.row * sheets.columns + self.column + 1} of {many}: row "
                f"{self.row + 1}, column {self.column + 1}. Cut along the dotted lines; the "
                "crosses meet."
            )
        for number, line in enumerate(_folded(what, sheets.paper[0] - 2 * MARGIN_MM, 8)):
            self._words(line, MARGIN_MM, top - 18 - 3.6 * number, 8)

    def _foot(self) -> None:
        x, y = MARGIN_MM, FOOT_MM - 9
        self._pen(0.4, "#000000")
        canvas = self.canvas
        canvas.line(*_points(x, y, x + RULER_MM, y))
        for step in range(int(RULER_MM) // 5 + 1):
            tall = 3.0 if step % 10 == 0 else 2.2 if step % 2 == 0 else 1.2
            canvas.line(*_points(x + 5 * step, y, x + 5 * step, y + tall))
        side = self.sheets.paper[0] - MARGIN_MM
        canvas.line(*_points(side, 10, side, 35))
        for step in range(6):
            canvas.line(*_points(side, 10 + 5 * step, side - 2, 10 + 5 * step))
        self._words(
            f"{_both(100)} across, {_both(25)} up: measure both; print at 100 %, never fitted to "
            "the page.",
            x, y - 3.6, 7.5,
        )  # fmt: skip
        line_y = y - 8.4
        for caution in CAUTIONS:
            for line in _folded(caution, side - 6 - MARGIN_MM, 6.8):
                self._words(line, x, line_y, 6.8)
                line_y -= 2.9

    def _words(self, text: str, x: float, y: float, size: float, face: Typeface = REGULAR) -> None:
        self.canvas.setFillColor("#000000")
        self.canvas.setFont(_registered(face), size)
        self.canvas.drawString(*_points(x, y), text)


def _what(jig: Jig) -> str:
    """Return what the lines are, in words."""
    fit = jig.fit
    if jig.form == "bar":
        kind = "slots open to the side" if fit.slots else "drill"
        return (
            f"Wick bar, seen from above: holes of {_both(fit.hole_mm)}, {kind}. Solid: the bar, "
            f"{_both(fit.thickness_mm)} thick. Dashed: the lip, glued centred below it, which goes "
            f"inside the rim (dash and dot) with {_both(fit.clearance_mm)} to spare."
        )
    return (
        f"Setting guide, seen from above: openings for tabs of {_both(fit.tab_mm)}. Solid: the "
        f"guide; dash and dot: the vessel’s floor, {_both(fit.clearance_mm)} away. "
        + " ".join(jig.notes)
    )


def _both(length_mm: float) -> str:
    return in_both(show_length, Fraction(str(length_mm)))


def _folded(text: str, width_mm: float, size_pt: float) -> list[str]:
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}".strip()
        if line and REGULAR.width_mm(longer, size_pt=size_pt) > width_mm:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line]


def _as_edge(outline: Outline) -> Edge:
    """Return a vessel's inside as an edge to draw."""
    return inset(outline, 0.0)


def _points(*lengths: float) -> tuple[float, ...]:
    return tuple(length * PT_PER_MM for length in lengths)


@cache
def _registered(face: Typeface) -> str:
    pdfmetrics.registerFont(TTFont(face.name, str(face.path)))
    return face.name
