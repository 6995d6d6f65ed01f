"""
Two problems of heat, each solved by this program and by three general libraries, one a process.

    python benchmarks/heat_beside.py SOLVER PROBLEM --out FILE.npz

SOLVER is ours, scikit-fem, fipy or py-pde; PROBLEM is cylinder (a bare finite cylinder, no change
of phase, 30 min) or range (the same body of wax with a melting range, 3 h). Each writes all its
temperatures, at places of its own. benchmarks/heat.py runs them, judges them against the exact
series or a far finer grid, and takes the whole time of the process: start-up, imports and compiling
included. Grids and steps are as coarse as the goal for the error allows for that library. What the
libraries lack is written here in their own terms.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

RADIUS, HEIGHT, LOSS, AIR_C = 0.045, 0.060, 10.0, 21.0
K, RHO, CP = 0.2, 900.0, 2100.0
HOT_C = 75.0
START_C, END_C, LATENT = 40.0, 52.0, 160e3
CYLINDER_S, RANGE_S = 1800.0, 10800.0
HEAT = RHO * CP
MELT = RHO * (LATENT + CP * (END_C - START_C))


def energy(temp):
    over = temp - START_C
    span = END_C - START_C
    return (
        HEAT * np.minimum(over, 0)
        + MELT / span * np.clip(over, 0, span)
        + HEAT * np.maximum(over - span, 0)
    )


def heat_at(temp):
    """Return de/dT, J/(m3 K)."""
    return np.where((temp > START_C) & (temp < END_C), MELT / (END_C - START_C), HEAT)


# --- this program ---------------------------------------------------------------------------------


def ours(problem, *, cell_mm=None, plain=True):
    root = Path(__file__).resolve().parent.parent
    sys.path.insert(0, str(root / "src"))
    from pourwright.core.heat.marching import Faces, march, no_shell
    from pourwright.core.heat.materials import wax
    from pourwright.core.heat.section import section_of

    cylinder = problem == "cylinder"
    cell_mm = cell_mm or (1.2 if cylinder else 1.5)
    seconds = CYLINDER_S if cylinder else RANGE_S
    stuff = wax(
        "paraffin", density_kg_m3=RHO, specific_heat_solid_j_kg_k=CP,
        specific_heat_liquid_j_kg_k=CP, conductivity_solid_w_m_k=K, conductivity_liquid_w_m_k=K,
        melting_start_c=-40 if cylinder else START_C, melting_end_c=-30 if cylinder else END_C,
        latent_heat_j_kg=LATENT,
    )  # fmt: skip
    section = section_of(
        stuff, radius_mm=RADIUS * 1000, depth_mm=HEIGHT * 1000, cell_mm=cell_mm, start_c=HOT_C
    )
    nr, nz = section.energy_j.shape
    faces = Faces(
        np.full(nr, LOSS), AIR_C, np.full(nz, LOSS), AIR_C, np.full(nr, LOSS), AIR_C,
        np.zeros((nr, nz)),
    )  # fmt: skip
    tau = (4.0 if cylinder else 6.0) * cell_mm
    steps = round(seconds / tau)
    march(
        section.energy_j, section.shell_c, section.stuff, section.body, faces, no_shell(),
        tau=seconds / steps, steps=steps, plain=plain,
    )  # fmt: skip
    r, z = np.meshgrid(section.ring_middles_m, section.cell_heights_m[0], indexing="ij")
    return r.ravel(), z.ravel(), section.temps_c.ravel()


# --- scikit-fem: P2 and Crank-Nicolson, or lumped P1 with Newton ---------------------------------


def scikit_fem(problem):
    from scipy.sparse import diags
    from scipy.sparse.linalg import splu
    from skfem import (
        Basis,
        BilinearForm,
        ElementQuad1,
        ElementQuad2,
        FacetBasis,
        LinearForm,
        MeshQuad,
    )
    from skfem.helpers import dot, grad

    cylinder = problem == "cylinder"
    nr, nz = (5, 7) if cylinder else (36, 48)
    mesh = MeshQuad.init_tensor(np.linspace(0, RADIUS, nr + 1), np.linspace(0, HEIGHT, nz + 1))
    basis = Basis(mesh, ElementQuad2() if cylinder else ElementQuad1())

    @BilinearForm
    def stiff(u, v, w):
        return K * dot(grad(u), grad(v)) * w.x[0]

    @BilinearForm
    def mass(u, v, w):
        return u * v * w.x[0]

    facets = mesh.facets_satisfying(lambda x: x[0] > 1e-9, boundaries_only=True)
    skin = FacetBasis(mesh, basis.elem, facets=facets)

    @BilinearForm
    def loss(u, v, w):
        return LOSS * u * v * w.x[0]

    @LinearForm
    def gain(v, w):
        return LOSS * AIR_C * v * w.x[0]

    flow = (stiff.assemble(basis) + loss.assemble(skin)).tocsc()
    given = gain.assemble(skin)
    temp = np.full(basis.N, HOT_C)
    if cylinder:
        held = HEAT * mass.assemble(basis).tocsc()
        # Four short implicit steps calm the start, then Crank-Nicolson.
        for count, dt, theta in ((4, 5.0, 1.0), (60, (CYLINDER_S - 20) / 60, 0.5)):
            lu = splu((held / dt + theta * flow).tocsc())
            for _ in range(count):
                temp = lu.solve(held @ temp / dt - (1 - theta) * (flow @ temp) + given)
    else:
        lumped = np.asarray(mass.assemble(basis).sum(axis=1)).ravel()
        dt = 10.0
        for _ in range(round(RANGE_S / dt)):
            old = energy(temp)
            for _ in range(30):
                miss = lumped * (energy(temp) - old) / dt + flow @ temp - given
                step = splu((diags(lumped * heat_at(temp) / dt) + flow).tocsc()).solve(-miss)
                temp = temp + step
                if np.abs(step).max() < 1e-6:
                    break
            else:
                raise RuntimeError("Newton did not converge")
    places = basis.doflocs
    return places[0], places[1], temp


# --- FiPy ---------------------------------------------------------------------------------------


def fipy(problem):
    sys.argv = sys.argv[:1]
    from fipy import (
        CellVariable,
        CylindricalGrid2D,
        DiffusionTerm,
        FaceVariable,
        ImplicitSourceTerm,
        TransientTerm,
    )

    cylinder = problem == "cylinder"
    cell = 0.001 if cylinder else 0.00125
    nr, nz = round(RADIUS / cell), round(HEIGHT / cell)
    dr, dz = RADIUS / nr, HEIGHT / nz
    mesh = CylindricalGrid2D(nx=nr, ny=nz, dx=dr, dy=dz)
    temp = CellVariable(mesh=mesh, value=HOT_C, hasOld=True)
    gamma = FaceVariable(mesh=mesh, value=K)
    gamma.setValue(0.0, where=mesh.exteriorFaces)
    x, _ = mesh.faceCenters
    x = np.asarray(x)
    side = np.abs(x - RADIUS) < 1e-9
    u = np.where(side, 1 / (1 / LOSS + dr / 2 / K), 1 / (1 / LOSS + dz / 2 / K))
    skin = (
        FaceVariable(mesh=mesh, value=u)
        * mesh.exteriorFaces
        * FaceVariable(mesh=mesh, value=1.0 * (x > 1e-9))
    )
    out = (skin * mesh.faceNormals).divergence
    if cylinder:
        dt = 1.2
        equation = (
            TransientTerm(coeff=HEAT)
            == DiffusionTerm(coeff=gamma) - ImplicitSourceTerm(coeff=out) + out * AIR_C
        )
        for _ in range(round(CYLINDER_S / dt)):
            temp.updateOld()
            equation.solve(var=temp, dt=dt)
    else:
        dt = 15.0
        slope = CellVariable(mesh=mesh, value=HEAT)
        rest = CellVariable(mesh=mesh, value=0.0)
        equation = (
            DiffusionTerm(coeff=gamma)
            - ImplicitSourceTerm(coeff=out)
            + out * AIR_C
            - ImplicitSourceTerm(coeff=slope)
            + rest
        )
        for _ in range(round(RANGE_S / dt)):
            old = energy(temp.value)
            for _ in range(30):
                before = temp.value.copy()
                slope.setValue(heat_at(before) / dt)
                rest.setValue((old - energy(before) + heat_at(before) * before) / dt)
                equation.solve(var=temp)
                if np.abs(temp.value - before).max() < 1e-6:
                    break
            else:
                raise RuntimeError("Newton did not converge")
    r, z = np.asarray(mesh.cellCenters)
    return r, z, temp.value


# --- py-pde -------------------------------------------------------------------------------------


def py_pde(problem):
    from pde import PDE, CylindricalSymGrid, ScalarField

    cylinder = problem == "cylinder"
    cell = 0.001 if cylinder else 0.0015
    grid = CylindricalSymGrid(RADIUS, (0, HEIGHT), (round(RADIUS / cell), round(HEIGHT / cell)))
    robin = {"type": "mixed", "value": LOSS / K, "const": LOSS * AIR_C / K}
    bc = {"r-": {"derivative": 0}, "r+": robin, "z-": robin, "z+": robin}
    least = cell**2 / (4 * K / HEAT)
    if cylinder:
        equation = PDE({"u": f"{K / HEAT} * laplace(u)"}, bc=bc)
        start = ScalarField(grid, HOT_C)
        found = equation.solve(start, CYLINDER_S, dt=0.4 * least, tracker=None).data
    else:
        slope = (END_C - START_C) / MELT
        told = (
            f"{START_C} + u/{HEAT} + u*heaviside(u, 0.5)*{slope - 1 / HEAT}"
            f" + (u-{MELT})*heaviside(u-{MELT}, 0.5)*{1 / HEAT - slope}"
        )
        equation = PDE({"u": f"{K} * laplace({told})"}, bc=bc)
        start = ScalarField(grid, energy(np.array(HOT_C)))
        u = equation.solve(start, RANGE_S, dt=0.8 * least, tracker=None).data
        found = START_C + np.minimum(u, 0) / HEAT + np.clip(u, 0, MELT) * slope
        found = found + np.maximum(u - MELT, 0) / HEAT
    r, z = np.meshgrid(*grid.axes_coords, indexing="ij")
    return r.ravel(), z.ravel(), found.ravel()


SOLVERS = {"ours": ours, "scikit-fem": scikit_fem, "fipy": fipy, "py-pde": py_pde}


def main() -> None:
    solver, problem, out = sys.argv[1], sys.argv[2], sys.argv[4]
    r, z, temps = SOLVERS[solver](problem)
    np.savez(out, r=r, z=z, temps=temps)


if __name__ == "__main__":
    main()
