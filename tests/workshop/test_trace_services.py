"""A trace follows every thread both ways, through leftovers and returns; not what was undone."""

from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from candle_examples import customer, lot_of, pour, release, set_up_bench
from conftest import AT, ON
from pourwright.workshop.orders import services as orders
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import (
    Entry,
    EntryKind,
    Item,
    Kind,
    Lot,
    LotSource,
    Measure,
    Origin,
    Place,
)
from pourwright.workshop.trace import services as trace

CURED = ON + timedelta(days=20)


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    release(made.version, on=ON)
    return made


def codes(nodes):
    return {node.code for node in nodes}


pytestmark = pytest.mark.django_db
both = pytest.mark.both_databases


@both
def test_a_lot_of_wax_is_followed_to_candles_customer_and_what_is_left(bench):
    lot = lot_of(pour(bench, good=24))
    release(lot, on=CURED)
    buyer = customer()
    order = orders.new_order(
        customer=buyer, channel="direct", on=ON, lines=[(bench.design, 5, 240_000, False)]
    )
    orders.despatch(order, on=CURED, at=AT)
    found = trace.forward(bench.lots["wax"])
    assert codes(found.candles) == {lot.code}
    assert found.candles[0].at(Place.SHELF) == 19
    (sent,) = found.sent
    assert (sent.order, sent.name, sent.email, sent.qty) == (order.number, buyer.name,
                                                             buyer.email, 5)  # fmt: skip
    assert (found.totals.candles_inside, found.totals.candles_sold) == (19, 5)
    assert found.totals.customers == 1
    assert found.totals.supply_left == 20_000_000 - 24 * 200_000
    assert len(found.pours) == 1


@both
def test_a_candle_leads_back_to_every_supply_lot_with_its_supplier(bench):
    lot = lot_of(pour(bench))
    found = trace.back(lot)
    assert codes(found.supplies) == {
        bench.lots[key].code for key in ("wax", "oil", "vessel", "wick")
    }
    wax = next(node for node in found.supplies if node.kind == Kind.WAX)
    assert (wax.supplier, wax.supplier_lot, wax.receipt_ref) == (
        "Millrace Waxworks", "MW-wax", "MW 5521"
    )  # fmt: skip
    assert found.direct(wax) == 24 * 200_000


@both
def test_wax_left_over_carries_the_thread_into_the_next_pour(bench):
    first = pour(bench, good=4, left_mg=3_000_000)
    left = Lot.objects.get(origin=Origin.LEFT_PLAIN)
    second = pour(bench, good=5, wax=left, on=ON + timedelta(days=3))
    found = trace.forward(bench.lots["wax"])
    assert codes(found.candles) == {lot_of(first).code, lot_of(second).code}
    assert codes(found.others) == {left.code}
    back = trace.back(lot_of(second))
    wax = next(node for node in back.supplies if node.code == bench.lots["wax"].code)
    assert back.direct(wax) == 0
    assert codes(back.through(wax)) == {left.code}


@both
def test_an_undone_pour_vanishes_from_both_traces(bench):
    poured = pour(bench)
    lot = lot_of(poured)
    ledger.undo(poured.entry, reason="it was another wax", on=ON, at=AT)
    assert trace.forward(bench.lots["wax"]).candles == []
    assert trace.back(lot).supplies == []


@both
def test_an_undone_despatch_is_no_customers(bench):
    lot = lot_of(pour(bench))
    release(lot, on=CURED)
    order = orders.new_order(
        customer=customer(), channel="direct", on=ON, lines=[(bench.design, 2, 0, False)]
    )
    sent = orders.despatch(order, on=CURED, at=AT)
    orders.undo_despatch(sent, reason="never left", on=CURED, at=AT)
    found = trace.forward(bench.lots["oil"])
    assert (found.sent, found.totals.sent, found.totals.candles_inside) == ([], 0, 24)
    assert trace.back_of_order(order).roots == []


@both
def test_returns_testers_and_gifts_are_on_the_recall_list(bench):
    lot = lot_of(pour(bench))
    release(lot, on=CURED)
    tester = stores.set_aside(lot=lot, place=Place.SHELF, qty=2, origin="tester", on=ON, at=AT)
    gift = stores.set_aside(lot=lot, place=Place.SHELF, qty=1, origin="gift", on=ON, at=AT)
    order = orders.new_order(
        customer=customer(), channel="direct", on=ON, lines=[(bench.design, 6, 0, False)]
    )
    line = orders.despatch(order, on=CURED, at=AT).lines.get()
    back = orders.take_back(line, qty=4, reason="wick drowned", on=CURED, at=AT)
    found = trace.forward(bench.lots["wick"])
    assert codes(found.candles) == {lot.code, tester.code, gift.code, back.lot.code}
    assert (found.sent[0].qty, found.sent[0].returned, found.sent[0].out) == (6, 4, 2)
    totals = found.totals
    assert totals.candles_inside == 24 - 1 - 2
    assert (totals.candles_sold, totals.candles_given) == (2, 1)
    assert codes(trace.back(back.lot).supplies) == codes(trace.back(lot).supplies)


@both
def test_an_order_leads_back_to_all_its_supply_lots(bench):
    lots = [lot_of(pour(bench, good=3)), lot_of(pour(bench, good=3))]
    for lot in lots:
        release(lot, on=CURED)
    order = orders.new_order(
        customer=customer(), channel="direct", on=ON, lines=[(bench.design, 5, 0, False)]
    )
    orders.despatch(order, on=CURED, at=AT)
    found = trace.back_of_order(order)
    assert codes(found.roots) == {lot.code for lot in lots}
    assert bench.lots["wax"].code in codes(found.supplies)


def test_an_unknown_lot_names_those_that_come_near(bench):
    lot = lot_of(pour(bench))
    with pytest.raises(trace.NoSuchLot, match=bench.lots["wax"].code):
        trace.find_lot("Q-0001")
    assert trace.find_lot(lot.code.lower()) == lot


@both
def test_a_cut_trace_keeps_its_totals(bench):
    for _ in range(6):
        pour(bench, good=2)
    whole = trace.forward(bench.lots["wax"])
    part = trace.forward(bench.lots["wax"], most=3)
    assert part.cut
    assert len(part.candles) == 2  # and the wax itself
    assert part.totals == whole.totals


def test_the_number_of_queries_does_not_grow_with_the_trace(bench, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    pour(bench, good=2)
    with CaptureQueriesContext(connection) as few:
        trace.forward(bench.lots["wax"])
    most = len(few)
    for _ in range(8):
        pour(bench, good=2)
    with django_assert_num_queries(most):
        trace.forward(bench.lots["wax"])
    with CaptureQueriesContext(connection) as back:
        trace.back(Lot.objects.filter(item=bench.candle).first())
    assert len(back) <= 5  # the lot itself, its threads, lots, places and links


class Threads(TestCase):
    """Whatever the threads: A is in back(B) exactly when B is in forward(A), undone ones apart."""

    @settings(max_examples=40, deadline=None)
    @given(data=st.data())
    def test_forward_and_back_agree(self, data):
        count = data.draw(st.integers(2, 9), label="lots")
        item = Item.objects.get_or_create(
            kind=Kind.WAX, name="Thread wax", defaults={"measure": Measure.MASS}
        )[0]
        lots = [stores.new_lot(item, origin=Origin.LEFT_PLAIN, began_on=ON) for _ in range(count)]
        pairs = data.draw(
            st.lists(
                st.tuples(st.integers(0, count - 1), st.integers(0, count - 1), st.booleans()),
                max_size=14,
            ),
            label="threads (parent, child, undone)",
        )
        standing = {number: set() for number in range(count)}
        for parent, child, undone in pairs:
            if parent >= child:
                continue  # what is made later comes from what was there before
            entry = Entry.objects.create(kind=EntryKind.POUR, on=ON, at=AT)
            LotSource.objects.create(
                entry=entry, parent=lots[parent], child=lots[child], qty=1, value=0
            )
            if undone:
                Entry.objects.create(kind=EntryKind.UNDO, on=ON, at=AT, undoes=entry)
            else:
                standing[parent].add(child)
        reached = {number: _closure(number, standing) for number in range(count)}
        for number, lot in enumerate(lots):
            ahead = {node.pk for node in trace.forward(lot).others}
            assert ahead == {lots[n].pk for n in reached[number]}
            behind = set(trace.back(lot).nodes) - {lot.pk}
            assert behind == {lots[n].pk for n in range(count) if number in reached[n]}


def _closure(start, standing):
    """The plain model: everything reached by walking the pairs."""
    seen, todo = set(), [start]
    while todo:
        for child in standing[todo.pop()]:
            if child not in seen:
                seen.add(child)
                todo.append(child)
    return seen
