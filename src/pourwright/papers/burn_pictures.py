"""
A test burn over its hours, and the chances of the wicks to burn next, as SVG.

Text is drawn at its true size: ask for a picture at the width at which it is shown. Classes are
those of papers/charts.py and papers/line_charts.py, with ``bc-mark`` (a reading), ``bc-moment`` (a
time up and down), ``bc-range`` and ``bc-point`` (a chance and how sure it is), ``bc-record``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import ceil, floor, log10

from pourwright.papers.svg import Markup, el, number, path, picture, shortened, text_width

Point = tuple[float, float]
_SMALL, _TEXT = 11.0, 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """What was read of one thing: (hours, value), and its look, 1 to 4."""

    label: str
    points: tuple[Point, ...]
    look: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A level that is kept, named."""

    value: float
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """What a model expects: (hours, low, high); ``label`` says that it is modelled."""

    points: tuple[tuple[float, float, float], ...]
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One figure of the burn over its hours; ``show`` puts a value in words."""

    title: str
    show: Callable[[float], str]
    curves: tuple[Curve, ...]
    limits: tuple[Limit, ...] = ()
    band: Band | None = None
    moments: tuple[tuple[float, str], ...] = field(default=())

    @property
    def values(self) -> list[float]:
        found = [y for curve in self.curves for _, y in curve.points]
        found += [limit.value for limit in self.limits]
        if self.band:
            found += [y for _, low, high in self.band.points for y in (low, high)]
        return found


def burn_svg(
    panels: Sequence[Panel],
    *,
    until_h: float,
    now_h: float | None = None,
    title: str,
    desc: str,
    width: float = 560,
    panel_height: float = 132,
    prefix: str = "burn",
) -> Markup:
    """Return the panels one above the other over the same hours; ``now_h`` marks the moment."""
    left = (
        max(
            (text_width(panel.show(value), _SMALL) for panel in panels for value in _ticks(panel)),
            default=0,
        )
        + 10
    )
    right = width - 8
    far = max(until_h, now_h or 0.0, 0.5)

    def x_of(hours: float) -> float:
        return left + (right - left) * min(hours, far) / far

    body: list[Markup] = []
    top = 0.0
    for panel in panels:
        body += _panel(panel, x_of=x_of, top=top, height=panel_height, left=left, right=right)
        top += panel_height
    height = top + 34
    if now_h is not None:
        x = x_of(now_h)
        body.append(el("line", x1=x, x2=x, y1=20, y2=top, class_="ch-today"))
        anchor = "end" if x > width - 60 else "start"
        body.append(_words("now", x + (-4 if anchor == "end" else 4), top + 28, anchor))
    body += _hours(far, x_of, top, room=right - left)
    body.append(_words("hours", right, top + 28, "end"))
    return picture(
        *body, width=width, height=height, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def _panel(
    panel: Panel,
    *,
    x_of: Callable[[float], float],
    top: float,
    height: float,
    left: float,
    right: float,
) -> list[Markup]:
    ticks = _ticks(panel)
    upper, lower = top + 24, top + height - 8

    def y_of(value: float) -> float:
        return lower - (lower - upper) * (value - ticks[0]) / (ticks[-1] - ticks[0])

    head = el("text", panel.title, x=0, y=top + 13, font_size=_TEXT, class_="ch-head")
    drawn = [head, *_key(panel, right=right, y=top + 13)]
    for value in ticks:
        y = y_of(value)
        drawn.append(el("line", x1=left, x2=right, y1=y, y2=y, class_="ch-grid"))
        drawn.append(_words(panel.show(value), left - 6, y + 4, "end"))
    if panel.band and panel.band.points:
        low = [(x_of(h), y_of(v)) for h, v, _ in panel.band.points]
        high = [(x_of(h), y_of(v)) for h, _, v in reversed(panel.band.points)]
        drawn.append(el("path", d=path([*low, *high], closed=True), class_="ln-band"))
    for hours, label in panel.moments:
        x = x_of(hours)
        drawn.append(el("line", x1=x, x2=x, y1=upper, y2=lower, class_="bc-moment"))
        anchor = "end" if x > (left + right) / 2 else "start"
        drawn.append(_words(label, x + (-4 if anchor == "end" else 4), lower - 4, anchor))
    for place, limit in enumerate(panel.limits):
        y = y_of(limit.value)
        drawn.append(el("line", x1=left, x2=right, y1=y, y2=y, class_="ln-level"))
        # Below its line where there is no room above it; two neighbours at the two ends, the first
        # where a burn has hardly begun and no curve is in its way.
        x, anchor = (left + 3, "start") if place % 2 == 0 else (right - 2, "end")
        drawn.append(_words(limit.label, x, y + 13 if y - upper < 14 else y - 4, anchor))
    for curve in panel.curves:
        points = [(x_of(h), y_of(v)) for h, v in curve.points]
        if len(points) > 1:
            drawn.append(el("path", d=path(points), class_=f"ln-{curve.look}"))
        drawn += [_mark(x, y, curve.look) for x, y in points]
    return drawn


def _mark(x: float, y: float, look: int) -> Markup:
    """Each look has its own mark too, so that nothing is told by a dash alone."""
    if look == 2:
        return el("rect", x=x - 3.5, y=y - 3.5, width=7, height=7, class_="bc-mark")
    if look == 3:
        corners = ((x, y - 4.6), (x + 4.4, y + 3.2), (x - 4.4, y + 3.2))
        return el("path", d=path(corners, closed=True), class_="bc-mark")
    if look == 4:
        corners = ((x, y - 4.8), (x + 4.8, y), (x, y + 4.8), (x - 4.8, y))
        return el("path", d=path(corners, closed=True), class_="bc-mark")
    return el("circle", cx=x, cy=y, r=4, class_="bc-mark")


def _key(panel: Panel, *, right: float, y: float) -> list[Markup]:
    """Name the curves where there are several, and the band, from the right."""
    entries: list[tuple[str, int]] = []
    if len(panel.curves) > 1:
        entries = [(curve.label, curve.look) for curve in panel.curves]
    if panel.band:
        entries.append((panel.band.label, 0))
    drawn: list[Markup] = []
    x = right
    for words, look in reversed(entries):
        x -= text_width(words, _SMALL)
        drawn.append(_words(words, x, y, "start"))
        x -= 12
        if look:
            drawn.append(_mark(x + 3, y - 4, look))
        else:
            drawn.append(el("rect", x=x - 4, y=y - 9, width=12, height=9, class_="ln-band"))
        x -= 14
    return drawn


def _ticks(panel: Panel) -> list[float]:
    values = panel.values or [0.0, 1.0]
    low, high = min(values), max(values)
    if low >= 0 and low < 0.6 * high:
        low = 0.0
    if high - low < 1e-9:
        high = low + 1
    raw = (high - low) / 3
    size = 10.0 ** floor(log10(raw))
    step = next(size * factor for factor in (1, 2, 2.5, 5, 10) if size * factor >= raw * 0.999)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return [step * place for place in range(first, last + 1)]


def _hours(far: float, x_of: Callable[[float], float], y: float, *, room: float) -> list[Markup]:
    step = next(s for s in (0.25, 0.5, 1, 2, 4, 8, 24) if room * s / far >= 34 or s == 24)
    drawn = []
    for place in range(int(far / step + 1e-9) + 1):
        x = x_of(place * step)
        drawn.append(el("line", x1=x, x2=x, y1=y - 8, y2=y - 3, class_="ch-lead"))
        drawn.append(_words(f"{place * step:g}", x, y + 12, "middle"))
    return drawn


def _words(words: str, x: float, y: float, anchor: str) -> Markup:
    return el("text", words, x=x, y=y, text_anchor=anchor, font_size=_SMALL, class_="ch-text")


# --- chances -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceRow:
    """A wick with the share of burns expected to meet the criteria, 0 to 1, and its range."""

    label: str
    share: float
    low: float
    high: float
    note: str = ""
    chosen: bool = False


def chances_svg(
    rows: Sequence[ChanceRow],
    *,
    title: str,
    desc: str,
    width: float = 560,
    prefix: str = "chances",
) -> Markup:
    """Return a line a wick: how many burns in a hundred, and how sure that is."""
    widest = max((text_width(row.label, _TEXT) for row in rows), default=0) + 14
    left = min(widest, width * 0.4)
    right = width - 92
    each, top = 26.0, 8.0
    height = top + each * len(rows) + 26

    def x_of(share: float) -> float:
        return left + (right - left) * share

    low_end = top + each * len(rows)
    body = [
        el("line", x1=x_of(s), x2=x_of(s), y1=top, y2=low_end, class_="ch-grid")
        for s in (0, 0.25, 0.5, 0.75, 1)
    ]
    body += [_words(f"{100 * s:g} %", x_of(s), low_end + 15, "middle") for s in (0, 0.5, 1)]
    for place, row in enumerate(rows):
        y = top + each * place + each / 2
        words = shortened(row.label, room=left - 14, size=_TEXT)
        name = "ch-head bc-chosen" if row.chosen else "ch-text"
        body.append(el("text", words, x=0, y=y + 4, font_size=_TEXT, class_=name))
        body.append(el("line", x1=x_of(row.low), x2=x_of(row.high), y1=y, y2=y, class_="bc-range"))
        look = "bc-point bc-chosen" if row.chosen else "bc-point"
        body.append(el("circle", cx=x_of(row.share), cy=y, r=6 if row.chosen else 4.5, class_=look))
        body.append(_words(row.note, width, y + 4, "end"))
    return picture(
        *body, width=width, height=height, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def percent(share: float) -> str:
    return f"{number(round(100 * share))} %"
