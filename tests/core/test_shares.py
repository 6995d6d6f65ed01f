"""Splitting whole units pro rata."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.shares import split_exactly

WEIGHTS = st.lists(
    st.one_of(st.integers(0, 10**12), st.fractions(0, 10**6)), min_size=1, max_size=12
)


@given(st.integers(0, 10**15), WEIGHTS)
def test_shares_add_up_and_none_is_negative_or_a_whole_unit_off(total, weights):
    shares = split_exactly(total, weights)
    assert sum(shares) == total
    whole = sum(weights)
    for share, weight in zip(shares, weights, strict=True):
        exact = (
            Fraction(total * Fraction(weight), whole) if whole else Fraction(total, len(weights))
        )
        assert share >= 0
        assert abs(share - exact) < 1


@given(st.integers(0, 10**15), WEIGHTS)
def test_who_weighs_more_never_gets_less_and_nothing_gets_nothing(total, weights):
    shares = split_exactly(total, weights)
    if not any(weights):
        return
    for one, weight in zip(shares, weights, strict=True):
        assert one == 0 or weight > 0
        for other, lighter in zip(shares, weights, strict=True):
            assert one >= other or weight <= lighter


@given(st.integers(0, 10**9), WEIGHTS)
def test_a_negative_total_is_split_like_its_opposite(total, weights):
    assert split_exactly(-total, weights) == [-share for share in split_exactly(total, weights)]


def test_ties_go_to_the_earliest_and_no_weight_at_all_means_equal_parts():
    assert split_exactly(100, [1, 1, 1]) == [34, 33, 33]
    assert split_exactly(5, [0, 0]) == [3, 2]
    assert split_exactly(0, []) == []


def test_a_split_over_nobody_or_a_negative_weight_is_an_error():
    with pytest.raises(ValueError, match="split a total over"):
        split_exactly(1, [])
    with pytest.raises(ValueError, match="below zero"):
        split_exactly(1, [2, -1])
