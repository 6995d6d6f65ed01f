"""How long a melter takes for a mass of wax, and the heat left for the pour."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from math import pi

from pourwright.core.heat.materials import Wax
from pourwright.core.heat.melting import EFFICIENCY, EFFICIENCY_SOURCE, Melt, melt
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.heat.materials import blended, own_values
from pourwright.workshop.pours.models import Melter, Pour, Use
from pourwright.workshop.stores.models import Item, Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltAsk:
    """A melt: milligrams, watts, °C, per cent; ``pot_mm`` is the pot's inside diameter."""

    mass_mg: int
    power_w: float
    start_c: Decimal
    melt_to_c: Decimal
    pour_c: Decimal | None
    efficiency_pct: Decimal
    pot_mm: Decimal | None = None


def efficiency_of(melter: Melter) -> tuple[float, str]:
    """Return the share of its power that the wax gets, and whose word that is."""
    own = own_values(melter=melter).get("efficiency")
    return (EFFICIENCY, EFFICIENCY_SOURCE) if own is None else (own.value, own.source)


def parts_of_pour(pour: Pour) -> list[tuple[Item, int]]:
    """Return the waxes of a pour's melt with their milligrams, as weighed or as planned."""
    found: dict[int, tuple[Item, int]] = {}
    takes = pour.takes.filter(use__in=(Use.WAX, Use.REMELT)).select_related("item__wax")
    for take in takes:
        if take.item.kind == Kind.WAX:
            mg = take.actual if take.actual is not None else take.target
            found[take.item_id] = (take.item, found.get(take.item_id, (None, 0))[1] + mg)
    return list(found.values())


def waxes() -> list[Item]:
    return list(
        Item.objects.filter(kind=Kind.WAX, retired=False).select_related("wax").order_by("name")
    )


def temperatures_of(items: list[Item]) -> tuple[Decimal | None, Decimal | None]:
    """Return what the waxes' facts say to melt to and to pour at: the highest of each."""
    facts = [found for item in items if (found := facts_of(item, "wax"))]
    melt_to = max((f.melt_to_c for f in facts if f.melt_to_c is not None), default=None)
    pour = max((f.pour_at_c for f in facts if f.pour_at_c is not None), default=None)
    return melt_to, pour


def melted(parts: list[tuple[Item, float]], ask: MeltAsk, *, air_c: float = 21.0) -> Melt:
    """Return what the melt takes; raises the core's BadInput for one that cannot be."""
    wax = blended(parts)
    return melt(
        wax, mass_kg=ask.mass_mg / 1e6, power_w=ask.power_w, start_c=float(ask.start_c),
        melt_to_c=float(ask.melt_to_c), efficiency=float(ask.efficiency_pct) / 100,
        pour_c=None if ask.pour_c is None else float(ask.pour_c),
        pot_area_m2=None if ask.pot_mm is None else _pot_area_m2(wax, ask), air_c=air_c,
    )  # fmt: skip


def _pot_area_m2(wax: Wax, ask: MeltAsk) -> float:
    """Return the surface of the wax in a round pot: top, base and the side that it wets."""
    across = float(ask.pot_mm) / 1000
    flat = pi * across**2 / 4
    return 2 * flat + pi * across * (ask.mass_mg / 1e6 / wax.liquid_density_kg_m3) / flat
