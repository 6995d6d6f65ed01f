"""What a plan leaves free: what sums rule out is out, and the search is limited by a count."""

import pytest

from planning_examples import busy_problem, day, drawn_problem, small
from pourwright.core.planning.draft import Judge
from pourwright.core.planning.greedy import HAND, lay
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.promise import promise_and_start
from pourwright.core.planning.solving import solve
from pourwright.core.planning.spare import _Filling, _with, pour_more

CASES = {"busy": busy_problem(), "drawn": drawn_problem(), "small": small(3), "smaller": small(8)}


@pytest.mark.parametrize("name", CASES)
def test_no_session_holds_more_than_its_sums_allow(name):
    judge = Judge(Ground(CASES[name]))
    now = lay(judge, HAND)
    tried = 0
    for k in range(len(judge.ground.goods)):
        filling = _Filling(judge, now, k, 1)
        for s, stint in enumerate(judge.ground.stints):
            for m in stint.melters:
                cell = (s, m, judge.ground.group_of(k, m))
                allowed = filling._roughly(cell)
                fits = [
                    more for more in range(1, 25)
                    if judge.judge(_with(now.draft, cell, k, more)) is not None
                ]  # fmt: skip
                assert max(fits, default=0) <= allowed, (name, k, s, m)
                tried += len(fits)
    assert tried, "something fits somewhere, or this has shown nothing"


@pytest.mark.parametrize("name", CASES)
def test_more_is_poured_only_where_everything_fits_and_no_more_often_tried_than_allowed(name):
    judge = Judge(Ground(CASES[name]))
    now = lay(judge, HAND)
    sessions = range(len(judge.ground.stints))
    asked = []
    plain = judge.judge
    judge.judge = lambda draft: asked.append(draft) or plain(draft)
    for k in range(len(judge.ground.goods)):
        for most in (0, 1, 7):
            asked.clear()
            draft, went = pour_more(judge, now, k, sessions, 9, most_tried=most)
            assert len(asked) <= most
            was = sum(q for _, q in now.poured[k])
            found = plain(draft)
            assert found is not None
            assert sum(q for _, q in found.poured[k]) == was + sum(q for _, q in went)


def test_an_enquiry_asked_twice_gets_the_same_answer_with_its_latest_start():
    given = busy_problem()
    plan = solve(given, effort=1, prove=False)
    one, other = (
        promise_and_start(given, plan, product="B", quantity=9, by=day(24), spare_sessions=0)
        for _ in range(2)
    )
    assert one == other
    answer, start = one
    assert answer.on_time > answer.from_stock, "something is poured for it"
    assert start.to_pour >= 9 - answer.from_stock
