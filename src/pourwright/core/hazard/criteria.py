"""
Every limit of the classification rules in one shape, and what follows from those that are met.

``criteria_for`` lists the limits that the substances at hand can reach; they depend on the
substances, the market and the day, never on a concentration. ``decide`` says which classes follow
from a set of met limits, without looking at a number: so that ``classify`` and ``headroom`` cannot
disagree.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Self

from pourwright.core.hazard.criterion import Criterion, Effect, Term
from pourwright.core.hazard.limits import all_limits, counted
from pourwright.core.hazard.model import Entry, HazardClass, Kind, Market, Presence, Substance
from pourwright.core.hazard.rulebook import rulebook
from pourwright.core.hazard.severity import Slot, counting_entries, most_severe, rank, slot

__all__ = [
    "Criteria",
    "Criterion",
    "Decided",
    "Decision",
    "Effect",
    "Term",
    "criteria_for",
    "decide",
]


class Criteria(tuple[Criterion, ...]):
    """The limits that substances can reach, and for which substances, market and day."""

    substances: tuple[Substance, ...]
    entries: tuple[Mapping[Slot, Entry], ...]
    market: Market
    on: date
    marketed_before: bool

    @classmethod
    def of(
        cls,
        limits: Iterable[Criterion],
        *,
        substances: Sequence[Substance],
        entries: Sequence[Mapping[Slot, Entry]] = (),
        market: Market,
        on: date,
        marketed_before: bool,
    ) -> Self:
        """Return limits with what they are for; ``entries`` are each substance's that count."""
        made = cls(limits)
        made.substances, made.entries = tuple(substances), tuple(entries)
        made.market, made.on, made.marketed_before = market, on, marketed_before
        return made


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """A class that the mixture has, and the met limits that gave it."""

    hazard: HazardClass
    criteria: tuple[Criterion, ...]

    @property
    def ingredients(self) -> tuple[int, ...]:
        """Positions of the ingredients that count in those limits."""
        return tuple(dict.fromkeys(t.ingredient for c in self.criteria for t in c.terms))


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """
    What follows from a set of met limits.

    ``elicitors`` are positions in ``substances``; ``elicitations`` are the limits that they reach.
    ``unknown_acute`` holds the routes for which the label must state a share of unknown toxicity.
    """

    market: Market
    on: date
    substances: tuple[Substance, ...]
    classes: tuple[Decided, ...]
    elicitations: tuple[Criterion, ...]
    bans: tuple[Criterion, ...]
    sheets: tuple[Criterion, ...]
    unknown_acute: tuple[str, ...]

    @property
    def elicitors(self) -> tuple[int, ...]:
        """Positions of the sensitisers at or above their elicitation limit."""
        return tuple(dict.fromkeys(t.ingredient for c in self.elicitations for t in c.terms))


def criteria_for(
    present: Sequence[Presence | Substance],
    *,
    market: Market,
    on: date,
    marketed_before: bool = False,
) -> Criteria:
    """
    Return every limit that these substances can reach, ingredients in the order given.

    ``on`` is the day of placing on the market; ``marketed_before`` says that the candle was on the
    market before the EU's newest classes began to apply. Raises ``NoSuchMarket`` for the US and
    ``NoRuleForDate`` for a day before the rules.
    """
    substances = [one.substance if isinstance(one, Presence) else one for one in present]
    book = rulebook(market, on, marketed_before)
    entries = [counting_entries(one, market=market, on=on) for one in substances]
    return Criteria.of(
        all_limits(counted(substances, entries), book),
        substances=substances,
        entries=entries,
        market=market,
        on=on,
        marketed_before=marketed_before,
    )


def decide(met_keys: Collection[str], criteria: Criteria) -> Decision:
    """
    Return what follows when exactly the criteria with these keys are met.

    Of the classes that exclude each other the most severe stays. Every sensitiser at its limit is a
    cause, whichever category the mixture has. A corrosive mixture also damages eyes (Annex I,
    3.3.2). Pass a set, not a list.
    """
    met = [
        c
        for c in criteria
        if c.key in met_keys
        and (not c.needs or c.needs in met_keys)
        and (not c.unless or c.unless not in met_keys)
    ]
    by_slot: dict[tuple[str, str], list[tuple[HazardClass, Criterion]]] = {}
    for criterion in met:
        if criterion.effect == "class" and criterion.hazard is not None:
            by_slot.setdefault(slot(criterion.hazard), []).append((criterion.hazard, criterion))
    classes = [_one_of(group) for group in by_slot.values()]
    return Decision(
        market=criteria.market,
        on=criteria.on,
        substances=criteria.substances,
        classes=tuple(_with_eyes(classes)),
        elicitations=tuple(c for c in met if c.effect == "elicitation"),
        bans=tuple(c for c in met if c.effect == "ban"),
        sheets=tuple(c for c in met if c.effect == "sheet"),
        unknown_acute=tuple(
            c.key.rpartition("/")[2] for c in met if c.key.startswith("fact/acute-stated/")
        ),
    )


_EACH_A_CAUSE = {Kind.RESP_SENS, Kind.SKIN_SENS, Kind.MUTA, Kind.CARC, Kind.REPR}


def _one_of(group: Sequence[tuple[HazardClass, Criterion]]) -> Decided:
    """Return the most severe class of a slot with its causes."""
    hazard = most_severe(hazard for hazard, _ in group)
    causes = [
        (one, criterion)
        for one, criterion in group
        if hazard.kind in _EACH_A_CAUSE or rank(one) == rank(hazard)
    ]
    detail = hazard.detail
    if hazard.kind is Kind.REPR:
        detail = _effect_letters(hazard, [one for one, _ in causes])
    return Decided(
        hazard=HazardClass(hazard.kind, hazard.category, hazard.route, detail),
        criteria=tuple(criterion for _, criterion in causes),
    )


def _effect_letters(hazard: HazardClass, causes: Sequence[HazardClass]) -> str:
    """
    Return the letters of H360 or H361 for a mixture; none where a cause of its category has none.

    F and D say "may damage", f and d "suspected". Source: Annex VI, 1.1.2.1.2 (from memory, high).
    """
    if any(not one.detail and rank(one) == rank(hazard) for one in causes):
        return ""
    letters = {letter for one in causes for letter in one.detail if letter in "FDfd"}
    kept = [c for c in "FDfd" if c in letters and not (c.islower() and c.upper() in letters)]
    return "".join(kept)


def _with_eyes(classes: Sequence[Decided]) -> Iterable[Decided]:
    corrosive = next((d for d in classes if d.hazard.kind is Kind.SKIN_CORR), None)
    damaging = any(d.hazard.kind is Kind.EYE_DAM for d in classes)
    for decided in classes:
        if corrosive and decided.hazard.kind is Kind.EYE_IRRIT:
            continue
        yield decided
        if decided is corrosive and not damaging:
            yield Decided(hazard=HazardClass(Kind.EYE_DAM, "1"), criteria=corrosive.criteria)
