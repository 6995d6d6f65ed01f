"""
Forecasts: kept before the thing is seen, so that the program can be measured by what was seen.

A forecast never changes after it is made; what was recorded is set beside it. Nothing here passes
a candle.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from pourwright.core.errors import BadInput
from pourwright.core.heat.setting import Setting
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.heat.models import Forecast, ForecastKind
from pourwright.workshop.pours.models import Pour

# The setting model's own word: "times off by a seventh, or more"; taken as one standard deviation.
SETTING_SPREAD = 1 / 7
NINE_IN_TEN = 1.645
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


def as_kept(record: Any) -> Any:
    """Return a core record as plain JSON, without the sources of its materials' values."""
    if hasattr(record, "__dataclass_fields__"):
        return {
            name: as_kept(getattr(record, name))
            for name in record.__dataclass_fields__
            if name not in ("origins", "notes")
        }
    if isinstance(record, list | tuple):
        return [as_kept(inner) for inner in record]
    return record


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
