"""Showing amounts, and reading back what was shown."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.amounts import (
    LB_G,
    OZ_G,
    from_mg,
    mass_number,
    number,
    parse_length,
    parse_mass,
    parse_number,
    parse_temperature,
    parse_volume,
    show_length,
    show_mass,
    show_percent,
    show_temperature,
    show_volume,
    to_mg,
)


def plain(text):
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("mass_g", "metric", "us"),
    [
        (Fraction("1891.7"), "1,891.7 g", "66.73 oz"),
        (Fraction(500), "500 g", "17.64 oz"),
        (OZ_G * Fraction("8.5"), "241 g", "8.5 oz"),
        (Fraction("0.25"), "0.25 g", "0.009 oz"),
        (LB_G * 20, "9,071.8 g", "20 lb"),
        (Fraction(25000), "25 kg", "55.12 lb"),
        (Fraction(-5), "−5 g", "−0.176 oz"),
        (Fraction(0), "0 g", "0 oz"),
    ],
)
def test_a_mass_is_shown_in_either_system(mass_g, metric, us):
    assert plain(show_mass(mass_g, "metric")) == metric
    assert plain(show_mass(mass_g, "us")) == us


def test_pounds_and_ounces_stand_together_and_ounces_carry_into_pounds():
    assert plain(show_mass(100 * OZ_G, "us", style="compound")) == "6 lb 4 oz"
    assert plain(show_mass(OZ_G * Fraction("31.999"), "us", style="compound")) == "2 lb"
    assert plain(show_mass(15 * OZ_G, "us", style="compound")) == "15 oz"


def test_a_weighed_mass_is_shown_as_the_scale_shows_it():
    assert plain(show_mass(Fraction("60.24"), "metric", division_g=Fraction("0.1"))) == "60.2 g"
    assert plain(show_mass(Fraction("60.24"), "metric", division_g=Fraction("0.5"))) == "60.0 g"
    assert plain(show_mass(Fraction("60.24"), "metric", division_g=Fraction(1))) == "60 g"
    assert plain(show_mass(4 * OZ_G, "us", division_g=OZ_G / 20)) == "4.00 oz"
    weighed = show_mass(37 * OZ_G, "us", division_g=OZ_G / 10, style="compound")
    assert plain(weighed) == "2 lb 5.0 oz"


def test_number_and_unit_are_never_parted_at_the_end_of_a_line():
    assert show_mass(Fraction(12), "metric") == "12\u00a0g"
    assert show_percent(Fraction("7.5")) == "7.5\u00a0%"


def test_volumes_lengths_and_temperatures_are_shown_in_either_system():
    assert plain(show_volume(Fraction("473.176473"), "metric")) == "473.2 ml"
    assert plain(show_volume(Fraction("473.176473"), "us")) == "16 fl oz"
    assert plain(show_length(Fraction("88.9"), "metric")) == "88.9 mm"
    assert plain(show_length(Fraction("88.9"), "us")) == "3.5 in"
    assert plain(show_temperature(Fraction(85), "metric")) == "85 °C"
    assert plain(show_temperature(Fraction(85), "us")) == "185 °F"


def test_a_table_takes_bare_numbers_with_fixed_decimals():
    assert mass_number(Fraction("1234.56")) == "1,234.6"
    assert mass_number(OZ_G * 3, unit="oz", places=2) == "3.00"
    assert number(Fraction(12345), places=0) == "12345"


def test_a_half_is_shown_away_from_zero_and_recorded_to_the_even_milligram():
    assert number(Fraction("2.25"), places=1) == "2.3"
    assert number(Fraction("-2.25"), places=1) == "−2.3"
    assert to_mg(Fraction("0.0005")) == 0
    assert to_mg(Fraction("0.0015")) == 2
    assert from_mg(to_mg(Fraction("12.345"))) == Fraction("12.345")


WRITTEN = st.one_of(
    st.builds(lambda n, d: f"{n}/{d}", st.integers(0, 99), st.integers(1, 64)),
    st.builds(
        lambda w, d, n: f"{w} {n % d}/{d}", st.integers(0, 999), st.integers(1, 64), st.integers(0)
    ),
    st.decimals(0, 9999, allow_nan=False, places=4).map(lambda d: f"{d:f}"),
    st.integers(0, 99999).map(str),
)
SYSTEMS = st.sampled_from(["metric", "us"])


@given(WRITTEN, st.sampled_from(["g", "kg", "oz", "lb", "mg"]), SYSTEMS)
def test_a_mass_printed_in_full_and_read_again_is_the_same_mass(written, unit, system):
    mass_g = parse_mass(f"{written} {unit}")
    assert parse_mass(show_mass(mass_g, system, style="full")) == mass_g


@given(WRITTEN, st.sampled_from(["ml", "l", "fl oz", "cup", "gal"]), SYSTEMS)
def test_a_volume_printed_in_full_and_read_again_is_the_same_volume(written, unit, system):
    volume_ml = parse_volume(f"{written} {unit}")
    assert parse_volume(show_volume(volume_ml, system, style="full")) == volume_ml


@given(WRITTEN, st.sampled_from(["mm", "cm", "in", '"']), SYSTEMS)
def test_a_length_printed_in_full_and_read_again_is_the_same_length(written, unit, system):
    length_mm = parse_length(f"{written} {unit}")
    assert parse_length(show_length(length_mm, system, style="full")) == length_mm


@given(WRITTEN, st.sampled_from(["C", "F", "K"]), SYSTEMS)
def test_a_temperature_printed_in_full_and_read_again_is_the_same(written, unit, system):
    temp_c = parse_temperature(f"{written} {unit}")
    assert parse_temperature(show_temperature(temp_c, system, style="full")) == temp_c


@given(
    st.integers(0, 10**11),
    SYSTEMS,
    st.sampled_from(["plain", "compound"]),
    st.sampled_from([None, "0.01", "0.1", "0.5", "1", "5"]),
)
def test_a_shown_mass_can_be_typed_back_and_is_off_by_less_than_its_rounding(
    mass_mg, system, style, division
):
    mass_g = from_mg(mass_mg)
    division_g = Fraction(division) if division else None
    back_g = parse_mass(show_mass(mass_g, system, division_g=division_g, style=style))
    coarsest_g = max(division_g or 0, Fraction(1, 200) * LB_G, mass_g / 1000)
    assert abs(back_g - mass_g) <= coarsest_g


@given(st.fractions(-(10**6), 10**6), st.integers(0, 4), st.booleans())
def test_a_shown_number_is_the_nearest_and_can_be_typed_back(value, places, strip):
    back = parse_number(number(value, places=places, strip=strip), allow_negative=True)
    assert abs(back - value) <= Fraction(1, 2 * 10**places)
