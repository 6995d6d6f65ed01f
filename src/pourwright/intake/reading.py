"""
Rows of cells, read as records of one kind: values where all is well, findings where it is not.

One run finds everything that is wrong, each with its line and column. Nothing here knows what the
workshop holds; names are looked up where records are made.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from pourwright.core.errors import BadInput
from pourwright.intake.columns import Column, Context
from pourwright.intake.kinds import KINDS, Kind
from pourwright.intake.tables import Row
from pourwright.intake.writing import example_row, unguarded

MOST_FINDINGS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something wrong in a file: the line, the column ("" for the whole line), and what to do."""

    line: int
    column: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """The values of one line by column name; a column that is empty or not there is left out."""

    line: int
    values: dict[str, object]

    def get(self, name: str, otherwise=None):
        return self.values.get(name, otherwise)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Lines that make one record: the word they share, what is said of the whole, and each line."""

    key: str
    line: int
    head: dict[str, object]
    lines: tuple[Record, ...]

    def get(self, name: str, otherwise=None):
        return self.head.get(name, otherwise)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """All that was read. With any finding, nothing of it is to be brought in."""

    kind: Kind
    columns: tuple[str, ...]
    records: tuple[Record, ...]
    groups: tuple[Group, ...] = ()
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = field(default=())


def read_rows(kind: Kind, rows: Sequence[Row], context: Context) -> Reading:
    """Read the rows of a file, the first of them its head, as records of ``kind``."""
    head, body = rows[0], rows[1:]
    columns, findings = _match_head(kind, head, context)
    notes = []
    if findings:
        return Reading(kind=kind, columns=(), records=(), findings=tuple(findings))
    names = tuple(column.name for column in columns if column)
    example = example_row(kind, context)
    records = []
    for row in body:
        cells = [unguarded(cell) for cell in row.cells]
        if _is_example(example, columns, cells):
            notes.append(f"Line {row.line} is the template's example and was left out.")
            continue
        record, wrong = _read_row(columns, row.line, cells, context)
        records.append(record)
        findings += wrong
    if not records:
        findings.append(
            Finding(line=head.line, column="", message="There is a head, but no line below it.")
        )
    groups, wrong = _grouped(kind, records, findings) if kind.group else ((), [])
    findings = sorted([*findings, *wrong], key=lambda finding: finding.line)
    return Reading(
        kind=kind,
        columns=names,
        records=tuple(records),
        groups=groups,
        findings=tuple(findings),
        notes=tuple(notes),
    )


# --- the head ------------------------------------------------------------------------------------


def _match_head(
    kind: Kind, head: Row, context: Context
) -> tuple[list[Column | None], list[Finding]]:
    """Return the column of each cell of the head, and what is wrong with it."""
    by_name = {}
    for column in kind.columns:
        by_name[_plain(column.name)] = by_name[_plain(column.title(context))] = column
    matched: list[Column | None] = []
    findings: list[Finding] = []
    meant: set[str] = set()

    def wrong(name: str, message: str) -> None:
        findings.append(Finding(line=head.line, column=name, message=message))

    for place, cell in enumerate(head.cells, start=1):
        column = by_name.get(_plain(unguarded(cell)))
        if not cell:
            wrong("", f"Column {place} has no name in the head; name it or take it out.")
        elif column is None and (other := _in_another_unit(kind, cell)):
            meant.add(other.name)
            wrong(cell[:60], _other_unit(other, cell, context))
        elif column is None:
            wrong(cell[:60], _unknown(kind, cell))
        elif column in matched:
            wrong(column.name, f"“{column.name}” stands twice in the head; keep one of them.")
        matched.append(column)
    for column in kind.columns:
        if column.required and column not in matched and column.name not in meant:
            wrong(
                column.name,
                f"There is no column “{column.name}” ({column.meaning}); add it to the head.",
            )
    if not any(matched):
        fits = [
            other.name
            for other in KINDS
            if other is not kind
            and {_plain(c.name) for c in other.columns if c.required}
            <= {_plain(cell) for cell in head.cells}
        ]
        hint = f" It looks like {fits[0]}." if fits else ""
        return [], [
            Finding(
                line=head.line,
                column="",
                message=f"The first line is no head of {kind.name}: none of its cells names a "
                f"column such as “{kind.columns[0].name}”. Start from the template.{hint}",
            )
        ]
    return matched, findings


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-–’']+", " ", name.casefold()).strip()


def _in_another_unit(kind: Kind, cell: str) -> Column | None:
    """Return the column whose name the cell has, with a unit in brackets that is not its own."""
    bare = re.sub(r"\s*\(.*\)\s*$", "", cell)
    named = [column for column in kind.columns if _plain(column.name) == _plain(bare)]
    return named[0] if named and bare != cell else None


def _other_unit(column: Column, cell: str, context: Context) -> str:
    if column.unit == "{currency}":
        return (
            f"“{cell[:40]}”: this workshop keeps its money in {context.currency}; change the "
            f"amounts to that and name the column “{column.name}”, or set another currency on "
            "the workshop's page first."
        )
    return (
        f"“{cell[:40]}”: {column.name} is read in {column.unit_in(context) or 'words'}; name the "
        f"column “{column.name}” and write another unit in each cell."
    )


def _unknown(kind: Kind, cell: str) -> str:
    shown = cell[:40]
    close = difflib.get_close_matches(
        _plain(cell), [column.name for column in kind.columns], n=1, cutoff=0.6
    )
    if close:
        return f"“{shown}” is no column of {kind.name}; did you mean “{close[0]}”?"
    known = ", ".join(column.name for column in kind.columns)
    return f"“{shown}” is no column of {kind.name}; take it out. The columns are {known}."


# --- the lines -----------------------------------------------------------------------------------


def _is_example(
    example: dict[str, str], columns: Sequence[Column | None], cells: Sequence[str]
) -> bool:
    shown = {
        column.name: cell for column, cell in zip(columns, cells, strict=False) if column and cell
    }
    return shown == {name: cell for name, cell in example.items() if cell}


def _read_row(
    columns: Sequence[Column | None], line: int, cells: Sequence[str], context: Context
) -> tuple[Record, list[Finding]]:
    values: dict[str, object] = {}
    findings = []
    padded = [*cells, *[""] * (len(columns) - len(cells))]
    for column, cell in zip(columns, padded, strict=False):
        assert column is not None
        if not cell:
            if column.required and not column.head:
                findings.append(_empty(column, line))
            continue
        try:
            values[column.name] = column.read(cell, context)
        except BadInput as problem:
            findings.append(Finding(line=line, column=column.name, message=str(problem)))
    if len(cells) > len(columns):
        message = (
            f"There are {len(cells)} cells under {len(columns)} columns; put text that holds the "
            "delimiter between quotation marks."
        )
        findings.append(Finding(line=line, column="", message=message))
    return Record(line=line, values=values), findings


def _empty(column: Column, line: int) -> Finding:
    message = f"{column.name[0].upper()}{column.name[1:]} is empty; {_wanted(column)}."
    return Finding(line=line, column=column.name, message=message)


def _wanted(column: Column) -> str:
    if column.words:
        return f"write {' or '.join(column.words)}"
    example = f", as in {column.example}" if column.example else ""
    return f"write {column.meaning or column.name}{example}"


def _grouped(
    kind: Kind, records: Sequence[Record], wrong: Sequence[Finding]
) -> tuple[tuple[Group, ...], list[Finding]]:
    """
    Put the lines that share a word together; what is said of the whole must not differ.

    ``wrong`` is what was found in the lines: what could not be read is not called empty as well.
    """
    head_columns = [column for column in kind.columns if column.head]
    heads = [column.name for column in head_columns]
    together: dict[str, list[Record]] = {}
    for record in records:
        key = record.get(kind.group)
        if key is not None:
            together.setdefault(str(key), []).append(record)
    groups, findings = [], []
    for key, lines in together.items():
        head: dict[str, object] = {}
        said: dict[str, int] = {}
        for record in lines:
            for name in heads:
                value = record.get(name)
                if value is None:
                    continue
                if name in head and head[name] != value:
                    message = (
                        f"{name[0].upper()}{name[1:]} differs from line {said[name]} of the same "
                        f"{kind.group} “{key[:40]}”; make them the same, or leave this one empty."
                    )
                    findings.append(Finding(line=record.line, column=name, message=message))
                head.setdefault(name, value)
                said.setdefault(name, record.line)
        tried = {finding.column for finding in wrong if finding.line in {r.line for r in lines}}
        findings += [
            _empty(column, lines[0].line)
            for column in head_columns
            if column.required and column.name not in head and column.name not in tried
        ]
        groups.append(Group(key=key, line=lines[0].line, head=head, lines=tuple(lines)))
    return tuple(groups), findings
