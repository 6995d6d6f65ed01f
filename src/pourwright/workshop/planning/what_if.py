"""What would be different under other means: a plan of its own, and two plans side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from pourwright.core.planning import model as core
from pourwright.workshop.planning.models import Plan, Weekday, WeeklySession
from pourwright.workshop.planning.problem import (
    Posed,
    one_session,
    problem_of,
    with_changes,
)
from pourwright.workshop.planning.services import CannotPlanAhead, as_it_stands, followed
from pourwright.workshop.planning.services import make as make_plan

if TYPE_CHECKING:
    from pourwright.workshop.planning.show import PlanPage


def make(
    *,
    now: datetime,
    effort: int,
    table_places: int | None = None,
    melter_mg: int | None = None,
    weekday: int | None = None,
    starts: time | None = None,
    minutes: int | None = None,
    off_from: date | None = None,
    off_until: date | None = None,
) -> Plan:
    """Ask for a plan of what is wanted now under other means; nothing else changes by it."""
    posed = problem_of(now=now, followed=followed())
    problem = posed.problem
    sessions = list(problem.sessions)
    said: list[str] = []
    more: list[core.Melter] = []
    if table_places is not None:
        said.append(f"{table_places} places on the pour table")
    if melter_mg is not None:
        if not problem.melters:
            raise CannotPlanAhead("Enter the melter that you have first.")
        like = problem.melters[0]
        # Used like the first; it has no record, so that nothing of it is ever started.
        more.append(replace(like, key="melter-0", name="One more melter", capacity_mg=melter_mg))
        said.append("one more melter")
    if weekday is not None and starts is not None and minutes is not None:
        row = WeeklySession(weekday=weekday, starts=starts, minutes=minutes)
        sessions += _more_sessions(row, problem)
        said.append(f"one more session every {Weekday(weekday).label}")
    if off_from is not None and off_until is not None:
        sessions = [s for s in sessions if not off_from <= s.on <= off_until]
        said.append(f"nobody pours from {off_from} to {off_until}")
    changed = with_changes(
        problem, table_places=table_places, more_melters=more,
        sessions=sorted(sessions, key=lambda session: (session.on, session.start_s)),
    )  # fmt: skip
    name = ", ".join(said)
    return make_plan(
        now=now, name=f"What if: {name}"[:80], effort=effort,
        what_if={"words": said, **_as_it_is(posed, changed)},
        posed=replace(posed, problem=changed),
    )  # fmt: skip


def _as_it_is(posed: Posed, changed: core.Problem) -> dict[str, Any]:
    """Return what the plan that is followed comes to today, as things are and under other means."""
    from pourwright.core.planning.ground import BadPlan
    from pourwright.core.planning.replanning import rejudged

    before = followed()
    if before is None or before.answer is None:
        return {}
    standing = as_it_stands(before, posed)
    found = {}
    for name, problem in (("now", posed.problem), ("so", changed)):
        try:
            totals = rejudged(problem, standing).totals
        except BadPlan:
            return {}
        found[name] = {"late": totals.late_units, "melts": totals.melts}
    return {"followed": before.number, **found}


def _more_sessions(row: WeeklySession, problem: core.Problem) -> Iterator[core.Session]:
    days = sorted({session.on for session in problem.sessions})
    taken = {(session.on, session.start_s) for session in problem.sessions}
    if not days:
        return
    for number in range((days[-1] - problem.today).days + 1):
        day = problem.today + timedelta(number)
        if day.weekday() == row.weekday:
            session = one_session(row, day)
            if (day, session.start_s) not in taken:
                yield session


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Two plans side by side: which is better at what, and what differs, in words."""

    better: Sequence[str]
    wishes: str
    differences: Sequence[str]


def beside(one: PlanPage, other: PlanPage) -> Beside:
    """Return how two plans compare."""
    from pourwright.core.planning.differences import better_at, differences

    before, after = one.as_moved, other.as_moved
    if before is None or after is None:
        return Beside(better=("One of them has no answer yet.",), wishes="", differences=())
    return Beside(
        better=better_at(before, after, names=(one.plan.number, other.plan.number)),
        wishes=_other_wishes(one.problem, other.problem),
        differences=differences(other.problem, before, after),
    )


def _other_wishes(one: core.Problem, other: core.Problem) -> str:
    """Return in words that two plans do not answer the same; empty where they do."""

    def asked(problem: core.Problem) -> set[tuple[str, str, int, date]]:
        return {(line.key, line.product, line.quantity, line.due) for line in problem.lines}

    apart = len(asked(one) ^ asked(other))
    if not apart and one.today == other.today:
        return ""
    words = f"They were made for {one.today} and {other.today}"
    return (
        f"{words}, and {apart} wishes are in one of them only: part of what differs is due to it."
    )
