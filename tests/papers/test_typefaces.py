"""A letter's height comes from its outline; checked on the rendered page."""

import re

import pytest

from pourwright.papers.typefaces import BOLD, REGULAR, SEMIBOLD


def test_open_sans_s_lower_case_o_is_as_tall_as_its_published_ink():
    """0.5547 of the em with its overshoot: measured once on a rendering at 1,200 dpi."""
    assert REGULAR.ink_per_em("o") == pytest.approx(0.5547, abs=0.0005)


@pytest.mark.parametrize("face", [REGULAR, SEMIBOLD, BOLD])
@pytest.mark.parametrize("measured", ["o", "capital", "figure"])
def test_a_size_made_for_a_height_has_it(face, measured):
    size = face.size_pt(measured, height_mm=3.2)
    assert face.height_mm(measured, size_pt=size) == pytest.approx(3.2)


def test_the_drawn_letters_are_that_tall(tmp_path):
    """Read back from the rendered page: the ink of an o, in pixels at 1,200 dpi."""
    import pypdfium2
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    size = REGULAR.size_pt("o", height_mm=3.2)
    pdfmetrics.registerFont(TTFont(REGULAR.name, str(REGULAR.path)))
    canvas = Canvas(str(tmp_path / "o.pdf"), pagesize=(60, 60))
    canvas.setFont(REGULAR.name, size)
    canvas.drawString(20, 20, "o")
    canvas.save()
    page = pypdfium2.PdfDocument(tmp_path / "o.pdf")[0]
    picture = page.render(scale=1200 / 72, grayscale=True).to_numpy()
    rows = (picture < 128).any(axis=1).nonzero()[0]
    drawn_mm = (rows[-1] - rows[0] + 1) / 1200 * 25.4
    assert 3.2 <= drawn_mm <= 3.2 * 1.06


def test_an_outline_stands_on_its_line_as_wide_and_tall_as_measured():
    path = REGULAR.outline("HH", x_mm=10, y_mm=20, size_pt=10)
    points = [tuple(map(float, pair)) for pair in re.findall(r"[ML](-?[\d.]+)[ ,](-?[\d.]+)", path)]
    across, down = zip(*points, strict=True)
    assert 10 <= min(across) < max(across) <= 10 + REGULAR.width_mm("HH", size_pt=10)
    assert max(down) == pytest.approx(20)


def test_letters_that_the_font_lacks_are_named():
    assert REGULAR.lacking("mel 蜡") == "蜡"
    assert REGULAR.has("Żółw ≥ ½ °C")
