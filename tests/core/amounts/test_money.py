"""Money in hundredths of the minor unit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.amounts import (
    Unreadable,
    minor_digits,
    parse_count,
    parse_density,
    parse_mass,
    parse_money,
    parse_percent,
    show_money,
)


@pytest.mark.parametrize(
    ("text", "minor100"),
    [
        ("4.3125", 43125),
        ("4", 40000),
        ("$4.25", 42500),
        ("4.25 USD", 42500),
        ("usd 4.25", 42500),
        ("€ 4,25", 42500),
        ("4,25 €", 42500),
        ("$1,250.00", 12500000),
        (".5", 5000),
        ("1/4", 2500),
    ],
)
def test_a_price_is_read_to_a_hundredth_of_a_cent(text, minor100):
    assert parse_money(text) == minor100


def test_a_currency_without_minor_unit_still_has_its_hundredths():
    assert parse_money("1250", minor_digits=0) == 125000
    assert parse_money("¥12,500", minor_digits=0) == 1250000
    assert parse_money("1.25", minor_digits=0) == 125
    assert parse_money("1.23456", minor_digits=3) == 123456


def test_more_decimals_than_are_kept_are_refused_and_not_rounded():
    with pytest.raises(Unreadable, match="more than 4 decimals"):
        parse_money("4.31255")
    with pytest.raises(Unreadable, match="more than 4 decimals"):
        parse_money("1/3")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "$",
        "free",
        "1,250",
        "-5",
        "--5",
        "$$5",
        "$5$",
        "5 USD EUR",
        "1e3",
        "inf",
        "nan",
        "9" * 30,
    ],
)
def test_what_is_no_money_is_refused_with_an_example(text):
    with pytest.raises(Unreadable, match=r"Unit price .*write for example"):
        parse_money(text, field="Unit price")


@given(st.text(max_size=100))
def test_any_text_is_either_money_or_refused_in_one_line(text):
    try:
        assert isinstance(parse_money(text), int)
    except Unreadable as refusal:
        assert str(refusal).isprintable()  # noqa: PT017  # either outcome is right


@pytest.mark.parametrize(
    "text", ["1" + " " * 10**6 + "1", "$" * 10**6, "g/ml" * 10**6, "1 " * 10**6]
)
def test_a_very_long_text_is_refused_at_once(text):
    for parse in (parse_money, parse_mass, parse_density, parse_percent, parse_count):
        with pytest.raises(Unreadable, match=r"too long|is not"):
            parse(text)


def test_money_below_zero_needs_leave():
    assert parse_money("-$5", allow_negative=True) == -50000
    assert parse_money("$-5", allow_negative=True) == -50000


def test_another_currency_is_refused_where_the_workshops_own_is_known():
    assert parse_money("$5", currency="USD") == parse_money("5 usd", currency="USD")
    assert parse_money("$5", currency="CAD") == parse_money("CA$5", currency="CAD")
    with pytest.raises(Unreadable, match="not in GBP"):
        parse_money("€5", currency="GBP")


def test_money_is_shown_with_its_sign_and_its_own_decimals():
    assert show_money(12345678) == "$1,234.57"
    assert show_money(12345678, places=4) == "$1,234.5678"
    assert show_money(-42500, currency="EUR") == "−€4.25"
    assert show_money(1250000, currency="JPY") == "¥12,500"
    assert show_money(123450, currency="KWD") == "KWD\u00a01.235"
    assert show_money(0) == "$0.00"


@given(
    st.integers(-(10**11), 10**11),
    st.sampled_from(["USD", "EUR", "GBP", "JPY", "KWD", "SEK", "CAD"]),
)
def test_money_shown_in_full_reads_back_the_same(minor100, currency):
    digits = minor_digits(currency)
    shown = show_money(minor100, currency=currency, places=digits + 2)
    back = parse_money(shown, minor_digits=digits, currency=currency, allow_negative=True)
    assert back == minor100
