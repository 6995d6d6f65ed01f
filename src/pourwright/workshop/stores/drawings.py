"""A vessel of the stores as the core knows it, and its drawing."""

from __future__ import annotations

from pourwright.core.errors import BadInput
from pourwright.core.vessel.fill import NORMAL_FILL_PCT
from pourwright.core.vessel.vessel import Vessel, vessel_from
from pourwright.papers.candle import CandleDrawing, drawing_of, icon_svg
from pourwright.workshop.stores.models import Item, Shape, VesselFacts


class NotMeasured(BadInput):
    """A vessel of which nothing is measured yet."""


def core_vessel(facts: VesselFacts) -> Vessel:
    """
    Return the vessel that the facts describe; lengths in mm, the brim in ml.

    Raises BadVessel or BadWall, in the maker's words, where the measures do not make a vessel.
    """
    tapered = facts.shape == Shape.TAPERED
    by_water = facts.shape == Shape.WATER
    return vessel_from(
        inside_diameter_mm=_float(facts.inside_mm),
        top_diameter_mm=_float(facts.top_inside_mm) if tapered else None,
        depth_mm=_float(facts.depth_mm),
        brim_ml=_float(facts.brim_ml),
        marks=[(float(height), float(ml)) for height, ml in facts.water_marks] if by_water else (),
        by_water=by_water,
        wall_mm=_float(facts.wall_mm),
        base_mm=_float(facts.base_mm),
    )


def vessel_of(item: Item) -> Vessel:
    """Return an item's vessel; raises NotMeasured where it has no facts."""
    facts = getattr(item, "vessel", None)
    if facts is None:
        raise NotMeasured(f"{item.name} has no measures yet; enter them on its page.")
    return core_vessel(facts)


def vessel_drawing(item: Item) -> CandleDrawing:
    """Return the drawing of the empty vessel; raises as :func:`vessel_of`."""
    return drawing_of(vessel_of(item), name=item.name)


def filled_drawing(vessel: Vessel, *, name: str, fill_ml: float | None = None) -> CandleDrawing:
    """Return the vessel with wax up to ``fill_ml``, or half way through the normal range."""
    if fill_ml is None:
        fill_ml = vessel.brim_ml * sum(NORMAL_FILL_PCT) / 2 / 100
    return drawing_of(vessel, fill_ml=fill_ml, wick_count=0, name=name)


def vessel_icon(item: Item, *, frame_mm: float | None = None) -> str:
    """Return the small drawing for a list, empty where the vessel cannot be drawn."""
    try:
        drawing = vessel_drawing(item)
    except BadInput:
        return ""
    return icon_svg(drawing, prefix=f"vessel-{item.pk}", frame_mm=frame_mm)


def _float(value) -> float | None:
    return None if value is None else float(value)
