"""The parts of a composition are read as sheets and makers write them, and written the same."""

import contextlib
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import HazardClass, Kind, Range, Route
from pourwright.intake.compositions import (
    class_lines,
    estimate_lines,
    limit_lines,
    read_ate,
    read_classes,
    read_limits,
    read_m,
    read_routes,
    read_share,
    share_words,
)

SENS_1B = HazardClass(Kind.SKIN_SENS, "1B")
IRRIT_2 = HazardClass(Kind.SKIN_IRRIT, "2")
ACUTE_4 = HazardClass(Kind.ACUTE, "4", Route.ORAL)
CHRONIC_2 = HazardClass(Kind.AQ_CHRONIC, "2")


@pytest.mark.parametrize(
    ("text", "classes"),
    [
        ("Skin Irrit. 2; Skin Sens. 1B", [IRRIT_2, SENS_1B]),
        ("Skin Irrit. 2, H315, Skin Sens. 1B, H317", [IRRIT_2, SENS_1B]),
        ("Acute Tox. 4 (oral); H302\nAquatic Chronic 2 H411", [ACUTE_4, CHRONIC_2]),
        ("Acute Tox. 4, oral; Skin Sens. 1B", [ACUTE_4, SENS_1B]),
        ("Skin Sens. 1B; Skin Sens. 1B", [SENS_1B]),
        ("not classified", []),
        ("", []),
    ],
)
def test_a_list_of_classes_is_taken_apart_whole(text, classes):
    assert [hazard for hazard, _ in read_classes(text)] == classes


@pytest.mark.parametrize("text", ["Skin Sens. 1B; Smelly 3", "Acute Tox. 4", "Skin Sens 1B " * 90])
def test_no_class_of_a_list_is_dropped_in_silence(text):
    with pytest.raises(BadInput):
        read_classes(text)


@pytest.mark.parametrize(
    "text",
    [
        "Skin Sens 1B 0.01",
        "Skin Sens. 1B; H317: C ≥ 0,01 %",
        "0.01 %: Skin Sens 1B",
        "Skin Sens 1B: C >= 0.01%",
    ],
)
def test_a_specific_limit_is_read_whichever_way_round(text):
    assert read_limits(text) == {SENS_1B: Fraction("0.01")}


def test_limits_and_estimates_stand_one_a_line_or_with_semicolons():
    limits = read_limits("Skin Irrit. 2: C ≥ 5 %; Skin Sens. 1B: 0.1 %\nAquatic Chronic 2 1")
    assert limits == {
        IRRIT_2: Fraction(5), SENS_1B: Fraction("0.1"), CHRONIC_2: Fraction(1),
    }  # fmt: skip
    assert read_ate("oral 1200; dermal: 1100 mg/kg\nvapour = 3,5 mg/l") == {
        Route.ORAL: Fraction(1200), Route.DERMAL: Fraction(1100), Route.VAPOUR: Fraction("3.5"),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("reader", "text"),
    [
        (read_limits, "Skin Sens 1B"),
        (read_limits, "Skin Sens 1B 0"),
        (read_limits, "Skin Sens 1B 101"),
        (read_ate, "1200"),
        (read_ate, "oral"),
        (read_ate, "oral 0"),
        (read_m, "0.5"),
        (read_m, "ten"),
        (read_m, "-10"),
        (read_routes, "oral, nose"),
        (read_share, ""),
    ],
)
def test_what_cannot_be_is_refused_with_what_was_given(reader, text):
    with pytest.raises(BadInput) as refused:
        reader(text)
    assert not text or text.split()[-1].strip("-") in str(refused.value)


def test_an_m_factor_may_carry_its_letter():
    assert read_m("M = 10") == 10
    assert read_m("100") == 100
    assert read_m(" ") is None


percents = st.decimals(0, 100, places=4, allow_nan=False).map(Fraction)
classes = st.sampled_from(
    [SENS_1B, IRRIT_2, ACUTE_4, CHRONIC_2, HazardClass(Kind.REPR, "1B", detail="Fd"),
     HazardClass(Kind.STOT_SE, "3", detail="H336"), HazardClass(Kind.LACT)]
)  # fmt: skip


@given(st.tuples(percents, percents), st.booleans())
def test_a_share_is_written_as_it_is_read(ends, open_above):
    low, high = sorted(ends)
    share = Range(low=low, high=high, open_above=open_above and low < high)
    assert read_share(share_words(share)) == share


@given(st.lists(st.tuples(classes, st.booleans()), max_size=6, unique_by=lambda one: one[0]))
def test_classes_are_written_as_they_are_read(found):
    assert list(read_classes(class_lines(found))) == found


@given(st.dictionaries(classes, percents.filter(bool), max_size=4))
def test_limits_are_written_as_they_are_read(limits):
    assert read_limits(limit_lines(limits)) == limits


@given(st.dictionaries(st.sampled_from(Route), st.integers(1, 5000).map(Fraction), max_size=5))
def test_estimates_are_written_as_they_are_read(ate):
    assert read_ate(estimate_lines(ate)) == ate


@given(st.text(max_size=60))
def test_no_text_raises_anything_but_a_refusal(text):
    for reader in (read_share, read_classes, read_limits, read_ate, read_m, read_routes):
        with contextlib.suppress(BadInput):
            reader(text)
