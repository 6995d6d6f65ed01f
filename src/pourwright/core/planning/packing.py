"""
Splitting what is poured of one formula (or one wax) in a session into whole melts.

A vessel is filled from one melt, so masses have to fit by the vessel. The search is by depth, a
melt at a time, and gives up after so many steps: then the plan tries something else.
"""

from __future__ import annotations

from collections.abc import Sequence

from pourwright.core.planning.ground import Ground

MOST_STEPS = 3000

Items = tuple[tuple[int, int], ...]
"""Product and vessels."""
Draws = tuple[tuple[int, Items], ...]
"""Formula and what is filled from it."""


def pack(ground: Ground, m: int, items: Items) -> tuple[Draws, ...] | None:
    """Return the fewest melts of melter ``m`` that hold the items; None where none was found."""
    melter = ground.melters[m]
    if melter.pitchers:
        return _pack_pitchers(ground, m, items)
    masses = [ground.goods[k].fill_mg for k, _ in items]
    counts = [q for _, q in items]
    bins = fewest_bins(masses, counts, least=melter.minimum_mg, most=melter.capacity_mg)
    if bins is None:
        return None
    formula = ground.goods[items[0][0]].formula
    return tuple(
        ((formula, tuple((items[i][0], q) for i, q in enumerate(one) if q)),) for one in bins
    )


def fewest_bins(
    masses: Sequence[int], counts: Sequence[int], *, least: int, most: int
) -> list[list[int]] | None:
    """Return counts by bin, each bin's mass within the limits, in as few bins as are found."""
    total = sum(w * q for w, q in zip(masses, counts, strict=True))
    if not total:
        return []
    first = -(-total // most)
    for bins in range(first, first + 3):
        if bins * least > total:
            return None
        steps = [MOST_STEPS]
        found = _fill(masses, list(counts), bins, least, most, steps)
        if found is not None:
            return found
    return None


def _fill(
    masses: Sequence[int], left: list[int], bins: int, least: int, most: int, steps: list[int]
) -> list[list[int]] | None:
    total = sum(w * q for w, q in zip(masses, left, strict=True))
    if bins == 1:
        return [list(left)] if least <= total <= most else None
    low = max(least, total - (bins - 1) * most)
    high = min(most, total - (bins - 1) * least)
    order = sorted(range(len(masses)), key=lambda i: -masses[i])
    one = [0] * len(masses)

    def choose(at: int, mass: int) -> list[list[int]] | None:
        steps[0] -= 1
        if steps[0] < 0:
            return None
        if at == len(order):
            if not low <= mass <= high:
                return None
            rest = [q - t for q, t in zip(left, one, strict=True)]
            after = _fill(masses, rest, bins - 1, least, most, steps)
            return None if after is None else [list(one), *after]
        i = order[at]
        reach = sum(masses[j] * left[j] for j in order[at + 1 :])
        for q in range(min(left[i], (high - mass) // masses[i]), -1, -1):
            if mass + q * masses[i] + reach < low:
                break
            one[i] = q
            found = choose(at + 1, mass + q * masses[i])
            if found is not None:
                return found
        one[i] = 0
        return None

    return choose(0, 0) if low <= high else None


def _pack_pitchers(ground: Ground, m: int, items: Items) -> tuple[Draws, ...] | None:
    """Return melts of plain wax: vessels into pitchers by formula, pitchers into melts."""
    melter = ground.melters[m]
    pitchers: list[tuple[int, int, Items]] = []
    for formula in sorted({ground.goods[k].formula for k, _ in items}):
        mine = [(k, q) for k, q in items if ground.goods[k].formula == formula]
        bins = fewest_bins(
            [ground.goods[k].fill_mg for k, _ in mine], [q for _, q in mine],
            least=0, most=melter.pitcher_mg,
        )  # fmt: skip
        if bins is None:
            return None
        for one in bins:
            poured = tuple((mine[i][0], q) for i, q in enumerate(one) if q)
            wax = sum(ground.goods[k].wax_mg * q for k, q in poured)
            pitchers.append((wax, formula, poured))
    pitchers.sort(key=lambda p: (-p[0], p[1]))
    total = sum(p[0] for p in pitchers)
    first = max(-(-total // melter.capacity_mg), -(-len(pitchers) // melter.pitchers))
    for melts in range(first, len(pitchers) + 1):
        if melts * melter.minimum_mg > total:
            return None
        found = _share(ground, m, pitchers, melts, evenly=bool(melter.minimum_mg))
        if found is not None:
            return found
    return None


def _share(
    ground: Ground, m: int, pitchers: Sequence[tuple[int, int, Items]], melts: int, *, evenly: bool
) -> tuple[Draws, ...] | None:
    """Return pitchers by melt, the fullest first: each into the emptiest (or the first) melt."""
    melter = ground.melters[m]
    held = [0] * melts
    into: list[list[tuple[int, Items]]] = [[] for _ in range(melts)]
    for wax, formula, poured in pitchers:
        fits = [
            i for i in range(melts)
            if held[i] + wax <= melter.capacity_mg and len(into[i]) < melter.pitchers
        ]  # fmt: skip
        if not fits:
            return None
        i = min(fits, key=lambda i: held[i]) if evenly else fits[0]
        held[i] += wax
        into[i].append((formula, poured))
    if min(held) < melter.minimum_mg:
        return None
    return tuple(tuple(one) for one in into)
