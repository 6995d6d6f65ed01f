"""What the demo's maker has at hand while the days go by: the clock, chance, and the records."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Sum

from pourwright.core.amounts import parse_money
from pourwright.workshop.contents.models import Instrument
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import Customer
from pourwright.workshop.pours.models import Melter
from pourwright.workshop.stores.models import Balance, Item, Lot, Supplier

DAYS = 730
G = 1_000  # milligrams in a gram


@dataclass(slots=True)
class Life:
    """
    The workshop's two years up to ``today``.

    Each part of the life draws from a chance of its own, so that a change in how orders come does
    not change what is poured by accident of the dice.
    """

    seed: int
    today: date
    workshop: Workshop
    on: date = field(init=False)
    suppliers: dict[str, Supplier] = field(default_factory=dict)
    items: dict[str, Item] = field(default_factory=dict)
    formulas: dict[str, FormulaVersion] = field(default_factory=dict)
    designs: dict[str, DesignVersion] = field(default_factory=dict)
    customers: dict[str, Customer] = field(default_factory=dict)
    melters: list[Melter] = field(default_factory=list)
    to_come: dict[date, list] = field(default_factory=dict)
    on_order: dict[str, int] = field(default_factory=dict)
    to_finish: list[tuple[date, Lot, DesignVersion]] = field(default_factory=list)
    to_release: list[tuple[Lot, DesignVersion]] = field(default_factory=list)
    released: set[int] = field(default_factory=set)  # design versions
    scale: Instrument | None = None
    probe: Instrument | None = None
    lots_logged: int = 0
    pours: int = 0
    chances: dict[str, random.Random] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.on = self.start

    @property
    def start(self) -> date:
        return self.today - timedelta(days=DAYS)

    @property
    def day(self) -> int:
        """Days since the first."""
        return (self.on - self.start).days

    @property
    def days_left(self) -> int:
        return (self.today - self.on).days

    def at(self, hour: int, minute: int = 0) -> datetime:
        """Return a time of this day, by the workshop's own clock."""
        return datetime.combine(
            self.on, time(hour, minute), tzinfo=ZoneInfo(self.workshop.time_zone)
        )

    def chance(self, of: str) -> random.Random:
        if of not in self.chances:
            self.chances[of] = random.Random(f"{self.seed} {of}")
        return self.chances[of]

    def held(self, place: str) -> dict[int, int]:
        """Return how much there is at a place, by item, in one question."""
        there = Balance.objects.filter(place=place, qty__gt=0).order_by()
        return dict(there.values_list("lot__item").annotate(total=Sum("qty")))

    def money(self, text: str) -> int:
        """Return pounds as records keep them."""
        return parse_money(text, currency=self.workshop.currency)
