"""
Lines over time as SVG: several curves told apart by dash and mark, bands, measured points.

Classes: ``ch`` and its parts as in papers/charts.py, ``ln-1`` to ``ln-4`` (lines), ``ln-band``,
``ln-level`` (a level across), ``ln-event`` (a moment), ``ln-point`` (measured).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from pourwright.papers.svg import Markup, el, number, picture, text_width

PHONE_PX = 480
_TEXT = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A curve: where it goes, its words, and which look (1 to 4) it has."""

    label: str
    points: tuple[tuple[float, float], ...]
    look: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """A band between two curves over the same times."""

    low: tuple[tuple[float, float], ...]
    high: tuple[tuple[float, float], ...]
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A level across the whole picture, named."""

    value: float
    label: str


def lines_svg(
    lines: Sequence[Line],
    *,
    title: str,
    desc: str,
    show: Callable[[float], str],
    reach: Reach | None = None,
    levels: Sequence[Level] = (),
    points: Sequence[tuple[float, float]] = (),
    points_label: str = "",
    lowest: float | None = None,
    width: float = 640,
    height: float = 250,
    prefix: str = "lines",
    across: str = "hours",
) -> Markup:
    """Return curves over hours; ``show`` puts a value in words for the scale at the left."""
    everything = [y for line in lines for _, y in line.points]
    everything += [y for _, y in points] + [level.value for level in levels]
    if reach:
        everything += [y for _, y in (*reach.low, *reach.high)]
    low = min(everything) if lowest is None else min(lowest, *everything)
    ticks = _round_ticks(low, max(everything))
    low, high = ticks[0], ticks[-1]
    far = max([x for line in lines for x, _ in line.points] + [x for x, _ in points])
    legend = _legend_rows(lines, reach, points_label if points else "", width)
    head = 20.0 * len(legend)
    left = max(text_width(show(value), 11) for value in ticks) + 8
    # Room above for the words of a level that is the highest of all.
    right, upper, lower = width - 10, head + (20 if levels else 8), height - 34

    def x_of(hours: float) -> float:
        return left + (right - left) * hours / far

    def y_of(value: float) -> float:
        return lower - (lower - upper) * (value - low) / (high - low)

    def run(points: Sequence[tuple[float, float]]) -> str:
        return "L".join(f"{number(x_of(x))} {number(y_of(y))}" for x, y in points)

    body: list[Markup] = []
    for value in ticks:
        y = y_of(value)
        body.append(el("line", x1=left, x2=right, y1=y, y2=y, class_="ch-grid"))
        body.append(_text(show(value), left - 6, y + 4, "end", 11))
    for hours in _hours(far, (right - left)):
        x = x_of(hours)
        body.append(el("line", x1=x, x2=x, y1=lower, y2=lower + 4, class_="ch-lead"))
        body.append(_text(f"{hours:g}", x, lower + 16, "middle", 11))
    body.append(_text(across, right, height - 4, "end", 11))
    if reach:
        band = f"M{run(reach.low)}L{run(tuple(reversed(reach.high)))}Z"
        body.append(el("path", d=band, class_="ln-band"))
    for level in levels:
        y = y_of(level.value)
        body.append(el("line", x1=left, x2=right, y1=y, y2=y, class_="ln-level"))
        x = _clear(level.label, y - 8, lines, x_of, y_of, left=left + 4, right=right - 4)
        body.append(_text(level.label, x, y - 4, "start", 11))
    for line in lines:
        body.append(el("path", d=f"M{run(line.points)}", class_=f"ln-{line.look}"))
    for x, y in points:
        body.append(el("circle", cx=x_of(x), cy=y_of(y), r=4.5, class_="ln-point"))
    for row, entries in enumerate(legend):
        body += _legend_row(entries, 20 * row + 10)
    return picture(
        *body, width=width, height=height, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def _clear(
    words: str,
    y: float,
    lines: Sequence[Line],
    x_of: Callable[[float], float],
    y_of: Callable[[float], float],
    *,
    left: float,
    right: float,
) -> float:
    """Return where words at a height begin so that the curves stay farthest from them."""
    wide = text_width(words, 11)

    def room(x: float) -> float:
        near = [
            abs(y_of(value) - y)
            for line in lines
            for hours, value in line.points
            if x - 8 <= x_of(hours) <= x + wide + 8
        ]
        return min(near, default=1e3)

    places = [left + (right - wide - left) * share / 6 for share in range(7)]
    return max(places, key=lambda x: min(room(x), 24.0))


def _text(words: str, x: float, y: float, anchor: str, size: float) -> Markup:
    return el("text", words, x=x, y=y, text_anchor=anchor, font_size=size, class_="ch-text")


def _legend_rows(
    lines: Sequence[Line], reach: Reach | None, points: str, width: float
) -> list[list[tuple[str, str]]]:
    entries = [(f"ln-{line.look}", line.label) for line in lines if line.label]
    if reach and reach.label:
        entries.append(("ln-band", reach.label))
    if points:
        entries.append(("ln-point", points))
    rows: list[list[tuple[str, str]]] = [[]]
    used = 0.0
    for look, words in entries:
        room = 46 + text_width(words, _TEXT)
        if rows[-1] and used + room > width:
            rows.append([])
            used = 0.0
        rows[-1].append((look, words))
        used += room
    return rows if rows[0] else []


def _legend_row(entries: Sequence[tuple[str, str]], y: float) -> list[Markup]:
    drawn: list[Markup] = []
    x = 0.0
    for look, words in entries:
        if look == "ln-point":
            drawn.append(el("circle", cx=x + 13, cy=y, r=4.5, class_=look))
        elif look == "ln-band":
            drawn.append(el("rect", x=x, y=y - 6, width=26, height=12, class_=look))
        else:
            drawn.append(el("path", d=f"M{number(x)} {number(y)}h26", class_=look))
        drawn.append(_text(words, x + 32, y + 4, "start", _TEXT))
        x += 46 + text_width(words, _TEXT)
    return drawn


def _round_ticks(low: float, high: float) -> list[float]:
    """Return round values that span a range, three to six of them."""
    span = max(high - low, 1e-6)
    size = 10.0 ** floor(log10(span))
    step = next(s for s in (0.1 * size, 0.2 * size, 0.25 * size, 0.5 * size, size, 2 * size)
                if span / s <= 5)  # fmt: skip
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return [step * place for place in range(first, max(last, first + 1) + 1)]


def _hours(far: float, room: float) -> list[float]:
    step = next((s for s in (0.25, 0.5, 1, 2, 4, 5, 6, 12, 24, 48, 100) if far / s * 46 <= room),
                200)  # fmt: skip
    return [step * place for place in range(floor(far / step + 1e-9) + 1)]
