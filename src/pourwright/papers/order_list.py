"""
An order to a supplier, to send: on paper, and as plain text for a message.

Amounts and money come in as words, in the workshop's own units and currency.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pourwright.papers.documents import Paper, compile_pdf


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordered:
    """One line: how many packs of how much of what, the supplier's own number, the prices."""

    packs: int
    pack: str
    item: str
    reference: str
    price: str
    total: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderList:
    """What is ordered from whom. ``number`` is empty as long as it was not sent."""

    workshop: str
    supplier: str
    address: str
    day: str
    number: str
    lines: Sequence[Ordered]
    goods: str
    freight: str
    total: str


def order_pdf(order: OrderList, *, paper: Paper) -> bytes:
    """Return the order as a PDF of a page or more."""
    data = {
        "title": _title(order), "workshop": order.workshop, "supplier": order.supplier,
        "address": order.address, "goods": order.goods, "freight": order.freight,
        "total": order.total,
        "lines": [
            {"packs": str(line.packs), "pack": line.pack, "item": line.item,
             "reference": line.reference, "price": line.price, "total": line.total}
            for line in order.lines
        ],
    }  # fmt: skip
    return compile_pdf("order_list.typ", data, paper=paper)


def order_text(order: OrderList) -> str:
    """
    Return the order as plain text, to copy into a message.

    It names no prices: a supplier knows their own, and a wrong one holds an order up.
    """
    rows = [f"{_title(order)}, from {order.workshop}", f"To {order.supplier}", ""]
    for line in order.lines:
        theirs = f" (your number {line.reference})" if line.reference else ""
        rows.append(f"{line.packs} × {line.pack} {line.item}{theirs}")
    return "\n".join(rows) + "\n"


def _title(order: OrderList) -> str:
    return f"Order {order.number}, {order.day}" if order.number else f"Order of {order.day}"
