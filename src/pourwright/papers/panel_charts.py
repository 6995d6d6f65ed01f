"""
Scent panels as SVG: rank sums with the difference that counts, right answers in a triangle test,
and throw over cure time.

Each takes plain figures and a width in pixels, as in papers/charts.py, whose classes it uses:
``ch-grid``, ``ch-axis``, ``ch-ready`` and ``ch-open`` (marks), ``ch-lead``, ``ch-bar``,
``ch-bar-rest``, ``ch-today``, ``ln-1`` to ``ln-4`` (lines), ``ch-text``, ``ch-head``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from pourwright.papers.svg import Markup, el, number, picture, shortened, text_width

PHONE_PX = 480
_TEXT, _HEAD = 12.0, 13.0
LOOKS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A candle ranked: its name and its rank sum."""

    name: str
    rank_sum: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One panel's ages of a candle: (days of cure, share of the others it was ahead of)."""

    label: str
    points: tuple[tuple[int, float], ...]


def rank_sums_svg(
    candles: Sequence[Placed], *, assessors: int, lsd: float, title: str, desc: str,
    first_means: str = "", width: float = 640, prefix: str = "ranks",
) -> Markup:  # fmt: skip
    """
    Return the candles on the scale of rank sums, the first at the top, and a bar as long as the
    least significant difference: two candles further apart than it were told apart.
    """
    low, high = float(assessors), float(assessors * len(candles))
    left, right = 8.0, width - 8
    y = 18.0

    def x_of(rank_sum: float) -> float:
        return left + (right - left) * (rank_sum - low) / (high - low)

    body: list[Markup] = []
    # The bar that measures stands above, from the first candle on, or as far as it fits.
    start = min(
        x_of(min(one.rank_sum for one in candles)), max(left, right - _span(x_of, low, lsd))
    )
    end = min(right, start + _span(x_of, low, lsd))
    words = f"this far apart counts: {lsd:.1f}"
    at_end = start + text_width(words, _TEXT) > width
    body.append(_text(words, right if at_end else start, y - 6, "end" if at_end else "start"))
    body.append(el("line", x1=start, x2=end, y1=y, y2=y, class_="ch-today"))
    for x in (start, end):
        body.append(el("line", x1=x, x2=x, y1=y - 4, y2=y + 4, class_="ch-today"))
    y += 14
    for one in sorted(candles, key=lambda candle: candle.rank_sum):
        x = x_of(one.rank_sum)
        total = f": {one.rank_sum:g}"
        room = width - 16 - text_width(total, _HEAD)
        name = shortened(one.name, room=room, size=_HEAD) + total
        body.append(_text(name, left, y + 14, "start", head=True, size=_HEAD))
        body.append(el("line", x1=left, x2=right, y1=y + 27, y2=y + 27, class_="ch-grid"))
        body.append(el("circle", cx=x, cy=y + 27, r=6, class_="ch-ready"))
        y += 40
    y += 4
    body.append(el("line", x1=left, x2=right, y1=y, y2=y, class_="ch-axis"))
    for value in _marks(low, high, 4 if width < PHONE_PX else 8):
        x = x_of(value)
        body.append(el("line", x1=x, x2=x, y1=y, y2=y + 5, class_="ch-axis"))
        anchor = "start" if x < left + 8 else "end" if x > right - 8 else "middle"
        body.append(_text(f"{value:g}", x, y + 18, anchor))
    body.append(_text(f"← {first_means or 'first'}", left, y + 34, "start"))
    body.append(_text("sum of ranks", right, y + 34, "end"))
    return picture(
        *body, width=width, height=y + 40, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def right_answers_svg(
    *, correct: int, assessors: int, needed: int, title: str, desc: str,
    width: float = 640, prefix: str = "right",
) -> Markup:  # fmt: skip
    """Return the right answers of a triangle test, how many are needed, and what guessing gives."""
    left, right, y = 8.0, width - 8, 44.0

    def x_of(count: float) -> float:
        return left + (right - left) * count / assessors

    guess = assessors / 3
    body = [
        el("rect", x=left, y=y, width=right - left, height=24, class_="ch-bar-rest"),
        el("rect", x=left, y=y, width=max(0.0, x_of(correct) - left), height=24, class_="ch-bar"),
        el("line", x1=x_of(guess), x2=x_of(guess), y1=y - 6, y2=y + 30, class_="ch-low"),
        el("line", x1=x_of(needed), x2=x_of(needed), y1=y - 22, y2=y + 30, class_="ch-today"),
        *_marked(f"{needed} needed", x_of(needed), y - 26, width),
        *_marked(f"{correct} right of {assessors}", x_of(correct) / 2, y + 16, width, head=True),
        *_marked(f"by guessing about {guess:.0f}", x_of(guess), y + 44, width),
    ]
    return picture(
        *body, width=width, height=y + 52, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def throw_by_cure_svg(
    series: Sequence[Series], *, title: str, desc: str, width: float = 640, prefix: str = "cure",
) -> Markup:  # fmt: skip
    """Return throw over days of cure: a line for each panel, told apart by dash and by number."""
    far = max(days for one in series for days, _ in one.points)
    left, right = 44.0, width - 12
    rows = ceil(len(series) / (1 if width < PHONE_PX else 3))
    upper, lower = 20.0 * rows + 12, 20.0 * rows + 172

    def x_of(days: float) -> float:
        return left + (right - left) * days / max(far, 1)

    def y_of(share: float) -> float:
        return lower - (lower - upper) * share

    body: list[Markup] = []
    for share in (0, 0.5, 1):
        body.append(el("line", x1=left, x2=right, y1=y_of(share), y2=y_of(share), class_="ch-grid"))
        body.append(_text(f"{100 * share:g} %", left - 6, y_of(share) + 4, "end"))
    for days in sorted({days for one in series for days, _ in one.points}):
        x = x_of(days)
        body.append(el("line", x1=x, x2=x, y1=lower, y2=lower + 4, class_="ch-axis"))
        body.append(_text(f"{days}", x, lower + 18, "middle" if days < far else "end"))
    body.append(_text("days of cure", right, lower + 36, "end"))
    for place, one in enumerate(series):
        run = [(x_of(days), y_of(share)) for days, share in sorted(one.points)]
        look = f"ln-{place % LOOKS + 1}"
        way = "L".join(f"{number(x)} {number(y)}" for x, y in run)
        body.append(el("path", d=f"M{way}", class_=look))
        body += [el("circle", cx=x, cy=y, r=5, class_="ch-ready") for x, y in run]
        columns = 1 if width < PHONE_PX else 3
        x, y = (place % columns) * (width / columns), 20.0 * (place // columns) + 10
        body.append(el("path", d=f"M{number(x)} {number(y)}h26", class_=look))
        body.append(_text(one.label, x + 32, y + 4, "start"))
    return picture(
        *body, width=width, height=lower + 42, prefix=prefix, title=title, desc=desc, class_="ch"
    )


def _span(x_of, low: float, length: float) -> float:
    return float(x_of(low + length) - x_of(low))


def _marks(low: float, high: float, most: int) -> list[float]:
    step = max(1, ceil((high - low) / most))
    return [low + step * place for place in range(int((high - low) // step) + 1)]


def _marked(words: str, x: float, y: float, width: float, *, head: bool = False) -> list[Markup]:
    """Return words centred on a place, moved in where they would leave the picture."""
    half = text_width(words, _HEAD if head else _TEXT) / 2 + 4
    x = min(max(x, half), width - half)
    return [_text(words, x, y, "middle", head=head)]


def _text(
    words: str, x: float, y: float, anchor: str, *, head: bool = False, size: float = _TEXT
) -> Markup:
    return el(
        "text", words, x=x, y=y, text_anchor=anchor, font_size=size,
        class_="ch-head" if head else "ch-text",
    )  # fmt: skip
