"""``pourwright panel``: what a panel of noses says of candles, ranked or in triangles."""

from __future__ import annotations

import argparse
import sys
from dataclasses import asdict
from datetime import date
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.amounts import parse_count, parse_number
from pourwright.core.amounts.reading import shorten
from pourwright.core.errors import BadInput
from pourwright.core.panels import rank_panel, triangle, triangle_assessors, triangle_power
from pourwright.core.rules import Rule, rule
from pourwright.intake.burn_file import read_ranks

RANK_EPILOG = """\
FILE is CSV: the candles' names, then a line for each assessor with the rank that each candle got, 1
the first; tied candles share a rank. A first column headed "assessor" is left out. - reads a pipe.

Example:
  pourwright panel rank ranks.csv
"""
TRIANGLE_EPILOG = """\
Each assessor smells three candles, two of them alike, and names the odd one. --correct says how
many named it. --tell is the share of people who can tell: the answer then says how sure this panel
is to show it, and how many assessors would be 90 % sure.

Example:
  pourwright panel triangle --assessors 21 --alpha 0.05 --correct 11
"""


class BadPanelFile(BadInput):
    """A file of ranks that cannot be read."""


def register(parts) -> None:
    panel = parts.add_parser("panel", help="scent panels: ranks and triangle tests")
    verbs = panel.add_subparsers(dest="verb", metavar="VERB", required=True)
    rank = verbs.add_parser("rank", help="what a panel's ranks say", epilog=RANK_EPILOG)
    rank.add_argument("file", metavar="FILE", help="CSV, or - for a pipe")
    rank.add_argument("--alpha", default="0.05", metavar="A", help="risk of a false find (0.05)")
    rank.add_argument("--scores", action="store_true", help="the figures are scores, low first")
    add_json_flag(rank)
    rank.set_defaults(run=run_rank)
    odd = verbs.add_parser(
        "triangle", help="the right answers needed, and what was found", epilog=TRIANGLE_EPILOG
    )
    odd.add_argument("--assessors", required=True, metavar="N", help="how many noses")
    odd.add_argument("--alpha", default="0.05", metavar="A", help="risk of a false find (0.05)")
    odd.add_argument("--correct", metavar="N", help="how many named the odd one")
    odd.add_argument("--tell", metavar="SHARE", help="share of people who can tell, as 0.4")
    add_json_flag(odd)
    odd.set_defaults(run=run_triangle)


def run_rank(arguments: argparse.Namespace) -> int:
    names, ranks = read_ranks(_text_of(arguments.file))
    found = rank_panel(
        ranks, candles=names, alpha=_share(arguments.alpha, "Risk"), scores=arguments.scores
    )
    table = _table()
    if arguments.json:
        print_json(asdict(found) | {"differ": found.differ, "rule": _rule_json(table)})
        return 0
    rows = [(name, f"{total:g}") for name, total in zip(names, found.rank_sums, strict=True)]
    rows += [
        ("Friedman", f"{found.friedman:.2f}, p = {found.p:.4f}"),
        ("told apart", f"rank sums more than {found.lsd:.1f} apart"),
        *(("", words) for words in found.says),
        ("source", f"{table.source} ({table.status})"),
    ]
    print_pairs(rows)
    return 0


def run_triangle(arguments: argparse.Namespace) -> int:
    assessors = parse_count(arguments.assessors, field="Assessors", least=1)
    alpha = _share(arguments.alpha, "Risk")
    correct = None
    if arguments.correct is not None:
        correct = parse_count(arguments.correct, field="Correct")
    found = triangle(assessors=assessors, alpha=alpha, correct=correct)
    answer = asdict(found)
    if arguments.tell is not None:
        tell = _share(arguments.tell, "Share who can tell")
        answer["power"] = triangle_power(assessors=assessors, tell=tell, alpha=alpha)
        answer["assessors_for_90_pct"] = triangle_assessors(tell=tell, power=0.9, alpha=alpha)
    table = _table()
    if arguments.json:
        print_json(answer | {"rule": _rule_json(table)})
        return 0
    rows = [("needed", "none would do" if found.needed is None else f"{found.needed}")]
    if found.p is not None:
        rows.append(("by guessing", f"p = {found.p:.4f}"))
    rows += [("", words) for words in found.says]
    if "power" in answer:
        enough = answer["assessors_for_90_pct"]
        rows.append(("power", f"{answer['power']:.0%} of such panels would show it"))
        rows.append(("90 % sure", f"{enough} assessors" if enough else "over 500 assessors"))
    print_pairs([*rows, ("source", f"{table.source} ({table.status})")])
    return 0


def _table() -> Rule:
    return rule("quality/panels", on=date.today())  # noqa: DTZ011


def _rule_json(table: Rule) -> dict:
    return {"title": table.title, "source": table.source, "status": table.status}


def _share(text: str, field: str) -> float:
    return float(parse_number(text, field=field, example='"0.05"'))


def _text_of(name: str) -> str:
    try:
        return sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        raise BadPanelFile(f'Ranks "{shorten(name)}" cannot be read: {problem}.') from problem
