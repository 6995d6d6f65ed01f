"""Bar codes and square codes, decoded from the rendered page by a reader library."""

from fractions import Fraction

import numpy as np
import pypdfium2
import pytest
import zxingcpp

from pourwright.core.labelling.codes import BadArticleNumber, article_number
from pourwright.papers.labels.codes import BadAddress, bar_code_item, square_code_item
from pourwright.papers.labels.marks import Drawing
from pourwright.papers.labels.pdf import Page, Placed, labels_pdf


def read_back(item):
    width, height, marks = item
    drawing = Drawing(name="code", title="Code", width=width, height=height, marks=marks)
    page = Page(width=width, height=height, placed=(Placed(drawing=drawing, x=0, y=0),))
    pdf = pypdfium2.PdfDocument(labels_pdf([page], title="Code"))
    picture = pdf[0].render(scale=600 / 72, grayscale=True).to_numpy()
    return zxingcpp.read_barcodes(np.ascontiguousarray(picture)), picture


@pytest.mark.parametrize("digits", ["4006381333931", "036000291452", "5901234123457"])
@pytest.mark.parametrize("module", ["0.264", "0.330"])
def test_a_bar_code_is_read_as_its_number(digits, module):
    number = article_number(digits)
    (found,), _ = read_back(bar_code_item(number, module_mm=Fraction(module)))
    assert found.text.zfill(13) == number.as_ean13


def test_the_quiet_zones_are_kept():
    number = article_number("4006381333931")
    _, picture = read_back(bar_code_item(number))
    columns = (picture[: picture.shape[0] // 2] < 128).any(axis=0).nonzero()[0]
    module = 0.33 / 25.4 * 600
    assert columns[0] >= 11 * module - 1
    assert picture.shape[1] - columns[-1] - 1 >= 7 * module - 1.5


def test_a_square_code_is_read_as_its_address():
    address = "https://example.org/candles/marigold-and-rye?lot=23"
    (found,), picture = read_back(square_code_item(address))
    assert found.text == address
    quiet = round(4 * 0.5 / 25.4 * 600) - 1
    assert (picture[:quiet] > 200).all()
    assert (picture[:, -quiet:] > 200).all()


def test_a_number_for_other_codes_is_refused():
    with pytest.raises(BadArticleNumber, match="12 or 13"):
        bar_code_item(article_number("96385074"))


def test_a_long_address_is_refused():
    with pytest.raises(BadAddress, match="400 letters"):
        square_code_item("x" * 400)
