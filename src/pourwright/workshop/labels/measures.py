"""
A label's measures: what the maker entered, and where that is empty what the vessel gives.

The vessel's outside is its inside and twice its wall; its side is as high as depth and base
together. All lengths are millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pourwright.core.labelling.panel import Panel, round_panel
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.labels.models import LabelLook

# Proposed where nothing is entered; common practice, no source.
SHARE_OF_SIDE = 0.84
MOST_FOOT_MM = 6.0
BASE_INSET_MM = 8.0
LID_INSET_MM = 4.0
# A straight strip on a vessel that narrows more than this lies visibly askew.
ASKEW_MM = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """The vessel's outside as its measures give it; None where they do not."""

    foot_mm: float | None = None
    rim_mm: float | None = None
    side_mm: float | None = None

    @property
    def mean_mm(self) -> float | None:
        if self.foot_mm is None or self.rim_mm is None:
            return None
        return (self.foot_mm + self.rim_mm) / 2

    @property
    def narrows(self) -> bool:
        if self.foot_mm is None or self.rim_mm is None:
            return False
        return abs(self.rim_mm - self.foot_mm) > ASKEW_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What a label is composed by. ``proposed`` names those that nobody entered."""

    outside_mm: float | None
    side_mm: float | None
    height_mm: float | None
    foot_mm: float
    base_mm: float | None
    lid_mm: float | None
    fold_width_mm: float | None
    narrows: bool
    proposed: frozenset[str]

    def panel(self, on: date) -> Panel | None:
        """Return the principal panel on the vessel; None where its outside is not known."""
        if self.outside_mm is None or self.side_mm is None:
            return None
        return round_panel(
            height_mm=_exact(self.side_mm), diameter_mm=_exact(self.outside_mm), on=on
        )


def _exact(mm: float) -> Fraction:
    return Fraction(round(mm * 100), 100)


def outside_of(version: DesignVersion) -> Vessel:
    """Return a vessel's outside from its inside, wall and base."""
    facts = facts_of(version.vessel, "vessel")
    if facts is None:
        return Vessel()
    side = float(facts.depth_mm + facts.base_mm) if facts.depth_mm else None
    if facts.inside_mm is None:
        return Vessel(side_mm=side)
    wall = 2 * float(facts.wall_mm)
    foot = float(facts.inside_mm) + wall
    rim = float(facts.top_inside_mm) + wall if facts.top_inside_mm else foot
    return Vessel(foot_mm=foot, rim_mm=rim, side_mm=side)


PROPOSED = ("outside_mm", "side_mm", "height_mm", "foot_mm", "base_mm", "lid_mm", "fold_width_mm")


def measures_of(look: LabelLook, version: DesignVersion) -> Measures:
    """Return a label's measures, the empty ones proposed."""
    vessel = outside_of(version)
    outside = _given(look.outside_mm, vessel.mean_mm)
    side = _given(look.side_mm, vessel.side_mm)
    height = _given(look.height_mm, None if side is None else round(side * SHARE_OF_SIDE))
    foot = min(MOST_FOOT_MM, (side - height) / 2) if side is not None and height else 0.0
    narrowest = vessel.foot_mm or outside
    if look.outside_mm is not None:
        narrowest = outside
    return Measures(
        outside_mm=outside,
        side_mm=side,
        height_mm=height,
        foot_mm=_given(look.foot_mm, max(foot, 0.0)) or 0.0,
        base_mm=_given(look.base_mm, _inset(narrowest, BASE_INSET_MM)),
        lid_mm=_given(look.lid_mm, _inset(outside, LID_INSET_MM)),
        fold_width_mm=_given(look.fold_width_mm, None if outside is None else round(outside)),
        narrows=vessel.narrows and look.outside_mm is None,
        proposed=frozenset(name for name in PROPOSED if getattr(look, name) is None),
    )


def _given(entered, proposed: float | None) -> float | None:
    return proposed if entered is None else float(entered)


def _inset(diameter: float | None, by: float) -> float | None:
    return None if diameter is None else max(float(round(diameter - by)), 10.0)
