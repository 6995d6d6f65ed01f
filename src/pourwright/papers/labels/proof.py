"""
Prove a set of labels against what the candle needs, from the drawings alone.

Nothing of how they were composed is trusted: texts are found by what they say and measured by the
outlines that they will be printed with.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import sqrt

from pourwright.core.labelling.needs import Need
from pourwright.papers.labels.marks import Box, Drawing, Outline, Words
from pourwright.papers.pictograms import CODES

SLACK_MM = 0.02
# Grounds lie under what stands on them, art behind the front; a hole and a frame hold nothing.
UNDERLYING = ("ground", "art", "hole")


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that a label lacks or has wrong, and which need it concerns."""

    key: str
    message: str


def faults(needs: Iterable[Need], drawings: Sequence[Drawing]) -> list[Fault]:
    """Return everything that keeps these labels from saying what the candle needs; none is good."""
    found = [fault for need in needs for fault in _need_faults(need, drawings)]
    for drawing in drawings:
        found += _layout_faults(drawing)
    return found


def _need_faults(need: Need, drawings: Sequence[Drawing]) -> Iterator[Fault]:
    if need.state in ("missing", "kept"):
        yield Fault(need.key, f"{need.title}: {need.missing}")
        return
    if need.state == "optional" or need.place == "outer pack":
        return
    where = [drawing for drawing in drawings if _stands_on(need, drawing)]
    if not where:
        yield Fault(need.key, f"{need.title} stands on none of these labels.")
        return
    if not need.base_alone and all(drawing.name == "base" for drawing in where):
        yield Fault(need.key, f"{need.title} stands on the base alone.")
    for drawing in where:
        yield from _size_faults(need, drawing)


def _stands_on(need: Need, drawing: Drawing) -> bool:
    roles = {role for mark in drawing.marks for role in getattr(mark, "role", "").split()}
    signs = [sign if sign in CODES else f"symbol {sign}" for sign in need.signs]
    drawn = {mark.role for mark in drawing.marks if isinstance(mark, Outline)}
    if need.signs and not all(sign in drawn for sign in signs):
        return False
    if need.key == "fire_symbols":  # its words are what the symbols say
        return True
    return need.key in roles and _words_of(need.text) <= _words_of(said(drawing))


def said(drawing: Drawing) -> str:
    """Return all of a drawing's text in the order in which it was set."""
    return " ".join(mark.text for mark in drawing.texts())


def _words_of(text: str) -> set[str]:
    return {word.strip("().,:;") for word in text.split()} - {""}


def _size_faults(need: Need, drawing: Drawing) -> Iterator[Fault]:
    least = float(need.least_mm)
    yield from _pictogram_faults(need, drawing)
    for mark in drawing.marks:
        if isinstance(mark, Words) and need.key in mark.role.split():
            measured = need.measured_on
            if measured in ("", "symbol"):
                continue
            tall = mark.face.height_mm(measured, size_pt=mark.size_pt)
            if tall < least - SLACK_MM:
                yield Fault(
                    need.key, f"{need.title} is {tall:.2f} mm tall; {least:.2f} mm is the least."
                )
                return
        if (
            isinstance(mark, Outline)
            and need.measured_on == "symbol"
            and mark.role in {f"symbol {sign}" for sign in need.signs}
            and mark.box.height < least - SLACK_MM
        ):
            yield Fault(
                need.key,
                f"{need.title}: a symbol is {mark.box.height:.1f} mm, less than {least:.1f} mm.",
            )
            return


def _pictogram_faults(need: Need, drawing: Drawing) -> Iterator[Fault]:
    if need.signs_least_mm is None:
        return
    least = float(need.signs_least_mm)
    for mark in drawing.marks:
        if isinstance(mark, Outline) and mark.role in need.signs and mark.role in CODES:
            side = mark.box.width / sqrt(2)
            if side < least - SLACK_MM:
                yield Fault(
                    need.key,
                    f"{need.title}: {mark.role} has a side of {side:.1f} mm; {least:.1f} mm is the "
                    "least.",
                )


def _layout_faults(drawing: Drawing) -> Iterator[Fault]:
    standing = [
        mark
        for mark in drawing.marks
        if not any(word in UNDERLYING for word in mark.role.split()) and _is_a_thing(mark)
    ]
    for mark in standing:
        if not _inside(mark.box, drawing):
            yield Fault(mark.role, f"“{_called(mark)}” reaches beyond {drawing.title}’s safe area.")
    for number, first in enumerate(standing):
        for second in standing[number + 1 :]:
            if first.box.meets(second.box, slack=SLACK_MM):
                yield Fault(
                    first.role,
                    f"“{_called(first)}” and “{_called(second)}” lie on one another on "
                    f"{drawing.title}.",
                )


def _is_a_thing(mark) -> bool:
    """Return whether it is text or the first layer of a sign; further layers lie on the first."""
    return isinstance(mark, Words) or bool(mark.role)


def _called(mark) -> str:
    return mark.text if isinstance(mark, Words) else mark.role


def _inside(box: Box, drawing: Drawing) -> bool:
    if drawing.shape == "rectangle":
        return drawing.safe.holds(box, slack=SLACK_MM)
    radius = drawing.width / 2
    reach = (radius - drawing.safe_mm + SLACK_MM) ** 2
    corners = ((x, y) for x in (box.x, box.right) for y in (box.y, box.foot))
    return all((x - radius) ** 2 + (y - radius) ** 2 <= reach for x, y in corners)
