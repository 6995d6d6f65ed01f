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
from typing import Literal

from pourwright.core.hazard.criteria import Criterion, Decision, criteria_for, decide
from pourwright.core.hazard.label import LabelElements, elements_of
from pourwright.core.hazard.model import Market, Substance
from pourwright.core.hazard.spans import Sheet

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
]
_ORDER: tuple[Kind, ...] = (
    "ban", "signal word", "pictogram", "class", "statement", "supplemental", "name", "identifier",
    "precaution",
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

    ``keys`` and ``criteria`` stand in one order, ``sheet`` walks them in it.
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
        self.criteria = criteria_for(
            self.substances, market=market, on=on, marketed_before=marketed_before
        )
        self.keys = tuple(criterion.key for criterion in self.criteria)
        self.sheet = Sheet(self.criteria)
        self._of_key = dict(zip(self.keys, self.criteria, strict=True))
        self._facts = frozenset(c.key for c in self.criteria if c.effect == "fact")
        self._known: dict[frozenset[str], tuple[Element, ...]] = {}

    def elements(self, met: frozenset[str]) -> tuple[Element, ...]:
        """Return the label's elements while just these criteria are met."""
        found = self._known.get(met)
        if found is None:
            decision = decide(met, self.criteria)
            label = elements_of(decision, package_ml=self.package_ml)
            found = self._known[met] = tuple(_listed(decision, label))
        return found

    def behind(self, element: Element, met: frozenset[str]) -> list[Criterion]:
        """Return those of the met criteria that would bring the element about on their own."""
        facts = met & self._facts
        return [
            self._of_key[key]
            for key in met - facts
            if any(element.key == one.key for one in self.elements(facts | {key}))
        ]

    def alone(self, key: str) -> tuple[Element, ...]:
        """Return what one criterion brings about with whatever facts speak for it."""
        needs = self._of_key[key].needs
        return self.elements(frozenset({key, needs} if needs else {key}))

    def met_at(self, concentrations: Sequence[Fraction]) -> frozenset[str]:
        """Return the criteria that are met, each compared directly."""
        return frozenset(c.key for c in self.criteria if c.met_at(concentrations))


def _listed(decision: Decision, label: LabelElements) -> Iterator[Element]:
    """Yield the label's elements, and the classes behind them."""
    for ban in decision.bans:
        name = decision.substances[ban.terms[0].ingredient].name
        yield Element(kind="ban", code=name, words=f"not for sale to the public: {name}")
    if label.signal_word:
        yield Element(kind="signal word", code=label.signal_word, words=label.signal_word)
    for code in label.pictograms:
        yield Element(kind="pictogram", code=code)
    for decided in decision.classes:
        yield Element(kind="class", code=str(decided.hazard))
    for statement in label.hazard_statements:
        yield Element(kind="statement", code=statement.code, words=statement.text)
    for statement in label.supplemental:
        yield Element(kind="supplemental", code=statement.code, words=statement.text)
    for name in label.named_substances:
        yield Element(kind="name", code=name, words=name)
    if label.identifier_needed:
        yield Element(kind="identifier", code="UFI", words="unique formula identifier")
    for statement in label.precautionary:
        yield Element(kind="precaution", code=statement.code, words=statement.text)
