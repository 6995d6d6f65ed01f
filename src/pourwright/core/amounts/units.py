"""
The one table of units.

Exact by definition: the pound is 453.59237 g and the inch 25.4 mm (international yard and pound
agreement, 1959); the US gallon is 231 cubic inches, so a US fluid ounce, its 128th part, is
29.5735295625 ml (NIST Handbook 44, Appendix C). From memory; recomputed from the inch in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

System = Literal["metric", "us"]

LB_G = Fraction("453.59237")
OZ_G = LB_G / 16
INCH_MM = Fraction("25.4")
FL_OZ_ML = Fraction("29.5735295625")

ABSOLUTE_ZERO_C = Fraction("-273.15")


@dataclass(frozen=True, slots=True)
class Unit:
    """
    A unit of one kind of amount.

    ``size`` is in the kind's own unit: g, ml or mm. ``names`` are what makers write, in lower case
    and without spaces or dots.
    """

    symbol: str
    size: Fraction
    names: tuple[str, ...]


def _spelled(symbol: str, size: Fraction | int | str, *names: str) -> Unit:
    return Unit(symbol, Fraction(size), (symbol.lower().replace(" ", ""), *names))


MASS = (
    _spelled("mg", "0.001", "milligram", "milligrams"),
    _spelled("g", 1, "gm", "gms", "gram", "grams", "gramme", "grammes"),
    _spelled("kg", 1000, "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramme"),
    _spelled("oz", OZ_G, "ozs", "ounce", "ounces"),
    _spelled("lb", LB_G, "lbs", "pound", "pounds"),
)

VOLUME = (
    _spelled("ml", 1, "mls", "millilitre", "millilitres", "milliliter", "milliliters", "cc"),
    _spelled("cl", 10, "centilitre", "centilitres", "centiliter", "centiliters"),
    _spelled("l", 1000, "litre", "litres", "liter", "liters", "ltr"),
    _spelled("tsp", FL_OZ_ML / 6, "teaspoon", "teaspoons"),
    _spelled("tbsp", FL_OZ_ML / 2, "tablespoon", "tablespoons"),
    _spelled(
        "fl oz", FL_OZ_ML, "flozs", "usfloz", "fluidoz", "fluidounce", "fluidounces", "flounces"
    ),
    _spelled("cup", FL_OZ_ML * 8, "cups"),
    _spelled("pt", FL_OZ_ML * 16, "pts", "pint", "pints"),
    _spelled("qt", FL_OZ_ML * 32, "qts", "quart", "quarts"),
    _spelled("gal", FL_OZ_ML * 128, "gals", "gallon", "gallons"),
)

LENGTH = (
    _spelled("mm", 1, "millimetre", "millimetres", "millimeter", "millimeters"),
    _spelled("cm", 10, "centimetre", "centimetres", "centimeter", "centimeters"),
    _spelled("m", 1000, "metre", "metres", "meter", "meters"),
    _spelled("in", INCH_MM, "ins", "inch", "inches", '"', "''"),
    _spelled("ft", INCH_MM * 12, "foot", "feet", "'"),
)

KINDS = {"mass": MASS, "volume": VOLUME, "length": LENGTH}


def find_unit(name: str, units: tuple[Unit, ...]) -> Unit | None:
    """Return the unit that goes by ``name`` (spaces, dots and capitals do not matter), if any."""
    plain = name.lower().replace(" ", "").replace(".", "")
    return next((unit for unit in units if plain in unit.names), None)


def to_mg(mass_g: Fraction) -> int:
    """
    Return the mass as a record keeps it, in whole milligrams.

    Rule: to the nearest milligram, a half to the even one, so that many roundings do not drift.

    >>> to_mg(Fraction("297.6699928"))
    297670
    """
    return round(mass_g * 1000)


def from_mg(mass_mg: int) -> Fraction:
    """Return a recorded mass in grams, exactly."""
    return Fraction(mass_mg, 1000)


def celsius_from_fahrenheit(temp_f: Fraction) -> Fraction:
    """Return °C for °F, exactly: C = (F - 32) * 5/9."""
    return (temp_f - 32) * Fraction(5, 9)


def fahrenheit_from_celsius(temp_c: Fraction) -> Fraction:
    """Return °F for °C, exactly: F = C * 9/5 + 32."""
    return temp_c * Fraction(9, 5) + 32
