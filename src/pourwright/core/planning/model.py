"""
What is to be planned and what a plan is: frozen records, no reckoning.

Units: masses are whole milligrams (``_mg``), durations and clock times whole seconds (``_s``; a
clock time counts from midnight at the start of the session's date), money 1/100 of the currency's
minor unit (``_minor100``), days are dates. Every record is named by ``key``, unique among its own
kind; ``name`` is what the maker reads.

Time is counted in sessions: the evenings and half days in which somebody works. What couples them
is stock, cure, places on the table and materials; what happens within one is a short chain.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

Kind = Literal["order", "market", "stock"]
StepKind = Literal["set up", "melt", "stir", "cool", "pour", "wipe", "clean", "prep", "finish"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Formula:
    """A wax with its blend. ``wax`` names the plain wax that it is made from."""

    key: str
    name: str
    wax: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """A vessel and the places that it takes on the pour table (a wide one may take two)."""

    key: str
    name: str
    places: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How much of a material one poured unit takes: mg of what is weighed, pieces of the rest."""

    material: str
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """
    A formula in a vessel.

    ``fill_mg`` is wax and fragrance together, ``wax_mg`` the wax in it. ``cure_days`` run from the
    day of pouring to the day it may be sold; ``setting_s`` is how long a poured vessel keeps its
    place on the table. ``pour_s``, ``prep_s`` (wick, warm, place) and ``finish_s`` (trim, wipe,
    lid, label) are a maker's busy time for one vessel. ``best_before_days`` runs from pouring.
    """

    key: str
    name: str
    formula: str
    vessel: str
    fill_mg: int
    wax_mg: int
    cure_days: int
    setting_s: int
    pour_s: int
    prep_s: int = 0
    finish_s: int = 0
    best_before_days: int | None = None
    uses: tuple[Use, ...] = ()
    cost_minor100: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """So much of a material comes in on a day, usable from that day."""

    on: dt.date
    amount: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """What is on hand and coming. ``lead_days``: what is ordered today arrives so many days on."""

    key: str
    name: str
    unit: Literal["mg", "pieces"]
    on_hand: int
    arrivals: tuple[Arrival, ...] = ()
    lead_days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Melter:
    """
    A melter and the minutes of its cycle.

    Set up (busy), melt ``melt_s`` + ``melt_s_per_kg`` of the mass in it (free, but someone in the
    room), stir in the fragrance (busy), cool to pouring (free), pour (busy, by the vessel), wipe
    (busy); and a clean (busy) for each different formula in a session.

    ``pitchers`` 0: one formula a melt, fragrance into the melter. From 1: the melter holds plain
    wax, drawn off after melting into at most so many pitchers of ``pitcher_mg`` (whole mass) each
    with a formula of its own on that wax; each is stirred and cleaned by itself.
    ``capacity_mg`` and ``minimum_mg`` bound what one melt holds (the whole mass, or the wax
    where it is drawn off). ``power_w`` is what it draws while it is hot: from the start of the
    melting until it has been poured empty (None: not known, and not counted).
    """

    key: str
    name: str
    capacity_mg: int
    minimum_mg: int = 0
    set_up_s: int = 0
    melt_s: int = 0
    melt_s_per_kg: int = 0
    stir_s: int = 0
    cool_s: int = 0
    wipe_s: int = 0
    clean_s: int = 0
    pitchers: int = 0
    pitcher_mg: int = 0
    melt_cost_minor100: int = 0
    power_w: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """
    A stretch in which ``people`` are there from ``start_s`` for ``length_s``.

    ``maker_s`` is the busy time that may be planned in it (usually 95 % of people x length; never
    more than all of it). ``most_melts`` caps the melts of one session. ``melters`` names those
    that can be used; None: all. ``frozen``: nothing new goes in, only what is pinned.
    """

    key: str
    on: dt.date
    start_s: int
    length_s: int
    people: int = 1
    maker_s: int = 0
    name: str = ""
    most_melts: int | None = None
    melters: tuple[str, ...] | None = None
    frozen: bool = False

    @property
    def end_s(self) -> int:
        return self.start_s + self.length_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Units there already: on the shelf (ready on or before today) or curing until ``ready_on``."""

    key: str
    product: str
    quantity: int
    ready_on: dt.date
    best_before: dt.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """
    A wish for ``quantity`` of a product, cured, by ``due``.

    ``priority`` weighs each late unit (1 or more). An order that is late is still owed; a market
    or a stock target that is missed is gone. ``whose`` is what the maker knows it by.
    """

    key: str
    kind: Kind
    product: str
    quantity: int
    due: dt.date
    priority: int = 1
    whose: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """So many vessels of one product out of one melt."""

    product: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """One formula of a melt and its vessels: a pitcher, or the whole of a one-formula melt."""

    formula: str
    pours: tuple[Pour, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """
    One piece of work on the clock, from ``start_s`` to ``end_s`` after midnight.

    ``busy`` takes a maker's hands. ``what`` is the formula or product that it is about (empty: the
    whole melt), ``quantity`` the vessels in it (0 where it is not by the vessel).
    """

    kind: StepKind
    start_s: int
    end_s: int
    busy: bool
    what: str = ""
    quantity: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Melt:
    """
    One melt: where, what, and on a finished plan its ``steps`` on the clock.

    A pinned melt is one the plan must keep as it is (session, melter, vessels); its clock times
    may still move within the session.
    """

    session: str
    melter: str
    draws: tuple[Draw, ...]
    pinned: bool = False
    steps: tuple[Step, ...] = ()

    @property
    def pours(self) -> tuple[Pour, ...]:
        return tuple(pour for draw in self.draws for pour in draw.pours)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """
    All that a plan is made from. ``today`` is the first day that counts.

    ``scrap_per_1000`` units of every thousand poured are expected to be lost. Poured vessels are
    finished from ``finish_after_s`` after the session's end and within ``finish_within_days``.
    ``late_unit_worth_s`` None: late units come before everything. Otherwise a late unit (times its
    priority) weighs as much as so many seconds of a maker's time. ``circuit_w``: melters that are
    hot at the same moment draw no more than this together (None: no limit is known).
    """

    today: dt.date
    formulas: tuple[Formula, ...]
    vessels: tuple[Vessel, ...]
    products: tuple[Product, ...]
    melters: tuple[Melter, ...]
    sessions: tuple[Session, ...]
    lines: tuple[Line, ...]
    table_places: int
    lots: tuple[Lot, ...] = ()
    materials: tuple[Material, ...] = ()
    pinned: tuple[Melt, ...] = ()
    scrap_per_1000: int = 0
    finish_after_s: int = 12 * 3600
    finish_within_days: int = 6
    late_unit_worth_s: int | None = None
    circuit_w: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Wick prep or finishing in a session, on the clock; ``step.what`` is the product."""

    session: str
    step: Step


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """
    One thing done otherwise, so that a late line comes on time.

    "table": ``amount`` more places on the pour table. "longer": ``session`` goes on for ``amount``
    seconds more. "session": one more session of ``amount`` seconds, on a day from ``start_s``.
    "material": ``amount`` more of the material ``what`` there on a day.
    """

    kind: Literal["table", "longer", "session", "material"]
    amount: int
    what: str = ""
    session: str = ""
    on: dt.date | None = None
    start_s: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """
    Why units of a line are late, in words, and the least change that would have them on time.

    ``kind``: "cure" (no session early enough), "material", "capacity" or "outranked". ``resource``,
    ``session`` and ``amount`` name what bound ("table" in places, "time" of a melter and "hands" in
    seconds, or a material in its unit), where that is one thing.

    ``changes``, made together, have the whole line on time and no other line with fewer units on
    time than now: a plan that does so was found. () where none was; ``change`` then says what can
    be promised as it is, and may be empty.
    """

    kind: Literal["cure", "material", "capacity", "outranked"]
    words: str
    change: str = ""
    resource: str = ""
    session: str = ""
    amount: int = 0
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LateTogether:
    """
    Lines (by key) that are late for the same reason, said once.

    ``changes``, made together, have all of them on time; () where that was not found.
    """

    lines: tuple[str, ...]
    words: str
    change: str = ""
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LineAnswer:
    """
    How one line fares. ``ready_on``: the day its last unit is there (None: not within this plan).

    ``from_stock`` of the on-time units come from the lots there already.
    """

    line: str
    on_time: int
    late: int
    ready_on: dt.date | None
    from_stock: int = 0
    reason: Reason | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """
    What a plan comes to, in the order in which plans are compared.

    ``late_weight``: late units times priority. ``owed_unit_days``: units of late orders times the
    days until they are ready (to the end of the horizon where they never are). ``poured_early``:
    for each poured unit the days from ready to the end of the horizon: less is later pouring and
    less surplus. ``held_unit_days``: what lies ready and waits, per unit and day, until it is due.
    """

    late_weight: int
    owed_unit_days: int
    melts: int
    maker_s: int
    poured_early: int
    cost_minor100: int
    late_units: int
    held_unit_days: int
    poured: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """
    What no plan can beat: proven lower bounds (None: none proven yet).

    ``late_weight`` and ``unavoidable_late_units`` for late units, ``melts`` for the number of
    melts of any plan with no more late units than this one.
    """

    late_weight: Fraction = Fraction(0)
    unavoidable_late_units: int = 0
    melts: int = 0
    all_levels: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """
    A whole plan: every melt with its clock times, the work around them, how each line fares.

    ``late_together`` says once what makes several lines late; every line whose reason is known is
    in one of them.
    """

    melts: tuple[Melt, ...]
    tasks: tuple[Task, ...]
    lines: tuple[LineAnswer, ...]
    totals: Totals
    bounds: Bounds = field(default_factory=Bounds)
    sub_solves: int = 0
    late_together: tuple[LateTogether, ...] = ()

    def melts_of(self, session: str) -> tuple[Melt, ...]:
        return tuple(melt for melt in self.melts if melt.session == session)

    def tasks_of(self, session: str) -> tuple[Task, ...]:
        return tuple(task for task in self.tasks if task.session == session)
