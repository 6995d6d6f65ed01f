"""Pouring more into what a plan leaves free: half-empty melts, free table places, free hours."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from pourwright.core.planning.draft import Cell, Draft, Items, Judge, Verdict
from pourwright.core.planning.timetable import busy_s, chain_s

MOST_TRIED = 250


def pour_more(
    judge: Judge, now: Verdict, k: int, sessions: Iterable[int], vessels: int,
    *, most_tried: int = MOST_TRIED,
) -> tuple[Draft, list[tuple[int, int]]]:  # fmt: skip
    """
    Return the draft with up to ``vessels`` more of product ``k``, and where they went.

    Sessions are filled in the order given, each as far as everything still fits. What sums alone
    rule out is not tried, and no more than ``most_tried`` drafts are judged: a count, not a clock,
    so that the answer is the same on any machine.
    """
    filling = _Filling(judge, now, k, most_tried)
    went: list[tuple[int, int]] = []
    left = vessels
    for s in sessions:
        stint = judge.ground.stints[s]
        if not left or not filling.tries:
            break
        if stint.frozen or not stint.people:
            continue
        took = 0
        for m in stint.melters:
            fits = filling.fill((s, m, judge.ground.group_of(k, m)), left)
            took += fits
            left -= fits
        if took:
            went.append((s, took))
    return filling.draft, went


class _Filling:
    """A draft that is filled further, and what its sessions have left, by sums."""

    def __init__(self, judge: Judge, now: Verdict, k: int, tries: int) -> None:
        self.judge, self.ground, self.k, self.tries = judge, judge.ground, k, tries
        self.draft: Draft = dict(now.draft)
        self.good = self.ground.goods[k]
        self._take(now)

    def _take(self, now: Verdict) -> None:
        ground = self.ground
        self.batches = now.batches
        by_session: list[dict[int, int]] = [{} for _ in ground.stints]
        for k, poured in enumerate(now.poured):
            for s, q in poured:
                by_session[s][k] = q
        self.pours = [bool(items) for items in by_session]
        self.on_table = [0] * len(ground.stints)
        used = [0] * len(ground.stuffs)
        self.used: list[list[int]] = []
        for s, items in enumerate(by_session):
            for k, q in items.items():
                good = ground.goods[k]
                for t in ground.rests[s][good.setting_s]:
                    self.on_table[t] += q * good.places
                for i, amount in good.uses:
                    used[i] += q * amount
            self.used.append(list(used))

    def fill(self, cell: Cell, most: int) -> int:
        """Put as many more into one cell as fit, by halving; return how many."""
        most = min(most, self._roughly(cell))
        least = self._least(cell)
        if most < least:
            return 0
        best = self._tried(cell, most)
        if best is not None:
            return self._kept(best, most)
        # Most sessions that look free are not: whether one more fits is asked before how many.
        best = self._tried(cell, least)
        if best is None:
            return 0
        low, high = least, most - 1
        while low < high:
            half = (low + high + 1) // 2
            found = self._tried(cell, half)
            if found is not None:
                low, best = half, found
            else:
                high = half - 1
        return self._kept(best, low)

    def _tried(self, cell: Cell, units: int) -> Verdict | None:
        if not self.tries:
            return None
        self.tries -= 1
        return self.judge.judge(_with(self.draft, cell, self.k, units))

    def _kept(self, found: Verdict, units: int) -> int:
        self.draft = dict(found.draft)
        self._take(found)
        return units

    def _least(self, cell: Cell) -> int:
        """Return the fewest that make a melt of their own where the cell is empty."""
        if cell in self.draft:
            return 1
        least = self.ground.melters[cell[1]].minimum_mg
        return max(1, -(-least // self.ground.mass_in_melter(self.k, cell[1])))

    def _roughly(self, cell: Cell) -> int:
        """Return no fewer than can be added to a cell: what each limit by itself leaves."""
        s = cell[0]
        return max(0, min(self._by_time(cell), self._by_table(s), self._by_materials(s)))

    def _by_time(self, cell: Cell) -> int:
        s, m, _ = cell
        ground, stint = self.ground, self.ground.stints[s]
        melter, here = ground.melters[m], self.batches[s]
        mine = [batch for batch in here if batch[0] == m]
        left = stint.length_s - chain_s(ground, mine)
        hands = stint.maker_s - busy_s(ground, here)
        if cell not in self.draft:
            if stint.most_melts is not None and len(here) >= stint.most_melts:
                return 0
            busy = melter.set_up_s + melter.wipe_s + melter.stir_s
            left -= busy + melter.melt_s + melter.cool_s
            hands -= busy
        if left < 0 or hands < 0:
            return 0
        each = self.good.pour_s + ground.melt_s_of(self.k, m)
        fits = left // each if each else self._by_mass(m, left)
        if self.good.pour_s:
            fits = min(fits, hands // self.good.pour_s)
        return fits

    def _by_mass(self, m: int, left: int) -> int:
        melter = self.ground.melters[m]
        fixed = melter.set_up_s + melter.melt_s + melter.cool_s + melter.wipe_s
        melts = 1 + (left // fixed if fixed else 20)
        return melts * melter.capacity_mg // self.ground.mass_in_melter(self.k, m)

    def _by_table(self, s: int) -> int:
        if not self.good.places:
            return 10**9
        rests = self.ground.rests[s][self.good.setting_s]
        free = min(self.ground.places - self.on_table[t] for t in rests if t == s or self.pours[t])
        return free // self.good.places

    def _by_materials(self, s: int) -> int:
        fits = 10**9
        for i, amount in self.good.uses:
            stuff = self.ground.stuffs[i]
            for t in range(s, stuff.bound_until):
                if amount and (t == s or self.pours[t]):
                    fits = min(fits, (stuff.by_session[t] - self.used[t][i]) // amount)
        return fits


def _with(draft: Mapping[Cell, Items], cell: Cell, k: int, units: int) -> Draft:
    items = dict(draft.get(cell, ()))
    items[k] = items.get(k, 0) + units
    return {**draft, cell: tuple(sorted(items.items()))}
