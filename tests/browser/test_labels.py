"""
From a lot to its printed sheet, through pages alone: the label is shown, changed and printed.

The sheet that comes down is read back: the paper's size, each label's text, and its fonts.
"""

from __future__ import annotations

import re
from io import BytesIO

import pypdf
import pytest
from playwright.sync_api import expect

from browser.axe import violations
from browser.maker import PHONE, Maker
from label_workshop import a_bench, a_lot

GOOD = 5


@pytest.fixture
def lot(workshop):
    return a_lot(a_bench(workshop), good=GOOD)


@pytest.fixture
def maker(lot, site):
    site.set_viewport_size(PHONE)
    return Maker(site)


def test_from_a_lot_to_its_printed_sheet(maker, lot):
    maker.go("Designs")
    maker.follow("Quince in amber")
    maker.follow("Label")
    maker.is_at("Label of Quince in amber")
    expect(maker.page.get_by_role("img", name="on the candle")).to_be_visible()
    # Shown as it is typed, and kept when it is told to be.
    maker.write("What it is", "Candle of quince and bay")
    maker.page.keyboard.press("Tab")
    expect(maker.page.get_by_text("Shown, not kept yet.")).to_be_visible()
    expect(maker.page.locator("#labels")).to_contain_text("Candle of quince and bay")
    maker.press("Keep it")
    maker.told("Kept.")
    assert violations(maker.page) == []
    maker.no_wider_than_the_screen()

    maker.go("Shelf")
    maker.follow(lot.code)
    maker.follow("Print labels")
    maker.sees("ready to print")
    with maker.page.expect_download() as coming:
        maker.press("Make the PDF")
    sheet = coming.value
    assert sheet.suggested_filename == f"labels-{lot.code}.pdf"
    with open(sheet.path(), "rb") as file:
        read = pypdf.PdfReader(BytesIO(file.read()))

    sides = {tuple(sorted(round(float(x) * 25.4 / 72) for x in page.mediabox[2:]))
             for page in read.pages}  # fmt: skip
    assert sides == {(210, 297)}
    said = " ".join(page.extract_text() for page in read.pages)
    assert said.count("Candle of quince and bay") == GOOD  # the wraps
    assert said.count("Net Wt 7.5 oz (212 g)") == GOOD
    assert said.count(lot.code) == GOOD  # the bases
    assert len(re.findall("WARNING", said)) == GOOD
    for font in (
        font.get_object() for p in read.pages for font in p["/Resources"]["/Font"].values()
    ):
        assert "/FontFile2" in font["/FontDescriptor"]

    maker.page.reload()
    maker.reads("wrap", str(GOOD))
    assert violations(maker.page) == []
    maker.no_wider_than_the_screen()
