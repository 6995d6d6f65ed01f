"""A price from a wanted margin, both ways of selling, on the estimated cost."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.amounts import minor_digits
from pourwright.core.costing import Price, PriceEnding, price_at, price_for_margin
from pourwright.workshop.designs.models import DesignVersion


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """One way of selling: the price that gives the margin, and what the set price gives."""

    way: str
    wanted: Price
    set_price: Price | None


def priced(
    version: DesignVersion, asked: dict, *, cost_minor100: int, currency: str
) -> list[Priced]:
    """Return the direct and the wholesale price; raises the core's ImpossiblePrice."""
    ending = _ending(asked.get("ending"), currency)
    ways = (
        ("direct", "margin", asked.get("fee"), asked.get("fixed_fee"), version.price_minor100),
        ("wholesale", "wholesale_margin", asked.get("wholesale_fee"), 0,
         version.wholesale_minor100),
    )  # fmt: skip
    found = []
    for way, margin, fee, fixed, stands in ways:
        fees = {"fee_pct": Fraction(fee or 0), "fee_fixed_minor100": fixed or 0}
        wanted = price_for_margin(
            unit_cost_minor100=cost_minor100,
            margin_pct=Fraction(asked[margin]),
            **fees,
            **({"ending": ending} if ending else {}),
        )
        now = (
            price_at(price_minor100=stands, unit_cost_minor100=cost_minor100, **fees)
            if stands
            else None
        )
        found.append(Priced(way=way, wanted=wanted, set_price=now))
    return found


def _ending(minor100: int | None, currency: str) -> PriceEnding | None:
    if minor100 is None:
        return None
    whole = 100 * 10 ** minor_digits(currency)
    return PriceEnding(step_minor100=whole, ending_minor100=minor100)
