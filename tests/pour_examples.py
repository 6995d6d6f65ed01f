"""A workshop with one wax, two oils, a vessel, a wick and two designs, for tests of pours."""

from dataclasses import dataclass
from decimal import Decimal

from conftest import AT, ON
from pourwright.workshop.designs.services import DesignSpec, new_design
from pourwright.workshop.formulas.services import Recipe, new_formula
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours import services
from pourwright.workshop.pours.services import Outcome, PitcherPlan
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Item, Kind, Measure, OilFacts, WaxFacts


def received(item, qty, price=123_457, on=ON, **more):
    line = stores.Received(item=item, qty=qty, price_minor100=price, **more)
    return stores.receive(lines=[line], on=on, at=AT).lines.get().lot


def an_item(kind, name):
    by_mass = kind in (Kind.WAX, Kind.OIL, Kind.DYE, Kind.ADDITIVE)
    item = Item.objects.create(
        kind=kind, name=name, measure=Measure.MASS if by_mass else Measure.COUNT
    )
    if kind == Kind.WAX:
        WaxFacts.objects.create(item=item, density_liquid_g_ml=Decimal("0.85"), cure_days=10)
    if kind == Kind.OIL:
        OilFacts.objects.create(item=item, flash_point_c=80)
    return item


@dataclass
class Bench:
    """A workshop with one wax, two oils, a vessel, a wick and two designs of one wax."""

    workshop: Workshop
    wax: Item
    oils: list
    vessel: Item
    wick: Item
    tab: Item
    fig: object
    cedar: object

    def stock(self, **amounts):
        wanted = {
            "wax": 20_000_000, "oil": 2_000_000, "vessel": 100, "wick": 100, "tab": 100,
        } | amounts  # fmt: skip
        received(self.wax, wanted["wax"], 2_000_003)
        for place, oil in enumerate(self.oils):
            received(oil, wanted["oil"], 400_001 + place)
        received(self.vessel, wanted["vessel"], 700_007)
        received(self.wick, wanted["wick"], 90_001)
        received(self.tab, wanted["tab"], 31_337)
        return self


def a_bench(workshop):
    workshop.labour_rate_minor100 = 180_000
    workshop.overhead_pct = Decimal("7.5")
    workshop.save()
    wax, vessel = an_item(Kind.WAX, "rape blend"), an_item(Kind.VESSEL, "beaker")
    oils = [an_item(Kind.OIL, "fig leaf"), an_item(Kind.OIL, "cedar")]
    wick, tab = an_item(Kind.WICK, "braid no. 4"), an_item(Kind.PART, "tab")
    return Bench(
        workshop=workshop,
        wax=wax,
        oils=oils,
        vessel=vessel,
        wick=wick,
        tab=tab,
        fig=a_design("Fig", wax, oils[:1], vessel, wick, tab),
        cedar=a_design("Cedar", wax, oils, vessel, wick, tab),
    )


def a_design(name, wax, oils, vessel, wick, tab, load=Decimal(6), fill_mg=180_000, extras=()):
    recipe = Recipe(
        waxes=[(wax, Decimal(1))] if isinstance(wax, Item) else wax,
        oils=[(oil, Decimal(1)) for oil in oils],
        extras=extras,
        load_pct=load if oils else Decimal(0),
        add_at_c=Decimal(68),
        pour_at_c=Decimal(60),
    )
    version = new_formula(name=name, recipe=recipe, on=ON)
    spec = DesignSpec(
        formula_version=version, vessel=vessel, wick=wick, wick_count=1, fill_mg=fill_mg,
        parts=[(tab, 1, "pour")], minutes_each=Decimal(4), best_before_months=18,
    )  # fmt: skip
    return new_design(name=name, spec=spec, on=ON)


def planned(bench, *fillings, **more):
    """Plan a pour of (design version, number) each in a pitcher of its own."""
    pitchers = [
        PitcherPlan(formula_version=design.formula_version, fillings=[(design, number)])
        for design, number in fillings
    ]
    return services.plan(on=ON, pitchers=pitchers, workshop=bench.workshop, **more)


def opened(bench, *fillings, **more):
    return services.open_pour(planned(bench, *fillings, **more), at=AT)


def fillings_of(pour):
    return [filling for pitcher in pour.pitchers.all() for filling in pitcher.fillings.all()]


def closed(bench, pour, *outcomes, left=(), **more):
    """Close with (good, seconds, scrapped) for each filling and mix left for each pitcher."""
    given = {
        filling.pk: outcome if isinstance(outcome, Outcome) else Outcome(**outcome)
        for filling, outcome in zip(fillings_of(pour), outcomes, strict=True)
    }
    kept = dict(zip([p.pk for p in pour.pitchers.all()], left, strict=False))
    return services.close(
        pour, outcomes=given, left=kept, on=ON, at=AT, workshop=bench.workshop, **more
    )


def worth_at(place):
    return sum(b.value for b in ledger.Balance.objects.filter(place=place))
