"""``pourwright plan market``: how many of each design to bring to a market day."""

from __future__ import annotations

import argparse
import textwrap
from fractions import Fraction
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.amounts.money import minor_digits, show_money
from pourwright.intake.plan_market import MarketFile, read_market

WIDTH = 100
EPILOG = """\
FILE is a small TOML or JSON document, described under “A market day” in docs/plan-file.md: the
designs with price and cost, the stall's places, and what was taken, sold and brought back on past
days there. Days that sold out count as "at least so many".

Example:
  pourwright plan market market.toml
"""


def register(verbs) -> None:
    market = verbs.add_parser(
        "market", help="how many of each design to bring to a market day", epilog=EPILOG
    )
    market.add_argument("file", metavar="FILE", help="a TOML or JSON document")
    add_json_flag(market)
    market.set_defaults(run=run_market)


def run_market(arguments: argparse.Namespace) -> int:
    # numpy and scipy are loaded only where they are needed: the other commands start sooner.
    from pourwright.core.planning.bring import what_to_bring

    given = read_market(Path(arguments.file))
    answer = what_to_bring(
        given.wares, given.seen, room=given.room, exposure=float(given.exposure),
        guess=None if given.guess is None else float(given.guess),
    )  # fmt: skip
    if arguments.json:
        print_json(_json(given, answer))
    else:
        _print(given, answer)
    return 0


def _json(given: MarketFile, answer) -> dict:
    cent = 10 ** (minor_digits(given.currency) + 2)

    def money(minor100: int | None) -> float | None:
        return None if minor100 is None else round(float(Fraction(minor100, cent)), 4)

    return {
        "market": given.market, "on": given.on, "currency": given.currency, "days": given.days,
        "designs": [
            {
                "name": row.key, "bring": row.bring, "without_limit": row.without_limit,
                "days_seen": row.days_seen, "sold_out_days": row.sold_out_days,
                "expected": round(row.expected, 4), "low": row.low, "high": row.high,
                "enough": round(row.enough, 4), "expected_sold": round(row.expected_sold, 4),
                "too_few_cost": money(row.too_few_cost_minor100),
                "too_many_cost": money(row.too_many_cost_minor100), "words": row.words,
            }
            for row in answer.wares
        ],
        "pieces": sum(row.bring for row in answer.wares),
        "places": answer.room, "places_used": answer.room_used,
        "margin": money(answer.margin_minor100),
        "last_gain": money(answer.last_gain_minor100),
        "one_more_place": money(answer.next_gain_minor100),
        "sold": {
            "expected": round(answer.expected_sold, 4), "low": answer.sold_low,
            "high": answer.sold_high,
        },
        "takings": money(answer.takings_minor100),
        "takings_spread": money(answer.takings_spread_minor100),
        "words": list(answer.words), "notes": list(given.notes),
    }  # fmt: skip


def _print(given: MarketFile, answer) -> None:
    def money(minor100: int) -> str:
        return show_money(minor100, currency=given.currency)

    print_pairs(
        (row.key, f"{row.bring:>4}   wanted {row.low} to {row.high}, "
                  f"enough on {round(100 * row.enough)} days of 100") for row in answer.wares
    )  # fmt: skip
    print()
    few = sum(row.too_few_cost_minor100 for row in answer.wares)
    many = sum(row.too_many_cost_minor100 for row in answer.wares)
    spread = money(answer.takings_spread_minor100)
    rows = [
        ("takings", f"some {money(answer.takings_minor100)}, give or take {spread}"),
        ("lost by too few", money(few)), ("spent on too many", money(many)),
    ]  # fmt: skip
    if answer.next_gain_minor100 is not None:
        rows.append(("one more place", f"worth {money(answer.next_gain_minor100)} a day"))
    print_pairs(rows)
    print()
    for words in (*(row.words for row in answer.wares), *answer.words, *given.notes):
        print(textwrap.fill(words, WIDTH, subsequent_indent="  "))
