"""How pours set: what depends on what, and what cannot be simulated."""

from dataclasses import replace

import numpy as np
import pytest

from pourwright.core.heat.exact import plank_time_s
from pourwright.core.heat.losses import BadRoom, Room, open_share
from pourwright.core.heat.materials import BadMaterial, blend, wall, wax
from pourwright.core.heat.setting import BadSetting, Pour, simulate_setting

POUR = Pour(
    wax=wax("soy"), wall=wall("glass"), inside_diameter_mm=74, wax_depth_mm=58, rim_mm=80,
    pour_c=62,
)  # fmt: skip


def quick(pour, **keywords):
    return simulate_setting(pour, cell_mm=4, probe_s=240, **keywords)


def test_a_pour_sets_from_outside_in():
    found = quick(POUR)
    assert 0 < found.surface_closes_h <= found.movable_h < found.set_through_h
    assert found.last_radius_mm < 10
    assert 10 < found.last_depth_mm < 55
    assert found.enclosed_ml > 0
    assert np.all(np.diff(found.liquid_share) <= 1e-9)
    assert found.energy_error < 0.005
    assert "Unverified" in " ".join(found.words)


def test_it_takes_longer_than_plank_s_lower_bound():
    """Plank counts latent heat alone, from the melting point, without glass or table."""
    found = quick(POUR)
    bound = plank_time_s(
        shape="cylinder", width_m=0.074, density_kg_m3=900, latent_heat_j_kg=125e3,
        below_melting_k=46 - 21, loss_w_m2_k=12, conductivity_w_m_k=0.2,
    )  # fmt: skip
    # The short cylinder loses through its ends too: between half of the bound and thrice.
    assert 0.5 * bound / 3600 < found.set_through_h < 3 * bound / 3600


@pytest.mark.parametrize(
    "slower",
    [
        {"pour_c": 80}, {"room": Room(air_c=27)}, {"vessel_c": 55.0},
        {"room": Room(gap_mm=5)}, {"wax": wax("soy", latent_heat_j_kg=160e3)},
    ],
)  # fmt: skip
def test_what_makes_it_slower(slower):
    assert quick(replace(POUR, **slower)).set_through_h > quick(POUR).set_through_h


def test_two_millimetres_are_fine_enough():
    coarse, fine = (
        simulate_setting(POUR, cell_mm=c, probe_s=240).set_through_h for c in (4.0, 2.0)
    )
    assert coarse == pytest.approx(fine, rel=0.01)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"pour_c": 50}, "pour temperature"), ({"room": Room(air_c=41)}, "never sets"),
        ({"vessel_c": 300}, "vessel"), ({"liquid_mixing": 0.2}, "liquid_mixing"),
        ({"wax": wax("soy", flash_point_c=60)}, "flash point"),
    ],
)  # fmt: skip
def test_pours_that_cannot_be(change, word):
    with pytest.raises(BadSetting, match=word):
        replace(POUR, **change)


def test_wax_deeper_than_its_vessel_is_refused():
    with pytest.raises(ValueError, match="runs over"):
        quick(replace(POUR, rim_mm=50))


def test_neighbours_hide_the_room():
    assert open_share(0.04, None) == 1
    touching, apart = open_share(0.04, 0), open_share(0.04, 60)
    assert touching == pytest.approx(1 - 4 / 6)  # each hides 60 degrees
    assert touching < apart < 1


def test_a_blend_s_melting_range_is_never_an_average():
    both = blend([(wax("soy"), 3), (wax("coconut"), 1)])
    assert (both.melting_start_c, both.melting_end_c) == (32, 52)
    by_volume = 1 / (0.75 / 900 + 0.25 / 918)
    assert both.density_kg_m3 == pytest.approx(by_volume)
    assert both.latent_heat_j_kg == pytest.approx(0.75 * 125e3 + 0.25 * 119e3)
    assert "measure" in both.notes[0]


def test_materials_and_rooms_that_cannot_be():
    with pytest.raises(BadMaterial, match="there are paraffin"):
        wax("tallow")
    with pytest.raises(BadMaterial, match='no value "colour"'):
        wax("soy", colour=3)
    with pytest.raises(BadMaterial, match="its end is above"):
        wax("soy", melting_end_c=30)
    with pytest.raises(BadMaterial):
        wall("glass", thickness_mm=-1)
    with pytest.raises(BadRoom):
        Room(air_c=80)
