"""
Rows pasted from a spreadsheet or a page as a draft's rows, whatever their order of columns.

Where a head names the columns it decides; else each column is known by what stands in it: CAS
numbers by their shape, shares and classes by their being readable as such. Nothing is refused
here: what cannot be placed stays in sight as text, to be mended on the next page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from pourwright.core.errors import BadInput
from pourwright.intake.tables import Row as Line
from pourwright.intake.writing import unguarded
from pourwright.workshop.hazard import drafts

# Words of a head that tell a column; the first that fits decides.
HEADS = (
    ("cas", r"\bcas\b"),
    ("m_chronic", r"\bm\b.*chron|chron.*\bm\b"),
    ("m_acute", r"\bm\b.*acut|acut.*\bm\b|^m(?:[- ]?factor)?$"),
    ("limits", r"limit|scl"),
    ("ate", r"\bate\b|estimate"),
    ("share", r"%|share|conc|percent|content|amount|range|w/w"),
    ("classes", r"class|hazard|ghs|clp|h[- ]?(?:code|phrase|statement)"),
    ("name", r"substance|ingredient|name|component|chemical|material"),
)
CAS = re.compile(r"\d{2,7}\s*[-‐‑–]\s*\d{2}\s*[-‐‑–]\s*\d")
EC = re.compile(r"\d{3}-\d{3}-\d")


def typed_rows(lines: Sequence[Line]) -> list[dict]:
    """Return the lines as typed rows of a draft."""
    table = [[unguarded(cell).strip() for cell in line.cells] for line in lines]
    width = max(len(cells) for cells in table)
    table = [[*cells, *[""] * (width - len(cells))] for cells in table]
    places = _by_head(table[0])
    body = table[1:] if places else table
    places = places or _by_content(body, width)
    return [typed for cells in body if not drafts.is_empty(typed := _typed(cells, places))]


def _by_head(cells: Sequence[str]) -> dict[int, str]:
    """Return the part that each column is, or nothing where the first line is no head."""
    if any(CAS.search(cell) for cell in cells):
        return {}
    places: dict[int, str] = {}
    for place, cell in enumerate(cells):
        for part, pattern in HEADS:
            if part not in places.values() and re.search(pattern, cell.casefold()):
                places[place] = part
                break
    return places if len(places) >= 2 else {}


def _by_content(body: Sequence[Sequence[str]], width: int) -> dict[int, str]:
    """Return the part that each column is, by what most of its cells can be read as."""
    places: dict[int, str] = {}
    for part, fits in (("cas", _is_cas), ("classes", _is_class), ("share", _is_share)):
        scores = {
            place: sum(1 for cells in body if cells[place] and fits(cells[place]))
            for place in range(width)
            if place not in places
        }
        best = max(scores, key=lambda place: scores[place], default=None)
        if best is not None and scores[best] > 0:
            places[best] = part
    # The name is the column with most letters of what is left.
    rest = {
        place: sum(len(re.sub(r"[^A-Za-z]", "", cells[place])) for cells in body)
        for place in range(width)
        if place not in places and not all(EC.fullmatch(cells[place]) for cells in body)
    }
    if rest and max(rest.values()) > 0:
        places[max(rest, key=lambda place: rest[place])] = "name"
    return places


def _is_cas(text: str) -> bool:
    return CAS.fullmatch(text) is not None


def _reads(reader: Callable[[str], object], text: str) -> bool:
    try:
        return bool(reader(text))
    except BadInput:
        return False


def _is_class(text: str) -> bool:
    return _reads(drafts.read_classes, text)


def _is_share(text: str) -> bool:
    return _reads(drafts.read_share, text)


def _typed(cells: Sequence[str], places: dict[int, str]) -> dict:
    typed: dict[str, object] = {part: cells[place] for place, part in places.items()}
    if "name" not in typed and (cas := typed.get("cas")):
        typed["name"] = str(cas)
    return typed
