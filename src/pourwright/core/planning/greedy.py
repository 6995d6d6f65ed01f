"""
First plans as a careful maker would lay them: forward over the calendar, most urgent scent first.

In each session and melter the scent is taken whose next line has to be poured first (due less
cure); the melter is filled with that scent's lines in due order, up to so many days ahead, within
table, time, hands and materials; then the next melt. Look-ahead, whether overdue orders come first
and whether orders come before the rest vary; the best of all variants is where the search begins.
Then lines that came late are made more urgent, and the calendar is laid again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pourwright.core.planning.draft import Cell, Draft, Items, Judge, Verdict
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.timetable import Batch, busy_s, chain_s

LOOK_AHEAD_DAYS = (7, 14, 21, 28, 42, 70, 112)
HAND_AHEAD_DAYS = 28
CAUTION_PER_100 = (100, 90, 80, 60, 40, 20, 0)
ROUNDS = 24
LARGE = 20_000
MOST_IN_VAIN = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How the calendar is laid. ``urgency``: days by which a line is treated as due earlier."""

    ahead_days: int = HAND_AHEAD_DAYS
    overdue_first: bool = False
    orders_first: bool = False
    urgency: tuple[tuple[int, int], ...] = ()


HABITS = tuple(
    Habit(ahead_days=days, overdue_first=overdue, orders_first=orders)
    for days in LOOK_AHEAD_DAYS
    for overdue in (False, True)
    for orders in (False, True)
)
HAND = Habit()


def lay(judge: Judge, habit: Habit) -> Verdict:
    """Return the calendar laid by a habit, more cautious about hands until everything fits."""
    for caution in CAUTION_PER_100:
        found = judge.judge(_Calendar(judge, habit, caution).laid())
        if found is not None:
            return found
    raise AssertionError("a calendar with nothing new in it was refused")


def habits_for(ground: Ground) -> tuple[Sequence[Habit], int]:
    """
    Return the habits worth trying before a search, and the rounds of growing urgency.

    A large plan gains more from a search in the same time than from every habit.
    """
    size = sum(map(len, ground.wants)) * len(ground.stints) * len(ground.melters)
    if size <= LARGE:
        return HABITS, ROUNDS
    chosen = [h for h in HABITS if h.ahead_days in (14, 28, 70) and not h.overdue_first]
    return chosen, ROUNDS // 6


def best_of_all(judge: Judge) -> Verdict:
    """Return the best calendar of all habits (the first of equals)."""
    return min((lay(judge, habit) for habit in HABITS), key=lambda v: v.key)


def adjusting(
    judge: Judge, first: Verdict, *, rounds: int = ROUNDS, stop: Callable[[], bool] | None = None
) -> Verdict:
    """Return the best calendar found while late lines gain urgency, round by round."""
    best = first
    urgency: dict[int, int] = {}
    ahead = (HAND_AHEAD_DAYS, 14, 42)
    last, since = first, 0
    for turn in range(rounds):
        since += 1
        stopped = stop is not None and stop()
        if last.late_weight == 0 or since > MOST_IN_VAIN or stopped:
            break
        for k, served in enumerate(last.served):
            for want, on_time in zip(judge.ground.wants[k], served.on_time, strict=True):
                if on_time < want.quantity:
                    urgency[want.place] = urgency.get(want.place, 0) + 3
        habit = Habit(
            ahead_days=ahead[turn % len(ahead)], orders_first=bool(turn % 2),
            urgency=tuple(sorted(urgency.items())),
        )  # fmt: skip
        last = lay(judge, habit)
        if last.key < best.key:
            best, since = last, 0
    return best


@dataclass(slots=True)
class _Need:
    """Units of a line still to be poured, by when (a day), and whether it is still owed after."""

    k: int
    by: int
    urgent_by: int
    units: int
    order: bool


class _Calendar:
    """One laying of the calendar."""

    def __init__(self, judge: Judge, habit: Habit, caution_per_100: int) -> None:
        self.judge, self.ground, self.habit = judge, judge.ground, habit
        self.caution = caution_per_100
        ground = self.ground
        self.draft: dict[Cell, dict[int, int]] = {}
        self.batches: list[list[Batch]] = [list(one) for one in judge.pinned]
        self.poured = [0] * len(ground.goods)
        self.on_table = [0] * len(ground.stints)
        self.used = [0] * len(ground.stuffs)
        self.stuff_room: list[list[int]] = self._stuff_room()
        self.least_places = min((g.places for g in ground.goods), default=0)
        pinned = [dict(self._items(one)) for one in judge.pinned]
        for s, items in enumerate(pinned):
            for k, q in items.items():
                self._lay_on_table(s, k, q)
        self.needs = self._needs(pinned)

    @staticmethod
    def _items(batches: tuple[Batch, ...]) -> Items:
        sums: dict[int, int] = {}
        for _, draws in batches:
            for _, items in draws:
                for k, q in items:
                    sums[k] = sums.get(k, 0) + q
        return tuple(sorted(sums.items()))

    def _needs(self, pinned: list[dict[int, int]]) -> list[list[_Need]]:
        """Return what lots and pinned melts leave to be poured, by formula."""
        ground = self.ground
        urgency = dict(self.habit.urgency)
        needs: list[list[_Need]] = [[] for _ in ground.of_formula]
        for k, good in enumerate(ground.goods):
            poured = tuple((s, items[k]) for s, items in enumerate(pinned) if items.get(k))
            self.poured[k] = sum(q for _, q in poured)
            have = self.judge.serve(k, poured)
            for want, on_time in zip(ground.wants[k], have.on_time, strict=True):
                left = want.quantity - on_time
                if left:
                    by = want.due - good.cure_days
                    urgent = by - urgency.get(want.place, 0)
                    needs[good.formula].append(_Need(k, by, urgent, left, want.order))
        for mine in needs:
            mine.sort(key=lambda n: (n.urgent_by, n.by, n.k))
        return needs

    def _stuff_room(self) -> list[list[int]]:
        """Return by material and session how much pinned melts leave to be used up to it."""
        ground = self.ground
        rows = []
        use = [[0] * len(ground.stints) for _ in ground.stuffs]
        for s, one in enumerate(self.judge.pinned):
            for k, q in self._items(one):
                for i, amount in ground.goods[k].uses:
                    use[i][s] += q * amount
        for i, stuff in enumerate(ground.stuffs):
            total, row = 0, []
            for s in range(len(ground.stints)):
                total += use[i][s]
                row.append(stuff.by_session[s] - total)
            # What may be used by session s is the least of all bound sessions from s on.
            least = None
            for s in range(min(stuff.bound_until, len(row)) - 1, -1, -1):
                least = row[s] if least is None else min(least, row[s])
                row[s] = least
            rows.append(row)
        return rows

    def _lay_on_table(self, s: int, k: int, q: int) -> None:
        good = self.ground.goods[k]
        for t in self.ground.rests[s][good.setting_s]:
            self.on_table[t] += q * good.places

    # --- laying ----------------------------------------------------------------------------------

    def laid(self) -> Draft:
        for s, stint in enumerate(self.ground.stints):
            if stint.frozen or not stint.people or not self.caution:
                continue
            for m in stint.melters:
                tried: set[int] = set()
                self._prune(s)
                while self._room_left(s, m):
                    formula = self._most_urgent(s, tried)
                    if formula is None:
                        break
                    if not self._melt(s, m, formula):
                        tried.add(formula)
        return {
            cell: tuple(sorted((k, q) for k, q in items.items() if q))
            for cell, items in self.draft.items()
        }

    def _open(self, s: int, need: _Need) -> bool:
        """Return whether pouring in session ``s`` still serves a need."""
        return bool(need.units) and (need.order or self.ground.stints[s].day <= need.by)

    def _rank(self, s: int, need: _Need) -> tuple[int, int, int]:
        day = self.ground.stints[s].day
        overdue = need.by < day
        first = 0 if overdue and self.habit.overdue_first else 1
        if overdue and not self.habit.overdue_first:
            first = 2
        second = 0 if need.order or not self.habit.orders_first else 1
        return (first, second, need.urgent_by)

    def _in_turn(self, s: int, formula: int, ahead: int) -> list[_Need]:
        until = self.ground.stints[s].day + ahead
        found = [
            n for n in self.needs[formula] if self._open(s, n) and n.urgent_by <= until
        ]  # fmt: skip
        found.sort(key=lambda n: self._rank(s, n))
        return found

    def _prune(self, s: int) -> None:
        """Forget what is served or can no longer be."""
        self.needs = [[n for n in mine if self._open(s, n)] for mine in self.needs]

    def _room_left(self, s: int, m: int) -> bool:
        """Return whether the session has table and time for one more melt at all."""
        stint, melter = self.ground.stints[s], self.ground.melters[m]
        if stint.most_melts is not None and len(self.batches[s]) >= stint.most_melts:
            return False
        if self.least_places and self.on_table[s] + self.least_places > self.ground.places:
            return False
        fixed = melter.set_up_s + melter.melt_s + melter.stir_s + melter.cool_s + melter.wipe_s
        taken = chain_s(self.ground, [b for b in self.batches[s] if b[0] == m])
        return taken + fixed <= stint.length_s

    def _most_urgent(self, s: int, tried: set[int]) -> int | None:
        best, which = None, None
        until = self.ground.stints[s].day + self.habit.ahead_days
        for formula, mine in enumerate(self.needs):
            if formula in tried:
                continue
            for need in mine:
                if need.urgent_by > until:
                    break
                if self._open(s, need):
                    rank = self._rank(s, need)
                    if best is None or rank < best:
                        best, which = rank, formula
        return which

    def _melt(self, s: int, m: int, formula: int) -> bool:
        """Lay one melt with a formula (and, drawn off, others of its wax); False if none fits."""
        melter = self.ground.melters[m]
        room = _Melt(self, s, m)
        formulas = [formula]
        if melter.pitchers:
            wax = self.ground.wax_of[formula]
            others = [
                (self._rank(s, found[0]), f)
                for f in range(len(self.needs))
                if f != formula
                and self.ground.wax_of[f] == wax
                and (found := self._in_turn(s, f, self.habit.ahead_days))
            ]
            formulas += [f for _, f in sorted(others)]
        for f in formulas[: max(1, melter.pitchers)]:
            for need in self._in_turn(s, f, self.habit.ahead_days):
                room.add(need)
        if not room.total:
            return False
        if room.mass < melter.minimum_mg:
            self._top_up(room, formulas[: max(1, melter.pitchers)])
        if room.mass < melter.minimum_mg:
            return False
        return self._keep(room)

    def _top_up(self, room: _Melt, formulas: list[int]) -> None:
        """Fill to the least that the melter takes: later lines first, then extra units."""
        for f in formulas:
            for need in self._in_turn(room.s, f, self.ground.horizon + 366):
                room.add(need)
        least = self.ground.melters[room.m].minimum_mg
        for k in sorted(room.units):
            each = self.ground.mass_in_melter(k, room.m)
            short = -(-(least - room.mass) // each)
            if short > 0:
                room.extra(k, short)

    def _keep(self, room: _Melt) -> bool:
        s, m = room.s, room.m
        by_group: dict[int, dict[int, int]] = {}
        for k, q in room.units.items():
            by_group.setdefault(self.ground.group_of(k, m), {})[k] = q
        for group, items in by_group.items():
            cell = self.draft.get((s, m, group), {})
            both = {k: cell.get(k, 0) + items.get(k, 0) for k in cell.keys() | items.keys()}
            if self.judge.melts_of(m, tuple(sorted(both.items()))) is None:
                return False
        for group, items in by_group.items():
            cell = self.draft.setdefault((s, m, group), {})
            for k, q in items.items():
                cell[k] = cell.get(k, 0) + q
        self.batches[s].append((m, room.draws()))
        for k, q in room.units.items():
            self._lay_on_table(s, k, q)
            for i, amount in self.ground.goods[k].uses:
                for t in range(len(self.stuff_room[i])):
                    if t >= s or t < self.ground.stuffs[i].bound_until:
                        self.stuff_room[i][t] -= q * amount
            good = self.ground.kept(self.poured[k] + q) - self.ground.kept(self.poured[k])
            self.poured[k] += q
            for need in self._in_turn(s, self.ground.goods[k].formula, self.ground.horizon + 366):
                if need.k == k and good:
                    took = min(good, need.units)
                    need.units -= took
                    good -= took
        return True


class _Melt:
    """One melt being filled."""

    def __init__(self, calendar: _Calendar, s: int, m: int) -> None:
        self.calendar, self.s, self.m = calendar, s, m
        self.units: dict[int, int] = {}
        self.good: dict[int, int] = {}
        self.mass = 0
        self.total = 0
        self._known: dict[tuple[int, ...], tuple[int, int]] = {}

    def add(self, need: _Need) -> None:
        """Add what the need still asks, as far as it fits."""
        ground = self.calendar.ground
        k = need.k
        poured = self.calendar.poured[k]
        before = ground.kept(poured)
        wanted = self.good.get(k, 0) + need.units
        units = max(0, ground.to_pour(before + wanted) - poured - self.units.get(k, 0))
        took = self.extra(k, units)
        have = ground.kept(poured + self.units.get(k, 0)) - before
        self.good[k] = min(wanted, have) if took or units == 0 else self.good.get(k, 0)

    def extra(self, k: int, units: int) -> int:
        """Add up to so many vessels; return how many fitted."""
        took = min(units, self._fits(k))
        if took > 0:
            self.units[k] = self.units.get(k, 0) + took
            self.mass += took * self.calendar.ground.mass_in_melter(k, self.m)
            self.total += took
        return max(0, took)

    def draws(self) -> tuple[tuple[int, Items], ...]:
        by_formula: dict[int, list[tuple[int, int]]] = {}
        for k, q in sorted(self.units.items()):
            by_formula.setdefault(self.calendar.ground.goods[k].formula, []).append((k, q))
        return tuple((f, tuple(items)) for f, items in sorted(by_formula.items()))

    def _fits(self, k: int) -> int:
        """Return how many more vessels of a product this melt, table, time and stock allow."""
        calendar, ground = self.calendar, self.calendar.ground
        good, melter = ground.goods[k], ground.melters[self.m]
        fits = (melter.capacity_mg - self.mass) // ground.mass_in_melter(k, self.m)
        if melter.pitchers:
            filled = sum(
                q * ground.goods[n].fill_mg
                for n, q in self.units.items()
                if ground.goods[n].formula == good.formula
            )
            fits = min(fits, (melter.pitcher_mg - filled) // good.fill_mg)
        if good.places:
            on_table = sum(q * ground.goods[n].places for n, q in self.units.items())
            fits = min(fits, (ground.places - calendar.on_table[self.s] - on_table) // good.places)
        for i, amount in good.uses:
            if amount and self.s < ground.stuffs[i].bound_until:
                taken = sum(
                    q * used
                    for n, q in self.units.items()
                    for j, used in ground.goods[n].uses
                    if j == i
                )
                fits = min(fits, (calendar.stuff_room[i][self.s] - taken) // amount)
        if fits <= 0:
            return 0
        time_left, hands = self._left(k)
        for n, q in self.units.items():
            each = ground.goods[n].pour_s
            time_left -= q * (ground.melt_s_of(n, self.m) + each)
            hands -= q * (each + ground.goods[n].prep_s)
        if time_left < 0 or hands < 0:
            return 0
        each = ground.melt_s_of(k, self.m) + good.pour_s
        fits = min(fits, time_left // each if each else fits)
        if good.pour_s + good.prep_s:
            fits = min(fits, hands // (good.pour_s + good.prep_s))
        return max(0, fits)

    def _left(self, k: int) -> tuple[int, int]:
        """Return the melter's time and the hands left before any vessel of this melt is counted."""
        calendar, ground = self.calendar, self.calendar.ground
        formulas = {ground.goods[n].formula for n in self.units} | {ground.goods[k].formula}
        key = tuple(sorted(formulas))
        if key not in self._known:
            stint = ground.stints[self.s]
            batches = [*calendar.batches[self.s], (self.m, tuple((f, ()) for f in key))]
            mine = [b for b in batches if b[0] == self.m]
            own = sum(
                q * ground.goods[n].prep_s
                for b in calendar.batches[self.s] for _, items in b[1] for n, q in items
            )  # fmt: skip
            self._known[key] = (
                stint.length_s - chain_s(ground, mine),
                stint.maker_s * calendar.caution // 100 - busy_s(ground, batches) - own,
            )
        return self._known[key]
