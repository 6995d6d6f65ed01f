"""
Panel areas and type heights.

Areas: 16 CFR 500.21(a), read. Heights: 16 CFR 500.21(b)-(c), from memory, high. Figure heights:
Directive 76/211/EEC, Annex I, 3.1, and the French order of 20 October 1978, 2.1, read. The cases
are worked from those rules.
"""

from datetime import date
from fractions import Fraction

import pytest

from pourwright.core.labelling.panel import (
    MM_PER_INCH,
    BadPanel,
    figure_height,
    rectangular_panel,
    round_panel,
    us_bottom_zone,
    us_letter_height,
)

ON = date(2026, 11, 24)


def inches(text: str) -> Fraction:
    return Fraction(text) * MM_PER_INCH


@pytest.mark.parametrize(
    ("height", "diameter", "area_in2", "height_in"),
    [
        (inches("3.5"), inches("3"), "13.195", "1/8"),
        (inches("1.5"), inches("2.5"), "4.712", "1/16"),
        (inches("5"), inches("4"), "25.133", "3/16"),
        (Fraction(90), Fraction(80), "14.024", "1/8"),
        (Fraction(120), Fraction(100), "23.373", "1/8"),
        (Fraction(40), Fraction(62), "4.831", "1/16"),
        (inches("4.5"), inches("3.54"), "20.018", "1/8"),
        (Fraction(75), Fraction(70), "10.226", "1/8"),
    ],
)
def test_a_round_vessel_s_panel_and_letter_height(height, diameter, area_in2, height_in):
    panel = round_panel(height_mm=height, diameter_mm=diameter, on=ON)
    assert round(float(panel.area_in2), 3) == float(area_in2)
    assert us_letter_height(panel, on=ON).words.startswith(f"{height_in} in")


@pytest.mark.parametrize(
    ("height", "width", "height_in"),
    [("3", "3", "1/8"), ("2", "2.5", "1/16"), ("4.25", "6", "3/16"), ("5", "5", "1/8")],
)
def test_a_flat_side_counts_whole_and_each_upper_end_is_included(height, width, height_in):
    panel = rectangular_panel(height_mm=inches(height), width_mm=inches(width))
    assert us_letter_height(panel, on=ON).words.startswith(f"{height_in} in")


def test_moulded_letters_are_a_sixteenth_taller():
    panel = round_panel(height_mm=inches("3.5"), diameter_mm=inches("3"), on=ON)
    assert us_letter_height(panel, on=ON, moulded=True).words.startswith("3/16 in")


def test_area_in_square_centimetres():
    panel = round_panel(height_mm=Fraction(90), diameter_mm=Fraction(80), on=ON)
    assert round(float(panel.area_cm2), 2) == 90.48


def test_only_a_panel_beyond_five_square_inches_has_a_bottom_zone():
    small = round_panel(height_mm=inches("1.5"), diameter_mm=inches("2.5"), on=ON)
    assert us_bottom_zone(small, on=ON).height_mm is None
    larger = rectangular_panel(height_mm=Fraction(100), width_mm=Fraction(80))
    assert us_bottom_zone(larger, on=ON).height_mm == 30


@pytest.mark.parametrize("market", ["eu", "gb"])
@pytest.mark.parametrize(
    ("grams", "mm"), [(50, 2), (51, 3), (200, 3), (201, 4), (1000, 4), (1001, 6)]
)
def test_figure_heights(market, grams, mm):
    """Directive 76/211/EEC, Annex I, 3.1; French order of 20 October 1978, 2.1 (read)."""
    assert figure_height(Fraction(grams), market=market, on=ON).mm == mm


def test_a_panel_without_size_is_refused():
    with pytest.raises(BadPanel, match="width is 0"):
        rectangular_panel(height_mm=Fraction(30), width_mm=Fraction(0))
