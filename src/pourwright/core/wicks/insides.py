"""A vessel's inside from above, for wicks and jigs: at the wax, at the floor and at the rim."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.core.vessel.shapes import BrimOnly
from pourwright.core.vessel.vessel import Vessel
from pourwright.core.wicks.outlines import Outline, Rectangle, disc
from pourwright.core.wicks.outlines import Oval as _Oval

VesselForm = Literal["round", "oval", "square", "rectangle"]
VESSEL_FORMS: tuple[VesselForm, ...] = ("round", "oval", "square", "rectangle")
# Drawn and used where the maker has not measured it: from memory.
WALL_MM = 3.0


class BadInside(BadInput):
    """The measures do not describe the inside of a vessel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """
    A vessel's inside from above at three heights, and its wall's thickness in mm.

    Wicks are placed on ``surface``, the wax's; a guide lies on ``floor``; a bar rests on ``rim``.
    """

    surface: Outline
    floor: Outline
    rim: Outline
    wall_mm: float = WALL_MM
    headspace_mm: float | None = None


def straight(outline: Outline, *, wall_mm: float = WALL_MM) -> Inside:
    """Return the inside of a vessel that is the same from floor to rim."""
    return Inside(surface=outline, floor=outline, rim=outline, wall_mm=wall_mm)


def inside_of(vessel: Vessel, *, fill_height_mm: float | None = None) -> Inside:
    """
    Return the insides of a round vessel; a taper counts where the wax stands.

    Without a fill height a straight vessel is the same everywhere and a tapered one is refused,
    for its wicks belong where the wax's surface is. Raises ``BadInside``.
    """
    shape = vessel.shape
    wall = WALL_MM if vessel.wall_mm is None else vessel.wall_mm
    if isinstance(shape, BrimOnly):
        if shape.inside_diameter_mm is None:
            raise BadInside(
                "The vessel is known by its volume alone; wicks need its inside diameter too."
            )
        return straight(disc(shape.inside_diameter_mm / 2), wall_mm=wall)
    depth = shape.depth_mm
    assert depth is not None  # only a vessel known by its volume alone lacks it
    floor, rim = shape.radius_mm(0), shape.radius_mm(depth)
    if fill_height_mm is None:
        if abs(floor - rim) > 0.5:
            raise BadInside(
                f"The vessel is {2 * floor:.1f} mm wide at the floor and {2 * rim:.1f} mm at the "
                "rim: say how high the wax stands, for that is where the wicks are placed."
            )
        return straight(disc(rim), wall_mm=wall)
    if not 0 < fill_height_mm <= depth:
        raise BadInside(
            f"The wax stands {fill_height_mm:g} mm high; the vessel is {depth:g} mm deep inside."
        )
    return Inside(
        surface=disc(shape.radius_mm(fill_height_mm)),
        floor=disc(floor),
        rim=disc(rim),
        wall_mm=wall,
        headspace_mm=depth - fill_height_mm,
    )


def outline_from(
    *, form: VesselForm, width_mm: float, length_mm: float | None = None, corner_mm: float = 0.0
) -> Outline:
    """
    Return an inside by its form and measures in mm.

    A round or square one has its width alone; ``corner_mm`` is the radius of a square's or
    rectangle's rounded corners. Raises ``BadInside``.
    """
    if form not in VESSEL_FORMS:
        raise BadInside(f'The form "{form}" is not known; it is one of {", ".join(VESSEL_FORMS)}.')
    if form in ("oval", "rectangle"):
        if length_mm is None:
            raise BadInside(f"A vessel of the form {form} needs its inside length and width.")
    elif length_mm is not None and length_mm != width_mm:
        raise BadInside(
            f"A {form} vessel is as long as wide; {length_mm:g} by {width_mm:g} mm was given."
        )
    if corner_mm and form in ("round", "oval"):
        raise BadInside(f"A vessel of the form {form} has no corners to round.")
    along = (width_mm if length_mm is None else length_mm) / 2
    if form in ("round", "oval"):
        return _Oval(along, width_mm / 2)
    return Rectangle(along, width_mm / 2, corner_mm)
