"""Fills: weight, volume and height agree, and what would run over is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.vessel.fill import (
    BadDensity,
    BadFill,
    fill_by_height,
    fill_by_volume,
    fill_by_weight,
    normal_fill,
)
from pourwright.core.vessel.shapes import HeightNotKnown, Overfull
from pourwright.core.vessel.vessel import vessel_from

STRAIGHT = vessel_from(inside_diameter_mm=70, depth_mm=80)


@given(
    base=st.floats(20, 200),
    top=st.floats(20, 200),
    depth=st.floats(20, 200),
    density=st.floats(0.8, 1.0),
    share=st.floats(0.01, 0.99),
)
def test_weight_volume_and_height_describe_one_fill(base, top, depth, density, share):
    vessel = vessel_from(inside_diameter_mm=base, top_diameter_mm=top, depth_mm=depth)
    by_volume = fill_by_volume(vessel, fill_ml=vessel.brim_ml * share, density_g_per_ml=density)
    by_weight = fill_by_weight(vessel, fill_g=by_volume.fill_g, density_g_per_ml=density)
    by_height = fill_by_height(vessel, height_mm=by_volume.height_mm, density_g_per_ml=density)
    for other in (by_weight, by_height):
        assert other.fill_g == pytest.approx(by_volume.fill_g, rel=1e-9)
        assert other.height_mm == pytest.approx(by_volume.height_mm, rel=1e-9)
    assert by_volume.fill_pct_of_brim == pytest.approx(100 * share)
    assert by_volume.height_mm + by_volume.headspace_mm == pytest.approx(depth)
    assert by_volume.fill_ml + by_volume.headspace_ml == pytest.approx(vessel.brim_ml)


def test_the_liquid_stands_higher_by_the_ratio_of_the_densities():
    fill = fill_by_weight(STRAIGHT, fill_g=180, density_g_per_ml=0.9, liquid_density_g_per_ml=0.8)
    assert fill.liquid_height_mm / fill.height_mm == pytest.approx(0.9 / 0.8)
    assert fill.liquid_headspace_mm == pytest.approx(80 - fill.liquid_height_mm)


def test_what_fits_cold_but_runs_over_hot_is_refused():
    with pytest.raises(Overfull, match="run over at pouring"):
        fill_by_weight(STRAIGHT, fill_g=270, density_g_per_ml=0.9, liquid_density_g_per_ml=0.8)


def test_more_than_the_brim_is_refused_with_what_would_fit():
    with pytest.raises(Overfull, match=r"400.0 g.*307.9 ml to the brim, 277.1 g"):
        fill_by_weight(STRAIGHT, fill_g=400, density_g_per_ml=0.9)


def test_a_vessel_known_by_its_brim_tells_shares_but_no_heights():
    vessel = vessel_from(brim_ml=300)
    fill = fill_by_weight(vessel, fill_g=180, density_g_per_ml=0.9, liquid_density_g_per_ml=0.85)
    assert fill.fill_pct_of_brim == pytest.approx(200 / 3)
    assert fill.height_mm is None
    assert fill.headspace_mm is None
    assert fill.liquid_height_mm is None
    assert fill.headspace_ml == pytest.approx(100)
    with pytest.raises(HeightNotKnown):
        fill_by_height(vessel, height_mm=40, density_g_per_ml=0.9)


@pytest.mark.parametrize("density", [0, 0.4, 900, float("nan")])
def test_a_density_that_no_wax_has_is_refused(density):
    with pytest.raises(BadDensity, match=r"most near 0\.9"):
        fill_by_weight(STRAIGHT, fill_g=100, density_g_per_ml=density)


def test_densities_the_wrong_way_round_are_noticed():
    with pytest.raises(BadDensity, match="wrong way round"):
        fill_by_weight(STRAIGHT, fill_g=100, density_g_per_ml=0.8, liquid_density_g_per_ml=0.9)


@pytest.mark.parametrize("weight", [0, -5, float("nan")])
def test_a_fill_of_nothing_is_refused(weight):
    with pytest.raises(BadFill):
        fill_by_weight(STRAIGHT, fill_g=weight, density_g_per_ml=0.9)


def test_a_normal_fill_of_ones_own_says_that_it_was_given():
    vessel = vessel_from(brim_ml=200)
    own = normal_fill(vessel, density_g_per_ml=0.9, fill_pct_of_brim=(80, 85))
    assert (own.low_g, own.high_g) == pytest.approx((144, 153))
    assert own.source == "given"
    assert "no source" in normal_fill(vessel, density_g_per_ml=0.9).source
    with pytest.raises(BadFill):
        normal_fill(vessel, density_g_per_ml=0.9, fill_pct_of_brim=(90, 80))
