"""
The words of hazard classification: classes, substances, compositions and the whole candle.

Percentages are by mass; ``pct_of_whole`` is of the finished candle mass (wax, fragrance, dye and
additives; not the wick, not the vessel). Everything is exact: nothing is rounded before it is
compared with a limit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import TypeVar

from pourwright.core.errors import BadInput

_K = TypeVar("_K")


class BadComposition(BadInput):
    """What was given does not describe what a material is made of."""


class Market(StrEnum):
    """Whose rules: the EU's (Northern Ireland's too), Great Britain's, the UN's model, the US."""

    EU = "eu"
    GB = "gb"
    UN = "un"
    US = "us"


class Route(StrEnum):
    """How a thing gets into the body. Limits: mg/kg oral and dermal, ppmV gas, mg/l the others."""

    ORAL = "oral"
    DERMAL = "dermal"
    GAS = "gas"
    VAPOUR = "vapour"
    DUST = "dust"


class Kind(StrEnum):
    """A hazard class; the value is the short name that pages and files use."""

    ACUTE = "Acute"
    SKIN_CORR = "Skin Corr"
    SKIN_IRRIT = "Skin Irrit"
    EYE_DAM = "Eye Dam"
    EYE_IRRIT = "Eye Irrit"
    RESP_SENS = "Resp Sens"
    SKIN_SENS = "Skin Sens"
    MUTA = "Muta"
    CARC = "Carc"
    REPR = "Repr"
    LACT = "Lact"
    STOT_SE = "STOT SE"
    STOT_RE = "STOT RE"
    ASP = "Asp"
    AQ_ACUTE = "Aq Acute"
    AQ_CHRONIC = "Chronic"
    ED_HH = "ED HH"
    ED_ENV = "ED ENV"
    PBT = "PBT"
    VPVB = "vPvB"
    PMT = "PMT"
    VPVM = "vPvM"
    FLAM_LIQ = "Flam Liq"
    FLAM_SOL = "Flam Sol"
    MET_CORR = "Met Corr"


@dataclass(frozen=True, slots=True)
class HazardClass:
    """
    A class with its category, such as Skin Sens 1B or Acute 4 oral.

    ``route`` stands for acute toxicity alone. ``detail`` holds what the statement needs besides:
    the effect letters of Repr ("Fd"), or "H335" and "H336" for STOT SE 3.
    """

    kind: Kind
    category: str = ""
    route: Route | None = None
    detail: str = ""

    def __str__(self) -> str:
        words = [self.kind.value, self.category, self.route.value if self.route else ""]
        return " ".join(word for word in words if word)


class Authority(StrEnum):
    """On whose word a substance has a class, the weightiest first."""

    HARMONISED = "harmonised"
    SUPPLIER = "supplier"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """
    One class of a substance, and on whose word.

    ``minimum`` is the "*" of a harmonised row: the category is the least that applies. ``markets``
    empty means every market. ``status`` says how the row was come by ("read", "from memory, high").
    """

    hazard: HazardClass
    authority: Authority = Authority.SUPPLIER
    minimum: bool = False
    source: str = ""
    status: str = ""
    valid_from: date | None = None
    valid_until: date | None = None
    markets: frozenset[Market] = frozenset()

    def holds(self, *, market: Market, on: date) -> bool:
        """Return whether it counts in a market on a day."""
        return (
            (not self.markets or market in self.markets)
            and (self.valid_from is None or self.valid_from <= on)
            and (self.valid_until is None or on <= self.valid_until)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Substance:
    """
    A chemical substance as labels and limits need it.

    ``name`` is the one for labels. ``m_acute`` and ``m_chronic`` are the M-factors, None where
    none is on record. ``ate`` are acute toxicity estimates by route. ``specific_limits`` are
    percentages that replace the generic limit of their class. ``non_additive`` marks an acid,
    base, aldehyde, phenol or the like whose skin and eye effects do not follow the sums.
    ``unknown_acute`` names the routes without usable data. A route
    without class and estimate is known not to be toxic: it is left out of the sum. ``family`` is
    "aldehyde" or "phenol", whose skin and eye effects the sums may miss. ``note`` is what a person
    should know besides.
    """

    name: str
    cas: str = ""
    ec: str = ""
    entries: tuple[Entry, ...] = ()
    m_acute: Fraction | None = None
    m_chronic: Fraction | None = None
    ate: Mapping[Route, Fraction] = field(default_factory=dict)
    specific_limits: Mapping[HazardClass, Fraction] = field(default_factory=dict)
    non_additive: bool = False
    unknown_acute: frozenset[Route] = frozenset()
    unknown_aquatic: bool = False
    family: str = ""
    note: str = ""

    @property
    def key(self) -> str:
        """What tells it from others when oils are added up: its CAS number, else its name."""
        return self.cas or self.name.casefold()


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """
    A percentage as a safety sheet gives it. The upper end counts.

    ``open_above`` is the "<" of "5 - <10 %": 10 counts, and a result that rests on it is flagged.
    """

    high: Fraction
    low: Fraction | None = None
    open_above: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.high <= 100 or (self.low is not None and not 0 <= self.low <= self.high):
            raise BadComposition(
                f"A share of {self} does not fit: it lies between 0 and 100 %, the lower end first."
            )

    def __str__(self) -> str:
        high = f"{'<' if self.open_above else ''}{float(self.high):g}"
        return f"{float(self.low):g} - {high} %" if self.low is not None else f"{high} %"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """A substance with its share of whatever it is in."""

    substance: Substance
    pct: Range


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """
    What an oil, a dye, an additive or a wax is made of, by its safety sheet.

    ``ingredients`` are in percent of the material. ``unknown_acute_pct`` is what the sheet states
    as of unknown acute toxicity, by route. What is not listed is taken as absent, but
    ``undisclosed_pct`` keeps it in sight.
    """

    name: str
    ingredients: tuple[Ingredient, ...] = ()
    unknown_acute_pct: Mapping[Route, Fraction] = field(default_factory=dict)
    flash_point_c: Fraction | None = None
    density_g_ml: Fraction | None = None
    sheet_date: date | None = None
    revision: str = ""

    @property
    def undisclosed_pct(self) -> Fraction:
        """What the listed upper ends leave of 100 %, not below zero."""
        listed = sum((part.pct.high for part in self.ingredients), Fraction(0))
        return max(Fraction(0), 100 - listed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Portion:
    """So much of a material in the whole candle."""

    composition: Composition
    pct_of_whole: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Presence:
    """
    One substance in the whole candle, added up over everything it came with.

    ``open_above`` says that at least one part rests on the open end of a range; ``parts`` are the
    materials it came with and what each brought.
    """

    substance: Substance
    pct_of_whole: Fraction
    open_above: bool = False
    parts: tuple[tuple[str, Fraction], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """The whole candle mass: every listed substance once, in percent of the whole."""

    present: tuple[Presence, ...]
    undisclosed_pct: Fraction = Fraction(0)

    @property
    def concentrations(self) -> tuple[Fraction, ...]:
        """What criteria are measured at, in the order of ``present``."""
        return tuple(presence.pct_of_whole for presence in self.present)


def mixture_of(portions: Iterable[Portion]) -> Mixture:
    """
    Return the whole candle from its portions; the same substance in several oils is added up.

    Upper ends of ranges count. What a sheet states as of unknown toxicity becomes a part of its
    own. Raises ``BadComposition`` where the portions come to more than 100 % of the whole.
    """
    portions = tuple(portions)
    total = sum((portion.pct_of_whole for portion in portions), Fraction(0))
    if total > 100:
        raise BadComposition(
            f"The portions come to {float(total):g} % of the whole; that is more than 100 %."
        )
    found: dict[str, list[tuple[str, Ingredient, Fraction]]] = {}
    undisclosed = Fraction(0)
    for portion in portions:
        material = portion.composition
        for part in (*material.ingredients, *_stated_unknown(material)):
            pct = portion.pct_of_whole * part.pct.high / 100
            found.setdefault(part.substance.key, []).append((material.name, part, pct))
        undisclosed += portion.pct_of_whole * material.undisclosed_pct / 100
    return Mixture(
        present=tuple(
            Presence(
                substance=joined([part.substance for _, part, _ in rows]),
                pct_of_whole=sum((pct for *_, pct in rows), Fraction(0)),
                open_above=any(part.pct.open_above for _, part, _ in rows),
                parts=tuple((name, pct) for name, _, pct in rows),
            )
            for rows in found.values()
        ),
        undisclosed_pct=undisclosed,
    )


def joined(substances: Sequence[Substance]) -> Substance:
    """
    Return one substance for what several sheets say of it; the first gives its name.

    Where two suppliers differ, every class counts that either gives (the more severe where they
    exclude each other), the higher M-factor, the lower estimate and the lower specific limit: which
    sheet is right cannot be known here, and the order of the oils must not decide.
    """
    first = substances[0]
    others = [one for one in substances[1:] if one is not first and one != first]
    if not others:
        return first
    every = (first, *others)
    return replace(
        first,
        entries=tuple(dict.fromkeys(entry for one in every for entry in one.entries)),
        m_acute=max((one.m_acute for one in every if one.m_acute), default=None),
        m_chronic=max((one.m_chronic for one in every if one.m_chronic), default=None),
        ate=_least(one.ate for one in every),
        specific_limits=_least(one.specific_limits for one in every),
        non_additive=any(one.non_additive for one in every),
        unknown_acute=frozenset().union(*(one.unknown_acute for one in every)),
        unknown_aquatic=any(one.unknown_aquatic for one in every),
    )


def _least(mappings: Iterable[Mapping[_K, Fraction]]) -> dict[_K, Fraction]:
    found: dict[_K, Fraction] = {}
    for mapping in mappings:
        for key, value in mapping.items():
            found[key] = min(value, found.get(key, value))
    return found


def _stated_unknown(material: Composition) -> Iterable[Ingredient]:
    for route, pct in material.unknown_acute_pct.items():
        name = f"ingredients of unknown {route} toxicity"
        unknown = Substance(name=name, unknown_acute=frozenset({route}))
        yield Ingredient(substance=unknown, pct=Range(high=pct))
