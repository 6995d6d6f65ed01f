"""An invented candle as its label sees it, for the tests of needs and of drawings."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

from pourwright.core.contents import parse_declared
from pourwright.core.hazard.assess import assess
from pourwright.core.hazard.label import LabelElements
from pourwright.core.hazard.model import (
    Composition,
    Ingredient,
    Market,
    Portion,
    Range,
    mixture_of,
)
from pourwright.core.hazard.reference import substance
from pourwright.core.labelling.codes import article_number
from pourwright.core.labelling.facts import Business, LabelFacts
from pourwright.core.labelling.panel import round_panel

ON = date(2026, 11, 24)
MAKER = Business(
    name="Lanternwick Works", street="12 Cooper Row", place="Eastmere, OR 97001", country="US",
    telephone="+1 555 0134", electronic="post@lanternwick.example",
)  # fmt: skip
IN_THE_UNION = Business(
    name="Brugge & Daughters", street="Kaai 3", place="8000 Brugge", country="BE",
    electronic="safety@brugge.example",
)  # fmt: skip


def elements(*, linalool: str = "1.2", hhcb: str = "1.5", market: str = "eu") -> LabelElements:
    """Return what a candle with so much linalool and HHCB (percent of the whole) must say."""
    oil = Composition(
        name="oil",
        ingredients=tuple(
            Ingredient(substance=substance(cas), pct=Range(high=Fraction(pct) * 10))
            for cas, pct in (("78-70-6", linalool), ("1222-05-5", hhcb))
            if Fraction(pct)
        ),
    )
    mixture = mixture_of([Portion(composition=oil, pct_of_whole=Fraction(10))])
    return assess(mixture, market=Market(market), on=ON, package_ml=Fraction(260)).label


def facts(**more) -> LabelFacts:
    """Return a whole candle's facts; name what should differ."""
    whole = LabelFacts(
        name="Plum & Barley",
        markets=("us", "eu"),
        on=ON,
        declared=parse_declared("8 oz (226 g)"),
        panel=round_panel(height_mm=Fraction(92), diameter_mm=Fraction(84), on=ON),
        maker=MAKER,
        responsible_eu=IN_THE_UNION,
        lot="L-0107",
        hazard={"eu": elements()},
        identifier="KMTT-DSP3-7FD7-6RWY",
        article_number=article_number("4006381333931"),
        web_page="https://lanternwick.example/plum",
        burn_hours=Fraction(44),
        hours_at_once=Fraction(4),
    )
    return replace(whole, **more)
