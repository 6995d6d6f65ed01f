"""
The maker's own limits of a test burn. No authority set them; a laxer one needs a reason.

Defaults: rule table ``burns/house_limits`` (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from pourwright.core.amounts import System, number, show_length, show_temperature
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

TABLE = "burns/house_limits"


class BadHouseLimit(BadInput):
    """A limit that is unknown, out of range, or laxer than its default without a reason."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseLimits:
    """A maker's limits by key, the reasons for those laxer than the default, and the table."""

    values: Mapping[str, Fraction]
    reasons: Mapping[str, str]
    rule: Rule

    def __getitem__(self, key: str) -> Fraction:
        return self.values[key]

    def is_default(self, key: str) -> bool:
        """Return whether a limit is the one that the table starts with."""
        return bool(self.values[key] == _rows(self.rule)[key]["default"])


def house_limits(
    *,
    on: date,
    changed: Mapping[str, Fraction | int] | None = None,
    reasons: Mapping[str, str] | None = None,
    units: System = "metric",
) -> HouseLimits:
    """
    Return the limits with the maker's changes; ``units`` are those that a refusal speaks in.

    Raises ``BadHouseLimit`` where a change makes a limit laxer than its default and ``reasons``
    has no words for it; stricter needs none.
    """
    table = rule(TABLE, on=on)
    rows = _rows(table)
    changed, reasons = changed or {}, reasons or {}
    for key in (*changed, *reasons):
        if key not in rows:
            raise BadHouseLimit(f'"{key}" is no house limit; they are {", ".join(rows)}.')
    values = {key: Fraction(row["default"]) for key, row in rows.items()}
    for key, given in changed.items():
        row, value = rows[key], Fraction(given)
        shown, least, most, default = (
            shown_limit(Fraction(one), row["unit"], units)
            for one in (value, row["least"], row["most"], row["default"])
        )
        if not row["least"] <= value <= row["most"]:
            raise BadHouseLimit(
                f"House limit {key} ({row['what']}) is {shown}; give {least} to {most}."
            )
        higher = value > row["default"]
        laxer = value != row["default"] and higher == (row["laxer"] == "higher")
        if laxer and not reasons.get(key, "").strip():
            raise BadHouseLimit(
                f"House limit {key} ({row['what']}) of {shown} is laxer than the default "
                f"{default}: write the reason for it."
            )
        values[key] = value
    return HouseLimits(
        values=MappingProxyType(values),
        reasons=MappingProxyType({k: v.strip() for k, v in reasons.items() if v.strip()}),
        rule=table,
    )


def _rows(table: Rule) -> dict[str, Any]:
    return {row["key"]: row for row in table["limits"]}


def shown_limit(value: Fraction, unit: str, units: System) -> str:
    """Return a limit with its unit, a length or temperature in the units asked for."""
    if unit == "mm":
        return show_length(value, units)
    if unit == "°C":
        return show_temperature(value, units)
    return f"{number(value, places=2, strip=True)} {unit}"
