"""Net checks of a lot: what may never happen, and that a plan accepts as often as it should."""

from datetime import date
from fractions import Fraction
from math import sqrt
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.contents import BadSample, check_net, parse_declared, sample_wanted
from pourwright.core.contents.average import NoSuchPlan
from pourwright.core.contents.target import chance, inspection
from pourwright.core.errors import BadInput
from pourwright.core.rules import rule, rules_in

ON = date(2026, 11, 25)
LABEL = parse_declared("150 g")
fills = st.integers(min_value=1200, max_value=1700).map(lambda n: Fraction(n, 10))
markets = st.sampled_from(["us", "eu", "gb"])


@st.composite
def lots(draw):
    market = draw(markets)
    size = draw(st.sampled_from([1, 2, 5, 11, 12, 30, 99, 100, 300]))
    least = sample_wanted(market=market, lot_size=size, on=ON)
    few = draw(st.lists(fills, min_size=1, max_size=6))
    count = draw(st.sampled_from(sorted({least, min(least + 5, size), size})))
    return market, size, [few[place % len(few)] for place in range(count)]


def verdict(market, size, nets, label=LABEL, plan=None):
    return check_net(market=market, declared=label, nets_g=nets, lot_size=size, on=ON, plan=plan)


@given(lots(), st.integers(min_value=0, max_value=400).map(lambda n: Fraction(n, 10)))
def test_raising_every_fill_never_turns_a_pass_into_a_fail(lot, more):
    market, size, nets = lot
    order = ["fail", "more", "pass"]
    before, after = (
        order.index(verdict(market, size, given_).verdict)
        for given_ in (nets, [net + more for net in nets])
    )
    assert after >= before


@given(lots())
def test_a_verdict_shows_each_step_with_its_rule(lot):
    found = verdict(*lot)
    assert found.rules
    assert all(step.words and step.rule.source for step in found.steps)
    judged = [step.passed for step in found.steps if step.passed is not None]
    assert (False in judged) == (found.verdict == "fail")
    assert found.reasons


@pytest.mark.parametrize(
    ("market", "lot_size", "nets", "says"),
    [
        ("us", 40, 11, "random sample of 12. Weigh 1 more"),
        ("gb", 60, 59, "every package is weighed. Weigh 1 more"),
        ("eu", 300, 29, "double plan"), ("us", 3, 4, "4 weights for a lot of 3"),
        ("us", 0, 1, "A lot of 0"), ("gb", 10_001, 125, "at most 10000"), ("us", 5, 0, "No weight"),
    ],
)  # fmt: skip
def test_weights_that_are_no_sample_are_refused(market, lot_size, nets, says):
    with pytest.raises(BadInput, match=says):
        verdict(market, lot_size, [Fraction(150)] * nets)


def test_a_weight_below_zero_is_refused_by_its_place():
    with pytest.raises(BadSample, match="Weight 2 is below zero"):
        verdict("us", 2, [Fraction(150), Fraction(-1)])


@pytest.mark.parametrize(
    ("market", "size", "plan", "says"),
    [
        ("us", 40, "single", "one plan"), ("eu", 300, "single", "no single plan"),
        ("gb", 60, "destructive", "for 100 or more"),
    ],
)  # fmt: skip
def test_a_plan_that_a_market_does_not_offer_is_refused(market, size, plan, says):
    with pytest.raises(NoSuchPlan, match=says):
        verdict(market, size, [Fraction(150)] * 60, plan=plan)


def test_weighing_more_is_never_judged_more_leniently():
    """The same fills twice over have a narrower allowance."""
    spread = [Fraction("150.5"), Fraction("149")] * 12
    assert verdict("us", 100, spread[:12]).passed
    assert verdict("us", 100, spread).sample_error_limit_g < (
        verdict("us", 100, spread[:12]).sample_error_limit_g
    )


def test_a_batch_weighed_whole_is_judged_by_the_rules_themselves():
    nets = [Fraction("150.5"), Fraction("149.4")] * 75
    assert verdict("eu", 150, nets[:30]).passed
    assert not verdict("eu", 150, nets).passed
    assert verdict("eu", 150, [net + Fraction(1, 10) for net in nets]).plan == "whole"


def test_one_package_short_by_twice_the_tolerance_fails_a_batch_that_was_else_fine():
    nets = [Fraction(152)] * 59 + [Fraction(136)]
    found = verdict("gb", 60, nets)
    assert (found.verdict, found.defectives, found.beyond_t2) == ("fail", 1, 1)


@pytest.mark.parametrize(
    ("market", "size", "sd", "over"), [("us", 100, 4, 0.5), ("eu", 200, 3, -1), ("gb", 30, 3, 0.4)]
)
def test_the_check_accepts_as_often_as_the_chance_says(market, size, sd, over):
    """Lots are drawn and put through the check itself, the double plan's second sample too."""
    dice = Random(7)
    lots_drawn = 300
    passed = 0
    for _ in range(lots_drawn):
        wanted = sample_wanted(market=market, lot_size=size, on=ON)
        nets = [Fraction(round(1000 * dice.gauss(150 + over, sd)), 1000) for _ in range(wanted)]
        plan = "double" if market == "eu" else None
        found = verdict(market, size, nets, plan=plan)
        if found.verdict == "more":
            nets += [Fraction(round(1000 * dice.gauss(150 + over, sd)), 1000) for _ in range(30)]
            found = verdict(market, size, nets, plan=plan)
        passed += found.passed
    expected = chance(
        inspection(market=market, declared=LABEL, lot_size=size, on=ON), over_g=over, sd_g=sd
    ).passes
    scatter = sqrt(expected * (1 - expected) / lots_drawn)
    assert 0.5 < expected < 0.99
    assert passed / lots_drawn == pytest.approx(expected, abs=4 * scatter)


def test_every_table_says_where_it_is_from_and_whether_it_was_read():
    names = [n for m in ("us", "eu", "gb") for n in rules_in(m) if "/net_" in n]
    assert len(names) >= 9
    for name in [*names, *rules_in("quality")]:
        found = rule(name, on=ON)
        assert found.source
        assert "read" in found.status or found.from_memory
        assert found["edition"]
