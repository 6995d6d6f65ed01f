"""
The latest safe start: by when the first vessel of an order has to be poured.

From the last day that still cures in time, backwards through what the plan leaves free, each
session filled as far as it goes. A spare session is left empty at the end, so that a failed batch
can be poured again in time.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from pourwright.core.planning.answers import draft_of
from pourwright.core.planning.draft import Judge, Verdict
from pourwright.core.planning.ground import BadPlan, Ground
from pourwright.core.planning.model import Plan, Problem
from pourwright.core.planning.spare import pour_more
from pourwright.core.planning.wording import day_words, units_words


@dataclass(frozen=True, slots=True, kw_only=True)
class LatestStart:
    """
    ``pours``: session and vessels, in time, without a spare. None: it cannot be there in time.

    ``order_by``: for each material of it that has a lead time, the last day to order it for a
    start with the spare kept (or without, where there is no room for one).
    """

    to_pour: int
    starts_on: dt.date | None
    pours: tuple[tuple[str, int], ...]
    starts_on_with_spare: dt.date | None
    order_by: tuple[tuple[str, dt.date], ...]
    words: str


def latest_start(
    problem: Problem, *, product: str, quantity: int, due: dt.date, spare_sessions: int = 1,
    plan: Plan | None = None,
) -> LatestStart:  # fmt: skip
    """Return by when ``quantity`` of a product has to be begun; around a plan, if one is given."""
    ground = Ground(problem)
    if product not in ground.product_place:
        raise BadPlan([f'there is no product "{product}"'])
    judge = Judge(ground)
    now = judge.judge(draft_of(ground, plan.melts) if plan is not None else {})
    if now is None:
        raise BadPlan([f"the plan itself does not fit: {judge.why}"])
    return latest_start_around(
        judge, now, product=product, quantity=quantity, due=due, spare_sessions=spare_sessions
    )


def latest_start_around(
    judge: Judge, now: Verdict, *, product: str, quantity: int, due: dt.date,
    spare_sessions: int = 1,
) -> LatestStart:  # fmt: skip
    """Return by when it has to be begun around a plan that has been judged already."""
    if quantity < 1 or spare_sessions < 0:
        raise BadPlan([f"{quantity} units with {spare_sessions} sessions to spare; give 1 or more"])
    ground, problem = judge.ground, judge.ground.problem
    k = ground.product_place[product]
    by = ground.day(due)
    back = [s for s in range(len(ground.stints) - 1, -1, -1) if ground.ready(k, s) <= by]
    vessels = ground.to_pour(quantity)
    _, went = pour_more(judge, now, k, back, vessels)
    enough = sum(q for _, q in went) == vessels
    after = [s for s in back if s <= went[0][0]] if went else []
    _, safe = pour_more(judge, now, k, after[spare_sessions:], vessels)
    safe_enough = sum(q for _, q in safe) == vessels

    def day(rows: list[tuple[int, int]], ok: bool) -> dt.date | None:
        return ground.date(ground.stints[rows[-1][0]].day) if ok and rows else None

    start, spared = day(went, enough), day(safe, safe_enough)
    from_day = spared or start
    order_by: tuple[tuple[str, dt.date], ...] = ()
    if from_day is not None:
        order_by = tuple(
            (m.key, from_day - dt.timedelta(days=m.lead_days))
            for i, _ in ground.goods[k].uses
            if (m := problem.materials[i]).lead_days is not None
        )
    return LatestStart(
        to_pour=vessels, starts_on=start,
        pours=tuple((ground.stints[s].key, q) for s, q in reversed(went)) if enough else (),
        starts_on_with_spare=spared, order_by=order_by,
        words=_words(start, spared, sum(q for _, q in went), vessels, spare_sessions),
    )  # fmt: skip


def _words(
    start: dt.date | None, spared: dt.date | None, fitting: int, vessels: int, spare: int
) -> str:
    if start is None:
        return f"There is room to pour {fitting} of the {vessels} in time."
    words = f"Pour {units_words(vessels)}, the first by {day_words(start)}"
    if not spare:
        return words + "."
    kept = "one session" if spare == 1 else f"{spare} sessions"
    if spared is None:
        return f"{words}; there is no room to keep {kept} to spare."
    return f"{words}; by {day_words(spared)} with {kept} to spare."
