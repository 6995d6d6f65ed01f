"""Rings that are as good, and what a jig's scatter costs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.wicks.covering import equal_slices, place, reach_mm
from pourwright.core.wicks.outlines import disc
from pourwright.core.wicks.places import BadWicks
from pourwright.core.wicks.tolerance import as_good_rings, ring_reach_mm, scatter_of


def ring(radius, on_ring, in_middle):
    angles = 2 * np.pi * np.arange(on_ring) / on_ring
    around = radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return np.concatenate([around, np.zeros((in_middle, 2))])


@given(st.floats(0.3, 0.95), st.integers(3, 9), st.integers(0, 1))
@settings(max_examples=40, deadline=None)
def test_a_ring_s_reach_by_formula_is_that_of_its_farthest_places(share, on_ring, in_middle):
    """Two ways to the same figure: the closed form, and the corners of the Voronoi cells."""
    by_formula = ring_reach_mm(
        vessel_inner_radius_mm=40.0, ring_radius_mm=40 * share, on_ring=on_ring,
        in_middle=in_middle,
    )  # fmt: skip
    places = ring(40 * share, on_ring, in_middle)
    # With a wick in the middle the formula leaves its own cell's corners out only on the wall.
    assert by_formula == pytest.approx(reach_mm(places, disc(40.0)), abs=1e-4)


@pytest.mark.parametrize(
    ("count", "ring_share", "reach_share"),
    [(3, 0.5, 0.8660), (4, 0.7071, 0.7071), (5, 0.6180, 0.6180), (7, 0.8660, 0.5)],
)
def test_the_best_ring_is_the_textbook_one(count, ring_share, reach_share):
    """Best symmetric rings of the disc covering problem, worked from plane geometry."""
    found = as_good_rings(
        vessel_inner_radius_mm=100.0, wick_count=count, least_gap_mm=0, least_spacing_mm=0
    )
    assert found.best_mm == pytest.approx(100 * ring_share, abs=0.06)
    assert found.best_reach_mm == pytest.approx(100 * reach_share, abs=0.03)


@pytest.mark.parametrize("count", [3, 4, 6, 8])
def test_all_of_the_range_is_as_good_and_what_lies_beyond_is_not(count):
    found = as_good_rings(vessel_inner_radius_mm=50.0, wick_count=count)

    def reach(radius):
        return reach_mm(ring(radius, count - found.in_middle, found.in_middle), disc(50.0))

    for radius in np.linspace(found.least_mm, found.most_mm, 5):
        assert reach(radius) <= 1.02 * found.best_reach_mm + 1e-4
    assert 50 - found.most_mm >= 12 - 1e-9
    if found.most_mm < 50 - 12 - 0.1:
        assert reach(found.most_mm + 0.1) > 1.02 * found.best_reach_mm


@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_wicks_have_no_ring_to_choose(count):
    assert as_good_rings(vessel_inner_radius_mm=40.0, wick_count=count) is None


def test_no_ring_where_none_keeps_the_distances():
    assert as_good_rings(vessel_inner_radius_mm=20.0, wick_count=9) is None
    with pytest.raises(BadWicks):
        as_good_rings(vessel_inner_radius_mm=40.0, wick_count=11)


def test_scatter_is_what_exact_reaches_of_moved_wicks_give():
    """Other draws, each with its exact reach: mean and spread agree within their own error."""
    places, vessel = equal_slices(45.0, 3), disc(45.0)
    dice = np.random.default_rng(5)
    rises = [
        reach_mm(places + dice.normal(0, 2.0, places.shape), vessel) - reach_mm(places, vessel)
        for _ in range(120)
    ]
    found = scatter_of(places, vessel, sd_mm=2.0)
    assert found.mean_rise_mm == pytest.approx(np.mean(rises), abs=4 * np.std(rises) / 120**0.5)
    assert found.rise_95_mm == pytest.approx(np.quantile(rises, 0.95), abs=0.6)


def test_a_wick_in_the_middle_reaches_farther_by_just_as_much_as_it_is_off():
    """One wick d off the middle of a round vessel reaches R + d; d is Rayleigh distributed."""
    found = scatter_of(np.zeros((1, 2)), disc(40.0), sd_mm=1.5, draws=4000)
    assert found.mean_rise_mm == pytest.approx(1.5 * np.sqrt(np.pi / 2), rel=0.03)
    assert found.rise_95_mm == pytest.approx(1.5 * np.sqrt(-2 * np.log(0.05)), rel=0.04)


def test_an_exact_jig_costs_nothing():
    assert (
        scatter_of(np.array(place(disc(50.0), 4).positions_mm), disc(50.0), sd_mm=0).rise_95_mm == 0
    )
