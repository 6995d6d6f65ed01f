"""
What a candle of a design costs from what the stores hold now, oldest lots first.

An estimate for pricing: what a finished lot really cost stands in the ledger.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import OuterRef, Subquery

from pourwright.core.amounts import to_mg
from pourwright.core.costing import (
    Breakdown,
    Layer,
    labour_minor100,
    take_fifo,
    with_overhead,
)
from pourwright.core.formula import Fill, batch_for_vessels
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import parts_of
from pourwright.workshop.formulas.services import core_formula
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Balance, Item, Kind, Lot, Move, Origin, Place

FROM_STORE = "lots in store"
FROM_LAST = "last price paid"
UNKNOWN = "no price yet"

MIX_PART = {
    Kind.WAX: "wax",
    Kind.OIL: "fragrance",
    Kind.DYE: "additives",
    Kind.ADDITIVE: "additives",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing that a candle takes: how much, what it is worth, and where that figure is from."""

    item: Item
    part: str
    qty: int
    value: int
    source: str
    lots: tuple[str, ...] = ()
    stage: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A candle's estimated cost: line by line, and by part."""

    lines: tuple[Line, ...]
    breakdown: Breakdown

    @property
    def unpriced(self) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.source == UNKNOWN)


def estimate(version: DesignVersion, workshop: Workshop) -> Breakdown:
    """Return the estimated cost of one candle, in 1/100 of the minor unit, part by part."""
    return estimate_lines(version, workshop).breakdown


def estimate_lines(version: DesignVersion, workshop: Workshop) -> Estimate:
    return estimates([version], workshop)[version.pk]


def estimates(versions: Sequence[DesignVersion], workshop: Workshop) -> dict[int, Estimate]:
    """Return the estimate of each version, by its key, in a number of queries that stays small."""
    wanted = {version.pk: takes_of(version, workshop) for version in versions}
    prices = _prices(take.item for takes in wanted.values() for take in takes)
    return {
        version.pk: _estimate(version, wanted[version.pk], prices, workshop) for version in versions
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    item: Item
    part: str
    qty: int
    stage: str = ""


def takes_of(version: DesignVersion, workshop: Workshop) -> list[Take]:
    """Return what one candle takes, its share of the allowance for loss included."""
    fv = version.formula_version
    fill_g = Fraction(version.fill_mg, 1000)
    batch = batch_for_vessels(
        core_formula(fv),
        fills=[Fill(count=1, fill_g=fill_g)],
        loss_pct_of_mix=Fraction(workshop.loss_pct),
    )
    takes = []
    groups = ((fv.waxes, batch.waxes), (fv.oils, batch.oils), (fv.extras, batch.extras))
    for parts, amounts in groups:
        for part, amount in zip(_items(parts), amounts, strict=True):
            takes.append(Take(item=part, part=MIX_PART[Kind(part.kind)], qty=to_mg(amount.mass_g)))
    takes.append(Take(item=version.vessel, part="vessel", qty=1))
    takes.append(Take(item=version.wick, part="wick", qty=version.wick_count))
    for part in parts_of(version):
        name = "wick" if part.stage == "pour" else "packaging"
        takes.append(Take(item=part.item, part=name, qty=part.qty, stage=part.stage))
    return takes


def _items(parts) -> list[Item]:
    return [part.item for part in parts.all()]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Prices:
    layers: dict[int, list[Layer]]
    last: dict[int, Fraction]


def _prices(items: Iterable[Item]) -> _Prices:
    wanted = {item.pk for item in items}
    layers: dict[int, list[Layer]] = defaultdict(list)
    held = (
        Balance.objects.filter(lot__item__in=wanted, place=Place.STORE, qty__gt=0)
        .order_by("lot__began_on", "lot_id")
        .values_list("lot__item_id", "lot__code", "qty", "value")
    )
    for item, code, qty, value in held:
        layers[item].append(Layer(lot=code, qty=qty, value=value))
    newest = (
        Lot.objects.filter(item=OuterRef("pk"), origin__in=[Origin.RECEIPT, Origin.OPENING])
        .order_by("-began_on", "-id")
        .values("pk")[:1]
    )
    lots = Item.objects.filter(pk__in=wanted).values_list(Subquery(newest), flat=True)
    last = {
        item: Fraction(value, qty)
        for item, qty, value in Move.objects.filter(
            lot_id__in=[lot for lot in lots if lot],
            from_place__in=[Place.SUPPLIER, Place.OPENING],
            qty__gt=0,
        ).values_list("lot__item_id", "qty", "value")
    }
    return _Prices(layers=dict(layers), last=last)


def _line(take: Take, prices: _Prices) -> Line:
    """Return a take with its value: from the stores as far as they go, else at the last price."""
    layers = prices.layers.get(take.item.pk, [])
    there = sum(layer.qty for layer in layers)
    found = take_fifo(layers, min(there, take.qty))
    value, lacking = sum(part.value for part in found), take.qty - min(there, take.qty)
    source = FROM_STORE
    if lacking:
        price = prices.last.get(take.item.pk)
        source = UNKNOWN if price is None else FROM_LAST
        value += round(lacking * (price or 0))
    return Line(
        item=take.item, part=take.part, qty=take.qty, value=value, source=source,
        lots=tuple(part.lot for part in found), stage=take.stage,
    )  # fmt: skip


def _estimate(
    version: DesignVersion, takes: Sequence[Take], prices: _Prices, workshop: Workshop
) -> Estimate:
    lines = tuple(_line(take, prices) for take in takes)
    sums: dict[str, int] = defaultdict(int)
    lost = Fraction(workshop.loss_pct) / 100
    for line in lines:
        gone = 0
        if line.part in MIX_PART.values():
            gone = line.value * lost.numerator // lost.denominator
        sums[line.part] += line.value - gone
        sums["loss"] += gone
    sums["labour"] = labour_minor100(
        minutes=version.minutes_each, rate_minor100_per_hour=workshop.labour_rate_minor100
    )
    return Estimate(
        lines=lines,
        breakdown=with_overhead(Breakdown(**sums), overhead_pct=workshop.overhead_pct),
    )
