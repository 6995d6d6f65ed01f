"""Invented sheets of many layouts, read and compared with what they say; refusals and bounds."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from fractions import Fraction

import pytest

from intake.sheets.comparing import compare, facts_wrong
from intake.sheets.hostile import BOUNDED, REFUSED, nested_forms
from intake.sheets.making import LAYOUTS, make, scan, stamped_scan
from pourwright.core.hazard.model import Route
from pourwright.intake.sheets import LIMITS, Limits, SheetUnreadable, page_picture, read_sheet
from pourwright.intake.sheets.layout import layout_of
from pourwright.intake.sheets.meaning import reading_from
from pourwright.intake.sheets.pages import pages_of


def read_here(data: bytes):
    """Read a sheet of our own making in this process; strangers' sheets get a child."""
    return reading_from(layout_of(pages_of(data, LIMITS), LIMITS))


@pytest.mark.parametrize("layout", sorted(LAYOUTS))
def test_every_row_of_a_layout_is_read_as_its_sheet_says(layout):
    made = make(layout, seed=101)
    reading = read_here(made.data)
    right, beyond, wrong = compare(made.truth, reading)
    assert right["row"] == len(made.truth.rows), wrong
    assert beyond == 0, wrong
    if layout != "Spanish":  # its table is read; its single facts are in words not known here
        assert facts_wrong(made.truth, reading) == []


@pytest.mark.parametrize("layout", ["ruled grid", "two columns", "turned page", "long with heads"])
def test_a_rows_box_holds_its_number_on_its_page(layout):
    made = make(layout, seed=102)
    pages = pages_of(made.data, LIMITS)
    for row in read_here(made.data).rows:
        page = pages[row.page - 1]
        x0, y0, x1, y1 = row.box
        inside = "".join(
            word.text
            for word in page.words
            if x0 - 0.001 <= word.x0 / page.width
            and word.x1 / page.width <= x1 + 0.001
            and y0 - 0.001 <= word.y0 / page.height
            and word.y1 / page.height <= y1 + 0.001
        )
        assert row.cas in inside
        assert 0 < (x1 - x0) * (y1 - y0) < 0.2, "a row is a small part of its page"


def test_a_child_reads_the_same_as_this_process():
    made = make("stacked numbers", seed=103)
    assert read_sheet(made.data) == read_here(made.data)


@pytest.mark.parametrize("scanned", [scan, stamped_scan])
def test_a_scanned_sheet_says_that_it_has_to_be_typed(scanned):
    reading = read_here(scanned(make("ruled grid", seed=104)))
    assert not reading.has_text
    assert reading.rows == ()
    assert "Type the composition" in reading.notes[0]


def test_a_page_is_shown_as_a_picture_of_the_asked_width():
    picture = page_picture(make("American", seed=105).data, 1, width_px=400)
    assert picture.startswith(b"\x89PNG")
    assert int.from_bytes(picture[16:20], "big") == 400


# --- what is refused, what is bounded ------------------------------------------------------------


@pytest.mark.parametrize("name", ["empty", "a web page", "a spreadsheet", "too large"])
def test_what_is_no_pdf_is_refused_without_opening_it(name, monkeypatch):
    monkeypatch.setattr(subprocess, "Popen", None)
    data, word = REFUSED[name]
    with pytest.raises(SheetUnreadable, match=word):
        read_sheet(data())


@pytest.mark.parametrize(
    "name", ["locked", "broken", "no pages", "ten thousand pages", "a page tree in a circle"]
)
def test_a_pdf_that_cannot_be_opened_is_refused_and_the_message_says_why(name):
    data, word = REFUSED[name]
    with pytest.raises(SheetUnreadable, match=word):
        pages_of(data(), LIMITS)


@pytest.mark.parametrize("name", ["a thing in itself", "unpacks to gigabytes", "a vast page"])
def test_a_strange_page_ends_within_its_bounds(name):
    reading = read_here(BOUNDED[name]())
    assert reading.page_count == 1


def test_a_page_too_full_of_letters_is_cut_short_and_the_maker_is_told():
    reading = read_here(BOUNDED["too many letters"]())
    assert any("not read to its end" in note for note in reading.notes)


def test_a_pdf_that_takes_too_long_is_given_up_and_its_child_ended():
    began = time.monotonic()
    with pytest.raises(SheetUnreadable, match="longer than 2 s"):
        read_sheet(nested_forms(depth=40, times=40), limits=Limits(seconds=2, memory_mib=20_000))
    assert time.monotonic() - began < 15


@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="only Linux holds a limit of memory for certain"
)
def test_a_pdf_that_takes_too_much_memory_is_given_up():
    with pytest.raises(SheetUnreadable, match="128 MB"):
        read_sheet(nested_forms(), limits=Limits(memory_mib=128))


def test_a_child_is_not_told_what_this_process_was(monkeypatch):
    monkeypatch.setenv("POURWRIGHT_SECRET_FOR_THIS_TEST", "hush")
    seen = {}
    real = subprocess.Popen

    def spy(*words, **more):
        seen.update(more["env"])
        return real(*words, **more)

    monkeypatch.setattr(subprocess, "Popen", spy)
    with pytest.raises(SheetUnreadable):
        read_sheet(b"%PDF-1.4 no more of it")
    assert "POURWRIGHT_SECRET_FOR_THIS_TEST" not in seen
    assert seen["PYTHONPATH"].split(os.pathsep)[0].endswith("src")


def test_a_page_that_is_not_there_is_refused():
    with pytest.raises(SheetUnreadable, match="no page 99"):
        page_picture(make("American", seed=106).data, 99, width_px=100)


# --- doubts --------------------------------------------------------------------------------------


def raw(**changes) -> dict:
    row = {
        "name": "Linalool", "cas": "78-70-6", "ec": "201-134-4", "pct": "5 - <10 %",
        "classes": "Skin Sens. 1B, H317", "places": [[1, [0, 0, 1, 0.1]]], "doubts": [],
    }  # fmt: skip
    return {
        "pages": [[595, 842]], "clipped": [], "letters": 900, "odd": 0, "rows": [row | changes],
        "row_count": 1, "facts": {}, "dates": [], "notes": [],
    }  # fmt: skip


def test_a_good_row_has_no_doubts():
    (row,) = reading_from(raw()).rows
    assert row.doubts == ()
    assert (row.pct.low, row.pct.high, row.pct.open_above) == (5, 10, True)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"cas": "78-70-7"}, "check digit of 78-70-7"),
        ({"cas": ""}, "No CAS number"),
        ({"ec": "201-134-5"}, "EC number 201-134-5"),
        ({"pct": "about a third"}, "about a third"),
        ({"pct": ""}, "No share"),
        ({"name": ""}, "No name"),
        ({"classes": "Sneezy 4, H317"}, "Sneezy"),
        ({"classes": "Acute Tox. 4"}, "route"),
        ({"classes": ""}, "hazard classes"),
        ({"classes": "H300"}, "leaves the category open"),
    ],
)
def test_what_is_doubtful_is_kept_as_text_and_said(changes, word):
    (row,) = reading_from(raw(**changes)).rows
    assert any(word in doubt for doubt in row.doubts), row.doubts
    assert row.pct_text == changes.get("pct", "5 - <10 %")
    assert row.classes_text == changes.get("classes", "Skin Sens. 1B, H317")


def test_shares_of_more_than_the_whole_are_noticed():
    reading = reading_from(raw(pct="120"))
    assert reading.rows[0].pct is None
    many = raw(pct="60 - 70")
    many["rows"] *= 2
    assert any("more than 100 %" in note for note in reading_from(many | {"row_count": 2}).notes)


def facts(**texts) -> dict:
    return raw() | {"facts": {name: [text, [1, [0, 0, 1, 1]]] for name, text in texts.items()}}


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("72 °C (closed cup)", 72),
        ("> 93 °C", 93),
        ("(closed cup) 161.6 °F", 72),
        ("158°F (70°C) Tag closed cup", 70),
        ("[°C]: 65,5", Fraction("65.5")),
        ("60 - 65 °C", 60),
        ("not applicable", None),
        ("88", None),
        ("9000 °C", None),
    ],
)
def test_flash_points_are_read_in_either_unit(text, celsius):
    # 161.6 °F is 72 °C and 158 °F is 70 °C exactly: °C = (°F - 32) * 5/9.
    assert reading_from(facts(flash_point=text)).flash_point_c == celsius


@pytest.mark.parametrize(
    ("text", "g_ml"),
    [
        ("0.945 g/cm³ at 20 °C", "0.945"),
        ("(20 °C) 0,945", "0.945"),
        ("at 20 °C: 0.945 kg/l", "0.945"),
        ("945 kg/m³", "0.945"),
        ("0.93 - 0.96 g/ml", "0.945"),
        ("none", None),
        ("12", None),
    ],
)
def test_densities_are_read_in_their_units(text, g_ml):
    found = reading_from(facts(density=text)).density_g_ml
    assert found == (Fraction(g_ml) if g_ml else None)


@pytest.mark.parametrize(
    ("text", "dates", "iso"),
    [
        ("12.03.2026", [], "2026-03-12"),
        ("2026-03-12", [], "2026-03-12"),
        ("12 March 2026", [], "2026-03-12"),
        ("March 12, 2026", [], "2026-03-12"),
        ("12-Mär-2026", [], "2026-03-12"),
        ("03/12/2026", ["Printed 04/25/2026"], "2026-03-12"),
        ("12/03/2026", ["Printed 25/04/2026"], "2026-03-12"),
        ("12/03/2026", [], "2026-03-12"),
        ("31.02.2026", [], None),
    ],
)
def test_dates_are_read_as_the_sheet_writes_them(text, dates, iso):
    found = reading_from(facts(sheet_date=text) | {"dates": dates}).sheet_date
    assert (found.isoformat() if found else None) == iso


def test_an_unclear_date_is_said_to_be_unclear():
    reading = reading_from(facts(sheet_date="12/03/2026"))
    assert any("day, then month" in note for note in reading.notes)


def test_unknown_acute_toxicity_is_read_by_route():
    text = "12.5 % of the mixture consists of ingredients of unknown acute toxicity (dermal)"
    assert reading_from(facts(unknown_acute=text)).unknown_acute_pct == {
        Route.DERMAL: Fraction(25, 2)
    }
