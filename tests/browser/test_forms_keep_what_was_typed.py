"""A form with a mistake comes back whole: boxes and rows as typed, the mistake beside its box."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from browser.axe import violations
from browser.maker import WIDTHS, Maker
from pour_examples import a_bench
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.orders.models import Order
from pourwright.workshop.stores.models import Receipt


@pytest.fixture(params=WIDTHS)
def maker(request, workshop, site):
    a_bench(workshop)
    site.set_viewport_size(WIDTHS[request.param])
    return Maker(site)


def typed(maker) -> dict[str, list[str]]:
    """Return what stands in every box that can be seen, by its name."""
    return maker.page.locator("#main").evaluate(
        """main => {
          const found = {};
          for (const it of main.querySelectorAll("input, select, textarea")) {
            if (it.type === "hidden") continue;
            const value = it.type === "checkbox" ? String(it.checked) : it.value;
            (found[it.name] ??= []).push(value);
          }
          return found;
        }"""
    )


def comes_back(maker, *, press: str, wrong: dict[str, str], first: str) -> None:
    """Send the form; it returns as it was, each mistake beside its box, the first one in view."""
    before = typed(maker)
    maker.press(press)
    expect(maker.page.get_by_role("alert").first).to_be_visible()
    assert typed(maker) == before
    for name, words in wrong.items():
        box = maker.page.locator(f"[name='{name}']")
        expect(box).to_have_attribute("aria-invalid", "true")
        expect(maker.page.locator(".field", has=box)).to_contain_text(words)
    expect(maker.page.locator(f"[name='{first}']")).to_be_focused()
    expect(maker.page.locator(f"[name='{first}']")).to_be_in_viewport()
    assert violations(maker.page) == []
    maker.no_wider_than_the_screen()


def test_a_parcel(maker):
    maker.go("Stores")
    maker.follow("Take in a parcel")
    for _ in range(2):
        maker.press("More lines")
    lines = (
        ("rape blend", "5 kg", "41.20", "RB-7"),
        ("fig leaf", "a pint or so", "18", "F 12"),
        ("beaker", "24", "forty", ""),
        ("tab", "100", "3", ""),
        ("cedar", "250 g", "9.99", "the blue one"),
    )
    for place, (item, how_much, price, lot) in enumerate(lines):
        maker.rows("Item").nth(place).select_option(label=item)
        maker.rows("How much").nth(place).fill(how_much)
        maker.rows("Price of the line").nth(place).fill(price)
        maker.rows("Supplier’s lot").nth(place).fill(lot)
    maker.write("Invoice or parcel number", "2026/118")
    maker.write("Freight and duty", "12.50")
    maker.choose("Spread the freight", "by weight")
    maker.write("Note", "box dented, <nothing> broken & all there")
    comes_back(
        maker,
        press="Take it in",
        wrong={"lines-1-qty": "a pint or so", "lines-2-price_minor100": "forty"},
        first="lines-1-qty",
    )
    assert not Receipt.objects.exists()
    maker.rows("How much").nth(1).fill("500 g")
    maker.rows("Price of the line").nth(2).fill("40")
    maker.choose("Spread the freight", "by value")  # what a beaker weighs is not known
    maker.press("Take it in")
    maker.is_at("Receipt R-0001")
    maker.reads("fig leaf", "500")
    maker.sees("box dented, <nothing> broken & all there")


def test_a_formula(maker):
    known = Formula.objects.count()
    maker.go("Formulas")
    maker.follow("New formula")
    maker.write("Name", "Both of them")
    maker.write("The scent idea", "figs drying\non a cedar shelf")
    maker.choose("Wax", "rape blend")
    maker.write("Share of the wax", "1")
    for place, (oil, share) in enumerate((("fig leaf", "2"), ("cedar", "a little"))):
        if place == maker.rows("Fragrance oil").count():
            maker.press("Another oil")
        maker.rows("Fragrance oil").nth(place).select_option(label=oil)
        maker.rows("Share of the oils").nth(place).fill(share)
    maker.write("Load, per cent", "6")
    maker.choose("The load is", "of the whole")
    maker.write("Poured at", "warm")
    comes_back(
        maker,
        press="Save",
        wrong={"oils-1-share": "a little", "pour_at_c": "warm"},
        first="oils-1-share",
    )
    assert Formula.objects.count() == known
    maker.rows("Share of the oils").nth(1).fill("1")
    maker.write("Poured at", "140 F")
    maker.press("Save")
    maker.is_at("Both of them")
    maker.sees("60 °C")  # (140 - 32) / 1.8


def test_an_order(maker):
    maker.go("Orders")
    maker.follow("New order")
    maker.write("Customer", "Nobody of that name")
    maker.write("Their reference, or the market", "by telephone")
    for place, (design, number, price) in enumerate((("Fig", "3", "19"), ("Cedar", "0", "1 9"))):
        maker.rows("Design").nth(place).select_option(label=design)
        maker.rows("Number").nth(place).fill(number)
        maker.rows("Price each").nth(place).fill(price)
    comes_back(
        maker,
        press="Take the order",
        wrong={"customer": "No customer is called", "lines-1-qty": "1"},
        first="customer",
    )
    assert not Order.objects.exists()
