"""Melters on one circuit take turns: on the clock, in a plan, and in the independent checker."""

from dataclasses import replace
from itertools import product as every

import pytest

from planning_examples import POT, busy_problem, evening, order, problem, product
from pourwright.core.planning import checker
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.solving import solve
from pourwright.core.planning.timetable import schedule

A, B, C = product("A"), product("B"), product("C")


def watts(given, *powers, circuit):
    melters = tuple(replace(m, power_w=w) for m, w in zip(given.melters, powers, strict=True))
    return replace(given, melters=melters, circuit_w=circuit)


def most_drawn(ground, batches, clock):
    """Return the most watts at any moment, counted second by second where something begins."""
    spans = [
        (
            min(s.start_s for s in steps if s.kind == "melt"),
            max(s.end_s for s in steps if s.kind == "pour"),
            ground.melters[m].power_w,
        )
        for (m, _), steps in zip(batches, clock.batches, strict=True)
    ]
    return max(sum(w for a, b, w in spans if a <= at < b) for at, _, _ in spans)


THREE = problem(
    products=(A, B, C), lines=(), sessions=(evening(1, hours=6, people=2),),
    melters=tuple(replace(POT, key=key) for key in ("one", "two", "three")),
)  # fmt: skip
BATCHES = tuple((m, ((m, ((m, 6),)),)) for m in range(3))


@pytest.mark.parametrize("circuit", [1000, 1600, 2000, 3000, 3600])
def test_no_order_of_melts_draws_more_than_the_circuit(circuit):
    tried = 0
    for powers in every((800, 1000), repeat=3):
        ground = Ground(watts(THREE, *powers, circuit=circuit))
        clock = schedule(ground, 0, BATCHES)
        assert clock is not None, "six hours are enough for one after another"
        drawn = most_drawn(ground, BATCHES, clock)
        assert drawn <= circuit
        tried += drawn > circuit / 2
    assert tried


def test_melters_wait_no_longer_than_they_must():
    free = schedule(Ground(watts(THREE, 900, 900, 900, circuit=None)), 0, BATCHES)
    enough = schedule(Ground(watts(THREE, 900, 900, 900, circuit=2700)), 0, BATCHES)
    assert free == enough
    assert most_drawn(Ground(watts(THREE, 900, 900, 900, circuit=None)), BATCHES, free) > 900


def test_a_melter_that_draws_more_than_there_is_never_melts():
    ground = Ground(watts(THREE, 900, 900, 2800, circuit=2700))
    assert schedule(ground, 0, BATCHES) is None
    assert schedule(ground, 0, BATCHES[:2]) is not None


def test_a_plan_keeps_to_the_circuit_and_the_checker_sees_where_one_does_not():
    free = replace(
        busy_problem(), table_places=60,
        sessions=tuple(replace(s, people=2) for s in busy_problem().sessions),
        lines=(order("A", 10, 9), order("B", 10, 9), order("C300", 9, 12)),
    )  # fmt: skip
    heedless = solve(free, effort=2, prove=False)
    kept = watts(free, 1500, 1500, circuit=2400)
    wrong = [words for words in checker.findings(kept, heedless) if "circuit" in words]
    assert wrong, "without a limit both are hot at once, or this shows nothing"
    assert "3000 W" in wrong[0]
    heeded = solve(kept, effort=2, prove=False)
    assert checker.findings(kept, heeded) == []
    assert checker.findings(watts(free, 1500, None, circuit=1500), heedless) == []
