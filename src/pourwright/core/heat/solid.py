"""
Burning in three dimensions: several wicks each where it stands, for the final look and hot spots.

One half of a round vessel, mirrored along a line through its middle: square cells across, layers
down, cut cells at the wall (true areas of cells, faces and wall). The surface is level and does
not fall. The wax is marched as in section (RKL2 on its energy); the vessel is a net of nodes, the
base's cells and the wall's segments, solved implicitly with sparse LU.

Flames do not lean together or feed each other here: real candles with several wicks burn hotter.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan2, ceil, cos, hypot, pi, sin, sqrt
from typing import Any

import numpy as np

from pourwright.core.heat.burning import EDGE, FILM_W_M2_K, FINE_MM, BadBurn, Candle
from pourwright.core.heat.correlations import upright_loss_w_m2_k
from pourwright.core.heat.losses import LEAST_DIFFERENCE_K, radiation, surface_loss
from pourwright.core.heat.marching import MIXES_FROM, SAFETY, Array, rkl2
from pourwright.core.heat.section import energy_j_m3, layers, stuff_of
from pourwright.core.heat.words import BURN_CAUTION, NOT_MODELLED, SCREENING, UNVERIFIED

LEAST_SHARE = 0.25  # a cut cell smaller than that joins its neighbour
SEGMENT_CELLS = 2.0  # length of a segment of the wall, in cells
SAME_MM = 0.5  # wicks this near their mirror images stand on them


@dataclass(frozen=True, slots=True, kw_only=True)
class SolidBurn:
    """
    A burn in three dimensions; series along ``times_h``.

    ``surface_c`` is the surface at the end over ``x_mm`` and ``y_mm`` (the half with y >= 0, nan
    outside the wax) and ``wall_c`` the wall's outside at the end over ``angles_deg`` and
    ``wall_heights_mm``. ``hot_spot_deg`` is where the wall is hottest, from the x axis.
    """

    candle: Candle
    positions_mm: tuple[tuple[float, float], ...]
    times_h: Array
    covered: Array
    pool_mm: Array
    depth_mm: Array
    hottest_c: Array
    x_mm: Array
    y_mm: Array
    surface_c: Array
    angles_deg: Array
    wall_heights_mm: Array
    wall_c: Array
    hot_spot_deg: float
    energy_error: float

    @property
    def words(self) -> tuple[str, ...]:
        said = (SCREENING, BURN_CAUTION)
        return said if self.candle.calibrated else (SCREENING, UNVERIFIED, BURN_CAUTION)

    @property
    def not_modelled(self) -> tuple[str, ...]:
        return ("the falling surface, in this form", *NOT_MODELLED)


def ring_mm(count: int, radius_mm: float) -> tuple[tuple[float, float], ...]:
    """Return equally spaced places on a ring, the first on the x axis."""
    if count == 1 and radius_mm == 0:
        return ((0.0, 0.0),)
    turns = [2 * pi * i / count for i in range(count)]
    return tuple((radius_mm * cos(t), radius_mm * sin(t)) for t in turns)


def mirrored(positions_mm: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """
    Return the places turned so that the x axis mirrors them.

    Raises ``BadBurn`` where no line through the middle does.
    """
    turns = [atan2(y, x) for x, y in positions_mm if hypot(x, y) > SAME_MM] or [0.0]
    lines = set(turns) | {(a + b) / 2 for a in turns for b in turns}
    for line in (0.0, *sorted(lines), *sorted(a + pi / 2 for a in lines)):
        c, s = cos(line), sin(line)
        turned = tuple((c * x + s * y, c * y - s * x) for x, y in positions_mm)
        if all(any(hypot(x - u, y + v) < SAME_MM for u, v in turned) for x, y in turned):
            return turned
    raise BadBurn(
        "These wicks are the same on both sides of no line through the middle; this form needs one."
    )


class _Plane:
    """The half disc cut into square cells: areas, apertures (m) and the wall in each (m)."""

    def __init__(self, radius: float, cell: float) -> None:
        n = max(4, ceil(2 * radius / cell - 1e-9))
        n += n % 2
        self.radius, self.cell = radius, 2 * radius / n
        d = self.cell
        xs = np.linspace(-radius, radius, n + 1)
        ys = np.linspace(0, radius, n // 2 + 1)
        fine = 64
        sub = xs[:-1, None] + d * (np.arange(fine) + 0.5) / fine
        reach = np.sqrt(np.maximum(radius**2 - sub**2, 0))[:, None, :]
        self.area = np.clip(reach - ys[None, :-1, None], 0, d).mean(axis=2) * d
        at_x = np.sqrt(np.maximum(radius**2 - xs**2, 0))
        self.open_x = np.clip(at_x[:, None] - ys[None, :-1], 0, d)
        at_y = np.sqrt(np.maximum(radius**2 - ys**2, 0))
        low, high = (
            np.clip(xs, -at_y[:, None], at_y[:, None])[:, :-1].T,
            np.clip(xs, -at_y[:, None], at_y[:, None])[:, 1:].T,
        )
        self.open_y = high - low
        # Over a closed cell the face vectors sum to zero: what is missing is the wall.
        wall_x = self.open_x[:-1] - self.open_x[1:]
        wall_y = self.open_y[:, :-1] - self.open_y[:, 1:]
        self.wall = np.hypot(wall_x, wall_y) * (self.area > 0)
        self.wall[self.wall < 1e-9 * d] = 0
        self.wall *= pi * radius / self.wall.sum()
        self.xs, self.ys = xs, ys
        self.x = (xs[1:] + xs[:-1]) / 2
        self.y = (ys[1:] + ys[:-1]) / 2
        fine_x = xs[:-1, None] + d * (np.arange(16) + 0.5) / 16
        fine_y = ys[:-1, None] + d * (np.arange(16) + 0.5) / 16
        r = np.hypot(fine_x[:, None, :, None], fine_y[None, :, None, :])
        inside = r < radius
        count = np.maximum(inside.sum(axis=(2, 3)), 1)
        self.to_wall = np.maximum(
            (np.where(inside, radius - r, 0).sum(axis=(2, 3)) / count), d / 50
        )
        self.angle = np.arctan2(
            np.where(inside, fine_y[None, :, None, :], 0).sum(axis=(2, 3)),
            np.where(inside, fine_x[:, None, :, None], 0).sum(axis=(2, 3)),
        )
        # From each cell's own centre to its faces, in halves of a cell: 1 for a whole cell.
        cx = np.where(inside, fine_x[:, None, :, None], 0).sum(axis=(2, 3)) / count
        cy = np.where(inside, fine_y[None, :, None, :], 0).sum(axis=(2, 3)) / count
        half = d / 2
        self.ahead_x = np.clip((xs[1:, None] - cx) / half, 0.2, 1.8)[:, :, None]
        self.behind_x = np.clip((cx - xs[:-1, None]) / half, 0.2, 1.8)[:, :, None]
        self.ahead_y = np.clip((ys[None, 1:] - cy) / half, 0.2, 1.8)[:, :, None]
        self.behind_y = np.clip((cy - ys[None, :-1]) / half, 0.2, 1.8)[:, :, None]
        self._join()

    def _join(self) -> None:
        """Give each sliver to the neighbour that it opens to most."""
        d = self.cell
        small = (self.area > 0) & (self.area < LEAST_SHARE * d * d)
        nx, ny = self.area.shape
        for i, j in np.argwhere(small):
            options = []
            for a, b, opening in (
                (i - 1, j, self.open_x[i, j]), (i + 1, j, self.open_x[i + 1, j]),
                (i, j - 1, self.open_y[i, j]), (i, j + 1, self.open_y[i, j + 1]),
            ):  # fmt: skip
                if 0 <= a < nx and 0 <= b < ny and not small[a, b]:
                    options.append((opening, a, b))
            _, a, b = max(options)
            whole = self.wall[a, b] + self.wall[i, j]
            if whole > 0:
                self.to_wall[a, b] = (
                    self.to_wall[a, b] * self.wall[a, b] + d / 2 * self.wall[i, j]
                ) / whole
                if self.wall[a, b] == 0:
                    self.angle[a, b] = self.angle[i, j]
            self.area[a, b] += self.area[i, j]
            self.wall[a, b] = whole
            self.area[i, j] = self.wall[i, j] = 0
            self.open_x[i : i + 2, j] = 0
            self.open_y[i, j : j + 2] = 0
        self.there = self.area > 0


def simulate_solid(
    candle: Candle, *, positions_mm: Sequence[tuple[float, float]] | None = None,
    hours: float = 4.0, cell_mm: float = 2.0, probe_s: float = 60.0, step_s: float | None = None,
    told: Callable[[float], None] | None = None,
) -> SolidBurn:  # fmt: skip
    """
    Return a burn of so many hours in three dimensions; wicks where ``positions_mm`` says (mm from
    the middle), else on the candle's ring. ``told`` hears how many hours are worked out.

    Raises ``BadBurn`` for places with no mirror line, or one that is outside the wax.
    """
    places = positions_mm or ring_mm(candle.wicks, candle.ring_radius_mm)
    if len(places) != candle.wicks:
        raise BadBurn(f"There are {candle.wicks} wicks and {len(places)} places for them.")
    radius_mm = candle.inside_diameter_mm / 2
    if any(hypot(x, y) >= radius_mm for x, y in places):
        raise BadBurn(f"A wick stands outside the wax, {radius_mm:g} mm from the middle.")
    run = _SolidRun(candle, mirrored(places), cell_mm)
    tau = step_s or min(20.0, 10.0 * cell_mm)
    steps = ceil(probe_s / tau - 1e-9)
    run.note(0.0)
    for turn in range(1, max(1, round(hours * 3600 / probe_s)) + 1):
        run.go_on(probe_s / steps, steps)
        run.note(turn * probe_s / 3600)
        if told:
            told(turn * probe_s / 3600)
    return run.result()


class _SolidRun:
    """One burn in progress."""

    def __init__(
        self, candle: Candle, places: tuple[tuple[float, float], ...], cell_mm: float
    ) -> None:
        self.candle, self.places = candle, places
        flame = candle.flame
        self.stuff = stuff_of(
            candle.wax,
            mix_out=flame.pool_mixing_outward,
            mix_down=flame.pool_mixing_down,
            film_w_m2_k=FILM_W_M2_K,
        )
        self.plane = _Plane(candle.inside_diameter_mm / 2000, cell_mm / 1000)
        plane = self.plane
        depth = candle.wax_depth_mm / 1000
        self.faces = layers(
            depth, cell_mm / 1000, fine_below_top_m=min(FINE_MM, candle.wax_depth_mm) / 1000
        )
        self.dz = np.diff(self.faces)
        self.z = (self.faces[1:] + self.faces[:-1]) / 2
        volume = plane.area[:, :, None] * self.dz
        self.there = volume > 0
        self.per_volume = np.divide(1.0, volume, out=np.zeros_like(volume), where=self.there)
        self.energy = volume * energy_j_m3(self.stuff, candle.room.air_c)
        stuff = self.stuff
        melt_slope = (stuff.end_c - stuff.start_c) / stuff.melt
        self.slopes = (
            1 / stuff.heat_solid, melt_slope - 1 / stuff.heat_solid,
            1 / stuff.heat_liquid - melt_slope,
        )  # fmt: skip
        self.edge_c = stuff.start_c + EDGE * (stuff.end_c - stuff.start_c)
        self.work = np.zeros((3, *volume.shape))
        self.buffers = [np.zeros_like(volume) for _ in range(5)]
        self.flows = (
            np.zeros_like(volume[1:]),
            np.zeros_like(volume[:, 1:]),
            np.zeros_like(volume[:, :, 1:]),
        )
        self._net()
        self._sources()
        self.rows: list[tuple[float, ...]] = []
        self.put_in_j = self.lost_j = 0.0
        self.start_j = self._energy()
        self.outside = np.full((self.segments, len(self.wall_z)), float(candle.room.air_c))

    # --- the vessel ---

    def _net(self) -> None:
        """Make the vessel's nodes: the base's cells, then segments by layers up to the rim."""
        candle, plane = self.candle, self.plane
        wall = candle.wall
        t = wall.thickness_mm / 1000
        base_t = t if candle.base_mm is None else candle.base_mm / 1000
        k, heat = wall.conductivity_w_m_k, wall.density_kg_m3 * wall.specific_heat_j_kg_k
        radius = plane.radius
        self.segments = max(6, round(pi * radius / (SEGMENT_CELLS * plane.cell)))
        dry = candle.rim_mm / 1000 - self.faces[-1]
        faces = self.faces
        if dry > 1e-4:
            more = max(1, round(dry / 0.004))
            faces = np.concatenate([faces, faces[-1] + dry * np.arange(1, more + 1) / more])
        high = np.diff(faces)
        self.wall_faces, self.wall_z, nz = faces, (faces[1:] + faces[:-1]) / 2, len(high)
        turn = pi / self.segments
        self.turns = (np.arange(self.segments) + 0.5) * turn
        number = np.full(plane.area.shape, -1)
        number[plane.there] = np.arange(plane.there.sum())
        base = int(plane.there.sum())
        node = base + np.arange(self.segments * nz).reshape(self.segments, nz)
        size = base + node.size
        capacity = np.zeros(size)
        capacity[:base] = heat * base_t * plane.area[plane.there]
        outside = radius + t
        across = turn * (outside**2 - radius**2) / 2
        capacity[base:] = np.tile(heat * across * high, self.segments)
        capacity[node[:, 0]] += heat * across * base_t
        rows, columns, links = [], [], []

        def link(a: Any, b: Any, g: Any) -> None:
            rows.append(np.ravel(a))
            columns.append(np.ravel(b))
            links.append(np.broadcast_to(g, np.shape(a)).ravel())

        both = plane.there[:-1] & plane.there[1:]
        link(
            number[:-1][both], number[1:][both], k * base_t * plane.open_x[1:-1][both] / plane.cell
        )
        both = plane.there[:, :-1] & plane.there[:, 1:]
        link(
            number[:, :-1][both], number[:, 1:][both],
            k * base_t * plane.open_y[:, 1:-1][both] / plane.cell,
        )  # fmt: skip
        link(node[:, :-1], node[:, 1:], k * across * 2 / (high[1:] + high[:-1]))
        link(node[:-1], node[1:], k * t * high / (turn * (radius + t / 2)))
        # Each wall cell belongs to one segment; its share of a segment's wall is its own length.
        self.rim = np.argwhere(plane.wall > 0)
        i, j = self.rim.T
        self.rim_segment = np.clip(plane.angle[i, j] / turn, 0, self.segments - 1).astype(int)
        length = plane.wall[i, j]
        for s in range(self.segments):
            if not (self.rim_segment == s).any():
                raise BadBurn("The grid is too coarse for this vessel; take smaller cells.")
        self.rim_length = length
        corner = 1 / (
            plane.to_wall[i, j] / (length * base_t * k)
            + (t / 2) / (length * base_t * k)
            + (high[0] / 2) / (length * t * k)
        )
        link(number[i, j], node[self.rim_segment, 0], corner)
        a, b, g = (np.concatenate(part) for part in (rows, columns, links))
        from scipy.sparse import coo_matrix, diags  # type: ignore[import-untyped]  # slow to load

        matrix = coo_matrix((-g, (a, b)), shape=(size, size))
        matrix = matrix + matrix.T
        self.links = (matrix - diags(np.asarray(matrix.sum(axis=1)).ravel())).tocsc()
        self.capacity, self.base_nodes, self.nodes = capacity, base, node
        self.half, self.base_half = t / 2 / k, base_t / 2 / k
        self.outer_area = np.tile(turn * outside * high, self.segments)
        self.inner_area = np.tile(turn * radius * high, self.segments)
        self.dry = np.tile(np.clip(faces[1:] - self.faces[-1], 0, high) / high, self.segments)
        self.shell_c = np.full(size, float(candle.room.air_c))
        self.number = number

    def _sources(self) -> None:
        """Set what each surface cell and wall node gets of the flames' heat, W."""
        candle, plane, flame = self.candle, self.plane, self.candle.flame
        each = candle.heat_w / candle.wicks
        width = flame.source_width_mm / 1000
        surface = np.zeros_like(plane.area)
        wall = np.zeros((self.segments, len(self.wall_z)))
        low = np.maximum(self.wall_faces[:-1], self.faces[-1])
        high = np.maximum(self.wall_faces[1:], self.faces[-1])
        middle, turn = (low + high) / 2, pi / self.segments
        for x, y in ((x / 1000, y / 1000) for x, y in self.places):
            near = [
                plane.area
                * np.exp(-((plane.x[:, None] - x) ** 2 + (plane.y - s * y) ** 2) / (2 * width**2))
                for s in (1, -1)
            ]
            surface += flame.returned_share * each * near[0] / (near[0].sum() + near[1].sum())
            for height in (h / 1000 for h in flame.source_heights_mm):
                part = flame.radiated_share * each / len(flame.source_heights_mm) / (4 * pi)
                flat = (plane.x[:, None] - x) ** 2 + (plane.y - y) ** 2
                surface += part * plane.area * height / (flat + height**2) ** 1.5
                at_x, at_y = plane.radius * np.cos(self.turns), plane.radius * np.sin(self.turns)
                toward = plane.radius - (x * np.cos(self.turns) + y * np.sin(self.turns))
                z = middle - self.faces[-1] - height
                far = ((at_x - x) ** 2 + (at_y - y) ** 2)[:, None] + z**2
                wall += part * (turn * plane.radius * (high - low)) * toward[:, None] / far**1.5
        self.surface_w, self.wall_w = surface, wall

    def _energy(self) -> float:
        return float(self.energy.sum() + np.dot(self.capacity, self.shell_c))

    # --- stepping ---

    def _temps(self, energy: Array) -> Array:
        e, part, t = self.work[0], self.work[1], self.work[2]
        np.multiply(energy, self.per_volume, out=e)
        np.multiply(e, self.slopes[0], out=t)
        t += self.stuff.start_c
        np.maximum(e, 0.0, out=part)
        part *= self.slopes[1]
        t += part
        e -= self.stuff.melt
        np.maximum(e, 0.0, out=e)
        e *= self.slopes[2]
        t += e
        return np.asarray(t)

    def _conduct(self, temp: Array) -> None:
        stuff, plane = self.stuff, self.plane
        liquid = np.clip((temp - stuff.start_c) / (stuff.end_c - stuff.start_c), 0.0, 1.0)
        k = stuff.k_solid + (stuff.k_liquid - stuff.k_solid) * liquid
        self.mixed = np.maximum(liquid - MIXES_FROM, 0.0) / (1.0 - MIXES_FROM)
        self.out_r = plane.cell / 2 / (k * (1.0 + (stuff.mix_out - 1.0) * self.mixed))
        self.up_r = self.dz / 2 / (k * (1.0 + (stuff.mix_down - 1.0) * self.mixed))
        r = self.out_r
        self.gx = (
            plane.open_x[1:-1, :, None]
            * self.dz
            / (r[:-1] * plane.ahead_x[:-1] + r[1:] * plane.behind_x[1:])
        )
        self.gy = (
            plane.open_y[:, 1:-1, None]
            * self.dz
            / (r[:, :-1] * plane.ahead_y[:, :-1] + r[:, 1:] * plane.behind_y[:, 1:])
        )
        self.gz = plane.area[:, :, None] / (self.up_r[:, :, :-1] + self.up_r[:, :, 1:])

    def _rates(self, tau: float) -> None:
        """Set the surface's and the vessel's losses, and factor the vessel's matrix."""
        candle, room = self.candle, self.candle.room
        temp = self._temps(self.energy)
        self._conduct(temp)
        top = temp[:, :, -1]
        there = self.plane.there
        self.h_top = np.zeros_like(top)
        self.h_top[there] = surface_loss(
            room, top[there], self.plane.area[there], self.plane.radius
        )
        wall_c = self.shell_c[self.base_nodes :]
        mean = float(np.dot(wall_c, self.outer_area) / self.outer_area.sum())
        above = max(abs(mean - room.air_c), LEAST_DIFFERENCE_K)
        side = room.draught * upright_loss_w_m2_k(
            face_c=room.air_c + above, air_c=room.air_c, height_m=float(self.wall_faces[-1])
        ) + radiation(candle.wall.emissivity, wall_c, room.air_c)
        table = room.table_w_m2_k
        inner = room.dry_wall_w_m2_k
        self.air = np.concatenate(
            [
                self.plane.area[there] * table / (1 + table * self.base_half),
                self.outer_area * side / (1 + side * self.half)
                + self.inner_area * self.dry * inner / (1 + inner * self.half),
            ]
        )
        self.side = side
        i, j = self.rim.T
        # From the middle of a cut cell to the wall: its own distance instead of half a cell.
        toward = self.plane.to_wall[i, j, None] / (self.plane.cell / 2) * self.out_r[i, j]
        self.touch_rim = (
            self.rim_length[:, None]
            * self.dz
            / (toward + self.half + self.stuff.film * self.mixed[i, j])
        )
        self.touch_base = self.plane.area[there] / (self.up_r[:, :, 0][there] + self.base_half)
        from scipy.sparse import diags  # slow to load
        from scipy.sparse.linalg import splu  # type: ignore[import-untyped]

        touch = np.zeros_like(self.capacity)
        touch[: self.base_nodes] = self.touch_base
        nz = len(self.dz)
        for s, row in zip(self.rim_segment, self.touch_rim, strict=True):
            touch[self.nodes[s, :nz]] += row
        self.lu = splu((self.links + diags(self.capacity / tau + self.air + touch)).tocsc())

    def go_on(self, tau: float, steps: int) -> None:
        """March so many steps with losses and wall contact as they stand."""
        self._rates(tau)
        room, plane = self.candle.room, self.plane
        source = np.zeros_like(self.energy)
        source[:, :, -1] = self.surface_w
        i, j = self.rim.T
        nz = len(self.dz)
        for _ in range(steps):
            temp = self._temps(self.energy)
            self._conduct(temp)
            right = self.capacity / tau * self.shell_c + self.air * room.air_c
            right[: self.base_nodes] += self.touch_base * temp[:, :, 0][plane.there]
            right[self.base_nodes :] += self.wall_w.ravel()
            at_rim = temp[i, j]
            np.add.at(right, self.nodes[self.rim_segment, :nz], self.touch_rim * at_rim)
            self.shell_c = self.lu.solve(right)
            given = source.copy()
            given[:, :, 0][plane.there] += self.touch_base * (
                self.shell_c[: self.base_nodes] - temp[:, :, 0][plane.there]
            )
            given[i, j] += self.touch_rim * (
                self.shell_c[self.nodes[self.rim_segment, :nz]] - at_rim
            )
            u = np.where(
                plane.there,
                plane.area * self.h_top / (1 + self.h_top * self.up_r[:, :, -1]),
                0.0,
            )
            given[:, :, -1] += u * room.air_c
            before = float((u * (temp[:, :, -1] - room.air_c)).sum())
            self._stages(temp, given, u, tau)
            after = float((u * (self._temps(self.energy)[:, :, -1] - room.air_c)).sum())
            self.lost_j += tau * (
                (before + after) / 2 + float(np.dot(self.air, self.shell_c - room.air_c))
            )
            self.put_in_j += tau * float(self.surface_w.sum() + self.wall_w.sum())
        wall_c = self.shell_c[self.base_nodes :]
        flow = self.side / (1 + self.side * self.half) * (wall_c - room.air_c)
        self.outside = (wall_c - flow * self.half).reshape(self.segments, -1)

    def _stages(self, temp: Array, given: Array, u: Array, tau: float) -> None:
        total = np.zeros_like(temp)
        total[:-1] += self.gx
        total[1:] += self.gx
        total[:, :-1] += self.gy
        total[:, 1:] += self.gy
        total[:, :, :-1] += self.gz
        total[:, :, 1:] += self.gz
        total[:, :, -1] += u
        total *= self.per_volume
        most = float(total.max()) / min(self.stuff.heat_solid, self.stuff.heat_liquid)
        table = rkl2(tau * most * SAFETY)
        start, first, older, old, rate = self.buffers
        start[:] = self.energy
        self._rate(temp, given, u, first)
        first *= tau
        older[:] = 0.0
        np.multiply(first, table[0, 2], out=old)
        for mu, nu, mu_rate, gamma in table[1:]:
            np.add(start, old, out=self.energy)
            self._rate(self._temps(self.energy), given, u, rate)
            rate *= mu_rate * tau
            older *= nu
            rate += older
            np.multiply(old, mu, out=older)
            rate += older
            np.multiply(first, gamma, out=older)
            rate += older
            older, old, rate = old, rate, older
        np.add(start, old, out=self.energy)

    def _rate(self, temp: Array, given: Array, u: Array, out: Array) -> None:
        out[:] = given
        out[:, :, -1] -= u * temp[:, :, -1]
        fx, fy, fz = self.flows
        np.subtract(temp[1:], temp[:-1], out=fx)
        fx *= self.gx
        out[:-1] += fx
        out[1:] -= fx
        np.subtract(temp[:, 1:], temp[:, :-1], out=fy)
        fy *= self.gy
        out[:, :-1] += fy
        out[:, 1:] -= fy
        np.subtract(temp[:, :, 1:], temp[:, :, :-1], out=fz)
        fz *= self.gz
        out[:, :, :-1] += fz
        out[:, :, 1:] -= fz

    # --- what is told ---

    def _surface(self) -> Array:
        temp = self._temps(self.energy)
        slope = (temp[:, :, -1] - temp[:, :, -2]) / (self.z[-1] - self.z[-2])
        return np.asarray(temp[:, :, -1] + slope * self.dz[-1] / 2)

    def note(self, at_h: float) -> None:
        covered = self._covered()
        self.rows.append(
            (
                at_h,
                covered,
                2000 * self.plane.radius * sqrt(covered),
                self._depth_mm(),
                float(self.outside.max()),
            )
        )

    def _covered(self) -> float:
        """Return the share of the surface that is pool, its edge found between the cells."""
        from scipy.ndimage import distance_transform_edt  # type: ignore[import-untyped]  # slow to load

        plane, surface = self.plane, self._surface()
        nearest = distance_transform_edt(~plane.there, return_distances=False, return_indices=True)
        filled = surface[tuple(nearest)]
        filled = np.concatenate([filled[:, :1], filled], axis=1)  # its mirror image
        fine = 4
        d = plane.cell
        xs = plane.xs[0] + d / fine * (np.arange(fine * len(plane.x)) + 0.5)
        ys = d / fine * (np.arange(fine * len(plane.y)) + 0.5)
        i = np.clip((xs - plane.x[0]) / d, 0, len(plane.x) - 1)
        j = np.clip((ys - plane.y[0]) / d + 1, 0, len(plane.y))
        i0, j0 = (
            np.minimum(i.astype(int), len(plane.x) - 2),
            np.minimum(j.astype(int), len(plane.y) - 1),
        )
        a, b = (i - i0)[:, None], (j - j0)[None, :]
        between = (
            filled[np.ix_(i0, j0)] * (1 - a) * (1 - b)
            + filled[np.ix_(i0 + 1, j0)] * a * (1 - b)
            + filled[np.ix_(i0, j0 + 1)] * (1 - a) * b
            + filled[np.ix_(i0 + 1, j0 + 1)] * a * b
        )
        inside = xs[:, None] ** 2 + ys**2 < plane.radius**2
        return float((between[inside] >= self.edge_c).mean())

    def _depth_mm(self) -> float:
        temp = self._temps(self.energy)[self.plane.there]
        wet = temp >= self.edge_c
        pool = wet[:, -1]
        if not pool.any():
            return 0.0
        temp, wet = temp[pool], wet[pool]
        dry = ~wet
        k = np.where(dry.any(axis=1), wet.shape[1] - 1 - np.argmax(dry[:, ::-1], axis=1), -1)
        rows = np.arange(len(k))
        low = np.maximum(k, 0)
        share = (self.edge_c - temp[rows, low]) / (temp[rows, low + 1] - temp[rows, low])
        z = np.where(k >= 0, self.z[low] + share * (self.z[low + 1] - self.z[low]), 0.0)
        return float((self.faces[-1] - z.min()) * 1000)

    def result(self) -> SolidBurn:
        table = np.array(self.rows)
        hottest = np.unravel_index(int(np.argmax(self.outside)), self.outside.shape)[0]
        change = self._energy() - self.start_j
        return SolidBurn(
            candle=self.candle,
            positions_mm=self.places,
            times_h=table[:, 0],
            covered=table[:, 1],
            pool_mm=table[:, 2],
            depth_mm=table[:, 3],
            hottest_c=table[:, 4],
            x_mm=self.plane.x * 1000,
            y_mm=self.plane.y * 1000,
            surface_c=np.where(self.plane.there, self._surface(), np.nan),
            angles_deg=np.degrees(self.turns),
            wall_heights_mm=self.wall_z * 1000,
            wall_c=self.outside,
            hot_spot_deg=float(np.degrees(self.turns[hottest])),
            energy_error=abs(change - (self.put_in_j - self.lost_j)) / max(self.put_in_j, 1e-9),
        )
