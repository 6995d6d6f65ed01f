"""
What changes compositions and sheets: keeping a file, drafting, confirming, withdrawing.

A sheet's file is kept by what is in it, so that the same sheet under two oils is stored once. Only
what the maker confirms counts; confirmed ones are never edited.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from django.db import transaction
from django.db.models import Max

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import Route
from pourwright.workshop.hazard.models import (
    MELTED_KINDS,
    CompositionRow,
    ItemComposition,
    Made,
    SafetySheet,
    SheetFile,
    State,
)
from pourwright.workshop.hazard.records import BadRow, Row, record_of
from pourwright.workshop.stores import items
from pourwright.workshop.stores.models import Item, Kind

MOST_BYTES = 20 * 1024 * 1024
MOST_ROWS = 400
# A PDF begins with this mark, by its own standard within the first 1024 bytes (ISO 32000-1, from
# memory).
PDF_MARK = b"%PDF-"
WITHIN = 1024


class CannotKeep(BadInput):
    """What was given is no composition or no sheet that can be kept; ``field`` names where."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


# --- sheets --------------------------------------------------------------------------------------


def check_file(content: bytes) -> None:
    """Refuse what is no PDF, or too large to keep."""
    if len(content) > MOST_BYTES:
        raise CannotKeep(
            f"The file is {len(content) / 2**20:.1f} MB; a sheet of up to "
            f"{MOST_BYTES // 2**20} MB is kept. Ask the supplier for a smaller one, or type it.",
            field="file",
        )
    if PDF_MARK not in content[:WITHIN]:
        raise CannotKeep(
            "This is no PDF. Save the sheet as PDF, or type what is in it.", field="file"
        )


def keep_sheet(
    content: bytes,
    *,
    name: str,
    at: datetime,
    pages: int | None = None,
    has_text: bool | None = None,
) -> SafetySheet:
    """Keep a sheet's file, or return the one that holds the very same bytes."""
    check_file(content)
    sha256 = hashlib.sha256(content).hexdigest()
    with transaction.atomic():
        sheet, made = SafetySheet.objects.get_or_create(
            sha256=sha256,
            defaults={
                "name": plain_name(name),
                "size": len(content),
                "pages": pages,
                "has_text": has_text,
                "added_at": at,
            },
        )
        if made:
            SheetFile.objects.create(sheet=sheet, content=content)
    return sheet


def plain_name(name: str) -> str:
    """
    Return a file's name without folders and without what a system may trip over.

    >>> plain_name("../../etc/Fig & leaf (2025).PDF")
    'Fig _ leaf (2025).pdf'
    """
    last = re.split(r"[\\/]", name)[-1]
    stem = re.sub(r"\.pdf$", "", last, flags=re.IGNORECASE)
    stem = re.sub(r"[^\w .,()+-]", "_", stem).strip(" .")
    return f"{stem[:110] or 'safety sheet'}.pdf"


# --- drafts --------------------------------------------------------------------------------------


def begin(
    item: Item,
    *,
    made: str,
    at: datetime,
    typed: Mapping[str, object] | None = None,
    reading: Mapping[str, object] | None = None,
    sheet: SafetySheet | None = None,
) -> ItemComposition:
    """Begin a composition of an item; it counts for nothing until it is confirmed."""
    refuse_unmelted(item)
    with transaction.atomic():
        Item.objects.select_for_update().get(pk=item.pk)
        return ItemComposition.objects.create(
            item=item,
            number=_next_number(item),
            made=made,
            sheet=sheet,
            typed=dict(typed or {}),
            reading=dict(reading or {}),
            made_at=at,
            **_dated(typed),
        )


def keep_draft(composition: ItemComposition, *, typed: Mapping[str, object]) -> None:
    """Keep a draft as it was typed, readable or not."""
    with transaction.atomic():
        kept = _locked(composition)
        _only_draft(kept)
        kept.typed = dict(typed)
        for name, value in _dated(typed).items():
            setattr(kept, name, value)
        kept.save()


def _dated(typed: Mapping[str, object] | None) -> dict[str, object]:
    """Return the sheet's date and revision of what was typed, so that a draft shows its age."""
    head = (typed or {}).get("head") or {}
    found: dict[str, object] = {}
    try:
        found["sheet_date"] = date.fromisoformat(str(head.get("sheet_date") or ""))
    except ValueError:
        found["sheet_date"] = None
    found["revision"] = str(head.get("revision") or "")[:40]
    return found


def discard(composition: ItemComposition) -> None:
    """Throw a draft away, and its sheet where nothing else rests on it."""
    with transaction.atomic():
        kept = _locked(composition)
        _only_draft(kept)
        sheet = kept.sheet
        kept.delete()
        if sheet is not None and not sheet.compositions.exists():
            sheet.delete()


def redraft(composition: ItemComposition, *, at: datetime) -> ItemComposition:
    """Begin the next version from one that stands, its sheet with it."""
    from pourwright.workshop.hazard.drafts import typed_of

    return begin(
        composition.item,
        made=composition.made,
        at=at,
        typed=typed_of(composition),
        reading=composition.reading,
        sheet=composition.sheet,
    )


# --- confirming ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What a sheet says of the whole material. ``unknown_acute`` in percent of it, by route."""

    product_name: str = ""
    sheet_date: date | None = None
    revision: str = ""
    flash_point_c: Decimal | None = None
    density_g_ml: Decimal | None = None
    unknown_acute: Mapping[Route, Fraction] = field(default_factory=dict)
    note: str = ""
    nothing_listed: bool = False


def confirm(
    composition: ItemComposition,
    *,
    head: Head,
    rows: Sequence[Row],
    facts_too: bool = True,
    by: str,
    on: date,
    at: datetime,
) -> ItemComposition:
    """
    Make a draft count from now on; what counted before is superseded.

    ``facts_too``: an oil's flash point, density and sheet go to its facts, where the pour's
    cautions read them. Raises ``CannotKeep`` or ``BadRow`` for what cannot be, ``BadFact`` for a
    figure that no oil has.
    """
    check(head, rows, on=on)
    with transaction.atomic():
        Item.objects.select_for_update().get(pk=composition.item_id)
        kept = _locked(composition)
        _only_draft(kept)
        kept.rows.all().delete()
        CompositionRow.objects.bulk_create(
            _record(row, composition=kept, place=place) for place, row in enumerate(rows, 1)
        )
        # Without a signal: what watches the releases must not see the moment between the two.
        ItemComposition.objects.filter(item=kept.item_id, state=State.CONFIRMED).update(
            state=State.SUPERSEDED, closed_at=at
        )
        for name in (
            "product_name", "sheet_date", "revision", "flash_point_c", "density_g_ml", "note",
        ):  # fmt: skip
            setattr(kept, name, getattr(head, name))
        kept.unknown_acute = {str(route): str(pct) for route, pct in head.unknown_acute.items()}
        kept.typed = {}
        kept.state, kept.confirmed_at, kept.confirmed_by = State.CONFIRMED, at, by[:80]
        kept.save()
        if facts_too and kept.item.kind == Kind.OIL:
            _tell_facts(kept, on=on)
    return kept


def settle(
    item: Item,
    *,
    draft: ItemComposition | None,
    head: Head,
    rows: Sequence[Row],
    facts_too: bool,
    by: str,
    on: date,
    at: datetime,
    made: str = Made.TYPED,
) -> ItemComposition:
    """Confirm a draft, or what was never kept as one: both steps or none."""
    with transaction.atomic():
        begun = draft or begin(item, made=made, at=at)
        return confirm(begun, head=head, rows=rows, facts_too=facts_too, by=by, on=on, at=at)


def bring_in(
    item: Item, *, head: Head, rows: Sequence[Row], by: str, on: date, at: datetime
) -> ItemComposition:
    """
    Confirm what a file says of an item, where nothing counts for it yet or an older sheet does.

    The facts of the item stay: a file of supplies has them.
    """
    with transaction.atomic():
        counts = item.compositions.filter(state=State.CONFIRMED).first()
        dates = (counts and counts.sheet_date, head.sheet_date)
        if counts is not None and not (all(dates) and dates[0] < dates[1]):
            raise CannotKeep(
                f"There is a composition of {item.name} already"
                + (f", by a sheet of {counts.sheet_date:%Y-%m-%d}" if counts.sheet_date else "")
                + ". One of a later sheet takes its place; mend this one on its page."
            )
        return settle(
            item, draft=None, head=head, rows=rows, facts_too=False, by=by, on=on, at=at,
            made=Made.FILE,
        )  # fmt: skip


def check(head: Head, rows: Sequence[Row], *, on: date) -> None:
    """Raise ``CannotKeep`` for what no sheet can say."""
    if not rows and not head.nothing_listed:
        raise CannotKeep(
            "There is no substance in it. Enter at least one, or tick that the sheet lists none.",
            field="nothing_listed",
        )
    if rows and head.nothing_listed:
        raise CannotKeep(
            f"{len(rows)} substances are entered, and it is ticked that the sheet lists none; "
            "take one of them back.",
            field="nothing_listed",
        )
    if len(rows) > MOST_ROWS:
        raise CannotKeep(f"There are {len(rows)} substances; up to {MOST_ROWS} are kept.")
    if head.sheet_date is not None and not date(1980, 1, 1) <= head.sheet_date <= on:
        raise CannotKeep(
            f"The sheet is dated {head.sheet_date:%Y-%m-%d}; it lies between 1980 and today.",
            field="sheet_date",
        )
    least = sum((row.pct.low or Fraction(0) for row in rows), Fraction(0))
    if least > 100:
        raise CannotKeep(
            f"The lower ends of the shares come to {float(least):g} %, and there are only 100. "
            "Is a row in it twice, or a share misread?"
        )
    known: dict[tuple, int] = {}
    for place, row in enumerate(rows, 1):
        told = (row.key, row.name.casefold(), str(row.pct))
        if told in known:
            raise CannotKeep(
                f"{row.name} ({row.pct}) stands in rows {known[told]} and {place}, the same in "
                "both; take one of them out."
            )
        known[told] = place
    for route, pct in head.unknown_acute.items():
        if not 0 <= pct <= 100:
            raise CannotKeep(
                f"{float(pct):g} % of unknown {route} toxicity; it lies between 0 and 100 %.",
                field=f"unknown_{route}",
            )


def _record(row: Row, *, composition: ItemComposition, place: int) -> CompositionRow:
    try:
        return record_of(row, composition=composition, place=place)
    except BadRow as problem:
        raise BadRow(f"Row {place}, {row.name}: {problem}", field=problem.field) from problem


def _tell_facts(composition: ItemComposition, *, on: date) -> None:
    """Put the sheet's flash point, density, date and revision among the oil's facts."""
    told = {
        "flash_point_c": composition.flash_point_c,
        "density_g_ml": composition.density_g_ml,
        "sheet_date": composition.sheet_date,
        "sheet_revision": composition.revision or None,
    }
    known = {name: value for name, value in told.items() if value is not None}
    if composition.sheet_date is not None:
        known.setdefault("sheet_revision", "")  # an older sheet's revision is not this one's
    if known:
        items.change_item(Item.objects.get(pk=composition.item_id), facts=known, on=on)


def withdraw(composition: ItemComposition, *, reason: str, at: datetime) -> None:
    """Take back what counts; until another is confirmed the item has no composition."""
    if not reason.strip():
        raise CannotKeep("Say why it no longer counts.", field="reason")
    with transaction.atomic():
        Item.objects.select_for_update().get(pk=composition.item_id)
        kept = _locked(composition)
        if kept.state != State.CONFIRMED:
            raise CannotKeep(f"This composition is {kept.get_state_display()}; it does not count.")
        kept.state, kept.closed_at, kept.reason = State.WITHDRAWN, at, reason.strip()[:300]
        kept.save()


# --- small things --------------------------------------------------------------------------------


def refuse_unmelted(item: Item) -> None:
    if item.kind not in MELTED_KINDS:
        raise CannotKeep(
            f"{item.name} is kept as {item.get_kind_display()}; only what goes into the melt has "
            "a composition: waxes, oils, dyes and additives."
        )


def _next_number(item: Item) -> int:
    last = ItemComposition.objects.filter(item=item).aggregate(last=Max("number"))["last"]
    return (last or 0) + 1


def _locked(composition: ItemComposition) -> ItemComposition:
    return (
        ItemComposition.objects.select_for_update(of=("self",))
        .select_related("item", "sheet")
        .get(pk=composition.pk)
    )


def _only_draft(composition: ItemComposition) -> None:
    if composition.state != State.DRAFT:
        raise CannotKeep(
            f"This composition is {composition.get_state_display()} and stands as it is; begin "
            "the next one from it."
        )
