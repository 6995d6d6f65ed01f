"""Fold-outs: what the front repeats, that the whole text stands inside, and what does not fit."""

from io import BytesIO

import pypdf
import pytest

from label_examples import elements, facts
from pourwright.core.labelling.needs import needs_of
from pourwright.papers.labels.faces import fold_out
from pourwright.papers.labels.flow import DoesNotFit
from pourwright.papers.labels.pdf import labels_pdf, single_page
from pourwright.papers.labels.proof import faults, said
from pourwright.papers.labels.style import Style

POINTER = "Open for the full text"


def folded(known=None, **more):
    needs = needs_of(known or facts())
    size = {"width": 85.0, "height": 76.0, **more}
    return needs, fold_out(needs, style=Style(), pointer=POINTER, **size)


def test_a_fold_out_says_everything():
    needs, drawings = folded()
    assert len(drawings) >= 2
    assert faults(needs, drawings) == []


def test_the_front_carries_what_the_rule_wants_there():
    """Regulation (EU) 2024/2865, Annex I, 1.2.1.5 and 1.2.1.6 (contents from memory, medium):
    supplier, product identifiers, quantity, pictograms, signal word, UFI and a pointer."""
    _, (front, *_) = folded()
    words = said(front)
    for wanted in ("Lanternwick Works", "Plum & Barley", "8 oz (226 g)", "Warning",
                   "KMTT-DSP3-7FD7-6RWY", POINTER):  # fmt: skip
        assert wanted in words
    assert "GHS07" in {mark.role for mark in front.marks}


def test_the_inside_carries_the_statements_in_one_place():
    _, (_, *pages) = folded()
    text = elements().hazard_statements[0].text
    assert sum(text in said(page) for page in pages) == 1


def test_every_page_is_as_large_as_the_front_and_embeds_its_fonts():
    _, drawings = folded()
    read = pypdf.PdfReader(BytesIO(labels_pdf([single_page(d) for d in drawings], title="Fold")))
    assert len({tuple(page.mediabox) for page in read.pages}) == 1
    for page in read.pages:
        fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
        assert all("/FontFile2" in font["/FontDescriptor"] for font in fonts)


def test_a_fold_out_that_is_too_small_is_refused_with_what_it_lacks():
    with pytest.raises(DoesNotFit, match="lacks"):
        folded(width=40.0, height=30.0)
