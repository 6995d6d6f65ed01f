"""
From a formula to the amounts of one batch.

A batch can be sized from the vessels wanted, from the wax at hand, from the mix wanted or from a
melter. The loss allowance is a percentage of the mix: what stays in melter, pitcher and jug. All
amounts are exact grams, and wax, oils and extras add up to the mix.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from pourwright.core.amounts import number, show_mass
from pourwright.core.errors import BadInput
from pourwright.core.formula.melter import Melter
from pourwright.core.formula.recipe import Formula

NONE = Fraction(0)


class BadBatch(BadInput):
    """The batch asked for cannot be made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """A number of vessels of one kind, each taking ``fill_g`` grams of mix."""

    count: int
    fill_g: Fraction
    name: str = ""

    @property
    def mass_g(self) -> Fraction:
        return self.count * self.fill_g


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """A named part of a batch, in grams."""

    name: str
    mass_g: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """
    What goes in and what comes out.

    ``loss_g`` is the allowance, ``left_g`` what is poured into no vessel beyond it.
    ``mix_g`` = the fills + ``left_g`` + ``loss_g`` = ``wax_g`` + ``oil_g`` + ``extras_g``.
    """

    waxes: tuple[Amount, ...]
    oils: tuple[Amount, ...]
    extras: tuple[Amount, ...]
    wax_g: Fraction
    oil_g: Fraction
    extras_g: Fraction
    mix_g: Fraction
    load_pct_of_wax: Fraction
    load_pct_of_whole: Fraction
    fills: tuple[Fill, ...]
    loss_g: Fraction
    left_g: Fraction

    @property
    def vessels(self) -> int:
        return sum(fill.count for fill in self.fills)


def batch_for_vessels(
    formula: Formula,
    *,
    fills: Sequence[Fill],
    loss_pct_of_mix: Fraction = NONE,
    melter: Melter | None = None,
) -> Batch:
    """Return the batch that fills exactly these vessels, with the loss allowed for on top."""
    _check_fills(fills)
    if not any(fill.count for fill in fills):
        raise BadBatch("A batch needs at least one vessel; give a number such as 12.")
    poured_g = sum((fill.mass_g for fill in fills), NONE)
    return _batch(
        formula,
        mix_g=poured_g / _kept(loss_pct_of_mix),
        fills=tuple(fills),
        loss_pct_of_mix=loss_pct_of_mix,
        melter=melter,
    )


def batch_for_wax(
    formula: Formula,
    *,
    wax_g: Fraction,
    fill_g: Fraction | None = None,
    first: Sequence[Fill] = (),
    name: str = "",
    loss_pct_of_mix: Fraction = NONE,
    melter: Melter | None = None,
) -> Batch:
    """
    Return the batch that this much wax makes.

    ``first`` are vessels that must be filled; the rest goes into as many as it fills of ``fill_g``
    each (none where it is ``None``).
    """
    if wax_g <= 0:
        raise BadBatch("A batch needs some wax; give an amount such as 2 kg.")
    return _batch_of_mix(
        formula,
        mix_g=wax_g * formula.mix_pct_of_wax / 100,
        fill_g=fill_g,
        first=first,
        name=name,
        loss_pct_of_mix=loss_pct_of_mix,
        melter=melter,
    )


def batch_for_melter(
    formula: Formula,
    *,
    melter: Melter,
    fill_g: Fraction | None = None,
    first: Sequence[Fill] = (),
    name: str = "",
    loss_pct_of_mix: Fraction = NONE,
) -> Batch:
    """Return the largest batch that the melter takes; see ``batch_for_wax`` for the vessels."""
    mix_g = melter.most_g
    if melter.oil_goes_in == "pitcher":
        mix_g = melter.most_g * formula.mix_pct_of_wax / 100
    return _batch_of_mix(
        formula,
        mix_g=mix_g,
        fill_g=fill_g,
        first=first,
        name=name,
        loss_pct_of_mix=loss_pct_of_mix,
        melter=melter,
    )


def _batch_of_mix(
    formula: Formula,
    *,
    mix_g: Fraction,
    fill_g: Fraction | None,
    first: Sequence[Fill],
    name: str,
    loss_pct_of_mix: Fraction,
    melter: Melter | None,
) -> Batch:
    _check_fills(first)
    usable_g = mix_g * _kept(loss_pct_of_mix)
    first_g = sum((fill.mass_g for fill in first), NONE)
    if first_g > usable_g:
        raise BadBatch(
            f"The vessels asked for take {_both(first_g)} and the batch yields "
            f"{_both(usable_g)}; ask for fewer, or melt more."
        )
    fills = tuple(first)
    if fill_g is not None:
        rest = Fill(count=0, fill_g=fill_g, name=name)
        _check_fills((rest,))
        count = int((usable_g - first_g) // fill_g)
        fills += (Fill(count=count, fill_g=fill_g, name=name),)
    return _batch(formula, mix_g=mix_g, fills=fills, loss_pct_of_mix=loss_pct_of_mix, melter=melter)


def _batch(
    formula: Formula,
    *,
    mix_g: Fraction,
    fills: tuple[Fill, ...],
    loss_pct_of_mix: Fraction,
    melter: Melter | None,
) -> Batch:
    wax_g = mix_g * 100 / formula.mix_pct_of_wax
    oil_g = wax_g * formula.load_pct_of_wax / 100
    extras_g = wax_g * formula.extras_pct_of_wax / 100
    if melter is not None:
        melter.refuse_unless_it_fits(wax_g=wax_g, mix_g=mix_g)
    loss_g = mix_g * loss_pct_of_mix / 100
    return Batch(
        waxes=tuple(
            Amount(name=part.name, mass_g=wax_g * fraction)
            for part, fraction in zip(formula.waxes, formula.wax_fractions, strict=True)
        ),
        oils=tuple(
            Amount(name=part.name, mass_g=oil_g * fraction)
            for part, fraction in zip(formula.oils, formula.oil_fractions, strict=True)
        ),
        extras=tuple(
            Amount(name=extra.name, mass_g=wax_g * extra.pct_of_wax / 100)
            for extra in formula.extras
        ),
        wax_g=wax_g,
        oil_g=oil_g,
        extras_g=extras_g,
        mix_g=mix_g,
        load_pct_of_wax=formula.load_pct_of_wax,
        load_pct_of_whole=formula.load_pct_of_whole,
        fills=fills,
        loss_g=loss_g,
        left_g=mix_g - loss_g - sum((fill.mass_g for fill in fills), NONE),
    )


def _kept(loss_pct_of_mix: Fraction) -> Fraction:
    """Return the part of the mix that reaches a vessel."""
    if not 0 <= loss_pct_of_mix < 100:
        raise BadBatch(
            f"Loss is {number(loss_pct_of_mix, places=2, strip=True)} % of the mix; "
            "it lies between 0 and less than 100 %."
        )
    return 1 - loss_pct_of_mix / 100


def _check_fills(fills: Sequence[Fill]) -> None:
    for fill in fills:
        if fill.fill_g <= 0:
            raise BadBatch("A vessel's fill is more than zero; give a weight such as 180 g.")
        if fill.count < 0:
            raise BadBatch(f"The number of vessels is {fill.count}; it is zero or more.")


def _both(mass_g: Fraction) -> str:
    return f"{show_mass(mass_g, 'metric')} ({show_mass(mass_g, 'us')})"
