"""What a formula may not exceed, and what a reason can pass."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_examples import formula
from pourwright.core.formula import (
    Extra,
    Formula,
    LoadOfWax,
    LoadOfWhole,
    OilPart,
    OverLimit,
    WaxPart,
    check_limits,
    refuse_over_limit,
    strictest_wax_limit,
    unknown_limits,
)


def codes(made):
    return [finding.code for finding in check_limits(made)]


def test_a_load_at_the_waxs_limit_passes_and_above_it_needs_a_reason():
    at = formula(load=LoadOfWax(Fraction(8)), max_load=LoadOfWax(Fraction(8)))
    over = formula(load=LoadOfWax(Fraction("8.1")), max_load=LoadOfWax(Fraction(8)))
    at_whole = formula(load=LoadOfWhole(Fraction(8)), max_load=LoadOfWhole(Fraction(8)))
    assert codes(at) == codes(at_whole) == []
    findings = check_limits(over)
    assert [finding.severity for finding in findings] == ["refuse unless overridden"]
    with pytest.raises(OverLimit, match=r"8\.1 % of the wax; wax 1 takes up to 8 % of the wax"):
        refuse_over_limit(findings)
    with pytest.raises(OverLimit):
        refuse_over_limit(findings, override_reason="   ")
    (kept,) = refuse_over_limit(findings, override_reason=" trial of two vessels ")
    assert kept.override_reason == "trial of two vessels"


def test_a_limit_of_the_whole_is_compared_with_the_load_of_the_whole():
    """8.5 % of the wax is 7.83 % of the whole: within 8 % of the whole, above 8 % of the wax."""
    load = LoadOfWax(Fraction("8.5"))
    assert codes(formula(load=load, max_load=LoadOfWhole(Fraction(8)))) == []
    assert codes(formula(load=load, max_load=LoadOfWax(Fraction(8)))) == ["wax_limit"]


@given(st.fractions(1, 30), st.fractions(1, 30), st.fractions(0, 5))
def test_a_limit_on_either_basis_decides_as_grams_do(load_pct, limit_pct, dye_pct):
    """On the pan: 100 g of wax, its oil and its dye."""
    dye = (Extra(name="dye", pct_of_wax=dye_pct),)
    load = LoadOfWax(load_pct)
    of_wax = formula(load=load, max_load=LoadOfWax(limit_pct), extras=dye)
    of_whole = formula(load=load, max_load=LoadOfWhole(limit_pct), extras=dye)
    assert bool(codes(of_wax)) == (load_pct > limit_pct)
    assert bool(codes(of_whole)) == (100 * load_pct > limit_pct * (100 + load_pct + dye_pct))


def test_a_blend_takes_the_strictest_limit_of_its_waxes_and_says_so():
    waxes = (
        WaxPart(name="soft", share=Fraction(90), max_load=LoadOfWhole(Fraction(9))),
        # 9.5 % of the wax is 8.68 % of the whole: the stricter, though its number is larger.
        WaxPart(name="hard", share=Fraction(10), max_load=LoadOfWax(Fraction("9.5"))),
        WaxPart(name="unknown", share=Fraction(10)),
    )
    blend = Formula(waxes=waxes, oils=(OilPart(name="fig"),), load=LoadOfWax(Fraction("9.7")))
    assert strictest_wax_limit(blend) == (waxes[1], waxes[1].max_load)
    with pytest.raises(OverLimit, match=r"hard takes up to .*the strictest of the blend"):
        refuse_over_limit(check_limits(blend))


def test_an_oil_above_its_safety_limit_is_refused_and_no_reason_passes_it():
    """Half of 10 % of the whole is 5 %."""
    load = LoadOfWhole(Fraction(10))
    assert codes(formula(load=load, oil_shares=(1, 1), oil_limits=("5", None))) == []
    over = check_limits(formula(load=load, oil_shares=(1, 1), oil_limits=("4.999", None)))
    assert [finding.code for finding in over] == ["oil_limit"]
    with pytest.raises(
        OverLimit, match=r"oil 1 is 5 % of the candle; its safety limit is 4\.999 %"
    ):
        refuse_over_limit(over, override_reason="only a trial")


def test_every_cause_of_a_refusal_is_named_at_once():
    over = formula(
        load=LoadOfWhole(Fraction(10)),
        max_load=LoadOfWax(Fraction(6)),
        oil_shares=(1, 1),
        oil_limits=("1", "2"),
    )
    with pytest.raises(OverLimit, match=r"wax 1 .*oil 1 .*oil 2 "):
        refuse_over_limit(check_limits(over))


def test_adding_at_or_above_a_flash_point_warns_in_both_systems_and_does_not_refuse():
    hot = formula(oil_shares=(1, 1, 1), flash_points_c=("75", "85", "90"), adding_temp_c=85)
    findings = check_limits(hot)
    assert [finding.code for finding in findings] == ["flash_point", "flash_point"]
    message = findings[0].message.replace("\u00a0", " ")
    assert "oil 1 goes in at 85 °C (185 °F)" in message
    assert "flash point of 75 °C (167 °F)" in message
    assert refuse_over_limit(findings) == findings


@pytest.mark.parametrize(
    ("shares", "warned"),
    [
        ((25, 25, 25, 25), False),
        (("33.3", "33.3", "33.3"), False),
        ((2, 1), False),
        ((25, 25, 25, 30), True),
        ((50, 40), True),
    ],
)
def test_shares_that_look_like_percentages_but_miss_a_hundred_are_pointed_out(shares, warned):
    assert (codes(formula(oil_shares=shares)) == ["shares_not_100"]) is warned


def test_what_could_not_be_checked_is_named():
    bare = formula(oil_shares=(1, 1), oil_limits=("5", None), flash_points_c=(None, "80"))
    assert unknown_limits(bare) == (
        "most oil that wax 1 takes",
        "safety limit of oil 2",
        "flash point of oil 1",
        "temperature at which the oils go in",
    )
    assert unknown_limits(Formula(waxes=(WaxPart(name="beeswax"),))) == ()
