"""
What the workshop's items are made of, as the simulations see them, and whose word that is.

A wax goes by one of the tables (or several in equal parts), chosen by the maker or guessed from its
name; its set density is the item's own where that is entered. Over both stand the maker's values.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction

from django.db import transaction

from pourwright.core.amounts import number, parse_number, parse_temperature, show_temperature
from pourwright.core.errors import BadInput
from pourwright.core.heat.materials import (
    WALL_VALUES,
    WALLS,
    WAX_VALUES,
    WAXES,
    FlameValues,
    Origin,
    Wall,
    Wax,
    blend,
    flame_values,
    wall,
    wax,
)
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.heat.models import MaterialKind, MaterialOverride
from pourwright.workshop.pours.models import Melter
from pourwright.workshop.stores.models import Item, Kind, Material


class BadValue(BadInput):
    """A material's value that cannot be used, or one without its source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """How a value is shown and read: its words, its unit, and the unit's size in the core's."""

    words: str
    unit: str = ""
    size: float = 1.0
    temperature: bool = False


MEASURES: Mapping[str, Measure] = {
    "melting_start_c": Measure(words="Begins to melt", temperature=True),
    "melting_end_c": Measure(words="All liquid from", temperature=True),
    "latent_heat_j_kg": Measure(words="Heat of melting", unit="kJ/kg", size=1000),
    "density_kg_m3": Measure(words="Density", unit="g/ml", size=1000),
    "liquid_density_kg_m3": Measure(words="Density, melted", unit="g/ml", size=1000),
    "specific_heat_solid_j_kg_k": Measure(words="Specific heat, set", unit="kJ/(kg K)", size=1000),
    "specific_heat_liquid_j_kg_k": Measure(
        words="Specific heat, melted", unit="kJ/(kg K)", size=1000
    ),
    "conductivity_solid_w_m_k": Measure(words="Conductivity, set", unit="W/(m K)"),
    "conductivity_liquid_w_m_k": Measure(words="Conductivity, melted", unit="W/(m K)"),
    "heat_of_combustion_j_kg": Measure(words="Heat of combustion", unit="MJ/kg", size=1e6),
    "flash_point_c": Measure(words="Flash point", temperature=True),
    "air_per_fuel_kg_kg": Measure(words="Air that burning takes", unit="kg/kg"),
    "burn_rate_to_paraffin": Measure(words="Burn rate beside paraffin’s", unit="times"),
    "conductivity_w_m_k": Measure(words="Conductivity", unit="W/(m K)"),
    "specific_heat_j_kg_k": Measure(words="Specific heat", unit="kJ/(kg K)", size=1000),
    "emissivity": Measure(words="Emissivity"),
    "returned_share": Measure(words="Flame’s heat given back", unit="%", size=0.01),
    "radiated_share": Measure(words="Flame’s heat radiated", unit="%", size=0.01),
    "pool_mixing_outward": Measure(words="Pool’s mixing outward", unit="times"),
    "pool_mixing_down": Measure(words="Pool’s mixing downward", unit="times"),
    "source_width_mm": Measure(words="Spread of the heat round the wick", unit="mm"),
    "efficiency": Measure(words="Share of its power that the wax gets", unit="%", size=0.01),
}
FLAME_OFFERED = (
    "returned_share", "radiated_share", "pool_mixing_outward", "pool_mixing_down",
    "source_width_mm",
)  # fmt: skip
# Simulated by none of these: of no use to ask for.
NOT_OFFERED = ("thickness_mm", "liquid_density_kg_m3", "air_per_fuel_kg_kg")
OF_VESSELS = {
    Material.GLASS: "glass", Material.CERAMIC: "ceramic", Material.METAL: "tinplate",
    Material.CONCRETE: "concrete", Material.OTHER: "glass",
}  # fmt: skip
# What a wax of that word is nearest to; rapeseed is a hardened vegetable fat as soy is.
WORDS = {
    "soy": "soy", "soya": "soy", "rape": "soy", "rapeseed": "soy", "canola": "soy",
    "olive": "soy", "coconut": "coconut", "coco": "coconut", "paraffin": "paraffin",
    "beeswax": "beeswax", "bees": "beeswax",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One value of a material as the page shows it."""

    name: str
    measure: Measure
    value: float
    shown: str
    own: bool
    origin: Origin
    range: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A material: which tables it goes by, how that is known, its rows."""

    item: Item | None
    kinds: tuple[str, ...]
    guessed: bool
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()

    @property
    def own(self) -> int:
        return sum(row.own for row in self.rows)


def shown_value(name: str, value: float, units: str) -> str:
    """Return a value in the unit it is shown and read in."""
    measure = MEASURES[name]
    if measure.temperature:
        return show_temperature(fraction_of(value, 10), units)
    return f"{value / measure.size:.4g} {measure.unit}".strip()


def fraction_of(value: float, parts: int) -> Fraction:
    """Return a float as an exact fraction, rounded to so many parts of one."""
    return Fraction(round(value * parts), parts)


# --- the maker's own values ----------------------------------------------------------------------


def own_values(
    *, item: Item | None = None, melter: Melter | None = None
) -> dict[str, MaterialOverride]:
    """Return the values that count, by name: of an item, of a melter, or (neither) of the flame."""
    found: dict[str, MaterialOverride] = {}
    rows = MaterialOverride.objects.filter(item=item, melter=melter).order_by("pk")
    for row in rows:
        found[row.name] = row
    return {name: row for name, row in found.items() if row.value is not None}


def read_value(name: str, text: str, *, units: str) -> float:
    """Return a typed value in the core's unit."""
    measure = MEASURES[name]
    if measure.temperature:
        bare = "F" if units == "us" else "C"
        return float(parse_temperature(text, bare=bare, field=measure.words))
    bare = text.strip().removesuffix(measure.unit).strip() if measure.unit else text
    return float(parse_number(bare, field=measure.words)) * measure.size


def keep_value(
    *, name: str, value: float | None, source: str, by: str, at: datetime,
    item: Item | None = None, melter: Melter | None = None,
) -> MaterialOverride:  # fmt: skip
    """
    Keep the maker's own value, or with None go back to the table's.

    Raises BadInput where the material could not be with it; the core says why.
    """
    if name not in MEASURES:
        raise BadValue(f'There is no value "{name}" to set.')
    if value is not None and not source.strip():
        raise BadValue("Say where the value is from: a sheet, its date, your own measurement.")
    with transaction.atomic():
        kept = MaterialOverride.objects.create(
            item=item, melter=melter, name=name, value=value, by=by.strip(), at=at,
            source=source.strip() or "back to the table",
        )  # fmt: skip
        _refuse_impossible(kept)
    return kept


def _refuse_impossible(kept: MaterialOverride) -> None:
    item, value = kept.item, kept.value
    if value is None:
        return
    if kept.name == "efficiency" and not 0.05 <= value <= 1:
        raise BadValue(f"Of its power the wax gets {value:.0%}; it is 5 to 100 %.")
    if item is None and kept.melter is None:
        flame = flame_of_workshop()
        if not 0 < flame.returned_share + flame.radiated_share < 0.8:
            raise BadValue("Of the flame’s heat less than 80 % goes back and is radiated in all.")
        if min(flame.pool_mixing_outward, flame.pool_mixing_down, flame.source_width_mm) <= 0:
            raise BadValue(f"{MEASURES[kept.name].words} is {value:g}; give more than 0.")
    elif item is not None and item.kind == Kind.WAX:
        wax_of_item(item)
    elif item is not None and item.kind == Kind.VESSEL:
        wall_of_item(item)


def keep_kind(item: Item, *, kinds: Iterable[str], by: str, at: datetime) -> MaterialKind:
    """Choose the tables that an item goes by."""
    chosen = tuple(dict.fromkeys(kinds))
    offered = WAXES if item.kind == Kind.WAX else WALLS
    if not chosen or any(kind not in offered for kind in chosen):
        raise BadValue(f"Choose from {', '.join(offered)}.")
    kept, _ = MaterialKind.objects.update_or_create(
        item=item, defaults={"kinds": ",".join(chosen), "by": by.strip(), "at": at}
    )
    return kept


def kinds_of(item: Item) -> tuple[tuple[str, ...], bool]:
    """Return the tables that an item goes by, and whether they are only guessed."""
    chosen = MaterialKind.objects.filter(item=item).first()
    if chosen is not None:
        return tuple(chosen.kinds.split(",")), False
    if item.kind == Kind.VESSEL:
        facts = facts_of(item, "vessel")
        material = Material(facts.material) if facts else Material.GLASS
        return (OF_VESSELS[material],), material == Material.OTHER
    words = re.findall(r"[a-z]+", item.name.lower())
    found = tuple(dict.fromkeys(WORDS[word] for word in words if word in WORDS))
    return found or ("soy",), True


# --- as the core sees them -----------------------------------------------------------------------


def wax_of_item(item: Item) -> Wax:
    """Return a wax of the stores; its own set density and the maker's values over the table's."""
    kinds, _ = kinds_of(item)
    base = blend([(wax(kind), 1) for kind in kinds])
    given, origins = {}, dict(base.origins)
    facts = facts_of(item, "wax")
    if facts is not None and facts.density_cold_g_ml is not None:
        given["density_kg_m3"] = float(facts.density_cold_g_ml) * 1000
        source = facts.figures_from or "no source noted"
        origins["density_kg_m3"] = Origin(source=f"the item’s own: {source}", status="entered")
    for name, row in own_values(item=item).items():
        given[name] = row.value
        origins[name] = Origin(source=row.source, status="your own")
    notes = base.notes if not {"melting_start_c", "melting_end_c"} <= given.keys() else ()
    return replace(base, name=item.name, origins=origins, notes=notes, **given)


def wax_of(version: DesignVersion) -> Wax:
    """Return the wax of a design's formula, blended by mass; the oil is counted as wax."""
    return blended(
        (part.item, float(part.share))
        for part in version.formula_version.waxes.select_related("item__wax")
    )


def blended(parts: Iterable[tuple[Item, float]]) -> Wax:
    """Return waxes of the stores blended by mass."""
    return blend([(wax_of_item(item), share) for item, share in parts])


def wall_of_item(item: Item) -> Wall:
    """Return a vessel's material with its own wall's thickness."""
    kinds, _ = kinds_of(item)
    facts = facts_of(item, "vessel")
    given = {name: row.value for name, row in own_values(item=item).items()}
    origins = {
        name: Origin(source=row.source, status="your own")
        for name, row in own_values(item=item).items()
    }
    if facts is not None:
        given["thickness_mm"] = float(facts.wall_mm)
        origins["thickness_mm"] = Origin(source="the item’s own", status="entered")
    made = wall(kinds[0], **{k: v for k, v in given.items() if k in WALL_VALUES})
    return replace(made, origins={**made.origins, **origins})


def flame_of_workshop() -> FlameValues:
    """Return the flame's values with the maker's own."""
    return flame_values(**{name: row.value for name, row in own_values().items()})


# --- as a page shows them ------------------------------------------------------------------------


def known(item: Item, *, units: str) -> Known:
    """Return an item's values with their sources; of a wick its burn rate alone."""
    kinds, guessed = kinds_of(item)
    is_wax = item.kind == Kind.WAX
    made = wax_of_item(item) if is_wax else wall_of_item(item)
    names = [n for n in MEASURES if n in (WAX_VALUES if is_wax else WALL_VALUES)]
    return Known(
        item=item, kinds=kinds, guessed=guessed, notes=getattr(made, "notes", ()),
        rows=tuple(
            _row(name, getattr(made, name), made.origins[name], units)
            for name in names if name not in NOT_OFFERED
        ),
    )  # fmt: skip


def known_flame(*, units: str) -> Known:
    flame, own = flame_of_workshop(), own_values()
    origins = {
        name: Origin(source=own[name].source, status="your own")
        if name in own else flame.origins[name]
        for name in FLAME_OFFERED
    }  # fmt: skip
    return Known(
        item=None, kinds=("flame",), guessed=False,
        rows=tuple(_row(n, getattr(flame, n), origins[n], units) for n in FLAME_OFFERED),
    )  # fmt: skip


def _row(name: str, value: float, origin: Origin, units: str) -> Row:
    ends = ""
    if origin.low is not None and origin.high is not None:
        low, high = (shown_value(name, end, units) for end in (origin.low, origin.high))
        unit = MEASURES[name].unit
        ends = f"{low.removesuffix(unit).strip()} to {high}"
    return Row(
        name=name, measure=MEASURES[name], value=value, shown=shown_value(name, value, units),
        own=origin.status == "your own", origin=origin, range=ends,
    )  # fmt: skip


def offered(item: Item | None) -> tuple[str, ...]:
    """Return the names of the values that can be set: of an item, or (None) of the flame."""
    if item is None:
        return FLAME_OFFERED
    names = WAX_VALUES if item.kind == Kind.WAX else WALL_VALUES
    return tuple(name for name in MEASURES if name in names and name not in NOT_OFFERED)


def plain(value: float, places: int = 1) -> str:
    return number(fraction_of(value, 10**places), places=places, strip=True)
