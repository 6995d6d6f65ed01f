"""
Amounts as makers write them, exact inside: "6 lb 4 oz", "10½ oz", "473 ml", "185 °F", "$4.25".

Inside, every amount is a ``Fraction`` of one unit: grams, millilitres, millimetres, degrees
Celsius. Money is a whole number of hundredths of the currency's minor unit. Reading never rounds;
showing rounds once, for the eye; ``to_mg`` rounds once, for the record.
"""

from pourwright.core.amounts.money import minor_digits, parse_money, show_money
from pourwright.core.amounts.reading import (
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
from pourwright.core.amounts.showing import (
    in_both,
    mass_number,
    number,
    show_length,
    show_mass,
    show_percent,
    show_temperature,
    show_volume,
)
from pourwright.core.amounts.units import (
    FL_OZ_ML,
    INCH_MM,
    LB_G,
    OZ_G,
    System,
    celsius_from_fahrenheit,
    fahrenheit_from_celsius,
    from_mg,
    to_mg,
)

__all__ = [
    "FL_OZ_ML",
    "INCH_MM",
    "LB_G",
    "OZ_G",
    "System",
    "Unreadable",
    "celsius_from_fahrenheit",
    "fahrenheit_from_celsius",
    "from_mg",
    "in_both",
    "mass_number",
    "minor_digits",
    "number",
    "parse_count",
    "parse_density",
    "parse_length",
    "parse_mass",
    "parse_money",
    "parse_number",
    "parse_percent",
    "parse_temperature",
    "parse_volume",
    "show_length",
    "show_mass",
    "show_money",
    "show_percent",
    "show_temperature",
    "show_volume",
    "to_mg",
]
