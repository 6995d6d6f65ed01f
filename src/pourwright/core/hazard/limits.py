"""
Build the criteria of each chapter of the rules for the substances at hand.

Each function yields the criteria of one part of CLP, Annex I (or its counterpart), in the shape of
``Criterion``; the numbers come from the rule tables. A specific limit L of an ingredient replaces
the generic limit G of its class: in a sum the ingredient then weighs G / L, so that reaching G is
the same as sum of c / L reaching 1; a specific limit below the cut-off replaces that too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from pourwright.core.hazard.criterion import Criterion, Term
from pourwright.core.hazard.model import Authority, Entry, HazardClass, Kind, Route, Substance
from pourwright.core.hazard.rulebook import Rulebook, SingleLimit
from pourwright.core.hazard.severity import Slot

_ONE = Fraction(1)


@dataclass(frozen=True, slots=True)
class Counted:
    """
    A substance with its position and one class that counts.

    ``harmonised`` says on whose word. ``hazard`` is None for one that is here for its acute
    toxicity estimate alone, or for having none.
    """

    at: int
    substance: Substance
    hazard: HazardClass | None
    harmonised: bool = False


By = Mapping[Slot, Sequence[Counted]]


def counted(substances: Sequence[Substance], entries: Sequence[Mapping[Slot, Entry]]) -> By:
    """Return, by slot, the substances that have a class there, of the entries that count."""
    found: dict[Slot, list[Counted]] = {}
    for at, (one, own) in enumerate(zip(substances, entries, strict=True)):
        for key, entry in own.items():
            harmonised = entry.authority is Authority.HARMONISED
            found.setdefault(key, []).append(Counted(at, one, entry.hazard, harmonised))
        if not one.ate and not one.unknown_acute:
            continue
        for route in dict.fromkeys((*one.ate, *one.unknown_acute)):
            key = (Kind.ACUTE.value, route.value)
            if key not in own:
                found.setdefault(key, []).append(Counted(at, one, None))
    return found


def all_limits(by: By, book: Rulebook) -> Iterator[Criterion]:
    """Yield every criterion, in the order of Annex I."""
    for route in Route:
        yield from acute_limits(by, book, route)
    yield from skin_limits(by, book)
    yield from eye_limits(by, book)
    yield from sensitiser_limits(by, book)
    yield from single_limits(by, book)
    yield from stot_single_3_limits(by, book)
    yield from aquatic_limits(by, book)


def specific_limit(
    substance: Substance, kind: Kind, *categories: str, any_category: bool = False
) -> Fraction | None:
    """Return the substance's own limit (percent) for a class, whatever the effect it names."""
    for hazard, pct in substance.specific_limits.items():
        if hazard.kind is kind and (any_category or hazard.category in categories):
            return pct
    return None


# Acute toxicity


def acute_limits(by: By, book: Rulebook, route: Route) -> Iterator[Criterion]:
    """
    Yield the categories of one route: sum of c / ATE >= 100 / L.

    Where relevant ingredients of unknown toxicity come to more than the table's share, 100 becomes
    100 less that share: sum of c / ATE + sum of unknown / L >= 100 / L. Both forms are yielded, and
    the fact that decides between them. Source: Annex I, 3.1.3.6.
    """
    rule, limits = book.acute, book.acute_limits[route]
    parts = by.get((Kind.ACUTE.value, route.value), ())
    toxic = [term for part in parts if (term := _acute_term(part, book, route))]
    unknown_from = Fraction(rule["unknown_stated_from_pct"])
    unknown = [
        Term(part.at, _ONE, unknown_from)
        for part in parts
        if route in part.substance.unknown_acute and not any(t.ingredient == part.at for t in toxic)
    ]
    fact = f"fact/acute-unknown/{route.value}" if unknown else ""
    if unknown:
        yield from _unknown_facts(unknown, book, route, fact)
    for category, limit in limits.items() if toxic else ():
        hazard = HazardClass(Kind.ACUTE, category, route)
        key = f"class/acute/{route.value}/{category}"
        yield Criterion(
            key=key,
            effect="class",
            hazard=hazard,
            terms=tuple(toxic),
            limit=100 / limit,
            rule=book.clause(rule["clause"]),
            status=book.status(rule.status),
            unless=fact,
        )
        if unknown:
            shares = tuple(Term(t.ingredient, 1 / limit, t.cut_off_pct) for t in unknown)
            yield Criterion(
                key=f"{key}/corrected",
                effect="class",
                hazard=hazard,
                terms=(*toxic, *shares),
                limit=100 / limit,
                rule=book.clause(rule["corrected_clause"]),
                status=book.status(rule.status),
                needs=fact,
            )


def _unknown_facts(
    unknown: Sequence[Term], book: Rulebook, route: Route, fact: str
) -> Iterator[Criterion]:
    rule = book.acute
    yield Criterion(
        key=fact,
        effect="fact",
        hazard=None,
        terms=tuple(unknown),
        limit=Fraction(rule["unknown_corrects_above_pct"]),
        rule=book.clause(rule["corrected_clause"]),
        status=book.status(rule.status),
        strict=True,
    )
    yield Criterion(
        key=f"fact/acute-stated/{route.value}",
        effect="fact",
        hazard=None,
        terms=tuple(unknown),
        limit=Fraction(rule["unknown_stated_from_pct"]),
        rule=book.clause(rule["statement_clause"]),
        status=book.status(rule["statement_status"]),
    )


def _acute_term(part: Counted, book: Rulebook, route: Route) -> Term | None:
    """Return weight 1 / ATE and the cut-off; None where the ingredient is not toxic this way."""
    limits = book.acute_limits[route]
    ate = part.substance.ate.get(route)
    category = part.hazard.category if part.hazard and part.hazard.category in limits else ""
    if ate is not None:
        by_ate = next((c for c, limit in limits.items() if ate <= limit), "")
        # A class that is named stays, even if an estimate is milder.
        if not category or (by_ate and by_ate <= category):
            category, point = by_ate, ate
        else:
            point = book.acute_points[route][category]
    elif category:
        point = book.acute_points[route][category]
    if not category:
        return None
    return Term(part.at, 1 / point, book.acute_cut_offs[category])


# Skin and eyes


def skin_limits(by: By, book: Rulebook) -> Iterator[Criterion]:
    """Yield Skin Corr 1 and Skin Irrit 2. Source: Annex I, Tables 3.2.3 and 3.2.4."""
    parts = by.get(("skin", ""), ())
    severe = [p for p in parts if _is(p, Kind.SKIN_CORR)]
    irritant = [p for p in parts if _is(p, Kind.SKIN_IRRIT, "2")]
    yield from _two_step_limits("skin", severe, irritant, book)


def eye_limits(by: By, book: Rulebook) -> Iterator[Criterion]:
    """
    Yield Eye Dam 1 and Eye Irrit 2. A corrosive ingredient counts once, as damaging to eyes.

    Source: Annex I, Tables 3.3.3 and 3.3.4.
    """
    corrosive = [p for p in by.get(("skin", ""), ()) if _is(p, Kind.SKIN_CORR)]
    there = {p.at for p in corrosive}
    others = [p for p in by.get(("eye", ""), ()) if p.at not in there]
    severe = corrosive + [p for p in others if _is(p, Kind.EYE_DAM)]
    irritant = [p for p in others if _is(p, Kind.EYE_IRRIT, "2")]
    yield from _two_step_limits("eye", severe, irritant, book)


_TWO_STEPS = {
    "skin": (HazardClass(Kind.SKIN_CORR, "1"), HazardClass(Kind.SKIN_IRRIT, "2")),
    "eye": (HazardClass(Kind.EYE_DAM, "1"), HazardClass(Kind.EYE_IRRIT, "2")),
}


def _two_step_limits(
    organ: str, severe: Sequence[Counted], irritant: Sequence[Counted], book: Rulebook
) -> Iterator[Criterion]:
    """
    Yield the severe class and the irritant class of skin or eyes.

    One sum gives the irritant class: ten times the severe ingredients and the irritant ones. It
    reaches 10 % wherever one of the table's other two rows is reached.
    """
    table: Mapping[str, Any] = book.skin_and_eye[organ]
    worse, milder = _TWO_STEPS[organ]
    cut_off = Fraction(book.skin_and_eye["cut_off_pct"])
    severe_at, irritant_at = Fraction(table["severe_pct"]), Fraction(table["irritant_pct"])
    by_severe = irritant_at / Fraction(table["severe_counts"])
    sums = {
        worse: (
            severe_at,
            [_sum_term(p, worse.kind, severe_at, severe_at, cut_off) for p in _additive(severe)],
        ),
        milder: (
            irritant_at,
            [_sum_term(p, milder.kind, by_severe, irritant_at, cut_off) for p in _additive(severe)]
            + [
                _sum_term(p, milder.kind, irritant_at, irritant_at, cut_off)
                for p in _additive(irritant)
            ],
        ),
    }
    for hazard, (limit, terms) in sums.items():
        if terms:
            yield Criterion(
                key=f"class/{organ}/{hazard.kind.value}/sum",
                effect="class",
                hazard=hazard,
                terms=tuple(terms),
                limit=limit,
                rule=book.clause(table["clause"]),
                status=book.status(book.skin_and_eye.status),
            )
    alone = (
        (worse, severe, "non_additive_severe_pct"),
        (milder, irritant, "non_additive_irritant_pct"),
    )
    for hazard, group, limit_key in alone:
        for part in group:
            if part.substance.non_additive:
                own = specific_limit(part.substance, hazard.kind, *_written_as(hazard.kind))
                yield _alone(
                    part,
                    hazard,
                    own or Fraction(table[limit_key]),
                    book.clause(table["non_additive_clause"]),
                    book.status(table["non_additive_status"]),
                )


def _additive(parts: Iterable[Counted]) -> Iterator[Counted]:
    return (part for part in parts if not part.substance.non_additive)


def _sum_term(
    part: Counted, kind: Kind, generic: Fraction, limit: Fraction, cut_off: Fraction
) -> Term:
    """Return a term that alone reaches ``limit`` at the specific limit, else at ``generic``."""
    own = specific_limit(part.substance, kind, *_written_as(kind))
    if own is None or own == 0:
        return Term(part.at, limit / generic, cut_off)
    return Term(part.at, limit / own, min(cut_off, own))


def _written_as(kind: Kind) -> tuple[str, ...]:
    return ("1", "1A", "1B", "1C") if kind in (Kind.SKIN_CORR, Kind.EYE_DAM) else ("2",)


# Sensitisers


def sensitiser_limits(by: By, book: Rulebook) -> Iterator[Criterion]:
    """
    Yield the class limit and the elicitation limit of each sensitiser, each on its own.

    Source: Annex I, Tables 3.4.5 and 3.4.6 with Note 1.
    """
    for kind in (Kind.RESP_SENS, Kind.SKIN_SENS):
        for part in by.get((kind.value, ""), ()):
            if part.hazard is not None:
                yield from _sensitiser(part, part.hazard, book)


def _sensitiser(part: Counted, hazard: HazardClass, book: Rulebook) -> Iterator[Criterion]:
    rule = book.sensitisation
    own = specific_limit(part.substance, hazard.kind, hazard.category) or specific_limit(
        part.substance, hazard.kind, any_category=True
    )
    at = own or book.sensitiser_limits[hazard.category]
    yield _alone(part, hazard, at, book.clause(rule["clause"]), book.status(rule.status))
    named_at = book.elicitation_limits[hazard.category]
    clause, status = rule["elicitation_clause"], rule.status
    if own and own < Fraction(rule["specific_below_pct"]):
        named_at = own * Fraction(rule["specific_share"])
        clause, status = rule["specific_clause"], rule["specific_status"]
    yield _alone(
        part, hazard, named_at, book.clause(clause), book.status(status), effect="elicitation"
    )


# One ingredient on its own


def single_limits(by: By, book: Rulebook) -> Iterator[Criterion]:
    """Yield CMR, STOT 1 and 2, and the EU's newest classes; bans on sale; sheets on request."""
    for kind in book.singles:
        for part in by.get((kind.value, ""), ()):
            hazard = part.hazard
            if hazard is None:
                continue
            for limit in _fitting(book.singles, hazard):
                yield from _single(part, hazard, limit, book)
            for ban in _fitting(book.bans, hazard):
                at = specific_limit(part.substance, kind, hazard.category) or ban.at_pct
                yield _alone(part, hazard, at, ban.clause, ban.status, effect="ban")


def _fitting(
    limits: Mapping[Kind, tuple[SingleLimit, ...]], hazard: HazardClass
) -> Iterator[SingleLimit]:
    return (one for one in limits.get(hazard.kind, ()) if hazard.category in one.categories)


def _single(
    part: Counted, hazard: HazardClass, limit: SingleLimit, book: Rulebook
) -> Iterator[Criterion]:
    given = HazardClass(hazard.kind, limit.gives, detail=hazard.detail) if limit.gives else hazard
    at = specific_limit(part.substance, given.kind, given.category) or limit.at_pct
    clause, status = book.clause(limit.clause), book.status(limit.status)
    yield _alone(part, given, at, clause, status)
    if limit.sheet_pct is not None:
        yield _alone(part, hazard, limit.sheet_pct, clause, status, effect="sheet")


def _alone(
    part: Counted,
    hazard: HazardClass,
    at_pct: Fraction,
    clause: str,
    status: str,
    *,
    effect: Any = "class",
) -> Criterion:
    return Criterion(
        key=f"{effect}/{hazard.kind}/{hazard.category}/{part.substance.key}",
        effect=effect,
        hazard=hazard,
        terms=(Term(part.at, _ONE),),
        limit=at_pct,
        rule=clause,
        status=status,
    )


def stot_single_3_limits(by: By, book: Rulebook) -> Iterator[Criterion]:
    """Yield STOT SE 3, irritation and drowsiness summed apart. Source: Annex I, 3.8.3.4.5."""
    rule = book.stot_single_3
    limit, cut_off = Fraction(rule["limit_pct"]), Fraction(rule["cut_off_pct"])
    for detail in ("H335", "H336"):
        terms = []
        for part in by.get((Kind.STOT_SE.value, detail), ()):
            own = specific_limit(part.substance, Kind.STOT_SE, "3")
            weight = limit / own if own else _ONE
            terms.append(Term(part.at, weight, min(cut_off, own) if own else cut_off))
        if terms:
            yield Criterion(
                key=f"class/stot-se-3/{detail}",
                effect="class",
                hazard=HazardClass(Kind.STOT_SE, "3", detail=detail),
                terms=tuple(terms),
                limit=limit,
                rule=book.clause(rule["clause"]),
                status=book.status(rule.status),
            )


# Water


def aquatic_limits(by: By, book: Rulebook) -> Iterator[Criterion]:
    """
    Yield the aquatic categories: sums in which category 1 counts M times, and from 0.1 / M %.

    The last chronic category counts plain percentages. Source: Annex I, 4.1.3, Tables 4.1.1, 4.1.2.
    """
    rule = book.aquatic
    without_m = rule["without_m"]
    cut_offs = (Fraction(rule["cut_off_category_1_pct"]), Fraction(rule["cut_off_pct"]))
    for kind, name, weights in (
        (Kind.AQ_ACUTE, "acute", book.aquatic_acute),
        (Kind.AQ_CHRONIC, "chronic", rule["chronic"]),
    ):
        there = [(p, p.hazard) for p in by.get((kind.value, ""), ()) if p.hazard]
        for category, by_ingredient in weights.items():
            plain = category in without_m.get(name, ())
            counts = {key: Fraction(value) for key, value in by_ingredient.items()}
            terms = [
                _aquatic_term(part, hazard, counts[hazard.category], plain, cut_offs)
                for part, hazard in there
                if hazard.category in counts
            ]
            if terms:
                yield Criterion(
                    key=f"class/aquatic/{name}/{category}",
                    effect="class",
                    hazard=HazardClass(kind, category),
                    terms=tuple(terms),
                    limit=Fraction(rule["limit_pct"]),
                    rule=book.clause(rule[f"{name}_clause"]),
                    status=book.status(rule.status),
                )


def _aquatic_term(
    part: Counted,
    hazard: HazardClass,
    weight: Fraction,
    plain: bool,
    cut_offs: tuple[Fraction, Fraction],
) -> Term:
    first, others = cut_offs
    if hazard.category != "1":
        return Term(part.at, weight, others)
    m = m_factor(part.substance, hazard.kind)
    if m == 1:
        return Term(part.at, weight, first)
    return Term(part.at, weight if plain else weight * m, first / m)


def m_factor(substance: Substance, kind: Kind) -> Fraction:
    """Return the M-factor of the kind, acute and chronic apart; 1 where none is on record."""
    found = substance.m_acute if kind is Kind.AQ_ACUTE else substance.m_chronic
    return found if found else _ONE


def _is(part: Counted, kind: Kind, category: str | None = None) -> bool:
    found = part.hazard
    return found is not None and found.kind is kind and category in (None, found.category)
