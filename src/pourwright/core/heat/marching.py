"""
Stepping wax and vessel through time: energy conserved, many small steps taken as one large one.

The wax is a grid of rings (r) and layers (z), each cell holding its energy in J. Temperature
follows from the energy per volume: solid, a melting range that takes up the latent heat evenly,
liquid. The vessel is one chain of nodes, out along its base and up its wall, one temperature
through its thickness with half of its resistance on either side.

One step of ``tau`` seconds is: conductivities from the wax as it stands; the vessel's chain solved
implicitly (tridiagonal) against the wax at its walls; the wax by the second-order
Runge-Kutta-Legendre method in as many stages as stability asks for, which takes up exactly the heat
that the vessel gave off. Heat flows between cells are equal and opposite, so energy is kept to
rounding.

Sources: enthalpy method on a fixed grid, Voller, Swaminathan and Thomas 1990, Int. J. Numer. Meth.
Eng. 30:875-898. RKL2: Meyer, Balsara and Aslam 2014, J. Comput. Phys. 257:594-626 (from memory).

There are two forms of one method. ``march_arrays`` is plain numpy; ``march_loops`` is what numba
compiles where it is installed, and runs (slowly) as plain Python too, so that tests can hold one
against the other anywhere. ``docs/decisions/0050`` says why.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
from collections.abc import Callable
from functools import cache
from typing import Any, NamedTuple

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]
Counts = np.ndarray[Any, np.dtype[np.int64]]

MIXES_FROM = 0.8  # liquid share from which a pool begins to mix; fully mixed when all liquid
LARGEST_DOT = (
    8000  # numbers; above, some BLAS libraries wake threads that cost more than they bring
)
SAFETY = 1.05  # stages are chosen for a step that much longer


class Stuff(NamedTuple):
    """The wax per volume: J/(m3 K), J/m3 from start to end of melting, °C, W/(m K)."""

    heat_solid: float
    heat_liquid: float
    melt: float
    start_c: float
    end_c: float
    k_solid: float
    k_liquid: float
    mix_out: float
    mix_down: float
    film: float  # m2 K/W between a mixed pool and the vessel


class Body(NamedTuple):
    """The wax: ring faces (m), ring areas (m2), thickness of each cell (m), cells in each ring."""

    radii: Array
    areas: Array
    thick: Array
    cells: Counts


class Faces(NamedTuple):
    """Bare faces: W/(m2 K) each, the temperatures behind them, and heat put into cells (W)."""

    top: Array
    top_c: float
    side: Array
    side_c: float
    base: Array
    base_c: float
    source: Array


class Shell(NamedTuple):
    """
    The vessel's chain: the base's rings from the middle out, then the wall's layers upward.

    J/K a node, W/K between neighbours, W/K to the air outside and to the air within, W put in;
    half the wall's resistance in m2 K/W. Without a vessel all arrays are empty.
    """

    capacity: Array
    link: Array
    outer: Array
    inner: Array
    heat: Array
    half: float
    base_half: float


class Lost(NamedTuple):
    """Heat that left during a march, J: from bare wax, and from the vessel."""

    bare: float
    vessel: float
    stages: int


def no_shell() -> Shell:
    """Return no vessel: the wax's own faces are bare."""
    none = np.zeros(0)
    return Shell(none, none, none, none, none, 0.0, 0.0)


# --- The form that is compiled ------------------------------------------------------------------


def march_loops(
    energy: Any, shell_c: Any, stuff: Any, body: Any, faces: Any, shell: Any, tau: Any, steps: Any
) -> Any:
    """March in place; see the module. Written for numba: loops, no allocation within a step."""
    nr, nz = energy.shape
    nodes = shell_c.shape[0]
    temp = np.zeros((nr, nz))
    k_out = np.zeros((nr, nz))
    k_down = np.zeros((nr, nz))
    mixed = np.zeros((nr, nz))
    g_out = np.zeros((nr, nz))
    g_up = np.zeros((nr, nz))
    bare = np.zeros((nr, nz))
    given = np.zeros((nr, nz))
    per_volume = np.zeros((nr, nz))
    first = np.zeros((nr, nz))
    rate = np.zeros((nr, nz))
    older = np.zeros((nr, nz))
    old = np.zeros((nr, nz))
    lower = np.zeros(max(nodes, 1))
    upper = np.zeros(max(nodes, 1))
    middle = np.zeros(max(nodes, 1))
    right = np.zeros(max(nodes, 1))
    touch = np.zeros(max(nodes, 1))
    slope_melt = (stuff.end_c - stuff.start_c) / stuff.melt
    slope_solid = 1.0 / stuff.heat_solid
    slope_liquid = 1.0 / stuff.heat_liquid
    least_heat = min(stuff.heat_solid, stuff.heat_liquid)
    lost_bare = 0.0
    lost_vessel = 0.0
    stages_run = 0
    rim = 2.0 * np.pi * body.radii[nr]
    half_rim = (body.radii[nr] - body.radii[nr - 1]) / 2
    for j in range(nr):
        for k in range(body.cells[j]):
            per_volume[j, k] = 1.0 / (body.areas[j] * body.thick[j, k])

    for _ in range(steps):
        for j in range(nr):
            for k in range(nz):
                e = energy[j, k] * per_volume[j, k]
                over = max(e, 0.0)
                above = max(e - stuff.melt, 0.0)
                temp[j, k] = (
                    stuff.start_c
                    + e * slope_solid
                    + over * (slope_melt - slope_solid)
                    + above * (slope_liquid - slope_melt)
                )
                f = min(over / stuff.melt, 1.0)
                k_cell = stuff.k_solid + (stuff.k_liquid - stuff.k_solid) * f
                m = max(f - MIXES_FROM, 0.0) / (1.0 - MIXES_FROM)
                mixed[j, k] = m
                k_out[j, k] = k_cell * (1.0 + (stuff.mix_out - 1.0) * m)
                k_down[j, k] = k_cell * (1.0 + (stuff.mix_down - 1.0) * m)

        most = 0.0
        for j in range(nr):
            n = body.cells[j]
            dr = body.radii[j + 1] - body.radii[j]
            for k in range(n):
                g_out[j, k] = 0.0
                if j + 1 < nr:
                    beside = body.radii[j + 2] - body.radii[j + 1]
                    high = min(body.thick[j, k], body.thick[j + 1, k])
                    if high > 0.0:
                        g_out[j, k] = (
                            2.0
                            * np.pi
                            * body.radii[j + 1]
                            * high
                            / (dr / 2 / k_out[j, k] + beside / 2 / k_out[j + 1, k])
                        )
                g_up[j, k] = 0.0
                if k + 1 < n:
                    g_up[j, k] = body.areas[j] / (
                        body.thick[j, k] / 2 / k_down[j, k]
                        + body.thick[j, k + 1] / 2 / k_down[j, k + 1]
                    )
                bare[j, k] = 0.0
                given[j, k] = faces.source[j, k]
            if faces.base[j] > 0.0:
                u = body.areas[j] / (1.0 / faces.base[j] + body.thick[j, 0] / 2 / k_down[j, 0])
                bare[j, 0] += u
                given[j, 0] += u * faces.base_c
            if faces.top[j] > 0.0:
                u = body.areas[j] / (
                    1.0 / faces.top[j] + body.thick[j, n - 1] / 2 / k_down[j, n - 1]
                )
                bare[j, n - 1] += u
                given[j, n - 1] += u * faces.top_c
        for k in range(body.cells[nr - 1]):
            if faces.side[k] > 0.0:
                u = (
                    rim
                    * body.thick[nr - 1, k]
                    / (1.0 / faces.side[k] + half_rim / k_out[nr - 1, k])
                )
                bare[nr - 1, k] += u
                given[nr - 1, k] += u * faces.side_c
        for j in range(nr):
            for k in range(body.cells[j]):
                total = bare[j, k] + g_out[j, k] + g_up[j, k]
                if j > 0:
                    total += g_out[j - 1, k]
                if k > 0:
                    total += g_up[j, k - 1]
                most = max(most, total * per_volume[j, k])

        if nodes > 0:
            for i in range(nodes):
                touch[i] = 0.0
                at = 0.0
                if i < nr:
                    touch[i] = body.areas[i] / (
                        body.thick[i, 0] / 2 / k_down[i, 0] + shell.base_half
                    )
                    at = temp[i, 0]
                elif i - nr < body.cells[nr - 1]:
                    k = i - nr
                    touch[i] = (
                        rim
                        * body.thick[nr - 1, k]
                        / (half_rim / k_out[nr - 1, k] + shell.half + stuff.film * mixed[nr - 1, k])
                    )
                    at = temp[nr - 1, k]
                middle[i] = shell.capacity[i] / tau + touch[i] + shell.outer[i] + shell.inner[i]
                right[i] = (
                    shell.capacity[i] / tau * shell_c[i]
                    + touch[i] * at
                    + (shell.outer[i] + shell.inner[i]) * faces.top_c
                    + shell.heat[i]
                )
                lower[i] = 0.0
                upper[i] = 0.0
                if i > 0:
                    lower[i] = -shell.link[i - 1]
                    middle[i] += shell.link[i - 1]
                if i + 1 < nodes:
                    upper[i] = -shell.link[i]
                    middle[i] += shell.link[i]
            for i in range(1, nodes):
                w = lower[i] / middle[i - 1]
                middle[i] -= w * upper[i - 1]
                right[i] -= w * right[i - 1]
            shell_c[nodes - 1] = right[nodes - 1] / middle[nodes - 1]
            for back in range(1, nodes):
                i = nodes - 1 - back
                shell_c[i] = (right[i] - upper[i] * shell_c[i + 1]) / middle[i]
            for i in range(nodes):
                lost_vessel += tau * (shell.outer[i] + shell.inner[i]) * (shell_c[i] - faces.top_c)
                if i < nr:
                    given[i, 0] += touch[i] * (shell_c[i] - temp[i, 0])
                elif i - nr < body.cells[nr - 1]:
                    given[nr - 1, i - nr] += touch[i] * (shell_c[i] - temp[nr - 1, i - nr])

        s = 3
        ratio = SAFETY * tau * most / least_heat
        while (s * s + s - 2) / 4.0 < ratio:
            s += 2
        stages_run += s
        w1 = 4.0 / (s * s + s - 2)

        flow = 0.0
        for j in range(nr):
            for k in range(nz):
                change = given[j, k] - bare[j, k] * temp[j, k]
                if j > 0:
                    change += g_out[j - 1, k] * (temp[j - 1, k] - temp[j, k])
                if j + 1 < nr:
                    change += g_out[j, k] * (temp[j + 1, k] - temp[j, k])
                if k > 0:
                    change += g_up[j, k - 1] * (temp[j, k - 1] - temp[j, k])
                if k + 1 < nz:
                    change += g_up[j, k] * (temp[j, k + 1] - temp[j, k])
                first[j, k] = tau * change
                older[j, k] = 0.0
                old[j, k] = w1 / 3.0 * first[j, k]
                flow += bare[j, k] * temp[j, k]
        b1 = 1.0 / 3.0
        b2 = 1.0 / 3.0
        for stage in range(2, s + 1):
            b = (stage * stage + stage - 2.0) / (2.0 * stage * (stage + 1.0))
            mu = (2.0 * stage - 1.0) / stage * b / b1
            nu = -(stage - 1.0) / stage * b / b2
            mu_rate = mu * w1
            gamma = -(1.0 - b1) * mu_rate
            for j in range(nr):
                for k in range(nz):
                    e = (energy[j, k] + old[j, k]) * per_volume[j, k]
                    temp[j, k] = (
                        stuff.start_c
                        + e * slope_solid
                        + max(e, 0.0) * (slope_melt - slope_solid)
                        + max(e - stuff.melt, 0.0) * (slope_liquid - slope_melt)
                    )
            for j in range(nr):
                for k in range(nz):
                    change = given[j, k] - bare[j, k] * temp[j, k]
                    if j > 0:
                        change += g_out[j - 1, k] * (temp[j - 1, k] - temp[j, k])
                    if j + 1 < nr:
                        change += g_out[j, k] * (temp[j + 1, k] - temp[j, k])
                    if k > 0:
                        change += g_up[j, k - 1] * (temp[j, k - 1] - temp[j, k])
                    if k + 1 < nz:
                        change += g_up[j, k] * (temp[j, k + 1] - temp[j, k])
                    rate[j, k] = (
                        mu * old[j, k]
                        + nu * older[j, k]
                        + mu_rate * tau * change
                        + gamma * first[j, k]
                    )
            for j in range(nr):
                for k in range(nz):
                    older[j, k] = old[j, k]
                    old[j, k] = rate[j, k]
            b2 = b1
            b1 = b
        for j in range(nr):
            for k in range(nz):
                energy[j, k] += old[j, k]
                e = energy[j, k] * per_volume[j, k]
                after = (
                    stuff.start_c
                    + e * slope_solid
                    + max(e, 0.0) * (slope_melt - slope_solid)
                    + max(e - stuff.melt, 0.0) * (slope_liquid - slope_melt)
                )
                flow += bare[j, k] * after
        still = 0.0
        for j in range(nr):
            n = body.cells[j]
            # What the air behind each face gives back was put into ``given``.
            if faces.base[j] > 0.0:
                still += (
                    faces.base_c
                    * body.areas[j]
                    / (1.0 / faces.base[j] + body.thick[j, 0] / 2 / k_down[j, 0])
                )
            if faces.top[j] > 0.0:
                still += (
                    faces.top_c
                    * body.areas[j]
                    / (1.0 / faces.top[j] + body.thick[j, n - 1] / 2 / k_down[j, n - 1])
                )
        for k in range(body.cells[nr - 1]):
            if faces.side[k] > 0.0:
                still += (
                    faces.side_c
                    * rim
                    * body.thick[nr - 1, k]
                    / (1.0 / faces.side[k] + half_rim / k_out[nr - 1, k])
                )
        lost_bare += tau * (flow / 2 - still)
    return lost_bare, lost_vessel, stages_run


# --- The plain form -----------------------------------------------------------------------------


def march_arrays(
    energy: Array,
    shell_c: Array,
    stuff: Stuff,
    body: Body,
    faces: Faces,
    shell: Shell,
    tau: float,
    steps: int,
) -> tuple[float, float, int]:
    """March in place; the same method as ``march_loops`` on whole arrays."""
    plan = _Plan(energy, stuff, body, faces)
    lost_bare = lost_vessel = 0.0
    stages_run = 0
    for _ in range(steps):
        temp = plan.temperatures(energy)
        if plan.changing or not plan.ready:
            plan.conduct(temp)
        given = plan.given
        if shell_c.size:
            given = given.copy()
            lost_vessel += plan.vessel(temp, given, shell_c, shell, tau)
        before = plan.leaving(temp)
        stages_run += plan.stages(energy, temp, given, tau)
        after = plan.leaving(plan.temperatures(energy))
        lost_bare += tau * ((before + after) / 2 - plan.still)
    return lost_bare, lost_vessel, stages_run


class _Plan:
    """Work arrays of one march; conductances are kept while they cannot change."""

    def __init__(self, energy: Array, stuff: Stuff, body: Body, faces: Faces) -> None:
        self.stuff, self.body, self.faces = stuff, body, faces
        self.there = body.thick > 0
        volume = body.areas[:, None] * body.thick
        self.per_volume = np.divide(1.0, volume, out=np.zeros_like(volume), where=self.there)
        self.changing = not (
            stuff.k_solid == stuff.k_liquid and stuff.mix_out == 1 and stuff.mix_down == 1
        )
        self.ready = False
        slope_melt = (stuff.end_c - stuff.start_c) / stuff.melt
        self.slopes = (
            1 / stuff.heat_solid,
            slope_melt - 1 / stuff.heat_solid,
            1 / stuff.heat_liquid - slope_melt,
        )
        self.thick = np.where(self.there, body.thick, 1.0)
        self.rings = np.arange(len(body.areas))
        self.top = body.cells - 1
        widths = np.diff(body.radii)[:, None]
        self.half_out = np.broadcast_to(widths / 2, volume.shape)
        high = np.minimum(body.thick[:-1], body.thick[1:])
        self.face_out = 2 * np.pi * body.radii[1:-1, None] * high
        self.both = self.there[:, 1:]
        self.rim = 2 * np.pi * body.radii[-1] * body.thick[-1]
        self.g_out = np.zeros((energy.shape[0] - 1, energy.shape[1]))
        self.out = np.zeros_like(self.g_out)
        self.up = np.zeros((energy.shape[0], energy.shape[1] - 1))
        self.e, self.part, self.t = (np.zeros_like(energy) for _ in range(3))
        # Rows: two earlier changes, the first rate, the newest rate, the newest change.
        self.rows = np.zeros((4, energy.size))
        self.new = np.zeros(energy.size)

    def temperatures(self, energy: Array) -> Array:
        e, part, t = self.e, self.part, self.t
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
        return t

    def leaving(self, temp: Array) -> float:
        """Return the heat through the bare faces as if it were 0 °C behind them, W."""
        np.multiply(self.bare, temp, out=self.part)
        return float(self.part.sum())

    def conduct(self, temp: Array) -> None:
        """Set conductances from the wax as it stands; ``temp`` tells the liquid share."""
        stuff, body, faces = self.stuff, self.body, self.faces
        if self.changing:
            liquid = np.clip((temp - stuff.start_c) / (stuff.end_c - stuff.start_c), 0.0, 1.0)
            k = stuff.k_solid + (stuff.k_liquid - stuff.k_solid) * liquid
            mixed = np.maximum(liquid - MIXES_FROM, 0.0) / (1.0 - MIXES_FROM)
            k_out = k * (1.0 + (stuff.mix_out - 1.0) * mixed)
            k_down = k * (1.0 + (stuff.mix_down - 1.0) * mixed)
            self.mixed_rim = mixed[-1]
        else:
            k_out = k_down = np.full_like(temp, stuff.k_solid)
            self.mixed_rim = np.zeros(temp.shape[1])
        self.half_out_r = self.half_out / k_out
        self.half_up_r = self.thick / (2 * k_down)
        np.divide(self.face_out, self.half_out_r[:-1] + self.half_out_r[1:], out=self.g_out)
        self.g_up = np.where(
            self.both, body.areas[:, None] / (self.half_up_r[:, :-1] + self.half_up_r[:, 1:]), 0.0
        )
        bare, given = np.zeros_like(temp), faces.source.copy()
        self.still = 0.0

        def add(index: Any, u: Array, behind_c: float) -> None:
            bare[index] += u
            given[index] += u * behind_c
            self.still += float(u.sum()) * behind_c

        # A face that is shut has a coefficient of 0, whose resistance is infinite.
        with np.errstate(divide="ignore"):
            top = (self.rings, self.top)
            add((self.rings, 0), body.areas / (1 / faces.base + self.half_up_r[:, 0]), faces.base_c)
            add(top, body.areas / (1 / faces.top + self.half_up_r[top]), faces.top_c)
            side = self.rim / (1 / faces.side + self.half_out_r[-1])
        add((-1, slice(None)), side, faces.side_c)
        self.bare, self.given = bare, given
        total = bare.copy()
        total[:-1] += self.g_out
        total[1:] += self.g_out
        total[:, :-1] += self.g_up
        total[:, 1:] += self.g_up
        total *= self.per_volume
        self.most = float(total.max()) / min(stuff.heat_solid, stuff.heat_liquid)
        self.ready = True

    def vessel(self, temp: Array, given: Array, shell_c: Array, shell: Shell, tau: float) -> float:
        """Step the vessel's chain; add to ``given`` what it gives to the wax; return its loss."""
        nr, nz = temp.shape
        n = shell_c.size
        touch, at = np.zeros(n), np.zeros(n)
        touch[:nr] = self.body.areas / (self.half_up_r[:, 0] + shell.base_half)
        at[:nr] = temp[:, 0]
        wet = slice(nr, nr + nz)
        touch[wet] = self.rim / (
            self.half_out_r[-1] + shell.half + self.stuff.film * self.mixed_rim
        )
        at[wet] = temp[-1]
        air = shell.outer + shell.inner
        held = shell.capacity / tau
        middle = held + touch + air
        middle[1:] += shell.link
        middle[:-1] += shell.link
        right = held * shell_c + touch * at + air * self.faces.top_c + shell.heat
        shell_c[:] = _tridiagonal()(-shell.link, middle, -shell.link, right)[3]
        flow = touch * (shell_c - at)
        given[:, 0] += flow[:nr]
        given[-1] += flow[wet]
        return float(tau * np.dot(air, shell_c - self.faces.top_c))

    def rate(self, temp: Array, given: Array, out: Array) -> None:
        np.multiply(self.bare, temp, out=out)
        np.subtract(given, out, out=out)
        flow = self.out
        np.subtract(temp[1:], temp[:-1], out=flow)
        flow *= self.g_out
        out[:-1] += flow
        out[1:] -= flow
        flow = self.up
        np.subtract(temp[:, 1:], temp[:, :-1], out=flow)
        flow *= self.g_up
        out[:, :-1] += flow
        out[:, 1:] -= flow

    def stages(self, energy: Array, temp: Array, given: Array, tau: float) -> int:
        """Take one step of ``tau`` in as many stages as stability asks for."""
        table = rkl2(tau * self.most * SAFETY)
        rows = self.rows
        shape = energy.shape
        old, older, first, new = 0, 1, 2, 3
        self.rate(temp, given, rows[first].reshape(shape))
        rows[older] = 0.0
        np.multiply(rows[first], table[0, 2] * tau, out=rows[old])
        start = energy.copy()
        weights = np.empty(4)
        for mu, nu, mu_rate, gamma in table[1:]:
            np.add(start, rows[old].reshape(shape), out=energy)
            self.rate(self.temperatures(energy), given, rows[new].reshape(shape))
            weights[old], weights[older] = mu, nu
            weights[first], weights[new] = gamma * tau, mu_rate * tau
            self.combine(weights, older)
            old, older = older, old
        np.add(start, rows[old].reshape(shape), out=energy)
        return len(table)

    def combine(self, weights: Array, into: int) -> None:
        """Set one row to the weighted sum of all four."""
        rows = self.rows
        if rows.size < LARGEST_DOT:
            np.dot(weights, rows, out=self.new)
            rows[into] = self.new
            return
        rows[into] *= weights[into]
        for other in range(len(rows)):
            if other != into:
                np.multiply(rows[other], weights[other], out=self.new)
                rows[into] += self.new


@cache
def _tridiagonal() -> Any:
    """Return LAPACK's solver; its module takes a fifth of a second, which bare wax can save."""
    from scipy.linalg.lapack import dgtsv  # type: ignore[import-untyped]

    return dgtsv


@cache
def _rkl2(s: int) -> Array:
    b = [1 / 3, 1 / 3, 1 / 3]
    b += [(j * j + j - 2) / (2 * j * (j + 1)) for j in range(3, s + 1)]
    w1 = 4 / (s * s + s - 2)
    rows = [(0.0, 0.0, b[1] * w1, 0.0)]
    for j in range(2, s + 1):
        mu = (2 * j - 1) / j * b[j] / b[j - 1]
        nu = -(j - 1) / j * b[j] / b[j - 2]
        rows.append((mu, nu, mu * w1, -(1 - b[j - 1]) * mu * w1))
    return np.array(rows)


def rkl2(ratio: float) -> Array:
    """
    Return the stages' coefficients for a step of ``ratio`` explicit steps.

    Each row: of the last change, of the one before, of the newest rate, of the first rate.
    """
    s = 3
    while (s * s + s - 2) / 4 < ratio:
        s += 2
    return _rkl2(s)


# --- Which form -----------------------------------------------------------------------------------

March = Callable[[Array, Array, Stuff, Body, Faces, Shell, float, int], Any]


@cache
def _compiled() -> March | None:
    """Return the compiled form, or None where numba is not installed or is switched off."""
    if os.environ.get("POURWRIGHT_PLAIN") or importlib.util.find_spec("numba") is None:
        return None
    numba = importlib.import_module("numba")
    found: March = numba.njit(cache=True, fastmath={"contract", "nsz"}, error_model="numpy")(
        march_loops
    )
    return found


def is_compiled() -> bool:
    """Tell whether marches run compiled here."""
    return _compiled() is not None


def march(
    energy: Array,
    shell_c: Array,
    stuff: Stuff,
    body: Body,
    faces: Faces,
    shell: Shell,
    *,
    tau: float,
    steps: int,
    plain: bool = False,
) -> Lost:
    """
    March ``steps`` steps of ``tau`` seconds, changing ``energy`` (J) and ``shell_c`` (°C) in place.

    Compiled where that can be had, unless ``plain``. Returns the heat lost meanwhile.
    """
    form = march_arrays if plain else (_compiled() or march_arrays)
    stuff = Stuff(*(float(value) for value in stuff))  # whole numbers would be compiled anew
    bare, vessel, stages = form(energy, shell_c, stuff, body, faces, shell, float(tau), int(steps))
    return Lost(float(bare), float(vessel), int(stages))
