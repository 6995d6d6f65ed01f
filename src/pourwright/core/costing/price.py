"""
A price from a wanted margin, with what selling costs.

Margin is of the price: profit / price. Mark-up is of the cost: (price - cost) / cost. They are
different numbers for the same price, and both are shown. Money is whole 1/100 of the minor unit;
rates are per cent.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from pourwright.core.costing.work import half_up
from pourwright.core.errors import BadInput

Exact = int | Fraction | Decimal


class ImpossiblePrice(BadInput):
    """No price gives that margin."""


class BadEnding(BadInput):
    """A price cannot end so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceEnding:
    """
    Prices go up to the next one that ends so: with a step of one dollar and an ending of 0.95, to
    x.95. Both in 1/100 of the minor unit; the ending is below the step.
    """

    step_minor100: int
    ending_minor100: int = 0

    def __post_init__(self) -> None:
        if self.step_minor100 < 1 or not 0 <= self.ending_minor100 < self.step_minor100:
            raise BadEnding(
                "A price ending is from 0 up to, not including, the step it repeats in; give for "
                "example 0.95, 0.50 or 0."
            )

    def up(self, exact_minor100: Fraction) -> int:
        """Return the lowest price with this ending that is no lower than the exact one.

        >>> PriceEnding(step_minor100=10000, ending_minor100=5000).up(Fraction(150001))
        155000
        """
        over = exact_minor100 - self.ending_minor100
        steps = max(-(-over.numerator // (over.denominator * self.step_minor100)), 0)
        return steps * self.step_minor100 + self.ending_minor100


# Without an ending of its own a price goes up to the next whole minor unit.
TO_THE_MINOR_UNIT = PriceEnding(step_minor100=100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """
    A price and what becomes of it: cost + fees + profit = price, to the last unit.

    ``exact_minor100`` is the price before its ending; the margin is of the price as it ends, so it
    is never below the one wanted by more than the rounding of the fee.
    """

    price_minor100: int
    exact_minor100: Fraction
    unit_cost_minor100: int
    fees_minor100: int
    wanted_margin_pct: Fraction

    @property
    def profit_minor100(self) -> int:
        """Return what is left of the price after fees and cost."""
        return self.price_minor100 - self.fees_minor100 - self.unit_cost_minor100

    @property
    def margin_pct(self) -> Fraction:
        """Return the profit as per cent of the price."""
        return Fraction(100 * self.profit_minor100, self.price_minor100)

    @property
    def markup_pct(self) -> Fraction:
        """Return how far the price is above the cost, as per cent of the cost."""
        above = self.price_minor100 - self.unit_cost_minor100
        return Fraction(100 * above, self.unit_cost_minor100)


def fees_minor100(*, price_minor100: int, fee_pct: Exact = 0, fee_fixed_minor100: int = 0) -> int:
    """Return a sale's fees: a percentage and a fixed sum, to the whole minor unit, a half up."""
    exact = Fraction(fee_pct) / 100 * price_minor100 + fee_fixed_minor100
    return half_up(exact / 100) * 100


def price_for_margin(
    *,
    unit_cost_minor100: int,
    margin_pct: Exact,
    fee_pct: Exact = 0,
    fee_fixed_minor100: int = 0,
    ending: PriceEnding = TO_THE_MINOR_UNIT,
) -> Price:
    """
    Return the price at which ``margin_pct`` of it is profit, after fees.

        price = (cost + fixed fee) / (1 - margin - fee rate)

    rounded up to its ending. Range: cost above 0; margin 0 to below 100 %, and margin and fee rate
    together below 100 %. Raises ImpossiblePrice outside it.

    >>> price_for_margin(unit_cost_minor100=30000, margin_pct=25).price_minor100
    40000
    """
    margin, fee = Fraction(margin_pct), Fraction(fee_pct)
    if unit_cost_minor100 <= 0:
        raise ImpossiblePrice("The unit cost is not above zero; a margin cannot be set on it.")
    if margin < 0 or fee < 0 or fee_fixed_minor100 < 0:
        raise ImpossiblePrice("Margin and fees must be 0 or more.")
    if margin + fee >= 100:
        raise ImpossiblePrice(
            f"A margin of {float(margin):g} % and fees of {float(fee):g} % leave nothing of the "
            "price for the cost; together they must stay below 100 %. A mark-up on the cost is "
            "another number: a mark-up of 100 % is a margin of 50 %."
        )
    exact = (unit_cost_minor100 + fee_fixed_minor100) / (1 - (margin + fee) / 100)
    price = ending.up(exact)
    return Price(
        price_minor100=price,
        exact_minor100=exact,
        unit_cost_minor100=unit_cost_minor100,
        fees_minor100=fees_minor100(
            price_minor100=price, fee_pct=fee, fee_fixed_minor100=fee_fixed_minor100
        ),
        wanted_margin_pct=margin,
    )


def price_at(
    *,
    price_minor100: int,
    unit_cost_minor100: int,
    fee_pct: Exact = 0,
    fee_fixed_minor100: int = 0,
) -> Price:
    """Return what becomes of a price that is already set; a loss shows as a negative margin."""
    if price_minor100 <= 0 or unit_cost_minor100 <= 0:
        raise ImpossiblePrice("Price and unit cost must be above zero.")
    fees = fees_minor100(
        price_minor100=price_minor100, fee_pct=fee_pct, fee_fixed_minor100=fee_fixed_minor100
    )
    profit = price_minor100 - fees - unit_cost_minor100
    return Price(
        price_minor100=price_minor100,
        exact_minor100=Fraction(price_minor100),
        unit_cost_minor100=unit_cost_minor100,
        fees_minor100=fees,
        wanted_margin_pct=Fraction(100 * profit, price_minor100),
    )


def markup_of_margin(margin_pct: Exact) -> Fraction:
    """
    Return the mark-up, per cent of cost, that a margin, per cent of price, amounts to, fees apart.

    >>> markup_of_margin(20)
    Fraction(25, 1)
    """
    margin = Fraction(margin_pct)
    if not margin < 100:
        raise ImpossiblePrice(f"A margin of {float(margin):g} % is not below 100 %.")
    return 100 * margin / (100 - margin)


def margin_of_markup(markup_pct: Exact) -> Fraction:
    """
    Return the margin, per cent of price, that a mark-up, per cent of cost, amounts to.

    >>> margin_of_markup(25)
    Fraction(20, 1)
    """
    markup = Fraction(markup_pct)
    if not markup > -100:
        raise ImpossiblePrice(f"A mark-up of {float(markup):g} % is not above -100 %.")
    return 100 * markup / (100 + markup)
