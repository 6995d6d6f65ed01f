"""
The next burn of a design: from the workshop's records to the core's planner and back.

The planner learns from every burn of every design. numpy and scipy are loaded only when it is
asked, so that the program starts as fast as before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from django.utils import timezone

from pourwright.core.errors import BadInput
from pourwright.papers.burn_pictures import ChanceRow, chances_svg
from pourwright.workshop.burns import records
from pourwright.workshop.burns.models import SearchSettings, TestBurn, TestPiece
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import core_formula, facts_of, recipe_of, with_parts
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Item, Kind

if TYPE_CHECKING:
    from pourwright.core.burns.learning import Seen, Setup
    from pourwright.core.burns.next_burn import Advice, Chance, Criteria

# The newest burns are learnt from: more only slows the page down.
MOST_BURNS = 400
# What the criteria mean where no wick is named is told in the trade's words by the core.
STATES = {
    "burn": ("wait", "burn next"), "confirmed": ("ok", "enough is confirmed"),
    "hopeless": ("bad", "no wick of these is likely to do"),
}  # fmt: skip
SPENT = ("warn", "as many burns as a search takes")


class NothingToChoose(BadInput):
    """No wick from which the next burn could be chosen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A wick that could be burnt, with what is expected of it."""

    wick: Item
    chance: Chance
    pieces: int  # how many of it the proposed set has

    @property
    def percent(self) -> int:
        return round(100 * self.chance.share)

    @property
    def low(self) -> int:
        return round(100 * self.chance.low)

    @property
    def high(self) -> int:
        return round(100 * self.chance.high)

    @property
    def reasons(self) -> list[tuple[str, int]]:
        return [(why, round(100 * share)) for why, share in self.chance.reasons]

    @property
    def name(self) -> str:
        facts = facts_of(self.wick, "wick")
        return f"{facts.series} {facts.size}".strip() if facts and facts.series else self.wick.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """
    What to burn next for a design.

    ``learnt`` burns were learnt from, ``own`` of them the design's; ``left`` says which were not
    and why; ``lacking`` are wicks that cannot be chosen from, for they have no rate.
    """

    advice: Advice
    candidates: tuple[Candidate, ...]
    learnt: int
    own: int
    left: tuple[str, ...]
    wax_mg: int
    cure_days: int
    picture: tuple[str, str]

    @property
    def state(self) -> tuple[str, str]:
        return SPENT if self.advice.spent else STATES[self.advice.state]

    @property
    def proposed(self) -> list[Candidate]:
        return [candidate for candidate in self.candidates if candidate.pieces]

    @property
    def best(self) -> Candidate:
        return next(c for c in self.candidates if c.chance is self.advice.best)


def series_of() -> tuple[list[str], list[Item]]:
    """Return the wick series to choose from, and the wicks that lack a series or a rate."""
    names, lacking = set(), []
    for wick in _wicks():
        facts = facts_of(wick, "wick")
        if facts and facts.series and facts.burn_rate_g_h:
            names.add(facts.series)
        else:
            lacking.append(wick)
    return sorted(names), lacking


def _wicks() -> list[Item]:
    return list(Item.objects.filter(kind=Kind.WICK, retired=False).select_related("wick"))


def criteria() -> Criteria:
    """Return the search's criteria as the maker set them."""
    from pourwright.core.burns.criteria import criteria_of

    row = SearchSettings.load()
    names = ("full_pct", "soonest_h", "latest_h", "depth_mm", "wall_c", "needed")
    return criteria_of({name: Fraction(getattr(row, name)) for name in names})


def wax_name(version: DesignVersion) -> str:
    """Return what the planner knows a wax or a blend by: its items and their shares."""
    waxes = recipe_of(version.formula_version).waxes
    whole = sum(share for _, share in waxes)
    parts = sorted(f"{item.pk}:{round(100 * share / whole)}" for item, share in waxes)
    return " ".join(parts)


def setup_of(
    version: DesignVersion,
    *,
    wick: Item,
    wick_count: int,
    fill_mg: int | None = None,
    cure_days: float = 14,
) -> Setup | None:
    """Return what the planner takes; None where the wick has no rate. Raises ``WidthNotKnown``."""
    from pourwright.core.burns.learning import Setup

    facts = facts_of(wick, "wick")
    if facts is None or not facts.burn_rate_g_h:
        return None
    candle = records.core_candle(version, wick_count=wick_count, fill_mg=fill_mg)
    return Setup(
        design=str(version.design_id), series=facts.series or wick.name,
        size=facts.size or wick.name, rate_g_per_h=float(facts.burn_rate_g_h),
        inside_diameter_mm=float(candle.inside_diameter_mm), wax=wax_name(version),
        load_pct_of_wax=float(core_formula(version.formula_version).load_pct_of_wax),
        wick_count=wick_count, cure_days=float(max(cure_days, 1)),
    )  # fmt: skip


def seen_burns(found: Criteria, *, on: date) -> tuple[list[Seen], list[str]]:
    """Return what every burn on record taught, and in words which taught nothing."""
    from pourwright.core.burns.learning import prior
    from pourwright.core.burns.seen import seen_of

    burns = (
        records.with_readings(TestBurn.objects.filter(left_out="", minutes__isnull=False))
        .select_related(
            "piece__version__design", "piece__version__vessel__vessel", "piece__wick__wick",
            "piece__version__formula_version",
        )
        .prefetch_related(*with_parts("piece__version__formula_version__"))
        .order_by("-lit_at")[:MOST_BURNS]
    )  # fmt: skip
    seen: list[Seen] = []
    without: dict[str, int] = {}
    for burn in burns:
        piece: TestPiece = burn.piece
        days = (timezone.localdate(burn.lit_at) - piece.poured_on).days
        try:
            setup = setup_of(
                piece.version, wick=piece.wick, wick_count=piece.wick_count,
                fill_mg=piece.fill_mg, cure_days=days,
            )  # fmt: skip
            if setup is None:
                why = f"{piece.wick.name} has no burn rate in the stores"
            else:
                core = records.core_burn(burn)
                seen.append(seen_of(core, setup, criteria=found, prior=prior(on=on)))
                continue
        except BadInput as problem:
            why = str(problem)
        without[why] = without.get(why, 0) + 1
    left = [f"{count} burn{'' if count == 1 else 's'}: {why}" for why, count in without.items()]
    return seen, left


def search(
    version: DesignVersion,
    *,
    series: Sequence[str],
    wick_count: int,
    side_by_side: int,
    on: date,
    workshop: Workshop,
) -> Search:
    """
    Return what to burn next for a design in so many wicks of these series.

    Raises ``NothingToChoose``, and ``WidthNotKnown`` where the vessel is not measured.
    """
    from pourwright.core.burns.next_burn import Cost, next_burn

    row = SearchSettings.load()
    days = designs.cure_days(version, workshop)
    wicks, setups = [], []
    for wick in _wicks():
        facts = facts_of(wick, "wick")
        if facts is None or facts.series not in series:
            continue
        setup = setup_of(version, wick=wick, wick_count=wick_count, cure_days=days)
        if setup is not None:
            wicks.append(wick)
            setups.append(setup)
    if not setups:
        raise NothingToChoose(
            "No wick to choose from: choose a series whose wicks have a burn rate. It stands in "
            "the supplier’s chart; enter it on the wick’s page in the stores."
        )
    found = criteria()
    seen, left = seen_burns(found, on=on)
    cost = Cost(
        side_by_side=side_by_side, cure_days=float(days), wax_g=version.fill_mg / 1000,
        week_in_burns=float(row.week_in_burns),
    )  # fmt: skip
    order = sorted(range(len(setups)), key=lambda place: setups[place].rate_g_per_h)
    wicks, setups = [wicks[place] for place in order], [setups[place] for place in order]
    advice = next_burn(setups, seen, criteria=found, on=on, cost=cost)
    candidates = tuple(
        Candidate(wick=wick, chance=chance, pieces=sum(s == chance.setup for s in advice.propose))
        for wick, chance in zip(wicks, advice.chances, strict=True)
    )
    return Search(
        advice=advice, candidates=candidates, learnt=len(seen),
        own=sum(burn.setup.design == str(version.design_id) for burn in seen), left=tuple(left),
        wax_mg=version.fill_mg * len(advice.propose), cure_days=days,
        picture=_pictures(candidates, advice.best),
    )  # fmt: skip


def _pictures(candidates: Sequence[Candidate], best: Chance) -> tuple[str, str]:
    rows = [
        ChanceRow(
            label=c.name, share=c.chance.share, low=c.chance.low, high=c.chance.high,
            note=f"{c.chance.met} of {c.chance.burns} met" if c.chance.burns else "not burnt",
            chosen=bool(c.pieces) or c.chance is best,
        )
        for c in candidates
    ]  # fmt: skip
    wide, narrow = (
        str(
            chances_svg(
                rows, title="Share of burns expected to meet your own criteria, by wick",
                desc="The line is the range that it lies in with 80 % surety; the table has the "
                "figures.", width=width, prefix=f"chances-{width}",
            )
        )
        for width in (620, 330)
    )  # fmt: skip
    return wide, narrow
