"""What the pages of compositions show: whose word each class is, and where each row was found."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import Authority, Entry, HazardClass, Substance
from pourwright.core.hazard.reference import reference
from pourwright.core.hazard.words import write_class
from pourwright.workshop.hazard import news, queries
from pourwright.workshop.hazard.drafts import (
    doubts_of,
    exact_words,
    read_cas,
    read_classes,
    rows_that_read,
    share_words,
)
from pourwright.workshop.hazard.forms import RowForm, Sheet
from pourwright.workshop.hazard.models import ItemComposition, State
from pourwright.workshop.hazard.records import Row, row_of
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Item

# Where nothing was found there is no telling on which page it stands; these are looked at first.
PAGES_UNFOUND = 4
MOST_PAGES = 12
MARGIN_PT = 14.0
FIELD_WORDS = {
    "product_name": "the product’s name",
    "sheet_date": "the date",
    "revision": "the revision",
    "flash_point_c": "the flash point",
    "density_g_ml": "the density",
    "supplier": "the supplier",
    "unknown_acute_pct": "unknown toxicity",
}


# --- whose word a class is -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A class with whose word it is, and how that was come by."""

    words: str
    source: str
    from_memory: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Harmonised:
    """
    What the shipped table knows of a CAS number beside a sheet's row.

    ``adds`` are harmonised classes of which the sheet says nothing; ``replaces`` are the sheet's
    classes in whose place the harmonised one counts; ``agrees``: the two say the same. ``usual``
    is what suppliers' sheets usually say of a substance without a harmonised entry, counted where
    this sheet says nothing.
    """

    name: str
    classes: tuple[Said, ...] = ()
    adds: tuple[str, ...] = ()
    agrees: bool = False
    replaces: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    usual: tuple[Said, ...] = ()
    note: str = ""


def harmonised_for(
    cas: str, classes: Sequence[tuple[HazardClass, bool]], *, read: bool = True
) -> Harmonised | None:
    """Return what the shipped table says of a CAS number, beside the classes of a sheet's row."""
    known = reference().get(cas)
    if known is None:
        return None
    law = [e for e in known.entries if e.authority is Authority.HARMONISED]
    rest = [e for e in known.entries if e.authority is not Authority.HARMONISED]
    given = [hazard for hazard, _ in classes]
    adds = tuple(_words(e) for e in law if not any(_same(e.hazard, one) for one in given))
    replaces = tuple(
        f"{write_class(one)} by {_words(e)}"
        for e in law
        for one in given
        if _same(e.hazard, one) and _plainly(e.hazard) != _plainly(one)
    )
    return Harmonised(
        name=known.name,
        classes=tuple(_said(entry) for entry in law),
        adds=adds if read and given else (),
        agrees=read and 0 < len(law) == len(given) and not adds and not replaces,
        replaces=replaces,
        figures=_figures(known),
        usual=() if given else tuple(_said(entry) for entry in rest),
        note=known.note,
    )


def _same(one: HazardClass, other: HazardClass) -> bool:
    """Return whether two speak of the same class, whatever their categories."""
    return one.kind == other.kind and one.route == other.route


def _plainly(hazard: HazardClass) -> tuple:
    return hazard.kind, hazard.category, hazard.route


def _words(entry: Entry) -> str:
    return write_class(entry.hazard, minimum=entry.minimum)


def _said(entry: Entry) -> Said:
    return Said(
        words=_words(entry), source=entry.source, from_memory=entry.status.startswith("from memory")
    )


def _figures(known: Substance) -> tuple[str, ...]:
    words = [
        f"M {word} {exact_words(value)}"
        for word, value in (("acute", known.m_acute), ("chronic", known.m_chronic))
        if value is not None
    ]
    words += [f"ATE {route} {exact_words(value)}" for route, value in known.ate.items()]
    words += [
        f"{write_class(hazard)} from {exact_words(pct)} %"
        for hazard, pct in known.specific_limits.items()
    ]
    return tuple(words)


# --- a composition that stands -------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRow:
    """A substance of a composition as the page shows it."""

    row: Row
    share: str
    classes: tuple[str, ...]
    figures: tuple[str, ...]
    law: Harmonised | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One composition with everything the page says of it."""

    record: ItemComposition
    rows: tuple[ShownRow, ...]
    age: news.SheetAge
    undisclosed_pct: str
    unknown: tuple[tuple[str, str], ...]

    @property
    def from_memory(self) -> bool:
        return any(
            said.from_memory
            for row in self.rows
            if row.law
            for said in (*row.law.classes, *row.law.usual)
        )


def told_of(record: ItemComposition, *, on: date, workshop: Workshop) -> Told:
    """Return a confirmed composition with whose word each class is."""
    rows = [row_of(kept) for kept in record.rows.all()]
    left = max(0, 100 - sum(row.pct.high for row in rows))
    return Told(
        record=record,
        rows=tuple(_shown(row) for row in rows),
        age=news.age_of(record.sheet_date, on=on, limit_months=workshop.sheet_old_months),
        undisclosed_pct=f"{float(left):.3g}",
        unknown=tuple((route, pct) for route, pct in record.unknown_acute.items()),
    )


def _shown(row: Row) -> ShownRow:
    figures = [
        f"M {word} {exact_words(value)}"
        for word, value in (("acute", row.m_acute), ("chronic", row.m_chronic))
        if value is not None
    ]
    figures += [f"ATE {route} {exact_words(value)}" for route, value in row.ate.items()]
    figures += [
        f"{write_class(hazard)} from {exact_words(pct)} %"
        for hazard, pct in row.specific_limits.items()
    ]
    figures += ["not additive for skin and eyes"] if row.non_additive else []
    figures += [f"{route} toxicity unknown" for route in sorted(row.unknown_acute)]
    figures += ["harm in water unknown"] if row.unknown_aquatic else []
    return ShownRow(
        row=row,
        share=share_words(row.pct),
        classes=tuple(write_class(hazard, minimum=minimum) for hazard, minimum in row.classes),
        figures=tuple(figures),
        law=harmonised_for(row.cas, row.classes),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known of what an item is made of: what counts, what waits, and what is new."""

    told: Told | None
    draft: ItemComposition | None
    news: tuple[news.News, ...]


def known_of(item: Item, *, on: date, workshop: Workshop) -> Known:
    """Return what an item's page says of its composition."""
    drafts = item.compositions.filter(state=State.DRAFT).select_related("sheet")
    counts = (
        item.compositions.filter(state=State.CONFIRMED)
        .select_related("sheet", "item")
        .prefetch_related("rows")
        .first()
    )
    return Known(
        told=None if counts is None else told_of(counts, on=on, workshop=workshop),
        draft=drafts.order_by("-number").first(),
        news=tuple(news.news_for([item], on, workshop=workshop)),
    )


# --- a draft beside its sheet --------------------------------------------------------------------


@dataclass(slots=True, kw_only=True)
class Card:
    """One row of the form, with what was doubtful about it and where it stands on the sheet."""

    form: RowForm
    number: int
    doubts: Sequence[str] = ()
    marks: Sequence[tuple[str, int]] = ()
    said: str = ""
    law: Harmonised | None = None


def cards(sheet: Sheet, draft: ItemComposition | None) -> list[Card]:
    """Return the rows of a form beside what the sheet said of each."""
    reading = draft.reading if draft else {}
    shown = []
    for number, form in enumerate(sheet.rows.forms, 1):
        typed = form.typed()
        found = typed["found"]
        shown.append(
            Card(
                form=form,
                number=number,
                doubts=doubts_of(reading, found),
                marks=_marks(reading, found),
                said=_sheet_said(reading, found, typed),
                law=_law_of(typed),
            )
        )
    return shown


def _law_of(typed: dict) -> Harmonised | None:
    try:
        cas = read_cas(typed["cas"])
    except BadInput:
        return None
    try:
        return harmonised_for(cas, read_classes(typed["classes"]))
    except BadInput:
        return harmonised_for(cas, (), read=False)


def _marks(reading: dict, found: object) -> list[tuple[str, int]]:
    rows = reading.get("rows", [])
    if not isinstance(found, int) or not 0 <= found < len(rows):
        return []
    return [
        (f"mark-{found}-{place}", page)
        for place, (page, _) in enumerate(rows[found].get("places", []))
    ]


def _sheet_said(reading: dict, found: object, typed: dict) -> str:
    """Return the sheet's own words for a row's classes, where the box holds others."""
    rows = reading.get("rows", [])
    if not isinstance(found, int) or not 0 <= found < len(rows):
        return ""
    said = " ".join(str(rows[found].get("classes") or "").split())
    return said if said and said != " ".join(typed["classes"].split()) else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A box on a page, in the page's points."""

    key: str
    title: str
    x: float
    y: float
    width: float
    height: float
    row: int | None = None


@dataclass(slots=True, kw_only=True)
class ShownPage:
    """
    A page of a sheet with what was found on it, in points.

    What is shown is the part with the marks and a margin about it, at least a quarter of the page.
    """

    number: int
    width: float
    height: float
    marks: list[Mark] = field(default_factory=list)

    @property
    def left(self) -> float:
        return round(max(0.0, min(mark.x for mark in self.marks) - MARGIN_PT), 1)

    @property
    def across(self) -> float:
        right = max(mark.x + mark.width for mark in self.marks) + MARGIN_PT
        return round(max(min(right, self.width) - self.left, self.width / 2), 1)

    @property
    def top(self) -> float:
        return round(max(0.0, min(mark.y for mark in self.marks) - 2 * MARGIN_PT), 1)

    @property
    def down(self) -> float:
        bottom = max(mark.y + mark.height for mark in self.marks) + MARGIN_PT
        return round(max(min(bottom, self.height) - self.top, self.height / 8), 1)


def pages_of(draft: ItemComposition | None) -> list[ShownPage]:
    """Return the pages to show beside a draft's form: those on which something was found."""
    if draft is None or draft.sheet is None or not draft.reading.get("page_sizes"):
        return []
    sizes = draft.reading["page_sizes"]
    pages = {
        number: ShownPage(number=number, width=width, height=height)
        for number, (width, height) in enumerate(sizes, 1)
    }
    for place, row in enumerate(draft.reading.get("rows", [])):
        for part, (number, box) in enumerate(row.get("places", [])):
            if page := pages.get(number):
                key = f"mark-{place}-{part}"
                page.marks.append(_mark(page, key, f"Row {place + 1}", box, row=place))
    for name, (number, box) in draft.reading.get("where", {}).items():
        if page := pages.get(number):
            title = FIELD_WORDS.get(name, name.replace("_", " "))
            page.marks.append(_mark(page, f"mark-{name}", title, box))
    found = [page for page in pages.values() if page.marks]
    return found[:MOST_PAGES] or list(pages.values())[:PAGES_UNFOUND]


def _mark(
    page: ShownPage, key: str, title: str, box: Sequence[float], *, row: int | None = None
) -> Mark:
    left, top, right, bottom = (min(max(float(part), 0.0), 1.0) for part in box)
    return Mark(
        key=key,
        title=title,
        x=round(left * page.width, 1),
        y=round(top * page.height, 1),
        width=round(max(right - left, 0.002) * page.width, 1),
        height=round(max(bottom - top, 0.002) * page.height, 1),
        row=row,
    )


# --- what confirming changes ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """What confirming a draft would change: in the composition, and on each design's label."""

    before: ItemComposition | None
    changes: tuple[news.Change, ...]
    unread: int
    effects: tuple[news.Effect, ...]
    older: bool


def change_of(draft: ItemComposition, *, on: date, workshop: Workshop) -> Changed | None:
    """Return what a draft would change, as far as its rows can be read; None for an empty one."""
    rows, unread = rows_that_read(draft)
    if not rows and not unread:
        return None
    before = news.confirmed_for([draft.item]).get(draft.item_id)
    dates = (draft.sheet_date, before and before.sheet_date)
    return Changed(
        before=before,
        changes=news.what_changes(news.rows_of(before), rows) if before else (),
        unread=unread,
        effects=tuple(
            news.effects_of(draft, queries.designs_with(draft.item), on=on, workshop=workshop)
        ),
        older=all(dates) and dates[0] < dates[1],
    )


# --- the shipped table ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceRow:
    """A shipped substance as its page shows it."""

    substance: Substance
    classes: tuple[tuple[str, Said], ...]
    figures: tuple[str, ...]


def reference_rows() -> list[ReferenceRow]:
    """Return the shipped substances by name."""
    return [
        ReferenceRow(
            substance=known,
            classes=tuple(_with_authority(known.entries)),
            figures=_figures(known),
        )
        for known in sorted(reference().values(), key=lambda known: known.name.casefold())
    ]


AUTHORITIES = {
    Authority.HARMONISED: "harmonised entry",
    Authority.SUPPLIER: "usual on suppliers’ sheets",
    Authority.UNKNOWN: "not known",
}


def _with_authority(entries: Iterable[Entry]) -> Iterable[tuple[str, Said]]:
    for entry in entries:
        yield AUTHORITIES[entry.authority], _said(entry)
