"""
The pour sheet: what to weigh, from which lot, in which order, with room for what really happened.

Masses in milligrams, temperatures in °C, times in minutes; the sheet shows them in the workshop's
units and to its scale's division. It says only what it is handed: there is no clock here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from pourwright.core import amounts
from pourwright.core.amounts import System
from pourwright.papers.documents import compile_pdf, paper_for

NEVER_LEAVE = (
    "Never leave a melt, not for a minute. A wax fire is smothered with a lid or a fire blanket "
    "and the heat turned off; it is never watered. Keep children and animals out."
)
OILS = "Gloves on and fresh air at the oils; wipe up drops at once, and keep them off your skin."
HOT_WAX = "Hot wax burns: long sleeves, shoes that cover the feet, a dry and level table."


@dataclass(frozen=True, slots=True, kw_only=True)
class Candle:
    """What is poured: so many of a design. ``drawing`` is a painted SVG, to scale."""

    number: int
    design: str
    fill_mg: int
    vessel: str
    wick: str
    drawing: str = ""
    drawing_alt: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Vessels, wicks and parts to lay out. ``qty`` in pieces, or mg where ``by_mass``."""

    name: str
    lot: str
    qty: int
    by_mass: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """One thing to weigh. ``actual_mg`` is printed where it is known already."""

    name: str
    lot: str
    target_mg: int
    tolerance_mg: int
    actual_mg: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Pitcher:
    """One formula's share of the melt; ``flashes`` are (oil, flash point) to be warned of."""

    title: str
    wax_mg: int
    mix_mg: int
    weighings: Sequence[Weighing] = ()
    load: str = ""
    add_at_c: Fraction | None = None
    pour_at_c: Fraction | None = None
    stir_minutes: Fraction | None = None
    flashes: Sequence[tuple[str, Fraction]] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PourSheet:
    """Everything on the sheet."""

    number: str
    on: date
    workshop: str
    state: str
    candles: Sequence[Candle]
    pieces: Sequence[Piece]
    waxes: Sequence[Weighing]
    pitchers: Sequence[Pitcher]
    division_mg: int
    loss: str
    melter: str = ""
    extra_wax_mg: int = 0
    melt_to_c: Fraction | None = None
    never_above_c: Fraction | None = None
    set_hours: Fraction | None = None
    warnings: Sequence[str] = ()
    note: str = ""


def scale_places(division_mg: int, units: System) -> int:
    """
    Return how many decimals show a scale's division in grams or ounces, 0 to 3.

    >>> scale_places(100, "metric"), scale_places(1000, "metric"), scale_places(1417, "us")
    (1, 0, 2)
    """
    division = amounts.from_mg(division_mg)
    if units == "us":
        division /= amounts.OZ_G
    # A division that is not decimal in this unit gets the place below it.
    return next((p for p in range(4) if division * 10**p >= Fraction(99, 100)), 3)


def scale_number(mg: int, *, division_mg: int, units: System) -> str:
    """Return a mass as the scale shows it, without its unit: g, or oz, never kg or lb."""
    unit = "oz" if units == "us" else "g"
    return amounts.mass_number(amounts.from_mg(mg), unit, places=scale_places(division_mg, units))


def pour_sheet_pdf(sheet: PourSheet, *, units: System) -> bytes:
    """Return the sheet as a PDF on A4, or on US Letter where the workshop weighs in ounces."""
    return compile_pdf("pour_sheet.typ", _data(sheet, units), paper=paper_for(units))


def _data(sheet: PourSheet, units: System) -> dict[str, Any]:
    def weight(mg: int) -> str:
        return scale_number(mg, division_mg=sheet.division_mg, units=units)

    def temp(celsius: Fraction | None) -> str:
        return "" if celsius is None else amounts.show_temperature(celsius, units)

    def weighing(one: Weighing) -> dict[str, str]:
        return {
            "name": one.name,
            "lot": one.lot,
            "target": weight(one.target_mg),
            "tolerance": weight(one.tolerance_mg),
            "actual": "" if one.actual_mg is None else weight(one.actual_mg),
        }

    unit = "oz" if units == "us" else "g"
    return {
        "number": sheet.number,
        "on": f"{sheet.on:%A}, {sheet.on.day} {sheet.on:%B %Y}",
        "workshop": sheet.workshop,
        "state": sheet.state,
        "unit": unit,
        "degree": "°F" if units == "us" else "°C",
        "division": f"{weight(sheet.division_mg)} {unit}",
        "facts": [
            fact
            for fact in (
                f"melter: {sheet.melter}" if sheet.melter else "",
                f"mix: {weight(sum(p.mix_mg for p in sheet.pitchers))} {unit}",
                f"loss allowed for: {sheet.loss}",
                f"scale: {weight(sheet.division_mg)} {unit} a division",
            )
            if fact
        ],
        "candles": [
            {
                "number": candle.number,
                "design": candle.design,
                "fill": f"{weight(candle.fill_mg)} {unit}",
                "vessel": candle.vessel,
                "wick": candle.wick,
                "drawing": candle.drawing,
                "alt": candle.drawing_alt or candle.design,
            }
            for candle in sheet.candles
        ],
        "pieces": [
            {
                "name": piece.name,
                "lot": piece.lot,
                "qty": f"{weight(piece.qty)} {unit}" if piece.by_mass else f"{piece.qty:,}",
            }
            for piece in sheet.pieces
        ],
        "waxes": [weighing(one) for one in sheet.waxes],
        "wax_total": weight(sum(one.target_mg for one in sheet.waxes)),
        "extra": f"{weight(sheet.extra_wax_mg)} {unit}" if sheet.extra_wax_mg else "",
        "pitchers": [
            {
                "title": pitcher.title,
                "wax": f"{weight(pitcher.wax_mg)} {unit}",
                "mix": f"{weight(pitcher.mix_mg)} {unit}",
                "weighings": [weighing(one) for one in pitcher.weighings],
                "load": pitcher.load,
                "add_at": temp(pitcher.add_at_c),
                "pour_at": temp(pitcher.pour_at_c),
                "stir": _minutes(pitcher.stir_minutes),
                "flash": _flash_words(pitcher, units),
            }
            for pitcher in sheet.pitchers
        ],
        "draw_off": len(sheet.pitchers) > 1 or bool(sheet.extra_wax_mg),
        "melt_to": temp(sheet.melt_to_c),
        "never_above": temp(sheet.never_above_c),
        "set_hours": "" if sheet.set_hours is None else _plain(sheet.set_hours),
        "warnings": list(sheet.warnings),
        "note": sheet.note,
        "never_leave": NEVER_LEAVE,
        "oils_caution": OILS,
        "hot_wax": HOT_WAX,
    }


def _plain(value: Fraction) -> str:
    return amounts.number(value, places=1, strip=True)


def _minutes(value: Fraction | None) -> str:
    return "" if value is None else f"{_plain(value)} min"


def _flash_words(pitcher: Pitcher, units: System) -> str:
    """Return the flash points in words; the lowest first, and louder where one is reached."""
    if not pitcher.flashes:
        return ""
    words = ", ".join(
        f"{name} {amounts.show_temperature(point, units)}"
        for name, point in sorted(pitcher.flashes, key=lambda pair: pair[1])
    )
    lowest = min(point for _, point in pitcher.flashes)
    if pitcher.add_at_c is not None and pitcher.add_at_c >= lowest:
        return (
            f"Flash points: {words}. The adding temperature is at or above one of them: its vapour "
            "can catch fire. No flame, no spark, no bare element near; add it cooler."
        )
    return f"Flash points: {words}. Stay below them; no flame or spark near."
