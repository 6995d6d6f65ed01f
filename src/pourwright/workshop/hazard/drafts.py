"""
A draft's rows: as they were typed, and as far as they can be read.

A draft keeps text, so that nothing typed is lost; each part of a row has one reader, which the
form, the paste box, a file from outside and the preview of what would change share.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.amounts import show_temperature
from pourwright.core.errors import BadInput
from pourwright.intake.compositions import (
    class_lines,
    estimate_lines,
    exact_words,
    limit_lines,
    read_ate,
    read_cas,
    read_classes,
    read_limits,
    read_m,
    read_name,
    read_routes,
    read_share,
    routes_words,
    share_words,
)
from pourwright.intake.sheets import RowFound, SheetReading
from pourwright.workshop.hazard.models import ItemComposition
from pourwright.workshop.hazard.records import Row, row_of

TEXTS = (
    "name", "cas", "share", "classes", "m_acute", "m_chronic", "limits", "ate", "unknown_acute",
)  # fmt: skip
TICKS = ("non_additive", "unknown_aquatic")


# --- a whole row ---------------------------------------------------------------------------------

READERS = {
    "name": read_name, "cas": read_cas, "share": read_share, "classes": read_classes,
    "m_acute": read_m, "m_chronic": read_m, "limits": read_limits, "ate": read_ate,
    "unknown_acute": read_routes,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Read:
    """A typed row read: the row where all of it could be, else what is wrong with which part."""

    row: Row | None
    wrong: Mapping[str, str]


def is_empty(typed: Mapping[str, object]) -> bool:
    return not any(str(typed.get(name) or "").strip() for name in TEXTS)


def read_row(typed: Mapping[str, object]) -> Read:
    """Read one row as it was typed."""
    values: dict[str, object] = {}
    wrong: dict[str, str] = {}
    for name, reader in READERS.items():
        try:
            values[name] = reader(str(typed.get(name) or ""))
        except BadInput as problem:
            wrong[name] = str(problem)
    if wrong:
        return Read(None, wrong)
    return Read(row_from(values, typed), {})


def row_from(values: Mapping[str, object], typed: Mapping[str, object]) -> Row:
    """Return the row of parts that were read and of ticks."""
    return Row(
        name=values["name"],
        cas=values["cas"],
        pct=values["share"],
        classes_text=str(typed.get("classes") or "").strip(),
        classes=values["classes"],
        m_acute=values["m_acute"],
        m_chronic=values["m_chronic"],
        specific_limits=values["limits"],
        ate=values["ate"],
        non_additive=bool(typed.get("non_additive")),
        unknown_acute=values["unknown_acute"],
        unknown_aquatic=bool(typed.get("unknown_aquatic")),
    )


def rows_that_read(draft: ItemComposition) -> tuple[list[Row], int]:
    """Return the rows of a draft that can be read, and how many cannot be yet."""
    reads = [read_row(typed) for typed in typed_rows(draft) if not is_empty(typed)]
    return [read.row for read in reads if read.row], sum(read.row is None for read in reads)


def typed_rows(draft: ItemComposition) -> list[dict]:
    return [row for row in draft.typed.get("rows", []) if isinstance(row, dict)]


# --- back to text --------------------------------------------------------------------------------


def typed_row(row: Row) -> dict:
    """Return a row that was read as text to start from."""
    return {
        "name": row.name,
        "cas": row.cas,
        "share": share_words(row.pct),
        "classes": row.classes_text or class_lines(row.classes),
        "m_acute": "" if row.m_acute is None else exact_words(row.m_acute),
        "m_chronic": "" if row.m_chronic is None else exact_words(row.m_chronic),
        "limits": limit_lines(row.specific_limits),
        "ate": estimate_lines(row.ate),
        "non_additive": row.non_additive,
        "unknown_acute": routes_words(row.unknown_acute),
        "unknown_aquatic": row.unknown_aquatic,
    }


def typed_of(composition: ItemComposition) -> dict:
    """Return a composition as text, to begin the next version from."""
    if composition.is_draft:
        return dict(composition.typed)
    return {
        "head": {
            "product_name": composition.product_name,
            "sheet_date": str(composition.sheet_date or ""),
            "revision": composition.revision,
            "flash_point_c": _temperature(composition.flash_point_c),
            "density_g_ml": ""
            if composition.density_g_ml is None
            else f"{composition.density_g_ml.normalize():f}",
            "note": composition.note,
            **{f"unknown_{route}": pct for route, pct in composition.unknown_acute.items()},
            "nothing_listed": not composition.rows.exists(),
        },
        "rows": [typed_row(row_of(record)) for record in composition.rows.all()],
    }


def _temperature(value) -> str:
    return "" if value is None else show_temperature(Fraction(value), "metric", style="full")


# --- from a sheet --------------------------------------------------------------------------------


def typed_from(reading: SheetReading) -> dict:
    """Return what was found in a sheet as text to look over and mend."""
    unknown = {
        f"unknown_{route}": exact_words(pct) for route, pct in reading.unknown_acute_pct.items()
    }
    density = reading.density_g_ml
    return {
        "head": {
            "product_name": reading.product_name[:200],
            "sheet_date": str(reading.sheet_date or ""),
            "revision": reading.revision[:40],
            "flash_point_c": _temperature(reading.flash_point_c),
            "density_g_ml": "" if density is None else exact_words(density),
            **unknown,
        },
        "rows": [_typed_found(row, place) for place, row in enumerate(reading.rows)],
    }


def _typed_found(row: RowFound, place: int) -> dict:
    classes = class_lines(row.classes)
    return {
        "name": row.name,
        "cas": row.cas,
        "share": row.pct_text if row.pct is None else share_words(row.pct),
        "classes": classes or row.classes_text,
        "m_acute": "" if row.m_acute is None else exact_words(row.m_acute),
        "m_chronic": "" if row.m_chronic is None else exact_words(row.m_chronic),
        "limits": limit_lines(row.specific_limits),
        "ate": estimate_lines(row.ate),
        "found": place,
    }


def places_of(reading: SheetReading) -> dict:
    """Return what the page needs to show where each thing was found, as JSON holds it."""
    return {
        "rows": [
            {
                "places": [[place.page, list(place.box)] for place in row.places],
                "doubts": list(row.doubts),
                "share": row.pct_text,
                "classes": row.classes_text,
            }
            for row in reading.rows
        ],
        "where": {name: [place.page, list(place.box)] for name, place in reading.where.items()},
        "texts": {
            "sheet_date": reading.sheet_date_text,
            "flash_point_c": reading.flash_point_text,
            "density_g_ml": reading.density_text,
            "unknown_acute": reading.unknown_acute_text,
        },
        "supplier": reading.supplier,
        "page_sizes": [list(size) for size in reading.page_sizes],
        "has_text": reading.has_text,
        "notes": list(reading.notes),
    }


def doubts_of(reading: Mapping, found: object) -> Iterable[str]:
    """Return what was doubtful about the row that was found at that place of the reading."""
    rows = reading.get("rows", [])
    if isinstance(found, int) and 0 <= found < len(rows):
        return rows[found].get("doubts", [])
    return []
