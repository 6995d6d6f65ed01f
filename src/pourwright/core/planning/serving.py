"""
Which units of a product's lines are on time, given what is poured when: exact, by product.

On time is a matter of sums: by each due day, no more units can have been asked for and served than
are ready. Sets of units that can be on time form a matroid (units are matched to what is ready),
so serving lines by falling priority, each as far as it goes, gives the least weight of late units.
Among equals orders come before markets, since they stay owed.
Source: Edmonds, "Matroids and the greedy algorithm", Mathematical Programming 1 (1971), from
memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pourwright.core.planning.ground import Ground, Want

Poured = tuple[tuple[int, int], ...]
"""Session and vessels, in the order of time."""


@dataclass(frozen=True, slots=True)
class Served:
    """
    How a product's lines fare. ``on_time`` goes with the ground's ``wants`` of the product.

    ``owed`` counts unit-days of late orders until they are ready, to the end of the horizon.
    """

    on_time: tuple[int, ...]
    late_weight: int
    owed: int
    early: int


def serve(ground: Ground, k: int, poured: Poured) -> Served:
    """Return the best service of product ``k`` by its lots and what is poured."""
    wants = ground.wants[k]
    come = supply(ground, k, poured)
    on_time = _by_flow(ground, k, come) if ground.spoils[k] else _by_sums(wants, come)
    late = sum(w.priority * (w.quantity - served) for w, served in zip(wants, on_time, strict=True))
    early = sum(q * (ground.horizon - ground.ready(k, s)) for s, q in poured)
    if ground.spoils[k]:
        owed = _owed_by_unit(ground, wants, on_time, come)
    else:
        owed = _owed(ground, wants, on_time, come)
    return Served(on_time=tuple(on_time), late_weight=late, owed=owed, early=early)


@dataclass(frozen=True, slots=True)
class Supply:
    """Good units there from ``ready`` to ``last`` (None: no end); ``session`` -1 for a lot."""

    ready: int
    quantity: int
    last: int | None
    session: int


def supply(ground: Ground, k: int, poured: Poured) -> list[Supply]:
    """Return lots and pours in the order they are ready; scrap is taken over the running sum."""
    come = [
        Supply(ready=h.ready, quantity=h.quantity, last=h.last, session=-1) for h in ground.haves[k]
    ]
    total = 0
    keeps = ground.goods[k].best_before_days
    for s, quantity in poured:
        good = ground.kept(total + quantity) - ground.kept(total)
        total += quantity
        last = None if keeps is None else ground.stints[s].day + keeps
        come.append(Supply(ready=ground.ready(k, s), quantity=good, last=last, session=s))
    return sorted(come, key=lambda c: c.ready)


def by_urgency(wants: Sequence[Want]) -> list[int]:
    """Return the places of lines in the order in which they are served."""
    return sorted(
        range(len(wants)),
        key=lambda i: (-wants[i].priority, not wants[i].order, -wants[i].due, i),
    )


def _by_sums(wants: Sequence[Want], come: Sequence[Supply]) -> list[int]:
    left, at, total = [], 0, 0
    for want in wants:
        while at < len(come) and come[at].ready <= want.due:
            total += come[at].quantity
            at += 1
        left.append(total)
    on_time = [0] * len(wants)
    for i in by_urgency(wants):
        first = i
        while first > 0 and wants[first - 1].due == wants[i].due:
            first -= 1
        took = min(wants[i].quantity, min(left[first:]))
        if took > 0:
            on_time[i] = took
            for j in range(first, len(left)):
                left[j] -= took
    return on_time


def _by_flow(ground: Ground, k: int, come: Sequence[Supply]) -> list[int]:
    """Return on-time units where best-before matters: augmenting paths, line by line."""
    wants = ground.wants[k]
    flow = _Flow(wants, come)
    on_time = [0] * len(wants)
    for i in by_urgency(wants):
        while on_time[i] < wants[i].quantity:
            pushed = flow.push(i, wants[i].quantity - on_time[i])
            if not pushed:
                break
            on_time[i] += pushed
    return on_time


class _Flow:
    """A transport of units from supplies to lines that may still be rerouted."""

    def __init__(self, wants: Sequence[Want], come: Sequence[Supply]) -> None:
        self.left = [c.quantity for c in come]
        self.fits = [
            [
                b for b, c in enumerate(come)
                if c.ready <= w.due and (c.last is None or w.due <= c.last)
            ]
            for w in wants
        ]  # fmt: skip
        self.sent: list[dict[int, int]] = [{} for _ in come]

    def push(self, i: int, most: int) -> int:
        """Send up to ``most`` units to line ``i`` along one path, rerouting others."""
        came_from: dict[int, tuple[int, int] | None] = dict.fromkeys(self.fits[i])
        line_of = dict.fromkeys(self.fits[i], i)
        queue = list(self.fits[i])
        for b in queue:
            if self.left[b] > 0:
                return self._augment(b, came_from, line_of, most)
            for j, units in self.sent[b].items():
                if units <= 0:
                    continue
                for c in self.fits[j]:
                    if c not in came_from:
                        came_from[c] = (b, j)
                        line_of[c] = j
                        queue.append(c)
        return 0

    def _augment(
        self, b: int, came_from: dict[int, tuple[int, int] | None], line_of: dict[int, int],
        most: int,
    ) -> int:  # fmt: skip
        path, step = [], b
        amount = min(most, self.left[b])
        while True:
            path.append(step)
            before = came_from[step]
            if before is None:
                break
            amount = min(amount, self.sent[before[0]][before[1]])
            step = before[0]
        self.left[b] -= amount
        for step in path:
            line = line_of[step]
            self.sent[step][line] = self.sent[step].get(line, 0) + amount
            before = came_from[step]
            if before is not None:
                self.sent[before[0]][before[1]] -= amount
        return amount


def _owed(
    ground: Ground, wants: Sequence[Want], on_time: Sequence[int], come: Sequence[Supply]
) -> int:
    """Return the unit-days that orders are owed beyond their day."""
    if all(w.quantity == t for w, t in zip(wants, on_time, strict=True) if w.order):
        return 0
    change: dict[int, int] = {}
    for want, served in zip(wants, on_time, strict=True):
        asked = want.quantity if want.order else served
        day = max(0, want.due)
        change[day] = change.get(day, 0) + asked
    for c in come:
        day = max(0, c.ready)
        change[day] = change.get(day, 0) - c.quantity
    days = sorted(change)
    total, owed = 0, 0
    for day, after in zip(days, [*days[1:], ground.horizon], strict=True):
        total += change[day]
        owed += max(0, total) * max(0, after - day)
    return owed


def _owed_by_unit(
    ground: Ground, wants: Sequence[Want], on_time: Sequence[int], come: Sequence[Supply]
) -> int:
    """Return the same where units spoil: what has passed its best-before pays no debt."""
    owed = 0
    for want, served, days in zip(wants, on_time, late_days(wants, on_time, come), strict=True):
        if want.order:
            late = want.quantity - served
            due = max(0, want.due)
            owed += sum(min(day, ground.horizon) - due for day in days)
            owed += (late - len(days)) * (ground.horizon - due)
    return owed


def late_days(
    wants: Sequence[Want], on_time: Sequence[int], come: Sequence[Supply]
) -> list[list[int]]:
    """
    Return for each line the days on which its late units leave, as many as ever do.

    What lines on time leave goes to late orders, in the order of their days, each unit the first
    that is still good. Lines on time take what came last, so that the first is left for who waits;
    where that cannot serve them all, or serves who waits worse, they take what spoils first.
    """
    newest = sorted(range(len(come)), key=lambda i: -come[i].ready)
    found = []
    for order in (newest, spoiling_first(come)):
        left = left_over(wants, on_time, come, order)
        if left is not None:
            found.append(_leave(wants, on_time, come, left))
    return min(found, key=lambda days: (-sum(map(len, days)), sum(map(sum, days))))


def spoiling_first(come: Sequence[Supply]) -> list[int]:
    """Return the places of supplies in the order in which they spoil."""
    return sorted(
        range(len(come)), key=lambda i: (come[i].last is None, come[i].last or 0, come[i].ready)
    )


def left_over(
    wants: Sequence[Want], on_time: Sequence[int], come: Sequence[Supply], order: Sequence[int]
) -> list[int] | None:
    """Return what lines on time leave, taking in an order; None where some would get too few."""
    left = [c.quantity for c in come]
    for want, units in zip(wants, on_time, strict=True):
        for i in order:
            last = come[i].last
            if units and come[i].ready <= want.due and (last is None or want.due <= last):
                took = min(units, left[i])
                left[i] -= took
                units -= took
        if units:
            return None
    return left


def _leave(
    wants: Sequence[Want], on_time: Sequence[int], come: Sequence[Supply], left: list[int]
) -> list[list[int]]:
    """Return on which days late orders' units leave, out of what is left over."""
    found: list[list[int]] = []
    for want, served in zip(wants, on_time, strict=True):
        late = want.quantity - served if want.order else 0
        days: list[int] = []
        for i, c in enumerate(come):
            if late and left[i] and (c.last is None or c.last > want.due):
                took = min(late, left[i])
                left[i] -= took
                late -= took
                days += [max(0, c.ready, want.due)] * took
        found.append(days)
    return found
