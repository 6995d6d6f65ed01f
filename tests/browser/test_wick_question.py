"""
From a design to its jig, to a test burn, to a verdict, to the next burn, through pages alone.

The tumbler is 74 mm wide inside, 2.91 inches: by the house limit of an hour an inch and one more
its pool is to be full within 3 h 55 min. Read 71 mm wide at four hours, it has too little wick.
"""

from __future__ import annotations

import io
from datetime import timedelta
from decimal import Decimal
from urllib.parse import urljoin

import pytest
from django.utils import timezone
from playwright.sync_api import expect
from pypdf import PdfReader

from browser.maker import DESK, Maker
from burn_workshop import readings
from candle_examples import set_up_bench
from pourwright.workshop.burns.models import TestBurn
from pourwright.workshop.stores.models import Item, WickFacts


@pytest.fixture
def maker(workshop, site):
    bench = set_up_bench()
    for size, rate in ((3, "3.4"), (4, "4.2"), (5, "5.1"), (6, "6.0")):
        name = f"Flat braid no. {size}"
        wick, _ = Item.objects.get_or_create(kind="wick", name=name, measure="count")
        WickFacts.objects.update_or_create(
            item=wick,
            defaults={
                "series": "flat braid", "size": str(size), "burn_rate_g_h": Decimal(rate),
                "lead_free": "maker's letter",
            },
        )  # fmt: skip
    assert bench.version.wick.name == "Flat braid no. 4"
    site.set_viewport_size(DESK)
    return Maker(site)


def test_from_a_design_to_the_next_burn(maker):
    page = maker.page
    maker.go("Designs")
    maker.follow("Quince in amber")
    maker.follow("Where the wicks stand")
    maker.sees("It places wicks. It never sizes one.")
    maker.go("Designs")
    maker.follow("Quince in amber")
    maker.follow("Make a jig")
    link = page.get_by_role("link", name="PDF", exact=True).get_attribute("href")
    jig = page.request.get(urljoin(page.url, link))
    assert "mm" in PdfReader(io.BytesIO(jig.body())).pages[0].extract_text()
    expect(maker.sheet("Before you use it")).to_contain_text("before the candle is lit")

    maker.go("Designs")
    maker.follow("Quince in amber")
    maker.follow("Test burns")
    maker.follow("Take pieces")
    maker.choose("What for", "a try of a wick")
    maker.write("Poured on", f"{timezone.localdate() - timedelta(20):%Y-%m-%d}")
    maker.press("Take them")
    maker.follow("Light it")
    for box in page.locator(".ticks input[type=checkbox]").all():
        box.check()
    maker.write("Weight of the piece before", "505 g")
    maker.write("Watched by", "Ada")
    maker.press("Lit now")
    # Four hours go by, of which three are read.
    burn = TestBurn.objects.get()
    burn.lit_at -= timedelta(hours=4, minutes=1)
    burn.save()
    readings(burn, until=180)
    page.reload()
    read(maker, "flame", 240, {"Flame": "24"})
    read(maker, "pool", 240, {"Width": "71 mm", "Width across it": "71 mm", "Depth": "9 mm"})
    read(maker, "wall", 240, {"Wall at the pool": "46 °C"})
    out = page.locator("#out")
    maker.write("After-glow or smoke, seconds", "6", within=out)
    maker.press("It is out", within=out)

    maker.sees("too little wick", "The pool was not full in its time", "your house limit")
    maker.go("Burns")
    maker.follow("Quince in amber")
    maker.follow("What to burn next")
    advice = maker.sheet("Burn next")
    expect(advice).to_contain_text("Burn next: 1 ×")
    expect(advice).not_to_contain_text("1 of 4")
    expect(advice).to_contain_text("no chance of safety")
    maker.sees("Learnt from 1 burn")


def read(maker, group: str, minute: int, figures: dict) -> None:
    entry = maker.page.locator(f"#entry-{group}")
    if not entry.evaluate("one => one.open"):
        entry.locator("summary").first.click()
    for label, text in figures.items():
        maker.write(label, text, within=entry)
    entry.locator("summary", has_text="another minute").click()
    maker.write("Minutes after lighting", str(minute), within=entry)
    with maker.page.expect_response(lambda answer: f"/read/{group}/" in answer.url):
        maker.press("Read now", within=entry)
    maker.page.reload()
