"""
A scent panel planned: codes that say nothing, and who smells what in which order.

Orders are made in whole blocks, each shuffled by the seed: a larger panel of the same seed begins
with the smaller one's orders, so that somebody who turns up late gets the next one.

Sources: three-digit codes and balanced orders, ISO 6658 and ISO 4120 (from memory); orders
balanced for what was smelled just before, E. J. Williams, Aust. J. Sci. Res. A 2 (1949) 149 (from
memory; that they are balanced is tested).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import islice

from pourwright.core.panels import BadPanel
from pourwright.core.rules import rule

LEAST_CODE, MOST_CODE = 100, 999
MOST_CANDLES, MOST_SERVED = 12, 1000
# The two jars of the first candle are 0 and 1, those of the other 2 and 3.
JARS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelCautions:
    """What to ask people before they smell, how they smell, and when to stop."""

    before: tuple[str, ...]
    smelling: tuple[str, ...]
    on_the_sheet: str
    stop: str
    status: str


def panel_cautions(*, on: date) -> PanelCautions:
    """Return the cautions for the people on a panel."""
    table = rule("panels/cautions", on=on)
    return PanelCautions(
        before=tuple(row["text"] for row in table["before"]),
        smelling=tuple(row["text"] for row in table["smelling"]),
        on_the_sheet=table["on_the_sheet"],
        stop=table["stop"],
        status=table.status,
    )


def codes(count: int, *, seed: int) -> tuple[str, ...]:
    """
    Return different codes of three digits, none of which begins with 0 or repeats one digit.

    >>> len(set(codes(5, seed=3)))
    5
    """
    plain = [code for code in range(LEAST_CODE, MOST_CODE + 1) if len(set(str(code))) > 1]
    if not 1 <= count <= len(plain):
        raise BadPanel(f"{count} codes; there are 1 to {len(plain)} of three digits.")
    return tuple(str(code) for code in random.Random(f"codes {seed}").sample(plain, count))


def williams_square(candles: int) -> tuple[tuple[int, ...], ...]:
    """
    Return the orders of a Williams design, of candles numbered from 0.

    In the whole of it each candle stands equally often in each place, and each follows every other
    equally often: in as many orders as candles where they are even in number, else in twice as
    many.

    >>> williams_square(4)[0]
    (0, 1, 3, 2)
    """
    if not 2 <= candles <= MOST_CANDLES:
        raise BadPanel(f"{candles} candles in a panel; give 2 to {MOST_CANDLES}.")
    first = [0]
    for step in range(1, candles):
        first.append((step + 1) // 2 if step % 2 else candles - step // 2)
    square = [tuple((one + turn) % candles for one in first) for turn in range(candles)]
    if candles % 2:
        square += [tuple(reversed(order)) for order in square]
    return tuple(square)


def ranking_orders(*, candles: int, assessors: int, seed: int) -> tuple[tuple[int, ...], ...]:
    """Return the order in which each assessor smells the candles, numbered from 0."""
    _check_served(assessors)
    return _blocks(williams_square(candles), assessors, seed)


def triangle_orders(*, assessors: int, seed: int) -> tuple[tuple[int, int, int], ...]:
    """
    Return the three jars that each assessor smells, in their order.

    There are two jars of each candle: 0 and 1 of the first, 2 and 3 of the other. The six orders
    (ABB BAA AAB BBA ABA BAB) come equally often, as near as the number of assessors lets them;
    which of its two jars stands for a candle is turned from one to the next.
    """
    _check_served(assessors)
    six = ((0, 1, 1), (1, 0, 0), (0, 0, 1), (1, 1, 0), (0, 1, 0), (1, 0, 1))
    made = []
    for place, order in enumerate(_blocks(six, assessors, seed)):
        turn = [place % 2, place // 2 % 2]
        jars = []
        for candle in order:
            jars.append(2 * candle + turn[candle])
            turn[candle] = 1 - turn[candle]
        made.append((jars[0], jars[1], jars[2]))
    return tuple(made)


def odd_jar(jars: tuple[int, int, int]) -> int:
    """
    Return which of three jars is of the other candle.

    >>> odd_jar((0, 2, 1))
    2
    """
    kinds = [jar // 2 for jar in jars]
    lone = [jar for jar, kind in zip(jars, kinds, strict=True) if kinds.count(kind) == 1]
    if len(lone) != 1 or len(set(jars)) != 3 or not all(0 <= jar < JARS for jar in jars):
        raise BadPanel("A triangle has two jars of one candle and one of the other.")
    return lone[0]


def _blocks(
    orders: tuple[tuple[int, ...], ...], count: int, seed: int
) -> tuple[tuple[int, ...], ...]:
    """Return so many orders, each block of them shuffled anew."""
    chance = random.Random(f"orders {seed}")

    def without_end() -> Iterator[tuple[int, ...]]:
        while True:
            block = list(orders)
            chance.shuffle(block)
            yield from block

    return tuple(islice(without_end(), count))


def _check_served(assessors: int) -> None:
    if not 2 <= assessors <= MOST_SERVED:
        raise BadPanel(f"{assessors} assessors to plan for; give 2 to {MOST_SERVED}.")
