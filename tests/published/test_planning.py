"""
Planning: two worked examples, solved by hand and by enumeration.

Both were worked out for this program (the tiny plan by enumerating every plan, the latest start by
hand) and nobody has published them. Textbook examples of lot sizing and of market days are checked
with the purchases and the markets.
"""

from collections import Counter

import pytest

from planning_examples import FORTY, TINY, day
from pourwright.core.planning.checker import findings
from pourwright.core.planning.latest_start import latest_start
from pourwright.core.planning.solving import solve


@pytest.fixture(scope="module")
def tiny():
    return solve(TINY, effort=5, prove=False)


def test_the_tiny_plan_is_found_and_proven(tiny):
    """Five sessions of one melt, ten units a melt, a cure of seven days, five orders."""
    assert findings(TINY, tiny) == []
    totals = tiny.totals
    assert (totals.late_units, totals.melts, totals.held_unit_days) == (0, 4, 59)
    assert tiny.bounds.all_levels


def test_the_tiny_plan_pours_what_enumeration_pours(tiny):
    poured = {melt.session: Counter() for melt in tiny.melts}
    for melt in tiny.melts:
        for pour in melt.pours:
            poured[melt.session][pour.product] += pour.quantity
    assert poured == {
        "day 1": {"B": 8}, "day 5": {"A": 10}, "day 12": {"B": 5}, "day 15": {"A": 10},
    }  # fmt: skip


def test_the_latest_safe_start_of_forty_jars():
    """40 of 200 g for Friday, day 32, 3 % lost, 13 a melt, one melt an evening, two on Saturday."""
    found = latest_start(FORTY, product="A", quantity=40, due=day(32))
    assert found.to_pour == 42
    assert found.pours == (("day 19", 16), ("day 22", 13), ("day 24", 13))
    assert found.starts_on == day(19)
    assert found.starts_on_with_spare == day(17)
