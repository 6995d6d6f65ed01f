"""A composition table on its side: each ingredient a column, each kind of fact a row."""

from __future__ import annotations

from collections.abc import Sequence

from pourwright.intake.sheets.lines import Line, text_of
from pourwright.intake.sheets.marks import CAS, kind_of_head
from pourwright.intake.sheets.pages import Word
from pourwright.intake.sheets.table import RawRow


def read_sideways(lines: Sequence[Line]) -> list[RawRow] | None:
    """Return a row for each column of ingredients; None where no such table is found."""
    rows: list[RawRow] = []
    for at, line in enumerate(lines):
        numbers = [word for word in line.words if CAS.fullmatch(word.text)]
        label = text_of(word for word in line.words if numbers and word.x1 < numbers[0].x0)
        if len(numbers) >= 2 and kind_of_head(label) == "cas":
            rows += _table(lines, at, numbers)
    return rows or None


def _table(lines: Sequence[Line], at: int, numbers: Sequence[Word]) -> list[RawRow]:
    """Return the ingredients whose numbers stand in the line at ``at``."""
    line = lines[at]
    labels_end = max(word.x1 for word in line.words if word.x1 < numbers[0].x0)
    left = max(labels_end, numbers[0].x0 - 4)
    edges = [*(word.x0 - 4 for word in numbers[1:]), float("inf")]
    begin = end = at
    while begin > 0 and _belongs(lines[begin - 1], line, left):
        begin -= 1
    while end + 1 < len(lines) and _belongs(lines[end + 1], line, left):
        end += 1
    inside = lines[begin : end + 1]
    # What stands above the first label belongs to it: a name of several lines, set in the middle.
    kinds = [kind_of_head(text_of(w for w in part.words if w.x0 < left)) for part in inside]
    first = next((kind for kind in kinds if kind), "name")
    rows = [RawRow() for _ in numbers]
    kind = first
    for part, own in zip(inside, kinds, strict=True):
        kind = own or kind
        for row, from_x, to_x in zip(rows, [left, *edges], edges, strict=False):
            words = [word for word in part.words if from_x <= word.x0 < to_x]
            if words:
                row.cells.setdefault(kind, []).append(text_of(words))
                row.words += [(part.page, word) for word in words]
    return rows if len({k for k in kinds if k}) >= 3 else []


def _belongs(line: Line, middle: Line, left: float) -> bool:
    """Return whether a line is of the same table: labels left of the edge, nothing across it."""
    if line.page is not middle.page or line.column != middle.column:
        return False
    if any(word.x0 < left - 1 and word.x1 > left + 1 for word in line.words):
        return False
    label = text_of(word for word in line.words if word.x0 < left)
    return not label or bool(kind_of_head(label))
