"""
Vessels: checks against worked figures.

- The frustum: volume V = pi h (R^2 + R r + r^2) / 3, the textbook formula of a conical frustum
  [MathWorld-ConicalFrustum]; figures worked by hand from it, to 0.01 %.
- The "16 oz" vessel: US fluid ounce 29.5735295625 ml and avoirdupois ounce 28.349523125 g (NIST
  Handbook 44, Appendix C); that it takes 10 to 11 oz of wax is common practice, no source.
"""

import pytest

from pourwright.core.amounts import FL_OZ_ML, OZ_G
from pourwright.core.vessel.fill import fill_by_volume, fill_by_weight, normal_fill
from pourwright.core.vessel.shapes import Tapered
from pourwright.core.vessel.vessel import vessel_from


def test_frustum_of_inside_radii_35_and_40_height_90():
    vessel = Tapered(base_diameter_mm=70, top_diameter_mm=80, depth_mm=90)
    assert vessel.brim_ml == pytest.approx(398.20, rel=1e-4)
    assert vessel.height_mm(250) == pytest.approx(59.22, rel=1e-4)


def test_vessel_sold_as_16_oz_with_wax_of_0_90():
    vessel = vessel_from(brim_ml=float(16 * FL_OZ_ML))
    full = fill_by_volume(vessel, fill_ml=vessel.brim_ml, density_g_per_ml=0.90)
    assert full.brim_ml == pytest.approx(473.18, rel=1e-3)
    assert full.fill_g == pytest.approx(425.9, rel=1e-3)
    assert full.fill_g / float(OZ_G) == pytest.approx(15.02, rel=1e-3)
    usual = fill_by_weight(vessel, fill_g=float("10.5") * float(OZ_G), density_g_per_ml=0.90)
    assert usual.fill_ml == pytest.approx(330.7, rel=1e-3)
    assert usual.fill_pct_of_brim == pytest.approx(69.9, rel=1e-3)


def test_a_vessel_sold_as_16_oz_takes_10_to_11_oz_at_a_normal_fill():
    """Common practice, no source; to the whole ounce in which it is told."""
    normal = normal_fill(vessel_from(brim_ml=float(16 * FL_OZ_ML)), density_g_per_ml=0.90)
    assert round(normal.low_g / float(OZ_G)) == 10
    assert round(normal.high_g / float(OZ_G)) == 11
