"""What a vessel's page tells about its inside: drawing, brim, a normal fill, volumes at heights."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pourwright.core import amounts
from pourwright.core.errors import BadInput
from pourwright.core.vessel.fill import (
    NORMAL_FILL_PCT,
    Fill,
    NormalFill,
    fill_by_height,
    fill_by_volume,
    fill_by_weight,
    normal_fill,
)
from pourwright.core.vessel.vessel import Vessel
from pourwright.papers.candle import above_svg, section_svg, shared_px_per_mm
from pourwright.workshop.stores.drawings import core_vessel, filled_drawing
from pourwright.workshop.stores.models import Item, Shape, VesselFacts

# Waxes for containers lie close to this when set. Common practice, no source.
USUAL_DENSITY_G_PER_ML = 0.90
MOST_ROWS = 11


@dataclass(frozen=True, slots=True)
class Mark:
    """A height and what is below it: ml, and mg of the wax asked about."""

    height_mm: Decimal
    ml: float
    mg: int
    pct_of_brim: Decimal
    normal: bool


@dataclass(frozen=True, slots=True)
class VesselView:
    """All that a page shows of a vessel; ``asked`` is the fill that was asked about, if any."""

    section: str
    above: str
    brim_ml: float
    brim_from: str
    brim_mg: int
    low_mg: int
    high_mg: int
    normal: NormalFill
    density: str
    density_from: str
    marks: list[Mark]
    asked: Fill | None = None
    asked_mg: int | None = None
    refused: str = ""


def view_of(
    facts: VesselFacts,
    *,
    units: str,
    name: str,
    wax: Item | None = None,
    fill_mg: int | None = None,
    height_mm: Decimal | None = None,
    size: float = 230,
) -> VesselView:
    """
    Return a vessel's view, with wax of the usual density or of a wax's own.

    Raises BadInput where the facts make no vessel. A fill that does not fit is told in ``refused``.
    """
    vessel = core_vessel(facts)
    cold, liquid, density_from = _densities(wax)
    asked, refused = None, ""
    try:
        if fill_mg:
            asked = fill_by_weight(
                vessel,
                fill_g=fill_mg / 1000,
                density_g_per_ml=cold,
                liquid_density_g_per_ml=liquid,
            )
        elif height_mm:
            asked = fill_by_height(
                vessel,
                height_mm=float(height_mm),
                density_g_per_ml=cold,
                liquid_density_g_per_ml=liquid,
            )
    except BadInput as problem:
        refused = str(problem)
    normal = normal_fill(vessel, density_g_per_ml=cold)
    drawing = filled_drawing(vessel, name=name, fill_ml=asked.fill_ml if asked else None)
    scale = shared_px_per_mm(drawing, size=size)
    return VesselView(
        section=section_svg(drawing, units=units, prefix="vessel-section", px_per_mm=scale),
        above=above_svg(drawing, units=units, prefix="vessel-above", px_per_mm=scale),
        brim_ml=vessel.brim_ml,
        brim_from=_brim_from(facts),
        brim_mg=_mg(vessel.brim_ml * cold),
        low_mg=_mg(normal.low_g),
        high_mg=_mg(normal.high_g),
        normal=normal,
        density=_density(cold),
        density_from=density_from,
        marks=_marks(vessel, cold, units),
        asked=asked,
        asked_mg=_mg(asked.fill_g) if asked else None,
        refused=refused,
    )


def _densities(wax: Item | None) -> tuple[float, float | None, str]:
    facts = getattr(wax, "wax", None) if wax else None
    if facts is None or facts.density_cold_g_ml is None:
        return USUAL_DENSITY_G_PER_ML, None, "common practice"
    liquid = facts.density_liquid_g_ml
    return (
        float(facts.density_cold_g_ml),
        float(liquid) if liquid is not None else None,
        facts.figures_from or "no source noted",
    )


def _brim_from(facts: VesselFacts) -> str:
    if facts.brim_ml is not None:
        return "measured by water, or its seller’s word"
    if facts.shape == Shape.WATER:
        return "measured by water"
    return "worked out from its measures"


def _marks(vessel: Vessel, density: float, units: str) -> list[Mark]:
    """Return the volume at round steps of height, from the base to the brim."""
    if not vessel.height_known or vessel.depth_mm is None:
        return []
    step = _step(vessel.depth_mm, units)
    heights = [step * k for k in range(1, int(vessel.depth_mm / step) + 1)]
    if not heights or vessel.depth_mm - heights[-1] > step * 0.25:
        heights.append(vessel.depth_mm)
    low, high = NORMAL_FILL_PCT
    marks = []
    for height in heights:
        ml = min(vessel.shape.volume_ml(min(height, vessel.depth_mm)), vessel.brim_ml)
        try:
            fill = fill_by_volume(vessel, fill_ml=ml, density_g_per_ml=density)
        except BadInput:
            continue
        pct = Decimal(str(round(fill.fill_pct_of_brim, 1)))
        marks.append(
            Mark(
                height_mm=Decimal(str(round(height, 1))),
                ml=ml,
                mg=_mg(fill.fill_g),
                pct_of_brim=pct,
                normal=low <= pct <= high,
            )
        )
    return marks


def _step(depth_mm: float, units: str) -> float:
    """Return a step, round in the workshop's units, that makes at most eleven rows."""
    inch = float(amounts.INCH_MM)
    steps = [inch / 4, inch / 2, inch, 2 * inch] if units == "us" else [2, 5, 10, 20, 25, 50]
    return next((float(step) for step in steps if depth_mm / step <= MOST_ROWS), 100.0)


def _density(density: float) -> str:
    """Show a density to the hundredth, or as fine as it is given."""
    return next((t for n in (2, 3) if float(t := f"{density:.{n}f}") == density), f"{density:.4f}")


def _mg(mass_g: float) -> int:
    return round(mass_g * 1000)
