"""
The principal display panel, and how tall what stands on it must be.

The panel's area is the container's, not the sticker's: tops, bottoms, flanges, shoulders and necks
are left out. Lengths are millimetres and exact; the circle's number is taken to thirty digits.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

MM_PER_INCH = Fraction(254, 10)
PI = Fraction("3.141592653589793238462643383280")


class BadPanel(BadInput):
    """What was given is no panel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """
    A principal display panel: its shape, its height and how wide the label's side of it is.

    ``area_mm2`` is what the law counts; ``how`` says in words how it was found.
    """

    shape: Literal["round", "rectangle", "other"]
    height_mm: Fraction
    width_mm: Fraction
    area_mm2: Fraction
    how: str

    @property
    def area_in2(self) -> Fraction:
        return self.area_mm2 / MM_PER_INCH**2

    @property
    def area_cm2(self) -> Fraction:
        return self.area_mm2 / 100


def round_panel(
    *,
    height_mm: Fraction,
    diameter_mm: Fraction | None = None,
    top_diameter_mm: Fraction | None = None,
    circumference_mm: Fraction | None = None,
    on: date,
) -> Panel:
    """
    Return the panel of a round vessel: 40 % of the straight side's height times the circumference.

    Give the outside diameter, or a measured circumference. A tapered vessel takes the mean of its
    circumferences (common practice after a state's food guide). Raises ``BadPanel``.
    Source: 16 CFR 500.21(a)(2).
    """
    if circumference_mm is None:
        if diameter_mm is None:
            raise BadPanel("A round panel needs the outside diameter or the circumference.")
        mean = (diameter_mm + (top_diameter_mm or diameter_mm)) / 2
        circumference_mm = PI * mean
    _refuse_nothing(height_mm=height_mm, circumference_mm=circumference_mm)
    share: Fraction = rule("us/panel", on=on)["cylinder_share"]
    return Panel(
        shape="round",
        height_mm=height_mm,
        width_mm=share * circumference_mm,
        area_mm2=share * height_mm * circumference_mm,
        how=f"{_pct(share)} of the side’s height × the circumference",
    )


def rectangular_panel(*, height_mm: Fraction, width_mm: Fraction) -> Panel:
    """
    Return the panel of a box or flat side: the whole of that side.

    Source: 16 CFR 500.21(a)(1). Raises ``BadPanel``.
    """
    _refuse_nothing(height_mm=height_mm, width_mm=width_mm)
    return Panel(
        shape="rectangle",
        height_mm=height_mm,
        width_mm=width_mm,
        area_mm2=height_mm * width_mm,
        how="the whole of that side",
    )


def other_panel(*, surface_mm2: Fraction, height_mm: Fraction, on: date) -> Panel:
    """
    Return the panel of a vessel without a side to name: 40 % of the whole surface.

    ``surface_mm2`` leaves out top, bottom, shoulder and neck. Source: 16 CFR 500.21(a)(3).
    """
    _refuse_nothing(surface_mm2=surface_mm2, height_mm=height_mm)
    share: Fraction = rule("us/panel", on=on)["other_share"]
    area = share * surface_mm2
    return Panel(
        shape="other",
        height_mm=height_mm,
        width_mm=area / height_mm,
        area_mm2=area,
        how=f"{_pct(share)} of the surface",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A least height in millimetres, what it is measured on, and the rule that asks for it."""

    mm: Fraction
    words: str
    rule: Rule


def us_letter_height(panel: Panel, *, on: date, moulded: bool = False) -> Height:
    """
    Return the least height of the net quantity's letters on a US label.

    Measured on capitals, or on the lower-case "o" where any lower case is used. Of the inch and
    the millimetre figure that the rule prints, the larger counts. Source: 16 CFR 500.21(b)-(c),
    from memory.
    """
    found = rule("us/type_height", on=on)
    kind = "moulded" if moulded else "printed"
    for row in found["rows"]:
        if "up_to_in2" not in row or panel.area_in2 <= row["up_to_in2"]:
            inches = row[f"{kind}_in"]
            mm = max(Fraction(row[f"{kind}_mm"]), Fraction(inches) * MM_PER_INCH)
            return Height(mm=mm, words=f"{inches} in ({float(mm):.1f} mm)", rule=found)
    raise AssertionError("the last row of us/type_height has no upper end")


def figure_height(nominal_g: Fraction, *, market: Literal["eu", "gb"], on: date) -> Height:
    """
    Return the least height of the nominal quantity's figures in the EU or Great Britain.

    Figures, not letters; the quantity in grams, above zero. Source: Directive 76/211/EEC,
    Annex I, 3.1.
    """
    if nominal_g <= 0:
        raise BadPanel(f"A nominal quantity is more than 0 g; {float(nominal_g):g} g was given.")
    found = rule(f"{market}/figure_height", on=on)
    for row in found["rows"]:
        if "up_to_g" not in row or nominal_g <= row["up_to_g"]:
            mm = Fraction(row["figures_mm"])
            return Height(mm=mm, words=f"{float(mm):g} mm", rule=found)
    raise AssertionError("the last row of figure_height has no upper end")


@dataclass(frozen=True, slots=True, kw_only=True)
class BottomZone:
    """Where a US net quantity stands: within so much of the panel's foot, or free of that."""

    height_mm: Fraction | None
    rule: Rule


def us_bottom_zone(panel: Panel, *, on: date) -> BottomZone:
    """
    Return how high above the panel's foot the net quantity may reach; None for a small panel.

    Source: 16 CFR 500.6, from memory.
    """
    found = rule("us/panel", on=on)
    if panel.area_in2 <= found["free_of_bottom_rule_up_to_in2"]:
        return BottomZone(height_mm=None, rule=found)
    return BottomZone(height_mm=found["bottom_share"] * panel.height_mm, rule=found)


def _refuse_nothing(**lengths: Fraction) -> None:
    for name, value in lengths.items():
        if value <= 0:
            words = name.removesuffix("_mm2").removesuffix("_mm")
            raise BadPanel(f"The {words} is {float(value):g} mm; it must be more than 0.")


def _pct(share: Fraction) -> str:
    return f"{float(share * 100):g} %"
