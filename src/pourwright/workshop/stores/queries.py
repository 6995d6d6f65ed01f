"""
What the pages of the stores read. Every list is a page at a time; sums are over what is in stock.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    Exists,
    F,
    Min,
    OuterRef,
    Q,
    QuerySet,
    SmallIntegerField,
    Subquery,
    Sum,
    Value,
    When,
    Window,
)
from django.db.models.functions import Coalesce, RowNumber

from pourwright.papers.charts import Level
from pourwright.workshop.stores.models import (
    INSIDE,
    SUPPLY_KINDS,
    Balance,
    Entry,
    EntryKind,
    Item,
    Kind,
    Lot,
    Move,
    Place,
    Receipt,
    Supplier,
)

# What the index of the stores shows; finished candles stand on the shelf.
HELD_KINDS = (*SUPPLY_KINDS, Kind.MIX)
TABS = (
    (Kind.WAX, "Waxes"),
    (Kind.OIL, "Fragrance oils"),
    (Kind.DYE, "Dyes"),
    (Kind.ADDITIVE, "Additives"),
    (Kind.VESSEL, "Vessels"),
    (Kind.WICK, "Wicks"),
    (Kind.PART, "Parts and packaging"),
    (Kind.MIX, "Scented mix"),
)
SOON = timedelta(days=60)
# Less than this of anything is what clings to a bag or a jug. Common practice, no source.
CRUMBS_MG = 1_000


@dataclass(slots=True)
class Held:
    """An item and what the store holds of it."""

    item: Item
    qty: int = 0
    value: int = 0
    lots: int = 0
    since: date | None = None
    best_before: date | None = None
    icon: str = ""

    @property
    def crumbs(self) -> bool:
        """What clings to a bag or a jug: nobody plans with it, so its best-before is no matter."""
        return self.item.by_mass and 0 < self.qty < CRUMBS_MG

    @property
    def low(self) -> bool:
        return self.item.reorder_below is not None and self.qty < self.item.reorder_below


def items(*, kind: str = "", show: str = "", supplier: int | None = None) -> QuerySet[Item]:
    """
    Return the items of the stores, in the order of the kinds and then by name.

    ``show``: "held" only what is in stock, "low" only what is below its reorder level, "retired"
    only what is retired; otherwise everything that is not retired. Among all kinds, scented mix
    stands only where some is left: every formula has an item for it.
    """
    found = Item.objects.filter(kind__in=[kind] if kind else HELD_KINDS, retired=show == "retired")
    if supplier:
        found = found.filter(supplier_id=supplier)
    if not kind:
        found = found.filter(~Q(kind=Kind.MIX) | Exists(_in_store(OuterRef("pk"))))
    if show == "held":
        found = found.filter(Exists(_in_store(OuterRef("pk"))))
    if show == "low":
        found = found.filter(reorder_below__isnull=False).annotate(
            in_store=Coalesce(Subquery(_sum_in_store()), 0, output_field=BigIntegerField())
        )
        found = found.filter(in_store__lt=F("reorder_below"))
    in_order = Case(
        *(When(kind=kind, then=Value(place)) for place, (kind, _) in enumerate(TABS)),
        output_field=SmallIntegerField(),
    )
    return found.select_related("supplier", "vessel").order_by(in_order, "name", "id")


def _in_store(item) -> QuerySet[Balance]:
    return Balance.objects.filter(lot__item=item, place=Place.STORE, qty__gt=0)


def _sum_in_store() -> QuerySet[Balance]:
    return _in_store(OuterRef("pk")).values("lot__item").annotate(total=Sum("qty")).values("total")


def held(found: Iterable[Item]) -> list[Held]:
    """Return what the store holds of each item, in one query for all of them."""
    rows = {item.pk: Held(item) for item in found}
    sums = (
        Balance.objects.filter(lot__item__in=list(rows), place=Place.STORE, qty__gt=0)
        .values("lot__item")
        .annotate(
            in_store=Sum("qty"),
            worth=Sum("value"),
            lots=Count("id"),
            since=Min("lot__began_on"),
            best=Min("lot__best_before"),
        )
    )
    for row in sums:
        held = rows[row["lot__item"]]
        held.qty, held.value, held.lots = row["in_store"], row["worth"], row["lots"]
        held.since, held.best_before = row["since"], row["best"]
    return list(rows.values())


def worth_by_kind() -> dict[str, int]:
    """Return what the store holds of each kind, in money."""
    return dict(
        Balance.objects.filter(place=Place.STORE, qty__gt=0)
        .values("lot__item__kind")
        .annotate(worth=Sum("value"))
        .values_list("lot__item__kind", "worth")
    )


def lots_held(item: Item) -> list[Balance]:
    """Return what is held of an item anywhere inside the workshop, the oldest lot first."""
    return list(
        Balance.objects.filter(lot__item=item, place__in=INSIDE, qty__gt=0)
        .select_related("lot__receipt_line__receipt__supplier")
        .order_by("lot__began_on", "lot_id", "place")[:200]
    )


def lots_gone(item: Item) -> QuerySet[Lot]:
    """Return the lots of an item of which nothing is left inside, the newest first."""
    there = Balance.objects.filter(lot=OuterRef("pk"), place__in=INSIDE, qty__gt=0)
    return item.lots.filter(~Exists(there)).order_by("-began_on", "-id")


def moves_of(item: Item, *, most: int = 10) -> list[Move]:
    """
    Return the latest moves of an item, the newest first.

    They are in the lots that moved last, and which those are its index tells at once: an
    item with tens of thousands of moves shows as quickly as a new one.
    """
    last = Move.objects.filter(lot=OuterRef("pk")).order_by("-id").values("id")[:1]
    moved_last = (
        item.lots.annotate(last=Subquery(last))
        .order_by(F("last").desc(nulls_last=True))
        .values_list("pk")[:most]
    )
    latest = Move.objects.filter(lot__in=[pk for (pk,) in moved_last]).order_by("-id")
    found = Move.objects.filter(pk__in=list(latest.values_list("pk", flat=True)[:most]))
    return tell_items(found.select_related("entry", "lot").order_by("-id"), item)


def moves_of_lot(lot: Lot) -> QuerySet[Move]:
    """Return a lot's moves, the newest first."""
    return (
        Move.objects.filter(lot=lot)
        .select_related("entry", "entry__undoes", "entry__undone_by")
        .order_by("-id")
    )


def tell_items(moves: Iterable[Move], item: Item) -> list[Move]:
    """Give the moves the item that is already known, so that showing them asks nothing more."""
    moves = list(moves)
    for move in moves:
        move.lot.item = item
    return moves


# --- the level over time -------------------------------------------------------------------------


def levels(item: Item, *, today: date, days: int = 365) -> list[Level]:
    """
    Return the item's level in the store at the end of each day on which it changed, and today.

    Reckoned back from what is there now, so that only the moves since then are read.
    """
    begin = today - timedelta(days=days)
    now = _in_store(item.pk).aggregate(total=Coalesce(Sum("qty"), 0))["total"]
    changes = (
        Move.objects.filter(
            Q(from_place=Place.STORE) | Q(to_place=Place.STORE),
            lot__item=item,
            entry__on__gt=begin,
        )
        .values("entry__on")
        .annotate(
            change=Sum(
                Case(
                    When(to_place=Place.STORE, then=F("qty")),
                    default=-F("qty"),
                    output_field=BigIntegerField(),
                )
            )
        )
        .order_by("-entry__on")
    )
    level, back = now, [Level(on=today, value=now)]
    for row in changes:
        if row["entry__on"] < today:
            back.append(Level(on=row["entry__on"], value=level))
        level -= row["change"]
    back.append(Level(on=begin, value=level))
    return back[::-1]


# --- where it is used ----------------------------------------------------------------------------


@dataclass(slots=True)
class Use:
    """A formula or design that takes an item, and in which of its versions."""

    thing: object
    versions: list[int] = field(default_factory=list)
    current: bool = False


def formulas_with(item: Item) -> list[Use]:
    """Return the formulas that take an item, those whose newest version does first."""
    from pourwright.workshop.formulas.models import FormulaVersion

    newest = (
        FormulaVersion.objects.filter(formula=OuterRef("formula"))
        .order_by("-number")
        .values("number")[:1]
    )
    versions = (
        FormulaVersion.objects.filter(
            Q(waxes__item=item) | Q(oils__item=item) | Q(extras__item=item)
        )
        .annotate(newest=Subquery(newest))
        .select_related("formula")
        .order_by("formula__name", "number")
        .distinct()[:300]
    )
    return _by_thing((version.formula, version) for version in versions)


def designs_with(item: Item) -> list[Use]:
    """Return the designs that take a vessel, a wick or a part."""
    from pourwright.workshop.designs.models import DesignVersion

    newest = (
        DesignVersion.objects.filter(design=OuterRef("design"))
        .order_by("-number")
        .values("number")[:1]
    )
    versions = (
        DesignVersion.objects.filter(Q(vessel=item) | Q(wick=item) | Q(parts__item=item))
        .annotate(newest=Subquery(newest))
        .select_related("design")
        .order_by("design__name", "number")
        .distinct()[:300]
    )
    return _by_thing((version.design, version) for version in versions)


def _by_thing(pairs) -> list[Use]:
    uses: dict[int, Use] = {}
    for thing, version in pairs:
        use = uses.setdefault(thing.pk, Use(thing))
        use.versions.append(version.number)
        use.current = use.current or version.number == version.newest
    return sorted(uses.values(), key=lambda use: not use.current)


# --- receipts and the ledger ---------------------------------------------------------------------


def receipts(*, supplier: int | None = None) -> QuerySet[Receipt]:
    found = Receipt.objects.select_related("supplier", "entry__undone_by")
    if supplier:
        found = found.filter(supplier_id=supplier)
    return found.order_by("-on", "-id")


def sums_of(found: Sequence[Receipt]) -> dict[int, tuple[int, int]]:
    """Return for each receipt how many lines it has and what they cost without freight."""
    rows = (
        Receipt.objects.filter(pk__in=[receipt.pk for receipt in found])
        .annotate(lines_in=Count("lines"), price=Coalesce(Sum("lines__price_minor100"), Value(0)))
        .values_list("pk", "lines_in", "price")
    )
    return {pk: (lines, price) for pk, lines, price in rows}


def entries(*, kind: str = "", since: date | None = None, until: date | None = None):
    """
    Return the ledger's entries, the newest first; a kind and days narrow it.

    With days given it is in the order of the days, so that the index on them serves.
    """
    found = Entry.objects.select_related("undoes", "undone_by", "receipt", "pour")
    if kind in EntryKind.values:
        found = found.filter(kind=kind)
    if since:
        found = found.filter(on__gte=since)
    if until:
        found = found.filter(on__lte=until)
    return found.order_by("-on", "-id") if since or until else found.order_by("-id")


@dataclass(slots=True)
class Event:
    """An entry with the first of its moves and how many there are."""

    entry: Entry
    moves: list[Move] = field(default_factory=list)
    count: int = 0

    @property
    def more(self) -> int:
        return self.count - len(self.moves)


def with_moves(found: Sequence[Entry], *, most: int = 3) -> list[Event]:
    """Return the entries with at most so many moves of each: two queries, however long they are."""
    events = {entry.pk: Event(entry) for entry in found}
    counts = (
        Move.objects.filter(entry__in=list(events))
        .values("entry")
        .annotate(moves=Count("id"))
        .values_list("entry", "moves")
    )
    for pk, count in counts:
        events[pk].count = count
    first = (
        Move.objects.filter(entry__in=list(events))
        .annotate(
            place_in_entry=Window(RowNumber(), partition_by=F("entry"), order_by=F("id").asc())
        )
        .filter(place_in_entry__lte=most)
        .select_related("lot__item")
        .order_by("id")
    )
    by_entry: dict[int, list[Move]] = defaultdict(list)
    for move in first:
        by_entry[move.entry_id].append(move)
    for pk, event in events.items():
        event.moves = by_entry[pk]
    return list(events.values())


# --- suppliers -----------------------------------------------------------------------------------


def suppliers() -> QuerySet[Supplier]:
    """Return the suppliers with how many items they bring and when something last came."""
    brought = (
        Item.objects.filter(supplier=OuterRef("pk"), retired=False)
        .values("supplier")
        .annotate(number=Count("id"))
        .values("number")
    )
    last = Receipt.objects.filter(supplier=OuterRef("pk")).order_by("-on").values("on")[:1]
    return Supplier.objects.annotate(
        number=Coalesce(Subquery(brought), 0), last_on=Subquery(last)
    ).order_by("name")
