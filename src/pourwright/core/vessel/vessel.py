"""A vessel as the workshop knows it: inside, brim by water, and how thick its wall is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pourwright.core.vessel.outline import Outline, drawn_fill_height_mm, outline_of
from pourwright.core.vessel.shapes import BadVessel, BrimOnly, Overfull, Shape, shape_from

# A brim measured by water and one computed from a rule's measures differ by the roundings of base
# and rim; beyond this one of them is a slip. Common practice, no source.
LARGEST_DISAGREEMENT = 0.25
NOTED_DISAGREEMENT = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """
    A round vessel.

    ``measured_brim_ml`` is the brim by water or by the seller's word; where it is given it stands,
    and the shape tells only the heights. Wall and base thickness (mm) are None where not measured.
    """

    shape: Shape
    measured_brim_ml: float | None = None
    wall_mm: float | None = None
    base_mm: float | None = None

    def __post_init__(self) -> None:
        if abs(self.disagreement) > LARGEST_DISAGREEMENT:
            raise BadVessel(
                f"The brim volume given is {self.measured_brim_ml:.0f} ml, but by its diameter and "
                f"depth the vessel holds {self.shape.brim_ml:.0f} ml; measure again, or leave one "
                "of them out."
            )

    @property
    def brim_ml(self) -> float:
        """Return the volume to the brim."""
        return self.shape.brim_ml if self.measured_brim_ml is None else self.measured_brim_ml

    @property
    def disagreement(self) -> float:
        """Return by what share the measured brim exceeds the shape's; 0 where there is only one."""
        if self.measured_brim_ml is None:
            return 0.0
        return self.measured_brim_ml / self.shape.brim_ml - 1

    @property
    def depth_mm(self) -> float | None:
        """Return the inside depth, where known."""
        return self.shape.depth_mm

    @property
    def height_known(self) -> bool:
        """Return whether fill heights can be told."""
        return not isinstance(self.shape, BrimOnly)

    @property
    def outside_diameter_mm(self) -> float | None:
        """Return the outside diameter at the rim, where wall and diameter are known."""
        if self.wall_mm is None or self.shape.top_diameter_mm is None:
            return None
        return self.shape.top_diameter_mm + 2 * self.wall_mm

    @property
    def outside_height_mm(self) -> float | None:
        """Return the height from table to rim, where base and depth are known."""
        if self.base_mm is None or self.shape.depth_mm is None:
            return None
        return self.shape.depth_mm + self.base_mm

    def height_mm(self, volume_ml: float) -> float | None:
        """Return how high a volume stands; None where heights are not known."""
        if volume_ml > self.brim_ml * (1 + 1e-9):
            raise Overfull(
                f"{volume_ml:.1f} ml does not fit: the vessel holds {self.brim_ml:.1f} ml to the "
                "brim."
            )
        return self.shape.height_mm(min(volume_ml, self.shape.brim_ml))

    def drawn_height_mm(self, volume_ml: float) -> float:
        """Return how high to draw a volume, in the stand-in shape where none is measured."""
        self.height_mm(volume_ml)
        return drawn_fill_height_mm(self.shape, fill_ml=min(volume_ml, self.shape.brim_ml))

    def surface_radius_mm(self, height_mm: float) -> float:
        """Return the inside radius at a height, in the stand-in shape where none is measured."""
        if isinstance(self.shape, BrimOnly):
            return self.outline().top_inner_radius_mm
        return self.shape.radius_mm(height_mm)

    def outline(self) -> Outline:
        """Return the outline to draw."""
        return outline_of(self.shape, wall_mm=self.wall_mm, base_mm=self.base_mm)


def vessel_from(
    *,
    inside_diameter_mm: float | None = None,
    top_diameter_mm: float | None = None,
    depth_mm: float | None = None,
    brim_ml: float | None = None,
    marks: Sequence[tuple[float, float]] = (),
    by_water: bool = False,
    wall_mm: float | None = None,
    base_mm: float | None = None,
) -> Vessel:
    """
    Return the vessel that these measures describe.

    ``inside_diameter_mm`` is the base's where a top diameter is given. ``by_water`` says that the
    inside is neither straight nor an even taper: the brim volume then counts, and diameter and
    depth only guide the drawing. Raises BadVessel where there is too little, or where the brim
    given and the one computed are more than a quarter apart.
    """
    if by_water and not marks:
        if brim_ml is None:
            raise BadVessel(
                "A vessel measured by water needs its brim volume, or water marks: fill it to the "
                "brim on the scale; a gram of water is a millilitre."
            )
        hint = inside_diameter_mm if top_diameter_mm is None else top_diameter_mm
        shape: Shape = BrimOnly(
            volume_to_brim_ml=brim_ml, inside_diameter_mm=hint, depth_mm=depth_mm
        )
    else:
        shape = shape_from(
            inside_diameter_mm=inside_diameter_mm,
            top_diameter_mm=top_diameter_mm,
            depth_mm=depth_mm,
            brim_ml=brim_ml,
            marks=marks,
        )
    return Vessel(shape=shape, measured_brim_ml=brim_ml, wall_mm=wall_mm, base_mm=base_mm)
