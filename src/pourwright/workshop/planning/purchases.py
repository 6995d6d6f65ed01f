"""
Offers, what is ordered from a supplier, and what comes of it. Each is one transaction.

An order that was sent counts as arriving until it is taken in, as a receipt of the stores, or is
cancelled. Where its receipt is undone it is on its way again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet

from pourwright.core.errors import BadInput
from pourwright.core.planning import buying as core
from pourwright.workshop.house.models import next_number
from pourwright.workshop.planning.buying import Asked
from pourwright.workshop.planning.models import (
    Freight,
    Offer,
    PriceBreak,
    Purchase,
    PurchaseLine,
    PurchaseState,
)
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Item, Receipt, Supplier

NUMBERS = "PO"
EFFORT = 60


class CannotBuy(BadInput):
    """An offer or an order that cannot be as it is given."""


# --- offers --------------------------------------------------------------------------------------


def keep_offer(
    item: Item,
    *,
    supplier: Supplier,
    pack_qty: int,
    prices: Sequence[tuple[int, int]],
    offer: Offer | None = None,
    **facts,
) -> Offer:
    """
    Enter an offer, or change one. ``prices`` are (from so many packs, price of a pack).

    Raises ``CannotBuy`` where prices do not begin with one pack or do not fall.
    """
    if pack_qty < 1:
        raise CannotBuy("A pack holds something: give how much.")
    if not prices or prices[0][0] != 1:
        raise CannotBuy("Give the price of one pack first.")
    for (few, dear), (many, cheap) in pairwise(prices):
        if many <= few or cheap > dear:
            raise CannotBuy(
                f"From {many} packs: a price break needs more packs than the one before ({few}), "
                "and a price of a pack that is no higher."
            )
    with transaction.atomic():
        row = offer or Offer(item=item)
        row.supplier, row.pack_qty = supplier, pack_qty
        for name, value in facts.items():
            setattr(row, name, value)
        row.save()
        row.prices.all().delete()
        PriceBreak.objects.bulk_create(
            PriceBreak(offer=row, from_packs=packs, price_minor100=price) for packs, price in prices
        )
    return row


def keep_freight(
    supplier: Supplier, *, charge_minor100: int, free_from_minor100: int | None
) -> Freight:
    """Say what a supplier charges for sending an order, and from what value it is free."""
    row, _ = Freight.objects.update_or_create(
        supplier=supplier,
        defaults={"charge_minor100": charge_minor100, "free_from_minor100": free_from_minor100},
    )
    return row


# --- what to order -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ToOrder:
    """One order of the purchase plan with the records behind it."""

    order: core.Order
    supplier: Supplier
    lines: tuple[tuple[core.OrderLine, Item], ...]

    @property
    def total_minor100(self) -> int:
        return self.order.goods_minor100 + self.order.freight_minor100

    @property
    def arrives_on(self) -> date:
        return max(line.arrives_on for line in self.order.lines)


def to_order(plan: core.PurchasePlan, asked: Asked) -> list[ToOrder]:
    """Return the orders of a purchase plan, the most urgent first."""
    return [
        ToOrder(
            order=order, supplier=asked.suppliers[order.supplier],
            lines=tuple((line, asked.items[line.material]) for line in order.lines),
        )
        for order in sorted(plan.orders, key=lambda order: (order.latest_on, order.supplier))
    ]  # fmt: skip


def ordered(wanted: ToOrder, *, on: date, client_id: UUID | None = None) -> Purchase:
    """Record that an order was sent on a day; what is in it counts as arriving. Once per id."""
    with transaction.atomic():
        if client_id and (before := Purchase.objects.filter(client_id=client_id).first()):
            return before
        takes = max((line.arrives_on - wanted.order.on).days for line in wanted.order.lines)
        row = Purchase.objects.create(
            number=next_number(NUMBERS), supplier=wanted.supplier, on=on,
            expected_on=on + timedelta(takes), freight_minor100=wanted.order.freight_minor100,
            client_id=client_id,
        )  # fmt: skip
        PurchaseLine.objects.bulk_create(
            PurchaseLine(
                purchase=row, item=item, packs=line.packs, pack_qty=line.amount // line.packs,
                price_minor100=line.price_minor100,
            )
            for line, item in wanted.lines
        )  # fmt: skip
    return row


def on_the_way() -> QuerySet[Purchase]:
    """Return what was ordered and has neither come nor been cancelled, the soonest first."""
    undone = Q(state=PurchaseState.RECEIVED, entry__undone_by__isnull=False)
    return (
        Purchase.objects.filter(Q(state=PurchaseState.SENT) | undone)
        .select_related("supplier", "entry__receipt")
        .order_by("expected_on", "id")
    )


def expect(purchase: Purchase, *, on: date) -> Purchase:
    """Say that an order comes on another day than it was expected."""
    with transaction.atomic():
        row = _open(purchase)
        row.expected_on = on
        row.save(update_fields=["expected_on"])
    return row


def cancel(purchase: Purchase) -> Purchase:
    """Take an order back; it no longer counts as arriving."""
    with transaction.atomic():
        row = _open(purchase)
        row.state = PurchaseState.CANCELLED
        row.save(update_fields=["state"])
    return row


def take_in(
    purchase: Purchase, *, lines: Iterable[stores.Received], on: date, at: datetime, **facts
) -> Receipt:
    """Take an order's parcel into the stores and tie its receipt to the order. Once."""
    with transaction.atomic():
        row = _open(purchase)
        receipt = stores.receive(lines=list(lines), on=on, at=at, **facts)
        row.state, row.entry = PurchaseState.RECEIVED, receipt.entry
        row.save(update_fields=["state", "entry"])
    return receipt


def _open(purchase: Purchase) -> Purchase:
    row = Purchase.objects.select_for_update().get(pk=purchase.pk)
    undone = row.entry is not None and getattr(row.entry, "undone_by", None) is not None
    if row.state == PurchaseState.CANCELLED:
        raise CannotBuy(f"{row.number} is cancelled; order anew.")
    if row.state == PurchaseState.RECEIVED and not undone:
        raise CannotBuy(f"{row.number} has come already, as {row.entry.receipt}.")
    return row
