"""
How far pools would have to reach to cover the wax, and where wicks stand for the smallest reach.

The reach is the largest distance of any place on the surface from its nearest wick. It is found
exactly from the places where it can be largest: where three wicks are equally far (a corner of
their Voronoi cells), where two are on the wall, and where a cell's wall is farthest from its wick.
Positions are improved by linear programmes over those places, each with its exact gradient, from
several starts; for round vessels the results agree with the published disc-covering constants.

The reach places wicks and says what lone pools would need. It does not size a wick: pools merge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from math import acos, atan2, cos, hypot, pi, sin

import numpy as np
from scipy.optimize import (  # type: ignore[import-untyped]
    brentq,
    linprog,
    minimize_scalar,
)

from pourwright.core.wicks.outlines import STEPS, Outline, Oval, Points
from pourwright.core.wicks.places import MOST_WICKS, BadWicks, ring_positions_mm

# Common practice, no source: nearer the wall a flame heats the glass, nearer each other flames lean
# together. Both can be set.
LEAST_GAP_MM = 12.0
LEAST_SPACING_MM = 20.0


@dataclass(frozen=True, slots=True)
class Critical:
    """A place where the reach may be largest: where, how far, and how that moves with the wicks."""

    point: tuple[float, float]
    distance: float
    gradient: Points  # (wicks, 2): change of the distance with each wick's place


def reach_mm(positions: Points, outline: Outline) -> float:
    """
    Return the largest distance of any place inside the outline from its nearest wick, mm.

    >>> from pourwright.core.wicks.outlines import disc
    >>> round(reach_mm(np.array([[18.0, 0.0], [-18.0, 0.0]]), disc(40.0)), 3)
    43.863
    """
    return max(place.distance for place in critical_places(positions, outline))


def critical_places(positions: Points, outline: Outline) -> list[Critical]:
    """Return the places where the reach may be largest, each with its exact gradient."""
    return [*_vertices(positions, outline), *_on_the_wall(positions, outline)]


def _vertices(positions: Points, outline: Outline) -> Iterator[Critical]:
    trios = np.array(list(combinations(range(len(positions)), 3)))
    if not len(trios):
        return
    a, b, c = (positions[trios[:, k]] for k in range(3))
    ab, ac = b - a, c - a
    doubled = 2 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        bb, cc = (ab**2).sum(1), (ac**2).sum(1)
        centres = a + np.stack(
            [(bb * ac[:, 1] - cc * ab[:, 1]) / doubled, (cc * ab[:, 0] - bb * ac[:, 0]) / doubled],
            axis=1,
        )
    sound = (np.abs(doubled) > 1e-9) & np.isfinite(centres).all(1)
    trios, centres = trios[sound], centres[sound]
    radii = np.linalg.norm(centres - positions[trios[:, 0]], axis=1)
    nearest = np.linalg.norm(centres[:, None] - positions[None], axis=-1).min(axis=1)
    chosen = (nearest >= radii - 1e-9) & (outline.wall_gap(centres) >= 0)
    for trio, centre, radius in zip(trios[chosen], centres[chosen], radii[chosen], strict=True):
        corners = np.vstack([positions[trio].T, np.ones(3)])
        share = np.linalg.solve(corners, np.append(centre, 1.0))
        gradient = np.zeros_like(positions)
        gradient[trio] = share[:, None] * (positions[trio] - centre) / radius
        yield Critical((float(centre[0]), float(centre[1])), float(radius), gradient)


def _on_the_wall(positions: Points, outline: Outline) -> Iterator[Critical]:
    s = np.linspace(0, 1, STEPS, endpoint=False)
    edge = outline.at(s)
    distances = np.linalg.norm(edge[:, None, :] - positions[None, :, :], axis=-1)
    nearest = distances.argmin(axis=1)
    least = distances.min(axis=1)
    step = 1 / STEPS
    changes = nearest != np.roll(nearest, -1)
    for number in np.flatnonzero(changes):
        pair = int(nearest[number]), int(nearest[(number + 1) % STEPS])
        if (found := _crossing(positions, outline, float(s[number]), step, pair)) is not None:
            yield found
    peaks = (
        (least > np.roll(least, 1) + 1e-12)
        & (least >= np.roll(least, -1))
        & ~changes
        & ~np.roll(changes, 1)
    )
    # All the wall is as far from one wick in the middle of a round vessel: any place stands for it.
    if not changes.any() and not peaks.any():
        peaks[least.argmax()] = True
    for number in np.flatnonzero(peaks):
        yield _farthest(positions, outline, float(s[number]), step, int(nearest[number]))


def _crossing(
    positions: Points, outline: Outline, s: float, step: float, pair: tuple[int, int]
) -> Critical | None:
    first, second = positions[pair[0]], positions[pair[1]]
    at = _as_near(first, second, outline, s, step)
    if at is None:
        return None
    point = outline.at(np.array(at))
    tangent = outline.at(np.array(at + 1e-6)) - outline.at(np.array(at - 1e-6))
    radius = float(np.linalg.norm(point - first))
    one, two = float((point - first) @ tangent), float((point - second) @ tangent)
    share = 0.5 if abs(one - two) < 1e-15 else -two / (one - two)
    gradient = np.zeros_like(positions)
    gradient[pair[0]] += share * (first - point) / radius
    gradient[pair[1]] += (1 - share) * (second - point) / radius
    return Critical((float(point[0]), float(point[1])), radius, gradient)


def _as_near(
    first: Points, second: Points, outline: Outline, s: float, step: float
) -> float | None:
    """Return the place on a piece of the wall that is as far from one wick as from the other."""
    if isinstance(outline, Oval):
        # 2 p . (second - first) = |second|^2 - |first|^2 on p = (a cos t, b sin t): closed form.
        across = 2 * (second[0] - first[0]) * outline.half_width_mm
        along = 2 * (second[1] - first[1]) * outline.half_height_mm
        length = hypot(across, along)
        apart = float(second @ second - first @ first)
        if length == 0 or abs(apart) > length:
            return None
        middle, half = atan2(along, across), acos(apart / length)
        for turn in (middle - half, middle + half):
            at = turn / (2 * pi)
            at += round(s + step / 2 - at)
            if s - 1e-9 <= at <= s + step + 1e-9:
                return float(at)
        return None

    def nearer(at: float) -> float:
        point = outline.at(np.array(at))
        return float(((point - first) ** 2).sum() - ((point - second) ** 2).sum())

    if nearer(s) * nearer(s + step) > 0:
        return None
    return float(brentq(nearer, s, s + step, xtol=1e-13))


def _farthest(positions: Points, outline: Outline, s: float, step: float, number: int) -> Critical:
    wick = positions[number]

    def nearness(at: float) -> float:
        return -float(np.linalg.norm(outline.at(np.array(at)) - wick))

    found = minimize_scalar(
        nearness, bounds=(s - step, s + step), method="bounded", options={"xatol": 1e-10}
    )
    point = outline.at(np.array(found.x))
    radius = float(np.linalg.norm(point - wick))
    gradient = np.zeros_like(positions)
    if radius > 0:
        gradient[number] = (wick - point) / radius
    return Critical((float(point[0]), float(point[1])), radius, gradient)


# --- the share covered ---------------------------------------------------------------------------


def covered_share(positions: Points, outline: Outline, *, pool_radius_mm: float) -> float:
    """
    Return how much of the surface lone pools of a radius cover, from 0 to 1.

    Exact in width and by 4,000 strips in height. Real pools merge and cover more.
    """
    edges = np.linspace(-outline.half_height_mm, outline.half_height_mm, 4001)
    heights = (edges[1:] + edges[:-1]) / 2
    half = outline.half_chord(heights)
    rise = heights[:, None] - positions[None, :, 1]
    reach = np.sqrt(np.clip(pool_radius_mm**2 - rise**2, 0, None))
    left = np.clip(positions[None, :, 0] - reach, -half[:, None], half[:, None])
    right = np.clip(positions[None, :, 0] + reach, -half[:, None], half[:, None])
    order = np.argsort(left, axis=1)
    left, right = np.take_along_axis(left, order, 1), np.take_along_axis(right, order, 1)
    furthest = np.maximum.accumulate(right, axis=1)
    before = np.concatenate([np.full((len(heights), 1), -np.inf), furthest[:, :-1]], axis=1)
    widths = np.clip(right - np.maximum(left, before), 0, None).sum(axis=1)
    return float(widths.sum() / (2 * half).sum())


# --- the smallest reach --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """
    Where wicks stand, and what follows from it; lengths in mm.

    ``ring_radius_mm`` is the ring's where all stand on one evenly, else None. ``binds`` names what
    keeps the reach from being smaller: the vessel itself, the wall's gap or the spacing.
    """

    positions_mm: tuple[tuple[float, float], ...]
    reach_mm: float
    wall_clearance_mm: float
    spacing_mm: float | None
    ring_radius_mm: float | None
    binds: str


def place(
    outline: Outline,
    wick_count: int,
    *,
    least_gap_mm: float = LEAST_GAP_MM,
    least_spacing_mm: float = LEAST_SPACING_MM,
) -> Placement:
    """
    Return the places of 1 to 10 wicks with the smallest reach, under the two least distances.

    Two wicks in a round vessel cannot shorten the reach below one's; they stand evenly, at the
    middles of their halves (common practice, no source), or as far apart as their least distance
    asks. Raises ``BadWicks`` where so many do not fit with those distances. A local search from
    several starts: the best found, not proven to be the best there is.
    """
    if not 1 <= wick_count <= MOST_WICKS:
        raise BadWicks(f"{wick_count} wicks were asked for; 1 to {MOST_WICKS} can be placed.")
    limits = _Limits(outline, least_gap_mm, least_spacing_mm)
    starts = [limits.drawn_in(start) for start in _starts(outline, wick_count, least_spacing_mm)]
    allowed = [start for start in starts if start is not None]
    if not allowed:
        raise BadWicks(
            f"{wick_count} wicks do not fit {least_gap_mm:g} mm from the wall and "
            f"{least_spacing_mm:g} mm from each other: take fewer, or smaller distances."
        )
    if wick_count == 2 and isinstance(outline, Oval) and outline.is_round:
        return placement_of(allowed[0], outline, limits=limits)
    roughly = sorted(
        (_improved(start, outline, limits, rounds=14) for start in allowed), key=lambda one: one[0]
    )
    _, positions = min(
        (_improved(one, outline, limits, rounds=80) for _, one in roughly[:2]),
        key=lambda one: one[0],
    )
    middled = np.where(
        np.hypot(*positions.T)[:, None] < 0.02 * outline.half_height_mm, 0, positions
    )
    if limits.kept(middled) and reach_mm(middled, outline) <= reach_mm(positions, outline) + 1e-6:
        positions = middled  # where it makes no difference, a wick stands just in the middle
    return placement_of(_tidied(positions, outline), outline, limits=limits)


def placement_of(
    positions: Points, outline: Outline, *, limits: _Limits | None = None
) -> Placement:
    """Return what follows from given places."""
    gaps = outline.wall_gap(positions)
    apart = _spacings(positions)
    radii = np.hypot(positions[:, 0], positions[:, 1])
    even = len(positions) > 1 and np.ptp(radii) < 1e-3 * radii.max() and _evenly_round(positions)
    binds = "the vessel"
    if limits is not None and gaps.min() < limits.gap + 1e-3:
        binds = "the distance to the wall"
    elif limits is not None and len(apart) and apart.min() < limits.spacing + 1e-3:
        binds = "the distance between wicks"
    return Placement(
        positions_mm=tuple((float(x), float(y)) for x, y in positions),
        reach_mm=reach_mm(positions, outline),
        wall_clearance_mm=float(gaps.min()),
        spacing_mm=float(apart.min()) if len(apart) else None,
        ring_radius_mm=float(radii.mean()) if even else None,
        binds=binds,
    )


def _spacings(positions: Points) -> Points:
    pairs = list(combinations(range(len(positions)), 2))
    return np.array([np.linalg.norm(positions[i] - positions[j]) for i, j in pairs])


def _evenly_round(positions: Points) -> bool:
    angles = np.sort(np.arctan2(positions[:, 1], positions[:, 0]))
    steps = np.diff(np.concatenate([angles, [angles[0] + 2 * pi]]))
    return bool(np.ptp(steps) < 1e-2)


@dataclass(frozen=True, slots=True)
class _Limits:
    """The two least distances, and how to keep to them."""

    outline: Outline
    gap: float
    spacing: float

    def kept(self, positions: Points) -> bool:
        apart = _spacings(positions)
        return bool(
            self.outline.wall_gap(positions).min() >= self.gap - 1e-7
            and (len(apart) == 0 or apart.min() >= self.spacing - 1e-7)
        )

    def drawn_in(self, positions: Points) -> Points | None:
        """Return a start drawn towards the middle until it keeps its distance from the wall."""
        for scale in np.linspace(1, 0, 101):
            if self.outline.wall_gap(positions * scale).min() >= self.gap:
                drawn = positions * scale
                return drawn if self.kept(drawn) else None
        return None

    def rows(self, positions: Points) -> Iterator[tuple[Points, float]]:
        """Yield each limit near to binding as a linear row: gradient . step <= room."""
        gaps = self.outline.wall_gap(positions)
        step = 1e-5
        sideways = np.array([[step, 0.0], [0.0, step]])
        moved = self.outline.wall_gap(positions[:, None, :] + sideways[None])
        for number, gap in enumerate(gaps):
            slope = np.zeros_like(positions)
            slope[number] = -(moved[number] - gap) / step
            yield slope, float(gap - self.gap)
        for i, j in combinations(range(len(positions)), 2):
            between = positions[i] - positions[j]
            apart = float(np.linalg.norm(between))
            slope = np.zeros_like(positions)
            slope[i], slope[j] = -between / apart, between / apart
            yield slope, apart - self.spacing


def _improved(
    positions: Points, outline: Outline, limits: _Limits, *, rounds: int = 120
) -> tuple[float, Points]:
    """Return a start's best neighbour and its reach, by linear programmes in a shrinking trust."""
    size = max(outline.half_width_mm, outline.half_height_mm)
    trust = 0.2 * size
    places = critical_places(positions, outline)
    reach = max(one.distance for one in places)
    for _ in range(rounds):
        if trust < 3e-7 * size:
            break
        moved = positions + _best_step(positions, places, limits, reach, trust)
        if not limits.kept(moved):
            trust /= 3
            continue
        there = critical_places(moved, outline)
        shorter = max(one.distance for one in there)
        if shorter < reach - 1e-12 * size:
            gained = reach - shorter
            positions, places, reach = moved, there, shorter
            trust = min(trust * 1.5, 0.2 * size) if gained > 1e-3 * trust else trust / 2
        else:
            trust /= 3
    return reach, positions


def _best_step(
    positions: Points, places: list[Critical], limits: _Limits, reach: float, trust: float
) -> Points:
    """Return the step that lowers the largest linearised distance most, within the trust."""
    count = positions.size
    rows, bounds = [], []
    for place_ in places:
        if place_.distance > reach - 3 * trust - 1e-9:
            rows.append(np.append(place_.gradient.ravel(), -1.0))
            bounds.append(-place_.distance)
    for slope, room in limits.rows(positions):
        if room < 3 * trust:
            rows.append(np.append(slope.ravel(), 0.0))
            bounds.append(room)
    solved = linprog(
        np.append(np.zeros(count), 1.0),
        A_ub=np.array(rows),
        b_ub=np.array(bounds),
        bounds=[(-trust, trust)] * count + [(None, None)],
        method="highs",
    )
    if not solved.success:
        return np.zeros_like(positions)
    step: Points = solved.x[:count].reshape(positions.shape)
    return step


def _starts(outline: Outline, wick_count: int, spacing: float) -> Iterator[Points]:
    """Yield starts: rings with and without one in the middle, rows, and a few at random."""
    width, height = outline.half_width_mm, outline.half_height_mm
    if wick_count == 1:
        yield np.zeros((1, 2))
        return
    stretch = np.array([width, height])
    if wick_count == 2 and width == height:
        apart = equal_slices(width, 2)
        yield apart
        yield apart * max(1.0, spacing / (2 * apart[:, 0].max()))
        return
    for middle in (0, 1) if wick_count > 4 else (0,):
        ring = wick_count - middle
        # With one in the middle the best ring lies far out, or at the least distance to the wall.
        for radius in (0.75, 0.95) if middle else (0.5, 0.75):
            turned = [2 * pi * n / ring + 0.1 for n in range(ring)]
            points = [[radius * cos(a), radius * sin(a)] for a in turned] + [[0.0, 0.0]] * middle
            yield np.array(points) * stretch
    for rows in (1, 2, 3):
        if not isinstance(outline, Oval) or not outline.is_round:
            yield _in_rows(wick_count, rows) * stretch
    dice = np.random.default_rng(wick_count)
    for _ in range(4 if wick_count > 4 else 2):
        yield dice.uniform(-0.7, 0.7, (wick_count, 2)) * stretch * np.sqrt(0.5)


def _in_rows(count: int, rows: int) -> Points:
    points = []
    for row in range(rows):
        in_row = count // rows + (row < count % rows)
        y = (row + 0.5) / rows * 2 - 1
        points += [[(n + 0.5) / max(in_row, 1) * 2 - 1, y] for n in range(in_row)]
    return np.array(points) * 0.999


def _tidied(positions: Points, outline: Outline) -> Points:
    """Turn a round vessel's placement so that one wick stands at the far side, and sort it."""
    if isinstance(outline, Oval) and outline.is_round:
        radii = np.hypot(positions[:, 0], positions[:, 1])
        if radii.max() > 1e-6:
            first = positions[radii.argmax()]
            turn = pi / 2 - np.arctan2(first[1], first[0])
            spin = np.array([[cos(turn), -sin(turn)], [sin(turn), cos(turn)]])
            positions = positions @ spin.T
    angles = np.round(np.arctan2(positions[:, 1], positions[:, 0]) % (2 * pi), 6)
    return positions[np.argsort(angles, kind="stable")]


def equal_slices(radius_mm: float, wick_count: int) -> Points:
    """Return the other habit for round vessels: each wick at the middle of its equal slice."""
    return np.array(ring_positions_mm(vessel_inner_radius_mm=radius_mm, wick_count=wick_count))
