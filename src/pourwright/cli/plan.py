"""``pourwright plan``: what to pour when, what to promise, what to buy, what to bring."""

from __future__ import annotations

import importlib

VERBS = ("plan_solve", "plan_buy", "plan_market")


def register(parts) -> None:
    plan = parts.add_parser("plan", help="what to pour when, what to buy, what to bring")
    verbs = plan.add_subparsers(dest="verb", metavar="VERB", required=True)
    for name in VERBS:
        importlib.import_module(f"pourwright.cli.{name}").register(verbs)
