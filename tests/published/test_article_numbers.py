"""Check digits and bar-code sizes: GS1 General Specifications 7.9 and 5.2, read in quotation."""

from fractions import Fraction

import pytest

from pourwright.core.labelling.codes import (
    LEAST_MODULE_MM,
    MOST_MODULE_MM,
    BadArticleNumber,
    article_number,
    bar_code_size,
    check_digit,
)


@pytest.mark.parametrize(
    ("digits", "last"),
    [
        ("629104150021", "3"),  # GS1's own example
        ("61414100003", "6"),
        ("03600029145", "2"),
        ("400638133393", "1"),
        ("978030640615", "7"),
        ("9638507", "4"),
        ("590123412345", "7"),
        ("73102140000", "4"),
        ("1501234567890", "7"),
        ("1061414100041", "5"),
    ],
)
def test_check_digit(digits, last):
    assert check_digit(digits) == last
    if len(digits) + 1 in (8, 12, 13, 14):
        assert article_number(digits + last).digits == digits + last


def test_a_wrong_last_digit_is_refused_with_the_right_one():
    with pytest.raises(BadArticleNumber, match="ends in 9 where 1 would be right"):
        article_number("4006381333939")


@pytest.mark.parametrize("text", ["", "12345", "40063813339x1", "٤٠٠٦٣٨١٣٣٣٩٣١"])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(BadArticleNumber, match="is no article number"):
        article_number(text)


def test_a_upc_reads_as_thirteen_digits():
    assert article_number("036000291452").as_ean13 == "0036000291452"


@pytest.mark.parametrize(
    ("module", "width"),
    [(Fraction("0.330"), "37.29"), (LEAST_MODULE_MM, "29.832"), (MOST_MODULE_MM, "74.58")],
)
def test_width_with_quiet_zones(module, width):
    assert bar_code_size(module).width_mm == Fraction(width)


def test_a_module_too_thin_for_a_till_is_refused():
    with pytest.raises(BadArticleNumber, match=r"0\.2 mm"):
        bar_code_size(Fraction("0.2"))
