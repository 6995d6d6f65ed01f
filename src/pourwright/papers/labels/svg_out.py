"""
A label as an SVG of its own, true to size.

For a file the letters stay text and the fonts go with it, cut to the letters used; for a page,
whose security policy keeps styles out, the letters are drawn as outlines.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable
from io import BytesIO
from math import isfinite

from fontTools.ttLib import TTFont

from pourwright.papers.labels.marks import Drawing, Mark, Outline, Picture, Words
from pourwright.papers.svg import Markup, el, escape
from pourwright.papers.typefaces import MM_PER_PT, Typeface


def label_svg(drawing: Drawing, *, letters: str = "outlines", cut_line: bool = True) -> Markup:
    """
    Return the label with its bleed as an SVG in millimetres.

    ``letters`` is "outlines" or "text"; with "text" the fonts are embedded. ``cut_line`` draws
    the edge of a label whose ground is left white, thin and grey.
    """
    bleed = drawing.bleed_mm
    width, height = drawing.width + 2 * bleed, drawing.height + 2 * bleed
    glyphs = _Glyphs(drawing.name)
    body = [_ground(drawing)] if drawing.ground else []
    body += [_mark(mark, None if letters == "text" else glyphs) for mark in drawing.marks]
    if cut_line:
        body.append(_edge(drawing))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" '
        f'xmlns:xlink="http://www.w3.org/1999/xlink" role="img" '
        f'width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="{_n(-bleed)} {_n(-bleed)} {_n(width)} {_n(height)}">'
    )
    fonts = _style(drawing.texts()) if letters == "text" else ""
    return Markup(
        f"{head}<title>{escape(drawing.title)}</title>{fonts}{glyphs.defined()}{_clip(drawing)}"
        f'<g clip-path="url(#{_id(drawing)})">{"".join(body)}</g></svg>'
    )


def _id(drawing: Drawing) -> str:
    return "cut-" + "".join(letter for letter in drawing.name if letter.isalnum())


def _shape(drawing: Drawing, by: float, **attributes) -> Markup:
    if drawing.shape == "circle":
        radius = drawing.width / 2
        return el("circle", cx=_n(radius), cy=_n(radius), r=_n(radius + by), **attributes)
    return el(
        "rect", x=_n(-by), y=_n(-by), width=_n(drawing.width + 2 * by),
        height=_n(drawing.height + 2 * by), **attributes,
    )  # fmt: skip


def _clip(drawing: Drawing) -> Markup:
    return el("clipPath", _shape(drawing, drawing.bleed_mm), id=_id(drawing))


def _ground(drawing: Drawing) -> Markup:
    return _shape(drawing, drawing.bleed_mm, fill=drawing.ground)


def _edge(drawing: Drawing) -> Markup:
    return _shape(drawing, 0, fill="none", stroke="#999999", stroke_width="0.1")


class _Glyphs:
    """The letters of a drawing as outlines, each written once and used wherever it stands."""

    def __init__(self, name: str) -> None:
        self._name = "".join(letter for letter in name if letter.isalnum())
        self._used: dict[tuple[Typeface, str], str] = {}

    def drawn(self, mark: Words) -> Markup:
        face = mark.face
        scale = mark.size_pt * MM_PER_PT / face.units_per_em
        uses, x = [], 0
        for letter in mark.text:
            if face.glyph_outline(letter):
                uses.append(f'<use href="#{self._id(face, letter)}" x="{x}"/>')
            x += face.advance_units(letter)
        role = f' data-role="{escape(mark.role)}"' if mark.role else ""
        return Markup(
            f'<g fill="{escape(mark.fill)}" transform="translate({_n(mark.x)} {_n(mark.y)}) '
            f'scale({scale:.6g} {-scale:.6g})"{role}>{"".join(uses)}</g>'
        )

    def _id(self, face: Typeface, letter: str) -> str:
        return self._used.setdefault(
            (face, letter), f"l-{self._name}-{face.weight}-{ord(letter):x}"
        )

    def defined(self) -> str:
        paths = [
            f'<path id="{name}" d="{face.glyph_outline(letter)}"/>'
            for (face, letter), name in self._used.items()
        ]
        return f"<defs>{''.join(paths)}</defs>" if paths else ""


def _mark(mark: Mark, glyphs: _Glyphs | None) -> str:
    if isinstance(mark, Words):
        return glyphs.drawn(mark) if glyphs else _words(mark)
    if isinstance(mark, Outline):
        return _outline(mark)
    return _picture(mark)


def _words(mark: Words) -> Markup:
    return el(
        "text", mark.text, x=_n(mark.x), y=_n(mark.y), fill=mark.fill,
        font_family=mark.face.name, font_size=_n(mark.size_pt * MM_PER_PT), id=None,
        data_role=mark.role or None,
    )  # fmt: skip


def _outline(mark: Outline) -> Markup:
    x, y, *_ = mark.view
    at = f"translate({_n(mark.box.x)} {_n(mark.box.y)}) scale({mark.scale:.6f})"
    if x or y:
        at += f" translate({_n(-x)} {_n(-y)})"
    return el(
        "path", d=mark.d, transform=at, fill=mark.fill or "none", stroke=mark.stroke,
        stroke_width=_n(mark.stroke_width / mark.scale) if mark.stroke else None,
        fill_rule="evenodd" if mark.even_odd else None, data_role=mark.role or None,
    )  # fmt: skip


def _picture(mark: Picture) -> Markup:
    kind = "png" if mark.data.startswith(b"\x89PNG") else "jpeg"
    box = mark.box
    there = f"data:image/{kind};base64,{b64encode(mark.data).decode()}"
    # The writer of SVG refuses links; this one holds its picture within.
    return Markup(
        f'<image x="{_n(box.x)}" y="{_n(box.y)}" width="{_n(box.width)}" height="{_n(box.height)}"'
        f' preserveAspectRatio="none" xlink:href="{there}" href="{there}"/>'
    )


def _style(texts: Iterable[Words]) -> str:
    used: dict[Typeface, set[str]] = {}
    for words in texts:
        used.setdefault(words.face, set()).update(words.text)
    rules = [
        f"@font-face{{font-family:'{face.name}';src:url(data:font/ttf;base64,"
        f"{b64encode(_cut(face, letters)).decode()})}}"
        for face, letters in sorted(used.items(), key=lambda found: found[0].name)
    ]
    return f"<style>{''.join(rules)}</style>" if rules else ""


def _cut(face: Typeface, letters: set[str]) -> bytes:
    """Return the font with just the letters that are used."""
    from fontTools.subset import Options, Subsetter  # slow to load, and only files ask for it

    font = TTFont(str(face.path))
    subsetter = Subsetter(Options(layout_features=[], notdef_outline=True))
    subsetter.populate(text="".join(sorted(letters)))
    subsetter.subset(font)
    out = BytesIO()
    font.save(out)
    return out.getvalue()


def _n(value: float) -> str:
    """Return a length to a hundredth of the drawing's finest step: four decimals."""
    if not isfinite(value):
        raise ValueError(f"a drawing cannot use the number {value}")
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
