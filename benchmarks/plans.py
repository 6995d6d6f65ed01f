"""
The planner against a careful calendar, its own best calendar, and the proven bound.

Run from the project's root, alone on the machine for wall time to mean anything:

    python benchmarks/plans.py                    every case, into docs/benchmarks.md
    python benchmarks/plans.py season/1 tight/1   only these, printed
    python benchmarks/plans.py what-if            a larger table, into docs/benchmarks.md

Time is counted in processor seconds of the first of the search's two processes (each in one thread,
the two solve a part each at a time), so that a busy machine changes little in the figures. The
bound is proven apart, in one thread.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

from plan_cases import CASES, case
from sections import put

from pourwright.core.planning import greedy
from pourwright.core.planning.checker import findings
from pourwright.core.planning.draft import Judge
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.relaxation import Relaxation
from pourwright.core.planning.replanning import rejudged
from pourwright.core.planning.solving import MOST_EFFORT, solve

MARKS = (10, 60)
PROOF_S = 45
NODES = 100_000
DOCUMENT = Path(__file__).resolve().parents[1] / "docs" / "benchmarks.md"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One case's figures; late is units times priority."""

    name: str
    asked: int
    first_s: float
    hand: tuple[int, int]
    calendar: tuple[int, int]
    calendar_s: float
    at: tuple[tuple[int, int], ...]
    parts: int
    late_bound: int
    late_closed: bool
    proof_s: float
    melts_bound: int
    levels: bool
    whole_s: float
    wrong: int


def measure(name: str, seed: int) -> Row:
    """Return one case's figures."""
    problem = case(name, seed)
    asked = sum(line.quantity * line.priority for line in problem.lines)
    began = time.process_time()
    judge = Judge(Ground(problem))
    hand = greedy.lay(judge, greedy.HAND)
    first_s = time.process_time() - began
    best = greedy.best_of_all(judge)
    calendar_s = time.process_time() - began
    seen: list[tuple[float, int, int]] = []
    began = time.process_time()

    def note(plan, step, words) -> None:
        seen.append((time.process_time() - began, plan.totals.late_weight, plan.totals.melts))

    plan = solve(
        problem, effort=MOST_EFFORT, prove=False, progress=note, processes=2,
        stop=lambda: time.process_time() - began > MARKS[-1],
    )  # fmt: skip
    whole_s = time.process_time() - began
    at = tuple(
        next((late, melts) for spent, late, melts in reversed(seen) if spent <= mark)
        for mark in MARKS
    )
    wrong = len(findings(problem, plan))
    bounds = _bounds(judge, plan)
    return Row(
        name=f"{name}/{seed}", asked=asked, first_s=first_s, hand=(hand.late_weight, hand.melts),
        calendar=(best.late_weight, best.melts), calendar_s=calendar_s, at=at,
        parts=plan.sub_solves, levels=plan.bounds.all_levels, whole_s=whole_s, wrong=wrong,
        **bounds,
    )  # fmt: skip


def _bounds(judge: Judge, plan) -> dict:
    late, melts = plan.totals.late_weight, plan.totals.melts
    if plan.bounds.all_levels:
        return {
            "late_bound": late, "late_closed": True, "proof_s": 0.0, "melts_bound": melts
        }  # fmt: skip
    relaxed = Relaxation(judge)
    began = time.process_time()
    bound, closed = 0, True
    if late:
        proof = relaxed.late_weight(
            nodes=NODES, stop=lambda: time.process_time() - began > PROOF_S
        )  # fmt: skip
        bound, closed = min(proof.whole, late), proof.closed
    proof_s = time.process_time() - began
    began = time.process_time()
    proof = relaxed.melts(
        late_weight=late, nodes=NODES, stop=lambda: time.process_time() - began > PROOF_S
    )  # fmt: skip
    found = proof.whole if proof.bound < float("inf") else 0
    return {
        "late_bound": bound, "late_closed": closed, "proof_s": proof_s,
        "melts_bound": min(max(found, 0), melts),
    }  # fmt: skip


WORDS = """\
## The plan: late units and melts

Seeded instances of `benchmarks/plan_cases.py`: synthetic demand, round figures. Late is units times
priority. *Hand*: one careful calendar, earliest due first, 28 days ahead. *Best calendar*: the best
of 28 such. *10 s* and *60 s*: the search after so many seconds of each of two cores, its calendars
included. *Bound*: proven by HiGHS on a relaxed plan in up to 45 s of one core; what is late above
it is all that a better plan could still save (it may be less: the bound may be too low), and the
gap is that over all that is asked. *First plan*: until there is a whole plan at all."""
STATE = {False: "Every plan passed the checker.", True: "SOME PLANS DID NOT PASS THE CHECKER."}
LATE = (
    "case", "asked", "hand", "best calendar", "10 s", "60 s", "bound", "gap", "parts", "first plan"
)  # fmt: skip
MELTS = ("case", "hand", "best calendar", "10 s", "60 s", "bound", "gap")


def _table(heads: tuple[str, ...]) -> list[str]:
    return [f"| {' | '.join(heads)} |", "|" + "---|" * len(heads)]


def report(rows: list[Row]) -> str:
    """Return the section for docs/benchmarks.md."""
    lines = [WORDS, "", STATE[any(r.wrong for r in rows)], "", *_table(LATE)]
    for r in rows:
        gap = (r.at[-1][0] - r.late_bound) / r.asked
        lines.append(
            f"| {r.name} | {r.asked} | {r.hand[0]} | {r.calendar[0]} | {r.at[0][0]} | {r.at[1][0]} "
            f"| {r.late_bound} | {gap:.2%} | {r.parts} | {r.first_s:.2f} s |"
        )
    lines += ["", "Melts, and the bound on melts of any plan with so few late:", "", *_table(MELTS)]
    for r in rows:
        melts = r.at[-1][1]
        gap = (melts - r.melts_bound) / melts if melts else 0
        lines.append(
            f"| {r.name} | {r.hand[1]} | {r.calendar[1]} | {r.at[0][1]} | {melts} "
            f"| {r.melts_bound} | {gap:.0%} |"
        )
    lines += ["", *_sums(rows)]
    return "\n".join(lines) + "\n"


def _sums(rows: list[Row]) -> list[str]:
    over = [sum(late - r.late_bound for r, late in zip(rows, column, strict=True)) for column in (
        [r.hand[0] for r in rows], [r.calendar[0] for r in rows],
        [r.at[0][0] for r in rows], [r.at[1][0] for r in rows],
    )]  # fmt: skip
    text = [
        f"Above the bound, summed over the cases: {over[0]} by hand, {over[1]} the best calendars, "
        f"{over[2]} after 10 s, {over[3]} after 60 s."
    ]
    if over[1]:
        saved = [f"{(over[1] - left) / over[1]:.0%}" for left in over[2:]]
        text.append(
            f"That is {saved[0]} and {saved[1]} less than the best calendars leave. The goals were "
            "50 % and 95 %."
        )
    whole = [r for r in rows if r.levels]
    if whole:
        text.append(
            "Proven best at every level: "
            + ", ".join(f"{r.name} in {r.whole_s:.1f} s" for r in whole) + "."
        )  # fmt: skip
    return text


WHAT_IF = """\
## A what-if

Case tight/1 with {places} places on the pour table instead of {were}. From the plan as it was after
30 s of each of two cores ({before} late), what a further so many seconds gave:

| | late | gap to a long run | melts |
|---|---:|---:|---:|
{rows}

The gap is of the weight that is asked; the goal was 0.5 % in 20 s, better 5 s. A plan begins from
what still fits of the one that is followed, so that more means never come out worse.
"""


def what_if(*, places: int = 36, marks: tuple[int, ...] = (5, 20, 60)) -> str:
    """Return the section on a larger table."""
    problem = case("tight", 1)
    larger = replace(problem, table_places=places)
    asked = sum(line.quantity * line.priority for line in problem.lines)
    began = time.process_time()
    before = solve(
        problem, effort=MOST_EFFORT, prove=False, processes=2,
        stop=lambda: time.process_time() - began > 30,
    )  # fmt: skip
    seen: list[tuple[float, int, int]] = []
    anew = time.process_time()

    def note(plan, step, words) -> None:
        seen.append((time.process_time() - anew, plan.totals.late_weight, plan.totals.melts))

    solve(
        larger, effort=MOST_EFFORT, prove=False, processes=2, progress=note,
        start=rejudged(larger, before), stop=lambda: time.process_time() - anew > marks[-1],
    )  # fmt: skip
    rows = []
    for mark in marks:
        late, melts = next((a, m) for spent, a, m in reversed(seen) if spent <= mark)
        rows.append(f"| {mark} s | {late} | {(late - seen[-1][1]) / asked:.2%} | {melts} |")
    return WHAT_IF.format(
        places=places, were=problem.table_places, before=before.totals.late_weight,
        rows="\n".join(rows),
    )  # fmt: skip


if __name__ == "__main__":
    if sys.argv[1:] == ["what-if"]:
        put(DOCUMENT, what_if())
        sys.exit()
    wanted = sys.argv[1:] or [f"{name}/{seed}" for name, seed in CASES]
    rows = []
    for one in wanted:
        name, seed = one.split("/")
        rows.append(measure(name, int(seed)))
        print(json.dumps({k: getattr(rows[-1], k) for k in Row.__slots__}), flush=True)
        if not sys.argv[1:]:
            put(DOCUMENT, report(rows))
    if sys.argv[1:]:
        print(report(rows))
