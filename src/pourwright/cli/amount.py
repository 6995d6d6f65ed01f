"""``pourwright amount``: an amount as makers write it, read exactly and shown in both systems."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core import amounts

EPILOG = """\
What is read is exact; what is shown is rounded once, for the eye. --json gives the exact figure
in the base unit (g, ml, mm or C).

Example:
  pourwright amount mass "3 lb 2 1/2 oz"
"""

KINDS: dict[str, tuple[str, Callable[..., Fraction], Callable[..., str]]] = {
    "mass": ("g", amounts.parse_mass, amounts.show_mass),
    "volume": ("ml", amounts.parse_volume, amounts.show_volume),
    "length": ("mm", amounts.parse_length, amounts.show_length),
    "temperature": ("C", amounts.parse_temperature, amounts.show_temperature),
}


def register(parts) -> None:
    parser = parts.add_parser(
        "amount",
        help="read an amount and show it in both systems",
        description="Read an amount as makers write it and show it, metric and US customary.",
        epilog=EPILOG,
    )
    parser.add_argument("kind", choices=KINDS, help="what kind of amount it is")
    parser.add_argument("text", metavar="TEXT", help="the amount, such as 3 lb 2 oz")
    add_json_flag(parser)
    parser.set_defaults(run=run)


def run(arguments) -> int:
    base, read, show = KINDS[arguments.kind]
    value = read(arguments.text, field="TEXT")
    shown = {system: show(value, system) for system in ("metric", "us")}
    if arguments.json:
        print_json({"kind": arguments.kind, "unit": base, "value": value} | shown)
    else:
        print_pairs(shown.items())
    return 0
