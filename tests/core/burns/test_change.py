"""What a change of a tested candle asks to be tested again."""

from dataclasses import fields, replace
from fractions import Fraction

import pytest

from burn_examples import CHANGES, ON, TESTED
from pourwright.core.burns.change import Fingerprint, difference
from pourwright.core.rules import rule


def test_the_same_candle_asks_for_nothing():
    turned = replace(TESTED, waxes=TESTED.waxes[::-1], oils=TESTED.oils[::-1])
    found = difference(TESTED, turned, on=ON)
    assert (found.changed, found.tests) == ((), ())
    assert found.series_stands


@pytest.mark.parametrize("field", [field.name for field in fields(Fingerprint)])
def test_a_change_of_any_part_asks_for_burning_again(field):
    found = difference(TESTED, replace(TESTED, **{field: CHANGES[field]}), on=ON)
    assert len(found.changed) == 1
    assert not found.series_stands
    assert all(test.because == found.changed for test in found.tests)


def test_which_tests_a_change_asks_for():
    found = difference(TESTED, replace(TESTED, vessel="Tumbler 82"), on=ON)
    assert {test.key for test in found.tests} == {"series", "vessel", "fill"}
    found = difference(TESTED, replace(TESTED, wick_revision="2"), on=ON)
    assert {test.key for test in found.tests} == {"one_life", "wick"}


def test_the_whole_series_takes_the_single_life_with_it():
    found = difference(
        TESTED, replace(TESTED, load_pct_of_wax=Fraction(8), wick_revision="2"), on=ON
    )
    keys = [test.key for test in found.tests]
    assert "series" in keys
    assert "one_life" not in keys
    assert found.tests[0].because == ("fragrance load", "supplier's revision of the wick")


def test_every_part_has_its_row_and_every_row_its_part():
    rows = rule("burns/after_a_change", on=ON)["parts"]
    assert [row["key"] for row in rows] == [field.name for field in fields(Fingerprint)]


def test_a_revision_first_written_down_after_the_test_is_no_change():
    unknown = replace(TESTED, wax_revisions=(), oil_revisions=(("Cedar", ""),), wick_revision="")
    assert difference(unknown, TESTED, on=ON).changed == ()
    assert difference(TESTED, unknown, on=ON).changed, "one struck out is"
