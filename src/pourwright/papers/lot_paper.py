"""
The lot's paper: one candle lot with its gate, its finishing, what went into it and what it cost.

It says only what it is handed, the reasons for what was passed by hand included; there is no
clock here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pourwright.core.amounts import System
from pourwright.papers.charts import day_words
from pourwright.papers.documents import compile_pdf, paper_for

STATE_WORDS = {"met": "met", "open": "open", "waived": "passed by hand", "refused": "refused"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperCheck:
    """One check at the lot's gate; ``reason`` where it was passed by hand."""

    title: str
    state: str
    detail: str
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperDecision:
    on: date
    what: str
    by: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSupply:
    """A supply lot in the candles. ``through`` names lots made here that it came through."""

    kind: str
    item: str
    lot: str
    supplier: str
    supplier_lot: str
    receipt: str
    through: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPaper:
    """Everything on the paper. ``drawing`` is a painted SVG; money and masses are in words."""

    code: str
    candle: str
    workshop: str
    maker: str
    on: date
    origin: str
    began_on: date
    ready_on: date | None
    best_before: date | None
    pour: str
    parent: str
    design: str
    formula: str
    fill: str
    note: str
    drawing: str
    drawing_alt: str
    places: Sequence[tuple[str, int]]
    released: str
    checks: Sequence[PaperCheck]
    decisions: Sequence[PaperDecision]
    finishing: Sequence[tuple[str, bool]]
    finished: str
    supplies: Sequence[PaperSupply]
    cost: Sequence[tuple[str, str]]
    cost_each: str


def lot_paper_pdf(paper: LotPaper, *, units: System) -> bytes:
    """Return the lot's paper as a PDF on the paper of those units."""
    return compile_pdf("lot_paper.typ", as_data(paper), paper=paper_for(units))


def as_data(paper: LotPaper) -> dict[str, Any]:
    """Return what the template reads: words alone."""
    facts = [
        ("Came", f"{paper.origin}, {_day(paper.began_on)}"),
        ("Pour", paper.pour),
        ("Taken from lot", paper.parent),
        ("Design", paper.design),
        ("Formula", paper.formula),
        ("Fill", paper.fill),
        ("Cured on", _day(paper.ready_on)),
        ("Best before", _day(paper.best_before)),
        ("Note", paper.note),
    ]
    return {
        "code": paper.code,
        "candle": paper.candle,
        "workshop": paper.workshop,
        "maker": paper.maker,
        "on": _day(paper.on),
        "released": paper.released,
        "facts": [[name, value] for name, value in facts if value],
        "drawing": paper.drawing,
        "alt": paper.drawing_alt,
        "places": [[place, f"{qty:,}"] for place, qty in paper.places],
        "checks": [
            [check.title, STATE_WORDS[check.state], check.detail, check.reason]
            for check in paper.checks
        ],
        "decisions": [[_day(d.on), d.what, d.by, d.reason] for d in paper.decisions],
        "finishing": [[title, done] for title, done in paper.finishing],
        "finished": paper.finished,
        "supplies": [
            [
                supply.kind,
                supply.item,
                supply.lot,
                supply.supplier,
                supply.supplier_lot,
                supply.receipt,
                supply.through,
            ]
            for supply in paper.supplies
        ],
        "cost": [list(row) for row in paper.cost],
        "cost_each": paper.cost_each,
    }


def _day(day: date | None) -> str:
    return day_words(day, year=True) if day else ""
