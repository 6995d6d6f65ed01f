"""A load carries its basis and changes it only when asked."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.formula import LoadOfWax, LoadOfWhole, LoadOutOfRange

PCTS = st.fractions(0, 50)


def test_the_two_bases_cannot_be_compared_or_taken_for_each_other():
    assert LoadOfWax(Fraction(10)) != LoadOfWhole(Fraction(10))
    with pytest.raises(TypeError):
        _ = LoadOfWax(Fraction(10)) < LoadOfWhole(Fraction(10))
    assert LoadOfWax(Fraction(9)) < LoadOfWax(Fraction(10))


@given(PCTS, PCTS)
def test_there_and_back_is_the_same_load(pct, extras):
    of_wax = LoadOfWax(pct)
    of_whole = of_wax.of_whole(extras_pct_of_wax=extras)
    assert of_whole.of_wax(extras_pct_of_wax=extras) == of_wax
    assert of_whole.pct_of_whole <= pct


@given(PCTS, PCTS)
def test_of_the_whole_counts_dye_and_additives_in_the_whole(pct, extras):
    """From grams: 100 g of wax with its oil and extras on the pan."""
    whole_g = 100 + pct + extras
    assert LoadOfWax(pct).of_whole(extras_pct_of_wax=extras).pct_of_whole == 100 * pct / whole_g


@pytest.mark.parametrize("load", [LoadOfWax, LoadOfWhole])
@pytest.mark.parametrize("pct", [-1, 101])
def test_an_impossible_load_is_refused_with_its_basis(load, pct):
    with pytest.raises(LoadOutOfRange, match=r"of the (wax|whole); a load lies between"):
        load(Fraction(pct))
