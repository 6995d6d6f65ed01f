"""A market day is counted once, what was sold leaves the shelf, and what cannot be is refused."""

from datetime import time, timedelta

import pytest

from candle_examples import lot_of, pour, release, set_up_bench
from conftest import AT, ON
from pourwright.workshop.orders.models import Order
from pourwright.workshop.planning import markets
from pourwright.workshop.planning.markets import BadMarketDay, Counted
from pourwright.workshop.planning.models import Market, MarketLine
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Place

pytestmark = pytest.mark.django_db
DAY = ON + timedelta(days=20)


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    release(made.version, on=ON)
    made.lot = lot_of(pour(made, good=24))
    release(made.lot, on=DAY)
    made.day = markets.new_day(Market.objects.create(name="Quay market"), on=DAY)
    return made


def count(bench, **more):
    return Counted(design=bench.design, **({"taken": 12, "back": 4} | more))


def record(bench, *counted, takings=8 * 240_000, on=DAY, **more):
    return markets.record(
        bench.day, counted or [count(bench)], takings_minor100=takings, on=on, at=AT, **more
    )


def test_what_did_not_come_back_was_sold_and_leaves_the_shelf(bench):
    day = record(bench)
    assert ledger.held(bench.lot, Place.SHELF)[0] == 16
    assert (day.order.channel, day.order.reference) == ("market", "Quay market")
    line = day.lines.get()
    assert (line.taken, line.sold, line.back) == (12, 8, 4)
    assert markets.counted_minor100(day) == 8 * 240_000 == day.takings_minor100


def test_a_gift_or_a_loss_at_the_stall_is_not_sold(bench):
    day = record(bench, count(bench, sold=7))
    assert day.lines.get().sold == 7
    assert markets.counted_minor100(day) == 7 * 240_000


def test_a_day_is_recorded_once(bench):
    record(bench)
    with pytest.raises(BadMarketDay, match="is recorded"):
        record(bench)
    with pytest.raises(BadMarketDay, match="is recorded"):
        markets.want(bench.day, [(bench.design, 3)])
    assert Order.objects.count() == 1


@pytest.mark.parametrize(
    ("counts", "says"),
    [
        ({"back": 13}, "13 came back of 12"),
        ({"sold": 9}, "8 can have been sold"),
        ({"sold_out_at": time(14)}, "was sold out, but 4 came back"),
        ({"taken": -1, "back": 0}, "0 or more"),
    ],
)
def test_counts_that_cannot_be_are_refused_and_nothing_is_kept(bench, counts, says):
    with pytest.raises(BadMarketDay, match=says):
        record(bench, count(bench, **counts))
    assert MarketLine.objects.count() == 0
    assert Order.objects.count() == 0


def test_more_sold_than_the_shelf_holds_is_refused_whole(bench):
    with pytest.raises(Exception, match="6 short"):
        record(bench, count(bench, taken=30, back=0))
    bench.day.refresh_from_db()
    assert bench.day.recorded_at is None
    assert ledger.held(bench.lot, Place.SHELF)[0] == 24
    assert Order.objects.count() == 0


def test_a_day_to_come_cannot_be_counted(bench):
    with pytest.raises(BadMarketDay, match="still to come"):
        record(bench, on=DAY - timedelta(days=1))


def test_a_market_has_one_day_on_a_day(bench):
    with pytest.raises(BadMarketDay, match="entered already"):
        markets.new_day(bench.day.market, on=DAY)
