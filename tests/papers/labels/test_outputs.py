"""A label's PDF and SVG, read back by other libraries: sizes, texts, fonts, and ink on the page."""

from io import BytesIO
from xml.etree import ElementTree

import pypdf
import pypdfium2
import pytest
from PIL import Image

from pourwright.papers.labels.marks import Box, Drawing, Picture, Words, rectangle
from pourwright.papers.labels.pdf import Page, Placed, labels_pdf, single_page
from pourwright.papers.labels.sheets import (
    A4,
    BadSheet,
    Sheet,
    known_sheets,
    many_on_a_page,
    pages_of,
    sheet_key,
)
from pourwright.papers.labels.sheets import test_page as page_to_measure
from pourwright.papers.labels.svg_out import label_svg
from pourwright.papers.typefaces import BOLD

MM = 25.4 / 72


def label(**more) -> Drawing:
    words = Words(text="Marigold & rye", x=5, y=12, size_pt=14, face=BOLD, role="name")
    bar = rectangle(Box(x=5, y=15, width=20, height=4), fill="#7a1f1f")
    return Drawing(
        name="front", title="A front", **{"width": 60, "height": 30, "marks": (words, bar), **more}
    )


def page_size_mm(pdf: bytes, number: int = 0) -> tuple[float, float]:
    box = pypdf.PdfReader(BytesIO(pdf)).pages[number].mediabox
    return float(box.width) * MM, float(box.height) * MM


def picture_of(pdf: bytes, dpi: int = 254):
    """The page in grey, ten pixels a millimetre."""
    return pypdfium2.PdfDocument(pdf)[0].render(scale=dpi / 72, grayscale=True).to_numpy()


def test_a_page_of_one_label_is_as_large_as_label_bleed_and_marks():
    pdf = labels_pdf([single_page(label(bleed_mm=2))], title="One")
    assert page_size_mm(pdf) == pytest.approx((60 + 12, 30 + 12), abs=0.1)


def test_the_fonts_are_embedded_and_the_text_can_be_read_back():
    reader = pypdf.PdfReader(BytesIO(labels_pdf([single_page(label())], title="One")))
    page = reader.pages[0]
    assert "Marigold & rye" in page.extract_text()
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    used = [font for font in fonts if "OpenSans" in font["/BaseFont"]]
    assert used
    for font in used:
        assert "/FontFile2" in font["/FontDescriptor"]
    assert {font["/BaseFont"].split("+")[-1] for font in fonts} == {"OpenSans-Bold"}


def test_a_bar_is_drawn_where_and_as_large_as_it_says():
    page = Page(width=80, height=50, placed=(Placed(drawing=label(), x=10, y=10),))
    ink = picture_of(labels_pdf([page], title="One"))[250:290, :] < 160
    rows, columns = ink.any(axis=1).nonzero()[0], ink.any(axis=0).nonzero()[0]
    assert columns[0] / 10 == pytest.approx(15, abs=0.11)
    assert (columns[-1] + 1) / 10 == pytest.approx(35, abs=0.11)
    assert (rows[-1] - rows[0] + 1) / 10 == pytest.approx(4, abs=0.15)


def test_the_same_label_gives_the_same_bytes():
    pages = [single_page(label())]
    assert labels_pdf(pages, title="x") == labels_pdf(pages, title="x")


def test_a_picture_is_drawn_into_its_box():
    out = BytesIO()
    Image.new("RGB", (20, 10), "black").save(out, "PNG")
    art = Picture(data=out.getvalue(), box=Box(x=30, y=5, width=20, height=10))
    drawing = label(marks=(art,))
    page = Page(width=60, height=30, placed=(Placed(drawing=drawing, x=0, y=0),))
    ink = picture_of(labels_pdf([page], title="One")) < 128
    columns = ink.any(axis=0).nonzero()[0]
    assert (columns[0] / 10, (columns[-1] + 1) / 10) == pytest.approx((30, 50), abs=0.11)


@pytest.mark.parametrize("letters", ["outlines", "text"])
def test_an_svg_is_true_to_size_and_well_formed(letters):
    svg = label_svg(label(bleed_mm=1.5), letters=letters)
    root = ElementTree.fromstring(svg)
    assert root.get("width") == "63mm"
    assert root.get("viewBox") == "-1.5 -1.5 63 33"
    assert ("Marigold &amp; rye" in svg) == (letters == "text")
    assert ("@font-face" in svg) == (letters == "text")


SHEET = Sheet(name="three by eight", paper=A4, columns=3, rows=8, width=63.5, height=33.9,
              left=7, top=12.9, across=66, down=33.9)  # fmt: skip


def test_a_sheet_starts_at_the_chosen_place_and_runs_on():
    pages = pages_of([label()] * 30, SHEET, start=20)
    assert [len(page.placed) for page in pages] == [5, 24, 1]
    first = pages[0].placed[0]
    assert first.x == pytest.approx(7 + 66 + (63.5 - 60) / 2)
    assert first.y == pytest.approx(12.9 + 6 * 33.9 + (33.9 - 30) / 2)


def test_the_printer_s_offset_moves_every_label():
    moved = Sheet(**{**{f: getattr(SHEET, f) for f in SHEET.__slots__}, "dx": 1.5, "dy": -0.5})
    plain, off = (pages_of([label()], sheet)[0].placed[0] for sheet in (SHEET, moved))
    assert (off.x - plain.x, off.y - plain.y) == pytest.approx((1.5, -0.5))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"columns": 4}, "beyond"),
        ({"across": 50}, "lie on one another"),
        ({"round": True}, "as wide as it is high"),
        ({"rows": 0}, "one to 1,000"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(change, says):
    with pytest.raises(BadSheet, match=says):
        Sheet(**{**{f: getattr(SHEET, f) for f in SHEET.__slots__}, **change})


def test_a_label_larger_than_the_sheet_s_is_refused():
    with pytest.raises(BadSheet, match=r"80\.0 by 30\.0 mm"):
        pages_of([label(width=80)], SHEET)


def test_plain_paper_takes_as_many_as_fit():
    sheet = many_on_a_page(label(bleed_mm=1), A4)
    assert sheet.paper == A4[::-1]  # turned it takes twenty, upright fourteen
    assert (sheet.columns, sheet.rows) == (4, 5)


def test_the_page_to_measure_has_a_true_hundred_millimetres():
    page = page_to_measure(SHEET)
    x1, y1, x2, _ = next(line for line in page.lines if line[0] == SHEET.paper[0] / 2 - 50)
    ink = picture_of(labels_pdf([page], title="Test")) < 200
    row = ink[round(y1 * 10) - 1 : round(y1 * 10) + 2].any(axis=0)
    gaps = (~row).nonzero()[0]
    middle = round((x1 + x2) / 2 * 10)
    drawn = gaps[gaps > middle].min() - gaps[gaps < middle].max() - 1
    assert drawn / 10 == pytest.approx(100, abs=0.3)


def test_labels_that_recur_are_written_once_and_still_read_on_every_place():
    """Three hundred of the same take hardly more room than one; each is text on its page."""
    one, sheet = label(), SHEET
    few = labels_pdf(pages_of([one], sheet), title="x")
    many = labels_pdf(pages_of([one] * 300, sheet), title="x")
    assert len(many) < 3 * len(few) + 30_000
    reader = pypdf.PdfReader(BytesIO(many))
    assert sum(p.extract_text().count("Marigold & rye") for p in reader.pages) == 300


def test_a_recurring_label_lies_where_a_single_one_would():
    one = label()
    alone = picture_of(labels_pdf(pages_of([one], SHEET, start=24), title="x"))
    last = picture_of(labels_pdf(pages_of([one] * 24, SHEET), title="x"))
    x, y = (round(10 * at) for at in SHEET.place(23))
    area = slice(y, y + 339), slice(x, x + 635)
    assert (alone[area] < 128).any()
    assert ((alone[area] < 128) != (last[area] < 128)).mean() < 0.001


def test_a_draft_is_printed_across():
    pages = pages_of([label()], SHEET, across="DRAFT")
    assert "DRAFT" in pypdf.PdfReader(BytesIO(labels_pdf(pages, title="x"))).pages[0].extract_text()
    assert (
        "DRAFT"
        not in pypdf.PdfReader(BytesIO(labels_pdf(pages_of([label()], SHEET), title="x")))
        .pages[0]
        .extract_text()
    )


def test_bleed_ends_half_way_to_the_next_label():
    close = Sheet(**{**{f: getattr(SHEET, f) for f in SHEET.__slots__}, "across": 66, "rows": 1})
    wide = label(bleed_mm=3, width=63.5)
    (page,) = pages_of([wide] * 3, close)
    assert [one.drawing.bleed_mm for one in page.placed] == pytest.approx([1.25] * 3)


@pytest.mark.parametrize("sheet", known_sheets(), ids=lambda sheet: sheet.name)
def test_the_common_sheets_lie_on_their_paper_and_have_names_of_their_own(sheet):
    x, y = sheet.place(sheet.places - 1)
    assert x + sheet.width <= sheet.paper[0]
    assert y + sheet.height <= sheet.paper[1]
    assert [sheet_key(one) for one in known_sheets()].count(sheet_key(sheet)) == 1
