"""
Taking records out: the kinds of file that can be brought in again, and every table as it is.

A kind of file has one column table for both ways (``intake.kinds``). The plain tables hold all
there is, the ledger included, for whoever wants to look or count elsewhere: masses in grams, money
in the workshop's currency.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from django.apps import apps
from django.db import models
from django.utils import timezone

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import Route
from pourwright.intake.columns import Cell, Context, money_cell, plain
from pourwright.intake.kinds import KINDS, Kind
from pourwright.intake.writing import cells_of, header
from pourwright.workshop.designs.models import Design
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.hazard.models import ItemComposition, SheetFile, State
from pourwright.workshop.hazard.records import row_of
from pourwright.workshop.house.exchange import ABOUT, FACTS, HEAD, UNKNOWN
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import Customer, Order
from pourwright.workshop.planning.models import CalendarKey
from pourwright.workshop.stores.models import (
    Item,
    Lot,
    Measure,
    Origin,
    Receipt,
    Supplier,
)
from pourwright.workshop.stores.models import (
    Kind as ItemKind,
)

CHUNK = 1000


class UnknownTable(BadInput):
    """There is no such table."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table to take out: its name, its column heads, and its rows, made when asked for."""

    name: str
    what: str
    head: tuple[str, ...]
    rows: Callable[[], Iterator[list[Cell]]]

    @property
    def slug(self) -> str:
        return self.name.replace(" ", "-")


def table_of(kind: Kind, workshop: Workshop) -> Table:
    """Return a kind of file as a table; what it gives can be brought in again."""
    context = Context(currency=workshop.currency)
    return Table(
        name=kind.name,
        what=kind.what,
        head=tuple(header(kind, context)),
        rows=lambda: (cells_of(kind, values, context) for values in EXPORTERS[kind.name]()),
    )


def every_table(workshop: Workshop) -> list[Table]:
    """Return every table of the workshop: the kinds of file first, then the plain ones."""
    return [*(table_of(kind, workshop) for kind in KINDS), *plain_tables(workshop)]


def table_named(name: str, workshop: Workshop) -> Table:
    """Return the table of that name; hyphens serve as spaces."""
    wanted = name.strip().casefold().replace("-", " ").replace("_", " ")
    for table in every_table(workshop):
        if table.name == wanted:
            return table
    names = ", ".join(table.slug for table in every_table(workshop))
    raise UnknownTable(f"“{name[:40]}” is no table; write one of {names}.")


# --- the kinds of file ---------------------------------------------------------------------------


def _suppliers() -> Iterator[dict]:
    for supplier in Supplier.objects.iterator(chunk_size=CHUNK):
        yield {
            "name": supplier.name,
            "contact": supplier.contact,
            "email": supplier.email,
            "website": supplier.website,
            "address": supplier.address,
            "lead days": supplier.lead_days,
            "notes": supplier.notes,
        }


def _items_of(*kinds: str) -> Iterator[dict]:
    facts = ("wax", "oil", "vessel", "wick")
    found = Item.objects.filter(kind__in=kinds).select_related("supplier", *facts)
    for item in found.order_by("kind", "name", "id").iterator(chunk_size=CHUNK):
        values = {column: getattr(item, name) for name, column in ABOUT.items()}
        values["supplier"] = item.supplier.name if item.supplier else None
        values["reorder below"] = (
            (item.reorder_below, item.by_mass) if len(kinds) > 1 else item.reorder_below
        )
        values["kind"] = item.kind
        known = getattr(item, str(item.kind), None) if item.kind in FACTS else None
        if known is not None:
            values |= {column: getattr(known, name) for name, column in FACTS[item.kind].items()}
        yield values


def _supplies() -> Iterator[dict]:
    yield from _items_of(ItemKind.WAX, ItemKind.OIL, ItemKind.DYE, ItemKind.ADDITIVE, ItemKind.PART)


def _compositions() -> Iterator[dict]:
    """What counts; drafts and what was superseded stay in the plain tables."""
    found = ItemComposition.objects.filter(state=State.CONFIRMED).select_related("item")
    found = found.defer("typed", "reading").prefetch_related("rows")
    for composition in found.order_by("item__name", "id").iterator(chunk_size=CHUNK):
        head = {
            "material": composition.item.name,
            "kind": composition.item.kind,
            **{column: getattr(composition, name) for name, column in HEAD.items()},
            **{
                UNKNOWN[Route(route)]: _decimal(Fraction(pct))
                for route, pct in composition.unknown_acute.items()
            },
        }
        rows = [row_of(record) for record in composition.rows.all()]
        if not rows:
            yield head | {"nothing listed": True}
        for row in rows:
            yield head | {
                "substance": row.name,
                "CAS number": row.cas,
                "share": row.pct,
                "classes": row.classes,
                "M acute": row.m_acute,
                "M chronic": row.m_chronic,
                "specific limits": row.specific_limits,
                "ATE": row.ate,
                "not additive": row.non_additive,
                "no data for": row.unknown_acute,
                "no data in water": row.unknown_aquatic,
            }


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / value.denominator


def _vessels() -> Iterator[dict]:
    yield from _items_of(ItemKind.VESSEL)


def _wicks() -> Iterator[dict]:
    yield from _items_of(ItemKind.WICK)


def _receipts() -> Iterator[dict]:
    # What was undone never happened as far as another workshop's books go.
    found = Receipt.objects.filter(entry__undone_by=None).select_related("supplier")
    found = found.prefetch_related(models.Prefetch("lines"), "lines__lot__item")
    for receipt in found.order_by("on", "id").iterator(chunk_size=CHUNK):
        head = {
            "parcel": receipt.number,
            "received on": receipt.on,
            "supplier": receipt.supplier.name if receipt.supplier else None,
            "reference": receipt.reference,
            "freight": receipt.freight_minor100,
            "freight spread": receipt.spread,
            "note": receipt.note,
        }
        for line in sorted(receipt.lines.all(), key=lambda line: line.pk):
            yield head | {
                "kind": line.lot.item.kind,
                "item": line.lot.item.name,
                "amount": (line.qty, line.lot.item.by_mass),
                "price": line.price_minor100,
                "best before": line.lot.best_before,
                "supplier's lot": line.lot.supplier_lot,
            }


def _formulas() -> Iterator[dict]:
    for formula in Formula.objects.order_by("name", "id").iterator(chunk_size=CHUNK):
        version = formula.current if hasattr(formula, "current") else None
        version = version or formula.versions.order_by("-number").first()
        if version is None:
            continue
        head = {
            "formula": formula.name,
            "idea": formula.idea,
            "load": version.load_pct,
            "load basis": version.load_basis,
            "add oil at": version.add_at_c,
            "pour at": version.pour_at_c,
            "stir minutes": version.stir_minutes,
            "override reason": version.override_reason,
            "note": version.note,
            "retired": formula.retired,
        }
        parts = [
            *((part.item, part.share) for part in version.waxes.select_related("item")),
            *((part.item, part.share) for part in version.oils.select_related("item")),
            *((part.item, part.pct_of_wax) for part in version.extras.select_related("item")),
        ]
        for item, share in parts:
            yield head | {"kind": item.kind, "part": item.name, "share": share}


def _designs() -> Iterator[dict]:
    for design in Design.objects.order_by("name", "id").iterator(chunk_size=CHUNK):
        version = (
            design.versions.select_related("formula_version__formula", "vessel", "wick")
            .order_by("-number")
            .first()
        )
        if version is None:
            continue
        head = {
            "design": design.name,
            "label name": design.label_name,
            "formula": version.formula_version.formula.name,
            "vessel": version.vessel.name,
            "wick": version.wick.name,
            "wicks": version.wick_count,
            "fill": version.fill_mg,
            "trim": version.trim_mm,
            "cure days": version.cure_days,
            "best before months": version.best_before_months,
            "minutes each": version.minutes_each,
            "price": version.price_minor100,
            "wholesale price": version.wholesale_minor100,
            "net weight": version.declared,
            "markets": version.markets,
            "note": version.note,
            "retired": design.retired,
        }
        parts = list(version.parts.select_related("item"))
        if not parts:
            yield head
        for part in parts:
            yield head | {
                "part kind": part.item.kind,
                "part": part.item.name,
                "part amount": (part.qty, part.item.by_mass),
                "stage": part.stage,
            }


def _opening_stock() -> Iterator[dict]:
    found = Lot.objects.filter(origin=Origin.OPENING, moves__entry__kind="opening")
    found = found.filter(moves__entry__undone_by=None).annotate(
        came=models.F("moves__qty"),
        worth=models.F("moves__value"),
        entered=models.F("moves__entry__on"),
    )
    for lot in found.select_related("item").order_by("id").iterator(chunk_size=CHUNK):
        yield {
            "kind": lot.item.kind,
            "item": lot.item.name,
            "amount": (lot.came, lot.item.by_mass),
            "value": lot.worth,
            "entered on": lot.entered,
            "since": lot.began_on,
            "best before": lot.best_before,
            "cured on": lot.ready_on,
            "own lot": lot.supplier_lot,
            "note": lot.note,
        }


def _customers() -> Iterator[dict]:
    for customer in Customer.objects.order_by("name", "id").iterator(chunk_size=CHUNK):
        yield {
            name: getattr(customer, name) for name in ("name", "email", "phone", "address", "notes")
        }


def _orders() -> Iterator[dict]:
    found = Order.objects.select_related("customer").prefetch_related("lines__design")
    for order in found.order_by("on", "id").iterator(chunk_size=CHUNK):
        head = {
            "order": order.number,
            "state": order.state,
            "customer": order.customer.name if order.customer else None,
            "customer email": order.customer.email if order.customer else None,
            "channel": order.channel,
            "ordered on": order.on,
            "due": order.due,
            "reference": order.reference,
            "note": order.note,
        }
        for line in order.lines.all():
            yield head | {
                "design": line.design.name,
                "number": line.qty,
                "price each": line.price_minor100,
                "seconds": line.seconds,
            }


EXPORTERS: dict[str, Callable[[], Iterator[dict]]] = {
    "suppliers": _suppliers,
    "supplies": _supplies,
    "compositions": _compositions,
    "vessels": _vessels,
    "wicks": _wicks,
    "receipts": _receipts,
    "formulas": _formulas,
    "designs": _designs,
    "opening stock": _opening_stock,
    "customers": _customers,
    "orders": _orders,
}


# --- every table as it is ------------------------------------------------------------------------

# By what a person knows a record that another one points to.
KNOWN_BY = ("code", "number", "name")
# Versions are known by what they are versions of and their number.
VERSION_OF = {"formulaversion": "formula", "designversion": "design"}
# Whose quantities are grams or pieces, by the item at the end of this path.
MEASURED_BY = {
    "move": "lot__item", "balance": "lot__item", "lotsource": "parent__item",
    "receiptline": "lot__item", "take": "item", "designpart": "item",
    "offer": "item", "purchaseline": "item",
}  # fmt: skip
QUANTITIES = ("qty", "pack_qty", "target", "tolerance", "actual")
# Named apart from the kinds of file, which hold the same in a form that can be brought in; and
# plurals that Django cannot guess.
OTHER_NAMES = {
    "suppliers": "supplier records", "receipts": "receipt records",
    "formulas": "formula records", "designs": "design records",
    "customers": "customer records", "orders": "order records",
    "wax factss": "wax facts", "oil factss": "oil facts", "vessel factss": "vessel facts",
    "wick factss": "wick facts", "formula waxs": "formula waxes", "entrys": "entries",
    "workshops": "workshop", "melter meanss": "melter means", "design meanss": "design means",
}  # fmt: skip
NOT_OURS = ("messages", "staticfiles", "forms", "django_htmx", "contenttypes", "auth")


def plain_tables(workshop: Workshop) -> list[Table]:
    """Return every model's table, in the order of the parts of the program."""
    found = [
        model
        for model in apps.get_models()
        if model._meta.app_label not in NOT_OURS
        and not model._meta.auto_created
        # A sheet's bytes fit in no cell; they go with a backup. The calendar's word is a secret.
        and model not in (SheetFile, CalendarKey)
    ]
    return [_plain_table(model, workshop) for model in found]


def _plain_table(model: type[models.Model], workshop: Workshop) -> Table:
    name = str(model._meta.verbose_name_plural)
    columns = [_plain_column(model, field, workshop) for field in model._meta.concrete_fields]
    lookups = sorted({path for column in columns for path in column.paths})

    def rows() -> Iterator[list[Cell]]:
        # By key and in turn: a million moves stream through.
        for values in (
            model._default_manager.order_by("pk").values(*lookups).iterator(chunk_size=CHUNK)
        ):
            yield [column.cell(values) for column in columns]

    return Table(
        name=OTHER_NAMES.get(name, name),
        what="as it is kept",
        head=tuple(column.title for column in columns),
        rows=rows,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainColumn:
    title: str
    paths: tuple[str, ...]
    cell: Callable[[dict], Cell]


def _plain_column(
    model: type[models.Model], field: models.Field, workshop: Workshop
) -> PlainColumn:
    name, model_name = field.name, model._meta.model_name
    title = name.replace("_", " ")
    if isinstance(field, models.ForeignKey):
        paths = _known_by(field.related_model, name)
        return PlainColumn(title=title, paths=paths, cell=lambda row: _joined(row, paths))
    if name.endswith("_mg"):
        title = f"{title.removesuffix(' mg')} (g)"
        return PlainColumn(title=title, paths=(name,), cell=lambda row: _grams(row[name]))
    if name.endswith("_minor100") or (name == "value" and isinstance(field, models.IntegerField)):
        title = f"{title.removesuffix(' minor100')} ({workshop.currency})"
        currency = workshop.currency
        return PlainColumn(
            title=title, paths=(name,), cell=lambda row: money_cell(row[name], currency)
        )
    if name in QUANTITIES and model_name in MEASURED_BY:
        return _quantity(title, name, f"{MEASURED_BY[model_name]}__measure")
    if name == "reorder_below":
        return _quantity(title, name, "measure")
    return PlainColumn(title=title, paths=(name,), cell=lambda row: _as_it_is(row[name]))


def _quantity(title: str, name: str, measure: str) -> PlainColumn:
    def cell(row: dict) -> Cell:
        return _grams(row[name]) if row[measure] == Measure.MASS else row[name]

    return PlainColumn(title=f"{title} (g or pieces)", paths=(name, measure), cell=cell)


def _known_by(model: type[models.Model], path: str) -> tuple[str, ...]:
    """Return the lookups that say in a person's words which record ``path`` points to."""
    names = {field.name for field in model._meta.concrete_fields}
    if of := VERSION_OF.get(model._meta.model_name):
        return (f"{path}__{of}__name", f"{path}__number")
    for known in KNOWN_BY:
        if known in names:
            return (f"{path}__{known}",)
    return (f"{path}_id",)


def _joined(row: dict, paths: Iterable[str]) -> Cell:
    values = [row[path] for path in paths]
    if values[0] is None:
        return None
    return values[0] if len(values) == 1 else f"{values[0]} v{values[1]}"


def _grams(mg: int | None) -> Decimal | None:
    return None if mg is None else plain(Decimal(mg).scaleb(-3))


def _as_it_is(value) -> Cell:
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, datetime):
        return timezone.localtime(value).replace(tzinfo=None)
    if isinstance(value, date):
        return value
    if isinstance(value, Decimal):
        return plain(value)
    return str(value)
