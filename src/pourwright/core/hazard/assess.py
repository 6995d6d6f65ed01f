"""Classify a candle and work out its label in one call, and write both as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any, Literal, overload

from pourwright.core.hazard.classify import Classification, Refusal, classify
from pourwright.core.hazard.label import (
    Explained,
    LabelElements,
    LabelSize,
    Reason,
    Statement,
    elements_of,
)
from pourwright.core.hazard.model import Market, Mixture
from pourwright.core.hazard.trace import Step
from pourwright.core.hazard.us import UsAssessment, assess_us


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """A candle's classes and its label, in a market on a day."""

    classification: Classification
    label: LabelElements


@overload
def assess(
    mixture: Mixture,
    *,
    market: Literal[Market.EU, Market.GB, Market.UN],
    on: date,
    package_ml: Fraction | None = ...,
    marketed_before: bool = ...,
) -> Assessment: ...
@overload
def assess(
    mixture: Mixture,
    *,
    market: Literal[Market.US],
    on: date,
    package_ml: Fraction | None = ...,
    marketed_before: bool = ...,
) -> UsAssessment: ...
@overload
def assess(
    mixture: Mixture,
    *,
    market: Market,
    on: date,
    package_ml: Fraction | None = ...,
    marketed_before: bool = ...,
) -> Assessment | UsAssessment: ...
def assess(
    mixture: Mixture,
    *,
    market: Market,
    on: date,
    package_ml: Fraction | None = None,
    marketed_before: bool = False,
) -> Assessment | UsAssessment:
    """
    Return classes and label of a candle, for a package that holds so many ml (None: unknown).

    ``on`` is the day of placing on the market; ``marketed_before``: see ``criteria_for``. For the
    US the lists of 16 CFR 1500 are looked at instead. Raises ``NoRuleForDate``.
    """
    if market is Market.US:
        return assess_us(mixture, on)
    classification = classify(mixture, market=market, on=on, marketed_before=marketed_before)
    return Assessment(
        classification=classification, label=elements_of(classification, package_ml=package_ml)
    )


def as_json(assessment: Assessment | UsAssessment) -> dict[str, Any]:
    """Return plain data: strings, numbers, lists and dictionaries."""
    if isinstance(assessment, UsAssessment):
        return assessment.as_json()
    found, label = assessment.classification, assessment.label
    return {
        "market": found.market.value,
        "on": found.on.isoformat(),
        "classes": list(dict.fromkeys(str(one.hazard) for one in found.classes)),
        "pictograms": [str(one) for one in label.pictograms],
        "signal_word": label.signal_word,
        "hazard_statements": _statements(label.hazard_statements),
        "supplemental_statements": _statements(label.supplemental),
        "precautionary_statements": _statements(label.precautionary),
        "named_substances": [str(one) for one in label.named_substances],
        "contains": label.contains,
        "identifier_needed": label.identifier_needed,
        "refused": [_refused(one) for one in label.refused],
        "safety_data_sheet_on_request": found.sheet_on_request,
        "tactile_warning": label.tactile_warning,
        "child_resistant": label.child_resistant,
        "may_be_left_out": [
            {"code": one.code, "why": one.why, "rule": one.rule, "status": one.status}
            for one in label.left_out
        ],
        "sizes": _sizes(label.sizes),
        "coming": [
            {"from": one.valid_from.isoformat(), "title": one.title, "text": one.text,
             "rule": one.rule, "status": one.status}
            for one in label.coming
        ],
        "reasons": {
            "pictograms": {str(one): _why(one) for one in label.pictograms},
            "named_substances": {str(one): _why(one) for one in label.named_substances},
            **{key: _why(reason) for key, reason in label.reasons.items()},
        },
        "warnings": list(found.warnings),
        "trace": [_step(step) for step in found.trace],
        "advice": label.advice,
    }  # fmt: skip


def _statements(statements: Iterable[Statement]) -> list[dict[str, str]]:
    return [
        {"code": s.code, "text": s.text, "why": s.why, "rule": s.rule, "status": s.status}
        for s in statements
    ]


def _why(reason: Explained | Reason) -> dict[str, str]:
    return {"why": reason.why, "rule": reason.rule, "status": reason.status}


def _refused(refusal: Refusal) -> dict[str, str]:
    return {"reason": refusal.reason, "rule": refusal.rule, "status": refusal.status}


def _sizes(sizes: LabelSize) -> dict[str, Any]:
    return {
        "width_mm": _number(sizes.width_mm),
        "height_mm": _number(sizes.height_mm),
        "if_possible": sizes.if_possible,
        "pictogram_side_mm": _number(sizes.side_mm),
        "pictogram_least_side_mm": _number(sizes.least_side_mm),
        "x_height_mm": _number(sizes.x_height_mm),
        "x_height_rows": [
            {
                "up_to_ml": _number(row.up_to_ml),
                "x_height_mm": _number(row.x_height_mm),
                "from": row.valid_from.isoformat(),
            }
            for row in sizes.x_height_rows
        ],
        "why": sizes.why,
        "rule": sizes.rule,
        "status": sizes.status,
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "text": step.text,
        "ingredient": step.ingredient,
        "pct": _number(step.pct),
        "limit": _number(step.limit),
        "sum": _number(step.sum),
        "rule": step.rule,
        "clause": step.clause,
        "status": step.status,
        "met": step.met,
    }


def _number(value: Fraction | None) -> int | float | None:
    """Return a number for JSON: whole where it is whole, else the nearest of its kind."""
    if value is None:
        return None
    return value.numerator if value.denominator == 1 else float(value)
