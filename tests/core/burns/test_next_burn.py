"""The planner: what it proposes, why, and when it stops."""

import math
from dataclasses import replace
from fractions import Fraction

import pytest

from burn_examples import ON, READINGS, burn
from pourwright.core.burns.learning import Learnt, Seen, Setup, Word, pool_state, prior
from pourwright.core.burns.next_burn import Cost, Criteria, NoCandidates, chances_of, next_burn
from pourwright.core.burns.seen import seen_of

CRITERIA = Criteria()
CURVE_H = prior(on=ON).curve_h
SIZES = [
    Setup(
        design="Quince", series="braid", size=f"no. {place}", rate_g_per_h=3.6 * 1.085**place,
        inside_diameter_mm=76, wax="soy", load_pct_of_wax=7,
    )
    for place in range(9)
]  # fmt: skip
WORDS = [Word(setup=SIZES[4])]


def seen(place, pool, *, passed, design="Quince", depth_mm=9.0, excess_k=30.0):
    setup = replace(SIZES[place], design=design)
    rate = setup.rate_g_per_h
    return Seen(
        setup=setup, passed=passed, rate_g_per_h=rate, pool=pool, pool_sd=0.02, depth_mm=depth_mm,
        wall_excess_k=excess_k,
    )  # fmt: skip


def advised(burns, **more):
    return next_burn(SIZES, burns, criteria=CRITERIA, on=ON, words=WORDS, **more)


def place_of(setup):
    return [size.size for size in SIZES].index(setup.size)


def likeliest(found):
    return place_of(max(found.chances, key=lambda chance: chance.share).setup)


def test_from_nothing_it_starts_at_what_the_supplier_recommends():
    found = advised([])
    assert found.state == "burn"
    assert abs(place_of(found.propose[0]) - 4) <= 1


def test_a_narrow_pool_leads_up_and_one_at_the_wall_too_soon_leads_down():
    up = advised([seen(4, -0.15, passed=False)])
    down = advised([seen(4, 0.20, passed=False, depth_mm=14, excess_k=42)])
    assert place_of(up.propose[0]) > 4
    assert place_of(down.propose[0]) < 4
    far = advised([seen(4, -0.30, passed=False)])
    assert place_of(far.propose[0]) > place_of(up.propose[0]), "further off, a larger step"


def test_burns_of_other_candles_count():
    """With an earlier candle like it, what it took is where the search begins, and surer."""
    earlier = [seen(6, 0.01, passed=True, design="Fig") for _ in range(4)]
    found = advised(earlier)
    assert place_of(found.propose[0]) in (5, 6, 7)
    assert found.best.share > advised([]).best.share


def test_four_good_burns_confirm_and_three_do_not():
    good = [seen(4, 0.01, passed=True) for _ in range(4)]
    assert advised(good[:3]).state == "burn"
    found = advised(good)
    assert (found.state, found.best.setup.size, found.propose) == ("confirmed", "no. 4", ())


def test_a_streak_is_not_enough_where_the_other_burns_say_otherwise():
    """Four met at the very edge after four that did not: the share comes from all eight."""
    edge = [seen(4, -0.09, passed=False) for _ in range(4)]
    edge += [seen(4, -0.068, passed=True) for _ in range(4)]
    found = advised(edge)
    assert found.state != "confirmed"
    own = next(chance for chance in found.chances if chance.setup.size == "no. 4")
    assert (own.burns, own.met) == (8, 4)
    assert own.share < 0.7


def test_a_size_of_mixed_record_is_not_burnt_on_and_on():
    """Every other burn of no. 4 was just too narrow: a larger size has fewer burns to come."""
    mixed = [seen(4, -0.09, passed=False), seen(4, -0.06, passed=True)] * 3
    found = advised(mixed)
    assert place_of(found.propose[0]) > 4
    there = found.chances[4]
    assert there.left > 1, "one more good burn would not confirm it"
    assert there.to_come > found.best.to_come


def test_a_deep_pool_far_beyond_full_does_not_send_the_search_to_the_smallest_size():
    """What cannot widen goes down, so that depth falls steeply with the size until it is full."""
    found = advised([seen(6, 0.12, passed=False, depth_mm=19, excess_k=36)])
    assert 1 <= place_of(found.propose[0]) < 6


def test_a_suppliers_word_counts_once_however_often_it_is_told():
    once = chances_of(SIZES, [], criteria=CRITERIA, on=ON, words=WORDS)
    again = [Word(setup=replace(SIZES[4], design=name)) for name in ("Fig", "Bay", "Plum")]
    assert chances_of(SIZES, [], criteria=CRITERIA, on=ON, words=WORDS + again) == once


def test_a_chart_that_was_wrong_for_one_wax_is_doubted_for_another():
    """Burns in coconut needed three sizes more than the chart told: more is tried in soy, too."""
    other = [
        replace(one, setup=replace(one.setup, wax="coconut"))
        for one in (seen(7, 0.01, passed=True, design="Fig") for _ in range(4))
    ]
    told = Word(setup=replace(SIZES[4], design="Fig", wax="coconut"))
    found = next_burn(SIZES, other, criteria=CRITERIA, on=ON, words=[*WORDS, told])
    assert likeliest(found) > likeliest(advised([]))


def test_a_hopeless_series_is_called_so_with_its_reason():
    """Whatever fills the pool is far too deep and too hot, and by much."""
    burns = [
        seen(3, -0.12, passed=False, depth_mm=16, excess_k=52),
        seen(5, 0.02, passed=False, depth_mm=19, excess_k=60),
        seen(1, -0.25, passed=False, depth_mm=13.5, excess_k=44),
    ]
    found = advised(burns)
    assert (found.state, found.propose) == ("hopeless", ())
    said = " ".join(found.says)
    assert "Change the number of wicks" in said
    assert "A size that fills the pool" in said, "what to change, by what fails"
    assert "try more and smaller wicks" in said
    assert "smaller sizes" not in said, "they would not fill the pool"


def test_a_series_that_ends_too_small_is_told_to_go_further():
    found = advised([seen(8, -0.25, passed=False, depth_mm=8, excess_k=22) for _ in range(2)])
    assert found.state == "hopeless"
    assert "The nearest is braid no. 8: pool not full." in found.says[0]
    assert found.says[1].startswith("It is the largest size: try a series that goes further.")
    assert advised([]).state == "burn", "and never before a burn"


def test_burns_of_the_design_in_another_load_do_not_use_a_search_up():
    """They were another candle: a new recipe may be searched for anew."""
    before = [seen(4, -0.02, passed=True) for _ in range(12)]
    other = [replace(b, setup=replace(b.setup, load_pct_of_wax=8)) for b in before]
    assert advised(other).state != "hopeless"
    edge = [seen(4, -0.075, passed=bool(place % 2)) for place in range(12)]
    found = advised(edge)
    assert (found.state, found.spent, found.propose) == ("hopeless", True, ())
    assert "12 burns are as many as a search takes" in found.says[0]


def test_it_proposes_no_more_side_by_side_than_may_burn_and_more_where_curing_is_long():
    likely = [seen(4, 0.01, passed=True)] + [
        seen(4, 0.01, passed=True, design="Fig") for _ in range(4)
    ]
    many = advised(likely, cost=Cost(side_by_side=3, cure_days=28, week_in_burns=1))
    assert [setup.size for setup in many.propose] == ["no. 4"] * 3
    assert many.weeks == 4
    one = advised(likely, cost=Cost(side_by_side=3, cure_days=0, wax_g=190))
    assert (len(one.propose), one.wax_g) == (1, 190)


def test_the_same_question_has_the_same_answer():
    burns = [seen(4, -0.1, passed=False)]
    assert advised(burns) == advised(burns)


def test_chances_are_shares_with_reasons():
    for chance in chances_of(SIZES, [seen(4, -0.1, passed=False)], criteria=CRITERIA, on=ON):
        assert 0 <= chance.low <= chance.high <= 1
        assert 0 <= chance.all_needed <= chance.share <= 1
        assert all(0 < part <= 1 for _, part in chance.reasons)
    small, large = (advised([]).chances[place] for place in (0, -1))
    assert small.reasons[0][0] == "pool not full"
    assert large.reasons[0][0] != "pool not full"


@pytest.mark.parametrize("candidates", [[], [SIZES[0], replace(SIZES[1], design="Fig")]])
def test_nothing_to_choose_from_is_refused(candidates):
    with pytest.raises(NoCandidates):
        next_burn(candidates, [], criteria=CRITERIA, on=ON)


# --- what a burn teaches -------------------------------------------------------------------------


@pytest.mark.parametrize("state", [-0.2, -0.05, 0.0, 0.1])
def test_the_pools_state_is_read_back_from_its_curve(state):
    """A curve made by its formula, read back, before and after it touches."""

    def width(hours):
        grown = -math.expm1(-hours / CURVE_H) / -math.expm1(-4 / CURVE_H)
        return 80 * math.exp(state) * math.sqrt(grown)

    read = [(hours, width(hours)) for hours in (1, 2, 3, 4) if width(hours) < 80]
    touched = None
    if state > 0:
        inside = -math.expm1(-4 / CURVE_H) * math.exp(-2 * state)
        touched = -CURVE_H * math.log1p(-inside)
    found = pool_state(read, touched_h=touched, inside_diameter_mm=80, curve_h=CURVE_H)
    assert found[0] == pytest.approx(state, abs=1e-9)


def test_weighing_takes_the_blame_off_the_wick():
    """A burn that was 12 % hotter than the size usually is says less against the size."""
    usual = [seen(4, -0.02, passed=True, design="Fig") for _ in range(3)]
    hot = replace(seen(4, 0.06, passed=True), rate_g_per_h=SIZES[4].rate_g_per_h * 1.12)
    plain = replace(hot, rate_g_per_h=SIZES[4].rate_g_per_h)
    by_weight, _ = Learnt([*usual, hot], on=ON).states([SIZES[4]])
    without, _ = Learnt([*usual, plain], on=ON).states([SIZES[4]])
    assert by_weight[0] < without[0]


def test_a_recorded_burn_is_learnt_from():
    setup = replace(SIZES[4], inside_diameter_mm=76.2)
    found = seen_of(burn(), setup, criteria=CRITERIA, prior=prior(on=ON))
    assert found.passed is True
    assert found.rate_g_per_h == 5.5
    assert (found.depth_mm, found.wall_excess_k) == (9, 30)
    assert -0.05 < found.pool < 0.05
    early = burn(full_pool_minute=Fraction(60))
    assert seen_of(early, setup, criteria=CRITERIA, prior=prior(on=ON)).passed is False
    cut = burn(minutes=Fraction(100), readings=READINGS[:2])
    assert seen_of(cut, setup, criteria=CRITERIA, prior=prior(on=ON)).passed is None
