"""Pages of a sheet as pictures: drawn by a child process, kept by the file's hash and the page."""

from __future__ import annotations

from functools import lru_cache

from pourwright.intake.sheets import page_picture
from pourwright.workshop.hazard.models import SheetFile

WIDTH_PX = 1100
# Some 150 kB each; what is asked for again comes from the browser's own store first.
KEPT = 60


@lru_cache(maxsize=KEPT)
def picture(sha256: str, page: int) -> bytes:
    """
    Return a page (from 1) of a kept sheet as PNG.

    Raises ``SheetUnreadable`` where it cannot be drawn, ``SheetFile.DoesNotExist`` where there is
    no such sheet.
    """
    content = SheetFile.objects.values_list("content", flat=True).get(sheet__sha256=sha256)
    return page_picture(bytes(content), page, width_px=WIDTH_PX)
