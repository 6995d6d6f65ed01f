"""The reach of any wicks at all, and what a placement keeps to."""

from itertools import combinations
from math import hypot

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.wicks.covering import covered_share, place, reach_mm
from pourwright.core.wicks.outlines import BadOutline, Oval, Rectangle, disc
from pourwright.core.wicks.places import BadWicks

# MathWorld "Disk Covering Problem" (after Zahn, Neville and Bezdek); 8 to 10 from memory.
LEAST = {
    1: 1.0, 2: 1.0, 3: 0.86603, 4: 0.70711, 5: 0.60938, 6: 0.55591, 7: 0.5, 8: 0.44504,
    9: 0.41421, 10: 0.39493,
}  # fmt: skip

shares = st.floats(-0.68, 0.68)
wicks = st.lists(st.tuples(shares, shares), min_size=1, max_size=10, unique=True)
outlines = st.sampled_from([disc(40.0), Oval(60.0, 35.0), Rectangle(55.0, 40.0, 8.0)])


@given(wicks)
@settings(max_examples=60, deadline=None)
def test_no_wicks_reach_less_far_than_the_published_bound(shares):
    found = reach_mm(np.array(shares) * 40.0, disc(40.0))
    assert found >= 40.0 * LEAST[len(shares)] - 0.001


@given(wicks, outlines)
@settings(max_examples=60, deadline=None)
def test_every_place_on_the_wax_is_within_reach_and_some_place_is_that_far(shares, outline):
    positions = np.array(shares) * [outline.half_width_mm, outline.half_height_mm]
    x, y = np.meshgrid(np.linspace(-1, 1, 161), np.linspace(-1, 1, 161))
    inside = np.stack([x * outline.half_width_mm, y * outline.half_height_mm], -1).reshape(-1, 2)
    sampled = [inside[outline.wall_gap(inside) >= 0], outline.at(np.linspace(0, 1, 720))]
    away = np.linalg.norm(np.concatenate(sampled)[:, None] - positions[None], axis=-1)
    farthest = away.min(axis=1).max()
    assert farthest <= reach_mm(positions, outline) + 1e-6
    assert farthest >= reach_mm(positions, outline) - 0.6  # the sample's own spacing


@given(
    st.integers(1, 4), outlines, st.floats(5, 16), st.floats(10, 24)
)  # fmt: skip
@settings(max_examples=8, deadline=None)
def test_a_placement_keeps_its_distances_and_is_covered_at_its_reach(count, outline, gap, spacing):
    try:
        found = place(outline, count, least_gap_mm=gap, least_spacing_mm=spacing)
    except BadWicks:  # so many do not fit at those distances
        return
    positions = np.array(found.positions_mm)
    assert len(positions) == count
    assert outline.wall_gap(positions).min() >= gap - 1e-6
    for one, other in combinations(found.positions_mm, 2):
        assert hypot(one[0] - other[0], one[1] - other[1]) >= spacing - 1e-6
    assert covered_share(positions, outline, pool_radius_mm=found.reach_mm + 0.05) > 0.9999
    assert covered_share(positions, outline, pool_radius_mm=found.reach_mm * 0.8) < 1


@pytest.mark.parametrize("count", [0, 11])
def test_too_few_or_too_many_wicks_are_refused(count):
    with pytest.raises(BadWicks, match="1 to 10 can be placed"):
        place(disc(40.0), count)


def test_wicks_that_do_not_fit_are_refused_with_what_was_asked_for():
    with pytest.raises(BadWicks, match="6 wicks do not fit 12 mm from the wall and 20 mm"):
        place(disc(25.0), 6)


def test_a_corner_larger_than_its_side_is_refused():
    with pytest.raises(BadOutline, match="radius of 30 mm does not fit"):
        Rectangle(40.0, 25.0, 30.0)
