"""
Is the scale fine enough, and does it still tell the truth?

US: at least 100 divisions, each at most a sixth of the MAV; maintenance tolerances by class. EU and
GB: an error of at most a fifth of the TNE; the French order's scale steps.

Sources: Handbook 133-2026, 2.2 (read); Directive 76/211/EEC; order of 20 October 1978, art. 3.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from pourwright.core.contents.declared import Declared, MarketRule
from pourwright.core.contents.figures import cut, plain
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

ScaleClass = Literal["II", "III"]


class BadScale(BadInput):
    """A scale that cannot be as it is described."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suitability:
    """Whether a scale is fine enough for a label; ``coarsest_g`` is the largest step that is."""

    suitable: bool
    coarsest_g: Fraction
    words: str
    rule: Rule


def suitability(
    *,
    division_g: Fraction,
    declared: Declared,
    market: MarketRule,
    on: date,
    capacity_g: Fraction | None = None,
) -> Suitability:
    """Return whether a scale suits the check of a declared weight under a market's rule."""
    from pourwright.core.contents import average, us

    if division_g <= 0:
        raise BadScale("A scale’s division is more than 0, such as 0.1 g.")
    if market == "us":
        table = rule("us/net_scale", on=on)
        coarsest = us.mav(declared, on=on).mav_g / table["mav_share"]
        fits = division_g <= coarsest
        if capacity_g is not None and divisions(capacity_g, division_g) < table["least_divisions"]:
            return Suitability(
                suitable=False, coarsest_g=coarsest, rule=table,
                words=f"The scale has {divisions(capacity_g, division_g)} divisions; at least "
                f"{table['least_divisions']} are wanted.",
            )  # fmt: skip
        why = "a sixth of the MAV"
    else:
        table = rule("eu/net_scale", on=on)
        nominal = declared.nominal_g
        tne = average.tolerance(nominal_g=nominal, market=market, on=on).tne_g
        step = [row["step_g"] for row in table["steps"] if nominal >= row["from_g"]][-1]
        coarsest = min(Fraction(step), tne / table["tne_share"])
        fits = division_g <= coarsest
        why = "the step for this nominal quantity, and a fifth of the TNE"
    return Suitability(
        suitable=fits, coarsest_g=coarsest, rule=table,
        words=f"A division of {plain(division_g, 3)} g; up to {plain(cut(coarsest, 3), 3)} g is "
        f"fine enough ({why}).",
    )  # fmt: skip


def divisions(load_g: Fraction, division_g: Fraction) -> int:
    """Return a load in whole divisions.

    >>> divisions(Fraction(3000), Fraction(1, 2))
    6000
    """
    return int(load_g / division_g)


def tolerance_g(
    *, load_g: Fraction, division_g: Fraction, scale_class: ScaleClass, on: date
) -> Fraction:
    """
    Return how far a scale may be off at a load, by its class.

    Source: Handbook 133-2026, chapter 2 (read); half a division up to 5 000 of Class II, and so on.
    """
    if division_g <= 0 or load_g < 0:
        raise BadScale("A load is 0 or more and a division more than 0.")
    table = rule("us/net_scale", on=on)
    load = load_g / division_g
    rows = table["class_ii" if scale_class == "II" else "class_iii"]
    row = next(row for row in rows if load <= row.get("to", load))
    return Fraction(row["tolerance"]) * division_g
