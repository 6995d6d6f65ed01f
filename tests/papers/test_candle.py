"""The candle's drawing: to scale, safe on a strict page, honest about what it knows."""

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.vessel.vessel import vessel_from
from pourwright.papers.candle import (
    BadDrawing,
    CandleDrawing,
    Pool,
    above_svg,
    describe,
    drawing_of,
    icon_svg,
    section_svg,
    shared_px_per_mm,
)

SVG = "{http://www.w3.org/2000/svg}"

STRAIGHT = vessel_from(inside_diameter_mm=72, depth_mm=86, wall_mm=4, base_mm=8)
TAPERED = vessel_from(inside_diameter_mm=60, top_diameter_mm=78, depth_mm=90, wall_mm=3, base_mm=6)
TIN = vessel_from(inside_diameter_mm=102, depth_mm=40, wall_mm=0.3, base_mm=0.3)
MARKED = vessel_from(marks=[(20, 90), (50, 300), (80, 480)], wall_mm=3, base_mm=5)
UNKNOWN = vessel_from(brim_ml=260, by_water=True)
ALL = {"straight": STRAIGHT, "tapered": TAPERED, "tin": TIN, "marked": MARKED, "unknown": UNKNOWN}


def full_drawing(vessel, **changes):
    return drawing_of(
        vessel,
        fill_ml=vessel.brim_ml * 0.75,
        wick_count=3,
        lit=True,
        pool=Pool(diameter_mm=50, depth_mm=8),
        name="Fig <& clay>",
        **changes,
    )


def every_picture(drawing):
    return (
        section_svg(drawing, prefix="a"),
        above_svg(drawing, prefix="b"),
        icon_svg(drawing, prefix="c"),
        section_svg(drawing, prefix="d", standalone=True, true_size=True),
        section_svg(drawing, prefix="e", units="us", dimensions=False),
    )


@pytest.mark.parametrize("name", ALL)
def test_every_picture_is_well_formed_and_keeps_the_pages_policy(name):
    for picture in every_picture(full_drawing(ALL[name])):
        root = ET.fromstring(picture)
        for element in root.iter():
            assert element.tag != f"{SVG}style"
            for attribute in element.attrib:
                assert attribute != "style"
                assert not attribute.startswith("on")


@pytest.mark.parametrize("name", ALL)
def test_ids_of_two_pictures_with_their_own_prefixes_never_meet(name):
    drawing = full_drawing(ALL[name])
    ids = [
        element.get("id")
        for prefix in ("one", "two")
        for picture in (
            section_svg(drawing, prefix=prefix),
            above_svg(drawing, prefix=f"{prefix}v"),
        )
        for element in ET.fromstring(picture).iter()
        if element.get("id")
    ]
    assert len(ids) == len(set(ids))


def test_references_point_at_ids_that_exist():
    root = ET.fromstring(section_svg(full_drawing(TAPERED), prefix="s"))
    ids = {element.get("id") for element in root.iter()}
    assert set(root.get("aria-labelledby").split()) <= ids
    assert root.get("aria-describedby") in ids
    clips = re.findall(r"url\(#([^)]*)\)", section_svg(full_drawing(TAPERED), prefix="s"))
    assert clips
    assert set(clips) <= ids


def test_a_hearer_is_told_what_the_drawing_shows():
    root = ET.fromstring(section_svg(full_drawing(STRAIGHT), prefix="s"))
    assert root.get("role") == "img"
    assert "Fig <& clay>" in root.find(f"{SVG}title").text
    words = root.find(f"{SVG}desc").text
    assert "3 wicks" in words
    assert "modelled" in words


def test_an_icon_beside_its_name_is_hidden_from_screen_readers():
    root = ET.fromstring(icon_svg(full_drawing(STRAIGHT)))
    assert root.get("aria-hidden") == "true"
    assert root.find(f"{SVG}title") is None
    assert not list(root.iter(f"{SVG}text"))


def box(path):
    numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", path)]
    return min(numbers[::2]), max(numbers[::2]), min(numbers[1::2]), max(numbers[1::2])


def part(picture, name):
    root = ET.fromstring(picture)
    return next(e for e in root.iter() if (e.get("class") or "").split()[:1] == [name])


@pytest.mark.parametrize(
    ("vessel", "width_mm", "height_mm"), [(STRAIGHT, 80, 94), (TIN, 102.6, 40.3)]
)
def test_the_section_is_to_scale_in_both_directions(vessel, width_mm, height_mm):
    """Outside figures are inside plus wall; both directions share one scale."""
    picture = section_svg(drawing_of(vessel, fill_ml=100), px_per_mm=2.5)
    left, right, top, bottom = box(part(picture, "cd-glass").get("d"))
    assert (right - left) / 2.5 == pytest.approx(width_mm, abs=0.02)
    assert (bottom - top) / 2.5 == pytest.approx(height_mm, abs=0.02)


def test_the_wax_stands_at_its_fill_height():
    drawing = CandleDrawing(vessel=STRAIGHT, fill_height_mm=50)
    _, _, top, bottom = box(part(section_svg(drawing, px_per_mm=4), "cd-wax").get("d"))
    depth = (bottom - top) / 4
    assert 50 <= depth <= 51.5  # the drawn edge climbs the wall by about a millimetre


def test_true_size_is_given_in_millimetres():
    picture = section_svg(
        drawing_of(STRAIGHT, fill_ml=200), dimensions=False, true_size=True, standalone=True
    )
    root = ET.fromstring(picture)
    assert root.get("width").endswith("mm")
    shown_mm = float(root.get("width")[:-2])
    view_px = float(root.get("viewBox").split()[2])
    glass = next(e for e in root.iter(f"{SVG}path") if e.get("stroke-linejoin"))
    left, right, *_ = box(glass.get("d"))
    assert (right - left) * shown_mm / view_px == pytest.approx(80, abs=0.05)


def test_a_vessel_of_unknown_shape_says_so_and_shows_no_lengths():
    drawing = drawing_of(UNKNOWN, fill_ml=200)
    for picture in (section_svg(drawing), above_svg(drawing)):
        assert "shape not measured" in picture
        assert "cd-unmeasured" in picture
        assert " mm" not in picture.replace("\u00a0", " ")
    assert "not measured" in describe(drawing)


def test_dimensions_follow_the_workshops_units():
    drawing = CandleDrawing(vessel=vessel_from(inside_diameter_mm=76.2, depth_mm=100))
    assert "3\u00a0in" in section_svg(drawing, units="us")
    assert "76\u00a0mm" in section_svg(drawing, units="metric")


def test_section_and_view_from_above_can_share_a_scale():
    drawing = full_drawing(TAPERED)
    scale = shared_px_per_mm(drawing, size=300)
    for draw in (section_svg, above_svg):
        root = ET.fromstring(draw(drawing, px_per_mm=scale))
        assert float(root.get("width")) <= 300.01
        assert float(root.get("height")) <= 300.01


def test_icons_in_one_frame_keep_the_vessels_sizes_comparable():
    widths = []
    for vessel in (STRAIGHT, TIN):
        picture = icon_svg(drawing_of(vessel, fill_ml=100), frame_mm=120)
        left, right, *_ = box(part(picture, "cd-glass").get("d"))
        widths.append(right - left)
    assert widths[0] / widths[1] == pytest.approx(80 / 102.6, rel=0.01)


def test_a_fill_above_the_rim_is_refused_with_both_figures():
    with pytest.raises(BadDrawing, match=r"90 mm.*86.0 mm"):
        CandleDrawing(vessel=STRAIGHT, fill_height_mm=90)


@given(
    base=st.floats(20, 200),
    top=st.floats(20, 200),
    depth=st.floats(15, 300),
    wall=st.floats(0, 12),
    share=st.floats(0, 1),
    wicks=st.integers(1, 10),
    lit=st.booleans(),
)
def test_any_vessel_is_drawn_inside_its_own_picture(base, top, depth, wall, share, wicks, lit):
    vessel = vessel_from(
        inside_diameter_mm=base, top_diameter_mm=top, depth_mm=depth, wall_mm=wall, base_mm=wall
    )
    drawing = drawing_of(vessel, fill_ml=vessel.brim_ml * share, wick_count=wicks, lit=lit)
    for picture in (section_svg(drawing, dimensions=False), icon_svg(drawing)):
        root = ET.fromstring(picture)
        width, height = (float(n) for n in root.get("viewBox").split()[2:])
        for shape in root.iter(f"{SVG}path"):
            left, right, high, low = box(re.sub("[A-Za-z]", " ", shape.get("d")))
            assert left >= -0.5
            assert right <= width + 0.5
            assert high >= -0.5
            assert low <= height + 0.5
