"""
The fragrance industry's limits for a blend.

Check value 26 of the project's handbook on hazard classification, worked out there by hand from the
two tests; the limits 10 % and 20 % are made up. Each load <= min(L_i / w_i), and the sum of
dose_i / L_i at most 1.
"""

from datetime import date
from fractions import Fraction

from pourwright.core.hazard.code_limits import CodeOil, code_limits

OILS = [
    CodeOil(name="first", share=Fraction(70), limit_pct_of_whole=Fraction(10)),
    CodeOil(name="second", share=Fraction(30), limit_pct_of_whole=Fraction(20)),
]


def test_the_load_at_which_each_oil_is_at_its_own_limit():
    found = code_limits(OILS, on=date(2026, 11, 24))
    loads = [round(float(row.load_pct_of_whole), 2) for row in found.oils]
    assert loads == [14.29, 66.67]
    assert round(float(found.each_pct_of_whole), 2) == 14.29
    assert found.tightest == ("first",)


def test_the_load_that_suffices_though_the_oils_share_a_substance():
    found = code_limits(OILS, on=date(2026, 11, 24))
    assert round(float(found.together_pct_of_whole), 2) == 11.76
