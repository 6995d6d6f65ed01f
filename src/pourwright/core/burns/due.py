"""When a burn is to be read, and by when its pool is to be full: by the maker's own limits."""

from __future__ import annotations

from fractions import Fraction

from pourwright.core.burns.house import HouseLimits
from pourwright.core.burns.record import Candle


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
