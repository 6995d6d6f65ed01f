"""What a maker asks of a plan: why late, can I promise, when at the latest, what changed."""

from dataclasses import replace
from itertools import pairwise

import pytest

from planning_examples import MONDAY, POT, busy_problem, day, evening, order, problem, product
from pourwright.core.planning.checker import findings
from pourwright.core.planning.differences import differences
from pourwright.core.planning.ground import BadPlan, Ground
from pourwright.core.planning.latest_start import latest_start
from pourwright.core.planning.model import Arrival, Lot, Material, Use
from pourwright.core.planning.promise import promise
from pourwright.core.planning.reasons import with_reasons
from pourwright.core.planning.replanning import breaks, replan
from pourwright.core.planning.solving import solve
from pourwright.core.planning.timetable import schedule

A, B = product("A"), product("B")


def reason(given, place=0):
    plan = with_reasons(given, solve(given, effort=2, prove=False))
    return plan.lines[place].reason


# --- why late ------------------------------------------------------------------------------------


def test_too_late_for_the_cure_names_the_first_day_that_is_possible():
    found = reason(problem(products=(A,), sessions=(evening(2),), lines=(order("A", 3, 7),)))
    assert found.kind == "cure"
    assert "Wed 10 Mar" in found.words
    assert found.change == (
        "On time with one more session on Mon 1 Mar (18:00 to 21:00); or promise it for Wed 10 Mar."
    )


def test_a_material_that_comes_too_late_is_named_with_its_parcel():
    made = replace(A, uses=(Use(material="wax", amount=180_000),))
    wax = Material(
        key="wax", name="plain wax", unit="mg", on_hand=360_000, lead_days=9,
        arrivals=(Arrival(on=day(6), amount=5_000_000),),
    )  # fmt: skip
    given = problem(
        products=(made,), sessions=(evening(1), evening(4), evening(8)), materials=(wax,),
        lines=(order("A", 6, 12),),
    )  # fmt: skip
    found = reason(given)
    assert (found.kind, found.resource) == ("material", "wax")
    assert found.words == (
        "Plain wax is 720 g short on Fri 5 Mar; the next parcel comes on Sun 7 Mar."
    )
    assert found.change == "On time if it is there by Fri 5 Mar."


def test_a_table_that_is_too_small_is_named_with_the_places_and_the_session():
    given = problem(
        products=(A,), sessions=(evening(1),), lines=(order("A", 9, 9),), table_places=6
    )  # fmt: skip
    found = reason(given)
    assert (found.kind, found.resource, found.session) == ("capacity", "table", "day 1")
    assert found.words == "The pour table is 3 places short on Tue 2 Mar 18:00."
    assert found.change == "On time with 3 more table places (9 in all)."
    enough = replace(given, table_places=9)
    assert solve(enough, effort=2, prove=False).totals.late_units == 0


def test_a_line_that_weighs_more_is_named_as_being_in_the_way():
    given = problem(
        products=(A, B), sessions=(evening(1, most_melts=1),),
        lines=(order("A", 5, 9, priority=3, key="fair"), order("B", 5, 9, key="shelf")),
    )  # fmt: skip
    given = replace(given, sessions=(evening(1, hours=2),))
    plan = with_reasons(given, solve(given, effort=2, prove=False))
    assert [answer.late for answer in plan.lines] == [0, 5]
    found = plan.lines[1].reason
    assert found.kind == "outranked"
    assert "fair" in found.words
    longer = replace(given, sessions=(evening(1, hours=4),))
    assert solve(longer, effort=2, prove=False).totals.late_units == 0


def test_lines_on_time_have_no_reason():
    given = problem(products=(A,), sessions=(evening(1),), lines=(order("A", 2, 9),))
    assert reason(given) is None


def test_a_day_that_nothing_reaches_can_only_be_put_off():
    found = reason(problem(products=(A,), sessions=(evening(2),), lines=(order("A", 3, 6),)))
    assert (found.kind, found.change, found.changes) == ("cure", "Promise it for Wed 10 Mar.", ())


# --- promises ------------------------------------------------------------------------------------

STALL = problem(
    products=(A, B), sessions=(evening(1, most_melts=1), evening(3, most_melts=1), evening(8)),
    lines=(order("A", 6, 12, key="shop"), order("B", 9, 12, key="fair")),
    lots=(Lot(key="old", product="A", quantity=2, ready_on=day(0)),),
)  # fmt: skip


@pytest.fixture(scope="module")
def stall():
    return solve(STALL, effort=2, prove=False)


def test_a_promise_uses_what_the_plan_leaves_free(stall):
    found = promise(STALL, stall, product="A", quantity=4, by=day(12))
    assert found.can
    assert (
        found.words == "Yes: 4 units by Sat 13 Mar, with no more melts; no other line is worse off."
    )
    assert findings(found.problem, found.plan) == []
    assert [answer.late for answer in found.plan.lines] == [0, 0, 0]


def test_a_promise_that_cannot_be_kept_says_how_many_and_when(stall):
    found = promise(STALL, stall, product="B", quantity=12, by=day(12))
    assert not found.can
    assert found.on_time < 12
    assert found.earliest == day(15)
    assert "all of them by Tue 16 Mar" in found.words
    assert [answer.late for answer in found.plan.lines][:2] == [0, 0]


def test_a_promise_for_what_is_no_product_is_refused(stall):
    with pytest.raises(BadPlan, match='no product "Z"'):
        promise(STALL, stall, product="Z", quantity=1, by=day(12))


# --- latest start --------------------------------------------------------------------------------


def test_the_latest_start_says_when_to_order_and_when_there_is_no_room():
    made = replace(A, uses=(Use(material="wax", amount=180_000),))
    wax = Material(key="wax", name="wax", unit="mg", on_hand=0, lead_days=5)
    given = problem(
        products=(made,), sessions=(evening(6), evening(8), evening(10)), materials=(wax,),
        melters=(replace(POT, capacity_mg=1_000_000),), lines=(),
    )  # fmt: skip
    given = replace(given, sessions=tuple(replace(s, most_melts=1) for s in given.sessions))
    found = latest_start(given, product="A", quantity=7, due=day(18))
    assert (found.starts_on, found.starts_on_with_spare) == (day(8), day(6))
    assert found.order_by == (("wax", day(1)),)
    none = latest_start(given, product="A", quantity=70, due=day(18))
    assert (none.starts_on, none.words) == (None, "There is room to pour 15 of the 70 in time.")


# --- planning again ------------------------------------------------------------------------------


def test_a_session_that_falls_away_moves_only_what_has_to_move(stall):
    left = replace(STALL, sessions=(STALL.sessions[0], evening(4), *STALL.sessions[2:]))
    again = replan(left, stall, effort=4)
    assert findings(left, again) == []
    assert again.totals.late_units == 0
    assert again.melts_of("day 1")[0].draws == stall.melts_of("day 1")[0].draws
    told = differences(left, stall, again)
    assert any(words.startswith("Fri 5 Mar 18:00: also") for words in told)
    assert not any(words.startswith("Tue 2 Mar") for words in told)


def test_nothing_changes_where_nothing_happened(stall):
    again = replan(STALL, stall, until=day(2), effort=3)
    assert differences(STALL, stall, again) == ()


def test_moving_a_melt_says_at_once_what_it_breaks(stall):
    assert breaks(STALL, stall, stall.melts) == ()
    late = [replace(m, session="day 8") if m.session == "day 1" else m for m in stall.melts]
    assert any("late instead of 0" in words for words in breaks(STALL, stall, late))
    crowded = [replace(m, session="day 1") for m in stall.melts]
    assert breaks(STALL, stall, crowded)[0].startswith("It does not fit")


# --- clocks --------------------------------------------------------------------------------------


def test_two_melters_share_one_pair_of_hands():
    given = busy_problem()
    ground = Ground(given)
    one, two = (0, ((0, ((0, 8),)),)), (1, ((1, ((2, 12),)),))
    clock = schedule(ground, 2, (one, two), prep=((0, 8), (2, 12)))
    assert clock is not None
    busy = sorted(
        (s.start_s, s.end_s)
        for s in [*clock.tasks, *(s for b in clock.batches for s in b)]
        if s.busy
    )
    assert all(first[1] <= second[0] for first, second in pairwise(busy))
    melts = [next(s for s in batch if s.kind == "melt") for batch in clock.batches]
    assert melts[0].start_s < melts[1].end_s
    assert melts[1].start_s < melts[0].end_s


def test_a_session_too_short_has_no_clock():
    given = problem(products=(A,), sessions=(evening(1, hours=1),), lines=())
    assert schedule(Ground(given), 0, ((0, ((0, ((0, 8),)),)),)) is None
    assert given.today == MONDAY
