"""The plan on paper and in a calendar: what the records say, made ready for ``papers``."""

from __future__ import annotations

import secrets
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from django.db import transaction

from pourwright.core.errors import BadInput
from pourwright.core.planning import model as core
from pourwright.papers.plan_sheets import MeltOnPaper, Moment, SessionSheet, WeekPlan, Weighed
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.planning import buying
from pourwright.workshop.planning.models import CalendarKey, Plan, PlannedMelt
from pourwright.workshop.planning.problem import session_key
from pourwright.workshop.planning.services import clock
from pourwright.workshop.planning.show import PlanPage
from pourwright.workshop.pours.models import Use
from pourwright.workshop.pours.planning import PitcherPlan, scheme

if TYPE_CHECKING:
    from pourwright.papers.calendar import Entry

STEP_WORDS: dict[str, str] = {
    "set up": "Set up and weigh", "melt": "Melt", "stir": "Add the oil and stir",
    "cool": "Cool to the pour", "pour": "Pour", "wipe": "Wipe the pot", "clean": "Clean",
    "prep": "Wick", "finish": "Finish and label",
}  # fmt: skip
WEIGHED = (Use.WAX, Use.OIL, Use.EXTRA)
MONTHS_AHEAD = timedelta(days=120)


# --- a week on paper -----------------------------------------------------------------------------


def week_plan(plan: Plan, *, monday: date, workshop: Workshop) -> WeekPlan:
    """Return a week of a plan, made ready for its paper."""
    page = PlanPage(plan)
    sunday = monday + timedelta(6)
    sessions = []
    for week in page.weeks():
        for held in week.sessions:
            if monday <= held.on <= sunday and (held.melts or held.also):
                sessions.append(_session(page, held, workshop))
    cured, late = _cured(page, monday, sunday), []
    due = []
    for row in page.lines():
        if monday <= row.line.due <= sunday:
            due.append(
                f"{row.line.quantity} {row.name} for {row.line.whose} on {_day(row.line.due)}"
            )
        if row.answer.late:
            late.append(f"{row.answer.late} {row.name} for {row.line.whose}, {_day(row.line.due)}.")
    return WeekPlan(
        monday=monday, workshop=workshop.name, plan=plan.number, sessions=sessions,
        division_mg=workshop.scale_division_mg, cured=cured, due=due, late=late[:6],
        order=list(_to_order(plan, monday, sunday)),
    )  # fmt: skip


def _to_order(plan: Plan, monday: date, sunday: date) -> Iterator[str]:
    """What the followed plan wants ordered by the end of the week, in words."""
    if not plan.current:
        return
    for row in buying.running_out(plan, today=max(plan.start_on, monday)):
        if row.order_by is not None and row.order_by <= sunday:
            yield f"{row.item.name} by {_day(max(row.order_by, monday))}, out on {_day(row.on)}"
        elif row.order_by is None and row.on <= sunday + timedelta(7):
            yield f"{row.item.name}, out on {_day(row.on)}; nobody says how long it takes"


def _session(page: PlanPage, held, workshop: Workshop) -> SessionSheet:
    answered = {melt.session: [] for melt in page.best.melts} if page.best else {}
    for melt in page.best.melts if page.best else ():
        answered[melt.session].append(melt)
    moved = any(row.pinned and row.starts is None for row in held.melts)
    steps = [] if moved else [step for melt in answered.get(held.key, []) for step in melt.steps]
    tasks = page.best.tasks_of(held.key) if page.best else ()
    steps += [task.step for task in tasks]
    return SessionSheet(
        on=held.on, begins=held.begins, minutes=held.minutes, people=held.people,
        clock=[_moment(page, step) for step in sorted(steps, key=lambda s: (s.start_s, s.end_s))],
        melts=[_melt(row, workshop) for row in held.melts],
        prepare=_together(page, tasks, "prep"), finish=_together(page, tasks, "finish"),
        table=list(_free_again(page, held)),
    )  # fmt: skip


def _moment(page: PlanPage, step: core.Step) -> Moment:
    what = _names(page).get(step.what, "")
    count = f"{step.quantity} " if step.quantity else ""
    return Moment(
        begins=f"{clock(step.start_s):%H:%M}", ends=f"{clock(step.end_s):%H:%M}", busy=step.busy,
        what=f"{STEP_WORDS[step.kind]}{': ' if what else ''}{count}{what}",
    )  # fmt: skip


def _names(page: PlanPage) -> dict[str, str]:
    formulas = {formula.key: formula.name for formula in page.problem.formulas}
    return formulas | {key: product.name for key, product in page.products.items()}


def _together(page: PlanPage, tasks: Iterable[core.Task], kind: str) -> list[str]:
    """Return what is wicked or finished in a session, each candle once."""
    count: Counter[str] = Counter()
    for task in tasks:
        if task.step.kind == kind:
            count[page.products[task.step.what].name] += task.step.quantity
    return [f"{number} {name}" for name, number in count.items()]


def _melt(row: PlannedMelt, workshop: Workshop) -> MeltOnPaper:
    fillings = list(row.fillings.all())
    pitchers: dict[int, list[tuple[DesignVersion, int]]] = defaultdict(list)
    formulas = {}
    for filling in fillings:
        version = filling.design_version
        formulas[version.formula_version_id] = version.formula_version
        pitchers[version.formula_version_id].append((version, filling.qty))
    weighed: dict[str, int] = defaultdict(int)
    try:
        wanted = scheme(
            on=row.on,
            pitchers=[
                PitcherPlan(formula_version=formulas[pk], fillings=parts)
                for pk, parts in pitchers.items()
            ],
            division_mg=workshop.scale_division_mg,
            loss_pct=workshop.loss_pct,
        )
    except BadInput:
        pass  # an oil over its limit by now: the pour itself will say so
    else:
        for take in wanted.takes:
            if take.use in WEIGHED:
                weighed[take.item.name] += take.target
    return MeltOnPaper(
        melter=row.melter.name, pour=row.pour.number if row.pour else "",
        title=", ".join(str(formula.formula) for formula in formulas.values()),
        weighed=[Weighed(name=name, mass_mg=mass) for name, mass in weighed.items()],
        vessels=[f"{filling.qty} {filling.design_version.design.name}" for filling in fillings],
    )  # fmt: skip


def _free_again(page: PlanPage, held) -> Iterator[str]:
    sessions = {session.key: session for session in page.problem.sessions}
    begins = datetime.combine(held.on, clock(sessions[held.key].end_s))
    for row in held.melts:
        for filling in row.fillings.all():
            product = page.products.get(f"design-{filling.design_version.design_id}")
            if product:
                free = begins + timedelta(seconds=product.setting_s)
                yield f"{filling.qty} {product.name}: free from {_day(free)} {free:%H:%M}"


def _cured(page: PlanPage, first: date, last: date) -> list[str]:
    found = [
        (lot.ready_on, f"{lot.quantity} {page.products[lot.product].name}")
        for lot in page.problem.lots if first <= lot.ready_on <= last
    ]  # fmt: skip
    for on, product, quantity in _poured(page):
        ready = on + timedelta(product.cure_days)
        if first <= ready <= last:
            found.append((ready, f"{quantity} {product.name}"))
    return [f"{words} on {_day(on)}" for on, words in sorted(found)]


def _poured(page: PlanPage) -> Iterator[tuple[date, core.Product, int]]:
    for row in page.melts:
        for filling in row.fillings.all():
            product = page.products.get(f"design-{filling.design_version.design_id}")
            if product:
                yield row.on, product, filling.qty


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


# --- a calendar to subscribe to ------------------------------------------------------------------


def calendar_key(*, at: datetime, new: bool = False) -> CalendarKey:
    """Return the secret word of the calendar's address; a ``new`` one shuts the old."""
    with transaction.atomic():
        if new:
            CalendarKey.objects.all().delete()
        found = CalendarKey.objects.first()
        return found or CalendarKey.objects.create(word=secrets.token_urlsafe(24), made_at=at)


def calendar_entries(plan: Plan, *, zone: ZoneInfo) -> list[Entry]:
    """
    Return the followed plan's sessions, the days on which candles are ready, and what is due.

    A melt keeps its entry as long as the plan has it, wherever it is moved.
    """
    from pourwright.papers.calendar import Entry  # its library is slow to load

    page = PlanPage(plan)
    sessions = {session.key: session for session in page.problem.sessions}
    found = []
    for row in page.melts:
        session = sessions.get(session_key(row.on, row.session_starts))
        length = timedelta(seconds=session.length_s) if session else timedelta(hours=1)
        begins = datetime.combine(row.on, row.starts or row.session_starts, tzinfo=zone)
        ends = datetime.combine(row.on, row.ends, tzinfo=zone) if row.ends else begins + length
        what = ", ".join(
            f"{filling.qty} {filling.design_version.design.name}" for filling in row.fillings.all()
        )
        found.append(
            Entry(
                uid=f"melt-{row.pk}@pourwright", starts=begins, ends=max(ends, begins),
                summary=f"Pour {what}", description=f"{row.melter.name}. Plan {plan.number}.",
            )
        )  # fmt: skip
    for number, (on, product, quantity) in enumerate(_poured(page)):
        found.append(
            Entry(
                uid=f"ready-{plan.pk}-{number}@pourwright",
                starts=on + timedelta(product.cure_days),
                summary=f"{quantity} {product.name} cured",
            )
        )
    for line in page.problem.lines:
        found.append(
            Entry(
                uid=f"{line.key}@pourwright", starts=line.due,
                summary=f"Due: {line.quantity} {page.products[line.product].name}, {line.whose}",
            )
        )  # fmt: skip
    return found
