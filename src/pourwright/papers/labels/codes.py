"""
Bar codes and square codes as marks, their quiet zones kept.

The bars of an EAN-13 or UPC-A are reportlab's widget, the square code's modules segno's.
"""

from __future__ import annotations

from fractions import Fraction

from pourwright.core.errors import BadInput
from pourwright.core.labelling.codes import (
    MODULES,
    NOMINAL_MODULE_MM,
    QR_QUIET_MODULES,
    QUIET_MODULES,
    ArticleNumber,
    BadArticleNumber,
    bar_code_size,
)
from pourwright.papers.labels.marks import Box, Mark, Outline, Words, rectangle
from pourwright.papers.typefaces import REGULAR

Item = tuple[float, float, tuple[Mark, ...]]
LONGEST_ADDRESS = 300


class BadAddress(BadInput):
    """What was given is too long for a square code that can be read."""


def bar_code_item(number: ArticleNumber, *, module_mm: Fraction = NOMINAL_MODULE_MM) -> Item:
    """
    Return an EAN-13 or UPC-A with its quiet zones and digits, as width, height and marks.

    Raises ``BadArticleNumber`` for numbers of other lengths.
    """
    if len(number.digits) not in QUIET_MODULES:
        raise BadArticleNumber(
            f"“{number}” has {len(number.digits)} digits; a bar code for tills is made of 12 or 13."
        )
    size = bar_code_size(module_mm)
    module = float(module_mm)
    quiet_left, _ = QUIET_MODULES[len(number.digits)]
    digits_mm = 2.75 * module / 0.33
    tall = float(size.height_mm) - digits_mm
    d = "".join(
        f"M{(quiet_left + start) * module:.4f} 0h{width * module:.4f}v{tall:.4f}"
        f"h{-width * module:.4f}Z"
        for start, width in _bars(number.as_ean13)
    )
    width, height = float(size.width_mm), float(size.height_mm)
    box = Box(x=0, y=0, width=width, height=height)
    bars = Outline(
        d=d, view=(0, 0, width, tall), box=Box(x=0, y=0, width=width, height=tall), role="bar_code"
    )
    letters = _digits(number, width=width, height=height, digits_mm=digits_mm)
    return width, height, (rectangle(box, fill="#ffffff", role="bar_code ground"), bars, letters)


def _bars(thirteen: str) -> list[tuple[int, int]]:
    """Return where each bar starts and how wide it is, in modules from the first bar."""
    # These libraries take their time to load; a program that starts has no code to draw yet.
    from reportlab.graphics.barcode.eanbc import Ean13BarcodeWidget
    from reportlab.graphics.shapes import Rect

    drawn = Ean13BarcodeWidget(thirteen, barWidth=1, barHeight=10, quiet=0, humanReadable=0)
    rects = [shape for shape in drawn.draw().contents if isinstance(shape, Rect)]
    black = [shape for shape in rects if shape.fillColor is not None and shape.width < MODULES]
    first = min(shape.x for shape in black)
    return [(round(shape.x - first), round(shape.width)) for shape in black]


def _digits(number: ArticleNumber, *, width: float, height: float, digits_mm: float) -> Words:
    text = " ".join((number.digits[:1], number.digits[1:7], number.digits[7:]))
    size = REGULAR.size_pt("figure", height_mm=digits_mm * 0.75)
    wide = REGULAR.width_mm(text, size_pt=size)
    return Words(text=text, x=(width - wide) / 2, y=height, size_pt=size, role="bar_code digits")


def square_code_item(address: str, *, module_mm: float = 0.5) -> Item:
    """
    Return a square code (QR, ISO/IEC 18004) of an address with four modules of quiet around it.

    Raises ``BadAddress`` beyond 300 letters.
    """
    if not address.strip() or len(address) > LONGEST_ADDRESS:
        raise BadAddress(
            f"The address has {len(address)} letters; a square code for a label takes 1 to "
            f"{LONGEST_ADDRESS}."
        )
    import segno  # see above

    rows = [list(row) for row in segno.make(address, error="m", micro=False).matrix]
    count = len(rows) + 2 * QR_QUIET_MODULES
    d = "".join(
        f"M{x + QR_QUIET_MODULES} {y + QR_QUIET_MODULES}h1v1h-1Z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    )
    side = count * module_mm
    box = Box(x=0, y=0, width=side, height=side)
    code = Outline(d=d, view=(0, 0, count, count), box=box, role="qr")
    return side, side, (rectangle(box, fill="#ffffff", role="qr ground"), code)
