"""
Where along a walk each limit is met, exactly.

A criterion's sum jumps where an ingredient reaches its cut-off and runs straight in between, so the
cut-offs divide the walk into stretches; in each the sum is compared with the limit by the sign of a
straight line, and its root is an exact fraction.

Ends are told by *cuts*: (t, 0) lies just before t and (t, 1) just after it. A span from (3, 0) to
(5, 0) holds 3 and not 5; from (3, 0) to (3, 1) it is the point 3 alone. So closed and open ends
need no cases of their own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm

from pourwright.core.hazard.criterion import Criterion
from pourwright.core.hazard.paths import Path

Cut = tuple[Fraction, int]


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a walk; ``low_in`` and ``high_in`` say whether the ends belong to it."""

    low: Fraction
    high: Fraction
    low_in: bool = True
    high_in: bool = True

    def holds(self, t: Fraction) -> bool:
        above = self.low <= t if self.low_in else self.low < t
        return above and (t <= self.high if self.high_in else t < self.high)

    @classmethod
    def between(cls, start: Cut, end: Cut) -> Span:
        return cls(start[0], end[0], start[1] == 0, end[1] == 1)


def spans(criterion: Criterion, path: Path) -> tuple[Span, ...]:
    """Return where on the walk the criterion is met, in order, never touching each other."""
    met = Sheet([criterion]).walk(path)[0]
    return tuple(Span.between(start, end) for start, end in met)


def in_order(cuts: Iterable[Cut]) -> list[Cut]:
    """
    Return the cuts without doubles, the earliest first.

    They are compared as floats, which is quick, and rounding keeps order; only where two unlike
    fractions round to the same float are all of them compared exactly.
    """
    keyed = sorted((cut[0].numerator / cut[0].denominator, cut[1], cut) for cut in set(cuts))
    for (first, _, one), (second, _, other) in pairwise(keyed):
        if first == second and one[0] != other[0]:
            return sorted(cut for *_, cut in keyed)
    return [cut for *_, cut in keyed]


@dataclass(frozen=True, slots=True)
class _Gate:
    """An ingredient at or above (``strict``: above) a concentration ``num / den``."""

    ingredient: int
    num: int
    den: int
    strict: bool = False


@dataclass(frozen=True, slots=True)
class _Sum:
    """
    One weighted sum and all the limits that it is compared with, in integers.

    ``terms``: (ingredient, weight, gate or None where it always counts). ``limits``: (place of the
    criterion, limit, whether it must be passed rather than reached).
    """

    terms: tuple[tuple[int, int, int | None], ...]
    limits: tuple[tuple[int, int, bool], ...]


Met = list[tuple[Cut, Cut]]


class Sheet:
    """
    Criteria made ready for many walks: integers only, like comparisons made once.

    Concentrations and weights are not negative; ``walk`` takes a path whose substances stand in the
    order that the criteria count them in.
    """

    def __init__(self, criteria: Sequence[Criterion]) -> None:
        self.criteria = tuple(criteria)
        self._gates: dict[_Gate, int] = {}
        self._constant: list[tuple[int, bool]] = []
        self._single: list[tuple[int, int]] = []
        self._sums: list[_Sum] = []
        grouped: dict[tuple[object, ...], list[tuple[int, Criterion]]] = {}
        for place, criterion in enumerate(self.criteria):
            terms = tuple(term for term in criterion.terms if term.weight)
            if (
                not terms
                or criterion.limit < 0
                or (criterion.limit == 0 and not _strict(criterion))
            ):
                met = criterion.limit < 0 or (criterion.limit == 0 and not _strict(criterion))
                self._constant.append((place, met))
            elif len(terms) == 1:
                self._single.append((place, self._gate_of(criterion)))
            else:
                key = tuple((t.ingredient, t.weight, t.cut_off_pct) for t in terms)
                grouped.setdefault(key, []).append((place, criterion))
        for members in grouped.values():
            self._sums.append(self._sum_of(members))

    def _gate_of(self, criterion: Criterion) -> int:
        (term,) = (term for term in criterion.terms if term.weight)
        limit = criterion.limit / term.weight
        strict = _strict(criterion) and limit >= term.cut_off_pct
        at = max(limit, term.cut_off_pct)
        return self._place(_Gate(term.ingredient, at.numerator, at.denominator, strict))

    def _sum_of(self, members: Sequence[tuple[int, Criterion]]) -> _Sum:
        terms = [term for term in members[0][1].terms if term.weight]
        scale = lcm(
            *(term.weight.denominator for term in terms),
            *(criterion.limit.denominator for _, criterion in members),
        )
        return _Sum(
            terms=tuple(
                (
                    term.ingredient,
                    int(term.weight * scale),
                    self._place(
                        _Gate(
                            term.ingredient,
                            term.cut_off_pct.numerator,
                            term.cut_off_pct.denominator,
                        )
                    )
                    if term.cut_off_pct > 0
                    else None,
                )
                for term in terms
            ),
            limits=tuple(
                (place, int(criterion.limit * scale), _strict(criterion))
                for place, criterion in members
            ),
        )

    def _place(self, gate: _Gate) -> int:
        return self._gates.setdefault(gate, len(self._gates))

    def walk(self, path: Path) -> list[Met]:
        """Return for each criterion the pairs of cuts between which it is met, in order."""
        start, end = (path.low, 0), (path.high, 1)
        whole: Met = [(start, end)]
        met: list[Met] = [[] for _ in self.criteria]
        for place, always in self._constant:
            if always:
                met[place] = list(whole)
        gates = [_passed(gate, path, start, end) for gate in self._gates]
        for place, gate in self._single:
            passed = gates[gate]
            if passed is not None:
                met[place] = [passed]
        for one in self._sums:
            _walk_sum(one, path, gates, met, start, end)
        return met


def _strict(criterion: Criterion) -> bool:
    return criterion.strict


def _passed(gate: _Gate, path: Path, start: Cut, end: Cut) -> tuple[Cut, Cut] | None:
    """Return between which cuts a gate is passed; concentrations only rise or only fall."""
    # (a + b t) / (d + e t) - num / den, times what is positive: p + q t.
    p = path.starts[gate.ingredient] * gate.den - gate.num * path.whole_start
    q = path.slopes[gate.ingredient] * gate.den - gate.num * path.whole_slope
    at_start, at_end = _sign(p, q, start[0]), _sign(p, q, end[0])
    if at_start > 0 and at_end > 0:
        return start, end
    if at_start < 0 and at_end < 0:
        return None
    return _clipped(p, q, gate.strict, start, end)


def _sign(p: int, q: int, t: Fraction) -> int:
    """Return a number with the sign of p + q t."""
    return p * t.denominator + q * t.numerator


def _clipped(p: int, q: int, strict: bool, start: Cut, end: Cut) -> tuple[Cut, Cut] | None:
    """Return the part of a stretch on which p + q t is at least (``strict``: above) zero."""
    if q == 0:
        return (start, end) if p > 0 or (p == 0 and not strict) else None
    root = Fraction(-p, q)
    if q > 0:
        start = max(start, (root, int(strict)))
    else:
        end = min(end, (root, int(not strict)))
    return (start, end) if start < end else None


def _walk_sum(
    one: _Sum,
    path: Path,
    gates: Sequence[tuple[Cut, Cut] | None],
    met: list[Met],
    start: Cut,
    end: Cut,
) -> None:
    """Walk one sum from stretch to stretch, adding and taking away what enters and leaves."""
    p = q = 0
    changes: dict[Cut, list[int]] = {}
    for ingredient, weight, gate in one.terms:
        part = (weight * path.starts[ingredient], weight * path.slopes[ingredient])
        passed = (start, end) if gate is None else gates[gate]
        if passed is None:
            continue
        if passed[0] == start:
            p, q = p + part[0], q + part[1]
        else:
            change = changes.setdefault(passed[0], [0, 0])
            change[0] += part[0]
            change[1] += part[1]
        if passed[1] != end:
            change = changes.setdefault(passed[1], [0, 0])
            change[0] -= part[0]
            change[1] -= part[1]
    cuts = in_order(changes)
    for here, there in zip([start, *cuts], [*cuts, end], strict=True):
        if here in changes:
            p, q = p + changes[here][0], q + changes[here][1]
        for place, limit, strict in one.limits:
            left, rise = p - limit * path.whole_start, q - limit * path.whole_slope
            at_here, at_there = _sign(left, rise, here[0]), _sign(left, rise, there[0])
            if at_here < 0 and at_there < 0:
                continue
            found = (
                (here, there)
                if at_here > 0 and at_there > 0
                else _clipped(left, rise, strict, here, there)
            )
            if found is None:
                continue
            if met[place] and met[place][-1][1] == found[0]:
                met[place][-1] = (met[place][-1][0], found[1])
            else:
                met[place].append(found)
