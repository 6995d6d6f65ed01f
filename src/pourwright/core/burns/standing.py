"""
Whether the test burns on record still speak for a design as it is now.

A series counts for exactly what was burnt. After a small change one more piece may do; after any
other the series is burnt anew. What each change asks for: rule table ``burns/after_a_change``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from pourwright.core.amounts import System
from pourwright.core.burns.change import Difference, Fingerprint, Retest, difference
from pourwright.core.burns.findings import Finding
from pourwright.core.burns.house import HouseLimits, house_limits
from pourwright.core.burns.record import Candle, Piece, Series
from pourwright.core.burns.series import SeriesVerdict, judge_series

StandingState = Literal["passed", "failed", "criteria not met", "not complete", "no series"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Burnt:
    """A piece that was put to the test, and what exactly it was."""

    fingerprint: Fingerprint
    piece: Piece


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """
    What the burns say of a design as it is now.

    ``verdict`` is that on the pieces that are exactly this candle, None where there are none.
    ``changed`` and ``tests`` compare with the nearest that was tested before; ``gaps`` name what is
    missing, one phrase each; ``says`` is for the maker.
    """

    state: StandingState
    says: str
    gaps: tuple[str, ...] = ()
    verdict: SeriesVerdict | None = None
    changed: tuple[str, ...] = ()
    tests: tuple[Retest, ...] = ()


def standing(
    now: Fingerprint,
    tested: Sequence[Burnt],
    *,
    candle: Candle,
    on: date,
    house: HouseLimits | None = None,
    units: System = "metric",
) -> Standing:
    """
    Return what the pieces on record, oldest first, say of a design as it is now.

    Pieces burnt in part, for a search, count too: what failed there failed. Its words are in
    ``units``.
    """
    house = house or house_limits(on=on)
    groups = _groups(tested, on)
    exact = next((pieces for print_, pieces in groups if _same(print_, now, on)), ())
    verdict = judge_series(Series(candle=candle, pieces=exact), on=on, house=house, units=units)
    own = verdict if exact else None
    if exact and verdict.state in ("failed", "criteria not met"):
        worst = _against(verdict)[0]
        says = f"{worst.where}: {worst.says} {worst.reading}; {worst.limit}."
        return Standing(
            state=verdict.state, says=says, verdict=own,
            gaps=tuple(f"{finding.where}: {finding.says}" for finding in _against(verdict)),
        )  # fmt: skip
    if exact and verdict.passed:
        return Standing(state="passed", says=_passed_words(verdict), verdict=own)

    earlier = [
        (difference(print_, now, on=on), judge_series(
            Series(candle=candle, pieces=pieces), on=on, house=house
        ))
        for print_, pieces in reversed(groups)
        if not _same(print_, now, on)
    ]  # fmt: skip
    carried = [change for change, old in earlier if old.passed and _small(change)]
    if carried:
        change = min(carried, key=lambda found: len(found.tests))
        return _after_a_small_change(change, exact, candle, on, house, own)
    nearest = min(earlier, key=lambda pair: len(pair[0].changed), default=None)
    changed, tests = (nearest[0].changed, nearest[0].tests) if nearest else ((), ())
    if exact:
        says = " ".join(verdict.missing[:3])
        return Standing(
            state="not complete", says=f"The series is not complete. {says}",
            gaps=("burn series",), verdict=own, changed=changed, tests=tests,
        )  # fmt: skip
    says = "No series of test burns on record."
    if nearest:
        asked = _and([test.title.lower() for test in tests])
        says = f"Tested with another {_and(changed, 'or')}. This candle needs: {asked}."
    return Standing(
        state="no series", says=says, gaps=("burn series",), changed=changed, tests=tests
    )  # fmt: skip


def _after_a_small_change(
    change: Difference,
    exact: tuple[Piece, ...],
    candle: Candle,
    on: date,
    house: HouseLimits,
    own: SeriesVerdict | None,
) -> Standing:
    """The old series stands where one piece, burnt for its whole life, differs in nothing."""
    what = _and(change.changed)
    if not any(test.key == "one_life" for test in change.tests):
        return Standing(
            state="passed", says=f"The series stands: {what} asks for no burning.", verdict=own,
            changed=change.changed, tests=change.tests,
        )  # fmt: skip
    values = MappingProxyType({**house.values, "pieces": Fraction(1)})
    one = judge_series(
        Series(candle=candle, pieces=exact), on=on, house=replace(house, values=values)
    )
    if exact and one.passed:
        return Standing(
            state="passed", verdict=own, changed=change.changed, tests=change.tests,
            says=f"The series before the change of {what} stands: one piece burnt for its whole "
            f"life since then met the criteria, too. {one.closing}",
        )  # fmt: skip
    return Standing(
        state="not complete" if exact else "no series", verdict=own,
        says=f"The series stands but for a new {what}: burn one piece for its whole life.",
        gaps=tuple(f"one piece burnt after a new {part}" for part in change.changed),
        changed=change.changed, tests=change.tests,
    )  # fmt: skip


def _groups(tested: Sequence[Burnt], on: date) -> list[tuple[Fingerprint, tuple[Piece, ...]]]:
    found: list[tuple[Fingerprint, tuple[Piece, ...]]] = []
    for one in tested:
        for place, (print_, pieces) in enumerate(found):
            if _same(print_, one.fingerprint, on):
                found[place] = (print_, (*pieces, one.piece))
                break
        else:
            found.append((one.fingerprint, (one.piece,)))
    return found


def _same(one: Fingerprint, other: Fingerprint, on: date) -> bool:
    return not difference(one, other, on=on).changed


def _small(change: Difference) -> bool:
    return not any(test.key == "series" for test in change.tests)


def _against(verdict: SeriesVerdict) -> list[Finding]:
    """What was found, not what lacks; each is a gap of its own: a reason passes no later one."""
    return [f for f in verdict.findings if f.verdict not in ("incomplete", "out of scope")]


def _passed_words(verdict: SeriesVerdict) -> str:
    warned = f" Warnings: {len(verdict.warnings)}." if verdict.warnings else ""
    return (
        f"{verdict.pieces_whole} pieces burnt for their whole life met the criteria.{warned} "
        f"{verdict.closing}"
    )


def _and(words: Sequence[str], last: str = "and") -> str:
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
