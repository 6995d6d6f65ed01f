"""A burn at a phone's width: the connection drops, and what was read is recorded once each."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from browser.conftest import watched
from burn_workshop import take
from candle_examples import set_up_bench
from pourwright.workshop.burns.models import BurnReading, TestBurn
from pourwright.workshop.house.models import Workshop


@pytest.fixture
def piece(live_server):
    workshop = Workshop.objects.create(pk=1, name="Test workshop", maker="Ada")
    on = timezone.localdate()
    given = {"on": on, "at": timezone.now(), "poured_on": on - timedelta(20)}
    return take(set_up_bench(), workshop, **given)[0]


def test_readings_wait_while_the_connection_is_down_and_arrive_once(page, live_server, piece):
    page.set_viewport_size({"width": 390, "height": 844})
    with watched(page, live_server.url) as trouble:
        page.goto(f"{live_server.url}/burns/{piece.number}/light/")
        for box in page.locator(".ticks input[type=checkbox]").all():
            box.check()
        page.get_by_role("button", name="Lit now").click()
        expect(page.locator("[data-timer]")).to_have_text("0:00")
        expect(page.get_by_text("Put it out at once when")).to_be_visible()
        assert trouble == []
    burn = TestBurn.objects.get()

    page.context.set_offline(True)
    page.get_by_label("Flame").fill("24")
    page.locator("#entry-flame").get_by_role("button", name="Read now").click()
    waiting = page.locator("[data-queue-words]")
    expect(waiting).to_contain_text("1 entry waits")
    page.locator("#entry-pool summary").first.click()
    page.get_by_label("Width across it").fill("31")
    page.get_by_label("Width", exact=True).fill("30 mm")
    page.locator("#entry-pool").get_by_role("button", name="Read now").click()
    expect(waiting).to_contain_text("2 entries wait")
    expect(waiting).to_contain_text("no connection")
    assert not BurnReading.objects.exists()

    page.context.set_offline(False)
    expect(page.locator("[data-queue]")).to_be_hidden(timeout=9000)
    # The page has drawn them from the records by itself.
    expect(page.locator("#live-curve tbody tr")).to_have_count(2)
    flame, pool = BurnReading.objects.order_by("id")
    assert (flame.flame_mm, pool.pool_mm) == (["24.00"], ["30.00", "31.00"])
    assert flame.client_id != pool.client_id

    page.reload()
    expect(page.locator("[data-queue]")).to_be_hidden()
    page.wait_for_timeout(300)
    assert BurnReading.objects.filter(burn=burn).count() == 2
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
