"""The fills' charts: every fill is there, short ones by their shape, words apart."""

import re
import xml.etree.ElementTree as ET
from datetime import date

import pytest

from pourwright.core.contents.control import individuals_chart
from pourwright.papers.fill_charts import Line, _apart, fills_svg, individuals_svg

ON = date(2026, 11, 25)
SVG = "{http://www.w3.org/2000/svg}"


def show(value):
    return f"{value:.1f} g"


def drawn(markup):
    return ET.fromstring(str(markup))


def chart(fills, width=640):
    lines = [
        Line(label="label", value_g=180),
        Line(label="average", value_g=180.2, name="ch-today"),
        Line(label="T1", value_g=171.9, name="ch-low"),
    ]
    return drawn(
        fills_svg(fills, lines=lines, short_below_g=171.9, show=show, title="Fills", width=width)
    )


@pytest.mark.parametrize("width", [330, 640])
def test_every_fill_is_a_dot_and_a_short_one_a_square(width):
    found = chart([180.1, 179.4, 171.0, 181.2], width)
    assert len(found.findall(f"{SVG}circle")) == 3
    assert len(found.findall(f"{SVG}rect")) == 1
    assert "1 below the tolerance" in found.find(f"{SVG}desc").text
    assert found.find(f"{SVG}title").text == "Fills"


def test_words_of_close_lines_stand_apart_and_inside():
    heights = _apart([100.0, 102.0, 104.0, 30.0], lowest=104.0)
    assert all(abs(a - b) >= 12.9 for i, a in enumerate(heights) for b in heights[:i])
    assert max(heights) <= 104


def test_without_fills_it_says_so():
    assert "no fills yet" in "".join(chart([]).itertext())


def test_the_control_chart_squares_the_signals():
    fills = [180, 180.4, 179.8, 180.2, 179.7, 180.3, 179.9, 180.1] * 3 + [183.5]
    found = drawn(individuals_svg(individuals_chart(fills, on=ON), show=show, title="Control"))
    assert len(found.findall(f"{SVG}rect")) == 1
    assert len(found.findall(f"{SVG}circle")) == 24
    assert re.search("1 signals", found.find(f"{SVG}desc").text)
