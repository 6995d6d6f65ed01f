"""
A column of weights as it comes from a scale, a sheet or the clipboard.

One vessel a line: its net weight, or its empty and its filled weight side by side (tab, semicolon,
or a comma where the decimals have points). A first line without figures is a heading. Every faulty
line is listed by its number, and nothing is taken then.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from pourwright.core.amounts import parse_mass, to_mg
from pourwright.core.errors import BadInput

MOST_LINES = 3000
MOST_FAULTS = 8


class BadColumn(BadInput):
    """Lines that are no weights."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One vessel: its net weight, or empty and filled (filled may come later). In milligrams."""

    net_mg: int | None = None
    empty_mg: int | None = None
    full_mg: int | None = None


def read_fills(text: str, *, bare: str = "g", tare_mg: int | None = None) -> list[Weighed]:
    """
    Return the vessels of a column; a number without a unit is in ``bare``.

    With ``tare_mg`` a single figure is the filled weight, and that one tare stands for every
    vessel's empty weight.

    >>> read_fills("empty;filled\\n150.2;318.0")
    [Weighed(net_mg=None, empty_mg=150200, full_mg=318000)]
    """
    lines = text.replace("\ufeff", "").splitlines()
    if len(lines) > MOST_LINES:
        raise BadColumn(f"{len(lines)} lines; at most {MOST_LINES} vessels at once.")
    found, faults = [], []
    for number, line in enumerate(lines, start=1):
        cells = _cells(line)
        if not cells or (not found and not re.search("[0-9]", line)):
            continue
        try:
            found.append(_vessel(cells, number=number, bare=bare, tare_mg=tare_mg))
        except BadInput as problem:
            faults.append(str(problem))
    if faults:
        more = len(faults) - MOST_FAULTS
        raise BadColumn(
            " ".join(faults[:MOST_FAULTS]) + (f" And {more} more lines." if more > 0 else "")
        )
    if not found:
        raise BadColumn("No weight is given; write one vessel a line.")
    return found


def _cells(line: str) -> list[str]:
    apart = "[\\t;]"
    if "," in line and "." in line and not re.search(apart, line):
        apart = ","
    return [cell.strip().strip('"') for cell in re.split(apart, line.strip()) if cell.strip(' "')]


def _vessel(cells: list[str], *, number: int, bare: str, tare_mg: int | None) -> Weighed:
    if len(cells) > 2:
        raise BadColumn(
            f"Line {number} has {len(cells)} figures; give the net weight, or empty and filled."
        )
    weights = [to_mg(parse_mass(cell, bare=bare, field=f"Line {number}")) for cell in cells]
    if len(weights) == 2:
        if weights[1] < weights[0]:
            raise BadColumn(
                f"Line {number} has the vessel heavier empty than filled; empty comes first."
            )
        return Weighed(empty_mg=weights[0], full_mg=weights[1])
    if tare_mg is None:
        return Weighed(net_mg=weights[0])
    if weights[0] < tare_mg:
        raise BadColumn(f"Line {number} weighs less than the tare.")
    return Weighed(empty_mg=tare_mg, full_mg=weights[0])
