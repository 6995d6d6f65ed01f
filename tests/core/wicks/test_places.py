"""Where wicks stand."""

from math import cos, hypot, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.wicks.places import BadWicks, ring_positions_mm, ring_radius_mm


@pytest.mark.parametrize("count", [2, 3, 4, 7, 10])
def test_the_ring_is_the_centroid_of_a_slice_summed_by_hand(count):
    """The mean distance along its middle of many small pieces of one slice of a unit disc."""
    half, n = pi / count, 300
    moment = area = 0.0
    for i in range(n):
        r = (i + 0.5) / n
        for j in range(n):
            angle = -half + (j + 0.5) * 2 * half / n
            moment += r * r * cos(angle)
            area += r
    found = ring_radius_mm(vessel_inner_radius_mm=1, wick_count=count)
    assert found == pytest.approx(moment / area, rel=1e-4)


@given(radius=st.floats(10, 300), count=st.integers(1, 10))
def test_wicks_are_even_about_the_middle_and_inside(radius, count):
    places = ring_positions_mm(vessel_inner_radius_mm=radius, wick_count=count)
    assert len(places) == count
    assert sum(x for x, _ in places) == pytest.approx(0, abs=1e-9 * radius)
    assert sum(y for _, y in places) == pytest.approx(0, abs=1e-9 * radius)
    assert all(hypot(x, y) < radius for x, y in places)
    if count > 1:
        ring = hypot(*places[0])
        apart = hypot(places[0][0] - places[1][0], places[0][1] - places[1][1])
        assert apart == pytest.approx(2 * ring * sin(pi / count))


def test_two_wicks_lie_in_the_plane_of_the_section():
    places = ring_positions_mm(vessel_inner_radius_mm=40, wick_count=2)
    assert all(abs(y) < 1e-9 for _, y in places)


@pytest.mark.parametrize("count", [0, 11, -1])
def test_too_few_or_too_many_wicks_are_refused(count):
    with pytest.raises(BadWicks, match=f"{count} wicks"):
        ring_positions_mm(vessel_inner_radius_mm=40, wick_count=count)
