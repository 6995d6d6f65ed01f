"""What the shelf's pages read: candle lots held, their state in a word, and what each cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db.models import OuterRef, Q, QuerySet, Subquery, Sum

from pourwright.core.costing import PARTS
from pourwright.core.shares import split_exactly
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates.models import Decision
from pourwright.workshop.gates.services import design_version_ids, released_ids, withdrawn_lots
from pourwright.workshop.pours.models import LotCost
from pourwright.workshop.shelf.lots import icons_of
from pourwright.workshop.shelf.services import finishing_costs, finishing_entry
from pourwright.workshop.stores.models import (
    Balance,
    EntryKind,
    Kind,
    Lot,
    LotSource,
    Move,
    Origin,
    Place,
)

HELD = (Place.SHELF, Place.TEST, Place.RETURNED)
TABS = (
    ("", "All held"),
    ("curing", "Curing"),
    ("checks", "Waiting for checks"),
    ("released", "Released"),
    ("past", "Past best before"),
    ("seconds", "Seconds"),
    ("test", "Test table"),
    ("returned", "Returned"),
)
COMPONENTS = (*PARTS, "before the books")


def held(tab: str, *, on: date) -> QuerySet[Balance]:
    """Return the candle lots held, by place, of one of the shelf's tabs."""
    newest = (
        Decision.objects.filter(
            lot=OuterRef("lot"), what__in=[Decision.What.RELEASED, Decision.What.WITHDRAWN]
        )
        .order_by("-id")
        .values("what")[:1]
    )
    rows = (
        Balance.objects.filter(place__in=HELD, qty__gt=0, lot__item__kind=Kind.CANDLE)
        .annotate(gate=Subquery(newest))
        .select_related("lot__item__design")
        .order_by("-lot__began_on", "-lot_id", "place")
    )
    shelf = rows.filter(place=Place.SHELF)
    released = Q(gate=Decision.What.RELEASED)
    match tab:
        case "curing":
            return shelf.filter(lot__ready_on__gt=on).order_by("lot__ready_on", "lot_id")
        case "checks":
            closed = Q(gate__isnull=True) | Q(gate=Decision.What.WITHDRAWN)
            cured = Q(lot__ready_on__isnull=True) | Q(lot__ready_on__lte=on)
            waiting = shelf.filter(closed, cured)
            return waiting.order_by("lot__ready_on", "lot_id")
        case "released":
            return shelf.filter(released).order_by("lot__began_on", "lot_id")
        case "past":
            return rows.filter(lot__best_before__lt=on)
        case "seconds":
            return rows.filter(lot__origin=Origin.SECONDS)
        case "test":
            return rows.filter(place=Place.TEST)
        case "returned":
            return rows.filter(place=Place.RETURNED)
    return rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A candle lot at a place, with its drawing and its state."""

    lot: Lot
    place: str
    qty: int
    icon: str
    tone: str
    word: str

    @property
    def place_word(self) -> str:
        return Place(self.place).label


def rows_of(balances: Sequence[Balance], *, on: date) -> list[Row]:
    """Return a page of the list; a few queries for all of it."""
    lots = [balance.lot for balance in balances]
    icons = icons_of(lots)
    lot_released = released_ids(Lot, [lot.pk for lot in lots])
    withdrawn = withdrawn_lots(lot.pk for lot in lots)
    versions = design_version_ids(lot.pk for lot in lots)
    design_released = released_ids(DesignVersion, [pk for pk in versions.values() if pk])
    rows = []
    for balance in balances:
        version = versions[balance.lot_id]
        tone, word = state_of(
            balance.lot,
            place=balance.place,
            lot_released=balance.lot_id in lot_released,
            design_released=version is None or version in design_released,
            withdrawn=balance.lot_id in withdrawn,
            on=on,
        )
        rows.append(
            Row(
                lot=balance.lot, place=balance.place, qty=balance.qty,
                icon=icons.get(balance.lot_id, ""), tone=tone, word=word,
            )
        )  # fmt: skip
    return rows


def state_of(
    lot: Lot,
    *,
    place: str,
    lot_released: bool,
    design_released: bool,
    on: date,
    withdrawn: bool = False,
) -> tuple[str, str]:
    """Return a lot's state at a place: a tone and a word."""
    if place == Place.TEST:
        return "quiet", "to be burnt in tests"
    if place == Place.RETURNED:
        return "warn", "set apart, to be looked at"
    if withdrawn:
        return "bad", "release withdrawn"
    if lot.best_before and lot.best_before < on:
        return "bad", "past best before"
    if lot.ready_on and lot.ready_on > on:
        return "wait", f"curing until {lot.ready_on.day} {lot.ready_on:%b}"
    if not lot_released:
        return "warn", "waiting for checks"
    if not design_released:
        return "warn", "design not released"
    return "ok", "released"


def places_of(lot: Lot) -> list[Balance]:
    """Return where a lot is and went, the workshop's own places first."""
    order = [*HELD, Place.SOLD, Place.GIVEN, Place.BURNT, Place.SCRAP, Place.CORRECTION]
    found = {b.place: b for b in Balance.objects.filter(lot=lot).exclude(qty=0)}
    return [found[place] for place in order if place in found and found[place].qty > 0]


# --- what a candle of a lot cost ------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class CostPart:
    component: str
    each: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What one candle of a lot cost, by component; money in 1/100 of the minor unit."""

    parts: list[CostPart]
    each: int


def cost_of(lot: Lot) -> Cost | None:
    """
    Return what one candle of a lot cost, from the lots that really went into it.

    The parts are rounded so that they add up to the rounded whole. None where nothing is known.
    """
    exact = _exact_costs(lot)
    total = sum(exact.values(), Fraction(0))
    if not total:
        return None
    names = [name for name in COMPONENTS if exact.get(name)]
    names += sorted(name for name in exact if name not in COMPONENTS and exact[name])
    each = round(total)
    shares = split_exactly(each, [exact[name] for name in names])
    parts = [
        CostPart(component=name, each=share)
        for name, share in zip(names, shares, strict=True)
        if share
    ]
    return Cost(parts=parts, each=each)


def _exact_costs(lot: Lot) -> dict[str, Fraction]:
    """
    Return the exact cost of one candle by component.

    What the pour put in is spread over all that it made, what finishing put on over those that
    were finished. A lot taken from another starts with that one's cost.
    """
    own = dict(LotCost.objects.filter(lot=lot).values_list("component", "value"))
    entry = finishing_entry(lot)
    finish = finishing_costs(lot, entry) if entry else {}
    each: dict[str, Fraction] = {}
    parent = parent_of(lot)
    if parent is not None:
        each = _exact_costs(parent)
    else:
        made, value = _made(lot)
        if made:
            each = {
                name: Fraction(worth - finish.get(name, 0), made) for name, worth in own.items()
            }
            if not any(each.values()):
                each = {"before the books": Fraction(value, made)}
    if entry and finish:
        finished = _on_shelf_before(lot, entry)
        for name, worth in finish.items():
            if finished:
                each[name] = each.get(name, Fraction(0)) + Fraction(worth, finished)
    return each


def parent_of(lot: Lot) -> Lot | None:
    """Return the lot of the same candle that this one was taken from."""
    source = LotSource.objects.filter(
        child=lot, entry__undone_by__isnull=True, parent__item=lot.item_id
    ).select_related("parent__item")
    found = source.first()
    return found.parent if found else None


def _made(lot: Lot) -> tuple[int, int]:
    """Return how many bear the lot’s value, and that value; scrapped for nothing bears nothing."""
    came = Move.objects.filter(
        lot=lot,
        from_place__in=[Place.MADE, Place.OPENING],
        qty__gt=0,
        entry__undone_by__isnull=True,
    ).exclude(entry__kind=EntryKind.UNDO)
    came = came.exclude(to_place=Place.SCRAP, value=0)
    total = came.aggregate(n=Sum("qty"), worth=Sum("value"))
    return total["n"] or 0, total["worth"] or 0


def _on_shelf_before(lot: Lot, entry) -> int:
    first = entry.moves.order_by("id").values_list("id", flat=True)[0]
    before = Move.objects.filter(lot=lot, id__lt=first)
    came = before.filter(to_place=Place.SHELF).aggregate(n=Sum("qty"))["n"] or 0
    went = before.filter(from_place=Place.SHELF).aggregate(n=Sum("qty"))["n"] or 0
    return came - went


# --- the lot's own history -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A line of a lot's history."""

    entry: int
    kind: str
    on: date
    what: str
    qty: int
    from_word: str
    to_word: str
    reason: str
    undone: bool


def history(lot: Lot, most: int = 60) -> list[Event]:
    """Return what happened to a lot, the newest first; moves of value alone are left out."""
    rows = (
        Move.objects.filter(lot=lot, qty__gt=0)
        .order_by("-id")
        .values_list(
            "entry", "entry__on", "entry__kind", "qty", "from_place", "to_place", "entry__reason",
            "entry__undone_by",
        )
    )[:most]  # fmt: skip
    return [
        Event(
            entry=entry, kind=kind, on=on, what=EntryKind(kind).label, qty=qty,
            from_word=Place(from_place).label, to_word=Place(to_place).label, reason=reason,
            undone=undone is not None,
        )
        for entry, on, kind, qty, from_place, to_place, reason, undone in rows
    ]  # fmt: skip
