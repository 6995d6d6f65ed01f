"""
What is expected of each candidate: the share of its burns that would meet the maker's criteria.

The model of all burns gives draws of a candidate's pool, depth and wall, each draw a share; the
size's own record is counted beside it, so that a model that does not fit is outvoted. From both
comes how many more good burns would confirm the size. None of it is a chance of safety.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache

import numpy as np
from scipy.special import ndtr, ndtri  # type: ignore[import-untyped]
from scipy.stats import qmc  # type: ignore[import-untyped]

from pourwright.core.burns.criteria import Criteria
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
MOST_LEFT = 9
WHY = ("pool not full", "pool full too soon", "pool too deep", "wall too hot")


class NoCandidates(BadInput):
    """Nothing to choose the next burn from."""


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
        many = f"{self.burns} burn{'' if self.burns == 1 else 's'}"
        record = f"{self.met} of {many} met the criteria" if self.burns else "not burnt"
        why = ", ".join(f"{name} in {100 * share:.0f} %" for name, share in self.reasons[:3])
        name = self.setup.name[:1].upper() + self.setup.name[1:]
        return (
            f"{name}: {100 * self.share:.0f} % of burns expected to meet your own "
            f"criteria ({100 * self.low:.0f} to {100 * self.high:.0f} %); {record}"
            + (f"; else {why}." if why else ".")
        )


def chances_of(
    candidates: Sequence[Setup],
    seen: Sequence[Seen],
    *,
    criteria: Criteria,
    on: date,
    words: Sequence[Word] = (),
) -> tuple[Chance, ...]:
    """Return what is expected of each candidate, in the order given."""
    return judged(candidates, seen, criteria=criteria, on=on, words=words)[0]


def judged(
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
            records[but_cure(burn.setup)].append(burn.passed)
    made = []
    any_good = np.zeros(DRAWS, dtype=bool)
    for place, setup in enumerate(candidates):
        burns = records[but_cure(setup)]
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


def confirmed(chance: Chance, criteria: Criteria) -> bool:
    """Return whether enough burns of a size met the criteria, and it is sure enough to go on so."""
    return chance.met >= criteria.needed and _sure(chance.share, chance.bad)


def but_cure(setup: Setup) -> Setup:
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
