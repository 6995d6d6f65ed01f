"""
Words gathered into lines in reading order, and lines into the sheet's numbered sections.

A page that is set in two columns is read column by column. What stands at the same height of
several pages (a running head, a page number) is left out.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from pourwright.intake.sheets.pages import Page, Word

# Words that a section's title begins with or holds, in English, German and French.
TITLES = {
    1: r"identif|bezeichnung|product",
    2: r"hazard|gefahr|danger",
    3: r"composition|zusammensetzung|ingredient",
    4: r"first.?aid|erste|premiers",
    5: r"fire|brandbek|incendie",
    6: r"accident|freisetzung|release",
    7: r"handling|handhabung|manipulation",
    8: r"exposure|exposition",
    9: r"physical|physikalisch|physique",
    10: r"stabil",
    11: r"toxi[ck]olog",
    12: r"ecolog|umwelt|écolog|environment",
    13: r"disposal|entsorgung|élimination",
    14: r"transport",
    15: r"regulat|rechts|réglement",
    16: r"other|sonstig|autres?|further",
}
_NUMBERED = re.compile(
    r"^(?P<word>section|abschnitt|rubrique|sezione|sección|seccion|sectie|avsnitt|sekcja|oddíl|kohta|part)?\s*\.?\s*"
    r"(?P<number>1[0-6]|[1-9])\s*[.:)–—-]*\s*(?P<title>\D.*)?$",
    re.IGNORECASE,
)
_BARE_COMPOSITION = re.compile(
    r"^(composition\s*[/,]?\s*(and\s+)?information\s+on\s+(the\s+)?ingredients"
    r"|zusammensetzung\s*/\s*angaben|composition\s*/\s*informations\s+sur)",
    re.IGNORECASE,
)


@dataclass(slots=True)
class Line:
    """Words at one height, from left to right, in one column of a page."""

    page: Page
    column: int
    words: list[Word] = field(default_factory=list)

    @property
    def y0(self) -> float:
        return min(word.y0 for word in self.words)

    @property
    def y1(self) -> float:
        return max(word.y1 for word in self.words)

    @property
    def x0(self) -> float:
        return self.words[0].x0

    @property
    def x1(self) -> float:
        return max(word.x1 for word in self.words)

    @property
    def middle(self) -> float:
        return (self.y0 + self.y1) / 2

    @property
    def size(self) -> float:
        return max(word.height for word in self.words)

    @property
    def text(self) -> str:
        return " ".join(word.text for word in self.words)

    def chunks(self, gap: float = 0.75) -> list[list[Word]]:
        """Return runs of words parted by more than ``gap`` times the height of the letters."""
        runs: list[list[Word]] = []
        for word in self.words:
            if runs and word.x0 - runs[-1][-1].x1 <= gap * min(word.height, runs[-1][-1].height):
                runs[-1].append(word)
            else:
                runs.append([word])
        return runs


def text_of(words: Iterable[Word]) -> str:
    """Return the words with single spaces."""
    return " ".join(word.text for word in words)


def lines_of(pages: Sequence[Page]) -> list[Line]:
    """Return every line of the sheet in reading order, running heads and feet left out."""
    single = {page.number: _gather(page, _level(page.words), 0) for page in pages}
    furniture = _furniture(single)
    kept = {
        number: [line for line in lines if id(line) not in furniture]
        for number, lines in single.items()
    }
    gutters = {page.number: _gutter(page, kept[page.number]) for page in pages}
    two = any(
        gutter is not None and _starts_right(kept[number], gutter)
        for number, gutter in gutters.items()
    )
    found: list[Line] = []
    for page in pages:
        gutter = gutters[page.number] if two else None
        lines = kept[page.number]
        if gutter is None:
            found += lines
            continue
        words = [word for line in lines for word in line.words]
        across = [w for line in lines if _crosses(line, gutter) for w in line.words]
        apart = {id(word) for word in across}
        found += _gather(page, across, 0)
        for side in (0, 1):
            of_side = [w for w in words if id(w) not in apart and (w.centre > gutter) == bool(side)]
            found += _gather(page, of_side, side)
    return found


def _level(words: Iterable[Word]) -> list[Word]:
    return [word for word in words if word.turned == 0]


def _gather(page: Page, words: Sequence[Word], column: int) -> list[Line]:
    lines: list[Line] = []
    last: list[Word] = []
    foot = head = 0.0
    for word in sorted(words, key=lambda w: w.middle):
        # Of one line are words whose middles differ by less than a third of their height.
        if last and word.middle - last[-1].middle < 0.3 * word.height and head < word.middle < foot:
            last.append(word)
        else:
            last = [word]
            lines.append(Line(page, column, last))
        head, foot = min(w.y0 for w in last), max(w.y1 for w in last)
    for line in lines:
        line.words.sort(key=lambda w: w.x0)
    return lines


def _furniture(lines: dict[int, list[Line]]) -> set[int]:
    """
    Return what stands on most pages at the same height, but for its digits.

    From each edge of the page inwards, as far as every line is such a one and no further.
    """
    if len(lines) < 2:
        return set()
    seen = Counter(_place_and_words(line) for of_page in lines.values() for line in of_page)
    enough = max(2, (len(lines) + 1) // 2)
    found = set()
    for of_page in lines.values():
        for inwards in (of_page, of_page[::-1]):
            for line in inwards[:8]:
                key = _place_and_words(line)
                if seen[key] < enough or re.search(r"0-0-0", key[1]):
                    break
                found.add(id(line))
    return found


def _place_and_words(line: Line) -> tuple[int, str]:
    return round(line.middle / 4), re.sub(r"\d+", "0", line.text)


def _gutter(page: Page, lines: Sequence[Line]) -> float | None:
    """Return the x of a white strip down the page's middle that nearly no line crosses."""
    if not lines:
        return None
    best = None
    for percent in range(40, 61):
        x = page.width * percent / 100
        crossing = [line for line in lines if any(w.x0 - 2 < x < w.x1 + 2 for w in line.words)]
        # A title across both columns may cross at the top; running text may not.
        if len(crossing) <= max(2, len(lines) // 12) and all(
            line.middle < 0.25 * page.height for line in crossing
        ):
            best = (
                x if best is None or abs(percent - 50) < abs(best / page.width * 100 - 50) else best
            )
    return best


def _starts_right(lines: Sequence[Line], gutter: float) -> bool:
    """Return whether headings of sections begin in the right half as in the left."""
    right = 0
    for line in lines:
        words = [word for word in line.words if word.x0 > gutter]
        if words and (number := section_number(text_of(words))) and number > 1:
            right += 1
    return right >= 2


def _crosses(line: Line, gutter: float) -> bool:
    return any(word.x0 < gutter < word.x1 for word in line.words) or (
        line.x0 < gutter < line.x1
        and len(line.chunks(1.2)) == 1
        and line.middle < 0.25 * line.page.height
    )


# --- sections ------------------------------------------------------------------------------------


def section_number(text: str, after: str = "") -> int | None:
    """
    Return the number of the section whose heading a line is, or None. ``after`` is the next line.

    >>> section_number("SECTION 3: Composition/information on ingredients")
    3
    >>> section_number("3.2 Mixtures") is None
    True
    """
    text = text.strip()
    if len(text) > 160:
        return None
    if _BARE_COMPOSITION.match(text):
        return 3
    if not (found := _NUMBERED.match(text)):
        return None
    number, title = int(found["number"]), found["title"] or ""
    if not title and found["word"]:
        title = after
    words = re.search(TITLES[number], title[:60], re.IGNORECASE)
    if found["word"] and re.match(r"\D+\d+\s*[:–—-]", text) and title[:1].isupper():
        return number  # "SECCIÓN 4: Primeros auxilios", whatever the language
    return number if words and (found["word"] or words.start() < 25) else None


def sections_of(lines: Sequence[Line]) -> dict[int, tuple[int, int]]:
    """
    Return where each section begins (after its heading) and ends, as places in ``lines``.

    Where a heading comes twice (a page that repeats it, a list of contents), the section goes from
    the first that is followed by anything, to the next heading of another number.
    """
    marks: list[tuple[int, int]] = []
    for at, line in enumerate(lines):
        after = lines[at + 1].text if at + 1 < len(lines) else ""
        number = section_number(line.text, after)
        if number is not None:
            marks.append((at, number))
    spans: dict[int, tuple[int, int]] = {}
    for place, (at, number) in enumerate(marks):
        end = next((a for a, other in marks[place + 1 :] if other != number), len(lines))
        longest = spans.get(number, (0, 0))
        if end - at - 1 > 3 * (longest[1] - longest[0]) or number not in spans:
            spans[number] = (at + 1, end)
    return spans
