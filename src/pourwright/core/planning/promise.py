"""
"24 of these by the 12th?" answered against a plan, without taking anything from its lines.

First from what nobody needs; then by pouring more where the plan leaves room; then by solving the
sessions before that day anew with no other line worse off. Each of these is limited by a count of
its own work, not by a clock, so that the answer is quick on a large plan too and the same on any
machine. A yes is certain: the plan that keeps it is at hand. A no is either proven or says that it
is only what was found.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass, replace

from pourwright.core.planning.answers import draft_of, plan_of
from pourwright.core.planning.draft import Judge, Verdict
from pourwright.core.planning.ground import MOST_QUANTITY, BadPlan, Ground
from pourwright.core.planning.latest_start import LatestStart, latest_start_around
from pourwright.core.planning.model import Line, Plan, Problem
from pourwright.core.planning.remedies import Kept
from pourwright.core.planning.spare import pour_more
from pourwright.core.planning.wording import day_words, units_words

KEY = "enquiry"
WINDOW = 8
WORK = 0.2
MOST_TRIED = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """
    The answer. ``on_time`` of the quantity are sure to be there by the day, if all goes as planned.

    ``proven``: no more of them can be, whatever is poured (always so where all of them can).
    ``from_stock``: of these, what is there or planned already and free. ``earliest``: a day on
    which all are sure to be there (None: none was found within this plan). ``plan`` is the plan
    with the enquiry in it, as the last of its lines, and ``problem`` what that plan answers: every
    other line weighs one more than it did, so that the enquiry comes after all of them.
    """

    can: bool
    proven: bool
    on_time: int
    from_stock: int
    earliest: dt.date | None
    words: str
    problem: Problem
    plan: Plan


def promise(problem: Problem, plan: Plan, *, product: str, quantity: int, by: dt.date) -> Promise:
    """Return whether ``quantity`` of a product can be promised for a day, on top of a plan."""
    return _Enquiry(problem, plan, product, quantity, by).answer()


def promise_and_start(
    problem: Problem, plan: Plan, *, product: str, quantity: int, by: dt.date, spare_sessions: int
) -> tuple[Promise, LatestStart | None]:  # fmt: skip
    """Return the promise, and the latest safe start of what must be poured (None: nothing)."""
    enquiry = _Enquiry(problem, plan, product, quantity, by)
    answer = enquiry.answer()
    pour = quantity - answer.from_stock
    return answer, enquiry.start(pour, spare_sessions) if pour else None


class _Enquiry:
    """One enquiry against one plan."""

    def __init__(
        self, problem: Problem, plan: Plan, product: str, quantity: int, by: dt.date
    ) -> None:  # fmt: skip
        if not 1 <= quantity <= MOST_QUANTITY:
            raise BadPlan([f"{quantity} units; ask for 1 to {MOST_QUANTITY}"])
        if product not in {p.key for p in problem.products}:
            raise BadPlan([f'there is no product "{product}"'])
        key = KEY
        while any(line.key == key for line in problem.lines):
            key += "+"
        self.line = Line(
            key=key, kind="order", product=product, quantity=quantity, due=by, whose="enquiry"
        )
        # Every line comes before the enquiry, which therefore takes nothing from any.
        lines = tuple(replace(line, priority=line.priority + 1) for line in problem.lines)
        self.ground = Ground(replace(problem, lines=(*lines, self.line)))
        self.judge = Judge(self.ground)
        self.k = self.ground.product_place[self.line.product]
        base = self.judge.judge(draft_of(self.ground, plan.melts))
        if base is None:
            raise BadPlan([f"the plan does not fit the problem: {self.judge.why}"])
        self.base = base

    def start(self, quantity: int, spare_sessions: int) -> LatestStart:
        return latest_start_around(
            self.judge, self.base, product=self.line.product, quantity=quantity,
            due=self.line.due, spare_sessions=spare_sessions,
        )  # fmt: skip

    def answer(self) -> Promise:
        free = self._on_time(self.base)
        found = self.base
        due = self.ground.day(self.line.due)
        early = [
            s
            for s, stint in enumerate(self.ground.stints)
            if self.ground.ready(self.k, s) <= due and stint.people and not stint.frozen
        ]
        if free < self.line.quantity and early:
            found = self._more(found, early[::-1])
            if self._on_time(found) < self.line.quantity:
                found = self._anew(found, early[-WINDOW:])
        if self._on_time(found) == self.line.quantity:
            return self._promise(found, free, self.line.due, proven=True)
        later = self._more(found, range(len(self.ground.stints)))
        earliest = plan_of(self.judge, later).lines[-1].ready_on
        return self._promise(found, free, earliest, proven=not early)

    def _on_time(self, verdict: Verdict) -> int:
        place = len(self.ground.problem.lines) - 1
        wants = self.ground.wants[self.k]
        at = next(i for i, want in enumerate(wants) if want.place == place)
        return verdict.served[self.k].on_time[at]

    def _more(self, verdict: Verdict, sessions: Collection[int]) -> Verdict:
        """Return the plan with more poured, first session first, until enough or no room."""
        vessels = self.ground.to_pour(self.line.quantity - self._on_time(verdict))
        draft, _ = pour_more(
            self.judge, verdict, self.k, sessions, vessels, most_tried=MOST_TRIED
        )  # fmt: skip
        return self.judge.judge(draft) or verdict

    def _anew(self, verdict: Verdict, sessions: list[int]) -> Verdict:
        """Return the plan with these sessions solved anew, no line but the enquiry worse off."""
        place = len(self.ground.problem.lines) - 1
        units = {
            want.place: on_time
            for k, served in enumerate(verdict.served)
            for want, on_time in zip(self.ground.wants[k], served.on_time, strict=True)
        }
        part = Kept(self.judge, verdict, sessions, place, units)
        found = part.solve(work=WORK).draft
        judged = None if found is None else self.judge.judge(found)
        if judged is None or not self._nobody_worse(verdict, judged):
            return verdict
        return judged if self._on_time(judged) > self._on_time(verdict) else verdict

    def _nobody_worse(self, before: Verdict, after: Verdict) -> bool:
        return all(
            new >= old
            for one, two in zip(before.served, after.served, strict=True)
            for old, new in zip(one.on_time, two.on_time, strict=True)
        )

    def _promise(
        self, verdict: Verdict, free: int, earliest: dt.date | None, *, proven: bool
    ) -> Promise:  # fmt: skip
        on_time, asked = self._on_time(verdict), self.line.quantity
        can = on_time == asked
        return Promise(
            can=can, proven=proven, on_time=on_time, from_stock=min(free, on_time),
            earliest=earliest, words=self._words(can, free, earliest, verdict, proven=proven),
            problem=self.ground.problem, plan=plan_of(self.judge, verdict),
        )  # fmt: skip

    def _words(
        self, can: bool, free: int, earliest: dt.date | None, verdict: Verdict, *, proven: bool
    ) -> str:  # fmt: skip
        by, asked, on_time = day_words(self.line.due), self.line.quantity, self._on_time(verdict)
        if can and free >= asked:
            return f"Yes: {units_words(asked)} by {by}, from what is there and planned already."
        if can:
            more = verdict.melts - self.base.melts
            melts = f"{more} more melt{'' if more == 1 else 's'}" if more > 0 else "no more melts"
            return f"Yes: {units_words(asked)} by {by}, with {melts}; no other line is worse off."
        words = f"No: {on_time} of {asked} by {by}"
        if earliest is None:
            words += "; all of them not within this plan."
        else:
            words += f"; all of them by {day_words(earliest)}."
        if proven:
            return f"{words} Nothing poured from now on has cured by then."
        return f"{words} So much is sure; planning anew with it may find room for more."
