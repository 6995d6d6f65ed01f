"""
Large-neighbourhood search: part after part of a plan is solved anew while the rest stands still.

Parts are drawn by kind: sessions around a late line's last pouring day, a late scent with a few
others, some sessions, some scents over the whole time, scents with half-empty melts. A kind's
parts grow while they are solved to the end and shrink while they are not.
Source: Shaw, "Using constraint programming and local search methods to solve vehicle routing
problems", CP 1998; Ropke and Pisinger, Transportation Science 40 (2006) for weighing kinds, both
from memory.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from pourwright.core.planning.draft import Draft, Judge, Verdict
from pourwright.core.planning.part import WORK, Part
from pourwright.core.planning.second import Found, Second, Task, merged, solve_task

SEED = 20_260
MOST_WHOLE = 500
GROW, SHRINK = 1.06, 0.94
FIRST_SIZE = 0.7
NEAR_DAYS = 35
PATIENCE, AFTER_THAT = 25, 0.3
IDLE, MOST_THOROUGH = 8, 6
LATE_KINDS = (
    ("late sessions", 28), ("late scents", 28), ("sessions", 16), ("scents", 10), ("mixed", 8),
    ("thin melts", 10),
)  # fmt: skip
MELT_KINDS = (("sessions", 25), ("scents", 20), ("mixed", 20), ("thin melts", 35))

Part_ = tuple[list[int], list[int]]


class Search:
    """A search under way: the best plan so far, and what has been learnt about sizes."""

    def __init__(
        self, judge: Judge, first: Verdict, *, seed: int = SEED, second: Second | None = None
    ) -> None:
        self.second = second
        self.judge, self.ground, self.best = judge, judge.ground, first
        self.dice = random.Random(seed)
        self.size = {kind: FIRST_SIZE for kind, _ in (*LATE_KINDS, *MELT_KINDS)}
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
            self.size[kind] *= GROW if found.proven else SHRINK
            self.size[kind] = min(6.0, max(0.3, self.size[kind]))
            if found.draft is not None and found.draft != task.draft:
                self._take(task, found.draft)
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
        kinds = LATE_KINDS if self._hopeful() else MELT_KINDS
        kind = self.dice.choices([k for k, _ in kinds], [weight for _, weight in kinds])[0]
        sessions, formulas = self._part(kind)
        near = NEAR_DAYS if len(formulas) == len(self.formulas) else None
        # The longer nothing better was found, the more thoroughly a part is solved.
        idle = self.steps - self.last_better
        work = WORK * min(MOST_THOROUGH, 1 + idle // IDLE)
        draft = self.best.draft
        return kind, Task(draft, tuple(sessions), tuple(formulas), near, self.steps, work)

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

    def _hopeful(self) -> bool:
        """Return whether to look for fewer late: less often the longer none was found."""
        if not self.best.late_weight:
            return False
        return self.steps - self.last_saved < PATIENCE or self.dice.random() < AFTER_THAT

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

    def _part(self, kind: str) -> Part_:
        makers: dict[str, Callable[[float], Part_]] = {
            "late sessions": self._late_sessions, "late scents": self._late_scents,
            "sessions": self._sessions, "scents": self._scents, "mixed": self._mixed,
            "thin melts": self._thin,
        }  # fmt: skip
        return makers[kind](self.size[kind])

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

    def _thin(self, size: float) -> Part_:
        """Free the scents of a few half-empty melts, and the sessions around one of them."""
        thin = []
        for s, batches in enumerate(self.best.batches):
            for m, draws in batches:
                mass = sum(
                    q * self.ground.mass_in_melter(k, m) for _, items in draws for k, q in items
                )
                empty = 1 - mass / self.ground.melters[m].capacity_mg
                thin.append((draws[0][0], s, max(0.02, empty) ** 2))
        if not thin:
            return self._sessions(size)
        count = self._count(2, 3, size)
        chosen = self.dice.choices(thin, [t[2] for t in thin], k=count)
        formulas = sorted({formula for formula, _, _ in chosen})
        return self.open, formulas

    def _some_formulas(self, count: int) -> list[int]:
        return sorted(self.dice.sample(self.formulas, min(count, len(self.formulas))))
