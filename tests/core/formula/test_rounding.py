"""Weighing targets against full enumeration."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from formula_examples import FORMULAS, formula
from pourwright.core.formula import (
    BadDivision,
    LoadOfWax,
    LoadOfWhole,
    batch_for_wax,
    spread,
    weighing_targets,
)

WANTED = st.lists(st.fractions(0, 6, max_denominator=50), min_size=1, max_size=4)


def squared_error(parts, wanted):
    return sum((part - want) ** 2 for part, want in zip(parts, wanted, strict=True))


def worst_error(parts, wanted):
    return max(abs(part - want) for part, want in zip(parts, wanted, strict=True))


def every_way(total, most):
    """All whole divisions within the bounds that add up to the total."""
    ranges = [range(bound + 1) for bound in most]
    return [parts for parts in product(*ranges) if sum(parts) == total]


@given(WANTED)
def test_no_other_rounding_of_the_same_total_is_closer_by_either_measure(wanted):
    total = round(sum(wanted))
    parts = spread(wanted, total=total)
    others = every_way(total, [8] * len(wanted))
    assert sum(parts) == total
    assert squared_error(parts, wanted) == min(squared_error(way, wanted) for way in others)
    assert worst_error(parts, wanted) == min(worst_error(way, wanted) for way in others)


@given(WANTED, st.data())
def test_with_upper_bounds_it_is_still_the_closest(wanted, data):
    most = [data.draw(st.integers(0, 8)) for _ in wanted]
    total = min(round(sum(wanted)), sum(most))
    parts = spread(wanted, total=total, most=most)
    ways = every_way(total, most)
    assert tuple(parts) in ways
    assert squared_error(parts, wanted) == min(squared_error(way, wanted) for way in ways)


@given(WANTED, st.integers(0, 30))
def test_any_other_total_is_spread_as_closely_too(wanted, total):
    assume(total <= 8 * len(wanted))
    parts = spread(wanted, total=total)
    ways = every_way(total, [max(8, *parts)] * len(wanted))
    assert squared_error(parts, wanted) == min(squared_error(way, wanted) for way in ways)


def test_bounds_that_leave_no_room_give_less_than_the_total():
    assert spread([Fraction(3), Fraction(3)], total=6, most=[2, 2]) == [2, 2]


@given(FORMULAS, st.fractions(500, 20000), st.sampled_from(["0.01", "0.1", "1", "5"]))
def test_what_is_weighed_is_on_the_scale_and_the_total_is_off_by_half_a_division_at_most(
    made, wax_g, division
):
    division_g = Fraction(division)
    batch = batch_for_wax(made, wax_g=wax_g)
    weighing = weighing_targets(made, batch, division_g=division_g)
    for target in (*weighing.waxes, *weighing.oils, *weighing.extras):
        assert (target.weigh_g / division_g).denominator == 1
        assert abs(target.error_g) < division_g
    assert abs(weighing.oil_g - batch.oil_g) <= division_g / 2
    assert abs(weighing.wax_g - batch.wax_g) <= division_g / 2
    assert sum(target.share_error_points for target in weighing.oils) in (0, -100)
    assert sum(target.load_error_points for target in weighing.oils) == weighing.load_error_points
    assert weighing.load_pct_of_whole * weighing.mix_g == 100 * weighing.oil_g


@given(
    st.lists(st.integers(1, 99), min_size=2, max_size=6),
    st.fractions(1, 12),
    st.fractions(200, 5000),
    st.sampled_from(["0.1", "1", "2"]),
    st.data(),
)
def test_no_rounding_goes_above_a_limit(shares, load_pct, wax_g, division, data):
    """Limits exactly at, or a little above, what the formula asks for."""
    whole = sum(shares)
    slack = data.draw(st.sampled_from([Fraction(1), Fraction("1.01")]))
    load = LoadOfWhole(load_pct)
    limits = [str(load_pct * share / whole * slack) for share in shares]
    made = formula(load=load, max_load=load, oil_shares=shares, oil_limits=limits)
    batch = batch_for_wax(made, wax_g=wax_g)
    weighing = weighing_targets(made, batch, division_g=Fraction(division))
    for target, oil in zip(weighing.oils, made.oils, strict=True):
        assert 100 * target.weigh_g <= oil.max_pct_of_whole * weighing.mix_g
    assert weighing.load_pct_of_whole <= load_pct
    if batch.oil_g - weighing.oil_g > weighing.division_g / 2:
        assert "held_back_by_limit" in [finding.code for finding in weighing.findings]


def test_a_reason_to_pass_the_waxs_limit_lets_the_total_round_up():
    """10 % of 106 g is 10.6 g: 11 g is nearer, 10 g within the limit."""
    made = formula(load=LoadOfWax(Fraction(10)), max_load=LoadOfWax(Fraction(10)))
    batch = batch_for_wax(made, wax_g=Fraction(106))
    assert weighing_targets(made, batch, division_g=Fraction(1)).oil_g == 10
    passed = weighing_targets(made, batch, division_g=Fraction(1), past_wax_limit=True)
    assert passed.oil_g == 11


def test_a_coarse_scale_is_pointed_out_for_the_oil_it_is_too_coarse_for():
    """100 g of oil, 90 and 10: one gram is 10 % of the second, 0.1 g is 1 %."""
    made = formula(load=LoadOfWax(Fraction(10)), oil_shares=(9, 1))
    batch = batch_for_wax(made, wax_g=Fraction(1000))
    coarse = weighing_targets(made, batch, division_g=Fraction(1)).findings
    assert [finding.code for finding in coarse] == ["coarse_scale"]
    assert "oil 2" in coarse[0].message
    assert weighing_targets(made, batch, division_g=Fraction("0.1")).findings == ()


@given(st.lists(st.integers(1, 99), min_size=2, max_size=6), st.integers(500, 8000))
def test_a_nearby_total_is_offered_exactly_where_one_halves_the_error(shares, wax_g):
    made = formula(oil_shares=shares)
    batch = batch_for_wax(made, wax_g=Fraction(wax_g))
    weighing = weighing_targets(made, batch, division_g=Fraction(1))
    here, here_worst = int(weighing.oil_g), weighing.worst_share_error_points
    reach = here // 50
    least = min(worst_share_error(total, shares) for total in range(here - reach, here + reach + 1))
    nearby = weighing.nearby
    assert (nearby is not None) == (here_worst > Fraction(1, 10) and 2 * least <= here_worst)
    if nearby is not None:
        assert nearby.worst_share_error_points == least
        assert abs(nearby.oil_g - weighing.oil_g) <= reach
        assert sum(nearby.oils_g) == nearby.oil_g
        assert 100 * nearby.oil_g == made.load_pct_of_wax * nearby.wax_g


def worst_share_error(total, shares):
    """The least worst error of one-gram steps at this total, by rounding each share both ways."""
    exact = [Fraction(total * share, sum(shares)) for share in shares]
    ways = product(*((int(want), int(want) + 1) for want in exact))
    return min(100 * worst_error(way, exact) / total for way in ways if sum(way) == total)


def test_waxes_may_have_a_scale_of_their_own():
    made = formula(wax_shares=(2, 1))
    batch = batch_for_wax(made, wax_g=Fraction(1000))
    weighing = weighing_targets(made, batch, division_g=Fraction("0.1"), wax_division_g=Fraction(5))
    assert [target.weigh_g for target in weighing.waxes] == [665, 335]
    assert weighing.oil_g == 60


@pytest.mark.parametrize("division", [0, -1])
def test_a_division_that_is_none_is_refused(division):
    batch = batch_for_wax(formula(), wax_g=Fraction(1000))
    with pytest.raises(BadDivision, match="more than zero"):
        weighing_targets(formula(), batch, division_g=Fraction(division))


def test_a_scale_that_cannot_see_the_batch_is_refused():
    batch = batch_for_wax(formula(), wax_g=Fraction(2))
    with pytest.raises(BadDivision, match="use a finer scale"):
        weighing_targets(formula(), batch, division_g=Fraction(5))
