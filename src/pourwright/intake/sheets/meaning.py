"""What the raw texts of a sheet mean: ranges, classes, dates, temperatures. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from time import monotonic

from pourwright.core.hazard.model import Range, Route
from pourwright.core.hazard.words import UnreadableShare, parse_range
from pourwright.intake.sheets.found import Place, RowFound, SheetReading
from pourwright.intake.sheets.hazards import number, read_hazards
from pourwright.intake.sheets.marks import cas_is_right, ec_is_right

FEWEST_LETTERS = 200
LONGEST_NAME = 300
# For all rows together; a true sheet takes a hundredth of it.
MOST_SECONDS = 5

NO_TEXT = (
    "The pages of this sheet are pictures; there is no text in them that could be read. Type the "
    "composition from the picture of the page, or ask the supplier for the sheet as text."
)


def reading_from(raw: dict) -> SheetReading:
    """Return the reading from what the child handed back."""
    pages = raw["pages"]
    letters, odd = raw["letters"], raw["odd"]
    has_text = letters >= min(FEWEST_LETTERS, 60 * len(pages)) and odd < 0.3 * letters
    sizes = tuple((float(width), float(height)) for width, height in pages)
    if not has_text:
        return SheetReading(
            page_count=len(pages), page_sizes=sizes, has_text=False, notes=(NO_TEXT,)
        )
    until = monotonic() + MOST_SECONDS
    rows = tuple(_row(row) if monotonic() < until else _unread(row) for row in raw["rows"])
    facts, where = {}, {}
    for name, (text, place) in raw["facts"].items():
        facts[name] = str(text)
        where[_FIELDS[name]] = _place(place)
    notes = list(raw["notes"])
    day = _day(facts.get("sheet_date", ""), raw["dates"], notes)
    flash = _flash(facts.get("flash_point", ""), notes)
    density = _density(facts.get("density", ""), notes)
    unknown = _unknown_acute(facts.get("unknown_acute", ""), notes)
    notes += _notes(raw, rows)
    return SheetReading(
        product_name=facts.get("product_name", ""),
        supplier=facts.get("supplier", ""),
        sheet_date=day,
        sheet_date_text=facts.get("sheet_date", ""),
        revision=facts.get("revision", ""),
        flash_point_c=flash,
        flash_point_text=facts.get("flash_point", ""),
        density_g_ml=density,
        density_text=facts.get("density", ""),
        unknown_acute_pct=unknown,
        unknown_acute_text=facts.get("unknown_acute", ""),
        rows=rows,
        where=where,
        page_count=len(pages),
        page_sizes=sizes,
        has_text=True,
        notes=tuple(notes),
    )


_FIELDS = {
    "product_name": "product_name",
    "supplier": "supplier",
    "sheet_date": "sheet_date",
    "revision": "revision",
    "flash_point": "flash_point_c",
    "density": "density_g_ml",
    "unknown_acute": "unknown_acute_pct",
}


def _place(place: Sequence) -> Place:
    page, box = place
    return Place(int(page), tuple(float(edge) for edge in box))


def _notes(raw: dict, rows: Sequence[RowFound]) -> list[str]:
    notes = []
    if not rows:
        notes.append(
            "No ingredients were found. If section 3 lists some, type them; a sheet that says "
            "“no hazardous ingredients” has none."
        )
    if raw["row_count"] > len(rows):
        notes.append(
            f"{raw['row_count']} rows were found and the first {len(rows)} kept; type the others."
        )
    for page in raw["clipped"]:
        notes.append(f"Page {page} was not read to its end: it is broken or has too much on it.")
    low = sum((row.pct.low or Fraction(0) for row in rows if row.pct), Fraction(0))
    exact = all(row.pct and row.pct.low is None for row in rows)
    if low > 100 or (exact and sum((r.pct.high for r in rows if r.pct), Fraction(0)) > 100):
        notes.append(
            "The shares come to more than 100 %: look for a share that was read wrongly, or a row "
            "that stands twice."
        )
    return notes


# --- rows ----------------------------------------------------------------------------------------


def _row(raw: dict) -> RowFound:
    doubts = list(raw["doubts"])
    name = raw["name"][:LONGEST_NAME]
    cas, ec = raw["cas"], raw["ec"]
    if not name:
        doubts.append("No name was found in this row.")
    if not cas:
        doubts.append("No CAS number was found in this row.")
    elif not cas_is_right(cas):
        doubts.append(f"The check digit of {cas} does not fit: it is no CAS number as it stands.")
    if ec and not ec_is_right(ec):
        doubts.append(f"The check digit of the EC number {ec} does not fit.")
    pct = _range(raw["pct"], doubts)
    hazards = read_hazards(raw["classes"])
    if not raw["classes"]:
        doubts.append("Nothing on its hazard classes was found in this row.")
    return RowFound(
        name=name,
        cas=cas,
        ec=ec,
        pct_text=raw["pct"],
        pct=pct,
        classes_text=raw["classes"],
        classes=hazards.classes,
        m_acute=hazards.m_acute,
        m_chronic=hazards.m_chronic,
        specific_limits=hazards.specific_limits,
        ate=hazards.ate,
        places=tuple(_place(place) for place in raw["places"]),
        doubts=(*doubts, *hazards.doubts),
    )


def _unread(raw: dict) -> RowFound:
    """Return a row as text alone, where the ones before it have used up the time."""
    return RowFound(
        name=raw["name"][:LONGEST_NAME],
        cas=raw["cas"],
        ec=raw["ec"],
        pct_text=raw["pct"],
        classes_text=raw["classes"],
        places=tuple(_place(place) for place in raw["places"]),
        doubts=(*raw["doubts"], "There was too much text to make out this row; type it."),
    )


def _range(text: str, doubts: list[str]) -> Range | None:
    if not text.strip():
        doubts.append("No share was found in this row.")
        return None
    try:
        return parse_range(_one_range(text))
    except UnreadableShare as problem:
        doubts.append(str(problem))
        return None


def _one_range(text: str) -> str:
    """
    Return a range written around a letter as one from end to end.

    >>> _one_range("1 ≤ x < 5 %"), _one_range(">= 1 % - < 5 %")
    ('1 - <5 %', '>= 1 - < 5 %')
    """
    plain = re.sub(r"³(?=\s*\d)", "≥", re.sub(r"£(?=\s*\d)", "≤", " ".join(text.split())))
    plain = re.sub(r"\s*(\*+|\[\d\]|\bvol\.?)\s*$", "", plain, flags=re.IGNORECASE)
    between = re.fullmatch(
        r"([\d.,]+)\s*%?\s*(?:≤|<=|=<|<|⩽)\s*[xXcC]\s*(≤|<=|=<|<|⩽)\s*([\d.,]+)\s*%?", plain
    )
    if between:
        sign = "<" if between[2] == "<" else ""
        return f"{between[1]} - {sign}{between[3]} %"
    return re.sub(r"(\d)\s*%(?=.*\d)", r"\1", plain)


# --- dates ---------------------------------------------------------------------------------------

_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar janvier", "feb february februar février fevrier",
            "mar march mär märz maerz mars", "apr april avril", "may mai", "jun june juni juin",
            "jul july juli juillet", "aug august août aout", "sep sept september septembre",
            "oct october okt oktober octobre", "nov november novembre",
            "dec december dez dezember décembre decembre",
        ),
        start=1,
    )
    for name in names.split()
}  # fmt: skip


def _day(text: str, lines: Sequence[str], notes: list[str]) -> date | None:
    """Return the date that a text gives; month-first where other dates of the sheet show it."""
    if not text:
        return None
    plain = text.casefold()
    if match := re.search(r"(\d{4})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{1,2})", plain):
        return _date(int(match[1]), int(match[2]), int(match[3]))
    if match := re.search(r"(\d{1,2})\s*([./-])\s*(\d{1,2})\s*[./-]\s*(\d{2,4})", plain):
        first, second, year = int(match[1]), int(match[3]), int(match[4])
        year += 2000 if year < 100 else 0
        if match[2] != "." and first <= 12 and second <= 12 and first != second:
            month_first = _month_first(lines)
            if month_first is None:
                notes.append(
                    f"The date {text} was read as day, then month; mend it if the month is first."
                )
            elif month_first:
                first, second = second, first
        elif second > 12:
            first, second = second, first
        return _date(year, second, first)
    if match := re.search(r"([a-zéûä]{3,10})\.?", plain):
        month = _MONTHS.get(match[1]) or _MONTHS.get(match[1][:3])
        numbers = [int(digits) for digits in re.findall(r"\d+", plain)]
        if month and len(numbers) >= 2:
            return _date(numbers[1], month, numbers[0])
    return None


def _month_first(lines: Sequence[str]) -> bool | None:
    """Return what the sheet's other dates say of the order of day and month, if they do."""
    for line in lines:
        for match in re.finditer(r"(?<!\d)(\d{1,2})[/-](\d{1,2})[/-]\d{2,4}", line):
            if int(match[1]) > 12 >= int(match[2]):
                return False
            if int(match[2]) > 12 >= int(match[1]):
                return True
    return None


def _date(year: int, month: int, day: int) -> date | None:
    try:
        found = date(year, month, day)
    except ValueError:
        return None
    return found if 1980 <= year <= 2100 else None


# --- temperatures and densities ------------------------------------------------------------------


def _flash(text: str, notes: list[str]) -> Fraction | None:
    """Return a flash point in °C; the lower end of a range, and a note for "above" or a range."""
    plain = text.translate(str.maketrans("–—−‑", "----"))
    celsius = re.search(
        r"([<>≤≥~]|[<>]=)?\s*(?<!\d)(-?\d{1,3}(?:[.,]\d+)?)\s*(?:-\s*(\d{1,3}(?:[.,]\d+)?)\s*)?(?:°|º|deg(?:rees?|\.)?)?\s*C\b",
        plain,
    )
    fahrenheit = re.search(
        r"([<>≤≥~]|[<>]=)?\s*(?<!\d)(-?\d{1,3}(?:[.,]\d+)?)\s*(?:-\s*(\d{1,3}(?:[.,]\d+)?)\s*)?(?:°|º|deg(?:rees?|\.)?)?\s*F\b",
        plain,
    )
    bare = re.search(r"([<>≤≥~]|[<>]=)?\s*(?<!\d)(-?\d{1,3}(?:[.,]\d+)?)()\s*$", plain)
    if celsius is None and fahrenheit is None and re.match(r"[\[(]?\s*°?\s*C\s*[\])]?", plain):
        celsius = bare
    if celsius is None and fahrenheit is None and re.match(r"[\[(]?\s*°?\s*F\s*[\])]?", plain):
        fahrenheit = bare
    match = celsius or fahrenheit
    if match is None:
        if re.search(r"\d", plain):
            notes.append(f"The flash point “{text}” gives no unit; type it in °C.")
        return None
    value = _signed(match[2])
    if value is None:
        return None
    if match is fahrenheit:
        value = (value - 32) * Fraction(5, 9)
    if not -60 <= value <= 500:
        notes.append(f"The flash point “{text}” cannot be right; type it in °C.")
        return None
    if match[1] in (">", "≥", ">="):
        notes.append(f"The flash point is given as {text.strip()}: the true one lies higher.")
    elif match[3]:
        notes.append(f"The flash point is given as a range, {text.strip()}: the lower end counts.")
    return value


def _signed(text: str) -> Fraction | None:
    value = number(text.lstrip("-"))
    return -value if value is not None and text.startswith("-") else value


def _density(text: str, notes: list[str]) -> Fraction | None:
    """Return a density in g/ml, relative ones taken as such; the middle of a range, with a note."""
    plain = text.translate(str.maketrans("–—−‑", "----"))
    plain = re.sub(r"\([^)]*[°=][^)]*\)|(?:@|at|bei|à)\s*\d+([.,]\d+)?\s*°\s*[CF]", " ", plain)
    match = re.search(r"(\d{1,4}(?:[.,]\d+)?)\s*(?:-|to|bis)?\s*(\d{1,4}(?:[.,]\d+)?)?", plain)
    if match is None:
        return None
    low, high = number(match[1]), number(match[2] or "")
    if low is None:
        return None
    value = low
    if high is not None and low < high < 2 * low:
        value = (low + high) / 2
        notes.append(f"The density is given as a range, {text.strip()}: its middle was taken.")
    if re.search(r"kg\s*/\s*m|(?<!k)g\s*/\s*l\b", plain, re.I):
        value /= 1000
    elif re.search(r"lbs?\.?\s*/\s*(us\s*)?gal", plain, re.I):
        # A US pound a US gallon in g/ml: 453.59237 g by 3785.411784 ml, both exact by definition.
        value *= Fraction("453.59237") / Fraction("3785.411784")
    if not Fraction(1, 2) <= value <= 2:
        notes.append(f"The density “{text}” cannot be that of an oil; type it in g/ml.")
        return None
    return value


def _unknown_acute(text: str, notes: list[str]) -> dict[Route, Fraction]:
    """Return the share of unknown acute toxicity by route; all three where none is named."""
    match = re.match(r"(\d{1,3}(?:[.,]\d+)?)\s*%", text)
    value = number(match[1]) if match else None
    if value is None or not 0 < value <= 100:
        return {}
    routes = [
        route
        for words, route in (
            (r"\boral", Route.ORAL),
            (r"dermal", Route.DERMAL),
            (r"dust|mist", Route.DUST),
            (r"inhal|vapou?r", Route.VAPOUR),
        )
        if re.search(words, text, re.I)
    ]
    if Route.DUST in routes and not re.search(r"vapou?r", text, re.I):
        routes = [route for route in routes if route is not Route.VAPOUR]
    if not routes:
        notes.append(
            f"“{text}” names no route; it was taken for swallowing, skin and breathing in alike."
        )
        routes = [Route.ORAL, Route.DERMAL, Route.VAPOUR]
    return dict.fromkeys(routes, value)
