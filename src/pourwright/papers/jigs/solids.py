"""
A jig as a watertight solid, written as STL and 3MF.

The bar lies with its top on the print bed and its lip up, so that it prints without supports: x is
turned round, as it is when one turns the bar over. A guide lies as it is used. Circles are polygons
of 128 sides; every edge of the mesh belongs to exactly two triangles.
"""

from __future__ import annotations

import struct
import zipfile
from dataclasses import dataclass
from io import BytesIO

import numpy as np

from pourwright.core.wicks.flat import Plate, Point, polygon
from pourwright.core.wicks.jigs import CAUTIONS, Jig
from pourwright.papers.svg import escape

Corner = tuple[float, float, float]
Triangle = tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mesh:
    """Corners in mm and triangles by their numbers, turned outwards."""

    corners: tuple[Corner, ...]
    triangles: tuple[Triangle, ...]


def jig_mesh(jig: Jig) -> Mesh:
    """Return the jig's solid."""
    build = _Build()
    first, *more = jig.layers
    turned = bool(more)
    plate = _Rings.of(first.plate, turned=turned)
    build.face(plate.outer, plate.inner, z=0.0, up=False)
    build.walls(plate, low=0.0, high=first.thick_mm)
    if not more:
        build.face(plate.outer, plate.inner, z=first.thick_mm, up=True)
        return build.mesh()
    lip = _Rings.of(more[0].plate, turned=turned)
    top = first.thick_mm + more[0].thick_mm
    # What of the plate shows beside the lip: all round it, and around each hole.
    build.face(plate.outer, [lip.outer], z=first.thick_mm, up=True)
    for wide, narrow in zip(lip.inner, plate.inner, strict=True):
        build.face(wide, [narrow], z=first.thick_mm, up=True)
    build.walls(lip, low=first.thick_mm, high=top)
    build.face(lip.outer, lip.inner, z=top, up=True)
    return build.mesh()


@dataclass(frozen=True, slots=True)
class _Rings:
    """A plate as polygons, all counter-clockwise."""

    outer: list[Point]
    inner: list[list[Point]]

    @classmethod
    def of(cls, plate: Plate, *, turned: bool) -> _Rings:
        def ring(edge) -> list[Point]:
            points = [(round(x, 5), round(y, 5)) for x, y in polygon(edge)]
            return [(-x, y) for x, y in reversed(points)] if turned else points

        return cls(ring(plate.outline), [ring(edge) for edge in plate.openings])


class _Build:
    def __init__(self) -> None:
        self._numbers: dict[Corner, int] = {}
        self._triangles: list[Triangle] = []

    def _number(self, point: Point, z: float) -> int:
        return self._numbers.setdefault((point[0] + 0.0, point[1] + 0.0, z), len(self._numbers))

    def face(self, outer: list[Point], inner: list[list[Point]], *, z: float, up: bool) -> None:
        for triangle in triangles_of(outer, inner):
            a, b, c = (self._number(point, z) for point in triangle)
            self._triangles.append((a, b, c) if up else (a, c, b))

    def walls(self, rings: _Rings, *, low: float, high: float) -> None:
        self._wall(rings.outer, low=low, high=high, outwards=True)
        for ring in rings.inner:
            self._wall(ring, low=low, high=high, outwards=False)

    def _wall(self, ring: list[Point], *, low: float, high: float, outwards: bool) -> None:
        for number, here in enumerate(ring):
            there = ring[(number + 1) % len(ring)]
            if not outwards:
                here, there = there, here
            a, b = self._number(here, low), self._number(there, low)
            c, d = self._number(there, high), self._number(here, high)
            self._triangles += [(a, b, c), (a, c, d)]

    def mesh(self) -> Mesh:
        return Mesh(corners=tuple(self._numbers), triangles=tuple(self._triangles))


# --- triangles in the plane ----------------------------------------------------------------------


def triangles_of(outer: list[Point], inner: list[list[Point]]) -> list[tuple[Point, Point, Point]]:
    """
    Return triangles that fill a polygon with holes, all counter-clockwise.

    Each hole is joined to the ring by a cut there and back; then ears are clipped off. No corner
    is added, so that what meets an edge elsewhere meets it here.
    """
    ring = list(outer)
    for hole in sorted(inner, key=lambda points: -max(x for x, _ in points)):
        ring = _joined(ring, hole)
    return _clipped(ring)


def _joined(ring: list[Point], hole: list[Point]) -> list[Point]:
    """Return the ring with a hole, both counter-clockwise, joined by the shortest free cut."""
    clockwise = list(reversed(hole))
    start = max(range(len(clockwise)), key=lambda n: clockwise[n][0])
    clockwise = clockwise[start:] + clockwise[:start]
    px, py = clockwise[0]
    points = np.array(ring)
    following = np.roll(points, -1, axis=0)
    order = np.argsort((points[:, 0] - px) ** 2 + (points[:, 1] - py) ** 2, kind="stable")
    own, own_next = np.array(clockwise), np.roll(np.array(clockwise), -1, axis=0)
    for number in order:
        qx, qy = points[number]
        if _crosses(px, py, qx, qy, points, following) or _crosses(px, py, qx, qy, own, own_next):
            continue
        if not _leads_inside(ring, int(number), (px, py)):
            continue
        n = int(number)
        return [*ring[: n + 1], *clockwise, clockwise[0], *ring[n:]]
    raise AssertionError("a hole inside a polygon can always be joined to it")


def _side(ax, ay, bx, by, cx, cy):
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


def _crosses(px: float, py: float, qx: float, qy: float, starts, ends) -> bool:
    """Return whether a cut meets an edge, other than those that end where it does."""
    ax, ay, bx, by = starts[:, 0], starts[:, 1], ends[:, 0], ends[:, 1]
    apart = ~(
        ((ax == px) & (ay == py)) | ((bx == px) & (by == py))
        | ((ax == qx) & (ay == qy)) | ((bx == qx) & (by == qy))
    )  # fmt: skip
    one = _side(px, py, qx, qy, ax, ay) * _side(px, py, qx, qy, bx, by) <= 0
    two = _side(ax, ay, bx, by, px, py) * _side(ax, ay, bx, by, qx, qy) <= 0
    return bool((apart & one & two).any())


def _leads_inside(ring: list[Point], number: int, to: Point) -> bool:
    """Return whether a cut from a corner to a point begins on the ring's inner side."""
    before, here = ring[number - 1], ring[number]
    after = ring[(number + 1) % len(ring)]
    if _side(*before, *here, *after) >= 0:
        return _side(*before, *here, *to) > 0 and _side(*here, *after, *to) > 0
    return _side(*before, *here, *to) > 0 or _side(*here, *after, *to) > 0


def _clipped(ring: list[Point]) -> list[tuple[Point, Point, Point]]:
    """Return the triangles of a simple polygon by clipping ears, the best shaped first nearby."""
    points = np.array(ring)
    after = [(n + 1) % len(ring) for n in range(len(ring))]
    before = [(n - 1) % len(ring) for n in range(len(ring))]
    live = np.ones(len(ring), dtype=bool)
    found = []
    here, left, since = 0, len(ring), 0
    while left > 3:
        a, c = before[here], after[here]
        if _is_ear(points, live, a, here, c):
            found.append((ring[a], ring[here], ring[c]))
            live[here] = False
            after[a], before[c] = c, a
            left -= 1
            since = 0
            here = after[c] if left > 3 else c  # every second corner: fewer slivers
        else:
            here = c
            since += 1
            if since > left:
                raise AssertionError("a simple polygon always has an ear")
    found.append((ring[before[here]], ring[here], ring[after[here]]))
    return found


def _is_ear(points, live, a: int, b: int, c: int) -> bool:
    (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
    if _side(ax, ay, bx, by, cx, cy) <= 1e-12:
        return False
    x, y = points[:, 0], points[:, 1]
    inside = (
        live
        & (_side(ax, ay, bx, by, x, y) >= 0)
        & (_side(bx, by, cx, cy, x, y) >= 0)
        & (_side(cx, cy, ax, ay, x, y) >= 0)
    )
    inside[[a, b, c]] = False
    for cornered in (a, b, c):
        inside &= ~((x == points[cornered, 0]) & (y == points[cornered, 1]))
    return not inside.any()


# --- files ---------------------------------------------------------------------------------------


def jig_stl(jig: Jig, *, title: str) -> bytes:
    """Return the solid as a binary STL; an STL has no unit, its numbers are millimetres."""
    mesh = jig_mesh(jig)
    corners = np.array(mesh.corners)
    faces = corners[np.array(mesh.triangles)]
    normals = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    row = np.dtype([("vectors", "<f4", (4, 3)), ("spare", "<u2")])
    table = np.zeros(len(faces), dtype=row)
    table["vectors"] = np.concatenate([normals[:, None], faces], axis=1)
    head = f"mm; {title}".encode("ascii", "replace")[:80].ljust(80)
    return head + struct.pack("<I", len(faces)) + table.tobytes()


_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" '
    'ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def jig_3mf(jig: Jig, *, title: str) -> bytes:
    """Return the solid as a 3MF package, its unit millimetres; the cautions are its description."""
    mesh = jig_mesh(jig)
    corners = "".join(f'<vertex x="{x:.5f}" y="{y:.5f}" z="{z:.5f}"/>' for x, y, z in mesh.corners)
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.triangles)
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<model unit="millimeter" xml:lang="en" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f'<metadata name="Title">{escape(title)}</metadata>'
        f'<metadata name="Description">{escape(" ".join(CAUTIONS))}</metadata>'
        f'<resources><object id="1" type="model"><mesh><vertices>{corners}</vertices>'
        f"<triangles>{faces}</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>'
    )
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in (
            ("[Content_Types].xml", _TYPES),
            ("_rels/.rels", _RELATIONS),
            ("3D/3dmodel.model", model),
        ):
            entry = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 0
            package.writestr(entry, text)
    return out.getvalue()
