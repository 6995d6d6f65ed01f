"""Splitting a whole number of small units (milligrams, hundredths of a cent) without losing one."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction


def split_exactly(total: int, weights: Sequence[int | Fraction]) -> list[int]:
    """
    Return whole shares of ``total``, proportional to ``weights``, that add up to it exactly.

    Method: largest remainder. Each share is its exact value rounded down or up, so none is off by
    a whole unit; ties go to the earliest. Where all weights are zero the parts are equal. A
    negative total is split like its opposite. Raises ``ValueError`` for a negative weight, or
    when there is nobody to give a total to.

    >>> split_exactly(100, [1, 1, 1])
    [34, 33, 33]
    """
    if any(weight < 0 for weight in weights):
        raise ValueError("a weight below zero has no share")
    if not weights:
        if total:
            raise ValueError("nothing to split a total over")
        return []
    if total < 0:
        return [-share for share in split_exactly(-total, weights)]
    exact = [Fraction(weight) for weight in weights]
    whole = sum(exact)
    if whole == 0:
        exact, whole = [Fraction(1)] * len(exact), Fraction(len(exact))
    wanted = [total * weight / whole for weight in exact]
    shares = [int(want) for want in wanted]
    missing = total - sum(shares)
    by_remainder = sorted(range(len(wanted)), key=lambda place: shares[place] - wanted[place])
    for place in by_remainder[:missing]:
        shares[place] += 1
    return shares
