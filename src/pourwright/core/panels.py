"""
Scent panels: candles ranked by several noses, and triangle tests of two candles.

Floats; a panel is as exact as its noses. ``alpha`` is the share of panels that would call alike
candles different.

Sources: ISO 8587:2006 (Friedman's test, least significant difference of rank sums) and ISO 4120
(triangle, exact binomial); rule table ``quality/panels``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from pourwright.core.errors import BadInput

GUESS = 1 / 3
MOST_ASSESSORS = 10_000
FEW_TRAINED, FEW_FOR_PREFERENCE = 12, 60


class BadPanel(BadInput):
    """Ranks or answers that a panel cannot have given."""


# --- ranking -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two candles compared: the difference of their rank sums, and whether it counts."""

    first: str
    second: str
    difference: float
    differs: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """
    What a ranking panel found.

    ``friedman`` is corrected for ties; ``p`` is by chi-square with one less than the candles.
    ``lsd`` is the least significant difference of two rank sums. ``says`` is in plain words.
    """

    candles: tuple[str, ...]
    assessors: int
    rank_sums: tuple[float, ...]
    friedman: float
    p: float
    alpha: float
    lsd: float
    pairs: tuple[Pair, ...]
    says: tuple[str, ...]

    @property
    def differ(self) -> bool:
        return self.p <= self.alpha


def rank_panel(
    ranks: Sequence[Sequence[float]],
    *,
    candles: Sequence[str] | None = None,
    alpha: float = 0.05,
    scores: bool = False,
) -> Ranking:
    """
    Return what a panel's ranks say, one row an assessor, one column a candle, 1 the first.

    Ties share the mean of their ranks. With ``scores`` the rows are scores, the lowest ranked
    first. Raises ``BadPanel`` where a row is no ranking.
    """
    _check_alpha(alpha)
    rows = [list(row) for row in ranks]
    if len(rows) < 2:
        raise BadPanel(f"{len(rows)} assessors; a panel has 2 or more, a trained one 12 or more.")
    count = len(rows[0])
    if not 2 <= count <= 50:
        raise BadPanel(f"{count} candles; rank 2 to 50.")
    names = tuple(candles or (f"candle {place}" for place in range(1, count + 1)))
    if len(names) != count:
        raise BadPanel(f"{len(names)} names for {count} candles; name each once.")
    made = [_ranks_of(row, number, count, scores) for number, row in enumerate(rows, start=1)]
    j, p = len(made), count
    sums = tuple(math.fsum(row[column] for row in made) for column in range(p))
    even = j * p * (p + 1) ** 2 / 4
    centred = math.fsum(total * total for total in sums) - j * even
    spread = math.fsum(rank * rank for row in made for rank in row) - even
    # Without ties this is 12/(jp(p+1)) of the sums squared, less 3j(p+1).
    friedman = (p - 1) * centred / spread if spread > 0 else 0.0
    chance = _chi_square_above(friedman, p - 1)
    lsd = rank_lsd(assessors=j, candles=p, alpha=alpha)
    pairs = tuple(
        Pair(
            first=names[one], second=names[other], difference=sums[other] - sums[one],
            differs=chance <= alpha and abs(sums[other] - sums[one]) > lsd,
        )
        for one in range(p)
        for other in range(one + 1, p)
    )  # fmt: skip
    return Ranking(
        candles=names, assessors=j, rank_sums=sums, friedman=friedman, p=chance, alpha=alpha,
        lsd=lsd, pairs=pairs, says=tuple(_ranking_words(names, sums, j, chance, alpha, pairs)),
    )  # fmt: skip


def rank_lsd(*, assessors: int, candles: int, alpha: float = 0.05) -> float:
    """
    Return by how much two rank sums must differ to count, before anybody has smelled anything.

    z sqrt(j p (p + 1) / 6), j assessors, p candles. Source: ISO 8587:2006 (from memory).

    >>> round(rank_lsd(assessors=12, candles=4), 2)
    12.4
    """
    _check_assessors(assessors)
    _check_alpha(alpha)
    if candles < 2:
        raise BadPanel(f"{candles} candles; rank 2 or more.")
    return NormalDist().inv_cdf(1 - alpha / 2) * math.sqrt(assessors * candles * (candles + 1) / 6)


def check_ranks(row: Sequence[float], *, candles: int, assessor: int) -> None:
    """Raise ``BadPanel`` where one assessor's row is no ranking; tied candles share a rank."""
    _ranks_of(row, assessor, candles, scores=False)


def _ranks_of(row: Sequence[float], number: int, count: int, scores: bool) -> list[float]:
    if len(row) != count:
        raise BadPanel(f"Assessor {number} ranked {len(row)} candles, the first {count}.")
    if not all(math.isfinite(value) for value in row):
        raise BadPanel(f"Assessor {number}: a rank is a number.")
    places = {value: index for index, value in enumerate(sorted(row), start=1)}
    ties = Counter(row)
    made = [places[value] - (ties[value] - 1) / 2 for value in row]
    if not scores and not _could_be_ranks(row, made):
        given = ", ".join(f"{value:g}" for value in row)
        raise BadPanel(
            f"Assessor {number} gave {given}: ranks are 1 to {count}, each once; tied candles "
            "share a rank. For scores say so."
        )
    return made


def _could_be_ranks(row: Sequence[float], made: Sequence[float]) -> bool:
    """Ties may be written as their mean (2.5, 2.5), their first (2, 2) or densely (2, 2, 3)."""
    first = [sum(other < value for other in row) + 1 for value in row]
    dense = [sorted(set(row)).index(value) + 1 for value in row]
    return list(row) in ([float(v) for v in made], first, dense)


def _ranking_words(
    names: Sequence[str], sums: Sequence[float], assessors: int, p: float, alpha: float,
    pairs: Sequence[Pair],
) -> list[str]:  # fmt: skip
    order = sorted(range(len(names)), key=lambda column: sums[column])
    listed = ", ".join(f"{names[column]} ({sums[column]:g})" for column in order)
    said = [f"From first to last by rank sum: {listed}."]
    if p <= alpha:
        said.append(
            f"The panel tells some of them apart: a panel of guessers would differ this much in "
            f"{_percent(p)} of tries."
        )
        apart = [f"{pair.first} and {pair.second}" for pair in pairs if pair.differs]
        alike = [f"{pair.first} and {pair.second}" for pair in pairs if not pair.differs]
        if apart:
            said.append(f"Told apart: {'; '.join(apart)}.")
        if alike:
            said.append(f"Not told apart: {'; '.join(alike)}.")
    else:
        said.append(
            "The panel does not tell them apart. They may still differ: it was not shown, and a "
            "larger panel might."
        )
    if assessors < FEW_TRAINED:
        said.append(
            f"{assessors} assessors are few: {FEW_TRAINED} to 15 trained ones for a description, "
            f"{FEW_FOR_PREFERENCE} or more for what people like."
        )
    return said


# --- triangle ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Triangle:
    """
    A triangle test: how many right answers are needed, and what those given say.

    ``needed`` is None where even all right would not do. ``p`` is the chance of so many by
    guessing. ``tell`` is the share of people who can tell, ``tell_upper`` its upper limit at the
    confidence 1 - ``beta``.
    """

    assessors: int
    alpha: float
    needed: int | None
    correct: int | None = None
    p: float | None = None
    differ: bool | None = None
    tell: float | None = None
    tell_upper: float | None = None
    says: tuple[str, ...] = ()


def triangle_needed(*, assessors: int, alpha: float = 0.05) -> int | None:
    """
    Return the fewest right answers that guessing gives in at most ``alpha`` of panels.

    >>> triangle_needed(assessors=30, alpha=0.05)
    15
    """
    _check_assessors(assessors)
    _check_alpha(alpha)
    above = 0.0
    needed = None
    for right in range(assessors, -1, -1):
        above += _binomial(right, assessors, GUESS)
        if above > alpha:
            break
        needed = right
    return needed


def triangle(
    *, assessors: int, alpha: float = 0.05, correct: int | None = None, beta: float = 0.05
) -> Triangle:
    """
    Return what a triangle test needs and, with ``correct`` right answers, what it found.

    The upper limit of the share who can tell is 1.5 x/n - 0.5 + 1.5 z sqrt((nx - x²)/n³).
    Source: ISO 4120.
    """
    needed = triangle_needed(assessors=assessors, alpha=alpha)
    _check_alpha(beta)
    if correct is None:
        words = _needed_words(assessors, needed)
        return Triangle(assessors=assessors, alpha=alpha, needed=needed, says=words)
    if not 0 <= correct <= assessors:
        raise BadPanel(f"{correct} right answers of {assessors}; give 0 to {assessors}.")
    n, x = assessors, correct
    p = math.fsum(_binomial(right, n, GUESS) for right in range(x, n + 1))
    wide = NormalDist().inv_cdf(1 - beta) * math.sqrt((n * x - x * x) / n**3)
    upper = min(1.0, max(0.0, 1.5 * x / n - 0.5 + 1.5 * wide))
    differ = needed is not None and x >= needed
    tell = max(0.0, 1.5 * x / n - 0.5)
    return Triangle(
        assessors=n, alpha=alpha, needed=needed, correct=x, p=min(1.0, p), differ=differ,
        tell=tell, tell_upper=upper, says=_triangle_words(n, x, p, differ, tell, upper, beta),
    )  # fmt: skip


def triangle_power(*, assessors: int, tell: float, alpha: float = 0.05) -> float:
    """Return the chance to show a difference that a share ``tell`` of people can tell."""
    if not 0 <= tell <= 1:
        raise BadPanel(f"A share of {tell:g} who can tell; give 0 to 1.")
    needed = triangle_needed(assessors=assessors, alpha=alpha)
    if needed is None:
        return 0.0
    right = tell + (1 - tell) * GUESS
    chances = (_binomial(x, assessors, right) for x in range(needed, assessors + 1))
    return min(1.0, math.fsum(chances))


def triangle_assessors(
    *, tell: float, power: float = 0.9, alpha: float = 0.05, most: int = 500
) -> int | None:
    """
    Return the fewest assessors from which on a share ``tell`` is shown with ``power``.

    From that number on no larger panel up to ``most`` does worse, as the steps of the binomial
    otherwise would. None where ``most`` do not suffice.
    """
    if not 0 < power < 1:
        raise BadPanel(f"A power of {power:g}; give 0 to 1, such as 0.9.")
    found = None
    for count in range(most, 2, -1):
        if triangle_power(assessors=count, tell=tell, alpha=alpha) < power:
            break
        found = count
    return found


def _needed_words(assessors: int, needed: int | None) -> tuple[str, ...]:
    if needed is None:
        return (f"{assessors} assessors are too few: even all right could be guessing.",)
    return (f"{needed} of {assessors} right answers, or more, show that the two differ.",)


def _triangle_words(
    n: int, x: int, p: float, differ: bool, tell: float, upper: float, beta: float
) -> tuple[str, ...]:
    guessed = f"guessing gives {x} or more right of {n} in {_percent(p)} of panels"
    first = (
        f"The two smell different: {guessed}."
        if differ
        else f"No difference was shown: {guessed}. That does not show that they are alike."
    )
    sure = f"(with {100 * (1 - beta):g} % confidence)"
    if tell > 0:
        share = f"About {_percent(tell)} of people can tell them apart, at most {_percent(upper)}"
        return first, f"{share} {sure}."
    share = f"No more were right than guess right: at most {_percent(upper)} of people can tell"
    return first, f"{share} them apart {sure}."


# --- parts ---------------------------------------------------------------------------------------


def _check_alpha(alpha: float) -> None:
    if not 0 < alpha < 0.5:
        raise BadPanel(f"A risk of {alpha:g}; give more than 0 and less than 0.5, such as 0.05.")


def _check_assessors(assessors: int) -> None:
    if not 1 <= assessors <= MOST_ASSESSORS:
        raise BadPanel(f"{assessors} assessors; give 1 to {MOST_ASSESSORS}.")


def _binomial(x: int, n: int, p: float) -> float:
    if p in (0.0, 1.0):
        return float(x == round(n * p))
    log = math.lgamma(n + 1) - math.lgamma(x + 1) - math.lgamma(n - x + 1)
    return math.exp(log + x * math.log(p) + (n - x) * math.log1p(-p))


def _chi_square_above(value: float, freedom: int) -> float:
    """Return P(chi-square > value): finite sums, so that no library has to be loaded."""
    if value <= 0:
        return 1.0
    half = value / 2
    if freedom % 2 == 0:
        term = total = math.exp(-half)
        for k in range(1, freedom // 2):
            term *= half / k
            total += term
        return min(1.0, total)
    total = math.erfc(math.sqrt(half))
    term = math.exp(-half) * math.sqrt(half) / math.gamma(1.5)
    for k in range(1, (freedom - 1) // 2 + 1):
        total += term
        term *= half / (k + 0.5)
    return min(1.0, total)


def _percent(share: float) -> str:
    pct = 100 * share
    return "under 0.1 %" if pct < 0.1 else f"{pct:.1f} %" if pct < 10 else f"{pct:.0f} %"
