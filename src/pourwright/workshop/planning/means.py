"""What changes a plan's means, and what the bench has taught of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from statistics import median

from django.db import models, transaction
from django.db.models import Sum

from pourwright.core.errors import BadInput
from pourwright.core.planning.model import Session
from pourwright.workshop.designs.models import Design
from pourwright.workshop.planning.models import (
    DayOff,
    DesignMeans,
    ExtraSession,
    Means,
    StockTarget,
    WeeklySession,
)
from pourwright.workshop.pours.models import Filling, Pour, PourState

TAUGHT_DAYS = 365
# Fewer pours than this teach nothing that a single odd evening could not overturn.
LEAST_POURS = 5
MOST_FACTOR = Decimal(4)
HANDS_ON = (
    "set_up_minutes", "stir_minutes", "pour_minutes", "wipe_minutes", "clean_minutes",
    "wick_minutes", "finish_minutes",
)  # fmt: skip


class SessionsOverlap(BadInput):
    """Two sessions at the same time."""


def add(row: WeeklySession | ExtraSession | DayOff) -> models.Model:
    """Keep a session or days off. Raises ``SessionsOverlap``."""
    with transaction.atomic():
        if isinstance(row, WeeklySession):
            others = WeeklySession.objects.filter(weekday=row.weekday)
            _refuse_overlap(row, [o for o in others if _same_weeks(o, row)])
        elif isinstance(row, ExtraSession):
            weekly = WeeklySession.objects.filter(weekday=row.on.weekday())
            _refuse_overlap(row, [*ExtraSession.objects.filter(on=row.on), *weekly])
        row.save()
    return row


def remove(row: models.Model) -> None:
    """Take a session or days off out; plans made before keep what they were made with."""
    row.delete()


def _same_weeks(one: WeeklySession, other: WeeklySession) -> bool:
    first, last = date.min, date.max
    return (one.from_on or first) <= (other.until_on or last) and (other.from_on or first) <= (
        one.until_on or last
    )


def _refuse_overlap(row, others: Iterable) -> None:
    begins, ends = _span(row)
    for other in others:
        if other.pk == row.pk and type(other) is type(row):
            continue
        first, last = _span(other)
        if first < ends and begins < last:
            raise SessionsOverlap(
                f"{row} is at the same time as {other} ({other.minutes} min); give the hours to "
                "one of them, or the people to both."
            )


def _span(row) -> tuple[int, int]:
    begins = 60 * row.starts.hour + row.starts.minute
    return begins, begins + row.minutes


def by_week(sessions: Iterable[Session], *, first: date) -> list[tuple[date, list[Session]]]:
    """Return the sessions under the Monday of their week, from the week of a day on."""
    weeks: dict[date, list[Session]] = {first - timedelta(first.weekday()): []}
    for session in sessions:
        weeks.setdefault(session.on - timedelta(session.on.weekday()), []).append(session)
    return sorted(weeks.items())


def set_design(
    design: Design,
    *,
    qty: int | None,
    priority: int,
    table_places: int,
    set_hours: Decimal | None,
    stall_room: Decimal,
) -> None:
    """Say how many of a design to keep on the shelf (None or 0: none), and what room it takes."""
    with transaction.atomic():
        if qty:
            StockTarget.objects.update_or_create(
                design=design, defaults={"qty": qty, "priority": priority}
            )
        else:
            StockTarget.objects.filter(design=design).delete()
        DesignMeans.objects.update_or_create(
            design=design,
            defaults={
                "table_places": table_places, "set_hours": set_hours, "stall_room": stall_room
            },
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """
    What closed pours of the last year say, beside what is planned with.

    ``factor`` is the hands-on time that they took, over the time that the means give them.
    """

    pours: int
    scrap_pct: Decimal | None
    minutes_a_vessel: Decimal | None
    factor: Decimal | None = None

    @property
    def teaches(self) -> bool:
        """Whether planning with it would change anything."""
        means = Means.load()
        scrap = self.scrap_pct is not None and self.scrap_pct != means.scrap_pct
        return scrap or (self.factor is not None and abs(self.factor - 1) >= Decimal("0.05"))

    @property
    def slower_pct(self) -> int | None:
        """How much longer the work took than the means say, in per cent; below 0: shorter."""
        return None if self.factor is None else round(100 * (self.factor - 1))


def learnt(*, on: date) -> Learnt:
    """Return what the bench has taught; None where too few pours say it."""
    since = on - timedelta(TAUGHT_DAYS)
    closed = Pour.objects.filter(state=PourState.CLOSED, on__gte=since)
    sums: Mapping[str, int | None] = Filling.objects.filter(pitcher__pour__in=closed).aggregate(
        good=Sum("good"), seconds=Sum("seconds"), scrapped=Sum("scrapped")
    )
    pours = closed.count()
    poured = sum(value or 0 for value in sums.values())
    timed = list(closed.filter(minutes__gt=0).prefetch_related(
        "pitchers__fillings__design_version"
    ))  # fmt: skip
    means = Means.load()
    each, ratios = [], []
    for pour in timed:
        vessels = sum(f.wanted for pitcher in pour.pitchers.all() for f in pitcher.fillings.all())
        if vessels:
            each.append(pour.minutes / vessels)
            ratios.append(pour.minutes / _planned_minutes(pour, means))
    return Learnt(
        pours=pours,
        scrap_pct=None
        if pours < LEAST_POURS or not poured
        else (Decimal(100 * (sums["scrapped"] or 0)) / poured).quantize(Decimal("0.1")),
        minutes_a_vessel=None
        if len(each) < LEAST_POURS
        else Decimal(median(each)).quantize(Decimal("0.1")),
        factor=None
        if len(ratios) < LEAST_POURS
        else min(MOST_FACTOR, max(1 / MOST_FACTOR, Decimal(median(ratios)))).quantize(
            Decimal("0.01")
        ),
    )


def _planned_minutes(pour: Pour, means: Means) -> Decimal:
    """Return the hands-on minutes that the means give a pour, from setting up to the label."""
    pitchers = list(pour.pitchers.all())
    found = means.set_up_minutes + means.wipe_minutes + means.stir_minutes * len(pitchers)
    for pitcher in pitchers:
        for filling in pitcher.fillings.all():
            wicks = means.wick_minutes * filling.design_version.wick_count
            found += filling.wanted * (means.pour_minutes + wicks + means.finish_minutes)
    return max(found, Decimal("0.1"))


def use_learnt(*, on: date) -> Means:
    """Plan from now on with what the bench has taught: the losses, and the hands-on minutes."""
    found = learnt(on=on)
    with transaction.atomic():
        means = Means.objects.select_for_update().first() or Means.load()
        if found.scrap_pct is not None:
            means.scrap_pct = found.scrap_pct
        if found.factor is not None:
            for name in HANDS_ON:
                field = Means._meta.get_field(name)
                places = Decimal(1).scaleb(-field.decimal_places)
                setattr(means, name, (getattr(means, name) * found.factor).quantize(places))
        means.save()
    return means
