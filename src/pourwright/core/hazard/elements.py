"""
The elements of a label as single things that can be compared, appear and disappear.

``Judge`` answers which elements stand on the label for a set of met criteria, and remembers the
answer: a walk meets the same sets again and again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pourwright.core.hazard.criteria import (
    Criteria,
    Criterion,
    Decision,
    Term,
    criteria_for,
    decide,
)
from pourwright.core.hazard.label import LabelElements, elements_of
from pourwright.core.hazard.model import Market, Substance
from pourwright.core.hazard.rulebook import rulebook
from pourwright.core.hazard.spans import Sheet
from pourwright.core.rules import rule

Kind = Literal[
    "ban",
    "signal word",
    "pictogram",
    "class",
    "statement",
    "supplemental",
    "name",
    "identifier",
    "precaution",
    "package",
]
_ORDER: tuple[Kind, ...] = (
    "ban", "signal word", "pictogram", "class", "statement", "supplemental", "name", "identifier",
    "precaution", "package",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """
    One element: its kind, its code ("H317", "GHS07", a name) and its words on the label.

    Elements are the same where kind and code are.
    """

    kind: Kind
    code: str
    words: str = ""

    @property
    def key(self) -> tuple[str, str]:
        return self.kind, self.code

    @property
    def rank(self) -> tuple[int, str]:
        return _ORDER.index(self.kind), self.code


class Judge:
    """
    What the label says for any set of met criteria, for given substances, market and day.

    Besides the rules' own criteria there is one for each ingredient and cut-off of a sum whose
    ingredients the label names ("counts/..."): only what counts in a sum is named. ``keys`` and
    ``criteria`` stand in one order, ``sheet`` walks them in it.
    """

    def __init__(
        self,
        substances: Sequence[Substance],
        *,
        market: Market,
        on: date,
        package_ml: Fraction | None = None,
        marketed_before: bool = False,
    ) -> None:
        self.substances = tuple(substances)
        self.market, self.on, self.package_ml = market, on, package_ml
        self._rules = criteria_for(
            self.substances, market=market, on=on, marketed_before=marketed_before
        )
        named = rule("hazard/names", on=on)["kinds"]
        self._summed = {
            criterion.key: criterion
            for criterion in self._rules
            if criterion.effect == "class"
            and len(criterion.terms) > 1
            and criterion.hazard is not None
            and criterion.hazard.kind.value in named
        }
        self._names_elicitors = rulebook(market, on, marketed_before).about[
            "name_other_sensitisers"
        ]
        self._named_kinds = frozenset(named)
        counting = {
            _counts(term): _counting(term) for c in self._summed.values() for term in c.terms
        }
        self.criteria = (*self._rules, *counting.values())
        self.keys = tuple(criterion.key for criterion in self.criteria)
        self.sheet = Sheet(self.criteria)
        self._of_key = dict(zip(self.keys, self.criteria, strict=True))
        self._order = {key: place for place, key in enumerate(self.keys)}
        self._counting = frozenset(counting)
        self._decided: dict[frozenset[str], Decision] = {}
        self._without_names: dict[tuple[object, ...], tuple[Element, ...]] = {}
        self._known: dict[frozenset[str], tuple[Element, ...]] = {}
        self._brought: dict[str, frozenset[tuple[str, str]]] = dict.fromkeys(counting, frozenset())
        self._brought_with: dict[frozenset[str], frozenset[tuple[str, str]]] = {}

    def elements(self, met: frozenset[str]) -> tuple[Element, ...]:
        """Return the label's elements while just these criteria are met."""
        found = self._known.get(met)
        if found is None:
            decision = self._decision(met - self._counting)
            names = self._names(decision, met)
            found = self._known[met] = (*self._but_names(decision), *names)
        return found

    def behind(self, element: Element, met: frozenset[str]) -> list[Criterion]:
        """
        Return those of the met criteria that would bring the element about on their own.

        On its own a criterion still has the facts that speak for or against it.
        """
        wanted = element.key
        keys = [key for key in met if wanted in self._brings(key, met)]
        return [self._of_key[key] for key in sorted(keys, key=self._order.__getitem__)]

    def _brings(self, key: str, met: frozenset[str]) -> frozenset[tuple[str, str]]:
        """Return the keys of the elements that a met criterion brings about on its own."""
        found = self._brought.get(key)
        if found is not None:
            return found
        facts = self._facts_of(self._of_key[key])
        if not facts:
            found = frozenset(element.key for element in self.elements(frozenset({key})))
            self._brought[key] = found
            return found
        with_facts = frozenset({key, *(facts & met)})
        found = self._brought_with.get(with_facts)
        if found is None:
            found = frozenset(element.key for element in self.elements(with_facts))
            self._brought_with[with_facts] = found
        return found

    def alone(self, key: str) -> tuple[Element, ...]:
        """Return what one criterion brings about with whatever facts speak for it."""
        criterion = self._of_key[key]
        return self.elements(frozenset({key, *self._facts_of(criterion)} - {criterion.unless}))

    def met_at(self, concentrations: Sequence[Fraction]) -> frozenset[str]:
        """Return the criteria that are met, each compared directly."""
        return frozenset(c.key for c in self.criteria if c.met_at(concentrations))

    def _facts_of(self, criterion: Criterion) -> set[str]:
        facts = {fact for fact in (criterion.needs, criterion.unless) if fact}
        if criterion.key in self._summed:
            facts.update(_counts(term) for term in criterion.terms)
        return facts

    def _decision(self, rules: frozenset[str]) -> Decision:
        found = self._decided.get(rules)
        if found is None:
            # What is not met decides nothing; leaving it out saves looking at it.
            few = Criteria(self._of_key[key] for key in sorted(rules, key=self._order.__getitem__))
            few.__dict__.update(vars(self._rules))
            found = self._decided[rules] = decide(rules, few)
        return found

    def _but_names(self, decision: Decision) -> tuple[Element, ...]:
        """Return all elements but the names; they follow from the classes and a few facts."""
        key = (
            tuple(decided.hazard for decided in decision.classes),
            tuple(ban.key for ban in decision.bans),
            decision.unknown_acute,
            bool(decision.elicitors),
        )
        found = self._without_names.get(key)
        if found is None:
            label = elements_of(decision, package_ml=self.package_ml)
            found = tuple(one for one in elements_on(decision, label) if one.kind != "name")
            self._without_names[key] = found
        return found

    def _names(self, decision: Decision, met: frozenset[str]) -> list[Element]:
        """
        Return the names: of what counts in a class whose causes are named, and of elicitors.

        ``label`` does the same with reasons, which take too long for every stretch of a walk.
        """
        named = {
            term.ingredient
            for decided in decision.classes
            if decided.hazard.kind.value in self._named_kinds
            for criterion in decided.criteria
            for term in criterion.terms
            if criterion.key not in self._summed or _counts(term) in met
        }
        if self._names_elicitors:
            named.update(decision.elicitors)
        names = sorted({self.substances[place].name for place in named}, key=str.casefold)
        return [Element(kind="name", code=name, words=name) for name in names]


@lru_cache(maxsize=4096)
def _counts(term: Term) -> str:
    return f"counts/{term.ingredient}/{term.cut_off_pct}"


def _counting(term: Term) -> Criterion:
    """Return the criterion that an ingredient is there at or above its cut-off."""
    return Criterion(
        key=_counts(term),
        effect="fact",
        hazard=None,
        terms=(Term(term.ingredient, Fraction(1)),),
        limit=term.cut_off_pct,
        rule="",
        strict=term.cut_off_pct == 0,
    )


def elements_on(decision: Decision, label: LabelElements) -> tuple[Element, ...]:
    """Return the label's elements, and the classes behind them, as single things."""
    return tuple(_listed(decision, label))


def _listed(decision: Decision, label: LabelElements) -> Iterator[Element]:
    for ban in decision.bans:
        name = decision.substances[ban.terms[0].ingredient].name
        yield Element(kind="ban", code=name, words=f"not for sale to the public: {name}")
    if label.signal_word:
        yield Element(kind="signal word", code=label.signal_word, words=label.signal_word)
    for code in label.pictograms:
        yield Element(kind="pictogram", code=str(code))
    for decided in decision.classes:
        yield Element(kind="class", code=str(decided.hazard))
    for statement in label.hazard_statements:
        yield Element(kind="statement", code=statement.code, words=statement.text)
    for statement in label.supplemental:
        # The names in it change from place to place, and are elements of their own.
        words = statement.text.rpartition(". ")[2] if statement.code == "EUH208" else statement.text
        yield Element(kind="supplemental", code=statement.code, words=words)
    for name in label.named_substances:
        yield Element(kind="name", code=str(name), words=str(name))
    if label.identifier_needed:
        yield Element(kind="identifier", code="UFI", words="unique formula identifier")
    for statement in label.precautionary:
        yield Element(kind="precaution", code=statement.code, words=statement.text)
    if label.tactile_warning:
        yield Element(kind="package", code="tactile", words="tactile warning of danger")
    if label.child_resistant:
        yield Element(kind="package", code="child-resistant", words="child-resistant fastening")
