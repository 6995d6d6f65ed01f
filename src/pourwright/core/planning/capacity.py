"""
What a melter can do in a session, by the number of melts: the cover over whole numbers of melts.

A second melt costs its set-up, melting and cooling whole, however little is in it. A solver that
takes one melt and a fifth for possible believes far too much: over whole melts alone, one full melt
and two short ones may hold nearly the same. The chords below say that to it in plain rows; they
cut off no plan.
Source: disjunctive cover of a mixed-integer set by the hull of its slices; Nemhauser and Wolsey,
Integer and Combinatorial Optimization (1988), part II, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from pourwright.core.planning.ground import Ground


@dataclass(frozen=True, slots=True)
class Chord:
    """``scale * amount <= start + slope * melts`` holds for every plan."""

    scale: int
    start: int
    slope: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """
    A melter in one session.

    ``left_s``: its free seconds; ``melt_s``: what each melt takes before anything is in it;
    ``first_s``: what the first takes besides; ``capacity_mg``; ``most``: melts that can be.
    ``units``: of each kind of vessel its seconds and its mass in the melter.
    """

    left_s: int
    melt_s: int
    first_s: int
    capacity_mg: int
    most: int
    units: tuple[tuple[int, int], ...]

    def seconds(self) -> list[int]:
        """Return by number of melts the most seconds that the vessels themselves can take."""
        full = max((-(-s * self.capacity_mg // mass) for s, mass in self.units), default=0)
        return [min(self._left(n), full * n) for n in range(self.most + 1)]

    def masses(self) -> list[int]:
        """Return by number of melts the most mg that can be poured."""
        found = []
        for n in range(self.most + 1):
            full = self.capacity_mg * n
            in_time = (self._left(n) * mass // s if s else full for s, mass in self.units)
            found.append(min(full, max(in_time, default=0)))
        return found

    def _left(self, melts: int) -> int:
        return max(0, self.left_s - melts * self.melt_s - self.first_s) if melts else 0


def covers(
    ground: Ground, m: int, products: Sequence[int], *, left_s: int, most: int, begun: bool
) -> Iterator[tuple[list[int], int, Chord]]:  # fmt: skip
    """
    Yield the chords of melter ``m`` in a session.

    Each comes with what a unit of each product adds, and with the most that a session can hold.

    ``left_s`` and ``most``: its free seconds, and the melts that they allow; ``begun``: something
    is melted in it already, so that the first clean may be spared.
    """
    melter = ground.melters[m]
    melt_s = melter.set_up_s + melter.melt_s + melter.cool_s + melter.wipe_s
    # Drawn off, each pitcher is stirred and cleaned; there is at least one.
    melt_s += 0 if melter.pitchers else melter.stir_s
    first_s = melter.clean_s + (melter.stir_s if melter.pitchers else 0)
    seconds = [ground.melt_s_of(k, m) + ground.goods[k].pour_s for k in products]
    masses = [ground.mass_in_melter(k, m) for k in products]
    cycle = Cycle(
        left_s=left_s, melt_s=melt_s, first_s=0 if begun else first_s, most=most,
        capacity_mg=melter.capacity_mg, units=tuple(set(zip(seconds, masses, strict=True))),
    )  # fmt: skip
    for by, amounts in ((seconds, cycle.seconds()), (masses, cycle.masses())):
        for chord in chords(amounts):
            yield by, max(amounts), chord


def chords(most: Sequence[int]) -> Iterator[Chord]:
    """
    Yield the least concave cover of ``most[n]`` over whole n, chord by chord.

    >>> list(chords([0, 10, 12]))
    [Chord(scale=1, start=0, slope=10), Chord(scale=1, start=8, slope=2)]
    """
    hull: list[int] = []
    for n in range(len(most)):
        while len(hull) > 1:
            a, b = hull[-2], hull[-1]
            if (most[b] - most[a]) * (n - a) > (most[n] - most[a]) * (b - a):
                break
            hull.pop()
        hull.append(n)
    for a, b in pairwise(hull):
        rise = most[b] - most[a]
        yield Chord(scale=b - a, start=most[a] * (b - a) - rise * a, slope=rise)
