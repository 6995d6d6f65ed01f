"""
Every limit of the classification rules in one shape, so that one reader serves all of them.

A criterion is met when a weighted sum of concentrations reaches its limit:

    sum of  weight_i x c_i,  over the ingredients with c_i at or above their cut-off,  >=  limit

A single-ingredient limit is a sum of one term; an acute toxicity estimate of the mixture at or
below a category's limit L is  sum of c_i / ATE_i >= 100 / L.  Which criteria are met decides the
classes and, through them, every element of the label. Because each sum is piecewise linear in the
concentrations, the loads at which a criterion turns can be computed exactly (``headroom``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, lcm
from typing import Literal

from pourwright.core.hazard.model import HazardClass

# What a met criterion means: a class; that a sensitiser must be named (elicitation); a safety data
# sheet on request; a ban on sale to the public; or a fact that other criteria ask for ("unknown
# acute toxicity above 10 %").
Effect = Literal["class", "elicitation", "sheet", "ban", "fact"]


@dataclass(frozen=True, slots=True)
class Term:
    """
    One ingredient in a sum: which, its weight, and the concentration from which it counts.

    ``ingredient`` is the position in the list of concentrations.
    """

    ingredient: int
    weight: Fraction
    cut_off_pct: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """
    One limit of one rule.

    ``hazard`` is the class that it gives, or the class it concerns. ``rule`` names the clause.
    ``key`` tells criteria apart and stays the same for the same substances, market and day.
    ``strict`` means that the sum must be above the limit, not only at it. ``needs`` and ``unless``
    are keys of facts: the criterion says something only while the one is met and the other is not
    (``decide`` looks). ``status`` says how the rule's text was come by.
    """

    key: str
    effect: Effect
    hazard: HazardClass | None
    terms: tuple[Term, ...]
    limit: Fraction
    rule: str
    status: str = ""
    strict: bool = False
    needs: str = ""
    unless: str = ""

    def sum_at(self, concentrations: Sequence[Fraction]) -> Fraction:
        """Return the weighted sum of what counts, in the limit's unit."""
        if len(self.terms) == 1:
            only = self.terms[0]
            pct = concentrations[only.ingredient]
            if not only.cut_off_pct and only.weight == 1:
                return pct
        return sum(
            (
                term.weight * concentrations[term.ingredient]
                for term in self.terms
                if concentrations[term.ingredient] >= term.cut_off_pct
                and concentrations[term.ingredient] > 0
            ),
            Fraction(0),
        )

    def met_at(self, concentrations: Sequence[Fraction]) -> bool:
        """Return whether the limit is reached (passed, where it is strict)."""
        return self.is_met_by(self.sum_at(concentrations))

    def is_met_by(self, total: Fraction) -> bool:
        """Return whether a weighted sum reaches the limit."""
        return total > self.limit if self.strict else total >= self.limit


def sums_at(criteria: Sequence[Criterion], concentrations: Sequence[Fraction]) -> list[Fraction]:
    """
    Return each criterion's weighted sum, as ``Criterion.sum_at`` does one by one.

    Everything is brought to common denominators first, so that hundreds of ingredients are added
    up as whole numbers: exact, and several times faster.
    """
    below = lcm(*(c.denominator for c in concentrations))
    counts = [c.numerator * (below // c.denominator) for c in concentrations]
    cut_offs: dict[Fraction, int] = {}
    found = []
    for criterion in criteria:
        if len(criterion.terms) == 1:
            found.append(criterion.sum_at(concentrations))
            continue
        scale = lcm(*(term.weight.denominator for term in criterion.terms))
        total = 0
        for term in criterion.terms:
            count = counts[term.ingredient]
            if not count:
                continue
            cut_off = cut_offs.get(term.cut_off_pct)
            if cut_off is None:
                cut_off = cut_offs[term.cut_off_pct] = ceil(term.cut_off_pct * below)
            if count >= cut_off:
                weight = term.weight
                total += count * (weight.numerator * (scale // weight.denominator))
        found.append(Fraction(total, below * scale))
    return found
