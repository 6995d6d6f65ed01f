"""Workshops to plan for, small and round, and what a planner could not do without."""

import datetime as dt
import random
from dataclasses import replace

from pourwright.core.planning.model import (
    Arrival,
    Draw,
    Formula,
    Line,
    Lot,
    Material,
    Melt,
    Melter,
    Pour,
    Problem,
    Product,
    Session,
    Use,
    Vessel,
)

MONDAY = dt.date(2027, 3, 1)
HOUR = 3600


def day(number: int) -> dt.date:
    """Return a day of the plan; day 0 is a Monday."""
    return MONDAY + dt.timedelta(days=number)


def product(formula: str, *, grams: int = 200, cure: int = 7, **other) -> Product:
    base = Product(
        key=f"{formula}{grams}" if grams != 200 else formula, name=f"{formula}, {grams} g",
        formula=formula, vessel=f"{grams}", fill_mg=grams * 1000, wax_mg=grams * 900,
        cure_days=cure, setting_s=8 * HOUR, pour_s=60,
    )  # fmt: skip
    return replace(base, **other)


def evening(number: int, *, hours: int = 3, **other) -> Session:
    base = Session(
        key=f"day {number}", on=day(number), start_s=18 * HOUR, length_s=hours * HOUR, people=1
    )
    return replace(base, **other)


def order(product: str, quantity: int, due: int, *, kind="order", priority=1, key="") -> Line:
    return Line(
        key=key or f"{product} {due} {kind}", kind=kind, product=product, quantity=quantity,
        due=day(due), priority=priority,
    )  # fmt: skip


POT = Melter(
    key="pot", name="pot", capacity_mg=2_000_000, set_up_s=600, melt_s=1200, melt_s_per_kg=600,
    stir_s=300, cool_s=900, wipe_s=180, clean_s=360,
)  # fmt: skip


def _each(products, what: str) -> list[str]:
    return sorted({getattr(one, what) for one in products})


def problem(**given) -> Problem:
    """Return a problem with the formulas and vessels that its products name."""
    products = given["products"]
    base = Problem(
        today=MONDAY,
        formulas=tuple(Formula(key=f, name=f, wax="wax") for f in _each(products, "formula")),
        vessels=tuple(Vessel(key=v, name=v) for v in _each(products, "vessel")),
        products=products, melters=(POT,), sessions=(), lines=(), table_places=40,
    )  # fmt: skip
    return replace(base, **given)


# The tiny plan of five sessions, one melt each, ten units a melt.
TINY = problem(
    products=(product("A"), product("B")),
    sessions=tuple(evening(d, most_melts=1) for d in (1, 5, 8, 12, 15)),
    lines=(order("A", 6, 12), order("B", 8, 12), order("A", 4, 15), order("B", 5, 22),
           order("A", 10, 22)),
)  # fmt: skip

FORTY = problem(
    products=(product("A", pour_s=30),),
    melters=(replace(POT, capacity_mg=2_700_000),),
    sessions=tuple(
        evening(d, most_melts=1) if day(d).weekday() in (1, 3)
        else evening(d, hours=5, most_melts=2)
        for d in range(33) if day(d).weekday() in (1, 3, 5)
    ),
    scrap_per_1000=30, table_places=60,
)  # fmt: skip


def busy_problem() -> Problem:
    """Return a workshop of two melters and three scents that uses everything there is."""
    uses = (Use(material="wax", amount=180), Use(material="oil", amount=20))
    products = tuple(
        product(
            f, grams=grams, cure=cure, prep_s=90, finish_s=120, setting_s=hours * HOUR,
            uses=(*uses, Use(material="glass", amount=1)), cost_minor100=grams,
        )
        for f in "ABC"
        for grams, cure, hours in ((200, 7, 8), (300, 10, 15))
    )  # fmt: skip
    return problem(
        products=products,
        melters=(POT, replace(POT, key="big", capacity_mg=3_000_000, minimum_mg=600_000)),
        sessions=(
            evening(1), evening(3), evening(5, hours=5), evening(8), evening(10, people=2),
            evening(12, hours=5, people=2), evening(15),
        ),
        lines=(
            order("A", 9, 7, priority=3), order("B300", 7, 14, priority=2, kind="market"),
            order("C", 16, 19, priority=3), order("A300", 5, 21, priority=3),
            order("B", 12, 19, kind="market", priority=2), order("C300", 6, 27, kind="stock"),
            order("A", 14, 26, priority=3),
        ),
        lots=(Lot(key="old", product="A", quantity=4, ready_on=day(-3), best_before=day(12)),
              Lot(key="curing", product="C", quantity=3, ready_on=day(6))),
        materials=(
            Material(key="wax", name="wax", unit="mg", on_hand=20_000_000),
            Material(key="oil", name="oil", unit="mg", on_hand=9_000_000, lead_days=14),
            Material(key="glass", name="glass", unit="pieces", on_hand=40, lead_days=9,
                     arrivals=(Arrival(on=day(6), amount=20),)),
        ),
        scrap_per_1000=30, table_places=24,
    )  # fmt: skip


def drawn_problem() -> Problem:
    """Return a workshop that melts plain wax and draws it off into three pitchers."""
    return problem(
        products=tuple(product(f, cure=5, prep_s=30, finish_s=30) for f in "ABCD"),
        melters=(replace(POT, pitchers=3, pitcher_mg=1_000_000, capacity_mg=2_500_000),),
        sessions=tuple(evening(d) for d in (1, 3, 6, 8)),
        lines=(order("A", 4, 9), order("B", 5, 9), order("C", 3, 12), order("D", 9, 14)),
    )  # fmt: skip


def pinned(session: str, formula: str, quantity: int) -> Melt:
    draws = (Draw(formula=formula, pours=(Pour(product=formula, quantity=quantity),)),)
    return Melt(session=session, melter="pot", draws=draws, pinned=True)


def _lot(quantity: int, ready: int) -> Lot:
    return Lot(key="lot", product="A", quantity=quantity, ready_on=day(ready))


def small(seed: int) -> Problem:
    """Return one of many problems that can still be enumerated: three sessions, two scents."""
    dice = random.Random(seed)
    products = (
        product("A", cure=dice.choice((2, 4))), product("B", cure=dice.choice((2, 5)))
    )  # fmt: skip
    kinds = ("order", "market", "stock")
    return problem(
        products=products,
        melters=(replace(POT, capacity_mg=800_000),),
        sessions=tuple(evening(d, most_melts=1) for d in sorted(dice.sample(range(1, 9), 3))),
        lines=tuple(
            order(
                dice.choice("AB"), dice.randint(1, 4), dice.randint(3, 14), key=f"line {i}",
                kind=dice.choice(kinds), priority=dice.randint(1, 3),
            )
            for i in range(4)
        ),
        lots=(
            _lot(dice.randint(0, 2), dice.choice((0, 5))),
        ),
        scrap_per_1000=dice.choice((0, 250)),
    )  # fmt: skip
