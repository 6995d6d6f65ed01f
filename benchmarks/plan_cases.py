"""
Seeded instances to measure the planner on: synthetic demand, round figures.

Sessions a week: three evenings of 3 h, Saturday 4 h and 4 h, Sunday 3 h. Every time, capacity and
cure figure is common practice without a source, or round; none is a recommendation.
"""

from __future__ import annotations

import datetime as dt
import random

from pourwright.core.planning.model import (
    Arrival,
    Formula,
    Line,
    Lot,
    Material,
    Melter,
    Problem,
    Product,
    Session,
    Use,
    Vessel,
)

MONDAY = dt.date(2027, 1, 4)
WEEK = ((0, 18, 3), (1, 18, 3), (3, 18, 3), (5, 8, 4), (5, 13, 4), (6, 14, 3))
"""Weekday, hour, hours."""
VESSELS = ((120, 7, 6), (200, 7, 8), (300, 10, 12), (450, 14, 18))
"""Fill in g, cure days, setting hours."""
# name: weeks, scents, vessels, lines, units, table, melters in g, people, hand-laid stock weeks
SIZES = {
    "week": (2, 5, 2, 12, 82, 24, (2700,), 1),
    "month": (6, 10, 3, 60, 390, 30, (2700,), 1),
    "season": (16, 20, 3, 150, 1055, 30, (2700,), 1),
    "tight": (16, 20, 3, 150, 1343, 24, (2700,), 1),
    "shop": (16, 40, 4, 300, 2819, 80, (2700, 5000), 2),
}
CASES = (
    ("week", 1), ("week", 2), ("month", 1), ("month", 2), ("month", 3), ("season", 1),
    ("season", 2), ("tight", 1), ("tight", 2), ("shop", 1), ("shop", 2),
)  # fmt: skip


def case(name: str, seed: int) -> Problem:
    """Return one instance; the same name and seed give the same instance always."""
    weeks, scents, vessels, lines, units, table, melters, people = SIZES[name]
    dice = random.Random(f"{name}/{seed}")
    formulas = tuple(Formula(key=f"F{i:02}", name=f"Scent {i}", wax="wax") for i in range(scents))
    glasses = tuple(Vessel(key=f"V{g}", name=f"{g} g", places=1) for g, _, _ in VESSELS[:vessels])
    products = tuple(
        Product(
            key=f"{f.key}-{g}", name=f"{f.name}, {g} g", formula=f.key, vessel=f"V{g}",
            fill_mg=g * 1000, wax_mg=g * 1000 * 10 // 11, cure_days=cure, setting_s=hours * 3600,
            pour_s=45 + g // 10, prep_s=75, finish_s=120,
            uses=(
                Use(material="wax", amount=g * 1000 * 10 // 11),
                Use(material=f"oil {f.key}", amount=g * 1000 - g * 1000 * 10 // 11),
                Use(material=f"V{g}", amount=1),
            ),
            cost_minor100=g * 100,
        )
        for f in formulas
        for g, cure, hours in VESSELS[:vessels]
    )  # fmt: skip
    return Problem(
        today=MONDAY, formulas=formulas, vessels=glasses, products=products,
        melters=tuple(
            Melter(
                key=f"M{g}", name=f"{g} g", capacity_mg=g * 1000, minimum_mg=g * 1000 // 6,
                set_up_s=720, melt_s=1200, melt_s_per_kg=900, stir_s=300, cool_s=900, wipe_s=180,
                clean_s=360, melt_cost_minor100=2500,
            )
            for g in melters
        ),
        sessions=tuple(
            Session(
                key=f"{week:02}-{day}-{hour:02}", on=MONDAY + dt.timedelta(days=7 * week + day),
                start_s=hour * 3600, length_s=hours * 3600, people=people,
            )
            for week in range(weeks)
            for day, hour, hours in WEEK
        ),
        lines=_lines(dice, products, scents, vessels, weeks, lines, units),
        table_places=table, lots=_lots(dice, products, units),
        materials=_materials(dice, formulas, VESSELS[:vessels], units), scrap_per_1000=30,
    )  # fmt: skip


def _lines(dice, products, scents, vessels, weeks, lines, units) -> tuple[Line, ...]:
    """Return lines rising over the horizon; scents by Zipf; 60 % orders, 30 % markets."""
    weight = [1 / (1 + i) ** 0.8 for i in range(scents)]
    shares = [dice.gammavariate(2, 1) for _ in range(lines)]
    whole = sum(shares)
    made = []
    for i in range(lines):
        scent = dice.choices(range(scents), weight)[0]
        product = products[scent * vessels + dice.randrange(vessels)]
        kind = dice.choices(("order", "market", "stock"), (60, 30, 10))[0]
        # Due days rise with the horizon: the square root of a uniform draw leans late.
        due = int(8 + (7 * weeks - 8) * dice.random() ** 0.6)
        if kind == "market":
            due = due // 7 * 7 + 5
        made.append(
            Line(
                key=f"L{i:03}", kind=kind, product=product.key,
                quantity=max(1, round(units * shares[i] / whole)),
                due=MONDAY + dt.timedelta(days=due),
                priority={"order": 3, "market": 2, "stock": 1}[kind],
            )
        )  # fmt: skip
    return tuple(made)


def _lots(dice, products, units) -> tuple[Lot, ...]:
    chosen = dice.sample(products, k=max(1, len(products) // 5))
    each = max(1, units // 20 // len(chosen))
    return tuple(
        Lot(
            key=f"S{i}", product=p.key, quantity=dice.randint(1, 2 * each),
            ready_on=MONDAY + dt.timedelta(days=dice.choice((-20, -5, 3, 6))),
        )
        for i, p in enumerate(chosen)
    )  # fmt: skip


def _materials(dice, formulas, vessels, units) -> tuple[Material, ...]:
    """Return what is there: enough for most of the first two weeks, some scents short."""
    wax = Material(
        key="wax", name="wax", unit="mg", on_hand=40_000_000, lead_days=10,
        arrivals=(Arrival(on=MONDAY + dt.timedelta(days=5), amount=20_000_000),),
    )  # fmt: skip
    oils = tuple(
        Material(
            key=f"oil {f.key}",
            name=f"oil of {f.name}",
            unit="mg",
            on_hand=dice.choice((150_000, 300_000, 600_000, 900_000)),
            lead_days=14,
        )
        for f in formulas
    )
    glass = tuple(
        Material(
            key=f"V{g}",
            name=f"{g} g vessel",
            unit="pieces",
            on_hand=max(40, units // 4 // len(vessels)),
            lead_days=12,
        )
        for g, _, _ in vessels
    )
    return (wax, *oils, *glass)
