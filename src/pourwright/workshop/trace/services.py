"""
The thread through every lot, both ways: where a lot went, and what a candle was made from.

One recursive query walks the threads (``stores.LotSource``) however long they are, through wax
left over, mix melted again, testers and returns; what was undone is not followed. Everything else
is read in a few queries for all the lots together.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import connection, transaction
from django.db.models import Count, Q, QuerySet, Sum
from django.db.models.expressions import RawSQL

from pourwright.core.errors import BadInput
from pourwright.workshop.gates import services as gates
from pourwright.workshop.orders.models import Customer, DespatchLine, Order, Return
from pourwright.workshop.stores.models import (
    INSIDE,
    SUPPLY_KINDS,
    Balance,
    Entry,
    Item,
    Kind,
    Lot,
    LotSource,
    Measure,
    Origin,
    Place,
)
from pourwright.workshop.trace.models import Recall


class NoSuchLot(BadInput):
    """A lot or order number that the workshop does not have."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """One lot on the thread. Quantities are milligrams or pieces, as ``by_mass`` says."""

    pk: int
    code: str
    item_pk: int
    item: str
    kind: str
    by_mass: bool
    origin: str
    began_on: date
    best_before: date | None
    ready_on: date | None
    supplier_lot: str
    supplier: str
    supplier_contact: str
    receipt: str
    receipt_ref: str
    held: tuple[tuple[str, int], ...] = ()

    @property
    def is_candle(self) -> bool:
        return self.kind == Kind.CANDLE

    @property
    def is_supply(self) -> bool:
        """Whether it came from outside (or from before the books) and was not made here."""
        return self.origin in (Origin.RECEIPT, Origin.OPENING)

    @property
    def origin_word(self) -> str:
        return Origin(self.origin).label

    @property
    def kind_word(self) -> str:
        return Kind(self.kind).label

    def at(self, place: str) -> int:
        """Return how much of it is at a place."""
        return dict(self.held).get(place, 0)

    @property
    def inside(self) -> int:
        """How much of it is still in the workshop."""
        return sum(qty for place, qty in self.held if place in INSIDE)

    @property
    def places_inside(self) -> list[tuple[str, int]]:
        """Where in the workshop it is, in words."""
        held = dict(self.held)
        return [(Place(place).label, held[place]) for place in INSIDE if held.get(place)]

    @property
    def places(self) -> list[tuple[str, int]]:
        """Where it is and went, in words: every place that holds some, the workshop's own first."""
        order = [*INSIDE, Place.SOLD, Place.GIVEN, Place.BURNT, Place.SCRAP]
        held = dict(self.held)
        return [(Place(place).label, held[place]) for place in order if held.get(place)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """So much of ``parent`` went into ``child``, at a pour or otherwise."""

    parent: int
    child: int
    qty: int
    on: date
    how: str
    pour: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """Candles of a lot that went to a customer, and how many of them came back."""

    order: str
    channel: str
    reference: str
    on: date
    lot: str
    item: str
    qty: int
    returned: int
    customer: int | None
    name: str
    email: str
    phone: str
    address: str

    @property
    def who(self) -> str:
        return self.name or self.reference or "at a market"

    @property
    def out(self) -> int:
        """How many are still with them."""
        return self.qty - self.returned


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """What a recall comes to; complete, even where the lists show a part."""

    lots: int
    candle_lots: int
    candles_inside: int
    candles_sold: int
    candles_given: int
    candles_burnt: int
    candles_scrapped: int
    sent: int
    customers: int
    at_market: int
    supply_left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Forward:
    """Where a lot went. Lists may be cut (``more`` says so); ``totals`` never are."""

    root: Node
    nodes: dict[int, Node]
    links: list[Link]
    candles: list[Node]
    others: list[Node]
    sent: list[Sent]
    totals: Totals
    cut: bool
    more_sent: bool

    @property
    def pours(self) -> list[tuple[str, date]]:
        """Every pour on the way, the first one first."""
        return sorted({(link.pour, link.on) for link in self.links if link.pour},
                      key=lambda pour: (pour[1], pour[0]))  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Back:
    """What lots were made from: every lot on the way, and those that came from outside."""

    roots: list[Node]
    nodes: dict[int, Node]
    links: list[Link]
    supplies: list[Node]

    def direct(self, supply: Node) -> int:
        """How much of a supply lot went straight into the traced lots."""
        roots = {root.pk for root in self.roots}
        return sum(k.qty for k in self.links if k.parent == supply.pk and k.child in roots)

    def through(self, supply: Node) -> list[Node]:
        """The lots made here that a supply lot came through."""
        roots = {root.pk for root in self.roots}
        children = {k.child for k in self.links if k.parent == supply.pk} - roots
        return sorted((self.nodes[pk] for pk in children), key=lambda node: node.code)


# --- finding what to trace -----------------------------------------------------------------------


def find_lot(code: str) -> Lot:
    """Return the lot with that number; otherwise say which numbers come near."""
    code = code.strip()
    lot = Lot.objects.select_related("item").filter(code__iexact=code).first()
    if lot:
        return lot
    near = near_matches(code)
    hint = f" Near it: {', '.join(near)}." if near else ""
    raise NoSuchLot(f"There is no lot “{code}” in this workshop.{hint}")


def near_matches(code: str, most: int = 6) -> list[str]:
    """Return lot numbers that come near: the same figures under another letter, or a like start."""
    figures = "".join(c for c in code if c.isdigit()).lstrip("0")
    letter = code[:1].upper()
    if not figures:
        return []
    near = Q(supplier_lot__iexact=code) | Q(code__istartswith=code)
    padded = f"{int(figures):04d}"
    near |= Q(code__in=[f"{prefix}-{padded}" for prefix in "WODAVKPML"])
    near |= Q(code__startswith=f"{letter}-{padded[:-1]}")
    return list(Lot.objects.filter(near).order_by("code").values_list("code", flat=True)[:most])


# --- both directions -----------------------------------------------------------------------------


def forward(
    lot: Lot, *, most: int | None = None, most_sent: int | None = None, start: int = 0
) -> Forward:
    """
    Return everything a lot went into, and where that is now: the recall list.

    Beyond ``most`` lots the threads are left out and only so many lots are listed, those that are
    still here first. ``most_sent`` and ``start`` page what was sent. The totals stay complete.
    """
    pks = _reach([lot.pk], parent="parent_id", child="child_id")
    candles = _candles(pks)
    cut = most is not None and len(pks) > most
    shown = pks
    if cut:
        newest = sorted(candles, reverse=True)[:most]
        shown = list(dict.fromkeys([lot.pk, *_still_here(pks, most), *newest]))[:most]
    nodes = _nodes(shown)
    links = [] if cut else _links(pks, "parent")
    sent, more_sent = _sent(candles, start=start, most=most_sent)
    made = sorted(
        (node for node in nodes.values() if node.pk != lot.pk),
        key=lambda node: (node.began_on, node.pk),
    )
    root = nodes[lot.pk]
    return Forward(
        root=root,
        nodes=nodes,
        links=links,
        candles=[n for n in ([root] if root.is_candle else []) + made if n.is_candle],
        others=[n for n in made if not n.is_candle],
        sent=sent,
        totals=_totals(pks, candles, root),
        cut=cut,
        more_sent=more_sent,
    )


def _still_here(pks: Sequence[int], most: int) -> list[int]:
    held = _among(Balance.objects.filter(place__in=INSIDE, qty__gt=0), "lot", pks)
    return list(held.order_by("-lot").values_list("lot", flat=True).distinct()[:most])


def _candles(pks: Sequence[int]) -> list[int]:
    """Return which of the lots are candles; asked by item, for there are few of those."""
    items = dict(_among(Lot.objects.order_by(), "pk", pks).values_list("pk", "item"))
    of_candles = set(
        _among(Item.objects.filter(kind=Kind.CANDLE), "pk", set(items.values())).values_list(
            "pk", flat=True
        )
    )
    return [pk for pk, item in items.items() if item in of_candles]


def back(lot: Lot) -> Back:
    """Return everything a lot was made from, to every supply lot."""
    return back_of([lot.pk])


def back_of(lots: Sequence[int]) -> Back:
    """Return everything that several lots (primary keys) were made from."""
    lots = list(dict.fromkeys(lots))
    pks = _reach(lots, parent="child_id", child="parent_id")
    nodes = _nodes(pks)
    supplies = [node for node in nodes.values() if node.is_supply and node.pk not in lots]
    return Back(
        roots=[nodes[pk] for pk in lots],
        nodes=nodes,
        links=_links(pks, "child"),
        supplies=sorted(supplies, key=_supply_order),
    )


def back_of_order(order: Order) -> Back:
    """Return everything that the candles sent on an order were made from."""
    sent = DespatchLine.objects.filter(
        despatch__order=order, despatch__entry__undone_by__isnull=True
    )
    return back_of(list(sent.order_by("lot").values_list("lot", flat=True)))


def sent_on(order: Order) -> list[Sent]:
    """Return what went out on an order, despatch by despatch."""
    rows = _standing().filter(despatch__order=order)
    return _sent_rows(rows.order_by("despatch__on", "pk"))


def _supply_order(node: Node) -> tuple:
    kinds = [str(kind) for kind in SUPPLY_KINDS]
    return (kinds.index(node.kind) if node.kind in kinds else len(kinds), node.item, node.pk)


# --- reading, a few queries for all lots together ------------------------------------------------


def _ids(pks: Iterable[int]) -> tuple[str, list]:
    """Return a subquery of given numbers as one parameter, whatever their number."""
    pks = list(pks)
    if connection.vendor == "sqlite":
        return "SELECT value FROM json_each(%s)", [json.dumps(pks)]
    return "SELECT unnest(%s::bigint[])", [pks]


def _among(rows: QuerySet, field: str, pks: Iterable[int]) -> QuerySet:
    return rows.filter(**{f"{field}__in": RawSQL(*_ids(pks))})


def _reach(roots: Sequence[int], *, parent: str, child: str) -> list[int]:
    """Return the roots and every lot that threads lead to, in one recursive query."""
    given, parameters = _ids(roots)
    link, entry = LotSource._meta.db_table, Entry._meta.db_table
    query = f"""
        WITH RECURSIVE reach(lot) AS (
            SELECT * FROM ({given}) AS roots
            UNION
            SELECT link.{child} FROM reach JOIN {link} AS link ON link.{parent} = reach.lot
            WHERE NOT EXISTS (SELECT 1 FROM {entry} AS undo WHERE undo.undoes_id = link.entry_id)
        )
        SELECT lot FROM reach
    """
    with connection.cursor() as cursor:
        cursor.execute(query, parameters)
        return [row[0] for row in cursor.fetchall()]


def _links(pks: Sequence[int], end: str) -> list[Link]:
    rows = _among(LotSource.objects.filter(entry__undone_by__isnull=True), end, pks)
    found = rows.order_by("entry__on", "pk").values_list(
        "parent", "child", "qty", "entry__on", "entry__kind", "entry__pour__number"
    )
    return [
        Link(parent=parent, child=child, qty=qty, on=on, how=how, pour=pour or "")
        for parent, child, qty, on, how, pour in found
    ]


def _nodes(pks: Sequence[int]) -> dict[int, Node]:
    held: dict[int, list[tuple[str, int]]] = defaultdict(list)
    balances = _among(Balance.objects.exclude(qty=0), "lot", pks)
    for lot, place, qty in balances.values_list("lot", "place", "qty"):
        held[lot].append((place, qty))
    rows = _among(Lot.objects.all(), "pk", pks).order_by().values_list(
        "pk", "code", "item", "item__name", "item__kind", "item__measure", "origin", "began_on",
        "best_before", "ready_on", "supplier_lot",
        "receipt_line__receipt__number", "receipt_line__receipt__reference",
        "receipt_line__receipt__supplier__name", "receipt_line__receipt__supplier__email",
        "item__supplier__name", "item__supplier__email",
    )  # fmt: skip
    return {
        pk: Node(
            pk=pk, code=code, item_pk=item_pk, item=item, kind=kind,
            by_mass=measure == Measure.MASS, origin=origin, began_on=began_on,
            best_before=best_before, ready_on=ready_on,
            supplier_lot=supplier_lot, receipt=receipt or "", receipt_ref=reference or "",
            supplier=(supplier or usual or "") if origin in (Origin.RECEIPT, Origin.OPENING)
            else "",
            supplier_contact=(email if supplier else usual_email) or "",
            held=tuple(held.get(pk, ())),
        )
        for pk, code, item_pk, item, kind, measure, origin, began_on, best_before, ready_on,
        supplier_lot, receipt, reference, supplier, email, usual, usual_email in rows
    }  # fmt: skip


def _standing() -> QuerySet:
    return DespatchLine.objects.filter(despatch__entry__undone_by__isnull=True)


def _sent(pks: Sequence[int], *, start: int, most: int | None) -> tuple[list[Sent], bool]:
    rows = _among(_standing(), "lot", pks).order_by("-despatch__on", "-pk")
    if most is None:
        return _sent_rows(rows), False
    found = _sent_rows(rows[start : start + most + 1])
    return found[:most], len(found) > most


def _sent_rows(rows: QuerySet) -> list[Sent]:
    found = list(
        rows.values_list(
            "pk", "despatch__order__number", "despatch__order__channel",
            "despatch__order__reference", "despatch__on", "lot__code", "lot__item__name", "qty",
            "despatch__order__customer", "despatch__order__customer__name",
            "despatch__order__customer__email", "despatch__order__customer__phone",
            "despatch__order__customer__address",
        )
    )  # fmt: skip
    back = _among(
        Return.objects.filter(entry__undone_by__isnull=True),
        "despatch_line",
        [row[0] for row in found],
    )
    returned = dict(back.values_list("despatch_line").annotate(Sum("qty")).order_by())
    return [
        Sent(
            order=order, channel=channel, reference=reference, on=on, lot=lot, item=item, qty=qty,
            returned=returned.get(pk, 0), customer=customer, name=name or "", email=email or "",
            phone=phone or "", address=address or "",
        )
        for pk, order, channel, reference, on, lot, item, qty, customer, name, email, phone,
        address in found
    ]  # fmt: skip


def _totals(pks: Sequence[int], candles: Sequence[int], root: Node) -> Totals:
    held = _among(Balance.objects.all(), "lot", candles)
    at = dict(held.values_list("place").annotate(Sum("qty")).order_by())
    sent = _among(_standing(), "lot", candles).aggregate(
        candles=Sum("qty"),
        customers=Count("despatch__order__customer", distinct=True),
        at_market=Sum("qty", filter=Q(despatch__order__customer__isnull=True)),
    )
    return Totals(
        lots=len(pks) - 1,
        candle_lots=len(candles),
        candles_inside=sum(at.get(place, 0) for place in INSIDE),
        candles_sold=at.get(Place.SOLD, 0),
        candles_given=at.get(Place.GIVEN, 0),
        candles_burnt=at.get(Place.BURNT, 0),
        candles_scrapped=at.get(Place.SCRAP, 0),
        sent=sent["candles"] or 0,
        customers=sent["customers"],
        at_market=sent["at_market"] or 0,
        supply_left=root.inside,
    )


def customers_named(words: str, most: int = 20) -> list[Customer]:
    """Return customers whose name has these letters in it."""
    return list(Customer.objects.filter(name__icontains=words.strip())[:most])


# --- recalls -------------------------------------------------------------------------------------


class CannotRecall(BadInput):
    """A recall without a reason, begun twice, or ended without a word."""


def begin_recall(
    lot: Lot, *, reason: str, by: str, on: date, at: datetime
) -> tuple[Recall, list[str]]:
    """
    Begin a recall of a lot: whatever it reached and is still on the shelf is taken off sale.

    Returns the recall and the numbers of the lots whose release was withdrawn. What was sent is
    the recall list: ``forward(lot).sent``.
    """
    if not reason.strip():
        raise CannotRecall("A recall needs a reason: say what was found, and by whom.")
    with transaction.atomic():
        Lot.objects.select_for_update().get(pk=lot.pk)
        if Recall.objects.filter(lot=lot, ended_on__isnull=True).exists():
            raise CannotRecall(f"Lot {lot.code} is being recalled already; nothing was changed.")
        recall = Recall.objects.create(lot=lot, reason=reason.strip(), by=by.strip(), on=on)
        withdrawn = []
        for candle in _on_sale(_reach([lot.pk], parent="parent_id", child="child_id")):
            gates.withdraw(
                candle,
                reason=f"Recall of lot {lot.code}: {reason.strip()}"[:400],
                by=by,
                at=at,
            )
            withdrawn.append(candle.code)
    return recall, withdrawn


def _on_sale(pks: Sequence[int]) -> list[Lot]:
    """Return which of these lots are candles on the shelf that are released, locked in order."""
    held = Balance.objects.filter(place=Place.SHELF, qty__gt=0, lot__item__kind=Kind.CANDLE)
    there = sorted(_among(held, "lot", pks).values_list("lot", flat=True))
    lots = list(_among(Lot.objects.select_for_update(), "pk", there).order_by("pk"))
    released = gates.released_ids(Lot, there)
    return [lot for lot in lots if lot.pk in released]


def end_recall(recall: Recall, *, how: str, on: date) -> Recall:
    """End a recall with a word on how; the lots stay off sale until they are released again."""
    if not how.strip():
        raise CannotRecall("Say how the recall ended: what came back, what was done with it.")
    with transaction.atomic():
        recall = Recall.objects.select_for_update().get(pk=recall.pk)
        if recall.ended_on:
            raise CannotRecall("This recall has ended; nothing was changed.")
        recall.ended_on, recall.ended_how = on, how.strip()
        recall.save(update_fields=["ended_on", "ended_how"])
    return recall
