"""The headroom bar: true to its spans, told without colour, inside its picture at any width."""

import re
import xml.etree.ElementTree as ET
from datetime import date
from fractions import Fraction
from itertools import combinations

import pytest

from pourwright.core.hazard.elements import Element
from pourwright.core.hazard.headroom import Band, Headroom
from pourwright.core.hazard.model import Composition, Market
from pourwright.core.hazard.paths import Dose, Doses, load_path
from pourwright.core.hazard.spans import Span
from pourwright.papers.headroom_bar import headroom_bar_svg, headroom_rows
from pourwright.papers.svg import text_width

SVG = "{http://www.w3.org/2000/svg}"
WIDTHS = (340, 560, 900)
FIRST = Fraction(100, 11)  # 9.0909...


def walk():
    wax = Dose(composition=Composition(name="wax"), pct_of_wax=Fraction(100))
    oil = Dose(composition=Composition(name="oil"), pct_of_wax=Fraction(8))
    return load_path(Doses(waxes=(wax,), oils=(oil,)))


def band(kind, code, *spans, words=""):
    path = walk()
    return Band(
        element=Element(kind=kind, code=code, words=words),
        spans=spans,
        now=any(span.holds(path.present) for span in spans),
        drivers=(),
        driven_at=path.present,
    )


def found(*bands):
    return Headroom(
        path=walk(), market=Market.EU, on=date(2026, 11, 25), bands=bands, breakpoints=()
    )


def example():
    high = walk().high
    return found(
        band("ban", "a <b> & c", Span(Fraction("15.2"), high)),
        band("signal word", "Warning", Span(FIRST, Fraction("14.1"), True, False)),
        band("signal word", "Danger", Span(Fraction("14.1"), high)),
        band("pictogram", "GHS07", Span(FIRST, high)),
        band("statement", "H317", Span(FIRST, high), words="May cause an allergic skin reaction."),
        band("statement", "H412", Span(Fraction(3), Fraction(3)), Span(Fraction("5.2"), high)),
        band("supplemental", "EUH208", Span(Fraction("0.84"), FIRST, True, False)),
        band("name", "bay oil", Span(Fraction("0.84"), high)),
        band("name", "moss oil", Span(Fraction(4), Fraction(12))),
        band("identifier", "UFI", Span(FIRST, high)),
        band("precaution", "P102", Span(FIRST, high)),
    )


def drawn(picture, name):
    return [e for e in ET.fromstring(picture).iter() if name in (e.get("class") or "").split()]


def words(picture):
    return [e.text for e in ET.fromstring(picture).iter(f"{SVG}text")]


@pytest.mark.parametrize("width", WIDTHS)
def test_bands_lie_where_their_spans_do(width):
    picture = headroom_bar_svg(example(), title="x", width=width)
    axis = drawn(picture, "ch-axis")[0]
    left, right = float(axis.get("x1")), float(axis.get("x2"))
    (pictogram, *_) = drawn(picture, "hr-pictogram")
    start = left + (right - left) * float(FIRST / 16)
    assert float(pictogram.get("x")) == pytest.approx(start, abs=0.02)
    assert float(pictogram.get("x")) + float(pictogram.get("width")) == pytest.approx(right, abs=1)
    now = drawn(picture, "ch-today")[0]
    assert float(now.get("x1")) == pytest.approx((left + right) / 2, abs=0.02)


@pytest.mark.parametrize("width", WIDTHS)
def test_figures_never_cover_each_other_nor_leave_the_picture(width):
    picture = headroom_bar_svg(example(), title="x", width=width)
    boxes = []
    for text in ET.fromstring(picture).iter(f"{SVG}text"):
        wide = text_width(text.text, float(text.get("font-size")))
        shift = {"middle": wide / 2, "end": wide}.get(text.get("text-anchor"), 0)
        left, base = float(text.get("x")) - shift, float(text.get("y"))
        assert left >= -1
        assert left + wide <= width + 1, text.text
        boxes.append((left, left + wide, base - 8, base, text.text))
    for one, other in combinations(boxes, 2):
        apart = one[1] <= other[0] or other[1] <= one[0] or one[3] <= other[2] or other[3] <= one[2]
        assert apart, (one, other)


def test_ends_are_rounded_to_the_safe_side():
    """9.0909 begins at 9.09 and ends at 9.1; the present load is named on both bases."""
    seen = words(headroom_bar_svg(example(), title="x", width=900))
    assert "9.09" in seen
    assert "9.1" in seen
    assert "now 8 % (7.41 % of the whole)" in seen


def test_each_kind_has_its_pattern_and_its_word():
    picture = headroom_bar_svg(example(), title="x", width=900, prefix="p")
    patterns = {e.get("id") for e in ET.fromstring(picture).iter(f"{SVG}pattern")}
    used = set(re.findall(r"url\(#([^)]+)\)", picture))
    assert used == patterns
    strokes = {e[0].get("d") for e in ET.fromstring(picture).iter(f"{SVG}pattern")}
    assert len(strokes) == len(patterns)
    seen = words(picture)
    for kind in (
        "ban on sale",
        "signal word",
        "pictogram",
        "hazard statement",
        "substance to name",
    ):
        assert kind in seen


def test_names_share_a_lane_that_counts_them():
    picture = headroom_bar_svg(example(), title="x", width=900)
    first = float(drawn(picture, "hr-name")[0].get("y"))
    lane = [e.text for e in ET.fromstring(picture).iter(f"{SVG}text")
            if first < float(e.get("y")) < first + 13]  # fmt: skip
    assert lane == ["Substances to name, how many", "0.84", "1", "2", "1"]


@pytest.mark.parametrize("standalone", [False, True])
def test_a_strict_page_takes_it_and_a_listener_hears_it(standalone):
    picture = headroom_bar_svg(example(), title="How far", prefix="p", standalone=standalone)
    for element in ET.fromstring(picture).iter():
        assert not {"style", "href"} & set(element.attrib)
        assert element.tag != f"{SVG}style"
    desc = ET.fromstring(picture).find(f"{SVG}desc").text
    assert "now 8" in desc
    assert "H317 May cause an allergic skin reaction: from 9.09" in desc


def test_a_label_with_nothing_on_it_says_so():
    picture = headroom_bar_svg(found(), title="x", width=340)
    assert any("nothing on the label" in word for word in words(picture))


def test_the_table_holds_what_the_picture_leaves_out():
    rows = {row.name: row for row in headroom_rows(example())}
    assert rows["H317 May cause an allergic skin reaction."].where == "from 9.0909"
    # 100/11 of the wax is 100 in 1200 of the whole.
    assert rows["H317 May cause an allergic skin reaction."].where_of_whole == "from 8.3333"
    assert rows["EUH208"].where == "from 0.84 to 9.091"
    assert rows["H412"].where == "at 3 only, from 5.2"
    assert rows["P102"].kind == "precautionary statement"
    assert rows["moss oil"].now
    assert not rows["Pictogram GHS07"].now
