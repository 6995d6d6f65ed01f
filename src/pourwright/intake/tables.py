"""
Bytes from outside, or text pasted from a spreadsheet, as rows of cells. Bounded on every side.

CSV with comma, semicolon or tab, in UTF-8, UTF-16 or the encoding of old Windows programs, and the
first sheet of an XLSX workbook. Every row keeps the line where it stands, for whoever has to mend
it.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from time import monotonic

from pourwright.core.errors import BadInput

MOST_BYTES = 2 * 1024 * 1024
MOST_UNPACKED_BYTES = 60 * 1024 * 1024
# Bringing in holds the one turn to write; others wait for it 20 s at most. This many take a few.
MOST_ROWS = 2000
MOST_COLUMNS = 60
LONGEST_CELL = 4000
MOST_SECONDS = 20
DELIMITERS = (",", ";", "\t")


class UnreadableFile(BadInput):
    """A file from which no rows can be read."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the line where it begins (from 1) and its cells, outer spaces taken off."""

    line: int
    cells: tuple[str, ...]


def read_file(data: bytes) -> list[Row]:
    """Return the rows of a CSV file or of a workbook's first sheet; empty rows are left out."""
    if len(data) > MOST_BYTES:
        raise UnreadableFile(
            f"The file is {len(data) / 2**20:.1f} MB; at most {MOST_BYTES // 2**20} MB are read at "
            "once. Split it into several."
        )
    if data.startswith(b"PK\x03\x04"):
        return _gather(_workbook_rows(data))
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise UnreadableFile(
            "This is a workbook of the old .xls kind; save it as .xlsx or CSV and bring that in."
        )
    return read_text(decode(data))


def decode(data: bytes) -> str:
    """Return the text of a file: UTF-8 or UTF-16 by its mark, else UTF-8, else Windows-1252."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encodings = ["utf-16"]
    elif data[1:2] == b"\x00" and data[:1] != b"\x00":
        encodings = ["utf-16-le"]
    elif data[:1] == b"\x00" and data[1:2] != b"\x00":
        encodings = ["utf-16-be"]
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text
    raise UnreadableFile(
        "The file is not text that can be read; save it as CSV in UTF-8, or as .xlsx."
    )


def read_text(text: str) -> list[Row]:
    """Return the rows of CSV or of cells pasted from a spreadsheet."""
    if len(text) > MOST_BYTES:
        raise UnreadableFile("That is too much text at once; split it into several.")
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return _gather(_text_rows(text))


def as_text(rows: Sequence[Row]) -> str:
    """Return rows as text that ``read_text`` reads the same, each on its line where that can be."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter="\t", lineterminator="\n")
    line = 1
    for row in rows:
        while line < row.line:
            buffer.write("\n")
            line += 1
        writer.writerow(row.cells)
        line += 1 + sum(cell.count("\n") for cell in row.cells)
    return buffer.getvalue()


def delimiter_of(text: str) -> str:
    """
    Return the delimiter: the one that the first line with text has most of, quoted parts aside.

    >>> delimiter_of('name;"a, b and c";notes')
    ';'
    """
    first = next((line for line in text.split("\n") if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", first)
    return max(DELIMITERS, key=bare.count)


def _text_rows(text: str) -> Iterator[Row]:
    delimiter, skipped = delimiter_of(text), 0
    # Some spreadsheets write the delimiter on a line of its own before everything else.
    if match := re.match(r"sep=(.)\n", text):
        delimiter, skipped, text = match[1], 1, text[match.end() :]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    before = 0
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as problem:
            line = before + 1 + skipped
            why = (
                "a quotation mark is opened and never closed, or stands inside a cell; write it "
                "twice there"
                if "expected after" in str(problem) or "end of data" in str(problem)
                else str(problem)
            )
            raise UnreadableFile(f"Line {line} cannot be taken apart: {why}.") from problem
        yield Row(before + 1 + skipped, tuple(cell.strip() for cell in cells))
        before = reader.line_num


def _gather(rows: Iterable[Row]) -> list[Row]:
    """Return the rows with anything in them, or refuse what is too much."""
    found: list[Row] = []
    until = monotonic() + MOST_SECONDS
    for row in rows:
        if monotonic() > until:
            raise UnreadableFile("Reading took too long; split the file into several.")
        cells = row.cells
        while cells and not cells[-1]:
            cells = cells[:-1]
        if not cells:
            continue
        if len(found) > MOST_ROWS:
            raise UnreadableFile(
                f"There are more than {MOST_ROWS} rows; split the file into several."
            )
        if len(cells) > MOST_COLUMNS:
            raise UnreadableFile(
                f"Line {row.line} has {len(cells)} cells; at most {MOST_COLUMNS} are read."
            )
        if any(len(cell) > LONGEST_CELL for cell in cells):
            raise UnreadableFile(
                f"Line {row.line} has a cell of more than {LONGEST_CELL} characters; shorten it."
            )
        found.append(Row(row.line, cells))
    if not found:
        raise UnreadableFile("There is nothing in it: no line has any text.")
    return found


# --- workbooks -----------------------------------------------------------------------------------


def _workbook_rows(data: bytes) -> Iterator[Row]:
    _refuse_bombs(data)
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        sheet = book.worksheets[0]
        # A sheet may claim any size in its head; the real one is counted while reading.
        sheet.reset_dimensions()
        rows = sheet.iter_rows(values_only=True)
        for line, values in enumerate(rows, start=1):
            yield Row(line, tuple(cell_text(value, line) for value in values))
    except BadInput:
        raise
    except Exception as problem:  # openpyxl raises whatever a broken part made it meet
        raise UnreadableFile(
            f"The workbook cannot be read ({type(problem).__name__}); save it anew as .xlsx or "
            "as CSV."
        ) from problem


def _refuse_bombs(data: bytes) -> None:
    """Refuse an archive that is no workbook, unpacks to too much, or carries XML entities."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            names = {part.filename for part in parts}
            if "xl/workbook.xml" not in names:
                raise UnreadableFile(
                    "This is not an .xlsx workbook; save the sheet as .xlsx or as CSV."
                )
            if len(parts) > 500 or sum(part.file_size for part in parts) > MOST_UNPACKED_BYTES:
                raise UnreadableFile("The workbook is too large inside; save one sheet as CSV.")
            for part in parts:
                if part.filename.endswith((".xml", ".rels")):
                    with archive.open(part) as file:
                        head = file.read(2048)
                    if b"<!DOCTYPE" in head or b"<!ENTITY" in head:
                        raise UnreadableFile("The workbook is not a plain one; save it anew.")
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError) as problem:
        raise UnreadableFile(
            "The workbook is damaged or locked with a password; save it anew as .xlsx or CSV."
        ) from problem


def cell_text(value: object, line: int = 0) -> str:
    """
    Return a spreadsheet's cell as the text that a person would have typed.

    >>> cell_text(0.1 + 0.2), cell_text(2500.0), cell_text(True)
    ('0.3', '2500', 'yes')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        # A spreadsheet holds 15 figures; the rest is noise of the binary fraction.
        return f"{Decimal(format(value, '.15g')):f}"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    return str(value).replace("\r\n", "\n").replace("\r", "\n").strip()
