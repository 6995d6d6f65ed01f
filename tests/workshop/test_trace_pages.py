"""Trace on one page and one sheet: both ways, and a recall that takes what is left off sale."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from candle_examples import customer, lot_of, pour, release, set_up_bench
from conftest import AT
from pourwright.workshop.gates import services as gates
from pourwright.workshop.orders import services as orders
from pourwright.workshop.trace import services as trace
from pourwright.workshop.trace.models import Recall

pytestmark = pytest.mark.django_db


@pytest.fixture
def today(workshop):
    return timezone.localdate()


@pytest.fixture
def sold(workshop, today):
    """A bench, a released lot of 24, and an order of 5 that went out of it."""
    bench = set_up_bench()
    release(bench.version, on=today)
    lot = lot_of(pour(bench, on=today - timedelta(days=30)))
    release(lot, on=today)
    order = orders.new_order(
        customer=customer(), channel="direct", on=today, lines=[(bench.design, 5, 0, False)]
    )
    orders.despatch(order, on=today, at=AT)
    return bench, lot, order


def words_of(client, name, *arguments, **query):
    return client.get(reverse(name, args=arguments), query).content.decode()


def test_the_box_leads_to_a_lot_an_order_or_what_a_customer_bought(client, sold):
    bench, lot, order = sold
    index = reverse("trace:index")
    assert client.get(index, {"q": lot.code.lower()}).url == reverse("trace:lot", args=[lot.code])
    to_order = client.get(index, {"q": order.number})
    assert to_order.url == reverse("trace:order", args=[order.number])
    assert reverse("trace:order", args=[order.number]) in words_of(client, "trace:index", q="wren")
    assert bench.lots["oil"].code in words_of(client, "trace:index", q="MW-oil")
    assert "Nothing is called" in words_of(client, "trace:index", q="zzz")


def test_a_supply_lots_page_is_a_recall_list(client, sold):
    bench, lot, order = sold
    words = words_of(client, "trace:lot", bench.lots["wax"].code)
    for expected in (lot.code, order.number, "Tilda Wren", "tilda@wren.example", "19", "T-0001"):
        assert expected in words


def test_a_candle_lots_page_names_every_supply_lot_and_supplier(client, sold):
    bench, lot, _ = sold
    words = words_of(client, "trace:lot", lot.code)
    for key in ("wax", "oil", "vessel", "wick"):
        assert bench.lots[key].code in words
        assert f"MW-{key}" in words
    assert "Millrace Waxworks" in words
    assert "Tilda Wren" in words


def test_an_orders_page_names_every_supply_lot(client, sold):
    bench, lot, order = sold
    words = words_of(client, "trace:order", order.number)
    assert bench.lots["wick"].code in words
    assert lot.code in words


def test_sheets_are_pdfs_for_lots_and_orders(client, sold):
    bench, lot, order = sold
    for code in (bench.lots["wax"].code, lot.code, order.number):
        answer = client.get(reverse("trace:sheet", args=[code]))
        assert answer["Content-Type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF")


def test_a_recall_takes_what_is_left_off_sale_and_stands_on_the_record(client, sold):
    bench, lot, _ = sold
    wax = bench.lots["wax"]
    client.post(reverse("trace:lot", args=[wax.code]), {"do": "begin", "reason": "metal flakes"})
    assert not gates.is_released(lot)
    assert "metal flakes" in words_of(client, "trace:index")
    again = client.post(reverse("trace:lot", args=[wax.code]), {"do": "begin", "reason": "x"})
    assert "is being recalled already" in again.content.decode()
    client.post(reverse("trace:lot", args=[wax.code]), {"do": "end", "how": "all came back"})
    assert Recall.objects.get().ended_how == "all came back"
    assert not gates.is_released(lot)


def test_a_recall_needs_a_reason(sold, today):
    with pytest.raises(trace.CannotRecall, match="needs a reason"):
        trace.begin_recall(sold[0].lots["wax"], reason=" ", by="", on=today, at=AT)


def test_a_long_recall_list_is_paged_and_its_totals_stay_whole(client, sold, today, monkeypatch):
    from pourwright.workshop.trace import views

    monkeypatch.setattr(views, "MOST_ROWS", 3)
    bench, _, _ = sold
    for _ in range(4):
        order = orders.new_order(
            customer=customer(), channel="direct", on=today, lines=[(bench.design, 1, 0, False)]
        )
        orders.despatch(order, on=today, at=AT)
    first = client.get(reverse("trace:lot", args=[bench.lots["wax"].code]))
    assert len(first.context["forward"].sent) == 3
    assert first.context["forward"].totals.sent == 9
    second = client.get(reverse("trace:lot", args=[bench.lots["wax"].code]), {"page": 2})
    assert len(second.context["forward"].sent) == 2


def test_an_unknown_lot_is_not_found(client, workshop):
    assert client.get(reverse("trace:lot", args=["W-9999"])).status_code == 404
