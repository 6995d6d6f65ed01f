"""
Which wick to burn next: the size, or the set side by side, that most shortens the search.

Each candidate's chance is the share of burns expected to meet the maker's own criteria. It comes
from all burns on that size and on every related candle, never from a streak, and is no chance of
safety. The next size is the one that is expected to be confirmed in the fewest burns; the search
stops when enough is confirmed, and says early when no size of the series will do.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from typing import Literal

import numpy as np
from scipy.special import ndtr, ndtri  # type: ignore[import-untyped]
from scipy.stats import qmc  # type: ignore[import-untyped]

from pourwright.core.burns.learning import (
    DEPTH,
    POOL,
    STATES,
    WALL,
    Array,
    Learnt,
    Prior,
    Seen,
    Setup,
    Word,
    touching_state,
)
from pourwright.core.errors import BadInput

DRAWS = 256
# Weight of the model beside a size's own record, in burns: a model that does not fit is outvoted.
# Small, four good burns lift a bad size over the line; large, the record never speaks. This and the
# lines below were set on simulated makers (benchmarks/next_burn.py, population "tuning").
MODEL_BURNS = 10
GOOD = 0.75
BAD = 0.60
SURE = 0.95
CONFIRMED_MEAN = 0.76
HOPELESS = 0.08
LEAST_BURNS = 2  # of the design itself, before a series is called hopeless
MOST_BURNS = 12
MOST_LEFT = 9

State = Literal["burn", "confirmed", "hopeless"]
WHY = ("pool not full", "pool full too soon", "pool too deep", "wall too hot")


class NoCandidates(BadInput):
    """Nothing to choose the next burn from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """
    The maker's criteria for a burn of four hours, as the planner uses them.

    ``full_share`` of the inside width counts as a full pool; it may not touch the wall before
    ``soonest_h`` and must be full by ``latest_h``. ``wall_excess_k`` is the wall over the room.
    ``needed`` burns must meet them on one size.
    """

    full_share: float = 0.93
    soonest_h: float = 1.25
    latest_h: float = 4.0
    depth_mm: float = 13.0
    wall_excess_k: float = 39.0
    needed: int = 4


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """
    What is expected of a candidate.

    ``share`` of burns is expected to meet the criteria, between ``low`` and ``high`` (80 %);
    ``left`` further burns would confirm the size if all met the criteria, ``all_needed`` is the
    chance that they do, and ``to_come`` the burns expected until then; ``good`` is the chance that
    at least 75 % of burns meet them, ``bad`` that under 60 % do. ``reasons`` say why not, most
    likely first.
    """

    setup: Setup
    share: float
    low: float
    high: float
    left: int
    all_needed: float
    to_come: float
    good: float
    bad: float
    burns: int
    met: int
    reasons: tuple[tuple[str, float], ...]

    @property
    def says(self) -> str:
        record = f"{self.met} of {self.burns} burns met the criteria" if self.burns else "not burnt"
        why = ", ".join(f"{name} in {100 * share:.0f} %" for name, share in self.reasons[:3])
        return (
            f"{self.setup.size}: {100 * self.share:.0f} % of burns expected to meet your own "
            f"criteria ({100 * self.low:.0f} to {100 * self.high:.0f} %); {record}"
            + (f"; else {why}." if why else ".")
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """
    What to do next. ``state``: burn the ``propose`` set, or stop: confirmed or hopeless.

    ``weeks`` is how long the set takes from pouring, ``wax_g`` what it takes.
    """

    state: State
    propose: tuple[Setup, ...]
    chances: tuple[Chance, ...]
    best: Chance
    weeks: float
    wax_g: float
    says: tuple[str, ...]


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
    this one's among them by its name. Raises ``NoCandidates`` where there is none.
    """
    cost = cost or Cost()
    chances, hope = _judged(candidates, seen, criteria=criteria, on=on, words=words)
    own = [burn for burn in seen if burn.setup.design == candidates[0].design]
    done = [c for c in chances if _confirmed(c, criteria)]
    if done:
        best = max(done, key=lambda chance: chance.share)
        return _stop("confirmed", chances, best, _confirmed_words(best))
    best = min(chances, key=lambda chance: chance.to_come)
    if (hope < HOPELESS and len(own) >= LEAST_BURNS) or len(own) >= most_burns:
        return _stop("hopeless", chances, best, _hopeless_words(chances, own, hope))
    count = _how_many(best, criteria, cost)
    propose = _spread(chances, best, count, criteria, cost)
    return Advice(
        state="burn", propose=propose, chances=chances, best=best,
        weeks=cost.cure_days / 7, wax_g=cost.wax_g * len(propose),
        says=_burn_words(best, propose, chances, cost),
    )  # fmt: skip


def chances_of(
    candidates: Sequence[Setup],
    seen: Sequence[Seen],
    *,
    criteria: Criteria,
    on: date,
    words: Sequence[Word] = (),
) -> tuple[Chance, ...]:
    """Return what is expected of each candidate, in the order given."""
    return _judged(candidates, seen, criteria=criteria, on=on, words=words)[0]


def _judged(
    candidates: Sequence[Setup],
    seen: Sequence[Seen],
    *,
    criteria: Criteria,
    on: date,
    words: Sequence[Word],
) -> tuple[tuple[Chance, ...], float]:
    """Return the chances, and the chance that any candidate meets the criteria often enough."""
    if not candidates:
        raise NoCandidates("No wick to choose from; name the sizes that you could burn.")
    if len({setup.design for setup in candidates}) != 1:
        raise NoCandidates("The candidates are of several designs; ask for one design at a time.")
    learnt = Learnt(seen, words, on=on)
    mean, spread = learnt.states(candidates)
    drawn = _drawn(mean, spread).reshape(DRAWS, len(candidates), STATES)
    shares, why = _shares(drawn, criteria, learnt.prior)
    records: dict[Setup, list[bool]] = defaultdict(list)
    for burn in seen:
        if burn.passed is not None:
            records[_but_cure(burn.setup)].append(burn.passed)
    made = []
    any_good = np.zeros(DRAWS, dtype=bool)
    for place, setup in enumerate(candidates):
        burns = records[_but_cure(setup)]
        met = sum(burns)
        share = _with_record(shares[:, place], len(burns), met)
        any_good |= share >= GOOD
        left = _left(shares[:, place], len(burns), met, criteria.needed)
        low, high = np.quantile(share, [0.1, 0.9])
        reasons = sorted(zip(WHY, why[place], strict=True), key=lambda pair: -pair[1])
        made.append(
            Chance(
                setup=setup, share=float(share.mean()), low=float(low), high=float(high),
                left=left, all_needed=float((share**left).mean()), to_come=_to_come(share, left),
                good=float((share >= GOOD).mean()), bad=float((share < BAD).mean()),
                burns=len(burns), met=met,
                reasons=tuple((name, float(part)) for name, part in reasons if part >= 0.05),
            )
        )  # fmt: skip
    return tuple(made), float(any_good.mean())


def _with_record(model: Array, burns: int, met: int) -> Array:
    """Return the share of each draw, the size's own record counted beside the model."""
    return (MODEL_BURNS * model + met) / (MODEL_BURNS + burns)


def _left(model: Array, burns: int, met: int, needed: int) -> int:
    """Return how many further burns would confirm a size if all of them met the criteria."""
    for more in range(max(1, needed - met), MOST_LEFT):
        weight = model**more
        if weight.sum() <= 0:
            break
        after = _with_record(model, burns + more, met + more)
        if _sure(
            float(after @ weight / weight.sum()), float((after < BAD) @ weight / weight.sum())
        ):
            return more
    return MOST_LEFT


def _to_come(share: Array, left: int) -> float:
    """
    Return the burns expected until the search ends, as if a size that failed were begun anew.

    Such a renewal takes burns / chance: those of one run (which ends at its first failure) over the
    chance that the run succeeds.
    """
    chance = (share[:, None] ** np.arange(left + 1)).mean(axis=0)
    return float(chance[:-1].sum() / max(chance[-1], 1e-6))


def _sure(share: float, bad: float) -> bool:
    return share >= CONFIRMED_MEAN and bad <= 1 - SURE


def _but_cure(setup: Setup) -> Setup:
    """What makes burns a record of the same candle: all but how long it cured."""
    return replace(setup, cure_days=0)


@cache
def _normals(width: int) -> Array:
    """The same well-spread normal draws every time, so that an answer can be had again."""
    points = qmc.Sobol(width, seed=20261125).random(DRAWS)
    return np.asarray(ndtri(np.clip(points, 1e-6, 1 - 1e-6)), dtype=float)


def _drawn(mean: Array, spread: Array) -> Array:
    values, vectors = np.linalg.eigh(spread)
    # The largest parts of the spread take the best-spread coordinates.
    root = (vectors * np.sqrt(np.clip(values, 0, None)))[:, ::-1]
    kept = min(root.shape[1], 24)
    return np.asarray(mean + _normals(kept) @ root[:, :kept].T)


@cache
def _nodes() -> tuple[Array, Array]:
    points, weights = np.polynomial.hermite_e.hermegauss(9)
    return points, weights / weights.sum()


def _shares(drawn: Array, criteria: Criteria, p: Prior) -> tuple[Array, Array]:
    """
    Return the share of burns that would meet the criteria, by draw and candidate, and the mean
    share that each criterion alone would stop, by candidate.
    """
    at, weight = _nodes()
    more = p.burn * at
    pool = drawn[:, :, None, 0] + more * p.slope[POOL]
    depth = drawn[:, :, None, 1] + more * p.slope[DEPTH]
    deeper = np.clip(drawn[:, :, 3] - drawn[:, :, 1], 0, None)
    depth = depth + deeper[:, :, None] * np.clip(pool, 0, None)
    wall = drawn[:, :, None, 2] + more * p.slope[WALL]
    late = touching_state(criteria.latest_h, curve_h=p.curve_h) + math.log(criteria.full_share)
    soon = touching_state(criteria.soonest_h, curve_h=p.curve_h)
    sd = np.hypot(p.reading, 0.015)
    full = ndtr((pool - late) / sd[POOL])
    not_soon = ndtr((soon - pool) / sd[POOL])
    shallow = ndtr((math.log(criteria.depth_mm) - depth) / sd[DEPTH])
    cool = ndtr((math.log(criteria.wall_excess_k) - wall) / sd[WALL])
    shares = (np.clip(full + not_soon - 1, 0, 1) * shallow * cool) @ weight
    why = np.array([((1 - part) @ weight).mean(axis=0) for part in (full, not_soon, shallow, cool)])
    return shares, why.T


# --- when to stop, and how many at once ----------------------------------------------------------


def _confirmed(chance: Chance, criteria: Criteria) -> bool:
    enough = chance.met >= criteria.needed
    return enough and _sure(chance.share, chance.bad)


def _how_many(best: Chance, criteria: Criteria, cost: Cost) -> int:
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


def _spread(
    chances: Sequence[Chance], best: Chance, count: int, criteria: Criteria, cost: Cost
) -> tuple[Setup, ...]:
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


def _stop(state: State, chances: tuple[Chance, ...], best: Chance, says: tuple[str, ...]) -> Advice:
    return Advice(
        state=state, propose=(), chances=chances, best=best, weeks=0.0, wax_g=0.0, says=says
    )


# --- words ---------------------------------------------------------------------------------------

WHAT_IT_IS = (
    "A chance here is the share of burns expected to meet your own criteria. It is no chance of "
    "safety, and each design still needs its whole series."
)


def _confirmed_words(best: Chance) -> tuple[str, ...]:
    return (f"Enough is confirmed. {best.says}", WHAT_IT_IS)


CHANGES = {
    WHY[0]: "The pool stays too narrow: larger sizes or more wicks, a lower load, or a narrower "
    "vessel.",
    WHY[1]: "The pool is full too soon: smaller sizes or fewer wicks, or a wider vessel.",
    WHY[2]: "The pool grows too deep: smaller sizes, or more and smaller wicks.",
    WHY[3]: "The wall grows too hot: smaller sizes, or a wider vessel.",
}


# Where sizes are too small by one criterion and too large by another.
TORN = {
    WHY[1]: "A size that fills the pool in time fills it too soon in other burns: try sizes in "
    "between or another series, or look at whether the window suits this vessel.",
    WHY[2]: "A size that fills the pool makes it too deep: try more and smaller wicks, or "
    "another wax.",
    WHY[3]: "A size that fills the pool heats the wall too much: try more and smaller wicks, a "
    "lower load or another wax.",
}


def _hopeless_words(chances: Sequence[Chance], own: Sequence[Seen], hope: float) -> tuple[str, ...]:
    best = max(chances, key=lambda chance: (chance.good, chance.share))
    why = [name for name, _ in best.reasons[:2]]
    first = (
        f"No size of this series is likely to do: {100 * hope:.0f} % that any meets your criteria "
        f"in three burns of four, after {len(own)} burns. The nearest is {best.setup.size}: "
        f"{' and '.join(why) or 'the criteria are not met together'}."
    )
    change = ["Change the number of wicks, the series, the load or the vessel."]
    by_rate = sorted(chances, key=lambda chance: chance.setup.rate_g_per_h)
    smaller = by_rate[: by_rate.index(best)]
    small, large = WHY[0] in why, [name for name in why if name != WHY[0]]
    if large and (small or any(c.reasons and c.reasons[0][0] == WHY[0] for c in smaller)):
        change.append(TORN[large[0]])
    else:
        change += [CHANGES[name] for name in why]
        if (small and best is by_rate[-1]) or (large and best is by_rate[0]):
            end = "largest" if small else "smallest"
            change.insert(0, f"It is the {end} size: try a series that goes further.")
    return (first, " ".join(change), WHAT_IT_IS)


def _burn_words(
    best: Chance, propose: Sequence[Setup], chances: Sequence[Chance], cost: Cost
) -> tuple[str, ...]:
    names = [setup.size for setup in propose]
    listed = ", ".join(f"{names.count(name)} of {name}" for name in dict.fromkeys(names))
    said = [f"Burn next: {listed}. {best.says}"]
    said.append(
        f"It is the one expected to be confirmed soonest: {best.left} more good burns would do, "
        f"and the chance that all of them are good is {100 * best.all_needed:.0f} %."
    )
    second = sorted((c for c in chances if c is not best), key=lambda c: c.to_come)
    if second:
        said.append(f"Next best: {second[0].says}")
    if len(propose) > 1:
        said.append("Side by side: only as many as the room has place for and you can watch.")
    said.append(WHAT_IT_IS)
    return tuple(said)
