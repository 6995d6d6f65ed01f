"""Labels as a PDF: vectors, embedded fonts, every length true to size."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from io import BytesIO
from math import atan2, cos, degrees, hypot, pi, sin

from fontTools.pens.basePen import BasePen
from fontTools.pens.recordingPen import RecordingPen
from fontTools.pens.transformPen import TransformPen
from fontTools.svgLib.path import parse_path
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from pourwright.papers.labels.marks import Drawing, Outline, Picture, Words
from pourwright.papers.typefaces import BOLD, Typeface

PT_PER_MM = 72 / 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """
    A label at a place on a page: its upper left corner, in millimetres from the page's.

    ``across`` is a word printed over the whole label, large and grey: what is not fit to be used.
    """

    drawing: Drawing
    x: float
    y: float
    across: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page: its size in millimetres, its labels, and lines to cut by or to measure."""

    width: float
    height: float
    placed: tuple[Placed, ...] = ()
    lines: tuple[tuple[float, float, float, float], ...] = ()
    notes: tuple[Words, ...] = ()


def labels_pdf(pages: Iterable[Page], *, title: str) -> bytes:
    """
    Return a PDF of the pages; the same pages give the same bytes.

    Each page's trim box is its whole size; a single label's page shows the bleed around the trim.
    A label that stands there more than once is written once and used again.
    """
    pages = list(pages)
    out = BytesIO()
    canvas = Canvas(out, invariant=1, initialFontName=_registered("Regular"))
    canvas.setTitle(title)
    canvas.setCreator("Pourwright")
    kept = _Kept(pages)
    for page in pages:
        canvas.setPageSize((page.width * PT_PER_MM, page.height * PT_PER_MM))
        for placed in page.placed:
            kept.draw(canvas, placed, page_height=page.height)
            if placed.across:
                _draw_across(canvas, placed, page_height=page.height)
        _draw_lines(canvas, page)
        for words in page.notes:
            _draw_words(canvas, words, page_height=page.height)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


# A drawn thing with a longer outline than this is written once where it recurs: a square code, a
# pictogram.
LONG_OUTLINE = 300


class _Kept:
    """
    What stands on the pages more than once, each kept in the PDF as one form: whole labels, and
    the long outlines of labels that differ only in their lot's number.
    """

    def __init__(self, pages: Sequence[Page]) -> None:
        placed = [one.drawing for page in pages for one in page.placed]
        times = Counter(map(id, placed))
        self._labels = {key for key, number in times.items() if number > 1}
        drawings = {id(drawing): drawing for drawing in placed}.values()
        outlines = Counter(
            _look_of(mark)
            for drawing in drawings
            for mark in drawing.marks
            if isinstance(mark, Outline) and len(mark.d) > LONG_OUTLINE
        )
        self._outlines = {key for key, number in outlines.items() if number > 1}
        self._names: dict[object, str] = {}

    def draw(self, canvas: Canvas, placed: Placed, *, page_height: float) -> None:
        drawing = placed.drawing
        if id(drawing) not in self._labels:
            _draw(canvas, placed, self, page_height=page_height)
            return
        bleed = drawing.bleed_mm
        if id(drawing) not in self._names:
            # What a form leans on is written before it.
            self._keep_outlines(canvas, drawing)
            width, height = drawing.width + 2 * bleed, drawing.height + 2 * bleed
            canvas.beginForm(self._name(id(drawing)), 0, 0, *_points(width, height))
            alone = Placed(drawing=drawing, x=bleed, y=bleed)
            _draw(canvas, alone, self, page_height=height)
            canvas.endForm()
        canvas.saveState()
        foot = page_height - placed.y - drawing.height
        canvas.translate(*_points(placed.x - bleed, foot - bleed))
        canvas.doForm(self._names[id(drawing)])
        canvas.restoreState()

    def draw_outline(self, canvas: Canvas, mark: Outline, *, page_height: float) -> bool:
        """Draw an outline from its form where it has one; return whether it has."""
        key = _look_of(mark)
        if key not in self._outlines:
            return False
        if key not in self._names:
            self._keep_outline(canvas, mark)
        scale = mark.scale * PT_PER_MM
        x, y = _points(mark.box.x, page_height - mark.box.foot)
        canvas.saveState()
        canvas.transform(scale, 0, 0, scale, x, y)
        canvas.doForm(self._names[key])
        canvas.restoreState()
        return True

    def _keep_outlines(self, canvas: Canvas, drawing: Drawing) -> None:
        for mark in drawing.marks:
            if isinstance(mark, Outline):
                key = _look_of(mark)
                if key in self._outlines and key not in self._names:
                    self._keep_outline(canvas, mark)

    def _keep_outline(self, canvas: Canvas, mark: Outline) -> None:
        """Write an outline in its own units, with room for a stroke that runs over its box."""
        *_, width, height = mark.view
        room = mark.stroke_width / mark.scale
        name = self._name(_look_of(mark))
        canvas.beginForm(name, -room, -room, width + room, height + room)
        _path(canvas, mark, scale=1.0, origin=(0.0, height), stroke=room)
        canvas.endForm()

    def _name(self, key: object) -> str:
        return self._names.setdefault(key, f"kept{len(self._names)}")


def _look_of(mark: Outline) -> tuple:
    stroke = round(mark.stroke_width / mark.scale, 6) if mark.stroke else 0
    return mark.d, mark.view, mark.fill, mark.stroke, stroke, mark.even_odd


def single_page(drawing: Drawing, *, marks: bool = True, across: str = "") -> Page:
    """Return a page of one label with its bleed and, around it, the marks to cut by."""
    around = drawing.bleed_mm + (CUT_GAP + CUT_LENGTH if marks else 0)
    placed = Placed(drawing=drawing, x=around, y=around, across=across)
    return Page(
        width=drawing.width + 2 * around,
        height=drawing.height + 2 * around,
        placed=(placed,),
        lines=tuple(cut_marks([placed])) if marks else (),
    )


CUT_GAP = 1.0
CUT_LENGTH = 3.0


def cut_marks(placed: Sequence[Placed]) -> Iterable[tuple[float, float, float, float]]:
    """Return short lines outside each label's corners, or around a round one, beyond its bleed."""
    for one in placed:
        if one.drawing.shape == "circle":
            yield from _round_marks(one)
            continue
        left, top = one.x, one.y
        right, foot = left + one.drawing.width, top + one.drawing.height
        near = one.drawing.bleed_mm + CUT_GAP
        far = near + CUT_LENGTH
        for x in (left, right):
            yield x, top - far, x, top - near
            yield x, foot + near, x, foot + far
        for y in (top, foot):
            yield left - far, y, left - near, y
            yield right + near, y, right + far, y


ROUND_MARKS = 24


def _round_marks(placed: Placed) -> Iterable[tuple[float, float, float, float]]:
    radius = placed.drawing.width / 2
    x, y = placed.x + radius, placed.y + radius
    near = radius + placed.drawing.bleed_mm + CUT_GAP / 2
    far = near + CUT_LENGTH / 2
    for step in range(ROUND_MARKS):
        turn = 2 * pi * step / ROUND_MARKS
        yield x + near * cos(turn), y + near * sin(turn), x + far * cos(turn), y + far * sin(turn)


def _draw(canvas: Canvas, placed: Placed, kept: _Kept, *, page_height: float) -> None:
    drawing = placed.drawing
    canvas.saveState()
    _clip(canvas, placed, page_height=page_height)
    if drawing.ground:
        bleed = drawing.bleed_mm
        canvas.setFillColor(_six_digits(drawing.ground))
        canvas.rect(
            *_points(placed.x - bleed, page_height - placed.y - drawing.height - bleed),
            *_points(drawing.width + 2 * bleed, drawing.height + 2 * bleed),
            stroke=0,
            fill=1,
        )
    for mark in drawing.marks:
        at = mark.moved(placed.x, placed.y)
        if isinstance(at, Words):
            _draw_words(canvas, at, page_height=page_height)
        elif isinstance(at, Outline):
            if not kept.draw_outline(canvas, at, page_height=page_height):
                _draw_outline(canvas, at, page_height=page_height)
        else:
            _draw_picture(canvas, at, page_height=page_height)
    canvas.restoreState()


def _clip(canvas: Canvas, placed: Placed, *, page_height: float) -> None:
    """Nothing of a label reaches beyond its bleed and into its neighbour."""
    drawing, bleed = placed.drawing, placed.drawing.bleed_mm
    path = canvas.beginPath()
    if drawing.shape == "circle":
        radius = drawing.width / 2
        middle = _points(placed.x + radius, page_height - placed.y - radius)
        path.circle(*middle, (radius + bleed) * PT_PER_MM)
    else:
        path.rect(
            *_points(placed.x - bleed, page_height - placed.y - drawing.height - bleed),
            *_points(drawing.width + 2 * bleed, drawing.height + 2 * bleed),
        )
    canvas.clipPath(path, stroke=0, fill=0)


def _draw_words(canvas: Canvas, words: Words, *, page_height: float) -> None:
    canvas.setFillColor(_six_digits(words.fill))
    canvas.setFont(_registered(words.face.weight), words.size_pt)
    canvas.drawString(*_points(words.x, page_height - words.y), words.text)


def _draw_outline(canvas: Canvas, mark: Outline, *, page_height: float) -> None:
    _path(
        canvas, mark, scale=mark.scale * PT_PER_MM,
        origin=_points(mark.box.x, page_height - mark.box.y),
        stroke=mark.stroke_width * PT_PER_MM,
    )  # fmt: skip


def _path(
    canvas: Canvas, mark: Outline, *, scale: float, origin: tuple[float, ...], stroke: float
) -> None:
    """Draw an outline, its view's upper left corner at ``origin``, y turned over."""
    x, y, *_ = mark.view
    matrix = (scale, 0, 0, -scale, origin[0] - x * scale, origin[1] + y * scale)
    path = canvas.beginPath()
    _parsed(mark.d).replay(TransformPen(_CanvasPen(path), matrix))
    if mark.fill:
        canvas.setFillColor(_six_digits(mark.fill))
    if mark.stroke:
        canvas.setStrokeColor(_six_digits(mark.stroke))
        canvas.setLineWidth(stroke)
    canvas.drawPath(
        path, stroke=int(bool(mark.stroke)), fill=int(bool(mark.fill)),
        fillMode=0 if mark.even_odd else 1,
    )  # fmt: skip


@lru_cache(maxsize=2_000)
def _parsed(d: str) -> RecordingPen:
    """Read path data once: a pictogram stands on every label of a sheet."""
    pen = RecordingPen()
    parse_path(d, pen)
    return pen


def _draw_across(canvas: Canvas, placed: Placed, *, page_height: float) -> None:
    """Draw a word from corner to corner, over everything, so that it can be seen through."""
    drawing = placed.drawing
    width, height = drawing.width, drawing.height
    size = BOLD.size_pt("capital", height_mm=10)
    wide = BOLD.width_mm(placed.across, size_pt=size)
    # Three quarters of the way, and no taller than most of the label.
    size *= min(0.7 * hypot(width, height) / wide, 0.035 * min(width, height))
    canvas.saveState()
    canvas.translate(*_points(placed.x + width / 2, page_height - placed.y - height / 2))
    canvas.rotate(degrees(atan2(height, width)))
    canvas.setFillColor("#6b6b6b")
    canvas.setFillAlpha(0.45)
    canvas.setFont(_registered(BOLD.weight), size)
    rise = BOLD.height_mm("capital", size_pt=size) / 2
    canvas.drawCentredString(0, -rise * PT_PER_MM, placed.across)
    canvas.restoreState()


def _six_digits(colour: str) -> str:
    """Return "#fff" as "#ffffff": the PDF library takes the short form for another number."""
    return "#" + "".join(digit * 2 for digit in colour[1:]) if len(colour) == 4 else colour


def _draw_picture(canvas: Canvas, mark: Picture, *, page_height: float) -> None:
    box = mark.box
    canvas.drawImage(
        ImageReader(BytesIO(mark.data)),
        *_points(box.x, page_height - box.foot),
        *_points(box.width, box.height),
        mask="auto",
    )


def _draw_lines(canvas: Canvas, page: Page) -> None:
    canvas.setStrokeColor("#000000")
    canvas.setLineWidth(0.25)
    for x1, y1, x2, y2 in page.lines:
        canvas.line(*_points(x1, page.height - y1), *_points(x2, page.height - y2))


def _points(*lengths: float) -> tuple[float, ...]:
    return tuple(length * PT_PER_MM for length in lengths)


@cache
def _registered(weight: str) -> str:
    """Return the font's name in PDFs, after telling reportlab of it once."""
    face = Typeface(weight)  # type: ignore[arg-type]
    pdfmetrics.registerFont(TTFont(face.name, str(face.path)))
    return face.name


class _CanvasPen(BasePen):
    """Hands an outline on to a path of the canvas; quadratic curves become cubic on the way."""

    def __init__(self, path) -> None:
        super().__init__(None)
        self.path = path

    def _moveTo(self, pt) -> None:  # noqa: N802 - the pen protocol's name
        self.path.moveTo(*pt)

    def _lineTo(self, pt) -> None:  # noqa: N802 - the pen protocol's name
        self.path.lineTo(*pt)

    def _curveToOne(self, pt1, pt2, pt3) -> None:  # noqa: N802 - the pen protocol's name
        self.path.curveTo(*pt1, *pt2, *pt3)

    def _closePath(self) -> None:  # noqa: N802 - the pen protocol's name
        self.path.close()
