"""An order says what is wanted, to whom, and what the supplier calls it, on paper and as text."""

import io

from pypdf import PdfReader

from pourwright.papers.order_list import Ordered, OrderList, order_pdf, order_text

ORDER = OrderList(
    workshop="Fenwick Row", supplier="Millrace Waxworks", address="1 Mill Lane",
    day="3 March 2026", number="", goods="$61.50", freight="$9.00", total="$70.50",
    lines=[
        Ordered(packs=3, pack="5 kg", item="Rapeseed #wax", reference="MW-77", price="$20.50",
                total="$61.50"),
    ],
)  # fmt: skip


def test_the_text_names_packs_things_and_the_suppliers_own_numbers():
    text = order_text(ORDER)
    assert text.splitlines()[0] == "Order of 3 March 2026, from Fenwick Row"
    assert "3 × 5 kg Rapeseed #wax (your number MW-77)" in text
    assert "$" not in text, "a supplier knows their prices"


def test_the_paper_holds_it_all_and_reads_nothing_typed_as_markup():
    page = PdfReader(io.BytesIO(order_pdf(ORDER, paper="a4"))).pages[0].extract_text()
    for words in ("Order of 3 March 2026", "Millrace Waxworks", "1 Mill Lane", "MW-77", "$70.50"):
        assert words in page
    assert "Rapeseed #wax" in page
