"""A maker's look on a label: colours and art; and whether what must be read can be read on it."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import Literal

from PIL import Image, UnidentifiedImageError

from pourwright.core.errors import BadInput
from pourwright.papers.labels.marks import BLACK, WHITE, Box

# Web Content Accessibility Guidelines 2.2, 1.4.3: 4.5 to 1 for text. The label laws say "clear" or
# "distinct contrast" without a number.
LEAST_CONTRAST = 4.5
MOST_PIXELS = 60_000_000
MOST_BYTES = 25_000_000


class BadArt(BadInput):
    """A picture that cannot be printed on a label, or colours that cannot be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Art:
    """
    The maker's own picture, as PNG or JPEG bytes.

    ``place`` is "behind", over the whole front, or "above", at the head of it, beside the text.
    """

    data: bytes
    width_px: int
    height_px: int
    place: Literal["behind", "above"] = "above"

    @property
    def shape(self) -> float:
        return self.width_px / self.height_px


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """Colours (#rrggbb) of a label's ground and ink, the maker's name at its head, and the art."""

    ground: str = WHITE
    ink: str = BLACK
    brand: str = ""
    art: Art | None = None


def read_art(data: bytes, *, place: Literal["behind", "above"] = "above") -> Art:
    """
    Return a maker's PNG, JPEG or SVG as art; an SVG is drawn at 600 dots an inch, without fetching.

    Raises ``BadArt`` for anything else, and for pictures beyond 25 MB or 60 million pixels.
    """
    if len(data) > MOST_BYTES:
        raise BadArt(
            f"The picture has {len(data) / 1e6:.0f} MB; up to {MOST_BYTES / 1e6:.0f} MB are taken."
        )
    if data[:400].lstrip(b"\xef\xbb\xbf \r\n\t").startswith((b"<?xml", b"<svg", b"<!--")):
        data = _drawn(data)
    try:
        with Image.open(BytesIO(data), formats=["PNG", "JPEG"]) as picture:
            size = picture.size
            if size[0] * size[1] <= MOST_PIXELS:
                picture.load()
                if picture.mode not in ("RGB", "RGBA", "L"):
                    data = _as_png(picture)
    except (UnidentifiedImageError, OSError, ValueError, Image.DecompressionBombError) as problem:
        raise BadArt("The picture is not a PNG, JPEG or SVG that can be read.") from problem
    if size[0] * size[1] > MOST_PIXELS:
        raise BadArt(
            f"The picture has {size[0]} by {size[1]} pixels; make it smaller: a label is sharp at "
            "600 dots an inch."
        )
    return Art(data=data, width_px=size[0], height_px=size[1], place=place)


def _as_png(picture: Image.Image) -> bytes:
    out = BytesIO()
    picture.convert("RGBA").save(out, "PNG")
    return out.getvalue()


def _drawn(svg: bytes) -> bytes:
    """Return an SVG as a PNG, drawn by a library that runs no scripts and fetches nothing."""
    import typst

    source = (
        "#set page(width: 60mm, height: auto, margin: 0pt, fill: none)\n#image("
        'bytes(sys.inputs.svg), format: "svg", width: 60mm)'
    )
    try:
        made = typst.compile(
            source.encode(), format="png", ppi=600, ignore_system_fonts=True,
            sys_inputs={"svg": svg.decode("utf-8")},
        )  # fmt: skip
    except (typst.TypstError, UnicodeDecodeError) as problem:
        raise BadArt(
            "The SVG cannot be drawn: save it as plain SVG, with texts as outlines and pictures "
            "embedded."
        ) from problem
    assert isinstance(made, bytes)
    return made


# --- contrast ------------------------------------------------------------------------------------


def contrast(first: tuple[int, int, int], second: tuple[int, int, int]) -> float:
    """
    Return the contrast ratio of two colours (red, green, blue from 0 to 255), 1 to 21.

    Source: Web Content Accessibility Guidelines 2.2, "contrast ratio" and "relative luminance".

    >>> contrast((0, 0, 0), (255, 255, 255))
    21.0
    """
    light, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: tuple[int, int, int]) -> float:
    linear = []
    for value in colour:
        part = value / 255
        linear.append(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def rgb(colour: str) -> tuple[int, int, int]:
    """Return "#rrggbb" as three numbers; raises ``BadArt`` for anything else."""
    digits = colour.removeprefix("#")
    if len(digits) != 6 or not colour.startswith("#"):
        raise BadArt(f"“{colour}” is no colour; write it as #rrggbb, such as #1d3b2a.")
    try:
        value = int(digits, 16)
    except ValueError:
        raise BadArt(f"“{colour}” is no colour; write it as #rrggbb, such as #1d3b2a.") from None
    return value >> 16, (value >> 8) & 255, value & 255


def refuse_faint(style: Style) -> None:
    """Raise ``BadArt`` where the ink cannot be read on the plain ground."""
    found = contrast(rgb(style.ink), rgb(style.ground))
    if found < LEAST_CONTRAST:
        raise BadArt(
            f"Ink {style.ink} on {style.ground} has a contrast of {found:.1f} to 1; text that must "
            f"be read wants {LEAST_CONTRAST:g} to 1: take a darker or a lighter one."
        )


def contrast_on_art(art: Art, *, drawn: Box, text: Box, ink: str) -> float:
    """
    Return the contrast of ink on the part of the art that lies behind a text, its worst tenth.

    ``drawn`` is where the art is drawn, ``text`` the text's box, both on the label.
    """
    with Image.open(BytesIO(art.data)) as picture:
        across = art.width_px / drawn.width
        down = art.height_px / drawn.height
        part = picture.convert("RGB").crop(
            (
                max(0, int((text.x - drawn.x) * across)),
                max(0, int((text.y - drawn.y) * down)),
                min(art.width_px, int((text.right - drawn.x) * across) + 1),
                min(art.height_px, int((text.foot - drawn.y) * down) + 1),
            )
        )
        part.thumbnail((64, 64))
        flat = part.tobytes()  # red, green and blue of one pixel after the other
        pixels = list(zip(flat[::3], flat[1::3], flat[2::3], strict=True))
    ratios = sorted(contrast(rgb(ink), pixel) for pixel in pixels)
    return ratios[len(ratios) // 10] if ratios else 21.0
