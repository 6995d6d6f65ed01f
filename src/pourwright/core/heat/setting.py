"""
Setting: how poured wax cools in its vessel, when it may be moved and when it is set through.

A screening estimate by the enthalpy solver in section. The last place to set ranks alternatives for
relief holes; it is no volume. There is no physics here for frosting, wet spots or cracks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.heat.both import both_c
from pourwright.core.heat.losses import Room, outside_c, surface_loss, vessel_rates
from pourwright.core.heat.marching import Array, Faces, march
from pourwright.core.heat.materials import Wall, Wax
from pourwright.core.heat.section import Section, ShellShape, section_of, shell_shape
from pourwright.core.heat.words import (
    SCREENING,
    SETTING_CAUTION,
    SETTING_NOT_MODELLED,
    SETTING_UNVERIFIED,
)

COHERENT = 0.3  # liquid share below which wax no longer flows; this program's own, no source
SKIN_MM = 5.0  # how deep it has set all round before it may be moved; likewise
POUR_SHOCK_S = 300.0  # rates are told from then on
MOST_HOURS = 72.0
PICTURES = 48


class BadSetting(BadInput):
    """A pour that cannot be simulated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """
    What is poured into what. Round, straight-sided vessels; lengths in mm, temperatures in °C.

    ``wax_depth_mm`` is the set wax's. ``vessel_c`` None: as warm as the room. ``liquid_mixing``
    multiplies the liquid's conductivity for its own stirring (1: none).
    """

    wax: Wax
    wall: Wall
    inside_diameter_mm: float
    wax_depth_mm: float
    rim_mm: float
    pour_c: float
    room: Room = field(default_factory=Room)
    vessel_c: float | None = None
    base_mm: float | None = None
    liquid_mixing: float = 1.0
    name: str = ""

    def __post_init__(self) -> None:
        end = self.wax.melting_end_c
        if not end < self.pour_c <= 150:
            raise BadSetting(
                f"The pour temperature is {both_c(self.pour_c)}; {self.wax.name} is all liquid "
                f"above {both_c(end)}, and this works up to {both_c(150)}."
            )
        if self.pour_c >= self.wax.flash_point_c:
            raise BadSetting(
                f"The pour temperature {both_c(self.pour_c)} is at or above the flash point "
                f"{both_c(self.wax.flash_point_c)}: never do that."
            )
        if self.room.air_c >= self.wax.melting_start_c:
            raise BadSetting(
                f"In a room of {both_c(self.room.air_c)} {self.wax.name} never sets: it begins to "
                f"melt at {both_c(self.wax.melting_start_c)}."
            )
        if self.vessel_c is not None and not -10 <= self.vessel_c <= 150:
            raise BadSetting(
                f"The vessel is at {both_c(self.vessel_c)}; this works from {both_c(-10)} to "
                f"{both_c(150)}."
            )
        if not 1 <= self.liquid_mixing <= 100:
            raise BadSetting(f"liquid_mixing is {self.liquid_mixing:g}; it is 1 to 100.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """One moment: temperatures (rings by layers, °C) and the vessel's nodes."""

    at_h: float
    temps_c: Array
    wall_c: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """
    How a pour sets. Hours from the pour; None where it did not come to that in ``hours``.

    ``curves`` are °C over ``times_h``: "core" (the last place to set), "surface", "wall" (wax at
    the wall, mid-height) and "outside". ``enclosed_ml`` is what was still liquid when the surface
    closed, ``energy_error`` the share of the heat lost that the balance leaves open.
    """

    pour: Pour
    movable_h: float | None
    set_through_h: float | None
    surface_closes_h: float | None
    enclosed_ml: float | None
    last_depth_mm: float
    last_radius_mm: float
    wall_rate_k_min: float
    surface_rate_k_min: float
    outside_when_movable_c: float | None
    hours: float
    times_h: Array
    curves: dict[str, Array]
    liquid_share: Array
    pictures: tuple[Picture, ...]
    radii_mm: Array
    layers_mm: Array
    wall_heights_mm: Array
    energy_error: float
    words: tuple[str, ...] = (SCREENING, SETTING_UNVERIFIED, SETTING_CAUTION)
    not_modelled: tuple[str, ...] = SETTING_NOT_MODELLED


def step_s(cell_mm: float) -> float:
    """Return the step of the cooling march, s: as long as leaves the answers alone."""
    return min(20.0, 8.0 * cell_mm)


def simulate_setting(
    pour: Pour, *, cell_mm: float = 2.0, hours: float | None = None, probe_s: float = 120.0,
    plain: bool = False,
) -> Setting:  # fmt: skip
    """
    Return how the pour sets, until a little after it is set through or for ``hours``.

    ``cell_mm`` 2 is good to half a per cent of the setting time; 1 for a finer picture.
    """
    run = _Run(pour, cell_mm=cell_mm, probe_s=probe_s, plain=plain)
    limit = MOST_HOURS if hours is None else hours
    while run.at_s < limit * 3600 - 1e-6:
        run.probe()
        if hours is None and run.set_through_s is not None:
            break
    return run.result()


class _Run:
    """One cooling run: the state, and what is noted at each probe."""

    def __init__(self, pour: Pour, *, cell_mm: float, probe_s: float, plain: bool) -> None:
        self.pour, self.plain, self.probe_s = pour, plain, probe_s
        self.section: Section = section_of(
            pour.wax,
            radius_mm=pour.inside_diameter_mm / 2,
            depth_mm=pour.wax_depth_mm,
            cell_mm=cell_mm,
            start_c=pour.pour_c,
            mix_out=pour.liquid_mixing,
            mix_down=pour.liquid_mixing,
        )
        section = self.section
        self.shape: ShellShape = shell_shape(
            section, pour.wall, rim_mm=pour.rim_mm, base_mm=pour.base_mm
        )
        vessel_c = pour.room.air_c if pour.vessel_c is None else pour.vessel_c
        section.shell_c = np.full(self.shape.capacity.size, float(vessel_c))
        self.steps = ceil(probe_s / step_s(cell_mm))
        self.body = section.body
        self.volumes = section.volumes_m3
        self.nr, self.nz = section.energy_j.shape
        self.at_s = 0.0
        self.start_j = self._energy()
        self.lost_j = 0.0
        self.set_at = np.full((self.nr, self.nz), np.nan)
        self.movable_s: float | None = None
        self.closed_s: float | None = None
        self.set_through_s: float | None = None
        self.enclosed_ml: float | None = None
        self.outside_then: float | None = None
        self.rows: list[tuple[float, ...]] = []
        self.fields: list[Picture] = []
        depth = self.pour.wax_depth_mm / 1000 - section.cell_heights_m[0]
        rim = section.radii_m[-1] - section.ring_middles_m
        self.skin = (depth[None, :] < SKIN_MM / 1000) | (rim[:, None] < SKIN_MM / 1000)
        self.middle = self.nz // 2
        self.zeros = np.zeros((self.nr, self.nz))
        self.previous = section.temps_c
        self._note(section.temps_c, float(pour.room.air_c))

    def _energy(self) -> float:
        return float(
            self.section.energy_j.sum() + np.dot(self.shape.capacity, self.section.shell_c)
        )

    def probe(self) -> None:
        """Go on by one probe's time and note what has happened."""
        pour, section = self.pour, self.section
        temps = self.previous
        top = surface_loss(pour.room, temps[:, -1], section.areas_m2, float(section.radii_m[-1]))
        shell = vessel_rates(
            pour.room, self.shape, section.shell_c, emissivity=pour.wall.emissivity,
            wet_m=float(section.layers_m[-1]),
        )  # fmt: skip
        none = np.zeros(self.nz)
        faces = Faces(
            top, pour.room.air_c, none, pour.room.air_c, np.zeros(self.nr), pour.room.air_c,
            self.zeros,
        )  # fmt: skip
        lost = march(
            section.energy_j, section.shell_c, section.stuff, self.body, faces, shell,
            tau=self.probe_s / self.steps, steps=self.steps, plain=self.plain,
        )  # fmt: skip
        self.lost_j += lost.bare + lost.vessel
        before, temps = temps, section.temps_c
        self.at_s += self.probe_s
        self._events(before, temps)
        outside = outside_c(shell, section.shell_c, pour.room.air_c, shape=self.shape)
        self._note(temps, float(outside[self.nr + self.middle]))
        self.previous = temps

    def _events(self, before: Array, temps: Array) -> None:
        stuff = self.section.stuff
        solid = stuff.start_c
        coherent = solid + COHERENT * (stuff.end_c - solid)
        newly = np.isnan(self.set_at) & (temps <= solid)
        # Between two probes the temperature is taken to fall evenly.
        share = np.clip((before - solid) / np.maximum(before - temps, 1e-12), 0.0, 1.0)
        self.set_at[newly] = (self.at_s - self.probe_s + share * self.probe_s)[newly]
        liquid = np.clip((temps - solid) / (stuff.end_c - solid), 0.0, 1.0)
        if self.closed_s is None and (temps[:, -1] < coherent).all():
            self.closed_s = self._crossed(before[:, -1].max(), temps[:, -1].max(), coherent)
            still = liquid > COHERENT
            self.enclosed_ml = float(self.volumes[still].sum() * 1e6)
        if self.movable_s is None and (temps[self.skin] < coherent).all():
            self.movable_s = self._crossed(
                before[self.skin].max(), temps[self.skin].max(), coherent
            )
            self.outside_then = float(self.section.shell_c[self.nr :].max())
        if self.set_through_s is None and not np.isnan(self.set_at).any():
            self.set_through_s = float(self.set_at.max())

    def _crossed(self, before: float, now: float, level: float) -> float:
        share = (before - level) / max(before - now, 1e-12)
        return self.at_s - self.probe_s + float(np.clip(share, 0, 1)) * self.probe_s

    def _note(self, temps: Array, outside: float) -> None:
        stuff = self.section.stuff
        liquid = np.clip((temps - stuff.start_c) / (stuff.end_c - stuff.start_c), 0.0, 1.0)
        share = float((liquid * self.volumes).sum() / self.volumes.sum())
        surface, wall = float(temps[0, -1]), float(temps[-1, self.middle])
        self.rows.append((self.at_s / 3600, surface, wall, outside, share))
        self.fields.append(
            Picture(
                at_h=self.at_s / 3600,
                temps_c=temps,
                wall_c=self.section.shell_c.copy(),
            )
        )

    def result(self) -> Setting:
        section = self.section
        table = np.array(self.rows)
        when = np.where(np.isnan(self.set_at), np.inf, self.set_at)
        if self.set_through_s is None:
            when = np.where(np.isnan(self.set_at), section.temps_c + 1e9, self.set_at)
        j, k = np.unravel_index(int(np.argmax(when)), when.shape)
        core = np.array([picture.temps_c[j, k] for picture in self.fields])
        kept = sorted({round(i) for i in np.linspace(0, len(self.fields) - 1, PICTURES)})
        change = self.start_j - self._energy()
        return Setting(
            pour=self.pour,
            movable_h=_hours(self.movable_s),
            set_through_h=_hours(self.set_through_s),
            surface_closes_h=_hours(self.closed_s),
            enclosed_ml=self.enclosed_ml,
            last_depth_mm=float(
                (section.layers_m[-1] - section.cell_heights_m[j, k]) * 1000
            ),
            last_radius_mm=0.0 if j == 0 else float(section.ring_middles_m[j] * 1000),
            wall_rate_k_min=self._fastest(table[:, 2]),
            surface_rate_k_min=self._fastest(table[:, 1]),
            outside_when_movable_c=self.outside_then,
            hours=self.at_s / 3600,
            times_h=table[:, 0],
            curves={
                "core": core, "surface": table[:, 1], "wall": table[:, 2], "outside": table[:, 3],
            },
            liquid_share=table[:, 4],
            pictures=tuple(self.fields[i] for i in kept),
            radii_mm=section.radii_m * 1000,
            layers_mm=section.layers_m * 1000,
            wall_heights_mm=self.shape.heights_m * 1000,
            energy_error=abs(change - self.lost_j) / max(abs(change), 1e-9),
        )  # fmt: skip

    def _fastest(self, curve: Array) -> float:
        """Return the fastest fall after the shock of the pour, K/min; indicative only."""
        per_min = -np.diff(curve) / (self.probe_s / 60)
        later = per_min[ceil(POUR_SHOCK_S / self.probe_s) :]
        return float(later.max()) if later.size else float("nan")


def _hours(seconds: float | None) -> float | None:
    return None if seconds is None else seconds / 3600


def compare(pours: Sequence[Pour], *, cell_mm: float = 2.0) -> list[Setting]:
    """Return the settings of several pours, each by itself, for showing side by side."""
    return [simulate_setting(pour, cell_mm=cell_mm) for pour in pours]
