"""
The answers of a scent panel as a file: one line an assessor, as it stands on the blind sheet.

The kind stands apart from those that build a workshop up: answers belong to one panel that is open
there, whose codes and orders the program drew itself.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pourwright.core.errors import BadInput
from pourwright.intake.columns import text, whole
from pourwright.intake.kinds import Kind

PANEL_ANSWERS = Kind(
    name="panel answers",
    what="what the assessors of one panel said; one line an assessor",
    columns=(
        whole("assessor", "the number on the blind sheet", "3", least=1, required=True),
        text("smells", "the codes from left to right, to be sure of the sheet; may be left out",
             "411 826 593", most=120),
        text("answer", "ranking: the places from left to right, tied ones alike; triangle test: "
             "the code of the odd one", "2 1 3", most=120, required=True),
        text("initials", "whose answer it is", "AB", most=20),
        text("note", "what was said", "the middle one is soapy"),
    ),
)  # fmt: skip


class UnreadableAnswer(BadInput):
    """An answer's cell that is no row of places, or no code."""


def codes_in(written: str) -> list[str]:
    """
    Return the codes of a cell, whatever stands between them.

    >>> codes_in("411 · 826 · 593")
    ['411', '826', '593']
    """
    return re.findall(r"[0-9]+", written)


def places_in(written: str, codes: Sequence[str]) -> dict[str, int]:
    """
    Return the place of each code, from a cell with the places in the order of the codes.

    >>> places_in("2 1 3", ["411", "826", "593"])
    {'411': 2, '826': 1, '593': 3}
    """
    parts = [part for part in re.split(r"[\s,;·/|-]+", written.strip()) if part]
    if not all(re.fullmatch(r"[1-9][0-9]?", part) for part in parts) or len(parts) != len(codes):
        raise UnreadableAnswer(
            f"“{written[:40]}” is not a place for each of {', '.join(codes)}; write "
            f"{len(codes)} places from left to right, such as "
            f"{' '.join(str(place) for place in range(1, len(codes) + 1))}."
        )
    return dict(zip(codes, map(int, parts), strict=True))
