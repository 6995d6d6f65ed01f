"""
What a candle with one oil alone would carry, at a few usual loads and along all of them.

A single oil in a wax that brings nothing: it tells an oil's own character before it is blended.
The formula's page has the real candle.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pourwright.core.errors import BadInput
from pourwright.core.hazard.assess import assess
from pourwright.core.hazard.headroom import headroom
from pourwright.core.hazard.model import Composition, Market
from pourwright.core.hazard.paths import Dose, Doses, load_path
from pourwright.core.hazard.us import UsAssessment
from pourwright.papers.headroom_bar import headroom_bar_svg

# What makers usually load, in percent of the wax. Common practice, no source.
USUAL_LOADS = (Fraction(5), Fraction(8), Fraction(10))
SHOWN_AT = USUAL_LOADS[1]
WIDE_PX, NARROW_PX = 600, 320
MARKET_NAMES = {
    Market.EU: "EU, Northern Ireland",
    Market.GB: "Great Britain",
    Market.US: "United States",
    Market.UN: "UN model",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AtLoad:
    """The label of a candle at one load: codes and names."""

    of_wax: Fraction
    of_whole: Fraction
    signal_word: str
    pictograms: tuple[str, ...]
    statements: tuple[tuple[str, str], ...]
    names: str
    refused: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alone:
    """An oil alone in a market on a day; ``bars`` are the headroom, wide and narrow."""

    market: Market
    name: str
    on: date
    rows: tuple[AtLoad, ...]
    bars: tuple[str, str] | None
    problem: str
    advice: str


def markets_of(codes: list[str]) -> list[Market]:
    """Return the markets that codes such as "eu" name, or the UN's model where none is known."""
    known = [Market(code) for code in codes if code in set(Market)]
    return known or [Market.UN]


def alone(oil: Composition, *, market: Market, on: date) -> Alone:
    """Return what a candle with this oil alone would carry in a market on a day."""
    rows: list[AtLoad] = []
    bars = None
    problem = advice = ""
    try:
        for load in USUAL_LOADS:
            found = assess(_doses(oil, load).mixture, market=market, on=on)
            advice = found.advice if isinstance(found, UsAssessment) else found.label.advice
            rows.append(_at(load, found))
        if market is not Market.US:
            walk = headroom(load_path(_doses(oil, SHOWN_AT)), market=market, on=on)
            title = f"What the label of a candle with {oil.name} alone would carry, by its load"
            wide, narrow = (
                str(headroom_bar_svg(walk, title=title, width=width, prefix=f"alone-{width}"))
                for width in (WIDE_PX, NARROW_PX)
            )
            bars = (wide, narrow)
    except BadInput as trouble:
        problem = str(trouble)
    return Alone(
        market=market,
        name=MARKET_NAMES[market],
        on=on,
        rows=tuple(rows),
        bars=bars,
        problem=problem,
        advice=advice,
    )


def _doses(oil: Composition, load: Fraction) -> Doses:
    wax = Composition(name="wax")
    return Doses(
        waxes=(Dose(composition=wax, pct_of_wax=Fraction(100)),),
        oils=(Dose(composition=oil, pct_of_wax=load),),
    )


def _at(load: Fraction, found) -> AtLoad:
    of_whole = 100 * load / (100 + load)
    if isinstance(found, UsAssessment):
        return AtLoad(
            of_wax=load,
            of_whole=of_whole,
            signal_word=found.signal_word or "",
            pictograms=(),
            statements=tuple((row.name, row.hazard) for row in found.met),
            names=f"Names {', '.join(found.named_substances)}." if found.named_substances else "",
            refused=(),
        )
    label = found.label
    return AtLoad(
        of_wax=load,
        of_whole=of_whole,
        signal_word=label.signal_word or "",
        pictograms=tuple(sign.code for sign in label.pictograms),
        statements=tuple(
            (said.code, said.text) for said in (*label.hazard_statements, *label.supplemental)
        ),
        names=label.contains,
        refused=tuple(refusal.reason for refusal in label.refused),
    )
