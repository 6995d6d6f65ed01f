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

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from heapq import heappop, heappush
from itertools import count, permutations
from math import gcd, lcm
from operator import mul

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
    blend (by default 0.01 %), and pass too; None where no rounded shares do, and where the present
    ones pass. ``change`` is the sum of all differences from the present shares, ``rounded_change``
    that of the rounded ones: moving 5 % of the blend from one oil to another is a change of 0.1.
    ``proven`` says that no shares with less change meet the goal (but for the margin at the
    limits); else none do with less than ``bound``. ``gained`` and ``lost`` compare the whole label
    with the present one, at ``rounded`` where there are such.
    """

    goal: Goal
    shares: tuple[Fraction, ...]
    change: Fraction
    rounded: tuple[Fraction, ...] | None
    rounded_change: Fraction | None
    proven: bool
    bound: Fraction
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
    found = search.run()
    if found is None:
        return NoShares(goal=goal, proven=search.proven)
    stays = found == blend.present
    rounded = next(
        (
            near
            for margin in (() if stays else _MARGINS)
            if (wider := search.again(found, margin)) and (near := search.rounded(wider, steps))
        ),
        None,
    )
    before = judge.elements(judge.met_at(blend.concentrations(blend.present)))
    after = judge.elements(judge.met_at(blend.concentrations(rounded or found)))
    return NearestShares(
        goal=goal,
        shares=found,
        change=blend.change(found),
        rounded=rounded,
        rounded_change=None if rounded is None else blend.change(rounded),
        proven=search.proven,
        bound=blend.change(found) if search.proven else search.bound,
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
    Concentrations as they depend on the shares, in integers over ``scale``.

    That of ingredient i is ``(base[i] + sum of shares[k] x brings[i][k]) / scale``.
    """

    present: tuple[Fraction, ...]
    base: tuple[int, ...]
    brings: tuple[tuple[int, ...], ...]
    scale: int

    @classmethod
    def of(cls, doses: Doses) -> _Blend:
        load = doses.load_pct_of_wax
        if load <= 0:
            raise NoWalk("There is no oil in the formula, so there are no shares to move.")
        oils = len(doses.oils)
        pure = [
            with_shares(doses, [Fraction(int(j == k)) for j in range(oils)]).mixture.concentrations
            for k in range(oils)
        ]
        none = with_shares(doses, [Fraction(0)] * oils)
        # Without oil the whole is lighter; brought back to the weight that it has with it.
        lighter = none.mix_pct_of_wax / doses.mix_pct_of_wax
        base = [pct * lighter for pct in none.mixture.concentrations]
        scale = lcm(*(pct.denominator for row in (base, *pure) for pct in row))
        whole = [[int(pct * scale) for pct in row] for row in (base, *pure)]
        return cls(
            present=tuple(dose.pct_of_wax / load for dose in doses.oils),
            base=tuple(whole[0]),
            brings=tuple(
                tuple(pct - pcts[0] for pct in pcts[1:]) for pcts in zip(*whole, strict=True)
            ),
            scale=scale,
        )

    def concentrations(self, shares: Sequence[Fraction]) -> tuple[Fraction, ...]:
        return tuple(self.at(range(len(self.base)), shares).values())

    def at(self, ingredients: Iterable[int], shares: Sequence[Fraction]) -> dict[int, Fraction]:
        """Return the concentrations of some ingredients."""
        below = lcm(*(share.denominator for share in shares))
        parts = [share.numerator * (below // share.denominator) for share in shares]
        whole = self.scale * below
        return {
            i: Fraction(
                self.base[i] * below + sum(map(mul, parts, self.brings[i])), whole
            )
            for i in ingredients
        }  # fmt: skip

    def most(self, i: int) -> Fraction:
        return Fraction(self.base[i] + max(self.brings[i]), self.scale)

    def least(self, i: int) -> Fraction:
        return Fraction(self.base[i] + min(self.brings[i]), self.scale)

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


class _Search:
    """The search for the nearest shares; ``proven`` says afterwards whether they are."""

    def __init__(self, *, blend: _Blend, judge: Judge, goal: Goal) -> None:
        self.blend, self.judge, self.goal = blend, judge, goal
        self.proven = True
        self.bound = Fraction(0)
        self.unwanted = [
            cut
            for criterion in judge.criteria
            if criterion.effect != "fact"
            and (cut := self._what_can_count(criterion)) is not None
            and any(goal.unwanted(one) for one in judge.alone(criterion.key))
        ]
        self._of_key = {criterion.key: criterion for criterion in self.unwanted}
        self._ingredients = sorted({t.ingredient for c in self.unwanted for t in c.terms})
        self._most: dict[int, Fraction] = {}
        self._least: dict[int, Fraction] = {}
        self._reach(Fraction(2))

    def _what_can_count(self, criterion: Criterion) -> Criterion | None:
        """Return the criterion with the terms that can count, or None where it cannot be met."""
        most = [(term, self.blend.most(term.ingredient)) for term in criterion.terms]
        there = [(term, pct) for term, pct in most if pct > 0 and pct >= term.cut_off_pct]
        if sum((term.weight * pct for term, pct in there), Fraction(0)) < criterion.limit:
            return None
        return replace(criterion, terms=tuple(term for term, _ in there))

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
            if not self._met(near) and self.passes(near):
                return near
        return None

    def _reach(self, change: Fraction) -> None:
        """Take note of how high and low each ingredient can come with so much change."""
        now = self.blend.at(self._ingredients, self.blend.present)
        there = [k for k, share in enumerate(self.blend.present) if share]
        for i in self._ingredients:
            brings, scale = self.blend.brings[i], self.blend.scale
            up = Fraction(max(brings) - min(brings[k] for k in there), scale) * change / 2
            down = Fraction(max(brings[k] for k in there) - min(brings), scale) * change / 2
            self._most[i] = min(self.blend.most(i), now[i] + up)
            self._least[i] = max(self.blend.least(i), now[i] - down)

    def run(self) -> tuple[Fraction, ...] | None:
        """
        Return the nearest shares that pass.

        Shares that pass are sought first by going straight down. They bound how far an ingredient
        can move in any nearer ones, and so keep the lines below the jumps close to them; then the
        cases are looked at in the order of their change.
        """
        # Where a criterion counts only beside a fact, avoiding it may ask more than is needed.
        self.proven = not any(criterion.needs or criterion.unless for criterion in self.unwanted)
        best = self._straight_down(_Case(programme=self._start()))
        if best is not None:
            self._reach(self.blend.change(best))
        order = count()
        waiting = [(Fraction(0), next(order), _Case(programme=self._start()))]
        for _ in range(MOST_CASES):
            if not waiting or (best is not None and waiting[0][0] >= self.blend.change(best)):
                return best
            _, _, case = heappop(waiting)
            shares, broken = self._settle(case, MARGIN)
            if shares is None:
                continue
            if waiting and case.programme.cost > waiting[0][0]:
                # Its rows made it dearer than another case, which comes first.
                heappush(waiting, (case.programme.cost, next(order), case))
                continue
            if broken is None:
                if self.passes(shares):
                    return shares
                # Only criteria that act together bring the element about: not looked into.
                self.proven = False
                continue
            for child in self._children(case, shares, broken, MARGIN):
                if child.programme.solve():
                    heappush(waiting, (child.programme.cost, next(order), child))
        if waiting:
            self.proven, self.bound = False, waiting[0][0]
            down = self._straight_down(waiting[0][2])
            found = [shares for shares in (best, down) if shares is not None]
            best = min(found, key=self.blend.change, default=None)
        return best

    def again(self, found: Sequence[Fraction], margin: Fraction) -> tuple[Fraction, ...] | None:
        """Return the nearest shares with another margin where the same ingredients count."""
        there = self.blend.at(self._ingredients, found)
        counted: set[Pair] = set()
        below: set[Pair] = set()
        for criterion in self.unwanted:
            for term in criterion.terms:
                counts = there[term.ingredient] >= term.cut_off_pct
                (counted if counts else below).add((criterion.key, term.ingredient))
        case = _Case(
            programme=self._start(), counted=frozenset(counted), below=frozenset(below)
        )  # fmt: skip
        for key, ingredient in case.below:
            self._keep_below(case.programme, key, ingredient, margin)
        shares, broken = self._settle(case, margin)
        return shares if shares is not None and broken is None else None

    def _straight_down(self, case: _Case) -> tuple[Fraction, ...] | None:
        """Return shares that pass, taking the nearer of two cases each time; not the nearest."""
        while True:
            shares, broken = self._settle(case, MARGIN)
            if shares is None:
                break
            if broken is None:
                if self.passes(shares):
                    return shares
                break
            children = [
                child
                for child in self._children(case, shares, broken, MARGIN)
                if self._settle(child, MARGIN)[0] is not None
            ]
            if not children:
                break
            case = min(children, key=lambda child: child.programme.cost)
        return self._cautious()

    def _cautious(self) -> tuple[Fraction, ...] | None:
        """Return shares that pass even if every ingredient counts in full."""
        counted = frozenset((c.key, term.ingredient) for c in self.unwanted for term in c.terms)
        case = _Case(programme=self._start(), counted=counted)
        shares, broken = self._settle(case, MARGIN)
        if shares is None or broken is not None or not self.passes(shares):
            return None
        return shares

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

    def _met(self, shares: Sequence[Fraction]) -> list[Criterion]:
        """Return the unwanted criteria that these shares meet."""
        concentrations = [Fraction(0)] * len(self.blend.base)
        for i, pct in self.blend.at(self._ingredients, shares).items():
            concentrations[i] = pct
        return [criterion for criterion in self.unwanted if criterion.met_at(concentrations)]

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
            met = self._met(shares)
            new = [c for c in met if c.key not in case.asked]
            if not new:
                return shares, met[0] if met else None
            for criterion in new:
                self._ask(case, criterion, margin)

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
        weights = {i: weight for i, (weight, _) in lines.items() if weight}
        self._add(case.programme, weights, criterion.limit * (1 - margin) - shift)

    def _line(self, case: _Case, criterion: Criterion, term: Term) -> tuple[Fraction, Fraction]:
        """Return slope and shift of a line that is never above what the term counts for."""
        pair, cut_off = (criterion.key, term.ingredient), term.cut_off_pct
        if pair in case.below:
            return Fraction(0), Fraction(0)
        if pair in case.counted or self._least[term.ingredient] >= cut_off:
            return term.weight, Fraction(0)
        most = self._most[term.ingredient]
        if most <= cut_off:
            return Fraction(0), Fraction(0)
        # Nothing at the cut-off, all at the most that can be: it runs below the jump.
        slope = term.weight * most / (most - cut_off)
        return slope, -slope * cut_off

    def _keep_below(
        self, programme: Programme, key: str, ingredient: int, margin: Fraction
    ) -> None:
        """Add that an ingredient stays below its cut-off in a criterion."""
        (term,) = (t for t in self._of_key[key].terms if t.ingredient == ingredient)
        self._add(programme, {ingredient: Fraction(1)}, term.cut_off_pct * (1 - margin))

    def _add(
        self, programme: Programme, weights: Mapping[int, Fraction], at_most: Fraction
    ) -> None:
        """Add ``sum of weights x concentrations <= at_most``, written in gains and losses."""
        scale = lcm(*(weight.denominator for weight in weights.values()))
        whole = {i: int(weight * scale) for i, weight in weights.items()}
        row = [
            sum(weight * self.blend.brings[i][k] for i, weight in whole.items())
            for k in range(len(self.blend.present))
        ]
        now = sum(weight * self.blend.base[i] for i, weight in whole.items()) + sum(
            (share * value for share, value in zip(self.blend.present, row, strict=True)),
            Fraction(0),
        )
        common = gcd(*row) or 1
        small = [Fraction(value // common) for value in row]
        left = (at_most * scale * self.blend.scale - now) / common
        programme.add([*small, *(-value for value in small)], left)

    def _children(
        self, case: _Case, shares: Sequence[Fraction], broken: Criterion, margin: Fraction
    ) -> list[_Case]:
        """Return the two cases of the ingredient whose jump a broken criterion misses most."""
        settled = case.counted | case.below
        there = self.blend.at((term.ingredient for term in broken.terms), shares)
        undecided = [
            (self._missed(case, broken, term, there[term.ingredient]), term)
            for term in broken.terms
            if (broken.key, term.ingredient) not in settled
        ]
        gap, term = max(undecided, key=lambda one: one[0], default=(Fraction(0), broken.terms[0]))
        if gap <= 0:
            return []
        pair = (broken.key, term.ingredient)
        counts, below = (
            _Case(
                programme=case.programme.copy(),
                counted=case.counted | counted,
                below=case.below | kept_below,
                asked=case.asked,
            )
            for counted, kept_below in (({pair}, set()), (set(), {pair}))
        )
        self._keep_below(below.programme, *pair, margin)
        for child in (counts, below):
            self._ask(child, broken, margin)
        return [counts, below]

    def _missed(self, case: _Case, criterion: Criterion, term: Term, pct: Fraction) -> Fraction:
        """Return how far the line lies below what the term counts for."""
        slope, shift = self._line(case, criterion, term)
        counts = term.weight * pct if pct >= term.cut_off_pct else Fraction(0)
        return counts - slope * pct - shift
