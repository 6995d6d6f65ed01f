"""
A problem made ready for reckoning: whole numbers in the order of time, and every fault found.

Days count from today (0), moments in seconds from today's midnight. Nothing here decides.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from pourwright.core.errors import BadInput
from pourwright.core.planning.model import Line, Lot, Melter, Problem, Product, Session

DAY_S = 86_400
MOST_SESSIONS = 1000
MOST_LINES = 3000
MOST_QUANTITY = 100_000
MOST_SHOWN = 5
MOST_PRIORITY = 100_000
# Planned busy time of a session where none is given: common practice, no source.
BUSY_PER_100 = 95


class BadPlan(BadInput):
    """A problem that cannot be planned; the message lists what is wrong."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        more = len(faults) - MOST_SHOWN
        tail = f" (and {more} more)" if more > 0 else ""
        super().__init__("; ".join(faults[:MOST_SHOWN]) + tail)


@dataclass(frozen=True, slots=True)
class Stint:
    """A session in numbers: ``day``, and ``start`` and ``end`` in seconds from today's midnight."""

    key: str
    day: int
    start: int
    end: int
    length_s: int
    maker_s: int
    people: int
    melters: tuple[int, ...]
    most_melts: int | None
    frozen: bool


@dataclass(frozen=True, slots=True)
class Good:
    """A product in numbers; ``formula`` and ``wax`` are places in the ground's lists."""

    key: str
    formula: int
    wax: int
    fill_mg: int
    wax_mg: int
    places: int
    cure_days: int
    setting_s: int
    pour_s: int
    prep_s: int
    finish_s: int
    best_before_days: int | None
    uses: tuple[tuple[int, int], ...]
    cost: int


@dataclass(frozen=True, slots=True)
class Want:
    """A line in numbers. ``place`` is its place in the problem's lines."""

    place: int
    due: int
    quantity: int
    priority: int
    order: bool


@dataclass(frozen=True, slots=True)
class Have:
    """A lot in numbers; ``last`` is the last day it may be sold (None: no matter)."""

    ready: int
    quantity: int
    last: int | None


@dataclass(frozen=True, slots=True)
class Stuff:
    """
    A material in numbers: ``by_session[s]`` is all that has come by session s.

    ``bound_until``: the first session that an order placed today would reach; from there on more
    can be bought and nothing bounds its use.
    """

    key: str
    by_session: tuple[int, ...]
    bound_until: int


class Ground:
    """A checked problem in numbers, with the sums that every part of the planner needs."""

    def __init__(self, problem: Problem) -> None:
        check_problem(problem)
        self.problem = problem
        self.today = problem.today
        self.melters: tuple[Melter, ...] = problem.melters
        self.formula_place = {f.key: i for i, f in enumerate(problem.formulas)}
        waxes = sorted({f.wax for f in problem.formulas})
        self.wax_place = {wax: i for i, wax in enumerate(waxes)}
        self.wax_of = [self.wax_place[f.wax] for f in problem.formulas]
        self.product_place = {p.key: i for i, p in enumerate(problem.products)}
        self.melter_place = {m.key: i for i, m in enumerate(problem.melters)}
        self._stuff_place = {m.key: i for i, m in enumerate(problem.materials)}
        vessels = {v.key: v for v in problem.vessels}
        self.goods = [self._good(p, vessels[p.vessel].places) for p in problem.products]
        ordered = sorted(problem.sessions, key=lambda s: (s.on, s.start_s, s.key))
        self.stints = [self._stint(s) for s in ordered]
        self.stint_place = {s.key: i for i, s in enumerate(self.stints)}
        self.finished_from = [self._finished_from(stint) for stint in self.stints]
        self.wants: list[list[Want]] = [[] for _ in self.goods]
        for place, line in enumerate(problem.lines):
            self.wants[self.product_place[line.product]].append(self._want(place, line))
        for wants in self.wants:
            wants.sort(key=lambda w: (w.due, w.place))
        self.haves: list[list[Have]] = [[] for _ in self.goods]
        for lot in problem.lots:
            self.haves[self.product_place[lot.product]].append(self._have(lot))
        for haves in self.haves:
            haves.sort(key=lambda h: (h.ready, h.last is None, h.last or 0))
        self.horizon = self._horizon()
        self.of_formula: list[list[int]] = [[] for _ in problem.formulas]
        for k, good in enumerate(self.goods):
            self.of_formula[good.formula].append(k)
        self.places = problem.table_places
        self.kept_per_1000 = 1000 - problem.scrap_per_1000
        self.stuffs = [self._stuff(m.key) for m in problem.materials]
        self.spoils = [self._spoils(k) for k in range(len(self.goods))]
        self.rests = self._rests()

    # --- turning records into numbers -------------------------------------------------------------

    def day(self, on: dt.date) -> int:
        return (on - self.today).days

    def date(self, day: int) -> dt.date:
        return self.today + dt.timedelta(days=day)

    def _good(self, p: Product, places: int) -> Good:
        formula = self.formula_place[p.formula]
        return Good(
            key=p.key, formula=formula, wax=self.wax_of[formula], fill_mg=p.fill_mg,
            wax_mg=p.wax_mg, places=places, cure_days=p.cure_days, setting_s=p.setting_s,
            pour_s=p.pour_s, prep_s=p.prep_s, finish_s=p.finish_s,
            best_before_days=p.best_before_days,
            uses=tuple((self._stuff_place[u.material], u.amount) for u in p.uses),
            cost=p.cost_minor100,
        )  # fmt: skip

    def _stint(self, s: Session) -> Stint:
        day = self.day(s.on)
        usable = s.melters if s.melters is not None else tuple(m.key for m in self.melters)
        full = s.people * s.length_s
        return Stint(
            key=s.key, day=day, start=day * DAY_S + s.start_s, end=day * DAY_S + s.end_s,
            length_s=s.length_s, maker_s=s.maker_s or full * BUSY_PER_100 // 100, people=s.people,
            melters=tuple(sorted(self.melter_place[m] for m in usable)),
            most_melts=s.most_melts, frozen=s.frozen,
        )  # fmt: skip

    def _finished_from(self, stint: Stint) -> int | None:
        """Return the day of the first session that may finish what a session pours; None: none."""
        free = stint.end + self.problem.finish_after_s
        return next((later.day for later in self.stints if later.start >= free), None)

    def _want(self, place: int, line: Line) -> Want:
        return Want(
            place=place, due=self.day(line.due), quantity=line.quantity, priority=line.priority,
            order=line.kind == "order",
        )  # fmt: skip

    def _have(self, lot: Lot) -> Have:
        last = None if lot.best_before is None else self.day(lot.best_before)
        return Have(ready=self.day(lot.ready_on), quantity=lot.quantity, last=last)

    def _horizon(self) -> int:
        """Return the day after the last due day and the last cure: then everything is over."""
        ends = [want.due for wants in self.wants for want in wants]
        if self.stints:
            longest = max((g.cure_days for g in self.goods), default=0)
            ends.append(self.stints[-1].day + longest)
        return max(ends, default=0) + 1

    def _stuff(self, key: str) -> Stuff:
        material = self.problem.materials[self._stuff_place[key]]
        have, until = [], len(self.stints)
        for s, stint in enumerate(self.stints):
            come = sum(a.amount for a in material.arrivals if self.day(a.on) <= stint.day)
            have.append(material.on_hand + come)
            if material.lead_days is not None and stint.day >= material.lead_days:
                until = min(until, s)
        return Stuff(key=key, by_session=tuple(have), bound_until=until)

    def _spoils(self, k: int) -> bool:
        """Return whether some unit could pass its best-before before a line is due."""
        last_due = max((w.due for w in self.wants[k]), default=0)
        if any(h.last is not None and h.last < last_due for h in self.haves[k]):
            return True
        keeps = self.goods[k].best_before_days
        return bool(keeps is not None and self.stints and self.stints[0].day + keeps < last_due)

    def _rests(self) -> list[dict[int, list[int]]]:
        """Return for each session the later ones that find a setting time's pours on the table."""
        times = sorted({g.setting_s for g in self.goods})
        found = []
        for s, stint in enumerate(self.stints):
            found.append({
                setting: [s] + [
                    t for t in range(s + 1, len(self.stints))
                    if stint.end + setting > self.stints[t].start
                ]
                for setting in times
            })  # fmt: skip
        return found

    # --- sums ------------------------------------------------------------------------------------

    def mass_in_melter(self, k: int, m: int) -> int:
        """Return the mg that one unit takes up in the melter: its wax alone where it is drawn."""
        return self.goods[k].wax_mg if self.melters[m].pitchers else self.goods[k].fill_mg

    def melt_s_of(self, k: int, m: int) -> int:
        """Return the seconds of melting that one unit adds, rounded up by the unit."""
        return -(-self.melters[m].melt_s_per_kg * self.mass_in_melter(k, m) // 1_000_000)

    def group_of(self, k: int, m: int) -> int:
        """Return what may share a melt: the formula, or the wax where it is drawn off."""
        return self.goods[k].wax if self.melters[m].pitchers else self.goods[k].formula

    def kept(self, poured: int) -> int:
        """Return the good units to count on from so many poured, over all of a product."""
        return poured * self.kept_per_1000 // 1000

    def to_pour(self, kept: int) -> int:
        """Return the least to pour for so many good units."""
        return -(-kept * 1000 // self.kept_per_1000)

    def ready(self, k: int, s: int) -> int:
        """Return the day that a product poured in a session may first be sold: cured, finished."""
        good, finished = self.goods[k], self.finished_from[s]
        cured = self.stints[s].day + good.cure_days
        return cured if finished is None or not good.finish_s else max(cured, finished)


# --- checking ------------------------------------------------------------------------------------


def check_problem(problem: Problem) -> None:
    """Raise ``BadPlan`` with everything that makes the problem no problem."""
    faults: list[str] = []
    for kind, rows in _kinds(problem):
        keys = [str(getattr(row, "key", "")) for row in rows]
        for key in sorted({key for key in keys if keys.count(key) > 1}):
            faults.append(f'two {kind} are called "{key}"; each needs a name of its own')
    faults += _bad_products(problem)
    faults += _bad_means(problem)
    faults += _bad_demand(problem)
    if faults:
        raise BadPlan(faults)


def _kinds(problem: Problem) -> list[tuple[str, Sequence[object]]]:
    return [
        ("formulas", problem.formulas), ("vessels", problem.vessels),
        ("products", problem.products), ("melters", problem.melters),
        ("sessions", problem.sessions), ("lines", problem.lines), ("lots", problem.lots),
        ("materials", problem.materials),
    ]  # fmt: skip


def _bad_products(problem: Problem) -> list[str]:
    faults = []
    formulas = {f.key for f in problem.formulas}
    vessels = {v.key for v in problem.vessels}
    materials = {m.key for m in problem.materials}
    for v in problem.vessels:
        if v.places < 0:
            faults.append(f'vessel "{v.key}" takes {v.places} places; it takes 0 or more')
    for p in problem.products:
        if p.formula not in formulas:
            faults.append(f'product "{p.key}" is of a formula "{p.formula}" that is not there')
        if p.vessel not in vessels:
            faults.append(f'product "{p.key}" is in a vessel "{p.vessel}" that is not there')
        if not 0 < p.wax_mg <= p.fill_mg:
            faults.append(f'product "{p.key}" needs a fill above 0, and no more wax than that')
        times = (p.cure_days, p.setting_s, p.pour_s, p.prep_s, p.finish_s, p.cost_minor100)
        if min(times) < 0:
            faults.append(f'product "{p.key}": a time or cost is below 0')
        for use in p.uses:
            if use.material not in materials:
                faults.append(f'product "{p.key}" uses "{use.material}", which is not there')
            if use.amount < 0:
                faults.append(f'product "{p.key}" uses less than nothing of "{use.material}"')
    return faults


def _bad_means(problem: Problem) -> list[str]:
    faults = []
    melters = {m.key for m in problem.melters}
    for m in problem.melters:
        if m.capacity_mg <= 0 or not 0 <= m.minimum_mg <= m.capacity_mg:
            faults.append(f'melter "{m.key}" needs a capacity above 0 and not below its least fill')
        if m.pitchers and m.pitcher_mg <= 0:
            faults.append(f'melter "{m.key}" is drawn into pitchers; say what a pitcher holds')
    for s in problem.sessions:
        if s.on < problem.today:
            faults.append(f'session "{s.key}" is on {s.on}, before the plan begins')
        if s.start_s < 0 or s.length_s < 0 or s.end_s > DAY_S or s.people < 0:
            faults.append(f'session "{s.key}" has to begin and end on its own day')
        elif s.maker_s > s.people * s.length_s:
            faults.append(f'session "{s.key}" plans more busy time than its people have')
        for key in s.melters or ():
            if key not in melters:
                faults.append(f'session "{s.key}" names a melter "{key}" that is not there')
    if len(problem.sessions) > MOST_SESSIONS:
        faults.append(f"{len(problem.sessions)} sessions; {MOST_SESSIONS} can be planned at once")
    if not 0 <= problem.scrap_per_1000 < 1000:
        faults.append(f"{problem.scrap_per_1000} of 1000 lost; plan 0 to 999")
    if problem.table_places < 0:
        faults.append(f"the pour table has {problem.table_places} places; it has 0 or more")
    for stuff in problem.materials:
        if stuff.on_hand < 0 or any(a.amount < 0 for a in stuff.arrivals):
            faults.append(f'material "{stuff.key}" has less than nothing on hand or coming')
    faults += _overlapping(problem)
    return faults


def _overlapping(problem: Problem) -> list[str]:
    ordered = sorted(problem.sessions, key=lambda s: (s.on, s.start_s))
    return [
        f'sessions "{one.key}" and "{two.key}" overlap; give the hours to one of them'
        for one, two in pairwise(ordered)
        if one.on == two.on and one.end_s > two.start_s
    ]


def _bad_demand(problem: Problem) -> list[str]:
    faults = []
    products = {p.key: p for p in problem.products}
    sessions = {s.key for s in problem.sessions}
    melters = {m.key for m in problem.melters}
    for line in problem.lines:
        if line.product not in products:
            faults.append(f'line "{line.key}" asks for "{line.product}", which is not there')
        if not 0 <= line.quantity <= MOST_QUANTITY:
            faults.append(f'line "{line.key}" asks for {line.quantity}; plan 0 to {MOST_QUANTITY}')
        if not 1 <= line.priority <= MOST_PRIORITY:
            faults.append(f'line "{line.key}" has priority {line.priority}; give 1 or more')
    if len(problem.lines) > MOST_LINES:
        faults.append(f"{len(problem.lines)} lines; {MOST_LINES} can be planned at once")
    for lot in problem.lots:
        if lot.product not in products:
            faults.append(f'lot "{lot.key}" is of "{lot.product}", which is not there')
        if not 0 <= lot.quantity <= MOST_QUANTITY:
            faults.append(f'lot "{lot.key}" has {lot.quantity}; it has 0 to {MOST_QUANTITY}')
    for melt in problem.pinned:
        if melt.session not in sessions:
            faults.append(f'a pinned melt is in session "{melt.session}", which is not there')
        if melt.melter not in melters:
            faults.append(f'a pinned melt is in melter "{melt.melter}", which is not there')
        for draw in melt.draws:
            for pour in draw.pours:
                if pour.product not in products:
                    faults.append(f'a pinned melt pours "{pour.product}", which is not there')
                elif products[pour.product].formula != draw.formula:
                    faults.append(f'a pinned melt pours "{pour.product}" from another formula')
                if pour.quantity < 0:
                    faults.append("a pinned melt pours less than nothing")
    return faults
