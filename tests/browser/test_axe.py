"""
Every page, at phone and desk width, light and dark: nothing that axe-core finds, nothing wider than
the screen, nothing in the console.

axe-core (Deque Systems, Mozilla Public License 2.0) checks what of the Web Content Accessibility
Guidelines a machine can check; it finds no more than a part of what can be wrong.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest
from playwright.sync_api import expect

from browser import every_page
from browser.axe import violations
from browser.conftest import watched
from browser.maker import PHONE, WIDTHS
from running import Server

BUILDER = Path(__file__).with_name("full_workshop.py")
# The bench has one page for each step, each another; of other pages the few most different ones.
OPENED = {
    "pours:bench": 24,
    "stores:index": 12,
    "stores:item_new": 8,
    "stores:item": 12,
    "stores:lot": 14,
    "orders:index": 8,
    "orders:order": 12,
    "exchange": 10,
    "heat:setting": 1,  # each another simulation
    "heat:burning": 1,
}
LOOKED_AT = {"pours:bench": 5, "stores:item": 4, "stores:item_new": 3}
MOST = 1
BEGIN = [
    "/heat/designs/1/burning/?all=1",  # with its range, which takes some burns to work out
    "/find/?q=M-0",
    "/orders/?show=all",
    "/",
    "/find/?q=an",
    "/find/?q=nobody-is-called-this",
    "/find/",
]
# How a page is looked at by axe-core: one way each, by its name, so that it stays the same. Every
# colour is a token of its scheme, and what pages are built of is seen on many others in other ways.
WAYS = (("phone", "light"), ("desk", "dark"), ("phone", "dark"), ("desk", "light"))
ALIKE = 3


@pytest.fixture(scope="module")
def workshop_full_of_life(empty_workshop, tmp_path_factory):
    folder = empty_workshop(tmp_path_factory.mktemp("full of life"))
    subprocess.run([sys.executable, BUILDER, folder], check=True, timeout=120)
    with Server(folder) as server:
        yield server


@pytest.fixture(scope="module")
def found(workshop_full_of_life):
    return every_page.crawl(workshop_full_of_life.address, begin=BEGIN, each=4, of=OPENED)


@pytest.fixture(scope="module")
def visitor(browser, workshop_full_of_life):
    """One page for the whole file; what it has to say of a page is asked for after each."""
    context = browser.new_context(
        base_url=workshop_full_of_life.address, reduced_motion="reduce", color_scheme="light"
    )
    page = context.new_page()
    with watched(page, workshop_full_of_life.address) as trouble:
        page.trouble = trouble
        yield page
    context.close()


def test_every_address_is_a_page_or_listed_with_its_reason():
    every = set(every_page.names_of_all())
    listed = set(every_page.FORMS_ONLY) | set(every_page.PIECES_AND_FILES)
    assert listed <= every, f"no longer there: {listed - every}"
    assert set(every_page.pages()) == every - listed


@pytest.mark.parametrize("name", every_page.pages())
def test_a_page_is_fit_for_everyone(name, found, visitor):
    addresses = found.most_different(name, LOOKED_AT.get(name, MOST))
    assert addresses, f"no link leads to {name}: link it, or list it in every_page.py with a reason"
    wrong = []
    for place, address in enumerate(addresses):
        wrong += look_at(visitor, address, [WAYS[(sum(map(ord, name)) + place) % len(WAYS)]])
    assert not wrong, "\n" + "\n".join(wrong)


def test_an_address_that_leads_nowhere_is_fit_for_everyone(visitor):
    wrong = look_at(visitor, "/nowhere/at/all/", WAYS, status=404)
    # The browser itself notes the 404 in its console.
    assert [line for line in wrong if "404 (Not Found)" not in line] == []


def look_at(page, address: str, ways: Iterable, *, status: int = 200) -> list[str]:
    """
    Return what is wrong with a page, one sentence each.

    ``ways`` are width and colour scheme. How wide the page is is measured at both widths and with
    all its rows; then axe-core, whose time grows with the page, is given no more than some of those
    rows that are built alike.
    """
    page.trouble.clear()
    page.emulate_media(color_scheme="light")
    page.set_viewport_size(PHONE)
    answer = page.goto(address)
    expect(page.locator(".htmx-request")).to_have_count(0)
    wrong = [] if answer.status == status else [f"{address} answers {answer.status}"]
    for width, size in WIDTHS.items():
        page.set_viewport_size(size)
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > size["width"]:
            wrong.append(f"{address} ({width}) is {wide} px wide")
    page.evaluate(KEEP_SOME_OF_THOSE_ALIKE, ALIKE)
    for width, scheme in sorted(ways):
        page.set_viewport_size(WIDTHS[width])
        page.emulate_media(color_scheme=scheme)
        where = f"{address} ({width}, {scheme})"
        wrong += [f"{where}: {words}" for words in violations(page)]
    wrong += [f"{address}: {words}" for words in page.trouble]
    page.trouble.clear()
    return wrong


# Rows and list entries that differ in their words alone. What an attribute says counts where it
# decides on looks or role; of any other, that it is there.
KEEP_SOME_OF_THOSE_ALIKE = r"""most => {
  const says = /^(class|role|type|scope|aria-hidden|fill|stroke)$/;
  const attribute = it => says.test(it.name) ? `${it.name}=${it.value}` : it.name;
  const build = it =>
    `${it.tagName}[${[...it.attributes].map(attribute).sort()}](${[...it.children].map(build)})`;
  for (const group of document.querySelectorAll("tbody, ul, ol")) {
    const seen = new Map();
    for (const row of [...group.children]) {
      const alike = (seen.get(build(row)) ?? 0) + 1;
      seen.set(build(row), alike);
      if (alike > most) row.remove();
    }
  }
}"""
