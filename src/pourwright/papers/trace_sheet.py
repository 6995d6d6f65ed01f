"""
The trace on paper: where a lot went (the recall list) and what it was made from, cut nowhere.

It says only what it is handed; there is no clock here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pourwright.core.amounts import System
from pourwright.papers.charts import day_words
from pourwright.papers.documents import compile_pdf, paper_for


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRow:
    """What is still in the workshop of a lot, at one place; the quantity in words."""

    lot: str
    item: str
    place: str
    qty: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SentRow:
    """Candles that went to someone, and how many of them came back."""

    on: date
    order: str
    who: str
    contact: str
    address: str
    item: str
    lot: str
    qty: int
    returned: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyRow:
    """A supply lot in it: how much went in straight (in words), or which lots it came through."""

    kind: str
    item: str
    lot: str
    supplier: str
    contact: str
    supplier_lot: str
    receipt: str
    on: date
    qty: str
    through: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceSheet:
    """Everything on the sheet."""

    title: str
    about: str
    workshop: str
    on: date
    recall: str
    facts: Sequence[tuple[str, str]]
    counts: Sequence[tuple[str, str]]
    stock: Sequence[StockRow]
    sent: Sequence[SentRow]
    supplies: Sequence[SupplyRow]


def trace_sheet_pdf(sheet: TraceSheet, *, units: System) -> bytes:
    """Return the sheet as a PDF on the paper of those units."""
    return compile_pdf("trace_sheet.typ", as_data(sheet), paper=paper_for(units))


def as_data(sheet: TraceSheet) -> dict[str, Any]:
    """Return what the template reads: words alone, and the sums beside them."""
    return {
        "title": sheet.title,
        "about": sheet.about,
        "workshop": sheet.workshop,
        "on": day_words(sheet.on, year=True),
        "recall": sheet.recall,
        "facts": [list(fact) for fact in sheet.facts],
        "counts": [list(count) for count in sheet.counts],
        "stock": [[row.lot, row.item, row.place, row.qty] for row in sheet.stock],
        "sent": [
            [
                day_words(row.on, year=True),
                row.order,
                row.who,
                row.contact,
                row.address,
                row.item,
                row.lot,
                f"{row.qty:,}",
                f"{row.returned:,}" if row.returned else "",
            ]
            for row in sheet.sent
        ],
        "sent_total": f"{sum(row.qty for row in sheet.sent):,}",
        "back_total": f"{sum(row.returned for row in sheet.sent):,}",
        "supplies": [
            [
                row.kind,
                row.item,
                row.lot,
                row.supplier,
                row.contact,
                row.supplier_lot,
                row.receipt,
                day_words(row.on, year=True),
                row.qty or f"by way of {row.through}",
            ]
            for row in sheet.supplies
        ],
    }
