"""Core records as plain JSON and back, so that a question can be kept and asked of a worker."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pourwright.core.heat.burning import Candle
from pourwright.core.heat.calibrate import Calibration, Recorded
from pourwright.core.heat.losses import Room
from pourwright.core.heat.materials import FlameValues, Wall, Wax


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
    if isinstance(record, Mapping):
        return {key: as_kept(inner) for key, inner in record.items()}
    return record.tolist() if hasattr(record, "tolist") else record


def candle_from(given: Mapping[str, Any]) -> Candle:
    """Return a candle that was kept."""
    flame = dict(given["flame"])
    flame["source_heights_mm"] = tuple(flame["source_heights_mm"])
    return Candle(
        **{
            **given,
            "wax": Wax(**given["wax"]),
            "wall": Wall(**given["wall"]),
            "room": Room(**given["room"]),
            "flame": FlameValues(**flame),
        }
    )


def recorded_from(given: Mapping[str, Any]) -> Recorded:
    """Return a recorded burn that was kept."""
    return Recorded(
        **{
            **given,
            "candle": candle_from(given["candle"]),
            "pool_mm": tuple((at, width) for at, width in given["pool_mm"]),
        }
    )


def calibration_from(given: Mapping[str, Any]) -> Calibration:
    """Return a calibration that was kept."""
    import numpy as np

    return Calibration(
        **{
            **given,
            "covariance": np.array(given["covariance"], dtype=float),
            "residuals": tuple(tuple(row) for row in given["residuals"]),
        }
    )
