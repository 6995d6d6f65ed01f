"""
What a single burn shows.

It is judged by the worst that applies, in the order of ``VERDICTS``; each finding names its rule,
edition, reading and limit. A reading equal to a limit keeps it. One burn is never a pass: only a
whole series is (``series``).

Sources: rule tables ``burns/fire_safety_eu`` (EN 15493), ``burns/sooting_eu`` (EN 15426) and
``burns/house_limits`` (the maker's own settings).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pourwright.core.amounts import System, show_length, show_temperature
from pourwright.core.burns.due import due_minutes, pool_deadline_h
from pourwright.core.burns.findings import (
    AFTERGLOW,
    VERDICTS,
    WORDS,
    Finding,
    VerdictName,
    finding_of,
    mean_of,
    plain,
)
from pourwright.core.burns.house import HouseLimits, house_limits, shown_limit
from pourwright.core.burns.record import Burn, Candle, Reading
from pourwright.core.rules import Rule, rule


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
        yield _fire(given, "secondary", says, f"{plain(seconds)} s", f"at most {limit} s")


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
        mean, limit = mean_of(times), given.fire["afterglow_mean_s"]
        if mean > limit:
            says = "The wick glows or smokes too long after it is out."
            yield _fire(given, AFTERGLOW, says, f"mean {plain(mean)} s", f"mean at most {limit} s")
        return
    limit = given.fire["afterglow_each_s"]
    if max(times) > limit:
        says = "The wick glows or smokes too long after it is out."
        yield _fire(given, AFTERGLOW, says, f"{plain(max(times))} s", f"at most {limit} s each")


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
        return finding_of(soot, "out of scope", "soot index", says, read, limit)

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
                    what, f"No {asked} was read when it was due.", f"none at {plain(minute)} min",
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
    limit = f"full by {plain(deadline)} min"
    if full_at is not None and full_at < soonest:
        yield _house(
            given, "over-wicked", "pool too soon", "The pool was full too soon.",
            f"full at {plain(full_at)} min", f"not before {plain(soonest)} min", full_at,
        )  # fmt: skip
    if full_at is not None and full_at <= deadline:
        return
    if (full_at is not None and burn.full_pool_minute == full_at) or (
        open_until is not None and open_until >= deadline
    ):
        read = f"full at {plain(full_at)} min" if full_at is not None else "not full"
        yield _house(
            given, "under-wicked", "pool too late", "The pool was not full in its time.",
            f"{read}; last seen open at {plain(open_until or 0)} min", limit, open_until,
        )  # fmt: skip
        return
    says = (
        "It was put out before the pool was due."
        if burn.minutes < deadline
        else "Whether the pool was full in its time was not seen."
    )
    last = "never" if open_until is None else f"at {plain(open_until)} min"
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
            given, "warn", "soot", "Soot was seen.", f"{plain(worst[1])} of 3 at {_at(worst[0])}",
            f"at most {plain(limit)} of 3", worst[0],
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
            f"Soot index {plain(index)} an hour: judged as the mean of {given.soot['pieces']} "
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
    yield f"pool full between {plain(deadline * house['pool_soonest_pct'] / 100)} and " \
        f"{plain(deadline)} min (house limit)"  # fmt: skip
    yield f"pool at most {given.length(house['pool_depth_mm'])} deep (house limit)"


# --- making findings -----------------------------------------------------------------------------


def _fire(
    given: _Given, key: str, says: str, read: str, limit: str, minute: Fraction | None = None
) -> Finding:
    return finding_of(given.fire, "fail", key, says, read, limit, minute)


def _house(
    given: _Given, verdict: VerdictName, key: str, says: str, read: str, limit: str,
    minute: Fraction | None = None,
) -> Finding:  # fmt: skip
    return finding_of(given.house.rule, verdict, key, says, read, limit, minute, house=True)


def _highest(
    burn: Burn, value: Callable[[Reading], Fraction | None]
) -> tuple[Fraction, Fraction] | None:
    """Return (minute, value) of the highest reading, the first of equals."""
    read = [(r.minute, found) for r in burn.readings if (found := value(r)) is not None]
    return max(read, key=lambda pair: pair[1], default=None)


def _at(minute: Fraction) -> str:
    return f"{plain(minute)} min"
