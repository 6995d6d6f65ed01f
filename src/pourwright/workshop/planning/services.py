"""
What changes a plan: made, answered, followed, its melts pinned, moved and started.

Each is one transaction; dates and times are handed in by the door. A plan's answer comes from a
job and is written back as melts, which the maker may then move: what is moved is pinned, so that
the next plan keeps it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date, datetime, time
from typing import Any
from uuid import UUID

from django.db import transaction
from django.urls import reverse

from pourwright.core.documents import document_of, record_of
from pourwright.core.errors import BadInput
from pourwright.core.planning import model as core
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.house import jobs
from pourwright.workshop.house.models import Job, JobState, Workshop, next_number
from pourwright.workshop.planning.models import Plan, PlannedFilling, PlannedMelt
from pourwright.workshop.planning.problem import (
    Posed,
    core_melts,
    number_in,
    pourable,
    problem_of,
    session_key,
)
from pourwright.workshop.planning.work import SOLVE
from pourwright.workshop.pours import services as pours
from pourwright.workshop.pours.models import Melter, Pour
from pourwright.workshop.pours.planning import PitcherPlan

NUMBERS = "PL"
EFFORT = 60
MOST_EFFORT = 600
LONGER = 4


class CannotPlanAhead(BadInput):
    """A plan that cannot be made, followed or changed as asked."""


# --- made and answered ---------------------------------------------------------------------------


def make(
    *,
    now: datetime,
    until: date | None = None,
    name: str = "",
    effort: int = EFFORT,
    what_if: Mapping[str, Any] | None = None,
    based_on: Plan | None = None,
    posed: Posed | None = None,
    afresh: bool = False,
) -> Plan:
    """
    Ask for a plan from a time on.

    It begins from the plan that is followed, as it stands, and changes as little of it as helps;
    ``afresh`` forgets all of that but what is pinned, and so does what is asked under other means.
    ``what_if`` says in the maker's words what ``posed`` was changed by. Raises ``CannotPlanAhead``
    where there is nothing to plan with.
    """
    if not 1 <= effort <= MOST_EFFORT:
        raise CannotPlanAhead(f"Effort {effort}; give 1 to {MOST_EFFORT} sub-solves.")
    before = followed()
    posed = posed or problem_of(now=now, until=until, followed=before)
    problem = posed.problem
    _refuse_without_means(problem)
    document = document_of(problem)
    plan = _new(
        problem,
        now=now,
        name=name.strip(),
        what_if=dict(what_if or {}),
        based_on=based_on or before,
    )
    args = {"problem": document, "effort": effort, "keep": not (afresh or what_if)}
    if before is not None and before.answer is not None:
        args["start"] = document_of(as_it_stands(before, posed))
    plan.job = jobs.ask(
        SOLVE, args, at=now, where=reverse("planning:plan", args=[plan.number]), again=True
    )
    plan.save(update_fields=["job"])
    return plan


def look_longer(plan: Plan, *, now: datetime) -> Plan:
    """
    Ask for a better plan for the very same problem: it begins from this one, and looks harder.

    Raises ``CannotPlanAhead`` where there is nothing to better, or the plan is of an earlier day.
    """
    best = best_so_far(plan)
    if plan.answer is None or best is None:
        raise CannotPlanAhead(f"{plan.number} has no answer yet: let it run first.")
    if best.bounds.all_levels:
        raise CannotPlanAhead(f"{plan.number} is proven best: looking longer finds no other.")
    if plan.start_on != now.date():
        raise CannotPlanAhead(
            f"{plan.number} was made for {plan.start_on.day} {plan.start_on:%B}: plan anew instead."
        )
    longer = _new(
        problem_in(plan), now=now, name=plan.name, what_if=plan.what_if, based_on=plan.based_on
    )
    args = {
        "problem": plan.problem, "start": plan.answer, "keep": False,
        "effort": min(MOST_EFFORT, max(EFFORT, LONGER * best.sub_solves)),
    }  # fmt: skip
    longer.job = jobs.ask(
        SOLVE, args, at=now, where=reverse("planning:plan", args=[longer.number]), again=True
    )
    longer.save(update_fields=["job"])
    return longer


def make_at_once(*, now: datetime, effort: int, until: date | None = None) -> Plan:
    """
    Return a plan with its answer, worked out here and now: for what runs unwatched.

    A page asks with ``make``, which does not keep its reader waiting.
    """
    from pourwright.workshop.house.jobs import Watch
    from pourwright.workshop.planning.work import solve

    problem = problem_of(now=now, until=until).problem
    _refuse_without_means(problem)
    found = solve({"problem": document_of(problem), "effort": effort}, Watch())
    with transaction.atomic():
        plan = _new(problem, now=now)
        plan.answer = found["plan"]
        plan.save(update_fields=["answer"])
        _write_melts(plan)
    return plan


def _new(problem: core.Problem, *, now: datetime, **facts: Any) -> Plan:
    with transaction.atomic():
        return Plan.objects.create(
            number=next_number(NUMBERS), made_at=now, start_on=problem.today,
            until_on=max((s.on for s in problem.sessions), default=problem.today),
            problem=document_of(problem), **facts,
        )  # fmt: skip


def _refuse_without_means(problem: core.Problem) -> None:
    if not problem.sessions:
        raise CannotPlanAhead(
            "No session to pour in: say at which times of the week somebody is there."
        )
    if not problem.melters:
        raise CannotPlanAhead("No melter whose capacity is known: enter what it holds.")
    if not problem.lines:
        raise CannotPlanAhead(
            "Nothing is wanted: no open order, no market day, no stock target within these days."
        )


def answered(plan: Plan, *, at: datetime) -> Plan:
    """
    Return the plan with the best answer that its job has so far, its melts written once it is over.

    Call it before a plan is shown. A plan whose melts the maker has moved is not written over.
    """
    if plan.job is None:
        return plan
    job = jobs.look(plan.job, at=at)
    if job.result is None or not job.over:
        return plan
    with transaction.atomic():
        locked = Plan.objects.select_for_update().get(pk=plan.pk)
        if locked.answer is None:
            locked.answer = job.result["plan"]
            locked.save(update_fields=["answer"])
            _write_melts(locked)
    plan.answer = locked.answer
    return plan


def best_so_far(plan: Plan) -> core.Plan | None:
    """Return the plan's answer as the core has it, or the best that its job has found so far."""
    if plan.answer is not None:
        return record_of(core.Plan, plan.answer)
    job: Job | None = plan.job
    if job is None or job.result is None:
        return None
    return record_of(core.Plan, job.result["plan"])


def as_it_stands(plan: Plan, posed: Posed) -> core.Plan:
    """Return an answered plan's melts that are still to come, where they now stand."""
    best = best_so_far(plan)
    if best is None:
        raise CannotPlanAhead(f"{plan.number} has no answer yet.")
    rows = plan.melts.filter(pour__isnull=True).prefetch_related("fillings__design_version")
    melts = tuple(core_melts(rows, posed.problem.sessions, posed.versions))
    return core.Plan(
        melts=melts, tasks=(), lines=best.lines, totals=best.totals, bounds=best.bounds
    )


def problem_in(plan: Plan) -> core.Problem:
    """Return the problem that a plan was made for."""
    return record_of(core.Problem, plan.problem)


def stop(plan: Plan, *, at: datetime) -> None:
    """Stop a plan's search; the best that it found stays."""
    if plan.job is not None and not plan.job.over:
        jobs.stop(plan.job, at=at)


def _write_melts(plan: Plan) -> None:
    answer = record_of(core.Plan, plan.answer)
    sessions = {session.key: session for session in problem_in(plan).sessions}
    products = {pour.product for melt in answer.melts for pour in melt.pours}
    versions = versions_of(products)
    for melt in answer.melts:
        if not Melter.objects.filter(pk=number_in(melt.melter)).exists():
            return  # a what-if's melter is nobody's: such a plan is looked at, and not followed
    for melt in answer.melts:
        session = sessions[melt.session]
        row = PlannedMelt.objects.create(
            plan=plan, on=session.on, session_starts=clock(session.start_s),
            starts=clock(min(step.start_s for step in melt.steps)) if melt.steps else None,
            ends=clock(max(step.end_s for step in melt.steps)) if melt.steps else None,
            melter_id=number_in(melt.melter), pinned=melt.pinned,
        )  # fmt: skip
        PlannedFilling.objects.bulk_create(
            PlannedFilling(melt=row, design_version=versions[pour.product], qty=pour.quantity)
            for pour in melt.pours
        )


def versions_of(products: set[str]) -> dict[str, DesignVersion]:
    """Return the design version that is poured now for each product's key."""
    return {key: version for key, version in pourable() if key in products}


def clock(seconds: int) -> time:
    """Return seconds after midnight as a time of day; what passes midnight is its last minute."""
    minutes = min(seconds // 60, 24 * 60 - 1)
    return time(minutes // 60, minutes % 60)


# --- followed ------------------------------------------------------------------------------------


def followed() -> Plan | None:
    """Return the plan that is followed, None where none is."""
    return Plan.objects.filter(current=True).first()


def follow(plan: Plan) -> Plan:
    """Follow a plan from now on; the one before stays on record."""
    with transaction.atomic():
        locked = Plan.objects.select_for_update().get(pk=plan.pk)
        if locked.what_if:
            raise CannotPlanAhead(
                f"{plan.number} is made under other means than you have. Change the means or the "
                "sessions, and plan anew."
            )
        if locked.answer is None:
            raise CannotPlanAhead(
                f"{plan.number} has no answer yet: let it run, or stop it and keep the best so far."
            )
        Plan.objects.filter(current=True).exclude(pk=plan.pk).update(current=False)
        locked.current = True
        locked.save(update_fields=["current"])
    return locked


# --- melts ---------------------------------------------------------------------------------------


def pin(melt: PlannedMelt, *, pinned: bool = True) -> PlannedMelt:
    """Pin a melt to its session, or let the next plan move it again."""
    with transaction.atomic():
        row = _unstarted(melt)
        row.pinned = pinned
        row.save(update_fields=["pinned"])
    return row


def move(melt: PlannedMelt, *, on: date, session_starts: time) -> PlannedMelt:
    """
    Move a melt to another session of its plan, and pin it there.

    Raises ``CannotPlanAhead`` where the plan knows no such session. What the move breaks is for
    the page to say (``moves.broken``); the maker may have reasons.
    """
    wanted = session_key(on, session_starts)
    with transaction.atomic():
        row = _unstarted(melt)
        known = {session.key: session for session in problem_in(row.plan).sessions}
        if wanted not in known:
            raise CannotPlanAhead(
                f"No session on {on.day} {on:%B} at {session_starts:%H:%M} in {row.plan}; add one "
                "to the sessions first, and plan anew."
            )
        row.on, row.session_starts = on, session_starts
        row.starts = row.ends = None
        row.pinned = True
        row.save(update_fields=["on", "session_starts", "starts", "ends", "pinned"])
    return row


def drop(melt: PlannedMelt) -> None:
    """Take a melt that was not started out of its plan."""
    with transaction.atomic():
        _unstarted(melt).delete()


def _unstarted(melt: PlannedMelt) -> PlannedMelt:
    row = PlannedMelt.objects.select_for_update().select_related("plan").get(pk=melt.pk)
    if row.pour_id is not None:
        raise CannotPlanAhead(f"This melt was started as {row.pour}; change the pour.")
    return row


def start(melt: PlannedMelt, *, on: date, client_id: UUID | None = None) -> Pour:
    """Make the pour that a planned melt says, with its numbers and the oldest lots. Once."""
    with transaction.atomic():
        row = PlannedMelt.objects.select_for_update().select_related("plan", "pour").get(pk=melt.pk)
        if row.pour is not None:
            return row.pour
        pitchers: dict[int, list[tuple[DesignVersion, int]]] = defaultdict(list)
        formulas = {}
        for filling in row.fillings.select_related("design_version__formula_version"):
            version = filling.design_version
            formulas[version.formula_version_id] = version.formula_version
            pitchers[version.formula_version_id].append((version, filling.qty))
        pour = pours.plan(
            on=on,
            pitchers=[
                PitcherPlan(formula_version=formulas[pk], fillings=fillings)
                for pk, fillings in pitchers.items()
            ],
            workshop=Workshop.load(),
            melter=Melter.objects.get(pk=row.melter_id),
            client_id=client_id,
        )
        row.pour = pour
        row.save(update_fields=["pour"])
    return pour


def state_of(plan: Plan) -> str:
    """Return in a word how a plan stands: at work, ready, followed, or why there is none."""
    if plan.current:
        return "followed"
    if plan.answer is not None:
        return "ready"
    if plan.job is None or plan.job.state == JobState.FAILED:
        return "failed"
    return "stopped" if plan.job.over else "at work"
