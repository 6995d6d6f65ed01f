"""
Exact and classical answers to simple freezing and cooling problems, for tests and quick answers.

Lengths in m, times in s, temperatures in °C unless named otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, erfc, exp, pi, sqrt

import numpy as np
from scipy.optimize import brentq  # type: ignore[import-untyped]
from scipy.special import j0, j1, jn_zeros  # type: ignore[import-untyped]

from pourwright.core.errors import BadInput


class NoSolution(BadInput):
    """A problem whose figures have no solution of this kind."""


# --- Freezing and melting ------------------------------------------------


def stefan_lambda(stefan: float) -> float:
    """
    Return lambda of the one-phase Stefan problem: sqrt(pi) l exp(l^2) erf(l) = St.

    The front is at X = 2 l sqrt(alpha t). Source: Crank, Free and Moving Boundary Problems.
    """
    if stefan <= 0:
        raise NoSolution(f"The Stefan number is {stefan:g}; it is above zero.")
    return float(brentq(lambda x: sqrt(pi) * x * exp(x * x) * erf(x) - stefan, 1e-9, 5, xtol=1e-14))


def neumann_lambda(*, stefan_near: float, stefan_far: float, near_by_far: float) -> float:
    """
    Return lambda of the two-phase Neumann problem; "near" is the phase that touches the wall.

    St_near/(e^(l^2) erf l) - St_far/(nu e^(nu^2 l^2) erfc(nu l)) = l sqrt(pi), with
    ``near_by_far`` nu = sqrt(alpha_near/alpha_far) and both Stefan numbers c dT / L positive;
    ``stefan_far`` uses the far phase's specific heat. Source: Carslaw and Jaeger; Crank.
    """

    def residual(x: float) -> float:
        far = stefan_far / (near_by_far * exp((near_by_far * x) ** 2) * erfc(near_by_far * x))
        return stefan_near / (exp(x * x) * erf(x)) - far - x * sqrt(pi)

    return float(brentq(residual, 1e-9, 3 / max(near_by_far, 1), xtol=1e-14))


@dataclass(frozen=True, slots=True, kw_only=True)
class RangeFreezing:
    """
    Freezing from a cold wall in a half space, with a melting range: solid, range, liquid.

    Three erf regions with one conductivity; both fronts move as sqrt(t).
    """

    wall_c: float
    start_c: float
    end_c: float
    far_c: float
    diffusivity_m2_s: float  # of the solid
    to_range: float  # sqrt(alpha_solid/alpha_range)
    to_liquid: float
    solid_lambda: float
    liquid_lambda: float

    def solid_front_m(self, after_s: float) -> float:
        return 2 * self.solid_lambda * sqrt(self.diffusivity_m2_s * after_s)

    def liquid_front_m(self, after_s: float) -> float:
        return 2 * self.liquid_lambda * sqrt(self.diffusivity_m2_s * after_s)

    def temp_c(self, depth_m: float, after_s: float) -> float:
        x = depth_m / (2 * sqrt(self.diffusivity_m2_s * after_s))
        if x <= self.solid_lambda:
            return self.wall_c + (self.start_c - self.wall_c) * erf(x) / erf(self.solid_lambda)
        if x <= self.liquid_lambda:
            low = erf(self.solid_lambda * self.to_range)
            high = erf(self.liquid_lambda * self.to_range)
            share = (erf(x * self.to_range) - low) / (high - low)
            return self.start_c + (self.end_c - self.start_c) * share
        share = erfc(x * self.to_liquid) / erfc(self.liquid_lambda * self.to_liquid)
        return self.far_c - (self.far_c - self.end_c) * share


def range_freezing(
    *, wall_c: float, start_c: float, end_c: float, far_c: float, conductivity_w_m_k: float,
    density_kg_m3: float, specific_heat_j_kg_k: float, latent_heat_j_kg: float,
) -> RangeFreezing:  # fmt: skip
    """
    Return the similarity solution of freezing over a melting range.

    Source: derived here from the erf solution in each region (Carslaw and Jaeger, ch. XI, treat
    the case); temperature and heat flux are continuous at both fronts.
    """
    alpha = conductivity_w_m_k / (density_kg_m3 * specific_heat_j_kg_k)
    in_range = specific_heat_j_kg_k + latent_heat_j_kg / (end_c - start_c)
    nu = sqrt(in_range / specific_heat_j_kg_k)

    def outer(solid: float) -> float:
        """Return the liquid front at which the flux is continuous at the solid front."""
        flux = (start_c - wall_c) * exp(-solid * solid) / erf(solid)
        span = (end_c - start_c) * nu * exp(-((nu * solid) ** 2)) / flux
        reach = erf(nu * solid) + span
        if reach >= 1 - 1e-15:
            return float("inf")
        return (
            float(brentq(lambda x: erf(nu * x) - reach, solid, 8 / nu, xtol=1e-14))
            if (erf(8.0) > reach)
            else float("inf")
        )

    def mismatch(solid: float) -> float:
        liquid = outer(solid)
        if liquid == float("inf"):
            return -1.0
        span = erf(nu * liquid) - erf(nu * solid)
        inside = (end_c - start_c) * nu * exp(-((nu * liquid) ** 2)) / span
        return inside - (far_c - end_c) * exp(-liquid * liquid) / erfc(liquid)

    # The mismatch runs from plus to minus as the solid front goes out.
    grid = np.linspace(0.005, 1.5, 600)
    values = [mismatch(float(x)) for x in grid]
    for low, high, a, b in zip(grid, grid[1:], values, values[1:], strict=False):
        if a > 0 >= b:
            solid = float(brentq(mismatch, low, high, xtol=1e-14))
            return RangeFreezing(
                wall_c=wall_c,
                start_c=start_c,
                end_c=end_c,
                far_c=far_c,
                diffusivity_m2_s=alpha,
                to_range=nu,
                to_liquid=1.0,
                solid_lambda=solid,
                liquid_lambda=outer(solid),
            )
    raise NoSolution("No pair of fronts fits these temperatures.")


PLANK = {"slab": (1 / 2, 1 / 8), "cylinder": (1 / 4, 1 / 16), "sphere": (1 / 6, 1 / 24)}


def plank_time_s(
    *, shape: str, width_m: float, density_kg_m3: float, latent_heat_j_kg: float,
    below_melting_k: float, loss_w_m2_k: float, conductivity_w_m_k: float,
) -> float:  # fmt: skip
    """
    Return Plank's freezing time: quasi-steady, latent heat only, from the melting point, s.

    t = rho L / dT (P d/h + R d^2/k) for "slab" (d its thickness), "cylinder" and "sphere" (d the
    diameter). A lower bound for a real setting time.
    """
    if shape not in PLANK:
        raise NoSolution(f'There is no shape "{shape}"; there are {", ".join(PLANK)}.')
    p, r = PLANK[shape]
    return (
        density_kg_m3
        * latent_heat_j_kg
        / below_melting_k
        * (p * width_m / loss_w_m2_k + r * width_m**2 / conductivity_w_m_k)
    )


# --- Cooling of plain bodies ------------------------------------------------


def cylinder_roots(biot: float, *, count: int = 1) -> list[float]:
    """Return the first roots of z J1(z) = Bi J0(z)."""
    ends = [0.0, *(float(z) for z in jn_zeros(1, count))]
    zeros = [float(z) for z in jn_zeros(0, count)]
    return [
        float(
            brentq(
                lambda z: z * j1(z) - biot * j0(z), ends[i] + 1e-12, zeros[i] - 1e-13, xtol=1e-14
            )
        )
        for i in range(count)
    ]


def plane_roots(biot: float, *, count: int = 1) -> list[float]:
    """Return the first roots of z tan(z) = Bi."""
    return [
        float(
            brentq(
                lambda z: z * np.sin(z) - biot * np.cos(z),
                i * pi + 1e-12,
                i * pi + pi / 2 - 1e-13,
                xtol=1e-14,
            )
        )
        for i in range(count)
    ]


def cylinder_share(*, biot: float, fourier: float, at: float = 0.0, count: int = 60) -> float:
    """
    Return (T - Ta)/(T0 - Ta) in a long cylinder at ``at`` = r/R; ``count`` 1 is the first term.

    Source: Carslaw and Jaeger; Incropera and DeWitt, ch. 5.
    """
    total = 0.0
    for root in cylinder_roots(biot, count=count):
        c = 2 / root * j1(root) / (j0(root) ** 2 + j1(root) ** 2)
        total += c * exp(-root * root * fourier) * j0(root * at)
    return float(total)


def plane_share(*, biot: float, fourier: float, at: float = 0.0, count: int = 60) -> float:
    """Return (T - Ta)/(T0 - Ta) in a plane wall; ``at`` = x/half-width from the middle."""
    total = 0.0
    for root in plane_roots(biot, count=count):
        c = 4 * np.sin(root) / (2 * root + np.sin(2 * root))
        total += c * exp(-root * root * fourier) * np.cos(root * at)
    return float(total)


def first_term_cylinder(biot: float) -> tuple[float, float]:
    """Return root and C1 of the cylinder's first term, good for Fo above 0.2."""
    root = cylinder_roots(biot)[0]
    return root, float(2 / root * j1(root) / (j0(root) ** 2 + j1(root) ** 2))


def first_term_plane(biot: float) -> tuple[float, float]:
    """Return root and C1 of the plane wall's first term."""
    root = plane_roots(biot)[0]
    return root, float(4 * np.sin(root) / (2 * root + np.sin(2 * root)))
