"""What the design pages read: the list, a version's facts, its lots, differences in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import OuterRef, Prefetch, Subquery
from django.urls import reverse

from pourwright.core.amounts import from_mg, number, show_length, show_mass, show_money
from pourwright.core.errors import BadInput
from pourwright.core.formula import Formula as CoreFormula
from pourwright.core.vessel.fill import Fill, NormalFill, normal_fill
from pourwright.papers.candle import CandleDrawing
from pourwright.papers.charts import Bar, Part, stacked_bar_svg
from pourwright.workshop.designs import services
from pourwright.workshop.designs.costing import Estimate, estimates
from pourwright.workshop.designs.models import Design, DesignPart, DesignVersion, Stage
from pourwright.workshop.designs.services import DesignSpec
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.formulas.services import core_formula, with_parts
from pourwright.workshop.gates.services import released_ids
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.ledger import qty_by_item
from pourwright.workshop.stores.models import Balance, Item, Kind, Lot, Place


def listed(*, retired: bool = False):
    newest = DesignVersion.objects.filter(design=OuterRef("pk")).order_by("-number")
    return (
        Design.objects.filter(retired=retired)
        .annotate(newest_id=Subquery(newest.values("pk")[:1]))
        .order_by("name")
    )


def lacking() -> list[tuple[str, str]]:
    """Return what no design can be made without and is not there, each with where it is entered."""
    found = []
    if not Formula.objects.filter(retired=False).exists():
        found.append(("a formula", reverse("formulas:new")))
    for kind in (Kind.VESSEL, Kind.WICK):
        if not Item.objects.filter(kind=kind, retired=False).exists():
            found.append((f"a {kind.label}", reverse("stores:item_new", args=[kind])))
    return found


def versions_with_all():
    """Return versions with everything that drawing, costing and facts read, in a few queries."""
    return DesignVersion.objects.select_related(
        "design", "formula_version__formula", "vessel__vessel", "wick__wick"
    ).prefetch_related(
        *with_parts("formula_version__"),
        Prefetch("parts", DesignPart.objects.select_related("item")),
    )


def with_newest(rows: Sequence[Design], workshop: Workshop) -> None:
    """Put on each listed design its newest version, icon, stock, cost and state of release."""
    versions = versions_with_all().in_bulk([row.newest_id for row in rows if row.newest_id])
    costs = estimates(list(versions.values()), workshop)
    released = _released_numbers(rows)
    on_shelf = qty_by_item([row.candle_id for row in rows], Place.SHELF)
    for row in rows:
        row.on_shelf = on_shelf.get(row.candle_id)
        row.newest = versions.get(row.newest_id)
        if row.newest:
            row.icon = services.icon(row.newest)
            row.cost = costs[row.newest_id].breakdown.total_minor100
            row.unpriced = bool(costs[row.newest_id].unpriced)
            numbers = released.get(row.pk, [])
            row.released = row.newest.number in numbers
            row.earlier = max(numbers, default=None)


def _released_numbers(rows: Sequence[Design]) -> dict[int, list[int]]:
    """Return the numbers of the released versions of each design, by the design's key."""
    numbers = {
        pk: (design, number)
        for pk, design, number in DesignVersion.objects.filter(design__in=rows).values_list(
            "pk", "design_id", "number"
        )
    }
    found: dict[int, list[int]] = {}
    for pk in released_ids(DesignVersion, numbers):
        design, number = numbers[pk]
        found.setdefault(design, []).append(number)
    return found


# --- a version's facts ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """How a fill stands in its vessel, as far as is known; ``problem``: what does not fit."""

    fill: Fill | None
    normal: NormalFill | None
    load_pct_of_wax: Fraction
    load_pct_of_whole: Fraction
    problem: str = ""
    unknown: tuple[str, ...] = ()

    @property
    def normal_mg(self) -> tuple[int, int] | None:
        """Return the common range of fill in milligrams."""
        if self.normal is None:
            return None
        return round(self.normal.low_g) * 1000, round(self.normal.high_g) * 1000


def facts_of(spec: DesignSpec) -> Facts:
    """Return the facts of a design version or of what a form says so far."""
    formula = core_formula(spec.formula_version)
    vessel = services.core_vessel(spec.vessel)
    density = services.cold_density_g_ml(formula)
    unknown = []
    if vessel is None:
        unknown.append("size of the vessel")
    if density is None:
        unknown.append("cold density of the wax")
    fill, normal, problem = None, None, ""
    if vessel is not None and density is not None:
        try:
            normal = normal_fill(vessel, density_g_per_ml=density)
            fill = services.fill_in(vessel, formula, spec.fill_mg)
        except BadInput as refused:
            problem = str(refused)
    if formula.liquid_density_g_per_ml is None:
        unknown.append("density of the melted wax")
    return Facts(
        fill=fill, normal=normal, problem=problem, unknown=tuple(unknown),
        load_pct_of_wax=formula.load_pct_of_wax, load_pct_of_whole=formula.load_pct_of_whole,
    )  # fmt: skip


def drawing_of(spec: DesignSpec, *, name: str = "") -> CandleDrawing:
    """Return the drawing of what a form says so far."""
    formula: CoreFormula = core_formula(spec.formula_version)
    return services.draw(
        vessel=services.core_vessel(spec.vessel),
        density_g_ml=services.cold_density_g_ml(formula),
        fill_mg=spec.fill_mg,
        wick_count=spec.wick_count,
        trim_mm=float(spec.trim_mm),
        name=name,
    )


def cost_picture(found: Estimate, *, currency: str, width: float, prefix: str) -> str:
    """Return the estimated cost of one candle as a bar of its parts."""
    parts = tuple(
        Part(label=words, value=value, text=show_money(value, currency=currency))
        for _, words, value in found.breakdown.shown()
    )
    total = show_money(found.breakdown.total_minor100, currency=currency)
    return str(
        stacked_bar_svg(
            [Bar(label="one candle", parts=parts, text=total)],
            title="Estimated cost of one candle", width=width, prefix=prefix,
        )
    )  # fmt: skip


def lots_of(design: Design, *, most: int = 20):
    """Return the newest candle lots of a design, with what is on the shelf."""
    held = Balance.objects.filter(lot=OuterRef("pk"), place=Place.SHELF).values("qty")[:1]
    return (
        Lot.objects.filter(item=design.candle_id)
        .annotate(held=Subquery(held))
        .order_by("-began_on", "-id")[:most]
    )


# --- differences in words ------------------------------------------------------------------------


def differences(old: DesignSpec, new: DesignSpec, *, workshop: Workshop) -> list[str]:
    """Return in words what a design changed from the version before it."""
    units, words = workshop.units, []

    def said(what: str, before: object, after: object, show=str) -> None:
        if before != after:
            words.append(f"{what} {_or_none(before, show)} → {_or_none(after, show)}")

    said("formula", old.formula_version, new.formula_version)
    said("vessel", old.vessel, new.vessel)
    said("wick", old.wick, new.wick)
    said("wicks", old.wick_count, new.wick_count)
    said("fill", old.fill_mg, new.fill_mg, lambda mg: show_mass(from_mg(mg), units))
    said("net weight on the label", old.declared, new.declared, lambda text: text or "as proposed")
    said("trimmed to", old.trim_mm, new.trim_mm, lambda mm: show_length(_exact(mm), units))
    said("days to cure", old.cure_days, new.cure_days)
    said("best before, months", old.best_before_months, new.best_before_months)
    said("minutes of work", old.minutes_each, new.minutes_each, _plain)

    def money(value) -> str:
        return show_money(value, currency=workshop.currency)

    said("price", old.price_minor100, new.price_minor100, money)
    said("wholesale", old.wholesale_minor100, new.wholesale_minor100, money)
    said("sold in", old.markets, new.markets, lambda text: text or "the workshop’s markets")
    before, after = _parts(old), _parts(new)
    words += [f"{name} added" for name in after if name not in before]
    words += [f"{name} left out" for name in before if name not in after]
    words += [f"another number of {name}" for name in after
              if name in before and before[name] != after[name]]  # fmt: skip
    if old.note != new.note:
        words.append("another note")
    return words


def _parts(spec: DesignSpec) -> dict[str, int]:
    return {f"{item.name} {Stage(stage).label}": qty for item, qty, stage in spec.parts}


def _or_none(value, show) -> str:
    return "none" if value is None else show(value)


def _exact(value):
    return Fraction(value)


def _plain(value) -> str:
    return number(_exact(value), places=2, strip=True)
