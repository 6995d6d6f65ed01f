"""
The plan's problem as the workshop's own records state it on a day.

Keys of the core's records are built from the records' primary keys ("design-4", "melter-1"), so
that a plan's melts can be written back; ``Posed`` keeps the way back.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from django.db.models import Min, Q, Sum

from pourwright.core.planning import model as core
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.costing import Take as DesignTake
from pourwright.workshop.designs.costing import estimates, takes_of
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.queries import versions_with_all
from pourwright.workshop.formulas.services import core_formula, recipe_of
from pourwright.workshop.gates import services as gates
from pourwright.workshop.heat.models import Forecast, ForecastKind
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import DespatchLine, OrderLine, OrderState
from pourwright.workshop.planning.models import (
    DayOff,
    DesignMeans,
    ExtraSession,
    MarketLine,
    Means,
    MelterMeans,
    Offer,
    Plan,
    PlannedMelt,
    PurchaseLine,
    PurchaseState,
    StockTarget,
    WeeklySession,
)
from pourwright.workshop.pours.models import Filling, Melter, PourState, Use
from pourwright.workshop.pours.models import Take as PourTake
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Balance, Item, Kind, Measure, Origin, Place

LEAST_DAYS, MOST_DAYS = 28, 16 * 7
STOCK_WITHIN_DAYS = 28
PRIORITY = {"order": 3, "market": 2, "stock": 1}
# Where a melter is known by its volume alone and the melt's density is not: molten wax is
# heavier than this (common practice, no source), so that the melter is never planned too full.
LEAST_DENSITY_G_ML = Fraction(3, 4)
OPEN_POURS = (PourState.PLANNED, PourState.OPEN)
DAYS_A_MONTH = 30
UNKNOWN_LEAD_DAYS = 7
# Ordered and not come: a receipt that was undone did not happen.
ON_THE_WAY = Q(purchase__state=PurchaseState.SENT) | Q(
    purchase__state=PurchaseState.RECEIVED, purchase__entry__undone_by__isnull=False
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Posed:
    """A problem, and the records behind its keys; ``left_out`` says what could not be planned."""

    problem: core.Problem
    versions: Mapping[str, DesignVersion]
    left_out: tuple[str, ...]


def problem_of(
    *, now: dt.datetime, until: dt.date | None = None, followed: Plan | None = None
) -> Posed:
    """
    Return what is to be planned from a time on, with what is pinned in the plan that is followed.

    ``now`` is the workshop's local time; sessions that have begun are past. Without ``until`` the
    plan reaches to the last date that is wanted, at least 4 weeks and at most 16.
    """
    today, workshop, means = now.date(), Workshop.load(), Means.load()
    found = _Designs(workshop, means, today)
    lines = [line for line in _lines(today, workshop) if line.due >= today or line.kind == "order"]
    last = max((line.due for line in lines), default=today)
    until = until or min(
        max(last, today + dt.timedelta(LEAST_DAYS)), today + dt.timedelta(MOST_DAYS)
    )
    products = {product.key: product for product in found.products}
    left_out = [*found.left_out]
    wanted = []
    for line in lines:
        if line.product not in products:
            left_out.append(f"{line.whose}: {line.product} cannot be planned.")
        elif line.due <= until:
            wanted.append(line)
    sessions = tuple(sessions_between(today, until, now=now))
    problem = core.Problem(
        today=today,
        formulas=found.formulas, vessels=found.vessels, products=found.products,
        melters=tuple(_melters(means)), sessions=sessions, lines=tuple(wanted),
        table_places=means.table_places,
        lots=(*_lots(products, today), *_in_pours(found, means)),
        materials=tuple(_materials(found.takes, today)),
        pinned=tuple(pinned_melts(followed, sessions, found.versions)) if followed else (),
        scrap_per_1000=round(10 * means.scrap_pct),
        late_unit_worth_s=None if means.late_minutes is None else 60 * means.late_minutes,
        circuit_w=means.circuit_w,
    )  # fmt: skip
    left_out += [
        f"{melter.name} alone draws more than the circuit gives: nothing is planned in it."
        for melter in problem.melters
        if means.circuit_w is not None and (melter.power_w or 0) > means.circuit_w
    ]
    return Posed(problem=problem, versions=found.versions, left_out=tuple(left_out))


# --- designs -------------------------------------------------------------------------------------


class _Designs:
    """Every design that can be planned: its newest released version, else its newest."""

    def __init__(self, workshop: Workshop, means: Means, today: dt.date) -> None:
        self.means = means
        self.own = {row.design_id: row for row in DesignMeans.objects.all()}
        self.setting = _setting_hours()
        self.takes: dict[str, list[DesignTake]] = {}
        self.left_out: list[str] = []
        self.versions = dict(pourable())
        versions = list(self.versions.values())
        costs = estimates(versions, workshop)
        formulas, vessels, products = {}, {}, []
        for version in versions:
            key = product_key(version.design_id)
            formula, vessel = _formula_of(version), _vessel_of(version, self._places(version))
            formulas[formula.key], vessels[vessel.key] = formula, vessel
            self.takes[key] = takes_of(version, workshop)
            whole = core_formula(version.formula_version)
            of_whole = 1 + whole.load_pct_of_wax / 100 + sum(
                (extra.pct_of_wax for extra in whole.extras), Fraction(0)
            ) / 100  # fmt: skip
            months = version.best_before_months
            products.append(
                core.Product(
                    key=key, name=version.design.name, formula=formula.key, vessel=vessel.key,
                    fill_mg=version.fill_mg, wax_mg=round(version.fill_mg / of_whole),
                    cure_days=designs.cure_days(version, workshop),
                    setting_s=round(3600 * self._set_hours(version)),
                    pour_s=_seconds(means.pour_minutes),
                    prep_s=_seconds(means.wick_minutes * version.wick_count),
                    finish_s=_seconds(means.finish_minutes),
                    best_before_days=None if months is None else DAYS_A_MONTH * months,
                    uses=_uses(self.takes[key]),
                    cost_minor100=costs[version.pk].breakdown.total_minor100,
                )
            )  # fmt: skip
        self.formulas = tuple(formulas.values())
        self.vessels = tuple(vessels.values())
        self.products = tuple(products)

    def _places(self, version: DesignVersion) -> int:
        own = self.own.get(version.design_id)
        return own.table_places if own else 1

    def _set_hours(self, version: DesignVersion) -> Decimal:
        own = self.own.get(version.design_id)
        if own and own.set_hours is not None:
            return own.set_hours
        if version.pk in self.setting:
            return self.setting[version.pk]
        waxes = [part.item for part in version.formula_version.waxes.all()]
        known = [wax.wax.set_hours for wax in waxes if getattr(wax, "wax", None)]
        return max((hours for hours in known if hours is not None), default=self.means.set_hours)


def _setting_hours() -> dict[int, Decimal]:
    """
    Return, by version, the hours until a vessel may be moved, where they were read or foretold.

    What was recorded of a kept forecast counts before what any says; of those alone the later end
    of the newest, since a vessel that is moved too early is spoilt.
    """
    foretold, seen = {}, {}
    for row in Forecast.objects.filter(kind=ForecastKind.SET).order_by("id"):
        if (hours := (row.outcome or {}).get("movable_h")) is not None:
            seen[row.version_id] = Decimal(str(hours))
        elif value := row.values.get("movable_h"):
            foretold[row.version_id] = Decimal(str(value["high"]))
    return foretold | seen


def pourable() -> Iterator[tuple[str, DesignVersion]]:
    """Return, by its product's key, the version of each design that is poured now."""
    rows = list(
        versions_with_all().filter(design__retired=False).order_by("design__name", "-number")
    )
    released = gates.released_ids(DesignVersion, [row.pk for row in rows])
    by_design: dict[int, list[DesignVersion]] = defaultdict(list)
    for row in rows:
        by_design[row.design_id].append(row)
    for versions in by_design.values():
        found = next((v for v in versions if v.pk in released), versions[0])
        yield product_key(found.design_id), found


def product_key(design_id: int) -> str:
    return f"design-{design_id}"


def material_key(item_id: int) -> str:
    return f"item-{item_id}"


def melter_key(melter_id: int) -> str:
    return f"melter-{melter_id}"


def number_in(key: str) -> int:
    """Return the primary key that a key ends in."""
    return int(key.rpartition("-")[2])


def _formula_of(version: DesignVersion) -> core.Formula:
    formula = version.formula_version
    blend = sorted((item.pk, share) for item, share in recipe_of(formula).waxes)
    whole = sum(share for _, share in blend)
    wax = "+".join(f"{pk}:{share / whole:.6f}" for pk, share in blend)
    return core.Formula(key=f"formula-{formula.pk}", name=str(formula.formula), wax=wax)


def _vessel_of(version: DesignVersion, places: int) -> core.Vessel:
    # A vessel that takes more room for one design than for another is two vessels to the plan.
    key = f"vessel-{places}-{version.vessel_id}"
    return core.Vessel(key=key, name=version.vessel.name, places=places)


def _uses(takes: Iterable[DesignTake]) -> tuple[core.Use, ...]:
    sums: dict[int, int] = defaultdict(int)
    for take in takes:
        sums[take.item.pk] += take.qty
    return tuple(core.Use(material=material_key(pk), amount=qty) for pk, qty in sums.items())


def _seconds(minutes: Decimal) -> int:
    return round(60 * minutes)


# --- means ---------------------------------------------------------------------------------------


def _melters(means: Means) -> Iterator[core.Melter]:
    own = {row.melter_id: row for row in MelterMeans.objects.all()}
    for melter in Melter.objects.filter(retired=False):
        held = [melter.capacity_mg] if melter.capacity_mg else []
        if melter.capacity_ml:
            held.append(int(1000 * Fraction(melter.capacity_ml) * LEAST_DENSITY_G_ML))
        if not held:
            continue
        more = own.get(melter.pk)
        yield core.Melter(
            key=melter_key(melter.pk), name=melter.name, capacity_mg=min(held),
            minimum_mg=more.minimum_mg if more else 0,
            set_up_s=_seconds(means.set_up_minutes), melt_s=_seconds(means.melt_minutes),
            melt_s_per_kg=_seconds(means.melt_minutes_kg), stir_s=_seconds(means.stir_minutes),
            cool_s=_seconds(means.cool_minutes), wipe_s=_seconds(means.wipe_minutes),
            clean_s=_seconds(means.clean_minutes), pitchers=more.pitchers if more else 0,
            pitcher_mg=more.pitcher_mg if more else 0, power_w=melter.power_w,
        )  # fmt: skip


def sessions_between(
    first: dt.date, last: dt.date, *, now: dt.datetime | None = None
) -> Iterator[core.Session]:
    """Return the sessions from a day to a day, both too, without those that have begun."""
    weekly = list(WeeklySession.objects.all())
    off = list(DayOff.objects.filter(until_on__gte=first, from_on__lte=last))
    extra: dict[dt.date, list[ExtraSession]] = defaultdict(list)
    for row in ExtraSession.objects.filter(on__range=(first, last)):
        extra[row.on].append(row)
    for number in range((last - first).days + 1):
        day = first + dt.timedelta(number)
        free = not any(row.from_on <= day <= row.until_on for row in off)
        rows: list[WeeklySession | ExtraSession] = [
            row for row in weekly if free and row.weekday == day.weekday() and _holds(row, day)
        ]
        for row in sorted([*rows, *extra[day]], key=lambda row: row.starts):
            begins = dt.datetime.combine(day, row.starts, tzinfo=now.tzinfo if now else None)
            if now is None or begins >= now:
                yield one_session(row, day)


def _holds(row: WeeklySession, day: dt.date) -> bool:
    return (row.from_on or day) <= day <= (row.until_on or day)


def session_key(on: dt.date, starts: dt.time) -> str:
    return f"{on:%Y-%m-%d} {starts:%H:%M}"


def one_session(row: WeeklySession | ExtraSession, day: dt.date) -> core.Session:
    """Return the session of one day."""
    return core.Session(
        key=session_key(day, row.starts), on=day, people=row.people, length_s=60 * row.minutes,
        start_s=3600 * row.starts.hour + 60 * row.starts.minute,
    )  # fmt: skip


# --- demand --------------------------------------------------------------------------------------


def _lines(today: dt.date, workshop: Workshop) -> Iterator[core.Line]:
    yield from _order_lines(today)
    days = MarketLine.objects.filter(
        day__on__gte=today, day__recorded_at__isnull=True, wanted__gt=0
    ).select_related("day__market", "design")
    for row in days:
        yield core.Line(
            key=f"market-{row.pk}", kind="market", product=product_key(row.design_id),
            quantity=row.wanted or 0, due=row.day.on, priority=row.day.priority,
            whose=str(row.day.market),
        )  # fmt: skip
    for target in StockTarget.objects.filter(qty__gt=0).select_related("design"):
        yield core.Line(
            key=f"stock-{target.pk}", kind="stock", product=product_key(target.design_id),
            quantity=target.qty, due=today + dt.timedelta(STOCK_WITHIN_DAYS),
            priority=target.priority, whose="stock on the shelf",
        )  # fmt: skip


def _order_lines(today: dt.date) -> Iterator[core.Line]:
    rows = OrderLine.objects.filter(order__state=OrderState.OPEN, seconds=False).select_related(
        "order__customer", "design"
    )
    sent = dict(
        DespatchLine.objects.filter(order_line__in=rows, despatch__entry__undone_by__isnull=True)
        .values_list("order_line")
        .annotate(Sum("qty"))
        .order_by()
    )
    for row in rows:
        owed = row.qty - sent.get(row.pk, 0)
        if owed <= 0:
            continue
        order = row.order
        whose = order.number if order.customer is None else f"{order.number}, {order.customer}"
        yield core.Line(
            key=f"order-{row.pk}", kind="order", product=product_key(row.design_id), quantity=owed,
            due=order.due or today + dt.timedelta(STOCK_WITHIN_DAYS), priority=PRIORITY["order"],
            whose=whose,
        )  # fmt: skip


# --- supply --------------------------------------------------------------------------------------


def _lots(products: Mapping[str, core.Product], today: dt.date) -> Iterator[core.Lot]:
    """Candles on the cure shelf, ready or not; seconds and what was recalled cannot be promised."""
    rows = Balance.objects.filter(
        place=Place.SHELF, qty__gt=0, lot__item__kind=Kind.CANDLE
    ).exclude(lot__origin=Origin.SECONDS).select_related("lot__item__design")  # fmt: skip
    withdrawn = gates.withdrawn_lots(row.lot_id for row in rows)
    for row in rows:
        design = getattr(row.lot.item, "design", None)
        key = product_key(design.pk) if design else ""
        past = row.lot.best_before is not None and row.lot.best_before < today
        if key in products and row.lot_id not in withdrawn and not past:
            yield core.Lot(
                key=f"lot-{row.lot_id}", product=key, quantity=row.qty,
                ready_on=row.lot.ready_on or today, best_before=row.lot.best_before,
            )  # fmt: skip


def _in_pours(found: _Designs, means: Means) -> Iterator[core.Lot]:
    """What pours already planned or at the bench will give, once it has cured."""
    cure = {product.key: product.cure_days for product in found.products}
    good = 1 - Fraction(means.scrap_pct) / 100
    rows = Filling.objects.filter(pitcher__pour__state__in=OPEN_POURS).select_related(
        "pitcher__pour", "design_version"
    )
    for row in rows:
        key = product_key(row.design_version.design_id)
        if key in cure and (quantity := int(row.wanted * good)):
            ready = row.pitcher.pour.on + dt.timedelta(cure[key])
            yield core.Lot(key=f"filling-{row.pk}", product=key, quantity=quantity, ready_on=ready)


def _materials(
    takes: Mapping[str, Sequence[DesignTake]], today: dt.date
) -> Iterator[core.Material]:
    yield from materials_of(
        {take.item.pk: take.item for parts in takes.values() for take in parts}, today
    )


def materials_of(items: Mapping[int, Item], today: dt.date) -> Iterator[core.Material]:
    """Return what there is of items for a plan: on hand and not claimed, and on its way."""
    held = ledger.qty_by_item(items, Place.STORE)
    for item_id, qty in _claimed(items):
        held[item_id] = held.get(item_id, 0) - qty
    arrivals: dict[int, list[core.Arrival]] = defaultdict(list)
    coming = PurchaseLine.objects.filter(ON_THE_WAY, item__in=items).select_related("purchase")
    for line in coming:
        on = max(line.purchase.expected_on, today)
        arrivals[line.item_id].append(core.Arrival(on=on, amount=line.packs * line.pack_qty))
    leads = lead_days(items)
    for pk, item in items.items():
        yield core.Material(
            key=material_key(pk), name=item.name,
            unit="mg" if item.measure == Measure.MASS else "pieces",
            on_hand=max(0, held.get(pk, 0)),
            arrivals=tuple(sorted(arrivals[pk], key=lambda arrival: arrival.on)),
            lead_days=leads.get(pk),
        )  # fmt: skip


def _claimed(items: Iterable[int]) -> Iterable[tuple[int, int]]:
    """What pours planned or at the bench will still take, by item."""
    open_takes = PourTake.objects.filter(
        pour__state__in=OPEN_POURS, item__in=items
    ).exclude(use=Use.REMELT)  # fmt: skip
    return open_takes.values_list("item").annotate(Sum("target")).order_by()


def lead_days(items: Mapping[int, Item]) -> dict[int, int]:
    """
    Return by item how soon it comes, by its offers or its supplier.

    A supplier who says nothing is taken to need ``UNKNOWN_LEAD_DAYS``; of what nobody is known to
    sell there is no more than what is there.
    """
    found = dict(
        Offer.objects.filter(item__in=items, retired=False, lead_days__isnull=False)
        .values_list("item")
        .annotate(Min("lead_days"))
        .order_by()
    )
    for pk, item in items.items():
        if pk not in found and item.supplier is not None:
            usual = item.supplier.lead_days
            found[pk] = UNKNOWN_LEAD_DAYS if usual is None else usual
    return found


# --- what is pinned ------------------------------------------------------------------------------


def pinned_melts(
    plan: Plan, sessions: Sequence[core.Session], versions: Mapping[str, DesignVersion]
) -> Iterator[core.Melt]:
    """Return a plan's melts that the maker pinned and has not started, in sessions to come."""
    rows = plan.melts.filter(pinned=True, pour__isnull=True).prefetch_related(
        "fillings__design_version"
    )
    yield from core_melts(rows, sessions, versions)


def core_melts(
    rows: Iterable[PlannedMelt],
    sessions: Sequence[core.Session],
    versions: Mapping[str, DesignVersion],
) -> Iterator[core.Melt]:
    """Return planned melts as the core has them, without those whose session is no more."""
    known = {session.key for session in sessions}
    for row in rows:
        key = session_key(row.on, row.session_starts)
        if key not in known:
            continue
        draws: dict[str, list[core.Pour]] = defaultdict(list)
        for filling in row.fillings.all():
            product = product_key(filling.design_version.design_id)
            if product in versions:
                formula = f"formula-{versions[product].formula_version_id}"
                draws[formula].append(core.Pour(product=product, quantity=filling.qty))
        if draws:
            yield core.Melt(
                session=key, melter=melter_key(row.melter_id), pinned=row.pinned,
                draws=tuple(
                    core.Draw(formula=formula, pours=tuple(pours))
                    for formula, pours in draws.items()
                ),
            )  # fmt: skip


def with_changes(
    problem: core.Problem,
    *,
    table_places: int | None = None,
    more_melters: Sequence[core.Melter] = (),
    sessions: Sequence[core.Session] | None = None,
) -> core.Problem:
    """Return the problem as a what-if changes it; what is pinned to a lost session is let go."""
    left = {s.key for s in (problem.sessions if sessions is None else sessions)}
    return replace(
        problem,
        table_places=problem.table_places if table_places is None else table_places,
        melters=(*problem.melters, *more_melters),
        sessions=problem.sessions if sessions is None else tuple(sessions),
        pinned=tuple(melt for melt in problem.pinned if melt.session in left),
    )
