"""
Showing amounts to people, in either system.

A number is rounded once, to what the eye or the scale can use, a half away from zero. Number and
unit are joined by a no-break space. Thousands are marked by a comma only where a decimal point
follows, so that nothing shown here is ambiguous when it is typed back in.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Literal

from pourwright.core.amounts.units import (
    INCH_MM,
    LENGTH,
    MASS,
    OZ_G,
    VOLUME,
    System,
    Unit,
    fahrenheit_from_celsius,
    find_unit,
)

Style = Literal["plain", "compound", "full"]

NO_BREAK = "\u00a0"
MINUS = "−"


def round_half_up(value: Fraction, places: int) -> int:
    """Return ``value`` in units of its last shown place, a half rounded away from zero."""
    scaled = abs(value) * Fraction(10) ** places
    nearest: int = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
    return -nearest if value < 0 else nearest


def number(value: Fraction | int, *, places: int, strip: bool = False) -> str:
    """
    Return a number with ``places`` decimals; ``strip`` drops closing zeros of a number below 1000.

    >>> number(Fraction("1234.56"), places=1)
    '1,234.6'
    """
    units = round_half_up(Fraction(value), places)
    whole, tail = divmod(abs(units), 10**places)
    sign = MINUS if units < 0 else ""
    if places == 0:
        return f"{sign}{whole}"
    text = f"{whole:,}.{tail:0{places}}"
    if strip and whole < 1000:
        text = text.rstrip("0").rstrip(".")
    return sign + text


def mass_number(mass_g: Fraction, unit: str = "g", places: int = 1) -> str:
    """Return a mass as a bare number in ``unit``, for tables that carry the unit in the head."""
    return number(mass_g / _unit(unit, MASS).size, places=places)


def show_mass(
    mass_g: Fraction,
    system: System,
    *,
    division_g: Fraction | None = None,
    style: Style = "plain",
) -> str:
    """
    Return a mass in words for people.

    ``plain``: g up to 10 kg, then kg; oz up to 10 lb, then lb. ``compound``: pounds and ounces
    from 1 lb. ``full``: exact, in g or oz. ``division_g`` is a scale's division: the mass is then
    rounded to it and shown with its decimals, as the scale shows them.

    >>> show_mass(Fraction(1250), "metric").replace(NO_BREAK, " ")
    '1,250.0 g'
    """
    if style == "full":
        return _full(mass_g, _unit("g" if system == "metric" else "oz", MASS))
    if division_g is not None:
        mass_g = round_half_up(mass_g / division_g, 0) * division_g
    small, large = _pair(system, ("g", "kg"), ("oz", "lb"), MASS)
    if style == "compound" and system == "us" and abs(mass_g) >= large.size:
        return _pounds_and_ounces(mass_g, division_g)
    top = 10 * large.size
    unit = small if abs(mass_g) < top else large
    if division_g is not None:
        places = _places_of(division_g / unit.size)
        if places is not None:
            return _joined(number(mass_g / unit.size, places=places), unit.symbol)
    finest = 3 if unit is small else 2
    return _sized(mass_g, unit, finest)


def show_volume(volume_ml: Fraction, system: System, *, style: Style = "plain") -> str:
    """Return a volume: ml up to 10 l, then l; fl oz up to 2 gal, then gal. ``full`` is exact."""
    if style == "full":
        return _full(volume_ml, _unit("ml" if system == "metric" else "fl oz", VOLUME))
    small, large = _pair(system, ("ml", "l"), ("fl oz", "gal"), VOLUME)
    top = (10 if system == "metric" else 2) * large.size
    if abs(volume_ml) < top:
        return _sized(volume_ml, small, 2)
    return _sized(volume_ml, large, 2)


def show_length(length_mm: Fraction, system: System, *, style: Style = "plain") -> str:
    """Return a length in mm to 0.1 mm, or in inches to 0.01 in. ``full`` is exact."""
    unit = _unit("mm" if system == "metric" else "in", LENGTH)
    if style == "full":
        return _full(length_mm, unit)
    value = length_mm / unit.size
    return _joined(number(value, places=1 if unit.size != INCH_MM else 2, strip=True), unit.symbol)


def show_temperature(temp_c: Fraction, system: System, *, style: Style = "plain") -> str:
    """Return a temperature in °C or °F, to the whole degree where it is one, else to 0.1."""
    value = temp_c if system == "metric" else fahrenheit_from_celsius(temp_c)
    symbol = "°C" if system == "metric" else "°F"
    if style == "full":
        return _joined(_exactly(value), symbol)
    return _joined(number(value, places=1, strip=True), symbol)


def in_both(show: Callable[[Fraction, System], str], value: Fraction) -> str:
    """
    Return an amount in both systems: for words that are kept, or that anybody may hold.

    >>> in_both(show_length, Fraction(3)).replace(NO_BREAK, " ")
    '3 mm (0.12 in)'
    """
    return f"{show(value, 'metric')} ({show(value, 'us')})"


def show_percent(value: Fraction, *, places: int = 2) -> str:
    """Return a percentage with its sign, without closing zeros."""
    return _joined(number(value, places=places, strip=True), "%")


def _unit(name: str, units: tuple[Unit, ...]) -> Unit:
    unit = find_unit(name, units)
    if unit is None:
        raise ValueError(f"no unit {name!r}")
    return unit


def _pair(
    system: System, metric: tuple[str, str], us: tuple[str, str], units: tuple[Unit, ...]
) -> tuple[Unit, Unit]:
    small, large = metric if system == "metric" else us
    return _unit(small, units), _unit(large, units)


def _joined(shown: str, symbol: str) -> str:
    return f"{shown}{NO_BREAK}{symbol}"


def _sized(amount: Fraction, unit: Unit, finest: int) -> str:
    """Show about four figures: ``finest`` decimals below 1, one fewer from there to 10, and so on.

    A thousandth of an ounce is 0.03 g, so ounces keep all their decimals up to 10.
    """
    value = abs(amount) / unit.size
    if unit.size == OZ_G:
        places = 3 if value < 10 else 2
    else:
        places = finest if value < 1 else max(finest - 1, 2) if value < 10 else 1
    if unit.symbol in ("kg", "lb", "l", "gal"):
        places = 2
    return _joined(number(amount / unit.size, places=places, strip=True), unit.symbol)


def _places_of(division: Fraction) -> int | None:
    """Return how many decimals show a division exactly, or None where more than four would."""
    return next((p for p in range(5) if (division * 10**p).denominator == 1), None)


def _pounds_and_ounces(mass_g: Fraction, division_g: Fraction | None) -> str:
    places = _places_of(division_g / OZ_G) if division_g is not None else 2
    if places is None:
        places = 2
    hundredths = round_half_up(abs(mass_g) / OZ_G, places)
    pounds, rest = divmod(hundredths, 16 * 10**places)
    sign = MINUS if mass_g < 0 else ""
    shown = f"{sign}{_joined(str(pounds), 'lb')}"
    if rest == 0 and division_g is None:
        return shown
    ounces = number(Fraction(rest, 10**places), places=places, strip=division_g is None)
    return f"{shown} {_joined(ounces, 'oz')}"


def _full(amount: Fraction, unit: Unit) -> str:
    return _joined(_exactly(amount / unit.size), unit.symbol)


def _exactly(value: Fraction) -> str:
    """Return a number without loss: a decimal where it ends, a mixed fraction where it does not."""
    sign = "-" if value < 0 else ""
    size = abs(value)
    places = _ending_places(size.denominator)
    if places is None:
        whole, rest = divmod(size.numerator, size.denominator)
        fraction = f"{rest}/{size.denominator}"
        return f"{sign}{whole} {fraction}" if whole else f"{sign}{fraction}"
    digits = f"{size.numerator * 10**places // size.denominator:0{places + 1}}"
    return sign + (f"{digits[:-places]}.{digits[-places:]}" if places else digits)


def _ending_places(denominator: int) -> int | None:
    """Return the decimals of a fraction with this denominator, or None if it never ends."""
    twos = fives = 0
    while denominator % 2 == 0:
        denominator, twos = denominator // 2, twos + 1
    while denominator % 5 == 0:
        denominator, fives = denominator // 5, fives + 1
    return max(twos, fives) if denominator == 1 else None
