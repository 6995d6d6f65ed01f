"""
The net weight on a label: reading it, writing it lawfully, and which of its two figures counts.

US: both systems stand on a label, converted by the law's own factors and no others; a converted
figure is cut off, never rounded up, and the larger of the two is what is enforced. EU and GB: the
figure in g or kg is the nominal quantity; ounces beside it are an extra in GB.

Sources: 15 USC 1453(a); 16 CFR 500.19 (rule table ``us/net_declaration``).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cached_property
from typing import Literal

from pourwright.core.amounts import LB_G, OZ_G, parse_mass
from pourwright.core.amounts.reading import shorten
from pourwright.core.contents.figures import cut, plain
from pourwright.core.errors import BadInput
from pourwright.core.rules import Rule, rule

MarketRule = Literal["us", "eu", "gb"]
MARKET_RULES: tuple[MarketRule, ...] = ("us", "eu", "gb")

# The law of declarations as this program knows it; the factors have not changed since.
_ON = date(2026, 11, 25)
_HEAD = re.compile(r"(?i)^\s*net\s*(?:weight|wt|wgt|contents)?\s*\.?\s*:?\s*")
_PARTS = re.compile(r"[()|·;=]|(?<=[a-zA-Z.])\s*/\s*(?=[0-9])")
_INCH_POUND = re.compile(r"(?i)(?:\b|[0-9¼½¾⅛⅜⅝⅞\s])(?:oz|ozs|ounces?|lbs?|pounds?)\b")


class BadDeclaration(BadInput):
    """A net weight that no label may carry as it is given."""


@dataclass(frozen=True)
class Declared:
    """
    What a label declares: ounces of the inch-pound figure, grams of the metric one, or both.

    ``oz`` and ``metric_g`` are exact as printed; ``fractions`` tells that the ounces were written
    as a fraction. ``text`` is what was given.
    """

    oz: Fraction | None
    metric_g: Fraction | None
    fractions: bool = False
    text: str = ""

    @cached_property
    def _law(self) -> Rule:
        return rule("us/net_declaration", on=_ON)

    @property
    def inch_pound_g(self) -> Fraction | None:
        """The inch-pound figure in grams, by the law's factor of 28.3495 g to the ounce."""
        return None if self.oz is None else self.oz * self._law["g_per_oz"]

    @property
    def enforced_g(self) -> Fraction:
        """The larger of the two figures, in grams: what a US inspector verifies."""
        return max(figure for figure in (self.inch_pound_g, self.metric_g) if figure is not None)

    @property
    def enforced_in(self) -> Literal["g", "lb"]:
        """The unit of the figure that is enforced; grams where both say the same."""
        return "g" if self.metric_g == self.enforced_g else "lb"

    @property
    def enforced_lb(self) -> Fraction:
        """The enforced figure in pounds, exactly as printed where it was printed so."""
        if self.enforced_in == "lb" and self.oz is not None:
            return self.oz / 16
        return self.enforced_g / Fraction(self._law["g_per_lb"])

    @property
    def nominal_g(self) -> Fraction:
        """The nominal quantity of EU and GB: the figure in g or kg. Raises ``BadDeclaration``."""
        if self.metric_g is None:
            raise BadDeclaration(
                f"“{shorten(self.text)}” declares no grams; EU and GB check the nominal quantity "
                "in g or kg, so write for example “198 g” or “7 oz (198 g)”."
            )
        return self.metric_g

    def verified_g(self, market: MarketRule) -> Fraction:
        """Return the quantity that a market's rule verifies."""
        return self.enforced_g if market == "us" else self.nominal_g


def parse_declared(text: str, *, field: str = "Net weight") -> Declared:
    """
    Read a net weight as it stands on a label: "7 oz (198 g)", "1 lb 3 oz (538 g)", "198 g".

    A number without a unit is refused. Raises ``BadDeclaration`` or ``Unreadable``.

    >>> parse_declared("Net Wt 9 oz (255 g)").enforced_g
    Fraction(510291, 2000)
    """
    if not isinstance(text, str) or not text.strip():
        raise BadDeclaration(f"{field} is empty; write for example “7 oz (198 g)” or “198 g”.")
    parts = [part.strip(" ,") for part in _PARTS.split(_HEAD.sub("", text)) if part.strip(" ,.")]
    if not 1 <= len(parts) <= 2:
        raise BadDeclaration(
            f"{field} “{shorten(text)}” is not a net weight; write one figure or one in each "
            "system, such as “7 oz (198 g)”."
        )
    oz = metric_g = None
    fractions = False
    for part in parts:
        if re.fullmatch(r"[0-9.,/\s]+", part):
            raise BadDeclaration(
                f"{field} “{shorten(text)}” has a number without a unit; write for example "
                "“7 oz (198 g)”."
            )
        mass_g = parse_mass(part, field=field)
        if mass_g == 0:
            raise BadDeclaration(f"{field} “{shorten(text)}” declares nothing; give more than 0.")
        if _INCH_POUND.search(part):
            if oz is not None:
                raise BadDeclaration(
                    f"{field} “{shorten(text)}” has two figures in ounces or pounds; give one in "
                    "each system, such as “7 oz (198 g)”."
                )
            oz = mass_g / OZ_G
            fractions = bool(re.search(r"[/¼½¾⅛⅜⅝⅞⁄]", part))
        else:
            if metric_g is not None:
                raise BadDeclaration(
                    f"{field} “{shorten(text)}” has two figures in grams; give one in each system, "
                    "such as “7 oz (198 g)”."
                )
            metric_g = mass_g
    declared = Declared(oz=oz, metric_g=metric_g, fractions=fractions, text=text.strip())
    _refuse_unlike(declared, field=field)
    return declared


def _refuse_unlike(declared: Declared, *, field: str) -> None:
    """Refuse two figures that are not the same weight: a slip of the pen, not a rounding."""
    if declared.inch_pound_g is None or declared.metric_g is None:
        return
    apart = abs(declared.inch_pound_g - declared.metric_g)
    if apart > max(Fraction(2), declared.enforced_g / 50):
        raise BadDeclaration(
            f"{field} “{shorten(declared.text)}” says two different weights: "
            f"{plain(declared.inch_pound_g, 1)} g in ounces and {plain(declared.metric_g, 1)} g. "
            "Leave one out to have it worked out."
        )


# --- writing -------------------------------------------------------------------------------------


def metric_figure(mass_g: Fraction) -> tuple[str, Fraction]:
    """
    Return a mass as a US label's metric figure, cut off to three digits, and the grams it says.

    From 1000 g it is in kg, so that the number lies between 1 and 1000; a final zero after the
    point is left out. Source: 16 CFR 500.19(b), read; 1 to 1000 from memory, high.

    >>> metric_figure(Fraction("85.0485"))
    ('85 g', Fraction(85, 1))
    """
    if mass_g < 1:
        raise BadDeclaration("Less than 1 g; a net weight here is at least 1 g.")
    unit, size = ("g", 1) if mass_g < 1000 else ("kg", 1000)
    value = mass_g / size
    places = 2 if value < 10 else 1 if value < 100 else 0
    kept = cut(value, places)
    return f"{plain(kept, places)} {unit}", kept * size


def inch_pound_figure(oz: Fraction, *, fractions: bool = False) -> tuple[str, Fraction]:
    """
    Return ounces as a US label's inch-pound figure and the ounces it says; pounds first from 1 lb.

    Two decimals, cut off, or with ``fractions`` a binary fraction in lowest terms, down to 32nds;
    a fraction that is none of those is cut off to decimals.

    >>> inch_pound_figure(Fraction(26))
    ('1 lb 10 oz', Fraction(26, 1))
    """
    pounds, rest = divmod(oz, 16)
    if fractions and rest.denominator in (1, 2, 4, 8, 16, 32):
        kept = rest
        whole, part = divmod(kept, 1)
        shown = " ".join(filter(None, [str(whole) if whole or not part else "", _fraction(part)]))
    else:
        kept = cut(rest, 2)
        shown = plain(kept, 2)
    if not pounds and not kept:
        raise BadDeclaration("Less than 0.01 oz; a net weight here is at least 0.1 oz.")
    ounces = f"{shown} oz" if kept or not pounds else ""
    words = " ".join(filter(None, [f"{pounds} lb" if pounds else "", ounces]))
    return words, pounds * 16 + kept


def _fraction(part: Fraction) -> str:
    return f"{part.numerator}/{part.denominator}" if part else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """
    A lawful net-weight statement: its text, what it says in each system, and what is enforced.

    ``notes`` say what was changed or is worth knowing about what was given.
    """

    text: str
    declared: Declared
    grams: Fraction
    enforced_g: Fraction
    notes: tuple[str, ...] = ()
    used: tuple[Rule, ...] = ()


def us_statement(declared: Declared) -> Statement:
    """
    Return a US statement in both systems that never says more than was given.

    A figure that is missing is worked out from the other one by the law's factors and cut off.
    Figures that were both given stay, in lawful digits; the larger of them is enforced.

    >>> us_statement(parse_declared("9 oz")).text
    '9 oz (255 g)'
    """
    law = rule("us/net_declaration", on=_ON)
    notes = []
    if declared.oz is not None:
        oz_words, oz = inch_pound_figure(declared.oz, fractions=declared.fractions)
    else:
        assert declared.metric_g is not None
        oz = cut(declared.metric_g * Fraction(law["oz_per_g"]), 2)
        if oz * law["g_per_oz"] > declared.metric_g:
            # The law's two factors are not each other's inverse to the last digit.
            oz -= Fraction(1, 100)
        oz_words, oz = inch_pound_figure(oz)
    metric_words, grams = metric_figure(
        declared.metric_g if declared.metric_g is not None else oz * law["g_per_oz"]
    )
    if declared.oz is not None and oz != declared.oz:
        notes.append(f"The ounces are cut off to two decimals: {oz_words}.")
    if declared.metric_g is not None and grams != declared.metric_g:
        notes.append(f"The grams are cut off to three digits: {metric_words}.")
    stated = Declared(
        oz=oz, metric_g=grams, fractions=declared.fractions, text=f"{oz_words} ({metric_words})"
    )
    if declared.oz is not None and declared.metric_g is not None and stated.enforced_in == "g":
        exact = oz * Fraction(law["g_per_oz"])
        if grams > exact:
            notes.append(
                f"{oz_words} is {plain(exact, 3)} g, so the {metric_words} beside it is the larger "
                "figure and is what is enforced."
            )
    return Statement(
        text=stated.text, declared=stated, grams=grams, enforced_g=stated.enforced_g,
        notes=tuple(notes), used=(law,),
    )  # fmt: skip


def metric_statement(declared: Declared) -> Statement:
    """Return an EU or GB statement: the nominal quantity in g, or in kg from 1000 g."""
    notes: tuple[str, ...] = ()
    if declared.metric_g is None:
        grams_words, grams = metric_figure(declared.enforced_g)
        notes = (f"Worked out from ounces and cut off: {grams_words}.",)
    else:
        grams = declared.metric_g
        size, unit = (1, "g") if grams < 1000 else (1000, "kg")
        grams_words = f"{plain(grams / size, 6)} {unit}"
    stated = Declared(oz=None, metric_g=grams, text=grams_words)
    return Statement(text=grams_words, declared=stated, grams=grams, enforced_g=grams, notes=notes)


def statement_for(declared: Declared, market: MarketRule) -> Statement:
    """Return the statement that a market's label carries."""
    return us_statement(declared) if market == "us" else metric_statement(declared)


def as_checked(declared: Declared, market: MarketRule) -> Declared:
    """Return what a market's check verifies of a label: ounces alone become grams in EU and GB."""
    if market == "us" or declared.metric_g is not None:
        return declared
    return metric_statement(declared).declared


def largest_true(mass_g: Fraction, market: MarketRule, *, in_ounces: bool = False) -> Declared:
    """
    Return the largest plain declaration that a fill of ``mass_g`` bears out.

    Whole grams, or with ``in_ounces`` tenths of an ounce from 1 oz up. For a proposal only.
    """
    if market == "us" and in_ounces:
        tenths = cut(mass_g / (LB_G / 16), 1)
        found = us_statement(Declared(oz=tenths, metric_g=None)).declared
        if found.enforced_g <= mass_g:
            return found
        return us_statement(Declared(oz=tenths - Fraction(1, 10), metric_g=None)).declared
    grams = Declared(oz=None, metric_g=cut(mass_g, 0))
    return statement_for(grams, market).declared
