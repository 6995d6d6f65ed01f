"""Plans of panels: codes that say nothing, orders that are balanced, cautions that are there."""

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from conftest import ON
from pourwright.core.panel_plans import (
    codes,
    odd_jar,
    panel_cautions,
    ranking_orders,
    triangle_orders,
    williams_square,
)
from pourwright.core.panels import BadPanel


@pytest.mark.parametrize("candles", range(2, 9))
def test_each_candle_stands_everywhere_and_after_every_other_equally_often(candles):
    square = williams_square(candles)
    assert len(square) == (2 * candles if candles % 2 else candles)
    assert all(sorted(order) == list(range(candles)) for order in square)
    places = Counter((place, one) for order in square for place, one in enumerate(order))
    assert len(places) == candles**2
    assert len(set(places.values())) == 1
    follows = Counter(pair for order in square for pair in pairwise(order))
    assert len(follows) == candles * (candles - 1)
    assert len(set(follows.values())) == 1


@settings(max_examples=25, deadline=None)
@given(st.integers(2, 40), st.integers(0, 2**32), st.integers(2, 6))
def test_a_panel_of_any_size_is_as_balanced_as_it_can_be(assessors, seed, candles):
    orders = ranking_orders(candles=candles, assessors=assessors, seed=seed)
    whole = len(williams_square(candles))
    seen = Counter(orders)
    assert len(orders) == assessors
    assert max(seen.values()) - min(seen[order] for order in williams_square(candles)) <= 1
    assert max(seen.values()) <= -(-assessors // whole)
    # A larger panel begins with the same orders.
    more = ranking_orders(candles=candles, assessors=assessors + 3, seed=seed)
    assert more[:assessors] == orders


@settings(max_examples=25, deadline=None)
@given(st.integers(2, 60), st.integers(0, 2**32))
def test_the_six_orders_of_a_triangle_come_equally_often(assessors, seed):
    orders = triangle_orders(assessors=assessors, seed=seed)
    kinds = Counter(tuple(jar // 2 for jar in jars) for jars in orders)
    assert sum(kinds.values()) == assessors
    assert max(kinds.values()) - (min(kinds.values()) if len(kinds) == 6 else 0) <= 1
    for jars in orders:
        odd = odd_jar(jars)
        assert [jar // 2 for jar in jars].count(odd // 2) == 1


@pytest.mark.parametrize("jars", [(0, 0, 2), (0, 1, 1), (0, 1, 4), (2, 3, 2)])
def test_three_jars_that_are_no_triangle_are_refused(jars):
    with pytest.raises(BadPanel):
        odd_jar(jars)


def test_codes_are_three_digits_and_all_different():
    made = codes(8, seed=11)
    assert len(set(made)) == 8
    assert all(len(code) == 3 and code[0] != "0" and len(set(code)) > 1 for code in made)
    assert codes(8, seed=11) == made != codes(8, seed=12)
    with pytest.raises(BadPanel):
        codes(0, seed=1)


@pytest.mark.parametrize(("candles", "assessors"), [(1, 6), (13, 6), (3, 1), (3, 2000)])
def test_a_plan_that_cannot_be_is_refused(candles, assessors):
    with pytest.raises(BadPanel):
        ranking_orders(candles=candles, assessors=assessors, seed=1)


def test_people_are_asked_before_they_smell():
    said = panel_cautions(on=ON)
    words = " ".join(said.before)
    for asked in ("asthma", "allergies", "pregnancy", "may stop"):
        assert asked in words
    assert "fresh air" in said.stop
    assert said.status == "common practice, no source"
