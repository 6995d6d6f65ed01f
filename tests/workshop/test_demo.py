"""The demo workshop, as the command makes it: as full as it says and sound in its books."""

from collections import Counter

import pytest
from django.db import connection
from django.db.models import Sum

from demo_of_a_day import TODAY
from pourwright.core.hazard.model import Market
from pourwright.workshop import demo
from pourwright.workshop.contents.models import Fill, InstrumentCheck, NetCheck, Rework
from pourwright.workshop.contents.queries import leaning_on, newest_checks
from pourwright.workshop.demo.buying import RECALL_LOT
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.formulas.models import Formula, Formulation, FormulaVersion
from pourwright.workshop.gates.models import Decision
from pourwright.workshop.gates.services import released_ids
from pourwright.workshop.hazard.of_designs import label_elements
from pourwright.workshop.house import today as today_page
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import Channel, Customer, DespatchLine, Order, OrderState
from pourwright.workshop.panels.models import Panel
from pourwright.workshop.pours.models import Filling, LotCost, Pour, PourState, Take, Use
from pourwright.workshop.stores.ledger import check_ledger
from pourwright.workshop.stores.models import (
    INSIDE,
    SUPPLY_KINDS,
    Balance,
    Entry,
    EntryKind,
    Item,
    Lot,
    LotSource,
    Move,
    Origin,
    Place,
)
from pourwright.workshop.trace.models import Recall
from pourwright.workshop.trace.services import forward


@pytest.fixture(scope="module")
def django_db_setup(django_db_setup, django_db_blocker, demo_folder):
    """Open the demo's file in place of the empty test database, for this file of tests."""
    empty = connection.settings_dict["NAME"]
    for name in (demo_folder / "demo" / "workshop.sqlite3", empty):
        with django_db_blocker.unblock():
            connection.close()
        connection.settings_dict["NAME"] = str(name)
        if name != empty:
            yield


pytestmark = pytest.mark.django_db


def test_the_books_are_sound():
    assert check_ledger() == []
    below = Balance.objects.filter(place__in=INSIDE, qty__lt=0)
    assert not below.exists()
    assert Move.objects.filter(qty__lt=0).count() == 0


def test_it_is_marked_as_a_demo():
    assert Workshop.load().is_demo


def test_there_is_as_much_life_in_it_as_is_promised():
    assert 28 <= Item.objects.filter(kind__in=SUPPLY_KINDS, supplier__isnull=False).count() <= 40
    assert Item.objects.filter(kind="oil").count() == 12
    assert Formula.objects.count() == 10
    assert Design.objects.count() == 8
    vessels = DesignVersion.objects.values("vessel").distinct()
    assert vessels.count() == 3
    assert 90 <= Pour.objects.filter(state=PourState.CLOSED).count() <= 120
    assert 35 <= Customer.objects.count() <= 45
    assert set(Order.objects.values_list("channel", flat=True)) == set(Channel.values)
    days = Entry.objects.order_by("on").values_list("on", flat=True)
    assert (days.last() - days.first()).days >= 720


def test_every_kind_of_thing_that_happens_has_happened():
    origins = set(Lot.objects.values_list("origin", flat=True))
    assert origins == set(Origin.values)
    assert set(Entry.objects.values_list("kind", flat=True)) == set(EntryKind.values)
    assert Pour.objects.filter(state=PourState.ABANDONED).exists()
    assert Take.objects.filter(use=Use.REMELT).exists()
    assert Filling.objects.filter(scrapped__gt=0).exists()
    pitchers = Counter(Pour.objects.values_list("pk").annotate(n=Sum("pitchers__position")))
    assert sum(n >= 3 for (_, n) in pitchers) >= 5
    assert FormulaVersion.objects.filter(number=2).exists()
    assert FormulaVersion.objects.exclude(override_reason="").exists()
    assert Decision.objects.filter(what=Decision.What.WAIVED).exclude(reason="").exists()


def test_todays_bench_is_half_weighed_and_one_pour_is_planned():
    at_bench = Pour.objects.get(state=PourState.OPEN)
    weighed = at_bench.takes.filter(actual__isnull=False).count()
    assert 0 < weighed < at_bench.takes.count()
    assert Pour.objects.get(state=PourState.PLANNED).on > TODAY


def test_something_cures_something_waits_at_a_gate_and_something_runs_low():
    held = Balance.objects.filter(place=Place.SHELF, qty__gt=0)
    assert held.filter(lot__ready_on__gt=TODAY).exists()
    current = [design.current.pk for design in Design.objects.all()]
    assert len(current) - len(released_ids(DesignVersion, current)) == 1
    low = [
        item
        for item in Item.objects.filter(reorder_below__isnull=False)
        if item.reorder_below
        > (
            Balance.objects.filter(lot__item=item, place=Place.STORE).aggregate(n=Sum("qty"))["n"]
            or 0
        )
    ]
    assert low
    due = Order.objects.filter(state=OrderState.OPEN, due__gte=TODAY)
    assert due.exists()


def test_only_what_is_released_was_sold():
    sold = set(DespatchLine.objects.values_list("lot_id", flat=True))
    assert sold <= released_ids(Lot, sold)


def test_the_last_months_lots_are_weighed_and_checked_and_two_were_put_right():
    checks = NetCheck.objects.all()
    assert set(checks.values_list("verdict", flat=True)) == {"pass", "fail"}
    assert checks.filter(relabelled=True).exists()
    assert Rework.objects.count() == 1
    short = {check.lot for check in checks.filter(verdict="fail")}
    for lot in short:
        assert all(check.passed for check in newest_checks(lot).values())
    assert Fill.objects.filter(net_mg__isnull=True).exists()  # at the bench, weighed empty
    assert InstrumentCheck.objects.filter(passed=False).exists()
    assert all(one.leans for one in leaning_on(on=TODAY))


def test_each_lots_costs_add_up_to_what_it_was_worth():
    for lot in Lot.objects.filter(origin__in=[Origin.POUR, Origin.SECONDS])[:60]:
        into = Move.objects.filter(lot=lot, to_place=Place.SHELF, entry__undone_by__isnull=True)
        into = into.filter(from_place__in=[Place.MADE, Place.WORK])
        worth = into.aggregate(n=Sum("value"))["n"]
        costs = LotCost.objects.filter(lot=lot).aggregate(n=Sum("value"))["n"]
        assert costs == worth, lot.code


def went_into(lot):
    """Walk the threads by hand: every lot that has some of this one in it."""
    found, ahead = set(), [lot.pk]
    while ahead:
        links = LotSource.objects.filter(parent__in=ahead, entry__undone_by__isnull=True)
        ahead = list(set(links.values_list("child", flat=True)) - found)
        found.update(ahead)
    return found


def test_the_recall_is_worth_tracing():
    bottle = Lot.objects.get(supplier_lot=RECALL_LOT)
    assert "notice" in Recall.objects.get(lot=bottle, ended_on=None).reason
    reached = Lot.objects.filter(pk__in=went_into(bottle))
    assert reached.filter(origin=Origin.LEFT_MIX).exists()
    remelted = Take.objects.filter(use=Use.REMELT, lot__in=reached.filter(origin=Origin.LEFT_MIX))
    assert remelted.exists()
    candles = reached.filter(origin=Origin.POUR)
    assert candles.count() >= 2
    sent = DespatchLine.objects.filter(lot__in=reached)
    assert sent.values("lot").distinct().count() >= 2
    assert (
        sent.exclude(despatch__order__customer=None)
        .values("despatch__order__customer")
        .distinct()
        .count()
        >= 3
    )


def test_the_trace_finds_what_the_threads_say():
    bottle = Lot.objects.get(supplier_lot=RECALL_LOT)
    traced = forward(bottle)
    assert {sent.lot for sent in traced.sent} == set(
        DespatchLine.objects.filter(lot__in=went_into(bottle)).values_list("lot__code", flat=True)
    )


def test_nothing_reached_by_the_recall_is_on_sale():
    bottle = Lot.objects.get(supplier_lot=RECALL_LOT)
    assert released_ids(Lot, went_into(bottle)).isdisjoint(
        Balance.objects.filter(place=Place.SHELF, qty__gt=0).values_list("lot_id", flat=True)
    )


def test_todays_page_opens_with_the_recall(client):
    lines = today_page.day(on=TODAY, workshop=Workshop.load())
    assert "Recall of Blood orange" in lines.to_do[0].what
    words = {line.word for line in (*lines.to_do, *lines.at_risk)}
    assert {"planned", "to finish", "runs low", "not released", "stock is short"} <= words


def test_its_candles_show_each_kind_of_label_and_its_sheets_each_kind_of_news():
    found = {
        design.name: label_elements(design.current, market=Market.EU, on=TODAY)
        for design in Design.objects.all()
    }
    codes = {
        name: {said.code for said in (*label.hazard_statements, *label.supplemental)}
        for name, label in found.items()
    }
    assert codes["Orange and cardamom, cup"] == {"H317"}
    assert codes["Sunday linen, low tin"] == {"EUH208"}
    assert codes["Fig and black tea, tumbler"] == {"H412", "EUH208"}
    assert codes["Smoked vanilla, low tin"] == set()
    needed = {name for name, label in found.items() if label.identifier_needed}
    numbered = {one.version.formula.name for one in Formulation.objects.all()}
    assert len(needed) > len(numbered) >= 3  # the one that waits at its gate has none yet
    hazard = Decision.objects.filter(check_name="hazard")
    assert not hazard.exists()  # nothing of it is passed by hand
    words = [line.what for line in today_page.day(on=TODAY, workshop=Workshop.load()).at_risk]
    assert "Toasted rice without a composition" in words
    assert "Cedar shavings with a safety sheet grown old" in words
    assert "Line-dried linen with a sheet to look over" in words


def test_fills_fit_and_loads_are_a_candles():
    for version in DesignVersion.objects.select_related("formula_version", "vessel__vessel"):
        assert 0 <= version.formula_version.load_pct <= 11
        vessel = version.vessel.vessel
        assert vessel.fit_for_candles
        assert vessel.leak_tested_on
    for oil in Item.objects.filter(kind="oil").select_related("oil"):
        assert 55 <= oil.oil.flash_point_c <= 110


def test_a_workshop_that_is_not_empty_is_left_alone():
    with pytest.raises(demo.CannotMakeDemo, match="needs an empty one"):
        demo.build(today=TODAY)


def test_panels_were_asked_of_a_candle_as_it_cured():
    panels = {panel.scent + panel.kind: panel for panel in Panel.objects.exclude(state="open")}
    hot, cold = panels["hotranking"], panels["coldtriangle"]
    assert [candle.cure_days(hot.on) for candle in hot.candles.all()] == [4, 13, 27]
    assert hot.told_apart
    assert not cold.told_apart
    assert Panel.objects.filter(state="open").count() == 1
