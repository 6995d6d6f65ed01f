"""A small workshop with a candle in it, for the tests of what happens after the pour."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal

from conftest import AT, ON
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import DesignVersion, Stage
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.gates import services as gates
from pourwright.workshop.house.models import next_number
from pourwright.workshop.orders.models import Customer
from pourwright.workshop.pours.models import Filling, LotCost, Pitcher, Pour, PourState
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.ledger import Step
from pourwright.workshop.stores.models import (
    EntryKind,
    Item,
    Kind,
    Lot,
    LotSource,
    Measure,
    Origin,
    Place,
    Supplier,
    VesselFacts,
    WaxFacts,
    WickFacts,
)


@dataclass
class Bench:
    """What the tests pour from: items, one lot of each, and a design."""

    items: dict[str, Item] = field(default_factory=dict)
    lots: dict[str, Lot] = field(default_factory=dict)
    version: DesignVersion | None = None

    @property
    def design(self):
        return self.version.design

    @property
    def candle(self) -> Item:
        return self.version.design.candle


SUPPLIES = (
    ("wax", Kind.WAX, "Rapeseed blend", Measure.MASS, 20_000_000, 900_000),
    ("oil", Kind.OIL, "Quince and bay", Measure.MASS, 2_000_000, 800_000),
    ("vessel", Kind.VESSEL, "Amber tumbler", Measure.COUNT, 200, 300_000),
    ("wick", Kind.WICK, "Flat braid no. 4", Measure.COUNT, 500, 50_000),
    ("lid", Kind.PART, "Cork lid", Measure.COUNT, 100, 40_000),
    ("label", Kind.PART, "Front label", Measure.COUNT, 100, 10_000),
)


def set_up_bench(*, name: str = "Quince in amber") -> Bench:
    bench = Bench()
    supplier = Supplier.objects.create(name="Millrace Waxworks", email="orders@millrace.example")
    received = []
    for key, kind, item_name, measure, qty, price in SUPPLIES:
        item = Item.objects.create(kind=kind, name=item_name, measure=measure, supplier=supplier)
        bench.items[key] = item
        received.append(
            stores.Received(item=item, qty=qty, price_minor100=price, supplier_lot=f"MW-{key}")
        )
    WaxFacts.objects.create(
        item=bench.items["wax"], max_load_pct=10, density_cold_g_ml=Decimal("0.9")
    )
    VesselFacts.objects.create(
        item=bench.items["vessel"], inside_mm=74, depth_mm=86, fit_for_candles="maker's letter",
        shock_statement="annealed; bears a difference of 35 K",
        leak_tested_on=ON,
    )  # fmt: skip
    WickFacts.objects.create(item=bench.items["wick"], lead_free="maker's letter")
    receipt = stores.receive(lines=received, supplier=supplier, on=ON, at=AT, reference="MW 5521")
    for key, line in zip(bench.items, receipt.lines.order_by("pk"), strict=True):
        bench.lots[key] = line.lot
    formula = formulas.new_formula(
        name=f"{name}: scent",
        recipe=formulas.Recipe(
            waxes=[(bench.items["wax"], Decimal(1))],
            oils=[(bench.items["oil"], Decimal(1))],
            load_pct=Decimal(8),
        ),
        on=ON,
    )
    bench.version = designs.new_design(
        name=name,
        spec=designs.DesignSpec(
            formula_version=formula,
            vessel=bench.items["vessel"],
            wick=bench.items["wick"],
            fill_mg=220_000,
            parts=[
                (bench.items["lid"], 1, Stage.FINISH),
                (bench.items["label"], 2, Stage.FINISH),
            ],
            price_minor100=240_000,
            wholesale_minor100=130_000,
        ),
        on=ON,
    )
    return bench


def pour(
    bench: Bench,
    *,
    good: int = 24,
    seconds: int = 0,
    left_mg: int = 0,
    wax: Lot | None = None,
    on=ON,
    cure_days: int = 14,
) -> Pour:
    """
    Pour some candles as a closed pour leaves them: moves, threads, costs, lots.

    Written against the ledger itself, so that these tests stand apart from the pour's own.
    """
    wax = wax or bench.lots["wax"]
    takes = [
        (wax, 200_000 * (good + seconds) + left_mg, "wax"),
        (bench.lots["oil"], 16_000 * (good + seconds), "fragrance"),
        (bench.lots["vessel"], good + seconds, "vessel"),
        (bench.lots["wick"], good + seconds, "wick"),
    ]
    made = [(stores.new_lot(bench.candle, origin=Origin.POUR, began_on=on,
                            ready_on=on + timedelta(days=cure_days)), good)]  # fmt: skip
    if seconds:
        made.append((stores.new_lot(bench.candle, origin=Origin.SECONDS, began_on=on,
                                    ready_on=on + timedelta(days=cure_days)), seconds))  # fmt: skip
    steps, sources, worth = [], [], {lot.pk: {} for lot, _ in made}
    left = None
    if left_mg:
        left = stores.new_lot(bench.items["wax"], origin=Origin.LEFT_PLAIN, began_on=on)
    candles = good + seconds
    for lot, qty, component in takes:
        held, value = ledger.held(lot)
        value = ledger.take_value(held, value, qty)
        steps.append(Step(lot=lot, from_place=Place.STORE, to_place=Place.MADE, qty=qty))
        outs = [(child, n, qty_of(qty - (left_mg if lot == wax else 0), n, candles))
                for child, n in made]  # fmt: skip
        if left and lot == wax:
            outs.append((left, 0, left_mg))
        shares = ledger_split(value, [share for _, _, share in outs])
        for (child, _, share), part in zip(outs, shares, strict=True):
            sources.append((lot, child, share, part))
            kept = worth.setdefault(child.pk, {})
            kept[component] = kept.get(component, 0) + part
    for child, n in made:
        steps.append(Step(lot=child, from_place=Place.MADE, to_place=Place.SHELF, qty=n,
                          value=sum(worth[child.pk].values())))  # fmt: skip
    if left:
        steps.append(Step(lot=left, from_place=Place.MADE, to_place=Place.STORE, qty=left_mg,
                          value=sum(worth[left.pk].values())))  # fmt: skip
    entry = ledger.post(kind=EntryKind.POUR, on=on, at=AT, steps=steps)
    LotSource.objects.bulk_create(
        LotSource(entry=entry, parent=parent, child=child, qty=qty, value=value)
        for parent, child, qty, value in sources
    )
    done = Pour.objects.create(
        number=next_number("T"), state=PourState.CLOSED, on=on, scale_division_mg=100, loss_pct=1,
        entry=entry,
    )  # fmt: skip
    pitcher = Pitcher.objects.create(
        pour=done, position=1, formula_version=bench.version.formula_version, wax_mg=1, mix_mg=1
    )
    Filling.objects.create(
        pitcher=pitcher, design_version=bench.version, wanted=candles, good=good, seconds=seconds,
        scrapped=0, fill_mg=220_000, lot=made[0][0], seconds_lot=made[1][0] if seconds else None,
    )  # fmt: skip
    LotCost.objects.bulk_create(
        LotCost(lot=child, component=component, value=value)
        for child, _ in made
        for component, value in worth[child.pk].items()
    )
    return done


def qty_of(total: int, n: int, candles: int) -> int:
    return total * n // candles


def ledger_split(total: int, weights: list[int]) -> list[int]:
    from pourwright.core.shares import split_exactly

    return split_exactly(total, weights)


def lot_of(poured: Pour) -> Lot:
    return Filling.objects.get(pitcher__pour=poured).lot


def release(subject, *, on, at=AT, by="A. Maker") -> None:
    """Pass by hand what is open and release."""
    for check in gates.checks_of(subject, on=on):
        if not check.passed:
            gates.waive(
                subject=subject, check_name=check.name, reason="seen in a test", by=by, at=at
            )
    gates.release(subject, by=by, on=on, at=at)


def customer(name: str = "Tilda Wren") -> Customer:
    return Customer.objects.create(
        name=name, email="tilda@wren.example", phone="555 0101", address="1 Mill Lane"
    )
