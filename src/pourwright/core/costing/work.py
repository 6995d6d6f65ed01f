"""
Labour, overhead and freight: money that has to find its way onto candles and lots.

Money is whole 1/100 of the currency's minor unit. What is computed by a rate is rounded once, to
the nearest whole, a half up; what is shared out is shared exactly, by the largest remainder.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.core.shares import split_exactly

Exact = int | Fraction | Decimal


class BadRate(BadInput):
    """A rate, a time or an amount of money that cannot be used."""


def half_up(value: Fraction) -> int:
    """Return the nearest whole number, a half up.

    >>> half_up(Fraction(5, 2)), half_up(Fraction(7, 3))
    (3, 2)
    """
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)


def labour_minor100(*, minutes: Exact, rate_minor100_per_hour: int) -> int:
    """Return what so many minutes of work cost; rounded once, a half up."""
    if minutes < 0:
        raise BadRate(f"The time worked is {minutes} minutes; it must be 0 or more.")
    if rate_minor100_per_hour < 0:
        raise BadRate("The hourly rate is below zero; give what an hour of work costs.")
    return half_up(Fraction(minutes) * rate_minor100_per_hour / 60)


def overhead_minor100(*, base_minor100: int, overhead_pct: Exact) -> int:
    """Return an overhead of so many per cent of materials and labour; rounded once, a half up."""
    if not 0 <= overhead_pct <= 1000:
        raise BadRate(f"The overhead rate is {overhead_pct} %; it must be 0 to 1000 %.")
    if base_minor100 < 0:
        raise BadRate("Materials and labour come to less than zero; overhead cannot be worked out.")
    return half_up(base_minor100 * Fraction(overhead_pct) / 100)


def spread_freight(
    *,
    freight_minor100: int,
    by: Literal["value", "weight"],
    line_values_minor100: Sequence[int],
    line_weights_mg: Sequence[int] = (),
) -> list[int]:
    """
    Return each receipt line's share of the freight, summing to it exactly.

    By value: in proportion to the lines' prices. By weight: in proportion to their weights, one for
    each line. Where all are zero the lines share evenly.
    """
    if freight_minor100 < 0:
        raise BadRate("The freight is below zero; enter a refund as a correction instead.")
    if not line_values_minor100:
        if freight_minor100:
            raise BadRate("There is freight but no line to spread it over; add a line first.")
        return []
    if by == "weight":
        if len(line_weights_mg) != len(line_values_minor100):
            raise BadRate(
                f"Freight by weight needs a weight for each of the {len(line_values_minor100)} "
                f"lines and has {len(line_weights_mg)}; give them, or spread it by value."
            )
        weights = line_weights_mg
    else:
        weights = line_values_minor100
    if any(weight < 0 for weight in weights):
        raise BadRate("A line's price or weight is below zero; freight cannot be spread over it.")
    return split_exactly(freight_minor100, list(weights))


def allocate(total_minor100: int, *, weights: Sequence[int | Fraction]) -> list[int]:
    """
    Return a batch's cost shared over what came out of it, summing to it exactly.

    ``weights`` are what the outputs are measured by: milligrams of mix in each.
    """
    if not weights and total_minor100:
        raise BadRate("The batch cost something but nothing came out of it; book it as scrap.")
    if any(weight < 0 for weight in weights):
        raise BadRate("An output weighs less than zero; its share cannot be worked out.")
    return split_exactly(total_minor100, list(weights))
