"""Say what was compared with what: one plain line for each limit that something counts towards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pourwright.core.hazard.criteria import Criteria
from pourwright.core.hazard.criterion import Criterion, Effect
from pourwright.core.hazard.model import HazardClass, Kind, Presence
from pourwright.core.hazard.rulebook import rulebook
from pourwright.core.hazard.words import write_class
from pourwright.core.rules import rule

MOST_NAMED = 5
_SUBJECTS = {
    "class": "{}",
    "elicitation": "name as a sensitiser ({})",
    "sheet": "safety data sheet on request ({})",
    "ban": "ban on sale to the public ({})",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """An ingredient in a sum, its percent of the whole and what it adds in the limit's unit."""

    name: str
    pct: Fraction
    adds: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """
    One decision of the classification.

    ``effect`` "left" is a class that the candle does not take over; ``note`` says why. ``rule`` is
    the limit's key, ``clause`` where it stands, ``status`` how the text was come by. ``sum`` and
    ``limit`` are in the limit's unit: percent, or for acute toxicity percent per ATE.
    """

    effect: Effect | Literal["left"]
    hazard: HazardClass | None
    sum: Fraction | None = None
    rule: str = ""
    clause: str = ""
    status: str = ""
    met: bool = False
    note: str = ""
    criterion: Criterion | None = None
    present: Sequence[Presence] = field(default=(), repr=False, compare=False)

    @property
    def limit(self) -> Fraction | None:
        """What the sum was compared with."""
        return self.criterion.limit if self.criterion else None

    @property
    def parts(self) -> tuple[Part, ...]:
        """What counts in the sum; an ingredient below its cut-off does not."""
        found = []
        for term in self.criterion.terms if self.criterion else ():
            presence = self.present[term.ingredient]
            pct = presence.pct_of_whole
            if pct and pct >= term.cut_off_pct:
                found.append(Part(name=presence.substance.name, pct=pct, adds=term.weight * pct))
        return tuple(found)

    @property
    def ingredient(self) -> str:
        """The ingredient, where the limit is one for a single ingredient; else empty."""
        return self.parts[0].name if self._alone else ""

    @property
    def pct(self) -> Fraction | None:
        """That ingredient's percent of the whole."""
        return self.parts[0].pct if self._alone else None

    @property
    def estimate(self) -> Fraction | None:
        """The acute toxicity estimate of the candle on this route, in the route's unit."""
        if not (self.criterion and self.hazard and self.hazard.kind is Kind.ACUTE and self.sum):
            return None
        unknown, toxic = self._unknown_and_toxic()
        return (100 - unknown) / toxic if toxic else None

    @property
    def subject(self) -> str:
        """What was decided about."""
        if self.effect == "fact":
            route = self.rule.rpartition("/")[2]
            return f"share of unknown {route} toxicity"
        words = write_class(self.hazard) if self.hazard else ""
        return _SUBJECTS.get(self.effect, "{}").format(words)

    @property
    def text(self) -> str:
        """The decision in one line."""
        where = f" [{self.clause}]" if self.clause else ""
        if self.criterion is None or self.sum is None:
            return f"{self.subject}: {self.note}{where}"
        limit = plain(self.criterion.limit)
        estimate = self.estimate
        if estimate is not None and self.hazard:
            what = f"estimate {plain(estimate)} from {self._named()}"
            compared = f"up to {plain(100 / self.criterion.limit)}"
        elif self._alone:
            what, compared = f"{self.ingredient} {plain(self.sum)} %", f"limit {limit}"
        else:
            what, compared = f"sum {plain(self.sum)} from {self._named()}", f"limit {limit}"
        if self.criterion.strict:
            compared = f"above {limit}"
        return f"{self.subject}: {what}; {compared}: {'yes' if self.met else 'no'}{where}"

    @property
    def _alone(self) -> bool:
        terms = self.criterion.terms if self.criterion else ()
        return len(terms) == 1 and terms[0].weight == 1 and bool(self.parts)

    def _unknown_and_toxic(self) -> tuple[Fraction, Fraction]:
        """Return the percent of unknown toxicity that was corrected for, and sum of c / ATE."""
        unknown = toxic = Fraction(0)
        if self.criterion is None or self.hazard is None:
            return unknown, toxic
        for term in self.criterion.terms:
            presence = self.present[term.ingredient]
            pct = presence.pct_of_whole
            if pct < term.cut_off_pct:
                continue
            corrected = self.criterion.needs and term.weight == self.criterion.limit / 100
            if corrected and self.hazard.route in presence.substance.unknown_acute:
                unknown += pct
            else:
                toxic += term.weight * pct
        return unknown, toxic

    def _named(self) -> str:
        parts = self.parts
        most = sorted(parts, key=lambda part: -part.adds)[:MOST_NAMED]
        names = [f"{part.name} {plain(part.pct)} %" for part in most]
        more = len(parts) - len(most)
        return ", ".join(names + ([f"{more} more"] if more else []))


@lru_cache(maxsize=4096)
def plain(value: Fraction) -> str:
    """
    Return a number as people write it, with "≈" where its eight digits are not all of it.

    >>> plain(Fraction(1, 8)), plain(Fraction(1, 3))
    ('0.125', '≈ 0.33333333')
    """
    if value.denominator == 1:
        return str(value.numerator)
    shown = f"{float(value):.8g}"
    if "e" in shown:
        shown = f"{float(value):.14f}".rstrip("0").rstrip(".")
    return shown if Fraction(shown) == value else f"≈ {shown}"


def step_of(criterion: Criterion, total: Fraction, present: Sequence[Presence]) -> Step:
    """Return what one limit came to."""
    return Step(
        effect=criterion.effect,
        hazard=criterion.hazard,
        sum=total,
        rule=criterion.key,
        clause=criterion.rule,
        status=criterion.status,
        met=criterion.is_met_by(total),
        criterion=criterion,
        present=present,
    )


def steps_for_what_stays_behind(criteria: Criteria) -> Iterator[Step]:
    """Yield a line for each class of an ingredient that the candle does not take over, and why."""
    on = criteria.on
    book = rulebook(criteria.market, on, criteria.marketed_before)
    known = {Kind(row["kind"]): row for row in rule("hazard/solid_candle", on=on)["left"]}
    names: dict[HazardClass, list[str]] = {}
    for one, entries in zip(criteria.substances, criteria.entries, strict=True):
        for entry in entries.values():
            if entry.hazard.kind in known or not book.covers(entry.hazard):
                names.setdefault(entry.hazard, []).append(one.name)
    for hazard, who in names.items():
        row = known.get(hazard.kind, {})
        more = f" and {len(who) - MOST_NAMED} more" if len(who) > MOST_NAMED else ""
        why = row.get("why", f"there is no limit for it in {book.about['place']} on {on}")
        yield Step(
            effect="left",
            hazard=hazard,
            note=f"{', '.join(who[:MOST_NAMED])}{more}: {why}",
            clause=book.clause(row["clause"]) if row else "",
            status=row.get("status", ""),
        )
