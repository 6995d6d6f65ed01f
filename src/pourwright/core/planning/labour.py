"""
Wick prep and finishing shared out over the sessions, around the melts.

A vessel is prepared at the latest in the session that pours it, and finished from some hours after
it (set) to some days after it, but no later than the day it is ready, or in the first session there
is. Wanted is prep in the session
itself; where that does not fit, everything is placed by earliest deadline, which finds a way
whenever there is one (up to one vessel's minutes a session).
Source: Jackson's rule; Horn, "Some simple scheduling algorithms", Naval Research Logistics
Quarterly 21 (1974), from memory.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

from pourwright.core.planning.ground import DAY_S, Ground

Items = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Shares:
    """By session: the vessels to prepare and to finish, by product."""

    prep: tuple[Items, ...]
    finish: tuple[Items, ...]


def finish_window(ground: Ground, s: int) -> tuple[int, int] | None:
    """Return the first and last session that may finish what session ``s`` poured; None: none."""
    problem = ground.problem
    free = ground.stints[s].end + problem.finish_after_s
    first = next((t for t in range(s, len(ground.stints)) if ground.stints[t].start >= free), None)
    if first is None:
        return None
    limit = (ground.stints[s].day + problem.finish_within_days + 1) * DAY_S
    last = first
    while last + 1 < len(ground.stints) and ground.stints[last + 1].start < limit:
        last += 1
    # Nothing has to be finished before the plan ends where its time goes on after it.
    if last == len(ground.stints) - 1 and ground.stints[last].start < limit - DAY_S:
        return first, len(ground.stints)
    return first, last


class Hands:
    """Labour on one ground: the windows are worked out once."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        self.windows = [finish_window(ground, s) for s in range(len(ground.stints))]
        self.lasts: dict[tuple[int, int], int] = {}

    def share(self, poured: Sequence[Items], busy_s: Sequence[int]) -> Shares | None:
        """
        Return who does what when; None where hands do not suffice.

        ``poured`` and ``busy_s`` go by session: vessels by product, and the melts' busy seconds.
        """
        room = [st.maker_s - b for st, b in zip(self.ground.stints, busy_s, strict=True)]
        if min(room, default=0) < 0:
            return None
        return self._near(poured, list(room)) or self._by_deadline(poured, list(room))

    def _near(self, poured: Sequence[Items], room: list[int]) -> Shares | None:
        """Prep as late as it goes, then finishing by deadline in what is left."""
        goods = self.ground.goods
        prep: list[Items] = [()] * len(poured)
        carried: dict[int, int] = {}
        for s in range(len(poured) - 1, -1, -1):
            for k, q in poured[s]:
                if goods[k].prep_s:
                    carried[k] = carried.get(k, 0) + q
            if not carried:
                continue
            done = []
            for k in sorted(carried):
                fits = min(carried[k], room[s] // goods[k].prep_s)
                if fits:
                    room[s] -= fits * goods[k].prep_s
                    carried[k] -= fits
                    done.append((k, fits))
            carried = {k: q for k, q in carried.items() if q}
            prep[s] = tuple(done)
        if carried:
            return None
        jobs = self._finishing(poured)
        finish = self._deadlines(jobs, room)
        return None if finish is None else Shares(prep=tuple(prep), finish=finish[1])

    def _by_deadline(self, poured: Sequence[Items], room: list[int]) -> Shares | None:
        goods = self.ground.goods
        jobs = self._finishing(poured)
        for s, items in enumerate(poured):
            jobs += [(0, s, 0, k, q) for k, q in items if goods[k].prep_s]
        found = self._deadlines(jobs, room)
        return None if found is None else Shares(prep=found[0], finish=found[1])

    def _finishing(self, poured: Sequence[Items]) -> list[tuple[int, int, int, int, int]]:
        jobs = []
        for s, items in enumerate(poured):
            window = self.windows[s]
            if window is None:
                continue
            for k, q in items:
                if self.ground.goods[k].finish_s:
                    jobs.append((window[0], self._last(k, s, window), 1, k, q))
        return jobs

    def _last(self, k: int, s: int, window: tuple[int, int]) -> int:
        """Return the last session that may finish a product: not after the day it is ready."""
        found = self.lasts.get((k, s))
        if found is None:
            first, found = window
            ready, stints = self.ground.ready(k, s), self.ground.stints
            if stints[min(found, len(stints) - 1)].day > ready:
                found = max(t for t in range(first, len(stints)) if stints[t].day <= ready)
            self.lasts[k, s] = found
        return found

    def _deadlines(
        self, jobs: list[tuple[int, int, int, int, int]], room: list[int]
    ) -> tuple[tuple[Items, ...], tuple[Items, ...]] | None:
        """Place (first, last, what, product, vessels) by earliest last session."""
        goods = self.ground.goods
        jobs.sort()
        done: tuple[list[dict[int, int]], list[dict[int, int]]] = (
            [{} for _ in room],
            [{} for _ in room],
        )
        waiting: list[tuple[int, int, int, int]] = []
        at = 0
        for s in range(len(room)):
            while at < len(jobs) and jobs[at][0] <= s:
                _, last, what, k, q = jobs[at]
                heapq.heappush(waiting, (last, what, k, q))
                at += 1
            while waiting:
                last, what, k, q = waiting[0]
                if last < s:
                    return None
                each = goods[k].finish_s if what else goods[k].prep_s
                fits = min(q, room[s] // each)
                if fits:
                    room[s] -= fits * each
                    done[what][s][k] = done[what][s].get(k, 0) + fits
                heapq.heappop(waiting)
                if fits < q:
                    heapq.heappush(waiting, (last, what, k, q - fits))
                    break
        if any(last < len(room) for last, *_ in waiting):
            return None
        prep, finish = (tuple(tuple(sorted(one.items())) for one in side) for side in done)
        return prep, finish
