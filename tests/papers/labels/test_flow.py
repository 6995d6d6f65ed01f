"""Texts on a label: as large as they fit, never smaller than the law lets them be."""

from itertools import pairwise

import pytest

from pourwright.papers.labels import flow
from pourwright.papers.labels.flow import DoesNotFit, Paragraph, Piece, Signs
from pourwright.papers.labels.marks import Box, Outline, rectangle
from pourwright.papers.labels.regions import Block, Disc
from pourwright.papers.typefaces import REGULAR

LONG = (
    "Burn within sight. Keep away from things that catch fire. Keep away from children and pets. "
    "Trim the wick before each lighting. Burn on a level, heat-proof surface."
)


def paragraph(text=LONG, *, least=5.0, wish=9.0, **more) -> Paragraph:
    return Paragraph(pieces=(Piece(text=text),), least_pt=least, wish_pt=wish, **more)


def block(width=50.0, height=40.0) -> Block:
    return Block(Box(x=3, y=4, width=width, height=height))


def set_parts(parts, region, **more):
    setting = flow.set_parts(parts, region, **more)
    return setting.marks, setting.box


def sizes(marks):
    return {mark.size_pt for mark in marks}


def test_text_with_room_gets_the_size_it_would_like():
    marks, _ = set_parts([paragraph("Two words")], block(), what="The back")
    assert sizes(marks) == {9.0}


def test_text_with_less_room_is_set_smaller_and_stays_inside():
    region = block(width=40, height=18)
    marks, used = set_parts([paragraph()], region, what="The back")
    (size,) = sizes(marks)
    assert 5.0 < size < 9.0
    assert all(region.box.holds(mark.box, slack=0.01) for mark in marks)
    assert region.box.holds(used, slack=0.01)


def test_below_the_least_size_it_is_refused_with_what_is_lacking():
    with pytest.raises(DoesNotFit, match=r"The back does not fit.*more height") as refused:
        set_parts([paragraph()], block(width=30, height=8), what="The back")
    assert refused.value.lacking_mm > 0


def test_the_lacking_height_is_enough():
    with pytest.raises(DoesNotFit) as refused:
        set_parts([paragraph()], block(width=30, height=8), what="The back")
    roomy = block(width=30, height=8 + refused.value.lacking_mm + 0.01)
    marks, _ = set_parts([paragraph()], roomy, what="The back")
    assert min(sizes(marks)) >= 5.0


def test_a_word_wider_than_the_label_is_refused_for_its_width():
    with pytest.raises(DoesNotFit, match="more width"):
        set_parts([paragraph("Hexamethylindanopyran")], block(width=10), what="The back")


def test_every_word_is_printed_once_and_in_order():
    marks, _ = set_parts([paragraph()], block(width=33, height=60), what="The back")
    assert " ".join(mark.text for mark in marks) == LONG


def test_lines_in_a_circle_stay_inside_it():
    disc = Disc(x=30, y=30, radius=28)
    marks, _ = set_parts([paragraph(align="middle")], disc, what="The base", anchor="middle")
    for mark in marks:
        for x in (mark.box.x, mark.box.right):
            for y in (mark.y, mark.y - REGULAR.ink_per_em("H") * mark.size_pt * 25.4 / 72):
                assert (x - 30) ** 2 + (y - 30) ** 2 <= 28.01**2


def test_lines_stand_at_least_a_fifth_more_than_their_size_apart():
    marks, _ = set_parts([paragraph()], block(width=30, height=80), what="The back")
    lines = sorted({mark.y for mark in marks})
    steps = [low - high for high, low in pairwise(lines)]
    assert min(steps) >= 1.2 * marks[0].size_pt * 25.4 / 72 - 1e-9


def test_signs_wrap_into_rows_and_keep_their_size():
    sign = rectangle(Box(x=0, y=0, width=10, height=10))
    marks, used = set_parts(
        [Signs(items=tuple((10.0, 10.0, (sign,)) for _ in range(5)))],
        block(width=35, height=40),
        what="The back",
    )
    assert all(isinstance(mark, Outline) and mark.box.width == 10 for mark in marks)
    assert len({mark.box.y for mark in marks}) == 2
    assert used.height == pytest.approx(21.5)


def test_marks_do_not_lie_on_one_another():
    parts = [paragraph("A name of some length", wish=14), paragraph(), paragraph("Lot 2301")]
    marks, _ = set_parts(parts, block(width=45, height=45), what="The back")
    boxes = [mark.box for mark in marks]
    assert not any(a.meets(b) for n, a in enumerate(boxes) for b in boxes[n + 1 :])
