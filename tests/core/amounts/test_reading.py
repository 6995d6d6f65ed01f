"""Reading amounts as makers write them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.amounts import (
    FL_OZ_ML,
    LB_G,
    OZ_G,
    Unreadable,
    parse_count,
    parse_density,
    parse_length,
    parse_mass,
    parse_number,
    parse_percent,
    parse_temperature,
    parse_volume,
)


@pytest.mark.parametrize(
    ("text", "mass_g"),
    [
        ("6 lb 4 oz", 100 * OZ_G),
        ("6lb4oz", 100 * OZ_G),
        ("6 LBS. 4 Oz.", 100 * OZ_G),
        ("6 pounds, 4 ounces", 100 * OZ_G),
        ("6 lb and 4 oz", 100 * OZ_G),
        ("6\u00a0lb 4\u202foz", 100 * OZ_G),
        ("2.5 kg", Fraction(2500)),
        ("2.5kilos", Fraction(2500)),
        ("1 kg 250 g", Fraction(1250)),
        ("250 mg", Fraction(1, 4)),
        ("1/2 oz", OZ_G / 2),
        ("½ oz", OZ_G / 2),
        ("10½ oz", OZ_G * Fraction(21, 2)),
        ("10 ½ oz", OZ_G * Fraction(21, 2)),
        ("1 1/2 lb", LB_G * Fraction(3, 2)),
        ("1-1/2 lb", LB_G * Fraction(3, 2)),
        ("1 lb .5 oz", OZ_G * Fraction(33, 2)),
        ("  7 ", Fraction(7)),
        ("5.", Fraction(5)),
        ("+5 g", Fraction(5)),
        ("0", Fraction(0)),
        ("-0 g", Fraction(0)),
    ],
)
def test_a_mass_is_read_exactly(text, mass_g):
    assert parse_mass(text) == mass_g


def test_a_bare_number_takes_the_unit_of_its_field():
    assert parse_mass("3", bare="kg") == 3000
    assert parse_mass("3", bare="oz") == 3 * OZ_G
    assert parse_volume("3", bare="fl oz") == 3 * FL_OZ_ML
    assert parse_length("3", bare="in") == Fraction("76.2")
    assert parse_temperature("212", bare="F") == 100


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1,891.7", "1891.7"),
        ("12,345,678", "12345678"),
        ("1.891,7", "1891.7"),
        ("1.234.567", "1234567"),
        ("8,5", "8.5"),
        ("0,125", "0.125"),
        ("1234,567", "1234.567"),
        ("1.234", "1.234"),
    ],
)
def test_a_comma_is_read_where_only_one_meaning_is_possible(text, value):
    assert parse_number(text) == Fraction(value)


def test_a_comma_with_two_meanings_is_refused_and_both_are_named():
    with pytest.raises(Unreadable, match=r'"1,250 g" could be 1250 or 1\.250'):
        parse_mass("1,250 g")


@pytest.mark.parametrize(
    "text",
    [
        "", "   ", "heavy", "g", "1e3 g", "1e400", "inf", "nan", "-inf", "0x10", "1_000", "10**400",
        "9" * 30, "9" * 10, "1" * 200, "1/0", "1 3/2 oz", "6.5 lb 4 oz", "4 oz 6 lb", "1 lb 2 lb",
        "6 4", "6 lb 4", "6 lb.4 oz", "1 891.7 g", "--5", "5-", "3 stone", "5 g g", "1.2.3",
        "1,2,3", "1,,2", ",5", "10² g", "𝟓 g", "5\x00g", "½½", "1/2/3", "5 g; drop", "٥ g",
    ],
)  # fmt: skip
def test_what_is_no_mass_is_refused_with_an_example(text):
    with pytest.raises(Unreadable) as refusal:
        parse_mass(text, field="Fill")
    message = str(refusal.value)
    assert message.startswith("Fill ")
    assert "write for example" in message
    assert "\n" not in message
    assert len(message) < 200


def test_a_mass_below_zero_needs_leave():
    with pytest.raises(Unreadable, match="below zero"):
        parse_mass("-3 g")
    assert parse_mass("-3 g", allow_negative=True) == -3
    assert parse_mass("−1 lb 2 oz", allow_negative=True) == -18 * OZ_G


@pytest.mark.parametrize(
    ("text", "volume_ml"),
    [
        ("473 ml", Fraction(473)),
        ("1.5 L", Fraction(1500)),
        ("25 cl", Fraction(250)),
        ("250 cm³", Fraction(250)),
        ("250 cm3", Fraction(250)),
        ("16 fl oz", 16 * FL_OZ_ML),
        ("16 fl. oz.", 16 * FL_OZ_ML),
        ("16 FLOZ", 16 * FL_OZ_ML),
        ("16 fluid ounces", 16 * FL_OZ_ML),
        ("2 cups", 16 * FL_OZ_ML),
        ("1 pint", 16 * FL_OZ_ML),
        ("1 qt", 32 * FL_OZ_ML),
        ("1 gal", 128 * FL_OZ_ML),
        ("1 gal 2 qt", 192 * FL_OZ_ML),
        ("6 tsp", FL_OZ_ML),
    ],
)
def test_a_volume_is_read_exactly(text, volume_ml):
    assert parse_volume(text) == volume_ml


def test_a_plain_ounce_is_no_volume_and_the_answer_says_which_to_write():
    with pytest.raises(Unreadable, match="fl oz"):
        parse_volume("16 oz")


def test_a_unit_of_another_kind_is_named_as_that():
    with pytest.raises(Unreadable, match='"fl oz", which is a volume, where a mass is wanted'):
        parse_mass("8 fl oz")
    with pytest.raises(Unreadable, match='"g", which is a mass, where a length is wanted'):
        parse_length("8 g")


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [
        ("80", "80"),
        ("8 cm", "80"),
        ("3.5 in", "88.9"),
        ('3 1/2"', "88.9"),
        ("3½”", "88.9"),
        ("3-1/2 inches", "88.9"),
        ("1' 2\"", "355.6"),
    ],
)
def test_a_length_is_read_exactly(text, length_mm):
    assert parse_length(text) == Fraction(length_mm)


@pytest.mark.parametrize(
    ("text", "temp_c"),
    [
        ("185 F", "85"),
        ("185 °F", "85"),
        ("185°f", "85"),
        ("185℉", "85"),
        ("185 degrees F", "85"),
        ("85 C", "85"),
        ("85", "85"),
        ("85°", "85"),
        ("82,5 °C", "82.5"),
        ("-40 F", "-40"),
        ("273.15 K", "0"),
        ("-273.15", "-273.15"),
    ],
)
def test_a_temperature_is_read_exactly(text, temp_c):
    assert parse_temperature(text) == Fraction(temp_c)


@pytest.mark.parametrize(
    "text", ["-273.16", "-460 F", "-1 K", "5 oz", "20 C 5 C", "hot", "", "9" * 20]
)
def test_what_is_no_temperature_is_refused(text):
    with pytest.raises(Unreadable, match="Temperature"):
        parse_temperature(text)


@pytest.mark.parametrize(
    ("text", "pct"),
    [("8.5", "8.5"), ("8.5 %", "8.5"), ("8,5%", "8.5"), ("8 ½ %", "8.5"), ("8.5 percent", "8.5")],
)
def test_a_percentage_is_read(text, pct):
    assert parse_percent(text) == Fraction(pct)


@pytest.mark.parametrize("text", ["%", "5 % %", "-1 %", "5 g", "", "5 6"])
def test_what_is_no_percentage_is_refused(text):
    with pytest.raises(Unreadable, match="Percent"):
        parse_percent(text)


def test_a_count_is_a_whole_number():
    assert parse_count("24") == 24
    assert parse_count("1,200") == 1200
    assert parse_count("24 pcs") == 24
    for text in ("2.5", "-1", "1/2", "dozen", ""):
        with pytest.raises(Unreadable):
            parse_count(text)
    with pytest.raises(Unreadable, match="less than 1"):
        parse_count("0", least=1)


def test_a_density_is_more_than_nothing_and_less_than_gold_and_its_unit_may_stand_there():
    assert parse_density("0.88") == parse_density("0.88 g/ml") == parse_density(".88 kg/l")
    for text in ("0", "900", "kg/m3", "g/ml", "-1"):
        with pytest.raises(Unreadable, match="Density"):
            parse_density(text)


@given(st.text(max_size=100))
def test_any_text_is_either_an_amount_or_refused_in_one_line(text):
    for parse in (parse_mass, parse_volume, parse_length, parse_temperature, parse_percent,
                  parse_number, parse_count, parse_density):  # fmt: skip
        try:
            assert parse(text) == Fraction(parse(text))
        except Unreadable as refusal:
            assert str(refusal).isprintable()  # noqa: PT017  # either outcome is right


@given(st.text(alphabet="0123456789.,/ -½lbozkg", max_size=24))
def test_any_jumble_of_an_amounts_own_signs_is_read_as_no_more_than_a_workshop_or_refused(text):
    try:
        assert 0 <= parse_mass(text) <= 10**9
    except Unreadable as refusal:
        assert "write for example" in str(refusal)  # noqa: PT017
