"""
What is new about the sheets behind a candle: grown old, waiting to be confirmed, or superseded.

Age is counted in whole months from the sheet's date; after how many it counts as old is the
workshop's setting.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.core.hazard.assess import Assessment, assess
from pourwright.core.hazard.model import Composition, Market
from pourwright.core.hazard.us import UsAssessment
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.hazard.drafts import rows_that_read
from pourwright.workshop.hazard.models import MELTED_KINDS, ItemComposition, State
from pourwright.workshop.hazard.records import Row, core_of, row_of
from pourwright.workshop.hazard.services import compositions_for, confirmed_for, whole_of
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Item, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetAge:
    """How old a sheet is on a day; ``date`` None where the sheet's date is not noted."""

    date: date | None
    months: int | None
    limit_months: int

    @property
    def undated(self) -> bool:
        return self.date is None

    @property
    def old(self) -> bool:
        return self.months is not None and self.months >= self.limit_months


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference between two compositions, in words that name what was and what is."""

    kind: Literal["added", "removed", "share", "classes", "figures"]
    substance: str
    before: str
    after: str

    @property
    def text(self) -> str:
        if self.kind == "added":
            return f"{self.substance} is new: {self.after}"
        if self.kind == "removed":
            return f"{self.substance} is gone; it was {self.before}"
        return f"{self.substance}: {self.before} becomes {self.after}"


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """
    Something about an item's sheet that everyone who uses it should see.

    "old": the sheet in force has passed the set age; "undated": its date is not noted; "waits": a
    newer composition is drafted and not confirmed; "newer": the oil's facts name a later sheet
    than the one that counts; "changed": another composition has counted since ``since``.
    """

    kind: Literal["old", "undated", "waits", "newer", "changed"]
    item: Item
    text: str
    counts: ItemComposition | None = None
    draft: ItemComposition | None = None
    changes: tuple[Change, ...] = ()


# --- age -----------------------------------------------------------------------------------------


def months_between(then: date, on: date) -> int:
    """
    Return the whole months from one day to another, not below zero.

    >>> months_between(date(2024, 1, 31), date(2024, 2, 29))
    0
    >>> months_between(date(2023, 5, 9), date(2026, 5, 9))
    36
    """
    months = 12 * (on.year - then.year) + on.month - then.month
    return max(0, months - (on.day < then.day))


def age_of(sheet_date: date | None, *, on: date, limit_months: int) -> SheetAge:
    return SheetAge(
        date=sheet_date,
        months=None if sheet_date is None else months_between(sheet_date, on),
        limit_months=limit_months,
    )


def sheet_age(item: Item, *, on: date, workshop: Workshop | None = None) -> SheetAge | None:
    """Return how old the sheet behind an item's confirmed composition is; None without one."""
    counts = confirmed_for([item]).get(item.pk)
    limit = (workshop or Workshop.load()).sheet_old_months
    return None if counts is None else age_of(counts.sheet_date, on=on, limit_months=limit)


# --- what changes --------------------------------------------------------------------------------


def what_changes(old: Iterable[Row], new: Iterable[Row]) -> tuple[Change, ...]:
    """Return what differs between two compositions, substance by substance, the new one's order."""
    before, after = _by_key(old), _by_key(new)
    changes = [
        change
        for key, rows in after.items()
        for change in (
            _differences(before[key], rows)
            if key in before
            else [_change("added", rows, after=_told(rows))]
        )
    ]
    changes += [
        _change("removed", rows, before=_told(rows))
        for key, rows in before.items()
        if key not in after
    ]
    return tuple(changes)


def _by_key(rows: Iterable[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row.key, []).append(row)
    return found


def _change(kind, rows: Sequence[Row], *, before: str = "", after: str = "") -> Change:
    return Change(kind=kind, substance=rows[0].name, before=before, after=after)


def _differences(old: Sequence[Row], new: Sequence[Row]) -> list[Change]:
    return [
        _change(kind, new, before=tell(old), after=tell(new))
        for kind, tell in (("share", _share), ("classes", _classes), ("figures", _figures))
        if tell(old) != tell(new)
    ]


def _told(rows: Sequence[Row]) -> str:
    return ", ".join([_share(rows), _classes(rows)])


def _share(rows: Sequence[Row]) -> str:
    return " and ".join(sorted(str(row.pct) for row in rows))


def _classes(rows: Sequence[Row]) -> str:
    words = sorted(
        {f"{hazard}{'*' if minimum else ''}" for row in rows for hazard, minimum in row.classes}
    )
    return ", ".join(words) or "no class"


def _figures(rows: Sequence[Row]) -> str:
    words: list[str] = []
    for row in rows:
        words += [
            f"M {word} {_plain(value)}"
            for word, value in (("acute", row.m_acute), ("chronic", row.m_chronic))
            if value is not None
        ]
        words += [f"{hazard} from {_plain(pct)} %" for hazard, pct in row.specific_limits.items()]
        words += [f"ATE {route} {_plain(value)}" for route, value in row.ate.items()]
        words += ["not additive"] if row.non_additive else []
        words += [f"{route} toxicity unknown" for route in sorted(row.unknown_acute)]
        words += ["aquatic hazard unknown"] if row.unknown_aquatic else []
    return ", ".join(words) or "no figures of its own"


def _plain(value: Fraction) -> str:
    return f"{float(value):g}"


# --- news ----------------------------------------------------------------------------------------


def news_of(item: Item, on: date, *, since: datetime | None = None) -> list[News]:
    """Return what is new about one item's sheet; see ``news_for``."""
    return news_for([item], on, since=since)


def news_for_version(
    version: FormulaVersion, on: date, *, since: datetime | None = None
) -> list[News]:
    """Return what is new about the sheets behind a formula's version, in the recipe's order."""
    return news_for(_items(formulas.recipe_of(version)), on, since=since)


def news_for(
    items: Iterable[Item],
    on: date,
    *,
    since: datetime | None = None,
    workshop: Workshop | None = None,
) -> list[News]:
    """
    Return what is new about the sheets of some items, in their order: a handful of queries.

    ``since``: when a design was released, say; what has counted anew after it is told with what
    changed. An item whose sheet is in order, or of which none is kept, has no news.
    """
    items = [item for item in items if item.kind in MELTED_KINDS]
    limit = (workshop or Workshop.load()).sheet_old_months
    counts = confirmed_for(items)
    drafts = _drafts(items)
    before = _counted_at(counts, since) if since else {}
    news: list[News] = []
    for item in items:
        record = counts.get(item.pk)
        if record is not None:
            # A later sheet that is noted already says more than that this one is old.
            news += _of_facts(item, record) or _of_age(item, record, on=on, limit_months=limit)
            if item.pk in before:
                news.append(_changed(item, record, before[item.pk]))
        if draft := drafts.get(item.pk):
            news.append(_waits(item, draft, record))
    return news


def _of_age(item, record: ItemComposition, *, on: date, limit_months: int) -> list[News]:
    age = age_of(record.sheet_date, on=on, limit_months=limit_months)
    if age.undated:
        text = f"The sheet behind {item.name} has no date noted, so its age is not known."
        return [News(kind="undated", item=item, text=text, counts=record)]
    if age.old:
        text = (
            f"The safety sheet of {item.name} is of {_day(record.sheet_date)}, "
            f"{age.months} months ago; ask its supplier for the present one."
        )
        return [News(kind="old", item=item, text=text, counts=record)]
    return []


def _of_facts(item, record: ItemComposition) -> list[News]:
    """Tell where the oil's own facts name a later sheet than the one that counts."""
    if item.kind != Kind.OIL or record.sheet_date is None:
        return []
    facts = formulas.facts_of(item, "oil")
    if facts is None or facts.sheet_date is None or facts.sheet_date <= record.sheet_date:
        return []
    text = (
        f"{item.name} is noted with a safety sheet of {_day(facts.sheet_date)}, but what counts "
        f"was read from the one of {_day(record.sheet_date)}: bring the newer sheet in."
    )
    return [News(kind="newer", item=item, text=text, counts=record)]


def _changed(item, record: ItemComposition, before: ItemComposition) -> News:
    changes = what_changes(rows_of(before), rows_of(record))
    text = (
        f"Another composition of {item.name} has counted since {_day(record.confirmed_at)}: "
        f"{_so_much(changes)}."
    )
    return News(kind="changed", item=item, text=text, counts=record, changes=changes)


def _waits(item, draft: ItemComposition, record: ItemComposition | None) -> News:
    rows, unread = rows_that_read(draft)
    changes = what_changes(rows_of(record), rows) if record else ()
    if record is None:
        text = f"A composition of {item.name} waits to be confirmed; until then none counts."
    else:
        newer = "newer " if _is_newer(draft, record) else ""
        text = f"A {newer}sheet of {item.name} waits to be confirmed: {_so_much(changes)}."
    if unread:
        text += f" {unread} of its rows cannot be read yet."
    return News(kind="waits", item=item, text=text, counts=record, draft=draft, changes=changes)


def _day(day: date | datetime) -> str:
    return f"{day.day} {day:%b %Y}"


def _is_newer(draft: ItemComposition, record: ItemComposition) -> bool:
    return bool(draft.sheet_date and record.sheet_date and draft.sheet_date > record.sheet_date)


def _so_much(changes: Sequence[Change]) -> str:
    if not changes:
        return "its substances are the same"
    return f"{len(changes)} thing{'' if len(changes) == 1 else 's'} in it would differ"


def rows_of(record: ItemComposition) -> list[Row]:
    return [row_of(kept) for kept in record.rows.all()]


def _drafts(items: Sequence[Item]) -> dict[int, ItemComposition]:
    """Return the newest draft of each item that has one."""
    found = ItemComposition.objects.filter(item__in=items, state=State.DRAFT).order_by("number")
    return {draft.item_id: draft for draft in found.select_related("item", "sheet")}


def _counted_at(
    counts: Mapping[int, ItemComposition], since: datetime
) -> dict[int, ItemComposition]:
    """Return what counted at a moment, for the items where something else counts today."""
    moved = [pk for pk, record in counts.items() if record.confirmed_at > since]
    found = (
        ItemComposition.objects.filter(item__in=moved, confirmed_at__lte=since, closed_at__gt=since)
        .order_by("confirmed_at")
        .select_related("item")
        .prefetch_related("rows")
    )
    return {record.item_id: record for record in found}


# --- what a waiting sheet would change -----------------------------------------------------------


def draft_as_core(draft: ItemComposition) -> Composition:
    """Return a draft as far as its rows can be read, to see what confirming it would change."""
    rows, _ = rows_that_read(draft)
    return core_of(draft, rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """
    What a draft would change on one design's label in one market, in words.

    ``before`` is "" where nothing counted before, and both may carry gaps of other materials.
    """

    design: DesignVersion
    market: str
    before: str
    after: str

    @property
    def differs(self) -> bool:
        return self.before != self.after


def effects_of(
    draft: ItemComposition,
    versions: Iterable[DesignVersion],
    *,
    on: date,
    workshop: Workshop,
) -> list[Effect]:
    """
    Return what a draft would make of each design's label, for each market it is sold in.

    The versions' recipes are read from what was prefetched (``formulas.with_parts``). Designs of
    one formula share the working out.
    """
    versions = list(versions)
    recipes = {
        version.formula_version_id: formulas.recipe_of(version.formula_version)
        for version in versions
    }
    now = compositions_for({item.pk: item for r in recipes.values() for item in _items(r)}.values())
    instead = {**now, draft.item_id: draft_as_core(draft)}
    told: dict[tuple[int, str], tuple[str, str]] = {}
    effects = []
    for version in versions:
        for market in designs.markets_of(version, workshop):
            key = (version.formula_version_id, market)
            if key not in told:
                recipe = recipes[version.formula_version_id]
                told[key] = (
                    _label_words(recipe, now, market=market, on=on),
                    _label_words(recipe, instead, market=market, on=on),
                )
            before, after = told[key]
            effects.append(Effect(design=version, market=market, before=before, after=after))
    return effects


def _items(recipe: formulas.Recipe) -> list[Item]:
    return [item for item, _ in (*recipe.oils, *recipe.extras, *recipe.waxes)]


def _label_words(
    recipe: formulas.Recipe, compositions: Mapping[int, Composition], *, market: str, on: date
) -> str:
    try:
        mixture = whole_of(recipe, compositions=compositions).mixture
        return words_of(assess(mixture, market=Market(market), on=on))
    except (BadInput, ValueError) as problem:
        return str(problem)


def words_of(found: Assessment | UsAssessment) -> str:
    """Return an assessment in one line: ban, signal word, codes, and whom it names."""
    if isinstance(found, UsAssessment):
        listed = [row.name for row in found.met]
        return ", ".join([found.signal_word or "", *listed]).strip(", ") or "nothing listed"
    label = found.label
    words = ["not to be sold"] if label.refused else []
    words += [label.signal_word] if label.signal_word else []
    words += [said.code for said in (*label.hazard_statements, *label.supplemental)]
    line = ", ".join(words) or "no hazard element"
    return f"{line}; names {', '.join(label.named_substances)}" if label.named_substances else line
