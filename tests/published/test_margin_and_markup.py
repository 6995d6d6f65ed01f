"""
Margin and mark-up: checks against the textbook table.

Source: the equivalence of mark-up on cost and margin on price, as printed in introductory
accounting and retail textbooks (from memory; no edition at hand): 20 % on price is 25 % on cost,
25 is 33 1/3, 33 1/3 is 50, 50 is 100, 75 is 300.
"""

from fractions import Fraction

import pytest

from pourwright.core.costing import margin_of_markup, markup_of_margin, price_for_margin


@pytest.mark.parametrize(
    ("margin_pct", "markup_pct"),
    [("20", "25"), ("25", "100/3"), ("100/3", "50"), ("50", "100"), ("75", "300")],
)
def test_agrees_with_the_textbook_table(margin_pct, markup_pct):
    margin, markup = Fraction(margin_pct), Fraction(markup_pct)
    assert markup_of_margin(margin) == markup
    assert margin_of_markup(markup) == margin
    price = price_for_margin(unit_cost_minor100=900_000, margin_pct=margin)
    assert price.price_minor100 == 900_000 * (1 + markup / 100)
