"""
What a market's past days say of each design's demand there, as a spread that is honest.

Demand of design i on a day of exposure e is Poisson(lambda_i e theta): lambda_i ~ Gamma(a, b) with
(a, b) shared by all designs of the market, theta ~ Gamma(phi, phi) shared by all designs of a day
(weather, footfall). A day that sold out says that at least so much was wanted, no more; where the
time is known, the sales were counted over that share of the day and nothing is cut off. Store sales
are usually wider than Poisson: Agrawal and Smith, Naval Research Logistics 43 (1996) 839-861. Days
that sold out: Berk, Gürler and Levine, European Journal of Operational Research 182 (2007) 256-281
match two moments; here the posterior is kept on a grid.

(a, b) and phi are the most likely under wide priors of their own, so that three days cannot claim
to know a spread. Those priors are judgement, no source. The day factors of past days are put in
at their expected values.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

GRID = 8000
USUAL_SHAPE, SHAPE_WIDTH = 2.0, 1.0
"""A design's rate differs from another's by some 70 % (1/sqrt 2); the log's width is 1."""
USUAL_DAY_SHAPE, DAY_WIDTH = 8.0, 1.0
"""One day's footfall differs from another's by some 35 % (1/sqrt 8)."""
ROUNDS = 6
NODES = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """
    One design on one past day: ``sold`` within ``exposure`` (1: a usual day there).

    ``sold_out``: more may have been wanted. A day that sold out at a known time is given as its
    share in ``exposure`` and not as ``sold_out``.
    """

    sold: int
    exposure: float = 1.0
    sold_out: bool = False
    day: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """lambda ~ Gamma(shape, rate): mean shape / rate a usual day."""

    shape: float
    rate: float


@dataclass(frozen=True, slots=True)
class Rate:
    """
    What is known of one design's lambda: closed where nothing sold out, else weights on a grid.

    ``shape`` and ``rate`` are the gamma's; with ``grid`` they are those of the same two moments.
    """

    shape: float
    rate: float
    grid: Floats | None = None
    weight: Floats | None = None

    @property
    def mean(self) -> float:
        return self.shape / self.rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A market as learnt: each design's rate, the prior that they share, the day factor's shape."""

    prior: Prior
    rates: Mapping[str, Rate]
    day_shape: float | None
    factors: Mapping[str, float]


def posterior(seen: Sequence[Seen], prior: Prior) -> Rate:
    """Return what past days say of one design's rate."""
    from scipy.special import gammaln, pdtr  # type: ignore[import-untyped]

    open_days = [row for row in seen if row.sold_out and row.sold > 0]
    counted = [row for row in seen if not row.sold_out]
    shape = prior.shape + sum(row.sold for row in counted)
    rate = prior.rate + sum(row.exposure for row in counted)
    if not open_days:
        return Rate(shape, rate)
    reach = [3 * (row.sold + 4 * row.sold**0.5 + 6) / row.exposure for row in open_days]
    most = max((shape + 12 * shape**0.5 + 12) / rate, *reach)
    grid = (np.arange(GRID) + 0.5) * (most / GRID)
    density = (shape - 1) * np.log(grid) - rate * grid + shape * log(rate) - gammaln(shape)
    for row in open_days:
        # P(demand >= sold) = 1 - F(sold - 1)
        at_least = 1 - pdtr(row.sold - 1, grid * row.exposure)
        density = density + np.log(np.maximum(at_least, 1e-300))
    weight = np.exp(density - density.max())
    weight /= weight.sum()
    mean = float(weight @ grid)
    variance = float(weight @ (grid - mean) ** 2)
    return Rate(mean**2 / variance, mean / variance, grid, weight)


def fitted(seen: Mapping[str, Sequence[Seen]], *, guess: float | None = None) -> Fit:
    """
    Return a market as its past days show it.

    ``guess`` is what a maker expects of one design on a usual day; it counts as weakly as a prior
    does and is needed only where there is no day at all.
    """
    factors = {row.day: 1.0 for rows in seen.values() for row in rows}
    day_shape: float | None = USUAL_DAY_SHAPE
    prior = Prior(shape=USUAL_SHAPE, rate=USUAL_SHAPE / max(guess or 1.0, 0.05))
    rates: dict[str, Rate] = {}
    for _ in range(ROUNDS):
        adjusted = {
            key: [
                Seen(sold=row.sold, exposure=row.exposure * factors[row.day],
                     sold_out=row.sold_out, day=row.day)
                for row in rows
            ]
            for key, rows in seen.items()
        }  # fmt: skip
        prior = fitted_prior(list(adjusted.values()), guess=guess)
        rates = {key: posterior(rows, prior) for key, rows in adjusted.items()}
        day_shape, factors = _days(seen, rates)
    return Fit(prior=prior, rates=rates, day_shape=day_shape, factors=factors)


def fitted_prior(seen: Sequence[Sequence[Seen]], *, guess: float | None = None) -> Prior:
    """Return the (shape, rate) under which what was seen of all designs is most likely."""
    from scipy.optimize import minimize  # type: ignore[import-untyped]

    rows = [list(design) for design in seen if design]
    sold = sum(row.sold for design in rows for row in design)
    exposure = sum(row.exposure for design in rows for row in design)
    if not exposure:
        return Prior(shape=USUAL_SHAPE, rate=USUAL_SHAPE / max(guess or 1.0, 0.05))
    start_mean = (sold + 0.5) / exposure

    def cost(at: Floats) -> float:
        mean, shape = exp(min(max(at[0], -12), 12)), exp(min(max(at[1], -6), 8))
        prior = Prior(shape=shape, rate=shape / mean)
        value = (log(shape / USUAL_SHAPE) / SHAPE_WIDTH) ** 2 / 2
        if guess:
            value += log(mean / guess) ** 2 / 2
        return value - sum(_log_likelihood(design, prior) for design in rows)

    found = minimize(
        cost, np.array([log(start_mean), log(USUAL_SHAPE)]), method="Nelder-Mead",
        options={"xatol": 1e-4, "fatol": 1e-6, "maxiter": 400},
    )  # fmt: skip
    mean, shape = exp(min(max(found.x[0], -12), 12)), exp(min(max(found.x[1], -6), 8))
    return Prior(shape=shape, rate=shape / mean)


def _log_likelihood(seen: Sequence[Seen], prior: Prior) -> float:
    """Return the log of the chance of one design's days, its rate unknown but for the prior."""
    from scipy.special import gammaln, pdtr

    counted = [row for row in seen if not row.sold_out]
    open_days = [row for row in seen if row.sold_out and row.sold > 0]
    shape = prior.shape + sum(row.sold for row in counted)
    rate = prior.rate + sum(row.exposure for row in counted)
    value = (
        prior.shape * log(prior.rate) - gammaln(prior.shape) + gammaln(shape) - shape * log(rate)
        + sum(row.sold * log(row.exposure) - gammaln(row.sold + 1) for row in counted)
    )  # fmt: skip
    if open_days:
        # The rest is the expectation of what was cut off, over the gamma of the counted days.
        nodes = gamma_nodes(shape, 100) / rate
        at_least = np.ones_like(nodes)
        for row in open_days:
            at_least *= 1 - pdtr(row.sold - 1, nodes * row.exposure)
        value += log(max(float(at_least.mean()), 1e-300))
    return float(value)


def gamma_nodes(shape: float, count: int) -> Floats:
    """Return the middles of ``count`` equally likely slices of a gamma of rate 1."""
    from scipy.special import gammaincinv

    middles: Floats = gammaincinv(shape, (np.arange(count) + 0.5) / count)
    return middles


def _days(
    seen: Mapping[str, Sequence[Seen]], rates: Mapping[str, Rate]
) -> tuple[float, dict[str, float]]:
    """Return the day factor's shape and each past day's expected factor, from the day's totals."""
    from scipy.optimize import minimize_scalar
    from scipy.special import gammaln

    sold: dict[str, float] = {}
    wanted: dict[str, float] = {}
    for key, rows in seen.items():
        for row in rows:
            sold.setdefault(row.day, 0.0)
            wanted.setdefault(row.day, 0.0)
            if not row.sold_out:  # a day that sold out says nothing of its own total
                sold[row.day] += row.sold
                wanted[row.day] += rates[key].mean * row.exposure
    days = [day for day in sold if wanted[day] > 0]

    def cost(log_shape: float) -> float:
        shape = exp(log_shape)
        value = ((log_shape - log(USUAL_DAY_SHAPE)) / DAY_WIDTH) ** 2 / 2
        for day in days:
            n, mean = sold[day], wanted[day]
            value -= gammaln(shape + n) - gammaln(shape) + shape * log(shape / (shape + mean))
            value -= n * log(mean / (shape + mean))
        return float(value)

    found = minimize_scalar(cost, bounds=(log(0.3), log(1000)), method="bounded")
    shape = exp(float(found.x))
    return shape, {day: (shape + sold[day]) / (shape + wanted[day]) for day in sold}


# --- what the next day may bring -----------------------------------------------------------------


def day_factors(day_shape: float | None) -> Floats:
    """Return equally likely factors of a day to come; their mean is 1."""
    if day_shape is None:
        return np.ones(1)
    nodes = gamma_nodes(day_shape, NODES)
    return np.asarray(nodes / nodes.mean())


def demand_given(rate: Rate, *, exposure: float, factor: float, most: int) -> Floats:
    """Return the chances of 0, 1 ... ``most`` being wanted on a day of this factor."""
    from scipy.special import gammaln

    count = np.arange(most + 1)
    scale = exposure * factor
    if rate.grid is None or rate.weight is None:
        chance = rate.rate / (rate.rate + scale)
        return np.asarray(
            np.exp(
                gammaln(rate.shape + count) - gammaln(rate.shape) - gammaln(count + 1)
                + rate.shape * np.log(chance) + count * np.log1p(-chance)
            )
        )  # fmt: skip
    grid, weight = _thinned(rate.grid, rate.weight)
    mean = grid[:, None] * scale
    logs = count * np.log(mean) - mean - gammaln(count + 1)
    return np.asarray(weight @ np.exp(logs))


def _thinned(grid: Floats, weight: Floats, every: int = 20) -> tuple[Floats, Floats]:
    """Return a grid's slices put together by twenties, each at its own mean."""
    weights = weight.reshape(-1, every).sum(axis=1)
    means = (weight * grid).reshape(-1, every).sum(axis=1) / np.maximum(weights, 1e-300)
    kept = weights > 1e-12
    return means[kept], weights[kept] / weights[kept].sum()


def demand(rate: Rate, *, exposure: float = 1.0, day_shape: float | None = None) -> Floats:
    """Return the chances of 0, 1, 2 ... being wanted, as far as they matter; they sum to 1."""
    factors = day_factors(day_shape)
    mean = rate.mean * exposure * float(factors.max())
    most = int(mean + 12 * (mean + mean**2 / rate.shape) ** 0.5 + 30)
    found = np.mean(
        [demand_given(rate, exposure=exposure, factor=float(f), most=most) for f in factors], axis=0
    )
    return np.asarray(found / found.sum())
