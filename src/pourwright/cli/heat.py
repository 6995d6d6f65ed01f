"""``pourwright heat``: how long a melt takes, how a pour sets, how a candle burns; simulated."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from dataclasses import asdict
from pathlib import Path

import numpy as np

from pourwright.cli.output import add_json_flag, print_json, print_pairs
from pourwright.core.heat.burning import Burn, CandleLife, simulate_life
from pourwright.core.heat.calibrate import FREE, Calibration, calibrate, forecast
from pourwright.core.heat.materials import WAX_VALUES, Wax
from pourwright.core.heat.melting import melt
from pourwright.core.heat.setting import Setting, compare
from pourwright.core.heat.solid import SolidBurn, simulate_solid
from pourwright.intake.heat_file import read_heat

ABOUT = """\
FILE is a small document in TOML with the wax, the vessel, the fill and the room;
docs/heat-file.md shows it whole. Material values come from dated tables, each with source and
status (in --json under "materials"), and each can be replaced in the document.

"""

MELT_EPILOG = (
    ABOUT
    + """\
Caution: never leave melting wax; keep it well below its flash point; smother a wax fire, never
put water on it.

Example:
  pourwright heat melt jar.toml
"""
)
SET_EPILOG = (
    ABOUT
    + """\
A screening estimate. The last place to set ranks alternatives; it is no volume, and nothing here
foretells frosting, wet spots or cracks. [[compare]] tables are simulated beside the first pour.

Caution: liquid wax burns the skin; move no vessel before it may be moved.

Example:
  pourwright heat set jar.toml
"""
)
BURN_EPILOG = (
    ABOUT
    + """\
A screening estimate: it helps to decide what to test next, never what not to test, and passes no
candle. With burns of your own in [[burn.recorded]] it is fitted to them first; without, it is
unverified. life = true burns the candle down in burns of that length.

Caution: test burns are attended all the time, apart from each other and from all that can burn,
on a fire-proof surface, extinguisher at hand.

Example:
  pourwright heat burn jar.toml
"""
)


def register(parts) -> None:
    part = parts.add_parser("heat", help="melting, setting and burning, simulated")
    verbs = part.add_subparsers(dest="verb", metavar="VERB", required=True)
    for name, told, description, epilog, run in (
        ("melt", "how long a melter takes, and the heat left for the pour",
         "Work out a melt: heat, time, and how long the batch stays fit to pour.",
         MELT_EPILOG, run_melt),
        ("set", "when vessels may be moved and are set through",
         "Simulate how poured wax sets in its vessel.", SET_EPILOG, run_set),
        ("burn", "pool, depth and wall of a burn, or of a whole life",
         "Simulate a burn of a candle, or its whole life.", BURN_EPILOG, run_burn),
    ):  # fmt: skip
        verb = verbs.add_parser(
            name,
            help=told,
            description=description,
            epilog=epilog,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        verb.add_argument("file", metavar="FILE", help="the document")
        add_json_flag(verb)
        verb.set_defaults(run=run)


# --- melt ---------------------------------------------------------------------------------------


def run_melt(arguments: argparse.Namespace) -> int:
    plan = read_heat(Path(arguments.file)).melt()
    found = melt(plan.wax, **plan.keywords)
    if arguments.json:
        print_json({**_rounded(asdict(found)), "materials": _materials(plan.wax)})
        return 0
    rows = [
        ("heat", f"{found.heat_j / 1000:.0f} kJ"),
        ("time", f"{found.minutes:.0f} min"),
        ("", f"{found.warm_min:.0f} min to where melting starts"),
        ("", f"{found.melt_min:.0f} min through the melting range"),
        ("", f"{found.above_min:.0f} min from there to the melt's end"),
        ("left for the pour", f"{found.left_j / 1000:.0f} kJ"),
    ]
    if found.to_pour_min is not None and found.to_melting_min is not None:
        rows.append(
            (
                "unheated, stirred",
                f"{found.to_pour_min:.0f} min to the pour temperature, "
                f"{found.to_melting_min:.0f} min until it begins to set",
            )
        )
    print_pairs(rows)
    _print_lines((*found.warnings, *found.words, *plan.wax.notes))
    return 0


# --- set ----------------------------------------------------------------------------------------


def run_set(arguments: argparse.Namespace) -> int:
    pours, cell_mm = read_heat(Path(arguments.file)).pours()
    settings = compare(pours, cell_mm=cell_mm)
    if arguments.json:
        print_json(
            {
                "settings": [_setting_json(one) for one in settings],
                "materials": _materials(pours[0].wax),
                "words": settings[0].words,
                "not_modelled": settings[0].not_modelled,
            }
        )
        return 0
    for number, one in enumerate(settings):
        if number:
            print()
        print_pairs(_setting_rows(one, number))
    print()
    _print_lines((*settings[0].words, *pours[0].wax.notes))
    _print_not_modelled(settings[0].not_modelled)
    return 0


def _setting_rows(one: Setting, number: int) -> list[tuple[str, str]]:
    name = one.pour.name or ("first pour" if number == 0 else f"comparison {number}")
    outside = (
        ""
        if one.outside_when_movable_c is None
        else f" (wall then {one.outside_when_movable_c:.0f} °C)"
    )
    return [
        ("pour", f"{name}, at {one.pour.pour_c:.0f} °C in a room of {one.pour.room.air_c:.0f} °C"),
        ("surface closes", _clock(one.surface_closes_h)),
        ("may be moved", _clock(one.movable_h) + outside),
        ("set through", _clock(one.set_through_h)),
        (
            "sets last",
            f"{one.last_depth_mm:.0f} mm below the surface, "
            f"{one.last_radius_mm:.0f} mm from the middle",
        ),
        (
            "fastest cooling",
            f"{one.wall_rate_k_min:.1f} K/min at the wall, {one.surface_rate_k_min:.1f} K/min at "
            "the surface (indicative)",
        ),
    ]


def _setting_json(one: Setting) -> dict:
    return _rounded(
        {
            "name": one.pour.name,
            "pour_c": one.pour.pour_c,
            "room_c": one.pour.room.air_c,
            "surface_closes_h": one.surface_closes_h,
            "movable_h": one.movable_h,
            "set_through_h": one.set_through_h,
            "last_depth_mm": one.last_depth_mm,
            "last_radius_mm": one.last_radius_mm,
            "wall_rate_k_min": one.wall_rate_k_min,
            "surface_rate_k_min": one.surface_rate_k_min,
            "times_h": one.times_h.tolist(),
            "curves_c": {name: curve.tolist() for name, curve in one.curves.items()},
            "liquid_share": one.liquid_share.tolist(),
            "energy_error": one.energy_error,
        }
    )


# --- burn ---------------------------------------------------------------------------------------


def run_burn(arguments: argparse.Namespace) -> int:
    plan = read_heat(Path(arguments.file)).burn()
    fitted = calibrate(plan.recorded, cell_mm=plan.cell_mm) if plan.recorded else None
    candle = plan.candle if fitted is None else fitted.applied(plan.candle)
    if plan.life:
        life = simulate_life(
            candle, burn_hours=plan.hours, left_mm=plan.left_mm, cell_mm=plan.cell_mm
        )
        first = life.burns[0]
        answer, rows = _life_json(life), _life_rows(life)
        flags = life.flags
    else:
        band = forecast(plan.candle, calibration=fitted, hours=plan.hours, cell_mm=plan.cell_mm)
        first = band.burn
        answer = _burn_json(first) | {
            "band": {
                name: {"low": low.tolist(), "high": band.high[name].tolist()}
                for name, low in band.low.items()
            }
        }
        rows = _burn_rows(first, band.low, band.high)
        flags = first.flags
    if plan.solid:
        solid = simulate_solid(
            candle, positions_mm=plan.positions_mm or None, hours=plan.hours, cell_mm=plan.cell_mm
        )
        answer["three_dimensions"] = _solid_json(solid)
        rows += _solid_rows(solid)
    if arguments.json:
        print_json(
            _rounded(
                answer
                | {
                    "flags": flags,
                    "calibration": None if fitted is None else _calibration_json(fitted),
                    "calibrated": fitted is not None,
                    "notes": [*plan.notes, *candle.wax.notes],
                    "materials": _materials(candle.wax),
                    "words": first.words,
                    "not_modelled": first.not_modelled,
                }
            )
        )
        return 0
    if fitted is not None:
        rows += _calibration_rows(fitted)
    print_pairs([*rows, *(("look out", flag) for flag in flags)])
    print()
    _print_lines((*first.words, *plan.notes, *candle.wax.notes))
    _print_not_modelled(first.not_modelled)
    return 0


def _hours(burn: Burn) -> list[float]:
    end = float(burn.times_h[-1])
    return [h for h in (1.0, 2.0, 3.0) if h < end - 0.01] + [end]


def _burn_rows(burn: Burn, low: dict, high: dict) -> list[tuple[str, str]]:
    def reading(name: str, series, hours: float, unit: str) -> str:
        ends = [float(np.interp(hours, burn.times_h[: len(e[name])], e[name])) for e in (low, high)]
        return f"{burn.at(series, hours):.0f} {unit} ({ends[0]:.0f} to {ends[1]:.0f})"

    rows = [
        (f"pool at {hours:.1f} h", reading("pool_mm", burn.pool_mm, hours, "mm"))
        for hours in _hours(burn)
    ]
    end = float(burn.times_h[-1])
    touch = "not in this burn" if burn.touches_h is None else f"after {burn.touches_h:.1f} h"
    rows += [
        ("reaches the wall", touch),
        ("pool depth", reading("depth_mm", burn.depth_mm, end, "mm")),
        ("hottest wall", reading("wall_c", burn.wall_c, end, "°C")),
        ("burned", f"{burn.burned_g:.1f} g"),
    ]
    if burn.ended_early:
        rows.append(("ended early", burn.ended_early))
    rows.append(("in brackets", "nine in ten readings, if the model is right"))
    return rows


def _burn_json(burn: Burn) -> dict:
    return {
        "times_h": burn.times_h.tolist(),
        "pool_mm": burn.pool_mm.tolist(),
        "depth_mm": burn.depth_mm.tolist(),
        "wall_c": burn.wall_c.tolist(),
        "base_c": burn.base_c.tolist(),
        "level_mm": burn.level_mm.tolist(),
        "touches_h": burn.touches_h,
        "burned_g": burn.burned_g,
        "covered_share": burn.covered_share,
        "ended_early": burn.ended_early,
        "energy_error": burn.energy_error,
        "mass_error_g": burn.mass_error_g,
    }


def _life_rows(life: CandleLife) -> list[tuple[str, str]]:
    return [
        ("burns", f"{len(life.burns)} of up to {life.burns[0].times_h[-1]:.0f} h"),
        ("hours in all", f"{life.hours:.0f} h, a tenth more or less at best"),
        ("burned", f"{life.burned_g:.0f} g, {life.left_g:.0f} g left"),
        ("ring left standing", f"{life.ring_g:.0f} g"),
        ("hottest wall", f"{life.hottest_wall_c:.0f} °C"),
        ("ends", life.stopped),
    ]


def _life_json(life: CandleLife) -> dict:
    return {
        "burns": [
            {
                "hours": float(burn.times_h[-1]),
                "pool_mm": float(burn.pool_mm[-1]),
                "depth_mm": float(burn.depth_mm.max()),
                "wall_c": float(burn.wall_c.max()),
                "base_c": float(burn.base_c.max()),
                "burned_g": burn.burned_g,
                "touches_h": burn.touches_h,
            }
            for burn in life.burns
        ],
        "hours": life.hours,
        "burned_g": life.burned_g,
        "left_g": life.left_g,
        "ring_g": life.ring_g,
        "tunnels": life.tunnels,
        "hottest_wall_c": life.hottest_wall_c,
        "hottest_base_c": life.hottest_base_c,
        "stopped": life.stopped,
    }


def _solid_rows(solid: SolidBurn) -> list[tuple[str, str]]:
    return [
        ("in three dimensions", f"pool over {solid.covered[-1]:.0%} of the surface"),
        ("", f"{solid.depth_mm[-1]:.0f} mm deep, wall up to {solid.hottest_c.max():.0f} °C"),
    ]


def _solid_json(solid: SolidBurn) -> dict:
    return {
        "times_h": solid.times_h.tolist(),
        "covered_share": solid.covered.tolist(),
        "pool_mm": solid.pool_mm.tolist(),
        "depth_mm": solid.depth_mm.tolist(),
        "hottest_c": solid.hottest_c.tolist(),
        "positions_mm": solid.positions_mm,
        "hot_spot_deg": solid.hot_spot_deg,
        "energy_error": solid.energy_error,
    }


def _calibration_rows(fitted: Calibration) -> list[tuple[str, str]]:
    names = {
        "returned_share": "heat returned",
        "radiated_share": "heat radiated",
        "pool_mixing_outward": "pool mixing",
    }
    rows = [
        (names[name], f"{fitted.values[name]:.3g} (was {fitted.prior_values[name]:.3g})")
        for name in FREE
    ]
    return [*rows, ("misfit", f"{fitted.misfit:.1f} of the expected spread")]


def _calibration_json(fitted: Calibration) -> dict:
    return {
        "values": fitted.values,
        "log_sd": fitted.log_sd,
        "prior_values": fitted.prior_values,
        "misfit": fitted.misfit,
        "runs": fitted.runs,
        "residuals": [
            {"kind": kind, "hours": when, "read": read, "model": model}
            for kind, when, read, model in fitted.residuals
        ],
    }


# --- both ---------------------------------------------------------------------------------------


def _materials(fluid: Wax) -> dict:
    return {
        name: {"value": getattr(fluid, name), **asdict(fluid.origins[name])}
        for name in WAX_VALUES
        if name in fluid.origins
    }


def _clock(hours: float | None) -> str:
    if hours is None:
        return "not in this time"
    minutes = round(hours * 60)
    return f"after {minutes // 60} h {minutes % 60:02d} min"


def _print_lines(lines: Iterable[str]) -> None:
    for line in lines:
        print(line)


def _print_not_modelled(items: Iterable[str]) -> None:
    print("Not modelled: " + "; ".join(items) + ".")


def _rounded(value):
    """Return the same with floats to six digits, far below what a thermometer tells."""
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(inner) for inner in value]
    return float(f"{value:.6g}") if isinstance(value, float) else value
