"""Finishing takes its parts and puts their cost on the lot; testers are burnt off the table."""

from datetime import timedelta

import pytest

from candle_examples import lot_of, pour, release, set_up_bench
from conftest import AT, ON
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.pours.models import LotCost
from pourwright.workshop.shelf import services as shelf
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Place

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]
EVERY = dict.fromkeys(Finishing.CHECKS, True)
CURED = ON + timedelta(days=20)


@pytest.fixture
def bench(workshop):
    workshop.labour_rate_minor100 = 180_000
    workshop.overhead_pct = 10
    workshop.save()
    return set_up_bench()


def finish(lot, workshop, **more):
    more.setdefault("checks", EVERY)
    return shelf.finish(lot, by="A. Maker", on=ON, at=AT, workshop=workshop, **more)


def costs(lot):
    return dict(LotCost.objects.filter(lot=lot).values_list("component", "value"))


def test_finishing_takes_a_lid_and_two_labels_for_each_candle(bench, workshop):
    lot = lot_of(pour(bench, good=24))
    finish(lot, workshop)
    assert ledger.held(bench.lots["lid"])[0] == 100 - 24
    assert ledger.held(bench.lots["label"])[0] == 100 - 48
    assert {s.parent.code for s in lot.made_from.all()} >= {
        bench.lots["lid"].code, bench.lots["label"].code
    }  # fmt: skip


def test_parts_work_and_overhead_become_part_of_the_lots_value(bench, workshop):
    lot = lot_of(pour(bench, good=24))
    before = ledger.held(lot, Place.SHELF)[1]
    finish(lot, workshop, minutes=30)
    # 24 lids at 400 and 48 labels at 100; half an hour at 180 000; a tenth of both on top.
    parts, work = 24 * 400 + 48 * 100, 90_000
    overhead = (parts + work) // 10
    assert ledger.held(lot, Place.SHELF)[1] == before + parts + work + overhead
    assert sum(costs(lot).values()) == ledger.held(lot, Place.SHELF)[1]
    assert costs(lot)["packaging"] == parts
    assert ledger.check_ledger() == []


def test_what_is_not_ticked_yet_is_named_and_nothing_is_taken(bench, workshop):
    lot = lot_of(pour(bench))
    with pytest.raises(shelf.CannotFinish, match="vessels wiped and sound"):
        finish(lot, workshop, checks=EVERY | {"glass_clean": False})
    assert ledger.held(bench.lots["lid"])[0] == 100


def test_too_few_parts_says_how_many_of_which_are_short(bench, workshop):
    lot = lot_of(pour(bench, good=60))
    with pytest.raises(shelf.CannotFinish, match="Front label: 120 wanted, 100 there, 20 short"):
        finish(lot, workshop)
    assert ledger.held(bench.lots["lid"])[0] == 100
    assert not Finishing.objects.filter(lot=lot, done_at__isnull=False).exists()


def test_finishing_twice_takes_nothing_twice(bench, workshop):
    lot = lot_of(pour(bench))
    finish(lot, workshop)
    with pytest.raises(shelf.CannotFinish, match="finished before"):
        finish(lot, workshop)
    assert ledger.held(bench.lots["lid"])[0] == 100 - 24


def test_checks_are_ticked_one_by_one_but_the_last_comes_with_the_parts(bench, workshop):
    lot = lot_of(pour(bench))
    for check in Finishing.CHECKS[:-1]:
        shelf.tick(lot, check=check, done=True, by="A. Maker")
    with pytest.raises(shelf.CannotFinish, match="is the last check"):
        shelf.tick(lot, check=Finishing.CHECKS[-1], done=True)
    finish(lot, workshop, checks={Finishing.CHECKS[-1]: True})
    assert Finishing.objects.get(lot=lot).complete


def test_candles_taken_from_a_finished_lot_have_their_parts_on(bench, workshop):
    lot = lot_of(pour(bench, good=10))
    finish(lot, workshop)
    seconds = stores.set_aside(
        lot=lot, place=Place.SHELF, qty=2, origin="seconds", on=ON, at=AT, note="dented lids"
    )
    finish(seconds, workshop)
    assert ledger.held(bench.lots["lid"])[0] == 100 - 10


def test_taking_a_finishing_back_returns_parts_and_value_and_the_release_falls(bench, workshop):
    release(bench.version, on=ON)
    lot = lot_of(pour(bench))
    before, costs_before = ledger.held(lot, Place.SHELF), costs(lot)
    finish(lot, workshop, minutes=12)
    release(lot, on=CURED)
    shelf.take_back_finishing(lot, reason="it was the other lot", on=CURED, at=AT)
    assert ledger.held(lot, Place.SHELF) == before
    assert {k: v for k, v in costs(lot).items() if v} == costs_before
    assert ledger.held(bench.lots["lid"])[0] == 100
    assert not gates.is_released(lot)
    assert ledger.check_ledger() == []
    finish(lot, workshop)


def test_a_finishing_stands_once_candles_have_left_the_shelf(bench, workshop):
    lot = lot_of(pour(bench))
    finish(lot, workshop)
    stores.set_aside(lot=lot, place=Place.SHELF, qty=1, origin="gift", on=ON, at=AT)
    with pytest.raises(shelf.CannotFinish, match="have left the shelf"):
        shelf.take_back_finishing(lot, reason="oops", on=ON, at=AT)


def test_only_what_is_on_the_test_table_is_burnt(bench, workshop):
    lot = lot_of(pour(bench))
    with pytest.raises(shelf.CannotBurn, match="Set candles aside as testers first"):
        shelf.burn(lot, qty=1, on=ON, at=AT, reason="series 1")
    tester = stores.set_aside(lot=lot, place=Place.SHELF, qty=2, origin="tester", on=ON, at=AT)
    shelf.burn(tester, qty=2, on=ON, at=AT, reason="series 1")
    assert ledger.held(tester, Place.BURNT)[0] == 2
    assert ledger.check_ledger() == []


def test_stock_from_before_the_books_is_finished_without_parts(bench, workshop):
    lot = stores.open_with(item=bench.candle, qty=7, value=35_000, on=ON, at=AT)
    finish(lot, workshop)
    assert ledger.held(bench.lots["lid"])[0] == 100
