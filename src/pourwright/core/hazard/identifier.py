"""
The unique formula identifier (UFI): the sixteen characters that tie a label to its notification.

A code is made of the maker's VAT number (or, without one, a company key) and a formulation number
that the maker gives out once for each composition. It holds nothing about the composition itself.
Only the shape of a VAT number is looked at; whether the number exists is not known here.

Source: ECHA, developers' manual for the UFI generator; rules/eu/formula_identifier.toml.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, Final, NamedTuple

from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

RULE: Final = "eu/formula_identifier"

_WRITTEN: Final = re.compile(r"[0-9A-Z]{4}-?[0-9A-Z]{4}-?[0-9A-Z]{4}-?[0-9A-Z]{4}")
_LEFT_OUT: Final = "BILOZ"


class BadIdentifier(BadInput):
    """A code that is none, or a number of which none can be made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Identifier:
    """
    A valid code and what it says.

    ``country`` is the VAT number's ("EL" for Greece, "GB" for Northern Ireland too) and empty with
    a ``company_key``. Leading zeros of a VAT number are known only where its country has one
    length.
    """

    code: str
    formulation: int
    country: str = ""
    country_name: str = ""
    vat: str = ""
    company_key: int | None = None


def make(
    *, formulation: int, country: str = "", vat: str = "", company_key: int | None = None
) -> str:
    """
    Return the code as it is printed, such as ``XXXX-XXXX-XXXX-XXXX``.

    Range: ``formulation`` 0 to 268 435 455; ``country`` two letters with ``vat`` (with or without
    the country before it, spaces and points left out), or ``company_key`` 0 to 2 199 023 255 551
    and neither of the two. Raises ``BadIdentifier``, which says what shape is right.
    """
    layout = _layout()
    if not 0 <= formulation <= layout.most_formulation:
        raise BadIdentifier(
            f"The formulation number {formulation} does not fit; "
            f"it is a whole number from 0 to {layout.most_formulation}."
        )
    if company_key is not None:
        if country or vat:
            raise BadIdentifier(
                "A company key stands for a maker without a VAT number; "
                "give the key, or the country and its VAT number, not both."
            )
        return layout.code_of(formulation=formulation, owner=_owner_of_key(layout, company_key))
    if not country or not vat:
        raise BadIdentifier(
            "A code needs a country and its VAT number, or, without a VAT number, a company key."
        )
    home = _home(layout, country)
    return layout.code_of(formulation=formulation, owner=(home, _number_of(home, vat)))


def check(code: str) -> Identifier:
    """
    Return what a code says. Lower case and missing hyphens are read as the code that they mean.

    Raises ``BadIdentifier`` for anything else: any one character changed is found, by the check
    digit (sum of place x value over the sixteen, from 1, is a multiple of 31).
    """
    layout = _layout()
    values = _values(layout, code)
    if sum(place * value for place, value in enumerate(values, start=1)) % len(layout.alphabet):
        raise BadIdentifier(
            f'"{_shown(code)}" is no formula identifier: its check digit does not fit. '
            "Compare it with the code as it was made, character by character."
        )
    payload = 0
    for value in _ordered_back(values[1:], layout.order):
        payload = payload * len(layout.alphabet) + value
    found = _read(layout, payload)
    if found is None:
        raise BadIdentifier(
            f'"{_shown(code)}" has a fitting check digit, but no country or version known here; '
            "compare it with the code as it was made."
        )
    return found


def countries() -> Mapping[str, str]:
    """Return the name of each country that has a code of its own, by its two letters."""
    return {home.country: home.name for home in _layout().homes}


# --- the table -----------------------------------------------------------------------------------


class _Shape(NamedTuple):
    pattern: re.Pattern[str]
    reading: str
    digits: int
    says: str


class _Home(NamedTuple):
    country: str
    name: str
    also: tuple[str, ...]
    group: int
    code: int
    code_bits: int
    shapes: tuple[_Shape, ...]


_Owner = tuple[_Home | None, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """Where everything stands in the payload. The version bit, last, is 0."""

    alphabet: str
    order: tuple[int, ...]
    formulation_bits: int
    group_bits: int
    owner_bits: int
    company_key_group: int
    homes: tuple[_Home, ...]

    @property
    def most_formulation(self) -> int:
        return (1 << self.formulation_bits) - 1

    def code_of(self, *, formulation: int, owner: _Owner) -> str:
        home, number = owner
        group, code, code_bits = self.company_key_group, 0, 0
        if home is not None:
            group, code, code_bits = home.group, home.code, home.code_bits
        payload = formulation << self.group_bits | group
        payload = payload << code_bits | code
        payload = payload << (self.owner_bits - code_bits) | number
        payload <<= 1  # the version bit
        base = len(self.alphabet)
        digits = [0] * len(self.order)
        for place in reversed(range(len(digits))):
            payload, digits[place] = divmod(payload, base)
        body = [digits[place] for place in self.order]
        weighed = sum(weight * value for weight, value in enumerate(body, start=2))
        signs = "".join(self.alphabet[value] for value in (-weighed % base, *body))
        return "-".join(signs[start : start + 4] for start in range(0, len(signs), 4))


@cache
def _layout() -> _Layout:
    # How a code is written is a format, not a duty: the newest version reads them all.
    found = rule(RULE, on=date.max)
    return _Layout(
        alphabet=found["alphabet"],
        order=tuple(found["order"]),
        formulation_bits=found["formulation_bits"],
        group_bits=found["group_bits"],
        owner_bits=found["owner_bits"],
        company_key_group=found["company_key_group"],
        homes=tuple(_home_from(row) for row in found["countries"]),
    )


def source() -> Rule:
    """Return the rule that codes are made by, for its source and status."""
    return rule(RULE, on=date.max)


def _home_from(row: Mapping[str, Any]) -> _Home:
    return _Home(
        country=row["country"],
        name=row["name"],
        also=tuple(row.get("also", ())),
        group=row["group"],
        code=row["code"],
        code_bits=row["code_bits"],
        shapes=tuple(
            _Shape(re.compile(shape["pattern"]), shape["reading"], shape.get("digits", 0),
                   shape["says"])
            for shape in row["shapes"]
        ),
    )  # fmt: skip


# --- into the payload ----------------------------------------------------------------------------


def _owner_of_key(layout: _Layout, key: int) -> _Owner:
    most = 2**layout.owner_bits - 1
    if not 0 <= key <= most:
        raise BadIdentifier(
            f"The company key {key} does not fit; it is a whole number from 0 to {most}."
        )
    return None, key


def _home(layout: _Layout, country: str) -> _Home:
    wanted = country.strip().upper()
    for home in layout.homes:
        if wanted == home.country or wanted in home.also:
            return home
    known = ", ".join(sorted(home.country for home in layout.homes))
    raise BadIdentifier(
        f'"{_shown(country)}" is no country with a code of its own; write one of {known}. '
        "Without a VAT number of one of them, use a company key."
    )


def _number_of(home: _Home, vat: str) -> int:
    bare = re.sub(r"[\s.\-]", "", vat).upper()
    tried = [bare]
    for prefix in (home.country, *home.also):
        if bare.startswith(prefix):
            tried.append(bare.removeprefix(prefix))
    for text in tried:
        for shape in home.shapes:
            if shape.pattern.fullmatch(text):
                return _READINGS[shape.reading].number_of(text)
    right = ", or ".join(shape.says for shape in home.shapes)
    raise BadIdentifier(
        f'"{_shown(vat)}" has not the shape of a VAT number of {home.name}; '
        f"without the {home.country} before it, it is {right}."
    )


# --- out of the payload --------------------------------------------------------------------------


def _values(layout: _Layout, code: str) -> list[int]:
    # Upper-casing alone would turn some other alphabets' letters into ours.
    bare = code.strip().upper() if code.isascii() else ""
    if not _WRITTEN.fullmatch(bare):
        raise BadIdentifier(
            f'"{_shown(code)}" is no formula identifier; it has 16 letters and digits in four '
            "groups of four with a hyphen between, and nothing else."
        )
    signs = bare.replace("-", "")
    for place, sign in enumerate(signs, start=1):
        if sign not in layout.alphabet:
            raise BadIdentifier(
                f'"{_shown(code)}" is no formula identifier: its character {place} is {sign}, and '
                f"{', '.join(_LEFT_OUT[:-1])} and {_LEFT_OUT[-1]} are never used. "
                "Is it one of 8, 1, 0 or 2?"
            )
    return [layout.alphabet.index(sign) for sign in signs]


def _ordered_back(body: Sequence[int], order: Sequence[int]) -> list[int]:
    digits = [0] * len(order)
    for value, place in zip(body, order, strict=True):
        digits[place] = value
    return digits


def _read(layout: _Layout, payload: int) -> Identifier | None:
    """Return what a payload says, or None where it says nothing that this version knows."""
    payload, version = payload >> 1, payload & 1
    rest, owner = payload >> layout.owner_bits, payload & (2**layout.owner_bits - 1)
    formulation, group = rest >> layout.group_bits, rest & (2**layout.group_bits - 1)
    if version or formulation > layout.most_formulation:
        return None
    if group == layout.company_key_group:
        code = layout.code_of(formulation=formulation, owner=(None, owner))
        return Identifier(code=code, formulation=formulation, company_key=owner)
    for home in layout.homes:
        number_bits = layout.owner_bits - home.code_bits
        if (home.group, home.code) != (group, owner >> number_bits):
            continue
        number = owner & (2**number_bits - 1)
        for shape in home.shapes:
            vat = _READINGS[shape.reading].text_of(number, shape.digits)
            # A number above what the shape can hold comes out in another shape, or none.
            if shape.pattern.fullmatch(vat) and _number_of(home, vat) == number:
                return Identifier(
                    code=layout.code_of(formulation=formulation, owner=(home, number)),
                    formulation=formulation,
                    country=home.country,
                    country_name=home.name,
                    vat=vat,
                )
    return None


# --- how each country's number is read -----------------------------------------------------------

_DIGITS: Final = "0123456789"
_LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_BOTH: Final = _DIGITS + _LETTERS
_OLD_IRISH: Final = _LETTERS + "+*"
_GB_DIGITS: Final = 2**40
_NEW_IRISH: Final = 2**33


class _Reading(NamedTuple):
    """A number from a VAT number's text, and back; the text is padded to so many digits."""

    number_of: Callable[[str], int]
    text_of: Callable[[int, int], str]


def _all_digits(text: str) -> int:
    return int("".join(sign for sign in text if sign in _DIGITS))


def _padded(number: int, digits: int) -> str:
    return f"{number:0{digits}}"


def _in_base_36(number: int, digits: int) -> str:
    signs = ""
    while number:
        number, sign = divmod(number, len(_BOTH))
        signs = _BOTH[sign] + signs
    return signs.rjust(digits, "0")


def _pick(signs: str, place: int) -> str:
    """Return the sign at a place, or one that no shape allows."""
    return signs[place] if 0 <= place < len(signs) else "?"


def _french(text: str) -> int:
    return (36 * _BOTH.index(text[0]) + _BOTH.index(text[1])) * 10**9 + int(text[2:])


def _french_text(number: int, _digits: int) -> str:
    key, digits = divmod(number, 10**9)
    first, second = divmod(key, 36)
    return f"{_pick(_BOTH, first)}{_BOTH[second]}{digits:09}"


def _british_letters(text: str) -> int:
    return (26 * _LETTERS.index(text[0]) + _LETTERS.index(text[1])) * 10**3 + int(text[2:])


def _british_letters_text(number: int, _digits: int) -> str:
    key, digits = divmod(number, 10**3)
    first, second = divmod(key, 26)
    return f"{_pick(_LETTERS, first)}{_LETTERS[second]}{digits:03}"


def _cypriot(text: str) -> int:
    return _LETTERS.index(text[-1]) * 10**8 + int(text[:-1])


def _cypriot_text(number: int, _digits: int) -> str:
    letter, digits = divmod(number, 10**8)
    return f"{digits:08}{_pick(_LETTERS, letter)}"


def _spanish(text: str) -> int:
    return (36 * _BOTH.index(text[0]) + _BOTH.index(text[-1])) * 10**7 + int(text[1:-1])


def _spanish_text(number: int, _digits: int) -> str:
    key, digits = divmod(number, 10**7)
    first, last = divmod(key, 36)
    return f"{_pick(_BOTH, first)}{digits:07}{_BOTH[last]}"


def _old_irish(text: str) -> int:
    letters = 26 * _OLD_IRISH.index(text[1]) + _OLD_IRISH.index(text[-1])
    return letters * 10**6 + int(text[0] + text[2:-1])


def _old_irish_text(number: int, _digits: int) -> str:
    letters, digits = divmod(number, 10**6)
    # + and * count as 26 and 27, beyond the 26 letters that the weight is made for.
    second, last = divmod(letters, 26)
    written = f"{digits:06}"
    return f"{written[0]}{_pick(_OLD_IRISH, second)}{written[1:]}{_LETTERS[last]}"


def _new_irish(text: str) -> int:
    second = _LETTERS.index(text[8]) if len(text) > 8 else 0
    return _NEW_IRISH + (26 * second + _LETTERS.index(text[7])) * 10**7 + int(text[:7])


def _new_irish_text(number: int, _digits: int) -> str:
    letters, digits = divmod(max(number - _NEW_IRISH, 0), 10**7)
    second, first = divmod(letters, 26)
    # A second A counts nothing, so that "A" and "AA" share a number; the shorter is told.
    return f"{digits:07}{_LETTERS[first]}{_pick(_LETTERS, second) if second else ''}"


_READINGS: Final[Mapping[str, _Reading]] = {
    "digits": _Reading(_all_digits, _padded),
    "at": _Reading(_all_digits, lambda number, _: f"U{number:08}"),
    "nl": _Reading(_all_digits, lambda number, _: f"{number // 100:09}B{number % 100:02}"),
    "fr": _Reading(_french, _french_text),
    "gb_digits": _Reading(
        lambda text: _GB_DIGITS + int(text),
        lambda number, digits: _padded(max(number - _GB_DIGITS, 0), digits),
    ),
    "gb_letters": _Reading(_british_letters, _british_letters_text),
    "cy": _Reading(_cypriot, _cypriot_text),
    "es": _Reading(_spanish, _spanish_text),
    "ie_old": _Reading(_old_irish, _old_irish_text),
    "ie_new": _Reading(_new_irish, _new_irish_text),
    "is": _Reading(lambda text: int(text, 36), _in_base_36),
}


def _shown(text: str) -> str:
    cleaned = "".join(sign if sign.isprintable() else "?" for sign in text)
    return cleaned if len(cleaned) <= 40 else f"{cleaned[:40]}…"
