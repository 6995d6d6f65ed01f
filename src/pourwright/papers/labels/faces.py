"""
The faces of a candle's labels, composed from what it needs: wrap, fold-out, base, lid, tag, carton.

Each function takes the needs (``core.labelling.needs``) and returns a drawing true to size, or
raises ``DoesNotFit`` with the size that would hold it. Hazard blocks are always black on white;
pictograms, signal word and statements stay together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf
from typing import Literal

from pourwright.core.errors import BadInput
from pourwright.core.labelling.codes import article_number
from pourwright.core.labelling.needs import Need
from pourwright.papers.labels.codes import bar_code_item, square_code_item
from pourwright.papers.labels.flow import (
    Align,
    DoesNotFit,
    Paragraph,
    Part,
    Piece,
    Setting,
    Signs,
    height_mm,
    set_parts,
)
from pourwright.papers.labels.marks import (
    BLACK,
    WHITE,
    Box,
    Drawing,
    Mark,
    Outline,
    Picture,
    rectangle,
)
from pourwright.papers.labels.regions import Block, Disc
from pourwright.papers.labels.style import (
    LEAST_CONTRAST,
    BadArt,
    Style,
    contrast_on_art,
    refuse_faint,
)
from pourwright.papers.labels.symbols import symbol_marks
from pourwright.papers.pictograms import UNITS, diagonal_mm, pictogram_layers
from pourwright.papers.typefaces import BOLD, REGULAR, SEMIBOLD, Typeface

FaceName = Literal["wrap", "fold", "base", "lid", "tag", "carton"]

# Sizes that texts would like; common practice, no source.
WISH_NAME_PT = 26.0
WISH_BODY_PT = 7.5
SAFE_MM = 2.0
GUTTER_MM = 3.0
GROUP_GAP_MM = 2.2
# Beyond so many groups not every sharing is tried, only those in reading order.
MOST_SHARED = 10
LOW_MM = 35.0
FACTOR_STEPS = 20


class BadLabel(BadInput):
    """A label that cannot be composed as asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Parts that stay together in one column, and whether they want white under them."""

    name: str
    parts: tuple[Part, ...]
    white: bool = False


# --- parts from needs ----------------------------------------------------------------------------


def least_pt(need: Need, face=REGULAR) -> float:
    """Return the smallest size of type for a need, by the outlines of the face."""
    measured = need.measured_on if need.measured_on in ("o", "x", "capital", "figure") else "x"
    return face.size_pt(measured, height_mm=float(need.least_mm))


def body(
    need: Need, *, align: Align = "left", wish: float = WISH_BODY_PT, ink: str | None = None
) -> Paragraph:
    more = {"fill": ink} if ink else {}
    return Paragraph(
        pieces=(Piece(text=need.text, role=need.key),), least_pt=least_pt(need), wish_pt=wish,
        align=align, **more,
    )  # fmt: skip


def hazard_group(need: Need, *, side_mm: float, align: Align = "left") -> Group:
    """Return a hazard block: pictograms of a side, then signal word and statements."""
    parts: list[Part] = []
    if need.signs:
        items = tuple(_pictogram(code, side_mm) for code in need.signs)
        parts.append(Signs(items=items, align=align))
    words = need.text.split(" ", 1)
    pieces = [Piece(text=need.text, role=need.key)]
    if words[0].upper() in ("DANGER", "WARNING", "CAUTION") and len(words) == 2:
        pieces = [
            Piece(text=words[0], face=BOLD, role=need.key),
            Piece(text=words[1], role=need.key),
        ]
    parts.append(
        Paragraph(pieces=tuple(pieces), least_pt=least_pt(need), wish_pt=WISH_BODY_PT, align=align)
    )
    return Group(name=need.key, parts=tuple(parts), white=True)


def _pictogram(code: str, side_mm: float) -> tuple[float, float, tuple[Mark, ...]]:
    across = diagonal_mm(side_mm)
    box = Box(x=0, y=0, width=across, height=across)
    marks = tuple(
        Outline(
            d=layer.data, view=(0, 0, UNITS, UNITS), box=box, fill=layer.fill,
            stroke="#000000" if layer.stroke_width else None,
            stroke_width=layer.stroke_width * across / UNITS,
            role=code if number == 0 else "",
        )
        for number, layer in enumerate(pictogram_layers(code))
    )  # fmt: skip
    return across, across, marks


def fire_groups(needs: Sequence[Need], *, align: Align = "left", ink: str) -> list[Group]:
    """Return the fire-safety warning as text and the symbols, each as a group."""
    found = []
    for need in needs:
        if need.key == "fire_us":
            signal, rest = need.text.split(" ", 1)
            sign = symbol_marks("general_warning", side_mm=6)
            parts: tuple[Part, ...] = (
                Signs(items=((6.0, 6.0, sign),), align=align),
                Paragraph(
                    pieces=(
                        Piece(text=signal, face=BOLD, role=need.key),
                        Piece(text=rest, role=need.key),
                    ),
                    least_pt=least_pt(need), wish_pt=WISH_BODY_PT, align=align, fill=ink,
                ),
            )  # fmt: skip
            found.append(Group(name=need.key, parts=parts))
        elif need.key in ("fire_symbols", "fire_more"):
            side = max(float(need.least_mm), 6.0)
            items = tuple((side, side, symbol_marks(sign, side_mm=side)) for sign in need.signs)
            found.append(Group(name=need.key, parts=(Signs(items=items, align=align),)))
    return found


def _code_groups(needs: Sequence[Need]) -> list[Group]:
    """Return the codes as one group, side by side where there is room; each has its own white."""
    items = [
        bar_code_item(article_number(need.text))
        if need.key == "bar_code"
        else square_code_item(need.text)
        for need in needs
        if need.key in ("bar_code", "qr")
    ]
    return [Group(name="codes", parts=(Signs(items=tuple(items)),))] if items else []


def _small_print(needs: Sequence[Need], *, align: Align, ink: str) -> list[Group]:
    keys = ("business", "responsible", "lot", "burn_hours", "metal_core")
    return [
        Group(name=need.key, parts=(body(need, align=align, ink=ink),))
        for need in needs
        if need.key.startswith(keys) and need.text
    ]


# --- the front -----------------------------------------------------------------------------------


def front_marks(
    needs: Sequence[Need], box: Box, style: Style, *, foot_zone_mm: float | None,
    until: float | None = None,
) -> tuple[Mark, ...]:  # fmt: skip
    """
    Return the front: art, name and what it is, and the net weight at the foot.

    ``foot_zone_mm`` is how high above the label's own foot the net weight may reach, None for any
    height. The box ends ``SAFE_MM`` above that foot. Name and identity stay above ``until``.
    """
    name = _one(needs, "name")
    identity = _one(needs, "identity")
    net = _net_paragraph(needs, ink=style.ink)
    foot = Block(box)
    net_set = set_parts([net], foot, what="The net weight", anchor="foot")
    net_box = net_set.box
    reach = box.foot - net_box.y + SAFE_MM
    if foot_zone_mm is not None and reach > foot_zone_mm:
        raise DoesNotFit(
            f"The net weight reaches {reach:.1f} mm above the label’s foot and must stay within "
            f"{max(foot_zone_mm, 0):.1f} mm of it, the lowest part of the front. Set the label "
            "lower on the vessel; a wider front would hold it on one line.",
            lacking_mm=reach - foot_zone_mm,
        )
    # Clear space above the net weight: as tall as its letters, as a state's rule asks.
    clear = net_box.height
    end = min(net_box.y - clear, net_box.y if until is None else until)
    above = Box(x=box.x, y=box.y, width=box.width, height=end - box.y)
    branded, above = _brand(style, above)
    art_marks, above = _art(style, box, above)
    middle: list[Part] = [
        Paragraph(
            pieces=(Piece(text=name.text, face=SEMIBOLD, role="name"),),
            least_pt=least_pt(name) * 1.3, wish_pt=WISH_NAME_PT, align="middle", fill=style.ink,
        ),
        Paragraph(
            pieces=(Piece(text=identity.text, role="identity"),),
            least_pt=least_pt(identity), wish_pt=11, align="middle", gap_mm=1.6, fill=style.ink,
        ),
    ]  # fmt: skip
    named = set_parts(middle, Block(above), what="The front", anchor="middle")
    marks = (*art_marks, *branded, *named.marks, *net_set.marks)
    _refuse_unreadable(marks, style)
    return marks


def _brand(style: Style, above: Box) -> tuple[tuple[Mark, ...], Box]:
    """Return the maker's own name at the head of the front, and the room below it."""
    if not style.brand:
        return (), above
    part = Paragraph(
        pieces=(Piece(text=style.brand, role="brand"),), least_pt=6, wish_pt=9, align="middle",
        fill=style.ink,
    )  # fmt: skip
    head = set_parts([part], Block(above), what="The head of the front")
    return head.marks, _below(above, head.box)


def _below(box: Box, used: Box, gap: float = 1.5) -> Box:
    top = used.foot + gap
    return Box(x=box.x, y=top, width=box.width, height=box.foot - top)


def _net_paragraph(needs: Sequence[Need], *, ink: str) -> Paragraph:
    """
    Return the net weight as one line that serves every market whose figure stands in it.

    The tallest of the least heights counts for all of it.
    """
    nets = [need for need in needs if need.key.startswith("net") and need.text]
    if not nets:
        raise BadLabel("The label has no net weight: say what it declares.")
    longest = max(nets, key=lambda need: len(need.text))
    served = [need for need in nets if need.text in longest.text]
    size = max(least_pt(need, SEMIBOLD) for need in served)
    pieces = [Piece(text=longest.text, face=SEMIBOLD, role=" ".join(n.key for n in served))]
    pieces += [
        Piece(text=need.text, face=SEMIBOLD, role=need.key) for need in nets if need not in served
    ]
    return Paragraph(
        pieces=tuple(pieces), least_pt=size, wish_pt=size * 1.15, align="middle", fill=ink
    )


def _art(style: Style, box: Box, above: Box) -> tuple[tuple[Mark, ...], Box]:
    """Return the art's marks, and what room it leaves for name and identity."""
    art = style.art
    if art is None:
        return (), above
    if art.place == "behind":
        return (Picture(data=art.data, box=_covering(art.shape, box)),), above
    # On a low label the name needs the room more than the picture does.
    share = 0.5 if above.height > LOW_MM else 0.3
    height = min(above.height * share, above.width / art.shape)
    width = height * art.shape
    drawn = Box(x=box.x + (box.width - width) / 2, y=above.y, width=width, height=height)
    return (Picture(data=art.data, box=drawn),), _below(above, drawn)


def _covering(shape: float, box: Box) -> Box:
    """Return the box that a picture of a shape takes to cover another one."""
    width = max(box.width, box.height * shape)
    height = width / shape
    return Box(
        x=box.x + (box.width - width) / 2, y=box.y + (box.height - height) / 2, width=width,
        height=height,
    )  # fmt: skip


def _refuse_unreadable(marks: Sequence[Mark], style: Style) -> None:
    art = style.art
    if art is None or art.place != "behind":
        return
    drawn = next(mark.box for mark in marks if isinstance(mark, Picture))
    for mark in marks:
        if isinstance(mark, Picture) or not getattr(mark, "text", ""):
            continue
        found = contrast_on_art(art, drawn=drawn, text=mark.box, ink=style.ink)
        if found < LEAST_CONTRAST:
            raise BadArt(
                f"“{mark.text}” lies on a part of the picture where its contrast is "
                f"{found:.1f} to 1, less than {LEAST_CONTRAST:g} to 1: choose another ink, or put "
                "the picture above the text."
            )


# --- columns of small print ----------------------------------------------------------------------


def column_marks(groups: Sequence[Group], boxes: Sequence[Box], *, what: str) -> tuple[Mark, ...]:
    """
    Return the groups set into columns, each whole, shared out so that the type comes out largest.

    Raises ``DoesNotFit`` where no sharing fits at the least sizes.
    """
    if whole := _sharing(groups, boxes, 1.0):
        return _set_columns(groups, boxes, whole, what)
    found = _sharing(groups, boxes, 0.0)
    low, high = 0, FACTOR_STEPS
    # Larger type takes more room, so that the largest factor that fits is found by halving.
    while found and high - low > 1:
        middle = (low + high) // 2
        if larger := _sharing(groups, boxes, middle / FACTOR_STEPS):
            found, low = larger, middle
        else:
            high = middle
    if found:
        return _set_columns(groups, boxes, found, what)
    # Nothing fits: setting all of it in the roomiest column says what is lacking.
    roomiest = max(range(len(boxes)), key=lambda n: boxes[n].width * boxes[n].height)
    return _set_columns(groups, boxes, _best_effort(groups, boxes, roomiest), what)


def _sharing(
    groups: Sequence[Group], boxes: Sequence[Box], factor: float
) -> tuple[int, ...] | None:
    """Return the evenest way to share groups out at a factor, or None where none fits."""
    heights = [
        [height_mm(_spaced(group), Block(box), factor) + GROUP_GAP_MM for box in boxes]
        for group in groups
    ]
    best: tuple[float, tuple[int, ...]] | None = None
    ways = product(range(len(boxes)), repeat=len(groups)) if len(groups) <= MOST_SHARED else (
        _in_turn(len(groups), len(boxes))
    )  # fmt: skip
    for places in ways:
        used = [0.0] * len(boxes)
        for number, place in enumerate(places):
            used[place] += heights[number][place]
        if any(taken - GROUP_GAP_MM > box.height for taken, box in zip(used, boxes, strict=True)):
            continue
        if best is None or max(used) < best[0] - 1e-6:
            best = max(used), places
    return best and best[1]


def _best_effort(groups: Sequence[Group], boxes: Sequence[Box], roomiest: int) -> tuple[int, ...]:
    """Return a sharing by the columns' room, for the message of what does not fit."""
    used = [0.0] * len(boxes)
    places = []
    for group in groups:
        tall = [height_mm(_spaced(group), Block(box), 0.0) for box in boxes]
        place = min(range(len(boxes)), key=lambda n: used[n] + min(tall[n], 1e6))
        place = roomiest if tall[place] == inf else place
        used[place] += tall[place] + GROUP_GAP_MM
        places.append(place)
    return tuple(places)


def _in_turn(count: int, columns: int) -> Iterator[tuple[int, ...]]:
    """Yield a few ways to share many groups: in reading order, broken at each place."""
    for cut in product(range(count + 1), repeat=columns - 1):
        if list(cut) == sorted(cut):
            yield tuple(sum(number >= edge for edge in cut) for number in range(count))


def _set_columns(
    groups: Sequence[Group], boxes: Sequence[Box], places: Sequence[int], what: str
) -> tuple[Mark, ...]:
    marks: list[Mark] = []
    for number, box in enumerate(boxes):
        mine = [group for group, place in zip(groups, places, strict=True) if place == number]
        if mine:
            parts = [part for group in mine for part in _spaced(group)]
            found = set_parts(parts, Block(box), what=what)
            marks.extend(_grounds(mine, found, box))
            marks.extend(found.marks)
    return tuple(marks)


def _spaced(group: Group) -> list[Part]:
    """Return a group's parts, set off from the group above."""
    return [replace(group.parts[0], gap_mm=GROUP_GAP_MM), *group.parts[1:]]


def _grounds(groups: Sequence[Group], found: Setting, column: Box) -> Iterator[Mark]:
    """Yield a white ground under each group that wants one, whatever the label's colour."""
    start = 0
    for group in groups:
        end = start + len(group.parts)
        boxes = [mark.box for part in found.parts[start:end] for mark in part]
        start = end
        if group.white and boxes:
            top, foot = min(box.y for box in boxes), max(box.foot for box in boxes)
            around = Box(
                x=column.x - 1, y=top - 0.7, width=column.width + 2, height=foot - top + 1.4
            )
            yield rectangle(around, fill=WHITE, role="ground")


def _one(needs: Sequence[Need], key: str) -> Need:
    for need in needs:
        if need.key == key and need.text:
            return need
    raise BadLabel(f"The label lacks its {key.replace('_', ' ')}.")


# --- whole labels --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class WrapSize:
    """
    A side wrap's measures in millimetres.

    ``circumference`` is the vessel's outside; ``overlap`` what lies double at the seam;
    ``front_width`` how wide the principal panel is; ``foot_zone`` how high above the label's own
    foot the net weight may reach.
    """

    circumference: float
    height: float
    front_width: float
    overlap: float = 6.0
    bleed: float = 2.0
    foot_zone: float | None = None
    pictogram_side: float = 10.0


def wrap(
    needs: Sequence[Need], size: WrapSize, *, style: Style, on_the_base: Sequence[str] = ()
) -> Drawing:
    """
    Return the side wrap: the front in its middle, the small print to both sides of it.

    ``on_the_base`` are the keys that the base label carries instead. The overlap is left empty.
    """
    refuse_faint(style)
    width = size.circumference + size.overlap
    left = (size.circumference - size.front_width) / 2
    front = Box(x=left, y=0, width=size.front_width, height=size.height)
    columns = [
        Box(x=0, y=0, width=left, height=size.height),
        Box(x=front.right, y=0, width=left, height=size.height),
    ]
    inner = [
        Box(
            x=box.x + GUTTER_MM, y=SAFE_MM, width=box.width - 2 * GUTTER_MM,
            height=box.height - 2 * SAFE_MM,
        )
        for box in columns
    ]  # fmt: skip
    marks = front_marks(
        needs, _inside(front), style,
        foot_zone_mm=None if size.foot_zone is None else size.foot_zone,
    )  # fmt: skip
    here = [need for need in needs if need.key not in on_the_base and need.place != "outer pack"]
    groups = _side_groups(here, size.pictogram_side, style.ink)
    if groups:
        marks += column_marks(groups, inner, what="The side of the wrap")
    return Drawing(
        name="wrap", title=f"{_one(needs, 'name').text}, side wrap", width=width,
        height=size.height, bleed_mm=size.bleed, safe_mm=SAFE_MM - 1, ground=style.ground,
        marks=marks,
    )  # fmt: skip


def _inside(front: Box) -> Box:
    return Box(
        x=front.x + 1, y=front.y + SAFE_MM, width=front.width - 2, height=front.height - 2 * SAFE_MM
    )


def _side_groups(
    needs: Sequence[Need], side_mm: float, ink: str, *, optional: bool = False
) -> list[Group]:
    hazards = [need for need in needs if need.key.startswith("hazard") and need.text]
    required = [need for need in needs if optional or need.key != "fire_more"]
    return [
        *(hazard_group(need, side_mm=side_mm) for need in hazards),
        *fire_groups(required, ink=ink),
        *_small_print(needs, align="left", ink=ink),
        *_code_groups(needs),
    ]


# --- fold-outs -----------------------------------------------------------------------------------

COLUMN_MM = 52.0
MOST_PAGES = 6


def fold_out(
    needs: Sequence[Need], *, width: float, height: float, style: Style, pointer: str,
    pictogram_side: float = 10.0, foot_zone: float | None = None,
    elsewhere: Sequence[str] = (), bleed: float = 2.0,
) -> list[Drawing]:  # fmt: skip
    """
    Return a label that is opened: its front, then as many pages inside as the full text takes.

    The front repeats supplier, name, quantity, pictograms, signal word and the formula's identifier
    and says where the rest is (``pointer``); every page has the front's size. ``elsewhere`` are the
    keys that another label carries. Raises ``DoesNotFit``.
    """
    refuse_faint(style)
    here = [need for need in needs if need.key not in elsewhere and need.place != "outer pack"]
    title = _one(needs, "name").text
    inner = Box(x=SAFE_MM, y=SAFE_MM, width=width - 2 * SAFE_MM, height=height - 2 * SAFE_MM)
    common = {"width": width, "height": height, "bleed_mm": bleed, "safe_mm": SAFE_MM - 1}
    front = Drawing(
        name="fold", title=f"{title}, fold-out’s front", ground=style.ground,
        marks=_fold_front(here, inner, style, pointer, pictogram_side, foot_zone), **common,
    )  # fmt: skip
    # Inside is read, not looked at: dark on white, whatever the front's colours.
    groups = _side_groups(here, pictogram_side, BLACK, optional=True)
    pages = [
        Drawing(
            name=f"fold-{number}", title=f"{title}, fold-out’s page {number}", ground=WHITE,
            marks=marks, **common,
        )
        for number, marks in enumerate(_inside_pages(groups, inner), start=1)
    ]  # fmt: skip
    return [front, *pages]


def _fold_front(
    needs: Sequence[Need], inner: Box, style: Style, pointer: str, side: float,
    foot_zone: float | None,
) -> tuple[Mark, ...]:  # fmt: skip
    parts: list[Part] = []
    hazards = [need for need in needs if need.key.startswith("hazard") and need.text]
    for need in hazards:
        if need.signs:
            items = tuple(_pictogram(code, side) for code in need.signs)
            parts.append(Signs(items=items, align="middle"))
        if need.front_text:
            parts.append(_small(need.front_text, least=least_pt(need), ink=BLACK))
    grounded = len(parts)
    parts.append(_small(pointer, least=least_pt(needs[0]), ink=style.ink, face=SEMIBOLD))
    parts += [
        body(need, align="middle", wish=6.5, ink=style.ink)
        for need in needs
        if need.key.startswith(("business", "responsible")) and need.text
    ]
    # The small print stands above the net weight, whose room is kept clear by its own height.
    net = set_parts(
        [_net_paragraph(needs, ink=style.ink)], Block(inner), what="The net weight", anchor="foot"
    ).box
    room = Box(x=inner.x, y=inner.y, width=inner.width, height=net.y - net.height - inner.y)
    small = set_parts(parts, Block(room), what="The fold-out’s front", anchor="foot")
    white = [mark.box for part in small.parts[:grounded] for mark in part]
    ground: tuple[Mark, ...] = ()
    if white:
        top, foot = min(box.y for box in white), max(box.foot for box in white)
        around = Box(x=inner.x, y=top - 0.7, width=inner.width, height=foot - top + 1.2)
        ground = (rectangle(around, fill=WHITE, role="ground"),)
    head = front_marks(needs, inner, style, foot_zone_mm=foot_zone, until=small.box.y - 1.5)
    return (*head, *ground, *small.marks)


def _small(text: str, *, least: float, ink: str, face: Typeface = REGULAR) -> Paragraph:
    return Paragraph(
        pieces=(Piece(text=text, face=face),), least_pt=least, wish_pt=7, align="middle",
        gap_mm=1.2, fill=ink,
    )  # fmt: skip


def _inside_pages(groups: Sequence[Group], inner: Box) -> Iterator[tuple[Mark, ...]]:
    """Yield the groups page by page in reading order, as many on each as fit whole."""
    boxes = _columns_of(inner, max(1, int(inner.width // COLUMN_MM)))
    what = "The fold-out’s inside"
    waiting, pages = list(groups), 0
    while waiting:
        pages += 1
        fitting = next(
            (n for n in range(len(waiting), 0, -1) if _sharing(waiting[:n], boxes, 0.0)), 1
        )
        if pages > MOST_PAGES:
            raise DoesNotFit(
                f"The full text takes more than {MOST_PAGES} pages of {inner.width:.0f} by "
                f"{inner.height:.0f} mm: make the fold-out larger.",
                lacking_mm=inner.height,
            )
        yield column_marks(waiting[:fitting], boxes, what=what)
        del waiting[:fitting]


def _columns_of(inner: Box, columns: int) -> list[Box]:
    wide = (inner.width - (columns - 1) * GUTTER_MM) / columns
    return [
        Box(x=inner.x + n * (wide + GUTTER_MM), y=inner.y, width=wide, height=inner.height)
        for n in range(columns)
    ]


# --- discs, tags, cartons ------------------------------------------------------------------------


def base(needs: Sequence[Need], *, diameter: float, style: Style, keys: Sequence[str]) -> Drawing:
    """
    Return the base label, a disc: fire warnings, lot, maker.

    Raises ``BadLabel`` where a key may not stand on the base alone.
    """
    chosen = [need for need in needs if need.key in keys]
    for need in chosen:
        if not need.base_alone:
            raise BadLabel(
                f"{need.title} may not stand on the base alone: it is read with the candle "
                "standing, unless an outer box carries it too."
            )
    parts = _disc_parts(chosen, style)
    return _disc("base", needs, diameter, style, parts, "The base label")


def _disc_parts(needs: Sequence[Need], style: Style) -> list[Part]:
    groups = [
        *fire_groups(needs, align="middle", ink=style.ink),
        *_small_print(needs, align="middle", ink=style.ink),
    ]
    return [part for group in groups for part in group.parts]


def lid(needs: Sequence[Need], *, diameter: float, style: Style) -> Drawing:
    """Return the lid's disc: the art, the name and what it is."""
    name, identity = _one(needs, "name"), _one(needs, "identity")
    parts: list[Part] = []
    if style.art is not None and style.art.place == "above":
        height = diameter * 0.3
        width = height * style.art.shape
        art = Picture(data=style.art.data, box=Box(x=0, y=0, width=width, height=height))
        parts.append(Signs(items=((width, height, (art,)),), align="middle"))
    parts += [
        Paragraph(
            pieces=(Piece(text=name.text, face=SEMIBOLD, role="name"),),
            least_pt=least_pt(name) * 1.2, wish_pt=20, align="middle", fill=style.ink,
        ),
        Paragraph(
            pieces=(Piece(text=identity.text, role="identity"),), least_pt=least_pt(identity),
            wish_pt=9, align="middle", fill=style.ink,
        ),
    ]  # fmt: skip
    return _disc("lid", needs, diameter, style, parts, "The lid’s disc")


def _disc(
    name: FaceName, needs: Sequence[Need], diameter: float, style: Style, parts: list[Part],
    what: str,
) -> Drawing:  # fmt: skip
    refuse_faint(style)
    radius = diameter / 2
    region = Disc(radius, radius, radius - SAFE_MM)
    marks = set_parts(parts, region, what=what, anchor="middle").marks
    return Drawing(
        name=name, title=f"{_one(needs, 'name').text}, {name}", width=diameter, height=diameter,
        shape="circle", bleed_mm=1.5, safe_mm=SAFE_MM - 1, ground=style.ground, marks=marks,
    )  # fmt: skip


def tag(
    needs: Sequence[Need], *, width: float, height: float, style: Style,
    pictogram_side: float = 10.0, hole_mm: float = 4.0,
) -> list[Drawing]:  # fmt: skip
    """Return a hang tag: its front with the name, its back with the small print."""
    head = hole_mm + 2 * SAFE_MM
    front = Box(x=SAFE_MM, y=head, width=width - 2 * SAFE_MM, height=height - head - SAFE_MM)
    hole = Outline(
        d=f"M0 {hole_mm / 2}a{hole_mm / 2} {hole_mm / 2} 0 1 0 {hole_mm} 0a{hole_mm / 2} "
        f"{hole_mm / 2} 0 1 0 {-hole_mm} 0Z",
        view=(0, 0, hole_mm, hole_mm),
        box=Box(x=(width - hole_mm) / 2, y=SAFE_MM, width=hole_mm, height=hole_mm),
        fill=None, stroke="#999999", stroke_width=0.2, role="hole",
    )  # fmt: skip
    refuse_faint(style)
    title = _one(needs, "name").text
    groups = _side_groups(
        [need for need in needs if need.place != "outer pack"], pictogram_side, style.ink
    )
    back = column_marks(groups, [front], what="The back of the tag") if groups else ()
    name_only = front_marks(needs, front, style, foot_zone_mm=None)
    common = {"width": width, "height": height, "bleed_mm": 2.0, "safe_mm": SAFE_MM - 1,
              "ground": style.ground}  # fmt: skip
    return [
        Drawing(name="tag", title=f"{title}, tag", marks=(hole, *name_only), **common),
        Drawing(name="tag-back", title=f"{title}, tag’s back", marks=(hole, *back), **common),
    ]


def carton(
    needs: Sequence[Need], *, width: float, height: float, style: Style,
    pictogram_side: float = 10.0, how_many: int = 0, columns: int = 2,
) -> Drawing:  # fmt: skip
    """Return the outer carton's label: everything, and what only the outer pack says."""
    refuse_faint(style)
    head_height = height * 0.3
    inner = Box(x=SAFE_MM, y=SAFE_MM, width=width - 2 * SAFE_MM, height=height - 2 * SAFE_MM)
    head = Box(x=inner.x, y=inner.y, width=inner.width, height=head_height)
    name, identity = _one(needs, "name"), _one(needs, "identity")
    net = _net_paragraph(needs, ink=style.ink)
    held = (Piece(text=f"{how_many} ×", face=SEMIBOLD),) if how_many else ()
    parts: list[Part] = [
        Paragraph(
            pieces=(Piece(text=name.text, face=SEMIBOLD, role="name"),), least_pt=9, wish_pt=20,
            fill=style.ink,
        ),
        Paragraph(
            pieces=(Piece(text=identity.text, role="identity"),), least_pt=7, wish_pt=11,
            fill=style.ink,
        ),
        replace(net, pieces=(*held, *net.pieces), align="left", gap_mm=1.5),
    ]  # fmt: skip
    headed = set_parts(parts, Block(head), what="The carton’s head")
    head_marks, top = headed.marks, headed.box.foot + 3
    boxes = _columns_of(replace(inner, y=top, height=inner.foot - top), columns)
    groups = _side_groups(needs, pictogram_side, style.ink)
    marks = head_marks + (column_marks(groups, boxes, what="The carton’s label") if groups else ())
    return Drawing(
        name="carton", title=f"{name.text}, carton", width=width, height=height, bleed_mm=0,
        safe_mm=SAFE_MM - 1, ground=style.ground, marks=marks,
    )  # fmt: skip
