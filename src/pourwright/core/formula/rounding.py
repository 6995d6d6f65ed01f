"""
Weighing targets that a real scale can show.

Each target is rounded to the scale's division so that the parts add up to their rounded total.
Method: largest remainder, which is the integer least-squares answer and has the smallest worst
error too. Where parts have upper bounds, divisions are given one at a time to the part whose error
grows least; for a sum of convex errors that is still the optimum.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.amounts import number, show_mass
from pourwright.core.errors import BadInput
from pourwright.core.formula.batch import Amount, Batch
from pourwright.core.formula.limits import Finding, strictest_wax_limit
from pourwright.core.formula.load import as_load_of_wax
from pourwright.core.formula.recipe import Formula

COARSE_PCT = 5
SEARCH_PCT = 2
# Judgement: a smaller error than this needs no other total, and one that is not halved is not worth
# changing the batch for. It also keeps the search short: only a few hundred divisions err by more.
WORTH_POINTS = Fraction(1, 10)


class BadDivision(BadInput):
    """The scale's division cannot be one."""


def spread(
    wanted: Sequence[Fraction], *, total: int, most: Sequence[int | None] | None = None
) -> list[int]:
    """
    Return whole divisions for each part, adding up to ``total`` where the bounds let them.

    ``wanted`` are the exact amounts in divisions, zero or more; ``most`` bounds a part from above
    (``None``: no bound). The sum of squared errors is the least possible. Ties go to the earliest.

    >>> spread([Fraction("2.5"), Fraction("1.3"), Fraction("1.2")], total=5)
    [3, 1, 1]
    """
    bounds = most if most is not None else [None] * len(wanted)
    parts = [
        int(want) if bound is None else min(int(want), bound)
        for want, bound in zip(wanted, bounds, strict=True)
    ]
    for _ in range(total - sum(parts)):
        open_places = [
            place for place, bound in enumerate(bounds) if bound is None or parts[place] < bound
        ]
        if not open_places:
            break
        place = min(open_places, key=lambda at: parts[at] - wanted[at])
        parts[place] += 1
    for _ in range(sum(parts) - total):
        place = max(range(len(parts)), key=lambda at: (parts[at] > 0, parts[at] - wanted[at]))
        parts[place] -= 1
    return parts


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """
    One thing to weigh: exactly and as the scale can show it, in grams.

    For an oil, ``share_error_points`` is how far its part of the oils is off, and
    ``load_error_points`` how far its own load is off, in points of percent (of the oils, and of
    the wax that is weighed).
    """

    name: str
    exact_g: Fraction
    weigh_g: Fraction
    share_error_points: Fraction = Fraction(0)
    load_error_points: Fraction = Fraction(0)

    @property
    def error_g(self) -> Fraction:
        return self.weigh_g - self.exact_g


@dataclass(frozen=True, slots=True, kw_only=True)
class NearbyTotal:
    """Another amount of oil, with the wax that keeps the load, whose shares come out closer."""

    oil_g: Fraction
    wax_g: Fraction
    oils_g: tuple[Fraction, ...]
    worst_share_error_points: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """
    What to weigh for a batch on a scale, and the error that remains.

    Loads are those of the rounded amounts. ``nearby`` is a total within 2 % whose worst share
    error is half of this one's or less, where this one's is above 0.1 points.
    """

    division_g: Fraction
    wax_division_g: Fraction
    waxes: tuple[Target, ...]
    oils: tuple[Target, ...]
    extras: tuple[Target, ...]
    load_pct_of_wax: Fraction
    load_pct_of_whole: Fraction
    load_error_points: Fraction
    worst_share_error_points: Fraction
    nearby: NearbyTotal | None
    findings: tuple[Finding, ...]

    @property
    def wax_g(self) -> Fraction:
        return sum((target.weigh_g for target in self.waxes), Fraction(0))

    @property
    def oil_g(self) -> Fraction:
        return sum((target.weigh_g for target in self.oils), Fraction(0))

    @property
    def extras_g(self) -> Fraction:
        return sum((target.weigh_g for target in self.extras), Fraction(0))

    @property
    def mix_g(self) -> Fraction:
        return self.wax_g + self.oil_g + self.extras_g


def weighing_targets(
    formula: Formula,
    batch: Batch,
    *,
    division_g: Fraction,
    wax_division_g: Fraction | None = None,
    past_wax_limit: bool = False,
) -> Weighing:
    """
    Return the batch's weighing targets on a scale.

    ``division_g`` is the oils' and extras' scale; the wax's is the same unless given. No oil is
    rounded above its safety limit, nor the load above the wax's limit unless ``past_wax_limit``
    (an override with a reason): less oil is weighed instead, and a finding says so.
    """
    wax_division_g = division_g if wax_division_g is None else wax_division_g
    _check_division(division_g)
    _check_division(wax_division_g)
    waxes_g = _rounded([part.mass_g for part in batch.waxes], division_g=wax_division_g)
    wax_g = sum(waxes_g, Fraction(0))
    extras_g = [round(part.mass_g / division_g) * division_g for part in batch.extras]
    oils_g = _oils_on_scale(
        formula,
        wanted_g=[part.mass_g for part in batch.oils],
        wax_g=wax_g,
        extras_g=sum(extras_g, Fraction(0)),
        division_g=division_g,
        past_wax_limit=past_wax_limit,
    )
    oil_g = sum(oils_g, Fraction(0))
    mix_g = wax_g + oil_g + sum(extras_g, Fraction(0))
    if wax_g == 0:
        raise BadDivision(
            f"The wax of this batch is less than half a division of {_g(wax_division_g)}; "
            "use a finer scale."
        )
    oils = _oil_targets(formula, batch, oils_g=oils_g, wax_g=wax_g)
    waxes = _targets(batch.waxes, waxes_g)
    extras = _targets(batch.extras, extras_g)
    return Weighing(
        division_g=division_g,
        wax_division_g=wax_division_g,
        waxes=waxes,
        oils=oils,
        extras=extras,
        load_pct_of_wax=100 * oil_g / wax_g,
        load_pct_of_whole=100 * oil_g / mix_g,
        load_error_points=100 * oil_g / wax_g - formula.load_pct_of_wax,
        worst_share_error_points=_worst(target.share_error_points for target in oils),
        nearby=_nearby_total(formula, batch, oils_g=oils_g, division_g=division_g),
        findings=(
            *_coarse((*oils, *extras), division_g=division_g),
            *_coarse(waxes, division_g=wax_division_g),
            *_held_back(oil_g=oil_g, exact_g=batch.oil_g, division_g=division_g),
        ),
    )


def _check_division(division_g: Fraction) -> None:
    if division_g <= 0:
        raise BadDivision(
            "A scale's division is more than zero; write the smallest step it shows, such as 1 g."
        )


def _rounded(exact_g: Sequence[Fraction], *, division_g: Fraction) -> list[Fraction]:
    wanted = [mass_g / division_g for mass_g in exact_g]
    parts = spread(wanted, total=round(sum(wanted, Fraction(0))))
    return [part * division_g for part in parts]


def _oils_on_scale(
    formula: Formula,
    *,
    wanted_g: Sequence[Fraction],
    wax_g: Fraction,
    extras_g: Fraction,
    division_g: Fraction,
    past_wax_limit: bool,
) -> list[Fraction]:
    """
    Return the oils in whole divisions, within every limit of the mix they end up in.

    An oil's limit is a percentage of a whole that depends on the rounded oils. Starting from the
    rounded total, bounds and whole are worked out anew until the whole no longer shrinks.
    """
    wanted = [mass_g / division_g for mass_g in wanted_g]
    total = round(sum(wanted, Fraction(0)))
    if not past_wax_limit:
        total = min(total, _most_divisions(formula, wax_g=wax_g, division_g=division_g, no=total))
    while True:
        whole_g = wax_g + extras_g + total * division_g
        most = [
            None
            if oil.max_pct_of_whole is None
            else int(oil.max_pct_of_whole * whole_g / 100 / division_g)
            for oil in formula.oils
        ]
        parts = spread(wanted, total=total, most=most)
        if sum(parts) >= total:
            return [part * division_g for part in parts]
        total = sum(parts)


def _most_divisions(formula: Formula, *, wax_g: Fraction, division_g: Fraction, no: int) -> int:
    """Return the most divisions of oil that the weighed wax may take, ``no`` without a limit."""
    found = strictest_wax_limit(formula)
    if found is None:
        return no
    limit = as_load_of_wax(found[1], extras_pct_of_wax=formula.extras_pct_of_wax)
    return int(limit.pct_of_wax * wax_g / 100 / division_g)


def _targets(amounts: Sequence[Amount], weigh_g: Sequence[Fraction]) -> tuple[Target, ...]:
    return tuple(
        Target(name=amount.name, exact_g=amount.mass_g, weigh_g=rounded_g)
        for amount, rounded_g in zip(amounts, weigh_g, strict=True)
    )


def _oil_targets(
    formula: Formula, batch: Batch, *, oils_g: Sequence[Fraction], wax_g: Fraction
) -> tuple[Target, ...]:
    errors = share_errors_points(oils_g, formula.oil_fractions)
    return tuple(
        Target(
            name=amount.name,
            exact_g=amount.mass_g,
            weigh_g=rounded_g,
            share_error_points=error,
            load_error_points=100 * rounded_g / wax_g - formula.load_pct_of_wax * fraction,
        )
        for amount, rounded_g, error, fraction in zip(
            batch.oils, oils_g, errors, formula.oil_fractions, strict=True
        )
    )


def share_errors_points(
    parts: Sequence[Fraction | int], fractions: Sequence[Fraction]
) -> list[Fraction]:
    """Return how far each part of the whole is from its fraction, in points of percent."""
    whole = sum(parts)
    if whole == 0:
        return [-100 * fraction for fraction in fractions]
    return [
        Fraction(100 * part) / whole - 100 * fraction
        for part, fraction in zip(parts, fractions, strict=True)
    ]


def _worst(errors: Iterable[Fraction]) -> Fraction:
    return max((abs(error) for error in errors), default=Fraction(0))


def _nearby_total(
    formula: Formula, batch: Batch, *, oils_g: Sequence[Fraction], division_g: Fraction
) -> NearbyTotal | None:
    """Return the total within ±2 % whose worst share error is least, if that halves this one's."""
    fractions = formula.oil_fractions
    here_worst = _worst(share_errors_points(oils_g, fractions))
    if here_worst <= WORTH_POINTS:
        return None
    here = int(sum(oils_g, Fraction(0)) / division_g)
    reach = here * SEARCH_PCT // 100
    best_worst = here_worst / 2
    best: tuple[int, list[int]] | None = None
    for total in sorted(range(here - reach, here + reach + 1), key=lambda no: abs(no - here)):
        parts = spread([total * fraction for fraction in fractions], total=total)
        worst = _worst(share_errors_points(parts, fractions))
        nearer = worst < best_worst or (best is None and worst == best_worst)
        if nearer and _within_oil_limits(formula, parts=parts, total=total):
            best_worst, best = worst, (total, parts)
    if best is None:
        return None
    total, parts = best
    oil_g = total * division_g
    return NearbyTotal(
        oil_g=oil_g,
        wax_g=oil_g * 100 / formula.load_pct_of_wax,
        oils_g=tuple(part * division_g for part in parts),
        worst_share_error_points=best_worst,
    )


def _within_oil_limits(formula: Formula, *, parts: Sequence[int], total: int) -> bool:
    """Return whether each oil is within its limit when the wax is scaled to keep the load."""
    return all(
        oil.max_pct_of_whole is None
        or formula.load_pct_of_whole * part / total <= oil.max_pct_of_whole
        for oil, part in zip(formula.oils, parts, strict=True)
    )


def _coarse(targets: Sequence[Target], *, division_g: Fraction) -> list[Finding]:
    """Return a warning for each thing of which one division is more than 5 %."""
    return [
        Finding(
            code="coarse_scale",
            severity="warn",
            message=f"One division of the scale, {_g(division_g)}, is "
            f"{number(100 * division_g / target.exact_g, places=1, strip=True)} % of the "
            f"{_g(target.exact_g)} of {target.name}: use a finer scale, or dilute it first.",
        )
        for target in targets
        if target.exact_g > 0 and 100 * division_g > COARSE_PCT * target.exact_g
    ]


def _held_back(*, oil_g: Fraction, exact_g: Fraction, division_g: Fraction) -> list[Finding]:
    if exact_g - oil_g <= division_g / 2:
        return []
    return [
        Finding(
            code="held_back_by_limit",
            severity="warn",
            message=f"The scale cannot reach the load without passing a limit: "
            f"{_g(oil_g)} of oil is weighed instead of {_g(exact_g)}.",
        )
    ]


def _g(mass_g: Fraction) -> str:
    return f"{show_mass(mass_g, 'metric')} ({show_mass(mass_g, 'us')})"
