"""Plans are made, followed, moved about and poured; what is ordered for them arrives once."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from uuid import UUID

import pytest

from candle_examples import pour, release, set_up_bench
from conftest import ON
from plan_examples import an_order, evenings, planned, pot
from pourwright.core.documents import document_of
from pourwright.workshop.house.models import Job, JobState
from pourwright.workshop.planning import (
    buying,
    means,
    promises,
    purchases,
    services,
    today,
    what_if,
)
from pourwright.workshop.planning.models import (
    Freight,
    Means,
    Offer,
    Plan,
    PlannedMelt,
    Purchase,
    PurchaseState,
)
from pourwright.workshop.planning.problem import problem_of
from pourwright.workshop.planning.purchases import CannotBuy
from pourwright.workshop.planning.services import CannotPlanAhead
from pourwright.workshop.planning.show import PlanPage
from pourwright.workshop.pours.models import Pour
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Place

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)  # a Monday, an hour before its session
TODAY = NOW.date()


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    release(made.version, on=ON)
    return made


def shape(plan: Plan):
    return [(m["session"], m["melter"], m["draws"]) for m in plan.answer["melts"]]


# --- made ----------------------------------------------------------------------------------------


def test_a_plan_pours_what_an_order_wants_before_its_cure(bench):
    plan = planned(bench, now=NOW)
    assert plan.current
    poured = [f.qty for melt in plan.melts.all() for f in melt.fillings.all()]
    assert sum(poured) >= 12, "with something for what comes to nothing"
    assert all(melt.on + timedelta(days=14) <= TODAY + timedelta(28) for melt in plan.melts.all())
    assert plan.answer["totals"]["late_units"] == 0


def test_the_same_asked_twice_gives_the_same_plan(bench):
    evenings(0, 3)
    pot()
    an_order(bench, on=ON)
    one, other = (services.make(now=NOW, effort=2, afresh=True) for _ in range(2))
    for plan in (one, other):
        services.answered(plan, at=NOW)
    assert one.answer is not None
    assert shape(one) == shape(other)
    assert one.problem == other.problem


def test_without_sessions_melter_or_demand_it_says_what_is_lacking(bench):
    for give, lacking in (
        (lambda: None, "No session"),
        (lambda: evenings(0), "No melter"),
        (pot, "Nothing is wanted"),
    ):
        give()
        with pytest.raises(CannotPlanAhead, match=lacking):
            services.make(now=NOW, effort=1)
    assert not Plan.objects.exists()


def test_what_a_killed_worker_had_found_becomes_the_plan(bench):
    found = planned(bench, now=NOW)
    job = Job.objects.create(
        kind="planning.solve", key="k", args={}, asked_at=NOW, state=JobState.RUNNING,
        seen_at=NOW - timedelta(minutes=5), result={"plan": found.answer, "sub_solves": 1},
    )  # fmt: skip
    again = Plan.objects.create(
        number="PL-9000", made_at=NOW, start_on=TODAY, until_on=found.until_on,
        problem=found.problem, job=job,
    )  # fmt: skip
    services.answered(again, at=NOW)
    job.refresh_from_db()
    assert job.state == JobState.STOPPED
    assert services.state_of(again) == "ready"
    assert again.melts.count() == found.melts.count() > 0


def test_planning_anew_keeps_what_is_pinned_and_changes_little(bench):
    plan = planned(bench, now=NOW)
    melt = plan.melts.first()
    later = next(s for s in services.problem_in(plan).sessions if s.on > melt.on)
    services.move(melt, on=later.on, session_starts=services.clock(later.start_s))
    anew = services.answered(services.make(now=NOW, effort=2), at=NOW)
    assert anew.based_on == plan
    pinned = anew.melts.get(pinned=True)
    assert pinned.on == later.on
    assert [f.qty for f in pinned.fillings.all()] == [f.qty for f in melt.fillings.all()]


def test_a_what_if_is_looked_at_and_not_followed(bench):
    planned(bench, now=NOW)
    other = what_if.make(now=NOW, effort=1, melter_mg=9_000_000)
    services.answered(other, at=NOW)
    with pytest.raises(CannotPlanAhead, match="other means"):
        services.follow(other)
    assert PlanPage(other).picture


def test_a_what_if_says_what_the_plan_comes_to_as_it_is_and_is_never_worse(bench):
    before = planned(bench, now=NOW)
    other = services.answered(what_if.make(now=NOW, effort=1, table_places=99), at=NOW)
    melts = before.answer["totals"]["melts"]
    assert other.what_if["followed"] == before.number
    assert other.what_if["now"] == other.what_if["so"] == {"late": 0, "melts": melts}
    assert other.answer["totals"]["melts"] <= melts
    said = what_if.beside(PlanPage(before), PlanPage(other))
    assert said.better
    assert said.wishes == ""


def test_a_holiday_over_a_pinned_melt_lets_it_go(bench):
    plan = planned(bench, now=NOW)
    melt = plan.melts.first()
    services.pin(melt)
    other = services.answered(
        what_if.make(now=NOW, effort=1, off_from=melt.on, off_until=melt.on), at=NOW
    )
    assert other.answer is not None
    assert melt.on not in {row.on for row in other.melts.all()}
    assert other.what_if["now"]["late"] == 0


def test_looking_for_longer_begins_from_what_was_found_and_is_for_the_same_problem(bench):
    plan = planned(bench, now=NOW)
    if plan.answer["bounds"]["all_levels"]:
        with pytest.raises(CannotPlanAhead, match="proven best"):
            services.look_longer(plan, now=NOW)
        plan.answer["bounds"]["all_levels"] = False
    longer = services.answered(services.look_longer(plan, now=NOW), at=NOW)
    assert longer.problem == plan.problem
    assert longer.job.args["start"] == plan.answer
    assert longer.job.args["effort"] >= services.EFFORT
    found, was = (p.answer["totals"] for p in (longer, plan))
    assert (found["late_weight"], found["melts"]) <= (was["late_weight"], was["melts"])
    with pytest.raises(CannotPlanAhead, match="plan anew"):
        services.look_longer(plan, now=NOW + timedelta(1))


# --- melts ---------------------------------------------------------------------------------------


def test_a_move_that_comes_too_late_says_so_at_once(bench):
    plan = planned(bench, now=NOW)
    assert PlanPage(plan).moves_broken() == ()
    last = services.problem_in(plan).sessions[-1]
    for melt in plan.melts.all():
        services.move(melt, on=last.on, session_starts=services.clock(last.start_s))
    assert "late instead of 0" in " ".join(PlanPage(plan).moves_broken())
    with pytest.raises(CannotPlanAhead, match="No session"):
        services.move(plan.melts.first(), on=TODAY + timedelta(1), session_starts=last_hour())


def last_hour():
    return services.clock(23 * 3600)


def test_a_started_melt_is_one_pour_and_stays_where_it_is(bench):
    plan = planned(bench, now=NOW)
    melt = plan.melts.first()
    made = services.start(melt, on=TODAY)
    assert services.start(melt, on=TODAY) == made
    assert Pour.objects.count() == 1
    wanted = sum(f.wanted for pitcher in made.pitchers.all() for f in pitcher.fillings.all())
    assert wanted == sum(f.qty for f in melt.fillings.all())
    for change in (services.drop, services.pin):
        with pytest.raises(CannotPlanAhead, match="was started"):
            change(melt)
    assert PlannedMelt.objects.get(pk=melt.pk).pour == made


def test_a_dropped_melt_breaks_what_it_was_for(bench):
    plan = planned(bench, now=NOW)
    services.drop(plan.melts.first())
    assert PlanPage(plan).moves_broken()


def test_what_can_be_promised_is_answered_against_the_plan(bench):
    with pytest.raises(CannotPlanAhead, match="No plan is followed"):
        promises.promise(now=NOW, design=bench.design, quantity=3, by=TODAY + timedelta(20))
    planned(bench, now=NOW)
    soon = promises.promise(now=NOW, design=bench.design, quantity=3, by=TODAY + timedelta(5))
    assert not soon.promise.can
    later = promises.promise(now=NOW, design=bench.design, quantity=3, by=TODAY + timedelta(27))
    assert later.promise.can
    assert later.start is None or later.start.to_pour >= 3


# --- buying --------------------------------------------------------------------------------------


def short_of_lids(bench):
    """Leave too few lids for what is planned."""
    ledger_lot = bench.lots["lid"]
    stores.scrap(
        lot=ledger_lot, place=Place.STORE, qty=95, reason="damp", on=ON, at=NOW
    )  # fmt: skip


def wanted_orders(plan):
    from pourwright.core.planning.purchases import plan_purchases

    asked = buying.asked(plan, today=TODAY)
    return purchases.to_order(plan_purchases(asked.buying, effort=20), asked), asked


def lids_offered(bench, **more):
    given = {"pack_qty": 10, "prices": [(1, 9_000), (3, 8_000)], "lead_days": 4} | more
    supplier = bench.items["lid"].supplier
    return purchases.keep_offer(bench.items["lid"], supplier=supplier, **given)


def test_what_runs_out_is_ordered_in_packs_and_counts_as_arriving(bench):
    lids_offered(bench)
    short_of_lids(bench)
    plan = planned(bench, now=NOW)
    first = next(
        row for row in buying.running_out(plan, today=TODAY) if row.item.name == "Cork lid"
    )
    assert first.order_by == first.on - timedelta(4 + buying.SPARE_DAYS)
    orders, _ = wanted_orders(plan)
    (line, item), *_ = orders[0].lines
    assert (item.name, line.amount % 10) == ("Cork lid", 0)
    made = purchases.ordered(orders[0], on=TODAY)
    assert made.expected_on == TODAY + timedelta(4)
    assert wanted_orders(plan)[0] == []
    purchases.cancel(made)
    assert wanted_orders(plan)[0] != []
    with pytest.raises(CannotBuy, match="cancelled"):
        purchases.cancel(made)


def test_an_item_without_an_offer_is_taken_as_it_came_last_and_it_is_said(bench):
    short_of_lids(bench)
    orders, asked = wanted_orders(planned(bench, now=NOW))
    (line, _), *_ = orders[0].lines
    assert (line.packs, line.amount, line.price_minor100) == (1, 100, 40_000)
    assert any("no offer is entered" in words for _, words in asked.assumed)
    assert any("no freight is entered" in words for _, words in asked.assumed)


def test_a_parcel_is_taken_in_once_and_its_undoing_puts_it_on_its_way_again(bench):
    lids_offered(bench)
    short_of_lids(bench)
    made = purchases.ordered(wanted_orders(planned(bench, now=NOW))[0][0], on=TODAY)
    lines = [
        stores.Received(item=line.item, qty=line.packs * line.pack_qty, price_minor100=1)
        for line in made.lines.all()
    ]
    before = ledger.qty_by_item([bench.items["lid"].pk], Place.STORE)[bench.items["lid"].pk]
    receipt = purchases.take_in(made, lines=lines, on=TODAY, at=NOW, supplier=made.supplier)
    held = ledger.qty_by_item([bench.items["lid"].pk], Place.STORE)[bench.items["lid"].pk]
    assert held == before + lines[0].qty
    made.refresh_from_db()
    assert (made.state, made.entry) == (PurchaseState.RECEIVED, receipt.entry)
    with pytest.raises(CannotBuy, match=receipt.number):
        purchases.take_in(made, lines=lines, on=TODAY, at=NOW)
    assert not purchases.on_the_way().exists()
    ledger.undo(receipt.entry, on=TODAY, at=NOW, reason="the wrong parcel")
    assert purchases.on_the_way().get() == made


def test_the_same_order_sent_twice_is_one(bench):
    short_of_lids(bench)
    one = wanted_orders(planned(bench, now=NOW))[0][0]
    twice = [purchases.ordered(one, on=TODAY, client_id=UUID(int=7)) for _ in range(2)]
    assert twice[0] == twice[1] == Purchase.objects.get()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"pack_qty": 0}, "holds something"),
        ({"prices": [(2, 10)]}, "one pack first"),
        ({"prices": [(1, 10), (3, 11)]}, "no higher"),
        ({"prices": [(1, 10), (5, 9), (5, 8)]}, "more packs"),
    ],
)
def test_an_offer_that_cannot_be_is_refused(bench, given, words):
    with pytest.raises(CannotBuy, match=words):
        lids_offered(bench, **given)
    assert not Offer.objects.exists()


def test_freight_is_said_once_for_a_supplier(bench):
    supplier = bench.items["lid"].supplier
    for charge in (900, 700):
        purchases.keep_freight(supplier, charge_minor100=charge, free_from_minor100=None)
    assert Freight.objects.get().charge_minor100 == 700


# --- what the bench taught, and what Today says --------------------------------------------------


def test_what_the_bench_taught_is_planned_with_once_asked(bench):
    for _ in range(means.LEAST_POURS):
        Pour.objects.filter(pk=pour(bench, good=10).pk).update(minutes=Decimal(200))
    found = means.learnt(on=ON)
    assert found.factor > 1
    was = Means.load().pour_minutes
    assert means.use_learnt(on=ON).pour_minutes > was
    assert abs(means.learnt(on=ON).factor - 1) < Decimal("0.05"), "once used, there is no more"


def test_today_tells_of_melts_and_of_a_plan_that_no_longer_fits(bench):
    plan = planned(bench, now=NOW)
    first = plan.melts.first().on
    to_do, at_risk = today.lines(first)
    assert [line.what[:13] for line in to_do][:1] == ["Melt and pour"]
    assert not [line for line in at_risk if "no longer fits" in line.what]
    new = an_order(bench, on=first, qty=2, days=10)
    _, at_risk = today.lines(first + timedelta(1))
    said = next(line.detail for line in at_risk if "no longer fits" in line.what)
    assert new.number in said
    assert "passed without being poured" in said


def test_a_plans_documents_read_back_as_what_was_planned(bench):
    plan = planned(bench, now=NOW)
    assert document_of(services.problem_in(plan)) == plan.problem
    assert problem_of(now=NOW, followed=plan).problem.pinned == ()
