"""
The reach of pools: published disc-covering constants and the handbook's geometry.

Covering constants: MathWorld "Disk Covering Problem" after Zahn 1962, Neville 1915 and Bezdek
1983; n = 8 to 10 from memory, re-found numerically by others to 0.001. The other values are worked
from plane geometry (two-disc overlap).
"""

import numpy as np
import pytest

from pourwright.core.wicks.covering import covered_share, place, reach_mm
from pourwright.core.wicks.outlines import Rectangle, disc

CONSTANTS = {
    1: 1.0, 2: 1.0, 3: 0.86603, 4: 0.70711, 5: 0.60938, 6: 0.55591, 7: 0.5, 8: 0.44504,
    9: 0.41421, 10: 0.39493,
}  # fmt: skip


@pytest.mark.parametrize("count", [1, 3, 4, 5, 6, 7, 8, 9, 10])
def test_the_smallest_reach_is_the_published_one(count):
    found = place(disc(100.0), count, least_gap_mm=0, least_spacing_mm=0)
    assert found.reach_mm / 100 == pytest.approx(CONSTANTS[count], abs=1e-4)


def test_two_wicks_cannot_reach_less_far_than_one():
    """R 40, p 18: a lone pool must reach 43.863 mm, more than the 40 mm of one wick."""
    found = place(disc(40.0), 2, least_gap_mm=0, least_spacing_mm=36)
    assert found.ring_radius_mm == pytest.approx(18)
    assert found.reach_mm == pytest.approx(43.863, abs=0.01)


def test_four_on_a_ring():
    ring = 28.284 * np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])
    assert reach_mm(ring, disc(40.0)) == pytest.approx(28.284, abs=0.01)


def test_the_share_that_two_lone_pools_cover():
    wicks = np.array([[18.0, 0.0], [-18.0, 0.0]])
    assert covered_share(wicks, disc(40.0), pool_radius_mm=28) == pytest.approx(0.7739, abs=0.002)


def test_two_discs_overlap_as_the_formula_says():
    """Two pools of 25 mm, 40 mm apart, in a vessel that holds both: their union is 3722.6 mm2."""
    wicks = np.array([[20.0, 0.0], [-20.0, 0.0]])
    vessel = disc(60.0)
    share = covered_share(wicks, vessel, pool_radius_mm=25)
    assert share * vessel.area_mm2 == pytest.approx(3722.6, rel=0.001)


def test_a_square_s_four_wicks_stand_in_its_quarters():
    found = place(Rectangle(50.0, 50.0), 4, least_gap_mm=0, least_spacing_mm=0)
    assert found.reach_mm == pytest.approx(25 * np.sqrt(2), abs=1e-3)
    for x, y in found.positions_mm:
        assert (abs(x), abs(y)) == pytest.approx((25, 25), abs=0.05)
