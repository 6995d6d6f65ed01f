"""What the materials are made of comes to be known: sheets typed in and confirmed, one left to."""

from __future__ import annotations

from datetime import date, timedelta

from pourwright.workshop.demo.life import Life
from pourwright.workshop.demo.tables import table
from pourwright.workshop.hazard import keeping
from pourwright.workshop.hazard.drafts import read_row
from pourwright.workshop.hazard.keeping import Head
from pourwright.workshop.hazard.models import Made


def of_the_day(life: Life) -> None:
    """Bring in the sheets whose day this is, an hour before anyone works with them."""
    for row in table("compositions")["compositions"]:
        if row.get("day", 0) == life.day:
            _bring_in(life, row)


def _bring_in(life: Life, row: dict) -> None:
    item = life.items[row["item"]]
    dated = life.start + timedelta(days=row["sheet"])
    begun = keeping.begin(item, made=Made.TYPED, at=life.at(8), typed=_typed(row, dated))
    if row.get("waits"):
        return
    keeping.confirm(
        begun,
        head=Head(
            product_name=item.name, sheet_date=dated, revision=row["revision"],
            note=row.get("note", ""), nothing_listed=not row["rows"],
        ),
        rows=[read_row(typed).row for typed in row["rows"]],
        by=life.workshop.maker, on=life.on, at=life.at(8),
    )  # fmt: skip


def _typed(row: dict, dated: date) -> dict:
    head = {"sheet_date": dated.isoformat(), "revision": row["revision"]}
    return {"head": head, "rows": row["rows"]}
