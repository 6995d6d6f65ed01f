"""
The fill to aim at, against a study made outside this program.

The study computed, for a label of 200 g, the product of the two parts' chances (noncentral t and
binomial) and confirmed it by 40 000 and more drawn lots; printed to 0.01 g. Its tables are those
of Handbook 133 (from memory, high), Directive 76/211/EEC and SI 2006/659. Where the product is only
near, the drawn lots of this test decide.
"""

from datetime import date
from math import sqrt

import numpy as np
import pytest
from scipy.stats import t

from pourwright.core.contents import parse_declared
from pourwright.core.contents.target import chance, inspection, target_fill

ON = date(2026, 11, 25)
LABEL = parse_declared("200 g")
LOTS = {"us": 100, "us 24": 1000, "gb 12": 12, "gb 20": 20, "gb 60": 60, "eu": 300}


def over(column, sd, probability):
    return target_fill(
        market=column[:2], declared=LABEL, sd_g=sd, lot_size=LOTS[column], on=ON,
        probability=probability,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("sd", "column", "at_95", "at_99"),
    [
        (1, "us", 0, 0.12), (1, "us 24", 0, 0.08), (1, "gb 12", 0.47, 0.67),
        (1, "gb 20", 0.37, 0.52), (1, "gb 60", 0.21, 0.30), (1, "eu", 0, 0),
        (2, "us", 0, 0.23), (2, "us 24", 0, 0.16), (2, "gb 12", 0.95, 1.34),
        (2, "gb 60", 0.42, 0.60), (2, "eu", 0, 0), (3, "us", 0, 0.39), (3, "us 24", 0, 0.30),
        (3, "gb 12", 1.45, 2.06), (3, "gb 20", 1.10, 1.56), (3, "gb 60", 0.64, 0.90),
        (4, "us", 0.23, 1.81), (4, "us 24", 0.70, 2.56), (4, "gb 20", 1.50, 2.13),
        (4, "gb 60", 0.85, 1.21), (6, "us", 4.98, 8.06), (6, "us 24", 6.35, 9.24),
        (6, "gb 12", 6.79, 9.86),
    ],
)  # fmt: skip
def test_agrees_with_the_study(sd, column, at_95, at_99):
    assert over(column, sd, 0.95).over_g == pytest.approx(at_95, abs=0.012)
    assert over(column, sd, 0.99).over_g == pytest.approx(at_99, abs=0.012)


def test_a_british_batch_of_twenty_to_a_thousandth():
    """The study's check value 5: only the mean matters, so it is z * s / sqrt(n)."""
    assert over("gb 20", 2, 0.95).over_g == pytest.approx(0.736, abs=6e-4)
    assert over("gb 20", 2, 0.99).over_g == pytest.approx(1.040, abs=6e-4)


def test_at_the_label_the_average_part_passes_as_the_tables_mean_it_to():
    """The factors are t(0.975) and t(0.995) over sqrt(n): at the label 97.5 and 99.5 % pass."""
    us_plan = inspection(market="us", declared=LABEL, lot_size=100, on=ON)
    eu_plan = inspection(market="eu", declared=LABEL, lot_size=300, on=ON)
    assert chance(us_plan, over_g=0, sd_g=1).average_passes == pytest.approx(0.975, abs=3e-4)
    assert chance(eu_plan, over_g=0, sd_g=1).average_passes == pytest.approx(0.995, abs=1e-4)
    assert us_plan.factor == pytest.approx(t.ppf(0.975, 11) / sqrt(12), abs=1e-3)


def test_a_shift_from_lot_to_lot_costs_more_than_its_own_size():
    """The study: a shift of 1 g moves the twenty jars from 0.74 to 1.80 g."""
    found = target_fill(
        market="gb", declared=LABEL, sd_g=2, lot_size=20, on=ON, batch_sd_g=1, probability=0.95
    )
    assert found.over_g == pytest.approx(1.80, abs=0.01)


def drawn_lots_pass(inspected, *, over_g, sd_g, lots):
    """Draw lots and judge each by the rule itself, written out anew here."""
    dice = np.random.default_rng(20261125)
    most = max(inspected.mean_sample, inspected.stages[-1][0])
    fills = over_g + sd_g * dice.standard_normal((lots, most))
    of_mean = fills[:, : inspected.mean_sample]
    mean = of_mean.mean(axis=1)
    passed = mean >= -inspected.factor * of_mean.std(axis=1, ddof=1)
    accepted, undecided = np.zeros(lots, bool), np.ones(lots, bool)
    for weighed, accept, reject in inspected.stages:
        short = (fills[:, :weighed] < -inspected.single_g).sum(axis=1)
        fine = short <= accept
        if inspected.never_g is not None:
            fine &= (fills[:, :weighed] >= -inspected.never_g).all(axis=1)
        accepted |= undecided & fine
        undecided &= (short > accept) & (short < reject)
    return float((passed & accepted).mean())


@pytest.mark.parametrize(
    ("market", "lot_size", "sd", "over_g"),
    [
        ("us", 100, 6, 4.98), ("us", 5000, 5, 1.5), ("gb", 12, 4, 2.26), ("gb", 20, 6, 3.69),
        ("gb", 60, 6, 3.17), ("gb", 300, 6, 3.0), ("eu", 300, 6, 2.78), ("eu", 300, 7, 2.0),
    ],
)  # fmt: skip
def test_the_chance_agrees_with_drawn_lots(market, lot_size, sd, over_g):
    """Also where short packages and the mean go together, and where twice the TNE bites."""
    inspected = inspection(market=market, declared=LABEL, lot_size=lot_size, on=ON)
    found = chance(inspected, over_g=over_g, sd_g=sd)
    drawn = drawn_lots_pass(inspected, over_g=over_g, sd_g=sd, lots=20_000)
    scatter = sqrt(max(drawn * (1 - drawn), 1e-4) / 20_000)
    assert found.passes == pytest.approx(drawn, abs=4 * scatter + 2 * found.error)
    assert found.error < 1e-3
