"""
A recorded burn as the planner learns from it, and whether it met the search's criteria.

The search has a window of its own for the pool, wider than the verdict's on one burn: a pool that
is heated steadily widens by some three in a hundred between two and four hours, so that hardly any
wick would keep the verdict's "not before half the time" in most of its burns.
"""

from __future__ import annotations

from fractions import Fraction

from pourwright.core.burns.criteria import ROOM_C, Criteria
from pourwright.core.burns.learning import Prior, Seen, Setup, pool_state
from pourwright.core.burns.record import Burn


def seen_of(burn: Burn, setup: Setup, *, criteria: Criteria, prior: Prior) -> Seen:
    """
    Return what a burn taught.

    Where the readings do not decide whether the criteria were met, ``passed`` is None: its readings
    still count, its record does not.
    """
    hours = [(float(r.minute) / 60, r) for r in burn.readings]
    widths = [(at, float(sum(r.pool_mm)) / len(r.pool_mm)) for at, r in hours if r.pool_mm]
    wide = setup.inside_diameter_mm
    touched = None if burn.full_pool_minute is None else float(burn.full_pool_minute) / 60
    if touched is None:
        # Seen at the wall first at a reading: it touched between that and the one before.
        at_wall = [at for at, width in widths if width >= 0.995 * wide]
        if at_wall:
            before = max((at for at, width in widths if at < at_wall[0]), default=0.0)
            touched = (before + at_wall[0]) / 2
    state = pool_state(
        widths, touched_h=touched, inside_diameter_mm=wide, curve_h=prior.curve_h
    )  # fmt: skip
    depths = [float(r.depth_mm) for at, r in hours if r.depth_mm is not None and at <= 4.25]
    walls = [float(r.wall_c) for _, r in hours if r.wall_c is not None]
    room = ROOM_C if burn.room_c is None else float(burn.room_c)
    depth = max(depths, default=None)
    excess = max(walls) - room if walls else None
    return Seen(
        setup=setup, passed=_met(burn, widths, touched, wide, depth, excess, criteria),
        rate_g_per_h=_float(burn.rate_g_per_h), pool=None if state is None else state[0],
        pool_sd=0.02 if state is None else state[1], depth_mm=depth, wall_excess_k=excess,
    )  # fmt: skip


def _met(
    burn: Burn,
    widths: list[tuple[float, float]],
    touched: float | None,
    wide: float,
    depth: float | None,
    excess: float | None,
    criteria: Criteria,
) -> bool | None:
    if touched is not None and touched < criteria.soonest_h:
        return False
    if depth is not None and depth > criteria.depth_mm:
        return False
    if excess is not None and excess > criteria.wall_excess_k:
        return False
    full = criteria.full_share * wide
    in_time = [at for at, width in widths if width >= full and at <= criteria.latest_h]
    if in_time or (touched is not None and touched <= criteria.latest_h):
        return None if depth is None or excess is None else True
    late = [at for at, width in widths if width < full and at >= criteria.latest_h]
    return False if late or (touched or 0) > criteria.latest_h else None


def _float(value: Fraction | None) -> float | None:
    return None if value is None else float(value)
