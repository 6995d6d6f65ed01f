"""The document of the heat simulations: units, defaults, and every fault told with its place."""

import pytest

from pourwright.core.heat.materials import BadMaterial
from pourwright.intake.heat_file import BadHeatFile, read_heat

BASE = """
[wax]
kind = "soy"
[vessel]
inside_diameter = "3 in"
height = 90
[fill]
mass = "7 oz"
[set]
pour = "145 F"
[burn]
burn_rate_g_h = 3
"""


def test_units_and_plain_numbers():
    (pour,), cell = read_heat(BASE).pours()
    assert pour.inside_diameter_mm == pytest.approx(76.2)
    assert pour.rim_mm == 90
    assert pour.pour_c == pytest.approx((145 - 32) / 1.8)
    grams = 3.141592653589793 * 38.1**2 * pour.wax_depth_mm * 900e-6
    assert grams == pytest.approx(7 * 28.349523125)
    assert cell == 2


def test_own_values_replace_the_table_s_and_say_so():
    text = BASE.replace('kind = "soy"', 'kind = "soy"\nlatent_heat_j_kg = 131000')
    (pour,), _ = read_heat(text).pours()
    assert pour.wax.latent_heat_j_kg == 131000
    assert pour.wax.origins["latent_heat_j_kg"].source == "given by you"
    assert pour.wax.origins["density_kg_m3"].source != "given by you"


def test_a_blend():
    text = BASE.replace(
        'kind = "soy"', 'parts = [{ kind = "soy", share = 3 }, { kind = "coconut", share = 1 }]'
    )
    (pour,), _ = read_heat(text).pours()
    assert (pour.wax.melting_start_c, pour.wax.melting_end_c) == (32, 52)


def test_places_of_wicks_become_their_ring():
    text = BASE + "positions = [[0, 16], [13.856, -8], [-13.856, -8]]\n"
    plan = read_heat(text).burn()
    assert plan.candle.wicks == 3
    assert plan.candle.ring_radius_mm == pytest.approx(16, abs=0.01)


def test_recorded_burns_have_their_own_weighed_rate():
    text = BASE + '[[burn.recorded]]\nhours = 4\nburned = "14 g"\npool = [[2, "50 mm"]]\n'
    (one,) = read_heat(text).burn().recorded
    assert one.candle.burn_rate_g_h == pytest.approx(3.5)
    assert one.readings() == [("pool", 2.0, 50.0)]


def test_a_rate_by_the_yarn_is_told_to_be_rough():
    plan = read_heat(BASE.replace("burn_rate_g_h = 3", "yarn_g_m = 2.0")).burn()
    assert plan.candle.burn_rate_g_h == pytest.approx(2.01 * 2**0.76 * 0.85)
    assert "weigh a burn" in plan.notes[0]


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("[fill]", "[fil]", "did you mean fill"),
        ("height = 90", "hight = 90", "height is missing"),
        ("height = 90", "height = 90\nhight = 3", "did you mean height"),
        ('mass = "7 oz"', 'mass = "7 oz"\ndepth = 40', "either depth"),
        ('mass = "7 oz"', 'mass = "seven"', "fill, mass"),
        ('kind = "soy"', "kind = 7", "no text"),
        ('kind = "soy"', "", "kind"),
        ("burn_rate_g_h = 3", 'burn_rate_g_h = "much"', "no number"),
        ("burn_rate_g_h = 3", "burn_rate_g_h = 3\nwicks = 1.5", "whole number"),
        ("burn_rate_g_h = 3", "burn_rate_g_h = 3\nlife = 1", "true or false"),
        ("burn_rate_g_h = 3", "burn_rate_g_h = 3\npositions = [3]", "no place"),
        ("burn_rate_g_h = 3", "", "burn_rate_g_h is missing"),
        ("[wax]", "[wax", "not TOML"),
    ],
)
def test_faults_are_told_with_their_place(old, new, word):
    with pytest.raises(BadHeatFile, match=word):
        read_heat(BASE.replace(old, new)).burn()


def test_an_unknown_wax_names_those_there_are():
    with pytest.raises(BadMaterial, match="there are paraffin"):
        read_heat(BASE.replace('"soy"', '"tallow"')).burn()


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(BadHeatFile, match="cannot be read"):
        read_heat(tmp_path / "none.toml")
