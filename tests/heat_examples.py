"""Problems with exact answers, marched by the solver; the benchmark takes them finer."""

from __future__ import annotations

from math import sqrt

import numpy as np
from scipy.special import j0, j1

from pourwright.core.heat.exact import (
    cylinder_roots,
    neumann_lambda,
    plane_roots,
    range_freezing,
)
from pourwright.core.heat.marching import Faces, march, no_shell
from pourwright.core.heat.materials import wax
from pourwright.core.heat.section import energy_j_m3, section_of

PLAIN_WAX = {
    "density_kg_m3": 900, "specific_heat_solid_j_kg_k": 2100, "specific_heat_liquid_j_kg_k": 2100,
    "conductivity_solid_w_m_k": 0.2, "conductivity_liquid_w_m_k": 0.2,
}  # fmt: skip


def plain_wax(start_c, end_c, latent_heat_j_kg):
    return wax(
        "paraffin", **PLAIN_WAX, melting_start_c=start_c, melting_end_c=end_c,
        latent_heat_j_kg=latent_heat_j_kg,
    )  # fmt: skip


def bare_faces(section, *, top=0.0, side=0.0, base=0.0, air_c=21.0):
    nr, nz = section.energy_j.shape
    return Faces(
        np.full(nr, float(top)), air_c, np.full(nz, float(side)), air_c,
        np.full(nr, float(base)), air_c, np.zeros((nr, nz)),
    )  # fmt: skip


# --- A finite cylinder without any change of phase ------------------------------------------------

RADIUS_MM, HEIGHT_MM, LOSS, HOT_C, AIR_C = 45.0, 60.0, 10.0, 75.0, 21.0
ALPHA = 0.2 / (900 * 2100)


def finite_cylinder(cell_mm, *, seconds=1800.0, tau=None, plain=True):
    """Return radii, heights (m) and temperatures of a bare cylinder cooled for so long."""
    # A melting range far below the air: all of it stays liquid.
    section = section_of(
        plain_wax(-40, -30, 5000), radius_mm=RADIUS_MM, depth_mm=HEIGHT_MM, cell_mm=cell_mm,
        start_c=HOT_C,
    )  # fmt: skip
    tau = tau or 3.0 * cell_mm
    steps = round(seconds / tau)
    faces = bare_faces(section, top=LOSS, side=LOSS, base=LOSS, air_c=AIR_C)
    march(
        section.energy_j, section.shell_c, section.stuff, section.body, faces, no_shell(),
        tau=seconds / steps, steps=steps, plain=plain,
    )  # fmt: skip
    return section.ring_middles_m, section.cell_heights_m[0], section.temps_c


def finite_cylinder_exact(radii_m, heights_m, *, seconds=1800.0, terms=40):
    """Return the product of the cylinder's and the plane wall's series, °C."""
    biot, share = LOSS * RADIUS_MM / 1000 / 0.2, np.zeros(len(radii_m))
    for root in cylinder_roots(biot, count=terms):
        c = 2 / root * j1(root) / (j0(root) ** 2 + j1(root) ** 2)
        share += (
            c * np.exp(-(root**2) * ALPHA * seconds / (RADIUS_MM / 1000) ** 2)
            * j0(root * radii_m / (RADIUS_MM / 1000))
        )  # fmt: skip
    half = HEIGHT_MM / 2000
    up = np.zeros(len(heights_m))
    for root in plane_roots(LOSS * half / 0.2, count=terms):
        c = 4 * np.sin(root) / (2 * root + np.sin(2 * root))
        up += (
            c * np.exp(-(root**2) * ALPHA * seconds / half**2)
            * np.cos(root * (heights_m / half - 1))
        )  # fmt: skip
    return AIR_C + (HOT_C - AIR_C) * np.outer(share, up)


def finite_cylinder_error_k(cell_mm, **keywords):
    radii, heights, temps = finite_cylinder(cell_mm, **keywords)
    seconds = keywords.get("seconds", 1800.0)
    return float(np.abs(temps - finite_cylinder_exact(radii, heights, seconds=seconds)).max())


# --- Freezing from a cold wall in a half space ----------------------------------------------------

WALL_C, FAR_C, LATENT = 21.0, 75.0, 160e3
HALF_SPACE_MM = 280.0


def half_space(start_c, end_c, cell_mm, *, at_s, tau=None, plain=True):
    """Yield time, heights (m), temperatures and liquid share of wax that freezes from its base."""
    section = section_of(
        plain_wax(start_c, end_c, LATENT), radius_mm=max(2.0, 2 * cell_mm), depth_mm=HALF_SPACE_MM,
        cell_mm=cell_mm, start_c=FAR_C,
    )  # fmt: skip
    # One ring, insulated at its rim, is a bar.
    section.radii_m = section.radii_m[[0, -1]]
    section.tops_m, section.cells = section.tops_m[:1], section.cells[:1]
    section.energy_j = section.volumes_m3 * energy_j_m3(section.stuff, FAR_C)
    faces = bare_faces(section, base=1e9, air_c=WALL_C)
    step = tau or 4.0 * cell_mm
    done = 0.0
    for at in at_s:
        steps = max(1, round((at - done) / step))
        march(
            section.energy_j, section.shell_c, section.stuff, section.body, faces, no_shell(),
            tau=(at - done) / steps, steps=steps, plain=plain,
        )  # fmt: skip
        done = at
        yield at, section.cell_heights_m[0], section.temps_c[0], section


def range_errors(cell_mm, **keywords):
    """Return the largest error of temperature (K) and of either front (mm) after 6 h."""
    exact = range_freezing(
        wall_c=WALL_C, start_c=40, end_c=52, far_c=FAR_C, conductivity_w_m_k=0.2,
        density_kg_m3=900, specific_heat_j_kg_k=2100, latent_heat_j_kg=LATENT,
    )  # fmt: skip
    # The exact solution puts the sensible heat of the range beside the latent, as the solver does.
    *_, (at, heights, temps, _) = half_space(40, 52, cell_mm, at_s=(6 * 3600.0,), **keywords)
    truth = np.array([exact.temp_c(float(h), at) for h in heights])
    near = heights < 0.12
    front = [float(np.interp(t, temps, heights)) * 1000 for t in (40, 52)]
    true_front = [exact.solid_front_m(at) * 1000, exact.liquid_front_m(at) * 1000]
    return (
        float(np.abs(temps - truth)[near].max()),
        max(abs(a - b) for a, b in zip(front, true_front, strict=True)),
    )


def neumann_error(cell_mm, *, hours=6.0, **keywords):
    """Return the largest relative error of the sharp front from half an hour on."""
    exact = neumann_lambda(
        stefan_near=2100 * 25 / LATENT, stefan_far=2100 * 29 / LATENT, near_by_far=1
    )
    worst = 0.0
    times = np.arange(1800.0, hours * 3600 + 1, 300.0)
    # Sharp melting at 46 °C is stood for by a range of 1 K for each mm of a cell: it closes with
    # the grid, and keeps the front from hopping from cell to cell.
    half = cell_mm / 2
    for at, _, _, section in half_space(46 - half, 46 + half, cell_mm, at_s=times, **keywords):
        solid = (1 - section.liquid[0]) @ section.thick_m[0] * 1000
        true = 2 * exact * sqrt(ALPHA * at) * 1000
        worst = max(worst, abs(solid - true) / true)
    return worst


# --- A long cylinder that sets over a melting range -----------------------------------------------


def long_cylinder(cell_mm=2.0, *, tau=10.0, until_s=27000.0, plain=True):
    """Return times, centre and surface temperatures of R 40 mm from 70 to 21 °C at 10 W/m2K."""
    section = section_of(
        plain_wax(42, 50, 140e3), radius_mm=40, depth_mm=2 * cell_mm, cell_mm=cell_mm,
        start_c=70,
    )  # fmt: skip
    faces = bare_faces(section, side=10)
    times, centre, surface = [0.0], [70.0], [70.0]
    while times[-1] < until_s:
        march(
            section.energy_j, section.shell_c, section.stuff, section.body, faces, no_shell(),
            tau=tau, steps=6, plain=plain,
        )  # fmt: skip
        times.append(times[-1] + 6 * tau)
        temps = section.temps_c[:, 0]
        centre.append(float(temps[0]))
        # From the outermost cell's middle to its face: the flux to the air, by half the cell.
        half = cell_mm / 2000 / 0.2
        surface.append(float(21 + (temps[-1] - 21) * (1 / 10) / (1 / 10 + half)))
    return np.array(times), np.array(centre), np.array(surface)
