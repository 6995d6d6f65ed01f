"""
Find any record by a few letters.

Each group looks in its own few columns and stops at the first few hits, so that a short word in a
long book still answers at once. A code that is exactly right goes straight to its record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from django.db.models import Model, Q, QuerySet
from django.urls import reverse

from pourwright.workshop.burns.models import TestPiece
from pourwright.workshop.designs.models import Design
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.hazard.models import CompositionRow, State
from pourwright.workshop.orders.models import Customer, Order
from pourwright.workshop.panels.models import Panel
from pourwright.workshop.pours.models import Pour
from pourwright.workshop.stores.models import Item, Kind, Lot, Receipt, Supplier

SHOWN = 6
LONGEST = 60
MOST_WORDS = 5


@dataclass(frozen=True, slots=True)
class Hit:
    """One record that was found: its name or number, where it is, and a word about it."""

    name: str
    address: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """What was found of one kind; ``more`` says that there is further."""

    title: str
    kind: str
    hits: list[Hit]
    more: bool


@dataclass(frozen=True, slots=True)
class _Kind:
    title: str
    kind: str
    rows: Callable[[], QuerySet]
    columns: tuple[str, ...]
    hit: Callable[[Model], Hit]
    code: str = field(default="")


def lot_address(lot: Lot) -> str:
    """Return where a lot's page is: candles are on the shelf, everything else in the stores."""
    return reverse("shelf:lot" if lot.item.kind == Kind.CANDLE else "stores:lot", args=[lot.code])


def item_address(item: Item) -> str:
    """Return where an item is at home: what is made here belongs to its design or formula."""
    if item.kind == Kind.CANDLE and hasattr(item, "design"):
        return reverse("designs:design", args=[item.design.pk])
    if item.kind == Kind.MIX and hasattr(item, "formula"):
        return reverse("formulas:formula", args=[item.formula.pk])
    return reverse("stores:item", args=[item.pk])


def _item(item: Item) -> Hit:
    return Hit(item.name, item_address(item), item.get_kind_display())


def _lot(lot: Lot) -> Hit:
    theirs = f", supplier’s lot {lot.supplier_lot}" if lot.supplier_lot else ""
    return Hit(lot.code, lot_address(lot), f"{lot.item.name}{theirs}")


def _holding(row: CompositionRow) -> Hit:
    """Return the material that holds a substance, by what counts for it today."""
    item = row.composition.item
    number = f" ({row.cas})" if row.cas else ""
    return Hit(item.name, f"{item_address(item)}#composition", f"holds {row.name}{number}")


def _order(order: Order) -> Hit:
    who = order.customer.name if order.customer else order.reference
    about = ", ".join(part for part in (who, order.get_state_display()) if part)
    return Hit(order.number, reverse("orders:order", args=[order.number]), about)


KINDS = (
    _Kind(
        "Lots", "lot", lambda: Lot.objects.select_related("item").order_by("-id"),
        ("code", "supplier_lot"), _lot, code="code",
    ),
    _Kind(
        "Designs", "design", lambda: Design.objects.order_by("name"), ("name", "label_name"),
        lambda it: Hit(it.name, reverse("designs:design", args=[it.pk]), it.label_name),
    ),
    _Kind(
        "Formulas", "formula", lambda: Formula.objects.order_by("name"), ("name",),
        lambda it: Hit(it.name, reverse("formulas:formula", args=[it.pk])),
    ),
    _Kind(
        "Supplies", "item",
        lambda: Item.objects.exclude(kind__in=[Kind.CANDLE, Kind.MIX]).order_by("name"),
        ("name", "supplier_ref"), _item,
    ),
    _Kind(
        "Materials that hold it", "item",
        lambda: CompositionRow.objects.filter(composition__state=State.CONFIRMED)
        .select_related("composition__item").order_by("composition__item__name", "place"),
        ("name", "cas"), _holding,
    ),
    _Kind(
        "Pours", "pour", lambda: Pour.objects.order_by("-id"), ("number",),
        lambda it: Hit(it.number, reverse("pours:pour", args=[it.number]),
                       f"{it.get_state_display()}, {it.on.day} {it.on:%b %Y}"),
        code="number",
    ),
    _Kind(
        "Test pieces", "burn",
        lambda: TestPiece.objects.select_related("version__design", "wick").order_by("-id"),
        ("number",),
        lambda it: Hit(it.number, reverse("burns:piece", args=[it.number]),
                       f"{it.version.design.name}, {it.wick.name}"),
        code="number",
    ),
    _Kind(
        "Scent panels", "panel", lambda: Panel.objects.order_by("-id"), ("number", "question"),
        lambda it: Hit(it.number, reverse("panels:panel", args=[it.number]), it.question),
        code="number",
    ),
    _Kind(
        "Orders", "order", lambda: Order.objects.select_related("customer").order_by("-id"),
        ("number", "reference"), _order, code="number",
    ),
    _Kind(
        "Customers", "customer", lambda: Customer.objects.order_by("name"), ("name", "email"),
        lambda it: Hit(it.name, reverse("orders:customer", args=[it.pk]), it.email),
    ),
    _Kind(
        "Suppliers", "supplier", lambda: Supplier.objects.order_by("name"), ("name",),
        lambda it: Hit(it.name, reverse("stores:supplier", args=[it.pk]), it.contact),
    ),
    _Kind(
        "Receipts", "receipt", lambda: Receipt.objects.select_related("supplier").order_by("-id"),
        ("number", "reference"),
        lambda it: Hit(it.number, reverse("stores:receipt", args=[it.number]),
                       it.supplier.name if it.supplier else ""),
        code="number",
    ),
)  # fmt: skip


def words_of(text: str) -> list[str]:
    """Return the words to look for, no more and no longer than anyone means."""
    return text[:LONGEST].split()[:MOST_WORDS]


def exactly(text: str) -> str | None:
    """Return the address of the record whose code this is, if there is one."""
    code = text.strip().upper()[:LONGEST]
    if not code:
        return None
    for kind in KINDS:
        if kind.code and (found := kind.rows().filter(**{kind.code: code}).first()):
            return kind.hit(found).address
    return None


def search(text: str, *, shown: int = SHOWN) -> list[Group]:
    """Return the groups in which something was found; every word must stand in one column."""
    words = words_of(text)
    if not words:
        return []
    groups = (_group(kind, words, shown) for kind in KINDS)
    return [group for group in groups if group.hits]


def _group(kind: _Kind, words: Iterable[str], shown: int) -> Group:
    rows = kind.rows()
    for word in words:
        anywhere = Q()
        for column in kind.columns:
            anywhere |= Q(**{f"{column}__icontains": word})
        rows = rows.filter(anywhere)
    found = list(rows[: shown + 1])
    return Group(
        title=kind.title,
        kind=kind.kind,
        hits=[kind.hit(record) for record in found[:shown]],
        more=len(found) > shown,
    )
