"""Throw over cure time, read out of a ranking panel."""

import pytest

from pourwright.core.panels import BadPanel, rank_panel
from pourwright.core.throw_by_cure import ahead_share, growth


def ranked(row, times=12):
    return rank_panel([row] * times, candles=[f"candle {place}" for place in range(len(row))])


def test_growth_that_stops_says_from_when():
    # 7 days always last; 14 and 21 days share the first two places.
    rows = [[3, 1, 2], [3, 2, 1]] * 8
    found = growth(rank_panel(rows), [7, 14, 21])
    assert found.from_days == 14
    assert not found.at_the_last
    assert "from 14 days on" in found.says[0]
    assert "not proof" in found.says[0]


def test_growth_up_to_the_oldest_asks_for_older_ones():
    found = growth(ranked([3, 2, 1]), [7, 14, 21])
    assert (found.from_days, found.at_the_last) == (21, True)
    assert "older ones" in found.says[0]


def test_ages_that_are_not_told_apart_prove_nothing():
    found = growth(rank_panel([[1, 2, 3], [3, 1, 2], [2, 3, 1]] * 4), [7, 14, 21])
    assert found.from_days is None
    assert "not proof" in found.says[0]


def test_a_candle_that_fades_is_said_to():
    found = growth(ranked([1, 2, 3]), [7, 14, 21])
    assert found.from_days == 7
    assert "At 21 days it threw less than at 7." in found.says


def test_candles_of_no_known_age_are_passed_over():
    assert growth(ranked([4, 2, 1, 3], 24), [7, 21, None, 14]).from_days == 21
    with pytest.raises(BadPanel, match="two ages"):
        growth(ranked([1, 2]), [7, None])
    with pytest.raises(BadPanel, match="3 ages"):
        growth(ranked([1, 2]), [7, 14, 21])


def test_the_share_that_one_was_put_ahead_of():
    assert ahead_share(rank_sum=12, assessors=12, candles=4) == 1
    assert ahead_share(rank_sum=48, assessors=12, candles=4) == 0
    found = rank_panel([[1, 2, 3], [2, 1, 3], [3, 2, 1]])
    shares = [ahead_share(rank_sum=one, assessors=3, candles=3) for one in found.rank_sums]
    # Every comparison is won by one of the two.
    assert sum(shares) == pytest.approx(3 / 2)
    with pytest.raises(BadPanel):
        ahead_share(rank_sum=2, assessors=3, candles=3)
