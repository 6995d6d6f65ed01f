"""
Rounding a blend to the scale: figures found by full enumeration, not published anywhere.

They were computed apart from this program, by counting every way to round a blend. Worst cases of
largest remainder, in divisions, for n parts: (n - 1)/n where the total is on a division,
(2n - 1)/(2n) where it is not; total off by at most a half. 162 g of 41.3/28.7/20/10 on a 1 g scale
errs by 0.31 points of share at best, 160 g by 0.05, as 66/46/32/16.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_examples import formula
from pourwright.core.formula import LoadOfWax, batch_for_wax, spread, weighing_targets

SHARES = ("41.3", "28.7", "20", "10")


def weighed(oil_g):
    """Oil on a 1 g scale at 8 % of the wax."""
    made = formula(load=LoadOfWax(Fraction(8)), oil_shares=SHARES)
    batch = batch_for_wax(made, wax_g=Fraction(oil_g) * 100 / 8)
    return weighing_targets(made, batch, division_g=Fraction(1))


def test_the_blend_of_162_grams_errs_by_three_tenths_of_a_point():
    assert round(float(weighed(162).worst_share_error_points), 2) == 0.31


def test_the_blend_of_160_grams_errs_by_a_twentieth():
    weighing = weighed(160)
    assert [target.weigh_g for target in weighing.oils] == [66, 46, 32, 16]
    assert round(float(weighing.worst_share_error_points), 2) == 0.05


def test_160_grams_is_what_is_offered_instead_of_162():
    nearby = weighed(162).nearby
    assert nearby.oil_g == 160
    assert nearby.oils_g == (66, 46, 32, 16)
    assert nearby.wax_g == 2000


def errors(wanted, total):
    parts = spread(wanted, total=total)
    return [abs(part - want) for part, want in zip(parts, wanted, strict=True)]


@pytest.mark.parametrize("n", [2, 3, 4, 6])
def test_the_worst_case_with_the_total_on_a_division_is_reached(n):
    """One division shared by n equal parts."""
    assert max(errors([Fraction(1, n)] * n, total=1)) == Fraction(n - 1, n)


@pytest.mark.parametrize("n", [2, 3, 4, 6])
def test_the_worst_case_with_the_total_off_a_division_is_reached(n):
    """Half a division, rounded up to one and shared by n equal parts."""
    assert max(errors([Fraction(1, 2 * n)] * n, total=1)) == Fraction(2 * n - 1, 2 * n)


@given(st.lists(st.fractions(0, 50), min_size=1, max_size=12))
def test_no_blend_is_worse_than_the_worst_cases(wanted):
    n, whole = len(wanted), sum(wanted)
    total = round(whole)
    bound = Fraction(n - 1, n) if whole == total else Fraction(2 * n - 1, 2 * n)
    assert max(errors(wanted, total)) <= bound
