"""How many pieces to burn side by side, and which: curing takes longer than burning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pourwright.core.burns.chances import Chance
from pourwright.core.burns.learning import Setup


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """
    What a burn costs: pieces that may burn side by side, and the days from pouring to a verdict.

    ``week_in_burns`` is how many burns the maker would give to be done a week sooner.
    """

    side_by_side: int = 1
    cure_days: float = 14.0
    wax_g: float = 0.0
    week_in_burns: float = 0.5


def how_many(best: Chance, cost: Cost) -> int:
    """
    Return how many pieces of the best size to burn at once.

    A further one saves a session of ``week_in_burns`` for each week where all before it meet the
    criteria, and is lost where one of them does not.
    """
    left = best.left
    session = cost.week_in_burns * cost.cure_days / 7
    count = 1
    while count < min(left, cost.side_by_side):
        good = best.all_needed ** (count / left)
        if good * session < (1 - good):
            break
        count += 1
    return count


def spread(chances: Sequence[Chance], best: Chance, count: int, cost: Cost) -> tuple[Setup, ...]:
    """Return the set: the best, again and again, or with its likeliest rivals where unsure."""
    proposed = [best.setup] * count
    session = cost.week_in_burns * cost.cure_days / 7
    rivals = sorted((c for c in chances if c is not best), key=lambda c: c.to_come)
    for rival in rivals:
        if len(proposed) >= cost.side_by_side or count > 1:
            break
        # A rival burnt now saves a session where the best fails and the rival does not.
        if (1 - best.share) * rival.share * session < 0.5:
            break
        proposed.append(rival.setup)
    return tuple(proposed)
