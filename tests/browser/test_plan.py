"""From an order to a pour that was started from the plan, a melt dragged on the way."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from browser.maker import DESK, Maker
from candle_examples import set_up_bench
from plan_examples import evenings, pot
from pourwright.workshop.orders.models import Customer
from pourwright.workshop.planning.models import PlannedMelt
from pourwright.workshop.pours.models import Pour


@pytest.fixture
def maker(workshop, site):
    set_up_bench()
    Customer.objects.create(name="Aster Row")
    pot()
    evenings(0, 2, 4)
    # All the weeks at once: what is dragged and where it is dropped are both in sight.
    site.set_viewport_size({**DESK, "height": 3000})
    return Maker(site)


def test_from_an_order_to_a_started_pour(maker):
    page = maker.page
    maker.go("Plan")
    maker.follow("Wanted")
    maker.sees("Nothing is wanted")
    maker.follow("Markets")
    maker.write("Market", "Quay market")
    maker.press("Add it")
    maker.write("On", (timezone.localdate() + timedelta(33)).isoformat())
    maker.press("Add it")
    maker.write("Quince in amber: wanted", "12")
    maker.press("Save")
    maker.told("The next plan has it ready")

    maker.go("Plan")
    maker.choose("How hard to look", "quick")
    maker.press("Plan the pours")
    maker.press("Follow this plan")
    maker.told("is followed from now on")
    maker.sees("12 Quince in amber", "on time")

    melt = PlannedMelt.objects.get()
    page.locator("[data-melt]").drag_to(page.locator(".slot").last)
    expect(page.get_by_text("As it is moved now, this breaks")).to_be_visible()
    maker.sees("12 late instead of 0")
    board = page.locator("#board")
    first = board.locator(".slot").first
    board.get_by_text("Move", exact=True).click()
    board.get_by_label("To", exact=True).select_option(index=0)
    maker.press("Move and pin")
    expect(first).to_contain_text("pinned")
    expect(page.get_by_text("this breaks")).to_have_count(0)
    melt.refresh_from_db()
    assert melt.pinned

    maker.press("Start the pour")
    pour = Pour.objects.get()
    maker.told(f"Pour {pour.number} is planned from")
    melt.refresh_from_db()
    assert melt.pour == pour
    maker.press("Begin at the bench")
    pour.refresh_from_db()
    assert pour.state == "open"
