"""A jig as a picture for a page: over its vessel, from above, to scale, in the page's colours."""

from __future__ import annotations

from fractions import Fraction

from pourwright.core.amounts import System, show_length
from pourwright.core.wicks.flat import Edge, Point, polygon
from pourwright.core.wicks.jigs import Jig, inset
from pourwright.papers.svg import Markup, el, path, picture, shortened

_EDGE_PX, _WORDS_PX, _LETTERS = 8.0, 34.0, 11.0
_STEPS = 180


def jig_preview_svg(
    jig: Jig, *, wall_mm: float, size: float = 320, units: System = "metric", prefix: str = "jig"
) -> Markup:
    """
    Return the jig as it lies in use, at most ``size`` pixels wide.

    Solid is the jig, dashed the bar's lip below it, dash and dot the vessel's inside. Classes are
    those of :mod:`pourwright.papers.candle`; it is for the screen, so that it has no inks of its
    own. What is drawn is the made jig, without the kerf.
    """
    wall = polygon(inset(jig.inside, -wall_mm), steps=_STEPS)
    top = jig.layers[0].plate
    body = polygon(top.outline, steps=_STEPS)
    every = [*wall, *body]
    low_x, high_x = min(x for x, _ in every), max(x for x, _ in every)
    low_y, high_y = min(y for _, y in every), max(y for _, y in every)
    scale = (size - 2 * _EDGE_PX) / max(high_x - low_x, high_y - low_y)
    width, height = max((high_x - low_x) * scale, 200.0) + 2 * _EDGE_PX, (high_y - low_y) * scale
    x0 = width / 2 - (low_x + high_x) / 2 * scale
    y0 = _EDGE_PX + high_y * scale

    def at(point: Point) -> Point:
        return x0 + point[0] * scale, y0 - point[1] * scale

    def line(edge: Edge) -> str:
        return path((at(p) for p in polygon(edge, steps=_STEPS)), closed=True)

    plate = line(top.outline) + "".join(line(opening) for opening in top.openings)
    left, foot_mm, right, head_mm = top.box()
    across = show_length(Fraction(right - left), units)
    along = show_length(Fraction(head_mm - foot_mm), units)
    kind = "Wick bar" if jig.form == "bar" else "Setting guide"
    words = [f"{kind}, {across} by {along}.", "Dash and dot: the vessel’s inside."]
    if jig.form == "bar":
        words[1] = "Dash and dot: the rim’s inside; dashed: the lip."
    foot = height + 2 * _EDGE_PX + 10
    return picture(
        el("path", d=path(map(at, wall), closed=True), class_="cd-glass"),
        el("path", d=line(inset(jig.inside, 0.0)), class_="cd-air"),
        el("path", d=plate, class_="cd-wax", fill_rule="evenodd"),
        el("path", d=plate, class_="cd-edge"),
        *(
            el("path", d=line(layer.plate.outline), class_="cd-dim", stroke_dasharray="3 2")
            for layer in jig.layers[1:]
        ),
        el("path", d=line(inset(jig.inside, 0.0)), class_="cd-axis"),
        *(_mark(at((hole.x, hole.y)), hole.radius * scale) for hole in jig.holes),
        *(
            el("text", shortened(text, room=width - 4, size=_LETTERS), x=width / 2,
               y=foot + 14 * number, text_anchor="middle", font_size=_LETTERS, class_="cd-text")
            for number, text in enumerate(words)
        ),
        width=width,
        height=height + 2 * _EDGE_PX + _WORDS_PX,
        prefix=prefix,
        title=f"{kind} from above, to scale",
        desc=" ".join([*words, f"Wicks: {len(jig.holes)}."]),
        class_="cd",
    )  # fmt: skip


def _mark(at: Point, radius: float) -> Markup:
    """Return a hole's cross."""
    reach = max(radius + 3.0, 5.0)
    x, y = at
    cross = path([(x - reach, y), (x + reach, y)]) + path([(x, y - reach), (x, y + reach)])
    return el("path", d=cross, class_="cd-dim")
