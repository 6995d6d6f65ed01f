"""
Making a plan: greedy calendars, then part after part solved anew, and a proof on the side.

``effort`` counts the parts that are solved, so that the same input gives the same plan however
busy the machine is; ``seconds`` and ``stop`` only end it early. The proof runs beside the search in
a thread of its own and never steers it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from pourwright.core.planning import greedy
from pourwright.core.planning.answers import draft_of, plan_of
from pourwright.core.planning.draft import Draft, Judge, Verdict
from pourwright.core.planning.ground import BadPlan, Ground
from pourwright.core.planning.model import Bounds, Plan, Problem
from pourwright.core.planning.relaxation import NODES, Proof, Relaxation
from pourwright.core.planning.search import Search
from pourwright.core.planning.second import Second

EFFORT = 60
MOST_EFFORT = 100_000
STOPPED_S = 5.0
SMALL_COLUMNS, SMALL_NODES = 2000, 5000

Progress = Callable[[Plan, int, str], None]
Stop = Callable[[], bool]


def solve(
    problem: Problem, *, effort: int = EFFORT, seconds: float | None = None,
    progress: Progress | None = None, stop: Stop | None = None, start: Plan | None = None,
    prove: bool = True, processes: int = 1,
) -> Plan:  # fmt: skip
    """
    Return the best plan that so much effort finds.

    ``processes``: 1, or 2 to solve two parts at once in a second process; the plan of the same
    input is the same each time for the same number of them.

    ``progress(plan, step, words)`` is called with the first plan and with every better one; each
    is whole. ``start``: an earlier plan to begin from. Raises ``BadPlan`` where the problem is
    none, or where what is pinned breaks a limit by itself.
    """
    solving = Solving(
        problem, effort=effort, seconds=seconds, progress=progress, stop=stop, processes=processes
    )
    try:
        return solving.run(start=start, prove=prove)
    finally:
        solving.close()


class Solving:
    """One making of a plan, with its clock, its stop and its proof."""

    def __init__(
        self, problem: Problem, *, effort: int, seconds: float | None, progress: Progress | None,
        stop: Stop | None, processes: int = 1,
    ) -> None:  # fmt: skip
        if not 0 <= effort <= MOST_EFFORT:
            raise BadPlan([f"effort {effort}; give 0 to {MOST_EFFORT} parts to solve"])
        if seconds is not None and seconds < 0:
            raise BadPlan([f"{seconds} seconds; give 0 or more, or leave it out"])
        self.judge = Judge(Ground(problem))
        self.effort, self.progress, self._stop = effort, progress, stop
        self.ends = None if seconds is None else time.monotonic() + seconds
        self.steps = 0
        self.whole = False
        self.best: Verdict | None = None
        self.proof: _Proving | None = None
        self.second: Second | None = None
        if processes == 2 and effort:
            self.second = Second(problem, None)
        elif processes not in (1, 2):
            raise BadPlan([f"{processes} processes; give 1 or 2"])

    def close(self) -> None:
        """End the second process, if there is one."""
        if self.second is not None:
            self.second.close()

    def run(self, *, start: Plan | None, prove: bool) -> Plan:
        """Return the plan."""
        if self.judge.judge({}) is None:
            raise BadPlan([f"what is pinned does not fit by itself: {self.judge.why}"])
        best = greedy.lay(self.judge, greedy.HAND)
        self._better(best, "a first calendar")
        if start is not None:
            began = self.judge.judge(draft_of(self.judge.ground, start.melts))
            if began is not None and began.key <= best.key:
                best = began
                self._better(best, "the plan that there was")
        if prove:
            self._prove(best)
        best = self._greedy(best)
        return self._finished(self._search(best))

    def run_from(self, draft: Draft) -> Plan:
        """Return the plan that begins from a draft that keeps every limit, and nothing else."""
        best = self.judge.judge(draft)
        if best is None:
            raise BadPlan([f"what is pinned does not fit by itself: {self.judge.why}"])
        self._better(best, "what is left of the plan that there was")
        self._prove(best)
        return self._finished(self._search(best))

    def _prove(self, best: Verdict) -> None:
        self.proof = _Proving(self.judge, self.ends, self._stopped)
        self.proof.begin(best.late_weight)

    def _finished(self, best: Verdict) -> Plan:
        bounds = self._bounds(best)
        return plan_of(self.judge, best, bounds=bounds, steps=self.steps)

    def _bounds(self, best: Verdict) -> Bounds:
        if self.whole:
            if self.proof is not None:
                self.proof.end()
            plan = plan_of(self.judge, best)
            return Bounds(
                late_weight=Fraction(best.late_weight), melts=best.melts, all_levels=True,
                unavoidable_late_units=plan.totals.late_units,
            )  # fmt: skip
        return self.proof.bounds(best, wait=True) if self.proof else Bounds()

    def _stopped(self) -> bool:
        if self.ends is not None and time.monotonic() >= self.ends:
            return True
        return self._stop is not None and self._stop()

    def _better(self, verdict: Verdict, words: str) -> None:
        self.best = verdict
        if self.progress is not None:
            bounds = self.proof.bounds(verdict, wait=False) if self.proof else Bounds()
            plan = plan_of(self.judge, verdict, bounds=bounds, steps=self.steps)
            self.progress(plan, self.steps, words)

    def _greedy(self, best: Verdict) -> Verdict:
        habits, rounds = greedy.habits_for(self.judge.ground)
        for habit in habits:
            if self._stopped():
                return best
            found = greedy.lay(self.judge, habit)
            if found.key < best.key:
                best = found
                self._better(best, "a better calendar")
        if not self._stopped():
            found = greedy.adjusting(self.judge, best, rounds=rounds, stop=self._stopped)
            if found.key < best.key:
                best = found
                self._better(best, "late lines made more urgent")
        return best

    def _search(self, best: Verdict) -> Verdict:
        search = Search(self.judge, best, effort=self.effort, second=self.second)
        if self.effort and not self._stopped():
            self.steps += 1
            if search.prove_whole():
                self.whole = True
            if search.best.key < best.key:
                self._better(search.best, "solved as a whole")
            if self.whole:
                return search.best
        before = self.steps
        while self.steps < self.effort and not self._stopped():
            better = search.step()
            self.steps = before + search.steps
            if better:
                self._better(search.best, f"part {self.steps} solved anew")
        return search.best


class _Proving:
    """The proof in its own thread: first late units, then melts for so many late units."""

    def __init__(self, judge: Judge, ends: float | None, stopped: Stop) -> None:
        # A judge of its own: caches are not shared between threads.
        self.judge = Judge(judge.ground)
        self.ends, self.given_up = ends, False
        self.stopped: Stop = lambda: self.given_up or stopped()
        self.late: Proof | None = None
        self.melts: dict[int, Proof] = {}
        self.thread: threading.Thread | None = None
        self.relaxation: Relaxation | None = None

    def _limits(self) -> dict[str, Any]:
        seconds = None if self.ends is None else max(0.05, self.ends - time.monotonic())
        return {"seconds": seconds, "stop": self.stopped}

    def end(self) -> None:
        """Give the proof up and wait until it has stopped."""
        self.given_up = True
        if self.thread is not None:
            self.thread.join()

    def begin(self, late_weight: int) -> None:
        self.thread = threading.Thread(target=self._prove, args=(late_weight,), daemon=True)
        self.thread.start()

    def _prove(self, late_weight: int) -> None:
        self.relaxation = Relaxation(self.judge)
        if late_weight == 0:
            self.late = Proof(bound=0.0, closed=True)
        else:
            # Nodes of a small relaxation are quick; a large one is worth its root and little more.
            small = len(self.relaxation.low) <= SMALL_COLUMNS
            nodes = SMALL_NODES if small else NODES
            self.late = self.relaxation.late_weight(nodes=nodes, **self._limits())
        if not self.stopped():
            self._prove_melts(self.late.whole, whole=True)

    def _prove_melts(self, late_weight: int, *, whole: bool) -> None:
        assert self.relaxation is not None
        found = self.relaxation.melts(
            late_weight=late_weight, whole=whole, nodes=1, **self._limits()
        )
        if found.bound < float("inf"):
            self.melts[late_weight] = found

    def bounds(self, verdict: Verdict, *, wait: bool) -> Bounds:
        """Return what is proven; ``wait`` first finishes the proof, as far as time allows."""
        if wait and self.thread is not None:
            self.thread.join(STOPPED_S if self.stopped() else None)
            if not self.thread.is_alive() and not self.stopped():
                self._finish(verdict)
        late = 0 if self.late is None else min(self.late.whole, verdict.late_weight)
        wants = [want for wants in self.judge.ground.wants for want in wants]
        late_units = sum(want.quantity for want in wants)
        late_units -= sum(sum(served.on_time) for served in verdict.served)
        if late == verdict.late_weight:
            unavoidable = late_units
        else:
            # No unit weighs more than the heaviest, so the weight tells a least number of units.
            heaviest = max((want.priority for want in wants), default=1)
            unavoidable = min(late_units, -(-late // heaviest))
        melts = [p.whole for w, p in self.melts.items() if w >= verdict.late_weight]
        return Bounds(
            late_weight=Fraction(late), unavoidable_late_units=unavoidable,
            melts=min(max(melts, default=0), verdict.melts),
        )  # fmt: skip

    def _finish(self, verdict: Verdict) -> None:
        """Bound the melts for just so many late, at least as far as that takes little time."""
        if verdict.late_weight not in self.melts:
            self._prove_melts(verdict.late_weight, whole=False)
