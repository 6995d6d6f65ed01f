"""
How many of each design to bring to a market day, on a stall with so much room.

One design alone: the smallest number of which enough is wanted with a chance of at least
cu / (cu + co), cu being the margin lost with each one too few and co what one brought back costs
(the newsvendor). With limited room: the next unit goes to the design whose expected gain for its
room is the largest, (cu + co) P(D > Q) - co; for equal sizes that is the best there is, since each
design's gains only fall (the discrete form of the Lagrange rule of Hadley and Whitin, Analysis of
Inventory Systems, 1963). Unequal sizes are solved exactly by dynamic programming over the room.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.planning.demand_fit import (
    Fit,
    Floats,
    Rate,
    Seen,
    day_factors,
    demand,
    demand_given,
    fitted,
)

FEW_DAYS = 4
MOST_ROOM = 20_000
MOST_DESIGNS = 500


class BadMarket(BadInput):
    """What is said of a market or its designs cannot be reckoned with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ware:
    """
    A design as it is sold at a stall.

    ``too_few_minor100`` is the margin lost with each one that is wanted and not there,
    ``too_many_minor100`` what each one brought back costs (handling, breakage, tied cash).
    ``room`` is in places of the stall. ``most``: no more are there to bring. ``price_minor100``
    is for the takings alone.
    """

    key: str
    name: str
    too_few_minor100: int
    too_many_minor100: int
    room: Fraction = Fraction(1)
    most: int | None = None
    price_minor100: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bring:
    """
    One design's answer.

    ``without_limit`` is the number were there room for all. ``low`` and ``high``: on eight days of
    ten the demand lies between. ``enough`` is the chance that ``bring`` is enough. The costs are
    what is to be expected of too few and of too many.
    """

    key: str
    bring: int
    without_limit: int
    days_seen: int
    sold_out_days: int
    expected: float
    low: int
    high: int
    enough: float
    expected_sold: float
    too_few_cost_minor100: int
    too_many_cost_minor100: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketAnswer:
    """
    What to bring to one market day.

    ``last_gain_minor100`` is what the last unit taken brings, ``next_gain_minor100`` what one more
    place on the stall would (None: there is no limit, or nothing more is worth bringing).
    ``sold_low`` to ``sold_high`` holds the pieces sold on eight days of ten; designs move together
    with the day, so that it is wider than each design by itself would say.
    """

    wares: tuple[Bring, ...]
    room: Fraction | None
    room_used: Fraction
    margin_minor100: int
    last_gain_minor100: int | None
    next_gain_minor100: int | None
    expected_sold: float
    sold_low: int
    sold_high: int
    takings_minor100: int
    takings_spread_minor100: int
    day_factor_spread: float | None
    words: tuple[str, ...]


def newsvendor(chances: Floats, *, too_few: float, too_many: float) -> int:
    """
    Return the smallest Q with F(Q) >= too_few / (too_few + too_many).

    >>> newsvendor(np.array([0.2, 0.3, 0.5]), too_few=1, too_many=1)
    1
    """
    if too_few <= 0:
        return 0
    ratio = too_few / (too_few + too_many)
    cumulative = np.cumsum(chances)
    return int(np.searchsorted(cumulative, ratio - 1e-12))


def gains(chances: Floats, *, too_few: float, too_many: float) -> Floats:
    """Return the expected gain of the first, second ... unit brought; it only falls."""
    more = np.maximum(1 - np.cumsum(chances), 0.0)  # P(D > 0), P(D > 1) ...
    return np.asarray((too_few + too_many) * more - too_many)


def shared_room(
    gain: Sequence[Floats], room: Sequence[Fraction], limit: Fraction | None
) -> list[int]:
    """
    Return how many of each to bring for the largest sum of gains within the room.

    ``gain[i]`` holds what each further unit of i brings, falling; units that bring nothing or less
    are left. Exact: by marginal gain for equal sizes, else by dynamic programming, in so far as
    the room is at most ``MOST_ROOM`` steps of the sizes' common divisor.
    """
    worth = [int(np.count_nonzero(row > 0)) for row in gain]
    if (
        limit is None
        or sum((r * n for r, n in zip(room, worth, strict=True)), Fraction(0)) <= limit
    ):
        return worth
    if len(set(room)) <= 1:
        return _by_gain(gain, room, limit, worth)
    scale = lcm(*(size.denominator for size in room))
    steps = int(limit * scale)
    if steps > MOST_ROOM:
        return _by_gain(gain, room, limit, worth)
    return _by_programme(gain, [int(size * scale) for size in room], steps, worth)


def _by_gain(
    gain: Sequence[Floats], room: Sequence[Fraction], limit: Fraction, worth: Sequence[int]
) -> list[int]:
    order = sorted(
        (-float(gain[i][q]) / float(room[i]), i, q)
        for i in range(len(gain))
        for q in range(worth[i])
    )
    taken, left = [0] * len(gain), limit
    for _, i, q in order:
        if taken[i] == q and room[i] <= left:
            taken[i] += 1
            left -= room[i]
    return taken


def _by_programme(
    gain: Sequence[Floats], sizes: Sequence[int], steps: int, worth: Sequence[int]
) -> list[int]:
    best = np.zeros(steps + 1)
    counts = []
    for row, size, most in zip(gain, sizes, worth, strict=True):
        sums = np.concatenate([[0.0], np.cumsum(row[:most])])
        new, chosen = best.copy(), np.zeros(steps + 1, dtype=np.int64)
        for count in range(1, min(most, steps // size) + 1):
            tried = best[: steps + 1 - count * size] + sums[count]
            better = tried > new[count * size :] + 1e-12
            new[count * size :][better] = tried[better]
            chosen[count * size :][better] = count
        counts.append(chosen)
        best = new
    taken, left = [0] * len(gain), steps
    for i in reversed(range(len(gain))):
        taken[i] = int(counts[i][left])
        left -= taken[i] * sizes[i]
    return taken


# --- a market day --------------------------------------------------------------------------------


def what_to_bring(
    wares: Sequence[Ware], seen: Mapping[str, Sequence[Seen]], *, room: Fraction | None = None,
    exposure: float = 1.0, guess: float | None = None, fit: Fit | None = None,
) -> MarketAnswer:  # fmt: skip
    """
    Return how many of each to bring to a day of this exposure.

    ``seen`` holds each design's past days at this market by its key; a design without any is
    reckoned by what the others do. ``guess`` is the maker's word for a design's usual day, needed
    where nothing at all has been seen. ``fit`` replaces what is learnt. Raises ``BadMarket``.
    """
    _check(wares, seen, room, exposure)
    if fit is None:
        if not any(seen.get(ware.key) for ware in wares) and guess is None:
            raise BadMarket(
                "No past day at this market is known; say how many of a design you expect to sell "
                "on a usual day, and the answer will be as wide as that guess is."
            )
        fit = fitted({ware.key: list(seen.get(ware.key, ())) for ware in wares}, guess=guess)
    rates = [_rate(fit, ware.key) for ware in wares]
    chances = [demand(rate, exposure=exposure, day_shape=fit.day_shape) for rate in rates]
    gain = [
        gains(chance, too_few=ware.too_few_minor100, too_many=ware.too_many_minor100)
        for ware, chance in zip(wares, chances, strict=True)
    ]
    free = [int(np.count_nonzero(row > 0)) for row in gain]
    capped = [
        row if ware.most is None else row[: ware.most]
        for ware, row in zip(wares, gain, strict=True)
    ]
    taken = shared_room(capped, [ware.room for ware in wares], room)
    brings = tuple(
        _bring(ware, chance, count, alone, list(seen.get(ware.key, ())))
        for ware, chance, count, alone in zip(wares, chances, taken, free, strict=True)
    )
    return _answer(wares, brings, capped, rates, fit, room, exposure)


def _rate(fit: Fit, key: str) -> Rate:
    return fit.rates.get(key, Rate(fit.prior.shape, fit.prior.rate))


def _check(
    wares: Sequence[Ware], seen: Mapping[str, Sequence[Seen]], room: Fraction | None,
    exposure: float,
) -> None:  # fmt: skip
    if not wares:
        raise BadMarket("No design is to be brought; name at least one.")
    if len(wares) > MOST_DESIGNS:
        raise BadMarket(f"{len(wares)} designs are too many for one stall; {MOST_DESIGNS} at most.")
    if len({ware.key for ware in wares}) != len(wares):
        raise BadMarket("A design is named twice; name each once.")
    if room is not None and room < 0:
        raise BadMarket(f"The stall has {float(room):g} places; give 0 or more.")
    if not 0 < exposure <= 100:
        raise BadMarket(f"The day is {exposure:g} of a usual one; give more than 0, up to 100.")
    for ware in wares:
        if ware.too_few_minor100 < 0 or ware.too_many_minor100 < 0:
            raise BadMarket(f"{ware.name}: the cost of too few and of too many is 0 or more.")
        if ware.too_few_minor100 and not ware.too_many_minor100:
            raise BadMarket(
                f"{ware.name}: bringing one back costs nothing, so that no number is too many; "
                "say what carrying, breakage and tied money cost for one."
            )
        if ware.room <= 0:
            raise BadMarket(f"{ware.name} takes {float(ware.room):g} places; give more than 0.")
    for rows in seen.values():
        for row in rows:
            if row.sold < 0 or not 0 < row.exposure <= 100:
                raise BadMarket(
                    f"{row.sold} sold on {row.exposure:g} of a usual day: sales are 0 or more, "
                    "a day more than 0 and up to 100."
                )


def _bring(ware: Ware, chance: Floats, count: int, alone: int, seen: Sequence[Seen]) -> Bring:
    cumulative = np.cumsum(chance)
    wanted = np.arange(len(chance))
    short = float(chance @ np.maximum(wanted - count, 0))
    over = float(chance @ np.maximum(count - wanted, 0))
    expected = float(chance @ wanted)
    enough = float(cumulative[min(count, len(chance) - 1)])
    low, high = (int(np.searchsorted(cumulative, share)) for share in (0.1, 0.9))
    out = sum(1 for row in seen if row.sold_out)
    return Bring(
        key=ware.key, bring=count, without_limit=alone, days_seen=len(seen), sold_out_days=out,
        expected=expected, low=low, high=high, enough=enough, expected_sold=expected - short,
        too_few_cost_minor100=round(short * ware.too_few_minor100),
        too_many_cost_minor100=round(over * ware.too_many_minor100),
        words=_words(ware, count, alone, enough, low, high, len(seen), out),
    )  # fmt: skip


def _words(
    ware: Ware, count: int, alone: int, enough: float, low: int, high: int, days: int, out: int
) -> str:
    said = f"{ware.name}: bring {count}. Between {low} and {high} are wanted on eight days of ten"
    said += f"; {count} is enough on {round(100 * enough)} days of 100."
    if ware.most is not None and alone > ware.most and count == ware.most:
        said += f" All that there are; {alone} would be right."
    elif count < alone:
        said += f" With room for all it would be {alone}."
    if days == 0:
        said += " Never brought here: reckoned by what the other designs do."
    elif days < FEW_DAYS:
        said += f" Only {days} {'day' if days == 1 else 'days'} seen, so the spread is wide."
    if out:
        said += f" Sold out on {out} of {days}: more was wanted than was sold."
    return said


def _answer(
    wares: Sequence[Ware], brings: tuple[Bring, ...], gain: Sequence[Floats],
    rates: Sequence[Rate], fit: Fit, room: Fraction | None, exposure: float,
) -> MarketAnswer:  # fmt: skip
    taken = [row.bring for row in brings]
    used = sum((w.room * n for w, n in zip(wares, taken, strict=True)), Fraction(0))
    margin = sum(float(row[:n].sum()) for row, n in zip(gain, taken, strict=True))
    last = [float(row[n - 1]) for row, n in zip(gain, taken, strict=True) if n]
    following = None
    if room is not None:
        more = shared_room(gain, [w.room for w in wares], room + 1)
        better = sum(float(row[:n].sum()) for row, n in zip(gain, more, strict=True)) - margin
        following = round(better) if better > 0.5 else None
    sold, spread, low, high = _sold(wares, taken, rates, fit, exposure)
    return MarketAnswer(
        wares=brings, room=room, room_used=used, margin_minor100=round(margin),
        last_gain_minor100=round(min(last)) if last else None, next_gain_minor100=following,
        expected_sold=sum(row.expected_sold for row in brings), sold_low=low, sold_high=high,
        takings_minor100=round(sold), takings_spread_minor100=round(spread),
        day_factor_spread=None if fit.day_shape is None else fit.day_shape**-0.5,
        words=_all_words(brings, following, fit, low, high, limited=room is not None),
    )  # fmt: skip


def _sold(
    wares: Sequence[Ware], taken: Sequence[int], rates: Sequence[Rate], fit: Fit, exposure: float
) -> tuple[float, float, int, int]:
    """Return the takings' mean and standard deviation, and pieces sold on eight days of ten."""
    total = np.zeros(sum(taken) + 1)
    means, variances = [], []
    factors = day_factors(fit.day_shape)
    for factor in factors:
        sold, mean, variance = np.ones(1), 0.0, 0.0
        for ware, count, rate in zip(wares, taken, rates, strict=True):
            chance = demand_given(rate, exposure=exposure, factor=float(factor), most=count)
            chance[count] = max(0.0, 1 - float(chance[:count].sum()))
            sold = np.convolve(sold, chance)
            pieces = np.arange(count + 1)
            one = float(chance @ pieces)
            mean += ware.price_minor100 * one
            variance += ware.price_minor100**2 * (float(chance @ pieces**2) - one**2)
        total += sold / len(factors)
        means.append(mean)
        variances.append(variance)
    cumulative = np.cumsum(total)
    low, high = (int(np.searchsorted(cumulative, share)) for share in (0.1, 0.9))
    spread = float(np.mean(variances) + np.var(means)) ** 0.5
    return float(np.mean(means)), spread, low, high


def _all_words(
    brings: Sequence[Bring], following: int | None, fit: Fit, low: int, high: int, *, limited: bool
) -> tuple[str, ...]:
    pieces = sum(row.bring for row in brings)
    said = [f"{pieces} in all; on eight days of ten between {low} and {high} of them are sold."]
    if fit.day_shape is not None:
        said.append(
            f"One day there differs from another by some {round(100 * fit.day_shape**-0.5)} % for "
            "all designs alike (weather, footfall)."
        )
    if limited and following is None:
        said.append("More room on the stall would bring nothing.")
    if any(row.sold_out_days for row in brings):
        said.append(
            "A day that sold out says only that at least so many were wanted; note the time, and "
            "it says more."
        )
    said.append(
        "The curve is flat: one or two more or fewer of a design change little. What changes much "
        "is to take sales of a day that sold out for its demand."
    )
    return tuple(said)
