"""
How far a candle is from the next element of its label.

Along a walk (``paths``) the criteria that are met change at exact places (``spans``); between two
of these the label stays the same. So the label is worked out once for every set of met criteria
that occurs, and each of its elements gets the spans on which it stands. Nothing is scanned.

A *band* is one element with its spans and what drives it; a *breakpoint* is a place at which
elements appear or disappear; a *ceiling* is the highest place up to which a goal ("no H317") holds.
All places are exact; what is shown is rounded to the safe side (``rounded_down``).

As with every label result: check against the rule's current text and, where unsure, a competent
adviser.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import floor

from pourwright.core.amounts import number
from pourwright.core.hazard.criterion import Criterion
from pourwright.core.hazard.elements import Element, Judge
from pourwright.core.hazard.model import Market, Substance
from pourwright.core.hazard.paths import Doses, Path, all_paths
from pourwright.core.hazard.spans import Cut, Span, in_order, spans

__all__ = [
    "GOALS",
    "Band",
    "Breakpoint",
    "Ceiling",
    "Change",
    "Driver",
    "Goal",
    "Headroom",
    "Headrooms",
    "headroom",
    "headrooms",
    "highest_keeping",
    "rounded_down",
    "spans",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """
    An ingredient that brings an element about, at the place where the band says.

    ``part`` is its part of the criterion's sum, 0 to 1; ``reach`` the whole sum as a multiple of
    the limit (1 is just met).
    """

    substance: Substance
    pct_of_whole: Fraction
    part: Fraction
    reach: Fraction
    criterion: Criterion


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """An element of the label, where on the walk it stands, and what drives it at ``driven_at``."""

    element: Element
    spans: tuple[Span, ...]
    now: bool
    drivers: tuple[Driver, ...]
    driven_at: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """
    What becomes of one element at a breakpoint.

    ``below`` and ``above`` are None beyond the walk's ends.
    """

    element: Element
    below: bool | None
    here: bool
    above: bool | None

    @property
    def appears(self) -> bool:
        """Whether it is there above and not below (``here`` tells from or above)."""
        return bool(self.above or (self.above is None and self.here)) and self.below is False

    @property
    def disappears(self) -> bool:
        return self.above is False and bool(self.below or (self.below is None and self.here))


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakpoint:
    """A place at which the label changes; ``pct_of_whole`` is the same on the other basis."""

    at: Fraction
    pct_of_whole: Fraction
    changes: tuple[Change, ...]

    @property
    def appears(self) -> tuple[Element, ...]:
        return tuple(change.element for change in self.changes if change.appears)

    @property
    def disappears(self) -> tuple[Element, ...]:
        return tuple(change.element for change in self.changes if change.disappears)


@dataclass(frozen=True, slots=True, kw_only=True)
class Headroom:
    """Everything that changes on the label along one walk."""

    path: Path
    market: Market
    on: date
    bands: tuple[Band, ...]
    breakpoints: tuple[Breakpoint, ...]

    @property
    def now(self) -> tuple[Element, ...]:
        """The label at the present place."""
        return self.at(self.path.present)

    def at(self, t: Fraction) -> tuple[Element, ...]:
        """Return the label's elements at a place of the walk."""
        return tuple(b.element for b in self.bands if any(span.holds(t) for span in b.spans))

    @property
    def next_up(self) -> Breakpoint | None:
        """The breakpoint next above the present place, if the walk has one."""
        return next((b for b in self.breakpoints if b.at > self.path.present), None)

    @property
    def next_down(self) -> Breakpoint | None:
        """The breakpoint next at or below the present place, if the walk has one."""
        below = [b for b in self.breakpoints if b.at <= self.path.present]
        return below[-1] if below else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Headrooms:
    """The headroom of a formula: along its load, and along each oil's dose, in their order."""

    load: Headroom
    oils: tuple[Headroom, ...]


# --- goals ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """A label without certain elements. ``words`` follow "stays": "free of H317"."""

    key: str
    words: str
    unwanted: Callable[[Element], bool]


def without(code: str) -> Goal:
    """Return the goal of a label without the element of this code, such as "H317"."""
    return Goal(key=f"no {code}", words=f"free of {code}", unwanted=lambda e: e.code == code)


GOALS: tuple[Goal, ...] = (
    without("H317"),
    Goal(
        key="no pictogram",
        words="free of every pictogram",
        unwanted=lambda element: element.kind == "pictogram",
    ),
    Goal(
        key="no environmental statement",
        words="free of statements on the environment",
        unwanted=lambda element: element.code.startswith(("H4", "EUH43", "EUH44", "EUH45")),
    ),
    Goal(
        key="no signal word",
        words="free of a signal word",
        unwanted=lambda element: element.kind == "signal word",
    ),
    without("EUH208"),
    Goal(
        key="no class",
        words="without any hazard class",
        unwanted=lambda element: element.kind == "class",
    ),
    Goal(
        key="no ban",
        words="allowed for sale to the public",
        unwanted=lambda element: element.kind == "ban",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """
    The highest place up to which a goal holds all the way from the walk's low end.

    ``included`` says whether ``at`` itself is allowed; ``to_the_end`` that the goal is never missed
    on the walk. ``met_now`` looks at the present place. ``spans`` are all places where the goal is
    met, for it may be met again further up (where wax or a diluted oil brought the element).
    """

    goal: Goal
    at: Fraction
    pct_of_whole: Fraction
    included: bool
    to_the_end: bool
    met_now: bool
    spans: tuple[Span, ...]

    def words(self, *, places: int = 4, of_whole: bool = False) -> str:
        """
        Return "up to 7.1428" or "below 7.5", rounded down.

        Where rounding takes something away, the rounded place lies below the bound and is itself
        allowed, so that it is "up to" either way.
        """
        exact = self.pct_of_whole if of_whole else self.at
        shown = rounded_down(exact, places)
        word = "up to" if self.included or shown < exact else "below"
        return f"{word} {number(shown, places=places, strip=True)}"


def highest_keeping(found: Headroom, goal: Goal) -> Ceiling | None:
    """
    Return the highest place up to which the label keeps the goal, or None where it never does.

    None too where the goal is missed from the low end on (the wax alone may miss it); the places
    further up where it is met are then to be found with ``keeping``.
    """
    kept = keeping(found, goal)
    path = found.path
    if not kept or kept[0].low != path.low or not kept[0].low_in:
        return None
    return Ceiling(
        goal=goal,
        at=kept[0].high,
        pct_of_whole=path.pct_of_whole_at(kept[0].high),
        included=kept[0].high_in,
        to_the_end=kept[0].high == path.high and kept[0].high_in,
        met_now=any(span.holds(path.present) for span in kept),
        spans=kept,
    )


def keeping(found: Headroom, goal: Goal) -> tuple[Span, ...]:
    """Return all places of the walk at which the label has none of what the goal does not want."""
    missed = sorted(
        (
            (span.low, int(not span.low_in)), (span.high, int(span.high_in))
        )
        for band in found.bands
        if goal.unwanted(band.element)
        for span in band.spans
    )  # fmt: skip
    kept: list[Span] = []
    here: Cut = (found.path.low, 0)
    for start, end in missed:
        if here < start:
            kept.append(Span.between(here, start))
        here = max(here, end)
    last: Cut = (found.path.high, 1)
    if here < last:
        kept.append(Span.between(here, last))
    return tuple(kept)


def rounded_down(value: Fraction, places: int) -> Fraction:
    """
    Return ``value`` rounded down to ``places`` decimals: the safe side for a highest amount.

    >>> rounded_down(Fraction(50, 7), 4)
    Fraction(17857, 2500)
    """
    return Fraction(floor(value * 10**places), 10**places)


# --- walking -------------------------------------------------------------------------------------


def headroom(
    path: Path,
    *,
    market: Market,
    on: date,
    package_ml: Fraction | None = None,
    marketed_before: bool = False,
    judge: Judge | None = None,
) -> Headroom:
    """
    Return every label element's bands and every breakpoint along a walk.

    ``judge`` may be handed in to share work between walks of the same formula; the other arguments
    are then its own.
    """
    if judge is None:
        judge = Judge(
            path.substances,
            market=market,
            on=on,
            package_ml=package_ml,
            marketed_before=marketed_before,
        )
    stretches = _stretches(path, judge)
    places: dict[tuple[str, str], list[tuple[Cut, Cut]]] = {}
    elements: dict[tuple[str, str], Element] = {}
    sets: dict[tuple[str, str], frozenset[str]] = {}
    for start, end, met in stretches:
        for element in judge.elements(met):
            at = places.setdefault(element.key, [])
            if at and at[-1][1] == start:
                at[-1] = (at[-1][0], end)
            else:
                at.append((start, end))
            elements.setdefault(element.key, element)
            sets.setdefault(element.key, met)
    met_now = next(met for start, end, met in stretches if start <= (path.present, 0) < end)
    drivers = _Drivers(path, judge)
    there_now = {element.key for element in judge.elements(met_now)}
    bands = tuple(
        _band(
            drivers,
            elements[key],
            places[key],
            met=met_now if key in there_now else sets[key],
            now=key in there_now,
        )
        for key in sorted(places, key=lambda key: elements[key].rank)
    )
    return Headroom(
        path=path,
        market=judge.market,
        on=judge.on,
        bands=bands,
        breakpoints=_breakpoints(path, bands),
    )


def headrooms(
    doses: Doses,
    *,
    market: Market,
    on: date,
    package_ml: Fraction | None = None,
    marketed_before: bool = False,
) -> Headrooms:
    """
    Return a formula's headroom along its load and along each oil's dose.

    With one oil its dose is the load, and there are no walks of oils.
    """
    load, *oils = all_paths(doses)
    judge = Judge(
        load.substances,
        market=market,
        on=on,
        package_ml=package_ml,
        marketed_before=marketed_before,
    )
    return Headrooms(
        load=headroom(load, market=market, on=on, judge=judge),
        oils=tuple(headroom(path, market=market, on=on, judge=judge) for path in oils),
    )


def _stretches(path: Path, judge: Judge) -> list[tuple[Cut, Cut, frozenset[str]]]:
    """Return the walk cut where any criterion turns, each stretch with the criteria met on it."""
    start: Cut = (path.low, 0)
    end: Cut = (path.high, 1)
    toggles: dict[Cut, list[str]] = {}
    for key, met in zip(judge.keys, judge.sheet.walk(path), strict=True):
        for stretch in met:
            for cut in stretch:
                toggles.setdefault(cut, []).append(key)
    toggles.setdefault(start, [])
    toggles.pop(end, None)
    cuts = in_order(toggles)
    met_keys: set[str] = set()
    found = []
    for here, there in zip(cuts, [*cuts[1:], end], strict=True):
        met_keys.symmetric_difference_update(toggles[here])
        found.append((here, there, frozenset(met_keys)))
    return found


def _band(
    drivers: _Drivers,
    element: Element,
    at: Sequence[tuple[Cut, Cut]],
    *,
    met: frozenset[str],
    now: bool,
) -> Band:
    """Return a band, driven at the present place where it stands there, else where it begins."""
    where = drivers.path.present if now else at[0][0][0]
    return Band(
        element=element,
        spans=tuple(Span.between(start, end) for start, end in at),
        now=now,
        drivers=drivers.of(element, met, where),
        driven_at=where,
    )


class _Drivers:
    """The ingredients behind elements on one walk; each criterion is looked at once a place."""

    def __init__(self, path: Path, judge: Judge) -> None:
        self.path, self.judge = path, judge
        self._known: dict[Fraction, dict[str, list[Driver]]] = {}

    def of(self, element: Element, met: frozenset[str], t: Fraction) -> tuple[Driver, ...]:
        """Return the ingredients behind an element at t, those of the furthest reach first."""
        behind = self.judge.behind(element, met)
        known = self._known.setdefault(t, {})
        for criterion in behind:
            if criterion.key not in known:
                known[criterion.key] = self._of_criterion(criterion, t)
        found = [
            driver
            for criterion in behind
            for driver in known[criterion.key]
            if element.kind != "name" or driver.substance.name == element.code
        ]
        return tuple(sorted(found, key=lambda driver: (-driver.reach, -driver.part)))

    def _of_criterion(self, criterion: Criterion, t: Fraction) -> list[Driver]:
        path = self.path
        p, q = t.numerator, t.denominator
        whole = path.whole_start * q + path.whole_slope * p
        parts = []
        for term in criterion.terms:
            brought = path.starts[term.ingredient] * q + path.slopes[term.ingredient] * p
            cut_off = term.cut_off_pct
            if brought > 0 and brought * cut_off.denominator >= cut_off.numerator * whole:
                parts.append((term.ingredient, brought, term.weight * brought))
        total = sum((counts for *_, counts in parts), Fraction(0))
        return [
            Driver(
                substance=path.substances[ingredient],
                pct_of_whole=Fraction(brought, whole),
                part=counts / total,
                reach=total / (whole * criterion.limit),
                criterion=criterion,
            )
            for ingredient, brought, counts in parts
        ]


def _breakpoints(path: Path, bands: Sequence[Band]) -> tuple[Breakpoint, ...]:
    """Return the places at which a band begins or ends, the walk's own ends left out."""
    turning: dict[Fraction, list[Band]] = {}
    for band in bands:
        for cut in _turns(path, band):
            turning.setdefault(cut, []).append(band)
    return tuple(
        Breakpoint(
            at=cut[0],
            pct_of_whole=path.pct_of_whole_at(cut[0]),
            changes=tuple(_change(path, band, cut[0]) for band in turning[cut[0]]),
        )
        for cut in in_order((t, 0) for t in turning)
    )


def _turns(path: Path, band: Band) -> set[Fraction]:
    """Return where a band begins or ends within the walk."""
    turns = set()
    for span in band.spans:
        if span.low > path.low or not span.low_in:
            turns.add(span.low)
        if span.high < path.high or not span.high_in:
            turns.add(span.high)
    return turns


def _change(path: Path, band: Band, t: Fraction) -> Change:
    below = here = above = False
    for span in band.spans:
        if span.high < t:
            continue
        if span.low > t:
            break
        below = below or span.low < t
        above = above or span.high > t
        here = here or span.holds(t)
    return Change(
        element=band.element,
        below=below if t > path.low else None,
        here=here,
        above=above if t < path.high else None,
    )
