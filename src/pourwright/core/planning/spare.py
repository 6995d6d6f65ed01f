"""Pouring more into what a plan leaves free: half-empty melts, free table places, free hours."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pourwright.core.planning.draft import Cell, Draft, Items, Judge


def pour_more(
    judge: Judge, draft: Mapping[Cell, Items], k: int, sessions: Iterable[int], vessels: int
) -> tuple[Draft, list[tuple[int, int]]]:
    """
    Return the draft with up to ``vessels`` more of product ``k``, and where they went.

    Sessions are filled in the order given, each as far as everything still fits.
    """
    now = dict(draft)
    went: list[tuple[int, int]] = []
    left = vessels
    for s in sessions:
        stint = judge.ground.stints[s]
        if not left:
            break
        if stint.frozen or not stint.people:
            continue
        took = 0
        for m in stint.melters:
            fits, now = _fill(judge, now, (s, m, judge.ground.group_of(k, m)), k, left)
            took += fits
            left -= fits
        if took:
            went.append((s, took))
    return now, went


def _fill(judge: Judge, draft: Draft, cell: Cell, k: int, most: int) -> tuple[int, Draft]:
    """Return how many more fit into one cell and the draft with them: by halving."""
    low, best = 0, draft
    high = min(most, _roughly(judge, cell, k))
    tried = high
    while low < high:
        more = _with(draft, cell, k, tried)
        if judge.judge(more) is not None:
            low, best = tried, more
        else:
            high = tried - 1
        tried = (low + high + 1) // 2
    return low, best


def _roughly(judge: Judge, cell: Cell, k: int) -> int:
    """Return more than can fit into a cell whatever else is there."""
    s, m, _ = cell
    ground = judge.ground
    melter, good = ground.melters[m], ground.goods[k]
    fixed = melter.set_up_s + melter.melt_s + melter.cool_s + melter.wipe_s
    melts = ground.stints[s].length_s // fixed if fixed else 20
    most = max(1, melts) * melter.capacity_mg // ground.mass_in_melter(k, m)
    if good.places:
        most = min(most, ground.places // good.places)
    return most


def _with(draft: Mapping[Cell, Items], cell: Cell, k: int, units: int) -> Draft:
    items = dict(draft.get(cell, ()))
    items[k] = items.get(k, 0) + units
    return {**draft, cell: tuple(sorted(items.items()))}
