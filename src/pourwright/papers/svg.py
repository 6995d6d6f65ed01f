"""
A small, safe writer of SVG.

Elements are built as strings that know they are finished markup; every text and attribute value is
escaped on the way in. Pages run under a strict content security policy, so ``style`` attributes,
event handlers and links are refused here rather than dropped by the browser.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Final

_NAME: Final = re.compile(r"^[A-Za-z][A-Za-z0-9-]*$")
# What XML 1.0 cannot carry, even escaped.
_NOT_XML: Final = re.compile(r"[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_MIXED_CASE: Final = {"viewbox": "viewBox", "preserveaspectratio": "preserveAspectRatio",
                      "clippath": "clipPath", "patternunits": "patternUnits"}  # fmt: skip

# What is drawn off the page names its own letters; quoted, as a name that ends in a digit must be.
FONTS: Final = "'Source Sans 3', 'Open Sans', sans-serif"

Value = str | int | float | None


class Markup(str):
    """Finished SVG. Templates that honour ``__html__`` print it as it is."""

    __slots__ = ()

    def __html__(self) -> str:
        return str(self)


def number(value: float) -> str:
    """
    Return a number for a coordinate: two decimals at most, no trailing zeros, never "-0".

    >>> number(12.500001), number(-0.001), number(7)
    ('12.5', '0', '7')
    """
    if not isfinite(value):
        raise ValueError(f"a drawing cannot use the number {value}")
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def escape(text: str) -> Markup:
    """Return text that is safe between tags and in attribute values; markup is left as it is."""
    if isinstance(text, Markup):
        return text
    return Markup(_escaped(text))


def _escaped(text: str) -> str:
    text = _NOT_XML.sub("", text)
    for character, entity in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")):
        text = text.replace(character, entity)
    return text


def el(tag: str, *children: str, **attributes: Value) -> Markup:
    """
    Return one element.

    Attribute names follow Python: ``class_`` is ``class``, ``stroke_width`` is ``stroke-width``,
    ``viewbox`` gets its capital. None leaves the attribute out. Plain strings among the children
    are text and are escaped.

    >>> el("text", "Bay & pepper", x=3.0, class_="cd-text")
    '<text x="3" class="cd-text">Bay &amp; pepper</text>'
    """
    parts = [_MIXED_CASE.get(tag.lower(), tag)]
    for key, value in attributes.items():
        if value is None:
            continue
        name = key.rstrip("_").replace("_", "-")
        name = _MIXED_CASE.get(name, name)
        if not _NAME.match(name) or name == "style" or name[:2] == "on" or name == "href":
            raise ValueError(f"the attribute {name!r} is not used in a drawing")
        shown = value if isinstance(value, str) else number(value)
        # An attribute is always text, even when its value was made as markup.
        parts.append(f'{name}="{_escaped(shown)}"')
    opening = " ".join(parts)
    inside = "".join(escape(child) for child in children)
    return Markup(f"<{opening}>{inside}</{parts[0]}>" if inside else f"<{opening}/>")


def path(points: Iterable[tuple[float, float]], *, closed: bool = False) -> str:
    """
    Return path data through points.

    >>> path([(0, 0), (10, 0), (10, 5)], closed=True)
    'M0 0L10 0L10 5Z'
    """
    steps = [f"{number(x)} {number(y)}" for x, y in points]
    return "M" + "L".join(steps) + ("Z" if closed else "")


def picture(
    *children: str,
    width: float,
    height: float,
    prefix: str,
    title: str,
    desc: str = "",
    decorative: bool = False,
    class_: str | None = None,
    shown_width: str | None = None,
    shown_height: str | None = None,
) -> Markup:
    """
    Return a whole SVG picture with its title and description for those who hear it.

    ``prefix`` keeps ids apart where a page holds several pictures. A ``decorative`` picture stands
    beside its own name and is hidden from screen readers. ``shown_width`` and ``shown_height``
    replace the pixel size, for paper: "80mm".
    """
    if not _NAME.match(prefix):
        raise ValueError(f"a prefix starts with a letter and has no spaces: {prefix!r}")
    head: dict[str, Value] = {
        "xmlns": "http://www.w3.org/2000/svg",
        "viewbox": f"0 0 {number(width)} {number(height)}",
        "width": shown_width or number(width),
        "height": shown_height or number(height),
        "class_": class_,
    }
    if decorative:
        return el("svg", *children, **head, aria_hidden="true", focusable="false")
    named = [el("title", title, id=f"{prefix}-title")]
    labels = f"{prefix}-title"
    if desc:
        named.append(el("desc", desc, id=f"{prefix}-desc"))
    return el(
        "svg",
        *named,
        *children,
        **head,
        role="img",
        aria_labelledby=labels,
        aria_describedby=f"{prefix}-desc" if desc else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """Classes for a page, whose stylesheet colours them; or attributes, to stand alone."""

    ink: Mapping[str, Mapping[str, Value]]
    standalone: bool

    def __call__(self, *classes: str) -> dict[str, Value]:
        if not self.standalone:
            return {"class_": " ".join(classes)}
        attributes: dict[str, Value] = {}
        for name in classes:
            attributes |= self.ink[name]
        return attributes


def text_width(words: str, size: float) -> float:
    """Return about how wide a line of text is, for a plain sans: some 0.53 of its size a letter."""
    narrow = sum(letter in " .,:;'|!ijlft()" for letter in words)
    return size * (0.54 * (len(words) - narrow) + 0.27 * narrow)


def shortened(words: str, *, room: float, size: float) -> str:
    """Return the words, cut with an ellipsis where they are wider than the room."""
    if text_width(words, size) <= room:
        return words
    while words and text_width(f"{words}…", size) > room:
        words = words[:-1]
    return f"{words.rstrip()}…"
