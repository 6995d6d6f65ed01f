"""Single facts of a sheet as text with their places: product, supplier, dates, flash, density."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pourwright.intake.sheets.lines import Line, section_number, text_of

Found = tuple[str, list[Line]]

_DATE = (
    r"\d{1,2}\s*[./-]\s*\d{1,2}\s*[./-]\s*\d{2,4}|\d{4}\s*[./-]\s*\d{1,2}\s*[./-]\s*\d{1,2}"
    r"|\d{1,2}(?:st|nd|rd|th|\.)?[\s-]*[A-Za-zéûäÄ]{3,10}\.?[\s,-]*\d{4}"
    r"|[A-Za-z]{3,9}\.?\s*\d{1,2}(?:st|nd|rd|th)?\s*,?\s*\d{4}"
)
DATE = re.compile(_DATE)
# The surest label first; what follows is looked for behind it.
_DATE_LABELS = (
    r"(date of (?:last )?revision|(?:last )?revision date|revised(?: on| date)?|revision of|"
    r"überarbeitet(?: am)?|überarbeitungsdatum|date de (?:la )?révision|révision du|"
    r"last updated?|revision(?=\s*:))",
    r"(version\s*[\d.]+\s*(?:of|vom|du)|\bversion date)",
    r"(date of issue|issue date|issued(?: on)?|date of (?:compilation|preparation)|compiled|"
    r"prepared(?: on)?|creation date|ausgabedatum|erstellt(?: am)?|date d'émission|"
    r"effective date|sds date)",
    r"(?<![a-z] )(\bdate\b|\bdatum\b|\bstand\b)",
)
_NOT_DATES = re.compile(
    r"print|druck|impression|supersed|replaces|previous|ersetzt|remplace|expir", re.I
)
_REVISION = re.compile(
    r"(?:version|revision|rev\.|révision|fassung|überarbeitung)\s*(?:no\.?|number|nr\.?|n°)?\s*"
    r"[:#]?\s*(\d{1,3}(?:[.,]\d{1,3}){0,2})(?!\d|[.,]\d|\s?[-/]\s?(?:\d|[a-z]{3}[-/ .]\s?\d)"
    r"|\s+(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mai|okt|dez))",
    re.I,
)
_PRODUCT = re.compile(
    r"^[\d.\s]*(product name|trade ?name|name of (?:the )?product|product identifier|commercial "
    r"product name|handelsname|produktname|nom (?:du produit|commercial)|product"
    r"|produktidentifikator|identificateur de produit)(?:\s*/\s*[a-z ]+)?\s*"
    r"(?:\([^)]*\))?\s*[:–-]?\s*(.*)$",
    re.I,
)
_SUPPLIER = re.compile(
    r"^[\d.\s]*(supplier|company(?: name)?|manufacturer(?: name)?|firma|lieferant|hersteller|"
    r"fournisseur|société|supplied by|manufacturer\s*/\s*supplier)(?:\s*/\s*[a-z ]+)?"
    r"\s*(?:\([^)]*\))?\s*[:–-]?\s*(.*)$",
    re.I,
)
_FLASH = re.compile(r"\bflash[\s-]*point|flammpunkt|point d['’]?\s?éclair", re.I)
_DENSITY = re.compile(
    r"\b(relative density|specific gravity|density|relative dichte|dichte|densité(?: relative)?|"
    r"masse volumique)\b",
    re.I,
)
_UNKNOWN = re.compile(
    r"(\d{1,3}(?:[.,]\d+)?)\s*%[^.%]{0,60}?(?:ingredients?|components?|substances?)?[^.%]{0,30}?"
    r"unknown\s+(?:acute\s+)?(?:[a-z]+\s+)?(?:\([^)]*\)\s*)?toxicity(?:\s*\([^)]{0,60}\))?"
    r"(?:\s+(?:by|via)\s+[a-z ]{0,30})?",
    re.I,
)


def facts_of(
    lines: Sequence[Line], spans: dict[int, tuple[int, int]]
) -> dict[str, tuple[str, list[Line]]]:
    """Return each fact's text with the lines where it stands; what is not there is left out."""
    found: dict[str, Found] = {}

    def keep(name: str, value: Found | None) -> None:
        if value and value[0]:
            found[name] = value

    first = lines[: spans[3][0]] if 3 in spans else lines[:80]
    begin, end = spans.get(9, (0, 0))
    physical = lines[begin:end] or lines
    keep("product_name", _labelled(first, _PRODUCT) or _titled(first))
    keep("supplier", _labelled(first, _SUPPLIER))
    keep("sheet_date", _date(lines))
    keep("revision", _revision(lines))
    keep("flash_point", _valued(physical, _FLASH, r"\d"))
    keep("density", _valued(physical, _DENSITY, r"\d", unless=r"vapou?r|bulk|dampf|vapeur|schütt"))
    keep("unknown_acute", _unknown(lines))
    return found


def _labelled(lines: Sequence[Line], label: re.Pattern) -> Found | None:
    """Return what stands behind a label, on its line or on the next."""
    best: Found | None = None
    for at, line in enumerate(lines):
        match = label.match(line.text)
        if not match or section_number(line.text):
            continue
        value = match[2].strip(" :")
        if value and len(line.chunks(1.0)) > 1 and ":" not in line.text:
            value = text_of([w for chunk in line.chunks(1.0)[1:] for w in chunk]).strip(" :")
        if value and not re.match(r"(of|details|and|/|identifier|name|safety data)\b", value, re.I):
            # "Product identifier" is also the heading above the name: a label of its own is surer.
            return _cut(value), [line]
        if not value and best is None and at + 1 < len(lines):
            after = lines[at + 1]
            other = label.match(after.text)
            if not section_number(after.text) and not (other and not other[2]):
                if other and other[2]:
                    return _cut(other[2].strip(" :")), [after]
                best = _cut(after.text), [after]
    return best


def _cut(value: str) -> str:
    """Return a value without the next label that stands on the same line."""
    value = re.split(
        r"\s+(?:product code|code|sds|version|revision|article|page|date)\b.*$", value, flags=re.I
    )[0]
    return value.strip(" :;,")[:200]


def _titled(lines: Sequence[Line]) -> Found | None:
    """Return the line in the largest letters that is not the kind of paper itself."""
    open_ones = [
        line
        for line in lines[:30]
        if not re.search(
            r"safety data|sicherheitsdaten|données de sécurité|section|according|\d{3}",
            line.text,
            re.I,
        )
    ]
    if not open_ones:
        return None
    largest = max(open_ones, key=lambda line: line.size)
    return (largest.text[:200], [largest]) if largest.size > 12 else None


def _date(lines: Sequence[Line]) -> Found | None:
    for label in _DATE_LABELS:
        for at, line in enumerate(lines[:400]):
            for match in re.finditer(label, line.text, re.I):
                before = line.text[max(0, match.start() - 14) : match.start()]
                if _NOT_DATES.search(before) or _NOT_DATES.search(match[0]):
                    continue
                behind = line.text[match.end() :]
                date = DATE.search(behind)
                if date and date.start() < 30 and not _NOT_DATES.search(behind[: date.start()]):
                    return date[0], [line]
                if not date and at + 1 < len(lines) and not behind.strip(r" :.\d"):
                    after = DATE.match(lines[at + 1].text)
                    if after:
                        return after[0], [line, lines[at + 1]]
    return None


def _revision(lines: Sequence[Line]) -> Found | None:
    for line in lines[:120]:
        if match := _REVISION.search(line.text):
            return match[1], [line]
    return None


def _valued(
    lines: Sequence[Line], label: re.Pattern, wanted: str, unless: str = "(?!)"
) -> Found | None:
    """Return what stands behind a label; on the next line where its own has nothing."""
    said: Found | None = None
    for at, line in enumerate(lines):
        match = label.search(line.text)
        if (
            not match
            or match.start() > 40
            or re.search(unless, line.text[: match.end() + 12], re.I)
        ):
            continue
        value = line.text[match.end() :].strip(" :.–-")
        if re.search(wanted, _without_conditions(value)):
            return value[:160], [line]
        after = lines[at + 1] if at + 1 < len(lines) else None
        if (
            after is not None
            and re.match(r"[\s:]*(ca\.?|approx\.?|about|[<>≥≤~])?\s*\d", after.text)
            and not re.match(r"\d+(\.\d+)*\.?\s+[A-Za-z]{3}", after.text)
        ):
            return f"{value} {after.text}".strip()[:160], [line, after]
        if value and said is None:
            said = value[:160], [line]
    return said


def _without_conditions(value: str) -> str:
    return re.sub(r"\([^)]*\)", "", value) or value


def _unknown(lines: Sequence[Line]) -> Found | None:
    for at, line in enumerate(lines):
        if "unknown" not in line.text.casefold() and not (
            "%" in line.text and at + 1 < len(lines) and "unknown" in lines[at + 1].text.casefold()
        ):
            continue
        near = list(lines[at : at + 3])
        text = " ".join(part.text for part in near)
        if match := _UNKNOWN.search(text):
            return match[0].strip(), near[:2]
    return None
