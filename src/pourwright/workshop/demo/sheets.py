"""What the materials are made of comes to be known: sheets typed in and confirmed, one left to."""

from __future__ import annotations

from datetime import date, timedelta

from pourwright.core.hazard.model import Market
from pourwright.workshop.demo.life import Life
from pourwright.workshop.demo.tables import table
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas import identifiers
from pourwright.workshop.hazard import keeping
from pourwright.workshop.hazard.drafts import read_row
from pourwright.workshop.hazard.keeping import Head
from pourwright.workshop.hazard.models import Made
from pourwright.workshop.hazard.of_designs import label_elements
from pourwright.workshop.hazard.services import mixture_for


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


def number(life: Life, version: DesignVersion) -> None:
    """Give a design's recipe its formulation number where the EU asks for an identifier."""
    label = label_elements(version, market=Market.EU, on=life.on)
    if label.identifier_needed:
        whole = mixture_for(version.formula_version)
        identifiers.give_number(
            version.formula_version,
            recipe=identifiers.print_of_recipe(whole.pct_of_whole),
            made_of=identifiers.print_of_mixture(whole.mixture),
            on=life.on,
        )
