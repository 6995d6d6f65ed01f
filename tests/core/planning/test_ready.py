"""A candle is ready once it is cured and finished: whichever comes last."""

from dataclasses import replace

import pytest

from planning_examples import day, evening, order, problem, product
from pourwright.core.planning.checker import findings
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.solving import solve

QUICK = product("A", cure=1, prep_s=30, finish_s=120)


def weekly(due, **more):
    """Return a workshop that pours once a week, and a candle that cures in a day."""
    given = problem(
        products=(QUICK,), sessions=tuple(evening(d) for d in (0, 7, 14)),
        lines=(order("A", 5, due),),
    )  # fmt: skip
    return replace(given, **more)


def test_what_nobody_can_finish_before_next_week_is_not_ready_tomorrow():
    ground = Ground(weekly(6))
    assert [ground.ready(0, s) for s in range(3)] == [7, 14, 15], "after the last nobody knows"
    unfinished = replace(QUICK, finish_s=0)
    assert Ground(weekly(6, products=(unfinished,))).ready(0, 0) == 1


@pytest.mark.parametrize(("due", "late"), [(1, 5), (6, 5), (7, 0), (9, 0)])
def test_a_line_is_late_until_its_candles_can_be_finished(due, late):
    given = weekly(due)
    plan = solve(given, effort=2, prove=False)
    assert plan.totals.late_units == late
    assert findings(given, plan) == []


def test_finishing_is_done_by_the_day_that_the_candles_are_ready():
    """Days later would be soon enough for the table, and too late for the line."""
    sessions = (evening(0), *(evening(d, hours=1) for d in (1, 2, 3)))
    given = weekly(2, sessions=sessions, finish_after_s=3600)
    given = replace(given, products=(replace(QUICK, cure_days=2),))
    plan = solve(given, effort=2, prove=False)
    assert plan.totals.late_units == 0
    assert findings(given, plan) == []
    finished = [task.session for task in plan.tasks if task.step.kind == "finish"]
    assert finished
    assert set(finished) <= {"day 1", "day 2"}
    later = tuple(
        replace(task, session="day 3") if task.step.kind == "finish" else task
        for task in plan.tasks
    )
    assert any("finished in time" in words for words in findings(given, replace(plan, tasks=later)))


def test_a_long_cure_is_ready_when_it_is_cured():
    ground = Ground(weekly(20, products=(replace(QUICK, cure_days=10),)))
    assert ground.ready(0, 0) == 10
    assert ground.date(ground.ready(0, 1)) == day(17)
