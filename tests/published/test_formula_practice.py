"""
Formula amounts: checks against the trade's worked figures.

All of them are common practice, no source: figures that makers use, worked here by hand. None of
them was computed by this program.
"""

from fractions import Fraction

import pytest

from pourwright.core.amounts import OZ_G, parse_mass
from pourwright.core.formula import (
    Fill,
    Formula,
    LoadOfWax,
    LoadOfWhole,
    Melter,
    MelterTooSmall,
    OilPart,
    WaxPart,
    batch_for_vessels,
    batch_for_wax,
)

FOUR_EQUAL = tuple(OilPart(name=name, share=Fraction(25)) for name in "ABCD")


def hundred_ounces():
    """Common practice, no source: 100 oz of wax at 8.5 % of the wax, in 10.5 oz vessels."""
    formula = Formula(
        waxes=(WaxPart(name="wax"),), oils=FOUR_EQUAL, load=LoadOfWax(Fraction("8.5"))
    )
    batch = batch_for_wax(formula, wax_g=parse_mass("100 oz"), fill_g=parse_mass("10.5 oz"))
    return formula, batch


def test_a_hundred_ounces_of_wax_take_eight_and_a_half_of_oil():
    """Common practice, no source."""
    _, batch = hundred_ounces()
    assert batch.oil_g / OZ_G == Fraction("8.5")
    assert [oil.mass_g / OZ_G for oil in batch.oils] == [Fraction("2.125")] * 4
    assert batch.mix_g / OZ_G == Fraction("108.5")
    assert round(float(batch.load_pct_of_whole), 3) == 7.834


def test_they_fill_ten_vessels_and_leave_three_and_a_half_ounces():
    """Common practice, no source."""
    _, batch = hundred_ounces()
    assert batch.vessels == 10
    assert batch.left_g / OZ_G == Fraction("3.5")


def test_ten_vessels_sized_backwards_take_the_mix_without_what_was_left():
    """Common practice, no source: 105 oz of mix, of which 1000/1085 is wax."""
    formula, _ = hundred_ounces()
    batch = batch_for_vessels(formula, fills=[Fill(count=10, fill_g=parse_mass("10.5 oz"))])
    assert batch.mix_g / OZ_G == 105
    assert batch.wax_g / OZ_G == Fraction(105 * 1000, 1085)


@pytest.mark.parametrize("oil_goes_in", ["melter", "pitcher"])
def test_a_six_pound_melter_cannot_take_six_pounds_four(oil_goes_in):
    """Common practice, no source: 6 lb 4 oz is 100 oz, four more than the melter's 96."""
    formula, _ = hundred_ounces()
    assert parse_mass("6 lb 4 oz") == parse_mass("100 oz")
    melter = Melter(usable_g=parse_mass("6 lb"), oil_goes_in=oil_goes_in)
    with pytest.raises(MelterTooSmall, match=r"^6.lb 4.oz"):
        batch_for_wax(formula, wax_g=parse_mass("6 lb 4 oz"), melter=melter)


@pytest.mark.parametrize(
    ("load", "wax_g", "oil_g"),
    [(LoadOfWax(Fraction(10)), 454.5, 45.5), (LoadOfWhole(Fraction(10)), 450.0, 50.0)],
)
def test_five_hundred_grams_of_mix_at_ten_percent_on_each_basis(load, wax_g, oil_g):
    """Common practice, no source; printed to 0.1 g."""
    formula = Formula(waxes=(WaxPart(name="wax"),), oils=(OilPart(name="oil"),), load=load)
    batch = batch_for_vessels(formula, fills=[Fill(count=1, fill_g=Fraction(500))])
    assert round(float(batch.wax_g), 1) == wax_g
    assert round(float(batch.oil_g), 1) == oil_g


def test_ten_percent_of_the_wax_is_nine_and_a_bit_of_the_whole():
    """Arithmetic: 10 of 110, printed as 9.0909 %."""
    assert round(float(LoadOfWax(Fraction(10)).of_whole().pct_of_whole), 4) == 9.0909
