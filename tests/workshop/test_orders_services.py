"""Orders take from released lots, oldest first; what was sent can be undone or come back."""

from datetime import timedelta
from uuid import uuid4

import pytest

from candle_examples import customer, lot_of, pour, release, set_up_bench
from conftest import AT, ON
from pourwright.workshop.gates import services as gates
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import OrderState
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Origin, Place

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]
CURED = ON + timedelta(days=20)


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    release(made.version, on=ON)
    return made


@pytest.fixture
def two_lots(bench):
    """An older lot of 5 and a younger one of 24, both released."""
    lots = [lot_of(pour(bench, good=5)), lot_of(pour(bench, good=24, on=ON + timedelta(days=1)))]
    for lot in lots:
        release(lot, on=CURED)
    return lots


def order_for(bench, qty, **more):
    more.setdefault("customer", customer())
    more.setdefault("channel", "direct")
    seconds = more.pop("seconds", False)
    return orders.new_order(on=ON, lines=[(bench.design, qty, 240_000, seconds)], **more)


def test_an_order_is_sent_from_the_oldest_released_lots_first(bench, two_lots):
    order = order_for(bench, 8)
    sent = orders.despatch(order, on=CURED, at=AT)
    assert [(line.lot, line.qty) for line in sent.lines.order_by("pk")] == [
        (two_lots[0], 5), (two_lots[1], 3)
    ]  # fmt: skip
    assert ledger.held(two_lots[1], Place.SHELF)[0] == 21
    order.refresh_from_db()
    assert order.state == OrderState.SENT
    assert ledger.check_ledger() == []


def test_a_lot_that_is_not_released_is_not_sold(bench, two_lots):
    waiting = lot_of(pour(bench, good=6))
    order = order_for(bench, 6)
    with pytest.raises(orders.CannotSend, match=f"{waiting.code} is not released"):
        orders.despatch(order, on=CURED, at=AT, picks=[(order.lines.get(), waiting, 6)])
    assert ledger.held(waiting, Place.SHELF)[0] == 6


def test_a_lot_of_a_design_that_was_withdrawn_is_not_sold(bench, two_lots):
    gates.withdraw(bench.version, reason="the glass cracked", by="A. Maker", at=AT)
    order = order_for(bench, 1)
    with pytest.raises(orders.CannotSend, match="is not released"):
        orders.despatch(order, on=CURED, at=AT, picks=[(order.lines.get(), two_lots[0], 1)])


def test_too_few_says_how_many_are_short_and_when_the_next_lot_is_cured(bench, two_lots):
    later = lot_of(pour(bench, good=12, on=CURED, cure_days=9))
    order = order_for(bench, 40)
    with pytest.raises(orders.CannotSend) as refused:
        orders.despatch(order, on=CURED, at=AT)
    said = str(refused.value)
    assert "40 wanted, 29 released and on the shelf, 11 short" in said
    ready = later.ready_on
    assert f"next lot is {later.code} with 12, cured on {ready.day} {ready:%b %Y}" in said
    assert ledger.held(two_lots[0], Place.SHELF)[0] == 5


def test_a_part_can_go_from_a_chosen_lot_and_the_rest_stays_open(bench, two_lots):
    order = order_for(bench, 8)
    orders.despatch(order, on=CURED, at=AT, picks=[(order.lines.get(), two_lots[1], 6)])
    order.refresh_from_db()
    assert order.state == OrderState.OPEN
    assert orders.line_states(order)[0].open == 2
    with pytest.raises(orders.CannotSend, match="3 are picked, but 2 are open"):
        orders.despatch(order, on=CURED, at=AT, picks=[(order.lines.get(), two_lots[1], 3)])


def test_more_than_a_lot_holds_cannot_be_picked(bench, two_lots):
    order = order_for(bench, 8)
    with pytest.raises(orders.CannotSend, match=r"8 of lot .* are picked, but 5 are on the shelf"):
        orders.despatch(order, on=CURED, at=AT, picks=[(order.lines.get(), two_lots[0], 8)])


def test_sending_the_same_despatch_twice_records_it_once(bench, two_lots):
    order, key = order_for(bench, 2), uuid4()
    first = orders.despatch(order, on=CURED, at=AT, client_id=key)
    again = orders.despatch(order, on=CURED, at=AT, client_id=key)
    assert first == again
    assert ledger.held(two_lots[0], Place.SHELF)[0] == 3


def test_undoing_a_despatch_puts_the_candles_back_and_opens_the_order(bench, two_lots):
    order = order_for(bench, 5)
    before = ledger.held(two_lots[0], Place.SHELF)
    sent = orders.despatch(order, on=CURED, at=AT)
    orders.undo_despatch(sent, reason="the parcel never left", on=CURED, at=AT)
    assert ledger.held(two_lots[0], Place.SHELF) == before
    order.refresh_from_db()
    assert order.state == OrderState.OPEN
    assert orders.line_states(order)[0].sent == 0
    orders.despatch(order, on=CURED, at=AT)


def test_what_comes_back_is_a_lot_of_its_own_set_apart(bench, two_lots):
    order = order_for(bench, 5)
    line = orders.despatch(order, on=CURED, at=AT).lines.get()
    back = orders.take_back(line, qty=2, reason="arrived warm", on=CURED, at=AT)
    assert ledger.held(back.lot, Place.RETURNED)[0] == 2
    assert ledger.held(two_lots[0], Place.SOLD)[0] == 3
    with pytest.raises(orders.CannotTakeBack, match=r"4 of lot .* but 3 are still with"):
        orders.take_back(line, qty=4, reason="more", on=CURED, at=AT)
    with pytest.raises(orders.CannotSend, match="it did leave"):
        orders.undo_despatch(line.despatch, reason="no", on=CURED, at=AT)
    assert ledger.check_ledger() == []


def test_a_return_goes_back_on_the_shelf_after_a_look_and_waits_for_its_own_release(
    bench, two_lots
):
    line = orders.despatch(order_for(bench, 5), on=CURED, at=AT).lines.get()
    back = orders.take_back(line, qty=2, reason="arrived warm", on=CURED, at=AT).lot
    with pytest.raises(orders.CannotTakeBack, match="someone looks at it"):
        orders.return_to_shelf(back, found=" ", on=CURED, at=AT)
    orders.return_to_shelf(back, found="unburnt, lids on", on=CURED, at=AT)
    assert ledger.held(back, Place.SHELF)[0] == 2
    assert back.pk not in {b.lot_id for b in gates.sellable(bench.design, on=CURED)}
    release(back, on=CURED)
    assert back.pk in {b.lot_id for b in gates.sellable(bench.design, on=CURED)}


def test_seconds_that_come_back_are_seconds_still(bench):
    poured = pour(bench, good=4, seconds=3)
    seconds = poured.pitchers.get().fillings.get().seconds_lot
    release(seconds, on=CURED)
    line = orders.despatch(order_for(bench, 3, seconds=True), on=CURED, at=AT).lines.get()
    assert line.lot == seconds
    back = orders.take_back(line, qty=1, reason="a gift too many", on=CURED, at=AT).lot
    entry = orders.return_to_shelf(back, found="unburnt", on=CURED, at=AT)
    shelved = entry.moves.get(to_place=Place.SHELF).lot
    assert shelved.origin == Origin.SECONDS
    order = order_for(bench, 1)
    with pytest.raises(orders.CannotSend, match="is seconds, and the line was not"):
        orders.despatch(order, on=CURED, at=AT, picks=[(order.lines.get(), shelved, 1)])


def test_only_a_market_sale_goes_without_a_customer(bench, two_lots):
    with pytest.raises(orders.CannotOrder, match="needs its customer"):
        order_for(bench, 1, customer=None)
    sale = order_for(bench, 1, customer=None, channel="market", reference="Harvest fair")
    orders.despatch(sale, on=CURED, at=AT)


def test_cancelling_keeps_its_reason_and_stops_sending(bench, two_lots):
    order = order_for(bench, 2)
    with pytest.raises(orders.CannotOrder, match="needs a reason"):
        orders.cancel(order, reason="")
    orders.cancel(order, reason="they moved house")
    with pytest.raises(orders.CannotSend, match="is cancelled"):
        orders.despatch(order, on=CURED, at=AT)
    order.refresh_from_db()
    assert "they moved house" in order.note
    assert orders.reopen(order).state == OrderState.OPEN


def test_an_order_can_change_until_it_is_sent_but_not_below_what_went(bench, two_lots):
    order = order_for(bench, 8)
    line = order.lines.get()
    orders.despatch(order, on=CURED, at=AT, picks=[(line, two_lots[1], 6)])
    same = {"customer": order.customer, "channel": "direct", "on": ON}
    with pytest.raises(orders.CannotOrder, match="6 were sent already"):
        orders.change_order(order, lines=[(line, bench.design, 5, 240_000, False)], **same)
    with pytest.raises(orders.CannotOrder, match="so its line stays"):
        orders.change_order(order, lines=[(None, bench.design, 9, 240_000, False)], **same)
    changed = orders.change_order(order, lines=[(line, bench.design, 6, 230_000, False)], **same)
    assert changed.state == OrderState.SENT


def test_the_price_offered_follows_the_channel(bench):
    assert orders.default_price_minor100(bench.design, "direct") == 240_000
    assert orders.default_price_minor100(bench.design, "wholesale") == 130_000


def test_stock_from_before_the_books_is_sold_once_released(bench):
    lot = stores.open_with(item=bench.candle, qty=7, value=35_000, on=ON, at=AT)
    order = order_for(bench, 7)
    assert orders.suggest(order, on=ON).picks == []
    release(lot, on=ON)
    assert orders.despatch(order, on=ON, at=AT).lines.get().lot == lot
