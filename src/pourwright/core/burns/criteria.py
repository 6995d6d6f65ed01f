"""What a burn must meet in the search for a wick: the maker's own criteria, and what may change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

# The room that a wall's temperature is told in.
ROOM_C = 21.0
Bounds = Mapping[str, Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """
    The maker's criteria for a burn of four hours, as the planner uses them.

    ``full_share`` of the inside width counts as a full pool; it may not touch the wall before
    ``soonest_h`` and must be full by ``latest_h``. ``wall_excess_k`` is the wall over the room.
    ``needed`` burns must meet them on one size.
    """

    full_share: float = 0.93
    soonest_h: float = 1.25
    latest_h: float = 4.0
    depth_mm: float = 13.0
    wall_excess_k: float = 39.0
    needed: int = 4


def criteria_of(given: Bounds) -> Criteria:
    """
    Return the search's criteria with the maker's changes.

    Keys: ``full_pct`` of the inside width, ``soonest_h``, ``latest_h``, ``depth_mm``, ``wall_c`` in
    a room of 21 °C, and ``needed`` burns.
    """
    start = Criteria()
    return Criteria(
        full_share=float(given.get("full_pct", Fraction(93))) / 100,
        soonest_h=float(given.get("soonest_h", Fraction(start.soonest_h))),
        latest_h=float(given.get("latest_h", Fraction(start.latest_h))),
        depth_mm=float(given.get("depth_mm", Fraction(start.depth_mm))),
        wall_excess_k=float(given.get("wall_c", Fraction(60))) - ROOM_C,
        needed=int(given.get("needed", Fraction(start.needed))),
    )
