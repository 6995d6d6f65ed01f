"""What the raw texts of a sheet mean: ranges, classes, dates, temperatures. Pure."""

from __future__ import annotations

from pourwright.intake.sheets.found import Place, RowFound, SheetReading

FEWEST_LETTERS = 200


def reading_from(raw: dict) -> SheetReading:
    """Return the reading from what the child handed back."""
    rows = tuple(
        RowFound(
            name=row["name"],
            cas=row["cas"],
            places=tuple(Place(page, tuple(box)) for page, box in row["places"]),
        )
        for row in raw["rows"]
    )
    return SheetReading(
        rows=rows,
        page_count=len(raw["pages"]),
        page_sizes=tuple((width, height) for width, height in raw["pages"]),
        has_text=raw["letters"] >= FEWEST_LETTERS,
    )
