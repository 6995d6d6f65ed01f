"""
Money: whole hundredths of a currency's minor unit, so that a gram's share of a price stays exact.

A US dollar is 100 cents and so 10,000 of these; a yen, which has no minor unit, is 100.
Minor digits are those of ISO 4217 (from memory).
"""

from __future__ import annotations

import re
from fractions import Fraction

from pourwright.core.amounts.reading import LONGEST_TEXT, Unreadable, parse_number, shorten
from pourwright.core.amounts.showing import NO_BREAK, number

_SYMBOLS = {
    "USD": "$", "EUR": "€", "GBP": "£", "JPY": "¥", "CAD": "CA$", "AUD": "A$", "NZD": "NZ$",
    "INR": "₹", "KRW": "₩", "ILS": "₪", "UAH": "₴", "PHP": "₱",
}  # fmt: skip
_MINOR_DIGITS = dict.fromkeys(
    ("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV",
     "XAF", "XOF", "XPF"), 0
) | dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3)  # fmt: skip

_SIGN = r"[A-Z]{0,3}[$€£¥₹₩₪₴₱]|[A-Z]{3}"
_MONEY = re.compile(rf"([-−+]?)\s*({_SIGN})?\s*([-−+]?)\s*([^A-Z$€£¥₹₩₪₴₱]*?)\s*({_SIGN})?")


def minor_digits(currency: str) -> int:
    """Return how many decimals a currency's minor unit has: 2 for most, 0 for JPY, 3 for KWD."""
    return _MINOR_DIGITS.get(currency.upper(), 2)


def parse_money(
    text: str,
    *,
    minor_digits: int = 2,
    currency: str | None = None,
    field: str = "Price",
    allow_negative: bool = False,
) -> int:
    """
    Return money in hundredths of the minor unit; more decimals than that are refused.

    A symbol or code may stand before or after the number; with ``currency`` given, another
    currency's is refused.

    >>> parse_money("$3.125")
    31250
    """
    most = minor_digits + 2
    example = '"1250" or "1250.5"' if minor_digits == 0 else '"4.25"'
    if not isinstance(text, str) or not text.strip():
        raise Unreadable(f"{field} is empty; write for example {example}.")
    if len(text) > LONGEST_TEXT:
        raise Unreadable(f'{field} "{shorten(text)}" is too long; write for example {example}.')
    match = _MONEY.fullmatch(text.strip().replace(NO_BREAK, " ").upper())
    if match is None or not match[4] or (match[1] and match[3]) or (match[2] and match[5]):
        raise Unreadable(
            f'{field} "{shorten(text)}" is not an amount of money; write for example {example}.'
        )
    sign, given, digits = match[1] or match[3], match[2] or match[5], match[4]
    _check_currency(given, currency, field=field, text=text)
    if minor_digits == 0 and re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+", digits):
        digits = digits.replace(",", "")  # three decimals of a yen are impossible
    value = parse_number(
        f"{sign}{digits}", field=field, example=example, allow_negative=allow_negative
    )
    hundredths = value * 10**most
    if hundredths.denominator != 1:
        raise Unreadable(
            f'{field} "{shorten(text)}" has more than {most} decimals; write for example {example}.'
        )
    return int(hundredths)


def _check_currency(given: str | None, currency: str | None, *, field: str, text: str) -> None:
    if given is None or currency is None:
        return
    code = currency.upper()
    if given not in (code, _SYMBOLS.get(code)) and not (given == "$" and code.endswith("D")):
        raise Unreadable(f'{field} "{shorten(text)}" is not in {code}; write the amount in {code}.')


def show_money(minor100: int, *, currency: str = "USD", places: int | None = None) -> str:
    """
    Return money with its sign or code, to the minor unit or to ``places`` decimals.

    >>> show_money(31250, places=4)
    '$3.1250'
    """
    code = currency.upper()
    digits = minor_digits(code)
    shown = number(
        Fraction(minor100, 10 ** (digits + 2)), places=digits if places is None else places
    )
    if digits == 0 and places is None:
        shown = _grouped(shown)
    sign, size = ("−", shown[1:]) if shown.startswith("−") else ("", shown)
    symbol = _SYMBOLS.get(code)
    return f"{sign}{symbol}{size}" if symbol else f"{sign}{code}{NO_BREAK}{size}"


def _grouped(whole: str) -> str:
    sign, size = ("−", whole[1:]) if whole.startswith("−") else ("", whole)
    return f"{sign}{int(size):,}"
