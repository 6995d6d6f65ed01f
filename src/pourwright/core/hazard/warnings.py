"""What a person must know beside the classes: open ends, missing M-factors, data from memory."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from pourwright.core.hazard.criteria import Criteria, Criterion, Decision
from pourwright.core.hazard.model import (
    Authority,
    Entry,
    Kind,
    Mixture,
    Presence,
)
from pourwright.core.hazard.rulebook import rulebook
from pourwright.core.hazard.trace import plain
from pourwright.core.hazard.words import write_class

_NOT_ADDITIVE_BY_NAME = re.compile(r"aldehyd|carbaldehyd|phenol", re.IGNORECASE)
_SKIN_OR_EYE = {Kind.SKIN_CORR, Kind.SKIN_IRRIT, Kind.EYE_DAM, Kind.EYE_IRRIT}


def warnings_of(
    mixture: Mixture,
    *,
    criteria: Criteria,
    sums: Mapping[str, Fraction],
    decision: Decision,
) -> tuple[str, ...]:
    """Return the warnings, each one plain sentence, the weightiest first."""
    present = mixture.present
    entries = [tuple(found.values()) for found in criteria.entries]
    return (
        *_open_ends(criteria, sums, present),
        *_missing_m(present, entries),
        *_not_additive(present, entries),
        *_minimum_classes(present, entries),
        *_unknown(mixture),
        *_without_class(present),
        *_by_memory(present, entries),
        *_rules_by_memory(criteria, decision),
        *(f"{p.substance.name}: {p.substance.note}." for p in present if p.substance.note),
        *_other_list(entries, criteria),
    )


def _open_ends(
    criteria: Criteria,
    sums: Mapping[str, Fraction],
    present: Sequence[Presence],
) -> Iterator[str]:
    """Yield a line for each reached limit that would not be reached just below an open end."""
    if not any(p.open_above for p in present):
        return
    for criterion in criteria:
        if criterion.effect == "fact" or not criterion.is_met_by(sums[criterion.key]):
            continue
        names = _resting_on(criterion, sums[criterion.key], present)
        if names:
            what = write_class(criterion.hazard) if criterion.hazard else ""
            yield (
                f"{what}: the limit of {plain(criterion.limit)} is reached only exactly at the "
                f'open end ("<") of the range that the sheet gives for {", ".join(names)}. '
                "The upper end counts; ask the supplier for the exact share."
            )


def _resting_on(criterion: Criterion, total: Fraction, present: Sequence[Presence]) -> list[str]:
    """Return whose open ends carry the sum over its limit, by themselves or at their cut-off."""
    names, at_cut_off = [], Fraction(0)
    for term in criterion.terms:
        presence = present[term.ingredient]
        pct = presence.pct_of_whole
        if presence.open_above and pct and pct >= term.cut_off_pct:
            names.append(presence.substance.name)
            if pct == term.cut_off_pct:
                at_cut_off += term.weight * pct
    rests = total == criterion.limit or total - at_cut_off < criterion.limit
    return names if rests else []


def _missing_m(present: Sequence[Presence], entries: Sequence[Sequence[Entry]]) -> Iterator[str]:
    for kind, word in ((Kind.AQ_ACUTE, "acute"), (Kind.AQ_CHRONIC, "chronic")):
        names = [
            p.substance.name
            for p, found in zip(present, entries, strict=True)
            if any(e.hazard.kind is kind and e.hazard.category == "1" for e in found)
            and not (p.substance.m_acute if kind is Kind.AQ_ACUTE else p.substance.m_chronic)
        ]
        if names:
            yield (
                f"No {word} M-factor is on record for {', '.join(names)}; 1 was taken. The "
                f"supplier must state it with {kind} 1: take it from section 3 of the sheet "
                "(Article 10(4))."
            )


def _not_additive(present: Sequence[Presence], entries: Sequence[Sequence[Entry]]) -> Iterator[str]:
    names = [
        p.substance.name
        for p, found in zip(present, entries, strict=True)
        if not p.substance.non_additive
        and (p.substance.family or _NOT_ADDITIVE_BY_NAME.search(p.substance.name))
        and any(e.hazard.kind in _SKIN_OR_EYE for e in found)
    ]
    if names:
        yield (
            f"{', '.join(names)}: aldehydes and phenols may irritate skin or eyes more than the "
            "sums say. They were added up; where the sheet says that the sums do not hold, mark "
            "them as non-additive, and lower limits apply (Annex I, Tables 3.2.4 and 3.3.4; from "
            "memory, high)."
        )


def _minimum_classes(
    present: Sequence[Presence], entries: Sequence[Sequence[Entry]]
) -> Iterator[str]:
    found = [
        f"{p.substance.name} ({write_class(e.hazard, minimum=True)})"
        for p, rows in zip(present, entries, strict=True)
        for e in rows
        if e.minimum and (e.hazard.route is None or e.hazard.route not in p.substance.ate)
    ]
    if found:
        yield (
            f"A harmonised class marked * is the least that applies: {', '.join(found)}. Your "
            "sheet may give a more severe category or an estimate (ATE); enter it."
        )


def _unknown(mixture: Mixture) -> Iterator[str]:
    water = sum(
        (p.pct_of_whole for p in mixture.present if p.substance.unknown_aquatic), Fraction(0)
    )
    if water:
        yield (
            f"Contains {plain(water)} % of components with unknown hazards to the aquatic "
            "environment (to be said in the safety data sheet; Annex I, 4.1.3.6; from memory, "
            "high)."
        )
    if mixture.undisclosed_pct:
        yield (
            f"{plain(mixture.undisclosed_pct)} % of the candle are parts of materials that their "
            "sheets do not list; they are taken as without hazard."
        )


def _without_class(present: Sequence[Presence]) -> Iterator[str]:
    names = [
        p.substance.name
        for p in present
        if not (
            p.substance.entries
            or p.substance.ate
            or p.substance.unknown_acute
            or p.substance.unknown_aquatic
        )
    ]
    if names:
        yield f"No class is given for {', '.join(names)}; taken as without hazard."


def _by_memory(present: Sequence[Presence], entries: Sequence[Sequence[Entry]]) -> Iterator[str]:
    names = [
        f"{p.substance.name} ({next(e.status for e in found if 'memory' in e.status)})"
        for p, found in zip(present, entries, strict=True)
        if any("memory" in e.status for e in found)
    ]
    if names:
        yield (
            f"The classes of {', '.join(names)} were written down from memory of usual sheets: "
            "replace them by your supplier's sheet."
        )


def _rules_by_memory(criteria: Criteria, decision: Decision) -> Iterator[str]:
    book = rulebook(criteria.market, criteria.on, criteria.marketed_before)
    note = book.about["status_note"]
    if note:
        yield f"The limits were read {note}."
    yield from book.about.values.get("notes", ())
    rules = [
        f"{write_class(d.hazard)} ({c.rule})"
        for d in decision.classes
        for c in d.criteria
        if "memory" in c.status and not (note and c.status.endswith(note))
    ]
    if rules:
        which = ", ".join(dict.fromkeys(rules))
        yield f"Limits that were written down from memory decided: {which}. Check them."


def _other_list(entries: Sequence[Sequence[Entry]], criteria: Criteria) -> Iterator[str]:
    note = rulebook(criteria.market, criteria.on, criteria.marketed_before).about["list_note"]
    if note and any(e.authority is Authority.HARMONISED for rows in entries for e in rows):
        yield f"Harmonised classes: {note}."
