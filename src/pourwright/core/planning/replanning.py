"""
Planning again after something changed: what is near stays, and no more moves than has to.

Sessions before a day keep what they have. After it the old plan is the start, and among plans with
the same late units the one that differs least from it is preferred, before fewer melts.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from pourwright.core.planning.answers import draft_of, plan_of
from pourwright.core.planning.draft import Draft, Judge
from pourwright.core.planning.ground import BadPlan, Ground
from pourwright.core.planning.model import Melt, Plan, Problem
from pourwright.core.planning.solving import EFFORT, Progress, Solving, Stop


def frozen_until(problem: Problem, before: Plan, until: dt.date) -> Problem:
    """Return the problem with every session before a day frozen, its melts of the plan pinned."""
    near = {s.key for s in problem.sessions if s.on < until}
    sessions = tuple(replace(s, frozen=True) if s.key in near else s for s in problem.sessions)
    already = [(m.session, m.melter, m.draws) for m in problem.pinned]
    pinned = list(problem.pinned)
    for melt in before.melts:
        if melt.session in near:
            shape = (melt.session, melt.melter, melt.draws)
            if shape in already:
                already.remove(shape)
            else:
                pinned.append(replace(melt, pinned=True, steps=()))
    return replace(problem, sessions=sessions, pinned=tuple(pinned))


def replan(
    problem: Problem, before: Plan, *, until: dt.date | None = None, effort: int = EFFORT,
    seconds: float | None = None, progress: Progress | None = None, stop: Stop | None = None,
) -> Plan:  # fmt: skip
    """
    Return a plan for what ``problem`` has become, changed as little from ``before`` as helps.

    ``until``: the first day whose sessions may change (None: all may).
    """
    if until is not None:
        problem = frozen_until(problem, before, until)
    solving = Solving(problem, effort=effort, seconds=seconds, progress=progress, stop=stop)
    ground = solving.judge.ground
    wanted = draft_of(ground, before.melts)
    solving.judge = Judge(ground, keep=wanted)
    return solving.run_from(still_possible(solving.judge, wanted))


def rejudged(problem: Problem, before: Plan) -> Plan:
    """
    Return an earlier plan as it fares by this problem: what of it still fits, in the order of time.

    Where means have only grown, all of it fits, and a search that begins from it ends no worse.
    """
    judge = Judge(Ground(problem))
    verdict = judge.judge(still_possible(judge, draft_of(judge.ground, before.melts)))
    if verdict is None:
        raise BadPlan([f"what is pinned does not fit by itself: {judge.why}"])
    return plan_of(judge, verdict)


def still_possible(judge: Judge, wanted: Draft) -> Draft:
    """Return as much of a draft as keeps every limit, in the order of time."""
    if judge.judge(wanted) is not None:
        return wanted
    kept: Draft = {}
    for cell in sorted(wanted):
        more = {**kept, cell: wanted[cell]}
        if judge.judge(more) is not None:
            kept = more
    return kept


def breaks(problem: Problem, plan: Plan, melts: Sequence[Melt]) -> tuple[str, ...]:
    """
    Return at once what moving melts about breaks: ``melts`` are all of the plan's, as moved.

    Lines that come late by it are named; () means that nothing is lost.
    """
    ground = Ground(replace(problem, pinned=()))
    judge = Judge(ground)
    free = [replace(melt, pinned=False) for melt in melts]
    verdict = judge.judge(draft_of(ground, free))
    if verdict is None:
        return (f"It does not fit: {judge.why}.",)
    was = {answer.line: answer.late for answer in plan.lines}
    found = []
    for k, served in enumerate(verdict.served):
        for want, on_time in zip(ground.wants[k], served.on_time, strict=True):
            line = problem.lines[want.place]
            late = want.quantity - on_time
            if late > was.get(line.key, 0):
                found.append(
                    f"{line.whose or line.key}: {late} late instead of {was.get(line.key, 0)}."
                )
    return tuple(found)
