"""
A second process that solves parts of a plan beside the first.

Both are given a part of the same plan; what they find is judged in a fixed order. So the plan
depends on how many processes there are, and on nothing else: not on which of them is quicker.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pourwright.core.planning.draft import Draft, Judge
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.model import Problem
from pourwright.core.planning.part import Aim

ROOT = Path(__file__).resolve().parents[3]


@dataclass(frozen=True, slots=True)
class Task:
    """A part to solve: the whole draft, what is free in it, the engine's seed, work and aim."""

    draft: Draft
    sessions: tuple[int, ...]
    formulas: tuple[int, ...]
    near_days: int | None
    seed: int
    work: float
    aim: Aim


@dataclass(frozen=True, slots=True)
class Found:
    """What came of it: a whole draft (None: nothing), whether proven best, and the work done."""

    draft: Draft | None
    proven: bool
    work: float


class Second:
    """The second process, seen from the first. It ends with ``close`` or with its parent."""

    def __init__(self, problem: Problem, keep: Draft | None) -> None:
        paths = [str(ROOT), os.environ.get("PYTHONPATH", "")]
        self.child = subprocess.Popen(
            [sys.executable, "-m", "pourwright.core.planning.second"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in paths if path)},
        )  # fmt: skip
        self._send((problem, keep))

    def _send(self, value: Any) -> None:
        assert self.child.stdin is not None
        pickle.dump(value, self.child.stdin)
        self.child.stdin.flush()

    def ask(self, task: Task) -> None:
        self._send(task)

    def answer(self) -> Found:
        """Wait for the answer to what was asked."""
        assert self.child.stdout is not None
        found: Found = pickle.load(self.child.stdout)  # our own child's words
        return found

    def close(self) -> None:
        for pipe in (self.child.stdin, self.child.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
        self.child.kill()
        self.child.wait()


def solve_task(judge: Judge, task: Task) -> Found:
    """Return what solving a task finds."""
    from pourwright.core.planning.part import Part

    now = judge.judge(task.draft)
    if now is None:
        return Found(draft=None, proven=False, work=0.0)
    part = Part(
        judge, now, task.sessions, task.formulas, near_days=task.near_days, aim=task.aim
    )  # fmt: skip
    answer = part.solve(seed=task.seed, work=task.work)
    return Found(draft=answer.draft, proven=answer.proven, work=answer.work)


def merged(judge: Judge, best: Draft, found: Draft, task: Task) -> Draft:
    """Return a draft with the free part of another put into it."""
    free, scents = set(task.sessions), set(task.formulas)

    def mine(s: int, k: int) -> bool:
        return s in free and judge.ground.goods[k].formula in scents

    cells: dict[tuple[int, int, int], dict[int, int]] = {}
    for draft, take in ((best, False), (found, True)):
        for cell, items in draft.items():
            for k, q in items:
                if mine(cell[0], k) is take:
                    cells.setdefault(cell, {})[k] = q
    return {cell: tuple(sorted(items.items())) for cell, items in cells.items()}


def main(argv: Sequence[str] = ()) -> None:
    """Read a problem and then tasks from standard input, and write what each finds."""
    words, said = sys.stdin.buffer, sys.stdout.buffer
    problem, keep = pickle.load(words)  # our own parent's words
    judge = Judge(Ground(problem), keep=keep)
    while True:
        try:
            task = pickle.load(words)
        except EOFError:
            return
        pickle.dump(solve_task(judge, task), said)
        said.flush()


if __name__ == "__main__":
    # Run as a module this file is __main__; what is pickled has to carry its real name.
    from pourwright.core.planning import second

    second.main()
