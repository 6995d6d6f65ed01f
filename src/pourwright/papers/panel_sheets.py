"""
A scent panel on paper: a blind sheet for each assessor, and the key for whoever sets out.

The two are papers of their own, so that no one who smells sees which candle has which code.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from pourwright.core.amounts import System
from pourwright.papers.documents import compile_pdf, paper_for


@dataclass(frozen=True, slots=True, kw_only=True)
class Serving:
    """One assessor's codes, in the order in which they are smelled."""

    assessor: int
    codes: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelPaper:
    """
    Everything on the papers of one panel.

    ``key`` has (code, candle); ``ask`` is what an assessor is to do, in words.
    """

    number: str
    on: date
    workshop: str
    ranking: bool
    question: str
    ask: str
    how: str
    servings: Sequence[Serving]
    key: Sequence[tuple[str, str]] = ()
    smelling: Sequence[str] = ()
    before: Sequence[str] = ()
    hot: Sequence[str] = ()
    hot_stop: Sequence[str] = ()
    on_the_sheet: str = ""
    stop: str = ""
    closing: str = ""


def blind_sheets_pdf(paper: PanelPaper, *, units: System) -> bytes:
    """Return the sheets of all assessors, two to a page, to be cut apart."""
    return compile_pdf("panel_blind.typ", _data(paper), paper=paper_for(units))


def key_pdf(paper: PanelPaper, *, units: System) -> bytes:
    """Return the key: which candle has which code, who smells what, and what to see to first."""
    data = _data(paper) | {
        "key": [list(row) for row in paper.key],
        "before": list(paper.before),
        "hot": list(paper.hot),
        "hot_stop": list(paper.hot_stop),
        "closing": paper.closing,
    }
    return compile_pdf("panel_key.typ", data, paper=paper_for(units))


def _data(paper: PanelPaper) -> dict[str, object]:
    return {
        "number": paper.number,
        "on": f"{paper.on:%A}, {paper.on.day} {paper.on:%B %Y}",
        "workshop": paper.workshop,
        "ranking": paper.ranking,
        "question": paper.question,
        "ask": paper.ask,
        "how": paper.how,
        "servings": [
            {"assessor": one.assessor, "codes": list(one.codes)} for one in paper.servings
        ],
        "smelling": list(paper.smelling),
        "on_the_sheet": paper.on_the_sheet,
        "stop": paper.stop,
    }
