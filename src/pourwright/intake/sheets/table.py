"""
A composition table, ruled or not: its columns, then its rows, then the text of each cell.

Columns come from upright lines where there are enough, else from white space together with the
heads. Rows come from level lines where each parts two ingredients, else from the numbers and shares
that stand once in each row, with the way the cells are aligned taken from the first and last row.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import median

from pourwright.intake.sheets.lines import Line, text_of
from pourwright.intake.sheets.marks import (
    CAS,
    CLASS_WORD,
    CODE,
    EC,
    FACTOR,
    SHARE,
    joined,
    kind_of_head,
)
from pourwright.intake.sheets.pages import Page, Word


@dataclass(slots=True)
class Column:
    """A column: its kind, its head and where it lies, relative to the panel's left edge."""

    kind: str
    head: str
    x0: float
    x1: float


@dataclass(slots=True)
class Panel:
    """The part of one page, or of one column of a page, in which a table may stand."""

    page: Page
    column: int
    lines: list[Line]
    left: float = 0.0
    head: list[Line] = field(default_factory=list)
    turned: list[Word] = field(default_factory=list)
    body: list[Line] = field(default_factory=list)


@dataclass(slots=True)
class RawRow:
    """One row: the lines of each column's cell by kind, and the words that it is made of."""

    cells: dict[str, list[str]] = field(default_factory=dict)
    words: list[tuple[Page, Word]] = field(default_factory=list)
    anchored: bool = True

    def text(self, *kinds: str) -> str:
        """Return the text of the columns of these kinds, one after the other."""
        return " ".join(filter(None, (joined(self.cells.get(kind, [])) for kind in kinds)))


def read_tables(lines: Sequence[Line]) -> list[RawRow] | None:
    """Return the rows of the tables in these lines; None where no table's head is found."""
    panels = _panels(lines)
    for panel in panels:
        _find_head(panel)
    first = next((at for at, panel in enumerate(panels) if panel.head or panel.turned), None)
    if first is None:
        return _without_heads(panels)
    panels = panels[first:]
    heads = {line.text for line in panels[0].head}
    if sum(1 for line in panels[0].body if line.text in heads) >= 2:
        return None  # the same labels over each ingredient: blocks, not one table
    for panel in panels:
        panel.body = [line for line in panel.body if line.text not in heads]
    columns = _columns(panels)
    kinds = {column.kind for column in columns}
    if len(columns) < 3 or not kinds & {"pct", "classes"} or not kinds & {"cas", "ids", "name"}:
        return None
    return _all_rows(panels, columns)


def _without_heads(panels: Sequence[Panel]) -> list[RawRow] | None:
    """Return the rows of bare columns that white space alone parts; None where there are none."""
    lines = [line for panel in panels for line in panel.body]
    marked = [at for at, line in enumerate(lines) if CAS.search(line.text)]
    if len(marked) < 3:
        return None
    left = panels[0].left
    spans = sorted(
        (word.x0 - left, word.x1 - left)
        for line in lines[marked[0] : marked[-1] + 1]
        for word in line.words
    )
    columns: list[Column] = []
    for x0, x1 in spans:
        if columns and x0 - columns[-1].x1 < 5:
            columns[-1].x1 = max(columns[-1].x1, x1)
        else:
            columns.append(Column("", "", x0, x1))
    for column, after in itertools.pairwise(columns):
        column.x1 = after.x0 = after.x0 - 2
    columns[0].x0, columns[-1].x1 = -1e9, 1e9
    edges = [(column.x0, column.x1, "") for column in columns]
    for panel in panels:
        panel.body = [line for line in panel.body if not _crosses(line, edges, panel.left)]
    _settle_kinds(columns, panels)
    kinds = [column.kind for column in columns]
    if kinds.count("cas") != 1 or kinds.count("pct") != 1 or not {"name", "classes"} <= set(kinds):
        return None
    return _all_rows(panels, columns)


def _all_rows(panels: Sequence[Panel], columns: Sequence[Column]) -> list[RawRow]:
    rows: list[RawRow] = []
    named_above: bool | None = None
    for panel in panels:
        found, named_above = _rows(panel, columns, named_above)
        if found and not found[0].anchored and rows:
            # What stands above the first number of a page belongs to the last row of the one before
            _append(rows[-1], found.pop(0))
        rows += found
    return rows


def unlike_heads(lines: Sequence[Line]) -> list[int]:
    """Return where tables with other heads than those before them begin."""
    starts: list[int] = []
    seen: set[str] = set()
    data_between = True
    for at, line in enumerate(lines):
        if _is_data(line):
            data_between = True
        elif _names_columns(line):
            cells = _head_cells([line], 0.0)
            full = len({kind_of_head(text) for _, _, text in cells} - {""}) >= 3
            if full and data_between and line.text not in seen:
                begin = at
                while begin > 0 and _belongs_above(lines[begin - 1], lines[begin]):
                    begin -= 1
                starts.append(begin)
                data_between = False
            seen.add(line.text)
    return starts


def _panels(lines: Sequence[Line]) -> list[Panel]:
    panels: list[Panel] = []
    for line in lines:
        if not panels or (panels[-1].page, panels[-1].column) != (line.page, line.column):
            panels.append(Panel(line.page, line.column, []))
        panels[-1].lines.append(line)
    for panel in panels:
        if panel.column:
            panel.left = min(line.x0 for line in panel.lines)
    # The left column of a page in two is measured from its own edge, as the right one is.
    if any(panel.column for panel in panels):
        for panel in panels:
            panel.left = min(line.x0 for line in panel.lines)
    return panels


# --- the head ------------------------------------------------------------------------------------


def _is_data(line: Line) -> bool:
    text = line.text
    return bool(
        CAS.search(text)
        or EC.search(text)
        or (CODE.search(text) and CLASS_WORD.search(text))
        or re.search(r"\d\s*%", text)
    )


def _find_head(panel: Panel) -> None:
    """Set the panel's head and body; a head is what names at least three columns."""
    lines = panel.lines
    top, foot = lines[0].y0 - 80, max(line.y1 for line in lines)
    panel.turned = [
        word
        for word in panel.page.words
        if word.turned in (90, 270) and top < word.y1 and word.y0 < foot
    ]
    if panel.turned and kind_of_head(" ".join(word.text for word in panel.turned)):
        under = max(word.y1 for word in panel.turned)
        over = min(word.y0 for word in panel.turned)
        panel.head = [line for line in lines if over - 2 < line.middle < under + 1]
        panel.body = [line for line in lines if line.middle >= under + 1]
        return
    panel.turned = []
    for at, line in enumerate(lines):
        if _is_data(line) and not _names_columns(line):
            break
        if not _names_columns(line):
            continue
        begin = end = at
        while end + 1 < len(lines) and _continues_head(lines[end], lines[end + 1]):
            end += 1
        while begin > 0 and _belongs_above(lines[begin - 1], lines[begin]):
            begin -= 1
        cells = _head_cells(lines[begin : end + 1], panel.left)
        if len({kind_of_head(text) for _, _, text in cells} - {""}) >= 3:
            panel.head, panel.body = lines[begin : end + 1], lines[end + 1 :]
            return
    panel.body = list(lines)


def _names_columns(line: Line) -> bool:
    if CAS.search(line.text) or CODE.search(line.text):
        return False
    kinds = [kind_of_head(text_of(chunk)) for chunk in line.chunks(0.55)]
    return len({kind for kind in kinds if kind}) >= 2


def _continues_head(line: Line, after: Line) -> bool:
    if _is_data(after) or after.y0 - line.y1 > 0.8 * line.size:
        return False
    chunks = [text_of(chunk) for chunk in after.chunks(0.55)]
    return all(kind_of_head(text) or len(text) < 9 for text in chunks) and any(
        kind_of_head(text) for text in chunks
    )


def _belongs_above(above: Line, line: Line) -> bool:
    if _is_data(above) or line.y0 - above.y1 > 0.5 * line.size or len(above.text) > 90:
        return False
    if re.match(r"\d+(\.\d+)*\.?\s+\w", above.text):
        return False
    chunks = above.chunks(0.55)
    return all(kind_of_head(text_of(chunk)) for chunk in chunks) and above.x0 > line.x0 - 3


def _head_cells(head: Sequence[Line], left: float) -> list[tuple[float, float, str]]:
    """Return the cells of a head (x0, x1, text), lines that stand over each other put together."""
    cells: list[list] = []
    for line in head:
        for chunk in line.chunks(0.55):
            x0, x1 = chunk[0].x0 - left, chunk[-1].x1 - left
            over = [cell for cell in cells if cell[0] < x1 and x0 < cell[1]]
            if len(over) == 1 and line is not head[0]:
                cell = over[0]
                cell[0], cell[1] = min(cell[0], x0), max(cell[1], x1)
                cell[2] += " " + text_of(chunk)
            else:
                cells.append([x0, x1, text_of(chunk)])
    return [tuple(cell) for cell in sorted(cells)]


def _turned_cells(words: Sequence[Word], left: float) -> list[tuple[float, float, str]]:
    cells: list[list] = []
    for word in sorted(words, key=lambda w: (w.x0, -w.y1)):
        if cells and word.x0 < cells[-1][1] - 1:
            cells[-1][1] = max(cells[-1][1], word.x1 - left)
            cells[-1][2] += " " + word.text
        else:
            cells.append([word.x0 - left, word.x1 - left, word.text])
    return [tuple(cell) for cell in cells]


# --- columns -------------------------------------------------------------------------------------


def _columns(panels: Sequence[Panel]) -> list[Column]:
    first = panels[0]
    heads = _head_cells(first.head, first.left)
    if first.turned:
        heads = sorted([*heads, *_turned_cells(first.turned, first.left)])
    ruled = _ruled_columns(first, heads)
    if ruled:
        columns = ruled
    else:
        body = [
            [(word.x0 - panel.left, word.x1 - panel.left) for word in line.words]
            for panel in panels
            for line in _table_lines(panel, heads)
        ]
        columns = _white_columns(heads, body)
    _settle_kinds(columns, panels)
    return columns


def _ruled_columns(panel: Panel, heads: Sequence[tuple[float, float, str]]) -> list[Column]:
    """Return the columns between upright lines, where these run past the first rows."""
    if not panel.body:
        return []
    top = panel.body[0].middle
    edges: list[float] = []
    for x, y0, y1 in sorted(panel.page.down):
        if (
            y0 <= top + 2
            and y1 >= panel.body[0].y0
            and (not edges or x - panel.left > edges[-1] + 4)
        ):
            edges.append(x - panel.left)
    if len(edges) < 3:
        return []
    right = max(line.x1 for line in panel.body) - panel.left
    low = min(line.x0 for line in panel.body) - panel.left
    edges = [*([low - 2] if low < edges[0] - 6 else []), *edges]
    edges += [right + 2] if right > edges[-1] + 6 else []
    columns = []
    for x0, x1 in itertools.pairwise(edges):
        texts = [text for h0, h1, text in heads if x0 - 1 <= (h0 + h1) / 2 < x1]
        head = " ".join(texts)
        columns.append(Column(kind_of_head(head), head, x0, x1))
    named = [column for column in columns if column.kind]
    return columns if len(named) >= 3 else []


def _table_lines(panel: Panel, heads: Sequence[tuple[float, float, str]]) -> list[Line]:
    """Return the lines of a body that are the table's: not running text across its columns."""
    return [line for line in panel.body if not _is_prose(line, panel.left, heads)]


def _is_prose(line: Line, left: float, heads: Sequence[tuple[float, float, str]]) -> bool:
    """Return whether a line is a sentence that runs across columns."""
    if CAS.search(line.text) or len(line.words) < 4 or not heads:
        return False
    starts_left = line.x0 - left < heads[0][1]
    over = [cell for cell in heads if cell[0] < line.x1 - left - 4 and cell[0] > line.x0 - left + 4]
    return starts_left and len(over) >= 1 and len(line.chunks(0.8)) == 1


def _white_columns(
    heads: Sequence[tuple[float, float, str]], body: Sequence[Sequence[tuple[float, float]]]
) -> list[Column]:
    """Return columns from the white gaps of the body, each gap where two heads part."""
    columns = []
    cuts = []
    for (a0, a1, _), (b0, b1, _) in itertools.pairwise(heads):
        cuts.append(_cut(a0, a1, b0, b1, body))
    lefts = [-1e9, *cuts]
    rights = [*cuts, 1e9]
    for (_, _, text), x0, x1 in zip(heads, lefts, rights, strict=True):
        columns.append(Column(kind_of_head(text), text, x0, x1))
    return columns


def _cut(a0: float, a1: float, b0: float, b1: float, body) -> float:
    """
    Return where the column of head a ends and that of head b begins.

    A head stands inside its own column, so the edge lies between the two heads: where fewest lines
    cross, and of those places as near to head b as can be, for most columns are set flush left.
    """
    low, high = a1 + 0.3, b0 - 0.3
    if high <= low:
        return (a1 + b0) / 2
    steps = max(2, min(300, int((high - low) * 2)))
    spots = [low + (high - low) * step / steps for step in range(steps + 1)]
    crossed = [sum(1 for line in body if any(w0 < x < w1 for w0, w1 in line)) for x in spots]
    fewest = min(crossed)
    place = max(x for x, count in zip(spots, crossed, strict=True) if count == fewest)
    # In the middle of its white strip, so that a letter that juts out is not cut off.
    begin = place
    for x, count in zip(reversed(spots), reversed(crossed), strict=True):
        if x < place and count > fewest:
            break
        begin = min(begin, x)
    return max(begin, place - 1.5)


def _settle_kinds(columns: list[Column], panels: Sequence[Panel]) -> None:
    """Correct what heads leave open by what stands in the columns."""
    texts: list[list[str]] = [[] for _ in columns]
    for panel in panels:
        for line in panel.body:
            for at, words in enumerate(_parted(line, columns, panel.left)):
                if words:
                    texts[at].append(text_of(words))
    found = [_votes(lines) for lines in texts]
    has = {column.kind for column in columns}
    for column, votes in zip(columns, found, strict=True):
        if column.kind == "" and votes["cas"] > 0.4:
            column.kind = "cas"
        elif column.kind == "" and votes["pct"] > 0.6 and "pct" not in has:
            column.kind = "pct"
        elif column.kind == "" and votes["classes"] > 0.4:
            column.kind = "classes"
        elif column.kind == "name" and votes["cas"] > 0.2:
            others = [c for c in columns if c is not column and c.kind in ("name", "")]
            column.kind = "ids" if others else "name"
        elif column.kind == "pct" and votes["pct"] < 0.2 and votes["classes"] > 0.3:
            column.kind = "classes"
    if "name" not in {column.kind for column in columns}:
        # The column with the most letters that is nothing else is the name's.
        open_ones = [
            (sum(len(re.sub(r"[\d\W]", "", text)) for text in lines), column)
            for lines, column in zip(texts, columns, strict=True)
            if column.kind in ("", "cas", "ids")
        ]
        if open_ones:
            letters, column = max(open_ones, key=lambda pair: pair[0])
            if (letters and column.kind == "") or letters:
                column.kind = "name"


def _votes(lines: Sequence[str]) -> dict[str, float]:
    count = max(1, len(lines))
    return {
        "cas": sum(1 for text in lines if CAS.search(text)) / count,
        "pct": sum(1 for text in lines if SHARE.fullmatch(text.strip())) / count,
        "classes": sum(1 for text in lines if CODE.search(text) or CLASS_WORD.search(text)) / count,
    }


def _parted(line: Line, columns: Sequence[Column], left: float) -> list[list[Word]]:
    """Return the words of a line by column."""
    parts: list[list[Word]] = [[] for _ in columns]
    for word in line.words:
        x = word.x0 - left + min(1.5, 0.3 * (word.x1 - word.x0))
        at = next((n for n, column in enumerate(columns) if column.x0 <= x < column.x1), None)
        if at is None:
            at = 0 if x < columns[0].x0 else len(columns) - 1
        parts[at].append(word)
    return parts


# --- rows ----------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Strip:
    """Words of all columns that share a height: the least that a row is made of."""

    y0: float
    y1: float
    parts: list[list[Word]]


def _rows(
    panel: Panel, columns: Sequence[Column], named_above: bool | None
) -> tuple[list[RawRow], bool | None]:
    """
    Return a panel's rows. ``named_above``: each row's name stands above it, across the table.

    That is seen in the first panel; None until then.
    """
    strips = [_Strip(line.y0, line.y1, _parted(line, columns, panel.left)) for line in panel.body]
    edges = [(column.x0, column.x1, column.head) for column in columns]
    prose = {at for at, line in enumerate(panel.body) if _crosses(line, edges, panel.left)}
    shares = [at for at in _begin_of_shares(strips, columns) if at not in prose]
    numbers = _begin_of_cas(strips, columns)
    anchors = _anchors(strips, columns, numbers, shares)
    if not anchors:
        return [], named_above
    strips, anchors = _cut_off_prose(panel, strips, anchors, prose)
    bands = _bands(panel, strips, anchors)
    ruled = len(bands) > len(anchors) * 0.5
    rows: list[RawRow] = []
    if named_above is None:
        # A first band without a number is a name across, and so is every other of its like.
        named_above = len(bands) > 1 and not any(bands[0][0] <= at < bands[0][1] for at in anchors)
    above: RawRow | None = None
    for band in bands:
        inside = [at for at in anchors if band[0] <= at < band[1]]
        if ruled and sum(1 for at in shares if band[0] <= at < band[1]) == 1:
            # One share between two level lines is one row, however many numbers it has, or none.
            inside = [at for at in sorted({*numbers, *shares}) if band[0] <= at < band[1]][:1]
        if not inside:
            piece = _loose(panel, band, strips, columns)
            if band[0] > anchors[-1] and _NO_INGREDIENT.match(piece.text("name", "other")):
                continue
            if named_above:
                above = piece
            elif rows:
                _append(rows[-1], piece)
            else:
                rows.append(piece)
            continue
        for begin, end, anchored in _split(strips, band, inside):
            row = _row(panel, strips[begin:end], columns, anchored=anchored)
            if above is not None:
                _append(row, above)
                above = None
            rows.append(row)
    if above is not None and rows:
        _append(rows[-1], above)
    return rows, named_above


_NO_INGREDIENT = re.compile(
    r"(all )?(other|remaining|further)\b|(the )?(rest|balance|remainder|sum|total)\b|non-?hazardous"
    r"|summe\b|übrige|autres\b",
    re.IGNORECASE,
)


def _loose(
    panel: Panel, band: tuple[int, int], strips: Sequence[_Strip], columns: Sequence[Column]
) -> RawRow:
    """Return what stands between two level lines without a number: a part of a row beside it."""
    lines = panel.body[band[0] : band[1]]
    text = " ".join(line.text for line in lines)
    named = any(column.kind == "name" for column in columns) and not FACTOR.search(text)
    if named and not any(_straddles(line, columns, panel.left) for line in lines):
        return _row(panel, strips[band[0] : band[1]], columns, anchored=False)
    hazards = CODE.search(text) or CLASS_WORD.search(text) or FACTOR.search(text)
    row = RawRow(anchored=False)
    row.cells["limits" if hazards else "name"] = [line.text for line in lines]
    row.words = [(panel.page, word) for line in lines for word in line.words]
    return row


def _anchors(
    strips: Sequence[_Strip], columns: Sequence[Column], numbers: list[int], shares: list[int]
) -> list[int]:
    """Return the strips at which a row's number or share begins, one for each row."""
    if len(shares) > len(numbers) or not numbers:
        return shares
    if len(shares) == len(numbers):
        # Some rows have several numbers and others none where the two are not in step.
        apart = [abs(one - other) for one, other in zip(numbers, shares, strict=True)]
        return shares if max(apart) > 3 else numbers
    if shares:
        # Several numbers of one ingredient below each other, with nothing else beside them.
        own = {at for at, column in enumerate(columns) if column.kind in ("cas", "ids")}
        return [
            at
            for at in numbers
            if at in shares
            or at == numbers[0]
            or any(words for n, words in enumerate(strips[at].parts) if n not in own)
        ]
    return numbers


def _begin_of_cas(strips: Sequence[_Strip], columns: Sequence[Column]) -> list[int]:
    places = [at for at, column in enumerate(columns) if column.kind in ("cas", "ids", "name", "")]
    found: set[int] = set()
    for at in places:
        text, starts = "", []
        for strip_at, strip in enumerate(strips):
            if not strip.parts[at]:
                continue
            line = text_of(strip.parts[at])
            # A number broken after its hyphen goes on at once; anything else begins anew.
            text += "" if re.search(r"\d-$", text) and re.match(r"\d", line) else "\n"
            starts.append((len(text), strip_at))
            text += line
        plain = EC.sub(lambda m: "x" * len(m[0]), text)
        for match in CAS.finditer(plain.replace("\n", "|")):
            found.add(max(s for begin, s in starts if begin <= match.start()))
    return sorted(found)


def _begin_of_shares(strips: Sequence[_Strip], columns: Sequence[Column]) -> list[int]:
    places = [at for at, column in enumerate(columns) if column.kind == "pct"]
    if not places:
        return []
    found: list[int] = []
    text = ""
    for strip_at, strip in enumerate(strips):
        words = text_of(strip.parts[places[0]])
        if not words:
            continue
        goes_on = bool(text) and _goes_on(text, words)
        if not goes_on:
            if re.search(r"\d", words):
                found.append(strip_at)
            text = words
        else:
            text += " " + words
    return found


def _goes_on(text: str, words: str) -> bool:
    """Return whether a share that is broken over two lines goes on with these words."""
    if re.search(r"([<>≤≥=~–—-]|\b(to|bis|à)|[xX])$", text):
        return True
    begins = re.match(r"(-|–|—|to\b|bis\b|à\b|%)", words)
    lower = re.match(r"[≥>]", text) and re.match(r"[≤<]", words)
    single = len(re.findall(r"\d+(?:[.,]\d+)?", text)) == 1
    return bool((begins or lower) and single and SHARE.fullmatch(f"{text} {words}".strip()))


def _cut_off_prose(
    panel: Panel, strips: list[_Strip], anchors: list[int], prose: set[int]
) -> tuple[list[_Strip], list[int]]:
    """Leave off what follows the last row: notes across the columns, or text after a wide gap."""
    pitch = _pitch(strips)
    for at in range(anchors[-1] + 1, len(strips)):
        gap = strips[at].y0 - strips[at - 1].y1
        said = panel.body[at].text
        note = at in prose and not (FACTOR.search(said) and re.search(r"\d", said))
        if note or gap > 2.2 * pitch:
            return strips[:at], anchors
    return strips, anchors


def _crosses(line: Line, columns: Sequence[tuple[float, float, str]], left: float) -> bool:
    """Return whether words that belong together run across an edge of columns."""
    if CAS.search(line.text):
        return False
    for chunk in line.chunks(0.8):
        if len(chunk) < 3:
            continue
        x0, x1 = chunk[0].x0 - left, chunk[-1].x1 - left
        inner = [edge for _, edge, _ in columns[:-1] if x0 + 3 < edge < x1 - 3]
        if inner:
            return True
    return False


def _straddles(line: Line, columns: Sequence[Column], left: float) -> bool:
    """Return whether neighbouring words lie in different columns."""
    own = {id(w): at for at, part in enumerate(_parted(line, columns, left)) for w in part}
    return any(len({own[id(word)] for word in chunk}) > 1 for chunk in line.chunks(0.5))


def _pitch(strips: Sequence[_Strip]) -> float:
    sizes = [strip.y1 - strip.y0 for strip in strips]
    return median(sizes) if sizes else 10.0


def _bands(panel: Panel, strips: Sequence[_Strip], anchors: Sequence[int]) -> list[tuple[int, int]]:
    """Return the strips between level lines that run across most of the table."""
    left = min(word.x0 for strip in strips for part in strip.parts for word in part)
    right = max(word.x1 for strip in strips for part in strip.parts for word in part)
    runs: dict[int, list[tuple[float, float]]] = {}
    for y, x0, x1 in panel.page.across:
        if x1 > left - 5 and x0 < right + 5:
            runs.setdefault(round(y), []).append((max(x0, left), min(x1, right)))
    heights = []
    for y in sorted(runs):
        spans = runs[y] + runs.get(y + 1, [])
        if _covered(spans) > 0.6 * (right - left):
            heights.append(y)
    edges = [0]
    for y in heights:
        at = next(
            (n for n, strip in enumerate(strips) if (strip.y0 + strip.y1) / 2 > y), len(strips)
        )
        if at not in edges and 0 < at < len(strips):
            edges.append(at)
    edges.append(len(strips))
    return list(itertools.pairwise(edges))


def _covered(spans: list[tuple[float, float]]) -> float:
    total, end = 0.0, float("-inf")
    for x0, x1 in sorted(spans):
        total += max(0.0, x1 - max(x0, end))
        end = max(end, x1)
    return total


def _split(
    strips: Sequence[_Strip], band: tuple[int, int], anchors: Sequence[int]
) -> list[tuple[int, int, bool]]:
    """
    Return the rows of a band as (begin, end, anchored).

    Rows begin at their number, end with it, or have it in their middle. Which of these it is, the
    wide gaps tell: they lie between rows. Where all gaps are alike, rows begin at their number if
    nothing stands above the first, and have it in their middle otherwise.
    """
    begin, end = band
    if len(anchors) == 1:
        return [(begin, end, True)]
    above, below = anchors[0] - begin, end - 1 - anchors[-1]
    before = after = open_pairs = 0
    for one, other in itertools.pairwise(anchors):
        gaps = [_gap(strips, n) for n in range(one + 1, other + 1)]
        if len(gaps) > 1:
            open_pairs += 1
            before += gaps[-1] > max(gaps) - 0.8
            after += gaps[0] > max(gaps) - 0.8
    flush_above = [(at, to, True) for at, to in zip(anchors, [*anchors[1:], end], strict=True)]
    if before >= 0.8 * open_pairs and above == 0:
        edges = [begin, *_clear_edges(strips, anchors), end]
        return [(one, other, True) for one, other in itertools.pairwise(edges)]
    if after >= 0.8 * open_pairs > 0 and below == 0 and after > before:
        befores = [begin, *(at + 1 for at in anchors[:-1])]
        return [(b, at + 1, True) for b, at in zip(befores, anchors, strict=True)]
    if before >= 0.8 * open_pairs > 0 and before > after and _apart_above(strips, band, anchors):
        return [(begin, anchors[0], False), *flush_above]
    return _centred(strips, band, anchors)


def _clear_edges(strips: Sequence[_Strip], anchors: Sequence[int]) -> list[int]:
    """
    Return where each row after the first begins, in a table whose rows begin at their number.

    In a cell that is set in its middle the number may come after the first line of its row; then
    the wide gap above that line shows it.
    """
    usual = median(_gap(strips, at) for at in anchors[1:])
    edges = []
    for one, other in itertools.pairwise(anchors):
        widest = max(range(one + 1, other + 1), key=lambda n: _gap(strips, n))
        clear = _gap(strips, widest) > 0.7 * usual > 1 and _gap(strips, other) < 0.3 * usual
        edges.append(widest if clear else other)
    return edges


def _gap(strips: Sequence[_Strip], at: int) -> float:
    """Return the white height above a strip."""
    return strips[at].y0 - max(strip.y1 for strip in strips[max(0, at - 2) : at])


def _apart_above(strips: Sequence[_Strip], band: tuple[int, int], anchors: Sequence[int]) -> bool:
    """Return whether what stands above the first number is parted from it like another row."""
    inner = [_gap(strips, n) for n in range(anchors[0] + 1, band[1]) if n not in anchors]
    return not inner or _gap(strips, anchors[0]) > median(inner) + 0.8


def _centred(
    strips: Sequence[_Strip], band: tuple[int, int], anchors: Sequence[int]
) -> list[tuple[int, int, bool]]:
    """Part rows at the wide gaps; where none is, each reaches as far below its number as above."""
    begin, end = band
    rows = []
    for at, after in itertools.pairwise(anchors):
        middle = (strips[at].y0 + strips[at].y1) / 2
        foot = 2 * middle - strips[begin].y0
        gaps = {n: _gap(strips, n) for n in range(at + 1, after + 1)}
        wide = [n for n, gap in gaps.items() if gap > max(gaps.values()) - 0.8]
        edge = min(wide, key=lambda n: abs(strips[n - 1].y1 - foot))
        rows.append((begin, edge, True))
        begin = edge
    rows.append((begin, end, True))
    return rows


def _row(
    panel: Panel, strips: Sequence[_Strip], columns: Sequence[Column], *, anchored: bool
) -> RawRow:
    row = RawRow(anchored=anchored)
    for at, column in enumerate(columns):
        kind = column.kind or "other"
        for strip in strips:
            words = strip.parts[at]
            if words:
                row.cells.setdefault(kind, []).append(text_of(words))
                row.words += [(panel.page, word) for word in words]
    return row


def _append(row: RawRow, more: RawRow) -> None:
    for kind, lines in more.cells.items():
        row.cells.setdefault(kind, []).extend(lines)
    row.words += more.words
