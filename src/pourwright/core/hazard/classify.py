"""
Classify a whole candle from what is in it, with one traced line for each decision.

Exact arithmetic throughout; a limit is reached at or above its figure. A candle is a solid, so the
classes that only liquids have are left behind, and the trace says so. Source: CLP Annex I as the
rule tables cite it; the order follows its chapters.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from functools import cached_property

from pourwright.core.hazard.criteria import (
    Criteria,
    Criterion,
    Decided,
    Decision,
    criteria_for,
    decide,
)
from pourwright.core.hazard.criterion import sums_at
from pourwright.core.hazard.model import Authority, HazardClass, Market, Mixture, Presence, Route
from pourwright.core.hazard.trace import Step, plain, step_of, steps_for_what_stays_behind
from pourwright.core.hazard.warnings import warnings_of

__all__ = [
    "Cause",
    "Classed",
    "Classification",
    "Decided",
    "Decision",
    "Refusal",
    "classify",
    "decide",
    "measure",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """An ingredient that counts towards a class; ``share_of_sum`` is 0 to 1 of the limit's sum."""

    presence: Presence
    pct: Fraction
    share_of_sum: Fraction


@dataclass(frozen=True, kw_only=True)
class Classed:
    """A class of the candle, why, by which rule, and how that rule's text was come by."""

    hazard: HazardClass
    criteria: tuple[Criterion, ...]
    mixture: Mixture = field(repr=False)

    @property
    def rule(self) -> str:
        """The clauses that gave the class."""
        return "; ".join(dict.fromkeys(c.rule for c in self.criteria))

    @property
    def status(self) -> str:
        """How the text of those clauses was come by."""
        return "; ".join(dict.fromkeys(c.status for c in self.criteria))

    @cached_property
    def because(self) -> tuple[Cause, ...]:
        """Each ingredient that counts, once, with its greatest share of a sum, the most first."""
        return tuple(_causes(self.criteria, self.mixture))


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A reason why the candle must not be sold to the public at all."""

    reason: str
    rule: str
    presence: Presence | None = None
    status: str = ""


@dataclass(frozen=True, kw_only=True)
class Classification:
    """
    What a candle is, in a market on a day.

    ``elicitors`` are the sensitisers at or above their elicitation limit, the most first.
    ``unknown_acute`` is by route the percentage of unknown acute toxicity that the label must
    state. ``decision`` is the same without numbers; ``sums`` are what each of the ``criteria`` came
    to, by key. ``marketed_before``: see ``criteria_for``.
    """

    market: Market
    on: date
    marketed_before: bool
    classes: tuple[Classed, ...]
    elicitors: tuple[Presence, ...]
    refusals: tuple[Refusal, ...]
    sheet_on_request: bool
    unknown_acute: Mapping[Route, Fraction]
    decision: Decision = field(repr=False)
    mixture: Mixture = field(repr=False)
    criteria: Criteria = field(repr=False, compare=False)
    sums: Mapping[str, Fraction] = field(repr=False, compare=False)

    @cached_property
    def trace(self) -> tuple[Step, ...]:
        """A line for each limit that something counts towards, and for what stays behind."""
        return (
            *(
                step_of(one, self.sums[one.key], self.mixture.present)
                for one in self.criteria
                if self.sums[one.key]
            ),
            *steps_for_what_stays_behind(self.criteria),
        )

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """What a person must know besides, each one plain sentence."""
        return warnings_of(
            self.mixture, criteria=self.criteria, sums=self.sums, decision=self.decision
        )


def measure(criteria: Criteria, concentrations: Sequence[Fraction]) -> dict[str, Fraction]:
    """Return each criterion's weighted sum at these concentrations, by key."""
    return {
        c.key: total for c, total in zip(criteria, sums_at(criteria, concentrations), strict=True)
    }


def classify(
    mixture: Mixture, *, market: Market, on: date, marketed_before: bool = False
) -> Classification:
    """
    Return the classes of a candle in a market on a day of placing on the market.

    Raises ``NoSuchMarket`` for the US, whose law does not classify so, and ``NoRuleForDate`` for a
    day before the rules.
    """
    present = mixture.present
    criteria = criteria_for(present, market=market, on=on, marketed_before=marketed_before)
    sums = measure(criteria, mixture.concentrations)
    met = {c.key for c in criteria if c.is_met_by(sums[c.key])}
    decision = decide(met, criteria)
    return Classification(
        market=market,
        on=on,
        marketed_before=marketed_before,
        classes=tuple(
            Classed(hazard=one.hazard, criteria=one.criteria, mixture=mixture)
            for one in decision.classes
        ),
        elicitors=tuple(
            sorted((present[at] for at in decision.elicitors), key=lambda p: -p.pct_of_whole)
        ),
        refusals=tuple(_refusal(ban, present) for ban in decision.bans),
        sheet_on_request=bool(decision.sheets),
        unknown_acute={
            Route(route): sums[f"fact/acute-stated/{route}"] for route in decision.unknown_acute
        },
        decision=decision,
        mixture=mixture,
        criteria=criteria,
        sums=sums,
    )


def _causes(criteria: Iterable[Criterion], mixture: Mixture) -> Iterable[Cause]:
    present, concentrations = mixture.present, mixture.concentrations
    shares: dict[int, Fraction] = {}
    for criterion in criteria:
        total = criterion.sum_at(concentrations)
        for term in criterion.terms:
            pct = concentrations[term.ingredient]
            if pct >= term.cut_off_pct and pct > 0:
                share = term.weight * pct / total
                shares[term.ingredient] = max(share, shares.get(term.ingredient, Fraction(0)))
    for at, share in sorted(shares.items(), key=lambda found: -found[1]):
        yield Cause(presence=present[at], pct=concentrations[at], share_of_sum=share)


def _refusal(ban: Criterion, present: Sequence[Presence]) -> Refusal:
    presence = present[ban.terms[0].ingredient]
    harmonised = any(
        e.authority is Authority.HARMONISED and e.hazard == ban.hazard
        for e in presence.substance.entries
    )
    word = (
        "harmonised"
        if harmonised
        else "by the supplier's word; taken as listed until you know that it is not"
    )
    return Refusal(
        reason=(
            f"{presence.substance.name} is {plain(presence.pct_of_whole)} % of the candle, and at "
            f"{plain(ban.limit)} % or more of a substance classed {ban.hazard} ({word}) a mixture "
            "must not be sold to the public. A label does not mend this: lower the share or leave "
            "the material out."
        ),
        rule=ban.rule,
        presence=presence,
        status=ban.status,
    )
