"""
A model's lengths and temperatures in words, in both systems.

What it warns of is kept with a forecast, which stays on record when the workshop changes its
units; so it says both, no finer than a model is worth.
"""

from __future__ import annotations

from fractions import Fraction

from pourwright.core.amounts import in_both, show_length, show_temperature


def both_c(temp_c: float) -> str:
    """
    Return a temperature in both systems.

    >>> both_c(63).replace("\u00a0", " ")
    '63 °C (145.4 °F)'
    """
    return in_both(show_temperature, Fraction(str(round(float(temp_c), 1))))


def both_mm(length_mm: float) -> str:
    """
    Return a length in both systems, of the whole millimetre.

    >>> both_mm(19.2).replace("\u00a0", " ")
    '19 mm (0.75 in)'
    """
    return in_both(show_length, Fraction(round(length_mm)))
