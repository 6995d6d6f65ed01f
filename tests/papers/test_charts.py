"""The charts: true to their figures, told without colour, inside their picture at any width."""

import re
import xml.etree.ElementTree as ET
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.papers.charts import (
    Bar,
    Curing,
    Level,
    Part,
    cure_shelf_svg,
    spark_bars,
    stacked_bar_svg,
    stock_level_svg,
)

SVG = "{http://www.w3.org/2000/svg}"
TODAY = date(2031, 3, 10)
WIDTHS = (340, 640)


def days(n):
    return TODAY + timedelta(days=n)


def cost_bar(*values, label="", text="9.99"):
    return Bar(
        label=label,
        text=text,
        parts=tuple(Part(label=f"part <{i}>", value=v, text=f"v{v}") for i, v in enumerate(values)),
    )


def shelf(width=640, **keywords):
    lots = [
        Curing(label="A-1 <fig>", start=days(-100), ready=days(-80), state="ready"),
        Curing(label="A-2", start=days(-9), ready=days(0)),
        Curing(label="A-3", start=days(-6), ready=days(8), state="held"),
        Curing(label="A-4", start=days(0), ready=days(14)),
    ]
    return cure_shelf_svg(lots, today=TODAY, width=width, **keywords)


def level(values, width=640, **keywords):
    levels = [Level(on=days(-10 * (len(values) - i)), value=v) for i, v in enumerate(values)]
    return stock_level_svg(
        levels, until=TODAY, show=lambda v: f"{v:g} g", title="Wax", width=width, **keywords
    )


def classed(picture, name):
    root = ET.fromstring(picture)
    return [e for e in root.iter() if name in (e.get("class") or "").split()]


def words(picture):
    return [e.text for e in ET.fromstring(picture).iter(f"{SVG}text")]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("standalone", [False, True])
def test_every_chart_is_well_formed_named_and_keeps_the_pages_policy(width, standalone):
    how = {"width": width, "standalone": standalone}
    for picture in (
        stacked_bar_svg([cost_bar(3, 0, 1)], title="Cost", **how),
        stacked_bar_svg([cost_bar(3, 2), cost_bar(1, 4, label="B")], title="Cost", **how),
        shelf(**how),
        level([5, 3, 9], low=2, **how),
        spark_bars([1, 0, 3], title="Sales", **how),
        stacked_bar_svg([], title="Cost", **how),
        cure_shelf_svg([], today=TODAY, **how),
        stock_level_svg([], until=TODAY, show=str, title="Wax", **how),
        spark_bars([], title="Sales", **how),
    ):
        root = ET.fromstring(picture)
        assert root.get("role") == "img"
        assert root.find(f"{SVG}title").text
        for element in root.iter():
            assert not {"style", "href"} & set(element.attrib)
            if standalone and element.tag in (f"{SVG}text", f"{SVG}rect"):
                assert element.get("fill")


@given(values=st.lists(st.floats(0.01, 1000), min_size=1, max_size=9))
def test_parts_are_as_wide_as_they_are_large_and_each_has_its_number(values):
    picture = stacked_bar_svg([cost_bar(*values)], title="Cost", width=640)
    parts = [e for e in ET.fromstring(picture).iter(f"{SVG}rect") if e.get("height") == "26"]
    assert len(parts) == len(values)
    widths = [float(p.get("width")) for p in parts]
    for wide, value in zip(widths, values, strict=True):
        assert wide == pytest.approx(sum(widths) * value / sum(values), abs=0.05)
    # Once above the bar, once in the explanation.
    said = words(picture)
    for place in range(len(values)):
        assert said.count(str(place + 1)) >= 2


def test_numbers_over_narrow_parts_never_touch():
    picture = stacked_bar_svg([cost_bar(50, 0.1, 0.1, 0.1, 40, 0.1)], title="Cost", width=340)
    above = [
        float(e.get("x"))
        for e in ET.fromstring(picture).iter(f"{SVG}text")
        if e.get("text-anchor") == "middle"
    ]
    assert len(above) == 6
    gaps = [b - a for a, b in pairwise(above)]
    assert min(gaps) >= 12.5


def test_bars_share_one_scale_and_one_explanation():
    picture = stacked_bar_svg(
        [cost_bar(6, 2, label="Tall"), cost_bar(3, 1, label="Low")], title="Cost", width=640
    )
    widths = [float(e.get("width")) for e in ET.fromstring(picture).iter(f"{SVG}rect")
              if e.get("height") == "26"]  # fmt: skip
    assert widths[0] == pytest.approx(2 * widths[2], abs=0.05)
    assert len([w for w in words(picture) if w.startswith("part")]) == 2


def test_the_description_gives_every_value_in_words():
    root = ET.fromstring(stacked_bar_svg([cost_bar(3, 0, 1)], title="Cost"))
    desc = root.find(f"{SVG}desc").text
    assert "part <0> v3" in desc
    assert "part <2> v1" in desc
    assert "part <1>" not in desc


@pytest.mark.parametrize("width", WIDTHS)
def test_the_shelf_says_each_state_in_words_and_by_shape(width):
    picture = shelf(width)
    said = words(picture)
    assert {"ready", "held back", "24 Mar"} <= set(said)
    assert said.count("today") == 2  # the lot that is ready today, and the line's own name
    assert [e.tag for e in classed(picture, "ch-held")] == [f"{SVG}rect"]
    assert [e.tag for e in classed(picture, "ch-ready")] == [f"{SVG}circle"]


def test_a_day_is_the_same_length_everywhere_on_the_shelf():
    picture = shelf()
    rests = classed(picture, "ch-bar-rest")
    today = float(classed(picture, "ch-today")[0].get("x1"))
    per_day = float(rests[3].get("width")) / 14
    assert float(rests[1].get("width")) == pytest.approx(9 * per_day, abs=0.05)
    assert float(rests[2].get("x")) == pytest.approx(today - 6 * per_day, abs=0.05)
    done = classed(picture, "ch-bar")
    assert float(done[2].get("width")) == pytest.approx(6 * per_day, abs=0.05)
    assert float(done[3].get("width")) == 0


def test_a_long_ready_lot_stays_on_the_shelf_without_squeezing_the_rest():
    lots = [
        Curing(label="old", start=days(-900), ready=days(-880), state="ready"),
        Curing(label="new", start=days(-2), ready=days(5)),
    ]
    picture = cure_shelf_svg(lots, today=TODAY, width=640)
    new = classed(picture, "ch-bar-rest")[1]
    assert float(new.get("width")) > 30


def test_the_level_is_a_line_in_steps_down_to_a_true_nothing():
    picture = level([8, 2, 0])
    path = classed(picture, "ch-line")[0].get("d")
    assert "C" not in path
    assert len(re.findall("V", path)) == 2
    heights = [float(y) for y in re.findall(r"V([\d.]+)", path)]
    start = float(re.match(r"M[\d.]+ ([\d.]+)", path)[1])
    ground = float(classed(picture, "ch-grid")[0].get("y1"))
    assert heights[1] == pytest.approx(ground)
    assert (ground - heights[0]) / (ground - start) == pytest.approx(2 / 8, abs=0.01)


def test_the_level_at_which_to_buy_is_drawn_and_named():
    picture = level([8, 2, 5], low=4)
    assert "buy again at 4 g" in words(picture)
    assert classed(picture, "ch-low")
    assert not classed(level([8, 2, 5]), "ch-low")


def test_small_bars_set_off_the_newest():
    picture = spark_bars([4, 0, 2], title="Sales", height=28)
    bars = list(ET.fromstring(picture).iter(f"{SVG}rect"))
    assert [b.get("class") for b in bars] == ["ch-5", "ch-5", "ch-3"]
    assert float(bars[0].get("height")) == 24
    assert float(bars[2].get("height")) == 12


@given(
    spans=st.lists(
        st.tuples(st.integers(-800, 30), st.integers(0, 200), st.sampled_from(["curing", "held"])),
        min_size=1,
        max_size=12,
    ),
    width=st.sampled_from(WIDTHS),
)
def test_any_shelf_stays_inside_its_picture(spans, width):
    lots = [
        Curing(label=f"L-{i} of a rather long name", start=days(a), ready=days(a + n), state=state)
        for i, (a, n, state) in enumerate(spans)
    ]
    for element in ET.fromstring(cure_shelf_svg(lots, today=TODAY, width=width)).iter():
        for name in ("x", "cx", "x1"):
            if element.get(name):
                assert -0.01 <= float(element.get(name)) <= width
