"""
What changes the list of items and suppliers: new ones, and what is known of them.

Every fact is checked here for what can be true at all, so that a form, an import and a script meet
the same refusals. The bounds are wide and are there to catch slips of the pen; where no source is
named beside one it is common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import IntegrityError, transaction

from pourwright.core.errors import BadInput
from pourwright.core.vessel.fill import DENSITY_RANGE_G_PER_ML
from pourwright.workshop.stores.drawings import core_vessel
from pourwright.workshop.stores.models import (
    Basis,
    Item,
    Kind,
    Measure,
    OilFacts,
    Shape,
    Supplier,
    VesselFacts,
    WaxFacts,
    WickFacts,
)


class BadFact(BadInput):
    """Something said of an item that cannot be; ``field`` names which."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.field = field


# What an item of a kind is measured by; the first is what a new one begins with.
MEASURES: dict[str, tuple[str, ...]] = {
    Kind.WAX: (Measure.MASS,),
    Kind.OIL: (Measure.MASS,),
    Kind.DYE: (Measure.MASS, Measure.COUNT),
    Kind.ADDITIVE: (Measure.MASS, Measure.COUNT),
    Kind.VESSEL: (Measure.COUNT,),
    Kind.WICK: (Measure.COUNT,),
    Kind.PART: (Measure.COUNT, Measure.MASS),
    Kind.MIX: (Measure.MASS,),
    Kind.CANDLE: (Measure.COUNT,),
}
FACTS: dict[str, tuple[str, type]] = {
    Kind.WAX: ("wax", WaxFacts),
    Kind.OIL: ("oil", OilFacts),
    Kind.VESSEL: ("vessel", VesselFacts),
    Kind.WICK: ("wick", WickFacts),
}
# A liquid fragrance oil lies near 0.84 to 1.10 g/ml; wide of that is a slip.
OIL_DENSITY_RANGE_G_ML = (Decimal("0.6"), Decimal("1.6"))
EARLIEST = date(1980, 1, 1)
LATEST = date(2200, 1, 1)


def facts_of(item: Item):
    """Return what is known of an item beyond its name, or None for a kind without such facts."""
    if item.kind not in FACTS:
        return None
    name, model = FACTS[item.kind]
    return getattr(item, name, None) or model(item=item)


def new_item(
    *,
    kind: str,
    name: str,
    measure: str | None = None,
    facts: Mapping[str, object] | None = None,
    **about,
) -> Item:
    """
    Enter an item with what is known of it.

    ``facts`` are the fields of its kind's record (``WaxFacts`` and so on); ``about`` the other
    fields of ``Item``: supplier, supplier_ref, reorder_below, piece_mg, notes. Masses in
    milligrams. Raises BadFact, with the field it is about.
    """
    if kind not in MEASURES:
        raise BadFact(f"“{kind}” is no kind of item that the stores know.", field="kind")
    item = Item(kind=kind, name=name, measure=measure or MEASURES[kind][0])
    return _keep(item, facts=facts or {}, about=about, on=None)


def change_item(
    item: Item, *, facts: Mapping[str, object] | None = None, on: date | None = None, **about
) -> Item:
    """
    Change what is known of an item; what is not named stays.

    How it is measured stands once there is a lot of it: the ledger counts in that measure.
    """
    return _keep(item, facts=facts or {}, about=about, on=on)


def measure_fixed(item: Item) -> bool:
    """Return whether an item's measure can no longer change."""
    return len(MEASURES[item.kind]) == 1 or (item.pk is not None and item.lots.exists())


def _keep(item: Item, *, facts, about, on: date | None) -> Item:
    with transaction.atomic():
        if item.pk:
            stored = Item.objects.select_for_update().get(pk=item.pk)
            measure = about.get("measure") or stored.measure
            if measure != stored.measure and stored.lots.exists():
                raise BadFact(
                    f"{stored.name} is kept {stored.get_measure_display()} and there are lots of "
                    "it, so that cannot change; enter a new item for the other measure.",
                    field="measure",
                )
            item.kind = stored.kind
        for field, value in about.items():
            setattr(item, field, value)
        check_item(item)
        try:
            with transaction.atomic():
                item.save()
        except IntegrityError as problem:
            raise _name_taken(item) from problem
        if item.kind in FACTS:
            known = facts_of(item)
            for field, value in facts.items():
                setattr(known, field, value)
            check_facts(known, on=on)
            known.item = item
            known.save()
    return item


# --- what can be true ----------------------------------------------------------------------------


def check_item(item: Item) -> None:
    """Raise BadFact where an item's own fields cannot be."""
    item.name = " ".join(str(item.name).split())
    if not item.name:
        raise BadFact("An item needs a name, such as “soy blend” or “clear tumbler”.", field="name")
    if len(item.name) > 120:
        raise BadFact(f"The name is {len(item.name)} letters long; 120 are kept.", field="name")
    if item.measure not in MEASURES[item.kind]:
        raise BadFact(
            f"{Kind(item.kind).label.capitalize()} is kept "
            f"{Measure(MEASURES[item.kind][0]).label} here, not {item.measure}.",
            field="measure",
        )
    same = Item.objects.filter(kind=item.kind, name__iexact=item.name).exclude(pk=item.pk)
    if same.exists():
        raise _name_taken(item)
    if item.piece_mg is not None and item.piece_mg <= 0:
        raise BadFact("One piece weighs more than nothing.", field="piece_mg")


def _name_taken(item: Item) -> BadFact:
    return BadFact(
        f"There is a {Kind(item.kind).label} called “{item.name}” already; "
        "add what tells this one apart, such as its size.",
        field="name",
    )


def check_facts(facts, *, on: date | None = None) -> None:
    """Raise BadFact where what is said of an item cannot be. ``on``: today, where it is known."""
    for model, check in (
        (WaxFacts, _check_wax),
        (OilFacts, _check_oil),
        (VesselFacts, _check_vessel),
        (WickFacts, _check_wick),
    ):
        if isinstance(facts, model):
            check(facts, on)


def _check_wax(facts: WaxFacts, on: date | None) -> None:
    most = 50 if facts.max_load_basis == Basis.OF_WHOLE else 100
    _within(facts, "max_load_pct", "The most oil it takes", 0, most, "%")
    low, high = DENSITY_RANGE_G_PER_ML
    for field, what in (
        ("density_cold_g_ml", "The density when set"),
        ("density_liquid_g_ml", "The density when liquid"),
    ):
        _within(
            facts, field, what, Decimal(str(low)), Decimal(str(high)), "g/ml; most are near 0.9"
        )
    cold, liquid = facts.density_cold_g_ml, facts.density_liquid_g_ml
    if cold is not None and liquid is not None and liquid > cold:
        raise BadFact(
            f"Liquid wax is lighter than set wax: {liquid:f} g/ml is above {cold:f}. "
            "Are they the wrong way round?",
            field="density_liquid_g_ml",
        )
    for field, what in (
        ("melt_to_c", "The melting temperature"),
        ("add_at_c", "The adding temperature"),
        ("pour_at_c", "The pouring temperature"),
    ):
        _within(facts, field, what, 25, 150, "°C")
    _within(facts, "never_above_c", "The highest temperature", 40, 250, "°C")
    for field, what in (("melt_to_c", "melt to"), ("add_at_c", "add at"), ("pour_at_c", "pour at")):
        value, most = getattr(facts, field), facts.never_above_c
        if value is not None and most is not None and value > most:
            raise BadFact(
                f"“{what}” is {value:f} °C, but this wax must never be above {most:f} °C.",
                field=field,
            )
    _within(facts, "set_hours", "The time to set", 0, 500, "hours")
    _within(facts, "cure_days", "The cure", 0, 365, "days")


def _check_oil(facts: OilFacts, on: date | None) -> None:
    _within(facts, "flash_point_c", "The flash point", 0, 300, "°C")
    _within(facts, "density_g_ml", "The density", *OIL_DENSITY_RANGE_G_ML, "g/ml")
    limit = facts.max_pct_of_whole
    if limit is not None and not 0 <= limit <= 100:
        raise BadFact(
            f"The safety limit is {limit:f} % of the whole; it lies between 0 and 100 %.",
            field="max_pct_of_whole",
        )
    if limit is not None and not facts.limit_from.strip():
        raise BadFact(
            "Say whose limit it is, such as the certificate and its date: "
            "a limit without a source cannot be checked again.",
            field="limit_from",
        )
    _day(facts, "sheet_date", "The safety sheet", on)


def _check_vessel(facts: VesselFacts, on: date | None) -> None:
    _within(facts, "wall_mm", "The wall", 0, 50, "mm")
    _within(facts, "base_mm", "The base", 0, 50, "mm")
    facts.water_marks = facts.water_marks or []
    if facts.shape == Shape.TAPERED:
        for field, what in (
            ("inside_mm", "the inside diameter at the base"),
            ("top_inside_mm", "the inside diameter at the rim"),
            ("depth_mm", "the depth inside"),
        ):
            if getattr(facts, field) is None:
                raise BadFact(f"A tapered vessel needs {what}.", field=field)
    elif facts.shape == Shape.STRAIGHT:
        if facts.inside_mm is None:
            raise BadFact("A straight vessel needs its inside diameter.", field="inside_mm")
        if facts.depth_mm is None and facts.brim_ml is None:
            raise BadFact(
                "A straight vessel needs its depth inside, or what it holds to the brim.",
                field="depth_mm",
            )
    elif facts.brim_ml is None and not facts.water_marks:
        raise BadFact(
            "A vessel measured by water needs what it holds to the brim: stand it empty on the "
            "scale, fill it, and 1 g of water is 1 ml.",
            field="brim_ml",
        )
    try:
        core_vessel(facts).outline()
    except BadFact:
        raise
    except BadInput as problem:
        raise BadFact(str(problem)) from problem
    _day(facts, "leak_tested_on", "The leak test", on)


def _check_wick(facts: WickFacts, on: date | None) -> None:
    _within(facts, "length_mm", "The length", 5, 2000, "mm")
    _within(facts, "burn_rate_g_h", "The wax burnt an hour", Decimal("0.1"), 50, "g")


def _within(facts, field: str, what: str, low, high, unit: str) -> None:
    value = getattr(facts, field)
    if value is not None and not low <= value <= high:
        raise BadFact(
            f"{what} is {value} {unit.split(';')[0]}; it lies between {low} and {high} {unit}.",
            field=field,
        )


def _day(facts, field: str, what: str, on: date | None) -> None:
    value = getattr(facts, field)
    if value is None:
        return
    if not EARLIEST <= value <= LATEST:
        raise BadFact(f"{what} is dated {value:%Y-%m-%d}; check the year.", field=field)
    if on is not None and value > on:
        raise BadFact(f"{what} is dated {value:%Y-%m-%d}, which is still to come.", field=field)


# --- suppliers -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What is known of a supplier."""

    name: str
    contact: str = ""
    email: str = ""
    website: str = ""
    address: str = ""
    lead_days: int | None = None
    notes: str = ""


def keep_supplier(about: About, *, supplier: Supplier | None = None) -> Supplier:
    """Enter a supplier, or change what is known of one."""
    supplier = supplier or Supplier()
    for field in ("contact", "email", "website", "address", "lead_days", "notes"):
        setattr(supplier, field, getattr(about, field))
    supplier.name = " ".join(about.name.split())
    if not supplier.name:
        raise BadFact("A supplier needs a name.", field="name")
    if about.lead_days is not None and not 0 <= about.lead_days <= 365:
        raise BadFact(f"{about.lead_days} days to arrive; 0 to 365 are kept.", field="lead_days")
    with transaction.atomic():
        same = Supplier.objects.filter(name__iexact=supplier.name).exclude(pk=supplier.pk)
        if same.exists():
            raise BadFact(f"There is a supplier called “{supplier.name}” already.", field="name")
        supplier.save()
    return supplier
