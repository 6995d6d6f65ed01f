"""
Fills as a picture: each as a dot against what the label declares, and the control chart.

Same manner as ``charts``: laid out for the width at which it is shown, nothing told by colour
alone, the figures as a table beside it on the page. Masses in grams; ``show`` puts one in words.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pourwright.core.contents.control import IndividualsChart
from pourwright.papers.charts import _INK, PHONE_PX, _Sheet
from pourwright.papers.svg import Markup, Paint, el, number, picture, text_width

_TEXT = 11.0
_APART = 13.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line across the dots: its words, where it lies, and how it is drawn."""

    label: str
    value_g: float
    name: str = "ch-line"  # ch-line, ch-low, ch-today or ch-grid


def fills_svg(
    fills_g: Sequence[float],
    *,
    lines: Sequence[Line],
    short_below_g: float,
    show: Callable[[float], str],
    title: str,
    width: float = 640,
    height: float = 230,
    prefix: str = "fills",
    standalone: bool = False,
) -> Markup:
    """
    Return the fills in their order as dots, with lines for label, average and tolerance.

    A fill below ``short_below_g`` is a square, all others are round.
    """
    marks = ["ch-held" if fill < short_below_g else "ch-ready" for fill in fills_g]
    short = sum(mark == "ch-held" for mark in marks)
    desc = ""
    if fills_g:
        desc = (
            f"{len(fills_g)} fills from {show(min(fills_g))} to {show(max(fills_g))}; "
            + "; ".join(f"{line.label} {show(line.value_g)}" for line in lines)
            + f". {short} below the tolerance."
        )
    return _dots(
        fills_g, marks=marks, lines=lines, show=show, title=title, desc=desc, width=width,
        height=height, prefix=prefix, standalone=standalone, joined=False,
    )  # fmt: skip


def individuals_svg(
    chart: IndividualsChart,
    *,
    show: Callable[[float], str],
    title: str,
    width: float = 640,
    height: float = 210,
    prefix: str = "control",
    standalone: bool = False,
) -> Markup:
    """Return the control chart of single fills; a fill at which a run rule was met is a square."""
    marked = chart.marked()
    marks = ["ch-held" if place in marked else "ch-ready" for place in range(len(chart.values_g))]
    lines = [
        Line(label="upper limit", value_g=chart.upper_g, name="ch-low"),
        Line(label="mean", value_g=chart.mean_g),
        Line(label="lower limit", value_g=chart.lower_g, name="ch-low"),
    ]
    said = f"{len(chart.signals)} signals." if chart.signals else "No signal: a steady hand."
    desc = (
        f"{len(chart.values_g)} fills in order, mean {show(chart.mean_g)}, limits "
        f"{show(chart.lower_g)} and {show(chart.upper_g)}. {said}"
    )
    return _dots(
        chart.values_g, marks=marks, lines=lines, show=show, title=title, desc=desc, width=width,
        height=height, prefix=prefix, standalone=standalone, joined=True,
    )  # fmt: skip


def _dots(
    values: Sequence[float],
    *,
    marks: Sequence[str],
    lines: Sequence[Line],
    show: Callable[[float], str],
    title: str,
    desc: str,
    width: float,
    height: float,
    prefix: str,
    standalone: bool,
    joined: bool,
) -> Markup:
    sheet = _Sheet(paint=Paint(ink=_INK, standalone=standalone))
    if not values:
        return picture(
            sheet.text("no fills yet", 0, 16), width=width, height=24, prefix=prefix, title=title,
            class_="ch",
        )  # fmt: skip
    everything = [*values, *(line.value_g for line in lines)]
    low, high = min(everything), max(everything)
    room = max(high - low, 0.4)
    low, high = low - room * 0.06, high + room * 0.06
    words = [f"{line.label} {show(line.value_g)}" for line in lines]
    phone = width < PHONE_PX
    left = 8.0
    right = width - max((text_width(word, _TEXT) for word in words), default=0.0) - 12
    upper, lower = 10.0, height - 20

    def y_of(value: float) -> float:
        return lower - (lower - upper) * (value - low) / (high - low)

    def x_of(place: int) -> float:
        return left + (right - left) * (place + 0.5) / len(values)

    body: list[Markup] = []
    body.append(sheet.line(left, lower, right, lower, "ch-grid"))
    heights = _apart([y_of(line.value_g) for line in lines], lowest=lower)
    for line, word, at in zip(lines, words, heights, strict=True):
        y = y_of(line.value_g)
        body.append(sheet.line(left, y, right, y, line.name))
        if abs(at - y) > 1:
            d = f"M{number(right)} {number(y)}L{number(right + 5)} {number(at)}"
            body.append(el("path", d=d, **sheet.paint("ch-lead")))
        body.append(sheet.text(word, right + 7, at + 4, size=_TEXT))
    if joined:
        points = "L".join(
            f"{number(x_of(place))} {number(y_of(value))}" for place, value in enumerate(values)
        )
        body.append(el("path", d=f"M{points}", fill="none", **sheet.paint("ch-lead")))
    size = 4.0 if len(values) <= 60 and not phone else 3.0
    for place, (value, mark) in enumerate(zip(values, marks, strict=True)):
        x, y = x_of(place), y_of(value)
        if mark == "ch-held":
            body.append(
                el("rect", x=x - size, y=y - size, width=2 * size, height=2 * size,
                   **sheet.paint(mark))
            )  # fmt: skip
        else:
            body.append(el("circle", cx=x, cy=y, r=size, **sheet.paint(mark)))
    every = max(1, -(-len(values) // (6 if phone else 12)))
    for place in range(0, len(values), every):
        body.append(
            sheet.text(str(place + 1), x_of(place), height - 6, anchor="middle", size=_TEXT)
        )
    return picture(
        *body, width=width, height=height, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def _apart(heights: Sequence[float], *, lowest: float) -> list[float]:
    """Return where words stand, pushed apart so that none covers another."""
    order = sorted(range(len(heights)), key=lambda place: heights[place])
    found = list(heights)
    for above, below in pairwise(order):
        found[below] = max(found[below], found[above] + _APART)
    over = max((found[place] for place in order), default=0.0) - lowest
    if over > 0:
        limit = lowest
        for place in reversed(order):
            found[place] = min(found[place], limit)
            limit = found[place] - _APART
    return found
