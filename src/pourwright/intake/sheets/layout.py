"""Pages of words as the raw texts of what a sheet says, each with its place. Pure."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence

from pourwright.intake.sheets.blocks import read_blocks
from pourwright.intake.sheets.facts import facts_of
from pourwright.intake.sheets.found import Limits
from pourwright.intake.sheets.lines import Line, lines_of, sections_of
from pourwright.intake.sheets.marks import (
    CAS,
    EC,
    SHARE,
    cas_is_right,
    joined,
    numbers_in,
    without_labels,
)
from pourwright.intake.sheets.pages import Page, Word
from pourwright.intake.sheets.sideways import read_sideways
from pourwright.intake.sheets.table import RawRow, read_tables, unlike_heads

LONGEST_CELL = 1500


def layout_of(pages: list[Page], limits: Limits) -> dict:
    """Return what was found, as plain values that JSON can carry."""
    letters = sum(len(word.text) for page in pages for word in page.words)
    odd = sum(word.text.count("\ufffd") for page in pages for word in page.words)
    lines = lines_of(pages)
    spans = sections_of(lines)
    notes = []
    if 3 in spans:
        begin, end = spans[3]
        section = lines[begin:end]
    else:
        section, notes = _likely(lines, spans)
    rows = [_raw(row) for row in _rows_in(section)]
    rows = [row for row in rows if row["cas"] or row["name"] or row["classes"]]
    rows += _left_over(section, rows)
    facts = facts_of(lines, spans)
    return {
        "pages": [[page.width, page.height] for page in pages],
        "clipped": [page.number for page in pages if page.clipped],
        "letters": letters,
        "odd": odd,
        "sections": sorted(spans),
        "rows": rows[: limits.most_rows],
        "row_count": len(rows),
        "facts": {
            name: [text, _places((line.page, word) for line in of for word in line.words)[0]]
            for name, (text, of) in facts.items()
        },
        "dates": [line.text[:300] for line in lines if re.search(r"\d[./-]\d", line.text)][:200],
        "notes": notes,
    }


def _rows_in(section: Sequence[Line]) -> list[RawRow]:
    """Return the rows of the section, taken apart first where it holds more than one thing."""
    if groups := _groups_by_share(section):
        rows = []
        for share, part in groups:
            for row in _rows_of_one(part):
                if not row.text("pct"):
                    row.cells["pct"] = [share]
                rows.append(row)
        return rows
    if halves := _side_by_side(section):
        return [row for half in halves for row in read_blocks(half)]
    starts = unlike_heads(section)
    if len(starts) > 1:
        edges = [0, *starts[1:], len(section)]
        parts = [section[one:other] for one, other in itertools.pairwise(edges)]
        return [row for part in parts for row in _rows_of_one(part)]
    return _rows_of_one(section)


def _groups_by_share(section: Sequence[Line]) -> list[tuple[str, Sequence[Line]]]:
    """Return the parts under headings that are a share and nothing else; empty where none are."""
    heads = [
        at
        for at, line in enumerate(section)
        if "%" in line.text and SHARE.fullmatch(line.text.strip(" :"))
    ]
    marked = [at for at, line in enumerate(section) if CAS.search(line.text)]
    if not heads or not marked or heads[0] > marked[0] or heads[-1] > marked[-1]:
        return []
    edges = [*heads, len(section)]
    return [
        (section[one].text.strip(" :"), section[one + 1 : other])
        for one, other in itertools.pairwise(edges)
    ]


def _side_by_side(section: Sequence[Line]) -> list[list[Line]]:
    """Return the left and the right half of labelled blocks that stand beside each other."""
    places = []
    for line in section:
        labels = [w for w in line.words if re.match(r"[(\[]?cas\b", w.text, re.IGNORECASE)]
        if len(labels) == 2 and len(CAS.findall(line.text)) == 2:
            places.append(labels[1].x0)
    if not places or max(places) - min(places) > 4:
        return []
    gutter = min(places) - 2
    halves: list[list[Line]] = [[], []]
    for line in section:
        for side, half in enumerate(halves):
            words = [word for word in line.words if (word.x0 >= gutter) == bool(side)]
            if words:
                half.append(Line(line.page, line.column, words))
    return halves


def _rows_of_one(section: Sequence[Line]) -> list[RawRow]:
    if on_its_side := read_sideways(section):
        return on_its_side
    by_table = read_tables(section)
    by_blocks = read_blocks(section)
    if by_table is None:
        return by_blocks
    # A table that was found is the surer reading, unless it leaves much out.
    return by_table if _worth(by_table) >= 0.8 * _worth(by_blocks) else by_blocks


def _worth(rows: Sequence[RawRow]) -> float:
    """Return how many rows have each of a number, a share and a name."""
    worth = 0.0
    for row in rows:
        cas, ec, _ = numbers_in(row.text("cas", "ids", "name"))
        worth += (len(cas) == 1) + 0.2 * bool(ec)
        worth += bool(SHARE.fullmatch(row.text("pct").strip()))
        worth += 0.5 * bool(row.text("name"))
        worth -= len(cas) > 1
    return worth


def _likely(lines: list[Line], spans: dict) -> tuple[list[Line], list[str]]:
    """Return the lines up to the first section that cannot hold the composition any more."""
    end = min((begin for number, (begin, _) in spans.items() if number > 3), default=len(lines))
    note = (
        "No heading of section 3 was found; rows were looked for "
        f"{'before section 4' if end < len(lines) else 'in the whole sheet'}. Check that they are "
        "the composition."
    )
    return lines[:end], [note]


def _raw(row: RawRow) -> dict:
    ids = row.text("cas", "ids")
    cas, ec, rest = numbers_in(ids)
    name_cas, name_ec, name = numbers_in(row.text("name"))
    cas, ec = cas or name_cas, ec or name_ec
    if not cas:
        # A number broken in the middle of its figures, in a column too narrow for it.
        cas, more, _ = numbers_in("".join(row.cells.get("cas", [])))
        ec = ec or more
    if not cas:
        cas, more, _ = numbers_in(row.text("other"))
        ec = ec or more
    name = without_labels(name)
    if not name:
        name = without_labels(rest)
    classes = [row.text("classes", "limits")]
    for kind, said in (("m_acute", "M(Acute)"), ("m_chronic", "M(Chronic)")):
        if factor := row.text(kind):
            classes.append(f"{said}={factor}" if factor.isdigit() else factor)
    doubts = []
    if len(cas) > 1:
        doubts.append(f"More than one CAS number stands in this row: {', '.join(cas)}.")
    return {
        "name": name[:LONGEST_CELL],
        "cas": cas[0] if cas else "",
        "ec": ec[0] if ec else "",
        "pct": row.text("pct")[:LONGEST_CELL],
        "classes": "; ".join(filter(None, classes))[:LONGEST_CELL],
        "places": _places(row.words),
        "doubts": doubts,
    }


def _left_over(section: Sequence[Line], rows: Sequence[dict]) -> list[dict]:
    """Return a row for each number of the section that no row has: nothing is dropped."""
    have = {row["cas"] for row in rows} | {row["ec"] for row in rows}
    text = " ".join(cell for row in rows for cell in (row["name"], *row["doubts"]))
    left = []
    for at, line in enumerate(section):
        near = (
            joined([line.text, section[at + 1].text])
            if line.text.endswith("-") and at + 1 < len(section)
            else line.text
        )
        for match in CAS.finditer(EC.sub(lambda m: " " * len(m[0]), near)):
            number = "-".join(match.groups())
            if number in have or number in text or not cas_is_right(number):
                continue
            have.add(number)
            left.append(
                {
                    "name": "",
                    "cas": number,
                    "ec": "",
                    "pct": "",
                    "classes": "",
                    "places": _places((line.page, word) for word in line.words),
                    "doubts": [
                        f"This number stands in section 3, but its row could not be made out: "
                        f"“{line.text[:200]}”."
                    ],
                }
            )
    return left


def _places(words: Iterable[tuple[Page, Word]]) -> list[list]:
    """Return a place for each page: its number and the box around the words, in fractions."""
    boxes: dict[int, list[float]] = {}
    for page, word in words:
        box = [
            word.x0 / page.width,
            word.y0 / page.height,
            word.x1 / page.width,
            word.y1 / page.height,
        ]
        old = boxes.get(page.number, box)
        boxes[page.number] = [
            max(0.0, min(old[0], box[0])),
            max(0.0, min(old[1], box[1])),
            min(1.0, max(old[2], box[2])),
            min(1.0, max(old[3], box[3])),
        ]
    return [[number, [round(edge, 5) for edge in box]] for number, box in sorted(boxes.items())]
