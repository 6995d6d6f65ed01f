"""The orders' pages: taken, sent, taken back; nothing that was typed is lost."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from candle_examples import customer, lot_of, pour, release, set_up_bench
from pourwright.workshop.orders.models import Customer, Order, OrderState
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Place

pytestmark = pytest.mark.django_db


@pytest.fixture
def today(workshop):
    return timezone.localdate()


@pytest.fixture
def bench(workshop, today):
    made = set_up_bench()
    release(made.version, on=today)
    return made


@pytest.fixture
def lots(bench, today):
    made = [
        lot_of(pour(bench, good=5, on=today - timedelta(days=40))),
        lot_of(pour(bench, good=24, on=today - timedelta(days=30))),
    ]
    for lot in made:
        release(lot, on=today)
    return made


def rows(*lines):
    """A form's lines: (design, number, price, seconds)."""
    typed = {"lines-TOTAL_FORMS": len(lines) + 1, "lines-INITIAL_FORMS": 0}
    for number, (design, qty, price, seconds) in enumerate(lines):
        typed |= {
            f"lines-{number}-design": design.pk,
            f"lines-{number}-qty": qty,
            f"lines-{number}-price_minor100": price,
        }
        if seconds:
            typed[f"lines-{number}-seconds"] = "on"
    return typed


def take(client, today, *lines, **head):
    head.setdefault("customer", customer().name if not Customer.objects.exists() else
                    Customer.objects.first().name)  # fmt: skip
    head = {"channel": "direct", "on": today.isoformat(), **head}
    return client.post(reverse("orders:new"), {**head, **rows(*lines)})


def do(client, order, what, **typed):
    return client.post(reverse("orders:order", args=[order.number]), {"do": what, **typed})


def picks(order, *lots):
    line = order.lines.get()
    return {f"pick-{line.pk}-{lot.pk}": qty for lot, qty in lots}


def test_an_order_is_taken_with_the_designs_price_where_none_is_typed(client, bench, today):
    answer = take(client, today, (bench.design, 4, "", False))
    order = Order.objects.get()
    assert answer.url == reverse("orders:order", args=[order.number])
    assert order.lines.get().price_minor100 == 240_000
    take(client, today, (bench.design, 4, "", False), channel="wholesale")
    assert Order.objects.first().lines.get().price_minor100 == 130_000


def test_an_unknown_customer_is_said_and_what_was_typed_stays(client, bench, today):
    words = take(client, today, (bench.design, 4, "21.50", False),
                 customer="Nobody Known", note="by the back door").content.decode()  # fmt: skip
    assert "No customer is called “Nobody Known”" in words
    assert "by the back door" in words
    assert "21.50" in words
    assert not Order.objects.exists()


def test_two_customers_of_one_name_are_told_apart_by_number(client, bench, today):
    one, other = customer("Ada Pell"), customer("Ada Pell")
    words = take(client, today, (bench.design, 1, "", False), customer="Ada Pell").content.decode()
    assert f"Ada Pell #{one.pk}" in words
    take(client, today, (bench.design, 1, "", False), customer=f"Ada Pell #{other.pk}")
    assert Order.objects.get().customer == other


def test_the_send_form_offers_the_oldest_released_lots_first(client, bench, lots, today):
    take(client, today, (bench.design, 8, "", False))
    order = Order.objects.get()
    form = client.get(reverse("orders:order", args=[order.number])).context["send_form"]
    assert [(offer.lot, offer.suggested) for offer in form.offers] == [(lots[0], 5), (lots[1], 3)]


def test_sending_moves_the_candles_and_closes_the_order(client, bench, lots, today):
    take(client, today, (bench.design, 8, "", False))
    order = Order.objects.get()
    do(client, order, "send", on=today.isoformat(), carrier="Post",
       **picks(order, (lots[0], 2), (lots[1], 6)))  # fmt: skip
    order.refresh_from_db()
    assert order.state == OrderState.SENT
    assert ledger.held(lots[1], Place.SHELF)[0] == 18
    note = reverse("orders:packing", args=[order.number, order.despatches.get().pk])
    words = client.get(note).content.decode()
    assert lots[0].code in words
    assert "Tilda Wren" in words


def test_a_lot_that_is_no_longer_offered_is_refused_by_name(client, bench, lots, today):
    take(client, today, (bench.design, 8, "", False))
    order = Order.objects.get()
    gone = lot_of(pour(bench, good=9, on=today - timedelta(days=30)))
    words = do(client, order, "send", on=today.isoformat(),
               **picks(order, (gone, 4))).content.decode()  # fmt: skip
    assert f"Lot {gone.code} is not released" in words
    assert ledger.held(gone, Place.SHELF)[0] == 9


def test_what_is_short_says_when_the_next_lot_is_ready(client, bench, lots, today):
    later = lot_of(pour(bench, good=12, on=today - timedelta(days=3)))
    take(client, today, (bench.design, 40, "", False))
    words = client.get(reverse("orders:order", args=[Order.objects.get().number])).content.decode()
    assert "11 short" in words
    assert f"The next lot is {later.code}" in words


def test_undo_take_back_and_cancel(client, bench, lots, today):
    take(client, today, (bench.design, 4, "", False))
    order = Order.objects.get()
    do(client, order, "send", on=today.isoformat(), **picks(order, (lots[0], 4)))
    line = order.despatches.get().lines.get()
    do(client, order, f"back:{line.pk}", qty=1, reason="cracked glass")
    assert line.returns.get().qty == 1
    words = do(client, order, f"undo:{line.despatch_id}", reason="oops").content.decode()
    assert "it did leave" in words
    take(client, today, (bench.design, 2, "", False))
    other = Order.objects.first()
    do(client, other, "cancel", reason="they changed their mind")
    other.refresh_from_db()
    assert other.state == OrderState.CANCELLED


def test_an_open_order_can_be_changed_and_a_line_taken_out(client, bench, today):
    take(client, today, (bench.design, 4, "20", False), (bench.design, 2, "20", True))
    order = Order.objects.get()
    first, second = order.lines.all()
    client.post(
        reverse("orders:edit", args=[order.number]),
        {
            "customer": order.customer.name, "channel": "direct", "on": today.isoformat(),
            "lines-TOTAL_FORMS": 2, "lines-INITIAL_FORMS": 2,
            "lines-0-line": first.pk, "lines-0-design": bench.design.pk, "lines-0-qty": 7,
            "lines-0-price_minor100": "19",
            "lines-1-line": second.pk, "lines-1-design": bench.design.pk, "lines-1-qty": 2,
            "lines-1-price_minor100": "20", "lines-1-seconds": "on", "lines-1-DELETE": "on",
        },
    )  # fmt: skip
    assert [(line.pk, line.qty, line.price_minor100) for line in order.lines.all()] == [
        (first.pk, 7, 190_000)
    ]


def test_the_list_has_tabs_finds_by_customer_and_keeps_its_queries(
    client, bench, lots, today, django_assert_max_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    take(client, today, (bench.design, 1, "", False))
    with CaptureQueriesContext(connection) as few:
        words = client.get(reverse("orders:index")).content.decode()
    most = len(few)
    assert "Tilda Wren" in words
    for _ in range(8):
        take(client, today, (bench.design, 1, "", False), (bench.design, 2, "", True))
    with django_assert_max_num_queries(most):
        client.get(reverse("orders:index"))
    found = client.get(reverse("orders:index"), {"q": "wren"})
    assert len(found.context["rows"]) == 9
    assert client.get(reverse("orders:index"), {"show": "sent"}).context["rows"] == []


def test_a_customer_is_entered_and_shows_their_orders(client, bench, today):
    client.post(reverse("orders:customer_new"), {"name": "Bram Holt", "email": "b@holt.example"})
    bram = Customer.objects.get()
    take(client, today, (bench.design, 3, "", False), customer="bram holt")
    words = client.get(reverse("orders:customer", args=[bram.pk])).content.decode()
    assert Order.objects.get().number in words
    listed = client.get(reverse("orders:customers"), {"q": "holt"}).content.decode()
    assert "Bram Holt" in listed
