"""
Where a flame's heat goes: near the wick by contact, and by radiation to all that it sees.

The radiating flame is a few points above the pool. On the axis each point's share is the solid
angle of what it sees first, cliffs of unmelted wax included; off the axis (a ring of wicks) the
surface is taken as level.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import pi

import numpy as np

from pourwright.core.heat.marching import Array


@dataclass(frozen=True, slots=True)
class Seen:
    """Shares of the radiation: each ring's top, the inner cliff of each ring, each wall node."""

    tops: Array
    cliffs: Array
    wall: Array


def near_wick(radii_m: Array, *, ring_radius_m: float, width_m: float) -> Array:
    """
    Return each ring's share of the heat given back near the wicks: a Gaussian of that width.

    Wicks on a ring are smeared along it.
    """
    from scipy.special import i0e  # type: ignore[import-untyped]  # slow to load

    fine = 8
    share = np.empty(len(radii_m) - 1)
    for j, (low, high) in enumerate(pairwise(radii_m)):
        r = low + (high - low) * (np.arange(fine) + 0.5) / fine
        along = r * ring_radius_m / width_m**2
        share[j] = float(
            (np.exp(-((r - ring_radius_m) ** 2) / (2 * width_m**2)) * i0e(along) * r).sum()
        ) * (high - low)
    return np.asarray(share / share.sum())


def seen_from_axis(
    radii_m: Array, tops_m: Array, wall_faces_m: Array, heights_m: tuple[float, ...]
) -> Seen:
    """Return what points on the axis see, ``heights_m`` above the middle ring's top."""
    nr = len(tops_m)
    # The profile from the middle outward: along each ring's top, up or down to the next.
    r = np.empty(2 * nr)
    r[0::2], r[1::2] = radii_m[:-1], radii_m[1:]
    z = np.repeat(tops_m, 2)
    wall_z = np.maximum(wall_faces_m, tops_m[-1])
    tops, cliffs, wall = np.zeros(nr), np.zeros(nr), np.zeros(len(wall_faces_m) - 1)
    for height in heights_m:
        above = tops_m[0] + height
        angles = np.concatenate([np.arctan2(r, above - z), np.arctan2(radii_m[-1], above - wall_z)])
        reached = np.cos(np.maximum.accumulate(angles))
        shares = -np.diff(reached) / 2
        tops += shares[0 : 2 * nr : 2]
        cliffs[1:] += shares[1 : 2 * nr - 1 : 2]
        wall += shares[2 * nr :]
    n = len(heights_m)
    return Seen(tops / n, cliffs / n, wall / n)


def seen_from_ring(
    radii_m: Array, level_m: float, wall_faces_m: Array, heights_m: tuple[float, ...],
    ring_radius_m: float,
) -> Seen:  # fmt: skip
    """Return what points on a ring see of a level surface and of the wall above it."""
    turn = (np.arange(90) + 0.5) * pi / 90  # one half; the other is its mirror
    fine = 4
    tops = np.zeros(len(radii_m) - 1)
    wall = np.zeros(len(wall_faces_m) - 1)
    radius = radii_m[-1]
    for height in heights_m:
        for part in range(fine):
            r = radii_m[:-1] + np.diff(radii_m) * (part + 0.5) / fine
            area = 2 * pi * r * np.diff(radii_m) / fine
            flat = r[:, None] ** 2 + ring_radius_m**2
            flat = flat - 2 * r[:, None] * ring_radius_m * np.cos(turn)
            tops += area / (4 * pi) * (height / (flat + height**2) ** 1.5).mean(axis=1)
            low = np.maximum(wall_faces_m[:-1], level_m)
            high = np.maximum(wall_faces_m[1:], level_m)
            z = low + (high - low) * (part + 0.5) / fine - level_m - height
            strip = 2 * pi * radius * (high - low) / fine
            toward = radius - ring_radius_m * np.cos(turn)
            flat = radius**2 + ring_radius_m**2 - 2 * radius * ring_radius_m * np.cos(turn)
            wall += strip / (4 * pi) * (toward / (flat + z[:, None] ** 2) ** 1.5).mean(axis=1)
    n = len(heights_m)
    return Seen(tops / n, np.zeros_like(tops), wall / n)
