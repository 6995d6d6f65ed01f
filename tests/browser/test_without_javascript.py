"""With JavaScript off everything can still be read and saved: rows, previews, the bench."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from browser.conftest import watched
from browser.maker import PHONE, Maker
from pour_examples import a_bench, opened


@pytest.fixture
def plain(browser, live_server, workshop):
    """A maker whose browser runs no scripts, in a workshop with a pour at the bench."""
    bench = a_bench(workshop).stock()
    opened(bench, (bench.fig, 6))
    context = browser.new_context(
        base_url=live_server.url, java_script_enabled=False, viewport=PHONE
    )
    page = context.new_page()
    with watched(page, live_server.url):
        page.goto("/")
        yield Maker(page)
    context.close()


def test_a_parcel_of_more_lines_than_the_form_had_is_taken_in(plain):
    plain.go("Stores")
    plain.follow("Take in a parcel")
    before = plain.rows("Item").count()
    write_line(plain, 0, "rape blend", "2 kg", "16")
    plain.press("More lines")
    assert plain.rows("Item").count() > before
    expect(plain.rows("How much").nth(0)).to_have_value("2 kg")
    write_line(plain, before, "cedar", "250", "21")
    plain.write("Freight and duty", "3.70")
    plain.press("Work it out")
    # By value: 16 / 37 and 21 / 37 of 3.70.
    plain.reads("rape blend", "$1.60", within=plain.sheet("What the freight does"))
    plain.reads("cedar", "$2.10", within=plain.sheet("What the freight does"))
    plain.press("Take it in")
    plain.reads("rape blend", "$17.60")
    plain.reads("cedar", "$23.10")
    plain.reads("In all", "$40.70")


def write_line(maker, place, item, how_much, price):
    maker.rows("Item").nth(place).select_option(label=item)
    maker.rows("How much").nth(place).fill(how_much)
    maker.rows("Price of the line").nth(place).fill(price)


def test_a_pour_is_weighed_and_planned(plain):
    plain.go("Pours")
    plain.follow("go on")
    plain.write("Temperature", "20")
    plain.press("Done now")
    plain.press("All laid out")
    plain.is_at("rape blend")
    # Six of 180 g are 1 080 g; with 1.5 % of the mix lost 1 080 / 0.985 = 1 096.45 g of mix, and
    # at 6 % of the wax 1 096.45 / 1.06 = 1 034.4 g of it.
    plain.sees("1,034.4 g")
    plain.write("Weighed", "1034")
    plain.press("Weighed")
    plain.is_at("Melt the wax")
    plain.follow("← Back")
    plain.sees("within tolerance")
    expect(plain.page.get_by_label("Weighed")).to_have_value(re.compile(r"1,034\.0\sg"))

    plain.go("Pours")
    plain.follow("Plan a pour")
    plain.rows("Design").nth(0).select_option(label="Fig (beaker)")
    plain.rows("How many").nth(0).fill("6")
    plain.press("See what it takes")
    plain.sees("all in store")
    plain.reads("rape blend", "1,034.4 g")
    plain.press("Plan this pour")
    plain.told("is planned")
