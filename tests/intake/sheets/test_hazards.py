"""What cells of classes, factors, limits and estimates are read as."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stdnum import casrn

from pourwright.core.hazard.model import Route
from pourwright.intake.sheets.hazards import number, read_hazards
from pourwright.intake.sheets.marks import (
    cas_is_right,
    ec_is_right,
    joined,
    kind_of_head,
    numbers_in,
)


def classes(text: str) -> list[str]:
    return [str(hazard) for hazard, _ in read_hazards(text).classes]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Skin Irrit. 2, H315, Skin Sens. 1B, H317", ["Skin Irrit 2", "Skin Sens 1B"]),
        ("Skin Irrit. 2 (H315) Skin Sens. 1 (H317)", ["Skin Irrit 2", "Skin Sens 1"]),
        ("Acute Tox. 4; H302; Acute Tox. 4; H312", ["Acute 4 oral", "Acute 4 dermal"]),
        ("Acute Tox. 4 Eye Irrit. 2 H302 H319", ["Acute 4 oral", "Eye Irrit 2"]),
        ("Acute Tox. 3 (Inhalation: vapour) - H331", ["Acute 3 vapour"]),
        ("H317, H411", ["Skin Sens 1", "Chronic 2"]),
        ("Skin sensitisation, Category 1A (H317)", ["Skin Sens 1A"]),
        ("Long-term (chronic) aquatic hazard, Category 2 (H411)", ["Chronic 2"]),
        ("Hazardous to the aquatic environment, acute hazard, category 1", ["Aq Acute 1"]),
        ("Aquatic Acute 1 H400; Aquatic Chronic 1 H410", ["Aq Acute 1", "Chronic 1"]),
        ("SCI 2-EDI 2-SS 1A;H315-H319-H317", ["Skin Irrit 2", "Eye Irrit 2", "Skin Sens 1A"]),
        ("Flam. Liq. 3 / Asp. Tox. 1", ["Flam Liq 3", "Asp 1"]),
        ("Not classified", []),
        ("-", []),
    ],
)
def test_class_lists_are_read_in_every_writing(text, expected):
    assert classes(text) == expected
    assert read_hazards(text).doubts == []


@pytest.mark.parametrize(
    ("text", "acute", "chronic"),
    [
        ("Aquatic Acute 1, H400 (M=10), Aquatic Chronic 1, H410 (M=1)", 10, 1),
        ("Aquatic Acute 1; H400; Aquatic Chronic 1; H410; M(Acute)=10; M(Chronic)=1", 10, 1),
        ("Aquatic Chronic 1 H410 M-factor (chronic): 100", None, 100),
        ("Aquatic Acute 1 H400 M-Factor: 10", 10, None),
        ("H400 H410 M factor (Acute) = 1 M factor (Chronic) = 10", 1, 10),
        ("H400 H410 acute M-factor: 10, chronic M-factor: 1", 10, 1),
    ],
)
def test_m_factors_are_kept_apart(text, acute, chronic):
    found = read_hazards(text)
    assert (found.m_acute, found.m_chronic) == (acute, chronic)


def test_a_factor_for_both_is_doubted():
    found = read_hazards("Aquatic Acute 1 Aquatic Chronic 1 M-factor: 10")
    assert (found.m_acute, found.m_chronic) == (10, 10)
    assert any("taken for both" in doubt for doubt in found.doubts)


@pytest.mark.parametrize(
    ("text", "limits"),
    [
        ("Skin Sens. 1A; H317: C ≥ 0,01 %", {"Skin Sens 1A": "0.01"}),
        ("Skin Sens. 1A, H317 (0,01 ≤C < 100) Skin Sens. 1A, H317", {"Skin Sens 1A": "0.01"}),
        (
            "Skin Corr. 1B; H314; Skin Corr. 1B: C >= 5 %; Skin Irrit. 2: 1 % ≤ C < 5 %",
            {"Skin Corr 1B": "5", "Skin Irrit 2": "1"},
        ),
    ],
)
def test_specific_limits_belong_to_their_class(text, limits):
    found = read_hazards(text)
    assert {str(key): value for key, value in found.specific_limits.items()} == {
        key: Fraction(value) for key, value in limits.items()
    }


def test_a_limit_of_a_corrosive_does_not_make_it_an_irritant_too():
    text = "Skin Corr. 1B; H314; Skin Corr. 1B: C >= 5 %; Skin Irrit. 2: 1 % ≤ C < 5 %"
    assert classes(text) == ["Skin Corr 1B"]


def test_estimates_are_read_by_route():
    found = read_hazards("Acute Tox. 4 H302 ATE (oral) = 1 200 mg/kg; dermal: 1100 mg/kg")
    assert found.ate == {Route.ORAL: 1200, Route.DERMAL: 1100}


def test_a_mark_for_a_minimum_is_kept():
    assert read_hazards("Acute Tox. 4 *; H302").classes[0][1]


@settings(max_examples=60, deadline=None)
@given(st.text(st.sampled_from("H3017 Skinaqutc.;:()=≥<%M,-1ATE/*\n"), max_size=120))
def test_nothing_in_a_cell_makes_the_reading_fail(text):
    read_hazards(text)
    numbers_in(text)
    kind_of_head(text)


@settings(max_examples=60, deadline=None)
@given(st.integers(10, 9_999_999), st.integers(0, 99), st.integers(0, 9))
def test_cas_check_digits_agree_with_the_reference_library(first, second, check):
    text = f"{first}-{second:02d}-{check}"
    assert cas_is_right(text) == casrn.is_valid(text)


def test_ec_check_digits():
    # EC numbers of linalool and of d-limonene in the public inventory (from memory).
    assert ec_is_right("201-134-4")
    assert ec_is_right("227-813-5")
    assert not ec_is_right("227-813-4")


@pytest.mark.parametrize(
    ("lines", "cas", "ec"),
    [
        (["5989-27-", "5"], ["5989-27-5"], []),
        (["78-70-6", "201-", "134-4"], ["78-70-6"], ["201-134-4"]),
        (["78–70–6"], ["78-70-6"], []),
        (["01-2119474016-42-0000"], [], []),
        (["603-235-00-2"], [], []),
    ],
)
def test_numbers_broken_over_lines_come_together(lines, cas, ec):
    assert numbers_in(joined(lines))[:2] == (cas, ec)


@pytest.mark.parametrize(
    ("text", "value"), [("1 200", 1200), ("0,5", Fraction(1, 2)), ("1.000.000", 10**6), ("x", None)]
)
def test_numbers_are_read_with_either_mark(text, value):
    assert number(text) == value
