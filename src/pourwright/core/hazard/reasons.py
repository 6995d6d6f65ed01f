"""Say in plain words why a candle has a class, for whoever reads the label's reasons."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.hazard.classify import Cause, Classed, Classification
from pourwright.core.hazard.criteria import Criterion, Decided, Decision
from pourwright.core.hazard.model import HazardClass, Kind
from pourwright.core.hazard.rulebook import Rulebook, rulebook
from pourwright.core.hazard.signs import tables
from pourwright.core.hazard.trace import plain
from pourwright.core.rules import Rule

MOST_NAMED = 4
_SUMS = {
    Kind.SKIN_CORR: "what burns skin",
    Kind.SKIN_IRRIT: "what irritates skin (what burns it counts ten times)",
    Kind.EYE_DAM: "what damages eyes",
    Kind.EYE_IRRIT: "what irritates eyes (what damages them counts ten times)",
    Kind.STOT_SE: "what irritates airways or makes drowsy",
    Kind.AQ_ACUTE: "what is toxic to water life (times its M-factor)",
    Kind.AQ_CHRONIC: "what harms water life for long (weighted by category and M-factor)",
}


def listed(words: Sequence[str]) -> str:
    """Return words as a sentence lists them, each once."""
    found = list(dict.fromkeys(words))
    return found[0] if len(found) == 1 else f"{', '.join(found[:-1])} and {found[-1]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reasons:
    """The reasons of one classification or decision; percentages only where they are known."""

    decision: Decision
    book: Rulebook
    table: Rule
    classed: Mapping[HazardClass, Classed]
    shares: Mapping[str, Fraction]
    named_from: Mapping[str, Criterion]

    @classmethod
    def of(cls, found: Classification | Decision) -> Reasons:
        """Return the reasons of what was found."""
        decision = found.decision if isinstance(found, Classification) else found
        return cls(
            decision=decision,
            book=rulebook(decision.market, decision.on),
            table=tables(decision.on)[0],
            named_from=_named_from(decision),
            classed={c.hazard: c for c in found.classes if isinstance(c, Classed)},
            shares={p.substance.name: p.pct_of_whole for p in found.elicitors}
            if isinstance(found, Classification)
            else {},
        )

    def clause(self, clause: str) -> str:
        """Return a clause with its act."""
        return self.book.clause(clause)

    def status(self, status: str) -> str:
        """Return how a text was come by, as this market has it."""
        return self.book.status(status)

    def rules_of(self, hazards: Iterable[HazardClass]) -> str:
        """Return the clauses that gave these classes."""
        rules = [c.rule for d in self._decided(hazards) for c in d.criteria]
        return "; ".join(dict.fromkeys(rules))

    def names_in(self, decided: Decided) -> list[str]:
        """Return the names of what counts towards a class; of all that may, without numbers."""
        known = self.classed.get(decided.hazard)
        if known is not None:
            return [cause.presence.substance.name for cause in known.because]
        return [self.decision.substances[at].name for at in decided.ingredients]

    def of_elicitor(self, name: str) -> str:
        """Return why a sensitiser is named that does not classify the candle."""
        return f"{self.elicitation(name)}: enough for someone who already has the allergy."

    def elicitation(self, name: str) -> str:
        """Return how much of a sensitiser there is and from when on it is named."""
        least = self.named_from[name]
        much = f"is {plain(self.shares[name])} %, and is" if name in self.shares else "is"
        return f"{name} {much} named from {plain(least.limit)} % on [{least.rule}]"

    def of_classes(self, hazards: Iterable[HazardClass]) -> str:
        """Return why the candle has these classes, a sentence each."""
        return f"{'; '.join(self._of_class(decided) for decided in self._decided(hazards))}."

    def status_of(self, hazards: Iterable[HazardClass], words: str) -> str:
        """Return how the statement's words and its classes' limits were come by."""
        limits = [c.status for d in self._decided(hazards) for c in d.criteria]
        other = [status for status in dict.fromkeys(limits) if status != words]
        return f"words: {words}; limit: {', '.join(other)}" if other else words

    def _decided(self, hazards: Iterable[HazardClass]) -> list[Decided]:
        wanted = set(hazards)
        return [decided for decided in self.decision.classes if decided.hazard in wanted]

    def _of_class(self, decided: Decided) -> str:
        known = self.classed.get(decided.hazard)
        clauses = "; ".join(dict.fromkeys(c.rule for c in decided.criteria))
        if known is None:
            return f"{listed(self.names_in(decided)[:MOST_NAMED])} [{clauses}]"
        names = _shares(known.because)
        criterion = decided.criteria[0]
        if decided.hazard.kind is Kind.ACUTE:
            limit = plain(100 / criterion.limit)
            words = f"{names} bring the estimate for the candle to {limit} or below"
        elif _alone(criterion):
            words = _each_alone(known, decided.criteria)
        else:
            total = plain(criterion.sum_at(known.mixture.concentrations))
            what = _SUMS.get(decided.hazard.kind, "what has the class")
            # A weighted sum is no percentage of anything.
            unit = "" if decided.hazard.kind in (Kind.AQ_ACUTE, Kind.AQ_CHRONIC) else " %"
            enough = f"{plain(criterion.limit)}{unit} is enough"
            words = f"{what} comes to {total}{unit}, and {enough}: {names}"
        return f"{words} [{clauses}]"


def _named_from(decision: Decision) -> dict[str, Criterion]:
    """Return the lowest elicitation limit of each sensitiser that reaches one, by name."""
    found: dict[str, Criterion] = {}
    for criterion in decision.elicitations:
        name = decision.substances[criterion.terms[0].ingredient].name
        if name not in found or criterion.limit < found[name].limit:
            found[name] = criterion
    return found


def _alone(criterion: Criterion) -> bool:
    return len(criterion.terms) == 1 and criterion.terms[0].weight == 1


def _each_alone(known: Classed, criteria: Sequence[Criterion]) -> str:
    present = known.mixture.present
    found = []
    for criterion in criteria[:MOST_NAMED]:
        presence = present[criterion.terms[0].ingredient]
        found.append(
            f"{presence.substance.name} is {plain(presence.pct_of_whole)} %, and "
            f"{plain(criterion.limit)} % is enough"
        )
    more = len(criteria) - len(found)
    return "; ".join(found) + (f"; and {more} more" if more > 0 else "")


def _shares(causes: Sequence[Cause]) -> str:
    names = [f"{c.presence.substance.name} {plain(c.pct)} %" for c in causes[:MOST_NAMED]]
    more = len(causes) - len(names)
    return listed(names + ([f"{more} more"] if more > 0 else []))
