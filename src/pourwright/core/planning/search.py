"""
Large-neighbourhood search: part after part of a plan is solved anew while the rest stands still.

Parts are drawn by kind: sessions around a late line's last pouring day, a late scent with a few
others, some sessions, some scents over the whole time, scents with half-empty melts. A kind's
parts grow while they are solved to the end and shrink while they are not; a kind that lately saved
more for the engine's work on it is drawn more often. While there is hope of fewer late, parts aim
at that alone, then at melts, then at everything.
Source: Shaw, "Using constraint programming and local search methods to solve vehicle routing
problems", CP 1998; Ropke and Pisinger, Transportation Science 40 (2006) for weighing kinds, both
from memory.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from pourwright.core.planning.draft import Draft, Judge, Verdict
from pourwright.core.planning.part import WORK, Aim, Part
from pourwright.core.planning.second import Found, Second, Task, merged, solve_task

SEED = 20_260
MOST_WHOLE = 500
GROW, SHRINK = 1.06, 0.94
FIRST_SIZE = 0.7
NEAR_DAYS = 35
PATIENCE, AFTER_THAT = 25, 0.3
LATE_SHARE, MELTS_SHARE = 0.7, 0.6
IDLE, MOST_THOROUGH = 8, 6
FORGET, LEAST_WORK = 0.85, 0.05
LATE_KINDS = (
    ("late sessions", 20), ("late scents", 28), ("late thin", 20), ("sessions", 14),
    ("scents", 10), ("mixed", 8), ("thin melts", 16),
)  # fmt: skip
MELT_KINDS = (("sessions", 25), ("scents", 20), ("mixed", 20), ("thin melts", 35))

Part_ = tuple[list[int], list[int]]


@dataclass(slots=True)
class Record:
    """What a kind of part has lately saved, for how much of the engine's work; and its size."""

    size: float = FIRST_SIZE
    saved: float = 0.0
    work: float = 0.0

    @property
    def rate(self) -> float:
        return self.saved / max(LEAST_WORK, self.work)

    def note(self, *, proven: bool, saved: float, work: float) -> None:
        self.size = min(6.0, max(0.3, self.size * (GROW if proven else SHRINK)))
        self.saved = FORGET * self.saved + saved
        self.work = FORGET * self.work + work


class Search:
    """A search under way: the best plan so far, and what has been learnt about sizes."""

    def __init__(
        self, judge: Judge, first: Verdict, *, effort: int, seed: int = SEED,
        second: Second | None = None,
    ) -> None:  # fmt: skip
        """``effort``: the parts to solve in all; the last of them do not aim at late units."""
        self.second = second
        self.late_until = LATE_SHARE * effort
        self.judge, self.ground, self.best = judge, judge.ground, first
        self.dice = random.Random(seed)
        self.records = {
            late: {kind: Record() for kind, _ in kinds}
            for late, kinds in ((True, LATE_KINDS), (False, MELT_KINDS))
        }
        self.steps = 0
        self.refused = 0
        self.last_saved = self.last_better = 0
        self.whole_proven = False
        usable = {want.place for wants in self.ground.wants for want in wants}
        self.formulas = [
            f for f, ks in enumerate(self.ground.of_formula)
            if usable and any(self.ground.wants[k] for k in ks)
        ]  # fmt: skip
        self.open = [s for s, st in enumerate(self.ground.stints) if not st.frozen and st.people]

    def step(self) -> bool:
        """Solve one part, or two at once where there is a second process; return if better."""
        if not self.open or not self.formulas:
            self.steps += 1
            return False
        tasks = [self._task() for _ in range(1 if self.second is None else 2)]
        founds = self._solved([task for _, task in tasks])
        before = self.best.key
        for (kind, task), found in zip(tasks, founds, strict=True):
            was = self.best
            if found.draft is not None and found.draft != task.draft:
                self._take(task, found.draft)
            late = task.aim == "late"
            saved = was.late_weight - self.best.late_weight if late else was.melts - self.best.melts
            self.records[late][kind].note(
                proven=found.proven, saved=max(0, saved), work=found.work
            )  # fmt: skip
        return self.best.key < before

    def _solved(self, tasks: list[Task]) -> list[Found]:
        """Return what each task finds; alone from here on where the second process is lost."""
        if self.second is None:
            return [solve_task(self.judge, task) for task in tasks]
        try:
            self.second.ask(tasks[1])
            first = solve_task(self.judge, tasks[0])
            return [first, self.second.answer()]
        except (EOFError, OSError):
            self.second = None
            return [solve_task(self.judge, task) for task in tasks]

    def _task(self) -> tuple[str, Task]:
        self.steps += 1
        aim = self._aim()
        kind = self._kind(aim == "late")
        sessions, formulas = self._part(kind, self.records[aim == "late"][kind].size)
        near = NEAR_DAYS if len(formulas) == len(self.formulas) else None
        # The longer nothing better was found, the more thoroughly a part is solved.
        idle = self.steps - self.last_better
        work = WORK * min(MOST_THOROUGH, 1 + idle // IDLE)
        draft = self.best.draft
        return kind, Task(draft, tuple(sessions), tuple(formulas), near, self.steps, work, aim)

    def _kind(self, late: bool) -> str:
        """Draw a kind of part: half by its usual share, half by what it lately saved for work."""
        records, kinds = self.records[late], LATE_KINDS if late else MELT_KINDS
        usual = sum(weight for _, weight in kinds)
        rates = sum(record.rate for record in records.values())
        by = [
            weight / usual + (records[kind].rate / rates if rates else 0) for kind, weight in kinds
        ]
        return self.dice.choices([kind for kind, _ in kinds], by)[0]

    def _take(self, task: Task, draft: Draft) -> None:
        """Take a proposal if it is no worse; what was found meanwhile is kept where that fits."""
        drafts = [draft]
        if task.draft is not self.best.draft:
            drafts.insert(0, merged(self.judge, self.best.draft, draft, task))
        for one in drafts:
            found = self.judge.judge(one)
            if found is None:
                self.refused += 1
                continue
            if found.key <= self.best.key:
                if found.key < self.best.key:
                    self.last_better = self.steps
                if (found.late_weight, found.owed) < (self.best.late_weight, self.best.owed):
                    self.last_saved = self.steps
                self.best = found
                return

    def _aim(self) -> Aim:
        """Return what a part is to better: fewer late less often the longer none were saved."""
        if self.judge.keep is not None:
            return "all"
        if self.best.late_weight and self.steps <= self.late_until:
            hopeful = self.steps - self.last_saved < PATIENCE
            if hopeful or self.dice.random() < AFTER_THAT:
                return "late"
        return "melts" if self.dice.random() < MELTS_SHARE else "all"

    def prove_whole(self) -> bool:
        """
        Solve a small problem as one part, level after level; return whether that is proven best.

        The part leaves out what only the judge knows. Where the judge finds its plan to be worth
        just what the part says, nothing was left out, and no plan is better at any level.
        """
        plain = self.ground.problem.late_unit_worth_s is None and self.judge.keep is None
        if not plain or any(self.ground.spoils):
            return False
        melters = sum(len(self.ground.stints[s].melters) for s in self.open)
        products = sum(len(self.ground.of_formula[f]) for f in self.formulas)
        if melters * products > 4 * MOST_WHOLE:
            return False
        part = Part(self.judge, self.best, self.open, self.formulas, exact=True)
        if not part.x or len(part.x) > MOST_WHOLE:
            return False
        found = part.solve_in_order()
        if found is None:
            return False
        draft, values = found
        verdict = self.judge.judge(draft)
        if verdict is None:
            return False
        if verdict.key <= self.best.key:
            self.best = verdict
        asked = sum(w.priority * w.quantity for ws in self.ground.wants for w in ws)
        pinned = sum(map(len, self.judge.pinned))
        said = (asked + values["late"], values["owed"], pinned + values["melts"])
        self.whole_proven = said == (verdict.late_weight, verdict.owed, verdict.melts)
        return self.whole_proven

    # --- parts -----------------------------------------------------------------------------------

    def _part(self, kind: str, size: float) -> Part_:
        makers: dict[str, Callable[[float], Part_]] = {
            "late sessions": self._late_sessions, "late scents": self._late_scents,
            "sessions": self._sessions, "scents": self._scents, "mixed": self._mixed,
            "thin melts": self._thin,
            "late thin": self._late_thin,
        }  # fmt: skip
        return makers[kind](size)

    def _count(self, low: int, high: int, size: float) -> int:
        return max(1, round(self.dice.randint(low, high) * size))

    def _window(self, around: int, count: int) -> list[int]:
        """Return ``count`` open sessions in a row, around one of them."""
        count = min(count, len(self.open))
        first = max(0, min(len(self.open) - count, around - self.dice.randint(0, count - 1)))
        return self.open[first : first + count]

    def _late_line(self) -> tuple[int, int]:
        """Return a late line's product and the place (among open sessions) of its last pouring."""
        late = [
            (k, want.due, want.priority * (want.quantity - on_time))
            for k, served in enumerate(self.best.served)
            for want, on_time in zip(self.ground.wants[k], served.on_time, strict=True)
            if on_time < want.quantity
        ]
        k, due, _ = self.dice.choices(late, [weight for _, _, weight in late])[0]
        last = due - self.ground.goods[k].cure_days
        before = [i for i, s in enumerate(self.open) if self.ground.stints[s].day <= last]
        return k, before[-1] if before else 0

    def _late_sessions(self, size: float) -> Part_:
        _, at = self._late_line()
        return self._window(at, self._count(4, 7, size)), self.formulas

    def _late_scents(self, size: float) -> Part_:
        k, at = self._late_line()
        others = self._some_formulas(self._count(2, 4, size))
        formulas = sorted({self.ground.goods[k].formula, *others})
        return self._window(at, 18), formulas

    def _sessions(self, size: float) -> Part_:
        if self.dice.random() < 0.5:
            at = self.dice.randrange(len(self.open))
            return self._window(at, self._count(4, 7, size)), self.formulas
        count = min(len(self.open), self._count(4, 7, size))
        return sorted(self.dice.sample(self.open, count)), self.formulas

    def _scents(self, size: float) -> Part_:
        return self.open, self._some_formulas(self._count(2, 3, size))

    def _mixed(self, size: float) -> Part_:
        at = self.dice.randrange(len(self.open))
        return self._window(at, 24), self._some_formulas(self._count(4, 6, size))

    def _late_thin(self, size: float) -> Part_:
        """Free a late scent and those with half-empty melts in the sessions before it is due."""
        k, at = self._late_line()
        window = self.open[max(0, at - 23) : at + 1] or self.open[:1]
        others = self._thin_scents(set(window), self._count(2, 4, size))
        return window, sorted({self.ground.goods[k].formula, *others})

    def _thin(self, size: float) -> Part_:
        """Free the scents of a few half-empty melts, in every session."""
        chosen = self._thin_scents(set(self.open), self._count(2, 3, size))
        return (self.open, sorted(chosen)) if chosen else self._sessions(size)

    def _thin_scents(self, sessions: set[int], count: int) -> set[int]:
        """Return the scents of so many melts, drawn by how empty they are."""
        thin = []
        for s, batches in enumerate(self.best.batches):
            for m, draws in batches if s in sessions else ():
                mass = sum(
                    q * self.ground.mass_in_melter(k, m) for _, items in draws for k, q in items
                )
                empty = 1 - mass / self.ground.melters[m].capacity_mg
                thin.append((draws[0][0], max(0.02, empty) ** 2))
        if not thin:
            return set()
        chosen = self.dice.choices(thin, [weight for _, weight in thin], k=count)
        return {formula for formula, _ in chosen}

    def _some_formulas(self, count: int) -> list[int]:
        return sorted(self.dice.sample(self.formulas, min(count, len(self.formulas))))
