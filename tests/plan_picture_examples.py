"""A small problem and plans for it, for the tests of pictures and papers."""

import datetime as dt

from pourwright.core.planning.model import (
    Formula,
    Line,
    LineAnswer,
    Melter,
    Plan,
    Problem,
    Product,
    Session,
    Totals,
    Vessel,
)

ON = dt.date(2026, 3, 2)  # a Monday


def a_problem(*, setting_s=12 * 3600, table_places=24, **more):
    """One candle in two scents' worth of nothing: an evening a day from 18:00 to 21:00."""
    given = {
        "today": ON,
        "formulas": (Formula(key="fig", name="Fig", wax="blend"),),
        "vessels": (Vessel(key="glass", name="Glass"),),
        "products": (
            Product(
                key="fig", name="Fig, glass", formula="fig", vessel="glass", fill_mg=200_000,
                wax_mg=185_000, cure_days=14, setting_s=setting_s, pour_s=60,
            ),
        ),
        "melters": (Melter(key="pot", name="Pot", capacity_mg=4_000_000),),
        "sessions": tuple(
            Session(
                key=f"s{n}", on=ON + dt.timedelta(n), start_s=18 * 3600, length_s=3 * 3600,
                name=f"evening {n}",
            )
            for n in range(6)
        ),
        "lines": (
            Line(
                key="mill", kind="order", product="fig", quantity=12,
                due=ON + dt.timedelta(16), priority=3, whose="Mill shop",
            ),
        ),
        "table_places": table_places,
    }  # fmt: skip
    return Problem(**(given | more))


def a_plan(*melts, late=0):
    return Plan(
        melts=melts, tasks=(),
        lines=(
            LineAnswer(line="mill", on_time=12 - late, late=late, ready_on=ON + dt.timedelta(14)),
        ),
        totals=Totals(
            late_weight=3 * late, owed_unit_days=0, melts=len(melts), maker_s=0, poured_early=0,
            cost_minor100=0, late_units=late, held_unit_days=0, poured=12,
        ),
    )  # fmt: skip
