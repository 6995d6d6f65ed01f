"""The solver against exact solutions, itself, and the laws of mass and energy."""

from math import log2

import numpy as np
import pytest

from heat_examples import (
    bare_faces,
    finite_cylinder_error_k,
    neumann_error,
    plain_wax,
    range_errors,
)
from pourwright.core.heat.losses import Room, vessel_rates
from pourwright.core.heat.marching import Faces, march, march_arrays, march_loops, no_shell
from pourwright.core.heat.materials import wall, wax
from pourwright.core.heat.section import section_of, shell_shape


def test_a_finite_cylinder_is_within_a_hundredth_of_a_kelvin():
    """The product of the cylinder's and the plane wall's series (Carslaw and Jaeger), 30 min."""
    assert finite_cylinder_error_k(1.0) < 0.01


def test_halving_the_cells_quarters_the_error():
    coarse, fine = (finite_cylinder_error_k(cell) for cell in (3.0, 1.5))
    assert log2(coarse / fine) >= 1.9


def test_a_melting_range_freezes_as_its_similarity_solution():
    """Three erf regions, derived in core/heat/exact.py; 1 mm cells, 6 h."""
    temperature_k, front_mm = range_errors(1.0)
    assert temperature_k < 0.02
    assert front_mm < 0.03


def test_a_sharp_front_moves_as_neumann_says():
    """Within 0.6 % from half an hour on; the benchmark takes 0.25 mm cells to 0.15 %."""
    assert neumann_error(1.0, hours=2) < 0.006


def _in_a_jar(*, lit=False):
    """Return wax in a glass at odds with itself, so that heat flows everywhere."""
    section = section_of(
        wax("soy"), radius_mm=30, depth_mm=24, cell_mm=4, start_c=30,
        mix_out=20 if lit else 1, mix_down=2 if lit else 1, film_w_m2_k=80 if lit else 0,
    )  # fmt: skip
    section.energy_j[:3, 2:] += 6e7 * 2 * section.volumes_m3[:3, 2:] * 3
    shape = shell_shape(section, wall("glass"), rim_mm=40, base_mm=5)
    section.shell_c = np.linspace(20, 70, shape.capacity.size)
    return section, shape


def test_a_closed_vessel_keeps_its_energy():
    section, shape = _in_a_jar()
    none = np.zeros(shape.capacity.size)
    shell = shape.shell(outer=none, inner=none, heat=none)
    faces = bare_faces(section)
    energy = lambda: section.energy_j.sum() + shape.capacity @ section.shell_c  # noqa: E731
    before, in_wax = energy(), section.energy_j.sum()
    lost = march(
        section.energy_j, section.shell_c, section.stuff, section.body, faces, shell, tau=10,
        steps=300,
    )  # fmt: skip
    exchanged = abs(section.energy_j.sum() - in_wax)
    assert exchanged > 100  # J: heat did flow between glass and wax
    assert abs(energy() - before) < 1e-9 * exchanged
    assert lost.bare == lost.vessel == 0


def test_what_is_put_in_is_found_again_or_has_left():
    """An open run closes its balance within half a per cent, the loss counted by its own rule."""
    section, shape = _in_a_jar(lit=True)
    shell = vessel_rates(
        Room(), shape, section.shell_c, emissivity=0.9, wet_m=float(section.layers_m[-1])
    )
    source = np.zeros_like(section.energy_j)
    source[0, -1] = 3.0
    bare = bare_faces(section, top=12)
    faces = Faces(*bare[:-1], source)
    before = section.energy_j.sum() + shape.capacity @ section.shell_c
    lost = march(
        section.energy_j, section.shell_c, section.stuff, section.body, faces, shell, tau=8,
        steps=450,
    )  # fmt: skip
    change = section.energy_j.sum() + shape.capacity @ section.shell_c - before
    put_in = 3.0 * 8 * 450
    assert abs(change - (put_in - lost.bare - lost.vessel)) < 0.005 * put_in


def test_the_compiled_form_is_the_plain_form():
    """Held as plain Python here, so that it is held everywhere; the benchmark holds it compiled."""
    results = []
    for form in (march_arrays, march_loops):
        section, shape = _in_a_jar(lit=True)
        # A ring that stands higher than the pool beside it.
        section.tops_m[:3] -= 0.002
        section.energy_j[:3, -1] /= 2
        shell = vessel_rates(
            Room(), shape, section.shell_c, emissivity=0.9, wet_m=float(section.layers_m[-1])
        )
        source = np.zeros_like(section.energy_j)
        source[0, -1] = 2.0
        faces = Faces(*bare_faces(section, top=12)[:-1], source)
        lost = form(
            section.energy_j, section.shell_c, section.stuff, section.body, faces, shell, 6.0, 4
        )
        results.append((section.energy_j, section.shell_c, np.array(lost)))
    for one, other in zip(*results, strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-9, atol=1e-9)


def test_a_shorter_step_changes_nothing_that_matters():
    temps = []
    for tau in (8.0, 2.0):
        section = section_of(
            plain_wax(40, 52, 160e3), radius_mm=40, depth_mm=40, cell_mm=4, start_c=75
        )
        march(
            section.energy_j, section.shell_c, section.stuff, section.body,
            bare_faces(section, top=10, side=10, base=5), no_shell(), tau=tau,
            steps=round(3600 / tau),
        )  # fmt: skip
        temps.append(section.temps_c)
    assert np.abs(temps[0] - temps[1]).max() < 0.02


@pytest.mark.parametrize("cell_mm", [2.0, 3.0, 7.0])
def test_cells_fit_the_shape_exactly(cell_mm):
    section = section_of(wax("soy"), radius_mm=41.3, depth_mm=55.7, cell_mm=cell_mm, start_c=25)
    assert section.radii_m[-1] == pytest.approx(0.0413, abs=1e-15)
    assert section.layers_m[-1] == pytest.approx(0.0557, abs=1e-15)
    litres = np.pi * 0.0413**2 * 0.0557
    assert section.mass_kg == pytest.approx(900 * litres, rel=1e-12)
