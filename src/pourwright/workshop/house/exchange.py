"""
Bringing files in: rows become records by the same services that a person uses, all or none.

A file is gone through to its end whatever is wrong, so that one run shows every fault with its
line; then, with any fault or when only a check was asked for, everything is taken back.
"""

from __future__ import annotations

import difflib
from collections import Counter as Tally
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction

from django.db import transaction

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import Route
from pourwright.intake.columns import Amount, Context
from pourwright.intake.compositions import class_lines
from pourwright.intake.kinds import ITEM_KINDS
from pourwright.intake.kinds import Kind as FileKind
from pourwright.intake.reading import Finding, Group, Reading, Record, read_rows
from pourwright.intake.tables import Row as Line
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import Design
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.hazard import keeping
from pourwright.workshop.hazard.models import MELTED_KINDS
from pourwright.workshop.hazard.records import Row
from pourwright.workshop.house.models import Counter, Workshop
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import Channel, Customer, Order, OrderState
from pourwright.workshop.stores import items, services
from pourwright.workshop.stores.models import (
    SUPPLY_KINDS,
    Item,
    Kind,
    Lot,
    Origin,
    Receipt,
    Spread,
    Supplier,
)

MARKETS = ("us", "eu", "gb")


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of a file: how many lines and records, what is wrong, and whether it was kept."""

    kind: FileKind
    lines: int
    made: int
    brought_in: bool
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]


def bring_in(
    kind: FileKind,
    rows: Sequence[Line],
    *,
    workshop: Workshop,
    on: date,
    at: datetime,
    only_check: bool = False,
) -> Outcome:
    """
    Make records of the rows of a file, or say everything that is wrong with it.

    ``only_check`` does all of it and takes it back, so that a check promises what it says.
    """
    reading = read_rows(kind, rows, Context(currency=workshop.currency))
    desk = Desk(reading=reading, on=on, at=at, workshop=workshop)
    # Lines that were read are tried even where others were not, to find all there is to find.
    with transaction.atomic():
        _one_at_a_time()
        if reading.columns:
            IMPORTERS[kind.name](desk)
        wrong = bool(desk.findings)
        if wrong or only_check:
            transaction.set_rollback(True)
    return Outcome(
        kind=kind,
        lines=len(reading.records),
        made=desk.made,
        brought_in=not wrong and not only_check,
        findings=tuple(sorted(desk.findings, key=lambda finding: finding.line)),
        notes=reading.notes,
    )


def _one_at_a_time() -> None:
    """Let the same file sent twice at one moment meet its own records the second time."""
    Counter.objects.get_or_create(prefix="import")
    Counter.objects.select_for_update().get(prefix="import")


# --- the desk: what every importer needs ---------------------------------------------------------


@dataclass(slots=True, kw_only=True)
class Desk:
    """The file on the desk, the names that the workshop knows, and the faults found so far."""

    reading: Reading
    on: date
    at: datetime
    workshop: Workshop
    findings: list[Finding] = field(default_factory=list)
    made: int = 0
    faulty: set[int] = field(default_factory=set)
    _items: dict[str, list[Item]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.findings.extend(self.reading.findings)
        self.faulty = {finding.line for finding in self.reading.findings}

    # Lines that could not be read in full make no record: what is missing is not guessed.
    def records(self) -> Iterator[Record]:
        return (record for record in self.reading.records if record.line not in self.faulty)

    def groups(self) -> Iterator[Group]:
        for group in self.reading.groups:
            if not self.faulty.intersection(record.line for record in group.lines):
                yield group

    def wrong(self, line: int, column: str, message: str) -> None:
        self.findings.append(Finding(line=line, column=column, message=message))

    @contextmanager
    def trying(self, line: int, columns: Mapping[str, str] | None = None) -> Iterator[None]:
        """Count a record made, or note why a service refuses it; the rest of the file goes on."""
        try:
            with transaction.atomic():
                yield
        except BadInput as problem:
            column = (columns or {}).get(getattr(problem, "field", None) or "", "")
            self.wrong(line, column, str(problem))
        else:
            self.made += 1

    def named(self, what: str, line: int, column: str, name: str, known: Mapping[str, object]):
        """Return what goes by ``name``, or note that nothing does, with what comes close."""
        found = known.get(name.casefold())
        if found is None:
            self.wrong(line, column, _unknown(what, name, known))
        return found

    def items(self) -> dict[str, list[Item]]:
        if not self._items:
            for item in Item.objects.all():
                self._items.setdefault(item.name.casefold(), []).append(item)
        return self._items

    def item(
        self,
        line: int,
        column: str,
        name: str,
        *,
        among: Sequence[str],
        kind: str | None = None,
        kind_column: str = "kind",
    ) -> Item | None:
        """Return the item of that name among some kinds; two of one name need their kind said."""
        all_of_name = self.items().get(name.casefold(), [])
        found = [item for item in all_of_name if item.kind in among and kind in (None, item.kind)]
        if len(found) == 1:
            return found[0]
        if len(found) > 1:
            words = " or ".join(_kind_word(item.kind) for item in found)
            self.wrong(
                line, kind_column, f"“{name}” names more than one thing; write {words} as its kind."
            )
        elif all_of_name:
            is_kept = _kind_word(all_of_name[0].kind)
            wanted = " or ".join(_kind_word(one) for one in ([kind] if kind else among))
            self.wrong(line, column, f"“{name}” is kept as {is_kept}; here belongs {wanted}.")
        else:
            known = {
                key: True
                for key, those in self.items().items()
                if any(item.kind in among and kind in (None, item.kind) for item in those)
            }
            self.wrong(line, column, _unknown("item", name, known))
        return None

    def quantity(self, line: int, column: str, amount: Amount, item: Item) -> int | None:
        """Return milligrams or pieces, as the item is measured."""
        try:
            return amount.of(by_mass=item.by_mass)
        except BadInput as problem:
            how = "by weight" if item.by_mass else "by the piece"
            self.wrong(line, column, f"{problem} {item.name} is kept {how}.")
            return None

    def not_to_come(self, line: int, column: str, day: date | None) -> None:
        if day is not None and day > self.on:
            self.wrong(
                line,
                column,
                f"{day:%Y-%m-%d} is still to come; today is {self.on:%Y-%m-%d}.",
            )


def _unknown(what: str, name: str, known: Mapping[str, object]) -> str:
    close = difflib.get_close_matches(name.casefold(), list(known), n=1, cutoff=0.7)
    hint = f" Did you mean “{close[0]}”?" if close else " Enter it first, or bring it in before."
    return f"There is no {what} “{name[:60]}” in the workshop.{hint}"


def _kind_word(kind: str) -> str:
    return next(word for word, kept in ITEM_KINDS.items() if kept == kind)


def _by_name(rows) -> dict[str, object]:
    return {row.name.casefold(): row for row in rows}


# --- suppliers and items -------------------------------------------------------------------------


def _suppliers(desk: Desk) -> None:
    for record in desk.records():
        with desk.trying(record.line, {"name": "name", "lead_days": "lead days"}):
            items.keep_supplier(
                items.About(
                    name=record.get("name"),
                    contact=record.get("contact", ""),
                    email=record.get("email", ""),
                    website=record.get("website", ""),
                    address=record.get("address", ""),
                    lead_days=record.get("lead days"),
                    notes=record.get("notes", ""),
                )
            )


ABOUT = {
    "name": "name", "measure": "measured by", "supplier": "supplier",
    "supplier_ref": "supplier's number", "reorder_below": "reorder below",
    "piece_mg": "piece weight", "notes": "notes", "retired": "retired",
}  # fmt: skip
FACTS = {
    Kind.WAX: {
        "max_load_pct": "most load", "max_load_basis": "most load basis",
        "density_cold_g_ml": "cold density", "density_liquid_g_ml": "liquid density",
        "melt_to_c": "melt to", "add_at_c": "add oil at", "pour_at_c": "pour at",
        "never_above_c": "never above", "set_hours": "setting hours", "cure_days": "cure days",
        "figures_from": "figures from", "revision": "wax revision",
    },
    Kind.OIL: {
        "flash_point_c": "flash point", "density_g_ml": "oil density",
        "max_pct_of_whole": "safety limit of the whole", "limit_from": "limit from",
        "sheet_date": "sheet date", "sheet_revision": "sheet revision",
    },
    Kind.VESSEL: {
        "shape": "shape", "material": "material", "inside_mm": "inside diameter",
        "top_inside_mm": "top inside diameter", "depth_mm": "depth", "brim_ml": "brim volume",
        "water_marks": "water marks", "wall_mm": "wall", "base_mm": "base",
        "fit_for_candles": "fit for candles",
        "shock_statement": "thermal shock and annealing", "leak_tested_on": "leak tested on",
        "revision": "revision",
    },
    Kind.WICK: {
        "series": "series", "size": "size", "core": "core", "length_mm": "length",
        "lead_free": "lead-free statement", "burn_rate_g_h": "burn rate", "revision": "revision",
    },
}  # fmt: skip


def _supplies(desk: Desk) -> None:
    _items(desk, None)


def _vessels(desk: Desk) -> None:
    _items(desk, Kind.VESSEL)


def _wicks(desk: Desk) -> None:
    _items(desk, Kind.WICK)


def _items(desk: Desk, one_kind: str | None) -> None:
    suppliers = _by_name(Supplier.objects.all())
    others = {
        column: kind for kind, facts in FACTS.items() for column in facts.values()
    }  # whose fact a column of the supplies is
    for record in desk.records():
        kind = one_kind or record.get("kind")
        mine = FACTS.get(kind, {})
        if one_kind is None:
            for column in record.values:
                if column in others and column not in mine.values():
                    desk.wrong(
                        record.line,
                        column,
                        f"“{column}” is for {_kind_word(others[column])}; this line is "
                        f"{_kind_word(kind)}. Leave it empty.",
                    )
        about = _about(desk, record, suppliers, kind)
        facts = {
            name: record.get(column) for name, column in mine.items() if column in record.values
        }
        if about is None:
            continue
        columns = {**ABOUT, **mine}
        with desk.trying(record.line, columns):
            items.new_item(kind=kind, facts=facts, **about)


def _about(desk: Desk, record: Record, suppliers, kind: str) -> dict | None:
    """Return what is said of an item itself, or None where something of it is wrong."""
    about: dict[str, object] = {
        "name": record.get("name"),
        "measure": record.get("measured by", items.MEASURES[kind][0]),
        "supplier_ref": record.get("supplier's number", ""),
        "notes": record.get("notes", ""),
        "piece_mg": record.get("piece weight"),
        "retired": record.get("retired", False),
    }
    fine = True
    if name := record.get("supplier"):
        about["supplier"] = desk.named("supplier", record.line, "supplier", name, suppliers)
        fine = about["supplier"] is not None
    below = record.get("reorder below")
    if isinstance(below, Amount):
        item = Item(name=str(about["name"]), measure=str(about["measure"]))
        below = desk.quantity(record.line, "reorder below", below, item)
        fine = fine and below is not None
    about["reorder_below"] = below
    return about if fine else None


# --- compositions --------------------------------------------------------------------------------

HEAD = {
    "product_name": "product name", "sheet_date": "sheet date", "revision": "revision",
    "flash_point_c": "flash point", "density_g_ml": "density", "note": "note",
}  # fmt: skip
UNKNOWN = {route: f"unknown {route}" for route in Route}


def _compositions(desk: Desk) -> None:
    for group in desk.groups():
        before = len(desk.findings)
        item = desk.item(
            group.line, "material", group.key, kind=group.get("kind"), among=MELTED_KINDS
        )
        rows = [row for record in group.lines if (row := _substance(desk, record, group))]
        head = keeping.Head(
            product_name=group.get("product name", ""),
            sheet_date=group.get("sheet date"),
            revision=group.get("revision", ""),
            flash_point_c=group.get("flash point"),
            density_g_ml=group.get("density"),
            note=group.get("note", ""),
            unknown_acute={
                route: Fraction(pct)
                for route, column in UNKNOWN.items()
                if (pct := group.get(column)) is not None
            },
            nothing_listed=bool(group.get("nothing listed")),
        )
        if len(desk.findings) > before:
            continue
        columns = {**HEAD, "nothing_listed": "nothing listed"}
        with desk.trying(group.line, columns):
            keeping.bring_in(
                item, head=head, rows=rows, by=desk.workshop.maker, on=desk.on, at=desk.at
            )


def _substance(desk: Desk, record: Record, group: Group) -> Row | None:
    """Return a line's substance; None where the sheet lists none, or something is wrong."""
    name, share = record.get("substance"), record.get("share")
    if name is None and group.get("nothing listed") and share is None:
        return None
    for column, value in (("substance", name), ("share", share)):
        if value is None:
            desk.wrong(
                record.line, column, f"{column.capitalize()} is empty; write it as on the sheet."
            )
    if name is None or share is None:
        return None
    classes = record.get("classes", ())
    return Row(
        name=name,
        cas=record.get("CAS number", ""),
        pct=share,
        classes=classes,
        classes_text=class_lines(classes),
        m_acute=record.get("M acute"),
        m_chronic=record.get("M chronic"),
        specific_limits=record.get("specific limits", {}),
        ate=record.get("ATE", {}),
        non_additive=record.get("not additive", False),
        unknown_acute=record.get("no data for", frozenset()),
        unknown_aquatic=record.get("no data in water", False),
    )


# --- receipts and opening stock ------------------------------------------------------------------


def _receipts(desk: Desk) -> None:
    suppliers = _by_name(Supplier.objects.all())
    there = _receipts_there()
    has_reference = "reference" in desk.reading.columns
    for group in desk.groups():
        before = len(desk.findings)
        supplier = None
        if name := group.get("supplier"):
            supplier = desk.named("supplier", group.line, "supplier", name, suppliers)
        on = group.get("received on")
        desk.not_to_come(group.line, "received on", on)
        lines = [line for record in group.lines if (line := _received(desk, record))]
        reference = group.get("reference", "") if has_reference else group.key
        if len(desk.findings) > before:
            continue
        told = (on, supplier and supplier.pk)
        if (*told, reference.casefold()) in there and reference:
            desk.wrong(
                group.line, "reference", f"There is a receipt “{reference}” of {on} already."
            )
            continue
        if (
            *told,
            _fingerprint((line.item.pk, line.qty, line.price_minor100) for line in lines),
        ) in (there):
            desk.wrong(
                group.line, "parcel", f"There is a receipt of {on} with the same lines already."
            )
            continue
        with desk.trying(group.line):
            services.receive(
                lines=lines,
                on=on,
                at=desk.at,
                supplier=supplier,
                freight_minor100=group.get("freight", 0),
                spread=group.get("freight spread", Spread.BY_VALUE),
                reference=reference,
                note=group.get("note", ""),
            )


def _received(desk: Desk, record: Record) -> services.Received | None:
    item = desk.item(
        record.line,
        "item",
        record.get("item"),
        kind=record.get("kind"),
        among=SUPPLY_KINDS,
    )
    if item is None:
        return None
    qty = desk.quantity(record.line, "amount", record.get("amount"), item)
    if qty is None:
        return None
    return services.Received(
        item=item,
        qty=qty,
        price_minor100=record.get("price"),
        best_before=record.get("best before"),
        supplier_lot=record.get("supplier's lot", ""),
    )


def _receipts_there() -> set[tuple]:
    """Return what tells the receipts that are there: by reference, and by their lines."""
    told: set[tuple] = set()
    receipts = Receipt.objects.filter(entry__undone_by=None).prefetch_related("lines__lot")
    for receipt in receipts.iterator(chunk_size=1000):
        key = (receipt.on, receipt.supplier_id)
        told.add((*key, receipt.reference.casefold()))
        lines = ((line.lot.item_id, line.qty, line.price_minor100) for line in receipt.lines.all())
        told.add((*key, _fingerprint(lines)))
    return told


def _fingerprint(lines) -> tuple:
    return tuple(sorted(lines))


def _opening_stock(desk: Desk) -> None:
    designs_by_name = _by_name(Design.objects.select_related("candle"))
    there = Tally(
        Lot.objects.filter(origin=Origin.OPENING, moves__entry__kind="opening")
        .filter(moves__entry__undone_by=None)
        .values_list(
            "item_id",
            "moves__qty",
            "moves__value",
            "began_on",
            "supplier_lot",
            "best_before",
            "note",
        )
    )
    for record in desk.records():
        kind, name = record.get("kind"), record.get("item")
        design = designs_by_name.get(name.casefold())
        if design is not None and kind in (None, Kind.CANDLE):
            item = design.candle
        else:
            item = desk.item(record.line, "item", name, kind=kind, among=Kind.values)
        if item is None:
            continue
        qty = desk.quantity(record.line, "amount", record.get("amount"), item)
        on = record.get("entered on", desk.on)
        since = record.get("since", on)
        before = len(desk.findings)
        desk.not_to_come(record.line, "entered on", on)
        desk.not_to_come(record.line, "since", since)
        if since > on:
            desk.wrong(record.line, "since", f"Since {since} is later than it is entered, {on}.")
        if record.get("cured on") and item.kind != Kind.CANDLE:
            desk.wrong(
                record.line, "cured on", "“Cured on” is for finished candles; leave it empty."
            )
        if qty is None or len(desk.findings) > before:
            continue
        facts = {
            "best_before": record.get("best before"),
            "supplier_lot": record.get("own lot", ""),
            "note": record.get("note", ""),
        }
        told = (
            item.pk, qty, record.get("value"), since,
            facts["supplier_lot"], facts["best_before"], facts["note"],
        )  # fmt: skip
        if there[told]:
            desk.wrong(
                record.line,
                "item",
                f"The same opening stock of {item.name} is in the books already; if this is "
                "another lot, say in its note what tells it apart.",
            )
            continue
        with desk.trying(record.line):
            services.open_with(
                item=item,
                qty=qty,
                value=record.get("value"),
                on=on,
                at=desk.at,
                began_on=since,
                ready_on=record.get("cured on"),
                **facts,
            )


# --- formulas and designs ------------------------------------------------------------------------


def _formulas(desk: Desk) -> None:
    for group in desk.groups():
        before = len(desk.findings)
        parts: dict[str, list] = {"waxes": [], "oils": [], "extras": []}
        row = {Kind.WAX: "waxes", Kind.OIL: "oils", Kind.DYE: "extras", Kind.ADDITIVE: "extras"}
        for record in group.lines:
            kind, share = record.get("kind"), record.get("share")
            if row[kind] != "extras":
                share = round(share, 3)  # as the record keeps it
            item = desk.item(record.line, "part", record.get("part"), kind=kind, among=tuple(row))
            if share <= 0:
                desk.wrong(record.line, "share", "Share is 0; write more than nothing.")
            elif row[kind] == "extras" and share > 100:
                desk.wrong(
                    record.line, "share", f"Share is {share:f} % of the wax; write 100 or less."
                )
            elif item is not None and any(item == other for other, _ in parts[row[kind]]):
                desk.wrong(record.line, "part", f"“{item.name}” is in this formula twice.")
            else:
                parts[row[kind]].append((item, share))
        load, basis = group.get("load"), group.get("load basis")
        if load and basis is None:
            desk.wrong(
                group.line,
                "load basis",
                "The load needs its basis; write of the wax or of the whole.",
            )
        if len(desk.findings) > before:
            continue
        with desk.trying(group.line):
            version = formulas.new_formula(
                name=group.key,
                idea=group.get("idea", ""),
                on=desk.on,
                recipe=formulas.Recipe(
                    **parts,
                    load_pct=load or 0,
                    load_basis=basis or "wax",
                    add_at_c=group.get("add oil at"),
                    pour_at_c=group.get("pour at"),
                    stir_minutes=group.get("stir minutes", 2),
                    override_reason=group.get("override reason", ""),
                    note=group.get("note", ""),
                ),
            )
            if group.get("retired"):
                formulas.retire(version.formula)


SPEC = {
    "cure_days": "cure days", "best_before_months": "best before months",
    "price_minor100": "price", "wholesale_minor100": "wholesale price",
}  # fmt: skip


def _designs(desk: Desk) -> None:
    formulas_by_name = _by_name(Formula.objects.all())
    for group in desk.groups():
        before = len(desk.findings)
        formula = desk.named(
            "formula", group.line, "formula", group.get("formula"), formulas_by_name
        )
        version = formula and formulas.newest_version(formula)
        vessel = desk.item(group.line, "vessel", group.get("vessel"), among=(Kind.VESSEL,))
        wick = desk.item(group.line, "wick", group.get("wick"), among=(Kind.WICK,))
        for market in group.get("markets", "").split(","):
            if market.strip() and market.strip() not in MARKETS:
                desk.wrong(
                    group.line,
                    "markets",
                    f"Market “{market.strip()[:20]}” is not known; write us, eu or gb, comma "
                    "between.",
                )
        parts = [part for record in group.lines if (part := _design_part(desk, record))]
        if len(desk.findings) > before:
            continue
        with desk.trying(group.line):
            made = designs.new_design(
                name=group.key,
                label_name=group.get("label name", ""),
                on=desk.on,
                spec=designs.DesignSpec(
                    formula_version=version,
                    vessel=vessel,
                    wick=wick,
                    fill_mg=group.get("fill"),
                    wick_count=group.get("wicks", 1),
                    parts=parts,
                    trim_mm=group.get("trim", 6),
                    minutes_each=group.get("minutes each", 0),
                    markets=group.get("markets", ""),
                    declared=group.get("net weight", ""),
                    note=group.get("note", ""),
                    **{name: group.get(column) for name, column in SPEC.items()},
                ),
            )
            if group.get("retired"):
                designs.retire(made.design)


def _design_part(desk: Desk, record: Record) -> tuple | None:
    name = record.get("part")
    if name is None:
        for column in ("part kind", "part amount", "stage"):
            if column in record.values:
                desk.wrong(
                    record.line, column, f"There is no part on this line; leave {column} empty."
                )
        return None
    item = desk.item(
        record.line,
        "part",
        name,
        kind=record.get("part kind"),
        among=designs.PART_KINDS,
        kind_column="part kind",
    )
    if item is None:
        return None
    amount = record.get("part amount")
    if amount is None and item.by_mass:
        desk.wrong(
            record.line, "part amount", f"{item.name} is kept by weight; write how much one takes."
        )
        return None
    qty = 1 if amount is None else desk.quantity(record.line, "part amount", amount, item)
    return None if qty is None else (item, qty, record.get("stage", "finish"))


# --- customers and orders ------------------------------------------------------------------------


def _customers(desk: Desk) -> None:
    there = {
        (name.casefold(), email.casefold())
        for name, email in Customer.objects.values_list("name", "email")
    }
    for record in desk.records():
        told = (record.get("name").casefold(), record.get("email", "").casefold())
        if told in there:
            desk.wrong(
                record.line,
                "name",
                f"There is a customer “{record.get('name')}” with the same address for mail "
                "already; leave the line out, or tell them apart by it.",
            )
            continue
        there.add(told)
        with desk.trying(record.line):
            Customer.objects.create(
                name=record.get("name"),
                email=record.get("email", ""),
                phone=record.get("phone", ""),
                address=record.get("address", ""),
                notes=record.get("notes", ""),
            )


def _orders(desk: Desk) -> None:
    designs_by_name = _by_name(Design.objects.all())
    customers: dict[str, list[Customer]] = {}
    for customer in Customer.objects.all():
        customers.setdefault(customer.name.casefold(), []).append(customer)
    there = _orders_there()
    has_reference = "reference" in desk.reading.columns
    for group in desk.groups():
        before = len(desk.findings)
        customer = _customer(desk, group, customers)
        on = group.get("ordered on")
        desk.not_to_come(group.line, "ordered on", on)
        if group.get("state") == OrderState.SENT:
            desk.wrong(
                group.line,
                "state",
                "What was sent needs the lots it was sent from, and cannot be brought in; leave "
                "the order out.",
            )
        lines = []
        for record in group.lines:
            design = desk.named(
                "design", record.line, "design", record.get("design"), designs_by_name
            )
            lines.append(
                (
                    design,
                    record.get("number"),
                    record.get("price each"),
                    record.get("seconds", False),
                )
            )
        reference = group.get("reference", "") if has_reference else group.key
        if len(desk.findings) > before:
            continue
        told = (on, customer and customer.pk)
        if reference and (*told, reference.casefold()) in there:
            desk.wrong(group.line, "reference", f"There is an order “{reference}” of {on} already.")
            continue
        same = _fingerprint((design.pk, *rest) for design, *rest in lines)
        if (*told, same) in there:
            desk.wrong(
                group.line, "order", f"There is an order of {on} with the same lines already."
            )
            continue
        with desk.trying(group.line):
            order = orders.new_order(
                customer=customer,
                channel=group.get("channel", Channel.DIRECT),
                on=on,
                due=group.get("due"),
                lines=lines,
                reference=reference,
                note=group.get("note", ""),
            )
            if group.get("state") == OrderState.CANCELLED:
                Order.objects.filter(pk=order.pk).update(state=OrderState.CANCELLED)


def _customer(desk: Desk, group: Group, customers: Mapping[str, list[Customer]]) -> Customer | None:
    name, email = group.get("customer"), group.get("customer email", "")
    if not name:
        return None
    found = customers.get(name.casefold(), [])
    if not found:
        desk.wrong(group.line, "customer", _unknown("customer", name, customers))
        return None
    if email or len(found) > 1:
        found = [one for one in found if one.email.casefold() == email.casefold()]
    if len(found) != 1:
        desk.wrong(
            group.line,
            "customer email",
            f"Which “{name}” it is, is not plain; write the address for mail that is kept of them.",
        )
        return None
    return found[0]


def _orders_there() -> set[tuple]:
    told: set[tuple] = set()
    for order in Order.objects.prefetch_related("lines").iterator(chunk_size=1000):
        key = (order.on, order.customer_id)
        told.add((*key, order.reference.casefold()))
        lines = (
            (line.design_id, line.qty, line.price_minor100, line.seconds)
            for line in order.lines.all()
        )
        told.add((*key, _fingerprint(lines)))
    return told


IMPORTERS: dict[str, Callable[[Desk], None]] = {
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
