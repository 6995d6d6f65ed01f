"""Shipped substances, CAS numbers and how a sheet's word joins a harmonised row."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import casrn

from pourwright.core.hazard.model import Authority, Market, Route
from pourwright.core.hazard.reference import (
    BadCas,
    cas_is_valid,
    check_cas,
    reference,
    substance,
)
from pourwright.core.hazard.severity import counting_entries
from pourwright.core.hazard.words import write_class

ON = date(2026, 11, 24)


def counting(one, *, market=Market.EU, on=ON):
    return [write_class(e.hazard) for e in counting_entries(one, market=market, on=on).values()]


@given(first=st.integers(10, 9_999_999), second=st.integers(0, 99), last=st.integers(0, 9))
def test_the_check_digit_agrees_with_a_reference_library(first, second, last):
    number = f"{first}-{second:02}-{last}"
    assert cas_is_valid(number) == casrn.is_valid(number)


def test_every_shipped_number_is_valid_by_a_reference_library_too():
    assert all(casrn.is_valid(number) for number in reference())


def test_a_mistyped_number_says_what_would_be_right():
    with pytest.raises(BadCas, match="check digit would be 6"):
        check_cas("78-70-5")


@pytest.mark.parametrize("written", [" 78-70-6 ", "78‑70‑6", "78706", "000078-70-6", "78-\n70-6"])
def test_a_number_is_read_as_sheets_wrap_it(written):
    assert check_cas(written) == "78-70-6"


def test_every_row_says_how_it_was_come_by():
    told = {"read", "from memory, high", "from memory, medium"}
    found = {entry.status for one in reference().values() for entry in one.entries}
    assert found == told


def test_a_harmonised_class_stays_and_the_sheet_adds_what_it_does_not_cover():
    one = substance("5392-40-5", classes=["Skin Sens 1B", "Eye Irrit 2"])
    assert sorted(counting(one)) == ["Eye Irrit 2", "Skin Irrit 2", "Skin Sens 1"]


def test_a_minimum_class_gives_way_to_a_more_severe_word_of_the_supplier():
    milder = substance("120-51-4", classes=["Acute 5 oral"])
    worse = substance("120-51-4", classes=["Acute 3 oral"])
    assert "Acute 4 oral" in counting(milder)
    assert "Acute 3 oral" in counting(worse)


def test_a_sheet_replaces_what_was_only_written_down_from_memory():
    assert "Eye Irrit 2" in counting(substance("97-53-0"))
    assert counting(substance("97-53-0", classes=["Skin Sens 1"])) == ["Skin Sens 1"]


def test_what_suppliers_usually_add_is_told_until_a_sheet_is_entered():
    assert "Eye Dam 1" in substance("106-24-1").note
    assert "Eye Dam 1" not in counting(substance("106-24-1"))
    assert substance("106-24-1", classes=["Skin Irrit 2"]).note == ""


def test_a_harmonised_estimate_outranks_the_sheets():
    one = substance("100-51-6", ate={Route.ORAL: Fraction(1700), Route.DERMAL: Fraction(1900)})
    assert one.ate == {Route.ORAL: 1200, Route.DERMAL: 1900}


def test_a_dated_row_counts_from_its_day_and_only_in_its_market():
    one = substance("111-12-6")
    assert counting(one, on=date(2027, 1, 31)) == []
    assert counting(one, on=date(2027, 2, 1)) == ["Skin Sens 1A"]
    assert counting(one, market=Market.GB, on=date(2027, 2, 1)) == []


def test_a_substance_needs_a_name_or_a_number():
    with pytest.raises(BadCas, match="name or a CAS number"):
        substance()


def test_harmonised_rows_are_marked_so():
    (entry,) = substance("78-70-6").entries
    assert entry.authority is Authority.HARMONISED
