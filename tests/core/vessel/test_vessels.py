"""Vessels: what they hold, and what is refused."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.vessel.outline import BadWall, outline_of
from pourwright.core.vessel.shapes import (
    BadVessel,
    BrimOnly,
    HeightNotKnown,
    Overfull,
    Straight,
    Tapered,
    WaterMarks,
    shape_from,
)
from pourwright.core.vessel.vessel import Vessel, vessel_from

LENGTH = st.floats(5, 400)


@given(base=LENGTH, top=LENGTH, depth=LENGTH, share=st.floats(0, 1))
def test_height_and_volume_of_a_taper_undo_each_other(base, top, depth, share):
    vessel = Tapered(base_diameter_mm=base, top_diameter_mm=top, depth_mm=depth)
    volume = vessel.brim_ml * share
    assert vessel.volume_ml(vessel.height_mm(volume)) == pytest.approx(volume, rel=1e-9, abs=1e-9)


@given(diameter=LENGTH, depth=LENGTH, share=st.floats(0, 1))
def test_a_taper_of_nothing_is_straight(diameter, depth, share):
    straight = Straight(inside_diameter_mm=diameter, depth_mm=depth)
    for top in (diameter, diameter * (1 + 1e-12)):
        taper = Tapered(base_diameter_mm=diameter, top_diameter_mm=top, depth_mm=depth)
        volume = min(straight.brim_ml, taper.brim_ml) * share
        assert taper.height_mm(volume) == pytest.approx(straight.height_mm(volume), rel=1e-9)


@given(base=LENGTH, top=LENGTH, depth=LENGTH)
def test_a_tapers_volume_is_the_sum_of_its_slices(base, top, depth):
    """Midpoint slices of a quadratic area fall short by k^2 h^3 pi / (12 n^2), no more."""
    vessel = Tapered(base_diameter_mm=base, top_diameter_mm=top, depth_mm=depth)
    n = 400
    slices = sum(pi * vessel.radius_mm((i + 0.5) * depth / n) ** 2 for i in range(n))
    assert slices * depth / n / 1000 == pytest.approx(vessel.brim_ml, rel=1e-5)


def test_water_marks_are_met_exactly_and_read_evenly_between():
    vessel = WaterMarks(marks=((20.0, 90.0), (50.0, 300.0)))
    assert vessel.brim_ml == 300
    assert vessel.depth_mm == 50
    assert vessel.height_mm(90) == 20
    assert vessel.volume_ml(10) == 45
    assert vessel.height_mm(195) == 35


def test_water_marks_of_a_straight_vessel_give_its_diameter_back():
    straight = Straight(inside_diameter_mm=70, depth_mm=90)
    marks = tuple((h, straight.volume_ml(h)) for h in (10.0, 40.0, 90.0))
    for height in (0, 5, 33, 90):
        assert WaterMarks(marks=marks).radius_mm(height) == pytest.approx(35)


@pytest.mark.parametrize(
    "marks", [(), ((20, 90), (20, 100)), ((20, 90), (30, 90)), ((30, 90), (20, 100)), ((0, 5),)]
)
def test_water_marks_that_do_not_rise_are_refused(marks):
    with pytest.raises(BadVessel):
        WaterMarks(marks=marks)


@pytest.mark.parametrize("bad", [0, -3, 1500, float("nan"), float("inf")])
def test_a_measure_that_cannot_be_is_refused(bad):
    with pytest.raises(BadVessel, match="inside diameter"):
        Straight(inside_diameter_mm=bad, depth_mm=80)


def test_more_than_the_brim_is_refused_with_both_figures():
    vessel = Straight(inside_diameter_mm=70, depth_mm=80)
    with pytest.raises(Overfull, match=r"400.0 ml.*307.9 ml"):
        vessel.height_mm(400)
    with pytest.raises(Overfull, match=r"81.0 mm.*80.0 mm"):
        vessel.volume_ml(81)


def test_heights_of_a_vessel_known_by_its_brim_are_not_made_up():
    vessel = BrimOnly(volume_to_brim_ml=300)
    assert vessel.height_mm(200) is None
    with pytest.raises(HeightNotKnown):
        vessel.volume_ml(40)
    with pytest.raises(Overfull):
        vessel.height_mm(301)


def test_the_best_shape_is_made_of_what_is_known():
    assert isinstance(shape_from(brim_ml=300), BrimOnly)
    assert isinstance(shape_from(inside_diameter_mm=70, depth_mm=80), Straight)
    assert isinstance(shape_from(inside_diameter_mm=60, top_diameter_mm=70, depth_mm=80), Tapered)
    assert isinstance(shape_from(marks=[(80, 300)], inside_diameter_mm=70), WaterMarks)
    derived = shape_from(brim_ml=300, inside_diameter_mm=70)
    assert derived.brim_ml == pytest.approx(300)
    with pytest.raises(BadVessel, match="brim volume"):
        shape_from(depth_mm=80)


def test_a_brim_measured_by_water_stands_and_the_shape_tells_the_height():
    vessel = vessel_from(inside_diameter_mm=70, depth_mm=80, brim_ml=300)
    assert vessel.brim_ml == 300
    assert vessel.height_mm(200) == pytest.approx(200_000 / (pi * 35 * 35))
    with pytest.raises(BadVessel, match="measure again"):
        vessel_from(inside_diameter_mm=70, depth_mm=80, brim_ml=600)


def test_a_vessel_measured_by_water_is_not_taken_for_straight():
    hinted = vessel_from(brim_ml=300, inside_diameter_mm=70, depth_mm=80, by_water=True)
    assert not hinted.height_known
    with pytest.raises(BadVessel, match="brim volume, or water marks"):
        vessel_from(inside_diameter_mm=70, depth_mm=80, by_water=True)


def test_outside_figures_are_told_only_where_the_wall_is_known():
    shape = Tapered(base_diameter_mm=60, top_diameter_mm=76, depth_mm=90)
    assert Vessel(shape=shape).outside_diameter_mm is None
    known = Vessel(shape=shape, wall_mm=4, base_mm=7)
    assert known.outside_diameter_mm == 84
    assert known.outside_height_mm == 97


def test_a_wall_that_cannot_be_is_refused():
    with pytest.raises(BadWall, match="wall is 60 mm"):
        outline_of(Straight(inside_diameter_mm=70, depth_mm=80), wall_mm=60)


@given(base=LENGTH, top=LENGTH, depth=LENGTH, wall=st.floats(0, 10), share=st.floats(0, 1))
def test_the_drawn_wax_stays_inside_the_drawn_vessel(base, top, depth, wall, share):
    shape = Tapered(base_diameter_mm=base, top_diameter_mm=top, depth_mm=depth)
    outline = outline_of(shape, wall_mm=wall, base_mm=wall)
    assert outline.inner[0] == (0.0, 0.0)
    assert outline.inner[-1][1] == pytest.approx(depth)
    assert outline.outer[-1] == pytest.approx(outline.inner[-1])
    fill = depth * share
    for x, z in outline.wax(fill, meniscus_mm=1):
        assert -1e-6 <= z <= depth + 1e-6
        assert abs(x) <= max(base, top) / 2 + wall + 1e-6
