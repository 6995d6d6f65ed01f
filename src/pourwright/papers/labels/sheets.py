"""
Sheets of labels: rows and columns by plain measures, a printer's own offset, and cut marks.

Lengths are millimetres. Geometries are given by their measures alone; a maker adds their own from
the packet or with a ruler.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from itertools import islice

from pourwright.core.errors import BadInput
from pourwright.papers.labels.marks import Drawing, Words
from pourwright.papers.labels.pdf import Page, Placed, cut_marks
from pourwright.papers.typefaces import REGULAR

A4 = (210.0, 297.0)
A3 = (297.0, 420.0)
US_LETTER = (215.9, 279.4)
US_LEDGER = (279.4, 431.8)
PAPERS = {"A4": A4, "US Letter": US_LETTER, "A3": A3, "US Ledger": US_LEDGER}


class BadSheet(BadInput):
    """The measures do not make a sheet of labels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """
    A sheet of labels.

    ``left`` and ``top`` are the first label's distance from the paper's edges; ``across`` and
    ``down`` the pitch, from one label's edge to the next one's same edge. ``dx`` and ``dy`` are
    what this printer prints too far left and too high, found with the test page.
    """

    name: str
    paper: tuple[float, float]
    columns: int
    rows: int
    width: float
    height: float
    left: float
    top: float
    across: float
    down: float
    round: bool = False
    dx: float = 0.0
    dy: float = 0.0

    def __post_init__(self) -> None:
        if self.columns < 1 or self.rows < 1 or self.columns * self.rows > 1000:
            raise BadSheet(
                f"A sheet has one to 1,000 labels; {self.columns} columns by {self.rows} rows were "
                "given."
            )
        if min(self.width, self.height) <= 0 or min(self.left, self.top) < 0:
            raise BadSheet("A label’s width and height are more than 0 mm, the margins not less.")
        if self.round and abs(self.width - self.height) > 0.01:
            raise BadSheet(
                f"A round label is as wide as it is high; {self.width:g} by {self.height:g} mm "
                "was given."
            )
        if (self.columns > 1 and self.across < self.width) or (
            self.rows > 1 and self.down < self.height
        ):
            raise BadSheet(
                f"Labels of {self.width:g} by {self.height:g} mm at a pitch of {self.across:g} by "
                f"{self.down:g} mm would lie on one another."
            )
        right = self.left + (self.columns - 1) * self.across + self.width
        foot = self.top + (self.rows - 1) * self.down + self.height
        if right > self.paper[0] + 0.05 or foot > self.paper[1] + 0.05:
            raise BadSheet(
                f"{self.columns} by {self.rows} labels reach {right:.1f} by {foot:.1f} mm, beyond "
                f"the paper of {self.paper[0]:g} by {self.paper[1]:g} mm."
            )

    @property
    def places(self) -> int:
        return self.columns * self.rows

    def place(self, number: int) -> tuple[float, float]:
        """Return where the label with a number from 0 lies, row by row, with the offset."""
        row, column = divmod(number, self.columns)
        return self.left + column * self.across + self.dx, self.top + row * self.down + self.dy


@cache
def known_sheets() -> tuple[Sheet, ...]:
    """Return the sheets that come with the program, from ``sheet_sizes.toml``."""
    path = files("pourwright.papers.labels").joinpath("sheet_sizes.toml")
    rows = tomllib.loads(path.read_text(encoding="utf-8"))["sheets"]
    return tuple(
        Sheet(**{**row, "paper": PAPERS[row["paper"]]}, name=sheet_name(**row)) for row in rows
    )


def sheet_name(
    *, paper: str, columns: int, rows: int, width: float, height: float, round: bool = False, **_
) -> str:
    """Return a sheet's name by its measures, such as "A4, 3 × 8 of 63.5 × 33.9 mm"."""
    size = f"Ø {width:g} mm" if round else f"{width:g} × {height:g} mm"
    return f"{paper}, {columns} × {rows} of {size}"


def sheet_key(sheet: Sheet) -> str:
    """Return a short name by measures for addresses and the terminal: "a4-3x8-63.5x33.9"."""
    paper = next((name for name, size in PAPERS.items() if size == sheet.paper), "paper")
    size = f"{sheet.width:g}" if sheet.round else f"{sheet.width:g}x{sheet.height:g}"
    return f"{paper.split()[-1].lower()}-{sheet.columns}x{sheet.rows}-{size}"


def many_on_a_page(drawing: Drawing, paper: tuple[float, float]) -> Sheet:
    """
    Return as many labels of a size as a plain sheet takes, with room for cut marks between.

    The paper is turned where it then takes more. Raises ``BadSheet`` where it takes none.
    """
    apart = 2 * drawing.bleed_mm + 4
    margin = drawing.bleed_mm + 9.0  # cut marks end 5 mm from the paper’s edge
    paper = max(paper, paper[::-1], key=lambda turned: _room(drawing, turned, apart, margin))
    columns = int((paper[0] - 2 * margin + apart) // (drawing.width + apart))
    rows = int((paper[1] - 2 * margin + apart) // (drawing.height + apart))
    if columns < 1 or rows < 1:
        raise BadSheet(
            f"A label of {drawing.width:.1f} by {drawing.height:.1f} mm is larger than the paper "
            f"of {paper[0]:g} by {paper[1]:g} mm; use larger paper or print it alone."
        )
    return Sheet(
        name="plain paper",
        paper=paper,
        columns=columns,
        rows=rows,
        width=drawing.width,
        height=drawing.height,
        left=margin,
        top=margin,
        across=drawing.width + apart,
        down=drawing.height + apart,
        round=drawing.shape == "circle",
    )


def _room(drawing: Drawing, paper: tuple[float, float], apart: float, margin: float) -> float:
    across = (paper[0] - 2 * margin + apart) // (drawing.width + apart)
    down = (paper[1] - 2 * margin + apart) // (drawing.height + apart)
    return max(across, 0) * max(down, 0)


def pages_of(
    drawings: Sequence[Drawing], sheet: Sheet, *, start: int = 1, cut: bool = False,
    across: str = "",
) -> list[Page]:  # fmt: skip
    """
    Return the pages of labels, beginning at a place of the first sheet (1 is the first).

    Where the sheet's labels lie close, the bleed ends half way to the next. ``across`` is a word
    printed over each label.
    Raises ``BadSheet`` where a label is larger than the sheet's, or the start is not on it.
    """
    if not 1 <= start <= sheet.places:
        raise BadSheet(f"The sheet has places 1 to {sheet.places}; {start} was asked for.")
    for drawing in drawings:
        if drawing.width > sheet.width + 0.05 or drawing.height > sheet.height + 0.05:
            raise BadSheet(
                f"{drawing.title} is {drawing.width:.1f} by {drawing.height:.1f} mm and the "
                f"sheet’s labels are {sheet.width:g} by {sheet.height:g} mm: choose a larger sheet."
            )
    pages = []
    # The same drawing stays the same one, so that the PDF keeps it once.
    fitted = {id(drawing): _within(drawing, sheet) for drawing in drawings}
    waiting: Iterator[Drawing] = (fitted[id(drawing)] for drawing in drawings)
    first = start - 1
    while group := list(islice(waiting, sheet.places - first)):
        placed = tuple(
            _on(sheet, drawing, number, across) for number, drawing in enumerate(group, start=first)
        )
        lines = tuple(cut_marks(placed)) if cut else ()
        pages.append(Page(width=sheet.paper[0], height=sheet.paper[1], placed=placed, lines=lines))
        first = 0
    return pages


def _within(drawing: Drawing, sheet: Sheet) -> Drawing:
    """Return a label whose bleed keeps out of its neighbours'."""
    gaps = [drawing.bleed_mm]
    if sheet.columns > 1:
        gaps.append((sheet.across - drawing.width) / 2)
    if sheet.rows > 1:
        gaps.append((sheet.down - drawing.height) / 2)
    bleed = max(min(gaps), 0.0)
    return drawing if bleed == drawing.bleed_mm else replace(drawing, bleed_mm=bleed)


def _on(sheet: Sheet, drawing: Drawing, number: int, across: str) -> Placed:
    """Return a label in the middle of its place, so that a smaller one has even margins."""
    x, y = sheet.place(number)
    return Placed(
        drawing=drawing,
        x=x + (sheet.width - drawing.width) / 2,
        y=y + (sheet.height - drawing.height) / 2,
        across=across,
    )


def test_page(sheet: Sheet) -> Page:
    """
    Return a page to find the printer's offset with: each place's outline, and two rulers.

    Print it on plain paper at 100 %, lay it on a sheet of labels against the light, and measure
    how far the outlines lie off.
    """
    lines: list[tuple[float, float, float, float]] = []
    for number in range(sheet.places):
        x, y = sheet.place(number)
        right, foot = x + sheet.width, y + sheet.height
        lines += [
            (x, y, right, y),
            (right, y, right, foot),
            (right, foot, x, foot),
            (x, foot, x, y),
        ]
    # Along the middle of a row, where no outline lies on the ruler.
    middle_x = sheet.paper[0] / 2 - 50
    middle_y = sheet.place(sheet.rows // 2 * sheet.columns)[1] + sheet.height / 2
    notes = [
        Words(text="100 mm: measure this line; print at 100 %, never fitted to the page.",
              x=middle_x, y=middle_y - 2, size_pt=8, face=REGULAR)
    ]  # fmt: skip
    lines.append((middle_x, middle_y, middle_x + 100, middle_y))
    for step in range(11):
        x = middle_x + 10 * step
        lines.append((x, middle_y, x, middle_y + (3 if step % 5 == 0 else 1.5)))
    return Page(width=sheet.paper[0], height=sheet.paper[1], lines=tuple(lines), notes=tuple(notes))
