"""More means never make a plan worse, and two plans side by side say which is better at what."""

from dataclasses import replace
from fractions import Fraction

import pytest

from planning_examples import POT, busy_problem, day, drawn_problem, evening, small
from pourwright.core.planning.checker import findings
from pourwright.core.planning.differences import better_at
from pourwright.core.planning.model import Bounds
from pourwright.core.planning.replanning import rejudged
from pourwright.core.planning.saving import save_late
from pourwright.core.planning.solving import solve

CASES = {
    "busy": replace(busy_problem(), table_places=9), "drawn": drawn_problem(),
    "small": small(2), "smaller": small(11),
}  # fmt: skip
GROWN = {
    "a wider table": lambda p: replace(p, table_places=p.table_places + 4),
    "a second melter": lambda p: replace(p, melters=(*p.melters, replace(POT, key="second"))),
    "one more evening": lambda p: replace(p, sessions=(*p.sessions, evening(4))),
}


def worth(plan):
    """Return what plans are compared by, least first."""
    totals = plan.totals
    return (
        totals.late_weight, totals.owed_unit_days, totals.melts, totals.maker_s,
        totals.poured_early, totals.cost_minor100,
    )  # fmt: skip


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("more", GROWN)
def test_with_more_means_a_quick_look_is_never_worse_than_the_plan_there_was(name, more):
    given = CASES[name]
    plan = solve(given, effort=6, prove=False)
    grown = GROWN[more](given)
    same = rejudged(grown, plan)
    assert findings(grown, same) == []
    assert worth(same)[:4] == worth(plan)[:4], "the same melts come to the same"
    for effort in (0, 1):
        found = solve(grown, effort=effort, prove=False, start=same)
        assert findings(grown, found) == []
        assert worth(found) <= worth(same)


@pytest.mark.parametrize("worth", [None, 60])
def test_a_line_that_can_be_saved_is_and_nothing_is_worse_for_it(worth):
    given = replace(CASES["busy"], late_unit_worth_s=worth, table_places=12)
    bare = rejudged(given, solve(replace(given, lines=given.lines[:2]), effort=0, prove=False))
    assert bare.totals.late_units > 20, "what nobody poured for is late"
    found = save_late(given, bare)
    assert findings(given, found) == []
    if worth is None:
        assert found.totals.late_units < bare.totals.late_units / 2
        assert worth_of_lines(given, found) <= worth_of_lines(given, bare)
    else:
        paid = [t.late_weight * worth + t.maker_s for t in (found.totals, bare.totals)]
        assert paid[0] <= paid[1]
    assert save_late(given, found) == save_late(given, found)
    assert save_late(given, bare, stop=lambda: True) is bare


def worth_of_lines(given, found):
    return sum(li.priority * a.late for li, a in zip(given.lines, found.lines, strict=True))


def test_under_fewer_means_what_still_fits_is_the_start():
    given = CASES["busy"]
    plan = solve(given, effort=4, prove=False)
    away = replace(given, sessions=tuple(s for s in given.sessions if s.on != day(5)))
    left = rejudged(away, plan)
    assert findings(away, left) == []
    kept = {(m.session, m.melter, m.draws) for m in left.melts}
    assert kept <= {(m.session, m.melter, m.draws) for m in plan.melts}
    assert len(kept) >= len(plan.melts) - len(plan.melts_of("day 5")) - 1
    assert worth(solve(away, effort=0, prove=False, start=left)) <= worth(left)


def plan(late, melts, *, least=0):
    made = solve(small(2), effort=0, prove=False)
    totals = replace(made.totals, late_units=late, late_weight=late, melts=melts)
    bounds = Bounds(late_weight=Fraction(least), unavoidable_late_units=least)
    return replace(made, totals=totals, bounds=bounds)


def test_two_plans_are_told_apart_by_what_each_is_better_at():
    said = better_at(plan(3, 9), plan(5, 7), names=("PL-1", "PL-2"))
    assert said[:2] == (
        "Fewer late: PL-1, 3 against 5.", "Fewer melts: PL-2, 7 against 9."
    )  # fmt: skip
    assert said[-1].startswith("Not proven")


@pytest.mark.parametrize(
    ("least", "words"),
    [
        ((3, 5), "Proven: neither can be less late"),
        ((0, 4), "Sure: PL-2 cannot have fewer late than PL-1; 4 of its units are late"),
        ((1, 2), "Not proven: looked for longer, PL-1 might come down to 1 late and PL-2 might"),
        ((3, 2), "Not proven: looked for longer, PL-2 might come down to 2 late."),
    ],
)
def test_how_sure_it_is_follows_from_what_is_proven_of_each(least, words):
    one, other = (plan(late, 7, least=low) for late, low in zip((3, 5), least, strict=True))
    assert better_at(one, other, names=("PL-1", "PL-2"))[-1].startswith(words)
    back = better_at(other, one, names=("PL-2", "PL-1"))
    assert back[0] == "Fewer late: PL-1, 3 against 5."
    assert back[-1].split(":")[0] == words.split(":")[0]


def test_equal_plans_are_said_to_be_equal():
    one = plan(3, 7, least=3)
    assert better_at(one, one, names=("a", "b"))[0] == "Both come to the same."
