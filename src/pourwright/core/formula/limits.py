"""
What a formula may not exceed.

Three limits of different weight. A wax's limit for oil is its supplier's word: beyond it oil may
sweat out or burn badly, and a maker may go further with a written reason. An oil's safety limit
protects the buyer's skin and lungs and is never passed. An oil's flash point warns: at or above it
the vapour over the wax can catch fire from a spark or flame.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from pourwright.core.amounts import in_both, number, show_temperature
from pourwright.core.errors import BadInput
from pourwright.core.formula.load import Load, LoadOfWax, as_load_of_wax
from pourwright.core.formula.recipe import Formula, OilPart, WaxPart

Severity = Literal["refuse", "refuse unless overridden", "warn"]


class OverLimit(BadInput):
    """The formula exceeds a limit that holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something its maker must know; ``override_reason`` says why it is passed all the same."""

    code: str
    severity: Severity
    message: str
    override_reason: str = ""


def strictest_wax_limit(formula: Formula) -> tuple[WaxPart, Load] | None:
    """
    Return the wax whose limit for oil is the lowest, with that limit on its own basis.

    In a blend the strictest limit counts: no rule for blends is published, and a mean would
    trust one wax to carry another's oil. Limits on different bases are compared on the wax.
    """
    limited = [(part, part.max_load) for part in formula.waxes if part.max_load is not None]
    extras = formula.extras_pct_of_wax
    return min(
        limited,
        key=lambda pair: as_load_of_wax(pair[1], extras_pct_of_wax=extras),
        default=None,
    )


def check_wax_limit(formula: Formula) -> list[Finding]:
    """Return a finding where the load is above the strictest limit of the waxes."""
    found = strictest_wax_limit(formula)
    if found is None:
        return []
    wax, limit = found
    load = formula.load_of_wax if isinstance(limit, LoadOfWax) else formula.load_of_whole
    over = (
        formula.load_of_wax > limit
        if isinstance(limit, LoadOfWax)
        else formula.load_of_whole > limit
    )
    if not over:
        return []
    blend = ", the strictest of the blend" if len(formula.waxes) > 1 else ""
    return [
        Finding(
            code="wax_limit",
            severity="refuse unless overridden",
            message=f"Load is {load}; {wax.name} takes up to {limit}{blend}. "
            "Lower the load, or give a reason to go beyond.",
        )
    ]


def oil_pct_of_whole(formula: Formula) -> tuple[Fraction, ...]:
    """Return each oil's part of the finished candle, in percent."""
    return tuple(formula.load_pct_of_whole * fraction for fraction in formula.oil_fractions)


def check_oil_limits(formula: Formula) -> list[Finding]:
    """Return a finding for each oil above its safety limit."""
    return [
        Finding(
            code="oil_limit",
            severity="refuse",
            message=f"{oil.name} is {_pct(pct)} of the candle; its safety limit is "
            f"{_pct(oil.max_pct_of_whole)}. Lower the load or its share.",
        )
        for oil, pct in zip(formula.oils, oil_pct_of_whole(formula), strict=True)
        if oil.max_pct_of_whole is not None and pct > oil.max_pct_of_whole
    ]


def check_flash_points(formula: Formula) -> list[Finding]:
    """Return a warning for each oil that is added at or above its flash point."""
    return [
        Finding(code="flash_point", severity="warn", message=_flash_message(oil, adding_c, flash_c))
        for oil in formula.oils
        if (adding_c := formula.adding_temp_c) is not None
        and (flash_c := oil.flash_point_c) is not None
        and adding_c >= flash_c
    ]


def _flash_message(oil: OilPart, adding_c: Fraction, flash_c: Fraction) -> str:
    return (
        f"{oil.name} goes in at {_degrees(adding_c)}, at or above its flash point of "
        f"{_degrees(flash_c)}: its vapour can catch fire. Add it cooler, and keep flames and "
        "sparks away."
    )


def check_shares(formula: Formula) -> list[Finding]:
    """Return a warning where shares look like percentages but do not add up to 100."""
    waxes = _check_sum("waxes", [part.share for part in formula.waxes])
    return waxes + _check_sum("oils", [part.share for part in formula.oils])


def _check_sum(what: str, shares: Sequence[Fraction]) -> list[Finding]:
    whole = sum(shares, Fraction(0))
    # Thirds written as 33.3 miss 100 by rounding alone, 0.05 each.
    if not 80 <= whole <= 120 or abs(whole - 100) <= Fraction(len(shares), 20):
        return []
    return [
        Finding(
            code="shares_not_100",
            severity="warn",
            message=f"The shares of the {what} add up to {number(whole, places=3, strip=True)}, "
            "not 100; they are taken as parts of that.",
        )
    ]


CHECKS = (check_wax_limit, check_oil_limits, check_flash_points, check_shares)


def check_limits(formula: Formula) -> tuple[Finding, ...]:
    """Return everything that the checks find, in the order of ``CHECKS``."""
    return tuple(finding for check in CHECKS for finding in check(formula))


def unknown_limits(formula: Formula) -> tuple[str, ...]:
    """Return in words what could not be checked because a figure is missing."""
    gaps = []
    waxes = [part.name for part in formula.waxes if part.max_load is None]
    if formula.oils and waxes:
        gaps.append(f"most oil that {_and(waxes)} takes")
    limits = [oil.name for oil in formula.oils if oil.max_pct_of_whole is None]
    if limits:
        gaps.append(f"safety limit of {_and(limits)}")
    flashes = [oil.name for oil in formula.oils if oil.flash_point_c is None]
    if flashes:
        gaps.append(f"flash point of {_and(flashes)}")
    if formula.oils and formula.adding_temp_c is None:
        gaps.append("temperature at which the oils go in")
    return tuple(gaps)


def refuse_over_limit(
    findings: Iterable[Finding], *, override_reason: str = ""
) -> tuple[Finding, ...]:
    """
    Return the findings where the formula may be made, else raise ``OverLimit`` with every cause.

    A reason passes only what says "refuse unless overridden"; it is kept on that finding, which
    stays to be shown and recorded.
    """
    reason = override_reason.strip()
    kept = tuple(
        replace(finding, override_reason=reason)
        if finding.severity == "refuse unless overridden"
        else finding
        for finding in findings
    )
    causes = [
        finding.message
        for finding in kept
        if finding.severity == "refuse"
        or (finding.severity == "refuse unless overridden" and not finding.override_reason)
    ]
    if causes:
        raise OverLimit(" ".join(causes))
    return kept


def _pct(value: Fraction | None) -> str:
    return f"{number(value or 0, places=3, strip=True)} %"


def _degrees(temp_c: Fraction) -> str:
    return in_both(show_temperature, temp_c)


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
