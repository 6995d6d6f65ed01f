"""Jigs: holes at the wicks' places, a bar that the rim centres, a guide that fits the floor."""

from dataclasses import replace
from math import hypot, pi

import pytest

from pourwright.core.vessel.vessel import vessel_from
from pourwright.core.wicks.covering import equal_slices
from pourwright.core.wicks.flat import Corner, Round, arc_of, area_mm2, polygon, sides
from pourwright.core.wicks.insides import BadInside, inside_of, outline_from, straight
from pourwright.core.wicks.jigs import CAUTIONS, BadJig, Fit, inset, jig_for
from pourwright.core.wicks.outlines import Oval, Rectangle, disc

ROUND = straight(disc(40.0))
ROWS = [(x, y) for x in (-45.0, 0.0, 45.0) for y in (-18.0, 18.0)]
BOX = straight(Rectangle(75.0, 45.0, 8.0))


def places(count, radius=40.0):
    return [tuple(map(float, one)) for one in equal_slices(radius, count)]


def rounds(plate):
    return {(round(o.x, 6), round(o.y, 6)): o.radius for o in plate.openings}


@pytest.mark.parametrize("count", range(1, 11))
@pytest.mark.parametrize("form", ["bar", "guide"])
def test_every_layer_has_its_holes_where_the_wicks_stand(form, count):
    where = places(count, 70.0)
    jig = jig_for(form, where, straight(disc(70.0)))
    radius = 1.5 if form == "bar" else 15 / 2 + 0.4
    first, *lower = (rounds(layer.plate) for layer in jig.layers)
    for x, y in where:
        at = round(x, 6) + 0.0, round(y, 6) + 0.0
        assert first[at] == pytest.approx(radius)
        assert all(at in layer and layer[at] > radius for layer in lower)


def test_a_lip_ends_just_inside_the_rim_and_the_bar_lies_on_it():
    fit = Fit(clearance_mm=0.7, overhang_mm=5)
    bar, lip = jig_for("bar", places(4), ROUND, fit=fit).layers
    corners = polygon(lip.plate.outline, steps=2000)
    assert max(hypot(*p) for p in corners) == pytest.approx(40 - 0.7, abs=1e-6)
    # The arms' middles lie on the axes, 3 mm of wall and 5 mm beyond it.
    left, low, right, high = bar.plate.box()
    assert (-left, -low, right, high) == pytest.approx((48.0,) * 4, abs=0.01)


def test_how_far_three_arms_let_it_slip():
    """Three narrow arms 120 degrees apart slip farthest between two: c / cos 60 = 2 c, less for
    the arms' own width: their outer edges bear first."""
    jig = jig_for("bar", places(3), ROUND, fit=Fit(clearance_mm=0.5))
    assert 0.5 < jig.play_mm < 1.0
    snug = jig_for("bar", places(3), ROUND, fit=Fit(clearance_mm=0.1))
    assert snug.play_mm == pytest.approx(jig.play_mm / 5, rel=0.02)


def test_a_guide_is_the_floor_less_its_clearance_and_openings():
    jig = jig_for("guide", places(3), ROUND, fit=Fit(clearance_mm=1, tab_mm=12, tab_fit_mm=0.5))
    grips = [o.radius for o in jig.layers[0].plate.openings if o.radius < 6]
    by_hand = pi * 39**2 - 3 * pi * 6.5**2 - sum(pi * r**2 for r in grips)
    assert jig.layers[0].plate.area_mm2 == pytest.approx(by_hand)


@pytest.mark.parametrize("form", ["bar", "guide"])
def test_half_a_kerf_on_each_side_is_what_the_tool_takes(form):
    """The strip between the line that is followed and the edge that comes out has the area of
    the edge's length times half the kerf."""
    jig = jig_for(form, places(3), ROUND, fit=Fit(kerf_mm=0.02))
    made, cut = jig.layers[0].plate, jig.cut[0].plate
    for came_out, followed in zip(made.openings, cut.openings, strict=True):
        assert followed.radius == pytest.approx(came_out.radius - 0.01)
    strip = abs(area_mm2(cut.outline)) - abs(area_mm2(made.outline))
    assert strip == pytest.approx(_length(made.outline) * 0.01, rel=0.01)


def _length(edge):
    points = polygon(edge, steps=4000)
    return sum(hypot(x - u, y - v) for (x, y), (u, v) in zip(points, points[1:] + points[:1],
                                                             strict=True))  # fmt: skip


@pytest.mark.parametrize("count", [1, 3, 5])
def test_slots_open_every_hole_to_a_side_and_keep_its_centre(count):
    where = places(count)
    jig = jig_for("bar", where, ROUND, fit=Fit(slots=True))
    for layer, radius in zip(jig.layers, (1.5, 2.5), strict=True):
        assert layer.plate.openings == ()
        ends = [
            arc for start, end in sides(layer.plate.outline) if start.bulge == -1.0
            for arc in [arc_of(start, end)]
        ]  # fmt: skip
        assert [arc.radius for arc in ends] == pytest.approx([radius] * count)
        for x, y in where:
            assert min(hypot(arc.x - x, arc.y - y) for arc in ends) < 1e-9


def test_wicks_in_rows_get_arms_to_the_wall_or_a_hub():
    bar, lip = jig_for("bar", ROWS, BOX).layers
    assert set(rounds(bar.plate)) == set(ROWS) == set(rounds(lip.plate))
    assert all(BOX.rim.wall_gap(_at(p)) >= 0.5 - 1e-6 for p in polygon(lip.plate.outline))


def _at(point):
    import numpy as np

    return np.array(point)


@pytest.mark.parametrize("outline", [Oval(60.0, 40.0), Rectangle(60.0, 40.0, 6.0), disc(50.0)])
def test_an_inset_lies_everywhere_as_far_from_the_wall(outline):
    edge = inset(outline, 1.25)
    gaps = [float(outline.wall_gap(_at(p))) for p in polygon(edge, steps=720)]
    assert (min(gaps), max(gaps)) == pytest.approx((1.25, 1.25), abs=1e-3)


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("form", "where", "fit", "words"),
    [
        ("bar", 3, {"hole_mm": 8.0}, "at least 14 mm wide"),
        ("bar", 3, {"arm_mm": 300.0}, "arms’ width is 300 mm"),
        ("bar", [(0.0, 0.0), (4.0, 0.0)], {}, "stand 4.0 mm apart"),
        ("bar", [(38.0, 0.0)], {}, "from the wall; its hole"),
        ("guide", [(30.0, 0.0)], {}, "smaller tabs"),
        ("guide", [(10.0, 0.0), (-6.0, 0.0)], {}, "openings for the tabs of 15.8 mm across"),
        ("guide", [], {}, "no wicks"),
        ("bar", 3, {"kerf_mm": 2.9, "hole_mm": 2.0}, "as wide as the hole"),
        ("bar", 3, {"thickness_mm": float("nan")}, "thickness is nan"),
        ("board", 3, {}, "a bar or a guide"),
    ],
)
def test_what_cannot_be_made_is_refused_with_what_would_be(form, where, fit, words):
    with pytest.raises(BadJig, match=words):
        jig_for(form, places(where) if isinstance(where, int) else where, ROUND, fit=Fit(**fit))


def test_a_vessel_in_the_wrong_unit_is_noticed():
    with pytest.raises(BadJig, match="Check the vessel’s measures"):
        jig_for("bar", places(3, 400.0), straight(disc(400.0)))


def test_a_lip_that_would_touch_the_wax_is_refused():
    low = replace(ROUND, headspace_mm=3.5)
    with pytest.raises(BadJig, match="would touch the wax"):
        jig_for("bar", places(3), low)


def test_the_cautions_say_when_it_comes_off_what_softens_and_what_is_never_cut():
    told = " ".join(CAUTIONS)
    assert "before the candle is lit" in told
    assert "PLA" in told
    assert "Never cut PVC" in told


# --- insides -------------------------------------------------------------------------------------


def test_a_taper_s_wicks_belong_where_its_wax_stands():
    vessel = vessel_from(inside_diameter_mm=70, top_diameter_mm=90, depth_mm=100, wall_mm=2.5)
    inside = inside_of(vessel, fill_height_mm=75)
    assert inside.surface.half_width_mm == pytest.approx(42.5)
    assert (inside.floor.half_width_mm, inside.rim.half_width_mm) == (35, 45)
    assert (inside.headspace_mm, inside.wall_mm) == (25, 2.5)
    with pytest.raises(BadInside, match="say how high the wax stands"):
        inside_of(vessel)
    with pytest.raises(BadInside, match="100 mm deep"):
        inside_of(vessel, fill_height_mm=120)


def test_a_vessel_known_by_its_volume_alone_is_refused():
    with pytest.raises(BadInside, match="inside diameter"):
        inside_of(vessel_from(brim_ml=250))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"form": "oval"}, "length and width"),
        ({"form": "square", "length_mm": 90.0}, "as long as wide"),
        ({"form": "round", "corner_mm": 4.0}, "no corners"),
        ({"form": "heart"}, "round, oval, square, rectangle"),
    ],
)
def test_forms_that_are_none_are_refused(given, words):
    with pytest.raises(BadInside, match=words):
        outline_from(width_mm=80.0, **given)


# --- flat ----------------------------------------------------------------------------------------


def test_a_bulge_of_one_is_half_a_turn():
    loop = (Corner(1.0, 0.0, 1.0), Corner(-1.0, 0.0, 1.0))
    assert area_mm2(loop) == pytest.approx(pi)
    assert area_mm2(Round(5.0, 5.0, 1.0)) == pytest.approx(pi)
    assert all(hypot(*p) == pytest.approx(1) for p in polygon(loop))
