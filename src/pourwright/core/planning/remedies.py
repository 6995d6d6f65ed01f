"""
What would have a late line on time: changes of the means, each tried before it is named.

A trial makes the changes, takes the plan as it is, and looks for a plan that also has the line on
time while no other line gets fewer units than it has: by pouring more where there is room now, then
by solving some sessions anew. What it finds is a whole plan within every limit.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from pourwright.core.planning.answers import draft_of, plan_of
from pourwright.core.planning.draft import Judge, Verdict
from pourwright.core.planning.ground import DAY_S, BadPlan, Ground, Want
from pourwright.core.planning.model import Arrival, Change, Plan, Problem, Session
from pourwright.core.planning.part import Part
from pourwright.core.planning.serving import Poured, left_over, spoiling_first, supply
from pourwright.core.planning.spare import pour_more

WINDOW = 8
WORK = 0.1
MOST_TRIED = 60
NEW = "new session "


# --- changes made --------------------------------------------------------------------------------


def changed(problem: Problem, changes: Sequence[Change]) -> Problem:
    """Return the problem with the changes made."""
    for change in changes:
        problem = _MAKE[change.kind](problem, change)
    return problem


def _table(problem: Problem, change: Change) -> Problem:
    return replace(problem, table_places=problem.table_places + change.amount)


def _longer(problem: Problem, change: Change) -> Problem:
    sessions = []
    for session in problem.sessions:
        if session.key == change.session:
            busy = session.maker_s and min(
                session.maker_s + session.people * change.amount,
                session.people * (session.length_s + change.amount),
            )
            session = replace(session, length_s=session.length_s + change.amount, maker_s=busy)
        sessions.append(session)
    return replace(problem, sessions=tuple(sessions))


def _session(problem: Problem, change: Change) -> Problem:
    like = usual_session(problem)
    assert like is not None
    assert change.on is not None
    made = replace(
        like, key=f"{NEW}{change.on.isoformat()} {change.start_s}", name="", on=change.on,
        start_s=change.start_s, length_s=change.amount,
        maker_s=min(like.maker_s, like.people * change.amount),
    )  # fmt: skip
    sessions = sorted((*problem.sessions, made), key=lambda s: (s.on, s.start_s))
    return replace(problem, sessions=tuple(sessions))


def _material(problem: Problem, change: Change) -> Problem:
    assert change.on is not None
    come = Arrival(on=change.on, amount=change.amount)
    return replace(
        problem,
        materials=tuple(
            replace(m, arrivals=(*m.arrivals, come)) if m.key == change.what else m
            for m in problem.materials
        ),
    )


_MAKE = {"table": _table, "longer": _longer, "session": _session, "material": _material}


# --- sessions that could be ----------------------------------------------------------------------


def usual_session(problem: Problem) -> Session | None:
    """Return a session of the most usual kind that something can be poured in; None: none is."""
    open_ = [s for s in problem.sessions if s.people and s.length_s and not s.frozen]
    if not open_:
        return None
    kinds = Counter((s.start_s, s.length_s, s.people) for s in open_)
    usual = max(kinds, key=lambda kind: (kinds[kind], kind))
    return next(s for s in open_ if (s.start_s, s.length_s, s.people) == usual)


def free_days(problem: Problem, last: dt.date) -> list[Change]:
    """Return sessions of the usual kind that could be added up to a day, the latest first."""
    like = usual_session(problem)
    if like is None:
        return []
    found = []
    for number in range((last - problem.today).days, -1, -1):
        day = problem.today + dt.timedelta(days=number)
        taken = any(
            s.on == day and s.start_s < like.end_s and like.start_s < s.end_s
            for s in problem.sessions
        )
        if not taken:
            found.append(Change(kind="session", amount=like.length_s, on=day, start_s=like.start_s))
    return found


def could_be_longer(problem: Problem, key: str, seconds: int) -> bool:
    """Return whether a session could go on so much longer, before midnight and the next one."""
    session = next(s for s in problem.sessions if s.key == key)
    end = session.end_s + seconds
    after = [s.start_s for s in problem.sessions if s.on == session.on and s.key != key]
    return end <= min((start for start in after if start >= session.end_s), default=DAY_S)


# --- trials --------------------------------------------------------------------------------------


class Trial:
    """A plan under changed means, and the lines that were late and have come on time in it."""

    def __init__(
        self, problem: Problem, plan: Plan, changes: Sequence[Change], *, like: Judge | None = None
    ) -> None:  # fmt: skip
        """
        Raises ``BadPlan`` where the plan is none under these means.

        ``like``: a judge of the problem as it is, whose clocks still hold.
        """
        self.changes = tuple(changes)
        self.problem = changed(problem, changes)
        self.ground = Ground(self.problem)
        self.judge = Judge(self.ground)
        if like is not None:
            self.judge.learn_from(like)
        now = self.judge.judge(draft_of(self.ground, plan.melts))
        if now is None:
            raise BadPlan([f"the plan does not fit the problem: {self.judge.why}"])
        self.now = now
        self.units = {place: answer.on_time for place, answer in enumerate(plan.lines)}
        self.late = {place: answer.late for place, answer in enumerate(plan.lines)}

    def plan(self) -> Plan:
        """Return the plan as it has become."""
        return plan_of(self.judge, self.now)

    def have(self, place: int, *, anew: bool) -> bool:
        """Have a late line on time on top of what is; ``anew``: also by solving sessions anew."""
        line = self.problem.lines[place]
        k = self.ground.product_place[line.product]
        units = {**self.units, place: line.quantity}
        due = self.ground.day(line.due)
        early = [
            s
            for s, stint in enumerate(self.ground.stints)
            if self.ground.ready(k, s) <= due and stint.people and not stint.frozen
        ]
        for found in self._founds(k, place, early, units, anew=anew):
            if found is not None and _all_served(self.ground, found, units):
                self.now, self.units = found, units
                return True
        return False

    def _founds(
        self, k: int, place: int, early: list[int], units: Mapping[int, int], *, anew: bool
    ) -> Iterator[Verdict | None]:
        yield self.now
        if not early:
            return
        new = [s for s in early if self.ground.stints[s].key.startswith(NEW)]
        order = [*new, *(s for s in reversed(early) if s not in new)]
        short = self.ground.to_pour(units[place] - self.units[place])
        draft, went = pour_more(self.judge, self.now, k, order, short, most_tried=MOST_TRIED)
        more = self.judge.judge(draft) if went else self.now
        yield more
        if anew:
            window = sorted({*early[-WINDOW:], *new})
            kept = Kept(self.judge, more or self.now, window, place, units)
            answer = kept.solve(work=WORK)
            yield None if answer.draft is None else self.judge.judge(answer.draft)


def _all_served(ground: Ground, verdict: Verdict, units: Mapping[int, int]) -> bool:
    return all(
        can_serve(ground, k, verdict.poured[k], [units[want.place] for want in wants])
        for k, wants in enumerate(ground.wants)
    )


def can_serve(ground: Ground, k: int, poured: Poured, units: Sequence[int]) -> bool:
    """
    Return whether just so many units of each line of a product can be on time.

    Lines in the order of their days take what is ready and keeps the shortest: exact, since what
    one line leaves is open to every later one until its own end.
    """
    come = supply(ground, k, poured)
    return left_over(ground.wants[k], units, come, spoiling_first(come)) is not None


class Kept(Part):
    """A part in which one line gets as much as can be, and every other what it is to keep."""

    def __init__(
        self, judge: Judge, now: Verdict, sessions: Sequence[int], place: int,
        units: Mapping[int, int],
    ) -> None:  # fmt: skip
        self.place, self.units = place, units
        line = judge.ground.problem.lines[place]
        formulas = {judge.ground.goods[judge.ground.product_place[line.product]].formula}
        free = set(sessions)
        for k, poured in enumerate(now.poured):
            if any(s in free for s, _ in poured):
                formulas.add(judge.ground.goods[k].formula)
        super().__init__(judge, now, sessions, sorted(formulas))

    def _on_time(self, want: Want, units: Any) -> None:
        if want.place == self.place:
            self._pay("late", units, -want.priority)
        else:
            self.model.add(units >= self.units[want.place])
