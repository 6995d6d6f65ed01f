"""
A problem to plan, written down in a TOML or JSON document; every fault with its place.

The document is described in docs/plan-file.md. Names are the keys: a product names its formula
and vessel, a line its product.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import get_args

from pourwright.core.errors import BadInput
from pourwright.core.planning.ground import MOST_SESSIONS, check_problem
from pourwright.core.planning.model import (
    Arrival,
    Draw,
    Formula,
    Kind,
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
from pourwright.intake.plan_tables import BadPlanFile, Table, read_top

PRIORITY = {"order": 3, "market": 2, "stock": 1}
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MG, S_PER_MINUTE, S_PER_HOUR, MINOR100 = 1000, 60, 3600, 10_000


def read_plan_problem(path: Path) -> Problem:
    """Return the problem of a document; raises ``BadPlanFile`` with every fault."""
    top = read_top(path)
    # Purchases and markets may stand in the same document; other commands read those.
    for other in ("supplier", "purchase", "market"):
        top.get(other)
    today = top.day("today", needed=True) or dt.date(2000, 1, 1)
    products = [_product(table) for table in top.tables("product")]
    materials = [_material(table) for table in top.tables("material")]
    worth = top.number("late_unit_worth_minutes")
    units = {m.key: m.unit for m in materials}
    made = Problem(
        today=today,
        formulas=_formulas(top, products),
        vessels=_vessels(top, products),
        products=tuple(_with_uses(product, uses, units) for product, uses in products),
        melters=tuple(_melter(table) for table in top.tables("melter")),
        sessions=_sessions(top, today),
        lines=tuple(_line(table, place) for place, table in enumerate(top.tables("line"), start=1)),
        table_places=top.whole("table_places", needed=True, most=10_000),
        lots=tuple(
            _lot(table, place, today) for place, table in enumerate(top.tables("lot"), start=1)
        ),
        materials=tuple(materials),
        pinned=_pinned(top, products),
        scrap_per_1000=top.whole("scrap_per_1000", most=999),
        finish_after_s=_finish_after(top),
        finish_within_days=top.whole("finish_within_days", default=6, most=60),
        late_unit_worth_s=None if worth is None else int(worth * S_PER_MINUTE),
        circuit_w=top.maybe("circuit_w", most=100_000),
    )
    for melter in made.melters:
        if made.circuit_w is not None and (melter.power_w or 0) > made.circuit_w:
            words = f'"{melter.key}" alone draws {melter.power_w} W, and the circuit gives'
            top.fault(
                "circuit_w", f"{words} {made.circuit_w} W; plug it in elsewhere, or leave it."
            )
    top.close()
    try:
        check_problem(made)
    except BadInput as problem:
        raise BadPlanFile([f"{problem}."]) from problem
    return made


def _finish_after(top: Table) -> int:
    if top.get("finish_after_hours") is None:
        return 12 * S_PER_HOUR
    return top.times("finish_after_hours", S_PER_HOUR)


# --- what is made --------------------------------------------------------------------------------


def _product(table: Table) -> tuple[Product, dict[str, object]]:
    fill = table.times("fill_g", MG, needed=True, above=True)
    wax = table.times("wax_g", MG) or fill
    uses = table.get("uses") or {}
    if not isinstance(uses, dict):
        table.fault("uses", "write it as { wax = 180, tumbler = 1 }: grams or pieces of each.")
        uses = {}
    product = Product(
        key=table.text("name", needed=True), name=table.text("title") or table.text("name"),
        formula=table.text("formula", needed=True), vessel=table.text("vessel", needed=True),
        fill_mg=fill, wax_mg=wax, cure_days=table.whole("cure_days", needed=True, most=366),
        setting_s=table.times("setting_hours", S_PER_HOUR, needed=True),
        pour_s=table.times("pour_minutes", S_PER_MINUTE, needed=True),
        prep_s=table.times("prep_minutes", S_PER_MINUTE),
        finish_s=table.times("finish_minutes", S_PER_MINUTE),
        best_before_days=table.maybe("best_before_days", most=36_500),
        cost_minor100=table.times("cost", MINOR100),
    )  # fmt: skip
    for material, amount in uses.items():
        if isinstance(amount, bool) or not isinstance(amount, int | Fraction) or amount < 0:
            table.fault("uses", f'"{material}" needs a number from 0: grams or pieces.')
    return product, uses


def _with_uses(product: Product, uses: dict[str, object], units: dict[str, str]) -> Product:
    """Return the product with its uses in the unit of each material."""
    made = []
    for material, amount in uses.items():
        if isinstance(amount, int | Fraction) and not isinstance(amount, bool):
            by = MG if units.get(material) == "mg" else 1
            made.append(Use(material=material, amount=-int(-amount * by // 1)))
    return replace(product, uses=tuple(made))


def _formulas(top: Table, products: list[tuple[Product, dict[str, object]]]) -> tuple[Formula, ...]:
    """Return the formulas written down, and the rest of those that products name."""
    given = [
        Formula(
            key=(name := table.text("name", needed=True)), name=name,
            wax=table.text("wax", needed=True),
        )
        for table in top.tables("formula")
    ]  # fmt: skip
    known = {formula.key for formula in given}
    named = dict.fromkeys(product.formula for product, _ in products)
    return (*given, *(Formula(key=n, name=n, wax="wax") for n in named if n and n not in known))


def _vessels(top: Table, products: list[tuple[Product, dict[str, object]]]) -> tuple[Vessel, ...]:
    given = [
        Vessel(
            key=(name := table.text("name", needed=True)), name=name,
            places=table.whole("places", default=1, most=1000),
        )
        for table in top.tables("vessel")
    ]  # fmt: skip
    known = {vessel.key for vessel in given}
    named = dict.fromkeys(product.vessel for product, _ in products)
    return (*given, *(Vessel(key=n, name=n) for n in named if n and n not in known))


# --- means ---------------------------------------------------------------------------------------


def _melter(table: Table) -> Melter:
    name = table.text("name", needed=True)
    return Melter(
        key=name, name=name, capacity_mg=table.times("capacity_g", MG, needed=True, above=True),
        minimum_mg=table.times("minimum_g", MG),
        set_up_s=table.times("set_up_minutes", S_PER_MINUTE),
        melt_s=table.times("melt_minutes", S_PER_MINUTE),
        melt_s_per_kg=table.times("melt_minutes_per_kg", S_PER_MINUTE),
        stir_s=table.times("stir_minutes", S_PER_MINUTE),
        cool_s=table.times("cool_minutes", S_PER_MINUTE),
        wipe_s=table.times("wipe_minutes", S_PER_MINUTE),
        clean_s=table.times("clean_minutes", S_PER_MINUTE),
        pitchers=table.whole("pitchers", most=50), pitcher_mg=table.times("pitcher_g", MG),
        melt_cost_minor100=table.times("melt_cost", MINOR100),
        power_w=table.maybe("power_w", most=100_000),
    )  # fmt: skip


def _sessions(top: Table, today: dt.date) -> tuple[Session, ...]:
    """Return the sessions written down, and those of every week up to the last day."""
    sessions = [_session(table, on=None) for table in top.tables("session")]
    taken = {session.key for session in sessions}
    weeks, until = top.tables("week"), top.day("until")
    away = set(top.days("away"))
    if weeks and until is None:
        top.fault("until", "sessions of every week need a last day; add it.")
        return tuple(sessions)
    if until is not None and (until - today).days > 366 * 2:
        top.fault("until", "it is more than two years on; plan less far.")
        return tuple(sessions)
    for table in weeks:
        name = table.text("day", needed=True)
        pattern = _session(table, on=today)
        short = name.casefold()[:3]
        if short not in WEEKDAYS:
            words = "is no weekday; write Mon, Tue, Wed, Thu, Fri, Sat or Sun."
            table.fault("day", f'"{name}" {words}')
            continue
        on = today
        while until is not None and on <= until and len(sessions) <= MOST_SESSIONS:
            if on.weekday() == WEEKDAYS.index(short) and on not in away:
                session = replace(pattern, key=_key(on, pattern.start_s), on=on)
                if session.key not in taken:
                    sessions.append(session)
            on += dt.timedelta(days=1)
    return tuple(sorted(sessions, key=lambda s: (s.on, s.start_s)))


def _session(table: Table, *, on: dt.date | None) -> Session:
    before = len(table.faults)
    day = on or table.day("on", needed=True) or dt.date(2000, 1, 1)
    start, end = table.clock("from"), table.clock("to")
    if end <= start and len(table.faults) == before:
        table.fault("to", "it has to be later than from.")
    melters = table.texts("melters")
    key = "" if on is not None else table.text("name")
    return Session(
        key=key or _key(day, start), on=day, start_s=start, length_s=max(0, end - start),
        people=table.whole("people", default=1, most=100),
        maker_s=table.times("busy_minutes", S_PER_MINUTE), name=table.text("title"),
        most_melts=table.maybe("most_melts", most=100), melters=melters,
        frozen=table.yes("frozen"),
    )  # fmt: skip


def _key(on: dt.date, start_s: int) -> str:
    return f"{on.isoformat()} {start_s // 3600:02}:{start_s // 60 % 60:02}"


def _material(table: Table) -> Material:
    name = table.text("name", needed=True)
    unit = table.text("unit") or "g"
    if unit not in ("g", "pieces"):
        table.fault("unit", f'"{unit}" is neither "g" nor "pieces".')
    by = MG if unit == "g" else 1
    arrivals = tuple(
        Arrival(
            on=row.day("on", needed=True) or dt.date(2000, 1, 1),
            amount=row.times("amount", by, needed=True),
        )
        for row in table.tables("arrival")
    )
    return Material(
        key=name, name=name, unit="mg" if unit == "g" else "pieces",
        on_hand=table.times("on_hand", by, needed=True), arrivals=arrivals,
        lead_days=table.maybe("lead_days", most=1000),
    )  # fmt: skip


# --- demand --------------------------------------------------------------------------------------


def _line(table: Table, place: int) -> Line:
    kind = table.text("kind") or "order"
    if kind not in get_args(Kind):
        table.fault("kind", f'"{kind}" is none of "order", "market" and "stock".')
        kind = "order"
    return Line(
        key=table.text("name") or f"line {place}", kind=kind,  # type: ignore[arg-type]
        product=table.text("product", needed=True),
        quantity=table.whole("quantity", needed=True, most=100_000),
        due=table.day("due", needed=True) or dt.date(2000, 1, 1),
        priority=table.whole("priority", default=PRIORITY[kind], most=1000),
        whose=table.text("whose"),
    )  # fmt: skip


def _lot(table: Table, place: int, today: dt.date) -> Lot:
    return Lot(
        key=table.text("name") or f"lot {place}", product=table.text("product", needed=True),
        quantity=table.whole("quantity", needed=True, most=100_000),
        ready_on=table.day("ready_on") or today, best_before=table.day("best_before"),
    )  # fmt: skip


def _pinned(top: Table, products: list[tuple[Product, dict[str, object]]]) -> tuple[Melt, ...]:
    formula_of = {product.key: product.formula for product, _ in products}
    melts = []
    for table in top.tables("pinned"):
        by_formula: dict[str, list[Pour]] = {}
        for row in table.tables("pour"):
            pour = Pour(
                product=row.text("product", needed=True),
                quantity=row.whole("quantity", needed=True),
            )
            by_formula.setdefault(formula_of.get(pour.product, ""), []).append(pour)
        melts.append(
            Melt(
                session=table.text("session", needed=True),
                melter=table.text("melter", needed=True), pinned=True,
                draws=tuple(Draw(formula=f, pours=tuple(p)) for f, p in by_formula.items()),
            )
        )  # fmt: skip
    return tuple(melts)
