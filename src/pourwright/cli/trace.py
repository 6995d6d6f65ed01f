"""``pourwright trace``: where a lot went and what it was made from, in the terminal."""

from __future__ import annotations

from collections.abc import Iterator

from pourwright.cli.output import add_json_flag, print_json
from pourwright.cli.workshop import add_data_flag, open_workshop

EPILOG = """\
The answer names what is still in the workshop, what was sent to whom, and every supply lot.

Examples:
  pourwright trace W-0003
  pourwright trace L-0042 --json
"""


def register(parts) -> None:
    parser = parts.add_parser(
        "trace",
        help="follow a lot both ways",
        description="Follow a lot to every candle and customer, and back to every supply lot.",
        epilog=EPILOG,
    )
    parser.add_argument("lot", metavar="LOT", help="the lot’s number, such as W-0003")
    add_data_flag(parser)
    add_json_flag(parser)
    parser.set_defaults(run=run)


def run(arguments) -> int:
    open_workshop(arguments.data)
    # Django's models can be read only once a workshop is open.
    from pourwright.workshop.house.models import Workshop
    from pourwright.workshop.trace import services

    lot = services.find_lot(arguments.lot)
    forward, back = services.forward(lot), services.back(lot)
    if arguments.json:
        print_json(as_json(forward, back))
    else:
        units = Workshop.load().units
        print("\n".join(in_words(forward, back, units)))
    return 0


def as_json(forward, back) -> dict:
    """Return both ways as plain values; quantities in milligrams or pieces."""
    totals = forward.totals
    return {
        "lot": _node(forward.root),
        "forward": {
            "totals": {name: getattr(totals, name) for name in totals.__slots__},
            "pours": [{"number": number, "on": on} for number, on in forward.pours],
            "lots": [
                _node(node)
                for node in [*forward.others, *forward.candles]
                if node.pk != forward.root.pk
            ],
            "sent": [
                {
                    "on": one.on,
                    "order": one.order,
                    "customer": one.who,
                    "email": one.email,
                    "phone": one.phone,
                    "address": one.address,
                    "lot": one.lot,
                    "item": one.item,
                    "qty": one.qty,
                    "returned": one.returned,
                }
                for one in forward.sent
            ],
        },
        "back": {
            "supplies": [
                _node(node)
                | {
                    "went_in": back.direct(node),
                    "through": [step.code for step in back.through(node)],
                }
                for node in back.supplies
            ],
        },
    }


def _node(node) -> dict:
    return {
        "code": node.code,
        "item": node.item,
        "kind": node.kind,
        "unit": "mg" if node.by_mass else "pieces",
        "origin": node.origin_word,
        "began_on": node.began_on,
        "supplier": node.supplier,
        "supplier_lot": node.supplier_lot,
        "receipt": node.receipt,
        "places": dict(node.places),
    }


def in_words(forward, back, units: str) -> Iterator[str]:
    """Yield both ways line by line."""
    root, totals = forward.root, forward.totals
    supplier = ", ".join(word for word in (root.supplier, root.supplier_lot) if word)
    came = f"{root.origin_word} {root.began_on}"
    yield f"{root.code}  {root.item}, {came}{f', {supplier}' if supplier else ''}"
    yield ""
    yield "Where it went"
    if totals.lots or forward.sent or root.is_candle:
        yield (
            f"  {totals.candle_lots} lots of candles: {totals.candles_inside} here, "
            f"{totals.candles_sold} sold to {totals.customers} customers"
            + (f" and {totals.at_market} at markets" if totals.at_market else "")
            + (f", {totals.candles_given} given away" if totals.candles_given else "")
        )
    else:
        yield "  into nothing yet"
    here = [node for node in [root, *forward.others, *forward.candles] if node.inside]
    rows = {node.pk: node for node in here}.values()
    yield from _table(
        "Still here",
        [(node.code, node.item, _places(node, units)) for node in rows],
    )
    yield from _table(
        "Sent out",
        [
            (
                str(one.on),
                one.order,
                one.who,
                one.email or one.phone,
                one.lot,
                f"{one.qty}" + (f" ({one.returned} back)" if one.returned else ""),
            )
            for one in forward.sent
        ],
    )
    yield from _table(
        "What it was made from",
        [
            (
                node.code,
                node.item,
                node.supplier,
                node.supplier_lot,
                node.receipt,
                _went_in(back, node, units),
            )
            for node in back.supplies
        ],
    )


def _went_in(back, node, units: str) -> str:
    if direct := back.direct(node):
        return _qty(node, direct, units)
    return "by way of " + ", ".join(step.code for step in back.through(node))


def _places(node, units: str) -> str:
    return ", ".join(f"{_qty(node, qty, units)} {place}" for place, qty in node.places_inside)


def _qty(node, qty: int, units: str) -> str:
    from pourwright.core.amounts import from_mg, show_mass

    return show_mass(from_mg(qty), units) if node.by_mass else f"{qty:,}"


def _table(title: str, rows: list[tuple[str, ...]]) -> Iterator[str]:
    if not rows:
        return
    yield ""
    yield title
    widths = [max(len(row[place]) for row in rows) for place in range(len(rows[0]))]
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        yield "  " + "  ".join(cells).rstrip()
