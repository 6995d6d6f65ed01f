"""
Sharing out what went into a pour over what came of it, to the last milligram and the last unit.

Plain numbers only: no records, no clock. What goes in is a portion of a lot: so much of it, worth
so much, by part of the cost (``core.costing.PARTS``). Each sharing gives portions again, so that
wax can be shared over pitchers and then over what was poured from them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.shares import split_exactly


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """``qty`` milligrams or pieces of a lot; ``parts`` is its value (1/100 minor unit) by part."""

    lot: int
    qty: int
    parts: tuple[tuple[str, int], ...]

    @property
    def value(self) -> int:
        return sum(value for _, value in self.parts)


def share_out(
    portions: Iterable[Portion], weights: Sequence[int | Fraction]
) -> list[list[Portion]]:
    """
    Return, for each weight, its share of every portion; the shares add up to the portions exactly.

    >>> wax = Portion(lot=1, qty=10, parts=(("wax", 100),))
    >>> [[(p.qty, p.value) for p in share] for share in share_out([wax], [2, 1])]
    [[(7, 67)], [(3, 33)]]
    """
    shares: list[list[Portion]] = [[] for _ in weights]
    for portion in portions:
        quantities = split_exactly(portion.qty, weights)
        values = {part: split_exactly(value, weights) for part, value in portion.parts}
        for place, qty in enumerate(quantities):
            parts = tuple((part, split[place]) for part, split in values.items() if split[place])
            if qty or parts:
                shares[place].append(Portion(lot=portion.lot, qty=qty, parts=parts))
    return shares


def by_part(portions: Iterable[Portion]) -> dict[str, int]:
    """Return the value of the portions, part by part."""
    found: dict[str, int] = defaultdict(int)
    for portion in portions:
        for part, value in portion.parts:
            found[part] += value
    return dict(found)


def by_lot(portions: Iterable[Portion]) -> dict[int, tuple[int, int]]:
    """Return (quantity, value) of each lot among the portions."""
    found: dict[int, tuple[int, int]] = {}
    for portion in portions:
        qty, value = found.get(portion.lot, (0, 0))
        found[portion.lot] = (qty + portion.qty, value + portion.value)
    return found


def loss_apart(parts: Mapping[str, int], *, kept: Fraction) -> dict[str, int]:
    """
    Return the parts with what was lost moved to "loss"; the sum stays.

    ``kept`` is the share, 0 to 1, that is really in the thing; each part keeps that share rounded
    up.

    >>> loss_apart({"wax": 100, "fragrance": 50}, kept=Fraction(9, 10))
    {'wax': 90, 'fragrance': 45, 'loss': 15}
    """
    kept = min(max(kept, Fraction(0)), Fraction(1))
    stays = {part: -(-value * kept.numerator // kept.denominator) for part, value in parts.items()}
    if "loss" in parts:
        stays["loss"] = parts["loss"]
    lost = sum(parts.values()) - sum(stays.values())
    return stays | {"loss": stays.get("loss", 0) + lost} if lost else stays


def add_up(*tables: Mapping[str, int]) -> dict[str, int]:
    """Return the sum of several tables of parts."""
    found: dict[str, int] = defaultdict(int)
    for table in tables:
        for part, value in table.items():
            found[part] += value
    return dict(found)
