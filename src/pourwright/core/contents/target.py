"""
The fill to aim at: the cheapest that passes inspection with a chosen probability.

Fills are taken as normal, with the standard deviation of the maker's own pouring. For a lot of
some size under some market's rule, the chance to pass is

    sum over k of P(k short) * P(the short ones are allowed | k) * P(the average passes | k)

where k counts the packages of the mean's sample below the limit of a single one (Q - MAV, or T1).
P(k) is binomial. The average alone is exact: noncentral t where the rule allows s times a factor
(delta = sqrt(n) * overfill / s), normal where it allows nothing. How the average goes with the
short ones is found by scrambled Sobol points, eight times over; their scatter is the error that is
reported. The target is never below what is declared: the law asks that of the average, whatever a
test would let through.

Sources: the rules of ``us`` and ``average``; noncentral t for sampling by variables, Lieberman and
Resnikoff 1955 (from memory). That fills are normal is common practice, no source: look at the dots.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import lru_cache
from math import sqrt
from typing import Any

import numpy as np
from scipy import optimize, special, stats  # type: ignore[import-untyped]
from scipy.interpolate import PchipInterpolator  # type: ignore[import-untyped]
from scipy.stats import qmc  # type: ignore[import-untyped]

from pourwright.core.contents import average, us
from pourwright.core.contents.declared import Declared, MarketRule
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule

_REPEATS, _POINTS = 8, 512
_SHARE_LEFT_OUT = 1e-6
# What reading a curve between its points may be off by, from direct sums over many cases.
_BETWEEN_POINTS = 2e-5
# Where a lot's mean may lie around the aim, in standard deviations, and how likely it is there.
_REACH = np.linspace(-5, 5, 401)
_WEIGHTS = np.exp(-(_REACH**2) / 2) / np.exp(-(_REACH**2) / 2).sum()


class BadTarget(BadInput):
    """A spread, a probability or a lot for which no target can be found."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """
    A rule as the chance to pass needs it, in grams above what is declared.

    ``single_g`` is the shortage beyond which a package counts as short, ``never_g`` that which
    none may have (None: no such limit). ``stages`` are (weighed so far, accept, reject).
    """

    mean_sample: int
    factor: float
    single_g: float
    never_g: float | None
    stages: tuple[tuple[int, int, int], ...]
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """A probability to pass, with the standard error of its computation."""

    passes: float
    error: float
    average_passes: float
    singles_pass: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """
    The fill to aim at, in grams, and what it rests on.

    ``over_g`` is how far it is above what is declared, ``error_g`` how far the computation may be
    off (two standard errors of its probability, in grams of fill). ``limited_by`` is "the law"
    where the test alone would let it lie below the declared weight, else "the average" or "single
    packages".
    """

    target_g: float
    over_g: float
    error_g: float
    probability: float
    reached: Chance
    limited_by: str
    declared_g: Fraction
    sd_g: float
    batch_sd_g: float
    lot_size: int
    market: MarketRule
    rules: tuple[Rule, ...]


def inspection(*, market: MarketRule, declared: Declared, lot_size: int, on: date) -> Inspection:
    """Return the usual test of a lot under a market's rule."""
    if market == "us":
        plan = us.plan(lot_size=lot_size, on=on)
        mav = us.mav(declared, on=on)
        allowed = plan.allowed_beyond_mav
        return Inspection(
            mean_sample=plan.sample,
            # One package alone has no average test.
            factor=float("inf") if plan.factor is None else float(plan.factor),
            single_g=float(mav.mav_g), never_g=None,
            stages=((plan.sample, allowed, allowed + 1),), rules=(plan.rule, mav.rule),
        )  # fmt: skip
    found = average.tolerance(nominal_g=declared.nominal_g, market=market, on=on)
    test = average.reference_test(batch_size=lot_size, market=market, on=on)
    return Inspection(
        mean_sample=test.mean_sample, factor=float(test.mean_factor),
        single_g=float(found.tne_g), never_g=2 * float(found.tne_g), stages=test.stages,
        rules=(test.rule, found.rule),
    )  # fmt: skip


# --- the chance to pass --------------------------------------------------------------------------


def chance(inspected: Inspection, *, over_g: float, sd_g: float, batch_sd_g: float = 0.0) -> Chance:
    """
    Return the chance to pass with fills ``over_g`` above the declared weight on average.

    ``sd_g`` is the spread within a lot, ``batch_sd_g`` that of the lots' own means around the aim.
    """
    if batch_sd_g <= 0:
        return _chance(inspected, over_g, sd_g)
    return _Curve(inspected, sd_g).blurred(over_g, batch_sd_g)


class _Curve:
    """
    The chance to pass over the aim, worked out at some points and read between them.

    Read on the probit scale, on which the part of the average is nearly a straight line. So lots
    whose means stray can be weighed at hundreds of points for the price of a few.
    """

    def __init__(self, inspected: Inspection, sd_g: float) -> None:
        step = sd_g / sqrt(inspected.mean_sample)
        allowed = inspected.factor * sd_g if np.isfinite(inspected.factor) else inspected.single_g
        low = -allowed - 4.5 * step
        high = 5 * step
        while high < 40 * sd_g and _chance(inspected, high, sd_g).passes < 1 - 1e-6:
            high += sd_g
        bend = min(low + 9.5 * step, high - step)
        places = np.concatenate([np.linspace(low, bend, 14), np.linspace(bend, high, 11)[1:]])
        found = [_chance(inspected, float(place), sd_g) for place in places]
        self._low, self._high = low, high
        self._places, self._errors = places, [one.error for one in found]
        self._curves = {
            name: PchipInterpolator(
                places,
                special.ndtri(np.clip([getattr(one, name) for one in found], 1e-9, 1 - 1e-9)),
            )
            for name in ("passes", "average_passes", "singles_pass")
        }

    def blurred(self, over_g: float, batch_sd_g: float) -> Chance:
        """Return the chance where the lots' means are spread around the aim."""
        at = np.clip(over_g + batch_sd_g * _REACH, self._low, self._high)
        mean = {
            name: float(_WEIGHTS @ special.ndtr(curve(at))) for name, curve in self._curves.items()
        }
        error = float(_WEIGHTS @ np.interp(at, self._places, self._errors)) + _BETWEEN_POINTS
        return Chance(error=error, **mean)


def _chance(inspected: Inspection, over_g: float, sd_g: float) -> Chance:
    n = inspected.mean_sample
    average_passes = _average_passes(inspected, over_g, sd_g)
    short = float(special.ndtr(-(inspected.single_g + over_g) / sd_g))
    never = 0.0
    if inspected.never_g is not None:
        never = float(special.ndtr(-(inspected.never_g + over_g) / sd_g))
    beyond = never / short if short else 0.0  # of the short ones, those that none may be
    allowed = _allowed_given(inspected, short, beyond)
    weights = stats.binom.pmf(np.arange(n + 1), n, short)
    singles = float(sum(weights[k] * allowed(k) * (1 - beyond) ** k for k in range(n + 1)))
    if short < 1e-12 or average_passes < 1e-4:
        # Nothing is short, or nothing passes: the average alone tells.
        return Chance(
            passes=average_passes * singles,
            error=0.0 if short < 1e-12 else average_passes,
            average_passes=average_passes,
            singles_pass=singles,
        )
    most = min(int(stats.binom.isf(_SHARE_LEFT_OUT, n, short)) + 1, n)
    averages, clean = _given_short(inspected, over_g, sd_g, short, beyond, most)
    known = np.tensordot(weights[1 : most + 1], averages, axes=1)
    none_short = np.clip((average_passes - known) / weights[0], 0, 1)
    passes = weights[0] * allowed(0) * none_short
    for k in range(1, most + 1):
        passes = passes + weights[k] * allowed(k) * clean[k - 1]
    error = float(np.std(passes, ddof=1) / sqrt(_REPEATS)) + _SHARE_LEFT_OUT
    return Chance(
        passes=float(np.mean(passes)), error=error, average_passes=average_passes,
        singles_pass=singles,
    )  # fmt: skip


def _average_passes(inspected: Inspection, over_g: float, sd_g: float) -> float:
    n = inspected.mean_sample
    delta = sqrt(n) * over_g / sd_g
    if inspected.factor == 0 or n == 1:
        return 1.0 if n == 1 and inspected.factor else float(special.ndtr(delta))
    # Passes where mean / s > -factor, that is where t exceeds -factor * sqrt(n).
    return float(stats.nct.sf(-inspected.factor * sqrt(n), n - 1, delta))


def _allowed_given(inspected: Inspection, short: float, beyond: float) -> Any:
    """
    Return P(the individual check accepts | k short in the mean's sample, none of those beyond).

    The plan's sample may be larger than the mean's, and it may have a second stage.
    """
    n = inspected.mean_sample
    never = short * beyond
    first, accept, reject = inspected.stages[0]

    @lru_cache
    def accepts(k: int) -> float:
        total = 0.0
        for more in range(min(first - n, max(reject - k, 0)) + 1 if first > n else 1):
            # `more` short ones among the rest of the first stage, none of them beyond.
            ways = _short_not_beyond(first - n, more, short, never)
            count = k + more
            if count <= accept:
                total += ways
            elif len(inspected.stages) > 1 and count < reject:
                second, accept_in_all, _ = inspected.stages[1]
                rest = second - first
                total += ways * sum(
                    _short_not_beyond(rest, later, short, never)
                    for later in range(min(accept_in_all - count, rest) + 1)
                )
        return total

    return accepts


def _short_not_beyond(n: int, k: int, short: float, never: float) -> float:
    """Return P(exactly k of n are short and none is beyond what none may be)."""
    if n <= 0:
        return 1.0 if k == 0 else 0.0
    return float(special.comb(n, k) * (short - never) ** k * (1 - short) ** (n - k))


@lru_cache(maxsize=64)
def _points(dimensions: int) -> Any:
    """Return scrambled Sobol points, repeats x points x dimensions, the same ones every time."""
    return np.stack(
        [
            qmc.Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed)).random(_POINTS)
            for seed in range(_REPEATS)
        ]
    )


def _given_short(
    inspected: Inspection, over_g: float, sd_g: float, short: float, beyond: float, most: int
) -> tuple[Any, Any]:
    """
    Return P(the average passes | k short) and the same with none beyond: k of 1 to ``most`` by
    repeats.

    The first k packages are drawn from the tail below the limit, the others from above it; all k
    share their draws.
    """
    n = inspected.mean_sample
    uniform = _points(n)
    above = sd_g * special.ndtri(np.clip(short + uniform * (1 - short), 0, 1 - 1e-16))
    below = sd_g * special.ndtri(np.clip(uniform[..., :most] * short, 1e-300, 1))
    none_beyond = np.logical_and.accumulate(uniform[..., :most] >= beyond, axis=2)
    means = over_g + _first_k_of(below, above) / n
    if inspected.factor == 0:
        passed = means >= 0
    elif n == 1:
        passed = np.ones_like(means, dtype=bool)
    else:
        squares = _first_k_of(below**2, above**2) - n * (means - over_g) ** 2
        limits = inspected.factor * np.sqrt(np.maximum(squares, 0) / (n - 1))
        passed = means > -limits
    return passed.mean(axis=1).T, (passed & none_beyond).mean(axis=1).T


def _first_k_of(first: Any, rest: Any) -> Any:
    """Return, for k of 1 to the width of ``first``, the sum of its first k and the others of
    ``rest``."""
    most = first.shape[2]
    return rest.sum(axis=2, keepdims=True) + np.cumsum(first - rest[..., :most], axis=2)


# --- the target ----------------------------------------------------------------------------------


def target_fill(
    *,
    market: MarketRule,
    declared: Declared,
    sd_g: float,
    lot_size: int,
    on: date,
    probability: float = 0.95,
    batch_sd_g: float = 0.0,
    tare_sd_g: float = 0.0,
) -> Target:
    """
    Return the lowest aim at which a lot passes with ``probability``, 0.5 to 0.9999.

    ``sd_g`` is the standard deviation of single fills, more than 0 and up to a third of the
    declared weight; ``batch_sd_g`` of the lots' means; ``tare_sd_g`` of empty vessels, where one
    average tare stands for all (0 where each is weighed empty).
    """
    verified = declared.verified_g(market)
    if not 0.5 <= probability <= 0.9999:
        raise BadTarget(
            f"A probability of {probability:g}; give 0.5 to 0.9999, such as 0.95 or 0.99."
        )
    if not 0 < sd_g <= float(verified) / 3:
        raise BadTarget(
            f"A spread of {sd_g:g} g; give the standard deviation of your fills, more than 0 and "
            f"up to a third of what is declared ({float(verified) / 3:.0f} g)."
        )
    if batch_sd_g < 0 or tare_sd_g < 0:
        raise BadTarget("A spread of lots or of vessels is 0 or more.")
    inspected = inspection(market=market, declared=declared, lot_size=lot_size, on=on)
    within = sqrt(sd_g**2 + tare_sd_g**2)

    curve = _Curve(inspected, within) if batch_sd_g > 0 else None

    def chance_at(over_g: float) -> Chance:
        if curve is not None:
            return curve.blurred(over_g, batch_sd_g)
        return _chance(inspected, over_g, within)

    def missing(over_g: float) -> float:
        return chance_at(over_g).passes - probability

    at_label = missing(0.0)
    over = 0.0
    if at_label < 0:
        high = 0.5 * within
        while missing(high) < 0:
            high *= 2
        over = float(optimize.brentq(missing, high / 2 if high > within else 0.0, high, xtol=2e-4))
    reached = chance_at(over)
    step = max(0.02 * within, 1e-3)
    slope = max((missing(over + step) + probability - reached.passes) / step, 1e-9)
    error = 0.0 if over == 0 else min(2 * reached.error / slope + 2e-4, within)
    return Target(
        target_g=float(verified) + over, over_g=over, error_g=error, probability=probability,
        reached=reached, limited_by=_limited_by(over, reached), declared_g=verified, sd_g=within,
        batch_sd_g=batch_sd_g, lot_size=lot_size, market=market, rules=inspected.rules,
    )  # fmt: skip


def _limited_by(over: float, reached: Chance) -> str:
    if over == 0:
        return "the law"
    if reached.average_passes <= reached.singles_pass:
        return "the average"
    return "single packages"


def spread_of_fills(fills_g: list[float]) -> tuple[float, float]:
    """
    Return the standard deviation of fills (n - 1) and how large it may well be.

    The second is the upper end of its one-sided 95 % interval, by chi-square: from few fills a
    spread is poorly known, and a target from it too low.
    """
    if len(fills_g) < 2:
        raise BadTarget(f"{len(fills_g)} fills; a spread takes two or more, better thirty.")
    sd = float(np.std(fills_g, ddof=1))
    free = len(fills_g) - 1
    return sd, sd * sqrt(free / float(stats.chi2.ppf(0.05, free)))


# --- what pouring by eye costs -------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class ByEye:
    """
    What a wider spread costs a year against a narrower one, both passing equally often.

    Masses in grams, money in 1/100 of the currency's minor unit; ``candles`` is how many the wax
    would have filled.
    """

    extra_each_g: float
    extra_year_g: float
    cost_minor100: int
    candles: float


def by_eye(*, wide: Target, narrow: Target, candles_a_year: int, mix_minor100_per_kg: int) -> ByEye:
    """Return what aiming higher because of a wide spread costs in a year."""
    if candles_a_year < 0 or mix_minor100_per_kg < 0:
        raise BadTarget("Candles a year and the price of the mix are 0 or more.")
    each = wide.over_g - narrow.over_g
    year = each * candles_a_year
    return ByEye(
        extra_each_g=each, extra_year_g=year,
        cost_minor100=round(year / 1000 * mix_minor100_per_kg), candles=year / narrow.target_g,
    )  # fmt: skip
