"""Without a mouse: past the navigation in one step, in reading order to what the page is for."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from pour_examples import a_bench, opened

MOST_STOPS = 30

# The focused element: whether it is on the screen and marked, and where it stands.
FOCUSED = """() => {
  const it = document.activeElement, box = it.getBoundingClientRect(), look = getComputedStyle(it);
  return {
    what: `${it.tagName} ${it.textContent.trim().slice(0, 40) || it.name || it.id}`,
    words: it.textContent.trim(),
    seen: box.width > 0 && box.height > 0 && box.bottom > 0 && box.right > 0
          && box.left < innerWidth && box.top < innerHeight,
    marked: look.outlineStyle !== "none" && parseFloat(look.outlineWidth) >= 2,
    inMain: document.getElementById("main").contains(it) && it.id !== "main",
  };
}"""


@pytest.fixture
def bench(workshop, transactional_db):
    made = a_bench(workshop).stock()
    opened(made, (made.fig, 6))
    return made


def tab_to(page, words: str) -> list[dict]:
    """Press Tab until the focus is on what has these words; every stop must be seen and marked."""
    stops = []
    for _ in range(MOST_STOPS):
        page.keyboard.press("Tab")
        stop = page.evaluate(FOCUSED)
        stops.append(stop)
        assert stop["seen"], f"{page.url}: the focus is out of sight at {stop['what']}"
        assert stop["marked"], f"{page.url}: the focus cannot be seen at {stop['what']}"
        if stop["words"] == words:
            return stops
    raise AssertionError(f"{page.url}: “{words}” is not reached: {[s['what'] for s in stops]}")


# What each page is for, by its address.
WORK = {
    "/stores/": "Take in a parcel",
    "/formulas/": "New formula",
    "/designs/": "New design",
    "/pours/": "Plan a pour",
    "/orders/": "New order",
    "/trace/": "Trace",
    "/workshop/": "Save",
    "/pours/new/": "Plan this pour",
    "/pours/B-0001/": "Go on at the bench",
    "/pours/B-0001/bench/": "Done now",
}


def test_the_skip_link_comes_first_and_the_pages_work_soon_after(bench, site, live_server):
    """On all pages in one browser window: a new window for each took longer than all the rest."""
    for address, action in WORK.items():
        site.goto(f"{live_server.url}{address}")
        first = tab_to(site, "To the page")
        assert len(first) == 1, address
        site.keyboard.press("Enter")
        expect(site.locator("#main")).to_be_focused()
        stops = tab_to(site, action)
        assert all(stop["inMain"] for stop in stops), f"{address}: the focus left the page's part"


def test_a_weight_is_entered_without_a_mouse(bench, site, live_server):
    site.goto(f"{live_server.url}/pours/B-0001/")
    step = site.get_by_role("heading", level=1)
    tab_to(site, "Go on at the bench")
    site.keyboard.press("Enter")
    expect(step).to_have_text("How warm is the room?")
    site.get_by_label("Temperature").focus()
    site.keyboard.type("20")
    site.keyboard.press("Enter")
    expect(step).to_have_text("Lay out 6 × Fig")
    tab_to(site, "All laid out")
    site.keyboard.press("Enter")
    expect(step).to_have_text("rape blend")
    site.get_by_label("Weighed").focus()
    site.keyboard.type("1034.5")
    site.keyboard.press("Enter")
    expect(step).to_have_text("Melt the wax")


def test_the_search_box_is_one_key_away_and_its_finds_are_walked_with_the_arrows(bench, site):
    site.keyboard.press("/")
    expect(site.locator("#find-q")).to_be_focused()
    site.keyboard.type("rape")
    found = site.locator("#find-results a").first
    expect(found).to_be_visible()
    site.keyboard.press("ArrowDown")
    expect(found).to_be_focused()
    site.keyboard.press("Enter")
    expect(site.get_by_role("heading", level=1)).to_have_text("rape blend")
