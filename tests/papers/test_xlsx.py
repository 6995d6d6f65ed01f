"""Workbooks hold what they were given, whatever its size and whatever it looks like."""

import io
from datetime import UTC, date, datetime
from decimal import Decimal

from openpyxl import load_workbook

from pourwright.papers.xlsx import Sheet, write_workbook


def read_back(*sheets, **more):
    file = io.BytesIO()
    rows = write_workbook(sheets, file, **more)
    return rows, load_workbook(file)


def test_numbers_are_numbers_days_are_days_and_text_is_text():
    row = [7, Decimal("2.125"), date(2026, 3, 2), datetime(2026, 3, 2, 7, 5, tzinfo=UTC), True,
           "=1+1", "007", None, "two\nlines"]  # fmt: skip
    _, book = read_back(Sheet(title="all", head=["a"] * 9, rows=[row]))
    values = [cell.value for cell in book.active[2]]
    assert values == [
        7, 2.125, datetime(2026, 3, 2), datetime(2026, 3, 2, 7, 5), "yes",  # noqa: DTZ001
        "=1+1", "007", None, "two\nlines",
    ]  # fmt: skip
    assert book.active["F2"].data_type == "s"
    assert book.active["C2"].number_format == "yyyy-mm-dd"


def test_what_no_workbook_can_hold_is_marked_and_not_lost_with_the_rest():
    _, book = read_back(
        Sheet(title="x", head=["a"], rows=[["bell\x07 half\ud800"], ["y" * 40_000]])
    )
    assert book.active["A2"].value == "bell\ufffd half\ufffd"
    assert len(book.active["A3"].value) == 32_767


def test_a_table_longer_than_a_sheet_goes_on_in_the_next():
    rows, book = read_back(
        Sheet(title="moves", head=["n"], rows=([n] for n in range(7))),
        Sheet(title="lots", head=["n"], rows=([n] for n in range(3))),
        most_rows=4,
    )
    assert rows == 10
    found = {sheet.title: [row[0] for row in sheet.iter_rows(values_only=True)] for sheet in book}
    assert found == {
        "moves": ["n", 0, 1, 2], "moves 2": ["n", 3, 4, 5], "moves 3": ["n", 6],
        "lots": ["n", 0, 1, 2],
    }  # fmt: skip


def test_titles_are_made_to_fit_and_never_clash():
    long = "a very long name of a table, more than fits"
    _, book = read_back(*(Sheet(title=t, head=["a"], rows=[]) for t in (long, long, "a/b", "A:B")))
    assert len(set(map(str.casefold, book.sheetnames))) == 4
    assert all(len(title) <= 31 for title in book.sheetnames)


def test_a_workbook_without_tables_is_still_one():
    assert read_back()[1].sheetnames == ["empty"]
