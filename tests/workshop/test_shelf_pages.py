"""The shelf's pages: what is held, its state in a word, and what can be done with a lot."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from candle_examples import lot_of, pour, release, set_up_bench
from conftest import AT
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Lot, Origin, Place

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(workshop):
    return set_up_bench()


@pytest.fixture
def today():
    return timezone.localdate()


def poured(bench, today, *, days_ago=30, **more):
    return lot_of(pour(bench, on=today - timedelta(days=days_ago), **more))


def page(client, lot):
    return client.get(reverse("shelf:lot", args=[lot.code])).content.decode()


def send(client, lot, do, **typed):
    return client.post(reverse("shelf:lot", args=[lot.code]), {"do": do, **typed})


def test_an_empty_shelf_says_where_candles_come_from(client, workshop):
    words = client.get(reverse("shelf:index")).content.decode()
    assert "The shelf is empty" in words
    assert reverse("pours:index") in words


def test_the_list_tells_curing_waiting_and_released_apart(client, bench, today):
    release(bench.version, on=today)
    curing = poured(bench, today, days_ago=2)
    waiting = poured(bench, today)
    free = poured(bench, today)
    release(free, on=today)
    words = client.get(reverse("shelf:index")).content.decode()
    assert f"curing until {curing.ready_on.day} {curing.ready_on:%b}" in words
    assert "waiting for checks" in words
    for tab, own, others in (
        ("curing", curing, (waiting, free)),
        ("checks", waiting, (curing, free)),
        ("released", free, (curing, waiting)),
    ):
        shown = client.get(reverse("shelf:index"), {"show": tab}).content.decode()
        assert own.code in shown
        assert not any(f">{other.code}<" in shown for other in others), tab


def test_the_list_finds_by_number_and_name_and_shows_the_drawing(client, bench, today):
    lot = poured(bench, today)
    found = client.get(reverse("shelf:index"), {"q": lot.code.lower()}).content.decode()
    assert lot.code in found
    assert "cd-icon" in found
    none = client.get(reverse("shelf:index"), {"q": "nowhere"}).content.decode()
    assert "No lot here" in none


def test_a_longer_list_takes_no_more_queries(client, bench, today, django_assert_max_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def rows(number):
        for n in range(number):
            lot = poured(bench, today, days_ago=40 + n, good=1)
            if n % 2:
                stores.set_aside(
                    lot=lot, place=Place.SHELF, qty=1, origin="tester", on=today, at=AT
                )

    rows(2)
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("shelf:index"))
    most = len(few)
    rows(12)
    with django_assert_max_num_queries(most):
        client.get(reverse("shelf:index"))


def test_a_lot_shows_where_it_came_from_what_it_cost_and_its_gate(client, bench, today):
    done = pour(bench, on=today - timedelta(days=30))
    words = page(client, lot_of(done))
    assert reverse("pours:pour", args=[done.number]) in words
    assert reverse("designs:design", args=[bench.design.pk]) in words
    assert "Fragrance" in words
    assert "One candle" in words
    assert 'id="gate"' in words


def test_the_costs_of_a_candle_add_up_to_what_the_ledger_says(bench, today, workshop):
    from pourwright.workshop.shelf import services as shelf
    from pourwright.workshop.shelf.queries import cost_of

    lot = poured(bench, today, good=24)
    stores.set_aside(lot=lot, place=Place.SHELF, qty=4, origin="tester", on=today, at=AT)
    shelf.finish(
        lot, checks=dict.fromkeys(Finishing.CHECKS, True), by="", on=today, at=AT,
        workshop=workshop,
    )  # fmt: skip
    qty, value = ledger.held(lot, Place.SHELF)
    cost = cost_of(lot)
    assert sum(part.each for part in cost.parts) == cost.each
    assert abs(cost.each - value / qty) <= 1


def test_candles_scrapped_at_the_pour_are_borne_by_the_good_ones(workshop):
    from pour_examples import a_bench, closed, fillings_of, opened
    from pourwright.workshop.shelf.queries import cost_of

    made = a_bench(workshop).stock()
    done = opened(made, (made.fig, 12))
    closed(made, done, {"good": 9, "scrapped": 3})
    lot = fillings_of(done)[0].lot
    qty, value = ledger.held(lot, Place.SHELF)
    assert qty == 9
    assert abs(cost_of(lot).each - value / qty) <= 1


def test_ticks_are_kept_one_by_one_and_the_last_takes_the_parts(client, bench, today):
    lot = poured(bench, today)
    send(client, lot, "finish", wicks_trimmed="on", by="A. Maker")
    finishing = Finishing.objects.get(lot=lot)
    assert (finishing.wicks_trimmed, finishing.complete) == (True, False)
    send(client, lot, "finish", by="A. Maker", **dict.fromkeys(Finishing.CHECKS, "on"))
    assert Finishing.objects.get(lot=lot).done_at
    assert ledger.held(bench.lots["lid"])[0] == 100 - 24


def test_too_few_parts_is_said_on_the_page_and_the_ticks_stay_as_typed(client, bench, today):
    lot = poured(bench, today, good=60)
    answer = send(client, lot, "finish", by="A. Maker", minutes="12.5",
                  **dict.fromkeys(Finishing.CHECKS, "on"))  # fmt: skip
    words = answer.content.decode()
    assert "20 short" in words
    assert 'value="12.5"' in words


def test_testers_gifts_scrap_and_counts(client, bench, today):
    lot = poured(bench, today, good=20)
    send(client, lot, "aside", qty=3, origin="tester", note="series 2")
    tester = Lot.objects.get(origin=Origin.TESTER)
    assert ledger.held(tester, Place.TEST)[0] == 3
    send(client, lot, "scrap", qty=2, place="shelf", reason="sunken tops")
    send(client, lot, "count", counted=14, place="shelf", reason="one broke")
    assert ledger.held(lot, Place.SHELF)[0] == 14
    send(client, tester, "burn", qty=2, reason="series 2")
    assert ledger.held(tester, Place.BURNT)[0] == 2
    undo = ledger.Entry.objects.get(kind="test")
    send(client, tester, "undo", entry=undo.pk, reason="it was one only")
    assert ledger.held(tester, Place.TEST)[0] == 3


def test_what_is_refused_is_said_beside_what_was_typed(client, bench, today):
    lot = poured(bench, today, good=5)
    words = send(client, lot, "aside", qty=9, origin="gift", note="for Aunt").content.decode()
    assert "9" in words
    assert "for Aunt" in words
    assert 'role="alert"' in words
    assert ledger.held(lot, Place.SHELF)[0] == 5


def test_sending_a_form_twice_records_it_once(client, bench, today):
    lot = poured(bench, today, good=20)
    key = "6a1d3c1e-3d59-4d57-9ad6-0d4d0a2e9b11"
    for _ in range(2):
        send(client, lot, "scrap", qty=2, place="shelf", reason="sunken tops", client_id=key)
    assert ledger.held(lot, Place.SHELF)[0] == 18


def test_a_supply_lots_number_leads_to_the_stores(client, bench):
    answer = client.get(reverse("shelf:lot", args=[bench.lots["wax"].code]))
    assert answer.url == reverse("stores:lot", args=[bench.lots["wax"].code])


def test_the_lots_paper_is_a_pdf(client, bench, today):
    lot = poured(bench, today)
    release(bench.version, on=today)
    release(lot, on=today)
    answer = client.get(reverse("shelf:paper", args=[lot.code]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
