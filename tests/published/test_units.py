"""
Unit definitions and conversions: checks against published definitions and a reference library.

Sources (from memory; read the texts before release):
[IYP]  International yard and pound agreement, 1959: 1 yd = 0.9144 m, 1 lb = 0.45359237 kg, exactly.
[HB44] NIST Handbook 44, Appendix C: gallon = 231 cubic inches = 4 quarts = 8 pints = 128 fluid
       ounces; pound = 16 ounces; 1 fluid ounce = 29.573 53 ml to seven figures.
[SI]   BIPM, The International System of Units, 9th edition, 2.3: t/°C = T/K - 273.15.
[PINT] pint, the Python unit library, computing in Decimal: in floats its ounce is off by 5e-15 g.
"""

from decimal import Decimal, localcontext
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.amounts import (
    FL_OZ_ML,
    INCH_MM,
    LB_G,
    OZ_G,
    parse_length,
    parse_mass,
    parse_temperature,
    parse_volume,
)

REFERENCE = pint.UnitRegistry(non_int_type=Decimal)


def test_pound_and_inch_are_those_of_the_1959_agreement():
    """[IYP]: the yard is 36 inches."""
    assert Fraction("0.45359237") * 1000 == LB_G
    assert Fraction("0.9144") * 1000 == INCH_MM * 36
    assert OZ_G * 16 == LB_G


def test_the_fluid_ounce_is_the_128th_part_of_231_cubic_inches():
    """[HB44]: from the inch, so that a mistyped digit in either shows."""
    cubic_inch_ml = (INCH_MM / 10) ** 3
    assert 231 * cubic_inch_ml == 128 * FL_OZ_ML
    assert round(float(FL_OZ_ML), 5) == 29.57353
    assert parse_volume("1 gal") == parse_volume("4 qt") == parse_volume("8 pt")


@pytest.mark.parametrize(
    ("temperature", "celsius"),
    [
        ("273.15 K", "0"),
        ("212 F", "100"),
        ("32 F", "0"),
        ("-40 F", "-40"),
        ("-459.67 F", "-273.15"),
    ],
)
def test_fixed_points_of_the_scales_agree(temperature, celsius):
    """[SI], and the freezing and boiling points that the Fahrenheit scale is defined by."""
    assert parse_temperature(temperature) == Fraction(celsius)


WRITTEN = st.decimals("0.0001", "9999", allow_nan=False, places=4).map(lambda value: f"{value:f}")


def from_reference(value, unit, into):
    """[PINT]: to 28 digits; its inch is a quotient, the 36th part of a yard, and so is rounded."""
    with localcontext(prec=28):
        return Fraction(REFERENCE.Quantity(Decimal(value), unit).to(into).magnitude)


@given(
    WRITTEN,
    st.sampled_from(
        [("kg", "kilogram"), ("g", "gram"), ("mg", "milligram"), ("oz", "ounce"), ("lb", "pound")]
    ),
)
def test_masses_agree_with_the_reference_library(value, units):
    ours, theirs = units
    expected = from_reference(value, theirs, "gram")
    assert abs(parse_mass(f"{value} {ours}") - expected) <= expected / 10**25


@given(
    WRITTEN,
    st.sampled_from(
        [
            ("ml", "milliliter"),
            ("l", "liter"),
            ("fl oz", "fluid_ounce"),
            ("tsp", "teaspoon"),
            ("tbsp", "tablespoon"),
            ("cup", "cup"),
            ("pint", "pint"),
            ("quart", "quart"),
            ("gal", "gallon"),
        ]
    ),
)
def test_volumes_agree_with_the_reference_library(value, units):
    ours, theirs = units
    expected = from_reference(value, theirs, "milliliter")
    assert abs(parse_volume(f"{value} {ours}") - expected) <= expected / 10**25


@given(
    WRITTEN,
    st.sampled_from([("mm", "millimeter"), ("cm", "centimeter"), ("in", "inch"), ("ft", "foot")]),
)
def test_lengths_agree_with_the_reference_library(value, units):
    ours, theirs = units
    expected = from_reference(value, theirs, "millimeter")
    assert abs(parse_length(f"{value} {ours}") - expected) <= expected / 10**25


@given(st.decimals("-400", "9999", allow_nan=False, places=2).map(lambda value: f"{value:f}"))
def test_temperatures_agree_with_the_reference_library(value):
    expected = from_reference(value, "degF", "degC")
    assert abs(parse_temperature(f"{value} F") - expected) < Fraction(1, 10**20)
