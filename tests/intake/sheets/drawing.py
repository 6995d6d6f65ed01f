"""What the layouts of invented sheets are drawn with: fonts, filler, a flowing pen."""

from __future__ import annotations

import io
import random
from collections.abc import Sequence
from pathlib import Path

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph, SimpleDocTemplate, Spacer

import pourwright
from intake.sheets.truth import Truth

FOLDER = Path(pourwright.__file__).parent / "papers" / "fonts"


def fonts() -> None:
    """Make the shipped letters known; the built-in ones have no ≥."""
    if "Sans" in pdfmetrics.getRegisteredFontNames():
        return
    pdfmetrics.registerFont(TTFont("Sans", FOLDER / "OpenSans-Regular.ttf"))
    pdfmetrics.registerFont(TTFont("Sans-Bold", FOLDER / "OpenSans-Bold.ttf"))
    pdfmetrics.registerFont(TTFont("Sans-Italic", FOLDER / "OpenSans-Italic.ttf"))


def style(size: float = 9, font: str = "Sans", **more: object) -> ParagraphStyle:
    fonts()
    return ParagraphStyle("p", fontName=font, fontSize=size, leading=size * 1.25, **more)


def cell(text: str, size: float = 7.5, font: str = "Sans", **more: object) -> Paragraph:
    """Return a table's cell; each line of the text on a line of its own."""
    safe = text.replace("&", "&amp;").replace("<", "&lt;").replace("\n", "<br/>")
    return Paragraph(safe, style(size, font, **more))


SAFETY = (
    "If on skin: wash with plenty of water. If irritation lasts, get medical advice.",
    "Remove contact lenses, if present and easy to do. Continue rinsing for several minutes.",
    "Keep away from heat, sparks and open flames. Keep the container tightly closed.",
    "Suitable extinguishing media: foam, carbon dioxide, dry powder. Do not use a water jet.",
    "Wear gloves of nitrile rubber of at least 0.4 mm. Breakthrough time 480 min.",
    "Take up with sand or another absorbent and put into a closed container for disposal.",
    "Store between 5 and 25 °C in the original container, 12 months at most.",
    "The data are based on what is known today and are no warranty of properties.",
)


def filler(rng: random.Random, sentences: int = 3) -> str:
    return " ".join(rng.choice(SAFETY) for _ in range(sentences))


def distractions(truth: Truth) -> list[str]:
    """Return lines that other sections have and that are no part of the composition."""
    first, last = truth.rows[0], truth.rows[-1]
    return [
        f"{first.name} (CAS {first.cas}): long-term exposure limit 110 mg/m³, 20 ppm",
        f"{last.name} {last.cas} LD50 oral rat 2790 mg/kg",
        f"{first.cas} {first.name} EC50 daphnia 48 h 0.8 - 1.5 mg/l",
    ]


ENGLISH = {
    1: "Identification of the substance/mixture and of the company/undertaking",
    2: "Hazards identification",
    3: "Composition/information on ingredients",
    4: "First aid measures",
    5: "Firefighting measures",
    6: "Accidental release measures",
    7: "Handling and storage",
    8: "Exposure controls/personal protection",
    9: "Physical and chemical properties",
    10: "Stability and reactivity",
    11: "Toxicological information",
    12: "Ecological information",
    15: "Regulatory information",
    16: "Other information",
}


def build(story: Sequence[object], *, pagesize=A4, head: str = "", margin: float = 45) -> bytes:
    """Return the pages of a flowing story, with the same head and page number on each."""
    buffer = io.BytesIO()

    def furniture(canvas: Canvas, document: object) -> None:
        canvas.setFont("Sans", 7)
        if head:
            canvas.drawString(margin, pagesize[1] - 26, head)
        canvas.drawRightString(pagesize[0] - margin, 22, f"Page {canvas.getPageNumber()}")

    document = SimpleDocTemplate(
        buffer,
        pagesize=pagesize,
        leftMargin=margin,
        rightMargin=margin,
        topMargin=44,
        bottomMargin=44,
        invariant=True,
    )
    fonts()
    document.build(list(story), onFirstPage=furniture, onLaterPages=furniture)
    return buffer.getvalue()


def paragraphs(lines: Sequence[str], size: float = 9) -> list[object]:
    return [cell(line, size) for line in lines] + [Spacer(1, 5)]


def split(words: str, font: str, size: float, width: float) -> list[str]:
    """Return the lines of a wrapped text; a word too long for the width is broken, with hyphens."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    lines = []
    for line in simpleSplit(words, font, size, width):
        while stringWidth(line, font, size) > width and len(line) > 4:
            fits = max(n for n in range(1, len(line)) if stringWidth(line[:n], font, size) <= width)
            at = max(line.rfind("-", 0, fits), line.rfind(",", 0, fits)) + 1 or fits
            lines.append(line[:at])
            line = line[at:]
        lines.append(line)
    return lines


class Pen:
    """Writes down a page and on to the next, at places given in points from the left."""

    def __init__(self, *, pagesize=A4, size: float = 9, font: str = "Sans", top: float = 50):
        fonts()
        self.buffer = io.BytesIO()
        self.canvas = Canvas(self.buffer, pagesize=pagesize, invariant=1)
        self.width, self.height = pagesize
        self.size, self.font, self.top = size, font, top
        self.y = self.height - top
        self.on_new_page = lambda: None

    def need(self, height: float) -> bool:
        """Begin a new page where less than this is left; return whether it did."""
        if self.y - height > 45:
            return False
        self.page()
        return True

    def page(self) -> None:
        self.canvas.showPage()
        self.y = self.height - self.top
        self.on_new_page()

    def text(self, x: float, words: str, *, bold: bool = False, size: float = 0, dy: float = 0):
        font = self.font + ("-Bold" if bold else "")
        self.canvas.setFont(font, size or self.size)
        self.canvas.drawString(x, self.y - dy, words)

    def line(self, x: float, words: str, *, bold: bool = False, size: float = 0, width: float = 0):
        """Write words, wrapped at ``width``, and go down past them."""
        size = size or self.size
        font = self.font + ("-Bold" if bold else "")
        for part in simpleSplit(words, font, size, width or self.width - x - 40):
            self.need(size * 1.3)
            self.text(x, part, bold=bold, size=size)
            self.y -= size * 1.3

    def cells(
        self, cells: Sequence[tuple[float, float, str]], *, size: float = 0, leading: float = 1.2
    ) -> float:
        """Write cells (x, width, text) side by side, wrapped; return the height, not going down."""
        size = size or self.size
        deepest = 0
        for x, width, text in cells:
            down = 0.0
            for piece in text.split("\n"):
                for part in split(piece, self.font, size, width) or [""]:
                    self.text(x, part, size=size, dy=down)
                    down += size * leading
            deepest = max(deepest, down)
        return deepest

    def height_of(self, cells: Sequence[tuple[float, float, str]], *, size: float = 0) -> float:
        size = size or self.size
        return max(
            sum(len(split(p, self.font, size, width) or [""]) for p in text.split("\n"))
            * size
            * 1.2
            for _, width, text in cells
        )

    def done(self) -> bytes:
        self.canvas.showPage()
        self.canvas.save()
        return self.buffer.getvalue()
