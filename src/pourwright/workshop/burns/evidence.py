"""
What exactly a candle is, and what the burns on record say of it: for the gate and the pages.

A piece keeps its fingerprint from the day it was taken; the design's is made from the records as
they are now. Materials are named by their own keys, so that a new name is no new material.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from pourwright.core.burns.change import Fingerprint
from pourwright.core.burns.standing import Burnt, Standing, standing
from pourwright.core.documents import document_of, record_of
from pourwright.core.wicks.places import ring_positions_mm
from pourwright.workshop.burns.models import TestBurn, TestPiece
from pourwright.workshop.burns.records import (
    WidthNotKnown,
    core_candle,
    core_piece,
    limits_on,
    with_burns,
)
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import core_formula, facts_of, recipe_of
from pourwright.workshop.hazard.models import ItemComposition, State
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Item

# Where a vessel was never measured its wicks stand as in one so wide: the ring alone counts.
UNMEASURED_MM = Fraction(80)
NOTHING_BURNT = Standing(
    state="no series", says="No series of test burns on record.", gaps=("burn series",)
)


def fingerprint_of(
    version: DesignVersion,
    *,
    wick: Item | None = None,
    count: int | None = None,
    positions: Sequence[Sequence[float]] | None = None,
    trim_mm: Decimal | None = None,
    fill_mg: int | None = None,
) -> Fingerprint:
    """Return what exactly a design version is now, or a piece of it that differs in its wicks."""
    wick = wick or version.wick
    count = count or version.wick_count
    trim = version.trim_mm if trim_mm is None else trim_mm
    formula, recipe = core_formula(version.formula_version), recipe_of(version.formula_version)
    facts, vessel = facts_of(wick, "wick"), facts_of(version.vessel, "vessel")
    places = [] if positions is None else positions
    return Fingerprint(
        waxes=_shares(recipe.waxes),
        oils=_shares(recipe.oils),
        load_pct_of_wax=formula.load_pct_of_wax,
        extras=tuple((str(item.pk), Fraction(pct)) for item, pct in recipe.extras),
        wick_series=facts.series if facts else "",
        wick_size=facts.size if facts and facts.size else f"wick {wick.pk}",
        wick_count=count,
        wick_positions=tuple(
            (Fraction(round(x)), Fraction(round(y)))
            for x, y in places or usual_positions_mm(version, count=count)
        ),
        trim_mm=Fraction(trim),
        fill_g=Fraction(version.fill_mg if fill_mg is None else fill_mg, 1000),
        vessel=str(version.vessel_id),
        wax_revisions=tuple(
            (str(item.pk), _revision(item, "wax")) for item, _ in recipe.waxes
        ),
        oil_revisions=_sheets([item for item, _ in (*recipe.oils, *recipe.extras)]),
        wick_revision=facts.revision if facts else "",
        vessel_revision=vessel.revision if vessel else "",
    )  # fmt: skip


def _shares(parts: Iterable[tuple[Item, Decimal]]) -> tuple[tuple[str, Fraction], ...]:
    """Shares in per cent of their sum: 2 to 1 is the same blend as 4 to 2."""
    rows = [(str(item.pk), Fraction(share)) for item, share in parts]
    whole = sum((share for _, share in rows), Fraction(0))
    return tuple((name, 100 * share / whole) for name, share in rows)


def _revision(item: Item, kind: str) -> str:
    facts = facts_of(item, kind)
    return facts.revision if facts else ""


def _sheets(items: Sequence[Item]) -> tuple[tuple[str, str], ...]:
    """By the confirmed composition's sheet; an oil that has none, by what stands with its facts."""
    sheets = {
        row.item_id: " ".join(filter(None, (row.revision, str(row.sheet_date or ""))))
        for row in ItemComposition.objects.filter(item__in=items, state=State.CONFIRMED)
    }
    found = []
    for item in items:
        facts = facts_of(item, "oil")
        written = facts.sheet_revision if facts else ""
        found.append((str(item.pk), sheets.get(item.pk) or written))
    return tuple(found)


def usual_positions_mm(
    version: DesignVersion, *, count: int | None = None
) -> tuple[tuple[float, float], ...]:
    """Return where the wicks stand unless a piece says otherwise: each on its equal slice."""
    try:
        wide = core_candle(version).inside_diameter_mm
    except WidthNotKnown:
        wide = UNMEASURED_MM
    return ring_positions_mm(
        vessel_inner_radius_mm=float(wide) / 2, wick_count=count or version.wick_count
    )


def as_json(fingerprint: Fingerprint) -> dict[str, Any]:
    return document_of(fingerprint)


def from_json(document: dict[str, Any]) -> Fingerprint:
    return record_of(Fingerprint, document)


def standing_of(version: DesignVersion, *, on: date) -> Standing:
    """
    Return what the burns on record say of a version as it is now.

    Raises ``WidthNotKnown`` where there are burns and the vessel is not measured.
    """
    pieces = list(_burnt(version))
    own, others = [], []
    for piece in pieces:
        burnt = Burnt(fingerprint=from_json(piece.fingerprint), piece=core_piece(piece))
        (own if piece.version.design_id == version.design_id else others).append(burnt)
    if not pieces:
        return NOTHING_BURNT
    now = fingerprint_of(version)
    # Another design's pieces count where they are this very candle; what they lack is no news.
    tested = own + [other for other in others if other.fingerprint == now]
    return standing(
        now, tested, candle=core_candle(version), on=on, house=limits_on(on),
        units=Workshop.load().units,
    )  # fmt: skip


def may_speak_for(piece: TestPiece, version: DesignVersion) -> bool:
    """Return whether ``standing_of`` can count a piece: of the design, or of this very candle."""
    if piece.version.design_id == version.design_id:
        return True
    return bool(piece.fingerprint) and from_json(piece.fingerprint) == fingerprint_of(version)


def _burnt(version: DesignVersion) -> QuerySet[TestPiece]:
    """Return the burnt pieces that may speak for a version: of its design, or of its vessel."""
    counted = TestBurn.objects.filter(piece=OuterRef("pk"), left_out="")
    of_it = Q(version__design=version.design_id) | Q(version__vessel=version.vessel_id)
    found = TestPiece.objects.filter(of_it, Exists(counted)).exclude(fingerprint={})
    return with_burns(found).order_by("id")
