"""
What a candle, or a batch of them, costs, part by part.

All money is whole 1/100 of the currency's minor unit; the parts always add up to the total.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType

from pourwright.core.costing.work import half_up, overhead_minor100
from pourwright.core.errors import BadInput
from pourwright.core.shares import split_exactly

# The parts in the order in which they are shown, with the words for them.
PARTS: Mapping[str, str] = MappingProxyType(
    {
        "wax": "wax",
        "fragrance": "fragrance",
        "additives": "dye and additives",
        "vessel": "vessel",
        "wick": "wick and its parts",
        "packaging": "packaging",
        "labour": "labour",
        "overhead": "overhead",
        "loss": "loss",
    }
)
# What overhead is a rate of: materials and labour, loss included.
_OVERHEAD_BASE = tuple(part for part in PARTS if part != "overhead")


class BadCost(BadInput):
    """A cost that cannot be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakdown:
    """The cost of something, part by part; each is 0 or more."""

    wax: int = 0
    fragrance: int = 0
    additives: int = 0
    vessel: int = 0
    wick: int = 0
    packaging: int = 0
    labour: int = 0
    overhead: int = 0
    loss: int = 0

    def __post_init__(self) -> None:
        for part, label in PARTS.items():
            if self[part] < 0:
                raise BadCost(f"The cost of {label} is below zero ({self[part]}).")

    def __getitem__(self, part: str) -> int:
        value: int = getattr(self, part)
        return value

    def __add__(self, other: Breakdown) -> Breakdown:
        return _made({part: self[part] + other[part] for part in PARTS})

    @property
    def total_minor100(self) -> int:
        """Return the sum of the parts."""
        return sum(self[part] for part in PARTS)

    @property
    def materials_minor100(self) -> int:
        """Return all but labour, overhead and loss."""
        return self.total_minor100 - self.labour - self.overhead - self.loss

    def shown(self) -> tuple[tuple[str, str, int], ...]:
        """Return key, words and value of each part that is not zero, in order."""
        return tuple((part, PARTS[part], self[part]) for part in PARTS if self[part])


def _made(values: Mapping[str, int]) -> Breakdown:
    return Breakdown(**values)


def with_overhead(cost: Breakdown, *, overhead_pct: int | Fraction | Decimal) -> Breakdown:
    """Return the cost with overhead put to a rate of materials, labour and loss."""
    base = sum(cost[part] for part in _OVERHEAD_BASE)
    overhead = overhead_minor100(base_minor100=base, overhead_pct=overhead_pct)
    return _made({part: overhead if part == "overhead" else cost[part] for part in PARTS})


def with_loss(cost: Breakdown, *, lost: Fraction) -> Breakdown:
    """
    Return the cost with a share of every part moved to "loss"; the total stays.

    ``lost`` is the share, 0 to 1, of what went in that is in no good candle: seconds, what stayed
    in the pitcher. Each part gives up its share rounded down.
    """
    if not 0 <= lost <= 1:
        raise BadCost(f"The share lost is {float(lost):g}; it must be 0 to 1.")
    given = {
        part: cost[part] * lost.numerator // lost.denominator for part in PARTS if part != "loss"
    }
    left = {part: cost[part] - given.get(part, 0) for part in PARTS}
    return _made(left | {"loss": cost.loss + sum(given.values())})


def each_of(cost: Breakdown, *, pieces: int) -> Breakdown:
    """
    Return the cost of one of ``pieces``, for showing.

    The total is rounded once, a half up, and its parts by the largest remainder, so that the shown
    parts add up to the shown total. The ledger's own values are not these: see ``take_value``.
    """
    if pieces < 1:
        raise BadCost(f"The cost of each of {pieces} cannot be worked out; there must be some.")
    total = half_up(Fraction(cost.total_minor100, pieces))
    shares = split_exactly(total, [cost[part] for part in PARTS]) if cost.total_minor100 else None
    return _made(dict(zip(PARTS, shares, strict=True))) if shares else Breakdown()
