"""
From a supplier's PDF to the elements of a candle's label, through pages alone.

The sheet is drawn by the generator of the reading tests. The oil goes in at 6 % of the wax, which
is 600 / 106 = 5.66 % of the whole, so that by the upper ends of the sheet's ranges:

- hexahydro-hexamethylcyclopenta-benzopyran, up to 50 %, is 2.83 % of the candle; it is Aquatic
  Chronic 1 with M = 1, and 10 x 2.83 reaches the 25 % of Chronic 2 (CLP Annex I, Table 4.1.2): H411
  with GHS09, and no signal word;
- linalool and caryophyllene, each up to 2.5 %, are 0.1415 %: above the 0.1 % from which a
  sensitiser is named (Table 3.4.6) and below the 1 % that classifies (Table 3.4.5): EUH208.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from browser.axe import violations
from browser.maker import DESK, Maker
from intake.sheets.making import make
from pour_examples import a_bench

RECKONED_WITH = {("1222-05-5", "50"), ("78-70-6", "2.5"), ("87-44-5", "2.5")}


@pytest.fixture
def maker(workshop, site):
    workshop.markets = "eu"
    a_bench(workshop)
    site.set_viewport_size(DESK)
    return Maker(site)


def test_from_a_safety_sheet_to_the_label(maker):
    drawn = make("ruled grid", seed=2)
    assert {(row.cas, row.high) for row in drawn.truth.rows} >= RECKONED_WITH
    maker.go("Formulas")
    maker.follow("Fig")
    maker.sees("Not complete.")
    maker.follow("fig leaf", within=maker.sheet("Hazard and label"))
    maker.follow("Add a safety sheet")
    file = {"name": "tea auction.pdf", "mimeType": "application/pdf", "buffer": drawn.data}
    maker.page.locator("input[type=file]").set_input_files(file)
    maker.press("Read it")
    maker.told(f"{len(drawn.truth.rows)} substances were found")
    expect(maker.rows("CAS number").first).to_have_value(drawn.truth.rows[0].cas)
    maker.press("Confirm: this is what is in it")
    maker.go("Formulas")
    maker.follow("Fig")
    label = maker.page.get_by_role("group", name="The elements as they would stand on the label")
    expect(label).to_contain_text("Toxic to aquatic life with long lasting effects. H411")
    expect(label).to_contain_text("May produce an allergic reaction. EUH208")
    expect(label.get_by_role("img", name="GHS09")).to_be_visible()
    expect(label).not_to_contain_text("Warning")
    why = maker.page.locator("summary", has_text="EUH208")
    why.click()
    maker.sees("Annex I, Table 3.4.6")
    assert violations(maker.page) == []
    # At 1 % of the wax the first is 0.495 %: 100 times that still reaches Chronic 3, H412.
    maker.follow("Try other shares and loads")
    maker.write("Load, per cent", "1")
    expect(label).to_contain_text("Harmful to aquatic life with long lasting effects. H412")
    expect(label).not_to_contain_text("allergic")
