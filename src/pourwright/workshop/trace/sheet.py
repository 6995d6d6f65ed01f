"""A trace as its printed sheet says it: everything, cut nowhere."""

from __future__ import annotations

from datetime import date

from pourwright.core.amounts import from_mg, show_mass
from pourwright.papers.trace_sheet import SentRow, StockRow, SupplyRow, TraceSheet
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import Order
from pourwright.workshop.stores.models import INSIDE, Lot, Place
from pourwright.workshop.trace import services
from pourwright.workshop.trace.models import Recall
from pourwright.workshop.trace.services import Back, Node, Sent


def sheet_of(lot: Lot, *, workshop: Workshop, on: date) -> TraceSheet:
    """Return both ways from a lot, whole."""
    forward, back = services.forward(lot), services.back(lot)
    root, totals = forward.root, forward.totals
    recall = Recall.objects.filter(lot=lot, ended_on__isnull=True).first()
    facts = [
        ("Came", f"{root.origin_word}, {_day(root.began_on)}"),
        ("Supplier", root.supplier),
        ("Supplier’s lot", root.supplier_lot),
        ("Receipt", " ".join(word for word in (root.receipt, root.receipt_ref) if word)),
        ("Pours on the way", ", ".join(number for number, _ in forward.pours)),
    ]
    counts = [
        ("lots of candles", totals.candle_lots),
        ("candles still here", totals.candles_inside),
        ("sold", totals.candles_sold),
        ("customers", totals.customers),
        ("sold at a market", totals.at_market),
        ("given away", totals.candles_given),
        ("burnt in tests", totals.candles_burnt),
        ("scrapped", totals.candles_scrapped),
    ]
    traced = [root, *forward.others, *(n for n in forward.candles if n.pk != root.pk)]
    return TraceSheet(
        title=f"Trace of lot {root.code}",
        about=root.item,
        workshop=workshop.name,
        on=on,
        recall=f"Recall begun {_day(recall.on)}: {recall.reason}" if recall else "",
        facts=[fact for fact in facts if fact[1]],
        counts=[(word, f"{number:,}") for word, number in counts if number],
        stock=[row for node in traced for row in _stock(node, workshop.units)],
        sent=[_sent(one) for one in forward.sent],
        supplies=_supplies(back, workshop.units),
    )


def order_sheet_of(order: Order, *, workshop: Workshop, on: date) -> TraceSheet:
    """Return what an order was made from, whole."""
    back = services.back_of_order(order)
    return TraceSheet(
        title=f"Trace of order {order.number}",
        about=order.customer.name if order.customer else (order.reference or "market sale"),
        workshop=workshop.name,
        on=on,
        recall="",
        facts=[("Ordered", _day(order.on))],
        counts=[],
        stock=[],
        sent=[_sent(one) for one in services.sent_on(order)],
        supplies=_supplies(back, workshop.units),
    )


def _stock(node: Node, units: str) -> list[StockRow]:
    return [
        StockRow(lot=node.code, item=node.item, place=Place(place).label,
                 qty=_qty(node, qty, units))
        for place, qty in sorted(node.held)
        if place in INSIDE and qty
    ]  # fmt: skip


def _sent(one: Sent) -> SentRow:
    contact = ", ".join(word for word in (one.email, one.phone) if word)
    return SentRow(
        on=one.on,
        order=one.order,
        who=one.who,
        contact=contact,
        address=" ".join(one.address.split()),
        item=one.item,
        lot=one.lot,
        qty=one.qty,
        returned=one.returned,
    )


def _supplies(back: Back, units: str) -> list[SupplyRow]:
    return [
        SupplyRow(
            kind=node.kind_word,
            item=node.item,
            lot=node.code,
            supplier=node.supplier,
            contact=node.supplier_contact,
            supplier_lot=node.supplier_lot,
            receipt=node.receipt,
            on=node.began_on,
            qty=_qty(node, direct, units) if (direct := back.direct(node)) else "",
            through=", ".join(step.code for step in back.through(node)),
        )
        for node in back.supplies
    ]


def _qty(node: Node, qty: int, units: str) -> str:
    return show_mass(from_mg(qty), units) if node.by_mass else f"{qty:,}"


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
