"""
The headroom of a candle as a bar along the load axis: which label elements stand at which load.

One thin lane an element, its words to the left (above it where the picture is narrow), filled where
the element is on the label, in a tone and a pattern of its kind that the legend names. Each end
that lies within the walk carries its figure, rounded to the safe side; the present load is a line
with its figure. The axis is in percent of the wax, with percent of the whole beneath. The page sets
``headroom_rows`` as a table beside it.

Classes: those of the charts (``ch``, ``ch-text``, ``ch-head``, ``ch-grid``, ``ch-today``), and
``hr-back`` (the ground behind figures), ``hr-mark`` (the strokes of the patterns), ``hr-edge`` (the
outline) and a fill each for ``hr-ban``, ``hr-signal``, ``hr-pictogram``, ``hr-statement``,
``hr-supplemental``, ``hr-name`` and ``hr-identifier``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from pourwright.core.amounts import number as shown_number
from pourwright.core.hazard.elements import Element
from pourwright.core.hazard.headroom import Band, Headroom, rounded_down
from pourwright.core.hazard.headroom_words import driver_words, rounded_up, span_words
from pourwright.core.hazard.paths import Path
from pourwright.core.hazard.spans import Span
from pourwright.papers.charts import PHONE_PX
from pourwright.papers.svg import (
    FONTS,
    Markup,
    Paint,
    Value,
    el,
    number,
    picture,
    shortened,
    text_width,
)

_TEXT = 12.0
_SMALL = 11.0
_LANE = 13.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A row of the table: an element, where it stands on both bases, and what drives it."""

    kind: str
    name: str
    where: str
    where_of_whole: str
    now: bool
    because: tuple[str, ...]


def headroom_rows(found: Headroom, *, places: int = 4) -> tuple[Row, ...]:
    """
    Return every element of the walk for a table, in the order of the label.

    ``where`` is in the walk's unit (``found.path.unit``), ``where_of_whole`` in percent of the
    whole; ``because`` names the three foremost ingredients.
    """
    return tuple(
        Row(
            kind=_KIND_WORDS[band.element.kind],
            name=_lane_words(band.element),
            where=_all_spans(band, found.path, places, of_whole=False),
            where_of_whole=_all_spans(band, found.path, places, of_whole=True),
            now=band.now,
            because=tuple(driver_words(driver) for driver in band.drivers[:3]),
        )
        for band in found.bands
    )


def headroom_bar_svg(
    found: Headroom,
    *,
    title: str,
    width: float = 640,
    prefix: str = "headroom",
    places: int = 2,
    standalone: bool = False,
) -> Markup:
    """
    Return the bar. ``places`` are the decimals of the figures at the ends.

    Ban, signal word, pictograms, statements and the identifier have a lane each; the substances to
    name share one, which counts them.
    """
    sheet = _Sheet(paint=Paint(ink=_INK, standalone=standalone), prefix=prefix)
    phone = width < PHONE_PX
    path = found.path
    lanes = _lanes(found)
    label_room = 0.0 if phone else min(250.0, width * 0.32)
    scale = _Scale(path=path, left=label_room + 4, right=width - 22)
    step = 36.0 if phone else 22.0
    top = 24.0
    bottom = top + step * max(len(lanes), 1) + 4
    body: list[Markup] = [sheet.patterns({lane.kind for lane in lanes})]
    ticks = _ticks(scale)
    body.extend(sheet.line(scale.x(t), top - 4, scale.x(t), bottom, "ch-grid") for t in ticks)
    now = scale.x(path.present)
    body.append(sheet.line(now, top - 6, now, bottom + 4, "ch-today"))
    for place, lane in enumerate(lanes):
        y = top + step * place + (18 if phone else 3)
        if phone:
            words = shortened(lane.words, room=width - 4, size=_TEXT)
            body.append(sheet.backed(words, 0, y - 4, size=_TEXT, head=True))
        else:
            words = shortened(lane.words, room=label_room - 12, size=_TEXT)
            body.append(sheet.text(words, 0, y + 11, head=True))
        body.extend(_lane(lane, scale, sheet, y=y, places=places, now=now))
    if not lanes:
        body.append(sheet.text("nothing on the label at any of these loads", scale.left, top + 14))
    body.append(_now_label(path, sheet, now, width))
    axis, y = _axis(path, scale, sheet, ticks, y=bottom, phone=phone)
    body.extend(axis)
    legend, y = _legend([lane.kind for lane in lanes], sheet, y=y + 8, width=width)
    body.extend(legend)
    return picture(
        *body,
        width=width,
        height=y,
        prefix=prefix,
        title=title,
        desc=_in_words(found),
        class_="ch",
    )


# --- what is drawn -------------------------------------------------------------------------------

_KIND_WORDS = {
    "ban": "ban on sale",
    "signal word": "signal word",
    "pictogram": "pictogram",
    "class": "hazard class",
    "statement": "hazard statement",
    "supplemental": "supplemental statement",
    "name": "substance to name",
    "identifier": "formula identifier",
    "precaution": "precautionary statement",
    "package": "on the package",
}
_CLASS = {
    "ban": "hr-ban",
    "signal word": "hr-signal",
    "pictogram": "hr-pictogram",
    "statement": "hr-statement",
    "supplemental": "hr-supplemental",
    "name": "hr-name",
    "identifier": "hr-identifier",
}
# The strokes of each kind's pattern on a tile of 8 by 8; statements are plain.
_PATTERN = {
    "ban": "M0 0L8 8M8 0L0 8",
    "signal word": "M-2 2L2 -2M0 8L8 0M6 10L10 6",
    "pictogram": "M2 2h1.4M6 6h1.4",
    "supplemental": "M-2 6L2 10M0 0L8 8M6 -2L10 2",
    "name": "M2 0V8M6 0V8",
    "identifier": "M0 2H8M0 6H8",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lane:
    """One lane: its kind, its words, and its spans with the number to print in each, if any."""

    kind: str
    words: str
    spans: tuple[tuple[Span, int | None], ...]


def _lanes(found: Headroom) -> list[_Lane]:
    lanes = [
        _Lane(
            kind=band.element.kind,
            words=_lane_words(band.element),
            spans=tuple((span, None) for span in band.spans),
        )
        for band in found.bands
        if band.element.kind in _CLASS and band.element.kind != "name"
    ]
    names = [band for band in found.bands if band.element.kind == "name"]
    if names:
        place = next((i for i, lane in enumerate(lanes) if lane.kind == "identifier"), len(lanes))
        lane = _Lane(kind="name", words="Substances to name, how many", spans=_counted(names))
        lanes.insert(place, lane)
    return lanes


def _counted(names: Sequence[Band]) -> tuple[tuple[Span, int | None], ...]:
    """Return the stretches on which the same number of substances is named."""
    ends = sorted({t for band in names for span in band.spans for t in (span.low, span.high)})
    found: list[tuple[Span, int | None]] = []
    for low, high in pairwise(ends):
        middle = (low + high) / 2
        count = sum(any(span.holds(middle) for span in band.spans) for band in names)
        if not count:
            continue
        if found and found[-1][1] == count and found[-1][0].high == low:
            found[-1] = (Span(found[-1][0].low, high), count)
        else:
            found.append((Span(low, high), count))
    return tuple(found)


def _lane_words(element: Element) -> str:
    if element.kind == "ban":
        return f"Not for sale: {element.code}"
    if element.kind == "signal word":
        return f"Signal word: {element.code}"
    if element.kind == "pictogram":
        return f"Pictogram {element.code}"
    if element.words and element.words != element.code:
        return f"{element.code} {element.words}"
    return element.code


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    path: Path
    left: float
    right: float

    def x(self, t: Fraction) -> float:
        part = (t - self.path.low) / (self.path.high - self.path.low)
        return self.left + (self.right - self.left) * float(part)


def _lane(
    lane: _Lane, scale: _Scale, sheet: _Sheet, *, y: float, places: int, now: float
) -> list[Markup]:
    """Return a lane: its bands, and the figures of its ends where none covers another."""
    path = scale.path
    drawn = [sheet.line(scale.left, y + _LANE / 2, scale.right, y + _LANE / 2, "ch-grid")]
    for span, _ in lane.spans:
        x, end = scale.x(span.low), scale.x(span.high)
        box = {"x": x, "y": y, "width": max(end - x, 2.0), "height": _LANE}
        drawn.append(el("rect", **box, **sheet.paint(_CLASS[lane.kind], "hr-edge")))
        if lane.kind in _PATTERN:
            fill = f"url(#{sheet.pattern_id(lane.kind)})"
            drawn.append(el("rect", **box, fill=fill))
    drawn.append(sheet.line(now, y - 1, now, y + _LANE + 1, "ch-today"))
    taken: list[tuple[float, float]] = [(now - 2, now + 2)]
    # Where the number of names changes, the band goes on: no figure, the table has it.
    inner = {one.high for (one, _), (other, _) in pairwise(lane.spans) if one.high == other.low}
    for before in (True, False):
        for span, _ in lane.spans:
            t = span.low if before else span.high
            if not path.low < t < path.high or t in inner or (span.low == span.high and before):
                continue
            shown = rounded_down(t, places) if before else rounded_up(t, places)
            words = shown_number(shown, places=places, strip=True)
            drawn += _end_figure(words, scale.x(t), taken, scale, sheet, y=y, before=before)
    for span, count in lane.spans:
        if count is None:
            continue
        words, middle = str(count), (scale.x(span.low) + scale.x(span.high)) / 2
        half = text_width(words, _SMALL) / 2 + 2
        low, high = scale.x(span.low) + half + 1, scale.x(span.high) - half - 1
        for at in (middle, middle + 2 * half + 2, middle - 2 * half - 2):
            if low <= at <= high and _free(taken, at - half, at + half):
                taken.append((at - half, at + half))
                drawn.append(sheet.backed(words, at - half + 2, y + 10.5, size=_SMALL))
                break
    return drawn


def _end_figure(
    words: str,
    x: float,
    taken: list[tuple[float, float]],
    scale: _Scale,
    sheet: _Sheet,
    *,
    y: float,
    before: bool,
) -> list[Markup]:
    """Return an end's figure beside it, outside the band if there is room, else inside, or none."""
    wide = text_width(words, _SMALL) + 6
    outside, inside = (x - wide - 2, x + 2) if before else (x + 2, x - wide - 2)
    for left in (outside, inside):
        fits = left >= scale.left - 2 and left + wide <= scale.right + 20
        if fits and _free(taken, left, left + wide):
            taken.append((left, left + wide))
            return [sheet.backed(words, left + 3, y + 10.5, size=_SMALL)]
    return []


def _free(taken: Iterable[tuple[float, float]], left: float, right: float) -> bool:
    return all(right <= start or left >= end for start, end in taken)


def _now_label(path: Path, sheet: _Sheet, now: float, width: float) -> Markup:
    words = f"now {shown_number(path.present, places=2, strip=True)} %"
    if path.kind != "amount":
        whole = shown_number(path.pct_of_whole_at(path.present), places=2, strip=True)
        words += f" ({whole} % of the whole)"
    half = text_width(words, _TEXT) / 2 + 2
    at = min(max(now, half), width - half)
    return sheet.text(words, at, 12, anchor="middle", head=True)


# --- axis and legend -----------------------------------------------------------------------------


def _ticks(scale: _Scale) -> list[Fraction]:
    """Return round places from the low end on, far enough apart for their figures."""
    reach = scale.path.high - scale.path.low
    room = scale.right - scale.left
    sizes = (Fraction(size) * Fraction(10) ** power for power in range(-4, 3)
             for size in (1, 2, "5/2", 5))  # fmt: skip
    step = next((size for size in sizes if room * float(size / reach) >= 46), reach)
    found = [scale.path.low]
    while found[-1] + step <= scale.path.high:
        found.append(found[-1] + step)
    return found


def _axis(
    path: Path,
    scale: _Scale,
    sheet: _Sheet,
    ticks: Sequence[Fraction],
    *,
    y: float,
    phone: bool,
) -> tuple[list[Markup], float]:
    """Return the axis: figures of the wax, beneath them of the whole; and where it ends."""
    both = path.kind != "amount"
    drawn = [sheet.line(scale.left, y, scale.right, y, "ch-axis")]
    for t in ticks:
        x = scale.x(t)
        drawn.append(sheet.line(x, y, x, y + 4, "ch-axis"))
        words = shown_number(t, places=4, strip=True)
        drawn.append(sheet.text(words, x, y + 16, anchor="middle", size=_SMALL, head=True))
        if both:
            whole = shown_number(path.pct_of_whole_at(t), places=2, strip=True)
            drawn.append(sheet.text(whole, x, y + 30, anchor="middle", size=_SMALL))
    names = [path.unit, *(["% of the whole"] if both else [])]
    if phone:
        words = names[0] if not both else f"above: {names[0]}; below: {names[1]}"
        drawn.append(sheet.text(words, scale.left, y + (46 if both else 32), size=_SMALL))
        return drawn, y + (50 if both else 36)
    for row, words in enumerate(names):
        x = scale.left - 20
        drawn.append(
            sheet.text(words, x, y + 16 + 14 * row, anchor="end", size=_SMALL, head=row == 0)
        )
    return drawn, y + (36 if both else 22)


def _legend(
    kinds: Sequence[str], sheet: _Sheet, *, y: float, width: float
) -> tuple[list[Markup], float]:
    """Return a swatch with its word for each kind that is drawn."""
    x, drawn = 0.0, []
    for kind in dict.fromkeys(kinds):
        words = _KIND_WORDS[kind]
        wide = 26 + text_width(words, _SMALL) + 14
        if x and x + wide - 14 > width:
            x, y = 0.0, y + 18
        box = {"x": x + 0.5, "y": y, "width": 20.0, "height": 11.0}
        drawn.append(el("rect", **box, **sheet.paint(_CLASS[kind], "hr-edge")))
        if kind in _PATTERN:
            drawn.append(el("rect", **box, fill=f"url(#{sheet.pattern_id(kind)})"))
        drawn.append(sheet.text(words, x + 26, y + 9.5, size=_SMALL))
        x += wide
    return drawn, y + 18 if drawn else y


# --- words ---------------------------------------------------------------------------------------


def _all_spans(band: Band, path: Path, places: int, *, of_whole: bool) -> str:
    return ", ".join(
        span_words(span, path, places=places, of_whole=of_whole) for span in band.spans
    )


def _in_words(found: Headroom) -> str:
    path = found.path
    lines = [
        f"From {_plain(path.low)} to {_plain(path.high)} {path.unit}, now {_plain(path.present)}."
    ]
    for band in found.bands:
        if band.element.kind in _CLASS and band.element.kind != "name":
            where = _all_spans(band, path, 2, of_whole=False)
            lines.append(f"{_lane_words(band.element).rstrip('.')}: {where}.")
    if len(lines) == 1:
        lines.append("Nothing on the label anywhere.")
    return " ".join(lines)


def _plain(value: Fraction) -> str:
    return shown_number(value, places=2, strip=True)


# --- the sheet -----------------------------------------------------------------------------------

_INK: dict[str, dict[str, Value]] = {
    "ch-text": {"fill": "#5e574c", "font_family": FONTS},
    "ch-head": {"fill": "#23201b", "font_family": FONTS},
    "ch-grid": {"stroke": "#ddd3c2", "stroke_width": 1},
    "ch-axis": {"stroke": "#5e574c", "stroke_width": 1},
    "ch-today": {"stroke": "#c8612b", "stroke_width": 1.5},
    "hr-back": {"fill": "#fffdf8"},
    "hr-mark": {"stroke": "#23201b", "stroke_width": 0.8, "fill": "none", "stroke_opacity": 0.45},
    "hr-edge": {"stroke": "#5e574c", "stroke_width": 0.8},
    "hr-ban": {"fill": "#e4a29b"},
    "hr-signal": {"fill": "#e2ae4c"},
    "hr-pictogram": {"fill": "#e9b79a"},
    "hr-statement": {"fill": "#efe1bd"},
    "hr-supplemental": {"fill": "#dfece6"},
    "hr-name": {"fill": "#d9d3e2"},
    "hr-identifier": {"fill": "#e3ddd1"},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    paint: Paint
    prefix: str

    def text(
        self,
        words: str,
        x: float,
        y: float,
        *,
        anchor: str | None = None,
        size: float = _TEXT,
        head: bool = False,
    ) -> Markup:
        name = "ch-head" if head else "ch-text"
        return el(
            "text", words, x=x, y=y, text_anchor=anchor, font_size=size, **self.paint(name)
        )  # fmt: skip

    def backed(self, words: str, x: float, y: float, *, size: float, head: bool = False) -> Markup:
        """Return text on a small ground of the sheet, so that nothing runs through it."""
        ground = el(
            "rect", x=x - 2, y=y - size + 1, width=text_width(words, size) + 4, height=size + 1,
            rx=2, **self.paint("hr-back"),
        )  # fmt: skip
        return el("g", ground, self.text(words, x, y, size=size, head=True))

    def line(self, x1: float, y1: float, x2: float, y2: float, name: str) -> Markup:
        return el("line", x1=x1, y1=y1, x2=x2, y2=y2, **self.paint(name))

    def pattern_id(self, kind: str) -> str:
        return f"{self.prefix}-{_CLASS[kind]}"

    def patterns(self, kinds: Iterable[str]) -> Markup:
        return el(
            "defs",
            *(
                el(
                    "pattern",
                    el("path", d=_PATTERN[kind], **self.paint("hr-mark")),
                    id=self.pattern_id(kind),
                    patternUnits="userSpaceOnUse",
                    width=number(8),
                    height=number(8),
                )
                for kind in sorted(kinds)
                if kind in _PATTERN
            ),
        )
