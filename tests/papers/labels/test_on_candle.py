"""The label on the drawn candle: proportions, foreshortening, and what is out of sight."""

import re
from math import pi, sin
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.vessel.shapes import Straight
from pourwright.core.vessel.vessel import Vessel
from pourwright.papers.candle import drawing_of
from pourwright.papers.labels.marks import Box, Drawing, rectangle
from pourwright.papers.labels.on_candle import MARGIN_MM, Bend, disc_svg, front_svg

SVG = "{http://www.w3.org/2000/svg}"
JAR = Vessel(shape=Straight(inside_diameter_mm=70, depth_mm=83), wall_mm=3, base_mm=5)
CANDLE = drawing_of(JAR, fill_ml=200, name="Plum")


def wrap(*marks) -> Drawing:
    return Drawing(name="wrap", title="Plum, side wrap", width=76 * pi, height=70, marks=marks)


def drawn(label):
    svg = front_svg(CANDLE, label, outside_mm=76, height_mm=88, foot_mm=6)
    return ElementTree.fromstring(svg)


def test_the_picture_has_the_vessel_s_proportions():
    *_, width, height = map(float, drawn(wrap()).get("viewBox").split())
    assert width == pytest.approx(76 + 2 * MARGIN_MM, abs=0.02)
    assert height == pytest.approx(88 + 2 * MARGIN_MM, abs=0.02)


def test_the_label_begins_above_the_foot_by_what_was_said():
    at = next(g.get("transform") for g in drawn(wrap()).iter(f"{SVG}g") if g.get("transform"))
    assert float(re.findall(r"[\d.]+", at)[1]) == pytest.approx(MARGIN_MM + 88 - 6 - 70, abs=0.01)


def test_a_bar_in_front_keeps_its_width_and_one_at_the_side_narrows():
    """A width w around the angle t is seen as R (sin(t2) - sin(t1))."""
    middle, radius = 38 * pi, 38.0
    bend = Bend(middle=middle, height=70, top=radius, foot=radius)
    assert bend.x(middle + 1, 5) - bend.x(middle - 1, 5) == pytest.approx(2, abs=0.001)
    side = bend.x(middle + 46, 5) - bend.x(middle + 44, 5)
    assert side == pytest.approx(38 * (sin(46 / 38) - sin(44 / 38)))
    assert side < 1


@given(st.floats(-200, 400), st.floats(0, 70))
def test_nothing_is_seen_beyond_the_vessel_s_edge(x, y):
    bend = Bend(middle=119, height=70, top=38, foot=30)
    assert abs(bend.x(x, y)) <= bend.radius(y) + 1e-9


def test_what_stands_behind_is_not_drawn():
    behind = rectangle(Box(x=1, y=10, width=4, height=4), fill="#123456")
    before = rectangle(Box(x=116, y=10, width=4, height=4), fill="#654321")
    fills = {path.get("fill") for path in drawn(wrap(behind, before)).iter(f"{SVG}path")}
    assert "#654321" in fills
    assert "#123456" not in fills


def test_a_disc_keeps_its_true_share_of_the_round():
    disc = Drawing(name="base", title="Plum, base", width=60, height=60, shape="circle",
                   ground="#ffffff")  # fmt: skip
    root = ElementTree.fromstring(disc_svg(disc, outside_mm=76))
    radii = [float(circle.get("r")) for circle in root.iter(f"{SVG}circle")]
    assert 38.0 in radii
    assert 30.0 in radii
