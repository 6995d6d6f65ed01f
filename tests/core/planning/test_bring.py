"""What to bring to a market: the best there is, and an honest word on how little is known."""

from dataclasses import replace
from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import gamma, nbinom, poisson

from pourwright.core.planning.bring import (
    BadMarket,
    Ware,
    gains,
    newsvendor,
    shared_room,
    what_to_bring,
)
from pourwright.core.planning.demand_fit import (
    Prior,
    Rate,
    Seen,
    demand,
    fitted,
    fitted_prior,
    posterior,
)

PRIOR = Prior(shape=2, rate=0.5)


def ware(key="a", *, few=900, many=150, **more):
    return Ware(key=key, name=key.upper(), too_few_minor100=few, too_many_minor100=many, **more)


def days(*sold, out=()):
    return [Seen(sold=n, day=str(d), sold_out=d in out) for d, n in enumerate(sold)]


# --- how many of one, and of several ----------------------------------------------------------

chances = st.lists(st.integers(1, 30), min_size=2, max_size=12).map(
    lambda rows: np.array(rows) / sum(rows)
)


@settings(max_examples=60, deadline=None)
@given(chance=chances, few=st.integers(1, 20), many=st.integers(1, 20))
def test_one_design_s_number_costs_least_of_all(chance, few, many):
    def cost(count):
        return sum(
            p * (few * max(0, wanted - count) + many * max(0, count - wanted))
            for wanted, p in enumerate(chance)
        )

    found = newsvendor(chance, too_few=few, too_many=many)
    assert cost(found) <= min(cost(count) for count in range(len(chance))) + 1e-9


@settings(max_examples=40, deadline=None)
@given(
    rows=st.lists(chances, min_size=1, max_size=3),
    sizes=st.lists(st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(2)]), min_size=3,
                   max_size=3),
    equal=st.booleans(), limit=st.integers(0, 9),
)  # fmt: skip
def test_a_stall_s_places_are_shared_as_well_as_can_be(rows, sizes, equal, limit):
    room = [Fraction(1)] * len(rows) if equal else sizes[: len(rows)]
    gain = [gains(row, too_few=9, too_many=2) for row in rows]
    found = shared_room(gain, room, Fraction(limit))

    def worth(counts):
        return sum(float(row[:n].sum()) for row, n in zip(gain, counts, strict=True))

    def fits(counts):
        return sum(n * size for n, size in zip(counts, room, strict=True)) <= limit

    every = filter(fits, product(*(range(len(row) + 1) for row in gain)))
    assert fits(found)
    assert worth(found) == pytest.approx(max(map(worth, every)), abs=1e-9)


# --- what days say -------------------------------------------------------------------------------


def test_a_day_that_sold_out_counts_as_at_least_so_many():
    """The posterior's mean by direct integration of prior, counted days and 1 - F(x - 1)."""
    seen = days(4, 6, 5, out=(1,))
    rate = posterior(seen, PRIOR)

    def density(lam):
        return gamma.pdf(lam, 2 + 9, scale=1 / 2.5) * poisson.sf(5, lam)

    whole, mean = quad(density, 0, 60)[0], quad(lambda lam: lam * density(lam), 0, 60)[0]
    assert rate.mean == pytest.approx(mean / whole, rel=1e-4)
    assert rate.mean > posterior(days(4, 6, 5), PRIOR).mean
    assert demand(rate).sum() == pytest.approx(1)


def test_a_day_that_sold_out_at_noon_says_more_than_one_that_just_sold_out():
    half = posterior([*days(4, 5), Seen(sold=6, exposure=0.5, day="2")], PRIOR)
    unknown = posterior(days(4, 5, 6, out=(2,)), PRIOR)
    assert half.rate > 0
    assert half.grid is None
    assert half.mean > posterior(days(4, 5, 6), PRIOR).mean
    assert unknown.grid is not None


def test_the_shared_prior_finds_what_the_designs_were_drawn_from():
    drawn = np.random.default_rng(5)
    rates = drawn.gamma(3.0, 2.0, size=120)
    seen = [[Seen(sold=int(n)) for n in drawn.poisson(rate, size=8)] for rate in rates]
    prior = fitted_prior(seen)
    assert prior.shape / prior.rate == pytest.approx(rates.mean(), rel=0.1)
    assert prior.shape == pytest.approx(3.0, rel=0.35)


def test_days_that_swing_together_are_learnt_as_the_day_s_factor():
    calm = {k: days(8, 7, 9, 8, 8, 7, 9, 8) for k in "abcd"}
    wild = {k: days(2, 15, 4, 14, 3, 12, 2, 13) for k in "abcd"}
    assert fitted(wild).day_shape < 4 < 20 < fitted(calm).day_shape
    factors = fitted(wild).factors
    assert factors["1"] > 1.3 > 0.7 > factors["0"]


def test_a_day_factor_widens_the_demand_and_keeps_its_mean():
    plain, wide = demand(Rate(32, 6.5)), demand(Rate(32, 6.5), day_shape=6)
    assert wide @ np.arange(len(wide)) == pytest.approx(plain @ np.arange(len(plain)), rel=1e-3)
    assert wide[:2].sum() > plain[:2].sum()
    assert plain == pytest.approx(nbinom.pmf(np.arange(len(plain)), 32, 6.5 / 7.5), abs=1e-9)


# --- a whole market ------------------------------------------------------------------------------

SEEN = {"a": days(5, 9, 7, 6, 8), "b": days(3, 2, 4, 3, 3), "c": []}


def test_few_days_give_a_wider_spread_than_many():
    few = what_to_bring([ware()], {"a": days(6, 7)}).wares[0]
    many = what_to_bring([ware()], {"a": days(*(6, 7) * 8)}).wares[0]
    assert many.high - many.low < few.high - few.low
    assert "Only 2 days seen" in few.words
    assert "Only" not in many.words


def test_a_design_never_brought_is_reckoned_by_the_others():
    answer = what_to_bring([ware(key) for key in "abc"], SEEN)
    new = answer.wares[2]
    assert "Never brought here" in new.words
    assert answer.wares[1].low <= new.expected <= answer.wares[0].high
    assert new.high - new.low > answer.wares[1].high - answer.wares[1].low


def test_no_day_at_all_needs_the_maker_s_guess():
    with pytest.raises(BadMarket, match="No past day"):
        what_to_bring([ware()], {})
    low, high = (what_to_bring([ware()], {}, guess=g).wares[0].bring for g in (3, 12))
    assert 0 < low < high


def test_one_more_place_is_worth_what_it_adds_to_the_margin():
    wares = [ware("a", few=90_000, many=15_000), ware("b", few=90_000, many=15_000)]
    here, more = (what_to_bring(wares, SEEN, room=Fraction(n)) for n in (7, 8))
    assert here.next_gain_minor100 == pytest.approx(
        more.margin_minor100 - here.margin_minor100, abs=1
    )
    assert what_to_bring(wares, SEEN, room=Fraction(300)).next_gain_minor100 is None


def test_no_more_are_brought_than_there_are():
    free = what_to_bring([ware(key) for key in "ab"], SEEN)
    short = what_to_bring([ware("a", most=2), ware("b")], SEEN)
    assert free.wares[0].bring > 2 == short.wares[0].bring
    assert "All that there are" in short.wares[0].words


def test_costs_of_too_few_and_too_many_are_what_is_expected():
    answer = what_to_bring([ware("a", few=80_000, many=20_000)], SEEN)
    row = answer.wares[0]
    lost = (row.expected - row.expected_sold) * 80_000
    back = (row.bring - row.expected_sold) * 20_000
    assert row.too_few_cost_minor100 == pytest.approx(lost, abs=1)
    assert row.too_many_cost_minor100 == pytest.approx(back, abs=1)


@pytest.mark.parametrize(
    ("wares", "words"),
    [
        ([], "No design"), ([ware(), ware()], "named twice"),
        ([ware(many=0)], "costs nothing"), ([replace(ware(), room=Fraction(0))], "takes 0 places"),
        ([ware(few=-1)], "0 or more"),
    ],
)  # fmt: skip
def test_what_cannot_be_reckoned_with_is_refused(wares, words):
    with pytest.raises(BadMarket, match=words):
        what_to_bring(wares, SEEN)
