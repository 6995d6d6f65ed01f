"""A purchase to be planned, read from a TOML or JSON document (docs/plan-file.md)."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pourwright.core.amounts.money import minor_digits
from pourwright.core.amounts.reading import shorten
from pourwright.core.amounts.units import MASS, System
from pourwright.core.planning.buying import Buying, Need, Offer, Price, Supplier, Supply
from pourwright.core.planning.model import Arrival
from pourwright.intake.plan_tables import Table, read_top

UNITS = {unit.symbol: unit for unit in MASS if unit.symbol in ("g", "kg", "oz", "lb")}
PIECES = "pieces"


@dataclass(frozen=True, slots=True)
class PurchaseFile:
    """A purchase, the currency of its money, and the system to show masses in."""

    buying: Buying
    currency: str
    system: System


def read_purchases(path: Path, *, today: dt.date) -> PurchaseFile:
    """Return a purchase; ``today`` counts where the document names no day. Faults all at once."""
    top = read_top(path)
    currency = (top.text("currency") or "EUR").upper()
    if len(currency) != 3 or not currency.isalpha():
        top.fault("currency", f'"{shorten(currency)}" is no currency; write three letters, as EUR.')
    cent = 10 ** (minor_digits(currency) + 2)
    start = top.day("today") or today
    until = top.day("until", needed=True) or start
    spare = top.whole("spare_days", most=60)
    rate = top.number("holding_pct_year", most=100) or Fraction(0)
    cash = top.times("cash_a_month", cent) if "cash_a_month" in top.raw else None
    top.get("cash_a_month")
    suppliers = tuple(_supplier(table, cent) for table in top.tables("supplier"))
    materials, offers = [], list[Offer]()
    masses = set()
    for table in top.tables("material"):
        material, own, unit = _material(table, cent, {s.key for s in suppliers})
        materials.append(material)
        offers += own
        masses.add(unit)
    if not materials:
        top.fault("material", "nothing is to be bought; write [[material]] above each.")
    top.close()
    buying = Buying(
        today=start, until=until, materials=tuple(materials), offers=tuple(offers),
        suppliers=suppliers, holding_per_year=rate / 100, spare_days=spare, cash_minor100=cash,
    )  # fmt: skip
    system: System = "us" if masses & {"oz", "lb"} and not masses & {"g", "kg"} else "metric"
    return PurchaseFile(buying, currency, system)


def _supplier(table: Table, cent: int) -> Supplier:
    name = table.text("name", needed=True)
    free = table.times("free_from", cent) if "free_from" in table.raw else None
    return Supplier(
        key=name, name=name, freight_minor100=table.times("freight", cent), free_from_minor100=free
    )


def _material(table: Table, cent: int, suppliers: set[str]) -> tuple[Supply, list[Offer], str]:
    name = table.text("name", needed=True)
    unit = table.text("unit") or PIECES
    if unit != PIECES and unit not in UNITS:
        known = ", ".join([*UNITS, PIECES])
        table.fault("unit", f'"{shorten(unit)}" is no unit of a material; write one of {known}.')
        unit = PIECES
    size = _sizer(unit)
    arrivals = [
        Arrival(on=row.day("on", needed=True) or dt.date.min, amount=_amount(row, "amount", size))
        for row in table.tables("arrival")
    ]
    needs = [
        Need(on=row.day("on", needed=True) or dt.date.min, amount=_amount(row, "amount", size))
        for row in table.tables("use")
    ]
    on_hand = _amount(table, "on_hand", size, needed=False)
    offers = [
        _offer(row, name, place, size, cent, suppliers)
        for place, row in enumerate(table.tables("offer"), start=1)
    ]
    supply = Supply(
        key=name, name=name, unit="pieces" if unit == PIECES else "mg", on_hand=on_hand,
        arrivals=tuple(arrivals), needs=tuple(needs),
    )  # fmt: skip
    return supply, offers, unit


def _sizer(unit: str) -> Fraction:
    """Return how many mg (or pieces) one of the unit is."""
    return Fraction(1) if unit == PIECES else UNITS[unit].size * 1000


def _amount(table: Table, key: str, size: Fraction, *, needed: bool = True) -> int:
    found = table.number(key, needed=needed)
    if found is None:
        return 0
    if size == 1 and found.denominator != 1:
        table.fault(key, f"{float(found):g} is no whole number of pieces.")
    return int(found * size + Fraction(1, 2))


def _offer(
    table: Table, material: str, place: int, size: Fraction, cent: int, suppliers: set[str]
) -> Offer:  # fmt: skip
    supplier = table.text("supplier", needed=True)
    if supplier and supplier not in suppliers:
        table.fault("supplier", f'no [[supplier]] is named "{shorten(supplier)}".')
    pack = _amount(table, "pack", size)
    if table.raw.get("pack") is not None and pack < 1:
        table.fault("pack", "a pack holds something; give more than 0.")
    prices = [Price(from_packs=1, minor100=table.times("price", cent, needed=True))]
    for row in table.tables("break"):
        packs = row.whole("from_packs", needed=True, most=100_000)
        prices.append(Price(from_packs=packs, minor100=row.times("price", cent, needed=True)))
    return Offer(
        key=f"{material}, offer {place}", material=material, supplier=supplier, pack=max(pack, 1),
        lead_days=table.whole("lead_days", needed=True, most=365),
        keeps_days=table.maybe("keeps_days", most=10_000), prices=tuple(prices),
    )  # fmt: skip
