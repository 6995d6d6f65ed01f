"""
What changes designs, and what a design version is to the core: its vessel, fill and drawing.

A version that was poured, or on which a gate was decided, never changes; revising it makes the
next one, which is not released.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from django.db import transaction

from pourwright.core import formula as core
from pourwright.core.amounts import from_mg, show_mass
from pourwright.core.contents import parse_declared
from pourwright.core.contents.declared import Declared, largest_true
from pourwright.core.errors import BadInput
from pourwright.core.vessel.fill import Fill, fill_by_weight
from pourwright.core.vessel.shapes import BrimOnly
from pourwright.core.vessel.vessel import Vessel
from pourwright.papers.candle import CandleDrawing, drawing_of, icon_svg
from pourwright.workshop.designs.models import Design, DesignPart, DesignVersion, Stage
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.formulas.services import core_formula, facts_of, with_parts
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores import drawings
from pourwright.workshop.stores.models import Item, Kind, Measure

# Drawn with where the wax's own density is not entered; no figure is shown from it.
# Common practice, no source: most container waxes are near it.
DRAWN_DENSITY_G_ML = 0.90
# What an icon's square stands for, so that vessels in a list compare.
ICON_FRAME_MM = 110.0
MOST_WICKS = 10


class CannotDesign(BadInput):
    """What was given does not make a design."""


PartLine = tuple[Item, int, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignSpec:
    """
    What a candle is made of. ``fill_mg`` is wax and oil; a part's quantity is pieces, or
    milligrams of what is weighed, for each candle at a stage; money in 1/100 of the minor unit.
    """

    formula_version: FormulaVersion
    vessel: Item
    wick: Item
    fill_mg: int
    declared: str = ""
    wick_count: int = 1
    parts: Sequence[PartLine] = ()
    trim_mm: Decimal = Decimal(6)
    cure_days: int | None = None
    best_before_months: int | None = None
    minutes_each: Decimal = Decimal(0)
    price_minor100: int | None = None
    wholesale_minor100: int | None = None
    markets: str = ""
    note: str = ""


PLAIN_FACTS = (
    "wick_count", "fill_mg", "declared", "trim_mm", "cure_days", "best_before_months",
    "minutes_each", "price_minor100", "wholesale_minor100", "markets", "note",
)  # fmt: skip


def spec_of(version: DesignVersion) -> DesignSpec:
    """Return what a version says, to compare it or to start from it."""
    return DesignSpec(
        formula_version=version.formula_version,
        vessel=version.vessel,
        wick=version.wick,
        parts=[(part.item, part.qty, part.stage) for part in parts_of(version)],
        **{fact: getattr(version, fact) for fact in PLAIN_FACTS},
    )


def parts_of(version: DesignVersion):
    """Return a version's parts with their items, from a prefetch where there is one."""
    if "parts" in getattr(version, "_prefetched_objects_cache", {}):
        return version.parts.all()
    return version.parts.select_related("item")


# --- writing -------------------------------------------------------------------------------------


def new_design(*, name: str, label_name: str = "", spec: DesignSpec, on: date) -> DesignVersion:
    """Make a design with its first version, and the item that its candles are kept as."""
    name = _free_name(name)
    check(spec)
    with transaction.atomic():
        candle = Item.objects.create(kind=Kind.CANDLE, name=name, measure=Measure.COUNT)
        design = Design.objects.create(name=name, label_name=label_name.strip(), candle=candle)
        return _write(DesignVersion(design=design, number=1, made_on=on), spec)


def revise(design: Design, *, spec: DesignSpec, on: date) -> DesignVersion:
    """
    Change a design's newest version, or make the next one where that one is fixed.

    Where nothing differs the newest version is returned as it is.
    """
    check(spec)
    with transaction.atomic():
        design = Design.objects.select_for_update().get(pk=design.pk)
        newest = newest_version(design)
        if newest is not None and same(spec_of(newest), spec):
            return newest
        if newest is None or is_fixed(newest):
            number = newest.number + 1 if newest else 1
            return _write(DesignVersion(design=design, number=number, made_on=on), spec)
        newest.parts.all().delete()
        return _write(newest, spec)


def describe(design: Design, *, name: str, label_name: str = "") -> Design:
    """Rename a design or its label; no version changes by that."""
    with transaction.atomic():
        design = Design.objects.select_for_update().get(pk=design.pk)
        if name.strip() != design.name:
            design.name = _free_name(name)
            Item.objects.filter(pk=design.candle_id).update(name=design.name)
        design.label_name = label_name.strip()
        design.save(update_fields=["name", "label_name"])
    return design


def change(
    design: Design, *, name: str, label_name: str = "", spec: DesignSpec, on: date
) -> DesignVersion:
    """Rename and revise in one step: both or neither."""
    with transaction.atomic():
        design = describe(design, name=name, label_name=label_name)
        return revise(design, spec=spec, on=on)


def retire(design: Design, *, retired: bool = True) -> None:
    """Take a design out of the lists, or put it back; its versions and lots stay."""
    Design.objects.filter(pk=design.pk).update(retired=retired)
    Item.objects.filter(pk=design.candle_id).update(retired=retired)


def newest_version(design: Design) -> DesignVersion | None:
    return (
        design.versions.select_related("formula_version__formula", "vessel__vessel", "wick__wick")
        .order_by("-number")
        .first()
    )


def is_fixed(version: DesignVersion) -> bool:
    """Return whether a version must stay as it is: poured, or decided on at the gate."""
    return version.used or version.decisions.exists()


def same(one: DesignSpec, other: DesignSpec) -> bool:
    """Return whether two specifications say the same, however their numbers are written."""
    return _plain(one) == _plain(other)


def _plain(spec: DesignSpec):
    return (
        spec.formula_version.pk,
        spec.vessel.pk,
        spec.wick.pk,
        [(item.pk, qty, str(stage)) for item, qty, stage in spec.parts],
        [getattr(spec, fact) for fact in PLAIN_FACTS],
    )


def _free_name(name: str) -> str:
    name = name.strip()
    if not name:
        raise CannotDesign("A design needs a name, such as its scent and its vessel.")
    if Design.objects.filter(name=name).exists():
        raise CannotDesign(
            f"There is a design “{name}” already; give this one another name, or revise that one."
        )
    return name


PART_KINDS = (Kind.PART, Kind.ADDITIVE, Kind.DYE)


def check(spec: DesignSpec) -> None:
    """Refuse what is no candle: wrong kinds of thing, no fill, or more than the vessel holds."""
    if spec.vessel.kind != Kind.VESSEL:
        raise CannotDesign(f"“{spec.vessel.name}” is not kept as a vessel; choose one that is.")
    if spec.wick.kind != Kind.WICK:
        raise CannotDesign(f"“{spec.wick.name}” is not kept as a wick; choose one that is.")
    if not 1 <= spec.wick_count <= MOST_WICKS:
        raise CannotDesign(f"{spec.wick_count} wicks; a candle here has 1 to {MOST_WICKS}.")
    if spec.fill_mg is None or spec.fill_mg <= 0:
        raise CannotDesign("The fill weight is how much wax and oil goes in; give more than 0.")
    if spec.declared.strip():
        _refuse_overstated(parse_declared(spec.declared, field="Net weight on the label"), spec)
    if spec.minutes_each < 0:
        raise CannotDesign(f"{spec.minutes_each} minutes of work; give 0 or more.")
    seen = set()
    for item, qty, stage in spec.parts:
        if item.kind not in PART_KINDS:
            raise CannotDesign(
                f"“{item.name}” is kept as {Kind(item.kind).label}; a part here is packaging, "
                "tabs, labels and the like."
            )
        if qty <= 0:
            raise CannotDesign(f"{item.name}: {qty} for each candle; give more than 0.")
        if stage not in Stage.values:
            raise CannotDesign(f"{item.name}: it is used when poured or when finished.")
        if (item.pk, str(stage)) in seen:
            raise CannotDesign(f"{item.name} is given twice; give each part once at a stage.")
        seen.add((item.pk, str(stage)))
    # Overfull says by how much; what is not known yet stays open at the gate.
    vessel = core_vessel(spec.vessel)
    formula = core_formula(spec.formula_version)
    if vessel is not None and cold_density_g_ml(formula) is not None:
        fill_in(vessel, formula, spec.fill_mg)


def _refuse_overstated(declared: Declared, spec: DesignSpec) -> None:
    """Refuse a label that says more than is poured: no check of a lot could pass it."""
    if declared.enforced_g > from_mg(spec.fill_mg):
        raise CannotDesign(
            f"The label would say {declared.text}, which is more than the fill weight of "
            f"{show_mass(from_mg(spec.fill_mg), 'metric')}; declare less, or fill more."
        )


def _write(version: DesignVersion, spec: DesignSpec) -> DesignVersion:
    FormulaVersion.objects.filter(pk=spec.formula_version.pk).update(used=True)
    spec.formula_version.used = True
    version.formula_version = spec.formula_version
    version.vessel = spec.vessel
    version.wick = spec.wick
    for fact in PLAIN_FACTS:
        setattr(version, fact, getattr(spec, fact))
    version.save()
    DesignPart.objects.bulk_create(
        DesignPart(version=version, item=item, qty=qty, stage=stage)
        for item, qty, stage in spec.parts
    )
    return version


# --- as the core sees it -------------------------------------------------------------------------


def core_vessel(item: Item) -> Vessel | None:
    """Return a vessel item as the core computes with it; None where too little is measured."""
    facts = facts_of(item, "vessel")
    if facts is None:
        return None
    try:
        return drawings.core_vessel(facts)
    except BadInput:
        return None


def cold_density_g_ml(formula: core.Formula) -> float | None:
    """
    Return the set wax's density, if it is known of every wax of the blend.

    Rule of ideal mixing, 1/rho = sum of w/rho; the oil is counted as wax, as makers do (its own
    density is within a tenth of the wax's; common practice, no source).
    """
    volume = Fraction(0)
    for part, share in zip(formula.waxes, formula.wax_fractions, strict=True):
        if not part.density_g_per_ml:
            return None
        volume += share / part.density_g_per_ml
    return float(1 / volume)


def fill_in(vessel: Vessel, formula: core.Formula, fill_mg: int) -> Fill | None:
    """Return how a fill stands in a vessel; None where the wax's density is not known."""
    cold = cold_density_g_ml(formula)
    if cold is None:
        return None
    liquid = formula.liquid_density_g_per_ml
    return fill_by_weight(
        vessel,
        fill_g=fill_mg / 1000,
        density_g_per_ml=cold,
        liquid_density_g_per_ml=None if liquid is None else float(liquid),
    )


def fill_of(version: DesignVersion) -> Fill | None:
    """Return a version's fill; None where vessel or wax are not measured. Raises Overfull."""
    vessel = core_vessel(version.vessel)
    if vessel is None:
        return None
    return fill_in(vessel, core_formula(version.formula_version), version.fill_mg)


def drawing(version: DesignVersion) -> CandleDrawing:
    """Return the candle's drawing to scale; what is not measured is drawn as a stand-in."""
    return draw(
        vessel=core_vessel(version.vessel),
        density_g_ml=cold_density_g_ml(core_formula(version.formula_version)),
        fill_mg=version.fill_mg,
        wick_count=version.wick_count,
        trim_mm=float(version.trim_mm),
        name=version.design.name,
    )


def draw(
    *,
    vessel: Vessel | None,
    density_g_ml: float | None,
    fill_mg: int,
    wick_count: int,
    trim_mm: float = 6.0,
    name: str = "",
) -> CandleDrawing:
    """Return the drawing of a fill in a vessel, full to the brim where it would run over."""
    fill_ml = fill_mg / 1000 / (density_g_ml or DRAWN_DENSITY_G_ML)
    if vessel is None:
        vessel = Vessel(shape=BrimOnly(volume_to_brim_ml=max(fill_ml / 0.8, 1.0)))
    return drawing_of(
        vessel,
        fill_ml=min(fill_ml, vessel.brim_ml),
        wick_count=wick_count,
        wick_height_mm=trim_mm,
        name=name,
    )


@lru_cache(maxsize=4096)
def icon_of(picture: CandleDrawing) -> str:
    """Return a drawing as its icon for lists; kept by content."""
    return str(icon_svg(picture, frame_mm=ICON_FRAME_MM))


def icon(version: DesignVersion) -> str:
    """Return a version's icon. Lists load versions with ``for_icons``."""
    return icon_of(drawing(version))


def for_icons(versions):
    """Return a queryset of versions with all that ``icon`` needs, in four queries in all."""
    return versions.select_related("design", "formula_version", "vessel__vessel").prefetch_related(
        *with_parts("formula_version__")
    )


def declared_of(version: DesignVersion) -> tuple[Declared, bool]:
    """
    Return the net weight on a version's label, and whether it is only proposed.

    Proposed is the largest whole number of grams that the fill weight bears out.
    """
    if version.declared:
        return parse_declared(version.declared), False
    return largest_true(from_mg(version.fill_mg), "eu"), True


def cure_days(version: DesignVersion, workshop: Workshop) -> int:
    """Return how long a candle cures: by its design, else the longest of its waxes, else ours."""
    if version.cure_days is not None:
        return version.cure_days
    known = [
        facts.cure_days
        for part in version.formula_version.waxes.select_related("item__wax")
        if (facts := facts_of(part.item, "wax")) and facts.cure_days is not None
    ]
    return max(known, default=workshop.cure_days)


def markets_of(version: DesignVersion, workshop: Workshop) -> list[str]:
    """Return where a candle is sold: its own markets, else the workshop's."""
    own = [market.strip() for market in version.markets.split(",") if market.strip()]
    return own or workshop.market_list
