"""
How many of each candle to bring to a market day, from the days there that are past.

One too few loses what a sale earns; one too many comes back and is sold later, at the cost of
carrying it, breakage and the money tied up in it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import time
from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

from pourwright.core import amounts
from pourwright.workshop.designs.costing import estimates
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import Channel
from pourwright.workshop.orders.services import default_price_minor100
from pourwright.workshop.planning.models import DesignMeans, Market, MarketDay, MarketLine
from pourwright.workshop.planning.problem import pourable, product_key

if TYPE_CHECKING:
    from pourwright.core.planning.bring import Bring, MarketAnswer, Ware
    from pourwright.core.planning.demand_fit import Seen

BACK_PCT = 10
"""What one brought back costs, of what it cost to make: common practice, no source."""
LEAST_ROOM = Fraction(1, 100)
LEAST_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class OfOne:
    """One candle's advice: how many, and what the past says, in words."""

    bring: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    of: Mapping[int, OfOne]
    words: Sequence[str]


def advice(day: MarketDay, *, designs: Sequence[Design]) -> Advice | None:
    """
    Return what to bring of each candle that was brought there before, or is wanted this time.

    None where no day there has been counted yet.
    """
    seen = seen_at(day.market, before=day)
    wanted = set(day.lines.filter(wanted__gt=0).values_list("design", flat=True))
    asked = [d for d in designs if product_key(d.pk) in seen or d.pk in wanted]
    workshop = Workshop.load()
    wares = list(_wares(asked, workshop))
    if not seen or not wares:
        return None
    from pourwright.core.planning.bring import what_to_bring  # numpy's friends are slow to load

    places = day.market.stall_places
    found = what_to_bring(
        wares, seen, room=None if places is None else Fraction(places), exposure=float(day.exposure)
    )

    def money(minor100: int) -> str:
        return amounts.show_money(minor100, currency=workshop.currency)

    names = {ware.key: ware.name for ware in wares}
    return Advice(
        of={
            design.pk: OfOne(bring=row.bring, words=_words(row, names[row.key], money))
            for row in found.wares
            for design in asked
            if product_key(design.pk) == row.key
        },
        words=list(_all_words(found, money)),
    )


def seen_at(market: Market, *, before: MarketDay) -> dict[str, list[Seen]]:
    """Return what was sold of each candle on the days at a market that are counted."""
    from pourwright.core.planning.demand_fit import Seen

    found: dict[str, list[Seen]] = defaultdict(list)
    rows = MarketLine.objects.filter(
        day__market=market, day__recorded_at__isnull=False, taken__gt=0
    ).exclude(day=before).select_related("day")  # fmt: skip
    for row in rows.order_by("day__on", "id"):
        exposure, out = float(row.day.exposure), row.back == 0
        share = _share(market, row.sold_out_at) if out else None
        if share is not None:
            exposure, out = exposure * share, False
        found[product_key(row.design_id)].append(
            Seen(sold=row.sold or 0, exposure=exposure, sold_out=out, day=str(row.day_id))
        )
    return found


def _share(market: Market, at: time | None) -> float | None:
    """Return the share of the day that had gone by; None where nobody says."""
    if at is None or market.opens is None or market.closes is None:
        return None
    opens, closes = _minutes(market.opens), _minutes(market.closes)
    return min(1.0, max(LEAST_SHARE, (_minutes(at) - opens) / (closes - opens)))


def _minutes(clock: time) -> int:
    return 60 * clock.hour + clock.minute


def _wares(designs: Iterable[Design], workshop: Workshop) -> Iterable[Ware]:
    from pourwright.core.planning.bring import Ware

    versions: dict[str, DesignVersion] = dict(pourable())
    room = dict(DesignMeans.objects.values_list("design", "stall_room"))
    asked = [d for d in designs if product_key(d.pk) in versions]
    costs = estimates([versions[product_key(d.pk)] for d in asked], workshop)
    for design in asked:
        price = default_price_minor100(design, Channel.MARKET)
        if not price:
            continue
        key = product_key(design.pk)
        cost = costs[versions[key].pk].breakdown.total_minor100
        size = Fraction(room.get(design.pk, Decimal(1)))
        yield Ware(
            key=key, name=design.name, price_minor100=price, room=max(size, LEAST_ROOM),
            too_few_minor100=max(0, price - cost),
            too_many_minor100=max(1, round(Fraction(cost * BACK_PCT, 100))),
        )  # fmt: skip


def _words(row: Bring, name: str, money) -> str:
    said = row.words.removeprefix(f"{name}: bring {row.bring}. ")
    return (
        f"{said} To be expected: {money(row.too_few_cost_minor100)} lost with too few, "
        f"{money(row.too_many_cost_minor100)} with too many."
    )


def _all_words(found: MarketAnswer, money) -> Iterable[str]:
    yield from found.words
    yield (
        f"Takings of about {money(found.takings_minor100)}, give or take "
        f"{money(found.takings_spread_minor100)}."
    )
    if found.room is not None and found.next_gain_minor100 is not None:
        yield f"One more place on the stall would bring {money(found.next_gain_minor100)} a day."
    yield (
        f"One too few is reckoned at what its sale earns, one brought back at {BACK_PCT} % of what "
        "it cost to make (carrying, breakage, money tied up: common practice, no source)."
    )
