"""What is known of a candle when its label is made. Nothing here is looked up; all is handed in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Literal

from pourwright.core.contents import Declared
from pourwright.core.hazard.label import LabelElements
from pourwright.core.hazard.us import UsAssessment
from pourwright.core.labelling.codes import ArticleNumber
from pourwright.core.labelling.panel import Panel

MarketCode = Literal["us", "eu", "gb"]
MARKETS: tuple[MarketCode, ...] = ("us", "eu", "gb")


@dataclass(frozen=True, slots=True, kw_only=True)
class Business:
    """Who stands on the label: a name and where it is. ``country`` is an ISO 3166-1 code."""

    name: str = ""
    street: str = ""
    place: str = ""  # town, state or county, and post code, as one writes it
    country: str = ""
    telephone: str = ""
    electronic: str = ""  # an e-mail or web address

    @property
    def address(self) -> str:
        return ", ".join(part for part in (self.street, self.place, self.country) if part)

    @property
    def is_named(self) -> bool:
        return bool(self.name and self.place)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelFacts:
    """
    A candle as its label sees it.

    ``hazard`` holds what each market's rules want; a market that is left out, or None, is one
    whose class is not known yet: its place is kept. ``burn_hours`` is what completed test burns
    gave, and nothing else. ``panel`` is None where the vessel's outside is not known.
    ``us_listed`` is what the United States' lists say; ``us_precautions`` the maker's own words for
    what to do, avoid and first aid, which that law leaves to them. ``small_pack`` uses the reliefs
    for small packs where the rules grant them.
    """

    name: str
    markets: tuple[MarketCode, ...]
    on: date
    identity: str = ""
    scented: bool = True
    declared: Declared | None = None
    panel: Panel | None = None
    maker: Business = field(default_factory=Business)
    made_for: bool = False
    responsible_eu: Business = field(default_factory=Business)
    lot: str = ""
    hazard: Mapping[MarketCode, LabelElements | None] = field(default_factory=dict)
    us_listed: UsAssessment | None = None
    us_precautions: str = ""
    small_pack: bool = False
    identifier: str = ""
    article_number: ArticleNumber | None = None
    web_page: str = ""
    burn_hours: Fraction | None = None
    hours_at_once: Fraction | None = None
    metal_core: bool = False
    in_a_box: bool = False
    language: str = "en"
