"""
A candle under the United States' rules for household products.

Consumer candles are not under the GHS there: OSHA's labels are for workplaces. The Federal
Hazardous Substances Act asks for a cautionary label where a product is hazardous and may cause
substantial injury in foreseeable use. Computed here are its two lists: the strong sensitizers and
the products that need special labelling. Whether a candle is hazardous in another way (toxic, an
irritant, flammable) is decided by tests and experience, not by a sum, and is not answered here.

Sources: 16 CFR 1500.13, 1500.14, 1500.121; 15 USC 1261; rules/us.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any, Final

from pourwright.core.amounts import number
from pourwright.core.hazard.model import Market, Mixture, Presence
from pourwright.core.rules import Rule, rule

LISTS: Final = ("us/listed_hazards", "us/strong_sensitizers")
LABEL: Final = "us/hazard_label"
ADVICE: Final = (
    "Check against the rules' current text and, where unsure, ask a competent adviser. Only the "
    "lists of 16 CFR 1500.13 and 1500.14 were looked at; whether the candle may cause substantial "
    "injury in another way (15 USC 1261(f)) is for tests and experience to say."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class UsListed:
    """
    One row of a list that the candle holds something of.

    ``found`` are the substances that count, added up to ``pct_of_whole``; ``met`` says whether that
    is at or above ``limit_pct`` (0: in any amount). ``by_name`` says that one was recognised by its
    name and not by its number.
    """

    name: str
    hazard: str
    found: tuple[Presence, ...]
    pct_of_whole: Fraction
    limit_pct: Fraction
    met: bool
    by_name: bool
    clause: str
    status: str

    @property
    def text(self) -> str:
        """The decision in one line."""
        limit = f"limit {_pct(self.limit_pct)}" if self.limit_pct else "listed in any amount"
        outcome = "reached" if self.met else "not reached"
        how = ", recognised by its name" if self.by_name else ""
        return (
            f"{self.hazard}: {self.name} {_pct(self.pct_of_whole)}{how}, {limit}: {outcome} "
            f"[{self.clause}]"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class UsElement:
    """Something the label then carries: what it is, its words, why and by which clause."""

    what: str
    text: str
    why: str
    clause: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UsAssessment:
    """
    What the two lists say of a candle on a day, and what the label must then carry.

    Without anything ``listed`` that is met there are no ``elements``: that says nothing about other
    hazards (``advice``). ``trace`` has a line for every row of which the candle holds something.
    """

    on: date
    listed: tuple[UsListed, ...]
    elements: tuple[UsElement, ...]
    warnings: tuple[str, ...]
    market: Market = Market.US
    advice: str = ADVICE

    @property
    def met(self) -> tuple[UsListed, ...]:
        return tuple(row for row in self.listed if row.met)

    @property
    def signal_word(self) -> str | None:
        return next((e.text for e in self.elements if e.what == "signal word"), None)

    @property
    def named_substances(self) -> tuple[str, ...]:
        return tuple(e.text for e in self.elements if e.what == "name of the substance")

    @property
    def trace(self) -> tuple[str, ...]:
        return tuple(row.text for row in self.listed)

    def as_json(self) -> dict[str, Any]:
        """Return the same keys as for the other markets; this one has no codes and pictograms."""
        return {
            "market": self.market.value,
            "on": self.on.isoformat(),
            "classes": [f"{row.hazard}: {row.name}" for row in self.met],
            "pictograms": [],
            "signal_word": self.signal_word,
            "hazard_statements": self._statements("hazard"),
            "supplemental_statements": [],
            "precautionary_statements": self._statements(
                "precautions", "first aid", "handling and storage", "children"
            ),
            "named_substances": list(self.named_substances),
            "also_on_the_label": self._statements("name and place of business", "prominence"),
            "identifier_needed": False,
            "refused": [],
            "reasons": self._reasons(),
            "warnings": list(self.warnings),
            "trace": [
                {
                    "text": row.text,
                    "ingredient": row.name,
                    "pct": float(row.pct_of_whole),
                    "sum": float(row.pct_of_whole),
                    "limit": float(row.limit_pct),
                    "rule": row.hazard,
                    "clause": row.clause,
                    "status": row.status,
                    "met": row.met,
                }
                for row in self.listed
            ],
            "advice": self.advice,
        }

    def _reasons(self) -> dict[str, Any]:
        by_what = {e.what: e for e in self.elements}
        named = [e for e in self.elements if e.what == "name of the substance"]
        reasons: dict[str, Any] = {"named_substances": {e.text: _reason(e) for e in named}}
        if "signal word" in by_what:
            reasons["signal_word"] = _reason(by_what["signal word"])
        return reasons

    def _statements(self, *what: str) -> list[dict[str, str]]:
        return [
            {"code": "", "what": e.what, "text": e.text, **_reason(e)}
            for e in self.elements
            if e.what in what
        ]


def _reason(element: UsElement) -> dict[str, str]:
    return {"why": element.why, "rule": element.clause, "status": element.status}


def assess_us(mixture: Mixture, on: date) -> UsAssessment:
    """Return what 16 CFR 1500.13 and 1500.14 say of a candle on a day."""
    tables = [rule(name, on=on) for name in LISTS]
    listed = [
        (table, found)
        for table in tables
        for row in table["rows"]
        if (found := _compared(mixture.present, row, table)) is not None
    ]
    return UsAssessment(
        on=on,
        listed=tuple(row for _, row in listed),
        elements=_elements([(table, row) for table, row in listed if row.met], on),
        warnings=tuple(_warnings(mixture, [row for _, row in listed], tables)),
    )


def _compared(present: Sequence[Presence], row: dict[str, Any], table: Rule) -> UsListed | None:
    by_number = [p for p in present if p.pct_of_whole and p.substance.cas in row["cas"]]
    by_name = [
        p
        for p in present
        if p.pct_of_whole and p not in by_number and _named(p.substance.name, row["words"])
    ]
    if not by_number and not by_name:
        return None
    pct = sum((p.pct_of_whole for p in (*by_number, *by_name)), Fraction(0))
    limit = Fraction(row["limit_pct"])
    return UsListed(
        name=row["name"],
        hazard=table["hazard"],
        found=(*by_number, *by_name),
        pct_of_whole=pct,
        limit_pct=limit,
        met=pct >= limit,
        by_name=bool(by_name),
        clause=row["clause"],
        status=table.status,
    )


def _named(name: str, words: Iterable[Sequence[str]]) -> bool:
    """Return whether a name has the words, each whole: "naphtha" is not in "naphthalenyl"."""
    plain = name.casefold()
    return any(
        all(re.search(rf"\b{re.escape(word)}\b", plain) for word in together) for together in words
    )


def _elements(met: Sequence[tuple[Rule, UsListed]], on: date) -> tuple[UsElement, ...]:
    if not met:
        return ()
    label = rule(LABEL, on=on)
    # The lists are read with the graver word first, and one word stands for all.
    table = met[0][0]
    found = [
        UsElement(
            what="signal word",
            text=table["signal_word"],
            why=table["signal_why"],
            clause=table["signal_clause"],
            status=table.status,
        )
    ]
    for statement in dict.fromkeys(row_table["statement"] for row_table, _ in met):
        behind = [(t, row) for t, row in met if t["statement"] == statement]
        found.append(
            UsElement(
                what="hazard",
                text=statement,
                why=f"The main hazard, for {_and([row.name for _, row in behind])}.",
                clause=f"15 USC 1261(p)(1)(E); {behind[0][1].clause}",
                status=behind[0][0].status,
            )
        )
    found += [
        UsElement(
            what="name of the substance",
            text=row.name,
            why=f"It is {_pct(row.pct_of_whole)} of the candle and brings the hazard; its common "
            "or usual name is told.",
            clause="15 USC 1261(p)(1)(B)",
            status=label.status,
        )
        for _, row in met
    ]
    found += [
        UsElement(
            what=part["what"],
            text=part["text"],
            why=part["why"],
            clause=part["clause"],
            status=label.status,
        )
        for part in label["always"]
    ]
    found.append(
        UsElement(
            what="prominence",
            text=label["prominence"],
            why="What is easily overlooked counts as not there.",
            clause=label["prominence_clause"],
            status=label.status,
        )
    )
    return tuple(found)


def _warnings(
    mixture: Mixture, listed: Sequence[UsListed], tables: Sequence[Rule]
) -> Iterable[str]:
    known = {presence.substance.key for row in listed for presence in row.found}
    for table in tables:
        for row in table["rows"]:
            materials = {
                material
                for presence in mixture.present
                if presence.substance.key not in known
                for material, _ in presence.parts
                if _named(material, row["words"])
            }
            if materials and row["name"] not in {found.name for found in listed}:
                yield (
                    f"{_and(sorted(materials))} has {row['name']} in its name, but no ingredient "
                    f"that is listed as it: ask the supplier how much of it there is "
                    f"[{row['clause']}]."
                )
    for found in listed:
        if found.by_name:
            names = _and([presence.substance.name for presence in found.found])
            yield f"{names} was taken for {found.name} by its name; check that [{found.clause}]."
        if "memory" in found.status and found.met:
            yield f"{found.name}: {found.status}."


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _pct(value: Fraction) -> str:
    return f"{number(value, places=4, strip=True)} %"
