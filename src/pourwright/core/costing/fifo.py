"""First in, first out: which layers a quantity comes from, and what it takes of their value."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from pourwright.core.costing.worth import take_value
from pourwright.core.errors import BadInput


class NotEnough(BadInput):
    """The layers together hold less than is wanted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """What is left of one lot: quantity in milligrams or pieces, value in 1/100 minor units."""

    lot: str
    qty: int
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """What is taken of one lot, and the value that goes with it."""

    lot: str
    qty: int
    value: int


def take_fifo(layers: Iterable[Layer], qty: int) -> tuple[Take, ...]:
    """
    Return what to take of each layer, in the order given, so that ``qty`` comes together.

    Each take carries its share of the layer's value, rounded down, and the last of a layer carries
    all that is left of it: nothing is lost or made, however a layer is taken apart. Layers come
    oldest first; empty ones are passed over. Raises NotEnough where they hold too little.

    >>> [(t.lot, t.qty, t.value) for t in take_fifo(
    ...     [Layer(lot="a", qty=3, value=100), Layer(lot="b", qty=5, value=90)], 4)]
    [('a', 3, 100), ('b', 1, 18)]
    """
    if qty < 0:
        raise NotEnough(f"{qty} cannot be taken; ask for 0 or more.")
    takes: list[Take] = []
    wanted = qty
    for layer in layers:
        if not wanted:
            break
        part = min(layer.qty, wanted)
        if part <= 0:
            continue
        value = take_value(layer.qty, layer.value, part)
        takes.append(Take(lot=layer.lot, qty=part, value=value))
        wanted -= part
    if wanted:
        raise NotEnough(f"{qty:,} are wanted and {qty - wanted:,} are there: {wanted:,} too few.")
    return tuple(takes)
