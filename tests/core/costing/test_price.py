"""Prices: the margin that was wanted, after fees, at the ending that was wanted."""

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pourwright.core.costing.price import (
    BadEnding,
    ImpossiblePrice,
    PriceEnding,
    margin_of_markup,
    markup_of_margin,
    price_at,
    price_for_margin,
)

RATE = st.fractions(0, 99, max_denominator=100)


@given(cost=st.integers(1, 10**8), margin=RATE, fee=RATE, fixed=st.integers(0, 10**5),
       ending=st.integers(0, 9999))  # fmt: skip
def test_cost_fees_and_profit_make_the_price_and_the_margin_is_reached(
    cost, margin, fee, fixed, ending
):
    assume(margin + fee < 100)
    rule = PriceEnding(step_minor100=10_000, ending_minor100=ending)
    price = price_for_margin(
        unit_cost_minor100=cost, margin_pct=margin, fee_pct=fee, fee_fixed_minor100=fixed,
        ending=rule,
    )  # fmt: skip
    assert cost + price.fees_minor100 + price.profit_minor100 == price.price_minor100
    assert price.price_minor100 % 10_000 == ending
    assert (
        0 <= price.price_minor100 - price.exact_minor100 < 10_000 or price.price_minor100 == ending
    )
    # The fee is rounded to a whole minor unit, which can cost half a unit of the margin.
    short = margin / 100 * price.price_minor100 - price.profit_minor100
    assert short <= 50


@given(margin=RATE)
def test_margin_and_markup_undo_each_other(margin):
    assert margin_of_markup(markup_of_margin(margin)) == margin


def test_without_fees_the_price_shows_the_markup_of_its_margin():
    price = price_for_margin(unit_cost_minor100=75_000, margin_pct=40)
    assert price.margin_pct == 40
    assert price.markup_pct == markup_of_margin(40)


@pytest.mark.parametrize(("margin", "fee"), [(100, 0), (97, 3), (60, 40), (250, 0)])
def test_a_margin_that_leaves_nothing_for_the_cost_is_refused(margin, fee):
    with pytest.raises(ImpossiblePrice, match="below 100 %"):
        price_for_margin(unit_cost_minor100=100, margin_pct=margin, fee_pct=fee)


@pytest.mark.parametrize(
    "wrong",
    [
        {"unit_cost_minor100": 0, "margin_pct": 20},
        {"unit_cost_minor100": 100, "margin_pct": -1},
        {"unit_cost_minor100": 100, "margin_pct": 20, "fee_pct": -1},
        {"unit_cost_minor100": 100, "margin_pct": 20, "fee_fixed_minor100": -1},
    ],
)
def test_costs_and_rates_below_zero_are_refused(wrong):
    with pytest.raises(ImpossiblePrice):
        price_for_margin(**wrong)


@pytest.mark.parametrize(
    ("exact", "ending", "price"),
    [
        ("12.0001", "0.95", "12.95"),
        ("12.95", "0.95", "12.95"),
        ("12.951", "0.95", "13.95"),
        ("12.0001", "0.00", "13.00"),
        ("12", "0.00", "12.00"),
        ("0.2", "0.50", "0.50"),
    ],
)
def test_a_price_goes_up_to_its_ending(exact, ending, price):
    rule = PriceEnding(step_minor100=10_000, ending_minor100=int(Fraction(ending) * 10_000))
    assert rule.up(Fraction(exact) * 10_000) == Fraction(price) * 10_000


def test_an_ending_beyond_its_step_is_refused():
    with pytest.raises(BadEnding):
        PriceEnding(step_minor100=10_000, ending_minor100=10_000)


def test_a_set_price_below_cost_shows_the_loss():
    price = price_at(price_minor100=50_000, unit_cost_minor100=60_000, fee_pct=2)
    assert price.profit_minor100 == -11_000
    assert price.margin_pct == -22
