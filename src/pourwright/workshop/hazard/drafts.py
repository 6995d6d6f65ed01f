"""A draft's rows: as they were typed, and as far as they can be read."""

from __future__ import annotations

from pourwright.workshop.hazard.models import ItemComposition
from pourwright.workshop.hazard.records import Row


def rows_that_read(draft: ItemComposition) -> tuple[list[Row], int]:
    """Return the rows of a draft that can be read, and how many cannot be yet."""
    return [], 0
