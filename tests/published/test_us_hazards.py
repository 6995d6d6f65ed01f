"""
Listed hazards of household products: checks against the Code of Federal Regulations.

16 CFR 1500.13 (b), (d) and (e): powdered orris root and products containing it; products with 1
percent or more of formaldehyde; products with 2 percent or more of oil of bergamot. 16 CFR
1500.14(a)(4) and (5): 4 percent or more of methyl alcohol, 10 percent or more of turpentine, by
weight. Signal words: 15 USC 1261(p)(1)(C) and (D).
"""

from datetime import date
from fractions import Fraction

import pytest

from pourwright.core.hazard.model import Mixture, Presence, Substance
from pourwright.core.hazard.us import assess_us


def candle(*, name, cas, pct):
    substance = Substance(name=name, cas=cas)
    return Mixture(present=(Presence(substance=substance, pct_of_whole=Fraction(pct)),))


@pytest.mark.parametrize(
    ("name", "cas", "below", "at", "signal"),
    [
        ("bergamot oil", "8007-75-8", "1.9999", "2", "Warning"),
        ("formaldehyde", "50-00-0", "0.9999", "1", "Warning"),
        ("turpentine", "8006-64-2", "9.9999", "10", "Danger"),
        ("methanol", "67-56-1", "3.9999", "4", "Danger"),
    ],
)
def test_a_substance_is_listed_from_its_percentage_on(name, cas, below, at, signal):
    on = date(2026, 11, 24)
    assert assess_us(candle(name=name, cas=cas, pct=below), on).signal_word is None
    assert assess_us(candle(name=name, cas=cas, pct=at), on).signal_word == signal


def test_powdered_orris_root_is_listed_in_any_amount():
    found = assess_us(candle(name="orris root, powdered", cas="", pct="0.001"), date(2026, 11, 24))
    assert [row.name for row in found.met] == ["powdered orris root"]


def test_the_label_carries_what_the_act_names():
    found = assess_us(candle(name="bergamot oil", cas="8007-75-8", pct=3), date(2026, 11, 24))
    assert [element.clause[-3:] for element in found.elements[:2]] == ["(D)", "(e)"]
    letters = {e.clause.split("(1)")[1][1] for e in found.elements if "(p)(1)" in e.clause}
    assert letters == set("ABDEFGIJ")
    assert "Keep out of the reach of children." in [element.text for element in found.elements]
