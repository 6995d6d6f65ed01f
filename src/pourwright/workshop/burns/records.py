"""
The book's records as the core reads them: burns, pieces, series, limits and criteria.

Everything that judges or plans goes through here. Rows that were left out are not seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from pourwright.core.amounts import from_mg
from pourwright.core.burns.house import HouseLimits, house_limits
from pourwright.core.burns.record import Burn, Candle, Piece, Reading, Series
from pourwright.core.errors import BadInput
from pourwright.core.vessel.shapes import BrimOnly
from pourwright.workshop.burns.models import (
    BurnReading,
    HouseLimit,
    PieceState,
    Purpose,
    TestBurn,
    TestPiece,
)
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import (
    DRAWN_DENSITY_G_ML,
    cold_density_g_ml,
    core_vessel,
)
from pourwright.workshop.formulas.services import core_formula
from pourwright.workshop.stores.models import Item


class WidthNotKnown(BadInput):
    """The vessel's inside diameter at the wax cannot be told."""


# --- the candle ----------------------------------------------------------------------------------


def inside_mm(vessel: Item, *, fill_ml: float) -> Fraction:
    """Return the inside diameter at the wax, to 0.01 mm; of a circle as large where not round."""
    found = core_vessel(vessel)
    if found is None or isinstance(found.shape, BrimOnly):
        wide = None if found is None else found.shape.top_diameter_mm
    else:
        shape = found.shape
        height = shape.height_mm(min(fill_ml, shape.brim_ml))
        wide = 2 * shape.radius_mm(height)
    if wide is None:
        raise WidthNotKnown(
            f"The inside diameter of {vessel.name} is not known: enter it on its page in the "
            "stores. A burn is judged by it."
        )
    return Fraction(round(wide * 100), 100)


def widest_mm(vessel: Item) -> Fraction | None:
    """Return the widest inside diameter of a vessel, at the base or the brim, where it is known."""
    found = core_vessel(vessel)
    if found is None:
        return None
    if isinstance(found.shape, BrimOnly):
        wide = found.shape.top_diameter_mm
    else:
        shape = found.shape
        wide = 2 * max(shape.radius_mm(0), shape.radius_mm(shape.depth_mm))
    return None if wide is None else Fraction(round(wide * 100), 100)


def core_candle(
    version: DesignVersion, *, wick_count: int | None = None, fill_mg: int | None = None
) -> Candle:
    """Return the candle of a version, or of a try that differs. Raises ``WidthNotKnown``."""
    density = cold_density_g_ml(core_formula(version.formula_version)) or DRAWN_DENSITY_G_ML
    fill_ml = (fill_mg or version.fill_mg) / 1000 / density
    return Candle(
        inside_diameter_mm=inside_mm(version.vessel, fill_ml=fill_ml),
        wick_count=wick_count or version.wick_count,
    )


def candle_of(piece: TestPiece) -> Candle:
    """Return the candle that a piece is."""
    return core_candle(piece.version, wick_count=piece.wick_count, fill_mg=piece.fill_mg)


# --- burns ---------------------------------------------------------------------------------------


def with_readings(burns: QuerySet[TestBurn]) -> QuerySet[TestBurn]:
    """Return burns with what ``core_burn`` reads, in two queries."""
    return burns.select_related("piece").prefetch_related(
        Prefetch("readings", BurnReading.objects.order_by("minute", "id"))
    )


def with_burns(pieces: QuerySet[TestPiece]) -> QuerySet[TestPiece]:
    """Return pieces with what ``core_piece`` and ``candle_of`` read, in a few queries."""
    return pieces.select_related(
        "version__design", "version__formula_version__formula", "version__vessel__vessel",
        "version__wick__wick", "wick__wick", "lot",
    ).prefetch_related(
        Prefetch("burns", with_readings(TestBurn.objects.filter(left_out="").order_by("number")))
    )  # fmt: skip


def core_readings(rows: Iterable[BurnReading]) -> tuple[Reading, ...]:
    """
    Return readings in order of time, those of the same minute as one.

    Of a figure read twice at one minute the later entry stands.
    """
    found: dict[Fraction, Reading] = {}
    for row in sorted((r for r in rows if not r.left_out), key=lambda r: (r.minute, r.pk or 0)):
        minute = Fraction(row.minute)
        had = found.get(minute, Reading(minute=minute))
        figures = {
            "flame_mm": _list(row.flame_mm), "pool_mm": _list(row.pool_mm),
            "depth_mm": _exact(row.depth_mm), "wall_pool_c": _exact(row.wall_pool_c),
            "wall_dry_c": _exact(row.wall_dry_c), "base_c": _exact(row.base_c),
            "soot": row.soot, "mushroom_mm": _exact(row.mushroom_mm),
        }  # fmt: skip
        given = {key: value for key, value in figures.items() if value not in (None, ())}
        found[minute] = replace(had, **given)
    return tuple(found[minute] for minute in sorted(found))


def core_burn(burn: TestBurn) -> Burn:
    """Return a burn as the core judges and learns from it. Raises the core's ``BadBurn``."""
    return Burn(
        number=burn.number,
        minutes=_exact(burn.minutes),
        readings=core_readings(burn.readings.all()),
        full_pool_minute=_exact(burn.full_pool_minute),
        mass_before_g=_grams(burn.mass_before_mg),
        mass_after_g=_grams(burn.mass_after_mg),
        room_c=_exact(burn.room_c),
        humidity_pct=_exact(burn.humidity_pct),
        draught=burn.draught,
        trim_mm=_exact(burn.trim_mm),
        cure_days=(timezone.localdate(burn.lit_at) - burn.piece.poured_on).days,
        afterglow_s=_list(burn.afterglow_s),
        relit=burn.relit,
        secondary_flame_s=_exact(burn.secondary_flame_s),
        vessel_failed=burn.vessel_failed,
        pool_flashed=burn.pool_flashed,
        soot_index=_exact(burn.soot_index),
        last=burn.last,
        went_out_by_itself=burn.went_out_by_itself,
        residue_mm=_exact(burn.residue_mm),
        residue_g=_grams(burn.residue_mg),
        note=burn.note,
    )


def burns_of(piece: TestPiece) -> list[TestBurn]:
    """Return a piece's burns that count, in order; from a prefetch where there is one."""
    return sorted((b for b in piece.burns.all() if not b.left_out), key=lambda b: b.number)


def core_piece(piece: TestPiece) -> Piece:
    """
    Return a piece with its burns that count.

    Its whole life is not asked of it where it is a try in the search or was discarded.
    """
    return Piece(
        name=piece.number,
        burns=tuple(core_burn(burn) for burn in burns_of(piece)),
        part_only=piece.purpose == Purpose.SEARCH or piece.state == PieceState.DISCARDED,
    )


def core_series(version: DesignVersion, pieces: Sequence[TestPiece] | None = None) -> Series:
    """
    Return a version's own pieces, oldest first: those exactly as the version says.

    Raises ``WidthNotKnown``. (Whether pieces of earlier versions still speak for this one is the
    gate's to say: core/burns/standing.py.)
    """
    found = pieces if pieces is not None else pieces_of(version)
    return Series(
        candle=core_candle(version),
        pieces=tuple(core_piece(piece) for piece in found if is_as_designed(piece)),
    )


def pieces_of(version: DesignVersion) -> list[TestPiece]:
    """Return every piece of a version, tries too, oldest first."""
    return list(with_burns(TestPiece.objects.filter(version=version)).order_by("id"))


def is_as_designed(piece: TestPiece) -> bool:
    """Return whether a piece is exactly as its version says: wick, number, trim and fill."""
    version = piece.version
    return (piece.wick_id, piece.wick_count, piece.trim_mm, piece.fill_mg) == (
        version.wick_id, version.wick_count, version.trim_mm, version.fill_mg,
    )  # fmt: skip


# --- limits and criteria -------------------------------------------------------------------------


def limits_on(on: date) -> HouseLimits:
    """Return the maker's house limits under the table of a day."""
    rows = list(HouseLimit.objects.all())
    return house_limits(
        on=on,
        changed={row.key: Fraction(row.value) for row in rows},
        reasons={row.key: row.reason for row in rows},
    )


def _exact(value) -> Fraction | None:
    return None if value is None else Fraction(value)


def _list(values) -> tuple[Fraction, ...]:
    return tuple(Fraction(str(value)) for value in values or ())


def _grams(mg: int | None) -> Fraction | None:
    return None if mg is None else from_mg(mg)
