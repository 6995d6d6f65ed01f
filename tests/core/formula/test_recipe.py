"""What makes a formula, and what does not."""

from fractions import Fraction

import pytest

from formula_examples import formula
from pourwright.core.formula import (
    BadFormula,
    Extra,
    Formula,
    LoadOfWax,
    LoadOfWhole,
    OilPart,
    WaxPart,
)


def test_shares_are_parts_and_need_not_add_up_to_a_hundred():
    made = formula(oil_shares=(2, 1), wax_shares=(3, 1))
    assert made.oil_fractions == (Fraction(2, 3), Fraction(1, 3))
    assert made.wax_fractions == (Fraction(3, 4), Fraction(1, 4))


def test_both_loads_are_known_whichever_was_given():
    given = formula(load=LoadOfWhole(Fraction(10)), extras=(Extra(name="dye", pct_of_wax=2),))
    assert given.load_pct_of_whole == 10
    # 100 of wax and 2 of dye are nine tenths of the whole, so the oil is a ninth of 102.
    assert given.load_pct_of_wax == Fraction(102, 9)


def test_a_plain_candle_has_no_oil_and_no_load():
    assert Formula(waxes=(WaxPart(name="beeswax"),)).load_pct_of_whole == 0


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ({"waxes": ()}, "needs a wax"),
        ({"waxes": (WaxPart(name="a", share=Fraction(0)),)}, "more than zero"),
        ({"oils": (OilPart(name="a", share=Fraction(-1)),)}, "more than zero"),
        ({"oils": ()}, "no oil is given"),
        ({"oils": (OilPart(name="a"),), "load": LoadOfWax(Fraction(0))}, "load is 0 %"),
        ({"oils": (OilPart(name="a"), OilPart(name="a"))}, "given 2 times"),
        ({"oils": tuple(OilPart(name=f"o{n}") for n in range(13))}, "up to 12 oils and 13"),
        ({"oils": (OilPart(name=" "),)}, "without a name"),
        ({"extras": (Extra(name="dye", pct_of_wax=Fraction(-1)),)}, "zero or more"),
    ],
)
def test_parts_that_make_no_formula_are_refused(parts, why):
    whole = {
        "waxes": (WaxPart(name="soy"),),
        "oils": (OilPart(name="fig"),),
        "load": LoadOfWax(Fraction(6)),
    }
    with pytest.raises(BadFormula, match=why):
        Formula(**(whole | parts))


def test_a_blends_liquid_density_adds_volumes_and_needs_every_waxs_own():
    light = WaxPart(name="a", liquid_density_g_per_ml=Fraction("0.75"))
    heavy = WaxPart(name="b", liquid_density_g_per_ml=Fraction("0.90"))
    # 100 g of each: 133.33 ml and 111.11 ml, 200 g in 244.44 ml.
    blend = Formula(waxes=(light, heavy))
    assert blend.liquid_density_g_per_ml == 200 / (100 / Fraction("0.75") + 100 / Fraction("0.9"))
    assert Formula(waxes=(light, WaxPart(name="c"))).liquid_density_g_per_ml is None
