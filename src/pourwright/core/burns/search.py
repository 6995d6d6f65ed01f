"""From the burns of a workshop to what the planner takes: setups, suppliers' words and criteria."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from pourwright.core.burns.next_burn import Criteria
from pourwright.core.burns.seen import ROOM_C

Bounds = Mapping[str, Fraction]


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
