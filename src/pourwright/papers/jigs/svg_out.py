"""A jig as an SVG for a laser: hairlines in millimetres, the vessel's middle at (0, 0)."""

from __future__ import annotations

from math import pi

from pourwright.core.wicks.flat import Edge, Round, arc_of, sides
from pourwright.core.wicks.jigs import CAUTIONS, Jig
from pourwright.papers.jigs.laid import laid
from pourwright.papers.svg import Markup, el

MARGIN_MM = 3.0
HAIRLINE_MM = 0.1


def jig_svg(jig: Jig, *, title: str) -> Markup:
    """
    Return the lines to cut as one SVG, true to size where it is opened in millimetres.

    The first part's middle is at (0, 0) of the view box; y runs down, as in every SVG. The
    cautions stand in its description.
    """
    parts = laid(jig)
    boxes = [
        (low + part.dx, foot, high + part.dx, top)
        for part, layer in zip(parts, jig.cut, strict=True)
        for low, foot, high, top in [layer.plate.box()]
    ]
    left = min(box[0] for box in boxes) - MARGIN_MM
    right = max(box[2] for box in boxes) + MARGIN_MM
    top = -max(box[3] for box in boxes) - MARGIN_MM
    foot = -min(box[1] for box in boxes) + MARGIN_MM
    width, height = right - left, foot - top
    lines = {"fill": "none", "stroke": "#ff0000", "stroke_width": _mm(HAIRLINE_MM)}
    groups = [
        el("g", *(_edge(edge) for edge in part.edges), id=part.name, **lines) for part in parts
    ]
    return el(
        "svg",
        el("title", title),
        el("desc", " ".join(CAUTIONS)),
        *groups,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{_mm(width)}mm",
        height=f"{_mm(height)}mm",
        viewBox=f"{_mm(left)} {_mm(top)} {_mm(width)} {_mm(height)}",
    )


def _edge(edge: Edge) -> Markup:
    if isinstance(edge, Round):
        return el("circle", cx=_mm(edge.x), cy=_mm(-edge.y), r=_mm(edge.radius))
    return el("path", d=path_data(edge))


def path_data(loop: Edge) -> str:
    """Return a loop as path data with y turned down; arcs stay arcs."""
    assert not isinstance(loop, Round)
    steps = [f"M{_mm(loop[0].x)} {_mm(-loop[0].y)}"]
    for start, end in sides(loop):
        to = f"{_mm(end.x)} {_mm(-end.y)}"
        if abs(start.bulge) < 1e-9:
            steps.append(f"L{to}")
            continue
        arc = arc_of(start, end)
        large, sweep = int(abs(arc.turn) > pi), int(arc.turn < 0)
        steps.append(f"A{_mm(arc.radius)} {_mm(arc.radius)} 0 {large} {sweep} {to}")
    return "".join(steps) + "Z"


def _mm(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
