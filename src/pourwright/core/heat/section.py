"""
The wax in section: rings and layers that fit the shape exactly, their energy, and the vessel.

Made once for a run; the marching changes ``energy_j`` and ``shell_c``. Lengths in m inside, mm in
the names of what is asked and told.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil, log, pi

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.heat.marching import Array, Body, Counts, Shell, Stuff
from pourwright.core.heat.materials import Wall, Wax

LEAST_TOP, MOST_TOP = 0.5, 1.5  # a ring's top cell, in heights of its layer


class BadSection(BadInput):
    """A shape or a grid that cannot be worked with."""


def stuff_of(
    wax: Wax, *, mix_out: float = 1.0, mix_down: float = 1.0, film_w_m2_k: float = 0.0
) -> Stuff:
    """
    Return the wax per volume.

    One density serves solid and liquid: the mass stays, shrinking is not followed. The energy is
    counted from where melting starts.
    """
    rho = wax.density_kg_m3
    melting = wax.heat_j_kg(wax.melting_end_c, from_c=wax.melting_start_c)
    return Stuff(
        heat_solid=rho * wax.specific_heat_solid_j_kg_k,
        heat_liquid=rho * wax.specific_heat_liquid_j_kg_k,
        melt=rho * melting,
        start_c=wax.melting_start_c,
        end_c=wax.melting_end_c,
        k_solid=wax.conductivity_solid_w_m_k,
        k_liquid=wax.conductivity_liquid_w_m_k,
        mix_out=mix_out,
        mix_down=mix_down,
        film=1 / film_w_m2_k if film_w_m2_k > 0 else 0.0,
    )


def energy_j_m3(stuff: Stuff, temp_c: float | Array) -> Array:
    """Return the energy per volume at a temperature, J/m3, 0 where melting starts."""
    over = np.asarray(temp_c) - stuff.start_c
    span = stuff.end_c - stuff.start_c
    return np.asarray(
        stuff.heat_solid * np.minimum(over, 0.0)
        + stuff.melt / span * np.clip(over, 0.0, span)
        + stuff.heat_liquid * np.maximum(over - span, 0.0)
    )


def temperature_c(stuff: Stuff, energy_per_m3: Array) -> Array:
    """Return the temperature of an energy per volume, °C."""
    e = np.asarray(energy_per_m3)
    span = stuff.end_c - stuff.start_c
    return np.asarray(
        stuff.start_c
        + np.minimum(e, 0.0) / stuff.heat_solid
        + np.clip(e, 0.0, stuff.melt) * (span / stuff.melt)
        + np.maximum(e - stuff.melt, 0.0) / stuff.heat_liquid
    )


@dataclass(slots=True)
class Section:
    """The state of one vessel's wax: where its cells are, their energy, the vessel's nodes."""

    radii_m: Array
    layers_m: Array  # faces of the layers, from the inside base
    tops_m: Array  # each ring's own height
    cells: Counts
    energy_j: Array
    stuff: Stuff
    density_kg_m3: float
    shell_c: Array = field(default_factory=lambda: np.zeros(0))

    @property
    def areas_m2(self) -> Array:
        return np.asarray(pi * np.diff(self.radii_m**2))

    @property
    def thick_m(self) -> Array:
        """Return each cell's height; the top cell of a ring reaches to the ring's own top."""
        rings = np.arange(len(self.tops_m))
        top = self.cells - 1
        heights = np.diff(self.layers_m)
        thick = np.where(np.arange(len(heights)) < top[:, None], heights, 0.0)
        thick[rings, top] = self.tops_m - self.layers_m[top]
        return thick

    @property
    def body(self) -> Body:
        return Body(self.radii_m, self.areas_m2, self.thick_m, self.cells)

    @property
    def volumes_m3(self) -> Array:
        return np.asarray(self.areas_m2[:, None] * self.thick_m)

    @property
    def mass_kg(self) -> float:
        return float(self.density_kg_m3 * np.dot(self.areas_m2, self.tops_m))

    @property
    def there(self) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        return np.asarray(self.thick_m > 0)

    @property
    def temps_c(self) -> Array:
        """Return cell temperatures, nan where there is no wax."""
        volumes = self.volumes_m3
        there = volumes > 0
        e = np.divide(self.energy_j, volumes, out=np.zeros_like(volumes), where=there)
        return np.where(there, temperature_c(self.stuff, e), np.nan)

    @property
    def liquid(self) -> Array:
        """Return each cell's liquid share, nan where there is no wax."""
        volumes = self.volumes_m3
        there = volumes > 0
        e = np.divide(self.energy_j, volumes, out=np.zeros_like(volumes), where=there)
        return np.where(there, np.clip(e / self.stuff.melt, 0.0, 1.0), np.nan)

    @property
    def ring_middles_m(self) -> Array:
        return np.asarray((self.radii_m[1:] + self.radii_m[:-1]) / 2)

    @property
    def cell_heights_m(self) -> Array:
        """Return the height of each cell's middle above the inside base."""
        return np.asarray(self.layers_m[:-1] + self.thick_m / 2)


def layers(
    depth_m: float, cell_m: float, *, fine_below_top_m: float | None = None,
    top_m: float | None = None, coarsest: float = 3.0, growth: float = 1.25,
) -> Array:  # fmt: skip
    """
    Return layer faces from the base to ``depth_m`` that fit it exactly.

    Even, or with ``fine_below_top_m`` fine from that far below ``top_m`` (the lowest surface)
    upward and coarser towards the base.
    """
    if fine_below_top_m is None:
        return np.linspace(0, depth_m, max(2, round(depth_m / cell_m)) + 1)
    fine_from = max((top_m if top_m is not None else depth_m) - fine_below_top_m, 0.0)
    fine = max(2, ceil((depth_m - fine_from) / cell_m - 1e-9))
    faces = [*np.linspace(depth_m, fine_from, fine + 1)]
    if fine_from <= cell_m:
        return np.linspace(0, depth_m, max(2, round(depth_m / cell_m)) + 1)
    sizes: list[float] = []
    size = cell_m
    while sum(sizes) < fine_from:
        size = min(size * growth, coarsest * cell_m)
        sizes.append(size)
    scale = fine_from / sum(sizes)
    for size in sizes:
        faces.append(faces[-1] - size * scale)
    faces[-1] = 0.0
    return np.array(faces[::-1])


def section_of(
    wax: Wax, *, radius_mm: float, depth_mm: float, cell_mm: float, start_c: float,
    mix_out: float = 1.0, mix_down: float = 1.0, film_w_m2_k: float = 0.0,
    fine_below_top_mm: float | None = None,
) -> Section:  # fmt: skip
    """Return a full vessel of wax at one temperature; cells fit radius and depth exactly."""
    if not (2 <= radius_mm <= 500 and 2 <= depth_mm <= 1000):
        raise BadSection(
            f"The wax is {2 * radius_mm:g} mm wide and {depth_mm:g} mm deep; this works for 4 to "
            "1000 mm and 2 to 1000 mm."
        )
    if not 0.1 <= cell_mm <= min(radius_mm, depth_mm) / 2:
        raise BadSection(
            f"Cells of {cell_mm:g} mm do not fit; take 0.1 mm to half of the wax's radius or depth."
        )
    stuff = stuff_of(wax, mix_out=mix_out, mix_down=mix_down, film_w_m2_k=film_w_m2_k)
    radii = np.linspace(0, radius_mm / 1000, max(2, round(radius_mm / cell_mm)) + 1)
    faces = layers(
        depth_mm / 1000,
        cell_mm / 1000,
        fine_below_top_m=None if fine_below_top_mm is None else fine_below_top_mm / 1000,
    )
    nr, nz = len(radii) - 1, len(faces) - 1
    section = Section(
        radii_m=radii,
        layers_m=faces,
        tops_m=np.full(nr, depth_mm / 1000),
        cells=np.full(nr, nz, dtype=np.int64),
        energy_j=np.zeros((nr, nz)),
        stuff=stuff,
        density_kg_m3=wax.density_kg_m3,
    )
    section.energy_j[:] = section.volumes_m3 * energy_j_m3(stuff, start_c)
    return section


@dataclass(frozen=True, slots=True)
class ShellShape:
    """The vessel as a chain of nodes, and where they are; rates are set anew as it warms."""

    capacity: Array
    link: Array
    outer_area_m2: Array
    inner_area_m2: Array  # of a node's whole inside face, wet or dry
    heights_m: Array  # middle of each wall node
    faces_m: Array  # of the wall nodes, from the inside base to the rim
    half: float
    base_half: float
    base_nodes: int

    def shell(self, *, outer: Array, inner: Array, heat: Array) -> Shell:
        """Return the chain with its rates: W/K to the air outside and inside, and W put in."""
        return Shell(self.capacity, self.link, outer, inner, heat, self.half, self.base_half)


def shell_shape(
    section: Section, wall: Wall, *, rim_mm: float, base_mm: float | None = None
) -> ShellShape:
    """
    Return the vessel round a section, up to its rim.

    The base is a disc of the wall's material, ``base_mm`` thick (the wall's own if left out).
    """
    t = wall.thickness_mm / 1000
    base_t = t if base_mm is None else base_mm / 1000
    radius, radii, areas = section.radii_m[-1], section.radii_m, section.areas_m2
    faces = section.layers_m
    rim = rim_mm / 1000
    if rim < faces[-1] - 1e-9:
        raise BadSection(
            f"The wax is {faces[-1] * 1000:.1f} mm deep and the vessel {rim_mm:g} mm: it runs over."
        )
    dry = rim - faces[-1]
    if dry > 1e-4:
        more = max(1, round(dry / 0.004))
        faces = np.concatenate([faces, faces[-1] + dry * np.arange(1, more + 1) / more])
    heights = np.diff(faces)
    nr = len(areas)
    outside = radius + t
    heat = wall.density_kg_m3 * wall.specific_heat_j_kg_k
    ring = pi * (outside**2 - radius**2)
    capacity = np.concatenate([heat * areas * base_t, heat * ring * heights])
    # The corner of base and wall belongs to the wall's lowest node.
    capacity[nr] += heat * ring * base_t
    k = wall.conductivity_w_m_k
    middles = section.ring_middles_m
    middles = np.maximum(middles, radii[1] / 4)
    out = [2 * pi * base_t * k / log(b / a) for a, b in pairwise(middles)]
    corner = 1 / (
        log(radius / middles[-1]) / (2 * pi * base_t * k)
        + (t / 2) / (2 * pi * radius * base_t * k)
        + (heights[0] / 2) / (ring * k)
    )
    up = ring * k * 2 / (heights[1:] + heights[:-1])
    return ShellShape(
        capacity=capacity,
        link=np.concatenate([out, [corner], up]),
        outer_area_m2=np.concatenate([areas, 2 * pi * outside * heights]),
        inner_area_m2=np.concatenate([areas, 2 * pi * radius * heights]),
        heights_m=(faces[1:] + faces[:-1]) / 2,
        faces_m=faces,
        half=t / 2 / k,
        base_half=base_t / 2 / k,
        base_nodes=nr,
    )
