"""
Which wick to burn next: the size, or the set side by side, that most shortens the search.

Each candidate's chance is the share of burns expected to meet the maker's own criteria
(``chances``). It comes from all burns on that size and on every related candle, never from a
streak, and is no chance of safety. The next size is the one that is expected to be confirmed in the
fewest burns; the search stops when enough is confirmed, and says early when no size of the series
will do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from pourwright.core.burns.advice_words import (
    burn_words,
    confirmed_words,
    hopeless_words,
    spent_words,
)
from pourwright.core.burns.chances import (
    Chance,
    NoCandidates,
    but_cure,
    chances_of,
    confirmed,
    judged,
)
from pourwright.core.burns.criteria import Criteria
from pourwright.core.burns.learning import Seen, Setup, Word
from pourwright.core.burns.sets import Cost, how_many, spread

__all__ = [
    "Advice",
    "Chance",
    "Cost",
    "Criteria",
    "NoCandidates",
    "State",
    "chances_of",
    "next_burn",
]

HOPELESS = 0.08
LEAST_BURNS = 2  # of the candle itself, before a series is called hopeless
MOST_BURNS = 12

State = Literal["burn", "confirmed", "hopeless"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """
    What to do next. ``state``: burn the ``propose`` set, or stop: confirmed or hopeless.

    ``weeks`` is how long the set takes from pouring, ``wax_g`` what it takes; ``spent`` says that
    it stops for the burns are up, not because no size will do.
    """

    state: State
    propose: tuple[Setup, ...]
    chances: tuple[Chance, ...]
    best: Chance
    weeks: float
    wax_g: float
    says: tuple[str, ...]
    spent: bool = False


def next_burn(
    candidates: Sequence[Setup],
    seen: Sequence[Seen],
    *,
    criteria: Criteria,
    on: date,
    words: Sequence[Word] = (),
    cost: Cost | None = None,
    most_burns: int = MOST_BURNS,
) -> Advice:
    """
    Return the next burn of a design, from all the maker's burns.

    ``candidates`` are the sizes to choose from, one design; ``seen`` every burn of every design,
    this one's among them by its name. Only burns of a candidate itself bring the search to its end:
    those of the design in another load or number of wicks were another candle. Raises
    ``NoCandidates`` where there is none.
    """
    cost = cost or Cost()
    chances, hope = judged(candidates, seen, criteria=criteria, on=on, words=words)
    own = _burns_of(candidates, seen)
    done = [chance for chance in chances if confirmed(chance, criteria)]
    if done:
        best = max(done, key=lambda chance: chance.share)
        return _stop("confirmed", chances, best, confirmed_words(best))
    best = min(chances, key=lambda chance: chance.to_come)
    if hope < HOPELESS and own >= LEAST_BURNS:
        return _stop("hopeless", chances, best, hopeless_words(chances, burns=own, hope=hope))
    if own >= most_burns:
        said = spent_words(best, burns=own)
        return replace(_stop("hopeless", chances, best, said), spent=True)
    propose = spread(chances, best, how_many(best, cost), cost)
    return Advice(
        state="burn", propose=propose, chances=chances, best=best,
        weeks=cost.cure_days / 7, wax_g=cost.wax_g * len(propose),
        says=burn_words(best, propose, chances),
    )  # fmt: skip


def _burns_of(candidates: Sequence[Setup], seen: Sequence[Seen]) -> int:
    these = {but_cure(setup) for setup in candidates}
    return sum(but_cure(burn.setup) in these for burn in seen)


def _stop(state: State, chances: tuple[Chance, ...], best: Chance, says: tuple[str, ...]) -> Advice:
    return Advice(
        state=state, propose=(), chances=chances, best=best, weeks=0.0, wax_g=0.0, says=says
    )
