"""A jig's parts laid beside each other in one plane, as a laser cuts them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pourwright.core.wicks.flat import Edge, moved
from pourwright.core.wicks.jigs import Jig

APART_MM = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """One part where it lies; ``dx`` is how far its middle is to the right of the first one's."""

    name: str
    dx: float
    edges: tuple[Edge, ...]


def laid(jig: Jig) -> tuple[Laid, ...]:
    """
    Return the lines that a tool follows, kerf allowed for, the first part's middle at (0, 0).

    Every part has the wicks' places at the same offsets from its own middle.
    """
    return tuple(_laid(jig))


def _laid(jig: Jig) -> Iterator[Laid]:
    right = 0.0
    for number, layer in enumerate(jig.cut):
        low, _, high, _ = layer.plate.box()
        dx = 0.0 if number == 0 else right + APART_MM - low
        right = dx + high
        edges = (layer.plate.outline, *layer.plate.openings)
        yield Laid(name=layer.name, dx=dx, edges=tuple(moved(edge, dx) for edge in edges))
