"""
Freezing and cooling solutions against published and independently worked values.

Similarity and series solutions: Carslaw and Jaeger; Crank, Free and Moving Boundary Problems;
Incropera and DeWitt, tables 5.1. The numbers were worked from those equations by others than the
code under test.
"""

from math import sqrt

import pytest

from pourwright.core.heat.exact import (
    cylinder_share,
    first_term_cylinder,
    first_term_plane,
    neumann_lambda,
    plank_time_s,
    range_freezing,
    stefan_lambda,
)


@pytest.mark.parametrize(("stefan", "expected"), [(0.1, 0.220016), (0.2, 0.306424), (1, 0.620063)])
def test_stefan_s_lambda(stefan, expected):
    assert stefan_lambda(stefan) == pytest.approx(expected, abs=1e-5)


def test_a_front_in_a_wax_like_solid():
    """k 0.23, rho 910, c 2000, L 190 kJ/kg, wall 20 K below melting."""
    stefan = 2000 * 20 / 190e3
    assert stefan == pytest.approx(0.210526, rel=0.001)
    found = stefan_lambda(stefan)
    assert found == pytest.approx(0.313893, rel=0.001)
    one, two = (2 * found * sqrt(0.23 / (910 * 2000) * t) * 1000 for t in (3600, 7200))
    assert one == pytest.approx(13.390, rel=0.001)
    assert two == pytest.approx(18.937, rel=0.001)


def test_neumann_s_two_phases():
    """Melting from a wall of 80 °C: Tm 55, start 20; k 0.15/0.23, c 2300/2100, rho 850, L 190e3."""
    near, far = 0.15 / (850 * 2300), 0.23 / (850 * 2100)
    found = neumann_lambda(
        stefan_near=2300 * 25 / 190e3, stefan_far=2100 * 35 / 190e3, near_by_far=sqrt(near / far)
    )
    assert found == pytest.approx(0.245642, rel=0.001)
    assert 2 * found * sqrt(near * 600) * 1000 == pytest.approx(3.333, rel=0.001)
    assert 2 * found * sqrt(near * 3600) * 1000 == pytest.approx(8.165, rel=0.001)


def test_plank_s_freezing_time():
    both = {
        "density_kg_m3": 900, "latent_heat_j_kg": 150e3, "below_melting_k": 24, "loss_w_m2_k": 10,
        "conductivity_w_m_k": 0.2,
    }  # fmt: skip
    assert plank_time_s(shape="cylinder", width_m=0.08, **both) == pytest.approx(22500, rel=0.001)
    assert plank_time_s(shape="slab", width_m=0.05, **both) == pytest.approx(22852, rel=0.001)


@pytest.mark.parametrize(
    ("biot", "root", "c1"),
    [(0.1, 0.44168, 1.02458), (1, 1.25578, 1.20709), (10, 2.17950, 1.56769)],
)
def test_the_cylinder_s_first_term(biot, root, c1):
    assert first_term_cylinder(biot) == pytest.approx((root, c1), abs=1e-4)


def test_a_long_cylinder_of_wax():
    """R 35 mm, h 10, k 0.2: Bi 1.75; after an hour Fo 0.31098."""
    fourier = 0.2 / (900 * 2100) * 3600 / 0.035**2
    assert fourier == pytest.approx(0.31098, rel=0.003)
    one = cylinder_share(biot=1.75, fourier=fourier, count=1)
    assert one == pytest.approx(0.63095, rel=0.003)
    whole = cylinder_share(biot=1.75, fourier=fourier)
    assert whole == pytest.approx(0.62928, rel=0.003)
    assert 45.5 <= 21 + 39 * whole <= 45.65


def test_the_plane_wall_and_the_short_cylinder():
    """Bi 1; then R 35, H 80 mm from 40 to 21 °C after 5400 s, by the product of first terms."""
    assert first_term_plane(1) == pytest.approx((0.86033, 1.11913), abs=1e-4)
    alpha = 0.2 / (900 * 2100)
    root, c1 = first_term_plane(10 * 0.04 / 0.2)
    round_root, round_c1 = first_term_cylinder(1.75)
    from math import exp

    share = (
        c1 * exp(-(root**2) * alpha * 5400 / 0.04**2)
        * round_c1 * exp(-(round_root**2) * alpha * 5400 / 0.035**2)
    )  # fmt: skip
    assert 21 + 19 * share == pytest.approx(27.48, abs=0.05)


def test_a_narrow_melting_range_tends_to_neumann_s_front():
    """As the range closes, both fronts meet at the sharp one: lambda 0.2769 for this wax."""
    sharp = neumann_lambda(
        stefan_near=2100 * 25 / 160e3, stefan_far=2100 * 29 / 160e3, near_by_far=1
    )
    assert sharp == pytest.approx(0.2769, abs=1e-4)
    narrow = range_freezing(
        wall_c=21, start_c=45.9, end_c=46.1, far_c=75, conductivity_w_m_k=0.2, density_kg_m3=900,
        specific_heat_j_kg_k=2100, latent_heat_j_kg=160e3,
    )  # fmt: skip
    assert narrow.solid_lambda == pytest.approx(sharp, rel=0.02)
    assert narrow.liquid_lambda == pytest.approx(sharp, rel=0.02)
    assert narrow.solid_lambda < sharp < narrow.liquid_lambda


def test_the_fronts_of_a_melting_range_of_twelve_kelvin():
    """Worked separately with another root finder: 19.74 and 37.90 mm after 6 h."""
    found = range_freezing(
        wall_c=21, start_c=40, end_c=52, far_c=75, conductivity_w_m_k=0.2, density_kg_m3=900,
        specific_heat_j_kg_k=2100, latent_heat_j_kg=160e3,
    )  # fmt: skip
    assert found.solid_front_m(6 * 3600) * 1000 == pytest.approx(19.74, abs=0.01)
    assert found.liquid_front_m(6 * 3600) * 1000 == pytest.approx(37.90, abs=0.01)
