"""
A PDF's pages as words with boxes and straight lines. Runs in the child process alone.

Everything is in points of the page as shown (turned and cropped), from its top left corner, y
downwards. Hidden hyphens at line ends are put back, for they are part of CAS numbers.
"""

from __future__ import annotations

import ctypes
import re
from dataclasses import dataclass, field
from math import isfinite, pi

import pypdfium2
import pypdfium2.raw as pdfium

from pourwright.intake.sheets.found import Limits, SheetUnreadable

MOST_LINES = 4000
MOST_OBJECTS = 20_000
_FINE = 1_000_000


@dataclass(frozen=True, slots=True)
class Word:
    """Letters without a space between them; ``turned`` is 0, 90, 180 or 270 degrees."""

    text: str
    x0: float
    y0: float
    x1: float
    y1: float
    turned: int = 0

    @property
    def middle(self) -> float:
        """The height at which it stands."""
        return (self.y0 + self.y1) / 2

    @property
    def centre(self) -> float:
        """Its middle across the page."""
        return (self.x0 + self.x1) / 2

    @property
    def height(self) -> float:
        """From its foot to its head, in points."""
        return self.y1 - self.y0


@dataclass(slots=True)
class Page:
    """One page: ``across`` are (y, x0, x1), ``down`` are (x, y0, y1) of straight lines on it."""

    number: int
    width: float
    height: float
    words: list[Word] = field(default_factory=list)
    across: list[tuple[float, float, float]] = field(default_factory=list)
    down: list[tuple[float, float, float]] = field(default_factory=list)
    clipped: bool = False


def open_document(data: bytes, limits: Limits) -> pypdfium2.PdfDocument:
    """Return the document, or raise ``SheetUnreadable`` for one that cannot be opened."""
    try:
        document = pypdfium2.PdfDocument(data)
        count = len(document)
    except pypdfium2.PdfiumError as problem:
        if getattr(problem, "err_code", None) in (
            pdfium.FPDF_ERR_PASSWORD,
            pdfium.FPDF_ERR_SECURITY,
        ):
            raise SheetUnreadable(
                "The file is locked with a password. Open it, print it to a new PDF without one "
                "and bring that in, or type the composition."
            ) from problem
        raise SheetUnreadable(
            "The file is a PDF but broken: it cannot be opened. Fetch it again from the supplier, "
            "or print it to a new PDF."
        ) from problem
    if count == 0:
        raise SheetUnreadable("The PDF has no pages. Fetch the sheet again from the supplier.")
    if count > limits.most_pages:
        raise SheetUnreadable(
            f"The PDF has {count:,} pages; a safety data sheet has about ten, and at most "
            f"{limits.most_pages} are read. Save the pages of this one sheet as a PDF of their own."
        )
    return document


def pages_of(data: bytes, limits: Limits) -> list[Page]:
    """Return every page with its words and lines. Raises ``SheetUnreadable``."""
    document = open_document(data, limits)
    try:
        left = limits.most_letters
        pages = []
        for index in range(len(document)):
            page = _page(document, index, min(left, limits.most_letters_a_page))
            left -= sum(len(word.text) for word in page.words)
            pages.append(page)
        return pages
    finally:
        document.close()


def _page(document: pypdfium2.PdfDocument, index: int, most_letters: int) -> Page:
    try:
        page = document[index]
    except pypdfium2.PdfiumError:
        return Page(number=index + 1, width=595.0, height=842.0, clipped=True)
    try:
        width, height = page.get_size()
        if not (isfinite(width) and isfinite(height) and width > 0 and height > 0):
            return Page(number=index + 1, width=595.0, height=842.0, clipped=True)
        found = Page(number=index + 1, width=width, height=height)
        to_shown = _Shown(page, width, height)
        _take_words(page, found, to_shown, most_letters)
        _take_lines(page, found, to_shown)
        return found
    finally:
        page.close()


class _Shown:
    """From a page's own coordinates to those of the page as shown: turned, cropped, y down."""

    def __init__(self, page: pypdfium2.PdfPage, width: float, height: float) -> None:
        def at(x: float, y: float) -> tuple[float, float]:
            across, down = ctypes.c_int(), ctypes.c_int()
            pdfium.FPDF_PageToDevice(page, 0, 0, _FINE, _FINE, 0, x, y, across, down)
            return across.value * width / _FINE, down.value * height / _FINE

        span = max(width, height)
        (self.e, self.f), (ax, ay), (bx, by) = at(0, 0), at(span, 0), at(0, span)
        self.a, self.b = (ax - self.e) / span, (ay - self.f) / span
        self.c, self.d = (bx - self.e) / span, (by - self.f) / span
        self.turned = round(pdfium.FPDFPage_GetRotation(page)) * 90

    def point(self, x: float, y: float) -> tuple[float, float]:
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    def box(self, x0: float, y0: float, x1: float, y1: float) -> tuple[float, float, float, float]:
        ax, ay = self.point(x0, y0)
        bx, by = self.point(x1, y1)
        return min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)


# --- words ---------------------------------------------------------------------------------------


def _take_words(page: pypdfium2.PdfPage, found: Page, shown: _Shown, most: int) -> None:
    text = page.get_textpage()
    try:
        count = pdfium.FPDFText_CountChars(text)
        if count > most:
            count, found.clipped = max(most, 0), True
        letters: list[str] = []
        boxes: list[tuple[float, float, float, float]] = []
        turned = 0

        def close() -> None:
            if letters:
                word = re.sub(r"\.{4,}|…{2,}", "", "".join(letters)).strip()  # dots up to a value
                if word:
                    found.words.append(
                        Word(
                            word,
                            min(box[0] for box in boxes),
                            min(box[1] for box in boxes),
                            max(box[2] for box in boxes),
                            max(box[3] for box in boxes),
                            turned,
                        )
                    )
            letters.clear()
            boxes.clear()

        rect = pdfium.FS_RECTF()
        for at in range(count):
            code = pdfium.FPDFText_GetUnicode(text, at)
            letter = _letter(code)
            if letter is None or letter.isspace():
                close()
                continue
            if not pdfium.FPDFText_GetLooseCharBox(text, at, rect):
                continue
            box = shown.box(rect.left, rect.bottom, rect.right, rect.top)
            if not all(map(isfinite, box)):
                continue
            angle = pdfium.FPDFText_GetCharAngle(text, at) / (pi / 2)
            quarters = round(angle) if isfinite(angle) else 0
            if isfinite(angle) and abs(angle - quarters) > 0.12:
                close()  # aslant: a word stamped across the page
                continue
            way = (quarters * 90 + shown.turned) % 360
            if boxes and (way != turned or _apart(boxes[-1], box, way)):
                close()
            turned = way
            letters.append(letter)
            boxes.append(box)
        close()
        found.words = _once(found.words)
    finally:
        text.close()


def _once(words: list[Word]) -> list[Word]:
    """Return the words without those drawn twice over each other to look bold."""
    seen: dict[str, list[Word]] = {}
    kept = []
    for word in words:
        same = seen.setdefault(word.text, [])
        if any(abs(w.x0 - word.x0) < 1.2 and abs(w.y0 - word.y0) < 1.2 for w in same[-40:]):
            continue
        same.append(word)
        kept.append(word)
    return kept


def _letter(code: int) -> str | None:
    """Return what a code stands for; None for what parts words."""
    if code in (0x2, 0xAD, 0xFFFE, 0x2010, 0x2011):  # hyphens at a line's end, soft and hard ones
        return "-"
    if code in (0xA0, 0x2007, 0x202F, 0x2009, 0x200A, 0x2003, 0x2002, 0x0, 0xD, 0xA, 0x9, 0x20):
        return None
    if code in (0x200B, 0x200C, 0x200D, 0xFEFF):
        return ""
    if 0xD800 <= code < 0xE000 or code > 0x10FFFF:
        return "\ufffd"
    return _SPELT.get(code) or chr(code)


_SPELT = {
    0xF0B3: "≥",
    0xF0A3: "≤",
    0xF0B0: "°",
    0xFB00: "ff",
    0xFB01: "fi",
    0xFB02: "fl",
    0xFB03: "ffi",
    0xFB04: "ffl",
    0x2212: "-",
}


def _apart(before: tuple, box: tuple, way: int) -> bool:
    """Return whether a letter does not belong to the word that the one before it is in."""
    if way in (0, 180):
        size = max(box[3] - box[1], before[3] - before[1])
        off = abs((box[1] + box[3]) - (before[1] + before[3])) / 2
        gap = box[0] - before[2] if way == 0 else before[0] - box[2]
    else:
        size = max(box[2] - box[0], before[2] - before[0])
        off = abs((box[0] + box[2]) - (before[0] + before[2])) / 2
        gap = max(box[1] - before[3], before[1] - box[3])
    return off > 0.5 * size or gap > 0.25 * size or gap < -1.5 * size


# --- straight lines ------------------------------------------------------------------------------


def _take_lines(page: pypdfium2.PdfPage, found: Page, shown: _Shown) -> None:
    count = min(pdfium.FPDFPage_CountObjects(page), MOST_OBJECTS)
    for index in range(count):
        item = pdfium.FPDFPage_GetObject(page, index)
        if pdfium.FPDFPageObj_GetType(item) != pdfium.FPDF_PAGEOBJ_PATH:
            continue
        if len(found.across) + len(found.down) > MOST_LINES:
            return
        _take_path(item, found, shown)


def _take_path(item: object, found: Page, shown: _Shown) -> None:
    matrix = pdfium.FS_MATRIX()
    if not pdfium.FPDFPageObj_GetMatrix(item, matrix):
        return
    x, y = ctypes.c_float(), ctypes.c_float()
    start = before = None
    for at in range(min(pdfium.FPDFPath_CountSegments(item), 500)):
        segment = pdfium.FPDFPath_GetPathSegment(item, at)
        if not pdfium.FPDFPathSegment_GetPoint(segment, x, y):
            continue
        here = shown.point(
            matrix.a * x.value + matrix.c * y.value + matrix.e,
            matrix.b * x.value + matrix.d * y.value + matrix.f,
        )
        kind = pdfium.FPDFPathSegment_GetType(segment)
        if kind == pdfium.FPDF_SEGMENT_MOVETO:
            start = here
        elif kind == pdfium.FPDF_SEGMENT_LINETO and before is not None:
            _keep_line(before, here, found)
        before = here
        if pdfium.FPDFPathSegment_GetClose(segment) and start is not None:
            _keep_line(here, start, found)


def _keep_line(one: tuple[float, float], other: tuple[float, float], found: Page) -> None:
    (ax, ay), (bx, by) = one, other
    if not all(map(isfinite, (ax, ay, bx, by))):
        return
    if abs(ay - by) < 0.6 and abs(ax - bx) > 6:
        found.across.append(((ay + by) / 2, min(ax, bx), max(ax, bx)))
    elif abs(ax - bx) < 0.6 and abs(ay - by) > 6:
        found.down.append(((ax + bx) / 2, min(ay, by), max(ay, by)))


# --- a picture -----------------------------------------------------------------------------------


def picture(data: bytes, page_number: int, width_px: int, limits: Limits) -> bytes:
    """Return a page (from 1) as a PNG so wide, or less where it would have too many dots."""
    import io

    document = open_document(data, limits)
    if not 1 <= page_number <= len(document):
        raise SheetUnreadable(
            f"There is no page {page_number}; the sheet has {len(document)} of them."
        )
    try:
        page = document[page_number - 1]
        width, height = page.get_size()
    except pypdfium2.PdfiumError as problem:
        raise SheetUnreadable(f"Page {page_number} is broken and cannot be shown.") from problem
    if not (isfinite(width) and isfinite(height) and width > 0 and height > 0):
        raise SheetUnreadable(f"Page {page_number} has no size and cannot be shown.")
    scale = width_px / width
    dots = width_px * height * scale
    if dots > limits.most_pixels:
        scale *= (limits.most_pixels / dots) ** 0.5
    if width * scale < 1 or height * scale < 1:
        raise SheetUnreadable(f"Page {page_number} is a thin strip and cannot be shown.")
    image = page.render(scale=scale, may_draw_forms=False).to_pil()
    buffer = io.BytesIO()
    image.save(buffer, "PNG", compress_level=6)
    return buffer.getvalue()
