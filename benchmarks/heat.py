"""
How quick and how exact the heat simulations are, and how they stand beside general libraries.

    python benchmarks/heat.py [--speed] [--accuracy] [--beside] [--write docs/benchmarks.md]

Without a choice, all three. --speed times what a maker waits for, in plain numpy and, where numba
is installed, compiled. --accuracy goes where the tests are too lean to go: finer grids, three
dimensions, shorter steps. --beside runs two problems in this program, scikit-fem, FiPy and py-pde,
each in a process of its own, the whole time of the process counted; it needs the packages locked in
benchmarks/heat-requirements.txt, in an environment apart from the program's.

No candle is measured here: exactness is against exact solutions and finer grids.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from math import log2
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

import heat_beside  # noqa: E402
from scipy.interpolate import RegularGridInterpolator  # noqa: E402
from sections import put  # noqa: E402

import heat_examples  # noqa: E402
from pourwright.core.heat.burning import (  # noqa: E402
    Candle,
    simulate_burn,
    simulate_life,
    with_flame,
)
from pourwright.core.heat.calibrate import Recorded, calibrate  # noqa: E402
from pourwright.core.heat.marching import is_compiled  # noqa: E402
from pourwright.core.heat.materials import wall, wax  # noqa: E402
from pourwright.core.heat.setting import Pour, simulate_setting  # noqa: E402
from pourwright.core.heat.solid import simulate_solid  # noqa: E402

GLASS = wall("glass")
PARAFFIN = wax("paraffin")
POUR = Pour(wax=PARAFFIN, wall=GLASS, inside_diameter_mm=90, wax_depth_mm=52, rim_mm=75, pour_c=75)
CANDLE = Candle(
    wax=PARAFFIN, wall=GLASS, inside_diameter_mm=85, wax_depth_mm=58, rim_mm=80, burn_rate_g_h=4.0
)
THREE = Candle(
    wax=PARAFFIN, wall=GLASS, inside_diameter_mm=100, wax_depth_mm=30, rim_mm=60,
    burn_rate_g_h=2.0, wicks=3, ring_radius_mm=25,
)  # fmt: skip
CYLINDER_GOAL_K, RANGE_GOAL_K = 0.01, 0.05


def timed(run: Callable[[], object]) -> tuple[float, float]:
    """Return wall and processor seconds of the quickest of two runs."""
    best = (float("inf"), float("inf"))
    for _ in range(2):
        wall_s, cpu_s = time.perf_counter(), time.process_time()
        run()
        best = min(best, (time.perf_counter() - wall_s, time.process_time() - cpu_s))
    return best


# --- speed --------------------------------------------------------------------------------------


def recorded_burns(plain: bool) -> list[Recorded]:
    """Return three burns as another flame would make them."""
    found = []
    for rate in (3.0, 3.6, 4.2):
        candle = replace(CANDLE, burn_rate_g_h=rate)
        burn = simulate_burn(
            with_flame(candle, returned_share=0.04, radiated_share=0.15), cell_mm=2, pictures=0,
            plain=plain,
        )  # fmt: skip
        found.append(
            Recorded(
                candle=candle,
                hours=4.0,
                pool_mm=tuple((h, round(burn.at(burn.pool_mm, h))) for h in (1.0, 2.0, 3.0, 4.0)),
                depth_mm=round(float(burn.depth_mm[-1])),
                wall_c=round(float(burn.wall_c.max())),
            )
        )
    return found


def speed() -> str:
    forms = [True, False] if is_compiled() else [True]
    tasks: list[tuple[str, str, Callable[[bool], object]]] = [
        ("8 h of setting, 2 mm (the pages' own)", "1 s, plain",
         lambda plain: simulate_setting(POUR, hours=8, plain=plain)),
        ("8 h of setting, 1 mm", "0.5 s",
         lambda plain: simulate_setting(POUR, hours=8, cell_mm=1, plain=plain)),
        ("4 h burn, 2 mm (the pages' own)", "1 s, plain",
         lambda plain: simulate_burn(CANDLE, plain=plain)),
        ("4 h burn, 1 mm", "1 s",
         lambda plain: simulate_burn(CANDLE, cell_mm=1, plain=plain)),
        ("a whole life in 4 h burns, 1 mm", "15 s",
         lambda plain: simulate_life(CANDLE, cell_mm=1, plain=plain)),
        ("calibration from three 4 h burns, 2 mm", "60 s",
         lambda plain: calibrate(recorded_burns(plain), plain=plain)),
    ]  # fmt: skip
    head = "| Task | Goal |" + "".join(
        f" {'plain numpy' if plain else 'compiled'}, s (processor) |" for plain in forms
    )
    lines = [head, "|---|---|" + "---:|" * len(forms)]
    if False in forms:
        simulate_burn(CANDLE, hours=0.1)
    for name, goal, run in tasks:
        cells = []
        for plain in forms:
            wall_s, cpu_s = timed(lambda run=run, plain=plain: run(plain))
            cells.append(f" {wall_s:.2f} ({cpu_s:.2f}) |")
        lines.append(f"| {name} | {goal} |" + "".join(cells))
        print(lines[-1], flush=True)
    wall_s, cpu_s = timed(lambda: simulate_solid(THREE))
    same = f" {wall_s:.2f} ({cpu_s:.2f}) |"
    lines.append("| three wicks in three dimensions, 4 h, 2 mm | 10 s |" + same * len(forms))
    print(lines[-1], flush=True)
    return f"""\
## Heat: how quick

{_about()} One core; the better of two runs after compiling. Three dimensions have the plain form
only. The first compiled run on a machine compiles first (some 5 to 20 s, then kept on disk). In
brackets is processor time: the wall time is longer where others use the machine too.

{chr(10).join(lines)}
"""


# --- accuracy -------------------------------------------------------------------------------------


def accuracy() -> str:
    plain = not is_compiled()
    parts = [
        f"## Heat: how exact\n\n{_about()} Against exact solutions and finer grids; no candle is "
        "measured here. Plain and compiled forms agree to rounding.",
        _neumann(plain), _range(plain), _cylinder(plain), _long(plain), _settings(plain),
        _burns(plain), _steps(plain), _solids(plain),
    ]  # fmt: skip
    return "\n\n".join(parts) + "\n"


def _table(title: str, head: str, rows: list[str]) -> str:
    columns = head.count("|") - 1
    text = "\n".join([f"{title}\n", head, "|" + "---:|" * columns, *rows])
    print(text, flush=True)
    return text


def _neumann(plain: bool) -> str:
    rows = [
        f"| {cell:g} | {heat_examples.neumann_error(cell, plain=plain):.3%} |"
        for cell in (4, 2, 1, 0.5, 0.25)
    ]
    return _table(
        "A sharp front freezing from a cold wall (Neumann), largest error from 30 min to 6 h; "
        "goals 0.6 % at 1 mm, 0.15 % at 0.25 mm:",
        "| cell, mm | front |", rows,
    )  # fmt: skip


def _range(plain: bool) -> str:
    rows = []
    for cell in (4, 2, 1, 0.5, 0.25):
        temp, front = heat_examples.range_errors(cell, plain=plain)
        rows.append(f"| {cell:g} | {temp:.4f} | {front:.4f} |")
    return _table(
        "A melting range of 12 K (similarity solution), largest errors after 6 h; goals 0.02 K and "
        "0.03 mm at 1 mm:",
        "| cell, mm | temperature, K | fronts, mm |", rows,
    )  # fmt: skip


def _cylinder(plain: bool) -> str:
    cells = (3, 1.5, 1, 0.5)
    errors = [heat_examples.finite_cylinder_error_k(cell, plain=plain) for cell in cells]
    orders = [""] + [
        f"{log2(a / b) / log2(c / d):.2f}"
        for (a, b), (c, d) in zip(pairwise(errors), pairwise(cells), strict=True)
    ]
    rows = [
        f"| {cell:g} | {error:.4f} | {order} |"
        for cell, error, order in zip(cells, errors, orders, strict=True)
    ]
    return _table(
        "A finite cylinder without change of phase (series), largest error at 30 min; goals 0.01 K "
        "at 1 mm, order at least 1.9:",
        "| cell, mm | error, K | observed order |", rows,
    )  # fmt: skip


def _long(plain: bool) -> str:
    rows = []
    for cell in (4.0, 2.0, 1.0):
        times, centre, surface = heat_examples.long_cylinder(cell, plain=plain)
        at = [float(np.interp(-42, -curve, times)) for curve in (centre, surface)]
        rows.append(f"| {cell:g} | {at[0]:.0f} | {at[1]:.0f} |")
    return _table(
        "A long cylinder that sets over 42 to 50 °C: when centre and surface reach 42 °C; two "
        "other schemes said 25659 and 5344 s:",
        "| cell, mm | centre, s | surface, s |", rows,
    )  # fmt: skip


def _settings(plain: bool) -> str:
    rows = []
    for cell in (4, 2, 1, 0.5):
        found = simulate_setting(POUR, cell_mm=cell, plain=plain)
        rows.append(
            f"| {cell:g} | {found.set_through_h:.3f} | {found.movable_h:.2f} | "
            f"{found.last_depth_mm:.1f} | {found.energy_error:.1e} |"
        )
    return _table(
        "A pour in a 90 mm glass on finer grids (energy goal 0.5 %):",
        "| cell, mm | set through, h | may be moved, h | sets last, mm below | energy left open |",
        rows,
    )


def _burn_row(label: str, burn) -> str:
    pools = " | ".join(f"{burn.at(burn.pool_mm, hours):.1f}" for hours in (1, 2, 3, 4))
    return (
        f"| {label} | {pools} | {burn.depth_mm[-1]:.2f} | {burn.wall_c.max():.1f} | "
        f"{burn.energy_error:.1e} | {burn.mass_error_g:.0e} |"
    )


BURN_HEAD = (
    "| | pool 1 h | 2 h | 3 h | 4 h, mm | depth, mm | wall, °C | energy left open | mass, g |"
)


def _burns(plain: bool) -> str:
    candle = replace(CANDLE, burn_rate_g_h=3.5)
    rows = [
        _burn_row(f"{cell:g} mm", simulate_burn(candle, cell_mm=cell, plain=plain, pictures=0))
        for cell in (4, 2, 1, 0.5)
    ]
    return _table(
        "A 4 h burn on finer grids, the surface falling (goals: energy 0.5 %, mass 1e-9 g):",
        BURN_HEAD, rows,
    )  # fmt: skip


def _steps(plain: bool) -> str:
    candle = replace(CANDLE, burn_rate_g_h=3.5)
    rows = [
        _burn_row(
            f"{step:g} s",
            simulate_burn(candle, cell_mm=1, step=step, plain=plain, pictures=0),
        )
        for step in (10, 5, 2.5)
    ]
    return _table("The same at 1 mm with shorter steps:", BURN_HEAD, rows)


def _solids(plain: bool) -> str:
    candle = replace(CANDLE, burn_rate_g_h=3.5, wax_depth_mm=30, rim_mm=50)
    rows = []
    for cell, section_cell in ((2, 1), (1.5, 0.75)):
        section = simulate_burn(candle, cell_mm=section_cell, plain=plain, pictures=0, falls=False)
        solid = simulate_solid(candle, cell_mm=cell)
        pool, hot = (
            max(
                abs(float(np.interp(h, solid.times_h, mine)) - section.at(theirs, h))
                for h in (1, 2, 3, 4)
            )
            for mine, theirs in (
                (solid.pool_mm, section.pool_mm), (solid.hottest_c, section.wall_c),
            )
        )  # fmt: skip
        depth = abs(solid.depth_mm[-1] - section.depth_mm[-1])
        rows.append(f"| {cell:g} | {section_cell:g} | {pool:.2f} | {depth:.2f} | {hot:.2f} |")
    return _table(
        "Three dimensions against the section for one wick, surface held, largest difference at 1 "
        "to 4 h; goals 3 mm, 0.7 mm, 3 K at 2 mm and 1 mm, 0.5 mm, 1 K on the finer grid:",
        "| cell, mm | in section, mm | pool, mm | depth at 4 h, mm | hottest wall, K |", rows,
    )  # fmt: skip


# --- beside general libraries ------------------------------------------------------------------


def beside() -> str:
    r, z, temps = heat_beside.ours("range", cell_mm=0.25, plain=not is_compiled())
    rings, heights = np.unique(r), np.unique(z)
    fine = RegularGridInterpolator((rings, heights), temps.reshape(len(rings), len(heights)))
    rows = []
    for problem, goal in (("cylinder", CYLINDER_GOAL_K), ("range", RANGE_GOAL_K)):
        for solver in heat_beside.SOLVERS:
            seconds, places = _one(solver, problem)
            error = _error(problem, places, fine, rings, heights)
            rows.append(
                f"| {problem} | {'this program, plain numpy' if solver == 'ours' else solver} | "
                f"{seconds:.2f} | {error:.4f} | {goal:g} |"
            )
            print(rows[-1], flush=True)
    return f"""\
## Heat beside general libraries

{_about()} Whole wall time of a process in seconds: start-up, imports and compiling counted, the
better of two runs. The finite cylinder is judged at 30 min against its exact series, the melting
range (the same body, latent heat over 40 to 52 °C) at 3 h against a grid of 0.25 mm of this
program's own. Each library's grid and step were made as coarse as its goal allows.

| Problem | Solver | seconds | largest error, K | goal, K |
|---|---|---:|---:|---:|
{chr(10).join(rows)}

The libraries are general, and none has a vessel's shell, a burning wick or a falling surface; a
long run of one compiled problem would narrow the gap to py-pde. Their versions are locked in
`benchmarks/heat-requirements.txt`.
"""


def _one(solver: str, problem: str):
    best = float("inf")
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.npz"
        words = [
            sys.executable, str(ROOT / "benchmarks" / "heat_beside.py"), solver, problem, "--out",
            str(out),
        ]  # fmt: skip
        for _ in range(2):
            start = time.perf_counter()
            subprocess.run(words, check=True, capture_output=True)
            best = min(best, time.perf_counter() - start)
        with np.load(out) as found:
            return best, {name: found[name] for name in ("r", "z", "temps")}


def _error(problem: str, places, fine, rings, heights) -> float:
    r, z, temps = places["r"], places["z"], places["temps"]
    if problem == "cylinder":
        at_r, of_r = np.unique(r.round(9), return_inverse=True)
        at_z, of_z = np.unique(z.round(9), return_inverse=True)
        true = heat_examples.finite_cylinder_exact(at_r, at_z)[of_r, of_z]
        return float(np.abs(temps - true).max())
    inside = (r >= rings[0]) & (r <= rings[-1]) & (z >= heights[0]) & (z <= heights[-1])
    return float(np.abs(temps - fine(np.clip(np.c_[r, z], (rings[0], heights[0]),
                                             (rings[-1], heights[-1]))))[inside].max())  # fmt: skip


def _about() -> str:
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    day = datetime.now(UTC)
    numba = "numba" if is_compiled() else "no numba"
    load = os.getloadavg()[0]
    return (
        f"Measured on {day.day} {day:%B %Y}: {platform.machine()}, {os.cpu_count()} cores, "
        f"{memory:.0f} GiB of memory, {platform.system()}, Python {platform.python_version()}, "
        f"numpy {np.__version__}, {numba}; load {load:.1f} meanwhile."
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.strip().split("\n")[0])
    parser.add_argument("--speed", action="store_true")
    parser.add_argument("--accuracy", action="store_true")
    parser.add_argument("--beside", action="store_true")
    parser.add_argument("--write", type=Path, help="put the reports into this document")
    asked = parser.parse_args()
    every = not (asked.speed or asked.accuracy or asked.beside)
    for wanted, run in (
        (asked.speed, speed), (asked.accuracy, accuracy), (asked.beside, beside),
    ):  # fmt: skip
        if wanted or every:
            report = run()
            print(report)
            if asked.write:
                put(asked.write, report)


if __name__ == "__main__":
    main()
