"""
The nine hazard pictograms, for pages and for labels.

A pictogram is a square standing on a point: red frame, white ground, black symbol, whatever the
page around it. Sizes in the rules are the square's side; what it takes up on paper is the diagonal,
side x 1.4142, both ways. Drawings and licence: ``pictograms/SOURCE.md`` and ``LICENSE``.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from math import sqrt
from typing import Final

from pourwright.core.errors import BadInput
from pourwright.papers.svg import Markup, Value, el, picture

UNITS: Final = 1000  # the view box, which the square fills from corner to corner
NAMES: Final = {
    "GHS01": "exploding bomb",
    "GHS02": "flame",
    "GHS03": "flame over circle",
    "GHS04": "gas cylinder",
    "GHS05": "corrosion",
    "GHS06": "skull and crossbones",
    "GHS07": "exclamation mark",
    "GHS08": "health hazard",
    "GHS09": "environment",
}
CODES: Final = tuple(NAMES)


class UnknownPictogram(BadInput):
    """There is no pictogram with such a code."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """
    One shape of a pictogram, painted over those before it.

    ``data`` has absolute M, L, C and Z only, in units of ``UNITS``, y down. ``stroke_width`` is in
    the same units, 0 for none; strokes are black with mitred joins.
    """

    data: str
    fill: str
    stroke_width: float = 0


def pictogram_layers(code: str) -> tuple[Layer, ...]:
    """Return the shapes of a pictogram from the ground up: frame, ground, symbol."""
    if code not in NAMES:
        raise UnknownPictogram(f'"{code}" is no hazard pictogram; write one of {", ".join(CODES)}.')
    return _layers(code)


def pictogram_svg(
    code: str,
    *,
    size: float = 64,
    side_mm: float | None = None,
    class_: str | None = None,
    prefix: str = "",
    decorative: bool = False,
) -> Markup:
    """
    Return a pictogram as SVG for a page, its colours its own in light and dark.

    ``size`` is its width and height in pixels; ``side_mm`` draws it true to size instead, by the
    side of the square. ``class_`` lets a stylesheet size it. ``prefix`` keeps ids apart where a
    page shows the same pictogram twice. A ``decorative`` one stands beside its own words.
    """
    shown = f"{size:g}" if side_mm is None else f"{diagonal_mm(side_mm):.4g}mm"
    return picture(
        *(_path(layer) for layer in pictogram_layers(code)),
        width=UNITS,
        height=UNITS,
        prefix=prefix or f"pictogram-{code.lower()}",
        title=f"{code}, {NAMES[code]}",
        decorative=decorative,
        class_=class_ or "pictogram",
        shown_width=shown,
        shown_height=shown,
    )


def diagonal_mm(side_mm: float) -> float:
    """
    Return how wide and high the square is when it stands on its point.

    >>> round(diagonal_mm(16), 2)
    22.63
    """
    return side_mm * sqrt(2)


def _path(layer: Layer) -> Markup:
    stroke: dict[str, Value] = {}
    if layer.stroke_width:
        stroke = {"stroke": "#000", "stroke_width": layer.stroke_width}
    return el("path", fill=layer.fill, **stroke, d=layer.data)


@cache
def _layers(code: str) -> tuple[Layer, ...]:
    drawing = files("pourwright.papers").joinpath("pictograms", f"{code}.svg")
    root = ET.fromstring(drawing.read_text(encoding="utf-8"))
    return tuple(
        Layer(
            data=shape.attrib["d"],
            fill=shape.attrib["fill"],
            stroke_width=float(shape.get("stroke-width", "0")),
        )
        for shape in root.iter("{http://www.w3.org/2000/svg}path")
    )
