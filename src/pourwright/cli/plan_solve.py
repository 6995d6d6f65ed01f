"""``pourwright plan solve`` and ``plan promise``: when to pour what, and what can be promised."""

from __future__ import annotations

import argparse
import sys
import textwrap
import time
from datetime import date
from pathlib import Path
from typing import Any

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.errors import BadInput
from pourwright.core.planning.model import Change, Plan, Problem, Reason
from pourwright.core.planning.wording import clock_words, day_words, session_words, units_words
from pourwright.intake.plan_problem import read_plan_problem

WIDTH = 100
EFFORT = 60
CAUTION = (
    "Somebody stays in the room as long as wax is melting or hot. A wax fire is smothered with a "
    "lid, never watered. The minutes and cure days are yours: the plan is no better than they are."
)

SOLVE_EPILOG = """\
FILE is a small TOML or JSON document, described in docs/plan-file.md: designs, melters, table,
sessions, materials, lots, and the orders, markets and stock targets to serve.

--effort counts the parts of the plan that are solved anew: the same file with the same effort gives
the same plan on any machine, busy or not. --seconds only ends it sooner.

Caution: somebody stays in the room as long as wax is melting or hot; a wax fire is smothered with a
lid, never watered.

Example:
  pourwright plan solve autumn.toml --effort 4
"""
PROMISE_EPILOG = """\
Answers whether so many of a product can be there by a day, on top of the plan for FILE, with no
line of it worse off; if not, how many, and when all of them could be.

Example:
  pourwright plan promise autumn.toml --design "Quince tumbler" --quantity 10 --by 2027-10-23
"""


class BadAnswer(BadInput):
    """An option that cannot be used."""


def register(verbs) -> None:
    """Add the two commands to the verbs of ``pourwright plan``."""
    solve = verbs.add_parser(
        "solve", help="what to pour when, so that nothing is late", epilog=SOLVE_EPILOG
    )
    _common(solve)
    solve.set_defaults(run=run_solve)
    promise = verbs.add_parser(
        "promise", help="can so many be there by a day?", epilog=PROMISE_EPILOG
    )
    _common(promise)
    promise.add_argument("--design", required=True, metavar="NAME", help="the product's name")
    promise.add_argument("--quantity", required=True, type=int, metavar="N", help="how many")
    promise.add_argument("--by", required=True, metavar="DAY", help="as 2027-03-31")
    promise.set_defaults(run=run_promise)


def _common(parser) -> None:
    parser.add_argument("file", metavar="FILE", help="a TOML or JSON document")
    parser.add_argument(
        "--effort", type=int, default=EFFORT, metavar="N",
        help=f"parts of the plan to solve anew (default {EFFORT})",
    )  # fmt: skip
    parser.add_argument(
        "--seconds", type=float, metavar="S", help="end after so long, with the best plan so far"
    )
    parser.add_argument(
        "--processes", type=int, default=1, choices=(1, 2), metavar="P",
        help="1, or 2 to solve two parts at once (another plan, the same each time)",
    )  # fmt: skip
    add_json_flag(parser)


# --- solve ---------------------------------------------------------------------------------------


def run_solve(arguments: argparse.Namespace) -> int:
    problem, plan = _solved(arguments)
    from pourwright.core.planning.reasons import with_reasons

    plan = with_reasons(problem, plan)
    if arguments.json:
        print_json(plan_json(problem, plan))
    else:
        _print_plan(problem, plan)
    return 0


def _solved(arguments: argparse.Namespace) -> tuple[Problem, Plan]:
    began = time.monotonic()
    problem = read_plan_problem(Path(arguments.file))
    from pourwright.core.planning.saving import save_late
    from pourwright.core.planning.solving import solve

    def tell(plan: Plan, step: int, words: str) -> None:
        said = f"{plan.totals.late_units} late, {plan.totals.melts} melts"
        print(f"  part {step}: {said} ({words})", file=sys.stderr)

    plan = solve(
        problem, effort=arguments.effort, seconds=arguments.seconds,
        processes=arguments.processes,
        progress=tell if sys.stderr.isatty() else None,
    )  # fmt: skip
    ends = None if arguments.seconds is None else began + arguments.seconds
    return problem, save_late(
        problem, plan, stop=lambda: ends is not None and time.monotonic() > ends
    )


def plan_json(problem: Problem, plan: Plan) -> dict[str, Any]:
    """Return a plan as the command prints it."""
    totals, bounds = plan.totals, plan.bounds
    return {
        "late_units": totals.late_units,
        "unavoidable_late_units": bounds.unavoidable_late_units,
        "late_weight": totals.late_weight,
        "bound": bounds.late_weight,
        "melts": totals.melts,
        "melts_bound": bounds.melts,
        "proven_at_every_level": bounds.all_levels,
        "owed_unit_days": totals.owed_unit_days,
        "maker_minutes": round(totals.maker_s / 60, 1),
        "held_unit_days": totals.held_unit_days,
        "cost": totals.cost_minor100 / 10_000,
        "poured": totals.poured,
        "effort_spent": plan.sub_solves,
        "sessions": [
            _session_json(problem, plan, session.key)
            for session in sorted(problem.sessions, key=lambda s: (s.on, s.start_s))
            if plan.melts_of(session.key) or plan.tasks_of(session.key)
        ],
        "lines": [
            {
                "line": line.key, "kind": line.kind, "product": line.product, "due": line.due,
                "quantity": line.quantity, "on_time": answer.on_time, "late": answer.late,
                "from_stock": answer.from_stock, "ready_on": answer.ready_on,
                "reason": None if answer.reason is None else _reason_json(answer.reason),
            }
            for line, answer in zip(problem.lines, plan.lines, strict=True)
        ],
        "late_together": [
            {
                "lines": list(group.lines), "words": group.words, "change": group.change,
                "changes": [_change_json(change) for change in group.changes],
            }
            for group in plan.late_together
        ],
        "caution": CAUTION,
    }  # fmt: skip


def _reason_json(reason: Reason) -> dict[str, Any]:
    return {
        "kind": reason.kind, "words": reason.words, "change": reason.change,
        "resource": reason.resource, "session": reason.session, "amount": reason.amount,
        "changes": [_change_json(change) for change in reason.changes],
    }  # fmt: skip


def _change_json(change: Change) -> dict[str, Any]:
    return {
        "kind": change.kind, "amount": change.amount, "material": change.what,
        "session": change.session, "on": change.on,
        "from": clock_words(change.start_s) if change.kind == "session" else None,
    }  # fmt: skip


def _session_json(problem: Problem, plan: Plan, key: str) -> dict[str, Any]:
    session = next(s for s in problem.sessions if s.key == key)
    return {
        "session": key,
        "on": session.on,
        "from": clock_words(session.start_s),
        "to": clock_words(session.end_s),
        "melts": [
            {
                "melter": melt.melter,
                "pinned": melt.pinned,
                "vessels": [
                    {"product": p.product, "formula": d.formula, "quantity": p.quantity}
                    for d in melt.draws
                    for p in d.pours
                ],
                "steps": [_step_json(step) for step in melt.steps],
            }
            for melt in plan.melts_of(key)
        ],
        "work": [_step_json(task.step) for task in plan.tasks_of(key)],
    }


def _step_json(step) -> dict[str, Any]:
    return {
        "step": step.kind, "what": step.what, "quantity": step.quantity,
        "from": clock_words(step.start_s), "to": clock_words(step.end_s), "busy": step.busy,
    }  # fmt: skip


def _print_plan(problem: Problem, plan: Plan) -> None:
    totals, bounds = plan.totals, plan.bounds
    rows = [
        ("late", f"{units_words(totals.late_units)}, of which {bounds.unavoidable_late_units} "
         "are proven unavoidable"),
        ("melts", f"{totals.melts} (proven: no fewer than {bounds.melts} for so few late)"),
        ("hands", f"{totals.maker_s / 3600:.1f} h"),
        ("waiting", f"{totals.held_unit_days} unit-days on the shelf, cured"),
        ("proof", "best at every level" if bounds.all_levels else "best plan found so far"),
    ]  # fmt: skip
    print_pairs(rows)
    for session in sorted(problem.sessions, key=lambda s: (s.on, s.start_s)):
        melts, tasks = plan.melts_of(session.key), plan.tasks_of(session.key)
        if not melts and not tasks:
            continue
        print(f"\n{session_words(session.on, session.start_s, session.name)}")
        steps = [(step, melt) for melt in melts for step in melt.steps]
        lines = [(s.start_s, s.end_s, s.kind, _melt_words(s, m)) for s, m in steps]
        lines += [
            (t.step.start_s, t.step.end_s, t.step.kind, f"{t.step.quantity} {t.step.what}")
            for t in tasks
        ]
        for start, end, kind, words in sorted(lines):
            print(f"  {clock_words(start)}-{clock_words(end)}  {kind:<7} {words}".rstrip())
    answers = {a.line: (line, a) for line, a in zip(problem.lines, plan.lines, strict=True)}
    for group in plan.late_together:
        print()
        for line, answer in (answers[key] for key in group.lines):
            of = f"{answer.late} of {line.quantity} late"
            _say(f"{line.whose or line.key}: {line.product}, due {day_words(line.due)}: {of}")
        _say(f"{group.words} {group.change}".strip(), indent="    ")
    print()
    _say(CAUTION)


def _melt_words(step, melt) -> str:
    if step.kind != "pour":
        return f"{step.what} ({melt.melter})" if step.what else melt.melter
    pours = [p for d in melt.draws if d.formula == step.what for p in d.pours]
    return ", ".join(f"{p.quantity} {p.product}" for p in pours)


def _say(words: str, *, indent: str = "") -> None:
    print(textwrap.fill(words, WIDTH, initial_indent=indent, subsequent_indent=indent))


# --- promise -------------------------------------------------------------------------------------


def run_promise(arguments: argparse.Namespace) -> int:
    try:
        by = date.fromisoformat(arguments.by)
    except ValueError:
        raise BadAnswer(f'--by "{arguments.by}" is no day; write it as 2027-03-31.') from None
    problem, plan = _solved(arguments)
    from pourwright.core.planning.promise import promise

    found = promise(problem, plan, product=arguments.design, quantity=arguments.quantity, by=by)
    if arguments.json:
        print_json({
            "can": found.can, "proven": found.proven, "on_time": found.on_time,
            "from_stock": found.from_stock, "earliest": found.earliest, "words": found.words,
        })  # fmt: skip
    else:
        _say(found.words)
    return 0
