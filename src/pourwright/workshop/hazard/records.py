"""Between the records and the core: a composition's rows as substances, and back again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from pourwright.core.errors import BadInput
from pourwright.core.hazard import reference
from pourwright.core.hazard.model import (
    Composition,
    HazardClass,
    Ingredient,
    Kind,
    Range,
    Route,
    Substance,
)
from pourwright.workshop.hazard.models import CompositionRow, ItemComposition

# What the record keeps of a percentage; a sheet never states more.
PLACES = 7


class BadRow(BadInput):
    """A row of a composition that cannot be kept; ``field`` names which part of it."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One substance as its sheet states it, read: what a confirmed composition is made of."""

    name: str
    pct: Range
    cas: str = ""
    classes_text: str = ""
    classes: tuple[tuple[HazardClass, bool], ...] = ()
    m_acute: Fraction | None = None
    m_chronic: Fraction | None = None
    specific_limits: Mapping[HazardClass, Fraction] = field(default_factory=dict)
    ate: Mapping[Route, Fraction] = field(default_factory=dict)
    non_additive: bool = False
    unknown_acute: frozenset[Route] = frozenset()
    unknown_aquatic: bool = False

    @property
    def key(self) -> str:
        return self.cas or self.name.casefold()


# --- records to the core -------------------------------------------------------------------------


def row_of(record: CompositionRow) -> Row:
    """Return a kept row as it was read when it was confirmed."""
    return Row(
        name=record.name,
        cas=record.cas,
        pct=Range(
            high=Fraction(record.high_pct),
            low=None if record.low_pct is None else Fraction(record.low_pct),
            open_above=record.open_above,
        ),
        classes_text=record.classes_text,
        classes=tuple(_class_back(kept) for kept in record.classes),
        m_acute=_exact(record.m_acute),
        m_chronic=_exact(record.m_chronic),
        specific_limits={
            _class_back(kept)[0]: Fraction(pct) for *kept, pct in record.specific_limits
        },
        ate={Route(route): Fraction(value) for route, value in record.ate.items()},
        non_additive=record.non_additive,
        unknown_acute=frozenset(Route(route) for route in record.unknown_acute),
        unknown_aquatic=record.unknown_aquatic,
    )


def substance_of(row: Row) -> Substance:
    """Return a row's substance, the supplier's word joined with the shipped row of its number."""
    return reference.substance(
        row.cas,
        name=row.name,
        classes=row.classes,
        m_acute=row.m_acute,
        m_chronic=row.m_chronic,
        ate=row.ate,
        specific_limits=row.specific_limits,
        # Unticked says nothing: then what is shipped of the substance stands.
        non_additive=row.non_additive or None,
        unknown_acute=row.unknown_acute,
        unknown_aquatic=row.unknown_aquatic,
    )


def core_of(record: ItemComposition, rows: Iterable[Row] | None = None) -> Composition:
    """Return a composition as the core computes with it."""
    if rows is None:
        rows = [row_of(kept) for kept in record.rows.all()]
    return Composition(
        name=record.item.name,
        ingredients=tuple(Ingredient(substance=substance_of(row), pct=row.pct) for row in rows),
        unknown_acute_pct={
            Route(route): Fraction(pct) for route, pct in record.unknown_acute.items()
        },
        flash_point_c=_exact(record.flash_point_c),
        density_g_ml=_exact(record.density_g_ml),
        sheet_date=record.sheet_date,
        revision=record.revision,
    )


def _exact(value: Decimal | None) -> Fraction | None:
    return None if value is None else Fraction(value)


# --- the core to records -------------------------------------------------------------------------


def record_of(row: Row, *, composition: ItemComposition, place: int) -> CompositionRow:
    """Return a row as it is kept; raises ``BadRow`` for a figure finer than the record's."""
    return CompositionRow(
        composition=composition,
        place=place,
        name=row.name,
        cas=row.cas,
        low_pct=None if row.pct.low is None else _decimal(row.pct.low, PLACES, "share"),
        high_pct=_decimal(row.pct.high, PLACES, "share"),
        open_above=row.pct.open_above,
        classes_text=row.classes_text,
        classes=[_class_kept(hazard, minimum) for hazard, minimum in row.classes],
        m_acute=None if row.m_acute is None else _decimal(row.m_acute, 3, "m_acute"),
        m_chronic=None if row.m_chronic is None else _decimal(row.m_chronic, 3, "m_chronic"),
        specific_limits=[
            [*_class_kept(hazard, False), str(pct)] for hazard, pct in row.specific_limits.items()
        ],
        ate={str(route): str(value) for route, value in row.ate.items()},
        non_additive=row.non_additive,
        unknown_acute=sorted(str(route) for route in row.unknown_acute),
        unknown_aquatic=row.unknown_aquatic,
    )


def _decimal(value: Fraction, places: int, name: str) -> Decimal:
    scaled = value * 10**places
    if scaled.denominator != 1:
        raise BadRow(
            f"{float(value):g} is finer than {places} places after the point; round it.",
            field=name,
        )
    return Decimal(int(scaled)).scaleb(-places)


def _class_kept(hazard: HazardClass, minimum: bool) -> list:
    route = None if hazard.route is None else str(hazard.route)
    return [str(hazard.kind), hazard.category, route, hazard.detail, minimum]


def _class_back(kept) -> tuple[HazardClass, bool]:
    kind, category, route, detail, minimum = kept
    hazard = HazardClass(
        kind=Kind(kind),
        category=category,
        route=None if route is None else Route(route),
        detail=detail,
    )
    return hazard, bool(minimum)
