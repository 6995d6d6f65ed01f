"""
Panels against the published tables and SciPy.

Triangle: ISO 4120's table (n = 30 needs 15; from memory), which is exact binomial. Friedman: the
example of SciPy's manual (friedmanchisquare). Least significant difference: ISO 8587:2006 on an
invented panel of twelve, worked by its formula.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from pourwright.core.panels import (
    rank_panel,
    triangle,
    triangle_assessors,
    triangle_needed,
    triangle_power,
)


@pytest.mark.parametrize(("assessors", "needed"), [(12, 8), (24, 13), (30, 15), (60, 27)])
def test_the_triangle_table_of_iso_4120(assessors, needed):
    assert triangle_needed(assessors=assessors, alpha=0.05) == needed


@pytest.mark.parametrize("alpha", [0.1, 0.05, 0.01, 0.001])
def test_the_triangle_agrees_with_scipys_binomial(alpha):
    for n in range(3, 120, 7):
        below = stats.binom.sf(np.arange(-1, n), n, 1 / 3) <= alpha
        expected = int(np.argmax(below)) if below.any() else None
        assert triangle_needed(assessors=n, alpha=alpha) == expected, n
    found = triangle(assessors=36, correct=18, alpha=alpha)
    assert found.p == pytest.approx(stats.binom.sf(17, 36, 1 / 3), rel=1e-9)
    expected = stats.binom.sf(triangle_needed(assessors=36, alpha=alpha) - 1, 36, 0.3 + 0.7 / 3)
    assert triangle_power(assessors=36, tell=0.3, alpha=alpha) == pytest.approx(expected, rel=1e-9)


def test_the_similarity_limit_of_iso_4120():
    """1.5x/n - 0.5 + 1.5 z sqrt((nx - x²)/n³), by hand for x = 12 of n = 36, z = 1.6449."""
    found = triangle(assessors=36, correct=12, beta=0.05)
    assert found.tell == pytest.approx(0)
    assert found.tell_upper == pytest.approx(1.5 * 1.6449 * (288 / 46656) ** 0.5, abs=1e-4)


def test_enough_assessors_is_enough_from_there_on():
    enough = triangle_assessors(tell=0.4, power=0.9)
    assert triangle_power(assessors=enough, tell=0.4) >= 0.9
    assert triangle_power(assessors=enough - 1, tell=0.4) < 0.9
    assert all(triangle_power(assessors=enough + more, tell=0.4) >= 0.9 for more in range(40))


def test_friedman_as_in_scipys_manual():
    columns = (
        [72, 96, 88, 92, 74, 76, 82],
        [120, 120, 132, 120, 101, 96, 112],
        [76, 95, 104, 96, 84, 72, 76],
    )
    found = rank_panel(list(zip(*columns, strict=True)), scores=True)
    assert found.friedman == pytest.approx(10.5714, abs=1e-4)
    assert found.p == pytest.approx(0.005063, abs=1e-6)


def test_twelve_assessors_and_four_candles():
    panel = "1234 2134 1324 1243 2143 1234 3124 1234 2134 1324 1243 2134"
    given_ranks = panel.split()
    found = rank_panel([[int(rank) for rank in row] for row in given_ranks])
    assert found.rank_sums == (18, 21, 36, 45)
    assert found.friedman == pytest.approx(24.30, abs=0.005)
    assert found.lsd == pytest.approx(12.40, abs=0.01)
    differs = {(pair.first[-1], pair.second[-1]): pair.differs for pair in found.pairs}
    assert differs[("1", "2")] is False
    assert differs[("2", "3")] is True


@given(
    st.integers(3, 7).flatmap(
        lambda p: st.lists(
            st.lists(st.integers(1, 4), min_size=p, max_size=p), min_size=3, max_size=20
        )
    )
)
@settings(max_examples=50)
def test_friedman_with_ties_agrees_with_scipy(scores):
    if all(len(set(row)) == 1 for row in scores):
        assert rank_panel(scores, scores=True).p == 1
        return
    expected = stats.friedmanchisquare(*np.array(scores).T)
    found = rank_panel(scores, scores=True)
    assert found.friedman == pytest.approx(expected.statistic, abs=1e-9)
    assert found.p == pytest.approx(expected.pvalue, rel=1e-9, abs=1e-300)
