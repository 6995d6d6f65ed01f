"""
Why a line is late, in words, and the least change that would have it on time.

The first of these that holds is told: no session is early enough for the cure; a material is not
there in time; something is short in some session, found by forcing the line on time and pricing
what then would be missing (table, time, hands, materials); or other lines of more weight have the
room that it needs.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Any

from pourwright.core.planning.answers import draft_of
from pourwright.core.planning.draft import Judge, Verdict
from pourwright.core.planning.ground import Ground, Want
from pourwright.core.planning.model import LineAnswer, Plan, Problem, Reason
from pourwright.core.planning.part import Part
from pourwright.core.planning.wording import (
    amount_words,
    day_words,
    minutes_words,
    session_words,
    units_words,
)

MOST_SOLVED = 12
WINDOW = 12
WORK = 0.15
PRICE_OF_ALL = 1_000_000_000
MORE_MELTS = 2


def with_reasons(problem: Problem, plan: Plan) -> Plan:
    """Return the plan with the reason of each late line filled in."""
    ground = Ground(problem)
    judge = Judge(ground)
    verdict = judge.judge(draft_of(ground, plan.melts))
    if verdict is None:
        return plan
    solved = 0
    answers = []
    for place, answer in enumerate(plan.lines):
        if not answer.late:
            answers.append(answer)
            continue
        late = _Late(judge, verdict, place, answer)
        reason = late.cure() or late.material()
        if reason is None and solved < MOST_SOLVED:
            solved += 1
            reason = late.room()
        answers.append(replace(answer, reason=reason or late.not_looked_into()))
    return replace(plan, lines=tuple(answers))


class _Late:
    """One late line."""

    def __init__(self, judge: Judge, verdict: Verdict, place: int, answer: LineAnswer) -> None:
        self.judge, self.ground, self.verdict = judge, judge.ground, verdict
        self.line = self.ground.problem.lines[place]
        self.place, self.answer = place, answer
        self.k = self.ground.product_place[self.line.product]
        self.good = self.ground.goods[self.k]
        self.due = self.ground.day(self.line.due)
        last = self.due - self.good.cure_days
        self.early = [
            s
            for s, stint in enumerate(self.ground.stints)
            if stint.day <= last and stint.people and not stint.frozen
        ]

    def _session(self, s: int) -> str:
        problem = self.ground.problem
        stint = self.ground.stints[s]
        session = next(x for x in problem.sessions if x.key == stint.key)
        return session_words(session.on, session.start_s, session.name)

    def _smaller(self) -> str:
        if not self.answer.on_time:
            return ""
        return f" {units_words(self.answer.on_time).capitalize()} can be there by then."

    def cure(self) -> Reason | None:
        """Return the reason where no session is early enough."""
        if self.early:
            return None
        open_ = [s for s, x in enumerate(self.ground.stints) if x.people and not x.frozen]
        days = self.good.cure_days
        last = self.ground.date(self.due - days)
        words = f"It cures {days} days, so it has to be poured by {day_words(last)}"
        if not open_:
            return Reason(kind="cure", words=f"{words}, and no session is open.")
        first = open_[0]
        ready = self.ground.date(self.ground.ready(self.k, first))
        words += (
            f"; the first session is {self._session(first)}, which makes it ready on "
            f"{day_words(ready)}."
        )
        if last >= self.ground.today:
            change = f"One more session by {day_words(last)}, or promise it for {day_words(ready)}."
        else:
            change = (
                f"Nothing poured from now on is early enough: promise it for {day_words(ready)}."
            )
        return Reason(kind="cure", words=words, change=change + self._smaller())

    def material(self) -> Reason | None:
        """Return the reason where a material cannot be there, whatever else is poured."""
        last = self.early[-1]
        problem = self.ground.problem
        for i, amount in self.good.uses:
            stuff, record = self.ground.stuffs[i], problem.materials[i]
            if last >= stuff.bound_until or not amount:
                continue
            # What this line and those of its product before it need, against all there will be.
            wants = [w for w in self.ground.wants[self.k] if w.due <= self.due]
            lots = sum(h.quantity for h in self.ground.haves[self.k] if h.ready <= self.due)
            more = [w for w in wants if w.place == self.place or w.order]
            need = self.ground.to_pour(max(0, sum(w.quantity for w in more) - lots)) * amount
            short = need - stuff.by_session[last]
            if short <= 0:
                continue
            by = self.ground.date(self.ground.stints[last].day)
            words = (
                f"{record.name}: {amount_words(short, record.unit)} short for the last session "
                f"that is early enough, {self._session(last)}."
            )
            coming = [a for a in record.arrivals if a.on > by]
            if coming:
                first = min(coming, key=lambda a: a.on)
                words += f" The next parcel comes on {day_words(first.on)}."
            change = f"Have {amount_words(short, record.unit)} of it there by {day_words(by)}"
            if record.lead_days is not None:
                arrives = self.ground.date(record.lead_days)
                change += f" (ordered today it comes on {day_words(arrives)})"
            return Reason(
                kind="material", words=words, change=change + "." + self._smaller(),
                resource=record.key, session=self.ground.stints[last].key,
            )  # fmt: skip
        return None

    def room(self) -> Reason:
        """Return what is missing when the line is forced on time, or whom it would push out."""
        sessions = self.early[-WINDOW:]
        free = set(sessions)
        formulas = {self.good.formula}
        for k, poured in enumerate(self.verdict.poured):
            if any(s in free for s, _ in poured):
                formulas.add(self.ground.goods[k].formula)
        part = _Forced(self.judge, self.verdict, sessions, sorted(formulas), self.place)
        missing = part.missing()
        if missing is None:
            return self.not_looked_into()
        if not missing:
            return Reason(
                kind="capacity",
                words="Nothing is short for it by itself; the plan has found no better order yet.",
                change="Let the planner go on a while." + self._smaller(),
            )
        what, s, _ = missing[0]
        said = [self._missing(*row) for row in missing[:3]]
        session = self.ground.stints[s].key
        others = self._outranking(sessions, what)
        words = f"Short for it: {'; '.join(said)}."
        change = f"{self._more(missing)}{self._smaller()}"
        if others:
            names = ", ".join(others[:3])
            return Reason(
                kind="outranked", words=f"More pressing and in its way: {names}. {words}",
                change=change, resource=what, session=session,
            )  # fmt: skip
        return Reason(kind="capacity", words=words, change=change, resource=what, session=session)

    def _missing(self, what: str, s: int, amount: int) -> str:
        where = self._session(s)
        if what == "table":
            return f"{amount} table places in the session {where}"
        if what == "time":
            return f"{minutes_words(amount)} of a melter's time in the session {where}"
        if what == "hands":
            return f"{minutes_words(amount)} of hands in the session {where}"
        record = next(m for m in self.ground.problem.materials if m.key == what)
        return f"{amount_words(amount, record.unit)} of {record.name} by {where}"

    def _more(self, missing: Sequence[tuple[str, int, int]]) -> str:
        """Return the least change in words: the largest thing missing of each kind."""
        asked: list[str] = []
        last = self._session(self.early[-1])
        kinds = {what for what, _, _ in missing}
        if "table" in kinds:
            places = max(amount for what, _, amount in missing if what == "table")
            asked.append(f"{places} more table {'place' if places == 1 else 'places'}")
        if kinds & {"time", "hands"}:
            longer = max(amount for what, _, amount in missing if what in ("time", "hands"))
            asked.append(f"{minutes_words(longer)} more, or one more session by {last}")
        for record in self.ground.problem.materials:
            short = [amount for what, _, amount in missing if what == record.key]
            if short:
                s = min(s for what, s, _ in missing if what == record.key)
                by = day_words(self.ground.date(self.ground.stints[s].day))
                words = f"{amount_words(max(short), record.unit)} of {record.name} by {by}"
                if record.lead_days is not None:
                    arrives = day_words(self.ground.date(record.lead_days))
                    words += f" (ordered today it comes on {arrives})"
                asked.append(words)
        return f"It would be on time with {' and '.join(asked)}."

    def _outranking(self, sessions: Collection[int], what: str) -> list[str]:
        """Return lines of more priority that take what it lacks, in the sessions it needs."""
        free = set(sessions)
        found = []
        records = self.ground.problem.materials
        for k, poured in enumerate(self.verdict.poured):
            uses = {records[i].key for i, amount in self.ground.goods[k].uses if amount}
            takes = what in ("table", "time", "hands") or what in uses
            if not takes or not any(s in free for s, _ in poured):
                continue
            for want, on_time in zip(
                self.ground.wants[k], self.verdict.served[k].on_time, strict=True
            ):
                near = want.due >= self.ground.ready(k, min(s for s, _ in poured if s in free))
                if on_time and near and want.priority > self.line.priority:
                    line = self.ground.problem.lines[want.place]
                    found.append((want.due, line.whose or line.key))
        return [name for _, name in sorted(found)]

    def not_looked_into(self) -> Reason:
        return Reason(
            kind="capacity",
            words="The sessions early enough for it are taken by lines that matter more or sooner.",
            change=self._smaller().strip(),
        )


class _Forced(Part):
    """A part in which one line is on time at any price, and what is missing is counted."""

    def __init__(
        self, judge: Judge, now: Verdict, sessions: Collection[int], formulas: Collection[int],
        place: int,
    ) -> None:  # fmt: skip
        self.place = place
        self.slack: list[tuple[str, int, Any, int]] = []
        super().__init__(judge, now, sessions, formulas)
        self.model.minimize(
            self._sum([s for _, _, s, _ in self.slack], [by for _, _, _, by in self.slack])
        )

    def _limit(self, what: str, s: int, row: Any, most: int) -> None:
        there = {stuff.key: stuff.by_session[s] for stuff in self.ground.stuffs}
        full = (
            {
                "table": self.ground.places,
                "time": self.ground.stints[s].length_s,
                "hands": self.ground.stints[s].maker_s,
            }.get(what)
            or there.get(what)
            or 1
        )
        slack = self.model.new_int_var(0, max(1, 20 * full), "")
        self.slack.append((what, s, slack, max(1, PRICE_OF_ALL // full)))
        self.model.add(row <= most + slack)

    def _most_melts(self, left: int, fixed: int) -> int:
        return super()._most_melts(left, fixed) + MORE_MELTS

    def _most(self, k: int, m: int, most: int) -> int:
        """Return how many vessels may be poured: the table is no bound here, but a price."""
        ground = self.ground
        asked = ground.to_pour(sum(w.quantity for w in ground.wants[k]))
        held = max((q for (_, _, n), q in self.was.items() if n == k), default=0)
        fits = most * ground.melters[m].capacity_mg // ground.mass_in_melter(k, m)
        return max(held, min(asked, fits))

    def _on_time(self, want: Want, units: Any) -> None:
        if want.place == self.place:
            self.model.add(units == want.quantity)
        else:
            served = self._served(want)
            self.model.add(units >= served)

    def _served(self, want: Want) -> int:
        line = self.ground.problem.lines[want.place]
        k = self.ground.product_place[line.product]
        at = next(i for i, w in enumerate(self.ground.wants[k]) if w.place == want.place)
        return self.now.served[k].on_time[at]

    def missing(self) -> list[tuple[str, int, int]] | None:
        """Return (what, session, amount) that is short, the most first; None: not found out."""
        solver = self._solver(WORK, 1)
        status = solver.solve(self.model)
        if status not in (self.cp.OPTIMAL, self.cp.FEASIBLE):
            return None
        found = [
            (what, s, round(solver.value(slack)), by)
            for what, s, slack, by in self.slack
            if solver.value(slack) > 0
        ]
        found.sort(key=lambda row: -row[2] * row[3])
        return [(what, s, amount) for what, s, amount, _ in found]
