"""What a reading has right of a sheet's truth, row by row and field by field."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction

from intake.sheets.truth import RowTruth, Truth
from pourwright.core.hazard.model import Route
from pourwright.intake.sheets import RowFound, SheetReading

FIELDS = ("row", "cas", "ec", "share", "classes", "m", "limits", "ate", "name")


def compare(truth: Truth, reading: SheetReading) -> tuple[Counter, int, list[str]]:
    """
    Return how many rows have each field right, how many rows were found beyond them, and what is
    wrong in words. A row is right if CAS number, share and classes all are.
    """
    right: Counter = Counter()
    wrong: list[str] = []
    left = list(reading.rows)
    for row in truth.rows:
        found = _match(row, left)
        if found is None:
            wrong.append(f"{row.name}: no row")
            right["silent"] += 1
            continue
        left.remove(found)
        fields = {
            "cas": found.cas == row.cas,
            "ec": found.ec == row.ec,
            "share": _share_is_right(row, found),
            "classes": {str(hazard) for hazard, _ in found.classes} == row.classes,
            "m": (found.m_acute, found.m_chronic) == (row.m_acute, row.m_chronic),
            "limits": {str(k): v for k, v in found.specific_limits.items()}
            == {key: Fraction(limit) for key, limit in row.specific.items()},
            "ate": found.ate.get(Route.ORAL) == row.ate_oral and len(found.ate) <= 1,
            "name": _bare(found.name) == _bare(row.name),
        }
        fields["row"] = fields["cas"] and fields["share"] and fields["classes"]
        # Wrong, and nothing said: what only a careful look at the page can find.
        right["silent"] += not fields["row"] and not found.doubts
        right.update(field for field, good in fields.items() if good)
        bad = [field for field, good in fields.items() if not good and field != "row"]
        if bad:
            wrong.append(
                f"{row.name}: {', '.join(bad)} in {found.name!r} {found.cas} {found.ec} "
                f"{found.pct_text!r} {found.classes_text!r}"
            )
    wrong += [f"not there: {row.name!r} {row.cas} {row.pct_text!r}" for row in left]
    return right, len(left), wrong


def _match(row: RowTruth, rows: list[RowFound]) -> RowFound | None:
    for same in (
        lambda found: found.cas and found.cas == row.cas,
        lambda found: found.ec and found.ec == row.ec,
        lambda found: found.name and _bare(found.name) == _bare(row.name),
    ):
        for found in rows:
            if same(found):
                return found
    return None


def _share_is_right(row: RowTruth, found: RowFound) -> bool:
    pct = found.pct
    if pct is None or pct.high != Fraction(row.high) or pct.open_above != row.open_above:
        return False
    return (pct.low or 0) == (Fraction(row.low) if row.low else 0)


def _bare(name: str) -> str:
    return re.sub(r"[\s-]", "", name).casefold()


def facts_wrong(truth: Truth, reading: SheetReading) -> list[str]:
    """Return the single facts that differ from the truth, by their field's name."""
    flash = Fraction(truth.flash_c) if truth.flash_c else None
    density = Fraction(truth.density) if truth.density else None
    wrong = []
    if _bare(reading.product_name) != _bare(truth.product):
        wrong.append(f"product {reading.product_name!r}")
    if _bare(reading.supplier) != _bare(truth.supplier):
        wrong.append(f"supplier {reading.supplier!r}")
    if reading.sheet_date != truth.sheet_date:
        wrong.append(f"date {reading.sheet_date_text!r} {reading.sheet_date}")
    if truth.revision and reading.revision != truth.revision:
        wrong.append(f"revision {reading.revision!r}")
    if not _near(flash, reading.flash_point_c, Fraction(1, 2)):
        wrong.append(f"flash {reading.flash_point_text!r} {reading.flash_point_c}")
    if not _near(density, reading.density_g_ml, Fraction(1, 1000)):
        wrong.append(f"density {reading.density_text!r} {reading.density_g_ml}")
    unknown = set(reading.unknown_acute_pct.values())
    if unknown != ({Fraction(truth.unknown_pct)} if truth.unknown_pct else set()):
        wrong.append(f"unknown {reading.unknown_acute_text!r}")
    return wrong


def _near(wanted: Fraction | None, found: Fraction | None, by: Fraction) -> bool:
    if wanted is None or found is None:
        return wanted is found
    return abs(wanted - found) <= by
