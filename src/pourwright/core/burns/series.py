"""
What a whole series of pieces shows. Only a series is "passed".

That says which criteria were met by what was burnt, never that a candle is safe. The afterglow and
the soot index are judged by their means over the series, where their rules say so.

Sources: as for a single burn (``verdict``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Literal

from pourwright.core.amounts import System
from pourwright.core.burns.findings import AFTERGLOW, VERDICTS, Finding, finding_of, mean_of, plain
from pourwright.core.burns.house import HouseLimits, house_limits
from pourwright.core.burns.record import Burn, Series
from pourwright.core.burns.verdict import judge_burn
from pourwright.core.rules import Rule, rule

SeriesState = Literal["failed", "not complete", "criteria not met", "passed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesVerdict:
    """
    The verdict on a series. ``missing`` says what it still needs; ``findings`` what went against
    it, each with its piece and burn; ``warnings`` are listed and stop nothing.
    """

    state: SeriesState
    findings: tuple[Finding, ...]
    missing: tuple[str, ...]
    warnings: tuple[Finding, ...]
    pieces_whole: int
    pieces_needed: int
    closing: str

    @property
    def passed(self) -> bool:
        return self.state == "passed"


def judge_series(
    series: Series, *, on: date, house: HouseLimits | None = None, units: System = "metric"
) -> SeriesVerdict:
    """
    Return the verdict on a series of pieces.

    Passed: enough pieces, each burnt for its whole life to its natural end with no burn left out,
    the flame read in the first hour of the first burn, the last burn with wall and base read and
    its residue, and no burn worse than a warning, of pieces burnt in part neither.
    """
    house = house or house_limits(on=on)
    fire = rule("burns/fire_safety_eu", on=on)
    by_mean = "afterglow_mean_s" in fire.values
    found: list[Finding] = []
    for piece in series.pieces:
        for burn in piece.burns:
            verdict = judge_burn(burn, series.candle, on=on, house=house, units=units)
            found += [
                _at_piece(finding, f"{piece.name}, burn {burn.number}")
                for finding in verdict.findings
                if not (by_mean and finding.key == AFTERGLOW)
            ]
    found += _series_means(series, fire, on)
    warnings = [finding for finding in found if finding.verdict == "warn"]
    against = [finding for finding in found if finding.verdict != "warn"]
    against.sort(key=lambda finding: VERDICTS.index(finding.verdict))
    missing = [*_lacking(series, house), *_gaps(against, series)]
    whole = sum(piece.whole_life for piece in series.pieces)
    worst = {finding.verdict for finding in against}
    state: SeriesState = "passed"
    if "fail" in worst:
        state = "failed"
    elif worst & {"under-wicked", "over-wicked"}:
        state = "criteria not met"
    elif missing:
        state = "not complete"
    return SeriesVerdict(
        state=state, findings=tuple(against), missing=tuple(missing), warnings=tuple(warnings),
        pieces_whole=whole, pieces_needed=int(house["pieces"]),
        closing=rule("burns/cautions", on=on)["closing"],
    )  # fmt: skip


def _gaps(against: Sequence[Finding], series: Series) -> Iterator[str]:
    spared = tuple(f"{p.name}, burn " for p in series.pieces if p.part_only and not p.whole_life)
    for finding in against:
        if finding.verdict in ("incomplete", "out of scope") and not (
            spared and finding.where.startswith(spared)
        ):
            yield f"{finding.where}: {finding.says}"


def _series_means(series: Series, fire: Rule, on: date) -> Iterator[Finding]:
    glows = [seconds for burn in series.burns for seconds in burn.afterglow_s]
    if glows and "afterglow_mean_s" in fire.values:
        mean, limit = mean_of(glows), fire["afterglow_mean_s"]
        if mean > limit:
            yield finding_of(
                fire, "fail", AFTERGLOW, "The wicks glow or smoke too long after they are out.",
                f"mean {plain(mean)} s of {len(glows)}", f"mean at most {limit} s",
            )  # fmt: skip
    soot = rule("burns/sooting_eu", on=on)
    by_piece = [
        [burn.soot_index for burn in piece.burns if burn.soot_index is not None]
        for piece in series.pieces
    ]
    means = [mean_of(found) for found in by_piece if found]
    if len(means) >= soot["pieces"]:
        mean, limit = mean_of(means), soot["index_mean_below"]
        if mean >= limit:
            yield finding_of(
                soot, "fail", "soot index", "It soots too much.",
                f"mean {plain(mean)} of {len(means)} candles", f"mean below {limit}",
            )  # fmt: skip


def _lacking(series: Series, house: HouseLimits) -> Iterator[str]:
    whole = sum(piece.whole_life for piece in series.pieces)
    needed = int(house["pieces"])
    if whole < needed:
        was = "was burnt for its" if whole == 1 else "were burnt for their"
        yield f"{whole} of {needed} pieces {was} whole life."
    for piece in series.pieces:
        if piece.part_only and not piece.whole_life:
            continue
        if not piece.burns:
            yield f"{piece.name}: no burn yet."
            continue
        numbers = [burn.number for burn in piece.burns]
        if numbers != list(range(1, len(numbers) + 1)):
            yield f"{piece.name}: burns {', '.join(map(str, numbers))}; one was left out."
        if not piece.burns[-1].last:
            yield f"{piece.name}: not burnt to its natural end yet."
            continue
        if any(burn.last for burn in piece.burns[:-1]):
            yield f"{piece.name}: a burn after the one that was its last."
        yield from (f"{piece.name}: {gap}" for gap in _first_and_last(piece.burns))


def _first_and_last(burns: Sequence[Burn]) -> Iterator[str]:
    first, last = burns[0], burns[-1]
    if not any(reading.flame_mm and reading.minute <= 60 for reading in first.readings):
        yield "no flame was read in the first hour of its first burn."
    if not any(r.wall_pool_c is not None or r.wall_dry_c is not None for r in last.readings):
        yield "no wall temperature was read in its last burn, the hottest."
    if not any(reading.base_c is not None for reading in last.readings):
        yield "the base's temperature was not read in its last burn."
    if last.residue_mm is None and last.residue_g is None:
        yield "what was left at the end was not measured."
    for before, after in pairwise(burns):
        if before.minutes is None:
            yield f"burn {before.number} has no end, and burn {after.number} follows."


def _at_piece(finding: Finding, where: str) -> Finding:
    return replace(finding, where=where)
