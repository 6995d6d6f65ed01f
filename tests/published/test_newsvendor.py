"""
What to bring to a market: against textbook examples and general libraries.

Sources: Nahmias, Production and Operations Analysis, the newsstand example (costs and name from
memory; the 52 weekly sales appear in public teaching slides, of which a study outside this program
printed mean 11.73, SD 4.74 and the empirical F(14) = 0.692, F(15) = 0.788; they are not repeated
here). The market of 36 places was worked out by that study, by marginal gain and by dynamic
programming. Distributions are compared with scipy.stats.
"""

from fractions import Fraction

import numpy as np
import pytest
from scipy.stats import nbinom, norm

from pourwright.core.planning.bring import Ware, newsvendor, what_to_bring
from pourwright.core.planning.demand_fit import Fit, Prior, Seen, demand, posterior

PRIOR = Prior(shape=2, rate=0.5)
SALES = {
    "A": (4, 7, 2, 5, 9, 3), "B": (10, 12, 8, 15, 9, 11), "C": (1, 0, 2, 1, 0, 3),
    "D": (6, 5, 7, 4, 6, 8), "E": (3, 9, 1, 2, 12, 4),
}  # fmt: skip
TOO_FEW = {"A": 9, "B": 9, "C": 11, "D": 9, "E": 10}


def days(sales):
    return [Seen(sold=sold, day=str(place)) for place, sold in enumerate(sales)]


# --- the newsstand -------------------------------------------------------------------------------

BUY, SELL, RETURN, MEAN, SD = 0.25, 0.75, 0.10, 11.73, 4.74


def test_the_newsstand_orders_fifteen_with_the_fitted_negative_binomial():
    p = MEAN / SD**2
    r = MEAN * p / (1 - p)
    assert (round(r, 2), round(p, 3)) == (pytest.approx(12.81, abs=0.05), 0.522)
    chances = nbinom.pmf(np.arange(200), r, p)
    assert newsvendor(chances, too_few=SELL - BUY, too_many=BUY - RETURN) == 15


def test_the_newsstand_orders_fifteen_with_the_normal_law_too():
    """The book's normal answer is 15.2, which it rounds to 15."""
    ratio = (SELL - BUY) / (SELL - RETURN)
    assert round(ratio, 3) == 0.769
    assert round(MEAN + SD * norm.ppf(ratio), 1) == 15.2
    edges = norm.cdf(np.arange(60) + 0.5, MEAN, SD)
    chances = np.diff(edges, prepend=0)
    assert newsvendor(chances, too_few=SELL - BUY, too_many=BUY - RETURN) == 15


def test_the_newsstand_orders_fifteen_by_its_own_record():
    """F(14) = 0.692 and F(15) = 0.788, as printed of the 52 weeks."""
    chances = np.array([*np.zeros(14), 0.692, 0.788 - 0.692, 1 - 0.788])
    assert newsvendor(chances, too_few=SELL - BUY, too_many=BUY - RETURN) == 15


# --- learning from days --------------------------------------------------------------------------


def test_six_days_of_sales_give_the_predictive_that_was_printed():
    rate = posterior(days(SALES["A"]), PRIOR)
    assert rate.shape == 32
    assert rate.rate / (rate.rate + 1) == pytest.approx(0.8667, abs=5e-5)
    chances = demand(rate)
    wanted = np.arange(len(chances))
    mean = chances @ wanted
    assert mean == pytest.approx(4.923, abs=5e-4)
    assert chances @ (wanted - mean) ** 2 == pytest.approx(5.680, abs=5e-4)
    for most, printed in ((6, 0.7629), (7, 0.8599), (8, 0.9230)):
        assert chances[: most + 1].sum() == pytest.approx(printed, abs=5e-5)
    quantities = [newsvendor(chances, too_few=r, too_many=1 - r) for r in (0.5, 0.8, 0.9, 0.95)]
    assert quantities == [5, 7, 8, 9]


def test_the_predictive_is_scipys_negative_binomial():
    rate = posterior([Seen(sold=3, exposure=0.5), Seen(sold=11, exposure=2)], PRIOR)
    chances = demand(rate, exposure=1.5)
    expected = nbinom.pmf(np.arange(len(chances)), 16, 3 / (3 + 1.5))
    assert chances == pytest.approx(expected, abs=1e-10)


# --- a stall of 36 places ------------------------------------------------------------------------


def market(room):
    seen = {key: days(sales) for key, sales in SALES.items()}
    rates = {key: posterior(rows, PRIOR) for key, rows in seen.items()}
    wares = [
        Ware(key=key, name=key, too_few_minor100=TOO_FEW[key] * 1_000_000,
             too_many_minor100=1_500_000)
        for key in SALES
    ]  # fmt: skip
    fit = Fit(prior=PRIOR, rates=rates, day_shape=None, factors={})
    return what_to_bring(wares, seen, room=room, fit=fit)


def test_without_a_limit_forty_one_are_brought():
    answer = market(None)
    assert [row.bring for row in answer.wares] == [7, 14, 3, 9, 8]


def test_thirty_six_places_are_shared_as_printed():
    answer = market(Fraction(36))
    assert [row.bring for row in answer.wares] == [6, 13, 2, 8, 7]
    assert answer.margin_minor100 / 1e6 == pytest.approx(221.8555, abs=5e-5)
    assert answer.last_gain_minor100 / 1e6 == pytest.approx(1.0786, abs=5e-5)
