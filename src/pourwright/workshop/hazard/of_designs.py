"""
A design's class and label elements in a market: for its page, its label and its gate.

The package's size decides sizes and reliefs. It is the fill by the wax's density; where that is
not known the vessel's full volume stands in, which is never less and so grants no relief too many.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil

from pourwright.core import release
from pourwright.core.errors import BadInput
from pourwright.core.hazard.assess import Assessment, assess
from pourwright.core.hazard.label import LabelElements
from pourwright.core.hazard.model import Market
from pourwright.core.hazard.us import UsAssessment, assess_us
from pourwright.core.release import Check
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import core_formula, recipe_of
from pourwright.workshop.hazard.services import Whole, whole_of


def market_named(name: str) -> Market | None:
    """Return the market that a code such as "eu" names, None where none is known by it."""
    try:
        return Market(name.strip().lower())
    except ValueError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """What the package holds, and how that is known; ``ml`` None where nothing is measured."""

    ml: Fraction | None
    words: str


def pack_of(version: DesignVersion) -> Pack:
    """Return a design's package size."""
    density = designs.cold_density_g_ml(core_formula(version.formula_version))
    if density is not None:
        ml = version.fill_mg / 1000 / density
        return Pack(ml=_tenths_up(ml), words="the fill by its density")
    vessel = designs.core_vessel(version.vessel)
    if vessel is not None:
        words = "the vessel to its brim: no density known"
        return Pack(ml=_tenths_up(vessel.brim_ml), words=words)
    return Pack(ml=None, words="neither the wax’s density nor the vessel’s size is known")


def _tenths_up(ml: float) -> Fraction:
    """Round up: a pack that seems larger is spared nothing that it must carry."""
    return Fraction(ceil(ml * 10 - 1e-9), 10)


def assess_design(version: DesignVersion, *, market: Market, on: date) -> Assessment | UsAssessment:
    """Return a design's class and label elements in a market on a day, from what is confirmed."""
    whole = whole_of(recipe_of(version.formula_version))
    return assess(whole.mixture, market=market, on=on, package_ml=pack_of(version).ml)


def label_elements(
    version: DesignVersion, *, market: Market | str, on: date
) -> LabelElements | UsAssessment:
    """
    Return what must stand on a design's label in a market on a day, for whoever draws it.

    What has no confirmed composition is left out (``services.mixture_for`` names it). The US have
    no such elements: what their lists ask for comes as it is.
    """
    found = assess_design(version, market=Market(market), on=on)
    return found if isinstance(found, UsAssessment) else found.label


# --- the gate ------------------------------------------------------------------------------------


def hazard_check(version: DesignVersion, *, markets: Sequence[str], on: date) -> Check:
    """Return the gate's check: what each market's rules say of a design, or what is missing."""
    whole = whole_of(recipe_of(version.formula_version))
    ml = pack_of(version).ml
    found = []
    for market in dict.fromkeys(filter(None, map(market_named, markets))):
        # A market without an answer, for want of a rule on that day, stays open by its name.
        with suppress(BadInput):
            found.append(_finding(whole, market, ml=ml, on=on))
    return release.hazard(markets, found=found, missing=[item.name for item in whole.gaps])


def _finding(
    whole: Whole, market: Market, *, ml: Fraction | None, on: date
) -> release.MarketFinding:
    if market is Market.US:
        return release.MarketFinding(market=market, words=_us_words(assess_us(whole.mixture, on)))
    found = assess(whole.mixture, market=market, on=on, package_ml=ml)
    bans = " ".join(refusal.reason for refusal in found.classification.refusals)
    return release.MarketFinding(market=market, words=label_words(found), banned=bans)


def label_words(found: Assessment) -> str:
    """Return a class and its label in a line, such as "Skin Sens 1; Warning, GHS07, H317."."""
    label = found.label
    classes = ", ".join(str(one.hazard) for one in found.classification.classes) or "no class"
    said = [
        *([label.signal_word] if label.signal_word else []),
        *label.pictograms,
        *(statement.code for statement in (*label.hazard_statements, *label.supplemental)),
    ]
    return f"{classes}; {', '.join(said)}." if said else f"{classes}."


def _us_words(found: UsAssessment) -> str:
    listed = ", ".join(row.name for row in found.met)
    if not listed:
        return "nothing on the lists of 16 CFR 1500.13 and 1500.14."
    return f"{found.signal_word}: {listed} (16 CFR 1500.13, 1500.14)."
