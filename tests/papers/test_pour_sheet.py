"""The pour sheet: what is handed in stands on it, as text and never as markup."""

import io
from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from pypdf import PdfReader

from pourwright.core.vessel.vessel import vessel_from
from pourwright.papers.candle import drawing_of, section_svg
from pourwright.papers.documents import compile_pdf, paper_for
from pourwright.papers.pour_sheet import (
    Candle,
    Piece,
    Pitcher,
    PourSheet,
    Weighing,
    pour_sheet_pdf,
    scale_number,
    scale_places,
)

VESSEL = vessel_from(inside_diameter_mm=70, depth_mm=84)
DRAWING = str(
    section_svg(drawing_of(VESSEL, fill_ml=190), size=118, dimensions=False, standalone=True)
)


def a_pitcher(title="Quince skin", oils=3, **more):
    return Pitcher(
        title=title,
        wax_mg=1_890_000,
        mix_mg=2_041_000,
        load="8 % of the wax",
        add_at_c=Fraction(70),
        pour_at_c=Fraction(60),
        stir_minutes=Fraction(2),
        flashes=[("bay", Fraction(74))],
        weighings=[
            Weighing(name=f"oil {n}", lot=f"O-01{n:02}", target_mg=50_400, tolerance_mg=200)
            for n in range(oils)
        ],
        **more,
    )


def a_sheet(**more):
    sheet = PourSheet(
        number="B-0417",
        on=date(2026, 5, 9),
        workshop="A test workshop",
        state="",
        candles=[
            Candle(
                number=12, design="Quince in the tumbler", fill_mg=165_000, vessel="tumbler",
                wick="1 × flat braid", drawing=DRAWING, drawing_alt="tumbler",
            )
        ],
        pieces=[Piece(name="tumbler", lot="V-0007", qty=12)],
        waxes=[Weighing(name="blend A", lot="W-0031", target_mg=1_890_000, tolerance_mg=9_400)],
        pitchers=[a_pitcher()],
        division_mg=100,
        loss="2 %",
        melt_to_c=Fraction(80),
    )  # fmt: skip
    return replace(sheet, **more)


def pages_of(sheet, units="metric"):
    return PdfReader(io.BytesIO(pour_sheet_pdf(sheet, units=units))).pages


def text_of(sheet, units="metric"):
    return "\n".join(page.extract_text() for page in pages_of(sheet, units)).replace("\u00a0", " ")


def test_targets_lots_temperatures_and_cautions_stand_on_one_page():
    assert len(pages_of(a_sheet())) == 1
    text = text_of(a_sheet())
    for wanted in (
        "Pour sheet B-0417", "Saturday, 9 May 2026", "12 × Quince in the tumbler", "V-0007",
        "1,890.0", "9.4", "W-0031", "50.4", "O-0102", "80 °C", "70 °C", "60 °C", "2 min",
        "8 % of the wax", "never watered", "Gloves", "bay 74 °C", "Notes", "poured by",
    ):  # fmt: skip
        assert wanted in text, wanted


def test_adding_at_a_flash_point_is_said_loudly():
    hot = a_sheet(pitchers=[replace(a_pitcher(), add_at_c=Fraction(74))])
    assert "at or above one of them" in text_of(hot).replace("\n", " ")
    assert "at or above one of them" not in text_of(a_sheet()).replace("\n", " ")


def test_typed_text_is_never_markup():
    nasty = '#panic("x") *b* $x$ `c` \\u{41} <label> @ref // no /* no */ = no'
    text = text_of(a_sheet(workshop=nasty, note=nasty, pieces=[Piece(name=nasty, lot="V", qty=1)]))
    assert text.replace("\n", " ").count('#panic("x") *b* $x$ `c`') == 3


def test_five_pitchers_flow_over_pages_with_nothing_lost():
    many = a_sheet(pitchers=[a_pitcher(f"Pitcher {n}: scent {n}") for n in range(1, 6)])
    assert len(pages_of(many)) > 1
    text = text_of(many)
    assert all(f"scent {n}" in text for n in range(1, 6))
    assert text.count("Draw off wax") == 5


def test_the_same_sheet_is_the_same_bytes():
    assert pour_sheet_pdf(a_sheet(), units="metric") == pour_sheet_pdf(a_sheet(), units="metric")


@pytest.mark.parametrize(("units", "size"), [("metric", (595, 842)), ("us", (612, 792))])
def test_the_paper_is_the_one_in_the_printer(units, size):
    """A4 is 210 by 297 mm (ISO 216), US Letter 8.5 by 11 in (ANSI Y14.1); both from memory."""
    box = pages_of(a_sheet(), units)[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == size
    assert paper_for(units) == ("a4" if units == "metric" else "us-letter")


def test_ounces_are_shown_to_the_scale():
    assert scale_places(1417, "us") == 2  # a division of 0.05 oz
    assert scale_number(453_592, division_mg=1417, units="us") == "16.00"
    assert scale_number(12_345_600, division_mg=100, units="metric") == "12,345.6"


def test_the_document_is_tagged_and_titled():
    reader = PdfReader(io.BytesIO(pour_sheet_pdf(a_sheet(), units="metric")))
    assert reader.metadata.title == "Pour sheet B-0417"
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]


def test_a_template_sees_no_file_outside_its_folder():
    with pytest.raises(Exception, match="project root"):
        compile_pdf("../fonts/open-sans-copyright.txt", {})
