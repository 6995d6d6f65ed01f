"""
Common fragrance ingredients with their classes, CAS numbers, and how a sheet's word joins them.

Order of authority for one substance in one class: the harmonised entry, then the supplier's sheet,
then nothing known. Source: CLP Article 10 and Annex I, 1.1.2.1; an Annex VI row is a minimum.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction
from functools import cache
from types import MappingProxyType
from typing import Any

from pourwright.core.amounts.reading import shorten
from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import (
    Authority,
    Entry,
    HazardClass,
    Market,
    Route,
    Substance,
)
from pourwright.core.hazard.words import parse_class
from pourwright.core.rules import Rule, rule

ClassGiven = str | HazardClass | tuple[HazardClass, bool]
_TABLE = "hazard/substances"
_CAS = re.compile(r"([0-9]{2,7})-?([0-9]{2})-?([0-9])")


class BadCas(BadInput):
    """Text that is no CAS number, or one with a wrong check digit."""


def cas_is_valid(text: str) -> bool:
    """
    Return whether text is a CAS number whose check digit fits.

    The digits before the last, from the right, times 1, 2, 3 ...; the sum modulo 10 is the last.

    >>> cas_is_valid("78-70-6"), cas_is_valid("78-70-5")
    (True, False)
    """
    try:
        check_cas(text)
    except BadCas:
        return False
    return True


def check_cas(text: str) -> str:
    """Return a CAS number in its usual form, such as 78-70-6. Raises ``BadCas``."""
    plain = re.sub(r"[\s\u00ad]", "", str(text)).translate(_DASHES)
    found = _CAS.fullmatch(plain)
    if found is None:
        raise BadCas(f'"{shorten(str(text))}" is no CAS number; it looks like 78-70-6.')
    first, second, last = found.groups()
    first = first.lstrip("0") or "0"
    due = sum(place * int(digit) for place, digit in enumerate(reversed(first + second), 1)) % 10
    if due != int(last) or len(first) < 2:
        raise BadCas(
            f"CAS number {first}-{second}-{last} has a wrong digit: after {first}-{second} the "
            f"check digit would be {due}. Read it again from the sheet."
        )
    return f"{first}-{second}-{last}"


_DASHES = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))


@cache
def reference() -> Mapping[str, Substance]:
    """Return the shipped substances by CAS number; each row says how it was come by."""
    table = rule(_TABLE, on=date.max)
    return MappingProxyType({row["cas"]: _from_row(row, table) for row in table["substances"]})


def substance(
    cas: str = "",
    *,
    name: str = "",
    classes: Iterable[ClassGiven] = (),
    m_acute: Fraction | int | None = None,
    m_chronic: Fraction | int | None = None,
    ate: Mapping[Route, Fraction] | None = None,
    specific_limits: Mapping[HazardClass, Fraction] | None = None,
    non_additive: bool | None = None,
    unknown_acute: Iterable[Route] = (),
    unknown_aquatic: bool = False,
    source: str = "",
) -> Substance:
    """
    Return a substance as a sheet or a person gives it, joined with the shipped row of its number.

    What the sheet says replaces what the shipped row only has from usual sheets; a harmonised entry
    stays, and decides the classes it covers. The name for labels is the shipped row's. M-factors,
    estimates (mg/kg, ppmV, mg/l) and specific limits (percent) of a harmonised row outrank the
    sheet's. Raises ``BadCas``, or ``UnknownClass`` for a class that cannot be read.
    """
    number = check_cas(cas) if cas.strip() else ""
    given = tuple(_entry(one, source=source or "supplier's sheet") for one in classes)
    known = reference().get(number)
    if known is None:
        if not number and not name.strip():
            raise BadCas("An ingredient needs a name or a CAS number.")
        return Substance(
            name=name.strip() or f"CAS {number}",
            cas=number,
            entries=given,
            m_acute=_fraction(m_acute),
            m_chronic=_fraction(m_chronic),
            ate=dict(ate or {}),
            specific_limits=dict(specific_limits or {}),
            non_additive=bool(non_additive),
            unknown_acute=frozenset(unknown_acute),
            unknown_aquatic=unknown_aquatic,
        )
    harmonised = tuple(e for e in known.entries if e.authority is Authority.HARMONISED)
    usual = () if given else tuple(e for e in known.entries if e not in harmonised)
    return Substance(
        name=known.name,
        cas=number,
        entries=(*harmonised, *given, *usual),
        m_acute=_weightier(known.m_acute, m_acute, harmonised=bool(harmonised)),
        m_chronic=_weightier(known.m_chronic, m_chronic, harmonised=bool(harmonised)),
        ate={**(ate or {}), **known.ate} if harmonised else {**known.ate, **(ate or {})},
        specific_limits={**(specific_limits or {}), **known.specific_limits},
        non_additive=known.non_additive if non_additive is None else non_additive,
        unknown_acute=frozenset(unknown_acute),
        unknown_aquatic=unknown_aquatic,
        family=known.family,
        note="" if given else known.note,
    )


def _weightier(
    known: Fraction | None, given: Fraction | int | None, *, harmonised: bool
) -> Fraction | None:
    if known is not None and (harmonised or given is None):
        return known
    return _fraction(given)


def _fraction(value: Fraction | int | None) -> Fraction | None:
    return None if value is None else Fraction(value)


def _entry(given: ClassGiven, *, source: str) -> Entry:
    if isinstance(given, HazardClass):
        given = (given, False)
    hazard, minimum = parse_class(given) if isinstance(given, str) else given
    return Entry(hazard=hazard, minimum=minimum, source=source, status="supplier's word")


def _from_row(row: Mapping[str, Any], table: Rule) -> Substance:
    said = [
        (text, authority)
        for key, authority in (
            ("harmonised", Authority.HARMONISED),
            ("supplier", Authority.SUPPLIER),
        )
        for text in row.get(key, ())
    ]
    return Substance(
        name=row["name"],
        cas=check_cas(row["cas"]),
        entries=tuple(_row_entry(text, authority, row) for text, authority in said),
        m_acute=_fraction(row.get("m_acute")),
        m_chronic=_fraction(row.get("m_chronic")),
        ate={Route(route): Fraction(value) for route, value in row.get("ate", {}).items()},
        specific_limits={
            parse_class(text)[0]: Fraction(pct)
            for text, pct in row.get("specific_limits", {}).items()
        },
        family=row.get("family", ""),
        note=_note(row),
    )


def _row_entry(text: str, authority: Authority, row: Mapping[str, Any]) -> Entry:
    hazard, minimum = parse_class(text)
    return Entry(
        hazard=hazard,
        authority=authority,
        minimum=minimum,
        source=row["source"],
        status=row["status"],
        valid_from=row.get("valid_from"),
        markets=frozenset(Market(market) for market in row.get("markets", ())),
    )


def _note(row: Mapping[str, Any]) -> str:
    notes = [row["note"]] if "note" in row else []
    if "often_added" in row:
        usual = ", ".join(row["often_added"])
        notes.append(
            f"suppliers' sheets usually add {usual} ({row['often_added_status']}); "
            "not counted here until your sheet says so"
        )
    return "; ".join(notes)
