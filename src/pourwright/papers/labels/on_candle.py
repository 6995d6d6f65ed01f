"""
The label on the drawn candle, at real proportions: from the front, and a disc from above or below.

From the front the candle is seen from far away (orthographic): a point of the wrap at an arc ``a``
from its middle stands at ``R sin(a / R)``, so the front narrows towards the edges as on the jar
itself. Every outline is bent point by point, art column by column. The vessel carries classes that
the page's stylesheet colours; the label keeps its printed colours, in light and dark.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO
from math import pi, sin

from fontTools.pens.basePen import BasePen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.svgLib.path import parse_path
from PIL import Image

from pourwright.core.vessel.outline import Outline as VesselOutline
from pourwright.papers.candle import CandleDrawing
from pourwright.papers.labels.marks import Box, Drawing, Mark, Outline, Picture, Words, rectangle
from pourwright.papers.labels.svg_out import label_svg
from pourwright.papers.svg import Markup, el, escape, number, path
from pourwright.papers.typefaces import MM_PER_PT

MARGIN_MM = 4.0
# A straight line is cut into pieces no longer than this before it is bent.
STEP_MM = 4.0
ART_PX_PER_MM = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """
    A wrap bent around a vessel: ``middle`` is in front, in mm from the wrap's left edge.

    ``top`` and ``foot`` are the vessel's radius at the wrap's own edges, ``height`` apart.
    """

    middle: float
    height: float
    top: float
    foot: float

    def radius(self, y: float) -> float:
        return self.top + (self.foot - self.top) * max(0.0, min(1.0, y / self.height))

    def x(self, x: float, y: float) -> float:
        """Return where a place of the wrap is seen, from the candle's axis; the edge at most."""
        radius = self.radius(y)
        arc = max(-pi / 2, min(pi / 2, (x - self.middle) / radius))
        return radius * sin(arc)

    def shows(self, box: Box) -> bool:
        reach = max(self.top, self.foot) * pi / 2
        return box.right > self.middle - reach and box.x < self.middle + reach


def front_svg(
    candle: CandleDrawing,
    wrap: Drawing | None,
    *,
    outside_mm: float,
    height_mm: float,
    foot_mm: float,
    size: float = 420,
    prefix: str = "front",
) -> Markup:
    """
    Return the candle from the front with its wrap, at most ``size`` pixels high.

    ``outside_mm`` is the outside diameter where the label sits, ``height_mm`` the vessel's height,
    ``foot_mm`` how far above its foot the label begins. Without a wrap the vessel is bare.
    """
    outline = candle.vessel.outline()
    half = outline.widest_outer_radius_mm if outline.measured else outside_mm / 2
    width, height = 2 * half + 2 * MARGIN_MM, height_mm + 2 * MARGIN_MM
    scale = min(size / height, size / width)
    body = [*_vessel(candle, half=half, height=height_mm, prefix=prefix)]
    if wrap is not None:
        at_top, at_foot = (
            outside_mm / 2 + _leaning(outline, foot_mm + up, foot_mm + wrap.height / 2)
            for up in (wrap.height, 0.0)
        )
        bend = Bend(middle=wrap.width / 2, height=wrap.height, top=at_top, foot=at_foot)
        top = MARGIN_MM + height_mm - foot_mm - wrap.height
        body += _bent(wrap, bend, x0=half + MARGIN_MM, y0=top, prefix=prefix)
    name = candle.name or "The candle"
    what = f"{wrap.title}, on the candle" if wrap is not None else f"{name}, without a label"
    desc = f"The vessel is {outside_mm:.0f} mm across and {height_mm:.0f} mm high" + (
        f"; the label is {wrap.height:.0f} mm high and begins {foot_mm:.0f} mm above its foot."
        if wrap is not None
        else "."
    )
    return el(
        "svg",
        el("title", f"{what}, at real proportions", id=f"{prefix}-title"),
        el("desc", desc, id=f"{prefix}-desc"),
        *body,
        xmlns="http://www.w3.org/2000/svg",
        viewbox=f"0 0 {number(width)} {number(height)}",
        width=width * scale,
        height=height * scale,
        class_="cd on-candle",
        role="img",
        aria_labelledby=f"{prefix}-title",
        aria_describedby=f"{prefix}-desc",
    )


def disc_svg(
    disc: Drawing, *, outside_mm: float, size: float = 260, prefix: str = "disc"
) -> Markup:
    """Return a disc on the round that carries it, seen straight on: a base or a lid."""
    around = max(outside_mm, disc.width)
    across = around + 2 * MARGIN_MM
    middle = across / 2
    inner = label_svg(disc, cut_line=False)
    # The disc's own picture is set into the round's; its size and name are the round's then.
    body = inner[inner.index("</title>") + len("</title>") : inner.rindex("</svg>")]
    at = f"translate({number(middle - disc.width / 2)} {number(middle - disc.height / 2)})"
    return Markup(
        el(
            "svg",
            el("title", f"{disc.title}, in its place", id=f"{prefix}-title"),
            el("circle", cx=middle, cy=middle, r=around / 2, class_="cd-outside"),
            Markup(f'<g transform="{at}">{body}</g>'),
            xmlns="http://www.w3.org/2000/svg",
            viewbox=f"0 0 {number(across)} {number(across)}",
            width=size,
            height=size,
            class_="cd on-candle",
            role="img",
            aria_labelledby=f"{prefix}-title",
        )
    )


def _leaning(outline: VesselOutline, height_mm: float, middle_mm: float) -> float:
    """Return how much wider the vessel is at a height than at another, both above its foot."""
    if not outline.measured:
        return 0.0
    return _outer_radius(outline, height_mm) - _outer_radius(outline, middle_mm)


def _outer_radius(outline: VesselOutline, height_mm: float) -> float:
    z = height_mm - outline.base_mm
    # The roundings at foot and rim are the drawing's own; the wall between them is what counts.
    low, high = 0.15 * outline.depth_mm, 0.85 * outline.depth_mm
    radii = [outline.inner_radius_mm(at) for at in (low, high)]
    return radii[0] + (radii[1] - radii[0]) * (z - low) / (high - low)


# --- the vessel ----------------------------------------------------------------------------------


def _vessel(candle: CandleDrawing, *, half: float, height: float, prefix: str) -> Iterable[Markup]:
    outline = candle.vessel.outline()
    x0, foot = MARGIN_MM + half, MARGIN_MM + height

    def at(points):
        return [(x0 + x, foot - outline.base_mm - z) for x, z in points]

    if outline.measured:
        right = list(outline.outer)
        sides = at([*((-x, z) for x, z in reversed(right)), *right])
    else:
        sides = [(x0 - half, MARGIN_MM), (x0 + half, MARGIN_MM), (x0 + half, foot),
                 (x0 - half, foot)]  # fmt: skip
    yield el("path", d=path(sides, closed=True), class_="cd-outside")
    if candle.fill_height_mm and outline.measured:
        yield el(
            "path", d=path(at(outline.wax(candle.fill_height_mm)), closed=True), class_="cd-wax"
        )
    # Round: a little darker towards both edges.
    stops = ((0, 0.22), (0.22, 0.0), (0.78, 0.0), (1, 0.22))
    yield el(
        "linearGradient",
        *(el("stop", offset=at, stop_color="#000000", stop_opacity=dark) for at, dark in stops),
        id=f"{prefix}-round",
    )
    yield el("path", d=path(sides, closed=True), fill=f"url(#{prefix}-round)")
    yield el("path", d=path(sides, closed=True), class_="cd-edge")


# --- the wrap ------------------------------------------------------------------------------------


def _bent(wrap: Drawing, bend: Bend, *, x0: float, y0: float, prefix: str) -> list[Markup]:
    marks: list[Mark] = [
        rectangle(wrap.box, fill=wrap.ground or "#ffffff", role="paper"), *wrap.marks
    ]  # fmt: skip
    drawn = [_bent_mark(mark, bend, wrap) for mark in marks if bend.shows(mark.box)]
    corners = [
        (bend.x(x, y), y)
        for x, y in ((0, 0), (wrap.width, 0), (wrap.width, wrap.height), (0, wrap.height))
    ]
    whole = path(corners, closed=True)
    shade = el("path", d=whole, fill=f"url(#{prefix}-round)")
    edge = el("path", d=whole, fill="none", stroke="#000000", stroke_opacity=0.2, stroke_width=0.25)
    clip = el("clipPath", el("path", d=whole), id=f"{prefix}-label")
    at = f"translate({number(x0)} {number(y0)})"
    inside = el("g", *drawn, shade, clip_path=f"url(#{prefix}-label)")
    return [el("g", clip, inside, edge, transform=at)]


def _bent_mark(mark: Mark, bend: Bend, wrap: Drawing) -> Markup:
    if isinstance(mark, Words):
        return el("path", d=_bent_words(mark, bend), fill=mark.fill)
    if isinstance(mark, Outline):
        return el(
            "path", d=_bent_outline(mark, bend), fill=mark.fill or "none", stroke=mark.stroke,
            stroke_width=mark.stroke_width or None,
            fill_rule="evenodd" if mark.even_odd else None,
        )  # fmt: skip
    return _bent_picture(mark, bend, wrap)


def _bent_words(mark: Words, bend: Bend) -> str:
    pen = _pen()
    scale = mark.size_pt * MM_PER_PT / mark.face.units_per_em
    x = mark.x
    for letter in mark.text:
        if outline := mark.face.glyph_outline(letter):
            bent = TransformPen(_BendPen(pen, bend), (scale, 0, 0, -scale, x, mark.y))
            parse_path(outline, bent)
        x += mark.face.advance_units(letter) * scale
    return pen.getCommands()


def _bent_outline(mark: Outline, bend: Bend) -> str:
    pen = _pen()
    x, y, *_ = mark.view
    scale = mark.scale
    matrix = (scale, 0, 0, scale, mark.box.x - x * scale, mark.box.y - y * scale)
    parse_path(mark.d, TransformPen(_BendPen(pen, bend), matrix))
    return pen.getCommands()


def _pen() -> SVGPathPen:
    return SVGPathPen(None, ntos=lambda value: f"{value:.2f}".rstrip("0").rstrip("."))


class _BendPen(BasePen):
    """Hands an outline on, each of its points moved to where it is seen."""

    def __init__(self, out: SVGPathPen, bend: Bend) -> None:
        super().__init__(None)
        self.out = out
        self.bend = bend

    def _at(self, pt):
        return self.bend.x(*pt), pt[1]

    def _moveTo(self, pt) -> None:  # noqa: N802 - the pen protocol's name
        self.out.moveTo(self._at(pt))

    def _lineTo(self, pt) -> None:  # noqa: N802 - the pen protocol's name
        x, y = self._getCurrentPoint()
        steps = 1 if pt[1] == y else max(1, round(abs(pt[0] - x) / STEP_MM))
        for step in range(1, steps + 1):
            part = step / steps
            self.out.lineTo(self._at((x + (pt[0] - x) * part, y + (pt[1] - y) * part)))

    def _curveToOne(self, pt1, pt2, pt3) -> None:  # noqa: N802 - the pen protocol's name
        self.out.curveTo(self._at(pt1), self._at(pt2), self._at(pt3))

    def _closePath(self) -> None:  # noqa: N802 - the pen protocol's name
        self.out.closePath()


def _bent_picture(mark: Picture, bend: Bend, wrap: Drawing) -> Markup:
    """Return art as it is seen: the columns of what is shown are taken from where they lie."""
    import numpy as np  # slow to load, and only art bent round a candle asks for it

    box = mark.box
    # Art is bent by the radius at its middle: on a vessel that narrows it stays a rectangle.
    level = box.y + box.height / 2
    radius = bend.radius(level)
    left, right = bend.x(box.x, level), bend.x(box.right, level)
    wide = max(2, round((right - left) * ART_PX_PER_MM))
    high = max(2, round(box.height * ART_PX_PER_MM))
    with Image.open(BytesIO(mark.data)) as picture:
        pixels = np.asarray(picture.convert("RGBA").resize((max(wide, 2) * 2, high)))
    seen = np.linspace(left, right, wide)
    arc = bend.middle + radius * np.arcsin(np.clip(seen / radius, -1, 1))
    columns = np.clip((arc - box.x) / box.width * (pixels.shape[1] - 1), 0, pixels.shape[1] - 1)
    out = BytesIO()
    Image.fromarray(pixels[:, columns.round().astype(int)]).save(out, "PNG")
    there = f"data:image/png;base64,{b64encode(out.getvalue()).decode()}"
    return Markup(
        f'<image x="{number(left)}" y="{number(box.y)}" width="{number(right - left)}" '
        f'height="{number(box.height)}" preserveAspectRatio="none" href="{escape(there)}"/>'
    )
