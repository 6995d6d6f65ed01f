"""
The two gates, as pure rules: what must be known before a design or a lot may be sold.

A check is met, open (its evidence is missing), waived (open, but passed by hand with a reason) or
refused. What is refused can be passed by nobody: a ban on sale, a failed fire test, an oil's safety
limit, a short weight that was not relabelled. Passing a gate says which evidence there was; it does
not say that a candle is safe.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Literal

from pourwright.core.amounts import in_both, number, show_volume
from pourwright.core.burns.standing import Standing
from pourwright.core.errors import BadInput
from pourwright.core.formula import (
    Formula,
    check_limits,
    oil_pct_of_whole,
    strictest_wax_limit,
)
from pourwright.core.vessel.fill import Fill

State = Literal["met", "open", "waived", "refused"]


class GateClosed(BadInput):
    """Something cannot be released, or a check not be passed by hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """
    One check at a gate.

    ``gaps`` names what is missing, one word or phrase each. A reason given by hand passes what
    was missing when it was written, and nothing that goes missing later.
    """

    name: str
    title: str
    state: State
    detail: str
    waivable: bool = False
    gaps: tuple[str, ...] = ()
    reason: str = ""

    @property
    def passed(self) -> bool:
        return self.state in ("met", "waived")


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """A check passed by hand: why, and which gaps its writer knew of."""

    reason: str
    gaps: tuple[str, ...]


def passes(checks: Iterable[Check]) -> bool:
    """Return whether every check is met or passed by hand."""
    return all(check.passed for check in checks)


def closed(checks: Iterable[Check]) -> tuple[Check, ...]:
    """Return the checks that keep the gate shut."""
    return tuple(check for check in checks if not check.passed)


def with_waivers(checks: Iterable[Check], waivers: Mapping[str, Waiver]) -> list[Check]:
    """Return the checks with those passed by hand that may be, and whose gaps were known."""
    return [_with_waiver(check, waivers.get(check.name)) for check in checks]


def _with_waiver(check: Check, waiver: Waiver | None) -> Check:
    if waiver is None or check.state != "open" or not check.waivable:
        return check
    if not set(check.gaps) <= set(waiver.gaps):
        return check
    return replace(check, state="waived", reason=waiver.reason)


def refuse_unless_passed(checks: Sequence[Check], *, what: str) -> None:
    """Raise GateClosed, naming every check that is not passed."""
    if shut := closed(checks):
        raise GateClosed(
            f"{what} cannot be released yet: "
            + " ".join(f"{check.title}: {check.detail}" for check in shut)
        )


def refuse_unless_waivable(check: Check, *, reason: str) -> None:
    """Raise GateClosed where a check cannot be passed by hand, or no reason is given."""
    if check.state == "met":
        raise GateClosed(f"{check.title} is met; there is nothing to pass by hand.")
    if check.state == "refused" or not check.waivable:
        raise GateClosed(f"{check.title} cannot be passed by hand: {check.detail}")
    if not reason.strip():
        raise GateClosed(
            f"Passing “{check.title}” by hand needs a reason: write what you know, and from where."
        )


# --- a design's checks ---------------------------------------------------------------------------


def wax_limit(formula: Formula, *, override_reason: str = "") -> Check:
    """Return whether the load is within the strictest limit of the waxes."""
    name, title = "wax_limit", "Load within the wax’s limit"
    if not formula.oils:
        return Check(name=name, title=title, state="met", detail="No fragrance goes in.")
    over = [finding for finding in check_limits(formula) if finding.code == "wax_limit"]
    if over and override_reason.strip():
        return Check(
            name=name, title=title, state="waived", detail=over[0].message, waivable=True,
            gaps=(over[0].message,), reason=override_reason.strip(),
        )  # fmt: skip
    if over:
        return Check(
            name=name, title=title, state="open", detail=over[0].message, waivable=True,
            gaps=(over[0].message,),
        )  # fmt: skip
    unknown = tuple(part.name for part in formula.waxes if part.max_load is None)
    if unknown:
        return Check(
            name=name, title=title, state="open", waivable=True, gaps=unknown,
            detail=f"How much oil {_and(unknown)} takes is not known: enter it with the wax.",
        )  # fmt: skip
    found = strictest_wax_limit(formula)
    assert found is not None  # every wax has a limit by now
    return Check(
        name=name, title=title, state="met",
        detail=f"Load is {formula.load}; {found[0].name} takes up to {found[1]}.",
    )  # fmt: skip


def oil_limits(formula: Formula) -> Check:
    """Return whether every oil is within its safety limit; beyond one it is refused for good."""
    name, title = "oil_limits", "Every oil within its safety limit"
    if not formula.oils:
        return Check(name=name, title=title, state="met", detail="No fragrance goes in.")
    over = [finding for finding in check_limits(formula) if finding.code == "oil_limit"]
    if over:
        return Check(
            name=name, title=title, state="refused",
            detail=" ".join(finding.message for finding in over),
        )  # fmt: skip
    unknown = tuple(oil.name for oil in formula.oils if oil.max_pct_of_whole is None)
    if unknown:
        return Check(
            name=name, title=title, state="open", waivable=True, gaps=unknown,
            detail=f"The safety limit of {_and(unknown)} is not known: "
            "enter it from the oil’s safety papers.",
        )  # fmt: skip
    parts = [
        f"{oil.name} {number(pct, places=2, strip=True)} of "
        f"{number(oil.max_pct_of_whole or 0, places=2, strip=True)} %"
        for oil, pct in zip(formula.oils, oil_pct_of_whole(formula), strict=True)
    ]
    return Check(name=name, title=title, state="met", detail=f"Of the whole: {', '.join(parts)}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketFinding:
    """What one market's rules make of a candle, in words; ``banned``: why it may not be sold."""

    market: str
    words: str
    banned: str = ""


def hazard(
    markets: Sequence[str],
    *,
    found: Sequence[MarketFinding] = (),
    missing: Sequence[str] = (),
) -> Check:
    """
    Return whether the hazard class is known for each market that the candle is sold in.

    ``missing`` names oils, dyes and additives without a confirmed composition; "no class" is an
    answer too. A ban on sale refuses it for good, whatever else is not known.
    """
    wanted = [market.strip().lower() for market in markets if market.strip()]
    known = {finding.market: finding for finding in found}

    def check(state: State, detail: str, gaps: Sequence[str] = ()) -> Check:
        return Check(
            name="hazard", title="Hazard class known for each market", state=state, detail=detail,
            waivable=state == "open", gaps=tuple(gaps),
        )  # fmt: skip

    if not wanted:
        words = "No market is named that this candle is sold in."
        return check("open", words, ["no market named"])
    answers = [known[market] for market in wanted if market in known]
    if banned := [finding for finding in answers if finding.banned]:
        return check("refused", " ".join(f"{f.market.upper()}: {f.banned}" for f in banned))
    if missing:
        # By market and material: a reason given for one market covers no other.
        gaps = [f"{name} ({market.upper()})" for market in wanted for name in missing]
        words = f"No confirmed composition of {_and(missing)}: enter it from the safety sheet."
        return check("open", words, gaps)
    if unknown := [market for market in wanted if market not in known]:
        where = ", ".join(market.upper() for market in unknown)
        return check("open", f"No classification on record for {where}.", unknown)
    return check("met", " ".join(f"{f.market.upper()}: {f.words}" for f in answers))


def fill(fits: Fill | None, *, gaps: Sequence[str] = (), refusal: str = "") -> Check:
    """
    Return whether the fill fits the vessel, set and liquid.

    ``fits`` is the computed fill; without it ``gaps`` say what is not known, or ``refusal`` why it
    does not fit.
    """
    name, title = "fill", "Fill fits the vessel"
    if refusal:
        return Check(name=name, title=title, state="refused", detail=refusal)
    if fits is None:
        missing = tuple(gaps) or ("fill",)
        return Check(
            name=name, title=title, state="open", waivable=True, gaps=missing,
            detail=f"Not known: {_and(missing)}.",
        )  # fmt: skip
    set_ml, brim_ml = (
        in_both(show_volume, Fraction(round(ml))) for ml in (fits.fill_ml, fits.brim_ml)
    )
    return Check(
        name=name, title=title, state="met",
        detail=f"{set_ml} set, of {brim_ml} to the brim: {fits.fill_pct_of_brim:.0f} % full.",
    )  # fmt: skip


# What cracks where it is heated fast or unevenly, and is annealed against it.
BRITTLE = ("glass", "ceramic")


def vessel(
    *,
    fit_for_candles: str,
    leak_tested_on: date | None,
    material: str = "",
    shock_statement: str = "",
) -> Check:
    """
    Return whether there is a supplier's statement that it is fit, and a leak test.

    Glass and ceramic need a statement on thermal shock and annealing besides.
    """
    gaps = []
    if not fit_for_candles.strip():
        gaps.append("supplier’s statement that it is fit for candles")
    if material in BRITTLE and not shock_statement.strip():
        gaps.append("supplier’s statement on thermal shock and annealing")
    if leak_tested_on is None:
        gaps.append("leak test")
    return _evidence(
        "vessel",
        "Vessel fit for candles and tight",
        gaps,
        f"Supplier’s word: {_semicolons(fit_for_candles, shock_statement)}. "
        f"Leak test {_day(leak_tested_on)}.",
    )


def _semicolons(*words: str) -> str:
    return "; ".join(said.strip() for said in words if said.strip())


def wick(*, lead_free: str) -> Check:
    """Return whether the supplier states that the core is free of lead."""
    gaps = [] if lead_free.strip() else ["supplier’s statement that the core is free of lead"]
    return _evidence(
        "wick", "Wick’s core free of lead", gaps, f"Supplier’s word: {lead_free.strip()}."
    )


def burns(found: Standing) -> Check:
    """
    Return whether a series of test burns has passed for exactly this candle.

    A failed burn refuses it for good; what is only missing, or misses the maker's own criteria
    without having failed, may be passed by hand with a reason.
    """
    states: dict[str, State] = {"passed": "met", "failed": "refused"}
    state = states.get(found.state, "open")
    return Check(
        name="burns", title="Series of test burns passed", state=state, detail=found.says,
        waivable=state == "open", gaps=found.gaps,
    )  # fmt: skip


# --- a lot's checks ------------------------------------------------------------------------------


def design_released(*, design: str | None, released: bool) -> Check:
    """Return whether the lot's design is released; ``design`` is None where it is not known."""
    name, title = "design", "Its design is released"
    if design is None:
        return Check(
            name=name, title=title, state="open", waivable=True, gaps=("version poured",),
            detail="Stock from before the books: which version was poured is not on record.",
        )  # fmt: skip
    if released:
        return Check(name=name, title=title, state="met", detail=f"{design} is released.")
    return Check(
        name=name, title=title, state="open",
        detail=f"{design} is not released; release the design first.",
    )  # fmt: skip


def cured(*, ready_on: date | None, on: date) -> Check:
    """Return whether the lot has cured by a day."""
    name, title = "cured", "Cured"
    if ready_on is None:
        return Check(
            name=name, title=title, state="open", waivable=True, gaps=("cure date",),
            detail="No day is on record from which it counts as cured.",
        )  # fmt: skip
    if ready_on <= on:
        return Check(name=name, title=title, state="met", detail=f"Cured since {_day(ready_on)}.")
    return Check(
        name=name, title=title, state="open", waivable=True, gaps=("cure",),
        detail=f"Cures until {_day(ready_on)}.",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class NetResult:
    """
    The newest net check of a lot under one market's rule.

    ``answer`` is what the check said: pass, fail, or more (a second sample is wanted). ``stale``
    says why an older pass no longer speaks for the lot. ``words`` name rule, weight and day.
    """

    market: str
    answer: Literal["pass", "fail", "more"]
    words: str
    why: str = ""
    stale: str = ""


def net(results: Sequence[NetResult] = (), *, markets: Sequence[str] = ()) -> Check:
    """
    Return whether a lot's net contents passed for each market that it is sold in.

    A lot that was found short is refused until it is worked on and weighed anew, or relabelled to a
    weight that is true: nobody passes a short weight by hand. Without a check it is open.
    """
    name, title = "net", "Net contents checked"
    short = [result for result in results if result.answer == "fail"]
    if short:
        why = " ".join(dict.fromkeys(result.why for result in short if result.why))
        return Check(
            name=name, title=title, state="refused",
            detail=f"Short under {_and([result.words for result in short])}. {why} Rework it and "
            "weigh it anew, or relabel it to a weight that is true.",
        )  # fmt: skip
    wanted = [market.strip().lower() for market in markets if market.strip()]
    passed = {r.market for r in results if r.answer == "pass" and not r.stale}
    missing = [market for market in wanted if market not in passed]
    if passed and not missing:
        good = [result.words for result in results if result.market in passed]
        return Check(name=name, title=title, state="met", detail=f"Passed under {_and(good)}.")
    if not results:
        return Check(
            name=name, title=title, state="open", waivable=True, gaps=("net check",),
            detail="No net-contents check on record.",
        )  # fmt: skip
    said = [result.stale for result in results if result.stale]
    said += [f"{r.words} asks for a second sample." for r in results if r.answer == "more"]
    if unseen := [m.upper() for m in missing if m not in {r.market for r in results}]:
        said.append(f"No check on record for {_and(unseen)}.")
    return Check(
        name=name, title=title, state="open", waivable=True, detail=" ".join(said),
        gaps=tuple(f"net check for {market}" for market in missing) or ("net check",),
    )  # fmt: skip


def finishing(missing: Sequence[str]) -> Check:
    """Return whether every finishing check is ticked; ``missing`` are the words of those not."""
    return _evidence("finishing", "Finished and looked over", list(missing), "All ticked.")


def _evidence(name: str, title: str, gaps: Sequence[str], met: str) -> Check:
    if not gaps:
        return Check(name=name, title=title, state="met", detail=met)
    return Check(
        name=name, title=title, state="open", waivable=True, gaps=tuple(gaps),
        detail=f"Missing: {_and(gaps)}.",
    )  # fmt: skip


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _day(day: date | None) -> str:
    return f"{day.day} {day:%b %Y}" if day else "not on record"
