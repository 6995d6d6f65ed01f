"""
Records written out as CSV that a spreadsheet opens rightly and that can be read back the same.

Text that a spreadsheet would take for a formula gets an apostrophe before it, which reading takes
off again. UTF-8 with its mark, so that spreadsheets do not guess (common practice, no source).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

from pourwright.intake.columns import Cell, Context
from pourwright.intake.kinds import Kind

MARK = "\ufeff"
# What a spreadsheet may take for a formula (OWASP, "CSV Injection", from memory).
_RISKY = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")


def guarded(text: str) -> str:
    """
    Return text that no spreadsheet takes for a formula.

    >>> guarded("=1+1"), guarded("plum")
    ("'=1+1", 'plum')
    """
    return f"'{text}" if _RISKY.match(text) else text


def unguarded(text: str) -> str:
    """
    Return the text that ``guarded`` was given.

    >>> unguarded("'=1+1"), unguarded("'tis")
    ('=1+1', "'tis")
    """
    return text[1:] if _GUARDED.match(text) else text


def header(kind: Kind, context: Context) -> list[str]:
    return [column.title(context) for column in kind.columns]


def cells_of(kind: Kind, values: Mapping[str, object], context: Context) -> list[Cell]:
    """Return one record's cells, in the order of the kind's columns."""
    cells = []
    for column in kind.columns:
        value = values.get(column.name)
        cells.append(None if value is None else column.write(value, context))
    return cells


def csv_text(cell: Cell) -> str:
    """Return a cell as CSV holds it: numbers bare, days as year-month-day, text guarded."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    if isinstance(cell, int):
        return str(cell)
    if isinstance(cell, date):
        return cell.isoformat()
    return guarded(str(cell))


def csv_lines(head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """Yield a CSV file in pieces, so that a long one need not be in memory at once."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")

    def taken() -> str:
        text = buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()
        return text

    buffer.write(MARK)
    writer.writerow(guarded(cell) for cell in head)
    for number, row in enumerate(rows, start=1):
        writer.writerow(csv_text(cell) for cell in row)
        if number % 500 == 0:
            yield taken()
    yield taken()


def example_row(kind: Kind, context: Context) -> dict[str, str]:
    """Return the template's one line, by column name."""
    return {column.name: column.example for column in kind.columns}


def template(kind: Kind, context: Context) -> str:
    """Return an empty file of the kind: its head, and an example line that is never brought in."""
    row = list(example_row(kind, context).values())
    return "".join(csv_lines(header(kind, context), [row]))
