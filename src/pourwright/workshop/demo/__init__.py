"""
A workshop full of life: two invented years, lived day by day through the program's own services.

The same seed and the same day give the same workshop, to the last milligram. Everything in it is
invented: the brand, the town, the suppliers and the people.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone

from pourwright.core.errors import BadInput
from pourwright.workshop.demo import (
    bench,
    burning,
    buying,
    catalogue,
    heat,
    labels,
    panels,
    planning,
    selling,
    sheets,
    story,
    weighing,
)
from pourwright.workshop.demo.life import Life
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Item


class CannotMakeDemo(BadInput):
    """The demo is only made in a workshop that is still empty."""


def build(
    *, seed: int = 7, progress: Callable[[str], None] | None = None, today: date | None = None
) -> None:
    """
    Fill the empty, migrated database with the demo workshop, or leave it as it was.

    ``today`` is the last of its days; empty: this one. ``progress`` is told each quarter.
    """
    if Workshop.objects.exists() or Item.objects.exists():
        raise CannotMakeDemo("There is a workshop here already; the demo needs an empty one.")
    with transaction.atomic():
        today = today or timezone.localdate()
        lived = Life(seed=seed, today=today, workshop=catalogue.the_workshop())
        catalogue.set_up(lived)
        weighing.set_up(lived)
        while lived.on < lived.today:
            _day(lived)
            if progress and lived.day % 91 == 0:
                progress(f"{lived.on:%B %Y}")
            lived.on += timedelta(days=1)
        _today(lived)


def _day(life: Life) -> None:
    """One day: what comes, what is done at the bench, what is sold, in that order."""
    sheets.of_the_day(life)
    catalogue.of_the_day(life)
    buying.take_in_parcels(life)
    weighing.of_the_day(life)
    if life.on.weekday() == 0 or life.day < 3:
        buying.order_what_runs_low(life)
    story.of_the_day(life)
    bench.finish_what_has_set(life)
    bench.burn_testers(life)
    burning.series_of_the_day(life)
    bench.release_what_has_cured(life)
    if bench.is_pour_day(life):
        bench.pour_what_lacks(life)
    selling.take_orders(life)
    selling.send_what_can_go(life)
    selling.take_back(life)
    selling.give(life)
    buying.break_something(life)
    buying.count_a_shelf(life)


def _today(life: Life) -> None:
    buying.take_in_parcels(life)
    story.today(life)
    weighing.today(life)
    labels.today(life)
    burning.today(life)
    panels.today(life)
    heat.today(life)
    planning.today(life)
