"""``pourwright cost``: a price from a wanted margin, and what a poured lot really cost."""

from __future__ import annotations

import argparse
from fractions import Fraction

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.cli.workshop import add_data_flag, open_workshop
from pourwright.core.amounts import (
    minor_digits,
    parse_money,
    parse_percent,
    show_money,
    show_percent,
)
from pourwright.core.costing.price import Price, PriceEnding, price_at, price_for_margin
from pourwright.core.errors import BadInput

EPILOG = """\
Margin is a share of the price, mark-up a share of the cost: a margin of 50 % is a mark-up of
100 %. Prices go up to the next whole cent, or to the next one with the --ending. Fees are those of
each sale: a percentage of the price and a fixed sum.

Taxes on sales are not part of these prices; follow your local rules.

Example:
  pourwright cost price --unit-cost 5.20 --margin 55 --fee-pct 2.5 --fee-fixed 0.25 \\
    --ending 0.50 --wholesale-margin 30
"""


LOT_EPILOG = """\
First in, first out, freight included; labour at the workshop's rate, overhead and loss as their
own parts.

Example:
  pourwright cost lot L-0042 --json
"""


class NoCost(BadInput):
    """A lot whose cost is not known."""


class BadOption(BadInput):
    """The options do not go together."""


def register(parts) -> None:
    part = parts.add_parser("cost", help="prices from costs")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    price = verbs.add_parser(
        "price",
        help="a price from a wanted margin, direct and wholesale",
        description="Work out a price from a wanted margin, or the margin of a price.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    price.add_argument("--unit-cost", metavar="MONEY", required=True, help="of one candle")
    wanted = price.add_mutually_exclusive_group(required=True)
    wanted.add_argument("--margin", metavar="PCT", help="of the price, after fees")
    wanted.add_argument("--price", metavar="MONEY", help="already set: tells its margin")
    price.add_argument("--fee-pct", metavar="PCT", default="0", help="of the price, each sale (0)")
    price.add_argument("--fee-fixed", metavar="MONEY", default="0", help="each sale (0)")
    price.add_argument("--wholesale-margin", metavar="PCT", help="adds a wholesale price")
    price.add_argument("--wholesale-fee-pct", metavar="PCT", default="0")
    price.add_argument("--wholesale-fee-fixed", metavar="MONEY", default="0")
    price.add_argument("--ending", metavar="MONEY", help="how prices end, such as 0.95 or 0")
    price.add_argument("--ending-step", metavar="MONEY", default="1", help="repeats every (1)")
    price.add_argument("--currency", metavar="CODE", default="USD", help="three letters (USD)")
    add_json_flag(price)
    price.set_defaults(run=run_price)
    lot = verbs.add_parser(
        "lot",
        help="what one candle of a lot really cost",
        description="Show what one candle of a lot cost, from the lots that went into it.",
        epilog=LOT_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    lot.add_argument("lot", metavar="LOT", help="a lot of candles, such as L-0042")
    add_data_flag(lot)
    add_json_flag(lot)
    lot.set_defaults(run=run_lot)


def run_price(arguments: argparse.Namespace) -> int:
    digits = minor_digits(arguments.currency)
    _check_currency(arguments.currency)
    cost = _money(arguments, "unit_cost")
    ending = _ending(arguments)
    fees = {
        "fee_pct": parse_percent(arguments.fee_pct, field="Fee"),
        "fee_fixed_minor100": _money(arguments, "fee_fixed"),
    }
    if arguments.price is not None:
        if arguments.ending is not None and arguments.wholesale_margin is None:
            raise BadOption("A price that is already set takes no --ending; leave one of them out.")
        direct = price_at(
            price_minor100=_money(arguments, "price"), unit_cost_minor100=cost, **fees
        )
    else:
        direct = price_for_margin(
            unit_cost_minor100=cost,
            margin_pct=parse_percent(arguments.margin, field="Margin"),
            ending=ending,
            **fees,
        )
    wholesale = None
    if arguments.wholesale_margin is not None:
        wholesale = price_for_margin(
            unit_cost_minor100=cost,
            margin_pct=parse_percent(arguments.wholesale_margin, field="Wholesale margin"),
            fee_pct=parse_percent(arguments.wholesale_fee_pct, field="Wholesale fee"),
            fee_fixed_minor100=_money(arguments, "wholesale_fee_fixed"),
            ending=ending,
        )
    notes = _notes(direct, wholesale)
    if arguments.json:
        print_json(
            {"currency": arguments.currency.upper(), "unit_cost": _major(cost, digits)}
            | as_json(direct, digits)
            | {"wholesale": wholesale and as_json(wholesale, digits), "notes": notes}
        )
    else:
        print_prices(direct, wholesale, notes, currency=arguments.currency.upper())
    return 0


def run_lot(arguments: argparse.Namespace) -> int:
    open_workshop(arguments.data)
    # Django's models can be read only once a workshop is open.
    from pourwright.workshop.house.models import Workshop
    from pourwright.workshop.shelf.queries import cost_of
    from pourwright.workshop.trace.services import find_lot

    lot = find_lot(arguments.lot)
    cost = cost_of(lot) if lot.item.kind == "candle" else None
    if cost is None:
        raise NoCost(
            f"Lot {lot.code} is {lot.item.name}, and no cost of a candle is known of it; "
            "name a lot of candles that was poured here."
        )
    currency = Workshop.load().currency
    digits = minor_digits(currency)
    if arguments.json:
        parts = {part.component: _major(part.each, digits) for part in cost.parts}
        each = _major(cost.each, digits)
        print_json({"lot": lot.code, "currency": currency, "each": each, "parts": parts})
    else:
        rows = [(part.component, show_money(part.each, currency=currency)) for part in cost.parts]
        print_pairs([*rows, ("one candle", show_money(cost.each, currency=currency))])
    return 0


def as_json(price: Price, digits: int) -> dict:
    """Return a price for programs: money in the major unit, margins in per cent."""
    return {
        "price": _major(price.price_minor100, digits),
        "exact_price": _major(price.exact_minor100, digits),
        "fees": _major(price.fees_minor100, digits),
        "profit": _major(price.profit_minor100, digits),
        "margin_pct": price.margin_pct,
        "markup_pct": price.markup_pct,
    }


def print_prices(
    direct: Price, wholesale: Price | None, notes: list[str], *, currency: str
) -> None:
    rows = [("unit cost", show_money(direct.unit_cost_minor100, currency=currency))]
    for name, price in (("direct", direct), ("wholesale", wholesale)):
        if price is None:
            continue
        parts = f"fees {show_money(price.fees_minor100, currency=currency)}, "
        parts += f"profit {show_money(price.profit_minor100, currency=currency)}"
        rows.append((f"{name} price", show_money(price.price_minor100, currency=currency)))
        rows.append(("", parts))
        rows.append(
            (
                "",
                f"margin {show_percent(price.margin_pct, places=1)} of the price, "
                f"mark-up {show_percent(price.markup_pct, places=1)} on the cost",
            )
        )
    print_pairs([*rows, *(("note", note) for note in notes)])


def _notes(direct: Price, wholesale: Price | None) -> list[str]:
    notes = []
    if direct.profit_minor100 < 0:
        notes.append("The direct price does not cover cost and fees.")
    if wholesale is not None and wholesale.price_minor100 >= direct.price_minor100:
        notes.append("The wholesale price is not below the direct one: a shop could not resell.")
    return notes


def _ending(arguments: argparse.Namespace) -> PriceEnding:
    if arguments.ending is None:
        return PriceEnding(step_minor100=100)
    return PriceEnding(
        step_minor100=_money(arguments, "ending_step"),
        ending_minor100=_money(arguments, "ending"),
    )


def _money(arguments: argparse.Namespace, name: str) -> int:
    return parse_money(
        getattr(arguments, name),
        minor_digits=minor_digits(arguments.currency),
        currency=arguments.currency,
        field=name.replace("_", " ").capitalize(),
    )


def _major(minor100: int | Fraction, digits: int) -> Fraction:
    return Fraction(minor100) / 10 ** (digits + 2)


def _check_currency(code: str) -> None:
    if not (len(code) == 3 and code.isascii() and code.isalpha()):
        raise BadOption(f'"{code}" is no currency code; write three letters, such as USD or EUR.')
