"""
An exact linear programme: least total cost of non-negative variables under "at most" rows.

The dual simplex method, in integers over one common denominator (Edmonds' pivoting, in which every
division comes out even), so that the answer is a fraction and not a float. It starts from zero for
every variable, which costs nothing, and repairs one broken row after the other; a programme can
therefore be copied and given more rows, as a search does.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import lcm


class Programme:
    """
    Minimise ``cost x`` for x >= 0 under rows ``a x <= b``; costs are not negative.

    ``solve`` returns whether there is a solution; then ``values`` and ``cost`` tell it.
    """

    def __init__(self, cost: Sequence[int]) -> None:
        self._count = len(cost)
        self._denominator = 1
        # z - sum(cost x) = 0; the last entry of each row is its right side.
        self._objective = [-price for price in cost] + [0]
        self._rows: list[list[int]] = []
        self._basis: list[int] = []
        self._columns = list(range(self._count))
        self._next = self._count

    def copy(self) -> Programme:
        other = Programme.__new__(Programme)
        other._count = self._count
        other._denominator = self._denominator
        other._objective = self._objective[:]
        other._rows = [row[:] for row in self._rows]
        other._basis = self._basis[:]
        other._columns = self._columns[:]
        other._next = self._next
        return other

    def add(self, row: Sequence[Fraction], at_most: Fraction) -> None:
        """Add ``row x <= at_most``."""
        scale = lcm(at_most.denominator, *(value.denominator for value in row))
        whole = [int(value * scale) for value in row]
        # Written in what is at zero now: each basic variable is replaced by its own row.
        new = [0] * (self._count + 1)
        new[-1] = int(at_most * scale) * self._denominator
        for place, variable in enumerate(self._columns):
            if variable < self._count:
                new[place] = whole[variable] * self._denominator
        for basic, theirs in zip(self._basis, self._rows, strict=True):
            if basic < self._count and whole[basic]:
                for place, value in enumerate(theirs):
                    new[place] -= whole[basic] * value
        self._rows.append(new)
        self._basis.append(self._next)
        self._next += 1

    def solve(self) -> bool:
        """Repair the broken rows, the earliest variable first (so it never runs in circles)."""
        while True:
            broken = [place for place, row in enumerate(self._rows) if row[-1] < 0]
            if not broken:
                return True
            leaving = min(broken, key=lambda place: self._basis[place])
            entering = self._entering(self._rows[leaving])
            if entering is None:
                return False
            self._pivot(leaving, entering)

    def _entering(self, row: Sequence[int]) -> int | None:
        best: int | None = None
        for place in range(self._count):
            if row[place] >= 0:
                continue
            if best is None:
                best = place
                continue
            # Ratios of cost to coefficient, compared crosswise; both coefficients are negative.
            one = self._objective[place] * row[best]
            other = self._objective[best] * row[place]
            if one < other or (one == other and self._columns[place] < self._columns[best]):
                best = place
        return best

    def _pivot(self, leaving: int, entering: int) -> None:
        pivot_row = self._rows[leaving]
        pivot, old = pivot_row[entering], self._denominator
        for row in (*self._rows, self._objective):
            if row is pivot_row:
                continue
            factor = row[entering]
            for place, value in enumerate(row):
                if place != entering:
                    row[place] = (value * pivot - factor * pivot_row[place]) // old
            row[entering] = -factor
        pivot_row[entering] = old
        self._denominator = pivot
        self._basis[leaving], self._columns[entering] = (
            self._columns[entering],
            self._basis[leaving],
        )
        if pivot < 0:
            self._denominator = -pivot
            for row in (*self._rows, self._objective):
                row[:] = [-value for value in row]

    @property
    def cost(self) -> Fraction:
        return Fraction(self._objective[-1], self._denominator)

    @property
    def values(self) -> list[Fraction]:
        found = [Fraction(0)] * self._count
        for basic, row in zip(self._basis, self._rows, strict=True):
            if basic < self._count:
                found[basic] = Fraction(row[-1], self._denominator)
        return found
