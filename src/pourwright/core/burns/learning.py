"""
What all burns of a maker say about a candle not yet burnt: a Gaussian model of burn curves.

Four figures of each burn are learnt together: the logarithm of the burn rate by weighing; the pool
state, which is the logarithm of the pool's width against the vessel's at four hours, read from the
whole curve, or, once it touches, from when it touched; the logarithm of its depth; and that of the
wall's excess over the room. Each is linear in the logarithms of the wick's rate and the vessel's
width and in the load, with offsets for wax, series, size and design that are shared wherever two
burns share them. A burn that was hotter than usual shows in its weighing, so that the pool is not
blamed on the wick. Figures of the prior: rule table ``burns/learning``.

A screening of what to burn next. It says nothing of safety.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve  # type: ignore[import-untyped]

from pourwright.core.rules import rule

Array = NDArray[np.float64]
RATE, POOL, DEPTH, WALL = range(4)
OUTPUTS = 4
STATES = 4
LONGEST_H = 4.0
ORDINARY_LOAD = 7.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """
    What is burnt. ``rate_g_per_h`` is the supplier's chart for one wick (or any measure that is in
    proportion, such as the yarn's mass), ``design`` any name that its burns share.
    """

    design: str
    series: str
    size: str
    rate_g_per_h: float
    inside_diameter_mm: float
    wax: str
    load_pct_of_wax: float = 0.0
    wick_count: int = 1
    cure_days: float = 14.0

    @property
    def name(self) -> str:
        """The wick's name: its size, with the series where the size does not say it."""
        return self.size if self.series in self.size else f"{self.series} {self.size}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """
    A burn as it is learnt from; figures that were not read are None.

    ``pool`` is the state of ``pool_state`` and ``pool_sd`` how well it is known; ``passed`` whether
    the maker's criteria were met, None where the readings do not say.
    """

    setup: Setup
    passed: bool | None
    rate_g_per_h: float | None = None
    pool: float | None = None
    pool_sd: float = 0.02
    depth_mm: float | None = None
    wall_excess_k: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """
    A supplier's word that a size suits a setup: evidence of the pool, far weaker than a burn.

    It is taken to speak of an ordinary wax and load; the words of one series may be wrong together.
    """

    setup: Setup


def pool_state(
    widths: Sequence[tuple[float, float]],
    *,
    touched_h: float | None,
    inside_diameter_mm: float,
    curve_h: float,
) -> tuple[float, float] | None:
    """
    Return the pool's state and its standard deviation; None where nothing of it was read.

    ``widths`` are (hours, mm). The curve is that of a pool heated steadily, width proportional to
    sqrt(1 - exp(-t/curve)); a reading far from the end counts less, as the curve is only near.
    """
    if touched_h is not None:
        state = -_shape(max(touched_h, 0.05), curve_h)
        return state, math.hypot(0.012, 0.01 * max(0.0, LONGEST_H - touched_h))
    total = weight = 0.0
    for hours, width in widths:
        if hours < 0.4 or width <= 0:
            continue
        read = math.log(width / inside_diameter_mm) - _shape(min(hours, LONGEST_H), curve_h)
        spread = math.hypot(1.4 / width, 0.02 * abs(LONGEST_H - hours))
        total += read / spread**2
        weight += 1 / spread**2
    return (total / weight, weight**-0.5) if weight else None


def _shape(hours: float, curve_h: float) -> float:
    """Return the logarithm of the width at a time over that at four hours."""
    at = -math.expm1(-hours / curve_h)
    return 0.5 * math.log(at / -math.expm1(-LONGEST_H / curve_h))


def touching_state(hours: float, *, curve_h: float) -> float:
    """Return the pool state of a pool that touches the wall after so many hours."""
    return -_shape(hours, curve_h)


@dataclass(frozen=True, slots=True)
class Prior:
    """The model's figures before any burn; see the rule table."""

    slope: Array  # of each output by ln rate
    mean: Array
    mean_by_width: Array
    deeper: float  # ln depth by pool state beyond full: heat that finds no more width goes down
    needed_at_80_g_per_h: float
    curve_h: float
    shared: dict[str, float]  # spreads in ln rate, carried to each output by its slope
    own: dict[str, Array]  # spreads of each output alone
    burn: float
    reading: Array
    word: float
    chart: float


@cache
def prior(*, on: date) -> Prior:
    """Return the published prior of a day."""
    table = rule("burns/learning", on=on)

    def row(given: Any) -> Array:
        return np.array([float(value) for value in given])

    return Prior(
        slope=row(table["slope"]), mean=row(table["mean"]),
        mean_by_width=row(table["mean_by_width"]), deeper=float(table["deeper"]),
        needed_at_80_g_per_h=float(table["needed_at_80_g_per_h"]),
        curve_h=float(table["curve_h"]),
        shared={key: float(value) for key, value in table["shared"].items()},
        own={key: row(value) for key, value in table["own"].items()},
        burn=float(table["burn"]), reading=row(table["reading"]), word=float(table["word"]),
        chart=float(table["chart"]),
    )  # fmt: skip


class _Rows:
    """Setups as columns of numbers, one row for each output that was read."""

    def __init__(
        self,
        setups: Sequence[Setup],
        outputs: Sequence[int],
        beyond: Sequence[float],
        ids: _Ids,
        p: Prior,
    ):
        self.output = np.array(outputs, dtype=int)
        self.beyond = np.array(beyond, dtype=float)
        self.design = np.array([ids("design", s.design) for s in setups])
        self.series = np.array([ids("series", s.series) for s in setups])
        self.size = np.array([ids("size", (s.series, s.size)) for s in setups])
        self.wax = np.array([ids("wax", s.wax) for s in setups])
        self.pair = np.array([ids("pair", (s.wax, s.series)) for s in setups])
        self.width = np.array([math.log(s.inside_diameter_mm / 80) for s in setups])
        rate = np.array([math.log(s.rate_g_per_h * s.wick_count) for s in setups])
        self.rate = rate
        self.x = rate - math.log(p.needed_at_80_g_per_h) - 2 * self.width
        self.load = np.array([(s.load_pct_of_wax - ORDINARY_LOAD) / 3 for s in setups])
        self.many = np.array([math.log(s.wick_count) for s in setups])
        self.cure = np.array([math.log(max(s.cure_days, 1) / 14) for s in setups])

    def mean(self, p: Prior) -> Array:
        o = self.output
        found = p.mean[o] + p.slope[o] * self.x + p.mean_by_width[o] * self.width
        found = found + p.deeper * self.beyond
        return np.where(o == RATE, self.rate, found)


class _Ids:
    def __init__(self) -> None:
        self.known: dict[tuple[str, object], int] = {}

    def __call__(self, kind: str, value: object) -> int:
        return self.known.setdefault((kind, value), len(self.known))


def _covariance(a: _Rows, b: _Rows, p: Prior) -> Array:
    """Return the prior covariance of rows: what two burns share, they deviate in together."""

    def same(name: str) -> Array:
        return np.asarray(np.equal.outer(getattr(a, name), getattr(b, name)), dtype=float)

    def both(name: str) -> Array:
        product: Array = np.multiply.outer(getattr(a, name), getattr(b, name))
        return product

    s = p.shared
    load, width, many, cure = both("load"), both("width"), both("many"), both("cure")
    wax, design, series = same("wax"), same("design"), same("series")
    common = (
        s["series"] ** 2 * series
        + s["size"] ** 2 * same("size")
        + s["wax"] ** 2 * wax
        + s["pair"] ** 2 * same("pair")
        + s["design"] ** 2 * design
        + s["load"] ** 2 * load * (0.5 + 0.5 * wax)
        + s["many"] ** 2 * many
        + s["cure"] ** 2 * cure
    )
    x = both("x")
    square = np.multiply.outer(a.x**2, b.x**2)

    def spread(name: str) -> Array:
        return np.asarray(p.own[name][a.output][:, None] ** 2, dtype=float)

    alone = (
        spread("level")
        + spread("wax") * wax
        + spread("series") * series
        + spread("design") * design
        + spread("width") * width
        + spread("load") * load
        + spread("slope") * x
        + spread("slope_wax") * x * wax
        + spread("square") * square
        + spread("many") * many
        + spread("deeper") * both("beyond") * (0.5 + 0.5 * wax)
    )
    slopes = np.multiply.outer(p.slope[a.output], p.slope[b.output])
    shared: Array = slopes * common + np.equal.outer(a.output, b.output) * alone
    return shared


class Learnt:
    """
    The model after burns. ``states`` gives what it expects of setups, all together.

    Burns of other designs and suppliers' words may be handed in together with the design's own.
    """

    def __init__(self, seen: Sequence[Seen], words: Sequence[Word] = (), *, on: date) -> None:
        self.prior = p = prior(on=on)
        self._ids = _Ids()
        setups: list[Setup] = []
        outputs: list[int] = []
        values: list[float] = []
        noise: list[float] = []
        burns: list[int] = []
        beyond: list[float] = []
        for place, burn in enumerate(seen):
            for output, value, sd in _figures(burn, p):
                setups.append(burn.setup)
                outputs.append(output)
                values.append(value)
                noise.append(sd**2)
                burns.append(place)
                beyond.append(_beyond(burn.pool) if output == DEPTH else 0.0)
        told = {(w.setup.series, w.setup.inside_diameter_mm, w.setup.size): w for w in words}
        for word in told.values():
            # The supplier speaks of an ordinary wax and load, whatever the maker pours.
            ordinary = replace(word.setup, wax="", design="", load_pct_of_wax=ORDINARY_LOAD)
            setups.append(ordinary)
            outputs.append(POOL)
            values.append(p.mean[POOL])
            noise.append((p.slope[POOL] * p.word) ** 2)
            burns.append(-1 - len(burns))
            beyond.append(0.0)
        self._rows: _Rows | None = None
        if not setups:
            return
        rows = _Rows(setups, outputs, beyond, self._ids, p)
        slopes = np.multiply.outer(p.slope[rows.output], p.slope[rows.output])
        one_burn = np.equal.outer(np.array(burns), np.array(burns)) & (np.array(burns) >= 0)
        matrix = _covariance(rows, rows, p) + np.diag(noise) + p.burn**2 * slopes * one_burn
        # A supplier's chart of a series is wrong as a whole, more than from line to line.
        charted = np.array(burns) < 0
        one_chart = np.logical_and.outer(charted, charted) & np.equal.outer(
            rows.series, rows.series
        )
        matrix += p.chart**2 * slopes * one_chart
        self._rows = rows
        self._factor = cho_factor(matrix, lower=True)
        self._weights = cho_solve(self._factor, np.array(values) - rows.mean(p))

    def states(self, setups: Sequence[Setup]) -> tuple[Array, Array]:
        """
        Return mean and covariance of four figures of each setup, a burn's own scatter left out.

        They are pool, depth of a pool that is only just full, wall, and that depth with the pool's
        state 1 beyond full (the depth in between lies on a line, see ``STATES``). Shapes (4n,) and
        (4n, 4n), by setup and then by figure.
        """
        p = self.prior
        each = [setup for setup in setups for _ in range(STATES)]
        outputs, beyond = [POOL, DEPTH, WALL, DEPTH], [0.0, 0.0, 0.0, 1.0]
        rows = _Rows(each, outputs * len(setups), beyond * len(setups), self._ids, p)
        mean, spread = rows.mean(p), _covariance(rows, rows, p)
        if self._rows is not None:
            cross = _covariance(rows, self._rows, p)
            mean = mean + cross @ self._weights
            spread = spread - cross @ cho_solve(self._factor, cross.T)
        return mean, spread


def _beyond(pool: float | None) -> float:
    """Return how far a pool's state is beyond full; 0 where it was not read."""
    return max(0.0, pool or 0.0)


def _figures(burn: Seen, p: Prior) -> list[tuple[int, float, float]]:
    found = []
    if burn.rate_g_per_h is not None and burn.rate_g_per_h > 0:
        found.append((RATE, math.log(burn.rate_g_per_h), p.reading[RATE]))
    if burn.pool is not None:
        found.append((POOL, burn.pool, math.hypot(burn.pool_sd, p.reading[POOL])))
    if burn.depth_mm is not None and burn.depth_mm > 0:
        found.append((DEPTH, math.log(burn.depth_mm), p.reading[DEPTH]))
    if burn.wall_excess_k is not None:
        found.append((WALL, math.log(max(burn.wall_excess_k, 1.0)), p.reading[WALL]))
    return found
