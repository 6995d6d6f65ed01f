"""
Today: what has to be done now and what is at risk, read from the records.

A few indexed queries, each of them limited, so that the page is as quick in the tenth year as in
the first week. Nothing here is a record of its own: a line goes away when its cause does.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Exists, OuterRef, Q, Subquery, Sum
from django.urls import reverse
from django.utils import timezone

from pourwright.core import amounts
from pourwright.papers import charts
from pourwright.workshop.burns.models import PieceState, TestBurn, TestPiece
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.formulas.models import Formula, FormulaExtra, FormulaVersion
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Decision, Finishing
from pourwright.workshop.hazard.queries import items as melted_items
from pourwright.workshop.house.find import lot_address
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import Order, OrderLine, OrderState
from pourwright.workshop.pours.models import Filling, Pour, PourState, Take
from pourwright.workshop.stores.models import (
    SUPPLY_KINDS,
    Balance,
    Item,
    Kind,
    Lot,
    Measure,
    Origin,
    Place,
)
from pourwright.workshop.stores.queries import CRUMBS_MG
from pourwright.workshop.trace.models import Recall

SHOWN = 8
PICTURE_PX = 380
WEEK = timedelta(days=7)
BEST_BEFORE_SOON = timedelta(days=45)
DUE_SOON = timedelta(days=10)

# Rank: what must be looked at before anything else comes first, whatever its date.
NOW, LATE, TODAY, WAITING, SOON = range(5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line: when, what, a small detail, and its state. ``rank`` and ``on`` give the order."""

    rank: int
    on: date
    when: str
    what: str
    address: str
    detail: str = ""
    tone: str = "quiet"
    word: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A step of the first week: done, or not yet."""

    name: str
    why: str
    address: str
    button: str
    done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Curing:
    """A lot on the cure shelf."""

    code: str
    name: str
    poured_on: date
    ready_on: date
    qty: int
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    to_do: list[Line]
    at_risk: list[Line]
    curing: list[Curing]


def day(*, on: date, workshop: Workshop) -> Day:
    """Return all that Today shows, most urgent first."""
    from pourwright.workshop.planning import today as planned  # it says its lines in ours

    orders = _orders(on)
    planned_to_do, planned_at_risk = planned.lines(on)
    to_do = [
        *_recalls(on),
        *_burns(on),
        *_pours(on),
        *planned_to_do,
        *_lots_to_see_to(on),
        *(line for line, short in orders if not short),
    ]
    at_risk = [
        *(line for line, short in orders if short),
        *planned_at_risk,
        *_supplies(on, workshop),
        *_best_before(on, workshop),
        *_sheets(on, workshop),
        *_designs_at_the_gate(on),
    ]
    return Day(to_do=_ordered(to_do), at_risk=_ordered(at_risk), curing=curing(on))


def _ordered(lines: Iterable[Line]) -> list[Line]:
    return sorted(lines, key=lambda line: (line.rank, line.on))


def when(day: date, on: date) -> str:
    """Return a day as one says it: today, a weekday within the week, else the date."""
    ahead = (day - on).days
    if ahead == 0:
        return "Today"
    if 0 < ahead < 7:
        return f"{day:%a}"
    return f"{day.day} {day:%b}"


# --- to do ---------------------------------------------------------------------------------------


def _recalls(on: date) -> list[Line]:
    """Return the recalls that have not ended; they come before everything else."""
    open_ones = Recall.objects.filter(ended_on__isnull=True).select_related("lot__item")
    return [
        Line(
            rank=NOW, on=recall.on, when=when(recall.on, on),
            what=f"Recall of {recall.lot.item.name}, lot {recall.lot.code}",
            address=reverse("trace:lot", args=[recall.lot.code]),
            detail=recall.reason, tone="bad", word="recall open",
        )
        for recall in open_ones.order_by("on", "id")[:SHOWN]
    ]  # fmt: skip


def _burns(on: date) -> list[Line]:
    """Return what burns now, to be stayed with, and the test pieces that have cured and wait."""
    burns = TestBurn.objects.filter(left_out="", minutes=None).select_related(
        "piece__version__design"
    )
    lines = [
        Line(
            rank=NOW, on=on, when=f"{timezone.localtime(burn.lit_at):%H:%M}",
            what=f"{burn.piece.number}, burn {burn.number}",
            address=reverse("burns:burn", args=[burn.pk]),
            detail=f"{burn.piece.version.design.name}: stay with it", tone="warn",
            word="burns now",
        )
        for burn in burns.order_by("lit_at")[:SHOWN]
    ]  # fmt: skip
    waiting = TestPiece.objects.filter(
        Q(ready_on__lte=on) | Q(ready_on=None), state=PieceState.OPEN
    ).exclude(burns__left_out="")
    if count := waiting.count():
        first = waiting.order_by("ready_on", "id").first()
        lines.append(
            Line(
                rank=WAITING, on=first.ready_on or on, when=when(first.ready_on or on, on),
                what=f"{count} test piece{'' if count == 1 else 's'} to burn",
                address=f"{reverse('burns:index')}?show=ready",
                detail=f"{first.number} first", tone="wait", word="cured",
            )
        )  # fmt: skip
    return lines


def _pours(on: date) -> list[Line]:
    pours = (
        Pour.objects.filter(state__in=[PourState.OPEN, PourState.PLANNED], on__lte=on + WEEK)
        .annotate(
            to_weigh=Count("takes", filter=Q(takes__actual__isnull=True)),
            takes_in_all=Count("takes"),
        )
        .order_by("on", "id")[:SHOWN]
    )
    pours = list(pours)
    filled = defaultdict(list)
    for filling in Filling.objects.filter(pitcher__pour__in=pours).select_related(
        "pitcher", "design_version__design"
    ):
        name = filling.design_version.design.name
        filled[filling.pitcher.pour_id].append(f"{filling.wanted} × {name}")
    return [_pour(pour, filled[pour.pk], on) for pour in pours]


def _pour(pour: Pour, filled: Sequence[str], on: date) -> Line:
    detail = f"{pour.number} · {', '.join(filled) or 'wax alone'}"
    if pour.state == PourState.OPEN:
        weighed = pour.takes_in_all - pour.to_weigh
        return Line(
            rank=NOW, on=pour.on, when="Now", what="Go on at the bench",
            address=reverse("pours:bench", args=[pour.number]), detail=detail,
            tone="warn", word=f"{weighed} of {pour.takes_in_all} weighed",
        )  # fmt: skip
    late = pour.on < on
    return Line(
        rank=LATE if late else TODAY if pour.on == on else SOON,
        on=pour.on,
        when=when(pour.on, on),
        what="Pour",
        address=reverse("pours:pour", args=[pour.number]),
        detail=detail,
        tone="warn" if late else "wait",
        word="planned for then, not begun" if late else "planned",
    )


def _on_the_shelf():
    held = Balance.objects.filter(place=Place.SHELF, qty__gt=0)
    return held.select_related("lot__item")


def _released():
    """The newest of a lot's releases and withdrawals, as a subquery."""
    return (
        Decision.objects.filter(
            lot=OuterRef("lot"), what__in=[Decision.What.RELEASED, Decision.What.WITHDRAWN]
        )
        .order_by("-id")
        .values("what")[:1]
    )


def _lots_to_see_to(on: date) -> list[Line]:
    """Lots to finish, and lots that are cured and wait for their checks."""
    finished = Finishing.objects.filter(lot=OuterRef("lot"), done_at__isnull=False)
    waiting = (
        _on_the_shelf()
        .annotate(gate=Subquery(_released()), finished=Exists(finished))
        .filter(Q(gate__isnull=True) | Q(gate=Decision.What.WITHDRAWN))
    )
    to_finish = waiting.filter(
        finished=False, lot__origin__in=[Origin.POUR, Origin.SECONDS]
    ).order_by("lot__began_on", "lot_id")[:SHOWN]
    cured = waiting.filter(
        Q(finished=True) | ~Q(lot__origin__in=[Origin.POUR, Origin.SECONDS]),
        Q(lot__ready_on__lte=on) | Q(lot__ready_on__isnull=True),
    ).order_by("lot__ready_on", "lot_id")[:SHOWN]
    return [_to_finish(held, on) for held in to_finish] + [_to_release(held, on) for held in cured]


def _to_finish(held: Balance, on: date) -> Line:
    lot = held.lot
    ready = f", cures until {lot.ready_on.day} {lot.ready_on:%b}" if lot.ready_on else ""
    cured = lot.ready_on and lot.ready_on <= on
    return Line(
        rank=LATE if cured else TODAY, on=lot.began_on, when=when(lot.began_on, on),
        what=f"Finish {lot.item.name}", address=lot_address(lot),
        detail=f"{lot.code} · {held.qty}: trim, wipe, label{ready}",
        tone="warn" if cured else "wait", word="cured, not finished" if cured else "to finish",
    )  # fmt: skip


def _to_release(held: Balance, on: date) -> Line:
    lot = held.lot
    withdrawn = held.gate == Decision.What.WITHDRAWN
    since = lot.ready_on or lot.began_on
    return Line(
        rank=WAITING, on=since, when=when(since, on),
        what=f"{'Decide on' if withdrawn else 'Check and release'} {lot.item.name}",
        address=lot_address(lot),
        detail=f"{lot.code} · {held.qty} on the shelf",
        tone="bad" if withdrawn else "warn",
        word="release withdrawn" if withdrawn else "cured, at the gate",
    )  # fmt: skip


def curing(on: date, most: int = 10) -> list[Curing]:
    """Return the lots that still cure, the next to be ready first."""
    rows = _on_the_shelf().filter(lot__ready_on__gt=on).order_by("lot__ready_on", "lot_id")[:most]
    return [
        Curing(
            code=row.lot.code,
            name=row.lot.item.name,
            poured_on=row.lot.began_on,
            ready_on=row.lot.ready_on,
            qty=row.qty,
            address=lot_address(row.lot),
        )
        for row in rows
    ]


def cure_picture(lots: Sequence[Curing], on: date) -> str:
    """Return the cure shelf as a picture; empty where nothing cures."""
    bars = [
        charts.Curing(label=f"{lot.code} {lot.name}", start=lot.poured_on, ready=lot.ready_on)
        for lot in lots
    ]
    return charts.cure_shelf_svg(bars, today=on, width=PICTURE_PX) if bars else ""


# --- orders, and whether the stock suffices ------------------------------------------------------


def _orders(on: date) -> list[tuple[Line, str]]:
    """Return a line for each order that is due, with what is short of it ('' if nothing is)."""
    orders = list(
        Order.objects.filter(state=OrderState.OPEN, due__lte=on + DUE_SOON)
        .select_related("customer")
        .order_by("due", "id")[:SHOWN]
    )
    owed = _owed(orders)
    left = ready_to_sell({design for lines in owed.values() for design, _, _ in lines})
    return [_order(order, owed[order.pk], left, on) for order in orders]


def _owed(orders: Sequence[Order]) -> dict[int, list[tuple[Design, bool, int]]]:
    """Return, for each order, how many of which design (and whether as seconds) are still to go."""
    stands = Q(sent__despatch__entry__undone_by__isnull=True)
    lines = (
        OrderLine.objects.filter(order__in=orders)
        .select_related("design")
        .annotate(gone=Sum("sent__qty", filter=stands))
        .order_by("id")
    )
    owed = defaultdict(list)
    for line in lines:
        if (left := line.qty - (line.gone or 0)) > 0:
            owed[line.order_id].append((line.design, line.seconds, left))
    return owed


def ready_to_sell(designs: Iterable[Design]) -> dict[tuple[int, bool], int]:
    """
    Return how many of each candle may be sold now, by the candle's item and whether seconds.

    As ``gates.sellable`` says it, for any number of designs in a few queries.
    """
    held = list(_on_the_shelf().filter(lot__item__in={design.candle_id for design in designs}))
    released = gates.released_ids(Lot, [row.lot_id for row in held])
    there: dict[tuple[int, bool], int] = defaultdict(int)
    for row in held:
        if row.lot_id in released:
            there[row.lot.item_id, row.lot.origin == Origin.SECONDS] += row.qty
    return there


def _order(order: Order, owed, left: dict[tuple[int, bool], int], on: date) -> tuple[Line, str]:
    """Take what this order needs off ``left``, so that a later order does not count on it too."""
    short = []
    for design, seconds, qty in owed:
        key = (design.candle_id, seconds)
        if qty > left[key]:
            short.append(f"{qty - max(left[key], 0)} × {design.name}")
        left[key] -= qty
    who = order.customer.name if order.customer else order.reference or order.get_channel_display()
    late = order.due < on
    pieces = sum(qty for _, _, qty in owed)
    detail = f"{order.number} · {pieces} to send"
    if short:
        detail += f"; short of {', '.join(short)}"
    line = Line(
        rank=LATE if late or short else TODAY if order.due == on else SOON,
        on=order.due,
        when=when(order.due, on),
        what=f"Send to {who}",
        address=reverse("orders:order", args=[order.number]),
        detail=detail,
        tone="bad" if short else "warn" if late else "ok",
        word="stock is short" if short else "overdue" if late else "all on the shelf",
    )
    return line, ", ".join(short)


# --- at risk -------------------------------------------------------------------------------------


def shown(item: Item, qty: int, workshop: Workshop) -> str:
    """Return a quantity as the workshop weighs or counts."""
    if item.by_mass:
        return amounts.show_mass(amounts.from_mg(qty), workshop.units)
    return amounts.number(qty, places=0)


def _supplies(on: date, workshop: Workshop) -> list[Line]:
    """Return supplies that planned pours need more of than there is, or below their level."""
    wanted = dict(
        Take.objects.filter(
            pour__state__in=[PourState.PLANNED, PourState.OPEN],
            pour__on__lte=on + 4 * WEEK,
            actual__isnull=True,
            item__kind__in=SUPPLY_KINDS,
        )
        .values_list("item")
        .annotate(total=Sum("target"))
        .order_by()
    )
    watched = Item.objects.filter(kind__in=SUPPLY_KINDS, retired=False)
    watched = list(
        watched.filter(Q(reorder_below__isnull=False) | Q(pk__in=list(wanted))).select_related(
            "supplier"
        )
    )
    held = dict(
        Balance.objects.filter(place=Place.STORE, qty__gt=0, lot__item__in=watched)
        .values_list("lot__item")
        .annotate(total=Sum("qty"))
        .order_by()
    )
    lines = []
    for item in watched:
        there = held.get(item.pk, 0)
        if there < wanted.get(item.pk, 0):
            lines.append(_short(item, there, wanted[item.pk], on, workshop))
        elif item.reorder_below is not None and there < item.reorder_below:
            lines.append(_low(item, there, on, workshop))
    return _ordered(lines)[:SHOWN]


def _arrival(item: Item) -> str:
    supplier = item.supplier
    if supplier is None:
        return ""
    days = f", about {supplier.lead_days} days" if supplier.lead_days else ""
    return f" · from {supplier.name}{days}"


def _short(item: Item, there: int, wanted: int, on: date, workshop: Workshop) -> Line:
    return Line(
        rank=LATE, on=on, when="Soon", what=f"{item.name} will not suffice",
        address=reverse("stores:item", args=[item.pk]),
        detail=f"{shown(item, there, workshop)} there, {shown(item, wanted, workshop)} wanted by "
        f"the pours planned{_arrival(item)}",
        tone="bad", word="short",
    )  # fmt: skip


def _low(item: Item, there: int, on: date, workshop: Workshop) -> Line:
    level = shown(item, item.reorder_below, workshop)
    return Line(
        rank=TODAY, on=on, when="Order", what=item.name,
        address=reverse("stores:item", args=[item.pk]),
        detail=f"{shown(item, there, workshop)} left, reorder below {level}{_arrival(item)}",
        tone="warn" if there else "bad", word="runs low" if there else "none left",
    )  # fmt: skip


def _best_before(on: date, workshop: Workshop) -> list[Line]:
    rows = (
        Balance.objects.filter(
            Q(lot__item__measure=Measure.COUNT) | Q(qty__gte=CRUMBS_MG),
            place__in=[Place.STORE, Place.SHELF],
            qty__gt=0,
            lot__best_before__lte=on + BEST_BEFORE_SOON,
        )
        .select_related("lot__item")
        .order_by("lot__best_before", "lot_id")[:SHOWN]
    )
    return [_ageing(row, on, workshop) for row in rows]


def _ageing(held: Balance, on: date, workshop: Workshop) -> Line:
    lot = held.lot
    over = lot.best_before < on
    return Line(
        rank=SOON, on=lot.best_before, when=when(lot.best_before, on),
        what=f"Best before: {lot.item.name}", address=lot_address(lot),
        detail=f"{lot.code} · {shown(lot.item, held.qty, workshop)} there",
        tone="bad" if over else "warn", word="past its date" if over else "use it soon",
    )  # fmt: skip


def _designs_at_the_gate(on: date) -> list[Line]:
    newest = DesignVersion.objects.filter(design=OuterRef("design")).order_by("-number")
    decided = Decision.objects.filter(
        design_version=OuterRef("pk"), what__in=[Decision.What.RELEASED, Decision.What.WITHDRAWN]
    ).order_by("-id")
    waiting = (
        DesignVersion.objects.filter(design__retired=False, pk=Subquery(newest.values("pk")[:1]))
        .annotate(gate=Subquery(decided.values("what")[:1]))
        .filter(Q(gate__isnull=True) | Q(gate=Decision.What.WITHDRAWN))
        .select_related("design")
        .order_by("made_on", "pk")[:SHOWN]
    )
    return [
        Line(
            rank=WAITING, on=version.made_on, when=when(version.made_on, on),
            what=f"{version.design.name} waits at its gate",
            address=reverse("designs:design", args=[version.design_id]),
            detail=f"version {version.number}, not released: none of it may be sold",
            tone="bad" if version.gate else "warn",
            word="release withdrawn" if version.gate else "not released",
        )
        for version in waiting
    ]  # fmt: skip


# --- safety sheets -------------------------------------------------------------------------------

SHEETS = (
    ("lacking", "{} without a composition", "bad", "label not known"),
    ("old", "{} with a safety sheet grown old", "warn", "ask for a newer one"),
    ("waits", "{} with a sheet to look over", "wait", "waits to be confirmed"),
)


def _sheets(on: date, workshop: Workshop) -> list[Line]:
    """Return what is in use and not known, grown old, or come in newer: one line of each."""
    newest = FormulaVersion.objects.filter(formula=OuterRef("formula")).order_by("-number")
    in_use = FormulaVersion.objects.filter(
        formula__retired=False, pk=Subquery(newest.values("pk")[:1])
    )
    used = Q(in_formulas__version__in=in_use) | Q(
        pk__in=FormulaExtra.objects.filter(version__in=in_use).values("item")
    )
    lines = []
    for show, words, tone, word in SHEETS:
        found = melted_items(show=show, on=on, workshop=workshop).filter(used).distinct()
        names = list(found.values_list("pk", "name")[: SHOWN + 1])
        if names:
            lines.append(_of_sheets(names, show, words, tone, word, on))
    return lines


def _of_sheets(names, show: str, words: str, tone: str, word: str, on: date) -> Line:
    shown = ", ".join(name for _, name in names[1:SHOWN])
    more = " and more" if len(names) > SHOWN else ""
    if len(names) == 1:
        pk, name = names[0]
        address, detail = reverse("hazard:item", args=[pk]), "used in a formula"
    else:
        name = f"{names[0][1]} and {len(names) - 1}{' or more' if more else ''} more"
        address, detail = f"{reverse('hazard:index')}?show={show}", f"also {shown}{more}"
    return Line(
        rank=WAITING, on=on, when="Sheets", what=words.format(name), address=address,
        detail=detail, tone=tone, word=word,
    )  # fmt: skip


# --- the first week ------------------------------------------------------------------------------


def guide() -> list[Step]:
    """Return the first steps of an empty workshop; empty once the first pour was closed."""
    if Pour.objects.filter(state=PourState.CLOSED).exists():
        return []
    supplies = Item.objects.filter(kind__in=[Kind.WAX, Kind.VESSEL, Kind.WICK])
    kinds = set(supplies.values_list("kind", flat=True).distinct().order_by())
    stocked = Lot.objects.filter(origin__in=[Origin.RECEIPT, Origin.OPENING]).exists()
    return [
        Step(
            name="Set up the workshop", address=reverse("workshop"), button="Settings",
            why="Its name, the units you weigh in, your scale’s division, where you sell.",
            done=Workshop.objects.exists(),
        ),
        Step(
            name="Fill the stores", address=reverse("stores:index"), button="Stores",
            why="Waxes, oils, vessels and wicks, and what is there of each.",
            done=stocked and len(kinds) == 3,
        ),
        Step(
            name="Write a formula", address=reverse("formulas:new"), button="New formula",
            why="A wax or a blend, its oils by share, and the load.",
            done=Formula.objects.exists(),
        ),
        Step(
            name="Draw up a design", address=reverse("designs:new"), button="New design",
            why="The formula in a vessel, its wicks, its fill, and what it is finished with.",
            done=Design.objects.exists(),
        ),
        Step(
            name="Pour", address=reverse("pours:new"), button="Plan a pour",
            why="Say how many; weigh at the bench; close it, and the lot stands on the cure shelf.",
            done=False,
        ),
    ]  # fmt: skip
