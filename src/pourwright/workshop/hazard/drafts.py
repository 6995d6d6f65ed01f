"""
A draft's rows: as they were typed, and as far as they can be read.

A draft keeps text, so that nothing typed is lost; each part of a row has one reader here, which
the form, the paste box and the preview of what would change share. Readers raise ``BadInput``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.amounts import show_temperature
from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import HazardClass, Range, Route
from pourwright.core.hazard.reference import check_cas
from pourwright.core.hazard.words import parse_class, parse_range, write_class
from pourwright.intake.sheets import RowFound, SheetReading
from pourwright.workshop.hazard.models import ItemComposition
from pourwright.workshop.hazard.records import Row, row_of

TEXTS = ("name", "cas", "share", "classes", "m_acute", "m_chronic", "limits", "ate")
TICKS = ("non_additive", "unknown_aquatic")
LONGEST_NAME = 300
LONGEST_CLASSES = 1000
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?")
_BELONGS = re.compile(
    r"\(?(?:(?:EUH|H) ?\d{3}[FDfdi]{0,2}|oral|dermal|skin|inhalation|gas|vapours?|dust|mist)\)?",
    re.IGNORECASE,
)
# How routes are named on sheets; the unit of each is the record's (mg/kg, ppm, mg/l).
ROUTES = {
    "oral": Route.ORAL, "dermal": Route.DERMAL, "skin": Route.DERMAL, "gas": Route.GAS,
    "vapour": Route.VAPOUR, "vapor": Route.VAPOUR, "vapours": Route.VAPOUR, "dust": Route.DUST,
    "mist": Route.DUST, "dust/mist": Route.DUST, "dusts": Route.DUST,
}  # fmt: skip


class Unreadable(BadInput):
    """A part of a row that cannot be read."""


# --- one reader a part ---------------------------------------------------------------------------


def read_name(text: str) -> str:
    name = " ".join(text.split())
    if not name:
        raise Unreadable("A substance needs its name; write it as the sheet does.")
    if len(name) > LONGEST_NAME:
        raise Unreadable(f"The name has {len(name)} letters; {LONGEST_NAME} are kept. Shorten it.")
    return name


def read_cas(text: str) -> str:
    return check_cas(text) if text.strip() else ""


def read_share(text: str) -> Range:
    if not text.strip():
        raise Unreadable("Its share is missing; write it as the sheet does, such as “5 - <10 %”.")
    return parse_range(text)


def read_classes(text: str) -> tuple[tuple[HazardClass, bool], ...]:
    """
    Return the classes of a list, one a line or with commas or semicolons between.

    A statement behind its class ("Acute Tox. 4, H302 oral") belongs to it; "none" is no class.
    """
    if len(text) > LONGEST_CLASSES:
        raise Unreadable(f"The classes take {len(text)} letters; {LONGEST_CLASSES} are kept.")
    found: list[tuple[HazardClass, bool]] = []
    for line in text.splitlines():
        for one in _classes_in(line.strip(" .;,")):
            if one not in found:
                found.append(one)
    return tuple(found)


NO_CLASS = {"", "-", "–", "none", "not classified", "no class", "n/a"}


def _classes_in(line: str) -> list[tuple[HazardClass, bool]]:
    if line.casefold() in NO_CLASS:
        return []
    words: list[str] = []
    for piece in (piece.strip() for piece in re.split(r"[;,]", line)):
        # A statement or a route alone belongs to the class before it.
        if words and _BELONGS.fullmatch(piece):
            words[-1] = f"{words[-1]} {piece}"
        elif piece:
            words.append(piece)
    return [parse_class(word) for word in words]


def read_m(text: str) -> Fraction | None:
    """Read an M-factor: 1, 10, 100 and so on; "M = 10" too."""
    if not text.strip():
        return None
    bare = re.sub(r"^\s*M\s*[=:]?\s*", "", text, flags=re.IGNORECASE).strip()
    value = _number(bare, "An M-factor", "10")
    if value < 1 or value > 1_000_000_000:
        raise Unreadable(f"An M-factor of {bare} does not exist; it is 1, 10, 100 and so on.")
    return value


def read_limits(text: str) -> dict[HazardClass, Fraction]:
    """Read specific limits, one a line: a class and a percentage, such as "Skin Sens 1A 0.01"."""
    found: dict[HazardClass, Fraction] = {}
    for line in _lines(text):
        hazard, value = _class_and_number(line)
        if not 0 < value <= 100:
            raise Unreadable(f"“{line[:40]}”: a limit lies above 0 and up to 100 %.")
        found[hazard] = value
    return found


def _class_and_number(line: str) -> tuple[HazardClass, Fraction]:
    numbers = list(_NUMBER.finditer(line))
    # "Skin Sens 1A: C ≥ 0.01 %" ends with its number; "0.01 %: Skin Sens 1A" begins with it.
    for match in (*reversed(numbers), *numbers):
        rest = f"{line[: match.start()]} {line[match.end() :]}"
        rest = re.sub(r"[≥>=:%]|\bC\b|\bSCL\b", " ", rest, flags=re.IGNORECASE).strip(" ,;-–")
        try:
            hazard, _ = parse_class(" ".join(rest.split()))
        except BadInput:
            continue
        return hazard, _number(match[0], "A limit", "0.01")
    raise Unreadable(
        f"“{line[:40]}” is not a class and its limit; write for example “Skin Sens 1A 0.01”."
    )


def read_ate(text: str) -> dict[Route, Fraction]:
    """Read acute toxicity estimates, one a line: a route and a value, such as "oral 1200"."""
    found: dict[Route, Fraction] = {}
    for line in _lines(text):
        bare = re.sub(r"mg\s*/\s*(?:kg|l)\b|ppm\s*v?\b", " ", line, flags=re.IGNORECASE)
        word = re.sub(r"[^a-z/]+", " ", re.sub(r"\bATE\b", "", bare, flags=re.I).casefold())
        route = next((ROUTES[one] for one in word.split() if one in ROUTES), None)
        match = _NUMBER.search(bare)
        if route is None or match is None:
            raise Unreadable(
                f"“{line[:40]}” is not a route and an estimate; write for example “oral 1200”, "
                "“dermal 1100”, “vapour 3” (mg/kg, mg/kg, mg/l) or “gas 700” (ppm)."
            )
        value = _number(match[0], "An estimate", "1200")
        if value <= 0:
            raise Unreadable(f"“{line[:40]}”: an estimate is above nothing.")
        found[route] = value
    return found


def _lines(text: str) -> list[str]:
    return [line.strip() for line in re.split(r"\n|;(?! ?E?U?H\d)|,(?!\d)", text) if line.strip()]


def _number(text: str, what: str, example: str) -> Fraction:
    match = _NUMBER.fullmatch(text.strip())
    if match is None or len(text) > 15:
        raise Unreadable(f"{what} is “{text[:30]}”; write a number such as {example}.")
    return Fraction(match[0].replace(",", "."))


# --- a whole row ---------------------------------------------------------------------------------

READERS = {
    "name": read_name, "cas": read_cas, "share": read_share, "classes": read_classes,
    "m_acute": read_m, "m_chronic": read_m, "limits": read_limits, "ate": read_ate,
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
        unknown_acute=frozenset(Route(one) for one in typed.get("unknown_acute") or ()),
        unknown_aquatic=bool(typed.get("unknown_aquatic")),
    )


def rows_that_read(draft: ItemComposition) -> tuple[list[Row], int]:
    """Return the rows of a draft that can be read, and how many cannot be yet."""
    reads = [read_row(typed) for typed in typed_rows(draft) if not is_empty(typed)]
    return [read.row for read in reads if read.row], sum(read.row is None for read in reads)


def typed_rows(draft: ItemComposition) -> list[dict]:
    return [row for row in draft.typed.get("rows", []) if isinstance(row, dict)]


# --- back to text --------------------------------------------------------------------------------


def _class_lines(classes: Iterable[tuple[HazardClass, bool]]) -> str:
    return "\n".join(write_class(hazard, minimum=minimum) for hazard, minimum in classes)


def exact_words(value: Fraction) -> str:
    """Return an exact decimal as text; what is none is shown to seven places."""
    scaled = round(value * 10**7)
    whole, rest = divmod(scaled, 10**7)
    return f"{whole}.{rest:07d}".rstrip("0").rstrip(".")


def share_words(pct: Range) -> str:
    """
    Return a share as a person would type it, read back as the same.

    >>> share_words(Range(low=Fraction(5), high=Fraction(10), open_above=True))
    '5 - <10'
    """
    high = f"{'<' if pct.open_above else ''}{exact_words(pct.high)}"
    return high if pct.low is None else f"{exact_words(pct.low)} - {high}"


def typed_row(row: Row) -> dict:
    """Return a row that was read as text to start from."""
    return {
        "name": row.name,
        "cas": row.cas,
        "share": share_words(row.pct),
        "classes": row.classes_text or _class_lines(row.classes),
        "m_acute": "" if row.m_acute is None else exact_words(row.m_acute),
        "m_chronic": "" if row.m_chronic is None else exact_words(row.m_chronic),
        "limits": _limit_lines(row.specific_limits),
        "ate": _ate_lines(row.ate),
        "non_additive": row.non_additive,
        "unknown_acute": sorted(str(route) for route in row.unknown_acute),
        "unknown_aquatic": row.unknown_aquatic,
    }


def _limit_lines(limits: Mapping[HazardClass, Fraction]) -> str:
    return "\n".join(f"{write_class(hazard)} {exact_words(pct)}" for hazard, pct in limits.items())


def _ate_lines(ate: Mapping[Route, Fraction]) -> str:
    return "\n".join(f"{route.value} {exact_words(value)}" for route, value in ate.items())


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
    classes = _class_lines(row.classes)
    return {
        "name": row.name,
        "cas": row.cas,
        "share": row.pct_text if row.pct is None else share_words(row.pct),
        "classes": classes or row.classes_text,
        "m_acute": "" if row.m_acute is None else exact_words(row.m_acute),
        "m_chronic": "" if row.m_chronic is None else exact_words(row.m_chronic),
        "limits": _limit_lines(row.specific_limits),
        "ate": _ate_lines(row.ate),
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
