"""What is found of a burn: which verdict it asks for, by which rule, reading and limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from pourwright.core.amounts import number
from pourwright.core.rules import Rule

VerdictName = Literal[
    "fail", "out of scope", "incomplete", "under-wicked", "over-wicked", "warn", "criteria met"
]
VERDICTS: tuple[VerdictName, ...] = (
    "fail", "out of scope", "incomplete", "under-wicked", "over-wicked", "warn", "criteria met",
)  # fmt: skip
WORDS: dict[VerdictName, str] = {
    "fail": "failed",
    "out of scope": "outside what the method is for",
    "incomplete": "not complete: no verdict yet",
    "under-wicked": "too little wick",
    "over-wicked": "too much wick",
    "warn": "criteria met, with a warning",
    "criteria met": "criteria met in this burn",
}
# A burn's own afterglow stands for the mean until the whole series is there.
AFTERGLOW = "afterglow"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """
    One thing found: which verdict it asks for, and by what.

    ``key`` names the criterion; ``reading`` and ``limit`` are written in the units asked for;
    ``house`` says that the limit is the maker's own.
    """

    verdict: VerdictName
    key: str
    says: str
    reading: str
    limit: str
    rule: str
    edition: str
    source: str
    status: str
    house: bool = False
    minute: Fraction | None = None
    where: str = ""


def finding_of(
    table: Rule, verdict: VerdictName, key: str, says: str, read: str, limit: str,
    minute: Fraction | None = None, *, house: bool = False,
) -> Finding:  # fmt: skip
    return Finding(
        verdict=verdict, key=key, says=says, reading=read, limit=limit, rule=table.title,
        edition=table["edition"], source=table.source, status=table.status, house=house,
        minute=minute,
    )  # fmt: skip


def mean_of(values: Sequence[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


def plain(value: Fraction | int) -> str:
    return number(value, places=2, strip=True)
