"""
Textbook correlations: natural convection, radiation, layers in series, flames and lean models.

Each docstring names its source; the check values are in tests/published/test_heat_*.py.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, exp, isfinite, log, pi, sqrt

from pourwright.core.errors import BadInput
from pourwright.core.heat.materials import air, flame_values

GRAVITY_M_S2 = 9.80665
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018
ZERO_C_K = 273.15
GAS_CONSTANT = 8.31446261815324  # J/(mol K)
MOLAR_KG = {"C": 0.0120107, "H": 0.00100794, "O": 0.0159994}
OXYGEN_IN_AIR = 0.21
OXYGEN_HEAT_J_KG = 13.1e6  # heat per kg of oxygen used, within about 5 %; from memory, sure


class OutOfRange(BadInput):
    """A correlation that does not hold for what was asked."""


# --- Losses to the air ------------------------------------------------


def rayleigh(
    *,
    length_m: float,
    difference_k: float,
    expansion_per_k: float,
    viscosity_m2_s: float,
    diffusivity_m2_s: float,
) -> float:
    """Return the Rayleigh number g beta dT L^3 / (nu alpha)."""
    return (
        GRAVITY_M_S2
        * expansion_per_k
        * abs(difference_k)
        * length_m**3
        / (viscosity_m2_s * diffusivity_m2_s)
    )


def nusselt_upright(ra: float, *, prandtl: float, laminar: bool = False) -> float:
    """
    Return the mean Nusselt number of an upright face.

    Churchill and Chu 1975, as in Incropera and DeWitt, eq. 9.26 (all Ra) and 9.27 (laminar, to
    Ra 1e9).
    """
    if laminar:
        if ra > 1e9:
            raise OutOfRange(f"The laminar form holds to Ra 1e9; this is {ra:.3g}.")
        return float(0.68 + 0.670 * ra**0.25 / (1 + (0.492 / prandtl) ** (9 / 16)) ** (4 / 9))
    root = 0.825 + 0.387 * ra ** (1 / 6) / (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    return float(root**2)


def nusselt_lying(ra: float, *, hot_up: bool) -> float:
    """
    Return the mean Nusselt number of a lying face: 0.54 Ra^1/4 hot face up, 0.27 face down.

    The length in Ra is area by perimeter. Range 1e4 to 1e7 hot face up. Source: McAdams, as in
    Incropera and DeWitt, eq. 9.30 and 9.32. Small vessels fall somewhat below the range.
    """
    return float((0.54 if hot_up else 0.27) * ra**0.25)


def upright_loss_w_m2_k(
    *, face_c: float, air_c: float, height_m: float, laminar: bool = True
) -> float:
    """Return the mean convection coefficient of an upright face in still air, W/(m2 K)."""
    film = air((face_c + air_c) / 2)
    ra = rayleigh(
        length_m=height_m,
        difference_k=face_c - air_c,
        expansion_per_k=1 / ((face_c + air_c) / 2 + ZERO_C_K),
        viscosity_m2_s=film.kinematic_viscosity_m2_s,
        diffusivity_m2_s=film.diffusivity_m2_s,
    )
    nu = nusselt_upright(ra, prandtl=film.prandtl, laminar=laminar)
    return nu * film.conductivity_w_m_k / height_m


def lying_loss_w_m2_k(
    *, face_c: float, air_c: float, length_m: float, hot_up: bool = True
) -> float:
    """Return the convection coefficient of a lying face; ``length_m`` is area by perimeter."""
    film = air((face_c + air_c) / 2)
    ra = rayleigh(
        length_m=length_m,
        difference_k=face_c - air_c,
        expansion_per_k=1 / ((face_c + air_c) / 2 + ZERO_C_K),
        viscosity_m2_s=film.kinematic_viscosity_m2_s,
        diffusivity_m2_s=film.diffusivity_m2_s,
    )
    return nusselt_lying(ra, hot_up=hot_up) * film.conductivity_w_m_k / length_m


def radiation_loss_w_m2_k(*, face_c: float, around_c: float, emissivity: float) -> float:
    """Return eps sigma (Ts^2 + Ta^2)(Ts + Ta), W/(m2 K): a face that sees only the room."""
    face_k, around_k = face_c + ZERO_C_K, around_c + ZERO_C_K
    return emissivity * STEFAN_BOLTZMANN * (face_k**2 + around_k**2) * (face_k + around_k)


@dataclass(frozen=True, slots=True, kw_only=True)
class ThroughWall:
    """Heat through a wall, W/m2 (flat) or W per metre of height (round); outside face in °C."""

    heat: float
    outside_c: float


def through_flat_wall(
    *, inside_c: float, air_c: float, h_in: float, h_out: float, thickness_m: float,
    conductivity_w_m_k: float,
) -> ThroughWall:  # fmt: skip
    """Return the heat through a flat wall: resistances in series, 1/h + t/k + 1/h."""
    resistance = 1 / h_in + thickness_m / conductivity_w_m_k + 1 / h_out
    heat = (inside_c - air_c) / resistance
    return ThroughWall(heat=heat, outside_c=air_c + heat / h_out)


def through_round_wall(
    *, inside_c: float, air_c: float, h_in: float, h_out: float, inner_radius_m: float,
    outer_radius_m: float, conductivity_w_m_k: float,
) -> ThroughWall:  # fmt: skip
    """Return the heat through a round wall per metre of height, ln(ro/ri)/(2 pi k) in series."""
    resistance = (
        1 / (h_in * 2 * pi * inner_radius_m)
        + log(outer_radius_m / inner_radius_m) / (2 * pi * conductivity_w_m_k)
        + 1 / (h_out * 2 * pi * outer_radius_m)
    )
    heat = (inside_c - air_c) / resistance
    return ThroughWall(heat=heat, outside_c=air_c + heat / (h_out * 2 * pi * outer_radius_m))


def constrained_stress_pa(
    *, elastic_modulus_pa: float, expansion_per_k: float, difference_k: float, poisson: float
) -> float:
    """Return E alpha dT / (1 - nu): the stress of a wall that cannot give at all, Pa."""
    return elastic_modulus_pa * expansion_per_k * difference_k / (1 - poisson)


# --- Fuel and flame ------------------------------------------------


def heat_release_w(*, burn_rate_g_h: float, heat_of_combustion_j_kg: float) -> float:
    """Return the heat of a flame that burns all of its fuel, W."""
    return burn_rate_g_h / 3.6e6 * heat_of_combustion_j_kg


def oxygen_demand_kg_kg(atoms: Mapping[str, int]) -> float:
    """
    Return the oxygen that burns one kilogram of a CHO compound, kg.

    >>> round(oxygen_demand_kg_kg({"C": 25, "H": 52}), 3)
    3.448
    """
    return _moles_of_oxygen(atoms) * 2 * MOLAR_KG["O"] / molar_mass_kg(atoms)


def molar_mass_kg(atoms: Mapping[str, int]) -> float:
    """Return kg/mol of a compound of C, H and O."""
    return sum(MOLAR_KG[element] * count for element, count in atoms.items())


def heat_by_oxygen_j_kg(atoms: Mapping[str, int]) -> float:
    """Return the heat of combustion by oxygen consumption, within about 5 %, J/kg."""
    return OXYGEN_HEAT_J_KG * oxygen_demand_kg_kg(atoms)


def air_demand_mol_mol(atoms: Mapping[str, int]) -> float:
    """Return the moles of air that burn one mole of fuel."""
    return _moles_of_oxygen(atoms) / OXYGEN_IN_AIR


def _moles_of_oxygen(atoms: Mapping[str, int]) -> float:
    return atoms.get("C", 0) + atoms.get("H", 0) / 4 - atoms.get("O", 0) / 2


def flame_height_mm(burn_rate_g_h: float) -> float:
    """
    Return a candle flame's height above the pool, mm, for 1 to 8 g/h.

    A straight line in the burn rate, fitted over nine rows of a wick maker's chart; it gives
    39.8 mm for a taper that was measured at 42 ± 1 mm (Hamins, Bundy and Dillon 2005).
    """
    values = flame_values()
    return values.flame_mm_base + values.flame_mm_per_g_h * burn_rate_g_h


def pillar_pool_mm(burn_rate_g_h: float) -> float:
    """Return the pool's diameter at 2 h on a paraffin pillar, by the same chart, mm."""
    values = flame_values()
    return values.pool_mm_base + values.pool_mm_per_g_h * burn_rate_g_h


def roper_height_mm(
    *, fuel_kg_s: float, atoms: Mapping[str, int], air_k: float = 300.0,
    pressure_pa: float = 101325.0,
) -> float:  # fmt: skip
    """
    Return Roper's length of a laminar flame on a round port, 1330 Q / ln(1 + 1/S), mm.

    Q is the fuel vapour's volume flow at the air's temperature, S moles of air per mole of fuel.
    Source: as in combustion textbooks. For a candle it counts from the wick and is low by about a
    third.
    """
    flow = fuel_kg_s / molar_mass_kg(atoms) * GAS_CONSTANT * air_k / pressure_pa
    return 1330 * flow / log(1 + 1 / air_demand_mol_mol(atoms)) * 1000


def heskestad_height_m(*, heat_kw: float, diameter_m: float, any_size: bool = False) -> float:
    """
    Return Heskestad's height of a turbulent fire, 0.235 Q^0.4 - 1.02 D, m.

    Not for candles: their flames are laminar, and it gives nearly twice the measured height. Below
    10 kW it is refused, unless ``any_size`` asks for the bare number.
    """
    if heat_kw < 10 and not any_size:
        raise OutOfRange(
            f"A fire of {heat_kw:g} kW is no turbulent one: this height is not for candles. Use "
            "the flame height by burn rate."
        )
    return float(0.235 * heat_kw**0.4 - 1.02 * diameter_m)


def regression_mm_h(*, burn_rate_g_h: float, density_kg_m3: float, diameter_mm: float) -> float:
    """Return how fast a candle of this diameter gets shorter, mm/h."""
    return burn_rate_g_h / (density_kg_m3 * 1e-6 * pi * diameter_mm**2 / 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """Hours of burning, and the burns they make: how many, and how long the last one is."""

    hours: float
    burns: int
    last_hours: float


def simple_life(
    *, fill_g: float, left_g: float, burn_rate_g_h: float, burn_hours: float = 4.0
) -> Life:
    """Return the burn life by simple division; a ring that stays unmelted makes it shorter."""
    if not 0 <= left_g < fill_g or burn_rate_g_h <= 0 or burn_hours <= 0:
        raise OutOfRange("A life needs less wax left than filled, a burn rate and a burn's length.")
    hours = (fill_g - left_g) / burn_rate_g_h
    burns = ceil(hours / burn_hours - 1e-9)
    last = hours - burn_hours * (burns - 1)
    return Life(hours=hours, burns=burns, last_hours=last)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanPool:
    """The lean pool model: its final diameter, its time constant, and its diameter at a time."""

    final_mm: float
    time_constant_s: float

    def diameter_mm(self, after_s: float) -> float:
        """Return the diameter: the area grows as 1 - exp(-t / tau)."""
        return self.final_mm * sqrt(1 - exp(-after_s / self.time_constant_s))


def lean_pool(
    *, returned_share: float, burn_rate_g_h: float, heat_of_combustion_j_kg: float,
    loss_w_m2_k: float, pool_above_air_k: float, density_kg_m3: float, melt_heat_j_kg: float,
    depth_mm: float,
) -> LeanPool:  # fmt: skip
    """
    Return a pool of one depth that is fed by the flame and loses heat to the air alone.

    rho L delta dA/dt = phi m Hc - h A dT. ``melt_heat_j_kg`` is sensible and latent together. For
    quick answers and cross-checks; the solver is the model.
    """
    heat = returned_share * heat_release_w(
        burn_rate_g_h=burn_rate_g_h, heat_of_combustion_j_kg=heat_of_combustion_j_kg
    )
    loss = loss_w_m2_k * pool_above_air_k
    return LeanPool(
        final_mm=sqrt(4 * heat / loss / pi) * 1000,
        time_constant_s=density_kg_m3 * melt_heat_j_kg * depth_mm / 1000 / loss,
    )


# --- Liquids ------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Liquid:
    """Conductivity W/(m K), density kg/m3 and specific heat J/(kg K) of a liquid."""

    conductivity_w_m_k: float
    density_kg_m3: float
    specific_heat_j_kg_k: float


def liquid_fat(temp_c: float) -> Liquid:
    """Return a liquid fat by Choi and Okos, in CoolProp ``FoodFat``; for soy and coconut."""
    return Liquid(
        conductivity_w_m_k=0.18071 - 2.7604e-4 * temp_c - 1.7749e-7 * temp_c**2,
        density_kg_m3=925.59 - 0.41757 * temp_c,
        specific_heat_j_kg_k=1984.2 + 1.4733 * temp_c - 4.8008e-3 * temp_c**2,
    )


def limonene_density_kg_m3(temp_c: float) -> float:
    """Return the density of d-limonene: Melinder 2010, in CoolProp ``TCO``."""
    return 1071.02 - 0.778166 * (temp_c + ZERO_C_K)


def fat_specific_gravity(*, saponification_value: float, iodine_value: float) -> float:
    """Return the specific gravity of a fat at 15 °C by its analysis: Lund 1922, quoted by Pryde."""
    return 0.8475 + 0.00030 * saponification_value + 0.00014 * iodine_value


# --- Lumped cooling ------------------------------------------------


class NotLumped(BadInput):
    """A body too thick, or too poor a conductor, to have one temperature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LumpedCooling:
    """A well stirred body that cools to the air: T = Ta + (T0 - Ta) exp(-t / tau)."""

    start_c: float
    air_c: float
    time_constant_s: float

    def temp_c(self, after_s: float) -> float:
        return self.air_c + (self.start_c - self.air_c) * exp(-after_s / self.time_constant_s)

    def time_s(self, until_c: float) -> float:
        if not min(self.air_c, self.start_c) < until_c <= max(self.air_c, self.start_c):
            raise OutOfRange(
                f"{until_c:g} °C is never reached between {self.start_c:g} and {self.air_c:g} °C."
            )
        return self.time_constant_s * log((self.start_c - self.air_c) / (until_c - self.air_c))


def lumped_cooling(
    *, mass_kg: float, specific_heat_j_kg_k: float, loss_w_m2_k: float, area_m2: float,
    start_c: float, air_c: float, half_width_m: float | None = None,
    conductivity_w_m_k: float | None = None,
) -> LumpedCooling:  # fmt: skip
    """
    Return the cooling of a body that has one temperature, such as a stirred pot.

    With a half-width and a conductivity the Biot number is checked: above 0.1 the body has no one
    temperature and ``NotLumped`` is raised. Still wax never qualifies.
    """
    if half_width_m is not None and conductivity_w_m_k is not None:
        biot = loss_w_m2_k * half_width_m / conductivity_w_m_k
        if biot > 0.1:
            raise NotLumped(
                f"Its inside is warmer than its outside (Biot number {biot:.2f}, at most 0.1): "
                "use the setting simulation."
            )
    tau = mass_kg * specific_heat_j_kg_k / (loss_w_m2_k * area_m2)
    return LumpedCooling(start_c=start_c, air_c=air_c, time_constant_s=tau)


def linear_fit(xs: Sequence[float], ys: Sequence[float]) -> tuple[float, float]:
    """Return base and slope of the least-squares line through points."""
    n = len(xs)
    if n < 2 or not all(isfinite(v) for v in (*xs, *ys)):
        raise OutOfRange("A line needs at least two points.")
    mean_x, mean_y = sum(xs) / n, sum(ys) / n
    slope = sum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True)) / sum(
        (x - mean_x) ** 2 for x in xs
    )
    return mean_y - slope * mean_x, slope
