"""
What waxes, vessels, air and flames are made of, as dated tables; each value says where it is from.

``wax("soy")``, ``wall("glass")``, ``flame_values()``; any value can be replaced, and is then marked
as the maker's own. Units are in the names: J, kg, m, W, K and degrees Celsius.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import date
from functools import cache
from math import isfinite
from types import MappingProxyType
from typing import Any

import numpy as np

from pourwright.core.errors import BadInput
from pourwright.core.rules import rule

NEWEST = date.max
WAXES = ("paraffin", "soy", "coconut", "beeswax")
WALLS = ("glass", "borosilicate", "ceramic", "tinplate", "stainless", "aluminium", "concrete")
OWN = "given by you"


class BadMaterial(BadInput):
    """A material, or a value of one, that cannot be used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a value is from: its source, its status, and the range it may lie in."""

    source: str
    status: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wax:
    """
    A wax as the solver sees it: solid, a melting range that takes up the latent heat, liquid.

    Between the two ends latent heat is spread evenly. ``origins`` tells where each value is from.
    """

    name: str
    density_kg_m3: float
    liquid_density_kg_m3: float
    specific_heat_solid_j_kg_k: float
    specific_heat_liquid_j_kg_k: float
    latent_heat_j_kg: float
    conductivity_solid_w_m_k: float
    conductivity_liquid_w_m_k: float
    melting_start_c: float
    melting_end_c: float
    heat_of_combustion_j_kg: float
    air_per_fuel_kg_kg: float
    burn_rate_to_paraffin: float
    flash_point_c: float
    origins: Mapping[str, Origin] = field(default_factory=dict, compare=False)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in WAX_VALUES:
            value = getattr(self, name)
            low, high = WAX_LIMITS.get(name, (0.0, float("inf")))
            if not (isfinite(value) and low < value < high):
                raise BadMaterial(
                    f"{_words(name)} of {self.name} is {value:g}; it is between {low:g} and "
                    f"{high:g}."
                )
        if self.melting_end_c - self.melting_start_c < 0.01:
            raise BadMaterial(
                f"The melting range of {self.name} is {self.melting_start_c:g} to "
                f"{self.melting_end_c:g} °C; its end is above its start."
            )

    def heat_j_kg(self, temp_c: float, *, from_c: float) -> float:
        """Return the heat that takes one kilogram from one temperature to another, J/kg."""
        return self._above_start(temp_c) - self._above_start(from_c)

    def _above_start(self, temp_c: float) -> float:
        start, end = self.melting_start_c, self.melting_end_c
        solid = self.specific_heat_solid_j_kg_k * min(temp_c - start, 0.0)
        melt = self.latent_heat_j_kg * min(max((temp_c - start) / (end - start), 0.0), 1.0)
        sensible = (
            (self.specific_heat_solid_j_kg_k + self.specific_heat_liquid_j_kg_k)
            / 2
            * min(max(temp_c - start, 0.0), end - start)
        )
        return solid + melt + sensible + self.specific_heat_liquid_j_kg_k * max(temp_c - end, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """A vessel's material and the thickness of its wall and base."""

    name: str
    conductivity_w_m_k: float
    density_kg_m3: float
    specific_heat_j_kg_k: float
    emissivity: float
    thickness_mm: float
    origins: Mapping[str, Origin] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        for name in WALL_VALUES:
            value = getattr(self, name)
            high = {"emissivity": 1.0, "thickness_mm": 40.0}.get(name, 1e5)
            if not (isfinite(value) and 0 < value <= high):
                raise BadMaterial(
                    f"{_words(name)} of {self.name} is {value:g}; it is above 0 and at most "
                    f"{high:g}."
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameValues:
    """The burn model's own values; ``origins`` tells where each is from."""

    radiated_share: float
    returned_share: float
    pool_mixing_outward: float
    pool_mixing_down: float
    flame_mm_base: float
    flame_mm_per_g_h: float
    pool_mm_base: float
    pool_mm_per_g_h: float
    source_width_mm: float
    flame_fail_mm: float
    flame_warn_mm: float
    smoke_point_least_mm: float
    source_heights_mm: tuple[float, ...]
    origins: Mapping[str, Origin] = field(default_factory=dict, compare=False)


WAX_VALUES = tuple(f.name for f in fields(Wax) if f.name not in ("name", "origins", "notes"))
WALL_VALUES = tuple(f.name for f in fields(Wall) if f.name not in ("name", "origins"))
WAX_LIMITS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "density_kg_m3": (500, 1500),
        "liquid_density_kg_m3": (500, 1500),
        "specific_heat_solid_j_kg_k": (500, 6000),
        "specific_heat_liquid_j_kg_k": (500, 6000),
        "latent_heat_j_kg": (1000, 500000),
        "conductivity_solid_w_m_k": (0.02, 5),
        "conductivity_liquid_w_m_k": (0.02, 5),
        "melting_start_c": (-50, 200),
        "melting_end_c": (-50, 200),
        "heat_of_combustion_j_kg": (5e6, 6e7),
        "flash_point_c": (30, 500),
    }
)


def wax(name: str, *, on: date = NEWEST, **given: float) -> Wax:
    """
    Return a wax by name, with any values given replacing the table's.

    Raises ``BadMaterial`` for a name that is no table's, or a value that no wax has.

    >>> soy = wax("soy", melting_end_c=50)
    >>> soy.melting_end_c, soy.origins["melting_end_c"].source
    (50, 'given by you')
    """
    values, origins = _read(name, WAXES, on, WAX_VALUES, given, "wax")
    return Wax(name=name, origins=origins, **values)


def wall(name: str, *, on: date = NEWEST, **given: float) -> Wall:
    """Return a vessel's material by name, with any values given replacing the table's."""
    values, origins = _read(name, WALLS, on, WALL_VALUES, given, "vessel material")
    return Wall(name=name, origins=origins, **values)


def flame_values(*, on: date = NEWEST, **given: float) -> FlameValues:
    """Return the burn model's values, with any values given replacing the table's."""
    names = tuple(
        f.name for f in fields(FlameValues) if f.name not in ("origins", "source_heights_mm")
    )
    values, origins = _read("flame", ("flame",), on, names, given, "table")
    heights = tuple(float(h) for h in rule("materials/flame", on=on)["source_heights_mm"])
    return FlameValues(origins=origins, source_heights_mm=heights, **values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Air at a temperature: W/(m K), kg/m3, m2/s."""

    conductivity_w_m_k: float
    density_kg_m3: float
    prandtl: float
    kinematic_viscosity_m2_s: float
    diffusivity_m2_s: float


def air(temp_c: float) -> Air:
    """
    Return dry air at one atmosphere, for 0 to 150 °C; density is 353/T beyond the table's ends.

    Source: values at 20, 40 and 60 °C by CoolProp; linear between and beyond.
    """
    k, rho, prandtl, diffusivity = (float(v) for v in air_values(np.asarray(temp_c)))
    return Air(
        conductivity_w_m_k=k,
        density_kg_m3=rho,
        prandtl=prandtl,
        kinematic_viscosity_m2_s=prandtl * diffusivity,
        diffusivity_m2_s=diffusivity,
    )


def air_values(temp_c: np.ndarray[Any, Any]) -> tuple[Any, Any, Any, Any]:
    """Return conductivity, density, Prandtl number and diffusivity of air for an array of °C."""
    at, columns, specific_heat = _air_table()
    k, rho, prandtl = (_along(temp_c, at, column) for column in columns)
    # Beyond the table's ends a straight line would in time reach zero; a gas never does.
    rho = np.where((temp_c < at[0]) | (temp_c > at[-1]), 353.05 / (temp_c + 273.15), rho)
    return k, rho, prandtl, k / (rho * specific_heat)


@cache
def _air_table() -> tuple[Any, tuple[Any, ...], float]:
    table = rule("materials/air", on=NEWEST)
    at, *columns = (
        np.array([float(v) for v in table[key]])
        for key in ("temperatures_c", "conductivity_w_m_k", "density_kg_m3", "prandtl")
    )
    return at, tuple(columns), float(table["specific_heat_j_kg_k"])


def blend(parts: Sequence[tuple[Wax, float]]) -> Wax:
    """
    Return a blend of waxes by mass share (any positive weights).

    Density by volume, 1/rho = sum of w/rho; heats and conductivities by mass; the melting range is
    never averaged: lowest start to highest end, with the latent heat spread over it. Measure it.
    Raises ``BadMaterial`` for no part or a weight that is not above zero.

    >>> both = blend([(wax("soy"), 1), (wax("beeswax"), 1)])
    >>> both.melting_start_c, both.melting_end_c
    (40.0, 64.0)
    """
    if not parts or any(not (isfinite(w) and w > 0) for _, w in parts):
        raise BadMaterial("A blend has at least one wax, each with a share above zero.")
    if len(parts) == 1:
        return parts[0][0]
    whole = sum(weight for _, weight in parts)
    share = [(part, weight / whole) for part, weight in parts]
    values: dict[str, float] = {
        name: sum(getattr(part, name) * w for part, w in share) for name in WAX_VALUES
    }
    for name in ("density_kg_m3", "liquid_density_kg_m3"):
        values[name] = 1 / sum(w / getattr(part, name) for part, w in share)
    values["melting_start_c"] = min(part.melting_start_c for part, _ in share)
    values["melting_end_c"] = max(part.melting_end_c for part, _ in share)
    values["flash_point_c"] = min(part.flash_point_c for part, _ in share)
    origin = Origin(source="worked out from the parts of the blend", status="derived")
    return Wax(
        name=" and ".join(part.name for part, _ in parts),
        origins=dict.fromkeys(WAX_VALUES, origin),
        notes=("The melting range of a blend is not an average: measure it.",),
        **values,
    )


def _read(
    name: str,
    known: Sequence[str],
    on: date,
    names: Sequence[str],
    given: Mapping[str, float],
    what: str,
) -> tuple[dict[str, Any], dict[str, Origin]]:
    if name not in known:
        raise BadMaterial(f'There is no {what} "{name}"; there are {", ".join(known)}.')
    if strange := sorted(set(given) - set(names)):
        raise BadMaterial(
            f'A {what} has no value "{strange[0]}"; it has {", ".join(sorted(names))}.'
        )
    table = rule(f"materials/{name}", on=on)
    values: dict[str, float] = {}
    origins: dict[str, Origin] = {}
    for key in names:
        if key in given:
            values[key], origins[key] = given[key], Origin(source=OWN, status=OWN)
            continue
        entry = table[key]
        values[key] = float(entry["value"])
        low, high = (None if entry.get(end) is None else float(entry[end]) for end in _ENDS)
        origins[key] = Origin(source=entry["source"], status=entry["status"], low=low, high=high)
    return values, origins


_ENDS = ("low", "high")


def _along(x: Any, at: Any, values: Any) -> Any:
    """Interpolate linearly, going on along the first and last step beyond the ends."""
    inside = np.interp(x, at, values)
    below = (values[1] - values[0]) / (at[1] - at[0])
    above = (values[-1] - values[-2]) / (at[-1] - at[-2])
    return inside + below * np.minimum(x - at[0], 0) + above * np.maximum(x - at[-1], 0)


def _words(name: str) -> str:
    for unit in ("_kg_m3", "_j_kg_k", "_j_kg", "_w_m_k", "_c", "_mm", "_kg_kg"):
        name = name.removesuffix(unit)
    return name.replace("_", " ").capitalize()
