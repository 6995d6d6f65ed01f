"""Files as spreadsheets and people write them are read; too much, or nonsense, is refused."""

import io
import zipfile
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from pourwright.intake import tables
from pourwright.intake.tables import Row, UnreadableFile, as_text, read_file, read_text

HEAD = "name,notes"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_accents_survive_whatever_program_wrote_the_file(encoding):
    assert read_file("name;notes\r\nCrème brûlée;½ €\r\n".encode(encoding)) == [
        Row(1, ("name", "notes")),
        Row(2, ("Crème brûlée", "½ €")),
    ]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_the_delimiter_is_found(delimiter):
    rows = read_text(delimiter.join(["name", '"a, b; c"', "x"]) + "\n1" + delimiter + "2")
    assert rows == [Row(1, ("name", "a, b; c", "x")), Row(2, ("1", "2"))]


def test_a_line_that_names_the_delimiter_is_obeyed_and_counted():
    assert read_text("sep=;\nname;x\na,b;c") == [Row(2, ("name", "x")), Row(3, ("a,b", "c"))]


def test_rows_keep_the_line_where_they_begin():
    text = 'name,notes\n\n"two\nlines",x\n ,\nlast,y\n'
    assert [row.line for row in read_text(text)] == [1, 3, 6]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "nothing in it"),
        (b" \n ,, \n", "nothing in it"),
        (b"name\x00\x00\x00", "not text"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old .xls"),
        (b"PK\x03\x04 and no more", "damaged or locked"),
        (b'name\n"never closed', "Line 2 .*quotation mark"),
        (b'name\nfine\n"x" y,\n', "Line 3 .*quotation mark"),
        (b"name\n" + b"," * 60 + b"x", "61 cells"),
        (b"name\n" + b"x" * 4001, "4000 characters"),
        (b"name\n" + b"x\n" * 2001, "more than 2000 rows"),
        (b"x" * (2 * 1024 * 1024 + 1), "at most 2 MB"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(data, says):
    with pytest.raises(UnreadableFile, match=says):
        read_file(data)


@given(st.binary(max_size=300))
def test_no_bytes_raise_anything_but_a_refusal(data):
    for begun in (data, b"PK\x03\x04" + data):
        try:
            rows = read_file(begun)
        except UnreadableFile:
            continue
        assert all(any(row.cells) for row in rows)


def book_of(*rows) -> bytes:
    book, file = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(file)
    return file.getvalue()


def test_a_workbook_is_read_as_a_person_would_have_typed_it():
    data = book_of(
        ["name", "on", "load", "kept", "lot"],
        ["Plum", date(2026, 3, 2), 0.1 + 0.2, True, "007"],
        [],
        ["Fig", datetime(2026, 3, 3), 2500.0, False, 1e-7],  # noqa: DTZ001
    )
    assert read_file(data) == [
        Row(1, ("name", "on", "load", "kept", "lot")),
        Row(2, ("Plum", "2026-03-02", "0.3", "yes", "007")),
        Row(4, ("Fig", "2026-03-03", "2500", "no", "0.0000001")),
    ]


def test_a_formula_in_a_workbook_is_never_computed_here():
    assert read_file(book_of(["name", "=1+1"], ["x", "=2+2"])) == [
        Row(1, ("name",)),
        Row(2, ("x",)),
    ]


def test_a_workbook_too_long_or_too_large_inside_is_refused():
    with pytest.raises(UnreadableFile, match="more than 2000 rows"):
        read_file(book_of(*(["x"] for _ in range(tables.MOST_ROWS + 2))))
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", b" " * (tables.MOST_UNPACKED_BYTES + 1))
    with pytest.raises(UnreadableFile, match="too large inside"):
        read_file(file.getvalue())


def test_a_workbook_with_entities_of_its_own_is_refused():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(
            "xl/workbook.xml", '<!DOCTYPE x [<!ENTITY a "aaaa">]><workbook>&a;</workbook>'
        )
    with pytest.raises(UnreadableFile, match="not a plain one"):
        read_file(file.getvalue())


def test_another_kind_of_archive_is_no_workbook():
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("content.xml", "<office/>")
    with pytest.raises(UnreadableFile, match=r"not an \.xlsx workbook"):
        read_file(file.getvalue())


cells = st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=8).map(str.strip)


@given(st.lists(st.lists(cells, min_size=2, max_size=4).filter(any), min_size=1, max_size=5))
def test_rows_shown_as_text_are_read_back_the_same(found):
    rows = [
        Row(line * 2, tuple(row))
        for line, row in enumerate([["a", "b", "c", "d"], *found], start=1)
    ]
    trimmed = [Row(row.line, _trim(row.cells)) for row in rows]
    assert read_text(as_text(rows)) == trimmed


def _trim(row):
    while row and not row[-1]:
        row = row[:-1]
    return row
