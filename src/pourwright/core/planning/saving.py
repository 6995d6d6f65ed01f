"""
Late lines brought on time one by one, after a search or before it.

A search draws its parts by lot, so that what it has not yet looked at may still be late for no
good reason. Here each late line in turn, the weightiest first, is looked at by itself: room for it
is sought, then the sessions before it are solved anew with nobody worse off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from pourwright.core.planning.model import Plan, Problem
from pourwright.core.planning.remedies import Trial

# A count, not a clock: the same plan is saved the same way on any machine.
MOST_LINES = 40


def save_late(problem: Problem, plan: Plan, *, stop: Callable[[], bool] | None = None) -> Plan:
    """
    Return the plan with every late line on time that can be helped so, and no other worse off.

    What was proven of the plan still holds: bounds on lateness are of the problem, and a bound on
    the melts of plans with no more late units is one for plans with fewer.
    """
    late = [place for place, answer in enumerate(plan.lines) if answer.late]
    if not late or plan.bounds.all_levels:
        return plan
    late.sort(key=lambda i: (-problem.lines[i].priority, problem.lines[i].due, i))
    trial = Trial(problem, plan, ())
    saved = 0
    for place in late[:MOST_LINES]:
        if stop is not None and stop():
            break
        before = trial.now, trial.units
        if trial.have(place, anew=True):
            # Where lateness has a price, what it takes to save a line may cost more than that.
            if trial.now.key < before[0].key:
                saved += 1
            else:
                trial.now, trial.units = before
    if not saved:
        return plan
    return replace(trial.plan(), bounds=plan.bounds, sub_solves=plan.sub_solves)
