"""How many of each candle to bring to a market day, from the days there that are past."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pourwright.workshop.designs.models import Design
from pourwright.workshop.planning.models import MarketDay


@dataclass(frozen=True, slots=True, kw_only=True)
class OfOne:
    """One candle's advice: how many, and what the past says, in words."""

    bring: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    of: Mapping[int, OfOne]
    words: Sequence[str]


def advice(day: MarketDay, *, designs: Sequence[Design]) -> Advice | None:
    """Return what to bring; None where no day there has been counted yet."""
    return None
