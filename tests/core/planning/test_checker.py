"""The checker finds each kind of fault in a plan that was fine before."""

from dataclasses import replace

import pytest

from planning_examples import busy_problem, day, pinned
from pourwright.core.planning import checker
from pourwright.core.planning.model import Step
from pourwright.core.planning.solving import solve

GIVEN = busy_problem()


@pytest.fixture(scope="module")
def plan():
    found = solve(GIVEN, effort=0, prove=False)
    assert checker.findings(GIVEN, found) == []
    return found


def first_melt(plan, **changed):
    return replace(plan, melts=(replace(plan.melts[0], **changed), *plan.melts[1:]))


def more_in_it(plan):
    draw = plan.melts[0].draws[0]
    pour = replace(draw.pours[0], quantity=draw.pours[0].quantity + 40)
    return first_melt(plan, draws=(replace(draw, pours=(pour, *draw.pours[1:])),))


def without(plan, kind):
    place = next(i for i, m in enumerate(plan.melts) if any(s.kind == kind for s in m.steps))
    melt = plan.melts[place]
    less = replace(melt, steps=tuple(s for s in melt.steps if s.kind != kind))
    return replace(plan, melts=(*plan.melts[:place], less, *plan.melts[place + 1 :]))


def moved(plan, by_s):
    steps = tuple(
        replace(s, start_s=s.start_s + by_s, end_s=s.end_s + by_s) for s in plan.melts[0].steps
    )
    return first_melt(plan, steps=steps)


FAULTS = {
    "more in a melt than the melter holds": more_in_it,
    "no melting": lambda plan: without(plan, "melt"),
    "no clean": lambda plan: without(plan, "clean"),
    "beyond the session": lambda plan: moved(plan, 4 * 3600),
    "a melt twice at once": lambda plan: replace(plan, melts=(plan.melts[0], *plan.melts)),
    "no wicks": lambda plan: replace(
        plan, tasks=tuple(t for t in plan.tasks if t.step.kind != "prep")
    ),
    "never finished": lambda plan: replace(
        plan, tasks=tuple(t for t in plan.tasks if t.step.kind != "finish")
    ),
    "a line that fares better than it does": lambda plan: replace(
        plan,
        lines=tuple(
            replace(a, on_time=a.on_time + a.late, late=0, ready_on=day(0)) for a in plan.lines
        ),
    ),
    "a melt left out": lambda plan: replace(plan, melts=plan.melts[1:]),
    "a wrong total": lambda plan: replace(plan, totals=replace(plan.totals, melts=1)),
    "a bound above the plan": lambda plan: replace(
        plan, bounds=replace(plan.bounds, melts=plan.totals.melts + 1)
    ),
    "an unknown session": lambda plan: first_melt(plan, session="never"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_found(plan, fault):
    assert checker.findings(GIVEN, FAULTS[fault](plan)) != []


TIGHTER = {
    "a smaller table": {"table_places": 2},
    "a pin that is not kept": {"pinned": (pinned("day 1", "A", 1),)},
    "less material": {
        "materials": tuple(replace(m, on_hand=1, arrivals=()) for m in GIVEN.materials)
    },
    "frozen sessions": {"sessions": tuple(replace(s, frozen=True) for s in GIVEN.sessions)},
    "fewer melts allowed": {"sessions": tuple(replace(s, most_melts=0) for s in GIVEN.sessions)},
    "less busy time": {"sessions": tuple(replace(s, maker_s=600) for s in GIVEN.sessions)},
    "a larger least fill": {
        "melters": tuple(replace(m, minimum_mg=m.capacity_mg) for m in GIVEN.melters)
    },
    "less power than a melter draws": {
        "melters": tuple(replace(m, power_w=1000) for m in GIVEN.melters),
        "circuit_w": 900,
    },
    "longer cures": {"products": tuple(replace(p, cure_days=25) for p in GIVEN.products)},
}


@pytest.mark.parametrize("change", TIGHTER)
def test_a_plan_for_easier_means_fails_under_harder_ones(plan, change):
    assert checker.findings(replace(GIVEN, **TIGHTER[change]), plan) != []


def test_two_pairs_of_hands_are_not_one(plan):
    step = plan.melts[0].steps[0]
    at_once = Step(
        kind="finish", start_s=step.start_s, end_s=step.end_s, busy=True, what="A", quantity=1
    )
    session = plan.melts[0].session
    task = replace(plan.tasks[0], session=session, step=at_once)
    alone = replace(
        GIVEN,
        sessions=tuple(replace(s, people=1) if s.key == session else s for s in GIVEN.sessions),
    )
    found = checker.findings(alone, replace(plan, tasks=(*plan.tasks, task)))
    assert any("pairs of hands" in words for words in found)
