"""Panels drawn and printed: marks stand where the figures say, blind sheets stay blind."""

import re
from datetime import date
from io import BytesIO
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from pourwright.papers.panel_charts import (
    Placed,
    Series,
    rank_sums_svg,
    right_answers_svg,
    throw_by_cure_svg,
)
from pourwright.papers.panel_sheets import PanelPaper, Serving, blind_sheets_pdf, key_pdf

CANDLES = [
    Placed(name=f"A candle with a rather long name, number {n}", rank_sum=total)
    for n, total in enumerate((14, 30, 45, 31))
]
SVG = "{http://www.w3.org/2000/svg}"


def parts(drawn, tag):
    return list(ElementTree.fromstring(str(drawn)).iter(f"{SVG}{tag}"))


@pytest.mark.parametrize("width", [330, 620])
def test_rank_sums_stand_in_order_and_to_scale(width):
    drawn = rank_sums_svg(CANDLES, assessors=12, lsd=12.4, title="t", desc="d", width=width)
    xs = [float(mark.get("cx")) for mark in parts(drawn, "circle")]
    totals = sorted(candle.rank_sum for candle in CANDLES)
    assert len(xs) == 4
    steps = [
        (b - a) / (d - c) for (a, b), (c, d) in zip(pairwise(xs), pairwise(totals), strict=True)
    ]
    # Coordinates are written to two decimals.
    assert max(steps) == pytest.approx(min(steps), abs=0.02)
    ruler = parts(drawn, "line")[0]
    long = float(ruler.get("x2")) - float(ruler.get("x1"))
    assert long == pytest.approx(12.4 * steps[0], abs=0.3)
    assert all(0 <= x <= width for x in xs)


def test_right_answers_say_what_was_needed():
    drawn = right_answers_svg(correct=9, assessors=18, needed=10, title="t", desc="d")
    words = [text.text for text in parts(drawn, "text")]
    assert words == ["10 needed", "9 right of 18", "by guessing about 6"]
    whole, right = parts(drawn, "rect")
    assert float(right.get("width")) == pytest.approx(float(whole.get("width")) / 2, abs=0.01)


def test_throw_rises_with_its_share():
    drawn = throw_by_cure_svg(
        [Series(label=f"N-{n}", points=((4, 0.0), (13, 0.5), (27, 1.0))) for n in range(5)],
        title="t", desc="d", width=330,
    )  # fmt: skip
    marks = parts(drawn, "circle")[:3]
    ys = [float(mark.get("cy")) for mark in marks]
    assert ys[0] > ys[1] > ys[2]
    assert ys[1] == pytest.approx((ys[0] + ys[2]) / 2, abs=0.01)
    assert len(parts(drawn, "path")) == 10


def paper(**more):
    told = {
        "number": "N-0007", "on": date(2026, 5, 9), "workshop": "A test workshop",
        "ranking": True, "question": "Which throws most, <b>hot</b> #strong[x]?",
        "ask": "Give each a place.", "how": "burning",
        "servings": [Serving(assessor=n, codes=["412", "873", "195"]) for n in range(1, 4)],
        "key": [("412", "Quince"), ("873", "Bay"), ("195", "Fig")],
    } | more  # fmt: skip
    return PanelPaper(**told)


def text_of(pdf):
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_blind_sheets_hold_codes_alone(units):
    pdf = blind_sheets_pdf(paper(), units=units)
    words = re.sub(r"\s+", " ", text_of(pdf))
    assert len(PdfReader(BytesIO(pdf)).pages) == 2
    assert "<b>hot</b> #strong[x]?" in words
    assert words.count("412") == 3
    assert not {"Quince", "Bay", "Fig"} & set(words.split())
    assert pdf == blind_sheets_pdf(paper(), units=units)


def test_the_key_tells_all_and_its_cautions():
    words = text_of(key_pdf(paper(before=["Ask first."], hot=["Stay."], stop="Out!"), units="us"))
    for said in ("Quince", "not for those who smell", "Ask first.", "Stay.", "Out!"):
        assert said in words
