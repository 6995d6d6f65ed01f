"""The industry code's limits: what always holds, and what is said where something lacks."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.hazard.code_limits import (
    NO_RESTRICTION,
    BadOilLimit,
    CodeOil,
    code_limits,
)

ON = date(2026, 11, 24)
SHARES = st.fractions(min_value=Fraction(1, 100), max_value=100, max_denominator=100)
LIMITS = st.fractions(min_value=Fraction(1, 10), max_value=100, max_denominator=100)
BLENDS = st.lists(
    st.builds(CodeOil, name=st.text(max_size=4), share=SHARES, limit_pct_of_whole=LIMITS),
    min_size=1,
    max_size=6,
)


def oil(name, share, limit):
    return CodeOil(
        name=name,
        share=Fraction(share),
        limit_pct_of_whole=None if limit is None else Fraction(limit),
    )


@given(BLENDS)
def test_what_suffices_together_suffices_for_each(blend):
    found = code_limits(blend, on=ON)
    assert found.together_pct_of_whole <= found.each_pct_of_whole <= 100


@given(BLENDS, st.fractions(min_value=0, max_value=100, max_denominator=100))
def test_the_loads_and_the_answers_at_a_load_agree(blend, load):
    found = code_limits(blend, on=ON, load_pct_of_whole=load)
    assert found.within_each == all(row.within for row in found.oils)
    assert found.within_together == (found.used <= 1)


@given(BLENDS)
def test_at_its_highest_load_the_room_is_just_full(blend):
    highest = code_limits(blend, on=ON).together_pct_of_whole
    used = code_limits(blend, on=ON, load_pct_of_whole=highest).used
    assert used == 1 or (highest == 100 and used < 1)


def test_a_single_oil_may_be_as_much_as_its_limit_by_both_tests():
    found = code_limits([oil("fig", 1, "6.5")], on=ON)
    assert found.each_pct_of_whole == found.together_pct_of_whole == Fraction("6.5")


def test_oils_without_restriction_never_bind():
    found = code_limits([oil("fig", 2, 100), oil("bay", 1, NO_RESTRICTION)], on=ON)
    assert found.each_pct_of_whole == found.together_pct_of_whole == 100
    assert found.tightest == ()


def test_an_oil_without_restriction_still_takes_room_beside_one_that_has_a_limit():
    """What it holds of a restricted substance may be just within its limit in the pure oil."""
    found = code_limits([oil("fig", 1, 5), oil("bay", 1, 100)], on=ON)
    assert found.each_pct_of_whole == 10
    assert found.together_pct_of_whole == 1 / (Fraction(1, 10) + Fraction(1, 200))


def test_an_oil_that_may_not_be_used_leaves_no_load():
    found = code_limits([oil("fig", 1, 0), oil("bay", 1, 20)], on=ON, load_pct_of_whole=Fraction(1))
    assert found.each_pct_of_whole == found.together_pct_of_whole == 0
    assert found.within_each is False
    assert found.within_together is False
    assert found.used is None


def test_an_oil_without_a_certificate_is_named_and_left_out():
    found = code_limits([oil("fig", 1, 5), oil("bay", 1, None)], on=ON)
    assert found.unknown == ("bay",)
    assert found.each_pct_of_whole == 10


def test_an_oil_without_a_share_is_no_part_of_it():
    assert code_limits([oil("fig", 1, 5), oil("bay", 0, 1)], on=ON).each_pct_of_whole == 5


def test_what_such_a_limit_is_stands_beside_it():
    found = code_limits([oil("fig", 1, 5)], on=ON)
    assert found.standing.startswith("industry code, binding on members only")
    assert found.rule.source


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: oil("fig", -1, 5), "fig is below zero"),
        (lambda: oil("fig", 1, 101), '101 %.*"No restriction" is 100 %'),
        (lambda: code_limits([oil("fig", 0, 5)], on=ON), "at least one"),
        (lambda: code_limits([oil("a", 1, 5)], on=ON, load_pct_of_whole=Fraction(101)), "101 %"),
    ],
)
def test_figures_that_no_blend_has_are_told(wrong, said):
    with pytest.raises(BadOilLimit, match=said):
        wrong()
