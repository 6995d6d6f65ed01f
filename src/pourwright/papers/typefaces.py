"""
The fonts that papers are set in, measured by their outlines.

A law asks for the height of a letter, not for a point size; so sizes are worked out from the ink of
the glyphs themselves. Metrics tables are not trusted: some fonts have none, some are wrong.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from importlib.resources import files
from typing import Literal

from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

Weight = Literal["Regular", "Semibold", "Bold", "Italic"]
Measured = Literal["o", "x", "capital", "figure"]

MM_PER_PT = 25.4 / 72

# What a height is measured on. For the lower-case o the flat x stands in: the o's ink overshoots
# above and below, so a text whose x is tall enough has an o that is taller still.
LETTERS: dict[Measured, str] = {
    "o": "x",
    "x": "x",
    "capital": "ABCDEFGHIJKLMNOPRSTUVWXYZ",
    "figure": "0123456789",
}


@dataclass(frozen=True)
class Typeface:
    """One weight of Open Sans. Lengths come in millimetres for a size in points."""

    weight: Weight

    @property
    def name(self) -> str:
        return f"OpenSans-{self.weight}"

    @property
    def path(self):
        return files("pourwright.papers").joinpath("fonts", f"{self.name}.ttf")

    @cached_property
    def _font(self) -> TTFont:
        return TTFont(str(self.path), lazy=True)

    @cached_property
    def _glyphs(self):
        return self._font.getGlyphSet()

    @cached_property
    def _names(self) -> dict[int, str]:
        return self._font.getBestCmap()

    @cached_property
    def _em(self) -> int:
        return self._font["head"].unitsPerEm

    def has(self, text: str) -> bool:
        """Return whether every letter of a text can be set."""
        return all(ord(letter) in self._names for letter in text)

    def lacking(self, text: str) -> str:
        """Return the letters of a text that the font does not have."""
        return "".join(sorted({letter for letter in text if ord(letter) not in self._names}))

    def ink_per_em(self, letters: Iterable[str]) -> float:
        """Return the least height of the letters' ink, as a part of the em."""
        return min(self._ink(letter)[3] - self._ink(letter)[1] for letter in letters) / self._em

    def height_mm(self, measured: Measured, *, size_pt: float) -> float:
        """Return how tall what is measured comes out at a size."""
        return self.ink_per_em(LETTERS[measured]) * size_pt * MM_PER_PT

    def size_pt(self, measured: Measured, *, height_mm: float) -> float:
        """Return the size at which what is measured is just so tall."""
        return height_mm / MM_PER_PT / self.ink_per_em(LETTERS[measured])

    def width_mm(self, text: str, *, size_pt: float) -> float:
        """Return how wide a text runs, by the glyphs' advance, without kerning."""
        return self._advance_per_em(text) * size_pt * MM_PER_PT

    def extent_mm(self, text: str, *, size_pt: float) -> tuple[float, float]:
        """Return how far a text's ink reaches above and below the line (both positive)."""
        above, below = self._reach_per_em(text)
        return above * size_pt * MM_PER_PT, below * size_pt * MM_PER_PT

    @property
    def units_per_em(self) -> int:
        """The font's own units, that ``glyph_outline`` and ``advance_units`` are in."""
        return self._em

    @lru_cache(maxsize=2_000)  # noqa: B019
    def glyph_outline(self, letter: str) -> str:
        """Return a letter as SVG path data in the font's units, y running up; "" for a space."""
        pen = SVGPathPen(self._glyphs)
        self._glyphs[self._name(letter)].draw(pen)
        return pen.getCommands()

    def advance_units(self, letter: str) -> int:
        """Return how far the next letter stands to the right, in the font's units."""
        return self._glyphs[self._name(letter)].width

    def outline(self, text: str, *, x_mm: float, y_mm: float, size_pt: float) -> str:
        """Return a text as one SVG path, its line beginning at a point (y runs down)."""
        scale = size_pt * MM_PER_PT / self._em
        pen = SVGPathPen(self._glyphs, ntos=lambda value: f"{value:.4f}".rstrip("0").rstrip("."))
        for letter in text:
            glyph = self._glyphs[self._name(letter)]
            glyph.draw(TransformPen(pen, (scale, 0, 0, -scale, x_mm, y_mm)))
            x_mm += glyph.width * scale
        return pen.getCommands()

    # Setting a label asks for the same words at many sizes; four typefaces live as long as the
    # program does.
    @lru_cache(maxsize=20_000)  # noqa: B019
    def _advance_per_em(self, text: str) -> float:
        return sum(self._glyphs[self._name(letter)].width for letter in text) / self._em

    @lru_cache(maxsize=20_000)  # noqa: B019
    def _reach_per_em(self, text: str) -> tuple[float, float]:
        inks = [self._ink(letter) for letter in text if not letter.isspace()]
        if not inks:
            return 0.0, 0.0
        above, below = max(ink[3] for ink in inks), -min(ink[1] for ink in inks)
        return above / self._em, max(0.0, below) / self._em

    @cache  # noqa: B019
    def _ink(self, letter: str) -> tuple[float, float, float, float]:
        pen = BoundsPen(self._glyphs)
        self._glyphs[self._name(letter)].draw(pen)
        return pen.bounds or (0, 0, 0, 0)

    def _name(self, letter: str) -> str:
        return self._names.get(ord(letter), ".notdef")


REGULAR = Typeface("Regular")
SEMIBOLD = Typeface("Semibold")
BOLD = Typeface("Bold")
ITALIC = Typeface("Italic")
