"""A log of fills as its pages show it: the dots, the control chart, capability, the advice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pourwright.core.amounts import from_mg, mass_number, show_mass
from pourwright.core.contents import (
    RULE_NAMES,
    Declared,
    Verdict,
    lowest_allowed_g,
    sample_wanted,
)
from pourwright.core.contents.control import (
    LEAST_FILLS,
    Capability,
    IndividualsChart,
    capability,
    individuals_chart,
)
from pourwright.core.contents.declared import as_checked
from pourwright.core.contents.scales import suitability
from pourwright.core.errors import BadInput
from pourwright.papers.fill_charts import Line, fills_svg, individuals_svg
from pourwright.workshop.contents import queries
from pourwright.workshop.contents.models import Fill, Instrument

WIDTHS = (620, 330)


def in_units(value_g: float, units: str) -> str:
    exact = Fraction(value_g).limit_denominator(10**6)
    if units == "us":
        return f"{mass_number(exact, 'oz', 2)} oz"
    return f"{mass_number(exact, 'g', 1)} g"


@dataclass(frozen=True, slots=True, kw_only=True)
class Market:
    """What a market's rule asks of this lot: how many, how low a single one may be."""

    market: str
    name: str
    wanted: int
    lowest: str
    scale: object | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    dots: tuple[str, ...]
    control: tuple[str, ...]
    chart: IndividualsChart | None
    capability: Capability | None


def markets_of(
    markets: Sequence[str],
    *,
    declared: Declared | None,
    lot_size: int,
    scale: Instrument | None,
    units: str,
    on: date,
) -> tuple[list[Market], list[str]]:
    """Return what each market's rule asks for, and what no rule covers, in words."""
    found, problems = [], []
    for market in markets:
        if declared is None:
            continue
        try:
            label = as_checked(declared, market)
            suits = (
                suitability(
                    division_g=from_mg(scale.division_mg), declared=label, market=market, on=on,
                    capacity_g=from_mg(scale.capacity_mg) if scale.capacity_mg else None,
                )
                if scale and scale.division_mg
                else None
            )  # fmt: skip
            found.append(
                Market(
                    market=market, name=RULE_NAMES[market],
                    wanted=sample_wanted(market=market, lot_size=lot_size, on=on),
                    lowest=show_mass(
                        lowest_allowed_g(market=market, declared=label, on=on), units
                    ),
                    scale=suits,
                )
            )  # fmt: skip
        except BadInput as problem:
            problems.append(f"{RULE_NAMES[market]}: {problem}")
    return found, problems


def pictures_of(
    fills: Sequence[Fill],
    *,
    declared: Declared | None,
    markets: Sequence[str],
    units: str,
    on: date,
) -> Pictures:
    """Return the drawings of a log, at the width of a desk and of a phone."""
    values = [float(net) for net in queries.grams(fills)]
    if not values:
        return Pictures(dots=(), control=(), chart=None, capability=None)
    label_g, lines, lowest = None, [], None
    if declared is not None:
        label_g = float(declared.enforced_g)
        lines.append(Line(label="label", value_g=label_g))
        lowest = _lowest(declared, markets, on)
        if lowest is not None:
            lines.append(Line(label="tolerance", value_g=lowest, name="ch-low"))
    lines.append(Line(label="average", value_g=sum(values) / len(values), name="ch-today"))

    def show(value: float) -> str:
        return in_units(value, units)

    dots = tuple(
        str(
            fills_svg(
                values, lines=lines, short_below_g=lowest if lowest is not None else 0.0,
                show=show, title="Fills against the label", width=width, prefix=f"fills{width}",
            )
        )
        for width in WIDTHS
    )  # fmt: skip
    if len(values) < LEAST_FILLS:
        return Pictures(dots=dots, control=(), chart=None, capability=None)
    chart = individuals_chart(values, on=on)
    control = tuple(
        str(
            individuals_svg(
                chart, show=show, title="Control chart of single fills", width=width,
                prefix=f"control{width}",
            )
        )
        for width in WIDTHS
    )  # fmt: skip
    able = None
    if label_g is not None and lowest is not None:
        able = capability(values, label_g=label_g, limit_g=lowest, on=on)
    return Pictures(dots=dots, control=control, chart=chart, capability=able)


def _lowest(declared: Declared, markets: Sequence[str], on: date) -> float | None:
    """Return the strictest lower limit of a single fill, where a rule covers the label."""
    found = []
    for market in markets:
        try:
            label = as_checked(declared, market)
            found.append(float(lowest_allowed_g(market=market, declared=label, on=on)))
        except BadInput:
            continue
    return max(found) if found else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the standing fills would say now under a market's rule, or why nothing yet."""

    name: str
    verdict: Verdict | None
    problem: str = ""

    @property
    def tone(self) -> str:
        if self.verdict is None:
            return "wait"
        return {"pass": "ok", "fail": "bad", "more": "wait"}[self.verdict.verdict]

    @property
    def word(self) -> str:
        if self.verdict is None:
            return "not yet"
        return {"pass": "passes", "fail": "short", "more": "weigh more"}[self.verdict.verdict]
