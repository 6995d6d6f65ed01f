"""The control chart, its run rules, capability; scales and thermometers."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from pourwright.core.contents import parse_declared
from pourwright.core.contents.control import TooFewFills, capability, individuals_chart
from pourwright.core.contents.instruments import (
    BadReading,
    boiling_point_c,
    leans_on,
    pressure_kpa,
    scale_outcome,
    thermometer_outcome,
)
from pourwright.core.contents.scales import BadScale, suitability, tolerance_g

ON = date(2026, 11, 25)
STEADY = [150.0, 150.4, 149.8, 150.2, 149.7, 150.3, 149.9, 150.1, 150.3, 149.6, 150.2, 149.8]


def signals(values):
    return {signal.name for signal in individuals_chart(values, on=ON).signals}


def test_a_steady_hand_gives_no_signal():
    assert signals(STEADY) == set()


@pytest.mark.parametrize(
    ("fault", "name"),
    [
        ([*STEADY, 152.5], "beyond"),
        ([*STEADY, *STEADY, *STEADY, 151.1, 150.2, 151.1], "two of three"),
        ([150.0 + 0.06 * place + (0.2 if place % 2 else 0.0) for place in range(30)], "eight"),
        ([*STEADY, 149.6, 149.7, 149.8, 149.9, 150.0, 150.1], "trend"),
    ],
)
def test_each_kind_of_fault_is_found(fault, name):
    assert name in signals(fault)


def test_four_of_five_beyond_one_sigma():
    values = [150.0, 150.5, 149.5, 150.5, 149.5, 150.0, 149.6] * 2
    sigma = individuals_chart(values, on=ON).sigma_g
    shifted = [150 + 1.5 * sigma] * 4
    assert "four of five" in signals([*values, *shifted])


def test_a_signal_says_where_it_is():
    chart = individuals_chart([*STEADY, 152.5], on=ON)
    assert chart.marked() == {12}
    assert not chart.steady


def test_a_chart_needs_a_few_fills_and_bears_equal_ones():
    with pytest.raises(TooFewFills, match="3 fills"):
        individuals_chart([1.0, 2.0, 3.0], on=ON)
    assert individuals_chart([150.0] * 5, on=ON).steady
    assert capability([150.0] * 5, label_g=150, limit_g=140, on=ON).cpl is None


def test_capability_is_the_room_above_the_limit_in_three_sigmas():
    found = capability(STEADY, label_g=149, limit_g=147, on=ON)
    assert found.cpl == pytest.approx((found.mean_g - 147) / (3 * found.sigma_g))
    assert found.share_below_label < 1e-3
    assert capability(STEADY, label_g=150.2, limit_g=147, on=ON).share_below_label > 0.5


# --- scales and thermometers ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("load", "division", "scale_class", "allowed"),
    [
        ("400", "0.1", "II", "0.05"), ("600", "0.1", "II", "0.1"), ("3000", "0.1", "II", "0.15"),
        ("400", "1", "III", "0.5"), ("1500", "1", "III", "1"), ("3000", "1", "III", "1.5"),
        ("5000", "1", "III", "2.5"),
    ],
)  # fmt: skip
def test_what_a_scale_may_be_off_by_its_class(load, division, scale_class, allowed):
    found = tolerance_g(
        load_g=Fraction(load), division_g=Fraction(division), scale_class=scale_class, on=ON
    )
    assert found == Fraction(allowed)


@pytest.mark.parametrize(
    ("nominal", "coarsest"), [("8 g", "0.1"), ("40 g", "0.2"), ("150 g", "0.5"), ("300 g", "1")]
)
def test_the_coarsest_scale_step_of_the_eu(nominal, coarsest):
    """French order of 20 October 1978, article 3 (read), where a fifth of the TNE is not less."""
    found = suitability(
        division_g=Fraction(1), declared=parse_declared(nominal), market="eu", on=ON
    )
    assert found.coarsest_g == Fraction(coarsest)
    assert found.suitable == (found.coarsest_g >= 1)


def test_a_scale_of_few_divisions_is_not_suitable():
    found = suitability(
        division_g=Fraction(1), declared=parse_declared("150 g"), market="us", on=ON,
        capacity_g=Fraction(80),
    )  # fmt: skip
    assert not found.suitable
    with pytest.raises(BadScale):
        suitability(division_g=Fraction(0), declared=parse_declared("9 g"), market="us", on=ON)


def test_a_test_weight_and_a_fixed_point():
    off = scale_outcome(
        test_g=Fraction(500), reading_g=Fraction("500.3"), allowed_g=Fraction("0.2")
    )
    assert (off.passed, off.off) == (False, Fraction("0.3"))
    assert thermometer_outcome(true_c=Fraction(0), reading_c=Fraction("0.6")).passed
    assert not thermometer_outcome(true_c=Fraction(0), reading_c=Fraction(2)).passed


def test_water_boils_cooler_higher_up():
    low, high = (boiling_point_c(kpa=pressure_kpa(altitude_m=h)) for h in (0, 1500))
    assert low == pytest.approx(100, abs=0.05)
    assert 94.5 < high < 95.5
    with pytest.raises(BadReading, match="50 to 110"):
        boiling_point_c(kpa=1013)
    with pytest.raises(BadReading):
        pressure_kpa(altitude_m=9000)


@pytest.mark.parametrize(
    ("days", "leans", "words"),
    [(0, True, "that day"), (1, True, "1 day before"), (180, True, "180 days"), (181, False, "")],
)
def test_a_check_is_leant_on_for_half_a_year(days, leans, words):
    found = leans_on(ON - timedelta(days=days), on=ON)
    assert found[0] == leans
    assert words in found[1]


def test_what_was_never_checked_is_not_leant_on():
    assert leans_on(None, on=ON) == (False, "never checked")
    assert leans_on(ON + timedelta(days=1), on=ON)[0] is False
