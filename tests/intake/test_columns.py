"""Cells are read as the maker wrote them, and what is written out reads back the same."""

import contextlib
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.errors import BadInput
from pourwright.intake import columns
from pourwright.intake.columns import Context, read_day
from pourwright.intake.kinds import KINDS
from pourwright.intake.writing import csv_text, guarded, unguarded

USD = Context(currency="USD")
YEN = Context(currency="JPY")
DINAR = Context(currency="KWD")

decimals = st.decimals(0, 99, places=3, allow_nan=False, allow_infinity=False)
ways = {
    "mass": (columns.mass("mass", "", ""), st.integers(0, 10**9)),
    "percent": (columns.percent("load", "", ""), decimals),
    "density": (
        columns.density("density", "", ""),
        st.decimals("0.0001", 9, places=4, allow_nan=False),
    ),
    "length": (columns.length("depth", "", ""), st.decimals(0, 999, places=2, allow_nan=False)),
    "volume": (columns.volume("brim", "", ""), st.decimals(0, 9999, places=3, allow_nan=False)),
    "temperature": (
        columns.temperature("melt to", "", ""),
        st.decimals(-200, 400, places=1, allow_nan=False),
    ),
    "whole": (columns.whole("days", "", ""), st.integers(0, 30_000)),
    "day": (columns.day("on", "", ""), st.dates(date(1980, 1, 1), date(2199, 12, 31))),
    "yes or no": (columns.yes_or_no("retired", ""), st.booleans()),
    "one of": (
        columns.one_of("kind", "", "", {"fragrance oil": "oil", "wax": "wax"}),
        st.sampled_from(["oil", "wax"]),
    ),
    "marks": (
        columns.marks("marks", "", ""),
        st.lists(
            st.tuples(
                st.decimals(1, 300, places=2, allow_nan=False),
                st.decimals(1, 900, places=3, allow_nan=False),
            ),
            min_size=1,
            max_size=5,
        ).map(lambda pairs: [[f"{h:.2f}", f"{v:.3f}"] for h, v in pairs]),
    ),
}


@pytest.mark.parametrize("way", ways)
@given(data=st.data())
def test_what_is_written_is_read_back_the_same(way, data):
    column, values = ways[way]
    value = data.draw(values)
    assert column.read(csv_text(column.write(value, USD)), USD) == value


@given(minor100=st.integers(0, 10**11), context=st.sampled_from([USD, YEN, DINAR]))
def test_money_keeps_every_hundredth_of_the_minor_unit(minor100, context):
    price = columns.money("price", "", "")
    assert price.read(csv_text(price.write(minor100, context)), context) == minor100


@given(quantity=st.integers(0, 10**9), by_mass=st.booleans())
def test_an_amount_is_grams_or_pieces_as_the_item_is_measured(quantity, by_mass):
    amount = columns.amount("amount", "", "")
    read = amount.read(csv_text(amount.write((quantity, by_mass), USD)), USD)
    assert read.of(by_mass=by_mass) == quantity


@given(st.text())
def test_no_text_leaves_as_a_formula_and_all_of_it_comes_back(text):
    out = guarded(text)
    assert not out.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert unguarded(out) == text


def test_a_unit_in_the_cell_counts():
    assert columns.mass("fill", "", "").read("1 lb", USD) == 453_592  # 453.59237 g to the milligram
    assert columns.temperature("pour at", "", "").read("140 F", USD) == 60
    assert columns.length("depth", "", "").read("3 in", USD) == Decimal("76.20")


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-03-02", date(2026, 3, 2)),
        ("2026/3/2", date(2026, 3, 2)),
        ("31.12.2025", date(2025, 12, 31)),
        ("12/31/2025", date(2025, 12, 31)),
        ("5/5/2026", date(2026, 5, 5)),
        ("2 Mar 2026", date(2026, 3, 2)),
        ("2026-03-02 00:00:00", date(2026, 3, 2)),
    ],
)
def test_a_date_that_can_mean_one_day_is_read(text, day):
    assert read_day(text) == day


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("03/04/2026", "could be 2026-03-04 or 2026-04-03"),
        ("3/4/26", "not a date"),
        ("31/02/2026", "not a day of the calendar"),
        ("2026-13-01", "not a day of the calendar"),
        ("13/13/2026", "not a day of the calendar"),
        ("2 Foo 2026", "not a day of the calendar"),
        ("0226-03-02", "in the year 226"),
        ("soon", "not a date"),
    ],
)
def test_any_other_date_is_refused_and_the_right_way_is_said(text, says):
    with pytest.raises(BadInput, match=says):
        read_day(text)


@given(st.text(max_size=60))
def test_no_cell_raises_anything_but_a_refusal(text):
    for kind in KINDS:
        for column in kind.columns:
            if text:
                with contextlib.suppress(BadInput):
                    value = column.read(text, USD)
                    if isinstance(value, columns.Amount):
                        value.of(by_mass=True)


@pytest.mark.parametrize("bad", ["a\x00b", "bell\x07", "half \ud800", "two\nlines"])
def test_text_that_no_record_can_hold_is_refused(bad):
    with pytest.raises(BadInput):
        columns.text("name", "", "", most=120).read(bad, USD)


def test_every_column_of_every_kind_is_explained_and_its_example_is_read():
    for kind in KINDS:
        names = [column.name for column in kind.columns]
        assert len(set(names)) == len(names)
        for column in kind.columns:
            assert column.meaning, (kind.name, column.name)
            if column.required:
                assert column.example, (kind.name, column.name)
            if column.example:
                column.read(column.example, USD)
