"""Pages of words as the raw texts of what a sheet says, each with its place. Pure."""

from __future__ import annotations

import re

from pourwright.intake.sheets.found import Limits
from pourwright.intake.sheets.pages import Page

CAS = re.compile(r"(?<!\d)\d{2,7}-\d{2}-\d(?!\d|-)")


def layout_of(pages: list[Page], limits: Limits) -> dict:
    """Return what was found, as plain values that JSON can carry."""
    letters = sum(len(word.text) for page in pages for word in page.words)
    rows = []
    for page in pages:
        for word in page.words:
            if CAS.fullmatch(word.text):
                line = [w for w in page.words if abs(w.middle - word.middle) < 3]
                box = [
                    min(w.x0 for w in line) / page.width,
                    min(w.y0 for w in line) / page.height,
                    max(w.x1 for w in line) / page.width,
                    max(w.y1 for w in line) / page.height,
                ]
                text = " ".join(w.text for w in sorted(line, key=lambda w: w.x0))
                rows.append({"name": text, "cas": word.text, "places": [[page.number, box]]})
    return {
        "pages": [[page.width, page.height] for page in pages],
        "letters": letters,
        "rows": rows[: limits.most_rows],
    }
