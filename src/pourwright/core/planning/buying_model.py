"""
Purchases as a mixed-integer programme, solved by HiGHS from a plan that is there already.

For each offer, order day and price tier: whole packs and whether the tier is reached; for each
supplier and day: whether an order goes out and whether its freight is free. Rows: a tier's packs
lie in its range; an order is placed where anything is bought; freight is free from its value on;
what has arrived by a day covers the needs until then, in whole steps of the packs' common divisor;
with goods that spoil, the same for each run of needs and what still keeps for it. What no order
can bring in time was moved to the first day on which it can come (``needs``), so that no row needs
slack at a large price. Cash limits are rows as well; by how much they must be broken is asked for
first, as a programme of its own.

The work is limited by nodes, not by the clock, on one thread and with one seed: the same input
gives the same plan on any machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from pourwright.core.planning.buying import Offer
from pourwright.core.planning.buying_cost import Bought, merged
from pourwright.core.planning.highs import quiet_highs
from pourwright.core.planning.needs import Field, Item
from pourwright.core.planning.rhythms import least_price

INFINITE = float("inf")
MINOR = 100.0
"""Money in the programme is in minor units."""
GAP = 4e-3
"""A group of suppliers is left when no plan of it can be cheaper by more than this share."""
WITHIN = 1e-6
"""Two costs that differ by a smaller share are the same."""


@dataclass(slots=True)
class Programme:
    """Columns (cost, bounds, whole or not) and rows (bounds, entries) of one programme."""

    cost: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_low: list[float] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)
    entries: list[list[tuple[int, float]]] = field(default_factory=list)

    def column(self, cost: float, high: float, *, whole: bool = True) -> int:
        self.cost.append(cost)
        self.low.append(0.0)
        self.high.append(high)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, low: float, high: float, entries: list[tuple[int, float]]) -> None:
        self.row_low.append(low)
        self.row_high.append(high)
        self.entries.append(entries)


@dataclass(frozen=True, slots=True)
class Tier:
    """The columns of one offer, order day and price tier. ``used`` is -1 with one tier alone."""

    offer: Offer
    day: int
    packs: int
    used: int
    least: int
    price: int


@dataclass(slots=True)
class Model:
    """The programme of some of a field's items, and what its columns mean."""

    ground: Field
    items: tuple[Item, ...]
    programme: Programme
    tiers: list[Tier]
    orders: dict[tuple[str, int], int]
    free: dict[tuple[str, int], int]
    over: dict[str, int]
    constant: float


@dataclass(frozen=True, slots=True)
class Answer:
    """What the solver gave: the orders, a proven bound (in 1/100 minor units), done or stopped."""

    bought: tuple[Bought, ...]
    bound_minor100: float
    finished: bool


def build(
    ground: Field, items: Sequence[Item], *, cash_over_minor100: dict[str, int] | None = None,
    least_cash: bool = False,
) -> Model:  # fmt: skip
    """
    Return the programme of these items.

    ``cash_over_minor100``: the months' limits, each widened by so much, are kept. ``least_cash``:
    the limits are soft, and what goes over them is all that is minimised.
    """
    made = Model(ground, tuple(items), Programme(), [], {}, {}, {}, 0.0)
    for item in made.items:
        _columns(made, item)
        _rows(made, item)
        _least_goods(made, item)
    _freight_rows(made)
    _first_orders(made)
    if least_cash or cash_over_minor100 is not None:
        _cash_rows(made, cash_over_minor100 or {}, soft=least_cash)
    if least_cash:
        soft = set(made.over.values())
        made.programme.cost = [
            1.0 if place in soft else 0.0 for place in range(len(made.programme.cost))
        ]
        made.constant = 0.0
    return made


def _columns(made: Model, item: Item) -> None:
    ground = made.ground
    for need in item.needs:
        made.constant -= float(item.holding * need.amount * (ground.end - need.used)) / MINOR
    for offer in item.offers:
        supplier = ground.suppliers[offer.supplier]
        for day in ground.days[offer.supplier]:
            arrival = day + offer.lead_days
            rest = sum(need.amount for need in item.needs if need.by >= arrival)
            if not rest:
                continue
            needed = -(-rest // offer.pack)
            held = float(item.holding * offer.pack * (ground.end - arrival)) / MINOR
            key = (offer.supplier, day)
            if key not in made.orders:
                made.orders[key] = made.programme.column(supplier.freight_minor100 / MINOR, 1)
                if supplier.free_from_minor100 is not None and supplier.freight_minor100:
                    made.free[key] = made.programme.column(-supplier.freight_minor100 / MINOR, 1)
            _tiers(made, offer, day, needed, held)


def _tiers(made: Model, offer: Offer, day: int, needed: int, held: float) -> None:
    """Add the columns of an offer on a day, and the rows that hold its tiers together."""
    programme, key = made.programme, (offer.supplier, day)
    supplier = made.ground.suppliers[offer.supplier]
    used = []
    for place, price in enumerate(offer.prices):
        # More than is needed is bought only to reach a price break, or to save the freight; for
        # that, packs worth more than the freight never pay.
        extra = 0
        if key in made.free and price.minor100:  # what costs nothing adds no value
            extra = supplier.freight_minor100 // price.minor100
        most = max(needed, price.from_packs) + extra
        if place + 1 < len(offer.prices):
            most = min(most, offer.prices[place + 1].from_packs - 1)
        if (
            place
            and price.minor100 * price.from_packs > offer.prices[0].minor100 * needed
            and (key not in made.free)
        ):
            continue  # so many cost more than what is needed at the first price
        packs = programme.column(price.minor100 / MINOR + held, most)
        if len(offer.prices) == 1:
            made.tiers.append(Tier(offer, day, packs, -1, 1, price.minor100))
            programme.row(-INFINITE, 0, [(packs, 1), (made.orders[key], -most)])
            continue
        chosen = programme.column(0, 1)
        made.tiers.append(Tier(offer, day, packs, chosen, price.from_packs, price.minor100))
        programme.row(-INFINITE, 0, [(packs, 1), (chosen, -most)])
        programme.row(0, INFINITE, [(packs, 1), (chosen, -price.from_packs)])
        used.append((chosen, 1.0))
    if used:
        programme.row(-INFINITE, 0, [*used, (made.orders[key], -1)])


def _rows(made: Model, item: Item) -> None:
    """Add the supply rows of a material: each run of needs, and what can serve it."""
    tiers = [tier for tier in made.tiers if made.ground.item_of[tier.offer.key] is item]
    starts = _starts(item)
    for start in starts:
        soonest = item.needs[start].used - item.keeps if item.keeps is not None else 0
        due = 0
        for place in range(start, len(item.needs)):
            need = item.needs[place]
            due += need.amount
            if place + 1 < len(item.needs) and item.needs[place + 1].by == need.by:
                continue
            entries = [
                (tier.packs, float(tier.offer.pack // item.grain))
                for tier in tiers
                if soonest <= tier.day + tier.offer.lead_days <= need.by
            ]
            made.programme.row(-(-due // item.grain), INFINITE, entries)


def _least_goods(made: Model, item: Item) -> None:
    """
    Say that what has arrived by a need cost at least the cheapest packs that cover it.

    True of every plan, since splitting an order never lowers a price, and what closes most of the
    gap that whole packs leave between the programme and its relaxation.
    """
    tiers = [tier for tier in made.tiers if made.ground.item_of[tier.offer.key] is item]
    due = 0
    for need in item.needs:
        due += need.amount
        coming = [tier for tier in tiers if tier.day + tier.offer.lead_days <= need.by]
        offers = [offer for offer in item.offers if any(tier.offer is offer for tier in coming)]
        least = least_price(offers, due)
        if least is not None:
            entries = [(tier.packs, tier.price / MINOR) for tier in coming]
            made.programme.row(least / MINOR * (1 - 1e-12), INFINITE, entries)


def _starts(item: Item) -> list[int]:
    """Return the needs at which a run has to begin: the first, and where older goods spoil."""
    if item.keeps is None:
        return [0]
    return [0] + [
        place
        for place, need in enumerate(item.needs)
        if place and need.used > item.keeps and need.used > item.needs[place - 1].used
    ]


def _freight_rows(made: Model) -> None:
    values: dict[tuple[str, int], list[tuple[int, float]]] = {key: [] for key in made.orders}
    for tier in made.tiers:
        values[tier.offer.supplier, tier.day].append((tier.packs, tier.price / MINOR))
    for key, column in made.free.items():
        threshold = made.ground.suppliers[key[0]].free_from_minor100 or 0
        made.programme.row(0, INFINITE, [*values[key], (column, -threshold / MINOR)])
        made.programme.row(-INFINITE, 0, [(column, 1), (made.orders[key], -1)])


def _first_orders(made: Model) -> None:
    """Say of each material that some order brings its first need: true, and a better bound."""
    for item in made.items:
        if not item.needs:
            continue
        first = item.needs[0].by
        columns = sorted(
            {
                made.orders[offer.supplier, day]
                for offer in item.offers
                for day in made.ground.days[offer.supplier]
                if day + offer.lead_days <= first
            }
        )
        made.programme.row(1, INFINITE, [(column, 1.0) for column in columns])


def _cash_rows(made: Model, over: dict[str, int], *, soft: bool) -> None:
    limit = made.ground.buying.cash_minor100 or 0
    months: dict[str, list[tuple[int, float]]] = {}
    for tier in made.tiers:
        months.setdefault(made.ground.month(tier.day), []).append((tier.packs, tier.price / MINOR))
    for (supplier, day), column in made.orders.items():
        freight = made.ground.suppliers[supplier].freight_minor100 / MINOR
        months[made.ground.month(day)].append((column, freight))
        if (supplier, day) in made.free:
            months[made.ground.month(day)].append((made.free[supplier, day], -freight))
    for month, entries in sorted(months.items()):
        if soft:
            made.over[month] = made.programme.column(1.0, INFINITE, whole=False)
            entries.append((made.over[month], -1.0))
        made.programme.row(-INFINITE, (limit + over.get(month, 0)) / MINOR, entries)


# --- solving -------------------------------------------------------------------------------------


def solve(
    made: Model, start: Sequence[Bought], *, nodes: int,
    should_stop: Callable[[], bool] | None = None,
) -> Answer:  # fmt: skip
    """
    Return the best orders found from ``start`` within so many nodes, and the proven bound.

    Without a start that keeps the rows the solver looks for one by itself.
    """
    # highspy is loaded only where it is needed: the other commands start sooner.
    import highspy

    highs = quiet_highs()
    for option, value in (
        ("threads", 1), ("random_seed", 0), ("mip_rel_gap", GAP),
        ("mip_max_nodes", nodes), ("mip_feasibility_tolerance", 1e-9),
        ("primal_feasibility_tolerance", 1e-9),
    ):  # fmt: skip
        highs.setOptionValue(option, value)
    highs.passModel(_passed(made, highspy))
    if should_stop is not None:

        def asked(event: Any) -> None:
            if should_stop():
                event.interrupt()

        highs.cbMipInterrupt.subscribe(asked)
    answer, lost = _run(made, highs, values_of(made, start) if start else None)
    if lost and answer.finished:
        # Presolve may turn the start into a better one that is known by its cost alone: the
        # search then ends on that cost with the start as it was. Without presolve it cannot.
        highs.clearSolver()
        highs.setOptionValue("presolve", "off")
        again, _ = _run(made, highs, values_of(made, answer.bought))
        bound = max(answer.bound_minor100, again.bound_minor100)
        answer = Answer(again.bought, bound, again.finished)
    return answer


def _run(made: Model, highs: Any, start: list[float] | None) -> tuple[Answer, bool]:
    """Return the answer, and whether its columns cost more than the solver says they do."""
    import highspy

    if start is not None:
        solution = highspy.HighsSolution()
        solution.col_value = start
        highs.setSolution(solution)
    highs.run()
    info = highs.getInfo()
    finished = highs.getModelStatus() != highspy.HighsModelStatus.kInterrupt
    bound = float(info.mip_dual_bound) * MINOR
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Answer((), bound, finished), False
    values = highs.getSolution().col_value
    cost = made.constant + sum(c * v for c, v in zip(made.programme.cost, values, strict=True))
    said = float(info.objective_function_value)
    lost = cost > said + WITHIN * max(1.0, abs(said))
    return Answer(bought_of(made, values), bound, finished), lost


def _passed(made: Model, highspy: Any) -> Any:
    import numpy as np

    programme, lp = made.programme, highspy.HighsLp()
    lp.offset_ = made.constant  # so that the gap is a share of what is really paid
    lp.num_col_, lp.num_row_ = len(programme.cost), len(programme.entries)
    lp.col_cost_ = np.array(programme.cost)
    lp.col_lower_, lp.col_upper_ = np.array(programme.low), np.array(programme.high)
    lp.row_lower_, lp.row_upper_ = np.array(programme.row_low), np.array(programme.row_high)
    lp.integrality_ = [
        highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
        for whole in programme.whole
    ]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0, *(len(row) for row in programme.entries)])
    lp.a_matrix_.index_ = np.array([column for row in programme.entries for column, _ in row])
    lp.a_matrix_.value_ = np.array([value for row in programme.entries for _, value in row])
    return lp


def bought_of(made: Model, values: Sequence[float]) -> tuple[Bought, ...]:
    """Return the orders that a solution's columns mean."""
    return merged(
        Bought(tier.day, tier.offer.key, round(values[tier.packs])) for tier in made.tiers
    )


def values_of(made: Model, bought: Sequence[Bought]) -> list[float]:
    """Return the value of each column that these orders mean."""
    values = [0.0] * len(made.programme.cost)
    packs = {(row.day, row.offer): row.packs for row in bought}
    worth: dict[tuple[str, int], int] = {}
    for tier in made.tiers:
        count = packs.get((tier.day, tier.offer.key), 0)
        if not count or tier.price != tier.offer.price_minor100(count):
            continue
        values[tier.packs] = float(count)
        if tier.used >= 0:
            values[tier.used] = 1.0
        key = (tier.offer.supplier, tier.day)
        values[made.orders[key]] = 1.0
        worth[key] = worth.get(key, 0) + count * tier.price
    for key, value in worth.items():
        supplier = made.ground.suppliers[key[0]]
        if key in made.free and supplier.charge_minor100(value) == 0:
            values[made.free[key]] = 1.0
    for month, column in made.over.items():
        spent = sum(
            value + made.ground.suppliers[supplier].charge_minor100(value)
            for (supplier, day), value in worth.items()
            if made.ground.month(day) == month
        )
        limit = made.ground.buying.cash_minor100 or 0
        values[column] = max(0, spent - limit) / MINOR
    return values
