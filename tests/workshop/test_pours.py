"""A pour from plan to closed lots: amounts, lots, cost to the last unit, and what is refused."""

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conftest import AT, ON
from pour_examples import (
    a_bench,
    a_design,
    an_item,
    closed,
    fillings_of,
    opened,
    planned,
    received,
    worth_at,
)
from pourwright.core.errors import BadInput
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours import services
from pourwright.workshop.pours.models import LotCost, Melter, PourState, Step, Take, Use
from pourwright.workshop.pours.services import Outcome, PitcherPlan
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import (
    Kind,
    Lot,
    LotSource,
    Move,
    OilFacts,
    Place,
)

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def bench(workshop):
    return a_bench(workshop)


# --- planning ------------------------------------------------------------------------------------


def test_a_plan_names_amounts_and_the_oldest_lots(bench):
    old = received(bench.wax, 1_000_000, on=ON - timedelta(days=40))
    bench.stock()
    pour = planned(bench, (bench.fig, 20))
    wax = list(pour.takes.filter(use=Use.WAX).order_by("position"))
    # 20 × 180 g with 1.5 % loss is 3,654.8 g of mix, 100/106 of it wax.
    assert [take.lot for take in wax] == [old, Lot.objects.get(item=bench.wax, began_on=ON)]
    assert sum(take.target for take in wax) == 3_447_900
    oil = pour.takes.get(use=Use.OIL)
    assert oil.target == 206_900
    assert oil.tolerance == 1_000
    assert {t.item: t.target for t in pour.takes.filter(use=Use.PIECE)} == {
        bench.vessel: 20, bench.wick: 20, bench.tab: 20,
    }  # fmt: skip
    assert pour.state == PourState.PLANNED


def test_a_plan_may_be_short_but_opening_says_what_lacks(bench):
    bench.stock(vessel=8, oil=100_000)
    pour = planned(bench, (bench.fig, 20))
    assert {short.item: short.lacking for short in services.shortages(pour)} == {
        bench.vessel: 12, bench.oils[0]: 106_900,
    }  # fmt: skip
    with pytest.raises(services.CannotPour, match="beaker lacks 12 of the 20") as refused:
        services.open_pour(pour, at=AT)
    assert "fig leaf lacks 106.9" in str(refused.value)


def test_stock_that_came_since_the_plan_is_found_when_the_pour_is_opened(bench):
    bench.stock(vessel=8)
    pour = planned(bench, (bench.fig, 20))
    fresh = received(bench.vessel, 12)
    services.open_pour(pour, at=AT)
    assert pour.takes.get(lot=fresh).target == 12
    assert not services.shortages(pour)


def test_two_plans_do_not_count_on_the_same_stock(bench):
    bench.stock(vessel=30)
    planned(bench, (bench.fig, 20))
    second = planned(bench, (bench.fig, 20))
    assert [short.lacking for short in services.shortages(second)] == [10]
    services.open_pour(second, at=AT)  # the first one is only planned


def test_pitchers_of_one_melt_share_the_wax_or_are_refused(bench):
    bench.stock()
    other = an_item(Kind.WAX, "beeswax")
    rose = a_design("Rose", other, bench.oils[:1], bench.vessel, bench.wick, bench.tab)
    with pytest.raises(services.CannotPlan, match=r"rape blend, but .* is beeswax"):
        planned(bench, (bench.fig, 3), (rose, 3))


def test_a_plain_pitcher_takes_no_oil_and_refuses_a_scented_design(bench):
    bench.stock()
    plain = a_design("Plain", bench.wax, [], bench.vessel, bench.wick, bench.tab)
    pitchers = [
        PitcherPlan(formula_version=None, fillings=[(plain, 5)]),
        PitcherPlan(formula_version=bench.fig.formula_version, fillings=[(bench.fig, 5)]),
    ]
    pour = services.plan(on=ON, pitchers=pitchers, workshop=bench.workshop)
    first, second = pour.pitchers.all()
    assert first.wax_mg == first.mix_mg == 913_700
    assert not first.takes.filter(use=Use.OIL).exists()
    assert second.takes.filter(use=Use.OIL).exists()
    with pytest.raises(services.CannotPlan, match="more than plain wax"):
        services.plan(
            on=ON,
            pitchers=[PitcherPlan(formula_version=None, fillings=[(bench.fig, 5)])],
            workshop=bench.workshop,
        )


def test_a_melt_that_does_not_fit_is_refused_by_mass_and_by_volume(bench):
    bench.stock()
    by_mass = Melter.objects.create(name="small pot", capacity_mg=3_000_000)
    with pytest.raises(BadInput, match="does not fit the melter"):
        planned(bench, (bench.fig, 20), melter=by_mass)
    # 3,447.9 g at 0.85 g/ml is 4,056 ml.
    by_volume = Melter.objects.create(name="jug", capacity_ml=Decimal(4_000))
    with pytest.raises(BadInput, match="does not fit the melter"):
        planned(bench, (bench.fig, 20), melter=by_volume)
    assert planned(bench, (bench.fig, 19), melter=by_volume)


def test_a_limit_that_fell_since_the_formula_was_made_stops_the_plan(bench):
    bench.stock()
    OilFacts.objects.filter(item=bench.oils[0]).update(max_pct_of_whole=Decimal("5.5"))
    with pytest.raises(BadInput, match=r"fig leaf is 5\.66 % of the candle"):
        planned(bench, (bench.fig, 5))


def test_planning_twice_with_one_id_plans_once(bench):
    bench.stock()
    own = uuid4()
    first = planned(bench, (bench.fig, 5), client_id=own)
    assert planned(bench, (bench.fig, 5), client_id=own) == first


# --- at the bench --------------------------------------------------------------------------------


def test_opening_fixes_formula_and_design_for_good(bench):
    bench.stock()
    opened(bench, (bench.fig, 5))
    bench.fig.refresh_from_db()
    assert bench.fig.used
    assert bench.fig.formula_version.__class__.objects.get(pk=bench.fig.formula_version_id).used


def test_a_weight_sent_twice_is_recorded_once(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 5))
    take, own = pour.takes.get(use=Use.OIL), uuid4()
    services.weigh(take, actual=take.target + 100, at=AT, client_id=own)
    again = services.weigh(take, actual=1, at=AT + timedelta(minutes=1), client_id=own)
    assert again.actual == take.target + 100
    assert again.weighed_at == AT


def test_an_old_weight_that_arrives_late_does_not_undo_its_correction(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 5))
    take, own = pour.takes.get(use=Use.OIL), uuid4()
    services.weigh(take, actual=take.target + 100, at=AT, client_id=own)
    services.weigh(take, actual=take.target, at=AT, client_id=uuid4())
    services.weigh(take, actual=take.target + 100, at=AT, client_id=own)
    take.refresh_from_db()
    assert take.actual == take.target
    assert [weighing.actual for weighing in take.weighings.all()] == [
        take.target + 100,
        take.target,
    ]


def test_a_weight_out_of_tolerance_is_kept_and_told(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 5))
    take = pour.takes.get(use=Use.OIL)
    assert services.off_by(services.weigh(take, actual=take.target + 100, at=AT)) == 0
    assert services.off_by(services.weigh(take, actual=take.target + 900, at=AT)) == 900


def test_a_weighing_may_come_from_another_lot_of_the_same_item_only(bench):
    bench.stock()
    other = received(bench.oils[0], 50_000)
    pour = opened(bench, (bench.fig, 3))
    take = pour.takes.get(use=Use.OIL)
    cedar = Lot.objects.get(item=bench.oils[1])
    with pytest.raises(services.CannotPour, match="is cedar, and fig leaf is wanted"):
        services.weigh(take, actual=take.target, at=AT, lot=cedar)
    assert services.weigh(take, actual=take.target, at=AT, lot=other).lot == other
    with pytest.raises(services.CannotPour, match=r"by the books 50\sg"):
        services.weigh(take, actual=60_000, at=AT, lot=other)


def test_the_rest_of_a_weighing_comes_from_another_lot(bench):
    bench.stock()
    other = received(bench.oils[0], 50_000)
    pour = opened(bench, (bench.fig, 3))
    take = pour.takes.get(use=Use.OIL)
    wanted = take.target
    services.weigh(take, actual=10_000, at=AT)
    rest = services.rest_from(take, lot=other)
    assert rest.target == wanted - 10_000
    assert services.rest_from(take, lot=other) == rest


def test_readings_are_kept_once_and_a_mistaken_unit_is_refused(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 3))
    own = uuid4()
    services.read(pour, step=Step.MELT, temp_c=Decimal(74), at=AT, client_id=own)
    services.read(pour, step=Step.MELT, temp_c=Decimal(99), at=AT, client_id=own)
    assert [reading.temp_c for reading in pour.readings.all()] == [74]
    with pytest.raises(services.CannotPour, match="Write the unit"):
        services.read(pour, step=Step.MELT, temp_c=Decimal(185), at=AT)


def test_nothing_is_weighed_into_a_pour_that_is_not_at_the_bench(bench):
    bench.stock()
    pour = planned(bench, (bench.fig, 3))
    with pytest.raises(services.CannotPour, match="is planned"):
        services.weigh(pour.takes.first(), actual=1, at=AT)
    with pytest.raises(services.CannotPour, match="is planned"):
        services.read(pour, step=Step.MELT, temp_c=Decimal(74), at=AT)


# --- closing -------------------------------------------------------------------------------------


def test_closing_moves_the_stock_and_makes_a_lot_with_its_whole_cost(bench):
    bench.stock()
    before = worth_at(Place.STORE)
    pour = opened(bench, (bench.fig, 20))
    entry = closed(bench, pour, {"good": 20}, minutes=Decimal(90))
    lot = fillings_of(pour)[0].lot
    assert ledger.held(lot, Place.SHELF)[0] == 20
    materials = before - worth_at(Place.STORE)
    labour = 90 * 180_000 // 60
    overhead = round((materials + labour) * 0.075)
    assert ledger.held(lot, Place.SHELF)[1] == pytest.approx(materials + labour + overhead, abs=1)
    costs = dict(lot.costs.values_list("component", "value"))
    assert sum(costs.values()) == ledger.held(lot, Place.SHELF)[1]
    assert costs["labour"] == labour
    assert set(costs) == {"wax", "fragrance", "vessel", "wick", "labour", "overhead", "loss"}
    assert lot.ready_on == ON + timedelta(days=10)
    assert lot.best_before == date(2027, 9, 2)
    assert lot.code.startswith("L-")
    assert entry.pour == pour
    assert ledger.check_ledger() == []


def test_the_loss_line_is_what_stuck_to_the_pots(bench):
    """1.5 % of the mix by plan: the wax and oil of that share stand under loss."""
    bench.stock()
    pour = opened(bench, (bench.fig, 20))
    closed(bench, pour, {"good": 20})
    costs = dict(fillings_of(pour)[0].lot.costs.values_list("component", "value"))
    mix = costs["wax"] + costs["fragrance"] + costs["loss"]
    assert costs["loss"] / mix == pytest.approx(0.015, abs=0.0002)


def test_what_is_scrapped_is_borne_by_the_good_candles_as_loss(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 20))
    closed(bench, pour, {"good": 16, "scrapped": 4})
    lot = fillings_of(pour)[0].lot
    assert ledger.held(lot, Place.SHELF)[0] == 16
    assert ledger.held(lot, Place.SCRAP) == (4, 0)
    costs = dict(lot.costs.values_list("component", "value"))
    vessels = 20 * 700_007 // 100
    assert costs["vessel"] == pytest.approx(vessels * 16 / 20, abs=1)
    assert sum(costs.values()) == ledger.held(lot, Place.SHELF)[1]


def test_seconds_are_a_lot_of_their_own_with_their_own_share(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 20))
    closed(bench, pour, {"good": 15, "seconds": 5})
    filling = fillings_of(pour)[0]
    good, seconds = filling.lot, filling.seconds_lot
    assert seconds.origin == "seconds"
    _, worth = ledger.held(good, Place.SHELF)
    _, worth_2 = ledger.held(seconds, Place.SHELF)
    assert worth_2 / worth == pytest.approx(1 / 3, rel=1e-3)


def test_what_is_left_becomes_lots_of_plain_wax_and_of_mix(bench):
    received(bench.wax, 500_000, on=ON - timedelta(days=9), best_before=date(2026, 9, 1))
    bench.stock()
    pour = opened(bench, (bench.fig, 10), extra_wax_mg=400_000)
    closed(bench, pour, {"good": 9}, left=[150_000], left_plain_mg=380_000)
    plain = Lot.objects.get(origin="left plain")
    mix = Lot.objects.get(origin="left mix")
    assert ledger.held(plain)[0] == 380_000
    assert plain.item == bench.wax
    assert ledger.held(mix)[0] == 150_000
    assert mix.item.formula.name == "Fig"
    assert pour.pitchers.get().left_lot == mix
    assert plain.best_before == mix.best_before == date(2026, 9, 1)
    assert "labour" not in dict(mix.costs.values_list("component", "value"))


def test_the_plain_rest_of_a_blend_is_never_kept_as_one_of_its_waxes(bench):
    other = an_item(Kind.WAX, "beeswax")
    received(other, 5_000_000)
    bench.stock()
    blend = [(bench.wax, Decimal(80)), (other, Decimal(20))]
    both = a_design("Both", blend, bench.oils[:1], bench.vessel, bench.wick, bench.tab)
    pour = opened(bench, (both, 10), extra_wax_mg=500_000)
    closed(bench, pour, {"good": 10}, left_plain_mg=500_000)
    rest = Lot.objects.get(origin="left plain")
    assert rest.item.name == "Blend: rape blend 80 % + beeswax 20 %"
    again = services.plan(
        on=ON,
        workshop=bench.workshop,
        pitchers=[
            PitcherPlan(
                formula_version=both.formula_version,
                fillings=[(both, 10)],
                remelts=[(rest, 500_000)],
            )
        ],
    )
    waxes = {take.item: take.target for take in again.takes.filter(use=Use.WAX)}
    assert waxes[rest.item] == 500_000
    assert sum(waxes.values()) == again.pitchers.get().wax_mg
    services.open_pour(again, at=AT)
    assert again.takes.get(lot=rest).target == 500_000
    with pytest.raises(services.CannotPlan, match="does not go into it"):
        services.plan(
            on=ON,
            workshop=bench.workshop,
            pitchers=[
                PitcherPlan(
                    formula_version=bench.fig.formula_version,
                    fillings=[(bench.fig, 2)],
                    remelts=[(rest, 1000)],
                )
            ],
        )


def test_one_melt_drawn_off_into_pitchers_makes_a_lot_of_each(bench):
    bench.stock()
    before = worth_at(Place.STORE)
    pour = opened(bench, (bench.fig, 8), (bench.cedar, 12))
    first = pour.pitchers.first()
    services.draw_off(first, actual=first.wax_mg + 50_000, at=AT)
    closed(bench, pour, {"good": 8}, {"good": 12}, minutes=Decimal(0))
    fig, cedar = (filling.lot for filling in fillings_of(pour))
    oils = {
        lot: set(
            LotSource.objects.filter(child=lot, parent__item__kind=Kind.OIL).values_list(
                "parent__item__name", flat=True
            )
        )
        for lot in (fig, cedar)
    }
    assert oils == {fig: {"fig leaf"}, cedar: {"fig leaf", "cedar"}}
    wax = {
        lot: LotSource.objects.get(child=lot, parent__item=bench.wax).qty for lot in (fig, cedar)
    }
    assert wax[fig] == first.wax_mg + 50_000
    assert sum(wax.values()) == sum(t.target for t in pour.takes.filter(use=Use.WAX))
    costs = LotCost.objects.filter(lot__in=(fig, cedar)).exclude(component="overhead")
    assert sum(cost.value for cost in costs) == before - worth_at(Place.STORE)


def test_mix_that_is_melted_again_brings_its_lots_and_its_costs(bench):
    bench.stock()
    first = opened(bench, (bench.fig, 10))
    closed(bench, first, {"good": 8}, left=[360_000])
    mix = Lot.objects.get(origin="left mix")
    again = services.plan(
        on=ON,
        workshop=bench.workshop,
        pitchers=[
            PitcherPlan(
                formula_version=bench.fig.formula_version,
                fillings=[(bench.fig, 10)],
                remelts=[(mix, 360_000)],
            )
        ],
    )
    assert again.takes.get(use=Use.REMELT).target == 360_000
    # 10 × 180 g over 98.5 % is 1,827.4 g of mix; 360 g of it is there.
    fresh = sum(t.target for t in again.takes.filter(use__in=[Use.WAX, Use.OIL]))
    assert fresh == pytest.approx(1_827_400 - 360_000, abs=100)
    services.open_pour(again, at=AT)
    closed(bench, again, {"good": 10})
    lot = fillings_of(again)[0].lot
    assert ledger.held(mix) == (0, 0)
    assert LotSource.objects.get(child=lot, parent=mix).qty == 360_000
    assert dict(lot.costs.values_list("component", "value"))["fragrance"] > 0
    assert ledger.check_ledger() == []


def test_mix_of_another_scent_is_not_melted_into_this_one(bench):
    bench.stock()
    first = opened(bench, (bench.cedar, 10))
    closed(bench, first, {"good": 8}, left=[300_000])
    mix = Lot.objects.get(origin="left mix")
    with pytest.raises(services.CannotPlan, match="only into its own formula"):
        services.plan(
            on=ON,
            workshop=bench.workshop,
            pitchers=[
                PitcherPlan(
                    formula_version=bench.fig.formula_version,
                    fillings=[(bench.fig, 10)],
                    remelts=[(mix, 1000)],
                )
            ],
        )


def test_a_mix_over_an_oils_safety_limit_may_only_be_thrown_away(bench):
    bench.stock()
    OilFacts.objects.filter(item=bench.oils[0]).update(max_pct_of_whole=Decimal("5.8"))
    pour = opened(bench, (bench.fig, 10))
    oil = pour.takes.get(use=Use.OIL)
    services.weigh(oil, actual=oil.target + 10_000, at=AT)
    with pytest.raises(services.CannotClose, match=r"safety limit is 5\.8\s%.*scrapped"):
        closed(bench, pour, {"good": 10})
    closed(bench, pour, {"good": 0, "scrapped": 10})
    assert worth_at(Place.SHELF) == 0
    assert worth_at(Place.SCRAP) > 0
    assert ledger.held(fillings_of(pour)[0].lot, Place.SCRAP)[0] == 10


def test_the_limit_counts_the_oil_in_what_is_melted_again(bench):
    bench.stock()
    first = opened(bench, (bench.fig, 10))
    oil = first.takes.get(use=Use.OIL)
    services.weigh(oil, actual=oil.target * 2, at=AT)
    closed(bench, first, {"good": 5}, left=[900_000])
    OilFacts.objects.filter(item=bench.oils[0]).update(max_pct_of_whole=Decimal(6))
    mix = Lot.objects.get(origin="left mix")
    again = services.plan(
        on=ON,
        workshop=bench.workshop,
        pitchers=[
            PitcherPlan(
                formula_version=bench.fig.formula_version,
                fillings=[(bench.fig, 10)],
                remelts=[(mix, 900_000)],
            )
        ],
    )
    services.open_pour(again, at=AT)
    with pytest.raises(services.CannotClose, match="safety limit"):
        closed(bench, again, {"good": 10})


def test_more_out_than_in_is_refused(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 10))
    with pytest.raises(services.CannotClose, match="are said to have come out"):
        closed(bench, pour, {"good": 10, "fill_mg": 220_000})
    with pytest.raises(services.CannotClose, match="are said to have come out"):
        closed(bench, pour, {"good": 10}, left=[200_000])


def test_more_candles_than_planned_take_more_vessels(bench):
    bench.stock(vessel=10)
    more = received(bench.vessel, 5)
    pour = opened(bench, (bench.fig, 10))
    closed(bench, pour, {"good": 11, "fill_mg": 165_000})
    assert ledger.held(more)[0] == 4
    assert ledger.check_ledger() == []


def test_a_spoilt_melt_goes_to_scrap_with_what_was_weighed_into_it(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 10))
    for take in pour.takes.filter(use__in=[Use.WAX, Use.OIL]):
        services.weigh(take, actual=take.target, at=AT)
    closed(bench, pour, {"good": 0})
    assert ledger.held(Lot.objects.get(item=bench.vessel))[0] == 100
    spoilt = Lot.objects.get(item__kind=Kind.MIX)
    assert ledger.held(spoilt, Place.SCRAP)[0] == sum(
        t.target for t in pour.takes.filter(use__in=[Use.WAX, Use.OIL])
    )
    assert ledger.check_ledger() == []


def test_closing_twice_with_one_id_closes_once(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 10))
    own = uuid4()
    first = closed(bench, pour, {"good": 10}, client_id=own)
    assert closed(bench, pour, {"good": 10}, client_id=own) == first
    with pytest.raises(services.CannotPour, match="is closed"):
        closed(bench, pour, {"good": 10}, client_id=uuid4())


def test_an_empty_pour_is_abandoned_not_closed(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 10))
    with pytest.raises(services.CannotClose, match="abandon"):
        closed(bench, pour, {"good": 0})
    with pytest.raises(services.CannotPour, match="needs a reason"):
        services.abandon(pour, reason=" ", at=AT)
    services.abandon(pour, reason="the power went", at=AT)
    pour.refresh_from_db()
    assert pour.state == PourState.ABANDONED
    assert not Move.objects.filter(to_place=Place.MADE).exists()


def test_a_closed_pour_is_reopened_until_its_lot_has_gone_on(bench):
    bench.stock()
    before = worth_at(Place.STORE)
    pour = opened(bench, (bench.fig, 10))
    closed(bench, pour, {"good": 9}, left=[100_000])
    lot = fillings_of(pour)[0].lot
    services.reopen(pour, reason="nine was eight", on=ON, at=AT)
    assert worth_at(Place.STORE) == before
    assert ledger.held(lot, Place.SHELF) == (0, 0)
    pour.refresh_from_db()
    assert pour.state == PourState.OPEN
    closed(bench, pour, {"good": 8, "seconds": 1})
    assert fillings_of(pour)[0].lot == lot
    assert ledger.held(lot, Place.SHELF)[0] == 8
    assert sum(lot.costs.values_list("value", flat=True)) == ledger.held(lot, Place.SHELF)[1]
    stores.scrap(lot=lot, place=Place.SHELF, qty=1, reason="fell", on=ON, at=AT)
    with pytest.raises(services.CannotPour, match="has gone on since"):
        services.reopen(pour, reason="again", on=ON, at=AT)
    assert ledger.check_ledger() == []


# --- value is conserved --------------------------------------------------------------------------

numbers = st.integers(0, 12)


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    one=st.tuples(numbers, numbers, numbers),
    two=st.tuples(numbers, numbers, numbers),
    left=st.tuples(st.integers(0, 300_000), st.integers(0, 300_000)),
    plain=st.integers(0, 400_000),
    drawn=st.one_of(st.none(), st.integers(2_000_000, 3_000_000)),
    minutes=st.one_of(st.none(), st.integers(0, 300)),
    prices=st.lists(st.integers(0, 3_000_000), min_size=6, max_size=6),
)
def test_every_unit_of_value_that_goes_in_comes_out(
    db, one, two, left, plain, drawn, minutes, prices
):
    from django.db import transaction

    with transaction.atomic():
        workshop = Workshop(pk=1)
        bench = a_bench(workshop)
        for item, price in zip(
            [bench.wax, *bench.oils, bench.vessel, bench.wick, bench.tab], prices, strict=True
        ):
            received(item, 60_000_000 if item.by_mass else 120, price)
        pour = opened(bench, (bench.fig, 15), (bench.cedar, 15), extra_wax_mg=3_000_000)
        if drawn:
            services.draw_off(pour.pitchers.first(), actual=drawn, at=AT)
        fill = 60_000  # whatever is drawn, this many grams have gone in
        outcomes = [Outcome(good=a, seconds=b, scrapped=c, fill_mg=fill) for a, b, c in (one, two)]
        try:
            closed(
                bench, pour, *outcomes, left=left, left_plain_mg=plain,
                minutes=None if minutes is None else Decimal(minutes),
            )  # fmt: skip
        except services.CannotClose as problem:
            refused = str(problem)
            assert "abandon" in refused or "come out" in refused
        else:
            _check_conserved(pour)
        transaction.set_rollback(True)


def _check_conserved(pour):
    pour.refresh_from_db()
    into_made = out_of_made = 0
    for move in pour.entry.moves.all():
        into_made += move.value if move.to_place == Place.MADE else 0
        out_of_made += move.value if move.from_place == Place.MADE else 0
    assert into_made == out_of_made
    sources = LotSource.objects.filter(entry=pour.entry)
    assert sum(source.value for source in sources) == into_made
    used: dict[int, int] = {}
    for move in pour.entry.moves.filter(to_place=Place.MADE):
        used[move.lot_id] = used.get(move.lot_id, 0) + move.qty
    for lot, qty in used.items():
        assert sum(source.qty for source in sources if source.parent_id == lot) == qty
    for lot in {move.lot_id for move in pour.entry.moves.filter(from_place=Place.MADE)}:
        made = [m for m in pour.entry.moves.all() if m.lot_id == lot]
        costs = LotCost.objects.filter(lot=lot)
        assert sum(cost.value for cost in costs) == sum(m.value for m in made)
    assert ledger.check_ledger() == []
    assert Take.objects.filter(pour=pour, lot=None).count() == 0


def test_a_crumb_of_a_lot_is_not_asked_for_unless_nothing_else_is_there(bench):
    crumb = received(bench.wax, 300, on=ON - timedelta(days=40))
    bench.stock()
    pour = planned(bench, (bench.fig, 20))
    assert crumb not in [take.lot for take in pour.takes.filter(use=Use.WAX)]
    big = Lot.objects.filter(item=bench.wax).exclude(pk=crumb.pk).get()
    wanted = sum(take.target for take in pour.takes.filter(use=Use.WAX))
    services.abandon(pour, reason="again", at=AT)
    stores.count(
        lot=big, place=Place.STORE, counted=wanted - 200, reason="spilt", on=ON, at=AT
    )  # now the crumb is needed
    pour = planned(bench, (bench.fig, 20))
    assert crumb in [take.lot for take in pour.takes.filter(use=Use.WAX)]
    assert not services.shortages(pour)


def test_what_was_used_of_vessels_and_wicks_stands_beside_what_was_planned(bench):
    bench.stock()
    pour = opened(bench, (bench.fig, 10))
    closed(bench, pour, {"good": 8, "scrapped": 1})
    assert {take.actual for take in pour.takes.filter(use=Use.PIECE)} == {9}
    services.reopen(pour, reason="ten it was", on=ON, at=AT)
    closed(bench, pour, {"good": 10})
    assert {take.actual for take in pour.takes.filter(use=Use.PIECE)} == {10}
