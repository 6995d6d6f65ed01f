"""
The control chart of single fills, its run rules, and capability against a lower limit.

Sigma is the mean moving range of neighbours divided by d2 = 1.128, so that a slow drift does not
widen the limits that should find it. Floats: a chart is read by eye.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2, 6.3.2.2 and 7.1.6 (from memory,
high); rule table ``quality/individuals_chart``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import NormalDist, fmean, stdev

from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

LEAST_FILLS = 4


class TooFewFills(BadInput):
    """Too few fills for a chart or a spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """A run rule that was met: what it says, and the fills (from 0) that meet it."""

    name: str
    says: str
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class IndividualsChart:
    """
    The chart's lines, in grams, and its signals. ``range_limit_g`` is the limit of the moving
    ranges.
    """

    values_g: tuple[float, ...]
    mean_g: float
    sigma_g: float
    upper_g: float
    lower_g: float
    mean_range_g: float
    range_limit_g: float
    signals: tuple[Signal, ...]
    rule: Rule

    @property
    def steady(self) -> bool:
        return not self.signals

    def marked(self) -> set[int]:
        """Return the places (from 0) of the fills at which a signal was complete."""
        return {signal.last for signal in self.signals}


def individuals_chart(values_g: Sequence[float], *, on: date) -> IndividualsChart:
    """Return the chart of fills in the order in which they were poured, at least four."""
    if len(values_g) < LEAST_FILLS:
        raise TooFewFills(
            f"{len(values_g)} fills; a control chart takes {LEAST_FILLS} or more, in the order of "
            "pouring."
        )
    table = rule("quality/individuals_chart", on=on)
    ranges = [abs(after - before) for before, after in pairwise(values_g)]
    mean, mean_range = fmean(values_g), fmean(ranges)
    sigma = mean_range / float(table["d2"])
    reach = table["limit_sigmas"] * sigma
    return IndividualsChart(
        values_g=tuple(values_g), mean_g=mean, sigma_g=sigma, upper_g=mean + reach,
        lower_g=mean - reach, mean_range_g=mean_range,
        range_limit_g=float(table["range_limit_factor"]) * mean_range,
        signals=tuple(_signals(values_g, mean, sigma, table)), rule=table,
    )  # fmt: skip


def _signals(values: Sequence[float], mean: float, sigma: float, table: Rule) -> list[Signal]:
    found: list[Signal] = []
    for row in table["run_rules"]:
        bound = row["beyond_sigmas"] * sigma
        for last in range(row["of"] - 1, len(values)):
            first = last - row["of"] + 1
            window = [value - mean for value in values[first : last + 1]]
            for side, word in ((1, "above"), (-1, "below")):
                over = [side * off > bound for off in window]
                # The newest point is one of them, so that a run is told once, where it completes.
                if over[-1] and sum(over) >= row["points"]:
                    says = f"{row['says']} ({word})"
                    found.append(Signal(name=row["name"], says=says, first=first, last=last))
    span = table["trend_points"]
    for last in range(span - 1, len(values)):
        window = list(values[last - span + 1 : last + 1])
        steps = [after - before for before, after in pairwise(window)]
        if all(step > 0 for step in steps) or all(step < 0 for step in steps):
            found.append(
                Signal(name="trend", says=table["trend_says"], first=last - span + 1, last=last)
            )
    return sorted(found, key=lambda signal: (signal.last, signal.first))


@dataclass(frozen=True, slots=True, kw_only=True)
class Capability:
    """
    How well a pouring holds a lower limit.

    ``cpl`` is (mean - limit) / 3 sigma from fill to fill; ``ppl`` the same with the spread of all.
    ``share_below_label`` and ``share_below_limit`` are what a normal spread would put there.
    """

    limit_g: float
    mean_g: float
    sd_g: float
    sigma_g: float
    cpl: float | None
    ppl: float | None
    share_below_label: float
    share_below_limit: float


def capability(
    values_g: Sequence[float], *, label_g: float, limit_g: float, on: date
) -> Capability:
    """Return the capability of fills against the label and the lowest net weight allowed."""
    chart = individuals_chart(values_g, on=on)
    sd = stdev(values_g)
    room = chart.mean_g - limit_g

    def below(edge: float) -> float:
        if sd == 0:
            return 1.0 if chart.mean_g < edge else 0.0
        return NormalDist(chart.mean_g, sd).cdf(edge)

    return Capability(
        limit_g=limit_g, mean_g=chart.mean_g, sd_g=sd, sigma_g=chart.sigma_g,
        cpl=room / (3 * chart.sigma_g) if chart.sigma_g else None,
        ppl=room / (3 * sd) if sd else None,
        share_below_label=below(label_g), share_below_limit=below(limit_g),
    )  # fmt: skip
