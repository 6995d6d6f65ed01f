"""Reading a supplier's safety data sheet: a PDF in, typed rows with their places and doubts out."""

from pourwright.intake.sheets.asking import page_picture, read_sheet
from pourwright.intake.sheets.found import (
    LIMITS,
    Limits,
    Place,
    RowFound,
    SheetReading,
    SheetUnreadable,
)

__all__ = [
    "LIMITS",
    "Limits",
    "Place",
    "RowFound",
    "SheetReading",
    "SheetUnreadable",
    "page_picture",
    "read_sheet",
]
