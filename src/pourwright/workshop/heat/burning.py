"""How a design's candles burn: one burn with its band, a whole life, several wicks in the round."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pourwright.core.heat.burning import (
    DEEP_MM,
    LEFT_MM,
    WALL_WARN_C,
    Burn,
    Candle,
    simulate_burn,
)
from pourwright.core.heat.calibrate import SERIES, Band, Calibration, forecast
from pourwright.papers.heat_pictures import (
    Bands,
    Film,
    Moment,
    bands_between,
    key_svg,
    moment,
    moments_from,
    pool_above_svg,
    section_film_svg,
)
from pourwright.papers.line_charts import Level, Line, Reach, lines_svg
from pourwright.workshop.burns.models import BurnReading, TestPiece
from pourwright.workshop.burns.records import core_readings
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.heat.kept import as_kept, calibration_from
from pourwright.workshop.heat.memory import Memory
from pourwright.workshop.heat.recorded import recorded_for
from pourwright.workshop.heat.setting import STRIP, STRIP_PX, degrees
from pourwright.workshop.house import jobs
from pourwright.workshop.house.models import Job, JobState
from pourwright.workshop.stores.models import Item

CELL_MM = 2.0  # the same on every machine; see the decision on heat
SOLID_CELL_MM = 2.0
USUAL_HOURS = Decimal(4)
FILM_PX = 420.0
KEPT_STEP_H = 0.25
WORDS = {"pool_mm": "Pool’s width", "depth_mm": "Pool’s depth", "wall_c": "Hottest wall"}

_burns = Memory(16)
_bands = Memory(16)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnAsk:
    """One burn: g/h of each wick, hours, °C."""

    rate_g_h: float
    hours: Decimal = USUAL_HOURS
    room_c: Decimal = Decimal(21)


# --- the fit -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The burns that the model can be fitted to, the job that does it, and the fit once done."""

    burns: int
    args: Mapping[str, Any]
    job: Job | None
    calibration: Calibration | None


def fit_for(version: DesignVersion, wick: Item) -> Fit:
    """Return how far the model is fitted to the maker's burns of this wax and wick series."""
    recorded = recorded_for(version, wick)
    args = {"recorded": as_kept(recorded), "cell_mm": CELL_MM}
    job = jobs.found("heat.calibrate", args) if recorded else None
    done = job is not None and job.state == JobState.DONE
    return Fit(
        burns=len(recorded), args=args, job=job,
        calibration=calibration_from(job.result) if done else None,
    )  # fmt: skip


# --- one burn ------------------------------------------------------------------------------------


def burn_of(candle: Candle, *, hours: float) -> Burn:
    """Return one burn, worked out once while the program runs."""
    return _burns.get((candle, hours), lambda: simulate_burn(candle, hours=hours, cell_mm=CELL_MM))


def band_of(candle: Candle, calibration: Calibration | None, *, hours: float, key: str) -> Band:
    """Return a burn with its band; ``key`` names the calibration."""
    fitted = calibration.applied(candle) if calibration else candle
    return _bands.get(
        (candle, hours, key),
        lambda: forecast(
            candle, calibration=calibration, hours=hours, cell_mm=CELL_MM,
            burn=burn_of(fitted, hours=hours),
        ),
    )  # fmt: skip


def has_band(candle: Candle, *, hours: float, key: str) -> bool:
    return _bands.has((candle, hours, key))


def values_of(band: Band) -> tuple[dict[str, Any], dict[str, Any]]:
    """
    Return a band's values at each whole hour, and its curves at each quarter.

    Names are as ``Forecast.values`` has them, such as ``pool_mm 2``; curves are (hours, middle,
    low, high).
    """
    burn = band.burn
    end = float(burn.times_h[-1])
    whole = sorted({float(h) for h in range(1, int(end) + 1)} | {round(end, 2)})
    quarters = [KEPT_STEP_H * k for k in range(int(end / KEPT_STEP_H + 1e-6) + 1)]
    values, curves = {}, {}
    for name in SERIES:
        middle, low, high = getattr(burn, name), band.low[name], band.high[name]
        n = len(low)

        def at(hours: float, series, n: int = n) -> float:
            import numpy as np

            return float(np.interp(hours, burn.times_h[:n], series[:n]))

        curves[name] = [
            [h, *(round(at(h, series), 2) for series in (middle, low, high))] for h in quarters
        ]
        for h in whole if name == "pool_mm" else [round(end, 2)]:
            values[f"{name} {h:g}"] = {
                "value": at(h, middle), "low": at(h, low), "high": at(h, high),
            }  # fmt: skip
    return values, curves


# --- pictures ------------------------------------------------------------------------------------


def moment_of(burn: Burn, place: int, bands: Bands, *, at_h: float | None = None) -> Moment:
    """Return one of a burn's pictures as a moment."""
    hours, temps, layers, tops = burn.pictures[place]
    wax = burn.candle.wax
    return moment(
        at_h=hours if at_h is None else at_h, temps_c=temps, radii_mm=burn.radii_mm,
        layers_mm=layers, tops_mm=tops, bands=bands, start_c=wax.melting_start_c,
        end_c=wax.melting_end_c,
    )  # fmt: skip


def film_of(candle: Candle, moments: tuple[Moment, ...], bands: Bands) -> Film:
    return Film(
        inside_mm=candle.inside_diameter_mm, rim_mm=candle.rim_mm,
        wall_mm=candle.wall.thickness_mm,
        base_mm=candle.wall.thickness_mm if candle.base_mm is None else candle.base_mm,
        bands=bands, moments=moments, wicks_mm=(candle.ring_radius_mm,),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """A film as the page plays it."""

    film: Film
    player: str
    strip: tuple[tuple[float, str], ...]
    key: str

    @property
    def text(self) -> str:
        return self.film.as_text()


def played(film: Film, *, title: str, prefix: str) -> Played:
    across = film.inside_mm + 2 * film.wall_mm
    hours = [film.nearest(film.hours * k / (STRIP - 1)).at_h for k in range(STRIP)]
    return Played(
        film=film,
        player=section_film_svg(
            film, at_h=0, title=title, prefix=prefix, px_per_mm=min(FILM_PX / across, 4.5)
        ),
        strip=tuple(
            (
                at,
                section_film_svg(
                    film, at_h=at, title=f"after {at:.1f} h", prefix=f"{prefix}-{number}",
                    px_per_mm=STRIP_PX / across, words=False,
                ),
            )
            for number, at in enumerate(dict.fromkeys(hours))
        ),
        key=key_svg(film.bands, width=340, prefix=f"{prefix}-key"),
    )  # fmt: skip


def played_burn(burn: Burn, *, units: str) -> Played:
    """Return one burn as it is played."""
    hottest = max(float(temps[temps == temps].max()) for _, temps, _, _ in burn.pictures)
    bands = bands_between(burn.candle.room.air_c, hottest, units=units)
    moments = tuple(moment_of(burn, place, bands) for place in range(len(burn.pictures)))
    return played(
        film_of(burn.candle, moments, bands), title="Section while it burns, to scale",
        prefix="burn-film",
    )  # fmt: skip


def played_life(candle: Candle, result: Mapping[str, Any], *, units: str) -> Played:
    """Return a life as it is played, a moment for the end of each burn."""
    bands = Bands(at_c=tuple(result["bands"]), units=units)
    return played(
        film_of(candle, moments_from(result["film"]), bands),
        title="Section at the end of each burn, to scale", prefix="life-film",
    )  # fmt: skip


def curves(
    burn: Burn, band: Band | None, *, points: Mapping[str, Sequence[tuple[float, float]]],
    units: str, width: float, prefix: str,
) -> list[tuple[str, str]]:  # fmt: skip
    """Return pool, depth and wall over the burn, with the band and what was measured."""
    us = units == "us"
    found = []
    for name, words in WORDS.items():
        warm = name == "wall_c"

        def to(value: float, warm: bool = warm) -> float:
            if warm:
                return degrees(float(value), units)
            return float(value) / 25.4 if us else float(value)

        unit = ("°F" if us else "°C") if warm else ("in" if us else "mm")
        levels = {
            "pool_mm": Level(value=to(burn.candle.inside_diameter_mm), label="vessel"),
            "depth_mm": Level(value=to(DEEP_MM), label="deep (common practice)"),
            "wall_c": Level(value=to(WALL_WARN_C), label="warm (house rule)"),
        }
        times = [float(t) for t in burn.times_h]
        series = getattr(burn, name)
        reach = None
        if band is not None:
            n = len(band.low[name])
            reach = Reach(
                low=tuple((t, to(v)) for t, v in zip(times[:n:6], band.low[name][::6],
                                                     strict=True)),
                high=tuple((t, to(v)) for t, v in zip(times[:n:6], band.high[name][::6],
                                                      strict=True)),
                label="nine in ten",
            )  # fmt: skip
        seen = [(h, to(v)) for h, v in points.get(name, ())]
        found.append(
            (
                words,
                lines_svg(
                    [Line(label="modelled", points=tuple(
                        (t, to(v)) for t, v in zip(times[::3], series[::3], strict=True)))],
                    title=f"{words} over the burn", width=width, height=210,
                    prefix=f"{prefix}-{name.partition('_')[0]}",
                    show=lambda value, unit=unit: f"{value:g} {unit}", reach=reach, points=seen,
                    points_label="your burns", levels=[levels[name]],
                    lowest=to(burn.candle.room.air_c) if warm else 0.0,
                    desc=f"At the end {to(series[-1]):.2g} {unit}.",
                ),
            )
        )  # fmt: skip
    return found


def measured(version: DesignVersion, *, hours: float) -> dict[str, list[tuple[float, float]]]:
    """Return what was read of this wick and vessel in a design's burns: (hours, mm or °C)."""
    found: dict[str, list[tuple[float, float]]] = {"pool_mm": [], "depth_mm": [], "wall_c": []}
    pieces = TestPiece.objects.filter(
        version__design=version.design_id,
        version__vessel=version.vessel_id,
        wick=version.wick_id,
        wick_count=version.wick_count,
    )
    rows = BurnReading.objects.filter(
        burn__piece__in=pieces, burn__left_out="", left_out=""
    ).order_by("burn", "minute")[:2000]
    for reading in core_readings_of(rows):
        at = float(reading.minute) / 60
        if at > hours + 0.01:
            continue
        if reading.pool_mm:
            found["pool_mm"].append((at, float(sum(reading.pool_mm) / len(reading.pool_mm))))
        if reading.depth_mm is not None:
            found["depth_mm"].append((at, float(reading.depth_mm)))
        walls = [w for w in (reading.wall_pool_c, reading.wall_dry_c) if w is not None]
        if walls:
            found["wall_c"].append((at, float(max(walls))))
    return found


def core_readings_of(rows):
    """Yield readings of many burns, each burn's own minutes put together."""
    by_burn: dict[int, list] = {}
    for row in rows:
        by_burn.setdefault(row.burn_id, []).append(row)
    for own in by_burn.values():
        yield from core_readings(own)


# --- what runs in the background -----------------------------------------------------------------


def life_args(candle: Candle, *, hours: float, units: str) -> dict[str, Any]:
    return {
        "candle": as_kept(candle), "hours": hours, "left_mm": LEFT_MM, "cell_mm": CELL_MM,
        "units": units,
    }  # fmt: skip


def solid_args(
    candle: Candle, *, hours: float, positions_mm: Sequence[Sequence[float]] = ()
) -> dict[str, Any]:
    return {
        "candle": as_kept(candle), "hours": hours, "cell_mm": SOLID_CELL_MM,
        "positions_mm": [list(p) for p in positions_mm],
    }  # fmt: skip


def life_curve(result: Mapping[str, Any], candle: Candle, *, units: str, width: float,
               prefix: str) -> str:  # fmt: skip
    """Return pool and wall at the end of each burn, over the life."""
    us = units == "us"
    pool = [(b["till_h"], b["pool_mm"] / 25.4 if us else b["pool_mm"]) for b in result["burns"]]
    wide = candle.inside_diameter_mm / 25.4 if us else candle.inside_diameter_mm
    unit = "in" if us else "mm"
    return lines_svg(
        [Line(label="pool at the end of each burn", points=tuple(pool), look=2)],
        title="The pool over the candle’s life", desc=f"From {pool[0][1]:.2g} to "
        f"{pool[-1][1]:.2g} {unit}.", width=width, height=190, prefix=prefix, lowest=0.0,
        show=lambda value: f"{value:g} {unit}", levels=[Level(value=wide, label="vessel")],
        across="hours burnt",
    )  # fmt: skip


def above(result: Mapping[str, Any]) -> str:
    """Return the pool of several wicks from above."""
    return pool_above_svg(
        inside_mm=result["inside_mm"], wall_mm=result["wall_mm"], pool=result["pool"],
        positions_mm=[tuple(p) for p in result["positions_mm"]],
        hot_spot_deg=result["hot_spot_deg"], size=300, prefix="solid-above",
        title="The pool from above, to scale",
    )  # fmt: skip
