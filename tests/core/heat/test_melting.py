"""Melting a batch; the check value is worked from the energy balance."""

import pytest

from pourwright.core.heat.materials import wax
from pourwright.core.heat.melting import BadMelt, melt

# Latent heat all at 50 °C, as a range of 0.02 K.
SHARP = wax(
    "soy", specific_heat_solid_j_kg_k=2100, specific_heat_liquid_j_kg_k=2200,
    latent_heat_j_kg=140e3, melting_start_c=49.99, melting_end_c=50.01,
)  # fmt: skip


def test_two_kilograms_at_a_kilowatt():
    """Worked: 2 kg, 21 to 50 °C, 140 kJ/kg, to 85 °C, 1000 W at 80 %: 555.8 kJ, 11.58 min."""
    found = melt(
        SHARP, mass_kg=2, power_w=1000, efficiency=0.8, start_c=21, melt_to_c=85, pour_c=70
    )
    assert found.heat_j == pytest.approx(555.8e3, rel=0.001)
    assert found.minutes == pytest.approx(11.58, rel=0.001)
    assert found.warm_min + found.melt_min + found.above_min == pytest.approx(found.minutes)
    assert found.left_j == pytest.approx(2 * 2200 * 15)
    assert found.to_pour_min is None


def test_a_stirred_pot_stays_ready_for_a_while():
    found = melt(
        SHARP, mass_kg=2, power_w=1000, start_c=21, melt_to_c=85, pour_c=70, pot_area_m2=0.12
    )
    assert 0 < found.to_pour_min < found.to_melting_min
    larger = melt(
        SHARP, mass_kg=2, power_w=1000, start_c=21, melt_to_c=85, pour_c=70, pot_area_m2=0.2
    )
    assert larger.to_pour_min < found.to_pour_min


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"mass_kg": 0}, "mass"), ({"efficiency": 1.2}, "efficiency"),
        ({"start_c": 60}, "melting already"), ({"melt_to_c": 45}, "melt ends"),
        ({"pour_c": 90}, "pour is at"),
    ],
)  # fmt: skip
def test_melts_that_cannot_be(change, word):
    good = {"mass_kg": 2, "power_w": 900, "start_c": 20, "melt_to_c": 80}
    with pytest.raises(BadMelt, match=word):
        melt(SHARP, **{**good, **change})


def test_a_melt_above_the_flash_point_is_warned_of():
    low = wax("paraffin", flash_point_c=90)
    assert "never" in melt(low, mass_kg=1, power_w=500, start_c=20, melt_to_c=95).warnings[0]
