"""
Tables as a workbook: numbers as numbers, days as days, text as text and never as a formula.

Rows are written as they come, so that a long ledger need not be in memory; a table with more rows
than a sheet takes goes on in the next sheet.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import BinaryIO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

# Limits of the format: ECMA-376 leaves them to the program; these are the usual ones (from memory).
MOST_ROWS = 1_048_576
LONGEST_TEXT = 32_767
LONGEST_TITLE = 31

Cell = str | int | Decimal | date | datetime | bool | None

_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NOT_IN_TITLES = re.compile(r"[\[\]:*?/\\]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One table: its title, the heads of its columns and its rows, which may be a generator."""

    title: str
    head: Sequence[str]
    rows: Iterable[Sequence[Cell]]


def write_workbook(sheets: Iterable[Sheet], file: BinaryIO, *, most_rows: int = MOST_ROWS) -> int:
    """Write the tables to ``file`` and return how many rows they have in all, heads aside."""
    book = Workbook(write_only=True)
    titles: set[str] = set()
    written = 0
    for sheet in sheets:
        rows: Iterator[Sequence[Cell]] = iter(sheet.rows)
        part, more = 1, True
        while more:
            title = sheet.title if part == 1 else f"{sheet.title} {part}"
            page = book.create_sheet(_free_title(title, titles))
            page.freeze_panes = "A2"
            for place, name in enumerate(sheet.head, start=1):
                page.column_dimensions[get_column_letter(place)].width = _width(name)
            page.append([_head_cell(page, name) for name in sheet.head])
            more = False
            for number, row in enumerate(rows, start=2):
                page.append([_cell(page, value) for value in row])
                written += 1
                if number == most_rows:
                    more = True
                    break
            if more:
                # Only go on to another sheet where there is another row for it.
                first = next(rows, None)
                more = first is not None
                if first is not None:
                    rows = _with_first(first, rows)
            part += 1
    if not titles:
        book.create_sheet("empty")
    book.save(file)
    return written


def _with_first(first: Sequence[Cell], rest: Iterator[Sequence[Cell]]) -> Iterator[Sequence[Cell]]:
    yield first
    yield from rest


def _free_title(title: str, taken: set[str]) -> str:
    """Return a title that the format allows and that no other sheet has."""
    plain = _NOT_IN_TITLES.sub(" ", title).strip("' ")[:LONGEST_TITLE] or "table"
    name, again = plain, 1
    while name.casefold() in taken:
        again += 1
        name = f"{plain[: LONGEST_TITLE - len(str(again)) - 1]} {again}"
    taken.add(name.casefold())
    return name


def _width(head: str) -> float:
    """Return a width for a column that nobody has measured: its head and a little room."""
    return min(max(len(head) + 3, 12), 42)


def _head_cell(page, name: str):
    cell = _cell(page, name)
    cell.font = Font(bold=True)
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    return cell


def _cell(page, value: Cell):
    if value is None:
        return None
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, datetime):
        # The format knows no time zones; the time is as the workshop's clock shows it.
        cell = WriteOnlyCell(page, value.replace(tzinfo=None))
        cell.number_format = "yyyy-mm-dd hh:mm:ss"
        return cell
    if isinstance(value, date):
        cell = WriteOnlyCell(page, value)
        cell.number_format = "yyyy-mm-dd"
        return cell
    if isinstance(value, int | Decimal):
        return WriteOnlyCell(page, value)
    text = _NOT_IN_XML.sub("\ufffd", str(value))[:LONGEST_TEXT]
    cell = WriteOnlyCell(page, text)
    # Without this a text that begins with "=" would become a formula.
    cell.data_type = "s"
    return cell
