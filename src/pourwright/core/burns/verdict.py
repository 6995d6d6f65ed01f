"""
What a burn shows, and what a whole series shows.

A single burn is judged by the worst that applies, in the order of ``VERDICTS``; each finding names
its rule, edition, reading and limit. A reading equal to a limit keeps it. Only a whole series is
"passed", and that says which criteria were met by what was burnt, never that a candle is safe.

Sources: rule tables ``burns/fire_safety_eu`` (EN 15493), ``burns/sooting_eu`` (EN 15426) and
``burns/house_limits`` (the maker's own settings).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from pourwright.core.amounts import System, number, show_length, show_temperature
from pourwright.core.burns.house import HouseLimits, house_limits, shown_limit
from pourwright.core.burns.record import Burn, Candle, Reading, Series
from pourwright.core.rules import Rule, rule

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


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnVerdict:
    """The verdict on one burn, with everything found, the worst first; ``notes`` decide nothing."""

    verdict: VerdictName
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]
    criteria: tuple[str, ...]

    @property
    def words(self) -> str:
        return WORDS[self.verdict]


@dataclass(frozen=True, slots=True)
class _Given:
    burn: Burn
    candle: Candle
    house: HouseLimits
    on: date
    fire: Rule
    soot: Rule
    units: System

    def length(self, mm: Fraction | int) -> str:
        return show_length(Fraction(mm), self.units)

    def heat(self, temp_c: Fraction | int) -> str:
        return show_temperature(Fraction(temp_c), self.units)

    def apart(
        self, read: Fraction, limit: Fraction | int, show: Callable[..., str]
    ) -> tuple[str, str]:
        """Write what was read and the limit that it is off; never both alike, as rounded."""
        both = [show(Fraction(value), self.units) for value in (read, limit)]
        if both[0] == both[1]:
            exact = [show(Fraction(value), "metric", style="full") for value in (read, limit)]
            metric = self.units == "metric"
            both = exact if metric else [f"{a} ({b})" for a, b in zip(both, exact, strict=True)]
        return both[0], both[1]


def pool_deadline_h(candle: Candle, house: HouseLimits) -> Fraction:
    """Return the hours within which the pool is to be full (house rule)."""
    by_size = candle.inches * house["pool_hours_per_inch"] + house["pool_hours_more"]
    return min(by_size, house["pool_latest_h"])


def due_minutes(
    candle: Candle, house: HouseLimits, *, until: Fraction
) -> dict[str, list[Fraction]]:
    """
    Return when readings are due in a burn that lasts ``until`` minutes.

    ``flame``: the heights; ``pool``: two widths and depth, hourly and when it must be full.
    """
    table = house.rule
    hourly = [
        Fraction(minute)
        for minute in range(
            table["pool_due_every_minutes"], int(until) + 1, table["pool_due_every_minutes"]
        )
    ]
    flame = {Fraction(m) for m in table["flame_due_minutes"] if m <= until} | set(hourly)
    deadline = 60 * pool_deadline_h(candle, house)
    pool = set(hourly) | ({deadline} if deadline <= until else set())
    return {"flame": sorted(flame), "pool": sorted(pool)}


def judge_burn(
    burn: Burn,
    candle: Candle,
    *,
    on: date,
    house: HouseLimits | None = None,
    units: System = "metric",
) -> BurnVerdict:
    """
    Return the verdict on a single burn under the rules of a day. It is never a pass.

    ``units`` are those that its words are in; what is compared is exact in any.
    """
    house = house or house_limits(on=on)
    given = _Given(
        burn,
        candle,
        house,
        on,
        rule("burns/fire_safety_eu", on=on),
        rule("burns/sooting_eu", on=on),
        units,
    )
    found = [finding for check in CHECKS for finding in check(given)]
    found.sort(key=lambda finding: VERDICTS.index(finding.verdict))
    return BurnVerdict(
        verdict=found[0].verdict if found else "criteria met",
        findings=tuple(found),
        notes=tuple(_notes(given)),
        criteria=tuple(_criteria(given)),
    )


# --- fail ----------------------------------------------------------------------------------------


def _flame_limit(given: _Given) -> Fraction:
    tea_light = given.candle.tea_light
    return Fraction(given.fire["tea_light_flame_mm" if tea_light else "flame_mm"])


def _flame(given: _Given) -> Iterator[Finding]:
    limit = _flame_limit(given)
    worst = _highest(given.burn, lambda reading: max(reading.flame_mm, default=None))
    if worst is not None and worst[1] > limit:
        read, most = given.apart(worst[1], limit, show_length)
        yield _fire(
            given, "flame", "The flame is too high.", f"{read} at {_at(worst[0])}",
            f"at most {most}", worst[0],
        )  # fmt: skip


def _secondary(given: _Given) -> Iterator[Finding]:
    seconds, limit = given.burn.secondary_flame_s, given.fire["secondary_ignition_s"]
    if seconds is not None and seconds > limit:
        says = "Something besides the wick burned too long."
        yield _fire(given, "secondary", says, f"{_plain(seconds)} s", f"at most {limit} s")


def _vessel(given: _Given) -> Iterator[Finding]:
    if given.burn.vessel_failed.strip():
        says = "The vessel did not hold."
        yield _fire(
            given, "vessel", says, given.burn.vessel_failed.strip(), "stays whole and tight"
        )
    if given.burn.pool_flashed:
        yield _fire(given, "flash", "The whole pool caught fire.", "flashed", "never")


def _afterglow(given: _Given) -> Iterator[Finding]:
    times = given.burn.afterglow_s
    if given.burn.relit:
        yield _fire(given, "relit", "It lit again by itself.", "lit again", "never")
    if not times:
        return
    if "afterglow_mean_s" in given.fire.values:
        mean, limit = _mean(times), given.fire["afterglow_mean_s"]
        if mean > limit:
            says = "The wick glows or smokes too long after it is out."
            yield _fire(given, AFTERGLOW, says, f"mean {_plain(mean)} s", f"mean at most {limit} s")
        return
    limit = given.fire["afterglow_each_s"]
    if max(times) > limit:
        says = "The wick glows or smokes too long after it is out."
        yield _fire(given, AFTERGLOW, says, f"{_plain(max(times))} s", f"at most {limit} s each")


def _end_of_life(given: _Given) -> Iterator[Finding]:
    burn = given.burn
    if burn.last and given.candle.container and burn.went_out_by_itself is False:
        says = "At the end of its life it did not go out by itself."
        yield _fire(given, "end of life", says, "put out", "goes out by itself")


def _wall(given: _Given) -> Iterator[Finding]:
    worst = _highest(given.burn, lambda reading: reading.wall_c)
    if worst is None:
        return
    steps: tuple[tuple[VerdictName, str, str], ...] = (
        ("fail", "wall_fail_c", "The outside is too hot."),
        ("warn", "wall_warn_c", "The outside is hot to the touch."),
    )
    for verdict, key, says in steps:
        limit = given.house[key]
        if worst[1] > limit:
            read, most = given.apart(worst[1], limit, show_temperature)
            yield _house(
                given, verdict, "wall", says, f"{read} at {_at(worst[0])}", f"at most {most}",
                worst[0],
            )  # fmt: skip
            return


# --- a method's scope ----------------------------------------------------------------------------


def _scope(given: _Given) -> Iterator[Finding]:
    burn, candle, soot = given.burn, given.candle, given.soot
    if burn.soot_index is None:
        return

    def out(says: str, read: str, limit: str) -> Finding:
        return _of(soot, "out of scope", "soot index", says, read, limit)

    if candle.wick_count > soot["most_wicks"]:
        yield out(
            "The soot index is for candles of one wick.", f"{candle.wick_count} wicks", "one wick"
        )
    if candle.inside_diameter_mm > soot["largest_diameter_mm"]:
        wide, most = given.apart(
            candle.inside_diameter_mm, soot["largest_diameter_mm"], show_length
        )
        yield out("The soot index is for candles up to a width.", wide, f"at most {most}")
    if burn.room_c is not None and abs(burn.room_c - soot["room_c"]) > soot["room_within_c"]:
        yield out(
            "The soot index is measured in a room of set temperature.",
            given.heat(burn.room_c), f"{given.heat(soot['room_c'] - soot['room_within_c'])} to "
            f"{given.heat(soot['room_c'] + soot['room_within_c'])}",
        )  # fmt: skip


# --- incomplete ----------------------------------------------------------------------------------


def _missing(given: _Given) -> Iterator[Finding]:
    burn = given.burn

    def lacks(key: str, says: str, read: str, limit: str) -> Finding:
        return _house(given, "incomplete", key, says, read, limit)

    if burn.minutes is None:
        yield lacks("ended", "It still burns, or its end was not written down.", "no end", "an end")
        return
    due = due_minutes(given.candle, given.house, until=burn.minutes)
    within = given.house.rule["due_within_minutes"]
    has: dict[str, Callable[[Reading], bool]] = {
        "flame": lambda reading: bool(reading.flame_mm),
        "pool": lambda reading: len(reading.pool_mm) >= 2,
    }
    full, _ = _full_pool(given)
    for what, minutes in due.items():
        for minute in minutes:
            if what == "pool" and (
                minute not in due["flame"] or (full is not None and full <= minute)
            ):
                # A pool that was full stays full; when it must be full is judged below.
                continue
            near = [r for r in burn.readings if abs(r.minute - minute) <= within and has[what](r)]
            if not near:
                asked = "flame height" if what == "flame" else "pool in two directions"
                yield lacks(
                    what, f"No {asked} was read when it was due.", f"none at {_plain(minute)} min",
                    f"within {within} min of it",
                )  # fmt: skip
    if not burn.readings:
        yield lacks("readings", "Nothing was read during the burn.", "no reading", "one at least")
        return
    late = [r for r in burn.readings if r.minute >= min(burn.minutes, Fraction(240)) - within]
    if not any(reading.depth_mm is not None for reading in late):
        yield lacks("depth", "The pool's depth was not read at the end.", "no depth", "a depth")
    if not any(reading.walls for reading in late):
        yield lacks("wall", "No outside temperature was read at the end.", "none", "a temperature")
    if burn.last and given.candle.container and burn.went_out_by_itself is None:
        yield lacks(
            "end of life", "Whether it went out by itself at its end was not written down.",
            "not said", "yes or no",
        )  # fmt: skip


# --- too little, too much ------------------------------------------------------------------------


def _full_pool(given: _Given) -> tuple[Fraction | None, Fraction | None]:
    """Return when the pool was first known full, and when it was last known not to be."""
    full_at = given.burn.full_pool_minute
    open_until: Fraction | None = None
    wide = given.candle.inside_diameter_mm * given.house["pool_full_pct"] / 100
    for reading in given.burn.readings:
        if len(reading.pool_mm) < 2:
            continue
        if min(reading.pool_mm) >= wide:
            full_at = reading.minute if full_at is None else min(full_at, reading.minute)
        elif full_at is None:
            open_until = reading.minute
    if given.burn.full_pool_minute is not None and full_at is not None:
        open_until = full_at  # its time was watched, so it was not full before
    return full_at, open_until


def _pool_time(given: _Given) -> Iterator[Finding]:
    burn = given.burn
    if burn.minutes is None or (burn.last and burn.went_out_by_itself):
        # The last burn ends where the wax does, often before the pool's time.
        return
    deadline = 60 * pool_deadline_h(given.candle, given.house)
    soonest = deadline * given.house["pool_soonest_pct"] / 100
    full_at, open_until = _full_pool(given)
    limit = f"full by {_plain(deadline)} min"
    if full_at is not None and full_at < soonest:
        yield _house(
            given, "over-wicked", "pool too soon", "The pool was full too soon.",
            f"full at {_plain(full_at)} min", f"not before {_plain(soonest)} min", full_at,
        )  # fmt: skip
    if full_at is not None and full_at <= deadline:
        return
    if (full_at is not None and burn.full_pool_minute == full_at) or (
        open_until is not None and open_until >= deadline
    ):
        read = f"full at {_plain(full_at)} min" if full_at is not None else "not full"
        yield _house(
            given, "under-wicked", "pool too late", "The pool was not full in its time.",
            f"{read}; last seen open at {_plain(open_until or 0)} min", limit, open_until,
        )  # fmt: skip
        return
    says = (
        "It was put out before the pool was due."
        if burn.minutes < deadline
        else "Whether the pool was full in its time was not seen."
    )
    last = "never" if open_until is None else f"at {_plain(open_until)} min"
    yield _house(given, "incomplete", "pool time", says, f"last seen open {last}", limit)


def _depth(given: _Given) -> Iterator[Finding]:
    table, limit = given.house.rule, given.house["pool_depth_mm"]
    until = table["depth_within_minutes"] + table["due_within_minutes"]
    worst = _highest(given.burn, lambda r: r.depth_mm if r.minute <= until else None)
    if worst is not None and worst[1] > limit:
        read, most = given.apart(worst[1], limit, show_length)
        yield _house(
            given, "over-wicked", "depth", "The pool is too deep.", f"{read} at {_at(worst[0])}",
            f"at most {most}", worst[0],
        )  # fmt: skip


# --- warnings ------------------------------------------------------------------------------------


def _flame_warning(given: _Given) -> Iterator[Finding]:
    worst = _highest(given.burn, lambda reading: max(reading.flame_mm, default=None))
    limit = given.house["flame_warn_mm"]
    if worst is not None and limit < worst[1] <= _flame_limit(given):
        read, most = given.apart(worst[1], limit, show_length)
        yield _house(
            given, "warn", "flame", "The flame is high.", f"{read} at {_at(worst[0])}",
            f"at most {most}", worst[0],
        )  # fmt: skip


def _soot_warning(given: _Given) -> Iterator[Finding]:
    limit = given.house["soot_warn_above"]
    worst = _highest(given.burn, lambda r: None if r.soot is None else Fraction(r.soot))
    if worst is not None and worst[1] > limit:
        yield _house(
            given, "warn", "soot", "Soot was seen.", f"{_plain(worst[1])} of 3 at {_at(worst[0])}",
            f"at most {_plain(limit)} of 3", worst[0],
        )  # fmt: skip


CHECKS: tuple[Callable[[_Given], Iterator[Finding]], ...] = (
    _flame, _secondary, _vessel, _afterglow, _end_of_life, _wall, _scope, _missing, _pool_time,
    _depth, _flame_warning, _soot_warning,
)  # fmt: skip


def _notes(given: _Given) -> Iterator[str]:
    worst = _highest(given.burn, lambda reading: max(reading.flame_mm, default=None))
    smoke = given.house.rule["smoke_point_mm"]
    if worst is not None and worst[1] > smoke:
        most = given.length(smoke)
        yield f"Flames above {most} may smoke; where they do depends on wick and wax."
    if (index := given.burn.soot_index) is not None:
        yield (
            f"Soot index {_plain(index)} an hour: judged as the mean of {given.soot['pieces']} "
            "candles, not by one burn."
        )
    for key, reason in given.house.reasons.items():
        if not given.house.is_default(key):
            row = next(row for row in given.house.rule["limits"] if row["key"] == key)
            yield (
                f"Your own house limit ({row['what']}) is "
                f"{shown_limit(given.house[key], row['unit'], given.units)}: {reason}"
            )
    yield "One burn is no test of a candle: only a whole series is passed."


def _criteria(given: _Given) -> Iterator[str]:
    fire, house = given.fire, given.house
    flame = _flame_limit(given)
    deadline = 60 * pool_deadline_h(given.candle, house)
    yield f"flame at most {given.length(flame)} ({fire['edition']})"
    seconds = fire["secondary_ignition_s"]
    yield f"nothing besides the wick burns over {seconds} s ({fire['edition']})"
    yield f"vessel stays whole and tight, pool never flashes ({fire['edition']})"
    yield f"outside at most {given.heat(house['wall_fail_c'])} (house limit)"
    yield f"pool full between {_plain(deadline * house['pool_soonest_pct'] / 100)} and " \
        f"{_plain(deadline)} min (house limit)"  # fmt: skip
    yield f"pool at most {given.length(house['pool_depth_mm'])} deep (house limit)"


# --- the series ----------------------------------------------------------------------------------

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
        mean, limit = _mean(glows), fire["afterglow_mean_s"]
        if mean > limit:
            yield _of(
                fire, "fail", AFTERGLOW, "The wicks glow or smoke too long after they are out.",
                f"mean {_plain(mean)} s of {len(glows)}", f"mean at most {limit} s",
            )  # fmt: skip
    soot = rule("burns/sooting_eu", on=on)
    by_piece = [
        [burn.soot_index for burn in piece.burns if burn.soot_index is not None]
        for piece in series.pieces
    ]
    means = [_mean(found) for found in by_piece if found]
    if len(means) >= soot["pieces"]:
        mean, limit = _mean(means), soot["index_mean_below"]
        if mean >= limit:
            yield _of(
                soot, "fail", "soot index", "It soots too much.",
                f"mean {_plain(mean)} of {len(means)} candles", f"mean below {limit}",
            )  # fmt: skip


def _lacking(series: Series, house: HouseLimits) -> Iterator[str]:
    whole = sum(piece.whole_life for piece in series.pieces)
    needed = int(house["pieces"])
    if whole < needed:
        yield f"{whole} of {needed} pieces were burnt for their whole life."
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


# --- making findings -----------------------------------------------------------------------------


def _of(
    table: Rule, verdict: VerdictName, key: str, says: str, read: str, limit: str,
    minute: Fraction | None = None, *, house: bool = False,
) -> Finding:  # fmt: skip
    return Finding(
        verdict=verdict, key=key, says=says, reading=read, limit=limit, rule=table.title,
        edition=table["edition"], source=table.source, status=table.status, house=house,
        minute=minute,
    )  # fmt: skip


def _fire(
    given: _Given, key: str, says: str, read: str, limit: str, minute: Fraction | None = None
) -> Finding:
    return _of(given.fire, "fail", key, says, read, limit, minute)


def _house(
    given: _Given, verdict: VerdictName, key: str, says: str, read: str, limit: str,
    minute: Fraction | None = None,
) -> Finding:  # fmt: skip
    return _of(given.house.rule, verdict, key, says, read, limit, minute, house=True)


def _highest(
    burn: Burn, value: Callable[[Reading], Fraction | None]
) -> tuple[Fraction, Fraction] | None:
    """Return (minute, value) of the highest reading, the first of equals."""
    read = [(r.minute, found) for r in burn.readings if (found := value(r)) is not None]
    return max(read, key=lambda pair: pair[1], default=None)


def _mean(values: Sequence[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


def _at(minute: Fraction) -> str:
    return f"{_plain(minute)} min"


def _plain(value: Fraction | int) -> str:
    return number(value, places=2, strip=True)
