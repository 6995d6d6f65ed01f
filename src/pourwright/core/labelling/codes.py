"""
Article numbers and their bar codes: check digits, sizes and quiet zones.

The check digit is python-stdnum's; what a symbol takes of room is GS1's.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from stdnum import ean

from pourwright.core.errors import BadInput

# Modules of an EAN-13 with its quiet zones (11 left, 7 right) and of a UPC-A (9 and 9): 113 both.
# Nominal module 0.330 mm, 80 to 200 % of it; bars 22.85 mm tall, 25.93 mm with the digits.
# Source: GS1 General Specifications; the range and 25.93 from memory, high.
MODULES = 113
QUIET_MODULES = {13: (11, 7), 12: (9, 9)}
NOMINAL_MODULE_MM = Fraction("0.330")
LEAST_MODULE_MM = Fraction("0.264")
MOST_MODULE_MM = Fraction("0.660")
SYMBOL_HEIGHT_MM = Fraction("25.93")
# ISO/IEC 18004, as told in a secondary source: four modules of quiet on every side.
QR_QUIET_MODULES = 4
LENGTHS = (8, 12, 13, 14)


class BadArticleNumber(BadInput):
    """No article number, or one whose check digit is wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ArticleNumber:
    """A GTIN with its check digit; ``digits`` are 8, 12, 13 or 14."""

    digits: str

    @property
    def is_upc(self) -> bool:
        return len(self.digits) == 12

    @property
    def as_ean13(self) -> str:
        """The thirteen digits that a scanner reads: a UPC-A number has a nought in front."""
        return self.digits.zfill(13)

    def __str__(self) -> str:
        return self.digits


def article_number(text: str) -> ArticleNumber:
    """
    Return a GTIN of 8, 12, 13 or 14 digits as it was written, its check digit proved.

    Spaces and hyphens may stand in it. Raises ``BadArticleNumber``, with the right last digit
    where only that is wrong. Source: GS1 General Specifications 7.9.

    >>> article_number("4 006381 333931").digits
    '4006381333931'
    """
    digits = "".join(text.replace("-", "").split())
    if not digits.isascii() or not digits.isdigit() or len(digits) not in LENGTHS:
        raise BadArticleNumber(
            f"“{text}” is no article number: it has 8, 12, 13 or 14 digits, the last one for check."
        )
    right = check_digit(digits[:-1])
    if digits[-1] != right:
        raise BadArticleNumber(
            f"“{text}” ends in {digits[-1]} where {right} would be right: compare it with the "
            "number you were given."
        )
    return ArticleNumber(digits=digits)


def check_digit(digits: str) -> str:
    """Return the last digit that belongs to the digits before it, of any length."""
    return str(ean.calc_check_digit(digits))


@dataclass(frozen=True, slots=True, kw_only=True)
class SymbolSize:
    """What an EAN-13 or UPC-A takes, quiet zones included."""

    module_mm: Fraction
    width_mm: Fraction
    height_mm: Fraction


def bar_code_size(module_mm: Fraction = NOMINAL_MODULE_MM) -> SymbolSize:
    """
    Return a bar code's size for a module of 0.264 to 0.660 mm; it scales as a whole.

    Raises ``BadArticleNumber`` outside that range.
    """
    if not LEAST_MODULE_MM <= module_mm <= MOST_MODULE_MM:
        raise BadArticleNumber(
            f"A bar code’s thinnest bar is {float(module_mm):g} mm; scanners at a till read "
            f"{float(LEAST_MODULE_MM):g} to {float(MOST_MODULE_MM):g} mm."
        )
    return SymbolSize(
        module_mm=module_mm,
        width_mm=MODULES * module_mm,
        height_mm=SYMBOL_HEIGHT_MM * module_mm / NOMINAL_MODULE_MM,
    )
