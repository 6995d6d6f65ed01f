"""
What was found in a safety data sheet, as plain values, and the limits within which one is read.

Everything found carries the page (from 1) and the box where it stands, in fractions of the page
from its top left corner, so that it can be shown beside the page. What could not be made out is
kept as text with a doubt in words: nothing is dropped in silence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import HazardClass, Range, Route


class SheetUnreadable(BadInput):
    """A file from which no safety data sheet can be read; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """How much one file may take. Where the platform cannot hold ``memory_mib``, time still can."""

    most_bytes: int = 20 * 2**20
    most_pages: int = 150
    most_letters_a_page: int = 20_000
    most_letters: int = 600_000
    most_rows: int = 400
    seconds: float = 20
    memory_mib: int = 768
    most_pixels: int = 6_000_000


LIMITS = Limits()

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Place:
    """A page (from 1) and a box on it: left, top, right, bottom in fractions of the page."""

    page: int
    box: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFound:
    """
    One ingredient as the sheet gives it.

    The ``..._text`` fields are the sheet's own words; what was read from them stands beside them,
    and is None or empty where it could not be. ``classes`` are pairs of a class and whether its
    category is a minimum. ``specific_limits`` are percentages, ``ate`` in the unit of its route.
    ``doubts`` say in the maker's words what to look at before this is confirmed. ``places`` has
    one place for each page that the row stands on; the first is ``page`` and ``box``.
    """

    name: str = ""
    cas: str = ""
    ec: str = ""
    pct_text: str = ""
    pct: Range | None = None
    classes_text: str = ""
    classes: tuple[tuple[HazardClass, bool], ...] = ()
    m_acute: Fraction | None = None
    m_chronic: Fraction | None = None
    specific_limits: Mapping[HazardClass, Fraction] = field(default_factory=dict)
    ate: Mapping[Route, Fraction] = field(default_factory=dict)
    places: tuple[Place, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def page(self) -> int:
        """The page on which it begins, from 1."""
        return self.places[0].page if self.places else 1

    @property
    def box(self) -> Box:
        """Where it stands on that page."""
        return self.places[0].box if self.places else (0.0, 0.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetReading:
    """
    All that was found in a sheet. Nothing of it is true before the maker has looked at it.

    ``where`` gives the place of each single fact by its field's name, where it was found.
    ``page_sizes`` are width and height in points as shown. ``has_text`` is False for pages that
    are pictures: then there is nothing to read and the composition has to be typed. ``notes`` say
    what to look at; a ``..._text`` field holds the sheet's own words for what stands beside it.
    """

    product_name: str = ""
    supplier: str = ""
    sheet_date: date | None = None
    sheet_date_text: str = ""
    revision: str = ""
    flash_point_c: Fraction | None = None
    flash_point_text: str = ""
    density_g_ml: Fraction | None = None
    density_text: str = ""
    unknown_acute_pct: Mapping[Route, Fraction] = field(default_factory=dict)
    unknown_acute_text: str = ""
    rows: tuple[RowFound, ...] = ()
    where: Mapping[str, Place] = field(default_factory=dict)
    page_count: int = 0
    page_sizes: tuple[tuple[float, float], ...] = ()
    has_text: bool = True
    notes: tuple[str, ...] = ()
