"""The trace and the lot on paper: everything that was handed in can be read on the sheet."""

from dataclasses import replace
from datetime import date

import pypdfium2
import pytest

from pourwright.papers.lot_paper import (
    LotPaper,
    PaperCheck,
    PaperDecision,
    PaperSupply,
    lot_paper_pdf,
)
from pourwright.papers.trace_sheet import (
    SentRow,
    StockRow,
    SupplyRow,
    TraceSheet,
    as_data,
    trace_sheet_pdf,
)

ON = date(2026, 3, 2)
SENT = SentRow(
    on=ON, order="S-0007", who="Tilda Wren", contact="tilda@wren.example", address="1 Mill Lane",
    item="Quince in amber", lot="L-0003", qty=5, returned=1,
)  # fmt: skip
SHEET = TraceSheet(
    title="Trace of lot W-0001",
    about="Rapeseed blend",
    workshop="Test workshop",
    on=ON,
    recall="Recall begun 2 Mar 2026: metal flakes",
    facts=[("Supplier", "Millrace Waxworks")],
    counts=[("sold", "5")],
    stock=[StockRow(lot="L-0003", item="Quince in amber", place="cure shelf", qty="19")],
    sent=[SENT],
    supplies=[
        SupplyRow(
            kind="wax", item="Rapeseed blend", lot="W-0001", supplier="Millrace Waxworks",
            contact="orders@millrace.example", supplier_lot="MW-77", receipt="R-0001", on=ON,
            qty="4.8 kg", through="",
        )
    ],
)  # fmt: skip


def words_of(pdf: bytes) -> str:
    """Return the sheet's words as another program reads them, a space wherever it sees one."""
    document = pypdfium2.PdfDocument(pdf)
    pages = [page.get_textpage().get_text_bounded() for page in document]
    return " ".join(" ".join(pages).split())


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_sheet_says_whom_to_tell_what_is_left_and_what_went_in(units):
    words = words_of(trace_sheet_pdf(SHEET, units=units))
    for expected in (
        "Trace of lot W-0001", "metal flakes", "Tilda Wren", "tilda@wren.example", "1 Mill Lane",
        "S-0007", "L-0003", "cure shelf", "19", "MW-77", "4.8 kg", "orders@millrace.example",
    ):  # fmt: skip
        assert expected in words


def test_the_sheet_adds_up_what_was_sent_and_came_back():
    sheet = replace(SHEET, sent=[SENT, replace(SENT, qty=1_200, returned=0)])
    data = as_data(sheet)
    assert (data["sent_total"], data["back_total"]) == ("1,205", "1")


def test_a_long_recall_list_runs_over_pages_whole():
    many = [replace(SENT, order=f"S-{number:04d}") for number in range(300)]
    words = words_of(trace_sheet_pdf(replace(SHEET, sent=many), units="metric"))
    assert all(f"S-{number:04d}" in words for number in range(300))


def test_what_was_typed_is_never_read_as_markup():
    odd = replace(SENT, who="#set page(width: 1mm) *Bold* $x$ [Ltd]")
    words = words_of(trace_sheet_pdf(replace(SHEET, sent=[odd]), units="metric"))
    joined = " ".join(words.split())
    for part in ("#set page(width:", "*Bold*", "$x$", "[Ltd]"):
        assert part in joined


def test_the_lots_paper_prints_the_reasons_of_what_was_passed_by_hand():
    paper = LotPaper(
        code="L-0003", candle="Quince in amber", workshop="Test workshop", maker="A. Maker",
        on=ON, origin="poured", began_on=ON, ready_on=date(2026, 3, 16), best_before=None,
        pour="B-0004", parent="", design="Quince in amber v1", formula="Quince v2", fill="220 g",
        note="", drawing="", drawing_alt="", places=[("cure shelf", 19)], released="released",
        checks=[
            PaperCheck(title="Cured", state="met", detail="Cured since 16 Mar 2026."),
            PaperCheck(
                title="Net contents checked", state="waived", detail="No check on record.",
                reason="each was weighed at the pour",
            ),
        ],
        decisions=[PaperDecision(on=ON, what="released", by="A. Maker", reason="")],
        finishing=[("wicks trimmed", True), ("lids or boxes on", False)],
        finished="",
        supplies=[
            PaperSupply(
                kind="wax", item="Rapeseed blend", lot="W-0001", supplier="Millrace Waxworks",
                supplier_lot="MW-77", receipt="R-0001", through="W-0009",
            )
        ],
        cost=[("wax", "$1.20")],
        cost_each="$1.20",
    )  # fmt: skip
    words = words_of(lot_paper_pdf(paper, units="metric"))
    for expected in (
        "L-0003", "passed by hand", "each was weighed at the pour", "MW-77",
        "by way of W-0009", "$1.20", "lids or boxes on",
    ):  # fmt: skip
        assert expected in words
