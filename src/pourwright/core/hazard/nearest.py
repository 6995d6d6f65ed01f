"""
The nearest shares of a blend that lose an element of the label, at the present load.

With the load held, every concentration is linear in the oils' shares, and the shares sought have
the least total change from the present ones: a linear programme (``least_change``), exact. What an
ingredient adds to a sum jumps at its cut-off, which is no straight line. The search therefore
starts from sums that are nowhere too high (a line below the jump), and where the shares found still
bring the element about, it looks at both cases of one ingredient: counted in full, or kept below
its cut-off. The first shares that pass the whole classification, in order of their change, are the
nearest. The search stops after so many cases; then it returns shares that pass and says that nearer
ones may exist.

Limits are kept by a millionth, because what lies at a limit has reached it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count, permutations

from pourwright.core.hazard.criterion import Criterion, Term
from pourwright.core.hazard.elements import Element, Judge
from pourwright.core.hazard.headroom import Goal
from pourwright.core.hazard.least_change import Programme
from pourwright.core.hazard.model import Market
from pourwright.core.hazard.paths import Dose, Doses, NoWalk, load_path
from pourwright.core.shares import split_exactly

MARGIN = Fraction(1, 1_000_000)
# Wider and wider, until shares rounded for the scale still pass.
_MARGINS = (MARGIN, Fraction(1, 2000), Fraction(1, 300), Fraction(1, 50), Fraction(1, 10))
MOST_CASES = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class NearestShares:
    """
    Shares of the blend whose label meets the goal; all were classified and pass.

    ``shares`` are parts of one in the oils' order, exact. ``rounded`` are in whole steps of the
    blend (by default 0.01 %), and pass too; None where no rounded shares do. ``change`` is the sum
    of all differences from the present shares, ``rounded_change`` that of the rounded ones: moving
    5 % of the blend from one oil to another is a change of 0.1. ``proven`` says that no shares with
    less change meet the goal (but for the margin at the limits). ``gained`` and ``lost`` compare
    the whole label with the present one, at ``rounded`` where there are such.
    """

    goal: Goal
    shares: tuple[Fraction, ...]
    change: Fraction
    rounded: tuple[Fraction, ...] | None
    rounded_change: Fraction | None
    proven: bool
    gained: tuple[Element, ...]
    lost: tuple[Element, ...]

    @property
    def offered(self) -> tuple[Fraction, ...]:
        """The shares to show: the rounded ones where there are such."""
        return self.rounded or self.shares


@dataclass(frozen=True, slots=True, kw_only=True)
class NoShares:
    """No shares were found. ``proven`` says that none exist at this load."""

    goal: Goal
    proven: bool


def nearest_shares(
    doses: Doses,
    goal: Goal,
    *,
    market: Market,
    on: date,
    package_ml: Fraction | None = None,
    marketed_before: bool = False,
    steps: int = 10_000,
    judge: Judge | None = None,
) -> NearestShares | NoShares:
    """
    Return the shares nearest to the present ones with which the label meets the goal.

    The load, the wax and the extras are held; a share may fall to nothing, and no oil is added. An
    element is not taken for lost where it only gives way to a graver one (H412 to H411, EUH208 to
    H317): everything that would bring it about on its own is avoided.
    ``steps`` is how many steps the whole blend has for ``rounded``. Raises ``NoWalk`` without oil.
    """
    if judge is None:
        judge = Judge(
            load_path(doses).substances,
            market=market,
            on=on,
            package_ml=package_ml,
            marketed_before=marketed_before,
        )
    blend = _Blend.of(doses)
    search = _Search(blend=blend, judge=judge, goal=goal)
    found = search.run(MARGIN)
    if found is None:
        return NoShares(goal=goal, proven=search.proven)
    proven = search.proven
    rounded = None
    for margin in _MARGINS:
        wider = found if margin == MARGIN else search.run(margin)
        if wider is None:
            break
        rounded = search.rounded(wider, steps)
        if rounded is not None:
            break
    before = judge.elements(judge.met_at(blend.concentrations(blend.present)))
    after = judge.elements(judge.met_at(blend.concentrations(rounded or found)))
    return NearestShares(
        goal=goal,
        shares=found,
        change=blend.change(found),
        rounded=rounded,
        rounded_change=None if rounded is None else blend.change(rounded),
        proven=proven,
        gained=_missing(after, before),
        lost=_missing(before, after),
    )


def with_shares(doses: Doses, shares: Sequence[Fraction]) -> Doses:
    """Return the candle with other shares of its oils (parts of one), the load held."""
    load = doses.load_pct_of_wax
    return Doses(
        waxes=doses.waxes,
        oils=tuple(
            Dose(composition=dose.composition, pct_of_wax=load * share)
            for dose, share in zip(doses.oils, shares, strict=True)
        ),
        extras=doses.extras,
    )


def _missing(one: Sequence[Element], other: Sequence[Element]) -> tuple[Element, ...]:
    keys = {element.key for element in other}
    return tuple(element for element in one if element.key not in keys)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blend:
    """
    Concentrations as they depend on the shares: ``base[i] + sum of shares[k] x brings[k][i]``.
    """

    present: tuple[Fraction, ...]
    base: tuple[Fraction, ...]
    brings: tuple[tuple[Fraction, ...], ...]

    @classmethod
    def of(cls, doses: Doses) -> _Blend:
        load = doses.load_pct_of_wax
        if load <= 0:
            raise NoWalk("There is no oil in the formula, so there are no shares to move.")
        present = tuple(dose.pct_of_wax / load for dose in doses.oils)
        pure = [
            with_shares(doses, [Fraction(int(j == k)) for j in range(len(present))])
            for k in range(len(present))
        ]
        whole = [one.mixture.concentrations for one in pure]
        none = Doses(
            waxes=doses.waxes,
            oils=tuple(
                Dose(composition=dose.composition, pct_of_wax=Fraction(0)) for dose in doses.oils
            ),
            extras=doses.extras,
        )
        # Without oil the whole is lighter; brought back to the weight that it has with it.
        lighter = none.mix_pct_of_wax / doses.mix_pct_of_wax
        base = tuple(c * lighter for c in none.mixture.concentrations)
        return cls(
            present=present,
            base=base,
            brings=tuple(
                tuple(c - b for c, b in zip(one, base, strict=True)) for one in whole
            ),
        )  # fmt: skip

    def concentrations(self, shares: Sequence[Fraction]) -> tuple[Fraction, ...]:
        return tuple(self.concentration(i, shares) for i in range(len(self.base)))

    def concentration(self, i: int, shares: Sequence[Fraction]) -> Fraction:
        parts = (share * row[i] for share, row in zip(shares, self.brings, strict=True) if row[i])
        return self.base[i] + sum(parts, Fraction(0))

    def most(self, i: int) -> Fraction:
        return self.base[i] + max(row[i] for row in self.brings)

    def least(self, i: int) -> Fraction:
        return self.base[i] + min(row[i] for row in self.brings)

    def change(self, shares: Sequence[Fraction]) -> Fraction:
        return sum((abs(s - p) for s, p in zip(shares, self.present, strict=True)), Fraction(0))


Pair = tuple[str, int]


@dataclass(slots=True, kw_only=True)
class _Case:
    """
    A programme with what is settled in it.

    Pairs of a criterion's key and an ingredient: ``counted`` in full, or kept ``below`` the
    cut-off. ``asked``: keys of the criteria that already have a row.
    """

    programme: Programme
    counted: frozenset[Pair] = frozenset()
    below: frozenset[Pair] = frozenset()
    asked: frozenset[str] = frozenset()


@dataclass(slots=True, kw_only=True)
class _Search:
    blend: _Blend
    judge: Judge
    goal: Goal
    proven: bool = True
    unwanted: list[Criterion] = field(init=False)
    ingredients: tuple[int, ...] = field(init=False)

    def __post_init__(self) -> None:
        self.unwanted = [
            criterion
            for criterion in self.judge.criteria
            if criterion.effect != "fact"
            and self._can_be_met(criterion)
            and any(self.goal.unwanted(one) for one in self.judge.alone(criterion.key))
        ]
        self.ingredients = tuple({t.ingredient for c in self.unwanted for t in c.terms})

    def _can_be_met(self, criterion: Criterion) -> bool:
        most = sum(
            (
                term.weight * self.blend.most(term.ingredient)
                for term in criterion.terms
                if self.blend.most(term.ingredient) >= term.cut_off_pct
            ),
            Fraction(0),
        )
        return most >= criterion.limit

    def passes(self, shares: Sequence[Fraction]) -> bool:
        """Return whether the label of these shares meets the goal: the whole classification."""
        met = self.judge.met_at(self.blend.concentrations(shares))
        return not any(self.goal.unwanted(element) for element in self.judge.elements(met))

    def rounded(self, shares: Sequence[Fraction], steps: int) -> tuple[Fraction, ...] | None:
        """Return the shares in whole steps, at most one step moved, if such pass."""
        parts = split_exactly(steps, shares)
        tried = [parts]
        for one, other in permutations(range(len(parts)), 2):
            if parts[one]:
                moved = parts[:]
                moved[one], moved[other] = moved[one] - 1, moved[other] + 1
                tried.append(moved)
        found = [tuple(Fraction(part, steps) for part in moved) for moved in tried]
        for near in sorted(found, key=self.blend.change):
            concentrations = self._concentrations(near)
            if not any(c.met_at(concentrations) for c in self.unwanted) and self.passes(near):
                return near
        return None

    def run(self, margin: Fraction) -> tuple[Fraction, ...] | None:
        """Return the nearest shares that pass, looking at the least change first."""
        # Where a criterion counts only beside a fact, avoiding it may ask more than is needed.
        self.proven = not any(criterion.needs or criterion.unless for criterion in self.unwanted)
        order = count()
        first = self._start()
        waiting = [(Fraction(0), next(order), _Case(programme=first))]
        for _ in range(MOST_CASES):
            if not waiting:
                return None
            _, _, case = heappop(waiting)
            shares, broken = self._settle(case, margin)
            if shares is None:
                continue
            if broken is None:
                if self.passes(shares):
                    return shares
                # Only criteria that act together bring the element about: not looked into.
                self.proven = False
                continue
            for child in self._children(case, shares, broken, margin):
                if child.programme.solve():
                    heappush(waiting, (child.programme.cost, next(order), child))
        if waiting:
            self.proven = False
            return self._cautious(margin)
        return None

    def _start(self) -> Programme:
        """The variables are what each oil gains and then what each loses."""
        n = len(self.blend.present)
        programme = Programme([1] * (2 * n))
        balance = [Fraction(1)] * n + [Fraction(-1)] * n
        programme.add(balance, Fraction(0))
        programme.add([-value for value in balance], Fraction(0))
        for k, share in enumerate(self.blend.present):
            row = [Fraction(0)] * (2 * n)
            row[n + k] = Fraction(1)
            programme.add(row, share)
        return programme

    def _shares(self, programme: Programme) -> tuple[Fraction, ...]:
        values = programme.values
        n = len(self.blend.present)
        return tuple(p + values[k] - values[n + k] for k, p in enumerate(self.blend.present))

    def _settle(
        self, case: _Case, margin: Fraction
    ) -> tuple[tuple[Fraction, ...] | None, Criterion | None]:
        """
        Return the case's nearest shares, and an unwanted criterion that they meet all the same.

        Criteria get their rows only once they are met, so that the programme stays small.
        """
        while True:
            if not case.programme.solve():
                return None, None
            shares = self._shares(case.programme)
            concentrations = self._concentrations(shares)
            met = [c for c in self.unwanted if c.met_at(concentrations)]
            new = [c for c in met if c.key not in case.asked]
            if not new:
                return shares, met[0] if met else None
            for criterion in new:
                self._ask(case, criterion, margin)

    def _concentrations(self, shares: Sequence[Fraction]) -> list[Fraction]:
        """Return the concentrations of what unwanted criteria look at; the others are left at 0."""
        found = [Fraction(0)] * len(self.blend.base)
        for i in self.ingredients:
            found[i] = self.blend.concentration(i, shares)
        return found

    def _ask(self, case: _Case, criterion: Criterion, margin: Fraction) -> None:
        """Add the criterion's sum, nowhere too high, as a row that stays below the limit."""
        case.asked |= {criterion.key}
        if len(criterion.terms) == 1:
            (term,) = criterion.terms
            # Alone, an ingredient passes its cut-off or its limit, whichever is the higher.
            limit = max(criterion.limit / term.weight, term.cut_off_pct)
            self._add(case.programme, {term.ingredient: Fraction(1)}, limit * (1 - margin))
            return
        lines = {term.ingredient: self._line(case, criterion, term) for term in criterion.terms}
        shift = sum((shift for _, shift in lines.values()), Fraction(0))
        weights = {i: weight for i, (weight, _) in lines.items()}
        self._add(case.programme, weights, criterion.limit * (1 - margin) - shift)

    def _line(self, case: _Case, criterion: Criterion, term: Term) -> tuple[Fraction, Fraction]:
        """Return slope and shift of a line that is never above what the term counts for."""
        pair, cut_off = (criterion.key, term.ingredient), term.cut_off_pct
        most = self.blend.most(term.ingredient)
        if pair in case.below or most < cut_off:
            return Fraction(0), Fraction(0)
        if pair in case.counted or self.blend.least(term.ingredient) >= cut_off or cut_off <= 0:
            return term.weight, Fraction(0)
        if most == cut_off:
            return Fraction(0), Fraction(0)
        # Nothing at the cut-off, all at the most that can be: it runs below the jump.
        slope = term.weight * most / (most - cut_off)
        return slope, -slope * cut_off

    def _add(
        self, programme: Programme, weights: Mapping[int, Fraction], at_most: Fraction
    ) -> None:
        """Add ``sum of weights x concentrations <= at_most``, written in gains and losses."""
        row = [
            sum((weight * brings[i] for i, weight in weights.items()), Fraction(0))
            for brings in self.blend.brings
        ]
        now = sum((weight * self.blend.base[i] for i, weight in weights.items()), Fraction(0))
        now += sum(
            (s * value for s, value in zip(self.blend.present, row, strict=True)), Fraction(0)
        )
        programme.add([*row, *(-value for value in row)], at_most - now)

    def _children(
        self, case: _Case, shares: Sequence[Fraction], broken: Criterion, margin: Fraction
    ) -> list[_Case]:
        """Return the two cases of the ingredient whose jump a broken criterion misses most."""
        undecided = [
            (self._missed(case, broken, term, shares), term)
            for term in broken.terms
            if {(broken.key, term.ingredient)}.isdisjoint(case.counted | case.below)
        ]
        if not undecided:
            return []
        gap, term = max(undecided, key=lambda one: one[0])
        if gap <= 0:
            return []
        pair = (broken.key, term.ingredient)
        children = [
            _Case(
                programme=case.programme.copy(),
                counted=case.counted | {pair},
                below=case.below,
                asked=case.asked,
            ),
            _Case(
                programme=case.programme.copy(),
                counted=case.counted,
                below=case.below | {pair},
                asked=case.asked,
            ),
        ]
        self._add(
            children[1].programme,
            {term.ingredient: Fraction(1)},
            term.cut_off_pct * (1 - margin),
        )
        for child in children:
            self._ask(child, broken, margin)
        return children

    def _missed(
        self, case: _Case, criterion: Criterion, term: Term, shares: Sequence[Fraction]
    ) -> Fraction:
        """Return how far the line lies below what the term counts for."""
        pct = self.blend.concentration(term.ingredient, shares)
        slope, shift = self._line(case, criterion, term)
        counts = term.weight * pct if pct >= term.cut_off_pct else Fraction(0)
        return counts - slope * pct - shift

    def _cautious(self, margin: Fraction) -> tuple[Fraction, ...] | None:
        """Return shares that pass even if every ingredient counts in full; not the nearest."""
        counted = frozenset((c.key, term.ingredient) for c in self.unwanted for term in c.terms)
        case = _Case(programme=self._start(), counted=counted)
        shares, broken = self._settle(case, margin)
        return shares if shares is not None and broken is None and self.passes(shares) else None
