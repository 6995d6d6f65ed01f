"""
Why a line is late, in a sentence, and the least change that would have it on time.

The first of these that holds is told: no session is early enough for the cure; a material is not
there in time; something is short in some session, found by forcing the line on time and pricing
what then would be missing (table, time, hands, materials). A change is named only once a trial has
found a plan with it (``remedies``). A line that the change for an earlier one also brings on time,
both together, is told with it: what is late for one reason is said once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any, Literal

from pourwright.core.planning.answers import draft_of
from pourwright.core.planning.draft import Judge, Verdict
from pourwright.core.planning.ground import Ground, Want
from pourwright.core.planning.late_words import Short, changes_words, instead_words, short_words
from pourwright.core.planning.model import (
    Change,
    LateTogether,
    LineAnswer,
    Plan,
    Problem,
    Reason,
)
from pourwright.core.planning.part import Part
from pourwright.core.planning.remedies import Trial, could_be_longer, free_days
from pourwright.core.planning.wording import capital, day_words, names_words, session_words

Stop = Callable[[], bool]
# All of these count work, so that the same plan gets the same reasons on any machine.
MOST_FORCED = 16
MOST_TRIALS, MOST_TRIED_LINES = 3, 40
MOST_JOINED = 6
WINDOW = 12
WORK = 0.1
PRICE_OF_ALL = 1_000_000_000
MORE_MELTS = 2
MOST_NAMED = 2
MEANS = ("table", "time", "hands")
# Up to here a session is stretched; beyond, another one is asked for. A judgement, no source.
LONGEST_S, LONGER_BY_S = 3600, 900
# A table that would have to grow by more than this share comes after another session.
WIDEST = 0.5


def with_reasons(problem: Problem, plan: Plan, *, stop: Stop | None = None) -> Plan:
    """
    Return the plan with the reason of each late line, and what is late for one reason.

    Once ``stop`` says so nothing more is tried: what is left over is told by what is plain.
    """
    ground = Ground(problem)
    judge = Judge(ground)
    verdict = judge.judge(draft_of(ground, plan.melts))
    if verdict is None:
        return plan
    late = [
        _Late(judge, verdict, plan, place, answer)
        for place, answer in enumerate(plan.lines)
        if answer.late
    ]
    groups = _Groups(judge, plan, stop or (lambda: False))
    for one in sorted(late, key=lambda one: (one.last, one.place)):
        groups.add(one)
    reasons = groups.reasons()
    lines = tuple(replace(a, reason=reasons.get(place)) for place, a in enumerate(plan.lines))
    return replace(plan, lines=lines, late_together=groups.told())


@dataclass
class _Group:
    """Lines that are late for one reason, the first of which told it."""

    reason: Reason
    lines: list[_Late]
    trial: Trial | None = None
    each: dict[int, Reason] = field(default_factory=dict)


class _Groups:
    """The late lines, from the first to the last that had to be poured, by their reasons."""

    def __init__(self, judge: Judge, plan: Plan, stop: Stop) -> None:
        self.judge, self.problem, self.plan = judge, judge.ground.problem, plan
        self.stop = stop
        self.groups: list[_Group] = []
        self.forced = self.tried = 0

    def reasons(self) -> dict[int, Reason]:
        return {place: reason for group in self.groups for place, reason in group.each.items()}

    def add(self, line: _Late) -> None:
        """Tell a line's reason: with an earlier one, or of its own."""
        cure = line.cure()
        if cure is None and self._joined(line):
            return
        short = None if cure else line.material()
        missing: list[_Missing] | None = None
        if cure is None and self.forced < MOST_FORCED and not self.stop():
            self.forced += 1
            missing = line.missing()
            short = line.shortest(missing) or short
        trial = self._trial(line, missing or [])
        self._tell(line, line.reason(cure, short, trial.changes if trial else ()), trial)

    def _joined(self, line: _Late) -> bool:
        """Return whether an earlier line's change brings this one on time beside it."""
        for group in self.groups[::-1][:MOST_JOINED]:
            trial = group.trial
            if trial is not None and line.near(group.lines[0]) and trial.have(
                line.place, anew=False
            ):  # fmt: skip
                group.lines.append(line)
                group.each[line.place] = replace(group.reason, amount=0)
                return True
        return False

    def _trial(self, line: _Late, missing: Sequence[_Missing]) -> Trial | None:
        """Return the least change that has the line on time, of those that are tried."""
        self.tried += 1
        if self.tried > MOST_TRIED_LINES or self.stop():
            return None
        for changes in islice(line.candidates(missing), MOST_TRIALS):
            trial = Trial(self.problem, self.plan, changes, like=self.judge)
            if trial.have(line.place, anew=True):
                return trial
        return None

    def _tell(self, line: _Late, reason: Reason, trial: Trial | None) -> None:
        for group in self.groups:
            if _alike(group.reason, reason, tried=trial is not None) and self._grown(
                group, line, reason
            ):  # fmt: skip
                group.lines.append(line)
                group.each[line.place] = reason
                return
        self.groups.append(_Group(reason, [line], trial, {line.place: reason}))

    def _grown(self, group: _Group, line: _Late, reason: Reason) -> bool:
        """Return whether so much of the same thing as both need has all of them on time."""
        if group.trial is None or not reason.changes:
            if reason.amount > group.reason.amount:
                group.reason = reason
            return group.trial is None and not reason.changes
        more = self._added(group.trial.changes[0], reason.changes[0])
        if not more:
            return False
        trial = Trial(self.problem, self.plan, more, like=self.judge)
        if not all(trial.have(one.place, anew=True) for one in (*group.lines, line)):
            return False
        group.trial = trial
        most = max((group.reason, reason), key=lambda one: one.amount)
        group.reason = replace(most, changes=more)
        return True

    def _added(self, mine: Change, theirs: Change) -> tuple[Change, ...]:
        """Return what is as much as both: more of the same, by the earlier day; () if nothing."""
        if mine.kind == "session":
            assert mine.on is not None
            days = [c for c in free_days(self.problem, mine.on) if c.on != mine.on]
            return (days[0], mine) if days else ()
        by = [change.on for change in (mine, theirs) if change.on is not None]
        return (replace(mine, amount=mine.amount + theirs.amount, on=min(by, default=None)),)

    def told(self) -> tuple[LateTogether, ...]:
        """Return what makes lines late, each reason once, by the day of its first line."""
        problem = self.problem
        found = []
        for group in self.groups:
            places = sorted(group.each)
            keys = tuple(problem.lines[place].key for place in places)
            reason = group.reason
            change = reason.change
            if len(keys) > 1 and reason.changes:
                change = changes_words(problem, reason, together=len(keys))
            elif len(keys) > 1 and len({each.change for each in group.each.values()}) > 1:
                change = ""
            found.append(
                LateTogether(lines=keys, words=reason.words, change=change, changes=reason.changes)
            )
        return tuple(found)


def _alike(one: Reason, other: Reason, *, tried: bool) -> bool:
    """Return whether two lines lack the same thing, and the same kind of change was found."""
    if not tried and not one.changes:
        if one.resource:
            where = one.session == other.session or one.kind == "material"
            return one.resource == other.resource and where
        return (one.kind, one.words) == (other.kind, other.words)
    if len(one.changes) != 1 or len(other.changes) != 1 or one.resource != other.resource:
        return False
    mine, theirs = one.changes[0], other.changes[0]
    if mine.kind == "session":
        return mine == theirs
    if mine.kind != theirs.kind or mine.what != theirs.what:
        return False
    return mine.kind == "material" or (mine.kind == "table" and one.session == other.session)


_Missing = tuple[str, int, int]
"""What is short, in which session, by how much."""


class _Late:
    """One late line."""

    def __init__(
        self, judge: Judge, verdict: Verdict, plan: Plan, place: int, answer: LineAnswer
    ) -> None:  # fmt: skip
        self.judge, self.ground, self.verdict = judge, judge.ground, verdict
        self.problem = self.ground.problem
        self.line = self.problem.lines[place]
        self.place, self.answer = place, answer
        self.k = self.ground.product_place[self.line.product]
        self.good = self.ground.goods[self.k]
        self.due = self.ground.day(self.line.due)
        self.last = self.due - self.good.cure_days
        self.early = [
            s
            for s, stint in enumerate(self.ground.stints)
            if self.ground.ready(self.k, s) <= self.due and stint.people and not stint.frozen
        ]

    def near(self, other: _Late) -> bool:
        """Return whether the sessions that are early enough for both are about the same ones."""
        return (
            self.last >= other.last
            and set(self.early[-WINDOW:]) & set(other.early[-WINDOW:]) != set()
        )

    def _session(self, s: int) -> str:
        stint = self.ground.stints[s]
        session = next(x for x in self.problem.sessions if x.key == stint.key)
        return session_words(session.on, session.start_s, session.name)

    # --- the cure --------------------------------------------------------------------------------

    def cure(self) -> Reason | None:
        """Return the reason where no session is early enough."""
        if self.early:
            return None
        open_ = [s for s, x in enumerate(self.ground.stints) if x.people and not x.frozen]
        days = self.good.cure_days
        if not open_:
            return Reason(kind="cure", words=f"It cures {days} days, and no session is open.")
        ready = day_words(self.ground.date(self.ground.ready(self.k, open_[0])))
        words = (
            f"It cures {days} days: poured in the first session, {self._session(open_[0])}, it is "
            f"ready on {ready}."
        )
        return Reason(kind="cure", words=words)

    # --- a material, whatever else is poured -----------------------------------------------------

    def material(self) -> Short | None:
        """Return the material that cannot be there, whatever else is poured."""
        last = self.early[-1]
        for i, amount in self.good.uses:
            stuff = self.ground.stuffs[i]
            if last >= stuff.bound_until or not amount:
                continue
            # What this line and those of its product before it need, against all there will be.
            wants = [w for w in self.ground.wants[self.k] if w.due <= self.due]
            lots = sum(h.quantity for h in self.ground.haves[self.k] if h.ready <= self.due)
            more = [w for w in wants if w.place == self.place or w.order]
            need = self.ground.to_pour(max(0, sum(w.quantity for w in more) - lots)) * amount
            short = need - stuff.by_session[last]
            if short > 0:
                return Short(what=stuff.key, amount=short, session=self.ground.stints[last].key)
        return None

    # --- what is missing when it is forced on time -----------------------------------------------

    def missing(self) -> list[_Missing] | None:
        """Return what is missing when the line is forced on time; None: that was not found out."""
        sessions = self.early[-WINDOW:]
        free = set(sessions)
        formulas = {self.good.formula}
        for k, poured in enumerate(self.verdict.poured):
            if any(s in free for s, _ in poured):
                formulas.add(self.ground.goods[k].formula)
        part = _Forced(self.judge, self.verdict, sessions, sorted(formulas), self.place)
        return part.missing()

    def shortest(self, missing: Sequence[_Missing] | None) -> Short | None:
        """Return what is missing most."""
        if not missing:
            return None
        what, s, amount = missing[0]
        return Short(what=what, amount=amount, session=self.ground.stints[s].key)

    def candidates(self, missing: Sequence[_Missing]) -> Iterator[tuple[Change, ...]]:
        """Yield changes to try, the least first."""
        stuff = self._materials(missing)
        table = [amount for what, _, amount in missing if what == "table"]
        places = (Change(kind="table", amount=max(table)),) if table else ()
        clock = self._clock(missing)
        days = free_days(self.problem, self.ground.date(self.last))
        wide = bool(table) and max(table) > WIDEST * self.ground.places
        if wide and days:
            yield (days[0], *stuff)
        if missing and not clock:
            yield (*places, *stuff)
        if len(clock) == 1:
            s, seconds = clock[0]
            key = self.ground.stints[s].key
            if seconds <= LONGEST_S:
                longer = -(-seconds // LONGER_BY_S) * LONGER_BY_S
                if could_be_longer(self.problem, key, longer):
                    more = Change(kind="longer", amount=longer, session=key)
                    yield (more, *places, *stuff)
        if days and not wide and (clock or table or not missing):
            yield (days[0], *stuff)
        if len(days) > 1 and clock:
            yield (days[1], days[0], *stuff)

    def _clock(self, missing: Sequence[_Missing]) -> list[tuple[int, int]]:
        """Return by session the seconds by which it is too short, for a melter or for hands."""
        found: dict[int, int] = {}
        for what, s, amount in missing:
            if what in ("time", "hands"):
                found[s] = max(found.get(s, 0), amount)
        return sorted(found.items())

    def _materials(self, missing: Sequence[_Missing]) -> tuple[Change, ...]:
        """Return for each material that is missing the most of it, by the first day."""
        rows: dict[str, tuple[int, int]] = {}
        for what, s, amount in missing:
            if what not in MEANS:
                first, most = rows.get(what, (s, 0))
                rows[what] = (min(first, s), max(most, amount))
        return tuple(
            Change(
                kind="material", what=what, amount=amount,
                on=self.ground.date(self.ground.stints[s].day),
            )
            for what, (s, amount) in sorted(rows.items())
        )  # fmt: skip

    # --- told ------------------------------------------------------------------------------------

    def reason(
        self, cure: Reason | None, short: Short | None, changes: tuple[Change, ...]
    ) -> Reason:  # fmt: skip
        """Return the reason in words, by what is short and what would do."""
        made = cure or self._full() if short is None else self._lacking(short)
        made = replace(made, changes=changes)
        instead = instead_words(self.line, self.answer)
        if not changes:
            return replace(made, change=instead)
        change = changes_words(self.problem, made)
        if cure and instead:
            # A day that no pouring reaches is as often put off as reached by another session.
            change = f"{change[:-1]}; or {instead[0].lower()}{instead[1:]}"
        return replace(made, change=change)

    def _full(self) -> Reason:
        by = day_words(self.ground.date(self.ground.stints[self.early[-1]].day))
        return Reason(kind="capacity", words=f"The sessions up to {by} are full.")

    def _lacking(self, short: Short) -> Reason:
        words = short_words(self.problem, short)
        kind: Literal["material", "outranked", "capacity"] = "material"
        if short.what in MEANS:
            others = self._outranking(short.what)
            kind = "outranked" if others else "capacity"
            if others:
                first = "more pressing lines" if len(others) > MOST_NAMED else names_words(others)
                words = f"{words[:-1]}; ahead of it: {first}."
        return Reason(
            kind=kind, words=capital(words), resource=short.what, session=short.session,
            amount=short.amount,
        )  # fmt: skip

    def _outranking(self, what: str) -> list[str]:
        """Return lines of more priority that take what it lacks, in the sessions it needs."""
        free = set(self.early[-WINDOW:])
        found = []
        records = self.problem.materials
        mine = self.line.whose or self.line.key
        for k, poured in enumerate(self.verdict.poured):
            uses = {records[i].key for i, amount in self.ground.goods[k].uses if amount}
            takes = what in MEANS or what in uses
            if not takes or not any(s in free for s, _ in poured):
                continue
            first = self.ground.ready(k, min(s for s, _ in poured if s in free))
            served = self.verdict.served[k].on_time
            for want, on_time in zip(self.ground.wants[k], served, strict=True):
                if on_time and want.due >= first and want.priority > self.line.priority:
                    line = self.problem.lines[want.place]
                    found.append((want.due, line.whose or line.key))
        return list(dict.fromkeys(name for _, name in sorted(found) if name != mine))


class _Forced(Part):
    """A part in which one line is on time at any price, and what is missing is counted."""

    def __init__(
        self, judge: Judge, now: Verdict, sessions: Collection[int], formulas: Collection[int],
        place: int,
    ) -> None:  # fmt: skip
        self.place = place
        self.slack: list[tuple[str, int, Any, int]] = []
        self.stuff: dict[str, list[tuple[int, Any, int]]] = {}
        super().__init__(judge, now, sessions, formulas)
        self.model.minimize(
            self._sum([s for _, _, s, _ in self.slack], [by for _, _, _, by in self.slack])
        )

    def _limit(self, what: str, s: int, row: Any, most: int) -> None:
        stint = self.ground.stints[s]
        full = {"table": self.ground.places, "time": stint.length_s, "hands": stint.maker_s}[what]
        slack = self._slack(what, s, full)
        self.model.add(row <= most + slack)

    def _cover(
        self, s: int, m: int, counts: list[Any], *, left: int, most: int, begun: bool
    ) -> None:  # fmt: skip
        """Say nothing about whole melts: the chords hold for the time there is, not for more."""

    def _slack(self, what: str, s: int, full: int) -> Any:
        full = max(1, full)
        slack = self.model.new_int_var(0, 20 * full, "")
        self.slack.append((what, s, slack, max(1, PRICE_OF_ALL // full)))
        return slack

    def _materials(self) -> None:
        """Let there be more of a material from the start, and count how much at a price."""
        ground = self.ground
        by_session = self._by_session()
        for i, stuff in enumerate(ground.stuffs):
            row: list[Any] = []
            by: list[int] = []
            total = 0
            rows = []
            for s in range(stuff.bound_until):
                for k, u in by_session.get(s, ()):
                    for j, amount in ground.goods[k].uses:
                        if j == i and amount:
                            row.append(u)
                            by.append(amount)
                total += sum(
                    q * amount
                    for k, q in self.fixed[s].items()
                    for j, amount in ground.goods[k].uses
                    if j == i
                )
                if row and (by_session.get(s) or self.fixed[s]):
                    rows.append((s, self._sum(list(row), list(by)), stuff.by_session[s] - total))
            if rows:
                slack = self._slack(stuff.key, rows[-1][0], stuff.by_session[rows[-1][0]])
                self.stuff[stuff.key] = rows
                for _, used, spare in rows:
                    self.model.add(used <= spare + slack)

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
        found = []
        for what, s, slack, by in self.slack:
            amount = round(solver.value(slack))
            if amount:
                # Of a material all that is short is wanted by the first session that lacks some.
                rows = self.stuff.get(what, ())
                first = next((t for t, used, spare in rows if solver.value(used) > spare), s)
                found.append((what, first, amount, by))
        found.sort(key=lambda row: -row[2] * row[3])
        return [(what, s, amount) for what, s, amount, _ in found]
