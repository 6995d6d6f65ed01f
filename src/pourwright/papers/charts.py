"""
The workshop's charts as SVG: cost bars, the cure shelf, a stock level, small bars for a row.

Each takes plain records and a width in pixels, and lays itself out for it: below 480 for a phone,
else for a desk. Text is drawn at its true size, so a chart is asked for at the width at which it is
shown. Nothing is told by colour alone: parts carry numbers and words, states shapes and words.
The page sets the data as a table beside each.

Classes: ``ch`` (the picture), ``ch-1`` to ``ch-9`` (parts), ``ch-text``, ``ch-head``, ``ch-grid``,
``ch-gap`` (line between parts), ``ch-bar`` and ``ch-bar-rest`` (time passed and to come),
``ch-ready``, ``ch-open``, ``ch-held`` (marks), ``ch-today``, ``ch-line``, ``ch-area``, ``ch-low``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor, log10
from typing import Literal

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

PHONE_PX = 480
_TEXT = 12.0
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of a bar: its words, its size, and its size in words ("$1.20")."""

    label: str
    value: float
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar of parts, all in the same order as in the other bars; ``text`` is the total."""

    label: str
    parts: tuple[Part, ...]
    text: str = ""


State = Literal["curing", "ready", "held"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Curing:
    """One lot on the cure shelf, from the pour to the day it is ready."""

    label: str
    start: date
    ready: date
    state: State = "curing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A stock level that holds from a day on."""

    on: date
    value: float


def stacked_bar_svg(
    bars: Sequence[Bar],
    *,
    title: str,
    width: float = 640,
    prefix: str = "cost",
    standalone: bool = False,
) -> Markup:
    """
    Return bars of parts on one scale, each part numbered, the numbers explained below.

    Up to nine parts have their own tone; more share the last. With a single bar the explanation
    carries the values too. Parts of nothing are left out; parts below nothing are not drawn.
    """
    sheet = _Sheet(paint=Paint(ink=_INK, standalone=standalone))
    names = _part_names(bars)
    largest = max((_total(bar) for bar in bars), default=0.0)
    phone = width < PHONE_PX
    total_room = max((text_width(bar.text, 14) for bar in bars), default=0.0) + 10
    label_room = 0.0 if phone or len(bars) == 1 else min(150.0, width * 0.25)
    room = width - label_room - total_room
    body: list[Markup] = []
    y = 0.0
    for bar in bars:
        if not label_room and bar.label:
            body.append(sheet.text(shortened(bar.label, room=width, size=13), 0, y + 13, head=True))
            y += 20
        elif label_room:
            words = shortened(bar.label, room=label_room - 10, size=13)
            body.append(sheet.text(words, 0, y + 35, head=True))
        body.extend(_bar(bar, names, sheet, x=label_room, y=y + 18, room=room, largest=largest))
        end = label_room + (room * _total(bar) / largest if largest else 0)
        body.append(sheet.text(bar.text, end + 8, y + 35, head=True, size=14))
        y += 18 + 26 + (14 if len(bars) > 1 else 10)
    entries = _legend_entries(bars, names)
    legend, y = _legend(entries, sheet, y=y + 6, width=width)
    body.extend(legend)
    if not bars:
        body.append(sheet.text("nothing to show", 0, 14))
        y = 20
    return picture(
        *body,
        width=width,
        height=y,
        prefix=prefix,
        title=title,
        desc=_bars_in_words(bars),
        class_="ch",
    )


def cure_shelf_svg(
    lots: Sequence[Curing],
    *,
    today: date,
    title: str = "Cure shelf",
    width: float = 640,
    prefix: str = "cure",
    days_back: int = 56,
    standalone: bool = False,
) -> Markup:
    """
    Return the lots as bars of time from pour to ready, with a line for today.

    Bars begin at the left edge where their pour lies more than ``days_back`` days before today. A
    filled round mark is a ready lot, an open one is curing, a square one is held back; the words
    beside it say the same.
    """
    sheet = _Sheet(paint=Paint(ink=_INK, standalone=standalone))
    phone = width < PHONE_PX
    if not lots:
        return picture(
            sheet.text("nothing on the shelf", 0, 16),
            width=width, height=24, prefix=prefix, title=title, class_="ch",
        )  # fmt: skip
    first = max(min(min(lot.start for lot in lots), today), today - timedelta(days=days_back))
    last = max(max(lot.ready for lot in lots), today)
    last = max(last, first + timedelta(days=7))
    left = (
        6.0 if phone else min(max(text_width(lot.label, _TEXT) for lot in lots) + 16, width * 0.34)
    )
    right = width - max(text_width(_lot_words(lot, today), _TEXT) for lot in lots) - 18
    step = 40.0 if phone else 30.0
    top = 8.0
    bottom = top + step * len(lots) + 2

    def x_of(day: date) -> float:
        day = min(max(day, first), last)
        return left + (right - left) * (day - first).days / (last - first).days

    body = _time_grid(sheet, x_of, first=first, last=last, today=today, top=2, bottom=bottom)
    for place, lot in enumerate(lots):
        middle = top + step * place + (step * 0.66 if phone else step / 2)
        words = shortened(lot.label, room=width - 8 if phone else left - 12, size=_TEXT)
        body.append(sheet.text(words, 0, middle - 13 if phone else middle + 4, head=True))
        body.extend(_curing_bar(lot, sheet, x_of, y=middle, today=today))
    now = x_of(today)
    body.append(sheet.line(now, 2, now, bottom + 4, "ch-today"))
    body.append(
        sheet.text("today", min(max(now, 18), width - 18), bottom + 17, anchor="middle", head=True)
    )
    return picture(
        *body,
        width=width,
        height=bottom + 23,
        prefix=prefix,
        title=title,
        desc=_shelf_in_words(lots, today),
        class_="ch",
    )


def stock_level_svg(
    levels: Sequence[Level],
    *,
    until: date,
    show: Callable[[float], str],
    title: str,
    low: float | None = None,
    width: float = 640,
    height: float = 150,
    prefix: str = "level",
    standalone: bool = False,
) -> Markup:
    """
    Return a stock level over time as a line in steps, down to nothing at the lower edge.

    ``levels`` rise in date; each holds until the next, the last ``until`` the last day drawn.
    ``show`` puts a level in words ("2.4 kg"). ``low`` is the level at which to buy again.
    """
    sheet = _Sheet(paint=Paint(ink=_INK, standalone=standalone))
    if not levels:
        return picture(
            sheet.text("no moves yet", 0, 16),
            width=width, height=24, prefix=prefix, title=title, class_="ch",
        )  # fmt: skip
    first, last = levels[0].on, max(until, levels[-1].on, levels[0].on + timedelta(days=1))
    lines = _round_lines(max(max(level.value for level in levels), low or 0.0, 0.0))
    top = lines[-1] or 1.0
    left = max(text_width(show(value), 11) for value in lines) + 8
    right = width - text_width(show(levels[-1].value), 13) - 14
    upper, lower = 8.0, height - 22

    def x_of(day: date) -> float:
        return left + (right - left) * (day - first).days / (last - first).days

    def y_of(value: float) -> float:
        return lower - (lower - upper) * max(value, 0.0) / top

    body: list[Markup] = []
    for value in lines:
        y = y_of(value)
        body.append(sheet.line(left, y, right, y, "ch-grid"))
        body.append(sheet.text(show(value), left - 6, y + 4, anchor="end", size=11))
    steps = [f"M{number(x_of(first))} {number(y_of(levels[0].value))}"]
    for level in levels[1:]:
        steps.append(f"H{number(x_of(level.on))}V{number(y_of(level.value))}")
    line = "".join(steps) + f"H{number(right)}"
    area = f"{line}V{number(lower)}H{number(left)}Z"
    body.append(el("path", d=area, **sheet.paint("ch-area")))
    body.append(el("path", d=line, **sheet.paint("ch-line")))
    if low is not None:
        body.append(sheet.line(left, y_of(low), right, y_of(low), "ch-low"))
        words = f"buy again at {show(low)}"
        middle = (left + right) / 2
        half = text_width(words, 11) / 2
        body.append(sheet.text(words, middle + 12, height - 6, anchor="middle", size=11))
        at = height - 10
        body.append(sheet.line(middle - half - 12, at, middle - half + 6, at, "ch-low"))
    end = y_of(levels[-1].value)
    body.append(el("circle", cx=right, cy=end, r=3.5, **sheet.paint("ch-ready")))
    body.append(sheet.text(show(levels[-1].value), right + 8, end + 4, size=13, head=True))
    years = first.year != last.year
    body.append(sheet.text(day_words(first, year=years), left, height - 6, size=11))
    body.append(sheet.text(day_words(last, year=years), right, height - 6, anchor="end", size=11))
    lowest = min(levels, key=lambda level: level.value)
    desc = (
        f"From {day_words(first, year=True)} to {day_words(last, year=True)}; "
        f"lowest {show(lowest.value)} on {day_words(lowest.on, year=True)}; "
        f"now {show(levels[-1].value)}."
    )
    return picture(
        *body, width=width, height=height, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def spark_bars(
    values: Sequence[float],
    *,
    title: str,
    width: float = 120,
    height: float = 28,
    prefix: str = "spark",
    decorative: bool = False,
    standalone: bool = False,
) -> Markup:
    """
    Return small bars, one for each value from the oldest to the newest, for a row of a list.

    The newest is set off by its tone and by a line under it. Values below nothing show as nothing;
    a nothing shows as a hair, so that a gap is seen to be a gap.
    """
    sheet = _Sheet(paint=Paint(ink=_INK, standalone=standalone))
    largest = max((*values, 0.0)) or 1.0
    step = width / max(len(values), 1)
    gap = min(2.0, step * 0.25)
    body = []
    for place, value in enumerate(values):
        high = max((height - 4) * max(value, 0.0) / largest, 0.8)
        newest = place == len(values) - 1
        body.append(
            el(
                "rect",
                x=place * step + gap / 2,
                y=height - 3 - high,
                width=step - gap,
                height=high,
                **sheet.paint("ch-3" if newest else "ch-5"),
            )
        )
    if values:
        x = width - step + gap / 2
        body.append(sheet.line(x, height - 1, width - gap / 2, height - 1, "ch-line"))
    desc = (
        f"{len(values)} values, the largest {max(values):g}, the newest {values[-1]:g}."
        if (values)
        else "No values."
    )
    return picture(
        *body, width=width, height=height, prefix=prefix, title=title, desc=desc,
        decorative=decorative, class_="ch ch-spark",
    )  # fmt: skip


def day_words(day: date, *, year: bool = False) -> str:
    """Return a day as "2 Dec", or "2 Dec 2026"."""
    words = f"{day.day} {_MONTHS[day.month - 1]}"
    return f"{words} {day.year}" if year else words


# --- the sheet -----------------------------------------------------------------------------------

_INK: dict[str, dict[str, Value]] = {
    "ch-1": {"fill": "#e9d6a4"}, "ch-2": {"fill": "#c99a3f"}, "ch-3": {"fill": "#2e6b5e"},
    "ch-4": {"fill": "#8fb8ab"}, "ch-5": {"fill": "#b9ad98"}, "ch-6": {"fill": "#7a6a55"},
    "ch-7": {"fill": "#c8612b"}, "ch-8": {"fill": "#e2b59a"},
    "ch-9": {"fill": "#3d3a34"},
    "ch-text": {"fill": "#5e574c", "font_family": FONTS},
    "ch-head": {"fill": "#23201b", "font_family": FONTS},
    "ch-grid": {"stroke": "#ddd3c2", "stroke_width": 1},
    "ch-lead": {"stroke": "#5e574c", "stroke_width": 0.7, "fill": "none"},
    "ch-gap": {"stroke": "#fffdf8", "stroke_width": 1},
    "ch-bar": {"fill": "#dcc68d"}, "ch-bar-rest": {"fill": "#f3e9cf"},
    "ch-ready": {"fill": "#2e6b5e", "stroke": "#fffdf8", "stroke_width": 1.5},
    "ch-open": {"fill": "#fffdf8", "stroke": "#5e574c", "stroke_width": 1.5},
    "ch-held": {"fill": "#8a5200", "stroke": "#fffdf8", "stroke_width": 1.5},
    "ch-today": {"stroke": "#c8612b", "stroke_width": 1.5},
    "ch-line": {"fill": "none", "stroke": "#2e6b5e", "stroke_width": 1.6},
    "ch-area": {"fill": "#dfece6"},
    "ch-low": {"stroke": "#8a5200", "stroke_width": 1.2, "stroke_dasharray": "5 4"},
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    paint: Paint

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
        return el(
            "text",
            words,
            x=x,
            y=y,
            text_anchor=anchor,
            font_size=size,
            **self.paint("ch-head" if head else "ch-text"),
        )

    def line(self, x1: float, y1: float, x2: float, y2: float, name: str) -> Markup:
        return el("line", x1=x1, y1=y1, x2=x2, y2=y2, **self.paint(name))


# --- stacked bars --------------------------------------------------------------------------------


def _total(bar: Bar) -> float:
    return sum(part.value for part in bar.parts if part.value > 0)


def _part_names(bars: Sequence[Bar]) -> list[str]:
    """Return the parts' labels in the order in which they first stand, nothings left out."""
    names: dict[str, None] = {}
    for bar in bars:
        for part in bar.parts:
            if part.value > 0:
                names[part.label] = None
    return list(names)


def _tone(place: int) -> str:
    return f"ch-{min(place, 8) + 1}"


def _bar(
    bar: Bar,
    names: list[str],
    sheet: _Sheet,
    *,
    x: float,
    y: float,
    room: float,
    largest: float,
) -> list[Markup]:
    """Return one bar, its parts numbered above on short leads that never touch."""
    drawn: list[Markup] = []
    middles: list[tuple[int, float]] = []
    for part in bar.parts:
        if part.value <= 0:
            continue
        place = names.index(part.label)
        wide = room * part.value / largest
        drawn.append(el("rect", x=x, y=y, width=wide, height=26, **sheet.paint(_tone(place))))
        drawn.append(sheet.line(x + wide, y, x + wide, y + 26, "ch-gap"))
        middles.append((place, x + wide / 2))
        x += wide
    places = _spaced([middle for _, middle in middles], apart=13.0)
    for (place, middle), at in zip(middles, places, strict=True):
        drawn.append(
            el(
                "path",
                d=f"M{number(middle)} {number(y)}L{number(at)} {number(y - 4)}",
                **sheet.paint("ch-lead"),
            )
        )
        drawn.append(sheet.text(str(place + 1), at, y - 6, anchor="middle", size=11))
    return drawn


def _spaced(places: list[float], *, apart: float) -> list[float]:
    """Return the places moved as little as need be so that none are closer than ``apart``."""
    moved = list(places)
    for _ in range(len(moved) * 4):
        close = False
        for i in range(len(moved) - 1):
            short = apart - (moved[i + 1] - moved[i])
            if short > 0.01:
                moved[i] -= short / 2
                moved[i + 1] += short / 2
                close = True
        if not close:
            break
    return moved


def _legend_entries(bars: Sequence[Bar], names: list[str]) -> list[tuple[str, str]]:
    texts: dict[str, str] = {}
    if len(bars) == 1:
        texts = {part.label: part.text for part in bars[0].parts}
    return [(name, texts.get(name, "")) for name in names]


def _legend(
    entries: list[tuple[str, str]], sheet: _Sheet, *, y: float, width: float
) -> tuple[list[Markup], float]:
    """Return the numbered explanation in columns, read downwards, and where it ends."""
    if not entries:
        return [], y
    columns = 1 if width < 300 else 2 if width < PHONE_PX else 3
    rows = ceil(len(entries) / columns)
    room = width / columns
    drawn = []
    for place, (name, text) in enumerate(entries):
        column, row = divmod(place, rows)
        x, at = column * room, y + row * 20
        drawn.append(el("rect", x=x, y=at, width=12, height=12, **sheet.paint(_tone(place))))
        drawn.append(sheet.text(str(place + 1), x + 16, at + 10.5, size=11))
        value_room = text_width(text, _TEXT) + 8 if text else 0
        words = shortened(name, room=room - 29 - 8 - value_room, size=_TEXT)
        drawn.append(sheet.text(words, x + 29, at + 10.5))
        if text:
            drawn.append(sheet.text(text, x + room - 10, at + 10.5, anchor="end", head=True))
    return drawn, y + rows * 20


def _bars_in_words(bars: Sequence[Bar]) -> str:
    lines = []
    for bar in bars:
        parts = ", ".join(
            f"{part.label} {part.text or number(part.value)}"
            for part in bar.parts
            if part.value > 0
        )
        head = " ".join(word for word in (bar.label, bar.text) if word)
        lines.append(f"{head}: {parts}." if head else f"{parts}.")
    return " ".join(lines)


# --- the cure shelf ------------------------------------------------------------------------------


def _lot_words(lot: Curing, today: date) -> str:
    if lot.state == "held":
        return "held back"
    if lot.state == "ready":
        return "ready"
    if lot.ready == today:
        return "today"
    return day_words(lot.ready, year=lot.ready.year != today.year)


def _curing_bar(
    lot: Curing, sheet: _Sheet, x_of: Callable[[date], float], *, y: float, today: date
) -> list[Markup]:
    start, ready = x_of(lot.start), x_of(max(lot.ready, lot.start))
    now = min(max(x_of(today), start), ready)
    drawn = [
        el("rect", x=start, y=y - 7, width=ready - start, height=14, rx=3,
           **sheet.paint("ch-bar-rest")),
        el("rect", x=start, y=y - 7, width=now - start, height=14, rx=3, **sheet.paint("ch-bar")),
    ]  # fmt: skip
    if lot.state == "held":
        mark = el("rect", x=ready - 5, y=y - 5, width=10, height=10, **sheet.paint("ch-held"))
    else:
        mark = el("circle", cx=ready, cy=y, r=5.5,
                  **sheet.paint("ch-ready" if lot.state == "ready" else "ch-open"))  # fmt: skip
    drawn.append(mark)
    drawn.append(sheet.text(_lot_words(lot, today), ready + 11, y + 4))
    return drawn


def _time_grid(
    sheet: _Sheet,
    x_of: Callable[[date], float],
    *,
    first: date,
    last: date,
    today: date,
    top: float,
    bottom: float,
) -> list[Markup]:
    """Return lines at whole weeks from today, few enough to be named, and their days."""
    span = x_of(last) - x_of(first)
    weeks = max((last - first).days / 7, 1)
    every = next((n for n in (1, 2, 4, 8, 13, 26) if span / weeks * n >= 52), 52)
    drawn = []
    for place in range(-ceil(weeks / every), ceil(weeks / every) + 1):
        day = today + timedelta(weeks=place * every)
        if place == 0 or not first <= day <= last:
            continue
        x = x_of(day)
        drawn.append(sheet.line(x, top, x, bottom, "ch-grid"))
        words = day_words(day)
        if x > text_width(words, 11) / 2:
            drawn.append(sheet.text(words, x, bottom + 17, anchor="middle", size=11))
    return drawn


def _shelf_in_words(lots: Sequence[Curing], today: date) -> str:
    def one(lot: Curing) -> str:
        if lot.state == "held":
            return f"{lot.label} held back"
        if lot.state == "ready":
            return f"{lot.label} ready since {day_words(lot.ready)}"
        return (
            f"{lot.label} ready {'today' if lot.ready == today else 'on ' + day_words(lot.ready)}"
        )

    return "; ".join(one(lot) for lot in lots) + "."


# --- the stock level -----------------------------------------------------------------------------


def _round_lines(largest: float) -> list[float]:
    """Return 0 and up to four round values, the last no lower than the largest."""
    if largest <= 0:
        return [0.0]
    size = 10.0 ** floor(log10(largest))
    step = next(
        (s for s in (size * 0.1, size * 0.2, size * 0.25, size * 0.5, size, size * 2, size * 2.5)
         if largest / s <= 4),
        size * 5,
    )  # fmt: skip
    return [step * place for place in range(ceil(largest / step - 1e-9) + 1)]
