"""How much a placement forgives: rings that are as good, and what a jig's scatter costs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import cos, pi, sqrt

import numpy as np

from pourwright.core.wicks.covering import LEAST_GAP_MM, LEAST_SPACING_MM
from pourwright.core.wicks.outlines import STEPS, Outline, Points
from pourwright.core.wicks.places import MOST_WICKS, BadWicks

# Two reaches this close cannot be told apart at the bench: no source, chosen here.
AS_GOOD_WITHIN = 0.02
_RINGS_TRIED = 4001


@dataclass(frozen=True, slots=True, kw_only=True)
class RingRange:
    """
    Ring radii in mm whose reach is within a share of the best ring's.

    ``in_middle`` is 1 where another wick stands in the vessel's middle, else 0.
    """

    least_mm: float
    most_mm: float
    best_mm: float
    best_reach_mm: float
    in_middle: int


def ring_reach_mm(
    *, vessel_inner_radius_mm: float, ring_radius_mm: float, on_ring: int, in_middle: int = 0
) -> float:
    """
    Return the reach of an even ring of 3 or more wicks in a round vessel, with one inside or not.

        reach = max(p, sqrt(R^2 + p^2 - 2 R p cos(pi / n)))

    With a wick in the middle the places inside the ring are nearer: p / (2 cos(pi / n)) in place
    of p. Source: plane geometry; a place is farthest at the middle, or on the wall half way
    between two wicks.

    >>> round(ring_reach_mm(vessel_inner_radius_mm=45, ring_radius_mm=22.5, on_ring=3), 2)
    38.97
    """
    big, p = vessel_inner_radius_mm, ring_radius_mm
    half = pi / on_ring
    inside = p / (2 * cos(half)) if in_middle else p
    return float(max(inside, sqrt(big**2 + p**2 - 2 * big * p * cos(half))))


def as_good_rings(
    *,
    vessel_inner_radius_mm: float,
    wick_count: int,
    least_gap_mm: float = LEAST_GAP_MM,
    least_spacing_mm: float = LEAST_SPACING_MM,
    within: float = AS_GOOD_WITHIN,
) -> RingRange | None:
    """
    Return the radii that are as good as the best ring's, or None where no ring is to be chosen.

    The optimum is flat: a jig a millimetre wider serves as well. None for one or two wicks (their
    reach never falls below the vessel's radius, so it does not choose) and where no ring keeps
    the least distances.
    """
    if not 1 <= wick_count <= MOST_WICKS:
        raise BadWicks(f"{wick_count} wicks were asked for; 1 to {MOST_WICKS} can be placed.")
    if wick_count < 3:
        return None
    found = [
        ring
        for in_middle in (0, 1)
        if wick_count - in_middle >= 3
        and (
            ring := _rings(
                vessel_inner_radius_mm, wick_count - in_middle, in_middle,
                gap=least_gap_mm, spacing=least_spacing_mm, within=within,
            )
        )
    ]  # fmt: skip
    return min(found, key=lambda ring: ring.best_reach_mm, default=None)


def _rings(
    radius: float, on_ring: int, in_middle: int, *, gap: float, spacing: float, within: float
) -> RingRange | None:
    least = spacing / (2 * np.sin(pi / on_ring))
    if in_middle:
        least = max(least, spacing)
    most = radius - gap
    if not 0 <= least <= most:
        return None
    tried = np.linspace(least, most, _RINGS_TRIED)
    half = pi / on_ring
    inside = tried / (2 * cos(half)) if in_middle else tried
    wall = np.sqrt(radius**2 + tried**2 - 2 * radius * tried * cos(half))
    reach = np.maximum(inside, wall)
    # The reach falls and then rises, so that those within a share of the best lie together.
    good = tried[reach <= reach.min() * (1 + within)]
    return RingRange(
        least_mm=float(good[0]),
        most_mm=float(good[-1]),
        best_mm=float(tried[reach.argmin()]),
        best_reach_mm=float(reach.min()),
        in_middle=in_middle,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Scatter:
    """What wicks that stand off their places by chance add to the reach, in mm."""

    sd_mm: float
    mean_rise_mm: float
    rise_95_mm: float


def scatter_of(
    positions: Points, outline: Outline, *, sd_mm: float = 1.0, draws: int = 400
) -> Scatter:
    """
    Return how much the reach grows when each wick is off by chance, as a normal error per axis.

    ``mean_rise_mm`` is the mean and ``rise_95_mm`` what 95 in 100 candles stay below. By drawn
    samples, the same each time; places on the wall are sampled every quarter degree.

    >>> from pourwright.core.wicks.outlines import disc
    >>> scatter_of(np.array([[0.0, 0.0]]), disc(40.0), sd_mm=0.0).rise_95_mm
    0.0
    """
    dice = np.random.default_rng(20)
    off = dice.normal(0.0, 1.0, (draws, *positions.shape)) * sd_mm
    moved = positions[None] + off
    edge = outline.at(np.linspace(0, 1, STEPS // 2, endpoint=False))
    reach = _on_edge(moved, edge)
    if len(positions) > 2:
        reach = np.maximum(reach, _at_vertices(moved, outline))
    # The least sampled reach errs as the exact one's sample does: compare like with like.
    start = max(
        float(_on_edge(positions[None], edge)[0]),
        float(_at_vertices(positions[None], outline)[0]) if len(positions) > 2 else 0.0,
    )
    rise = np.maximum(reach, 0) - start
    return Scatter(
        sd_mm=sd_mm,
        mean_rise_mm=float(rise.mean()),
        rise_95_mm=float(np.quantile(rise, 0.95)),
    )


def _on_edge(moved: Points, edge: Points) -> Points:
    """Return each draw's largest distance of a place on the wall from its nearest wick."""
    least = np.full((len(moved), len(edge)), np.inf)
    for number in range(moved.shape[1]):
        away = edge[None] - moved[:, number, None, :]
        least = np.minimum(least, np.hypot(away[..., 0], away[..., 1]))
    largest: Points = least.max(axis=1)
    return largest


def _at_vertices(moved: Points, outline: Outline) -> Points:
    """Return each draw's largest distance of a place inside that is equally far from three."""
    reach = np.zeros(len(moved))
    for i, j, k in combinations(range(moved.shape[1]), 3):
        a, ab, ac = moved[:, i], moved[:, j] - moved[:, i], moved[:, k] - moved[:, i]
        doubled = 2 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
        flat = np.abs(doubled) < 1e-9
        doubled = np.where(flat, 1.0, doubled)
        bb, cc = (ab**2).sum(1), (ac**2).sum(1)
        offset = np.stack([bb * ac[:, 1] - cc * ab[:, 1], cc * ab[:, 0] - bb * ac[:, 0]], axis=1)
        offset = offset / doubled[:, None]
        radius = np.linalg.norm(offset, axis=1)
        centre = a + offset
        nearest = np.linalg.norm(moved - centre[:, None], axis=-1).min(axis=1)
        chosen = ~flat & (nearest >= radius - 1e-9) & (outline.wall_gap(centre) >= 0)
        reach = np.where(chosen, np.maximum(reach, radius), reach)
    return reach
