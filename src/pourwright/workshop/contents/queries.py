"""What is read of fills and net checks: a lot's log, its label, its evidence, past spreads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from statistics import fmean, stdev

from django.db.models import OuterRef, Q, QuerySet, Subquery, Sum

from pourwright.core.amounts import from_mg
from pourwright.core.contents import MARKET_RULES, Declared, parse_declared
from pourwright.core.contents.instruments import leans_on
from pourwright.core.release import NetResult
from pourwright.workshop.contents.models import (
    Fill,
    Instrument,
    InstrumentCheck,
    NetCheck,
    Rework,
)
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.designs.services import declared_of, markets_of
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import Filling
from pourwright.workshop.stores.models import (
    INSIDE,
    Balance,
    Lot,
    LotSource,
    Move,
    Origin,
    Place,
)

MOST_LOTS_BACK = 40


# --- a lot's log ---------------------------------------------------------------------------------


def fills_of(subject: Lot | Filling) -> QuerySet[Fill]:
    """Return every fill weighed of a lot, or of a filling that is no lot yet, in order."""
    if isinstance(subject, Filling):
        return Fill.objects.filter(filling=subject)
    return Fill.objects.filter(Q(lot=subject) | Q(filling__lot=subject))


def standing_fills(subject: Lot | Filling) -> list[Fill]:
    """Return the fills that count: with a net weight, not left out, not before a rework."""
    found = fills_of(subject).filter(net_mg__isnull=False, left_out="")
    if isinstance(subject, Lot) and (rework := newest_rework(subject)):
        found = found.filter(at__gt=rework.at)
    return list(found.select_related("scale"))


def newest_rework(lot: Lot) -> Rework | None:
    return Rework.objects.filter(lot=lot).order_by("-id").first()


def lot_size(lot: Lot) -> int:
    """Return how many candles a lot began with, as its pour or its books say."""
    for filling in Filling.objects.filter(Q(lot=lot) | Q(seconds_lot=lot)):
        number = filling.good if filling.lot_id == lot.pk else filling.seconds
        if number:
            return number
    into = Move.objects.filter(lot=lot, to_place__in=INSIDE).exclude(from_place__in=INSIDE)
    came = into.filter(entry__undone_by__isnull=True).aggregate(n=Sum("qty"))["n"]
    held = Balance.objects.filter(lot=lot, place__in=INSIDE).aggregate(n=Sum("qty"))["n"]
    return max(came or held or 1, 1)


# --- the label and the markets -------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """The net weight on a lot's label, and where it is from."""

    declared: Declared
    origin: str

    @property
    def text(self) -> str:
        return self.declared.text


def label_of(lot: Lot, version: DesignVersion | None) -> Label | None:
    """Return what a lot's label declares: its own after a relabelling, else its design's."""
    own = NetCheck.objects.filter(lot=lot, relabelled=True).order_by("-id").first()
    if own is not None:
        return Label(declared=parse_declared(own.declared), origin="relabelled")
    for parent in lots_above(lot):
        own = NetCheck.objects.filter(lot=parent, relabelled=True).order_by("-id").first()
        if own is not None:
            return Label(
                declared=parse_declared(own.declared), origin=f"relabelled as lot {parent.code}"
            )
    if version is None:
        return None
    declared, proposed = declared_of(version)
    return Label(
        declared=declared,
        origin="proposed from the fill weight" if proposed else f"{version}",
    )


def markets_with_rules(version: DesignVersion | None, workshop: Workshop) -> list[str]:
    """Return the markets that a lot is sold in and whose net rule is kept here."""
    markets = markets_of(version, workshop) if version else workshop.market_list
    return [market for market in (m.lower() for m in markets) if market in MARKET_RULES]


# --- evidence for the gate -----------------------------------------------------------------------


def lots_above(lot: Lot) -> list[Lot]:
    """Return the candle lots that this one was taken from, the nearest first."""
    found: list[Lot] = []
    at = lot
    for _ in range(20):
        link = (
            LotSource.objects.filter(
                child=at, parent__item=lot.item_id, entry__undone_by__isnull=True
            )
            .select_related("parent")
            .first()
        )
        if link is None:
            return found
        at = link.parent
        found.append(at)
    return found


def net_results(
    lot: Lot, *, version: DesignVersion | None, workshop: Workshop
) -> tuple[list[NetResult], list[str]]:
    """
    Return the newest net check of a lot for each market that it is sold in, and those markets.

    What was taken from a lot (a return, a tester, seconds set aside) leans on that lot's checks
    until it has its own. Seconds of a pour that was found short are short too until weighed.
    """
    markets = markets_with_rules(version, workshop)
    for at in [lot, *lots_above(lot)]:
        found = _own_results(at, markets)
        if found:
            return found, markets
    if lot.origin == Origin.SECONDS:
        sister = Lot.objects.filter(filling__seconds_lot=lot).first()
        if sister is not None:
            short = [result for result in _own_results(sister, markets) if result.answer == "fail"]
            return short, markets
    return [], markets


def _own_results(lot: Lot, markets: Iterable[str]) -> list[NetResult]:
    checks = newest_checks(lot)
    rework = newest_rework(lot) if checks else None
    return [_result(check, rework) for market, check in checks.items() if market in set(markets)]


def newest_checks(lot: Lot) -> dict[str, NetCheck]:
    """Return a lot's newest check under each market's rule."""
    return {check.market: check for check in NetCheck.objects.filter(lot=lot).order_by("id")}


def _result(check: NetCheck, rework: Rework | None) -> NetResult:
    day = f"{check.on.day} {check.on:%b %Y}"
    stale = ""
    if rework is not None and rework.at > check.at and check.verdict != NetCheck.Answer.FAIL:
        stale = f"Worked on since the check of {day}: weigh it anew."
    return NetResult(
        market=check.market, answer=check.verdict, stale=stale,
        words=f"{check.rule}, {check.declared}, {day}",
        why=" ".join(check.result.get("reasons", ())),
    )  # fmt: skip


# --- scales and thermometers ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaning:
    """An instrument with its newest check, and whether that is one to lean on."""

    instrument: Instrument
    check: InstrumentCheck | None
    leans: bool
    words: str

    @property
    def tone(self) -> str:
        if self.check is not None and not self.check.passed:
            return "bad"
        return "ok" if self.leans else "warn"


def leaning_on(*, on: date, retired: bool = False) -> list[Leaning]:
    """Return every instrument with how far its newest check reaches."""
    newest = InstrumentCheck.objects.filter(instrument=OuterRef("pk")).order_by("-on", "-id")
    found = list(
        Instrument.objects.filter(retired=retired).annotate(
            newest=Subquery(newest.values("pk")[:1])
        )
    )
    checks = InstrumentCheck.objects.in_bulk([one.newest for one in found if one.newest])
    return [leaning(one, checks.get(one.newest), on=on) for one in found]


def leaning(instrument: Instrument, check: InstrumentCheck | None, *, on: date) -> Leaning:
    leans, words = leans_on(check.on if check else None, on=on)
    if check is not None and not check.passed:
        leans, words = False, f"{words}, out of tolerance"
    return Leaning(instrument=instrument, check=check, leans=leans, words=words)


def newest_check_of(instrument: Instrument, *, by_day: date) -> InstrumentCheck | None:
    return instrument.checks.filter(on__lte=by_day).order_by("-on", "-id").first()


# --- past fills ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class PastFills:
    """
    How a design was filled so far: within its lots and from lot to lot, in grams.

    ``within_g`` is the spread within lots (pooled, n - 1 for each), ``between_g`` what the lots'
    means stray beyond what that explains; None where too few were weighed.
    """

    lots: int
    fills: int
    mean_g: float | None
    within_g: float | None
    between_g: float | None
    free: int = 0


def past_fills(design: Design) -> PastFills:
    """Return the spread of a design's newest lots of which fills were weighed."""
    rows = (
        Fill.objects.filter(net_mg__isnull=False, left_out="")
        .filter(
            Q(filling__design_version__design=design)
            | Q(lot__filling__design_version__design=design)
        )
        .order_by("-id")
        .values_list("filling_id", "lot__filling__id", "net_mg")[: MOST_LOTS_BACK * 60]
    )
    groups: dict[int, list[float]] = {}
    for filling, of_lot, net in rows:
        groups.setdefault(filling or of_lot, []).append(float(from_mg(net)))
    return spread_of(list(groups.values())[:MOST_LOTS_BACK])


def spread_of(groups: list[list[float]]) -> PastFills:
    fills = [fill for group in groups for fill in group]
    free = sum(len(group) - 1 for group in groups)
    if free < 1:
        mean = fmean(fills) if fills else None
        return PastFills(
            lots=len(groups), fills=len(fills), mean_g=mean, within_g=None, between_g=None
        )
    squares = sum((fill - fmean(group)) ** 2 for group in groups for fill in group)
    within = squares / free
    between = None
    if len(groups) > 1:
        means = [fmean(group) for group in groups]
        each = len(groups) / sum(1 / len(group) for group in groups)
        between = max(stdev(means) ** 2 - within / each, 0.0) ** 0.5
    return PastFills(
        lots=len(groups), fills=len(fills), mean_g=fmean(fills), within_g=within**0.5,
        between_g=between, free=free,
    )  # fmt: skip


def poured_a_year(design: Design, *, on: date) -> int:
    """Return how many candles of a design were poured in the year up to a day."""
    fillings = Filling.objects.filter(
        design_version__design=design, lot__began_on__gt=on - timedelta(days=365),
        lot__began_on__lte=on,
    )  # fmt: skip
    totals = fillings.aggregate(good=Sum("good"), seconds=Sum("seconds"))
    return (totals["good"] or 0) + (totals["seconds"] or 0)


def waiting_lots(*, on: date) -> QuerySet[Lot]:
    """Return cured candle lots on the shelf without any net check, the oldest first."""
    checked = NetCheck.objects.values("lot")
    return (
        Lot.objects.filter(
            item__kind="candle", origin__in=[Origin.POUR, Origin.SECONDS],
            balances__place=Place.SHELF, balances__qty__gt=0, ready_on__lte=on,
        )
        .exclude(pk__in=checked)
        .exclude(decisions__what="released")
        .select_related("item")
        .distinct()
        .order_by("ready_on", "id")
    )  # fmt: skip


def grams(fills: Iterable[Fill]) -> list[Fraction]:
    return [from_mg(fill.net_mg or 0) for fill in fills]
