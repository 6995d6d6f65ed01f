"""What is to be planned is read from the workshop's own records."""

from datetime import UTC, datetime, time, timedelta

import pytest

from candle_examples import customer, lot_of, pour, release, set_up_bench
from conftest import AT, ON
from pourwright.core.errors import BadInput
from pourwright.workshop.heat.models import Forecast
from pourwright.workshop.orders import services as orders
from pourwright.workshop.planning import services
from pourwright.workshop.planning.models import (
    DayOff,
    DesignMeans,
    ExtraSession,
    Market,
    MarketDay,
    Means,
    MelterMeans,
    Plan,
    PlannedFilling,
    PlannedMelt,
    Purchase,
    StockTarget,
    WeeklySession,
)
from pourwright.workshop.planning.problem import problem_of
from pourwright.workshop.pours.models import Melter
from pourwright.workshop.stores import services as stores

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)  # a Monday
EVENING = time(18)


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    release(made.version, on=ON)
    WeeklySession.objects.create(weekday=0, starts=EVENING, minutes=180)
    made.melter = Melter.objects.create(name="Pot", capacity_mg=4_000_000)
    return made


def an_order(bench, qty=30, due=ON + timedelta(days=24), **more):
    return orders.new_order(
        on=ON, lines=[(bench.design, qty, 240_000, False)], channel="direct", due=due,
        customer=customer(), **more,
    )  # fmt: skip


def posed(**more):
    return problem_of(now=NOW, **more).problem


def test_what_an_order_is_still_owed_is_wanted_by_its_day(bench):
    lot = lot_of(pour(bench, good=12))
    cured = ON + timedelta(days=14)
    release(lot, on=cured)
    order = an_order(bench)
    orders.despatch(order, on=cured, at=AT, picks=[(order.lines.get(), lot, 5)])
    line = posed().lines[0]
    assert (line.kind, line.quantity, line.due) == ("order", 25, ON + timedelta(days=24))
    assert order.number in line.whose
    assert [(held.quantity, held.ready_on) for held in posed().lots] == [(7, cured)]


def test_seconds_are_neither_wanted_by_an_order_nor_on_hand(bench):
    pour(bench, good=4, seconds=3)
    orders.new_order(
        on=ON, lines=[(bench.design, 2, 100, True)], channel="direct", customer=customer()
    )
    assert posed().lines == ()
    assert [lot.quantity for lot in posed().lots] == [4]


def test_market_days_to_come_and_stock_targets_are_wanted(bench):
    market = Market.objects.create(name="Quay market")
    for days, recorded in ((10, None), (-3, None), (12, AT)):
        day = MarketDay.objects.create(
            market=market, on=ON + timedelta(days=days), recorded_at=recorded
        )
        day.lines.create(design=bench.design, wanted=8)
    StockTarget.objects.create(design=bench.design, qty=6)
    found = [(line.kind, line.quantity, line.due) for line in posed().lines]
    assert found == [
        ("market", 8, ON + timedelta(days=10)), ("stock", 6, ON + timedelta(days=28))
    ]  # fmt: skip


def test_sessions_come_from_the_week_days_off_and_single_days(bench):
    DayOff.objects.create(from_on=ON + timedelta(7), until_on=ON + timedelta(8), reason="fair")
    ExtraSession.objects.create(on=ON + timedelta(8), starts=time(9), minutes=60, people=2)
    found = posed(until=ON + timedelta(days=14)).sessions
    assert [(session.on, session.start_s // 3600, session.people) for session in found] == [
        (ON, 18, 1), (ON + timedelta(8), 9, 2), (ON + timedelta(14), 18, 1)
    ]  # fmt: skip


def test_a_session_that_has_begun_is_past(bench):
    found = problem_of(now=NOW.replace(hour=18, minute=1), until=ON).problem
    assert found.sessions == ()


def test_what_a_candle_takes_and_what_the_store_has_are_in_milligrams_and_pieces(bench):
    found = posed()
    product, materials = found.products[0], {m.name: m for m in found.materials}
    uses = {use.material: use.amount for use in product.uses}
    wick, wax = materials["Flat braid no. 4"], materials["Rapeseed blend"]
    assert (wick.unit, wick.on_hand, uses[wick.key]) == ("pieces", 500, 1)
    assert (wax.unit, wax.on_hand) == ("mg", 20_000_000)
    # 220 g with 8 % of the wax: the wax is what remains, and what is lost comes on top.
    assert product.wax_mg == round(220_000 / 1.08)
    assert uses[wax.key] > product.wax_mg
    assert product.fill_mg == 220_000


def test_what_was_ordered_arrives_and_what_a_planned_pour_takes_is_gone(bench):
    vessel = bench.items["vessel"]
    coming = Purchase.objects.create(
        number="PO-1", supplier=vessel.supplier, on=ON, expected_on=ON + timedelta(days=6)
    )
    coming.lines.create(item=vessel, packs=3, pack_qty=40, price_minor100=1)
    an_order(bench)
    melt = a_planned_melt(bench)
    services.start(melt, on=ON)
    found = next(m for m in posed().materials if m.name == vessel.name)
    assert [(a.on, a.amount) for a in found.arrivals] == [(ON + timedelta(days=6), 120)]
    assert found.on_hand == 200 - 12
    assert [lot.quantity for lot in posed().lots] == [11], "12 poured, 3 in 100 come to nothing"


def test_setting_places_and_pitchers_follow_the_designs_and_melters_own_means(bench):
    Means.objects.create(pk=1, table_places=9, set_hours=10)
    assert posed().products[0].setting_s == 36_000
    bench.items["wax"].wax.set_hours = 8
    bench.items["wax"].wax.save()
    assert posed().products[0].setting_s == 28_800
    DesignMeans.objects.create(design=bench.design, table_places=2, set_hours=6)
    MelterMeans.objects.create(melter=bench.melter, pitchers=3, pitcher_mg=900_000)
    found = posed()
    assert (found.products[0].setting_s, found.vessels[0].places) == (21_600, 2)
    assert (found.table_places, found.melters[0].pitchers) == (9, 3)


def test_setting_that_was_seen_counts_before_what_was_foretold(bench):
    def foretold(value, **more):
        values = {"movable_h": {"value": value, "low": value - 1, "high": value + 1}}
        Forecast.objects.create(
            version=bench.version, kind="set", inputs={}, values=values, made_at=AT, **more
        )

    foretold(4.5)
    assert posed().products[0].setting_s == 5.5 * 3600
    foretold(4.0, outcome={"movable_h": 7.25}, outcome_at=AT)
    foretold(3.0)
    assert posed().products[0].setting_s == 7.25 * 3600
    DesignMeans.objects.create(design=bench.design, set_hours=6)
    assert posed().products[0].setting_s == 6 * 3600


def test_a_melter_known_by_volume_alone_is_not_planned_too_full(bench):
    Melter.objects.update(capacity_mg=None, capacity_ml=4000)
    assert posed().melters[0].capacity_mg == 3_000_000


# --- plans and their melts -----------------------------------------------------------------------


def a_planned_melt(bench, **more):
    problem = problem_of(now=NOW, until=ON + timedelta(days=28)).problem
    from pourwright.core.documents import document_of

    plan = Plan.objects.create(
        number="PL-0001", made_at=AT, start_on=ON, until_on=ON + timedelta(days=28),
        problem=document_of(problem), current=True,
    )  # fmt: skip
    melt = PlannedMelt.objects.create(
        plan=plan, on=ON, session_starts=EVENING, melter=bench.melter, **more
    )
    PlannedFilling.objects.create(melt=melt, design_version=bench.version, qty=12)
    return melt


def test_a_melt_becomes_a_pour_with_its_numbers_once(bench):
    melt = a_planned_melt(bench)
    poured = services.start(melt, on=ON)
    assert services.start(melt, on=ON) == poured
    filling = poured.pitchers.get().fillings.get()
    assert (filling.design_version, filling.wanted) == (bench.version, 12)
    assert poured.melter == bench.melter
    assert {take.lot.code for take in poured.takes.all()} <= {
        lot.code for lot in bench.lots.values()
    }
    with pytest.raises(services.CannotPlanAhead, match="was started"):
        services.move(melt, on=ON + timedelta(days=7), session_starts=EVENING)


def test_a_melt_that_was_moved_is_pinned_and_kept_by_the_next_plan(bench):
    an_order(bench)
    melt = a_planned_melt(bench)
    services.move(melt, on=ON + timedelta(days=7), session_starts=EVENING)
    found = problem_of(now=NOW, followed=services.followed()).problem
    assert [(melt.session, melt.pours[0].quantity) for melt in found.pinned] == [
        ("2026-03-09 18:00", 12)
    ]


def test_a_melt_cannot_be_moved_where_nobody_is(bench):
    melt = a_planned_melt(bench)
    with pytest.raises(services.CannotPlanAhead, match="No session on 3 March at 18:00"):
        services.move(melt, on=ON + timedelta(days=1), session_starts=EVENING)


def test_nothing_to_plan_with_is_said(bench):
    with pytest.raises(BadInput, match="Nothing is wanted"):
        services.make(now=NOW)
    an_order(bench)
    WeeklySession.objects.all().delete()
    with pytest.raises(BadInput, match="No session"):
        services.make(now=NOW)
    assert Plan.objects.count() == 0


def test_receiving_makes_no_second_supply(bench):
    """What is in the store is counted once, whatever lots it lies in."""
    stores.receive(
        lines=[stores.Received(item=bench.items["wick"], qty=100, price_minor100=10)],
        on=ON, at=AT, supplier=bench.items["wick"].supplier,
    )  # fmt: skip
    assert next(m for m in posed().materials if m.name == "Flat braid no. 4").on_hand == 600


def test_melters_and_their_circuit_are_planned_with_and_one_too_strong_for_it_is_said(bench):
    Melter.objects.filter(pk=bench.melter.pk).update(power_w=1500)
    assert (posed().melters[0].power_w, posed().circuit_w) == (1500, None)
    means = Means.load()
    means.circuit_w = 1400
    means.save()
    assert posed().circuit_w == 1400
    said = problem_of(now=NOW).left_out
    assert said == ("Pot alone draws more than the circuit gives: nothing is planned in it.",)
