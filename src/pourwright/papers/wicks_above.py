"""
A vessel from above, to scale: where its wicks stand, and lone pools of the reach around them.

Lone pools say what wicks by themselves would have to reach. Real pools merge and cover more, which
the picture says in words. Classes are those of :mod:`pourwright.papers.candle`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from pourwright.core.amounts import System, show_length
from pourwright.core.wicks.flat import polygon
from pourwright.core.wicks.insides import Inside
from pourwright.core.wicks.jigs import inset
from pourwright.core.wicks.outlines import Outline
from pourwright.papers.svg import FONTS, Markup, Paint, Value, el, path, picture, text_width

Point = tuple[float, float]

_INK: dict[str, dict[str, Value]] = {
    "cd-glass": {"fill": "#e3dccd", "stroke": "#23201b", "stroke_width": 1.2},
    "cd-wax": {"fill": "#efe1bd"},
    "cd-air": {"fill": "#fbf8f1"},
    "cd-pool": {"fill": "#e2ae4c"},
    "cd-surface": {"fill": "none", "stroke": "#a08a52", "stroke_width": 0.9},
    "cd-wick": {"fill": "#23201b"},
    "cd-dim": {"fill": "none", "stroke": "#5e574c", "stroke_width": 0.7},
    "cd-axis": {"fill": "none", "stroke": "#5e574c", "stroke_width": 0.6,
                "stroke_dasharray": "9 3 2 3"},
    "cd-text": {"fill": "#5e574c", "font_family": FONTS},
}  # fmt: skip
_WORDS_PX, _LINE_PX, _EDGE_PX, _LETTERS = 36.0, 14.0, 9.0, 11.0


def wicks_above_svg(
    positions: Sequence[Point],
    inside: Inside,
    *,
    pool_radius_mm: float,
    size: float = 300,
    units: System = "metric",
    name: str = "",
    prefix: str = "wicks",
    standalone: bool = False,
) -> Markup:
    """Return the picture, at most ``size`` pixels wide; pools end at the wax's edge."""
    outer = polygon(inset(inside.rim, -inside.wall_mm), steps=180)
    across = max(x for x, _ in outer) - min(x for x, _ in outer)
    high = max(y for _, y in outer) - min(y for _, y in outer)
    scale = min((size - 2 * _EDGE_PX) / across, (size - 2 * _EDGE_PX) / high)
    width = max(across * scale + 2 * _EDGE_PX, min(size, 230.0))
    height = high * scale + 2 * _EDGE_PX + _WORDS_PX
    x0, y0 = width / 2, _EDGE_PX + high * scale / 2
    paint = Paint(ink=_INK, standalone=standalone)

    def at(point: Point) -> Point:
        return x0 + point[0] * scale, y0 - point[1] * scale

    def line(outline: Outline, out_mm: float = 0.0) -> str:
        edge = polygon(inset(outline, -out_mm), steps=180)
        return path((at(p) for p in edge), closed=True)

    wax = line(inside.surface)
    clip = f"{prefix}-wax"
    pools = [_circle(at(p), pool_radius_mm * scale, paint("cd-pool")) for p in positions]
    edges = [_circle(at(p), pool_radius_mm * scale, paint("cd-dim")) for p in positions]
    dot = max(scale * 1.2, 2.0)
    length = show_length(Fraction(pool_radius_mm), units)
    words = [f"Lone pools reaching {length} from each wick.", "Real pools merge and cover more."]
    body = [
        el("path", d=line(inside.rim, inside.wall_mm), **paint("cd-glass")),
        el("path", d=line(inside.rim), **paint("cd-air")),
        el("path", d=wax, **paint("cd-wax")),
        el("clipPath", el("path", d=wax), id=clip),
        el("g", *pools, *edges, clip_path=f"url(#{clip})"),
        el("path", d=wax, **paint("cd-surface")),
        *_axes(at, inside.rim, scale, paint),
        *(_circle(at(p), dot, paint("cd-wick")) for p in positions),
        *(
            el("text", text, x=x0, y=height - _WORDS_PX + 10 + number * _LINE_PX,
               text_anchor="middle", font_size=_fitting(text, width), **paint("cd-text"))
            for number, text in enumerate(words)
        ),
    ]  # fmt: skip
    many = "one wick" if len(positions) == 1 else f"{len(positions)} wicks"
    return picture(
        *body,
        width=width,
        height=height,
        prefix=prefix,
        title=f"{name}: wicks from above, to scale" if name else "Wicks from above, to scale",
        desc=f"{many[0].upper()}{many[1:]}; " + " ".join(words),
        class_="cd",
    )


def _circle(at: Point, radius: float, ink: dict[str, Value]) -> Markup:
    return el("circle", cx=at[0], cy=at[1], r=radius, **ink)


def _axes(at, rim: Outline, scale: float, paint: Paint) -> list[Markup]:
    reach = 5.0 / scale
    left, right = at((-rim.half_width_mm - reach, 0)), at((rim.half_width_mm + reach, 0))
    top, foot = at((0, rim.half_height_mm + reach)), at((0, -rim.half_height_mm - reach))
    return [el("path", d=path([left, right]) + path([top, foot]), **paint("cd-axis"))]


def _fitting(text: str, room: float) -> float:
    return min(_LETTERS, _LETTERS * (room - 4) / text_width(text, _LETTERS))
