"""
Reading amounts as makers write them.

Numbers may be decimals (2.5), fractions (1/2, ½) or both (1 1/2, 10½). A full stop is always the
decimal point, except in a number that has a comma after it (1.891,7). A comma is taken as a decimal
comma or as a thousands mark where only one of the two is possible (8,5 and 1,891.7); "1,250" could
mean either, a thousandfold apart, and is refused.
"""

from __future__ import annotations

import re
from fractions import Fraction

from pourwright.core.amounts.units import (
    ABSOLUTE_ZERO_C,
    KINDS,
    LENGTH,
    MASS,
    VOLUME,
    Unit,
    celsius_from_fahrenheit,
    find_unit,
)
from pourwright.core.errors import BadInput

LONGEST_TEXT = 80
LONGEST_NUMBER = 24
# A thousand tonnes, a thousand cubic metres: more than any workshop, small enough for any database.
LARGEST = 10**9


class Unreadable(BadInput):
    """What was written cannot be read as the amount that was asked for."""


_VULGAR = {
    "¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8", "⅜": "3/8",
    "⅝": "5/8", "⅞": "7/8", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5", "⅙": "1/6", "⅚": "5/6",
}  # fmt: skip
_PLAIN = str.maketrans(
    {sign: f" {plain}" for sign, plain in _VULGAR.items()}
    | dict.fromkeys("\u00a0\u2007\u2009\u202f\t", " ")
    | {"⁄": "/", "−": "-", "–": "-", "º": "°", "˚": "°", "℃": "°c", "℉": "°f"}
    | {"″": '"', "”": '"', "“": '"', "′": "'", "’": "'"}
)

# Not "6 lb.4 oz": a number that begins with its point must stand apart, or .4 and 4 are confused.
_NUMBER = (
    r"(?:[0-9]+(?:\ +|-)[0-9]+\ ?/\ ?[0-9]+"
    r"|[0-9]+\ ?/\ ?[0-9]+"
    r"|[0-9][0-9.,]*(?<!,)"
    r"|(?<![^ ])\.[0-9]+)"
)
_UNIT = r"""(?:°\ *)?[a-z"'°]+(?:\.?\ *[a-z]+)*(?:\.(?![0-9]))?"""
_TERM = re.compile(rf"\ *({_NUMBER})\ *({_UNIT})?(?:\ *,(?=\ ))?\ *")


def shorten(text: str) -> str:
    """Return what was given as a message can show it: one line, not too long."""
    shown = "".join(sign if sign.isprintable() else "?" for sign in text[:41])
    return shown if len(shown) <= 40 else f"{shown[:37]}..."


def _unreadable(field: str, text: str, why: str, example: str) -> Unreadable:
    return Unreadable(f'{field} "{shorten(text)}" {why}; write for example {example}.')


def _read_decimal(text: str) -> Fraction | str:
    """Return the number, or in words why it is none."""
    if re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", text):
        whole, tail = text.split(",")
        return f"could be {whole}{tail} or {whole}.{tail}"
    if re.fullmatch(r"[0-9]+\.?|[0-9]*\.[0-9]+", text):
        return Fraction(text.rstrip("."))
    if re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+\.[0-9]+|[1-9][0-9]{0,2}(,[0-9]{3}){2,}", text):
        return Fraction(text.replace(",", ""))
    if re.fullmatch(
        r"[1-9][0-9]{0,2}(\.[0-9]{3})+,[0-9]+|[1-9][0-9]{0,2}(\.[0-9]{3}){2,}|[0-9]+,[0-9]+", text
    ):
        return Fraction(text.replace(".", "").replace(",", "."))
    return "is not a number"


def _read_number(text: str) -> Fraction | str:
    """Return the number, whole, decimal, fraction or mixed, or in words why it is none."""
    if "/" not in text:
        return _read_decimal(text)
    whole, above, below = re.fullmatch(r"(?:([0-9]+)(?: +|-))?([0-9]+) ?/ ?([0-9]+)", text).groups()  # type: ignore[union-attr]  # _NUMBER lets no other form with a stroke through
    if int(below) == 0:
        return "divides by zero"
    part = Fraction(int(above), int(below))
    if whole is not None and part >= 1:
        return "has a fraction of one or more after a whole number"
    return int(whole or 0) + part


def _read_terms(
    text: str, *, field: str, what: str, example: str, allow_negative: bool
) -> tuple[int, list[tuple[Fraction, str | None]]]:
    """Return the sign and the (number, unit as written) terms of ``text``."""
    if not isinstance(text, str) or not text.strip():
        raise Unreadable(f"{field} is empty; write for example {example}.")
    if len(text) > LONGEST_TEXT or re.search(rf"[0-9]{{{LONGEST_NUMBER + 1},}}", text):
        raise _unreadable(field, text, "is too long", example)
    plain = text.lower().translate(_PLAIN).replace("cm3", "cc").replace("cm³", "cc").strip()
    sign = -1 if plain.startswith("-") else 1
    plain = plain.lstrip("+") if sign == 1 else plain[1:]
    plain = plain.strip()
    terms: list[tuple[Fraction, str | None]] = []
    at = 0
    while at < len(plain):
        match = _TERM.match(plain, at)
        if match is None:
            raise _unreadable(field, text, f"is not {what}", example)
        value = _read_number(match[1])
        if isinstance(value, str):
            raise _unreadable(field, text, value, example)
        terms.append((value, match[2].removesuffix(" and") if match[2] else None))
        at = match.end()
    if not terms:
        raise _unreadable(field, text, f"is not {what}", example)
    if sign < 0 and not allow_negative and any(value for value, _ in terms):
        raise _unreadable(field, text, "is below zero", example)
    return sign, terms


def _unknown_unit(written: str, kind: str) -> str:
    if kind == "volume" and find_unit(written, MASS):
        name = written.strip(" .")
        also = ', or "fl oz" for fluid ounces' if name.startswith(("oz", "ou")) else ""
        return f'has "{name}", which is a mass, where a volume is wanted: use ml{also}'
    for other, units in KINDS.items():
        if other != kind and find_unit(written, units):
            return f'has "{written.strip(" .")}", which is a {other}, where a {kind} is wanted'
    return f'has "{written.strip(" .")}", which is no unit of {kind} known here'


def _parse(
    text: str,
    *,
    kind: str,
    units: tuple[Unit, ...],
    bare: str,
    field: str,
    example: str,
    allow_negative: bool,
) -> Fraction:
    """Return the amount in the kind's own unit: the sum of terms, each smaller than the last."""
    sign, terms = _read_terms(
        text, field=field, what=f"a {kind}", example=example, allow_negative=allow_negative
    )
    total = Fraction(0)
    previous: Unit | None = None
    for place, (value, written) in enumerate(terms):
        unit = find_unit(bare if written is None else written, units)
        if unit is None:
            raise _unreadable(field, text, _unknown_unit(written or bare, kind), example)
        if len(terms) > 1:
            if written is None:
                raise _unreadable(field, text, "has a number without a unit", example)
            if previous is not None and unit.size >= previous.size:
                raise _unreadable(field, text, "does not go from large units to small", example)
            if place < len(terms) - 1 and value.denominator != 1:
                raise _unreadable(field, text, "has a fraction before its last unit", example)
        total += value * unit.size
        previous = unit
    if total > LARGEST:
        raise _unreadable(field, text, "is more than any workshop holds", example)
    return sign * total


def parse_mass(
    text: str, *, bare: str = "g", field: str = "Mass", allow_negative: bool = False
) -> Fraction:
    """
    Return a mass in grams, exactly.

    ``bare`` is the unit of a number that has none. Units: mg, g, kg, oz, lb, and compounds from
    large to small. Up to 10^9 g. Raises ``Unreadable``, naming ``field``.

    >>> parse_mass("2 lb 3 oz") / parse_mass("1 oz")
    Fraction(35, 1)
    """
    return _parse(
        text,
        kind="mass",
        units=MASS,
        bare=bare,
        field=field,
        example='"250 g", "2 lb 3 oz" or "4.5 oz"',
        allow_negative=allow_negative,
    )


def parse_volume(
    text: str, *, bare: str = "ml", field: str = "Volume", allow_negative: bool = False
) -> Fraction:
    """
    Return a volume in millilitres, exactly; fl oz, cup, pint, quart and gallon are the US ones.

    A plain "oz" is refused: vessels are sold by the fluid ounce and wax by the ounce of mass.

    >>> parse_volume("1 cup") == parse_volume("8 fl oz")
    True
    """
    return _parse(
        text,
        kind="volume",
        units=VOLUME,
        bare=bare,
        field=field,
        example='"250 ml", "1.5 l" or "9 fl oz"',
        allow_negative=allow_negative,
    )


def parse_length(
    text: str, *, bare: str = "mm", field: str = "Length", allow_negative: bool = False
) -> Fraction:
    """
    Return a length in millimetres, exactly.

    >>> parse_length('2 1/2"')
    Fraction(127, 2)
    """
    return _parse(
        text,
        kind="length",
        units=LENGTH,
        bare=bare,
        field=field,
        example='"80 mm", "7.5 cm" or "3 1/4 in"',
        allow_negative=allow_negative,
    )


_CELSIUS = ("c", "celsius", "centigrade", "degc", "degreec", "degreesc", "degreescelsius")
_FAHRENHEIT = ("f", "fahrenheit", "degf", "degreef", "degreesf", "degreesfahrenheit")
_KELVIN = ("k", "kelvin")


def parse_temperature(text: str, *, bare: str = "C", field: str = "Temperature") -> Fraction:
    """
    Return a temperature in degrees Celsius, exactly. Below absolute zero is refused.

    >>> parse_temperature("140 °F")
    Fraction(60, 1)
    """
    example = '"82 °C" or "180 °F"'
    sign, terms = _read_terms(
        text, field=field, what="a temperature", example=example, allow_negative=True
    )
    if len(terms) != 1:
        raise _unreadable(field, text, "is not a temperature", example)
    value, written = terms[0]
    value *= sign
    unit = (written or "").replace(" ", "").replace(".", "").replace("°", "")
    if unit in ("", "deg", "degree", "degrees"):
        unit = bare.lower()
    if unit in _FAHRENHEIT:
        temp_c = celsius_from_fahrenheit(value)
    elif unit in _KELVIN:
        temp_c = value + ABSOLUTE_ZERO_C
    elif unit in _CELSIUS:
        temp_c = value
    else:
        raise _unreadable(field, text, f'has "{written}", which is no unit of temperature', example)
    if temp_c < ABSOLUTE_ZERO_C:
        raise _unreadable(field, text, "is below absolute zero (-273.15 °C)", example)
    if temp_c > LARGEST:
        raise _unreadable(field, text, "is hotter than anything in a workshop", example)
    return temp_c


def _parse_alone(
    text: str,
    *,
    field: str,
    what: str,
    example: str,
    units: tuple[str, ...] = (),
    allow_negative: bool = False,
) -> Fraction:
    """Return one number that may be followed by one of ``units``, which do not change it."""
    sign, terms = _read_terms(
        text, field=field, what=what, example=example, allow_negative=allow_negative
    )
    value, written = terms[0]
    unit = (written or "").replace(" ", "").replace(".", "")
    if len(terms) != 1 or (unit and unit not in units):
        raise _unreadable(field, text, f"is not {what}", example)
    if value > LARGEST:
        raise _unreadable(field, text, "is too large", example)
    return sign * value


def parse_number(
    text: str, *, field: str = "Number", example: str = '"2.5"', allow_negative: bool = False
) -> Fraction:
    """Return a number without a unit, exactly: 2.5, 1/3, 1 1/2."""
    return _parse_alone(
        text, field=field, what="a number", example=example, allow_negative=allow_negative
    )


def parse_percent(text: str, *, field: str = "Percent", allow_negative: bool = False) -> Fraction:
    """
    Return a percentage as the number before the sign: 7 for "7 %".

    >>> parse_percent("6 ½ %")
    Fraction(13, 2)
    """
    # The sign is cut off first, so that the reader of numbers need not know it.
    bare = text.strip().removesuffix("%") if isinstance(text, str) else text
    if isinstance(text, str) and "%" in text and not bare.strip():
        raise _unreadable(field, text, "is not a percentage", '"7 %" or "7.5"')
    return _parse_alone(
        bare,
        field=field,
        what="a percentage",
        example='"7 %" or "7.5"',
        units=("percent", "pct"),
        allow_negative=allow_negative,
    )


def parse_density(text: str, *, field: str = "Density") -> Fraction:
    """Return a density in g/ml, which is the same number in kg/l and g/cm³; more than zero."""
    example = '"0.88" or "0.88 g/ml"'
    bare = text
    if isinstance(text, str) and len(text) <= LONGEST_TEXT and re.search("[0-9]", text):
        bare = re.sub(r"(?i)\s*(g\s*/\s*(ml|cm3|cm³|cc)|kg\s*/\s*l)\s*$", "", text)
    density = _parse_alone(bare, field=field, what="a density in g/ml", example=example)
    if not 0 < density <= 25:
        raise _unreadable(field, text, "is not a density in g/ml that a workshop meets", example)
    return density


def parse_count(text: str, *, field: str = "Count", least: int = 0) -> int:
    """Return a whole number of pieces, at least ``least``; "1,200" is twelve hundred here."""
    example = f'"{max(least, 12)}"'
    given = text
    if isinstance(text, str) and re.fullmatch(r"\s*[1-9][0-9]{0,2},[0-9]{3}\s*", text):
        given = text.replace(",", "")
    value = _parse_alone(
        given, field=field, what="a whole number", example=example, units=("pcs", "pc", "pieces")
    )
    if value.denominator != 1:
        raise _unreadable(field, text, "is not a whole number", example)
    if value < least:
        raise _unreadable(field, text, f"is less than {least}", example)
    return int(value)
