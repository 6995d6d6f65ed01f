"""
Fitting the burn model to a maker's own burns, and what is still uncertain then.

Free are the share of heat that the flame returns, the share that it radiates, and the pool's mixing
outward, with log-normal priors; the burn rate is weighed. Their values are told poorly apart by
burns, but what they foretell together is told well: judge the band, not the values.

Method: maximum posterior by damped Gauss-Newton on logs; posterior and forecast spread from the
same slopes (Laplace). Uncalibrated forecasts use the priors' spread in the same way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.heat.burning import Burn, Candle, simulate_burn, with_flame
from pourwright.core.heat.marching import Array

FREE = ("returned_share", "radiated_share", "pool_mixing_outward")
# Spread of the logs before any burn: this program's own judgement.
PRIOR_SD = (0.5, 0.3, 0.7)
# Spread of a reading, mm, mm, h, K, and what the model itself leaves open beside it.
READING_SD = {"pool": 2.0, "depth": 1.0, "touches": 0.2, "wall": 2.0}
MODEL_SD = {"pool": 1.5, "depth": 1.0, "touches": 0.2, "wall": 1.5}
STEP = 0.15  # of the logs, for slopes: large enough to drown the grid's own unevenness
FORECAST_STEP = 0.25
SMOOTH_H = 0.5  # slopes along a burn are evened over so long: rings melt one after the other
MOST_TURNS = 6


class BadRecord(BadInput):
    """A recorded burn from which nothing can be learnt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """
    One burn as it was: the candle with its weighed burn rate, and what was read.

    ``pool_mm`` are pairs of hours and diameter (mean of two directions); ``touches_h`` is when the
    pool reached the wall all round, ``wall_c`` the hottest outside of the wall, both or none.
    Pool readings at or after the touch tell nothing and are left out.
    """

    candle: Candle
    hours: float
    pool_mm: tuple[tuple[float, float], ...] = ()
    depth_mm: float | None = None
    touches_h: float | None = None
    wall_c: float | None = None

    def __post_init__(self) -> None:
        if not 0.25 <= self.hours <= 24:
            raise BadRecord(f"A recorded burn of {self.hours:g} h; it is 0.25 to 24 h long.")
        for at, width in self.pool_mm:
            if not (0 < at <= self.hours and 0 < width <= self.candle.inside_diameter_mm):
                raise BadRecord(
                    f"A pool of {width:g} mm at {at:g} h: the burn is {self.hours:g} h long and "
                    f"the vessel {self.candle.inside_diameter_mm:g} mm wide."
                )

    def readings(self) -> list[tuple[str, float, float]]:
        """Return what was read: its kind, when (h), and the value."""
        found = [
            ("pool", at, width)
            for at, width in self.pool_mm
            if width < 0.985 * self.candle.inside_diameter_mm
            and (self.touches_h is None or at < self.touches_h)
        ]
        if self.touches_h is not None:
            found.append(("touches", self.touches_h, self.touches_h))
        if self.depth_mm is not None:
            found.append(("depth", self.hours, self.depth_mm))
        if self.wall_c is not None:
            found.append(("wall", self.hours, self.wall_c))
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A forecast with its spread: along the burn's times, the middle and nine in ten."""

    burn: Burn
    low: dict[str, Array]
    high: dict[str, Array]
    calibrated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """
    What recorded burns say: values, the spread of their logs, and their covariance.

    ``misfit`` is the root mean square of (model - reading) in units of its expected spread: well
    above 1, the model does not describe these burns.
    """

    values: dict[str, float]
    log_sd: dict[str, float]
    covariance: Array
    prior_values: dict[str, float]
    misfit: float
    residuals: tuple[tuple[str, float, float, float], ...]  # kind, hours, read, model
    runs: int
    burns: int
    cell_mm: float

    def applied(self, candle: Candle) -> Candle:
        """Return another candle with the fitted flame."""
        return replace(with_flame(candle, **self.values), calibrated=True)


def calibrate(
    recorded: Sequence[Recorded], *, cell_mm: float = 2.0, plain: bool = False,
    told: Callable[[int], None] | None = None,
) -> Calibration:  # fmt: skip
    """
    Fit the flame to recorded burns. ``told`` hears after each simulated burn how many there were.

    Raises ``BadRecord`` where there is no reading. A candle's own values are the priors' middle.
    """
    if not recorded or not any(one.readings() for one in recorded):
        raise BadRecord("A calibration needs a burn with at least one reading of its pool or wall.")
    prior = np.array([log(getattr(recorded[0].candle.flame, name)) for name in FREE])
    spread = np.array(PRIOR_SD)
    fit = _Fit(recorded, cell_mm, plain, told)
    at, damping = prior.copy(), 1e-3
    model = fit.model(at)
    best = fit.cost(model, at, prior, spread)
    slopes = fit.slopes(at, model)
    for _ in range(MOST_TURNS):
        hessian = slopes.T @ slopes + np.diag(1 / spread**2)
        gradient = slopes.T @ fit.misses(model) + (at - prior) / spread**2
        step = np.clip(
            -np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), gradient), -0.7, 0.7
        )
        if float(np.abs(step).max()) < 0.02:
            break
        tried = fit.model(at + step)
        cost = fit.cost(tried, at + step, prior, spread)
        if cost < best:
            gain = best - cost
            at, model, best = at + step, tried, cost
            damping = max(damping / 4, 1e-4)
            slopes = fit.slopes(at, model)
            if gain < 0.05:
                break
        else:
            damping = max(10 * damping, 0.3)
            if damping > 100:
                break
    covariance: Array = np.linalg.inv(slopes.T @ slopes + np.diag(1 / spread**2)).astype(np.float64)
    misses = fit.misses(model)
    return Calibration(
        values={name: exp(x) for name, x in zip(FREE, at, strict=True)},
        log_sd={name: sqrt(v) for name, v in zip(FREE, np.diag(covariance), strict=True)},
        covariance=covariance,
        prior_values={name: exp(x) for name, x in zip(FREE, prior, strict=True)},
        misfit=float(np.sqrt(np.mean(misses**2))),
        residuals=tuple(
            (kind, when, read, float(found))
            for (kind, when, read), found in zip(fit.read, model, strict=True)
        ),
        runs=fit.runs,
        burns=len(recorded),
        cell_mm=cell_mm,
    )


class _Fit:
    """The readings, and what the model says of them for given logs of the free values."""

    def __init__(
        self, recorded: Sequence[Recorded], cell_mm: float, plain: bool,
        told: Callable[[int], None] | None = None,
    ) -> None:  # fmt: skip
        self.recorded, self.cell_mm, self.plain, self.runs = recorded, cell_mm, plain, 0
        self.told = told
        self.read = [reading for one in recorded for reading in one.readings()]
        self.sd = np.array([sqrt(READING_SD[k] ** 2 + MODEL_SD[k] ** 2) for k, _, _ in self.read])
        self.values = np.array([value for _, _, value in self.read])

    def model(self, logs: Array) -> Array:
        given = {name: exp(float(x)) for name, x in zip(FREE, logs, strict=True)}
        found: list[float] = []
        for one in self.recorded:
            readings = one.readings()
            if not readings:
                continue
            burn = simulate_burn(
                with_flame(one.candle, **given), hours=one.hours, cell_mm=self.cell_mm,
                pictures=0, plain=self.plain, probe_s=120,
            )  # fmt: skip
            self.runs += 1
            if self.told:
                self.told(self.runs)
            found += [_told(burn, kind, when) for kind, when, _ in readings]
        return np.array(found)

    def misses(self, model: Array) -> Array:
        return np.asarray((model - self.values) / self.sd)

    def cost(self, model: Array, logs: Array, prior: Array, spread: Array) -> float:
        return float(
            0.5 * (self.misses(model) ** 2).sum() + 0.5 * (((logs - prior) / spread) ** 2).sum()
        )

    def slopes(self, logs: Array, model: Array) -> Array:
        columns = []
        for i in range(len(logs)):
            moved = logs.copy()
            moved[i] += STEP
            columns.append((self.model(moved) - model) / STEP / self.sd)
        return np.array(columns).T


def _told(burn: Burn, kind: str, when: float) -> float:
    if kind == "pool":
        return burn.at(burn.pool_mm, when)
    if kind == "depth":
        return burn.at(burn.depth_mm, when)
    if kind == "wall":
        return float(burn.wall_c.max())
    # A pool that never touches is said to touch as much later as its last width is short.
    if burn.touches_h is not None:
        return burn.touches_h
    short = 1 - float(burn.pool_mm[-1]) / burn.candle.inside_diameter_mm
    return float(burn.times_h[-1]) * (1 + 4 * short)


def _even(slope: Array, times_h: Array) -> Array:
    """Return a slope evened along the burn by a moving mean."""
    if len(slope) < 3:
        return slope
    wide = max(1, round(SMOOTH_H / float(times_h[1] - times_h[0]))) | 1
    if wide >= len(slope):
        return np.full_like(slope, float(slope.mean()))
    padded = np.pad(slope, wide // 2, mode="edge")
    return np.convolve(padded, np.ones(wide) / wide, mode="valid")


SERIES = {"pool_mm": "pool", "depth_mm": "depth", "wall_c": "wall"}
NINE_IN_TEN = 1.645


def forecast(
    candle: Candle, *, calibration: Calibration | None = None, hours: float = 4.0,
    cell_mm: float = 2.0, plain: bool = False, burn: Burn | None = None,
) -> Band:  # fmt: skip
    """
    Return a burn with the band that nine in ten readings should lie in, if the model is right.

    Without a calibration the band is the priors', and the forecast is unverified. Four runs, or
    three where ``burn``, the middle one, is known already.
    """
    if calibration is not None:
        candle = calibration.applied(candle)
        covariance = calibration.covariance
    else:
        covariance = np.diag(np.array(PRIOR_SD) ** 2)
    if burn is None:
        burn = simulate_burn(candle, hours=hours, cell_mm=cell_mm, plain=plain)
    moved = [
        simulate_burn(
            with_flame(candle, **{name: getattr(candle.flame, name) * exp(FORECAST_STEP)}),
            hours=hours, cell_mm=cell_mm, plain=plain, pictures=0,
        )
        for name in FREE
    ]  # fmt: skip
    low, high = {}, {}
    for series, kind in SERIES.items():
        middle = getattr(burn, series)
        n = min(len(middle), *(len(getattr(m, series)) for m in moved))
        slopes = np.array(
            [
                _even((getattr(m, series)[:n] - middle[:n]) / FORECAST_STEP, burn.times_h[:n])
                for m in moved
            ]
        )
        variance = np.einsum("it,ij,jt->t", slopes, covariance, slopes)
        reach = NINE_IN_TEN * np.sqrt(variance + READING_SD[kind] ** 2 + MODEL_SD[kind] ** 2)
        floor = candle.room.air_c if kind == "wall" else 0.0
        low[series] = np.maximum(middle[:n] - reach, floor)
        high[series] = middle[:n] + reach
        if kind == "pool":
            high[series] = np.minimum(high[series], candle.inside_diameter_mm)
    return Band(burn=burn, low=low, high=high, calibrated=calibration is not None)
