"""
What to order from whom, by when, in packs, so that nothing runs out and the whole costs least.

Suppliers that share no material are planned apart, each by a mixed-integer programme that starts
from the best of the fixed rhythms (``buying_model``). So an answer is never dearer than any of
them, and its distance from the best possible is proven.

Single-item lot sizing in time goes back to Wagner and Whitin, "Dynamic version of the economic lot
size model", Management Science 5 (1958) 89-96; packs, price breaks, freight shared among materials
and free freight make it a mixed-integer programme.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from pourwright.core.amounts import show_mass
from pourwright.core.amounts.units import System, from_mg
from pourwright.core.planning import buying_model
from pourwright.core.planning.buying import (
    Buying,
    CashShort,
    Cost,
    Late,
    Order,
    OrderLine,
    Outlook,
    PurchasePlan,
    Rhythm,
    Supply,
    check,
)
from pourwright.core.planning.buying_cost import (
    Bought,
    cash_by_month,
    cost_of,
    faults_of,
    item_faults,
    merged,
)
from pourwright.core.planning.buying_start import good_start, near_orders
from pourwright.core.planning.needs import WEEK, Field, Item, field_of, net_uses
from pourwright.core.planning.rhythms import just_in_time, moved_later, rhythm

RHYTHMS: tuple[tuple[str, int | None], ...] = (
    ("every week", 1), ("every fortnight", 2), ("every four weeks", 4), ("everything now", None),
)  # fmt: skip
EFFORT = 100
"""Nodes of the search tree that each group of suppliers gets, if not told otherwise."""
MOST_NEAR = 3
"""How often a start is improved on the days near its orders before the whole is looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """Where the search stands: groups of suppliers done of how many, and the cost so far."""

    done: int
    of: int
    total_minor100: Fraction
    bound_minor100: Fraction


def plan_purchases(
    buying: Buying, *, effort: int = EFFORT, system: System = "metric",
    should_stop: Callable[[], bool] | None = None,
    on_progress: Callable[[Progress], None] | None = None,
) -> PurchasePlan:  # fmt: skip
    """
    Return what to order, with its cost beside fixed rhythms and a proven bound.

    ``effort`` counts nodes, so that the same input gives the same plan; ``should_stop`` is asked
    now and then and ends the search early with the best plan so far. Raises ``BadPurchase``.
    """
    check(buying)
    field = field_of(buying)
    rhythms = {name: rhythm(field, _rhythm_days(field, weeks)) for name, weeks in RHYTHMS}
    search = _Search(field, list(rhythms.values()), effort, should_stop, on_progress)
    best, bound, finished = search.apart()
    over: dict[str, int] = {}
    if buying.cash_minor100 is not None and _over(field, best):
        best, bound, together, over = search.together(best, bound)
        finished = finished and together
    best = _trimmed(field, best, over if buying.cash_minor100 is not None else None)
    cost = cost_of(field, best)
    return PurchasePlan(
        orders=_orders(field, best), cost=cost,
        bound_minor100=min(bound, cost.total_minor100),
        rhythms=tuple(
            _judged(field, name, weeks, rhythms[name], over) for name, weeks in RHYTHMS
        ),
        outlook=tuple(_outlook(field, item, best) for item in field.items),
        late=tuple(late for item in field.items for late in _late(field, item, system)),
        cash_short=tuple(_cash_words(month, amount) for month, amount in sorted(over.items())),
        order_days="one day a week" if field.weekly else "any day", finished=finished,
    )  # fmt: skip


# --- the search ----------------------------------------------------------------------------------


@dataclass(slots=True)
class _Search:
    field: Field
    starts: list[tuple[Bought, ...]]
    effort: int
    should_stop: Callable[[], bool] | None
    on_progress: Callable[[Progress], None] | None

    def __post_init__(self) -> None:
        later = [moved_later(self.field, start) for start in self.starts]
        self.starts = [*self.starts, *later, moved_later(self.field, just_in_time(self.field))]

    def apart(self) -> tuple[tuple[Bought, ...], Fraction, bool]:
        """Plan each group of suppliers by itself, without cash limits."""
        best: list[Bought] = []
        bound, finished = Fraction(0), True
        groups = groups_of(self.field)
        for place, items in enumerate(groups, start=1):
            part = _part(self.field, items)
            starts = [_of(items, start) for start in self.starts]
            starts.append(good_start(part, items))
            start = self._best(part, starts)
            made = buying_model.build(part, items)
            start = self._improved(part, items, start, len(made.programme.cost))
            answer = self._solve(made, start)
            found = self._best(part, [s for s in (start, answer.bought) if s is not None])
            best += found or ()
            bound += _at_least(answer.bound_minor100)
            finished = finished and answer.finished
            if self.on_progress is not None:
                total = cost_of(_part(self.field, [i for g in groups[:place] for i in g]), best)
                self.on_progress(
                    Progress(done=place, of=len(groups), total_minor100=total.total_minor100,
                             bound_minor100=bound)
                )  # fmt: skip
        return merged(best), bound, finished

    def _improved(
        self, part: Field, items: Sequence[Item], start: tuple[Bought, ...] | None, columns: int
    ) -> tuple[Bought, ...] | None:
        """
        Improve a start by programmes of the days near its own orders alone.

        They are small beside the whole one of so many columns, which is soon done from a good
        start: it can then leave out most of what cannot be part of a better plan.
        """
        for _ in range(MOST_NEAR):
            if not start:
                break
            near = buying_model.build(near_orders(part, start), items)
            if 2 * len(near.programme.cost) > columns:
                break
            answer = buying_model.solve(near, start, nodes=1, should_stop=self.should_stop)
            better = self._best(part, [start, answer.bought])
            if better == start or not answer.finished:
                break
            start = better
        return start

    def together(
        self, best: tuple[Bought, ...], bound: Fraction
    ) -> tuple[tuple[Bought, ...], Fraction, bool, dict[str, int]]:
        """Plan all under the cash limits: first the least by which they must be broken."""
        field = self.field
        items = [item for item in field.items if item.needs]
        first = buying_model.build(field, items, least_cash=True)
        candidates = [best, *(s for s in self.starts if not faults_of(field, s))]
        start = min(candidates, key=lambda s: sum(_over(field, s).values()))
        if _over(field, start):
            least = self._solve(first, _trimmed(field, start))
            if least.bought and not faults_of(field, least.bought):
                candidates.append(least.bought)
                start = min(candidates, key=lambda s: sum(_over(field, s).values()))
        over = _over(field, start)
        allowed = [s for s in candidates if not _beyond(field, s, over)]
        start = self._best(field, allowed) or start
        made = buying_model.build(field, items, cash_over_minor100=over)
        answer = self._solve(made, start)
        found = [start]
        if not (faults_of(field, answer.bought) or _beyond(field, answer.bought, over)):
            found.append(answer.bought)
        joint = _at_least(answer.bound_minor100)
        return self._best(field, found) or start, max(bound, joint), answer.finished, over

    def _solve(
        self, made: buying_model.Model, start: Sequence[Bought] | None
    ) -> buying_model.Answer:
        return buying_model.solve(
            made, start or (), nodes=self.effort, should_stop=self.should_stop
        )

    def _best(self, field: Field, plans: Sequence[tuple[Bought, ...]]) -> tuple[Bought, ...] | None:
        """Return the cheapest of plans that cover every need."""
        fitting = [_trimmed(field, plan) for plan in plans if not faults_of(field, plan)]
        return min(
            fitting, key=lambda plan: (cost_of(field, plan).total_minor100, plan), default=None
        )


def groups_of(field: Field) -> list[list[Item]]:
    """Return the materials in groups that share no supplier with each other."""
    group: dict[str, int] = {}
    items = [item for item in field.items if item.needs]
    for place, item in enumerate(items):
        joined = {group[offer.supplier] for offer in item.offers if offer.supplier in group}
        for supplier, number in list(group.items()):
            if number in joined:
                group[supplier] = place
        for offer in item.offers:
            group[offer.supplier] = place
    made: dict[int, list[Item]] = {}
    for item in items:
        made.setdefault(group[item.offers[0].supplier], []).append(item)
    return list(made.values())


def _part(field: Field, items: Sequence[Item]) -> Field:
    return Field(
        buying=field.buying, items=tuple(items), suppliers=field.suppliers, days=field.days,
        weekly=field.weekly, end=field.end, offers=field.offers, item_of=field.item_of,
    )  # fmt: skip


def _of(items: Sequence[Item], bought: Sequence[Bought]) -> tuple[Bought, ...]:
    keys = {offer.key for item in items for offer in item.offers}
    return tuple(row for row in bought if row.offer in keys)


def _rhythm_days(field: Field, weeks: int | None) -> list[int]:
    return [0] if weeks is None else list(range(0, field.end, weeks * WEEK))


def _at_least(bound_minor100: float) -> Fraction:
    """Return a bound in whole hundredths, rounded so that it stays one."""
    if bound_minor100 == float("-inf"):
        return Fraction(0)
    return Fraction(floor(bound_minor100 * (1 - 1e-9) - 1e-3))


def _over(field: Field, bought: Sequence[Bought]) -> dict[str, int]:
    limit = field.buying.cash_minor100 or 0
    spent = cash_by_month(field, bought)
    return {month: cash - limit for month, cash in sorted(spent.items()) if cash > limit}


def _beyond(field: Field, bought: Sequence[Bought], over: dict[str, int]) -> bool:
    return any(amount > over.get(month, 0) for month, amount in _over(field, bought).items())


def _trimmed(
    field: Field, bought: Sequence[Bought], over: dict[str, int] | None = None
) -> tuple[Bought, ...]:
    """Return the orders without packs that nobody needs, where leaving them out costs no more."""
    rows = list(bought)
    cost = cost_of(field, rows).total_minor100
    for place in sorted(range(len(rows)), key=lambda p: rows[p], reverse=True):
        while rows[place].packs:
            row = rows[place]
            item = field.item_of[row.offer]
            fewer = list(rows)
            fewer[place] = Bought(row.day, row.offer, row.packs - 1)
            if item_faults(item, [r for r in fewer if field.item_of[r.offer] is item]):
                break
            kept = [r for r in fewer if r.packs]
            less = cost_of(field, kept).total_minor100
            if less > cost or (over is not None and _beyond(field, kept, over)):
                break
            rows, cost = fewer, less
    return tuple(row for row in rows if row.packs)


# --- what is said of it --------------------------------------------------------------------------


def _judged(
    field: Field, name: str, weeks: int | None, bought: tuple[Bought, ...], over: dict[str, int]
) -> Rhythm:
    cost: Cost | None = cost_of(field, bought)
    words = ""
    if faults := faults_of(field, bought):
        fault = min(faults, key=lambda f: f.day)
        name_of = next(i.supply.name for i in field.items if i.supply.key == fault.material)
        cost = None
        words = f"{name_of} would have spoilt, or be short, on {field.date(fault.day)}."
    elif field.buying.cash_minor100 is not None and _beyond(field, bought, over):
        cost, words = None, f"It breaks the cash limit in {min(_over(field, bought))}."
    orders = len({(field.offers[row.offer].supplier, row.day) for row in bought})
    return Rhythm(
        name=name, every_days=None if weeks is None else weeks * WEEK, cost=cost, orders=orders,
        words=words,
    )  # fmt: skip


def _orders(field: Field, bought: Sequence[Bought]) -> tuple[Order, ...]:
    together: dict[tuple[int, str], list[Bought]] = {}
    for row in bought:
        together.setdefault((row.day, field.offers[row.offer].supplier), []).append(row)
    made = []
    for (day, supplier), rows in sorted(together.items()):
        lines = tuple(_line(field, row) for row in rows)
        value = sum(line.value_minor100 for line in lines)
        held = sum(
            (field.item_of[row.offer].holding * field.offers[row.offer].pack * row.packs
             for row in rows), Fraction(0),
        )  # fmt: skip
        made.append(
            Order(
                supplier=supplier, on=field.date(day), lines=lines,
                freight_minor100=field.suppliers[supplier].charge_minor100(value),
                latest_on=field.date(_latest(field, bought, rows)), now_costs_minor100=held * day,
            )
        )  # fmt: skip
    return tuple(made)


def _line(field: Field, row: Bought) -> OrderLine:
    offer = field.offers[row.offer]
    return OrderLine(
        offer=offer.key, material=offer.material, packs=row.packs, amount=row.packs * offer.pack,
        price_minor100=offer.price_minor100(row.packs),
        arrives_on=field.date(row.day + offer.lead_days),
    )  # fmt: skip


def _latest(field: Field, bought: Sequence[Bought], rows: Sequence[Bought]) -> int:
    """Return the last day on which these rows, sent together, still come in time."""
    latest = rows[0].day
    days = sorted(
        {
            need.by - offer.lead_days
            for row in rows
            for need in field.item_of[row.offer].needs
            for offer in (field.offers[row.offer],)
            if need.by - offer.lead_days > latest
        }
    )
    rest = [row for row in bought if row not in rows]
    items = [field.item_of[row.offer] for row in rows]
    for day in days:
        moved = [*rest, *(Bought(day, row.offer, row.packs) for row in rows)]
        if any(
            item_faults(item, [r for r in moved if field.item_of[r.offer] is item])
            for item in items
        ):
            break
        latest = day
    return latest


def _outlook(field: Field, item: Item, bought: Sequence[Bought]) -> Outlook:
    supply, buying = item.supply, field.buying
    first = item.missing[0][0] if item.missing else item.needs[0].wish if item.needs else None
    late = [need.wish for need in item.needs if need.used > need.wish]
    late += [day for day, _ in item.missing]
    came = sum(row.amount for row in supply.arrivals if row.on < buying.until)
    came += sum(
        row.packs * field.offers[row.offer].pack
        for row in bought
        if field.item_of[row.offer] is item
    )
    used = sum(need.amount for need in supply.needs) - sum(amount for _, amount in item.missing)
    last = None
    if first is not None and item.offers:
        last = first - buying.spare_days - min(offer.lead_days for offer in item.offers)
    return Outlook(
        material=supply.key, out_on_without=None if first is None else field.date(first),
        short_without=item.amount + sum(amount for _, amount in item.missing),
        out_on_with=field.date(min(late)) if late else None,
        left_at_end=supply.on_hand + came - used,
        last_order_on=None if last is None or last < 0 else field.date(last),
        must_order_today=last is not None and last <= 0,
    )  # fmt: skip


def _late(field: Field, item: Item, system: System) -> list[Late]:
    supply = item.supply
    found = []
    if item.missing:
        day, short = item.missing[0][0], sum(amount for _, amount in item.missing)
        words = (
            f"{supply.name}: {shown(supply, short, system)} is missing from {field.date(day)} on, "
            "and nobody offers it; add an offer, or use less."
        )
        found.append(
            Late(material=supply.key, needed_on=field.date(day), short=short, comes_on=None,
                 days_late=None, words=words)
        )  # fmt: skip
    late = [need for need in item.needs if need.used > need.wish]
    if late:
        # They were put together on the first day on which anything can come.
        soonest = late[0].used
        short = sum(amount for day, amount in net_uses(supply, field.buying.today) if day < soonest)
        first = late[0].wish
        words = (
            f"{supply.name}: {shown(supply, short, system)} is missing from {field.date(first)}; "
            f"ordered today it comes on {field.date(soonest)}, {_days(soonest - first)} late. Pour "
            "later, use less, or find somebody who sends it sooner."
        )
        found.append(
            Late(material=supply.key, needed_on=field.date(first), short=short,
                 comes_on=field.date(soonest), days_late=soonest - first, words=words)
        )  # fmt: skip
    return found


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def shown(supply: Supply, amount: int, system: System) -> str:
    """Return an amount of a material in words."""
    if supply.unit == "pieces":
        return "1 piece" if amount == 1 else f"{amount} pieces"
    return show_mass(from_mg(amount), system)


def _cash_words(month: str, over_minor100: int) -> CashShort:
    return CashShort(
        month=month, over_minor100=ceil(over_minor100),
        words=f"The limit for {month} is too small for what has to be ordered by then.",
    )  # fmt: skip
