"""The tables of one market on one day, read once and made ready for building criteria."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import lru_cache
from typing import Any

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import HazardClass, Kind, Market, Route
from pourwright.core.rules import NoRuleForDate, Rule, rule

_SUMMED = {
    Kind.SKIN_CORR,
    Kind.EYE_DAM,
    Kind.RESP_SENS,
    Kind.SKIN_SENS,
    Kind.AQ_CHRONIC,
}
Weights = Mapping[str, Mapping[str, Fraction]]


class NoSuchMarket(BadInput):
    """A market whose mixtures are not classified by these rules."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleLimit:
    """A limit that one ingredient reaches alone; without ``gives`` its own category follows."""

    kind: Kind
    categories: frozenset[str]
    at_pct: Fraction
    clause: str
    status: str
    gives: str = ""
    sheet_pct: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rulebook:
    """
    The rules of a market as they stand on a day.

    ``acute_limits`` and ``acute_points`` are by route and category, most severe first.
    ``new_classes`` says whether the EU's classes of 2023 apply.
    """

    market: Market
    on: date
    about: Rule
    acute: Rule
    acute_limits: Mapping[Route, Mapping[str, Fraction]]
    acute_points: Mapping[Route, Mapping[str, Fraction]]
    acute_cut_offs: Mapping[str, Fraction]
    skin_and_eye: Rule
    sensitisation: Rule
    sensitiser_limits: Mapping[str, Fraction]
    elicitation_limits: Mapping[str, Fraction]
    singles: Mapping[Kind, tuple[SingleLimit, ...]]
    bans: Mapping[Kind, tuple[SingleLimit, ...]]
    stot_single_3: Rule
    aquatic: Rule
    aquatic_acute: Weights
    new_classes: bool

    def clause(self, clause: str) -> str:
        """Return a clause with the act it stands in, as this market cites it."""
        return f"{self.about['act']}, {clause}"

    def covers(self, hazard: HazardClass) -> bool:
        """Return whether an ingredient's class counts towards anything in this market."""
        if hazard.kind is Kind.ACUTE and hazard.route:
            return hazard.category in self.acute_limits[hazard.route]
        if hazard.kind is Kind.AQ_ACUTE:
            return hazard.category in self.aquatic_acute
        if hazard.kind in (Kind.SKIN_IRRIT, Kind.EYE_IRRIT):
            return hazard.category == "2"
        if hazard.kind is Kind.STOT_SE and hazard.category == "3":
            return True
        if hazard.kind in _SUMMED:
            return True
        return any(hazard.category in one.categories for one in self.singles.get(hazard.kind, ()))

    def status(self, status: str) -> str:
        """Return how a text was come by; another market's text adds its own doubt."""
        note = self.about["status_note"]
        return f"{status}, {note}" if note and "memory" not in status else status


@lru_cache(maxsize=64)
def rulebook(market: Market, on: date, marketed_before: bool = False) -> Rulebook:
    """
    Return the rules of a market on a day.

    ``marketed_before`` is a candle that was on the market before the EU's newest classes began to
    apply: it has until their later date. Raises ``NoSuchMarket`` for the US, whose law does not
    classify so, and ``NoRuleForDate`` before the first version.
    """
    if market is Market.US:
        raise NoSuchMarket(
            "In the US no class is computed from limits; its label law is checked apart. "
            "Choose eu, gb or un here."
        )
    about = rule(f"{market.value}/hazard", on=on)
    acute = rule("hazard/acute_toxicity", on=on)
    extra = about.values.get("acute_extra", {})
    aquatic = rule("hazard/aquatic", on=on)
    sensitisation = rule("hazard/sensitisation", on=on)
    newest = _new_classes(market, on, marketed_before)
    singles = rule("hazard/single_ingredient", on=on)
    limits = _limits(singles, "limits") + (_limits(newest, "limits") if newest else ())
    ban = _optional(f"{market.value}/sale_ban", on)
    return Rulebook(
        market=market,
        on=on,
        about=about,
        acute=acute,
        acute_limits=_by_route(acute["limits"], extra.get("limits", {})),
        acute_points=_by_route(acute["points"], extra.get("points", {})),
        acute_cut_offs=_exact(acute["cut_off_pct"]),
        skin_and_eye=rule("hazard/skin_and_eye", on=on),
        sensitisation=sensitisation,
        sensitiser_limits=_exact(sensitisation["limit_pct"]),
        elicitation_limits=_exact(sensitisation["elicitation_pct"]),
        singles=_by_kind(limits),
        bans=_by_kind(_limits(ban, "bans") if ban else ()),
        stot_single_3=rule("hazard/stot_single_3", on=on),
        aquatic=aquatic,
        aquatic_acute={**aquatic["acute"], **about.values.get("aquatic_acute_extra", {})},
        new_classes=newest is not None,
    )


def _new_classes(market: Market, on: date, marketed_before: bool) -> Rule | None:
    found = _optional(f"{market.value}/new_hazard_classes", on)
    if found and marketed_before and on < found["already_marketed_from"]:
        return None
    return found


def _optional(name: str, on: date) -> Rule | None:
    """Return a rule that not every market has, and that may not be in force yet."""
    try:
        return rule(name, on=on)
    except (NoRuleForDate, FileNotFoundError):
        return None


def _exact(values: Mapping[str, Any]) -> Mapping[str, Fraction]:
    return {key: Fraction(value) for key, value in values.items()}


def _by_route(
    common: Mapping[str, Mapping[str, Any]], extra: Mapping[str, Mapping[str, Any]]
) -> Mapping[Route, Mapping[str, Fraction]]:
    return {
        Route(route): _exact({**rows, **extra.get(route, {})}) for route, rows in common.items()
    }


def _limits(table: Rule, key: str) -> tuple[SingleLimit, ...]:
    return tuple(
        SingleLimit(
            kind=Kind(row["kind"]),
            categories=frozenset(row["categories"]),
            at_pct=Fraction(row["at_pct"]),
            clause=row["clause"],
            status=row.get("status", table.status),
            gives=row.get("gives", ""),
            sheet_pct=Fraction(row["sheet_pct"]) if "sheet_pct" in row else None,
        )
        for row in table[key]
    )


def _by_kind(limits: tuple[SingleLimit, ...]) -> Mapping[Kind, tuple[SingleLimit, ...]]:
    return {
        kind: tuple(limit for limit in limits if limit.kind is kind)
        for kind in {limit.kind for limit in limits}
    }
