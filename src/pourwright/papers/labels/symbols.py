"""
Fire-safety symbols for candles, drawn here.

The shapes follow the open standards' grammar (ISO 3864-1, from memory, high): a warning is a yellow
triangle with a black edge, a prohibition a red ring and bar on white, an instruction a blue disc
with a white picture. The pictures in them are our own. Every symbol is drawn on 100 by 100 units.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from pourwright.papers.labels.marks import BLACK, WHITE, Box, Outline
from pourwright.papers.svg import Markup, el

YELLOW, RED, BLUE = "#f9c800", "#c1121c", "#005387"
Ground = Literal["warning", "prohibition", "instruction"]
VIEW = (0.0, 0.0, 100.0, 100.0)


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line or filled shape of a symbol's picture; a width of 0 fills it."""

    d: str
    width: float = 0.0
    white: bool = False


@dataclass(frozen=True, slots=True)
class Symbol:
    """A symbol: its kind of ground, its picture, and what it says."""

    ground: Ground
    picture: tuple[Stroke, ...]


def _circle(x: float, y: float, r: float) -> str:
    return f"M{x - r} {y}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0Z"


def _flame(x: float, foot: float, size: float) -> str:
    """A flame standing on its foot."""
    s = size
    return (
        f"M{x} {foot - 2.1 * s}C{x + 1.0 * s} {foot - 1.2 * s} {x + 0.9 * s} {foot - 0.1 * s} "
        f"{x} {foot}C{x - 0.9 * s} {foot - 0.1 * s} {x - 1.0 * s} {foot - 1.1 * s} {x} "
        f"{foot - 2.1 * s}Z"
    )


def _jar(x: float, foot: float, width: float, height: float) -> str:
    """A container candle from the side: a filled block with rounded lower corners."""
    half = width / 2
    return (
        f"M{x - half} {foot - height}H{x + half}V{foot - 3}a3 3 0 0 1 -3 3H{x - half + 3}"
        f"a3 3 0 0 1 -3 -3Z"
    )


def _candle(x: float, foot: float, width: float, height: float) -> tuple[Stroke, ...]:
    top = foot - height
    return (
        Stroke(_jar(x, foot, width, height)),
        Stroke(f"M{x} {top}V{top - 5}", 2.2),
        Stroke(_flame(x, top - 4, width * 0.26)),
    )


SYMBOLS: dict[str, Symbol] = {
    "general_warning": Symbol(
        "warning", (Stroke("M44 36a6 6 0 0 1 12 0l-2.6 26a3.4 3.4 0 0 1 -6.8 0Z"),
                    Stroke(_circle(50, 75, 5.2))),
    ),
    "in_sight": Symbol(
        "instruction",
        (
            Stroke("M20 40C32 22 68 22 80 40C68 58 32 58 20 40Z", 5),
            Stroke(_circle(50, 40, 7.5)),
            Stroke(_jar(50, 86, 22, 14)),
            Stroke(_flame(50, 70, 5)),
        ),
    ),
    "children_pets": Symbol(
        "prohibition",
        (
            # a child reaching out
            Stroke(_circle(33, 35, 7)),
            Stroke("M33 43V60M33 48L46 44M33 60L27 76M33 60L39 76", 5.5),
            # a cat sitting
            Stroke("M60 76C57 64 60 58 64 56L63 48L67 51H71L75 48L74 56C79 60 80 68 79 76Z"),
            Stroke("M79 75C86 74 87 67 84 63", 3),
            Stroke(_flame(51, 44, 4)),
        ),
    ),
    "catches_fire": Symbol(
        "prohibition",
        (
            # a curtain over a burning candle
            Stroke(
                "M18 25H82M24 25C30 40 18 54 26 70M34 25C40 40 29 52 36 66M44 25C49 36 41 46 46 54",
                4.4,
            ),
            *_candle(63, 78, 22, 18),
        ),
    ),
    "trim": Symbol(
        "instruction",
        (
            Stroke("M26 84H74V66H26Z"),
            Stroke("M50 66V34", 4),
            Stroke("M24 46L60 38M24 30L60 40", 4.5),
            Stroke(_circle(20, 27, 6), 4),
            Stroke(_circle(20, 49, 6), 4),
            Stroke("M68 40V66M64 40H72M64 66H72", 2.6),
        ),
    ),
    "draught": Symbol(
        "prohibition",
        (
            Stroke("M18 38C26 32 30 44 40 38M18 50C26 44 30 56 40 50M20 62C27 57 31 67 40 62", 4),
            Stroke(_jar(64, 80, 24, 22)),
            Stroke("M64 58V53", 2.4),
            Stroke("M64 54C62 44 70 36 82 34C80 42 76 52 64 54Z"),
        ),
    ),
    "heat_proof": Symbol(
        "instruction",
        (
            *_candle(50, 62, 24, 22),
            Stroke("M24 64H76L70 71H30Z"),
            Stroke("M20 79H80", 5),
        ),
    ),
    "pool_clear": Symbol(
        "prohibition",
        (
            Stroke("M24 48V78H76V48", 5),
            Stroke("M26 60H74", 4),
            Stroke("M50 60V46", 3),
            Stroke(_flame(50, 47, 6)),
            Stroke("M62 61L78 32", 5),
            Stroke(_circle(62, 61, 4.6)),
        ),
    ),
    "do_not_move": Symbol(
        "prohibition",
        (
            *_candle(50, 74, 24, 24),
            Stroke("M33 60H18M18 60L25 53M18 60L25 67M67 60H82M82 60L75 53M82 60L75 67", 4.5),
        ),
    ),
    "apart": Symbol(
        "instruction",
        (
            *_candle(30, 74, 20, 22),
            *_candle(70, 74, 20, 22),
            Stroke("M32 82H68M32 82L38 78M32 82L38 86M68 82L62 78M68 82L62 86", 3),
        ),
    ),
}  # fmt: skip

_TRIANGLE = (
    "M50 6a6 6 0 0 1 5.2 3l41 71a6 6 0 0 1 -5.2 9H9a6 6 0 0 1 -5.2 -9l41 -71A6 6 0 0 1 50 6Z"
)
_INNER = "M50 17L87 82H13Z"
_RING = _circle(50, 50, 43.5)
_BAR = "M19.2 19.2L80.8 80.8"


def layers(name: str) -> tuple[tuple[str, str | None, str | None, float], ...]:
    """Return a symbol as layers from the back: path data, fill, stroke and stroke's width."""
    symbol = SYMBOLS[name]
    ink = WHITE if symbol.ground == "instruction" else BLACK
    picture = tuple(
        (stroke.d, None, ink, stroke.width) if stroke.width else (stroke.d, ink, None, 0.0)
        for stroke in symbol.picture
    )
    if symbol.ground == "warning":
        back = ((_TRIANGLE, BLACK, None, 0.0), (_INNER, YELLOW, None, 0.0))
        return back + picture
    if symbol.ground == "instruction":
        return ((_circle(50, 50, 49), BLUE, None, 0.0), *picture)
    return (
        (_circle(50, 50, 49), WHITE, None, 0.0),
        *picture,
        (_RING, None, RED, 10.0),
        (_BAR, None, RED, 8.0),
    )


def symbol_marks(name: str, *, side_mm: float) -> tuple[Outline, ...]:
    """Return a symbol as marks in a square from (0, 0), ``side_mm`` wide."""
    scale = side_mm / 100
    box = Box(x=0, y=0, width=side_mm, height=side_mm)
    marks = [
        Outline(d=d, view=VIEW, box=box, fill=fill, stroke=stroke, stroke_width=width * scale)
        for d, fill, stroke, width in layers(name)
    ]
    return (replace(marks[0], role=f"symbol {name}"), *marks[1:])


def symbol_svg(name: str, *, title: str, side_mm: float | None = None) -> Markup:
    """Return a symbol as a picture for a page."""
    size = f"{side_mm:g}mm" if side_mm else None
    return el(
        "svg",
        el("title", title),
        *(
            el("path", d=d, fill=fill or "none", stroke=stroke, stroke_width=width or None)
            for d, fill, stroke, width in layers(name)
        ),
        xmlns="http://www.w3.org/2000/svg", viewbox="0 0 100 100", role="img",
        width=size, height=size,
    )  # fmt: skip
