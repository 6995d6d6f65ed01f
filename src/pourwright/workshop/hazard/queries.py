"""What the pages of compositions read: lists a page at a time, without a query for each row."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import (
    Case,
    Exists,
    OuterRef,
    Q,
    QuerySet,
    SmallIntegerField,
    Subquery,
    Value,
    When,
)

from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.hazard.models import (
    MELTED_KINDS,
    ItemComposition,
    SafetySheet,
    State,
)
from pourwright.workshop.hazard.news import SheetAge, age_of
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Item, Kind

SHOWS = (
    ("", "everything"),
    ("lacking", "without a composition"),
    ("waits", "waiting to be confirmed"),
    ("old", "with a sheet grown old"),
)
KINDS = (
    (Kind.OIL, "Fragrance oils"),
    (Kind.DYE, "Dyes"),
    (Kind.ADDITIVE, "Additives"),
    (Kind.WAX, "Waxes"),
)
MOST_DESIGNS = 40


@dataclass(slots=True)
class Listed:
    """An item with what is known of its composition."""

    item: Item
    counts: ItemComposition | None = None
    draft: ItemComposition | None = None
    age: SheetAge | None = None


def items(*, kind: str = "", show: str = "", on: date, workshop: Workshop) -> QuerySet[Item]:
    """Return what melts into candles and is not retired: oils first, then by name."""
    found = Item.objects.filter(kind__in=[kind] if kind else MELTED_KINDS, retired=False)
    if show == "lacking":
        found = found.filter(~Exists(_of(State.CONFIRMED)))
    if show == "waits":
        found = found.filter(Exists(_of(State.DRAFT)))
    if show == "old":
        eldest = _months_before(on, workshop.sheet_old_months)
        found = found.filter(Exists(_of(State.CONFIRMED).filter(sheet_date__lte=eldest)))
    in_order = Case(
        *(When(kind=kind, then=Value(place)) for place, (kind, _) in enumerate(KINDS)),
        output_field=SmallIntegerField(),
    )
    return found.select_related("supplier").order_by(in_order, "name", "id")


def _of(state: str) -> QuerySet[ItemComposition]:
    return ItemComposition.objects.filter(item=OuterRef("pk"), state=state)


def _months_before(on: date, months: int) -> date:
    """Return the day so many months before, or the last of a month that is shorter."""
    year, month = divmod(12 * on.year + on.month - 1 - months, 12)
    year, day = max(year, 1), on.day
    while True:
        try:
            return date(year, month + 1, day)
        except ValueError:
            day -= 1


def listed(found: Iterable[Item], *, on: date, workshop: Workshop) -> list[Listed]:
    """Return the items with their compositions: one query more for all of them."""
    rows = {item.pk: Listed(item) for item in found}
    records = ItemComposition.objects.filter(
        item__in=list(rows), state__in=[State.CONFIRMED, State.DRAFT]
    )
    for record in records.select_related("sheet").defer("typed", "reading").order_by("number"):
        row = rows[record.item_id]
        if record.is_draft:
            row.draft = record
        else:
            row.counts = record
            row.age = age_of(record.sheet_date, on=on, limit_months=workshop.sheet_old_months)
    return list(rows.values())


def sheets_of(item: Item) -> list[SafetySheet]:
    """Return the sheets kept with an item, the newest first."""
    return list(
        SafetySheet.objects.filter(compositions__item=item).distinct().order_by("-added_at")
    )


def designs_with(item: Item) -> list[DesignVersion]:
    """Return the newest versions of designs whose formula takes an item, by name."""
    newest = (
        DesignVersion.objects.filter(design=OuterRef("design"))
        .order_by("-number")
        .values("number")[:1]
    )
    version = "formula_version"
    return list(
        DesignVersion.objects.annotate(newest=Subquery(newest))
        .filter(
            Q(**{f"{version}__oils__item": item})
            | Q(**{f"{version}__extras__item": item})
            | Q(**{f"{version}__waxes__item": item}),
            number=Subquery(newest),
            design__retired=False,
        )
        .select_related("design", "formula_version__formula")
        .prefetch_related(*formulas.with_parts("formula_version__"))
        .order_by("design__name")
        .distinct()[:MOST_DESIGNS]
    )
