"""
Burning: how a pool grows, how deep and how hot, over one burn and over a candle's whole life.

A screening estimate. The burn rate is given (weigh a burn, or take a chart's), never worked out;
what the flame gives back is a starting value until it is fitted to burns (core/heat/calibrate.py).
Several wicks are smeared along their ring here; core/heat/solid.py has them in three dimensions.
No result of this passes a candle.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import ceil, isfinite, pi, sqrt
from typing import Any

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.heat.both import both_c, both_mm
from pourwright.core.heat.correlations import flame_height_mm, heat_release_w
from pourwright.core.heat.flame import Seen, near_wick, seen_from_axis, seen_from_ring
from pourwright.core.heat.losses import Room, outside_c, surface_loss, vessel_rates
from pourwright.core.heat.marching import Array, Counts, Faces, march
from pourwright.core.heat.materials import FlameValues, Wall, Wax, flame_values
from pourwright.core.heat.section import (
    Section,
    energy_j_m3,
    layers,
    shell_shape,
    stuff_of,
)
from pourwright.core.heat.surface import NoFuel, cells_under, take_fuel
from pourwright.core.heat.words import BURN_CAUTION, NOT_MODELLED, SCREENING, UNVERIFIED

EDGE = 0.5  # liquid share at the edge of clear liquid, as a maker sees it
FILM_W_M2_K = 80.0  # pool to glass, from memory, unsure: 40 to 100
FINE_MM = 25.0  # as deep below the lowest surface cells are fine
SEEN_EVERY_M = 0.0004  # the view of the flame is worked out anew after so much fall
WALL_WARN_C = 60.0  # house rule: common practice, no source
DEEP_MM = 13.0  # common practice, no source
RING_SHARE = 0.02  # of the fill left standing: called tunnelling
LEFT_MM = 12.0  # stop with so much wax left: common practice, no source


class BadBurn(BadInput):
    """A candle or a burn that cannot be simulated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candle:
    """
    A candle to burn: round and straight-sided; mm, g/h for each wick, degrees Celsius.

    Several wicks stand on a ring of ``ring_radius_mm``. ``returned_share`` of the flame's heat goes
    into the wax near the wick, ``radiated_share`` is radiated to all that the flame sees.
    """

    wax: Wax
    wall: Wall
    inside_diameter_mm: float
    wax_depth_mm: float
    rim_mm: float
    burn_rate_g_h: float
    wicks: int = 1
    ring_radius_mm: float = 0.0
    room: Room = field(default_factory=Room)
    base_mm: float | None = None
    flame: FlameValues = field(default_factory=flame_values)
    calibrated: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        if not (isfinite(self.burn_rate_g_h) and 0.5 <= self.burn_rate_g_h <= 20):
            raise BadBurn(
                f"The burn rate is {self.burn_rate_g_h:g} g/h for a wick; this works for 0.5 to "
                "20 g/h."
            )
        if not 1 <= self.wicks <= 10:
            raise BadBurn(f"There are {self.wicks} wicks; this works for one to ten.")
        if not 0 <= self.ring_radius_mm < self.inside_diameter_mm / 2:
            raise BadBurn(
                f"The wicks' ring has a radius of {self.ring_radius_mm:g} mm; in this vessel it is "
                f"below {self.inside_diameter_mm / 2:g} mm."
            )
        if self.wicks > 1 and self.ring_radius_mm == 0:
            raise BadBurn("Several wicks need the radius of their ring.")
        if self.room.air_c >= self.wax.melting_start_c:
            raise BadBurn(
                f"In a room of {both_c(self.room.air_c)} {self.wax.name} is melting already."
            )
        if self.rim_mm < self.wax_depth_mm:
            raise BadBurn(
                f"The wax is {self.wax_depth_mm:g} mm deep and the vessel {self.rim_mm:g} mm: it "
                "runs over."
            )
        shares = self.flame.returned_share + self.flame.radiated_share
        if not 0 < shares < 0.8:
            raise BadBurn(
                f"Of the flame's heat {shares:g} goes back and is radiated; it is less than 0.8."
            )

    @property
    def heat_w(self) -> float:
        """The heat of all flames, W."""
        return self.wicks * heat_release_w(
            burn_rate_g_h=self.burn_rate_g_h,
            heat_of_combustion_j_kg=self.wax.heat_of_combustion_j_kg,
        )

    @property
    def fuel_m3_s(self) -> float:
        return self.wicks * self.burn_rate_g_h / 3.6e6 / self.wax.density_kg_m3

    @property
    def fill_g(self) -> float:
        area = pi * (self.inside_diameter_mm / 2000) ** 2
        return self.wax.density_kg_m3 * area * self.wax_depth_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Burn:
    """
    One burn from a cold candle. All series run along ``times_h``.

    ``pool_mm`` is the diameter of a circle as large as the pool's surface, ``depth_mm`` its deepest
    place, ``wall_c`` and ``base_c`` the hottest outside of wall and base, ``level_mm`` the pool's
    height above the inside base. ``touches_h``: when the pool reaches the wall all round.
    """

    candle: Candle
    times_h: Array
    pool_mm: Array
    depth_mm: Array
    wall_c: Array
    base_c: Array
    wick_c: Array
    level_mm: Array
    burned_g: float
    touches_h: float | None
    tops_mm: Array  # of each ring, at the end
    radii_mm: Array
    pictures: tuple[tuple[float, Array, Array, Array], ...]  # h, temps, layers mm, tops mm
    energy_error: float
    mass_error_g: float
    ended_early: str = ""

    def at(self, series: Array, hours: float) -> float:
        """Return a series at a time, between its points along a line."""
        return float(np.interp(hours, self.times_h, series))

    @property
    def covered_share(self) -> float:
        """Share of the surface that is pool at the end."""
        return float((self.pool_mm[-1] / self.candle.inside_diameter_mm) ** 2)

    @property
    def flags(self) -> tuple[str, ...]:
        return burn_flags(self)

    @property
    def words(self) -> tuple[str, ...]:
        said = (SCREENING, BURN_CAUTION)
        return said if self.candle.calibrated else (SCREENING, UNVERIFIED, BURN_CAUTION)

    @property
    def not_modelled(self) -> tuple[str, ...]:
        return NOT_MODELLED


def burn_flags(burn: Burn) -> tuple[str, ...]:
    """Return what a burn's figures warn of; none of them is a verdict."""
    flame = burn.candle.flame
    found = []
    if burn.touches_h is None:
        ring = (burn.candle.inside_diameter_mm - burn.pool_mm[-1]) / 2
        found.append(
            f"tunnelling: after {burn.times_h[-1]:.1f} h a ring of {both_mm(ring)} is still "
            "unmelted"
        )
    if burn.wall_c.max() > WALL_WARN_C:
        found.append(
            f"overheating: the wall reaches {both_c(round(float(burn.wall_c.max())))}, above "
            f"{both_c(WALL_WARN_C)} (house rule)"
        )
    if burn.depth_mm.max() > DEEP_MM:
        found.append(
            f"overheating: the pool gets {both_mm(burn.depth_mm.max())} deep, above "
            f"{both_mm(DEEP_MM)} (common practice, no source)"
        )
    height = flame_height_mm(burn.candle.burn_rate_g_h)
    about = f"flame: about {both_mm(height)} by its burn rate"
    if height > flame.flame_fail_mm:
        found.append(f"{about}, above {both_mm(flame.flame_fail_mm)}")
    elif height > flame.flame_warn_mm:
        found.append(f"{about}, above {both_mm(flame.flame_warn_mm)} (house rule)")
    elif height > flame.smoke_point_least_mm:
        found.append(f"{about}; from {both_mm(flame.smoke_point_least_mm)} some waxes smoke")
    return tuple(found)


def step_s(cell_mm: float) -> float:
    """Return the step of the burning march, s."""
    return min(20.0, 10.0 * cell_mm)


def simulate_burn(
    candle: Candle, *, hours: float = 4.0, cell_mm: float = 2.0, tops_mm: Array | None = None,
    probe_s: float = 60.0, step: float | None = None, plain: bool = False, pictures: int = 25,
    even: bool = False, stop_mm: float = 0.0, falls: bool = True,
) -> Burn:  # fmt: skip
    """
    Return one burn of so many hours from cold.

    ``tops_mm`` is the shape that an earlier burn left. ``cell_mm`` 2 is for quick answers; 1 for
    figures to keep. ``even`` takes even layers instead of ones that widen below the pool.
    ``stop_mm`` ends the burn when so little wax stands below the wick. Without ``falls`` the
    surface stays where it is, to compare with other forms.
    """
    if not 0 < hours <= 24:
        raise BadBurn(f"A burn of {hours:g} h; this works for up to 24 h.")
    run = _Run(candle, cell_mm=cell_mm, tops_mm=tops_mm, plain=plain, even=even)
    run.falls = falls
    count = max(1, round(hours * 3600 / probe_s))
    run.steps = max(1, ceil(probe_s / (step or step_s(cell_mm)) - 1e-9))
    keep = {round(i) for i in np.linspace(0, count, pictures)} if pictures else set()
    run.note(0 in keep)
    for turn in range(1, count + 1):
        try:
            run.go_on(probe_s)
        except NoFuel as end:
            run.ended = str(end)
            break
        run.note(turn in keep)
        if stop_mm and run.section.tops_m[run.wick_rings[0]] * 1000 <= stop_mm:
            run.ended = f"{stop_mm:g} mm of wax are left"
            break
    return run.result()


class _Run:
    """One burn in progress."""

    def __init__(
        self, candle: Candle, *, cell_mm: float, tops_mm: Array | None, plain: bool, even: bool
    ) -> None:
        self.candle, self.plain = candle, plain
        flame, wax = candle.flame, candle.wax
        self.stuff = stuff_of(
            wax,
            mix_out=flame.pool_mixing_outward,
            mix_down=flame.pool_mixing_down,
            film_w_m2_k=FILM_W_M2_K,
        )
        radius = candle.inside_diameter_mm / 2000
        nr = max(4, round(radius * 1000 / cell_mm))
        radii = np.linspace(0, radius, nr + 1)
        tops = np.full(nr, candle.wax_depth_mm / 1000)
        if tops_mm is not None:
            tops = (
                np.interp(
                    (np.arange(nr) + 0.5) / nr,
                    (np.arange(len(tops_mm)) + 0.5) / len(tops_mm),
                    tops_mm / 1000,
                )
                if len(tops_mm) != nr
                else tops_mm / 1000
            )
        faces = layers(
            float(tops.max()),
            cell_mm / 1000,
            fine_below_top_m=None if even else FINE_MM / 1000,
            top_m=float(tops.min()),
        )
        self.section = Section(
            radii_m=radii,
            layers_m=faces,
            tops_m=tops.copy(),
            cells=cells_under(tops, faces),
            energy_j=np.zeros((nr, len(faces) - 1)),
            stuff=self.stuff,
            density_kg_m3=wax.density_kg_m3,
        )
        section = self.section
        section.energy_j[:] = section.volumes_m3 * energy_j_m3(self.stuff, candle.room.air_c)
        self.shape = shell_shape(section, candle.wall, rim_mm=candle.rim_mm, base_mm=candle.base_mm)
        section.shell_c = np.full(self.shape.capacity.size, float(candle.room.air_c))
        ring = candle.ring_radius_mm / 1000
        self.ring_m = ring if candle.wicks > 1 or ring > 0 else 0.0
        self.near = near_wick(
            radii, ring_radius_m=self.ring_m, width_m=flame.source_width_mm / 1000
        )
        off = np.abs(section.ring_middles_m - self.ring_m)
        near = off <= max(0.005, float(off.min()) + 1e-9)
        self.wick_rings: Counts = np.flatnonzero(near).astype(np.int64)
        self.edge_c = self.stuff.start_c + EDGE * (self.stuff.end_c - self.stuff.start_c)
        self.steps, self.falls = 1, True
        self.at_s = self.lost_j = self.put_in_j = self.fuel_j = self.fuel_m3 = 0.0
        self.start_j, self.start_kg = self._energy(), section.mass_kg
        self.seen: Seen | None = None
        self.seen_tops = section.tops_m.copy()
        self.rows: list[tuple[float, ...]] = []
        self.kept: list[tuple[float, Array, Array, Array]] = []
        self.wall_c = self.base_c = candle.room.air_c
        self.ended = ""
        self.touches_h: float | None = None

    def _energy(self) -> float:
        return float(
            self.section.energy_j.sum() + np.dot(self.shape.capacity, self.section.shell_c)
        )

    def _look(self) -> Seen:
        section, flame = self.section, self.candle.flame
        moved = float(np.abs(section.tops_m - self.seen_tops).max())
        if self.seen is None or moved > SEEN_EVERY_M:
            heights = tuple(h / 1000 for h in flame.source_heights_mm)
            if self.ring_m > 0:
                level = float(section.tops_m[self.wick_rings[0]])
                self.seen = seen_from_ring(
                    section.radii_m, level, self.shape.faces_m, heights, self.ring_m
                )
            else:
                self.seen = seen_from_axis(
                    section.radii_m, section.tops_m, self.shape.faces_m, heights
                )
            self.seen_tops = section.tops_m.copy()
        return self.seen

    def go_on(self, seconds: float) -> None:
        """Burn for so long: take the fuel, set the sources, march."""
        candle, section = self.candle, self.section
        fuel = candle.fuel_m3_s * seconds if self.falls else 0.0
        if self.falls:
            self.fuel_j += take_fuel(section, fuel, self.wick_rings)
        self.fuel_m3 += fuel
        nr, nz = section.energy_j.shape
        rings = np.arange(nr)
        top = section.cells - 1
        seen = self._look()
        heat, flame = candle.heat_w, candle.flame
        source = np.zeros((nr, nz))
        source[rings, top] = heat * (
            flame.returned_share * self.near + flame.radiated_share * seen.tops
        )
        for j in np.flatnonzero(seen.cliffs > 0):
            # On the part of the ring that stands above the one inside it.
            span = np.clip(section.layers_m[1:] - section.tops_m[j - 1], 0, None)
            reach = np.minimum(span, section.thick_m[j])
            if reach.sum() > 0:
                source[j] += heat * flame.radiated_share * seen.cliffs[j] * reach / reach.sum()
            else:
                source[j, top[j]] += heat * flame.radiated_share * seen.cliffs[j]
        wall_heat = np.zeros(self.shape.capacity.size)
        wall_heat[nr:] = heat * flame.radiated_share * seen.wall
        temps = self.temps()
        h_top = surface_loss(
            candle.room, temps[rings, top], section.areas_m2, float(section.radii_m[-1])
        )
        shell = vessel_rates(
            candle.room, self.shape, section.shell_c, emissivity=candle.wall.emissivity,
            wet_m=float(section.tops_m[-1]), heat=wall_heat,
        )  # fmt: skip
        air = candle.room.air_c
        faces = Faces(h_top, air, np.zeros(nz), air, np.zeros(nr), air, source)
        lost = march(
            section.energy_j, section.shell_c, section.stuff, section.body, faces, shell,
            tau=seconds / self.steps, steps=self.steps, plain=self.plain,
        )  # fmt: skip
        self.lost_j += lost.bare + lost.vessel
        self.put_in_j += seconds * float(source.sum() + wall_heat.sum())
        self.at_s += seconds
        outside = outside_c(shell, section.shell_c, air, shape=self.shape)
        self.wall_c = float(outside[nr:].max())
        self.base_c = float(outside[:nr].max())

    def temps(self) -> Array:
        return self.section.temps_c

    def note(self, picture: bool) -> None:
        section = self.section
        temps = self.temps()
        wick = int(self.wick_rings[0])
        pool = self.pool_mm(temps)
        if self.touches_h is None and pool >= section.radii_m[-1] * 2000 - 1e-6:
            self.touches_h = self.at_s / 3600
        self.rows.append(
            (
                self.at_s / 3600, pool, self.depth_mm(temps), self.wall_c, self.base_c,
                float(temps[wick, section.cells[wick] - 1]), float(section.tops_m[wick] * 1000),
            )
        )  # fmt: skip
        if picture:
            self.kept.append(
                (self.at_s / 3600, temps, section.layers_m * 1000, section.tops_m * 1000)
            )

    def pool_mm(self, temps: Array) -> float:
        """Return the pool's diameter, its edge found between the cells by temperature."""
        section = self.section
        # At the pool's level, along every ring's own cells: a top cell's middle lies now higher,
        # now lower as the surface falls, so the last two cells are followed up to the level.
        level = float(section.tops_m[self.wick_rings[0]])
        heights = section.cell_heights_m
        top = section.cells - 1
        rings = np.arange(len(top))
        low, high = heights[rings, top - 1], heights[rings, top]
        slope = (temps[rings, top] - temps[rings, top - 1]) / (high - low)
        across = temps[rings, top] + slope * (level - high)
        # A ring that stands high is read below its top.
        for j in np.flatnonzero(level < high):
            n = section.cells[j]
            across[j] = np.interp(level, heights[j, :n], temps[j, :n])
        middles = section.ring_middles_m
        radius = float(section.radii_m[-1])
        # To the wall along the last two rings.
        at_wall = across[-1] + (across[-1] - across[-2]) / 2
        fine = (np.arange(1000) + 0.5) / 1000 * radius
        there = np.interp(fine, [*middles, radius], [*across, at_wall])
        wet = there >= self.edge_c
        area = float((fine * wet).sum() / fine.sum())
        return 2000 * radius * sqrt(area)

    def depth_mm(self, temps: Array) -> float:
        """Return the depth of the deepest place, found between the cells by temperature."""
        section = self.section
        heights = section.cell_heights_m
        best = 0.0
        for j, count in enumerate(section.cells):
            column = temps[j, :count]
            if column[-1] < self.edge_c:
                continue
            dry = np.flatnonzero(column < self.edge_c)
            if dry.size == 0:
                depth = float(section.tops_m[j])
            else:
                k = int(dry[-1])
                share = (self.edge_c - column[k]) / (column[k + 1] - column[k])
                z = heights[j, k] + share * (heights[j, k + 1] - heights[j, k])
                depth = float(section.tops_m[j] - z)
            best = max(best, depth)
        return best * 1000

    def result(self) -> Burn:
        table = np.array(self.rows)
        section = self.section
        change = self._energy() - self.start_j
        balance = abs(change - (self.put_in_j - self.lost_j - self.fuel_j))
        burned = section.density_kg_m3 * self.fuel_m3
        return Burn(
            candle=self.candle,
            times_h=table[:, 0],
            pool_mm=table[:, 1],
            depth_mm=table[:, 2],
            wall_c=table[:, 3],
            base_c=table[:, 4],
            wick_c=table[:, 5],
            level_mm=table[:, 6],
            burned_g=burned * 1000,
            touches_h=self.touches_h,
            tops_mm=section.tops_m * 1000,
            radii_mm=section.radii_m * 1000,
            pictures=tuple(self.kept),
            energy_error=balance / max(self.put_in_j, 1e-9),
            mass_error_g=abs(self.start_kg - section.mass_kg - burned) * 1000,
            ended_early=self.ended,
        )


# --- A whole life -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class CandleLife:
    """
    Burn after burn, each from cold, until so little wax is left below the wick.

    ``ring_g`` is the wax that stands above the pool's level at the end; ``tunnels`` when that is
    more than a fiftieth of the fill.
    """

    burns: tuple[Burn, ...]
    hours: float
    burned_g: float
    left_g: float
    ring_g: float
    stopped: str

    @property
    def tunnels(self) -> bool:
        return self.ring_g > RING_SHARE * self.burns[0].candle.fill_g

    @property
    def hottest_wall_c(self) -> float:
        return max(float(burn.wall_c.max()) for burn in self.burns)

    @property
    def hottest_base_c(self) -> float:
        return max(float(burn.base_c.max()) for burn in self.burns)

    @property
    def flags(self) -> tuple[str, ...]:
        found = []
        if self.tunnels:
            found.append(f"tunnelling: {self.ring_g:.0f} g of wax stay standing as a ring")
        if self.hottest_wall_c > WALL_WARN_C:
            hottest = both_c(round(self.hottest_wall_c))
            found.append(
                f"overheating: over its life the wall reaches {hottest}, above "
                f"{both_c(WALL_WARN_C)} (house rule)"
            )
        deepest = max(float(burn.depth_mm.max()) for burn in self.burns)
        if deepest > DEEP_MM:
            found.append(
                f"overheating: the pool gets {both_mm(deepest)} deep, above {both_mm(DEEP_MM)} "
                "(common practice, no source)"
            )
        return tuple(found)


def simulate_life(
    candle: Candle, *, burn_hours: float = 4.0, left_mm: float = LEFT_MM, cell_mm: float = 2.0,
    most_burns: int = 80, plain: bool = False, told: Callable[[Burn], None] | None = None,
) -> CandleLife:  # fmt: skip
    """
    Return a candle's whole life in burns of one length, temperatures reset between them.

    ``told`` hears of each burn when it is worked out.
    It ends when ``left_mm`` of wax are left below the wick. The burn rate is held; a real one
    drifts, so that a life is good to a tenth at best.
    """
    burns: list[Burn] = []
    tops: Array | None = None
    while len(burns) < most_burns:
        burn = simulate_burn(
            candle, hours=burn_hours, cell_mm=cell_mm, tops_mm=tops, plain=plain, pictures=3,
            stop_mm=left_mm,
        )  # fmt: skip
        burns.append(burn)
        if told:
            told(burn)
        tops = burn.tops_mm
        if burn.ended_early:
            break
    last = burns[-1]
    areas = pi * np.diff((last.radii_mm / 1000) ** 2)
    density = candle.wax.density_kg_m3
    left = float(density * (areas * last.tops_mm).sum())
    ring = float(density * (areas * np.maximum(last.tops_mm - last.level_mm[-1], 0)).sum())
    return CandleLife(
        burns=tuple(burns),
        hours=float(sum(burn.times_h[-1] for burn in burns)),
        burned_g=sum(burn.burned_g for burn in burns),
        left_g=left,
        ring_g=ring,
        stopped=last.ended_early or f"after {len(burns)} burns",
    )


def with_flame(candle: Candle, **given: Any) -> Candle:
    """Return the candle with other flame values."""
    return replace(candle, flame=replace(candle.flame, **given))
