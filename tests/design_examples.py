"""Invented supplies, a formula and a design that several tests start from."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from conftest import AT, ON
from pourwright.workshop.designs.services import DesignSpec, new_design
from pourwright.workshop.formulas.services import Recipe, new_formula
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import (
    Item,
    Kind,
    Measure,
    OilFacts,
    VesselFacts,
    WaxFacts,
    WickFacts,
)


def wax(name="Meadow blend", *, limit="10", basis="wax", **facts):
    item = Item.objects.create(kind=Kind.WAX, name=name, measure=Measure.MASS)
    known = {
        "density_cold_g_ml": Decimal("0.9"), "density_liquid_g_ml": Decimal("0.8"),
        "max_load_pct": None if limit is None else Decimal(limit), "max_load_basis": basis,
    }  # fmt: skip
    WaxFacts.objects.create(item=item, **(known | facts))
    return item


def oil(name="Fig leaf", *, limit="12", flash="93"):
    item = Item.objects.create(kind=Kind.OIL, name=name, measure=Measure.MASS)
    OilFacts.objects.create(
        item=item,
        max_pct_of_whole=None if limit is None else Decimal(limit),
        flash_point_c=None if flash is None else Decimal(flash),
    )
    return item


def vessel(name="Low tumbler", *, fit="supplier's letter 12", leak=date(2026, 1, 5), **facts):
    item = Item.objects.create(kind=Kind.VESSEL, name=name, measure=Measure.COUNT)
    inside = {
        "inside_mm": Decimal(74), "depth_mm": Decimal(85),
        "shock_statement": "annealed; bears a difference of 35 K",
    }  # fmt: skip
    VesselFacts.objects.create(
        item=item, fit_for_candles=fit, leak_tested_on=leak, **(inside | facts)
    )
    return item


def wick(name="Flat braid no. 3", *, lead_free="supplier's letter 7"):
    item = Item.objects.create(kind=Kind.WICK, name=name, measure=Measure.COUNT)
    WickFacts.objects.create(item=item, lead_free=lead_free)
    return item


def part(name="Lid", measure=Measure.COUNT):
    return Item.objects.create(kind=Kind.PART, name=name, measure=measure)


def recipe(**changes):
    """Return a recipe within every limit, unless the changes say otherwise."""
    if "waxes" not in changes:
        changes["waxes"] = [(wax(), Decimal(1))]
    if "oils" not in changes:
        changes["oils"] = [(oil(), Decimal(1))]
    return replace(Recipe(waxes=[], oils=[], load_pct=Decimal(8), add_at_c=Decimal(75)), **changes)


def formula(name="Fig at noon", **changes):
    return new_formula(name=name, recipe=recipe(**changes), on=ON)


def spec(**changes):
    if "formula_version" not in changes:
        changes["formula_version"] = formula()
    if "vessel" not in changes:
        changes["vessel"] = vessel()
    if "wick" not in changes:
        changes["wick"] = wick()
    return DesignSpec(**({"fill_mg": 220_000} | changes))


def design(name="Fig tumbler", **changes):
    return new_design(name=name, spec=spec(**changes), on=ON)


def received(item, qty, price):
    line = stores.Received(item=item, qty=qty, price_minor100=price)
    return stores.receive(lines=[line], on=ON, at=AT).lines.get().lot
