"""
Is a plan one that can be carried out? Every rule held against it, from the records alone.

This is written apart from the planner and shares no reckoning with it, so that each finds the
other's mistakes. Each check returns what is wrong, in words; an empty list is a pass.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Any

from pourwright.core.planning.model import Melt, Melter, Plan, Problem, Product, Session, Step

_Unit = list[Any]
"""Ready on, last day (or None), units left."""

DAY_S = 86_400
BUSY_SHARE = Fraction(95, 100)


def findings(problem: Problem, plan: Plan) -> list[str]:
    """Return everything in the plan that breaks a rule of the problem."""
    case = _Case(problem, plan)
    wrong = list(case.unknown())
    if wrong:
        return wrong
    for check in CHECKS:
        wrong += check(case)
    return wrong


class _Case:
    """Problem and plan with their names looked up."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem, self.plan = problem, plan
        self.products: dict[str, Product] = {p.key: p for p in problem.products}
        self.sessions: dict[str, Session] = {s.key: s for s in problem.sessions}
        self.melters: dict[str, Melter] = {m.key: m for m in problem.melters}
        self.places = {v.key: v.places for v in problem.vessels}
        self.waxes = {f.key: f.wax for f in problem.formulas}

    def unknown(self) -> Iterator[str]:
        for melt in self.plan.melts:
            if melt.session not in self.sessions:
                yield f"a melt is in session {melt.session}, which is not there"
            if melt.melter not in self.melters:
                yield f"a melt is in melter {melt.melter}, which is not there"
            for pour in melt.pours:
                if pour.product not in self.products:
                    yield f"{pour.product} is poured, which is no product"
                if pour.quantity <= 0:
                    yield f"{pour.quantity} of {pour.product} are poured"
        for task in self.plan.tasks:
            if task.session not in self.sessions or task.step.what not in self.products:
                yield f"work on {task.step.what} in {task.session}: one of them is not there"
        if [a.line for a in self.plan.lines] != [line.key for line in self.problem.lines]:
            yield "the plan does not answer every line, in turn"

    def moment(self, session: str, second: int) -> int:
        """Return seconds from the midnight of the plan's first day."""
        return (self.sessions[session].on - self.problem.today).days * DAY_S + second

    def mass(self, melt: Melt) -> int:
        """Return what the melter holds: whole fills, or wax alone where it is drawn off."""
        drawn = self.melters[melt.melter].pitchers > 0
        return sum(
            pour.quantity
            * (self.products[pour.product].wax_mg if drawn else self.products[pour.product].fill_mg)
            for pour in melt.pours
        )

    def poured(self) -> Iterator[tuple[Melt, Step, str, int]]:
        """Yield each pour: melt, its step, product, vessels."""
        for melt in self.plan.melts:
            steps = [step for step in melt.steps if step.kind == "pour"]
            for draw, step in zip(melt.draws, steps, strict=False):
                for pour in draw.pours:
                    yield melt, step, pour.product, pour.quantity


def what_melts_hold(case: _Case) -> Iterator[str]:
    """A melt is within its melter, of one formula or drawn from one wax into its pitchers."""
    for melt in case.plan.melts:
        melter, mass = case.melters[melt.melter], case.mass(melt)
        where = f"melt in {melt.session} on {melt.melter}"
        if mass > melter.capacity_mg:
            yield f"{where}: {mass} mg, and it holds {melter.capacity_mg}"
        if mass < melter.minimum_mg:
            yield f"{where}: {mass} mg, and it needs {melter.minimum_mg}"
        for draw in melt.draws:
            if any(case.products[p.product].formula != draw.formula for p in draw.pours):
                yield f"{where}: something is poured from another formula"
        if not melter.pitchers and len(melt.draws) != 1:
            yield f"{where}: {len(melt.draws)} formulas in a melter of one"
        if melter.pitchers:
            if len(melt.draws) > melter.pitchers:
                yield f"{where}: {len(melt.draws)} pitchers of {melter.pitchers}"
            if len({case.waxes[draw.formula] for draw in melt.draws}) > 1:
                yield f"{where}: more than one wax"
            for draw in melt.draws:
                fill = sum(case.products[p.product].fill_mg * p.quantity for p in draw.pours)
                if fill > melter.pitcher_mg:
                    yield f"{where}: a pitcher of {fill} mg, and it holds {melter.pitcher_mg}"


def sessions_allow(case: _Case) -> Iterator[str]:
    """Sessions take only their melters, their number of melts, and what is pinned if frozen."""
    count = Counter(melt.session for melt in case.plan.melts)
    for key, melts in count.items():
        session = case.sessions[key]
        if session.most_melts is not None and melts > session.most_melts:
            yield f"{melts} melts in {key}, where {session.most_melts} may be"
    for melt in case.plan.melts:
        session = case.sessions[melt.session]
        if session.melters is not None and melt.melter not in session.melters:
            yield f"melter {melt.melter} is not to be had in {melt.session}"
        if session.frozen and not melt.pinned:
            yield f"a new melt in {melt.session}, which is frozen"
        if session.people < 1:
            yield f"a melt in {melt.session}, when nobody is there"


def steps_are_whole(case: _Case) -> Iterator[str]:
    """Every melt has its steps, long enough, in their order, within the session."""
    for melt in case.plan.melts:
        session, melter = case.sessions[melt.session], case.melters[melt.melter]
        where = f"melt in {melt.session} on {melt.melter}"
        for step in melt.steps:
            if step.start_s < session.start_s or step.end_s > session.end_s:
                yield f"{where}: {step.kind} is outside the session"
        by_kind: dict[str, list[Step]] = defaultdict(list)
        for step in melt.steps:
            by_kind[step.kind].append(step)
        draws = len(melt.draws)
        melting = melter.melt_s + -(-melter.melt_s_per_kg * case.mass(melt) // 1_000_000)
        wanted = {
            "set up": (1, melter.set_up_s), "melt": (1, melting), "stir": (draws, melter.stir_s),
            "cool": (draws, melter.cool_s), "wipe": (1, melter.wipe_s),
        }  # fmt: skip
        for kind, (times, seconds) in wanted.items():
            found = [step.end_s - step.start_s for step in by_kind[kind]]
            if seconds and (len(found) != times or min(found) < seconds):
                yield f"{where}: {kind} takes {found} s, and needs {times} times {seconds}"
        pours = by_kind["pour"]
        if len(pours) != draws:
            yield f"{where}: {len(pours)} pours of {draws}"
        for draw, step in zip(melt.draws, pours, strict=False):
            needs = sum(case.products[p.product].pour_s * p.quantity for p in draw.pours)
            if step.end_s - step.start_s < needs:
                yield f"{where}: pouring takes {step.end_s - step.start_s} s, and needs {needs}"
        yield from _in_order(melt, where, by_kind)


def _in_order(melt: Melt, where: str, by_kind: dict[str, list[Step]]) -> Iterator[str]:
    line: list[list[Step]] = [by_kind[k] for k in ("set up", "melt", "stir")]
    before: Step | None = None
    for steps in line:
        for step in steps:
            if before is not None and step.start_s < before.end_s:
                yield f"{where}: {step.kind} begins before {before.kind} is over"
            before = step
    for stir, cool in zip(by_kind["stir"], by_kind["cool"], strict=False):
        if cool.start_s < stir.end_s:
            yield f"{where}: cooling begins before the stirring is over"
    last = max((step.end_s for step in by_kind["melt"]), default=0)
    for i, pour in enumerate(by_kind["pour"]):
        cools, stirs = by_kind["cool"], by_kind["stir"]
        free = max(
            last,
            cools[i].end_s if i < len(cools) else 0,
            stirs[i].end_s if i < len(stirs) else 0,
        )
        if pour.start_s < free:
            yield f"{where}: poured before it is ready"
        for wipe in by_kind["wipe"]:
            if wipe.start_s < pour.end_s:
                yield f"{where}: wiped before it is poured"


def cleaned_between(case: _Case) -> Iterator[str]:
    """After a formula's last melt of a session comes a clean; each pitcher has its own."""
    by_melter = defaultdict(list)
    for melt in case.plan.melts:
        by_melter[melt.session, melt.melter].append(melt)
    for (session, key), melts in by_melter.items():
        melter = case.melters[key]
        if not melter.clean_s:
            continue
        melts.sort(key=lambda m: min(step.start_s for step in m.steps))
        for melt, after in zip(melts, [*melts[1:], None], strict=True):
            cleans = [s for s in melt.steps if s.kind == "clean"]
            cleans = [s for s in cleans if s.end_s - s.start_s >= melter.clean_s]
            if melter.pitchers:
                needed = len(melt.draws)
            else:
                same = after is not None and after.draws[0].formula == melt.draws[0].formula
                needed = 0 if same else 1
            if len(cleans) < needed:
                yield f"in {session} on {key}: {len(cleans)} cleans of {needed}"


def melters_do_one_thing(case: _Case) -> Iterator[str]:
    """A melter is at one melt at a time, from set-up to its last step."""
    by_melter = defaultdict(list)
    for melt in case.plan.melts:
        span = (
            min(step.start_s for step in melt.steps), max(step.end_s for step in melt.steps)
        )  # fmt: skip
        by_melter[melt.session, melt.melter].append(span)
    for (session, melter), spans in by_melter.items():
        spans.sort()
        for one, two in pairwise(spans):
            if two[0] < one[1]:
                yield f"in {session} melter {melter} is at two melts at once"


def circuit_holds(case: _Case) -> Iterator[str]:
    """Melters that are hot at once, from melting until poured, draw no more than the circuit."""
    circuit = case.problem.circuit_w
    if circuit is None:
        return
    events: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
    for melt in case.plan.melts:
        power = case.melters[melt.melter].power_w or 0
        hot = [step for step in melt.steps if step.kind in ("melt", "pour")]
        if power and hot:
            begins, ends = min(step.start_s for step in hot), max(step.end_s for step in hot)
            events[melt.session] += [(begins, power, melt.melter), (ends, -power, melt.melter)]
    for session, rows in events.items():
        drawn = 0
        for _, power, melter in sorted(rows, key=lambda row: row[:2]):
            drawn += power
            if power > 0 and drawn > circuit:
                yield f"{drawn} W in {session} once {melter} melts, on a circuit of {circuit} W"


def hands_suffice(case: _Case) -> Iterator[str]:
    """Never more busy hands than people, nor more busy time than was to be planned."""
    by_session: dict[str, list[Step]] = defaultdict(list)
    for melt in case.plan.melts:
        by_session[melt.session] += [step for step in melt.steps if step.busy]
    for task in case.plan.tasks:
        by_session[task.session].append(task.step)
    for key, steps in by_session.items():
        session = case.sessions[key]
        if any(s.start_s < session.start_s or s.end_s > session.end_s for s in steps):
            yield f"work in {key} goes beyond the session"
        events = sorted(
            [(s.end_s, -1) for s in steps if s.end_s > s.start_s]
            + [(s.start_s, 1) for s in steps if s.end_s > s.start_s]
        )
        at_once = most = 0
        for _, change in events:
            at_once += change
            most = max(most, at_once)
        if most > session.people:
            yield f"{most} pairs of hands at once in {key}, where {session.people} are there"
        planned = session.maker_s or BUSY_SHARE * session.people * session.length_s
        busy = sum(s.end_s - s.start_s for s in steps)
        if busy > planned:
            yield f"{busy} s of work in {key}, where {float(planned)} may be planned"


def table_holds(case: _Case) -> Iterator[str]:
    """From its pour until it has set a vessel keeps its places on the table."""
    events = []
    for melt, step, product, quantity in case.poured():
        p = case.products[product]
        places = quantity * case.places[p.vessel]
        events.append((case.moment(melt.session, step.start_s), 1, places, melt.session))
        events.append((case.moment(melt.session, step.end_s) + p.setting_s, 0, -places, ""))
    taken = 0
    for _, _, places, session in sorted(events):
        taken += places
        if places > 0 and taken > case.problem.table_places:
            yield f"{taken} places on the table in {session}, of {case.problem.table_places}"


def wicks_come_first(case: _Case) -> Iterator[str]:
    """When vessels are poured, at least so many have been prepared."""
    for key, p in case.products.items():
        if not p.prep_s:
            continue
        events = []
        for task in case.plan.tasks:
            step = task.step
            if step.kind == "prep" and step.what == key:
                if step.end_s - step.start_s < p.prep_s * step.quantity:
                    yield f"{step.quantity} of {key} are prepared too fast in {task.session}"
                events.append((case.moment(task.session, step.end_s), 0, step.quantity))
        for melt, step, product, quantity in case.poured():
            if product == key:
                events.append((case.moment(melt.session, step.start_s), 1, -quantity))
        ready = 0
        for _, _, change in sorted(events):
            ready += change
            if ready < 0:
                yield f"{-ready} of {key} are poured before their wicks are in"
                break


def finishing_keeps_up(case: _Case) -> Iterator[str]:
    """Vessels are finished after they have set a while, and within the days given for it."""
    problem = case.problem
    ordered = sorted(problem.sessions, key=lambda s: (s.on, s.start_s))
    for key, p in case.products.items():
        if not p.finish_s:
            continue
        made: list[tuple[int, int | None, int]] = []
        for melt, _, product, quantity in case.poured():
            if product == key:
                session = case.sessions[melt.session]
                free = case.moment(melt.session, session.end_s) + problem.finish_after_s
                made.append((free, _finish_by(case, ordered, session, p), quantity))
        done = []
        for task in case.plan.tasks:
            step = task.step
            if step.kind == "finish" and step.what == key:
                if step.end_s - step.start_s < p.finish_s * step.quantity:
                    yield f"{step.quantity} of {key} are finished too fast in {task.session}"
                done.append((task, step.quantity))
        for task, _ in done:
            now = case.moment(task.session, task.step.start_s)
            so_far = sum(
                q for other, q in done if case.moment(other.session, other.step.start_s) <= now
            )
            if so_far > sum(q for free, _, q in made if free <= now):
                yield f"{key} is finished in {task.session} before it may be"
        for limit in {by for _, by, _ in made if by is not None}:
            so_far = sum(q for t, q in done if case.moment(t.session, t.step.end_s) <= limit)
            if so_far < sum(q for _, by, q in made if by is not None and by <= limit):
                yield f"{key} is not finished in time"


def _may_finish(case: _Case, session: Session) -> list[Session]:
    """Return the sessions, in time, from which on what a session pours may be finished."""
    free = case.moment(session.key, session.end_s) + case.problem.finish_after_s
    ordered = sorted(case.problem.sessions, key=lambda s: (s.on, s.start_s))
    return [s for s in ordered if case.moment(s.key, s.start_s) >= free]


def _ready_on(case: _Case, product: Product, session: Session) -> dt.date:
    """Return the day on which a pour is cured, and could be finished."""
    cured = session.on + dt.timedelta(days=product.cure_days)
    later = _may_finish(case, session)
    return max(cured, later[0].on) if later and product.finish_s else cured


def _finish_by(
    case: _Case, ordered: list[Session], session: Session, product: Product
) -> int | None:  # fmt: skip
    """Return the moment by which a session's pours are finished; None: after the plan's end."""
    days = case.problem.finish_within_days
    limit = case.moment(session.key, 0) + (days + 1) * DAY_S
    later = _may_finish(case, session)
    if not later:
        return None
    within = [s for s in later if case.moment(s.key, s.start_s) < limit] or later[:1]
    ready = _ready_on(case, product, session)
    in_time = [s for s in within if s.on <= ready]
    last = in_time[-1]
    if last is ordered[-1] and (last.on - session.on).days < days:
        return None
    return case.moment(last.key, last.end_s)


def materials_suffice(case: _Case) -> Iterator[str]:
    """Until an order of today could arrive, no more is used than there is and has come."""
    problem = case.problem
    for material in problem.materials:
        used: Counter[dt.date] = Counter()
        for melt in case.plan.melts:
            for pour in melt.pours:
                for use in case.products[pour.product].uses:
                    if use.material == material.key:
                        used[case.sessions[melt.session].on] += use.amount * pour.quantity
        total = 0
        for day in sorted(used):
            total += used[day]
            lead = material.lead_days
            if lead is not None and (day - problem.today).days >= lead:
                break
            there = material.on_hand + sum(a.amount for a in material.arrivals if a.on <= day)
            if total > there:
                yield f"{total} of {material.key} used by {day}, where {there} is there"


def lines_are_served(case: _Case) -> Iterator[str]:
    """Units said to be on time are cured and within their best-before on the day they are due."""
    problem = case.problem
    for key, product in case.products.items():
        rows = [
            (line, answer)
            for line, answer in zip(problem.lines, case.plan.lines, strict=True)
            if line.product == key
        ]
        stock = _stock(case, product)
        for line, answer in sorted(rows, key=lambda row: row[0].due):
            if (
                answer.on_time + answer.late != line.quantity
                or min(answer.on_time, answer.late) < 0
            ):
                yield f"line {line.key}: {answer.on_time} and {answer.late} of {line.quantity}"
            if not answer.late and (answer.ready_on is None or answer.ready_on > line.due):
                yield f"line {line.key} is on time, and ready on {answer.ready_on}"
            left = answer.on_time
            for unit in sorted(stock, key=lambda u: (u[1] is None, u[1] or line.due)):
                ready, last = unit[0], unit[1]
                if ready <= line.due and (last is None or last >= line.due) and left:
                    took = min(left, unit[2])
                    unit[2] -= took
                    left -= took
            if left:
                yield f"line {line.key}: {left} of its units on time are not there by {line.due}"
            if answer.late and answer.ready_on is not None:
                by = sum(
                    q
                    for ready, last, q in _stock(case, product)
                    if ready <= answer.ready_on and (last is None or last >= line.due)
                )
                if answer.ready_on <= line.due or by < line.quantity:
                    yield f"line {line.key} cannot be ready on {answer.ready_on}"


def _stock(case: _Case, product: Product) -> list[_Unit]:
    """Return (ready, last day, units): lots, and good units of pours over the running sum."""
    stock: list[_Unit] = [
        [lot.ready_on, lot.best_before, lot.quantity]
        for lot in case.problem.lots
        if lot.product == product.key
    ]
    share = Fraction(1000 - case.problem.scrap_per_1000, 1000)
    pours = sorted(
        (
            case.sessions[melt.session].on,
            _ready_on(case, product, case.sessions[melt.session]),
            pour.quantity,
        )
        for melt in case.plan.melts
        for pour in melt.pours
        if pour.product == product.key
    )
    total = good = 0
    for on, ready, quantity in pours:
        total += quantity
        now = int(share * total)
        last = None
        if product.best_before_days is not None:
            last = on + dt.timedelta(days=product.best_before_days)
        stock.append([ready, last, now - good])
        good = now
    return stock


def pins_hold(case: _Case) -> Iterator[str]:
    """What was pinned is in the plan as it was."""

    def shape(melt: Melt) -> tuple[object, ...]:
        draws = tuple(sorted((d.formula, tuple(sorted((p.product, p.quantity) for p in d.pours)))
                             for d in melt.draws))  # fmt: skip
        return (melt.session, melt.melter, draws)

    wanted = Counter(shape(melt) for melt in case.problem.pinned)
    missing = wanted - Counter(shape(melt) for melt in case.plan.melts if melt.pinned)
    for session, melter, _ in missing:
        yield f"the pinned melt in {session} on {melter} is not in the plan as it was"


def totals_add_up(case: _Case) -> Iterator[str]:
    """The plan's sums are what its parts say."""
    totals = case.plan.totals
    late = sum(a.late for a in case.plan.lines)
    weight = sum(
        a.late * line.priority for a, line in zip(case.plan.lines, case.problem.lines, strict=True)
    )
    poured = sum(pour.quantity for melt in case.plan.melts for pour in melt.pours)
    said = (totals.late_units, totals.late_weight, totals.melts, totals.poured)
    found = (late, weight, len(case.plan.melts), poured)
    if said != found:
        yield f"late units, their weight, melts and vessels are {found}, and said to be {said}"
    busy = sum(s.end_s - s.start_s for melt in case.plan.melts for s in melt.steps if s.busy)
    hands = sum(
        p.quantity * (case.products[p.product].prep_s + case.products[p.product].finish_s)
        for melt in case.plan.melts
        for p in melt.pours
    )
    if totals.maker_s != busy + hands:
        yield f"{busy + hands} s of a maker's time, said to be {totals.maker_s}"
    if case.plan.bounds.late_weight > weight or case.plan.bounds.melts > len(case.plan.melts):
        yield "a bound is above what the plan attains"


CHECKS = (
    what_melts_hold,
    sessions_allow,
    steps_are_whole,
    cleaned_between,
    melters_do_one_thing,
    circuit_holds,
    hands_suffice,
    table_holds,
    wicks_come_first,
    finishing_keeps_up,
    materials_suffice,
    lines_are_served,
    pins_hold,
    totals_add_up,
)
