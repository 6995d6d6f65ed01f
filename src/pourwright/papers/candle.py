"""
The candle's drawing to scale: in section, from above, and small as an icon.

It is the thing's picture everywhere in the program. On a page the drawing carries classes only and
the page's stylesheet colours it for light, dark and print; ``standalone=True`` paints it with
attributes, for a file or paper.

Classes: ``cd`` (the picture), ``cd-glass`` (cut wall), ``cd-air`` (hollow), ``cd-back`` (lines
behind the cut), ``cd-wax``, ``cd-surface``, ``cd-pool``, ``cd-tab``, ``cd-wick`` (``cd-wick-off``
behind or before the cut), ``cd-flame``, ``cd-core``, ``cd-dim``, ``cd-axis``, ``cd-text``; a vessel
whose shape is not measured has ``cd-unmeasured``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import hypot, isfinite

from pourwright.core.amounts import System, show_length
from pourwright.core.errors import BadInput
from pourwright.core.vessel.outline import Outline
from pourwright.core.vessel.vessel import Vessel
from pourwright.core.wicks.places import ring_positions_mm
from pourwright.papers.svg import FONTS, Markup, Paint, Value, el, path, picture

# Trim before lighting: common practice, no source.
TRIM_MM = 6.0
# Drawn sizes; nothing is computed from them.
MENISCUS_MM = 1.1
WICK_WIDTH_MM = 2.0
TAB_MM = (14.0, 1.2, 3.4, 5.0)  # plate across, plate thick, neck across, neck high
FLAME_MM = (7.0, 22.0)
PX_PER_MM_TRUE = 96 / 25.4

Point = tuple[float, float]


class BadDrawing(BadInput):
    """The parts of a drawing do not fit together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """
    A melt pool: its diameter and depth, around each of the places ``at_mm`` (the middle if none).

    ``source`` is a word for how the figure is known: "modelled", "measured".
    """

    diameter_mm: float
    depth_mm: float
    source: str = "modelled"
    at_mm: tuple[Point, ...] = ((0.0, 0.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class CandleDrawing:
    """
    What is drawn. ``fill_height_mm`` None is an empty vessel.

    ``wick_positions_mm`` are places from the middle, x to the right and y away from the viewer;
    ``wick_height_mm`` is how far a wick stands above the wax.
    """

    vessel: Vessel
    fill_height_mm: float | None = None
    wick_positions_mm: tuple[Point, ...] = ()
    wick_height_mm: float = TRIM_MM
    pool: Pool | None = None
    lit: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        depth = self.vessel.outline().depth_mm
        fill = self.fill_height_mm
        if fill is not None and not (isfinite(fill) and 0 <= fill <= depth * (1 + 1e-9)):
            raise BadDrawing(
                f"The fill height is {fill:g} mm; the vessel is {depth:.1f} mm deep inside."
            )
        if not 0 <= self.wick_height_mm <= 200:
            raise BadDrawing(
                f"The wick stands {self.wick_height_mm:g} mm above the wax; 0 to 200 mm is drawn."
            )


def drawing_of(
    vessel: Vessel,
    *,
    fill_ml: float | None = None,
    wick_count: int = 1,
    wick_height_mm: float = TRIM_MM,
    pool: Pool | None = None,
    lit: bool = False,
    name: str = "",
) -> CandleDrawing:
    """
    Return the drawing of a vessel filled with so much cold wax, its wicks on their usual ring.

    Raises Overfull where the fill does not fit.
    """
    fill_height = None if fill_ml is None else vessel.drawn_height_mm(fill_ml)
    wicks: tuple[Point, ...] = ()
    if fill_height is not None and wick_count:
        radius = vessel.surface_radius_mm(fill_height)
        wicks = ring_positions_mm(vessel_inner_radius_mm=radius, wick_count=wick_count)
    return CandleDrawing(
        vessel=vessel,
        fill_height_mm=fill_height,
        wick_positions_mm=wicks,
        wick_height_mm=wick_height_mm,
        pool=pool,
        lit=lit,
        name=name,
    )


def section_svg(
    drawing: CandleDrawing,
    *,
    size: float = 220,
    dimensions: bool = True,
    decorative: bool = False,
    units: System = "metric",
    prefix: str = "section",
    standalone: bool = False,
    px_per_mm: float | None = None,
    true_size: bool = False,
) -> Markup:
    """
    Return the section through the axis, to scale, at most ``size`` pixels wide and high.

    ``px_per_mm`` fixes the scale, so that two drawings beside each other compare
    (:func:`shared_px_per_mm`); ``true_size`` draws 1:1 for paper. ``units`` is what the dimensions
    are written in. ``prefix`` must differ between drawings on one page.
    """
    outline = drawing.vessel.outline()
    dims = dimensions and size >= 120
    edge = _Edges.section(dims=dims, note=not outline.measured)
    scale = PX_PER_MM_TRUE if true_size else px_per_mm
    if scale is None:
        scale = _fit(size, edge, *_section_extent_mm(drawing, outline))
    across, high = _section_extent_mm(drawing, outline)
    width, height = across * scale + edge.left + edge.right, high * scale + edge.top + edge.bottom
    sheet = _Sheet(
        x0=edge.left + across * scale / 2,
        y0=height - edge.bottom - outline.base_mm * scale,
        scale=scale,
        paint=Paint(ink=_INK, standalone=standalone),
    )
    body = _section_body(drawing, outline, sheet, prefix=prefix)
    if dims:
        body.extend(_section_dimensions(drawing, outline, sheet, units))
    if not outline.measured and not decorative and size >= 120:
        body.append(
            sheet.text("shape not measured", sheet.x0, height - 5, anchor="middle", size=11)
        )
    return picture(
        *body,
        width=width,
        height=height,
        prefix=prefix,
        title=_title(drawing, outline, "section, to scale"),
        desc=describe(drawing, units=units),
        decorative=decorative,
        class_="cd",
        shown_width=_true_mm(width) if true_size else None,
        shown_height=_true_mm(height) if true_size else None,
    )


def above_svg(
    drawing: CandleDrawing,
    *,
    size: float = 220,
    dimensions: bool = True,
    decorative: bool = False,
    units: System = "metric",
    prefix: str = "above",
    standalone: bool = False,
    px_per_mm: float | None = None,
    true_size: bool = False,
) -> Markup:
    """Return the view from above, to scale; the arguments are those of :func:`section_svg`."""
    outline = drawing.vessel.outline()
    dims = dimensions and size >= 120
    edge = _Edges.above(dims=dims, note=dims and len(drawing.wick_positions_mm) > 1)
    across = 2 * outline.widest_outer_radius_mm
    scale = PX_PER_MM_TRUE if true_size else px_per_mm
    if scale is None:
        scale = _fit(size, edge, across, across)
    width = across * scale + edge.left + edge.right
    height = across * scale + edge.top + edge.bottom
    sheet = _Sheet(
        x0=width / 2,
        y0=edge.top + across * scale / 2,
        scale=scale,
        paint=Paint(ink=_INK, standalone=standalone),
    )
    body = _above_body(drawing, outline, sheet, prefix=prefix, axes=dims)
    if dims:
        body.extend(_above_dimensions(drawing, outline, sheet, units))
    return picture(
        *body,
        width=width,
        height=height,
        prefix=prefix,
        title=_title(drawing, outline, "from above, to scale"),
        desc=describe(drawing, units=units),
        decorative=decorative,
        class_="cd",
        shown_width=_true_mm(width) if true_size else None,
        shown_height=_true_mm(height) if true_size else None,
    )


def icon_svg(
    drawing: CandleDrawing,
    *,
    size: float = 64,
    decorative: bool = True,
    prefix: str = "icon",
    standalone: bool = False,
    frame_mm: float | None = None,
) -> Markup:
    """
    Return a small square section without words, standing on the square's lower edge.

    ``frame_mm`` is the length that the square stands for: one frame for a whole list keeps the
    vessels' sizes comparable. Without it each fills its square.
    """
    outline = drawing.vessel.outline()
    across, high = _section_extent_mm(drawing, outline)
    edge = 2.0
    scale = (size - 2 * edge) / max(across, high, frame_mm or 0.0)
    sheet = _Sheet(
        x0=size / 2,
        y0=size - edge - outline.base_mm * scale,
        scale=scale,
        paint=Paint(ink=_INK, standalone=standalone),
    )
    return picture(
        *_section_body(drawing, outline, sheet, prefix=prefix),
        width=size,
        height=size,
        prefix=prefix,
        title=_title(drawing, outline, "section"),
        decorative=decorative,
        class_="cd cd-icon",
    )


def shared_px_per_mm(drawing: CandleDrawing, *, size: float = 220) -> float:
    """Return the largest scale at which section and view from above both fit the size."""
    outline = drawing.vessel.outline()
    section = _fit(
        size,
        _Edges.section(dims=True, note=not outline.measured),
        *_section_extent_mm(drawing, outline),
    )
    across = 2 * outline.widest_outer_radius_mm
    above = _fit(size, _Edges.above(dims=True, note=True), across, across)
    return min(section, above)


def describe(drawing: CandleDrawing, *, units: System = "metric") -> str:
    """Return the drawing in words, for those who hear it."""
    outline = drawing.vessel.outline()
    if not outline.measured:
        parts = ["the vessel's shape is not measured and is drawn as a plain straight body"]
    else:
        parts = [
            f"inside {_mm(2 * outline.top_inner_radius_mm, units)} across at the rim and "
            f"{_mm(outline.depth_mm, units)} deep"
        ]
    fill = drawing.fill_height_mm
    if fill is None:
        parts.append("empty")
    elif outline.measured:
        parts.append(
            f"wax {_mm(fill, units)} deep, {_mm(outline.depth_mm - fill, units)} free below the rim"
        )
    wicks = len(drawing.wick_positions_mm)
    if wicks and fill is not None:
        parts.append("one wick" if wicks == 1 else f"{wicks} wicks")
    if drawing.pool is not None:
        pool = drawing.pool
        parts.append(
            f"melt pool {_mm(pool.diameter_mm, units)} across and {_mm(pool.depth_mm, units)} "
            f"deep, {pool.source}"
        )
    text = "; ".join(parts)
    return text[0].upper() + text[1:] + "."


# --- the sheet -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edges:
    """Room around the drawing for its words, in pixels."""

    left: float
    right: float
    top: float
    bottom: float

    @classmethod
    def section(cls, *, dims: bool, note: bool) -> _Edges:
        side, top = (27.0, 25.0) if dims and not note else (3.0, 3.0)
        return cls(left=side, right=side, top=top, bottom=20.0 if note else 3.0)

    @classmethod
    def above(cls, *, dims: bool, note: bool) -> _Edges:
        if not dims:
            return cls(left=3, right=3, top=3, bottom=3)
        return cls(left=9, right=9, top=9, bottom=44 if note else 29)


def _fit(size: float, edge: _Edges, across_mm: float, high_mm: float) -> float:
    return max(
        min(
            (size - edge.left - edge.right) / across_mm,
            (size - edge.top - edge.bottom) / high_mm,
        ),
        0.05,
    )


def _section_extent_mm(drawing: CandleDrawing, outline: Outline) -> tuple[float, float]:
    """Return how wide and how high the section is, wick and flame included."""
    top = outline.depth_mm
    if drawing.fill_height_mm is not None and drawing.wick_positions_mm:
        tip = drawing.fill_height_mm + drawing.wick_height_mm
        top = max(top, tip + (FLAME_MM[1] - 3 if drawing.lit else 0))
    return 2 * outline.widest_outer_radius_mm, top + outline.base_mm


_INK: dict[str, dict[str, Value]] = {
    "cd-glass": {"fill": "#e3dccd", "stroke": "#23201b", "stroke_width": 1.2,
                 "stroke_linejoin": "round"},
    "cd-air": {"fill": "#fbf8f1"},
    "cd-back": {"fill": "none", "stroke": "#b9ad98", "stroke_width": 0.8},
    "cd-wax": {"fill": "#efe1bd"},
    "cd-surface": {"fill": "none", "stroke": "#a08a52", "stroke_width": 0.9,
                   "stroke_linecap": "round"},
    "cd-pool": {"fill": "#e2ae4c"},
    "cd-tab": {"fill": "#8d8578"},
    "cd-wick": {"stroke": "#23201b", "fill": "#23201b", "stroke_linecap": "round"},
    "cd-wick-off": {"opacity": 0.5},
    "cd-flame": {"fill": "#c8612b"},
    "cd-core": {"fill": "#f3c777"},
    "cd-dim": {"fill": "none", "stroke": "#5e574c", "stroke_width": 0.7},
    "cd-axis": {"fill": "none", "stroke": "#5e574c", "stroke_width": 0.6,
                "stroke_dasharray": "9 3 2 3"},
    "cd-text": {"fill": "#5e574c", "font_family": FONTS},
    "cd-unmeasured": {"fill": "none", "stroke_dasharray": "5 4"},
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """Millimetres to pixels, y turned over; (x0, y0) is the drawing's own (0, 0)."""

    x0: float
    y0: float
    scale: float
    paint: Paint

    def at(self, point: Point) -> Point:
        return self.x0 + point[0] * self.scale, self.y0 - point[1] * self.scale

    def line(self, points: Iterable[Point], *, closed: bool = False) -> str:
        return path((self.at(p) for p in points), closed=closed)

    def text(
        self,
        words: str,
        x: float,
        y: float,
        *,
        anchor: str = "middle",
        size: float = 11,
        turned: bool = False,
    ) -> Markup:
        turn = f"rotate(-90 {x:.2f} {y:.2f})" if turned else None
        return el(
            "text",
            words,
            x=x,
            y=y,
            text_anchor=anchor,
            font_size=size,
            transform=turn,
            **self.paint("cd-text"),
        )


# --- the section ---------------------------------------------------------------------------------


def _section_body(
    drawing: CandleDrawing, outline: Outline, sheet: _Sheet, *, prefix: str
) -> list[Markup]:
    paint = sheet.paint
    fill = drawing.fill_height_mm
    rim = outline.inner[-1]
    body = [el("path", d=sheet.line(outline.inside(), closed=True), **paint("cd-air"))]
    surface: list[Point] = []
    if fill is not None and fill > 0:
        wax = outline.wax(fill, meniscus_mm=min(MENISCUS_MM, outline.depth_mm - fill))
        body.append(el("path", d=sheet.line(wax, closed=True), **paint("cd-wax")))
        surface = _surface_of(wax, fill)
        if drawing.pool is not None:
            body.extend(_section_pool(drawing.pool, fill, wax, sheet, prefix=prefix))
    if outline.measured:
        # The far half of the rim, seen through the hollow.
        edge = outline.inner_radius_mm(rim[1] - min(outline.wall_mm, 2.0))
        level = rim[1] - min(outline.wall_mm / 2, 1.0)
        body.append(el("path", d=sheet.line([(-edge, level), (edge, level)]), **paint("cd-back")))
    shell = ("cd-glass",) if outline.measured else ("cd-glass", "cd-unmeasured")
    if fill is not None and fill > 0:
        for x, cut in _wicks_in_section(drawing):
            body.append(_wick(x, fill, drawing, outline, sheet, cut=cut))
    body.append(el("path", d=sheet.line(outline.wall(), closed=True), **paint(*shell)))
    if surface:
        body.append(el("path", d=sheet.line(surface), **paint("cd-surface")))
    if drawing.lit and fill is not None:
        for x, _ in _wicks_in_section(drawing):
            body.extend(_flame(x, fill + drawing.wick_height_mm, sheet))
    return body


def _surface_of(wax: tuple[Point, ...], fill: float) -> list[Point]:
    """Return the open line of the wax's surface, from edge to edge."""
    top = [p for p in wax if p[1] >= fill - 1e-9]
    return sorted(top)


def _section_pool(
    pool: Pool, fill: float, wax: tuple[Point, ...], sheet: _Sheet, *, prefix: str
) -> list[Markup]:
    clip = f"{prefix}-wax"
    parts = [el("clipPath", el("path", d=sheet.line(wax, closed=True)), id=clip)]
    half = pool.diameter_mm / 2
    lenses = []
    for x in sorted({round(x, 3) for x, _ in pool.at_mm}):
        left, right = sheet.at((x - half, fill + 3)), sheet.at((x + half, fill + 3))
        rim_left, rim_right = sheet.at((x - half, fill)), sheet.at((x + half, fill))
        low = sheet.at((x, fill - pool.depth_mm))
        # Steep at the rim and flat below, as a pool of clear liquid stands in its wax.
        bend = half * 0.72 * sheet.scale
        lenses.append(
            f"M{left[0]:.2f} {left[1]:.2f}L{rim_left[0]:.2f} {rim_left[1]:.2f}"
            f"C{rim_left[0] + bend * 0.18:.2f} {low[1]:.2f} {low[0] - bend:.2f} {low[1]:.2f} "
            f"{low[0]:.2f} {low[1]:.2f}"
            f"C{low[0] + bend:.2f} {low[1]:.2f} {rim_right[0] - bend * 0.18:.2f} {low[1]:.2f} "
            f"{rim_right[0]:.2f} {rim_right[1]:.2f}L{right[0]:.2f} {right[1]:.2f}Z"
        )
    parts.append(el("path", d="".join(lenses), clip_path=f"url(#{clip})", **sheet.paint("cd-pool")))
    return parts


def _wicks_in_section(drawing: CandleDrawing) -> list[tuple[float, bool]]:
    """Return each wick's x once, and whether one there stands in the plane of the cut."""
    cut: dict[float, bool] = {}
    for x, y in drawing.wick_positions_mm:
        place = round(x, 2) + 0.0
        cut[place] = cut.get(place, False) or abs(y) < 0.01
    return sorted(cut.items())


def _wick(
    x: float, fill: float, drawing: CandleDrawing, outline: Outline, sheet: _Sheet, *, cut: bool
) -> Markup:
    across, thick, neck, high = TAB_MM
    room = max(2 * (outline.inner_radius_mm(thick + 0.5) - abs(x)) - 1, 2.0)
    across = min(across, room)
    high = min(high, fill * 0.4)
    tab = [
        (x - across / 2, 0.2), (x - across / 2, thick), (x - neck / 2, thick), (x - neck / 2, high),
        (x + neck / 2, high), (x + neck / 2, thick), (x + across / 2, thick), (x + across / 2, 0.2),
    ]  # fmt: skip
    foot, tip = sheet.at((x, high)), sheet.at((x, fill + drawing.wick_height_mm))
    classes = ("cd-wick",) if cut else ("cd-wick", "cd-wick-off")
    return el(
        "g",
        el("path", d=sheet.line(tab, closed=True), **sheet.paint("cd-tab")),
        el(
            "line",
            x1=foot[0],
            y1=foot[1],
            x2=tip[0],
            y2=tip[1],
            stroke_width=_wick_px(sheet.scale),
            **sheet.paint(*classes),
        ),
    )


def _wick_px(scale: float) -> float:
    return min(max(WICK_WIDTH_MM * scale * 0.6, 1.2), 5.0)


def _flame(x: float, tip_mm: float, sheet: _Sheet) -> list[Markup]:
    across, high = FLAME_MM
    parts = []
    for share, name in ((1.0, "cd-flame"), (0.5, "cd-core")):
        w, h = across / 2 * share * sheet.scale, high * share * sheet.scale
        foot = sheet.at((x, tip_mm - 3))
        parts.append(
            el(
                "path",
                d=f"M{foot[0]:.2f} {foot[1] - h:.2f}"
                f"C{foot[0] + w * 0.35:.2f} {foot[1] - h * 0.72:.2f} "
                f"{foot[0] + w:.2f} {foot[1] - h * 0.5:.2f} {foot[0] + w:.2f} "
                f"{foot[1] - h * 0.26:.2f}"
                f"C{foot[0] + w:.2f} {foot[1] - h * 0.08:.2f} {foot[0] + w * 0.5:.2f} "
                f"{foot[1]:.2f} {foot[0]:.2f} {foot[1]:.2f}"
                f"C{foot[0] - w * 0.5:.2f} {foot[1]:.2f} {foot[0] - w:.2f} "
                f"{foot[1] - h * 0.08:.2f} {foot[0] - w:.2f} {foot[1] - h * 0.26:.2f}"
                f"C{foot[0] - w:.2f} {foot[1] - h * 0.5:.2f} {foot[0] - w * 0.35:.2f} "
                f"{foot[1] - h * 0.72:.2f} {foot[0]:.2f} {foot[1] - h:.2f}Z",
                **sheet.paint(name),
            )
        )
    return parts


def _section_dimensions(
    drawing: CandleDrawing, outline: Outline, sheet: _Sheet, units: System
) -> list[Markup]:
    if not outline.measured:
        return []
    parts: list[Markup] = []
    top_mm = _section_extent_mm(drawing, outline)[1] - outline.base_mm
    inner, depth = outline.top_inner_radius_mm, outline.depth_mm
    level = sheet.at((0, top_mm))[1] - 9
    left, right = sheet.at((-inner, 0))[0], sheet.at((inner, 0))[0]
    rim = sheet.at((0, depth))[1]
    parts.append(_dimension((left, level), (right, level), sheet, off=(0.0, rim - level - 2)))
    parts.append(sheet.text(f"Ø {_mm(2 * inner, units)}", (left + right) / 2, level - 5))
    fill = drawing.fill_height_mm
    edge = outline.widest_outer_radius_mm
    spans = [(-1, 0.0, depth if fill is None else fill)]
    if fill is not None and depth - fill > 0.05:
        spans.append((1, fill, depth))
    for side, low_mm, high_mm in spans:
        x = sheet.at((side * edge, 0))[0] + side * 10
        low, high = sheet.at((0, low_mm))[1], sheet.at((0, high_mm))[1]
        parts.append(_dimension((x, low), (x, high), sheet, off=(-side * 6.0, 0.0)))
        words = _mm(high_mm - low_mm, units)
        parts.append(sheet.text(words, x + (13 if side > 0 else -5), (low + high) / 2, turned=True))
    return parts


def _dimension(a: Point, b: Point, sheet: _Sheet, *, off: Point) -> Markup:
    """Return a dimension line with oblique strokes at its ends, and lines leading to the thing."""
    steps = [f"M{a[0]:.2f} {a[1]:.2f}L{b[0]:.2f} {b[1]:.2f}"]
    for x, y in (a, b):
        steps.append(f"M{x - 2.5:.2f} {y + 2.5:.2f}L{x + 2.5:.2f} {y - 2.5:.2f}")
        over_x = -2.5 if off[0] > 0 else 2.5 if off[0] < 0 else 0.0
        over_y = -2.5 if off[1] > 0 else 2.5 if off[1] < 0 else 0.0
        steps.append(f"M{x + over_x:.2f} {y + over_y:.2f}L{x + off[0]:.2f} {y + off[1]:.2f}")
    return el("path", d="".join(steps), **sheet.paint("cd-dim"))


# --- from above ----------------------------------------------------------------------------------


def _above_body(
    drawing: CandleDrawing, outline: Outline, sheet: _Sheet, *, prefix: str, axes: bool
) -> list[Markup]:
    paint, scale = sheet.paint, sheet.scale
    fill = drawing.fill_height_mm
    shell = ("cd-glass",) if outline.measured else ("cd-glass", "cd-unmeasured")

    def circle(radius_mm: float, *classes: str) -> Markup:
        return el("circle", cx=sheet.x0, cy=sheet.y0, r=radius_mm * scale, **paint(*classes))

    rim_in, rim_out = outline.top_inner_radius_mm, outline.top_outer_radius_mm
    body = []
    if outline.widest_outer_radius_mm > rim_out + 0.3:
        body.append(circle(outline.widest_outer_radius_mm, "cd-back"))
    body.append(circle(rim_out, *shell))
    body.append(circle(rim_in, "cd-air"))
    if fill is not None and fill > 0:
        wax_radius = min(outline.inner_radius_mm(fill), rim_in)
        body.append(circle(wax_radius, "cd-wax"))
        if drawing.pool is not None:
            clip = f"{prefix}-wax"
            body.append(
                el(
                    "clipPath",
                    el("circle", cx=sheet.x0, cy=sheet.y0, r=wax_radius * scale),
                    id=clip,
                )
            )
            pools = [
                el(
                    "circle",
                    cx=sheet.at(place)[0],
                    cy=sheet.at(place)[1],
                    r=drawing.pool.diameter_mm / 2 * scale,
                    **paint("cd-pool"),
                )
                for place in drawing.pool.at_mm
            ]
            body.append(el("g", *pools, clip_path=f"url(#{clip})"))
        body.append(circle(wax_radius, "cd-surface"))
    body.append(circle(rim_in, "cd-back"))
    if axes:
        reach = rim_out * scale + 6
        body.append(
            el(
                "path",
                d=f"M{sheet.x0 - reach:.2f} {sheet.y0:.2f}H{sheet.x0 + reach:.2f}"
                f"M{sheet.x0:.2f} {sheet.y0 - reach:.2f}V{sheet.y0 + reach:.2f}",
                **paint("cd-axis"),
            )
        )
    places = drawing.wick_positions_mm
    if axes and len(places) > 2:
        body.append(circle(hypot(*places[0]), "cd-axis"))
    if fill is not None:
        dot = max(WICK_WIDTH_MM / 2 * scale * 1.2, 1.6)
        body.extend(
            el("circle", cx=sheet.at(p)[0], cy=sheet.at(p)[1], r=dot, **paint("cd-wick"))
            for p in places
        )
    return body


def _above_dimensions(
    drawing: CandleDrawing, outline: Outline, sheet: _Sheet, units: System
) -> list[Markup]:
    bottom = sheet.y0 + outline.widest_outer_radius_mm * sheet.scale
    if not outline.measured:
        return [sheet.text("shape not measured", sheet.x0, bottom + 20)]
    inner = outline.top_inner_radius_mm
    left, right = sheet.at((-inner, 0))[0], sheet.at((inner, 0))[0]
    level = bottom + 11
    parts = [
        _dimension((left, level), (right, level), sheet, off=(0.0, -7.0)),
        sheet.text(f"Ø {_mm(2 * inner, units)}", sheet.x0, level + 13),
    ]
    places = drawing.wick_positions_mm
    if len(places) > 1:
        (ax, ay), (bx, by) = places[0], places[1]
        apart = _mm(hypot(ax - bx, ay - by), units)
        parts.append(sheet.text(f"{len(places)} wicks, {apart} apart", sheet.x0, level + 27))
    return parts


# --- words ---------------------------------------------------------------------------------------


def _mm(length_mm: float, units: System) -> str:
    """Return a drawn length: whole millimetres, or hundredths of an inch."""
    exact = Fraction(round(length_mm)) if units == "metric" else Fraction(length_mm)
    return show_length(exact, units)


def _title(drawing: CandleDrawing, outline: Outline, view: str) -> str:
    if not outline.measured:
        view = f"shape not measured, {view.replace(', to scale', '')}"
    return f"{drawing.name}: {view}" if drawing.name else view[0].upper() + view[1:]


def _true_mm(px: float) -> str:
    return f"{px / PX_PER_MM_TRUE:.2f}mm"
