"""
Invented safety data sheets with their truth: unlike layouts, and sheets that are pictures.

    make("ruled grid", seed=3)   a readable sheet
    scan(made)                   the same sheet as a scanner would give it
    stamped_scan(made)           a scan with a line of real text stamped on each page

Files that mean harm are in ``hostile``.
"""

from __future__ import annotations

import io
import random

from intake.sheets.layouts import LAYOUTS as FIRST
from intake.sheets.layouts_fifth import FIFTH
from intake.sheets.layouts_fourth import FOURTH
from intake.sheets.layouts_more import MORE
from intake.sheets.layouts_seventh import SEVENTH
from intake.sheets.layouts_sixth import SIXTH
from intake.sheets.layouts_third import THIRD
from intake.sheets.truth import Made

LAYOUTS = {**FIRST, **MORE, **THIRD, **FOURTH, **FIFTH, **SIXTH, **SEVENTH}
__all__ = ["LAYOUTS", "Made", "make", "scan", "stamped_scan"]


def make(layout: str, seed: int) -> Made:
    """Return a sheet of a layout; the same for the same seed."""
    data, truth = LAYOUTS[layout](random.Random(f"{layout} {seed}"))
    return Made(layout=layout, seed=seed, data=data, truth=truth)


def scan(made: Made) -> bytes:
    """Return the sheet's pages as grey pictures, a little askew."""
    return _pictures(made, mode="L", askew=0.7, stamp="")


def stamped_scan(made: Made) -> bytes:
    """Return the sheet's pages in black and white, each with the date of its receipt as text."""
    return _pictures(made, mode="1", askew=0.0, stamp="Received 03.02.2026, page {}")


def _pictures(made: Made, *, mode: str, askew: float, stamp: str) -> bytes:
    import pypdfium2
    from reportlab.lib.utils import ImageReader
    from reportlab.pdfgen.canvas import Canvas

    document = pypdfium2.PdfDocument(made.data)
    buffer = io.BytesIO()
    canvas = Canvas(buffer, invariant=1)
    for number in range(len(document)):
        page = document[number]
        width, height = page.get_size()
        image = page.render(scale=1.2, grayscale=True).to_pil()
        image = image.rotate(askew, fillcolor=255).convert(mode)
        canvas.setPageSize((width, height))
        canvas.drawImage(ImageReader(image), 0, 0, width, height)
        if stamp:
            canvas.drawString(width - 190, 12, stamp.format(number + 1))
        canvas.showPage()
    document.close()
    canvas.save()
    return buffer.getvalue()
