"""A section is played over time in the browser; without a script its frames stand there."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from candle_examples import set_up_bench
from pourwright.workshop.heat import setting as settings


@pytest.fixture
def path(workshop, transactional_db, monkeypatch):
    monkeypatch.setattr(settings, "CELL_MM", 6.0)  # coarse and quick
    bench = set_up_bench()
    return f"{reverse('heat:setting', args=[bench.design.pk])}?pour_c=60&room_c=20"


def test_the_slider_moves_the_section_through_time(path, site, live_server):
    site.emulate_media(reduced_motion="reduce")
    site.goto(f"{live_server.url}{path}")
    slider = site.get_by_role("slider", name="Time since the pour")
    clock = site.locator("[data-film-clock]")
    liquid = site.locator(".film-player .hs-2")
    expect(site.get_by_role("button", name="Play")).to_be_hidden()  # nothing moves by itself
    expect(site.locator(".strip")).to_be_hidden()
    slider.fill("0")
    expect(clock).to_have_text("0 h 00 min")
    poured = liquid.get_attribute("d")
    slider.press("ArrowRight")
    slider.fill("400")
    expect(clock).not_to_have_text("0 h 00 min")
    assert liquid.get_attribute("d") != poured
    slider.fill("1000")
    assert liquid.get_attribute("d") == "M0 0"  # nothing is liquid when it is set through
