"""Read a published rule as it stood on a day. Decimal figures come as exact fractions."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from pourwright.core.errors import BadInput


class NoRuleForDate(BadInput):
    """A rule that was not in force yet, or no longer, on the day asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """
    One rule as it stands on a day: the figures, and who published them.

    ``values`` are the version's own keys; ``rule["limit"]`` reads one. ``from_memory`` says that
    the text itself was not read.
    """

    name: str
    title: str
    source: str
    status: str
    last_checked: date
    valid_from: date
    valid_until: date | None
    values: Mapping[str, Any]

    def __getitem__(self, key: str) -> Any:
        return self.values[key]

    @property
    def from_memory(self) -> bool:
        return "memory" in self.status


def rule(name: str, *, on: date) -> Rule:
    """
    Return the version of a rule in force on a day.

    ``name`` is the file's path without its ending, such as ``eu/skin_sensitisation``. Raises
    ``NoRuleForDate`` before the first version and after a repeal.
    """
    table = _table(name)
    standing = [version for version in table["versions"] if version["valid_from"] <= on]
    if not standing:
        first = min(version["valid_from"] for version in table["versions"])
        raise NoRuleForDate(
            f"{table['title']}: nothing is on record for {on}; the first version is of {first}."
        )
    version = max(standing, key=lambda found: found["valid_from"])
    until = version.get("valid_until")
    if until is not None and on > until:
        raise NoRuleForDate(f"{table['title']}: it was in force until {until}, not on {on}.")
    about = ("valid_from", "valid_until", "source", "status")
    return Rule(
        name=name,
        title=table["title"],
        source=version.get("source", table["source"]),
        status=version.get("status", table["status"]),
        last_checked=table["last_checked"],
        valid_from=version["valid_from"],
        valid_until=until,
        values=MappingProxyType({k: v for k, v in version.items() if k not in about}),
    )


def rules_in(folder: str) -> list[str]:
    """Return the names of all rules in a folder, sorted."""
    there = files("pourwright.core.rules").joinpath(*folder.split("/"))
    stems = sorted(f.name.removesuffix(".toml") for f in there.iterdir() if f.name.endswith("toml"))
    return [f"{folder}/{stem}" for stem in stems]


@cache
def _table(name: str) -> dict[str, Any]:
    *folders, stem = name.split("/")
    path = files("pourwright.core.rules").joinpath(*folders, f"{stem}.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Fraction)
