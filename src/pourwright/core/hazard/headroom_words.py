"""
A headroom in words and as plain data.

A place at which an element begins is rounded down and one at which it ends is rounded up, so that a
figure read off never lies on the far side of a limit.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil
from typing import Any

from pourwright.core.amounts import number
from pourwright.core.hazard.elements import Element
from pourwright.core.hazard.headroom import (
    GOALS,
    Breakpoint,
    Ceiling,
    Change,
    Driver,
    Headroom,
    Headrooms,
    highest_keeping,
    rounded_down,
)
from pourwright.core.hazard.nearest import NearestShares, NoShares
from pourwright.core.hazard.paths import Path
from pourwright.core.hazard.spans import Span

PLACES = 4


def span_words(
    span: Span, path: Path, *, places: int = PLACES, of_whole: bool = False
) -> str:  # fmt: skip
    """
    Return "from 7.1428", "from 2.5 to 4.1", "up to 3.2", "at 5 only" or "all along", in percent.

    "Above" and "below" stand where the figure itself is exact and does not belong to the span.
    """

    def of(t: Fraction) -> Fraction:
        return path.pct_of_whole_at(t) if of_whole else t

    starts = span.low > path.low or not span.low_in
    ends = span.high < path.high or not span.high_in
    if starts and span.low == span.high:
        return f"at {_figure(of(span.low), places)} only"
    words = []
    if starts:
        low = rounded_down(of(span.low), places)
        exact = low == of(span.low)
        words.append(f"{'above' if exact and not span.low_in else 'from'} {_figure(low, places)}")
    if ends:
        high = rounded_up(of(span.high), places)
        if high == of(span.high) and not span.high_in:
            words.append(f"below {_figure(high, places)}")
        else:
            words.append(f"{'to' if starts else 'up to'} {_figure(high, places)}")
    return " ".join(words) or "all along"


def rounded_up(value: Fraction, places: int) -> Fraction:
    """
    Return ``value`` rounded up to ``places`` decimals.

    >>> rounded_up(Fraction(50, 7), 2)
    Fraction(143, 20)
    """
    return Fraction(ceil(value * 10**places), 10**places)


def change_words(change: Change) -> str:
    """Return what becomes of an element at a breakpoint: "appears", "gone above" ..."""
    if change.appears:
        return "appears" if change.here else "appears above"
    if change.disappears:
        return "gone above" if change.here else "gone"
    return "only here" if change.here else "gone only here"


def driver_words(driver: Driver) -> str:
    """Return an ingredient with its amount, its part of the sum and how far the sum reaches."""
    pct = number(driver.pct_of_whole, places=PLACES, strip=True)
    reach = number(100 * driver.reach, places=1, strip=True)
    if driver.part == 1:
        return f"{driver.substance.name}: {pct} % of the whole, {reach} % of its limit"
    part = number(100 * driver.part, places=1, strip=True)
    return (
        f"{driver.substance.name}: {pct} % of the whole, {part} % of a sum that is "
        f"{reach} % of its limit"
    )


def headroom_as_json(found: Headroom) -> dict[str, Any]:
    """Return a headroom as plain data: figures rounded to the safe side, exact ones as text."""
    path = found.path
    return {
        "walk": path.kind,
        "name": path.name,
        "unit": path.unit,
        "market": found.market.value,
        "on": found.on.isoformat(),
        "low": _place(path, path.low),
        "high": _place(path, path.high),
        "present": _place(path, path.present),
        "now": [_element(element) for element in found.now],
        "bands": [
            {
                **_element(band.element),
                "now": band.now,
                "spans": [_span(span, path) for span in band.spans],
                "driven_at": _place(path, band.driven_at),
                "drivers": [_driver(driver) for driver in band.drivers],
            }
            for band in found.bands
        ],
        "breakpoints": [_breakpoint(one, path) for one in found.breakpoints],
        "highest": [
            _ceiling(ceiling, path)
            for goal in GOALS
            if (ceiling := highest_keeping(found, goal)) is not None
        ],
    }


def headrooms_as_json(found: Headrooms) -> dict[str, Any]:
    """Return a formula's headroom: ``load``, and ``oils`` in their order."""
    return {
        "load": headroom_as_json(found.load),
        "oils": [headroom_as_json(oil) for oil in found.oils],
    }


def shares_as_json(found: NearestShares | NoShares, *, names: tuple[str, ...]) -> dict[str, Any]:
    """Return nearest shares as plain data; ``names`` are the oils' in their order."""
    if isinstance(found, NoShares):
        return {"goal": found.goal.key, "shares": None, "proven": found.proven}
    return {
        "goal": found.goal.key,
        "shares": [
            {"oil": name, "pct_of_blend": float(100 * share), "exact": str(exact)}
            for name, share, exact in zip(names, found.offered, found.shares, strict=True)
        ],
        "rounded": found.rounded is not None,
        "change_pct_of_blend": float(100 * (found.rounded_change or found.change)),
        "proven": found.proven,
        "no_less_than_pct_of_blend": float(100 * found.bound),
        "gained": [_element(element) for element in found.gained],
        "lost": [_element(element) for element in found.lost],
    }


def _figure(value: Fraction, places: int) -> str:
    return number(value, places=places, strip=True)


def _place(path: Path, t: Fraction) -> dict[str, Any]:
    place: dict[str, Any] = {
        "exact": str(t),
        "value": float(rounded_down(t, PLACES)),
        "pct_of_whole": float(rounded_down(path.pct_of_whole_at(t), PLACES)),
    }
    share = path.share_at(t)
    if share is not None:
        place["pct_of_blend"] = float(rounded_down(share, PLACES))
    return place


def _element(element: Element) -> dict[str, str]:
    return {"kind": element.kind, "code": element.code, "words": element.words}


def _span(span: Span, path: Path) -> dict[str, Any]:
    return {
        "from": {"exact": str(span.low), "value": float(rounded_down(span.low, PLACES))},
        "from_included": span.low_in,
        "to": {"exact": str(span.high), "value": float(rounded_up(span.high, PLACES))},
        "to_included": span.high_in,
        "words": f"{span_words(span, path)} {path.unit}",
    }


def _driver(driver: Driver) -> dict[str, Any]:
    return {
        "substance": driver.substance.name,
        "cas": driver.substance.cas,
        "pct_of_whole": float(driver.pct_of_whole),
        "part_of_sum": float(driver.part),
        "sum_to_limit": float(driver.reach),
        "rule": driver.criterion.rule,
        "status": driver.criterion.status,
    }


def _breakpoint(one: Breakpoint, path: Path) -> dict[str, Any]:
    return {
        "at": _place(path, one.at),
        "changes": [
            {
                **_element(change.element),
                "change": change_words(change),
                "below": change.below,
                "here": change.here,
                "above": change.above,
            }
            for change in one.changes
        ],
    }


def _ceiling(ceiling: Ceiling, path: Path) -> dict[str, Any]:
    return {
        "goal": ceiling.goal.key,
        "at": _place(path, ceiling.at),
        "included": ceiling.included,
        "to_the_end": ceiling.to_the_end,
        "met_now": ceiling.met_now,
        "words": f"{ceiling.words()} {path.unit}",
    }
