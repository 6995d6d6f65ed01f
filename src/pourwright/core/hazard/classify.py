"""Classify a whole candle (being filled in)."""

from __future__ import annotations

from pourwright.core.hazard.criteria import Decided, Decision, decide

__all__ = ["Decided", "Decision", "decide"]
