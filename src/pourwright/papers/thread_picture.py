"""
The thread of a lot as a picture: what it was made from to the left, where it went to the right.

Boxes stand in columns by how many steps they are from the lot in the middle; a line for each
step. Pictures of more than some forty boxes say less than a list: the caller draws none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from pourwright.papers.svg import Markup, el, number, picture

BOX_WIDE: Final = 132.0
BOX_HIGH: Final = 36.0
GAP_ACROSS: Final = 34.0
GAP_DOWN: Final = 10.0
LETTERS: Final = 21


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """One lot or order: its number, a word about it, and its column (0 the lot itself)."""

    key: str
    head: str
    word: str
    column: int


def thread_svg(
    boxes: Sequence[Box],
    links: Sequence[tuple[str, str]],
    *,
    root: str,
    title: str,
    prefix: str = "thread",
) -> Markup:
    """Return the picture; ``links`` are (from, to) by key, ``root`` is set off by its frame."""
    columns = sorted({box.column for box in boxes})
    placed: dict[str, tuple[float, float]] = {}
    tallest = max(sum(box.column == column for box in boxes) for column in columns)
    high = tallest * (BOX_HIGH + GAP_DOWN) - GAP_DOWN
    for place, column in enumerate(columns):
        here = _ordered([box for box in boxes if box.column == column], links, placed)
        top = (high - len(here) * (BOX_HIGH + GAP_DOWN) + GAP_DOWN) / 2
        for row, box in enumerate(here):
            placed[box.key] = (
                1 + place * (BOX_WIDE + GAP_ACROSS),
                1 + top + row * (BOX_HIGH + GAP_DOWN),
            )
    drawn = [_line(placed[one], placed[other]) for one, other in links
             if one in placed and other in placed]  # fmt: skip
    drawn += [_box(box, placed[box.key], root=box.key == root) for box in boxes]
    return picture(
        *drawn,
        width=len(columns) * (BOX_WIDE + GAP_ACROSS) - GAP_ACROSS + 2,
        height=high + 2,
        prefix=prefix,
        title=title,
        class_="ch",
    )


def _ordered(
    boxes: list[Box], links: Sequence[tuple[str, str]], placed: dict[str, tuple[float, float]]
) -> list[Box]:
    """Return a column's boxes by the middle of what leads to each, so that lines run flat."""

    def middle(box: Box) -> float:
        heights = [placed[one][1] for one, other in links if other == box.key and one in placed]
        return sum(heights) / len(heights) if heights else 0.0

    return sorted(boxes, key=middle)


def _line(one: tuple[float, float], other: tuple[float, float]) -> Markup:
    x1, y1 = one[0] + BOX_WIDE, one[1] + BOX_HIGH / 2
    x2, y2 = other[0], other[1] + BOX_HIGH / 2
    half = (x1 + x2) / 2
    bend = " ".join(number(v) for v in (half, y1, half, y2, x2, y2))
    return el("path", d=f"M{number(x1)} {number(y1)}C{bend}", class_="ch-lead")


def _box(box: Box, at: tuple[float, float], *, root: bool) -> Markup:
    x, y = at
    return el(
        "g",
        el("rect", x=x, y=y, width=BOX_WIDE, height=BOX_HIGH, rx=5,
           class_="ch-node ch-root" if root else "ch-node"),
        el("text", _cut(box.head), x=x + 8, y=y + 15, font_size=12.5, class_="ch-head"),
        el("text", _cut(box.word), x=x + 8, y=y + 29, font_size=11, class_="ch-text"),
    )  # fmt: skip


def _cut(words: str) -> str:
    return words if len(words) <= LETTERS else words[: LETTERS - 1].rstrip() + "…"
