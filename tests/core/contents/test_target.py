"""The fill to aim at: refusals, what it rests on, and what pouring by eye costs."""

from datetime import date
from math import exp

import pytest

from pourwright.core.contents import parse_declared
from pourwright.core.contents.target import (
    BadTarget,
    by_eye,
    chance,
    inspection,
    spread_of_fills,
    target_fill,
)

ON = date(2026, 11, 25)
LABEL = parse_declared("160 g")


def target(**more):
    given = {
        "market": "us", "declared": LABEL, "sd_g": 2.0, "lot_size": 24, "on": ON,
        "probability": 0.99,
    }  # fmt: skip
    return target_fill(**given | more)


def test_it_is_never_below_the_label_whatever_the_test_would_let_through():
    found = target(probability=0.95)
    assert (found.over_g, found.limited_by, found.target_g) == (0.0, "the law", 160.0)
    assert found.reached.passes > 0.95


def test_it_says_what_limits_it():
    assert target().limited_by == "the average"
    wide = target(sd_g=6.0)
    assert wide.limited_by == "single packages"
    assert wide.reached.passes == pytest.approx(0.99, abs=1e-3)
    assert wide.error_g < 0.1


@pytest.mark.parametrize("market", ["us", "gb"])
def test_a_wider_spread_a_higher_chance_and_a_spread_of_vessels_each_ask_for_more(market):
    base = target(market=market).over_g
    assert target(market=market, sd_g=2.6).over_g > base
    assert target(market=market, probability=0.999).over_g > base
    assert target(market=market, tare_sd_g=1.5).over_g > base


@pytest.mark.parametrize(("market", "lot_size", "sd"), [("us", 12, 5.0), ("gb", 40, 2.0)])
def test_lots_that_stray_are_weighed_as_if_each_were_worked_out(market, lot_size, sd):
    """The curve that is read between points agrees with a plain sum over the lots' means."""
    inspected = inspection(market=market, declared=LABEL, lot_size=lot_size, on=ON)
    found = chance(inspected, over_g=2.0, sd_g=sd, batch_sd_g=1.0)
    reach = [place / 8 for place in range(-40, 41)]
    weights = [exp(-z * z / 2) for z in reach]
    direct = sum(
        weight * chance(inspected, over_g=2.0 + z, sd_g=sd).passes
        for weight, z in zip(weights, reach, strict=True)
    ) / sum(weights)
    assert found.passes == pytest.approx(direct, abs=5e-5)


def test_one_candle_alone_needs_no_average():
    assert target(lot_size=1, sd_g=3.0).over_g < 1.0


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"sd_g": 0.0}, "spread of 0 g"), ({"sd_g": 60.0}, "up to a third"),
        ({"probability": 1.0}, "0.5 to 0.9999"), ({"batch_sd_g": -1.0}, "0 or more"),
    ],
)  # fmt: skip
def test_what_gives_no_target_is_refused(more, says):
    with pytest.raises(BadTarget, match=says):
        target(**more)


def test_a_spread_from_few_fills_may_be_much_wider():
    sd, upper = spread_of_fills([150.0, 151.0, 149.0, 150.5, 149.5])
    assert sd == pytest.approx(0.79057, abs=1e-5)
    # chi-square, 4 degrees of freedom: 0.7107 at 5 % (printed tables)
    assert upper == pytest.approx(sd * (4 / 0.7107) ** 0.5, rel=1e-3)
    with pytest.raises(BadTarget, match="1 fills"):
        spread_of_fills([150.0])


def test_pouring_by_eye_costs_the_difference():
    narrow, wide = target(sd_g=1.0, market="gb"), target(sd_g=5.0, market="gb")
    found = by_eye(wide=wide, narrow=narrow, candles_a_year=500, mix_minor100_per_kg=120_000)
    assert found.extra_year_g == pytest.approx(500 * (wide.over_g - narrow.over_g))
    assert found.cost_minor100 == round(found.extra_year_g / 1000 * 120_000)
    assert found.candles == pytest.approx(found.extra_year_g / narrow.target_g)
    with pytest.raises(BadTarget):
        by_eye(wide=wide, narrow=narrow, candles_a_year=-1, mix_minor100_per_kg=1)
