"""Whole labels: every mandatory text, tall enough, inside the safe area, nothing on another."""

import re
from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import pypdf
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from label_examples import facts
from pourwright.core.labelling.needs import needs_of
from pourwright.core.labelling.panel import us_bottom_zone
from pourwright.papers.labels.faces import BadLabel, WrapSize, base, carton, lid, tag, wrap
from pourwright.papers.labels.flow import DoesNotFit
from pourwright.papers.labels.marks import Words
from pourwright.papers.labels.pdf import CUT_GAP, CUT_LENGTH, labels_pdf, single_page
from pourwright.papers.labels.proof import faults, said
from pourwright.papers.labels.style import BadArt, Style, contrast, read_art, refuse_faint

PLAIN = Style()
ON_THE_BASE = ("fire_us", "fire_symbols", "lot")


def size_for(known, **more) -> WrapSize:
    zone = us_bottom_zone(known.panel, on=known.on).height_mm
    return WrapSize(
        circumference=float(known.panel.width_mm / Fraction("0.4")), height=78,
        front_width=float(known.panel.width_mm), foot_zone=float(zone), **more,
    )  # fmt: skip


def whole_set(known, style=PLAIN):
    needs = needs_of(known)
    drawings = [
        wrap(needs, size_for(known), style=style, on_the_base=ON_THE_BASE),
        base(needs, diameter=70, style=style, keys=ON_THE_BASE),
        lid(needs, diameter=70, style=style),
    ]
    return needs, drawings


def test_a_set_of_wrap_base_and_lid_says_everything():
    needs, drawings = whole_set(facts())
    assert faults(needs, drawings) == []


def test_the_net_weight_is_tall_enough_and_in_the_foot_of_the_front():
    known = facts()
    _, (around, *_) = whole_set(known)
    (net,) = [mark for mark in around.texts() if "net_us" in mark.role]
    assert net.face.height_mm("o", size_pt=net.size_pt) >= 3.2
    assert net.face.height_mm("figure", size_pt=net.size_pt) >= 4.0
    assert around.height - net.box.y <= float(us_bottom_zone(known.panel, on=known.on).height_mm)


def test_the_drawn_o_of_the_net_weight_is_measured_on_the_printed_page():
    """Read back at 1,200 dpi: the ink of the o in "oz", 16 CFR 500.21."""
    known = facts(markets=("us",))
    _, (around, *_) = whole_set(known)
    (net,) = [mark for mark in around.texts() if "net_us" in mark.role]
    pdf = labels_pdf([single_page(around, marks=False)], title="Wrap")
    page = pypdfium2.PdfDocument(pdf)[0]
    picture = page.render(scale=1200 / 72, grayscale=True).to_numpy() < 128
    before = net.text[: net.text.index("oz")]
    left = around.bleed_mm + net.x + net.face.width_mm(before, size_pt=net.size_pt)
    right = left + net.face.width_mm("o", size_pt=net.size_pt)
    line = around.bleed_mm + net.y
    dots = 1200 / 25.4
    letter = picture[
        int((line - 6) * dots) : int((line + 1) * dots), int(left * dots) : int(right * dots)
    ]
    rows = letter.any(axis=1).nonzero()[0]
    assert (rows[-1] - rows[0] + 1) / dots >= 3.2


def test_every_mandatory_text_is_read_back_from_the_pdf():
    needs, drawings = whole_set(facts())
    pdf = pypdf.PdfReader(BytesIO(labels_pdf([single_page(d) for d in drawings], title="Set")))
    read = " ".join(page.extract_text() for page in pdf.pages)
    for need in needs:
        if need.state == "ready" and need.key != "fire_symbols":
            for word in re.findall(r"\w+", need.text):
                assert word in read, need.key


@pytest.mark.parametrize("number", [0, 1, 2])
def test_each_page_is_as_large_as_its_label(number):
    _, drawings = whole_set(facts())
    drawing = drawings[number]
    pdf = pypdf.PdfReader(BytesIO(labels_pdf([single_page(drawing)], title="One")))
    around = 2 * (drawing.bleed_mm + CUT_GAP + CUT_LENGTH)
    box = pdf.pages[0].mediabox
    assert float(box.width) * 25.4 / 72 == pytest.approx(drawing.width + around, abs=0.1)
    assert float(box.height) * 25.4 / 72 == pytest.approx(drawing.height + around, abs=0.1)


def test_hazard_words_are_refused_on_the_base_alone():
    needs = needs_of(facts())
    with pytest.raises(BadLabel, match="may not stand on the base alone"):
        base(needs, diameter=70, style=PLAIN, keys=("hazard_eu",))


def test_with_an_outer_box_they_may_stand_there():
    needs = needs_of(facts(in_a_box=True))
    drawn = base(needs, diameter=110, style=PLAIN, keys=("lot",))
    assert "L-0107" in said(drawn)


def test_a_small_label_is_refused_with_what_it_lacks():
    known = facts()
    with pytest.raises(DoesNotFit, match=r"least lawful sizes.*lacks"):
        wrap(needs_of(known), replace(size_for(known), height=30, foot_zone=None), style=PLAIN)


def test_a_net_weight_that_cannot_stand_low_enough_is_refused():
    known = facts()
    with pytest.raises(DoesNotFit, match="net weight reaches"):
        wrap(needs_of(known), replace(size_for(known), foot_zone=2.0), style=PLAIN)


def test_tag_and_carton_carry_the_hazard_block_too():
    needs = needs_of(facts(metal_core=True))
    front, back = tag(needs, width=80, height=160, style=PLAIN)
    outer = carton(needs, width=160, height=120, style=PLAIN, how_many=6)
    assert faults(needs, [front, back]) == []
    assert faults(needs, [outer]) == []
    assert "1500.17(a)(13)" in said(outer)
    assert "1500.17(a)(13)" not in said(back)
    assert "6 ×" in said(outer)


def test_hazard_blocks_stand_on_white_whatever_the_ground():
    _, (around, *_) = whole_set(facts(), Style(ground="#203040", ink="#ffffff"))
    grounds = [mark for mark in around.marks if getattr(mark, "role", "") == "ground"]
    hazard = [mark for mark in around.texts() if mark.role == "hazard_eu"]
    assert all(any(ground.box.holds(mark.box) for ground in grounds) for mark in hazard)
    assert {mark.fill for mark in hazard} == {"#000000"}


# --- what cannot be read is refused ---------------------------------------------------------------


def test_contrast_is_the_guideline_s_own():
    """WCAG 2.2: black on white is 21 to 1, a colour on itself 1 to 1; #767676 just passes."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((90, 90, 90), (90, 90, 90)) == 1
    assert contrast((0x76,) * 3, (255, 255, 255)) == pytest.approx(4.54, abs=0.005)


def test_faint_ink_is_refused():
    with pytest.raises(BadArt, match="contrast of"):
        refuse_faint(Style(ground="#ffffff", ink="#cccccc"))


def picture(colour: str, size=(400, 300)) -> bytes:
    out = BytesIO()
    Image.new("RGB", size, colour).save(out, "PNG")
    return out.getvalue()


def test_text_on_a_dark_picture_is_refused_in_dark_ink():
    known = facts()
    dark = Style(art=read_art(picture("#222222"), place="behind"))
    with pytest.raises(BadArt, match="its contrast is"):
        wrap(needs_of(known), size_for(known), style=dark, on_the_base=ON_THE_BASE)


def test_a_light_picture_behind_the_front_is_taken():
    known = facts()
    light = Style(art=read_art(picture("#f4ead8"), place="behind"))
    needs = needs_of(known)
    drawings = [
        wrap(needs, size_for(known), style=light, on_the_base=ON_THE_BASE),
        base(needs, diameter=70, style=light, keys=ON_THE_BASE),
    ]
    assert faults(needs, drawings) == []


def test_an_svg_is_drawn_as_a_picture():
    svg = (
        b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><path d="M0 0h40v20z"/></svg>'
    )
    art = read_art(svg)
    assert art.shape == pytest.approx(2, abs=0.02)


@pytest.mark.parametrize(
    "data", [b"", b"GIF89a....", b"<svg", b"\x89PNG\r\n\x1a\nbroken", b"%PDF-1.7"]
)
def test_what_is_no_picture_is_refused(data):
    with pytest.raises(BadArt):
        read_art(data)


# --- any maker's words ----------------------------------------------------------------------------

WORD = st.text(alphabet="abcdefghijklmnopqrstuvwxyzÄÅéøšž&-’", min_size=1, max_size=12)


@settings(max_examples=15, deadline=None)
@given(
    name=st.lists(WORD, min_size=1, max_size=5).map(" ".join),
    street=st.lists(WORD, min_size=1, max_size=5).map(" ".join),
    height=st.integers(60, 110),
)
def test_a_label_is_either_whole_or_refused(name, street, height):
    """Whatever the words and the height: nothing outside, nothing on another, nothing left out."""
    known = facts(name=name)
    known = replace(known, maker=replace(known.maker, street=street))
    needs = needs_of(known)
    try:
        drawings = [
            wrap(needs, replace(size_for(known), height=height, foot_zone=None), style=PLAIN,
                 on_the_base=ON_THE_BASE),
            base(needs, diameter=70, style=PLAIN, keys=ON_THE_BASE),
        ]  # fmt: skip
    except DoesNotFit:
        return
    assert faults(needs, drawings) == []
    assert all(isinstance(mark, Words) for drawing in drawings for mark in drawing.texts())
