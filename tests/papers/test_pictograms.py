"""The hazard pictograms: nine, unlike, square on a point, and the same on a page and on paper."""

import io
import re
import xml.etree.ElementTree as ET
from itertools import combinations
from math import hypot, sqrt

import pytest
from reportlab.pdfgen.canvas import Canvas

from pourwright.papers.pictograms import (
    CODES,
    NAMES,
    UNITS,
    UnknownPictogram,
    diagonal_mm,
    pictogram_layers,
    pictogram_svg,
)

SVG = "{http://www.w3.org/2000/svg}"
EDGE = 120  # pixels of the small pictures that are compared


def steps(data):
    """Return a path as commands with their numbers."""
    return [
        (command, [float(figure) for figure in numbers.split()])
        for command, numbers in re.findall(r"([MLCZ])([-\d. ]*)", data)
    ]


def drawn(code):
    """Return the rows of grey pixels of a pictogram, drawn as a label draws it."""
    import pypdfium2

    paper = io.BytesIO()
    canvas = Canvas(paper, pagesize=(UNITS, UNITS))
    canvas.setStrokeColor("#000000")
    for layer in pictogram_layers(code):
        path = canvas.beginPath()
        for command, at in steps(layer.data):
            points = [value if place % 2 == 0 else UNITS - value for place, value in enumerate(at)]
            {"M": path.moveTo, "L": path.lineTo, "C": path.curveTo, "Z": path.close}[command](
                *points
            )
        canvas.setFillColor({"#fff": "#ffffff", "#000": "#000000"}.get(layer.fill, layer.fill))
        canvas.setLineWidth(layer.stroke_width)
        canvas.drawPath(path, fill=1, stroke=1 if layer.stroke_width else 0)
    canvas.save()
    page = pypdfium2.PdfDocument(paper.getvalue())[0]
    return page.render(scale=EDGE / UNITS, rev_byteorder=True).to_pil().convert("RGB")


@pytest.fixture(scope="module")
def pictures():
    return {code: drawn(code) for code in CODES}


def test_there_are_nine():
    assert [f"GHS0{number}" for number in range(1, 10)] == list(CODES)


@pytest.mark.parametrize("code", CODES)
def test_a_pictogram_is_a_square_standing_on_a_point(code):
    """CLP Annex I, 1.2.1.1; the view box is its diagonal."""
    frame, ground = pictogram_layers(code)[:2]
    for layer, half in ((frame, UNITS / 2), (ground, 421)):
        corners = [tuple(at) for command, at in steps(layer.data) if command in "ML"]
        middle = UNITS / 2
        assert {(round(x - middle), round(y - middle)) for x, y in corners} == {
            (0, -half), (half, 0), (0, half), (-half, 0),
        }  # fmt: skip
        sides = [
            hypot(x - u, y - v)
            for (x, y), (u, v) in zip(corners, corners[1:] + corners[:1], strict=True)
        ]
        assert sides == pytest.approx([half * sqrt(2)] * 4)
    assert (frame.fill, ground.fill) == ("#e3000f", "#fff")


@pytest.mark.parametrize("code", CODES)
def test_a_symbol_is_black_and_stays_within_the_white_ground(code):
    symbol = pictogram_layers(code)[2:]
    assert symbol
    assert {layer.fill for layer in symbol} <= {"#000", "#fff"}
    for layer in symbol:
        for _, at in steps(layer.data):
            for x, y in zip(at[::2], at[1::2], strict=True):
                assert abs(x - UNITS / 2) + abs(y - UNITS / 2) < 421


@pytest.mark.parametrize("code", CODES)
def test_it_is_drawn_red_white_and_black(code, pictures):
    picture = pictures[code]
    red = picture.getpixel((EDGE // 2, 4))
    assert red[0] > 200
    assert max(red[1:]) < 40
    assert picture.getpixel((3, 3)) == (255, 255, 255)  # outside the square
    dark = sum(grey < 60 for grey in picture.convert("L").tobytes())
    assert 0.01 < dark / EDGE**2 < 0.3


def test_no_two_look_alike(pictures):
    greys = {code: picture.convert("L").tobytes() for code, picture in pictures.items()}
    for one, other in combinations(CODES, 2):
        differing = sum(
            first != second for first, second in zip(greys[one], greys[other], strict=True)
        )
        assert differing > 0.03 * EDGE**2, f"{one} and {other}"


@pytest.mark.parametrize("code", CODES)
def test_a_page_gets_it_with_its_name_and_without_a_style(code):
    root = ET.fromstring(pictogram_svg(code))
    assert root.get("viewBox") == f"0 0 {UNITS} {UNITS}"
    assert root.find(f"{SVG}title").text == f"{code}, {NAMES[code]}"
    assert root.get("aria-labelledby") == root.find(f"{SVG}title").get("id")
    for element in root.iter():
        assert not {"style", "href"} & set(element.attrib)
        assert element.tag in {f"{SVG}svg", f"{SVG}title", f"{SVG}path"}
    fills = [path.get("fill") for path in root.iter(f"{SVG}path")]
    assert fills == [layer.fill for layer in pictogram_layers(code)]


def test_true_to_size_it_is_as_wide_as_the_square_is_across():
    """A side of 16 mm needs 22.63 mm of paper."""
    root = ET.fromstring(pictogram_svg("GHS07", side_mm=16))
    assert root.get("width") == root.get("height") == "22.63mm"
    assert diagonal_mm(16) == pytest.approx(22.627, abs=0.0005)


def test_beside_its_own_words_it_is_silent():
    root = ET.fromstring(pictogram_svg("GHS09", decorative=True, class_="small"))
    assert root.get("aria-hidden") == "true"
    assert root.get("class") == "small"
    assert root.find(f"{SVG}title") is None


def test_a_code_that_is_none_is_told():
    with pytest.raises(UnknownPictogram, match=r'"GHS10" is no hazard pictogram.*GHS01'):
        pictogram_svg("GHS10")
