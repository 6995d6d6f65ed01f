"""
The inside of a vessel: four ways to know it.

- :class:`Straight`: inside diameter and depth.
- :class:`Tapered`: inside diameters at base and top, and depth.
- :class:`WaterMarks`: filled with water step by step, each height noted with its volume.
- :class:`BrimOnly`: only the volume to the brim is known; heights cannot be told.

Lengths are millimetres, volumes millilitres, heights are measured up from the inside base. These
are floats: a vessel is measured with a rule and a jug, to no more than three figures. The rounding
between base and wall is not in the formulas; measure a vessel with a deep curve by water.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from math import cbrt, isfinite, pi, sqrt

from pourwright.core.errors import BadInput

LARGEST_MM = 1000.0
LARGEST_ML = 100_000.0
MM3_PER_ML = 1000.0


class BadVessel(BadInput):
    """A vessel's measures cannot be right."""


class HeightNotKnown(BadInput):
    """A height was asked of a vessel of which only the brim volume is known."""


class Overfull(BadInput):
    """More was asked into the vessel than it holds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Straight:
    """A round vessel with upright sides."""

    inside_diameter_mm: float
    depth_mm: float

    def __post_init__(self) -> None:
        _check_length("inside diameter", self.inside_diameter_mm)
        _check_length("depth", self.depth_mm)

    @property
    def brim_ml(self) -> float:
        """Return the volume to the brim, a cylinder's."""
        return self.volume_ml(self.depth_mm)

    @property
    def top_diameter_mm(self) -> float:
        """Return the inside diameter at the rim."""
        return self.inside_diameter_mm

    def radius_mm(self, height_mm: float) -> float:
        """Return the inside radius at a height."""
        return self.inside_diameter_mm / 2

    def volume_ml(self, height_mm: float) -> float:
        """Return the volume below a height of 0 to the depth."""
        _check_height(height_mm, self.depth_mm)
        return pi * (self.inside_diameter_mm / 2) ** 2 * height_mm / MM3_PER_ML

    def height_mm(self, volume_ml: float) -> float:
        """Return how high a volume of 0 to the brim stands."""
        _check_volume(volume_ml, self.brim_ml)
        area_mm2 = pi * (self.inside_diameter_mm / 2) ** 2
        return min(volume_ml * MM3_PER_ML / area_mm2, self.depth_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tapered:
    """
    A round vessel whose inside diameter grows, or shrinks, evenly from base to top.

    Source: volume of a conical frustum, V = pi h (R^2 + R r + r^2) / 3 [MathWorld-ConicalFrustum].
    """

    base_diameter_mm: float
    top_diameter_mm: float
    depth_mm: float

    def __post_init__(self) -> None:
        _check_length("inside diameter at the base", self.base_diameter_mm)
        _check_length("inside diameter at the top", self.top_diameter_mm)
        _check_length("depth", self.depth_mm)

    @property
    def brim_ml(self) -> float:
        """Return the volume to the brim."""
        return self.volume_ml(self.depth_mm)

    @property
    def _growth(self) -> float:
        """Radius gained per millimetre of height."""
        return (self.top_diameter_mm - self.base_diameter_mm) / 2 / self.depth_mm

    def radius_mm(self, height_mm: float) -> float:
        """Return the inside radius at a height."""
        return self.base_diameter_mm / 2 + self._growth * height_mm

    def volume_ml(self, height_mm: float) -> float:
        """Return the volume below a height of 0 to the depth."""
        _check_height(height_mm, self.depth_mm)
        low, high = self.base_diameter_mm / 2, self.radius_mm(height_mm)
        return pi * height_mm * (low * low + low * high + high * high) / 3 / MM3_PER_ML

    def height_mm(self, volume_ml: float) -> float:
        """
        Return how high a volume of 0 to the brim stands, in closed form.

        With k the radius gained per millimetre, the radius at the surface is
        R = cbrt(r^3 + 3 k V / pi), and h = 3 V / (pi (r^2 + r R + R^2)). The second step never
        divides by k, so that an all but straight vessel loses no digits.
        """
        _check_volume(volume_ml, self.brim_ml)
        volume_mm3 = volume_ml * MM3_PER_ML
        low = self.base_diameter_mm / 2
        high = cbrt(max(low**3 + 3 * self._growth * volume_mm3 / pi, 0.0))
        return min(3 * volume_mm3 / (pi * (low * low + low * high + high * high)), self.depth_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterMarks:
    """
    A vessel measured by water: pairs of height and the volume below it, the last at the brim.

    Between two marks the volume is taken to grow evenly. Heights and volumes both rise from mark
    to mark; empty at height 0 is understood. For a vessel that is not round, the radius is that of
    a circle of the same area.
    """

    marks: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if not self.marks:
            raise BadVessel("A vessel measured by water needs at least one mark: a height and the "
                            "volume below it, such as 80 mm 310 ml.")  # fmt: skip
        height_before, volume_before = 0.0, 0.0
        for height, volume in self.marks:
            _check_length("height of a water mark", height)
            _check_brim(volume)
            if height <= height_before or volume <= volume_before:
                raise BadVessel(
                    f"Water marks must rise in height and in volume: {height:g} mm {volume:g} ml "
                    f"follows {height_before:g} mm {volume_before:g} ml."
                )
            height_before, volume_before = height, volume

    @property
    def depth_mm(self) -> float:
        """Return the inside depth, the last mark's height."""
        return self.marks[-1][0]

    @property
    def brim_ml(self) -> float:
        """Return the volume to the brim, the last mark's."""
        return self.marks[-1][1]

    @property
    def top_diameter_mm(self) -> float:
        """Return the inside diameter of the topmost layer."""
        return 2 * self.radius_mm(self.depth_mm)

    def radius_mm(self, height_mm: float) -> float:
        """Return the radius of a round vessel with the same layers, even between layer middles."""
        middles, radii = [], []
        for (low, below), (high, above) in zip(self._rising(), self.marks, strict=False):
            middles.append((low + high) / 2)
            radii.append(sqrt((above - below) * MM3_PER_ML / (high - low) / pi))
        return _between(height_mm, middles, radii)

    def volume_ml(self, height_mm: float) -> float:
        """Return the volume below a height of 0 to the depth."""
        _check_height(height_mm, self.depth_mm)
        rising = self._rising()
        return _between(height_mm, [h for h, _ in rising], [v for _, v in rising])

    def height_mm(self, volume_ml: float) -> float:
        """Return how high a volume of 0 to the brim stands."""
        _check_volume(volume_ml, self.brim_ml)
        rising = self._rising()
        return _between(volume_ml, [v for _, v in rising], [h for h, _ in rising])

    def _rising(self) -> tuple[tuple[float, float], ...]:
        return ((0.0, 0.0), *self.marks)


@dataclass(frozen=True, slots=True, kw_only=True)
class BrimOnly:
    """
    A vessel of which the brim volume is known, by water or from its seller, but not the shape.

    Weights and shares of the brim can be told, heights cannot. ``inside_diameter_mm`` and
    ``depth_mm``, where known, only guide the drawing, which says that the shape is not measured.
    """

    volume_to_brim_ml: float
    inside_diameter_mm: float | None = None
    depth_mm: float | None = None

    def __post_init__(self) -> None:
        _check_brim(self.volume_to_brim_ml)
        if self.inside_diameter_mm is not None:
            _check_length("inside diameter", self.inside_diameter_mm)
        if self.depth_mm is not None:
            _check_length("depth", self.depth_mm)

    @property
    def brim_ml(self) -> float:
        """Return the volume to the brim."""
        return self.volume_to_brim_ml

    @property
    def top_diameter_mm(self) -> float | None:
        """Return the inside diameter, where it was noted."""
        return self.inside_diameter_mm

    def height_mm(self, volume_ml: float) -> None:
        """Return None: heights cannot be told. Still refuses more than the brim."""
        _check_volume(volume_ml, self.brim_ml)

    def volume_ml(self, height_mm: float) -> float:
        """Refuse: the volume below a height cannot be told."""
        raise HeightNotKnown(
            f"The volume below {height_mm:g} mm cannot be told: only the brim volume of this "
            "vessel is known. Give its inside diameter and depth, or measure it by water."
        )


Shape = Straight | Tapered | WaterMarks | BrimOnly


def shape_from(
    *,
    inside_diameter_mm: float | None = None,
    top_diameter_mm: float | None = None,
    depth_mm: float | None = None,
    brim_ml: float | None = None,
    marks: Sequence[tuple[float, float]] = (),
) -> Shape:
    """
    Return the best shape that can be made of what is known.

    Water marks come first. Then diameter and depth: straight, or tapered where a top diameter is
    given (``inside_diameter_mm`` is then the base's). A straight vessel's depth can follow from
    diameter and brim. With the brim alone heights stay unknown. With none of these: BadVessel.
    """
    if marks:
        return WaterMarks(marks=tuple((float(h), float(v)) for h, v in marks))
    if inside_diameter_mm is not None and depth_mm is not None:
        if top_diameter_mm is not None:
            return Tapered(
                base_diameter_mm=inside_diameter_mm,
                top_diameter_mm=top_diameter_mm,
                depth_mm=depth_mm,
            )
        return Straight(inside_diameter_mm=inside_diameter_mm, depth_mm=depth_mm)
    if brim_ml is None:
        raise BadVessel(
            "The vessel's size is not known: give its brim volume, or its inside diameter and "
            "depth, or water marks."
        )
    _check_brim(brim_ml)
    if inside_diameter_mm is not None and top_diameter_mm is None:
        _check_length("inside diameter", inside_diameter_mm)
        depth_mm = brim_ml * MM3_PER_ML / (pi * (inside_diameter_mm / 2) ** 2)
        return Straight(inside_diameter_mm=inside_diameter_mm, depth_mm=depth_mm)
    return BrimOnly(
        volume_to_brim_ml=brim_ml,
        inside_diameter_mm=top_diameter_mm if inside_diameter_mm is None else inside_diameter_mm,
        depth_mm=depth_mm,
    )


def _between(x: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Return y at x on the line through the points; level beyond the first and the last."""
    if x <= xs[0]:
        return ys[0]
    if x >= xs[-1]:
        return ys[-1]
    i = bisect_right(xs, x)
    share = (x - xs[i - 1]) / (xs[i] - xs[i - 1])
    return ys[i - 1] + share * (ys[i] - ys[i - 1])


def _check_length(what: str, value_mm: float) -> None:
    if not (isfinite(value_mm) and 0 < value_mm <= LARGEST_MM):
        raise BadVessel(
            f"The vessel's {what} is {value_mm:g} mm; it must be above 0 and at most "
            f"{LARGEST_MM:g} mm."
        )


def _check_brim(volume_ml: float) -> None:
    if not (isfinite(volume_ml) and 0 < volume_ml <= LARGEST_ML):
        raise BadVessel(
            f"The vessel's volume is {volume_ml:g} ml; it must be above 0 and at most "
            f"{LARGEST_ML / 1000:g} litres."
        )


# One part in a thousand million: lets a height that was computed from the brim come back to it.
_SLACK = 1 + 1e-9


def _check_height(height_mm: float, depth_mm: float) -> None:
    if not (0 <= height_mm <= depth_mm * _SLACK):
        raise Overfull(
            f"A fill height of {height_mm:.1f} mm does not fit: the vessel is {depth_mm:.1f} mm "
            "deep inside."
        )


def _check_volume(volume_ml: float, brim_ml: float) -> None:
    if not (0 <= volume_ml <= brim_ml * _SLACK):
        raise Overfull(
            f"{volume_ml:.1f} ml does not fit: the vessel holds {brim_ml:.1f} ml to the brim."
        )
