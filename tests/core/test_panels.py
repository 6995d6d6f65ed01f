"""Scent panels: plain words, ties, and what no panel can have given."""

import pytest

from pourwright.core.panels import (
    BadPanel,
    rank_panel,
    triangle,
    triangle_assessors,
    triangle_needed,
    triangle_power,
)

CLEAR = [[1, 2, 3]] * 12


def test_a_panel_that_agrees_says_so_in_words():
    found = rank_panel(CLEAR, candles=["Fig", "Cedar", "Bay"])
    assert found.differ
    assert found.says[0] == "From first to last by rank sum: Fig (12), Cedar (24), Bay (36)."
    assert "Told apart" in " ".join(found.says)
    assert "few" not in " ".join(found.says)


def test_a_panel_that_does_not_agree_says_what_it_did_not_show():
    found = rank_panel([[1, 2, 3], [3, 2, 1], [2, 3, 1]])
    assert not found.differ
    assert not any(pair.differs for pair in found.pairs)
    assert "They may still differ" in " ".join(found.says)
    assert "are few" in found.says[-1]


@pytest.mark.parametrize("row", [[1, 2.5, 2.5, 4], [1, 2, 2, 4], [1, 2, 2, 3]])
def test_ties_may_be_written_in_three_ways(row):
    assert rank_panel([row, [4, 3, 2, 1]]).rank_sums == (5, 5.5, 4.5, 5)


@pytest.mark.parametrize(
    "rows",
    [
        [[1, 2, 3]], [[1, 2, 3], [1, 2]], [[1, 2, 3], [1, 1, 1.5]], [[0, 1, 2], [1, 2, 3]],
        [[1], [1]], [[1, 2, float("nan")], [1, 2, 3]],
    ],
)  # fmt: skip
def test_rows_that_are_no_ranks_are_refused(rows):
    with pytest.raises(BadPanel):
        rank_panel(rows)


def test_a_panel_that_is_too_small_for_any_answer():
    assert triangle_needed(assessors=2, alpha=0.05) is None
    assert "too few" in triangle(assessors=2).says[0]
    assert triangle_power(assessors=2, tell=1) == 0
    assert triangle_assessors(tell=0.01, power=0.99, most=40) is None


def test_a_triangle_that_was_made():
    found = triangle(assessors=24, correct=13)
    assert found.differ
    assert found.says[0].startswith("The two smell different")
    found = triangle(assessors=24, correct=12)
    assert not found.differ
    assert "does not show that they are alike" in found.says[0]
    found = triangle(assessors=24, correct=7)
    assert found.tell == 0
    assert "guess right: at most" in found.says[1]
    with pytest.raises(BadPanel, match="0 to 24"):
        triangle(assessors=24, correct=25)


@pytest.mark.parametrize("alpha", [0, 0.5, 1.2])
def test_a_risk_that_is_none_is_refused(alpha):
    with pytest.raises(BadPanel, match="risk"):
        triangle(assessors=24, alpha=alpha)
