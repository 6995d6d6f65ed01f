"""One door to a net check, whatever the market."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from fractions import Fraction

from pourwright.core.contents import average, us
from pourwright.core.contents.average import NoSuchPlan, PlanKind
from pourwright.core.contents.declared import Declared, MarketRule
from pourwright.core.contents.verdict import Verdict

RULE_NAMES = {
    "us": "US: NIST Handbook 133, Category A",
    "eu": "EU: Directive 76/211/EEC",
    "gb": "GB: SI 2006/659, average system",
}


def check_net(
    *,
    market: MarketRule,
    declared: Declared,
    nets_g: Sequence[Fraction],
    lot_size: int,
    on: date,
    plan: PlanKind | None = None,
) -> Verdict:
    """Return whether a lot's net weights (g, in the order of weighing) pass a market's rule."""
    if market == "us":
        if plan is not None:
            raise NoSuchPlan(f"The US rule has one plan, by the lot’s size; leave “{plan}” out.")
        return us.check(declared=declared, nets_g=nets_g, lot_size=lot_size, on=on)
    return average.check(
        declared=declared, nets_g=nets_g, lot_size=lot_size, market=market, kind=plan, on=on
    )


def sample_wanted(*, market: MarketRule, lot_size: int, on: date) -> int:
    """Return how many of a lot are weighed at first under a market's usual plan."""
    if market == "us":
        return us.plan(lot_size=lot_size, on=on).sample
    test = average.reference_test(batch_size=lot_size, market=market, on=on)
    return max(test.stages[0][0], test.mean_sample)


def lowest_allowed_g(*, market: MarketRule, declared: Declared, on: date) -> Fraction:
    """Return the net weight below which a single package counts against the lot."""
    if market == "us":
        return declared.enforced_g - us.mav(declared, on=on).mav_g
    return average.tolerance(nominal_g=declared.nominal_g, market=market, on=on).t1_g
