"""
Forecasts: kept before the thing is seen, so that the program can be measured by what was seen.

A forecast never changes after it is made; what was recorded is set beside it. Nothing here passes
a candle.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from pourwright.core.burns.record import Reading
from pourwright.core.errors import BadInput
from pourwright.core.heat.calibrate import Band
from pourwright.core.heat.setting import Setting
from pourwright.workshop.burns.models import TestBurn, TestPiece
from pourwright.workshop.burns.records import core_readings
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.heat import burning, recorded
from pourwright.workshop.heat.candles import standing_of
from pourwright.workshop.heat.kept import as_kept
from pourwright.workshop.heat.models import Forecast, ForecastKind
from pourwright.workshop.house import jobs
from pourwright.workshop.house.models import Job
from pourwright.workshop.pours.models import Pour

# The setting model's own word: "times off by a seventh, or more"; taken as one standard deviation.
SETTING_SPREAD = 1 / 7
NINE_IN_TEN = 1.645
MOST_HOURS = 24.0
SETTING_VALUES = {"movable_h": "could be moved", "set_through_h": "set through"}


class BadOutcome(BadInput):
    """What was recorded cannot be read, or there is nothing in it."""


def keep_setting(
    version: DesignVersion, setting: Setting, *, at: datetime, pour: Pour | None = None
) -> Forecast:
    """Keep a setting's times with the range that nine in ten should lie in."""
    values = {}
    for name in SETTING_VALUES:
        hours = getattr(setting, name)
        if hours is not None:
            reach = NINE_IN_TEN * SETTING_SPREAD * hours
            values[name] = {"value": hours, "low": hours - reach, "high": hours + reach}
    return Forecast.objects.create(
        version=version, kind=ForecastKind.SET, pour=pour, inputs=as_kept(setting.pour),
        values=values, basis="unverified: no cooling of yours was compared", made_at=at,
    )  # fmt: skip


# --- burns ---------------------------------------------------------------------------------------


def forecast_for_burn(
    subject: TestPiece | DesignVersion, *, on: date, at: datetime, burn: TestBurn | None = None,
    work_out: bool = True,
) -> Forecast | None:  # fmt: skip
    """
    Keep what the model says of a burn that begins now; None where too little is known for that.

    Call it when a test burn is lit, with the piece and the burn. What it rests on is fixed at
    once; its values are worked out in the background (``work_out``), some seconds to a minute.
    A burn has one forecast: asked again, it is returned. Never raises.
    """
    if burn is not None and (had := burn.forecasts.first()) is not None:
        return had
    try:
        inputs = _inputs_of(subject, burn=burn, at=at)
    except BadInput:
        return None
    kept = Forecast.objects.create(
        version=subject if isinstance(subject, DesignVersion) else subject.version,
        kind=ForecastKind.BURN, burn=burn, inputs=inputs, made_at=at, by_hand=False,
        basis=f"made when it was lit on {on:%Y-%m-%d}",
    )  # fmt: skip
    if work_out and getattr(settings, "FORECAST_WHEN_LIT", True):
        ask_for_values(kept, at=at)
    return kept


def ask_for_values(forecast: Forecast, *, at: datetime) -> Job:
    """Have a burn's forecast worked out in the background."""
    return jobs.ask(
        "heat.forecast", {"forecast": forecast.pk}, at=at,
        where=reverse("heat:forecast", args=[forecast.pk]),
    )  # fmt: skip


def _inputs_of(
    subject: TestPiece | DesignVersion, *, burn: TestBurn | None, at: datetime
) -> dict[str, Any]:
    hours = 4.0 if burn is None else min(burn.planned_minutes / 60, MOST_HOURS)
    if isinstance(subject, DesignVersion):
        version, wick = subject, subject.wick
        rate = recorded.rate_of(wick, version)
        if rate is None:
            raise recorded.NoRate(f"How fast {wick.name} burns is not known.")
        candle = recorded.candle_of(
            standing_of(version), rate_g_h=rate.g_h, wicks=version.wick_count
        )
    else:
        version, wick = subject.version, subject.wick
        room = None if burn is None or burn.room_c is None else float(burn.room_c)
        candle = recorded.candle_of_piece(subject, before=burn, room_c=room)
    return {
        "candle": as_kept(candle), "hours": hours, "cell_mm": burning.CELL_MM,
        "recorded": as_kept(recorded.recorded_for(version, wick, before=at)),
    }  # fmt: skip


def keep_burn(
    version: DesignVersion, band: Band, *, cell_mm: float, recorded_as_kept: list, basis: str,
    at: datetime,
) -> Forecast:  # fmt: skip
    """Keep a burn's forecast that a page has worked out already."""
    values, curve = burning.values_of(band)
    return Forecast.objects.create(
        version=version, kind=ForecastKind.BURN, values=values, curve=curve,
        calibrated=band.calibrated, basis=basis, made_at=at,
        inputs={
            "candle": as_kept(band.burn.candle), "hours": float(band.burn.times_h[-1]),
            "cell_mm": cell_mm, "recorded": recorded_as_kept,
        },
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class BandOfBurn:
    """What the model said of a burn: by name, (hours, low, high); and in words what that is."""

    bands: dict[str, list[tuple[float, float, float]]]
    words: str


def band_for(burn: TestBurn) -> BandOfBurn | None:
    """Return the band that was foretold for a burn, or None where there is none (yet)."""
    kept = burn.forecasts.exclude(curve={}).first()
    if kept is None:
        return None
    return BandOfBurn(
        bands={
            name: [(h, low, high) for h, _, low, high in rows] for name, rows in kept.curve.items()
        },
        words=f"modelled, {kept.basis}: a screening estimate, nine in ten readings",
    )


NEAR_MINUTES = 12.0


def seen_in(burn: TestBurn, names: Iterable[str]) -> dict[str, float]:
    """Return what was read in a burn of a forecast's values, each within minutes of its time."""
    readings = core_readings(burn.readings.all())
    found: dict[str, float] = {}
    for name in names:
        kind, _, hours = name.partition(" ")
        read = [
            (abs(float(r.minute) - float(hours or 0) * 60), value)
            for r in readings
            if (value := _value_of(r, kind)) is not None
        ]
        if read and (nearest := min(read))[0] <= NEAR_MINUTES:
            found[name] = nearest[1]
    return found


def _value_of(reading: Reading, kind: str) -> float | None:
    if kind == "pool_mm" and reading.pool_mm:
        return float(sum(reading.pool_mm) / len(reading.pool_mm))
    if kind == "depth_mm" and reading.depth_mm is not None:
        return float(reading.depth_mm)
    if kind == "wall_c":
        walls = [w for w in (reading.wall_pool_c, reading.wall_dry_c) if w is not None]
        return float(max(walls)) if walls else None
    return None


# --- what was recorded ---------------------------------------------------------------------------


def record_outcome(
    forecast: Forecast, *, outcome: Mapping[str, float | None], note: str = "", at: datetime
) -> Forecast:
    """
    Set beside a forecast what was seen; what was recorded before is replaced.

    Raises ``BadOutcome`` where nothing is given, or a value that the forecast has none for.
    """
    given = {name: float(value) for name, value in outcome.items() if value is not None}
    if not given:
        raise BadOutcome("Enter at least one time: how long after the pour it was, as 1:45.")
    if strange := sorted(set(given) - set(forecast.values)):
        raise BadOutcome(f"This forecast says nothing of “{strange[0]}”.")
    with transaction.atomic():
        Forecast.objects.filter(pk=forecast.pk).update(
            outcome=given, outcome_note=note.strip(), outcome_at=at
        )
        forecast.refresh_from_db()
    return forecast


_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)")
_WORDS = re.compile(r"(?:(\d+(?:[.,]\d+)?)\s*h)?\s*(?:(\d+(?:[.,]\d+)?)\s*min)?")


def hours_from(text: str, *, field: str) -> float | None:
    """
    Return a time span in hours: 1:45, 1 h 45 min, 105 min, or hours as 1.75; None if empty.

    >>> hours_from("1:45", field="Moved"), hours_from("30 min", field="Moved")
    (1.75, 0.5)
    """
    words = text.strip().lower()
    if not words:
        return None
    if clock := _CLOCK.fullmatch(words):
        found = int(clock[1]) + int(clock[2]) / 60
    elif (parts := _WORDS.fullmatch(words)) and any(parts.groups()):
        hours, minutes = (float((part or "0").replace(",", ".")) for part in parts.groups())
        found = hours + minutes / 60
    else:
        try:
            found = float(words.replace(",", "."))
        except ValueError:
            raise BadOutcome(f'{field}: "{text}" is no time; write 1:45 or 105 min.') from None
    if not 0 < found <= 240:
        raise BadOutcome(f"{field}: {text} is not between nothing and ten days.")
    return found


# --- the score -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One value foretold and recorded."""

    name: str
    value: float
    low: float
    high: float
    recorded: float | None

    @property
    def within(self) -> bool | None:
        return None if self.recorded is None else self.low <= self.recorded <= self.high


def hits(forecast: Forecast) -> list[Hit]:
    """Return a forecast's values with what was recorded of each."""
    outcome = forecast.outcome or {}
    if forecast.burn is not None:
        outcome = seen_in(forecast.burn, forecast.values)
    return [
        Hit(name=name, recorded=outcome.get(name), **one) for name, one in forecast.values.items()
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """How often what was recorded lay in the range that nine in ten should lie in."""

    kind: str
    calibrated: bool
    forecasts: int
    values: int
    within: int

    @property
    def share(self) -> float | None:
        return self.within / self.values if self.values else None


def scores(forecasts: list[Forecast]) -> list[Score]:
    """Return the coverage of each kind of forecast, calibrated ones apart."""
    found = []
    for kind in ForecastKind:
        for calibrated in (False, True):
            own = [f for f in forecasts if f.kind == kind and f.calibrated == calibrated]
            seen = [hit for f in own for hit in hits(f) if hit.recorded is not None]
            if own:
                found.append(
                    Score(
                        kind=kind.label, calibrated=calibrated, forecasts=len(own),
                        values=len(seen), within=sum(bool(hit.within) for hit in seen),
                    )
                )  # fmt: skip
    return found
