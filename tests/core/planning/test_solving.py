"""Plans: as good as enumeration finds, kept by the checker, the same for the same input."""

import itertools
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from planning_examples import (
    POT,
    busy_problem,
    drawn_problem,
    evening,
    order,
    pinned,
    problem,
    product,
    small,
)
from pourwright.core.planning.checker import findings
from pourwright.core.planning.draft import Judge
from pourwright.core.planning.ground import BadPlan, Ground
from pourwright.core.planning.relaxation import Relaxation
from pourwright.core.planning.second import Second, solve_task
from pourwright.core.planning.solving import Solving, solve

ROOT = Path(__file__).resolve().parents[3]


# --- enumeration: every plan there is, and the best of them ---------------------------------------


def served_best(given, key, pours):
    """Return the least (late weight, owed unit-days) of one product, over every way to serve it."""
    lines = [line for line in given.lines if line.product == key]
    cure = next(p.cure_days for p in given.products if p.key == key)
    kept = 1000 - given.scrap_per_1000
    end = horizon(given)

    def there(on):
        lots = sum(
            x.quantity for x in given.lots if x.product == key and days(given, x.ready_on) <= on
        )
        poured = sum(q for at, q in pours if at + cure <= on)
        return lots + poured * kept // 1000

    best = None
    for units in itertools.product(*(range(line.quantity + 1) for line in lines)):
        dues = [days(given, line.due) for line in lines]
        if any(
            sum(u for u, d in zip(units, dues, strict=True) if d <= due) > there(due)
            for due in dues
        ):
            continue
        late = sum(li.priority * (li.quantity - u) for li, u in zip(lines, units, strict=True))
        owed = 0
        if any(li.kind == "order" and u < li.quantity for li, u in zip(lines, units, strict=True)):
            for on in range(end):
                asked = sum(
                    li.quantity if li.kind == "order" else u
                    for li, u, d in zip(lines, units, dues, strict=True)
                    if d <= on
                )
                owed += max(0, asked - there(on))
        if best is None or (late, owed) < best:
            best = (late, owed)
    return best


def days(given, on):
    return (on - given.today).days


def horizon(given):
    longest = max(p.cure_days for p in given.products)
    last = max(days(given, s.on) for s in given.sessions)
    return max(last + longest, max(days(given, line.due) for line in given.lines)) + 1


def enumerated(given):
    """Return the least (late, owed, melts, maker seconds, days poured early) of all plans."""
    most = given.melters[0].capacity_mg // given.products[0].fill_mg
    pot = given.melters[0]
    choices = [None, *((p.key, q) for p in given.products for q in range(1, most + 1))]
    cure = {p.key: p.cure_days for p in given.products}
    end, known, best = horizon(given), {}, None
    for chosen in itertools.product(choices, repeat=len(given.sessions)):
        rows = [(days(given, s.on), *c) for s, c in zip(given.sessions, chosen, strict=True) if c]
        late = owed = 0
        for p in given.products:
            pours = tuple((at, q) for at, key, q in rows if key == p.key)
            if (p.key, pours) not in known:
                known[p.key, pours] = served_best(given, p.key, pours)
            late += known[p.key, pours][0]
            owed += known[p.key, pours][1]
        units = sum(q for *_, q in rows)
        each = pot.set_up_s + pot.stir_s + pot.wipe_s + pot.clean_s
        early = sum(q * (end - at - cure[key]) for at, key, q in rows)
        value = (late, owed, len(rows), len(rows) * each + 60 * units, early)
        if best is None or value < best:
            best = value
    return best


@pytest.mark.parametrize("seed", range(6))
def test_no_plan_is_better_than_the_one_found(seed):
    given = small(seed)
    plan = solve(given, effort=6, prove=False)
    t = plan.totals
    assert findings(given, plan) == []
    found = (t.late_weight, t.owed_unit_days, t.melts, t.maker_s, t.poured_early)
    assert found == enumerated(given)
    assert plan.bounds.all_levels


@pytest.mark.parametrize("seed", range(6, 9))
def test_bounds_are_never_above_the_best_plan(seed):
    given = small(seed)
    best = enumerated(given)
    relaxed = Relaxation(Judge(Ground(given)))
    assert relaxed.late_weight().whole <= best[0]
    assert relaxed.melts(late_weight=best[0]).whole <= best[2]


# --- every plan can be carried out ---------------------------------------------------------------


@pytest.mark.parametrize("make", [busy_problem, drawn_problem])
def test_every_plan_on_the_way_passes_the_checker(make):
    given, seen = make(), []
    plan = solve(given, effort=4, progress=lambda p, step, words: seen.append(p), prove=False)
    assert len(seen) >= 1
    for one in [*seen, plan]:
        assert findings(given, one) == []
    late = [(p.totals.late_weight, p.totals.owed_unit_days) for p in seen]
    assert late == sorted(late, reverse=True)


def test_pitchers_let_scents_share_a_melt():
    plan = solve(drawn_problem(), effort=3, prove=False)
    assert plan.totals.late_units == 0
    assert any(len(melt.draws) > 1 for melt in plan.melts)


@st.composite
def problems(draw):
    whole = lambda low, high: draw(st.integers(low, high))  # noqa: E731
    products = tuple(
        product(
            f, grams=g, cure=whole(1, 12), prep_s=whole(0, 3) * 40, finish_s=whole(0, 2) * 70,
            setting_s=whole(1, 40) * 3600, best_before_days=draw(st.sampled_from((None, None, 9))),
        )
        for f in "AB"
        for g in (150, 420)
    )  # fmt: skip
    pot = replace(
        POT, capacity_mg=whole(450, 2500) * 1000, minimum_mg=whole(0, 1) * 300_000,
        pitchers=draw(st.sampled_from((0, 0, 2))), pitcher_mg=900_000,
    )  # fmt: skip
    sessions = tuple(
        evening(d, hours=whole(1, 5), people=whole(1, 2), frozen=whole(0, 5) == 0)
        for d in sorted(draw(st.sets(st.integers(0, 20), max_size=5)))
    )
    keys = [p.key for p in products]
    lines = tuple(
        order(draw(st.sampled_from(keys)), whole(0, 15), whole(-3, 30), key=f"line {i}",
              kind=draw(st.sampled_from(("order", "market", "stock"))), priority=whole(1, 3))
        for i in range(whole(0, 6))
    )  # fmt: skip
    return problem(
        products=products, melters=(pot, replace(pot, key="two")), sessions=sessions, lines=lines,
        table_places=whole(0, 30), scrap_per_1000=whole(0, 100),
    )  # fmt: skip


# Shrinking solves hundreds of plans; the instance that fails is small already.
PHASES = (Phase.explicit, Phase.reuse, Phase.generate)


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck), phases=PHASES)
@given(problems())
def test_whatever_is_asked_the_plan_can_be_carried_out(given):
    plan = solve(given, effort=1, prove=False)
    assert findings(given, plan) == []


# --- the same input, the same plan ---------------------------------------------------------------

SAME = """
import sys
sys.path[:0] = {paths!r}
from planning_examples import busy_problem
from pourwright.core.planning.second import Second, solve_task
from pourwright.core.planning.solving import Solving, solve
plan = solve(busy_problem(), effort=4, prove=False)
print(plan.totals)
print(plan.melts)
"""


def test_the_same_input_gives_the_same_plan_in_another_process():
    plan = solve(busy_problem(), effort=4, prove=False)
    script = SAME.format(paths=[str(ROOT / "src"), str(ROOT / "tests")])
    ran = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True,
        env={"PYTHONHASHSEED": "4711"},
    )  # fmt: skip
    assert ran.stdout == f"{plan.totals}\n{plan.melts}\n"


class InPlace(Second):
    """A second process that is none: it answers from here."""

    def __init__(self, given):
        self.judge, self.asked = Judge(Ground(given)), None

    def ask(self, task):
        self.asked = task

    def answer(self):
        return solve_task(self.judge, self.asked)


def test_two_processes_give_the_plan_that_two_parts_at_once_give():
    given = busy_problem()
    plan = solve(given, effort=5, prove=False, processes=2)
    assert findings(given, plan) == []
    alone = Solving(given, effort=5, seconds=None, progress=None, stop=None)
    alone.second = InPlace(given)
    assert alone.run(start=None, prove=False) == plan


def test_a_second_process_that_is_lost_is_done_without():
    given = busy_problem()
    solving = Solving(given, effort=4, seconds=None, progress=None, stop=None, processes=2)
    solving.second.child.kill()
    solving.second.child.wait()
    assert findings(given, solving.run(start=None, prove=False)) == []
    solving.close()


def test_a_stopped_plan_is_whole():
    plan = solve(busy_problem(), effort=1000, stop=lambda: True)
    assert plan.sub_solves == 0
    assert findings(busy_problem(), plan) == []


# --- what is pinned, and prices ------------------------------------------------------------------


def test_what_is_pinned_stays_and_the_rest_is_planned_around_it():
    given = replace(small(1), pinned=(pinned(small(1).sessions[0].key, "B", 3),))
    plan = solve(given, effort=2, prove=False)
    assert findings(given, plan) == []
    kept = [melt for melt in plan.melts if melt.pinned]
    assert [(m.session, m.draws) for m in kept] == [
        (given.pinned[0].session, given.pinned[0].draws)
    ]


def test_what_is_pinned_beyond_the_melter_is_refused():
    given = replace(small(1), pinned=(pinned(small(1).sessions[0].key, "B", 3),) * 4)
    with pytest.raises(BadPlan, match="pinned does not fit"):
        solve(given, effort=0)


def test_a_price_for_a_late_unit_can_buy_off_a_melt():
    lines = (order("A", 9, 12), order("B", 1, 12))
    given = problem(
        products=(product("A"), product("B")), sessions=(evening(1), evening(3)), lines=lines
    )
    assert solve(given, effort=2, prove=False).totals.melts == 2
    cheap = solve(replace(given, late_unit_worth_s=600), effort=4, prove=False)
    assert (cheap.totals.melts, cheap.totals.late_units) == (1, 1)
    dear = solve(replace(given, late_unit_worth_s=7200), effort=4, prove=False)
    assert dear.totals.late_units == 0


def test_every_fault_of_a_problem_is_told_at_once():
    given = replace(
        small(0), table_places=-1, lines=(order("Z", 3, 9),),
        sessions=(evening(-4), evening(2), evening(2)),
    )  # fmt: skip
    with pytest.raises(BadPlan) as refused:
        solve(given, effort=0)
    told = " ".join(refused.value.faults)
    for words in ("-1 places", '"Z", which is not there', "before the plan begins", "overlap"):
        assert words in told
