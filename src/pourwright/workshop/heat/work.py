"""What heat works out in the background: a fit to burns, a forecast, a life, three dimensions."""

from __future__ import annotations

from typing import Any

from pourwright.workshop.house.jobs import Watch, key_of, work

CALIBRATE = "heat.calibrate"
# A fit's simulated burns for each recorded one: six rounds of four at most, mostly fewer.
ROUNDS = 17


@work(CALIBRATE, title="Fitting the burn model to your burns", most_s=900)
def calibrated(args: dict, watch: Watch) -> dict[str, Any]:
    """Fit the flame to recorded burns (``recorded``, as kept), with cells of ``cell_mm``."""
    from pourwright.core.heat.calibrate import calibrate
    from pourwright.workshop.heat.kept import as_kept, recorded_from

    recorded = [recorded_from(one) for one in args["recorded"]]
    guess = ROUNDS * len(recorded)

    def told(runs: int) -> None:
        watch.say(min(runs / guess, 0.97), f"{runs} burns simulated")
        watch.check()

    return as_kept(calibrate(recorded, cell_mm=args["cell_mm"], told=told))


def fit_of(args: dict, watch: Watch) -> Any:
    """Return the fit to these burns: the one that is kept, else worked out and kept now."""
    from django.utils import timezone

    from pourwright.workshop.heat.kept import calibration_from
    from pourwright.workshop.house.models import Job, JobState

    if not args["recorded"]:
        return None
    key = key_of(CALIBRATE, args)
    done = Job.objects.filter(key=key, state=JobState.DONE).first()
    if done is not None:
        return calibration_from(done.result)
    found = calibrated(args, watch)
    now = timezone.now()
    Job.objects.create(
        kind=CALIBRATE, args=args, key=key, state=JobState.DONE, share=1, result=found,
        asked_at=now, seen_at=now, ended_at=now,
    )  # fmt: skip
    return calibration_from(found)


@work("heat.forecast", title="Working the forecast out", most_s=900)
def forecast(args: dict, watch: Watch) -> dict[str, Any]:
    """Work out a kept forecast of a burn, from its own inputs, and write its values."""
    from pourwright.core.heat.calibrate import forecast as core_forecast
    from pourwright.workshop.heat.burning import values_of
    from pourwright.workshop.heat.kept import candle_from
    from pourwright.workshop.heat.models import Forecast

    kept = Forecast.objects.get(pk=args["forecast"])
    given = kept.inputs
    fit = fit_of({"recorded": given["recorded"], "cell_mm": given["cell_mm"]}, watch)
    watch.say(0.9, "the burn itself")
    band = core_forecast(
        candle_from(given["candle"]), calibration=fit, hours=given["hours"],
        cell_mm=given["cell_mm"],
    )  # fmt: skip
    values, curve = values_of(band)
    count = len(given["recorded"])
    Forecast.objects.filter(pk=kept.pk).update(
        values=values, curve=curve, calibrated=band.calibrated,
        basis=f"fitted to {count} burn{'' if count == 1 else 's'} of yours"
        if band.calibrated else "unverified: fitted to no burn of yours",
    )  # fmt: skip
    return {"forecast": kept.pk}


@work("heat.life", title="Burning it down", most_s=900)
def life(args: dict, watch: Watch) -> dict[str, Any]:
    """Burn a candle down in burns of one length; the film has a moment for each burn's end."""
    from pourwright.core.heat.burning import Burn, simulate_life
    from pourwright.papers.heat_pictures import bands_between
    from pourwright.workshop.heat.burning import moment_of
    from pourwright.workshop.heat.kept import candle_from

    candle = candle_from(args["candle"])
    bands = bands_between(candle.room.air_c, 80.0, units=args["units"])
    done: list[dict] = []
    moments: list[str] = []

    def told(burn: Burn) -> None:
        hours = float(burn.times_h[-1]) + (done[-1]["till_h"] if done else 0.0)
        if not moments:
            moments.append(moment_of(burn, 0, bands, at_h=0.0).as_line())
        moments.append(moment_of(burn, -1, bands, at_h=hours).as_line())
        done.append(
            {
                "hours": float(burn.times_h[-1]), "till_h": hours,
                "pool_mm": float(burn.pool_mm[-1]), "depth_mm": float(burn.depth_mm.max()),
                "wall_c": float(burn.wall_c.max()), "base_c": float(burn.base_c.max()),
                "burned_g": burn.burned_g, "touches_h": burn.touches_h,
                "level_mm": float(burn.level_mm[-1]),
            }
        )  # fmt: skip
        burnt = sum(one["burned_g"] for one in done)
        watch.say(burnt / candle.fill_g, f"{len(done)} burns, {hours:.0f} h")
        watch.keep({"burns": list(done), "film": "\n".join(moments), "bands": list(bands.at_c)})
        watch.check()

    found = simulate_life(
        candle, burn_hours=args["hours"], left_mm=args["left_mm"], cell_mm=args["cell_mm"],
        told=told,
    )  # fmt: skip
    return {
        "burns": done, "film": "\n".join(moments), "bands": list(bands.at_c),
        "hours": found.hours, "burned_g": found.burned_g, "left_g": found.left_g,
        "ring_g": found.ring_g, "fill_g": candle.fill_g, "tunnels": found.tunnels,
        "hottest_wall_c": found.hottest_wall_c, "hottest_base_c": found.hottest_base_c,
        "stopped": found.stopped, "flags": list(found.flags),
    }  # fmt: skip


@work("heat.solid", title="Burning in three dimensions", most_s=900)
def solid(args: dict, watch: Watch) -> dict[str, Any]:
    """Burn several wicks, each where it stands; the pool from above, and the wall's hot spot."""
    from pourwright.core.heat.burning import EDGE
    from pourwright.core.heat.solid import simulate_solid
    from pourwright.papers.heat_pictures import plane_path
    from pourwright.workshop.heat.kept import candle_from

    candle, hours = candle_from(args["candle"]), args["hours"]

    def told(till_h: float) -> None:
        watch.say(till_h / hours, f"{till_h:.1f} of {hours:g} h")
        watch.check()

    found = simulate_solid(
        candle, positions_mm=[tuple(p) for p in args["positions_mm"]] or None, hours=hours,
        cell_mm=args["cell_mm"], told=told,
    )  # fmt: skip
    wax = candle.wax
    edge = wax.melting_start_c + EDGE * (wax.melting_end_c - wax.melting_start_c)
    return {
        "times_h": found.times_h.tolist(), "covered": found.covered.tolist(),
        "depth_mm": found.depth_mm.tolist(), "hottest_c": found.hottest_c.tolist(),
        "pool_mm": found.pool_mm.tolist(), "hot_spot_deg": found.hot_spot_deg,
        "positions_mm": [list(p) for p in found.positions_mm],
        "pool": plane_path(found.x_mm, found.y_mm, found.surface_c, edge),
        "inside_mm": candle.inside_diameter_mm, "wall_mm": candle.wall.thickness_mm,
    }  # fmt: skip
