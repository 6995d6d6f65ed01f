"""
Convection, radiation, walls, flames and liquids against published and independently worked values.

Sources stand beside each check. "Worked" values were computed by hand from the cited equation with
the inputs shown, by others than the code under test.
"""

import re
from math import pi

import pytest

from pourwright.core.heat.correlations import (
    NotLumped,
    OutOfRange,
    constrained_stress_pa,
    fat_specific_gravity,
    flame_height_mm,
    heat_by_oxygen_j_kg,
    heat_release_w,
    heskestad_height_m,
    lean_pool,
    limonene_density_kg_m3,
    linear_fit,
    liquid_fat,
    lumped_cooling,
    lying_loss_w_m2_k,
    nusselt_upright,
    oxygen_demand_kg_kg,
    radiation_loss_w_m2_k,
    rayleigh,
    regression_mm_h,
    roper_height_mm,
    simple_life,
    through_flat_wall,
    through_round_wall,
    upright_loss_w_m2_k,
)
from pourwright.core.heat.materials import flame_values, wall

PARAFFIN = {"C": 25, "H": 52}
TRISTEARIN = {"C": 57, "H": 110, "O": 6}

# A wick maker's chart, brand withheld: yarn g/m, burn rate g/h, flame mm, pool mm at 2 h.
CHART = [
    (1.162, 1.70, 12.7, 40.6), (1.455, 2.55, 17.5, 42.9), (1.503, 3.40, 22.1, 45.2),
    (1.872, 3.97, 25.9, 46.7), (2.639, 4.54, 28.4, 48.0), (2.953, 4.54, 28.7, 48.3),
    (3.647, 5.10, 33.3, 48.3), (4.276, 5.67, 35.8, 51.3), (4.593, 6.24, 40.1, 53.3),
]  # fmt: skip


def test_the_textbook_s_glass_fire_door():
    """Incropera and DeWitt, example 9.2: 0.71 m high, 1.02 m wide, 232 °C in a room of 23 °C."""
    ra = rayleigh(
        length_m=0.71, difference_k=209, expansion_per_k=0.0025, viscosity_m2_s=26.4e-6,
        diffusivity_m2_s=38.3e-6,
    )  # fmt: skip
    nu = nusselt_upright(ra, prandtl=0.690)
    h = nu * 0.0338 / 0.71
    assert ra == pytest.approx(1.813e9, rel=0.005)
    assert nu == pytest.approx(147, rel=0.005)
    assert h == pytest.approx(7.0, rel=0.005)
    assert h * 0.71 * 1.02 * 209 == pytest.approx(1060, rel=0.005)


def test_a_warm_wall_of_a_candle_s_size():
    """Worked from Churchill and Chu with air at the film temperature: 60 °C, 21 °C, 90 mm."""
    here = {"face_c": 60, "air_c": 21, "height_m": 0.09}
    assert upright_loss_w_m2_k(**here) == pytest.approx(6.20, rel=0.02)
    assert upright_loss_w_m2_k(**here, laminar=False) == pytest.approx(6.19, rel=0.02)
    h_r = radiation_loss_w_m2_k(face_c=60, around_c=21, emissivity=0.9)
    assert h_r == pytest.approx(6.32, rel=0.02)


def test_the_laminar_form_is_refused_beyond_its_range():
    with pytest.raises(OutOfRange):
        nusselt_upright(2e9, prandtl=0.7, laminar=True)


def test_a_hot_surface_facing_up():
    """Worked from McAdams' form: 65 °C in 21 °C, diameter 75 mm, length a quarter of it."""
    h = lying_loss_w_m2_k(face_c=65, air_c=21, length_m=0.075 / 4)
    assert h == pytest.approx(9.59, rel=0.02)
    h_r = radiation_loss_w_m2_k(face_c=65, around_c=21, emissivity=0.95)
    assert h_r == pytest.approx(6.84, rel=0.02)


def test_layers_in_series():
    """Worked: pool 65 °C, room 21 °C, 60 W/m2K inside, 10.5 outside; glass, a round jar, a tin."""
    both = {"inside_c": 65, "air_c": 21, "h_in": 60, "h_out": 10.5}
    flat = through_flat_wall(**both, thickness_m=0.004, conductivity_w_m_k=1.0)
    assert flat.outside_c == pytest.approx(57.15, abs=0.02)
    jar = through_round_wall(
        **both, inner_radius_m=0.036, outer_radius_m=0.040, conductivity_w_m_k=1.0
    )
    assert jar.heat == pytest.approx(93.74, abs=0.02)
    assert jar.outside_c == pytest.approx(56.52, abs=0.02)
    tin = through_flat_wall(**both, thickness_m=0.00025, conductivity_w_m_k=50)
    assert tin.outside_c == pytest.approx(58.45, abs=0.02)


def test_the_turbulent_fire_height_is_refused_for_candles():
    """Heskestad's form: 1000 kW on 1 m, and what it would say of a candle (nearly double)."""
    assert heskestad_height_m(heat_kw=1000, diameter_m=1) == pytest.approx(2.704, rel=0.001)
    with pytest.raises(OutOfRange, match="not for candles"):
        heskestad_height_m(heat_kw=0.077, diameter_m=0.005)
    bare = heskestad_height_m(heat_kw=0.077, diameter_m=0.005, any_size=True)
    assert bare == pytest.approx(0.0792, rel=0.001)


def test_the_laminar_port_flame():
    """Roper's form as in combustion textbooks (from memory): C25H52 at 1.75 mg/s and 300 K."""
    assert roper_height_mm(fuel_kg_s=1.75e-6, atoms=PARAFFIN) == pytest.approx(29.5, rel=0.01)


def test_a_taper_measured_by_nist():
    """Hamins, Bundy and Dillon 2005, as quoted: 0.105 g/min, 77 ± 9 W, 42 ± 1 mm, 17 % radiated."""
    heat = heat_release_w(burn_rate_g_h=6.3, heat_of_combustion_j_kg=43.8e6)
    assert heat == pytest.approx(76.65, rel=0.001)
    assert abs(heat - 77) <= 9
    assert flame_values().radiated_share * heat == pytest.approx(13.0, rel=0.005)
    assert flame_height_mm(6.3) == pytest.approx(39.8, rel=0.01)
    assert flame_height_mm(6.3) == pytest.approx(42, rel=0.1)


def test_the_lines_fitted_to_the_wick_maker_s_chart():
    rates = [row[1] for row in CHART]
    flame_base, flame_slope = linear_fit(rates, [row[2] for row in CHART])
    pool_base, pool_slope = linear_fit(rates, [row[3] for row in CHART])
    assert flame_slope == pytest.approx(5.997, rel=0.01)
    assert pool_slope == pytest.approx(2.662, rel=0.01)
    values = flame_values()
    assert values.flame_mm_per_g_h == pytest.approx(flame_slope, rel=0.01)
    assert values.flame_mm_base == pytest.approx(flame_base, rel=0.01)
    assert values.pool_mm_per_g_h == pytest.approx(pool_slope, rel=0.01)
    assert values.pool_mm_base == pytest.approx(pool_base, rel=0.01)


def test_oxygen_and_heat_of_fuels():
    """Stoichiometry; 13.1 MJ per kg of oxygen (from memory, sure)."""
    assert oxygen_demand_kg_kg(PARAFFIN) == pytest.approx(3.4476, rel=0.001)
    assert oxygen_demand_kg_kg(TRISTEARIN) == pytest.approx(2.9252, rel=0.001)
    assert heat_by_oxygen_j_kg(PARAFFIN) == pytest.approx(45.2e6, rel=0.001)
    assert heat_by_oxygen_j_kg(TRISTEARIN) == pytest.approx(38.3e6, rel=0.001)


def test_liquids():
    """CoolProp: TCO (Melinder 2010) at 20 °C, FoodFat (Choi and Okos) at 60 °C; Lund 1922."""
    assert limonene_density_kg_m3(20) == pytest.approx(842.90, rel=1e-4)
    fat = liquid_fat(60)
    assert fat.conductivity_w_m_k == pytest.approx(0.16351, rel=1e-4)
    assert fat.density_kg_m3 == pytest.approx(900.54, rel=1e-4)
    assert fat.specific_heat_j_kg_k == pytest.approx(2055.3, rel=1e-4)
    gravity = fat_specific_gravity(saponification_value=191, iodine_value=130)
    assert gravity == pytest.approx(0.9230, abs=1e-4)


def test_a_stirred_pot_cools_and_still_wax_is_refused():
    """Worked: 0.3 kg, 2100 J/kgK, 10 W/m2K over 0.03 m2, 80 °C in a room of 21 °C."""
    pot = {
        "mass_kg": 0.3, "specific_heat_j_kg_k": 2100, "loss_w_m2_k": 10, "area_m2": 0.03,
        "start_c": 80, "air_c": 21,
    }  # fmt: skip
    cooling = lumped_cooling(**pot)
    assert cooling.time_constant_s == pytest.approx(2100, rel=0.001)
    assert cooling.temp_c(900) == pytest.approx(59.43, rel=0.001)
    assert cooling.time_s(60) == pytest.approx(869.3, rel=0.001)
    with pytest.raises(NotLumped, match=r"1\.25"):
        lumped_cooling(**pot, half_width_m=0.02, conductivity_w_m_k=0.16)


def test_the_lean_pool():
    """Worked from the energy balance of a pool of 10 mm: 5.5 % of 4.5 g/h at 37.4 MJ/kg."""
    pool = lean_pool(
        returned_share=0.055, burn_rate_g_h=4.5, heat_of_combustion_j_kg=37.4e6, loss_w_m2_k=16,
        pool_above_air_k=44, density_kg_m3=870, melt_heat_j_kg=190e3, depth_mm=10,
    )  # fmt: skip
    assert pool.final_mm == pytest.approx(68.19, rel=0.001)
    assert pool.time_constant_s == pytest.approx(2348, rel=0.001)
    assert pool.diameter_mm(3600) == pytest.approx(60.39, rel=0.001)


def test_life_by_division():
    """220 g poured, 15 g left, 5 g/h: 41 h, eleven burns of 4 h, the last of one hour."""
    life = simple_life(fill_g=220, left_g=15, burn_rate_g_h=5.0)
    assert life.hours == pytest.approx(41.0, abs=1e-9)
    assert life.burns == 11
    assert life.last_hours == pytest.approx(1.0, abs=1e-9)


def test_how_fast_a_taper_gets_shorter():
    """Worked: 6.3 g/h over a circle of 21 mm at 900 kg/m3."""
    found = regression_mm_h(burn_rate_g_h=6.3, density_kg_m3=900, diameter_mm=21)
    assert found == pytest.approx(20.21, rel=0.001)
    assert found == pytest.approx(6.3 / 0.9 / (pi * 10.5**2) * 1000, rel=1e-9)


@pytest.mark.parametrize(("glass", "mpa"), [("glass", 40.4), ("borosilicate", 13.0)])
def test_stress_of_a_wall_that_cannot_give(glass, mpa):
    """E alpha dT/(1-nu) at 50 K with the handbook's constants (from memory, sure)."""
    from pourwright.core.heat.materials import NEWEST
    from pourwright.core.rules import rule

    table = rule(f"materials/{glass}", on=NEWEST)
    found = constrained_stress_pa(
        elastic_modulus_pa=float(table["elastic_modulus_pa"]["value"]),
        expansion_per_k=float(table["expansion_per_k"]["value"]),
        poisson=float(table["poisson"]["value"]),
        difference_k=50,
    )
    assert found / 1e6 == pytest.approx(mpa, rel=0.005)
    assert wall(glass).emissivity == 0.9


@pytest.mark.parametrize("name", ["paraffin", "soy", "coconut", "beeswax", "flame", "glass"])
def test_every_material_value_has_a_source_and_a_status(name):
    from pourwright.core.heat.materials import NEWEST
    from pourwright.core.rules import rule

    entries = [v for v in rule(f"materials/{name}", on=NEWEST).values.values() if hasattr(v, "get")]
    assert len(entries) >= 5
    for entry in entries:
        assert entry["source"]
        assert re.match(r"published|from memory|derived|computed|common practice", entry["status"])
        if "low" in entry:
            assert entry["low"] <= entry["value"] <= entry["high"]
