"""
Scent throw over cure time: what ranking panels say of the same candle at several ages.

A ranking panel compares only what stood before it on that day. Each age is therefore shown by the
share of the others that it was put ahead of, and growth is read within a panel, never across.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pourwright.core.panels import BadPanel, Ranking


@dataclass(frozen=True, slots=True, kw_only=True)
class Growth:
    """
    From which age on no later one was ahead, and that in words.

    ``from_days`` is None where the panel told none apart. ``at_the_last`` says that the last age
    was still ahead of one before it, so that the end of growth was not seen.
    """

    from_days: int | None
    at_the_last: bool
    says: tuple[str, ...]


def ahead_share(*, rank_sum: float, assessors: int, candles: int) -> float:
    """
    Return the share of comparisons with the other candles that one won, 0 to 1, ties half.

    >>> ahead_share(rank_sum=12, assessors=12, candles=4)
    1.0
    """
    if candles < 2 or assessors < 1 or not assessors <= rank_sum <= assessors * candles:
        raise BadPanel(
            f"A rank sum of {rank_sum:g} by {assessors} assessors over {candles} candles cannot be."
        )
    return (assessors * candles - rank_sum) / (assessors * (candles - 1))


def growth(found: Ranking, cure_days: Sequence[int | None]) -> Growth:
    """
    Return where throw stops growing with age, by a panel whose first place throws most.

    ``cure_days`` has an age for each candle of the panel, None for one that is another candle or
    of no known age. Raises ``BadPanel`` where fewer than two ages are known.
    """
    if len(cure_days) != len(found.candles):
        raise BadPanel(f"{len(cure_days)} ages for {len(found.candles)} candles.")
    ages = sorted((days, place) for place, days in enumerate(cure_days) if days is not None)
    if len({days for days, _ in ages}) < 2:
        raise BadPanel("Growth over cure time takes a candle at two ages or more.")
    ahead = _told_apart(found)
    later_ahead = [
        days
        for days, place in ages
        if any((other, place) in ahead for later, other in ages if later > days)
    ]
    earlier_ahead = [
        (days, later)
        for days, place in ages
        for later, other in ages
        if later > days and (place, other) in ahead
    ]
    youngest, oldest = ages[0][0], ages[-1][0]
    says = []
    if not later_ahead and not earlier_ahead:
        says.append(
            f"No growth was shown from {youngest} to {oldest} days: that is not proof that there "
            "is none."
        )
        return Growth(from_days=None, at_the_last=False, says=tuple(says))
    from_days = next(days for days, _ in ages if days > max(later_ahead, default=-1))
    at_the_last = from_days == oldest
    if at_the_last:
        says.append(
            f"It still grew up to {oldest} days, the oldest here: set older ones beside it to see "
            "where it stops."
        )
    elif later_ahead:
        says.append(
            f"At {max(later_ahead)} days a later age was still ahead; from {from_days} days on "
            "none was by more than chance. That is not proof that it grows no more."
        )
    for days, later in earlier_ahead:
        says.append(f"At {later} days it threw less than at {days}.")
    return Growth(from_days=from_days, at_the_last=at_the_last, says=tuple(says))


def _told_apart(found: Ranking) -> set[tuple[int, int]]:
    """Return (ahead, behind) by place in the panel, for the pairs that were told apart."""
    count = len(found.candles)
    pairs = iter(found.pairs)
    apart = set()
    for one in range(count):
        for other in range(one + 1, count):
            pair = next(pairs)
            if pair.differs:
                apart.add((one, other) if pair.difference > 0 else (other, one))
    return apart
