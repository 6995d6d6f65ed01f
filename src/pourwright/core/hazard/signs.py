"""
Statements, signal word and pictograms of a set of classes, and which of them give way.

Source: CLP Articles 20(3), 26 and 27, label tables of Annex I; the UN's model agrees.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from pourwright.core.hazard.model import HazardClass, Kind
from pourwright.core.rules import Rule, rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """What the label table gives one class: statement code, signal word and pictogram, or ""."""

    code: str
    signal: str
    pictogram: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A statement, the classes behind it, and in ``note`` what it was merged from."""

    code: str
    classes: tuple[HazardClass, ...]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A pictogram, the classes that need it, and in ``notes`` which others gave way to it."""

    code: str
    classes: tuple[HazardClass, ...]
    notes: tuple[str, ...] = ()


@lru_cache(maxsize=16)
def tables(on: date) -> tuple[Rule, Rule]:
    """Return the label tables and the rules of precedence of a day."""
    return rule("hazard/label_elements", on=on), rule("hazard/label_precedence", on=on)


def sign_of(hazard: HazardClass, *, on: date) -> Sign:
    """Return what the label table gives a class; all empty for one that has no label element."""
    row = _rows(on).get(_key(hazard.kind.value, hazard.category, hazard))
    if row is None:
        return Sign(code="", signal="", pictogram="")
    letters = hazard.detail if hazard.kind is Kind.REPR else ""
    code = row["code"] + letters
    return Sign(
        code=code if code in tables(on)[0]["texts"] else row["code"],
        signal=row.get("signal", ""),
        pictogram=row.get("pictogram", ""),
    )


def text_of(code: str, *, on: date) -> tuple[str, str]:
    """Return a statement's words and how they were come by."""
    row = tables(on)[0]["texts"][code]
    return row["text"], row["status"]


def signal_word_of(classes: Iterable[HazardClass], *, on: date) -> str | None:
    """Return the one signal word: Danger where any class has it, else Warning or None."""
    found = {sign_of(hazard, on=on).signal for hazard in classes}
    return next((word for word in tables(on)[1]["signal_words"] if word in found), None)


def statements_of(classes: Iterable[HazardClass], *, on: date) -> tuple[Said, ...]:
    """
    Return the hazard statements in the order of their numbers, merged and without redundant ones.

    H400 beside H411 or H412 is printed as H410, as Annex VI does.
    """
    found: dict[str, list[HazardClass]] = {}
    for hazard in classes:
        code = sign_of(hazard, on=on).code
        if code:
            found.setdefault(code, []).append(hazard)
    precedence = tables(on)[1]
    notes: dict[str, str] = {}
    for merge in precedence["merged"]:
        if all(code in found for code in merge["all_of"]):
            notes[merge["into"]] = f"printed for {' and '.join(merge['all_of'])} together"
            behind = [hazard for code in merge["all_of"] for hazard in found[code]]
            found.setdefault(merge["into"], []).extend(behind)
    for redundant in precedence["redundant"]:
        if redundant["beside"] in found:
            for code in redundant["left_out"]:
                found.pop(code, None)
    return tuple(
        Said(code=code, classes=tuple(found[code]), note=notes.get(code, ""))
        for code in sorted(found, key=lambda code: (code.startswith("EUH"), code))
    )


def pictograms_of(classes: Iterable[HazardClass], *, on: date) -> tuple[Drawn, ...]:
    """
    Return the pictograms of classes, after those that give way have gone.

    Each class brings its own; a pictogram stays while one class still needs it.
    """
    pairs = [(hazard, pic) for hazard in classes if (pic := sign_of(hazard, on=on).pictogram)]
    notes: dict[str, list[str]] = {}
    kept = pairs
    for row in tables(on)[1]["pictograms"]:
        if any(_stands(row, hazard, pic) for hazard, pic in pairs):
            gone = [pair for pair in kept if _gives_way(row, *pair)]
            kept = [pair for pair in kept if pair not in gone]
            if gone:
                what = ", ".join(dict.fromkeys(str(hazard) for hazard, _ in gone))
                notes.setdefault(row["present"], []).append(
                    f"{row['gives_way']} for {what} gives way to it ({row['clause']})"
                )
    return tuple(
        Drawn(
            code=code,
            classes=tuple(hazard for hazard, pic in kept if pic == code),
            notes=tuple(notes.get(code, ())),
        )
        for code in sorted({pic for _, pic in kept})
    )


def _stands(row: Mapping[str, Any], hazard: HazardClass, pictogram: str) -> bool:
    because: Sequence[str] = row.get("because", ())
    return bool(pictogram == row["present"] and (not because or hazard.kind.value in because))


def _gives_way(row: Mapping[str, Any], hazard: HazardClass, pictogram: str) -> bool:
    of: Sequence[str] = row.get("of", ())
    return bool(pictogram == row["gives_way"] and (not of or hazard.kind.value in of))


_Key = tuple[str, str, str]


@lru_cache(maxsize=16)
def _rows(on: date) -> Mapping[_Key, Mapping[str, Any]]:
    return {
        (row["kind"], category, row.get("route", row.get("detail", ""))): row
        for row in tables(on)[0]["classes"]
        for category in row["categories"]
    }


def _key(kind: str, category: str, hazard: HazardClass) -> _Key:
    if hazard.route:
        return kind, category, hazard.route.value
    if hazard.kind is Kind.STOT_SE and category == "3":
        return kind, category, hazard.detail or "H335"
    return kind, category, ""
