"""Every fault in a file is found in one run, each with its line and column."""

import pytest

from pourwright.intake import kinds
from pourwright.intake.columns import Context
from pourwright.intake.kinds import KINDS, kind_named
from pourwright.intake.reading import read_rows
from pourwright.intake.tables import read_text
from pourwright.intake.writing import template

USD = Context(currency="USD")


def read(kind, text):
    return read_rows(kind, read_text(text), USD)


def faults(reading):
    return [(finding.line, finding.column) for finding in reading.findings]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_the_template_as_it_comes_brings_nothing_in(kind):
    reading = read(kind, template(kind, USD))
    assert reading.records == ()
    assert "example" in reading.notes[0]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_the_example_of_the_template_with_one_word_changed_is_a_faultless_line(kind):
    rows = read_text(template(kind, USD))
    place = next(i for i, column in enumerate(kind.columns) if column.name in ("name", "note"))
    cells = [*rows[1].cells, *[""] * (len(kind.columns) - len(rows[1].cells))]
    cells[place] = "another"
    reading = read_rows(kind, [rows[0], type(rows[1])(2, tuple(cells))], USD)
    assert reading.findings == ()
    assert reading.records[0].get(kind.columns[place].name) == "another"


def test_heads_are_known_whatever_their_capitals_order_and_spacing():
    reading = read(
        kinds.WICKS, "Lead_free statement; LENGTH (mm) ;Name\nyes, by letter;90;Flat no. 4"
    )
    assert reading.findings == ()
    assert reading.records[0].values["length"] == 90
    assert reading.records[0].values["name"] == "Flat no. 4"


def test_what_is_wrong_with_the_head_is_said_before_anything_else():
    reading = read(kinds.WICKS, "nmae,size,size,,wattage\nx,1,2,3,4")
    said = [finding.message for finding in reading.findings]
    assert any("did you mean “name”" in message for message in said)
    assert any("stands twice" in message for message in said)
    assert any("has no name" in message for message in said)
    assert any("“wattage” is no column of wicks; take it out" in message for message in said)
    assert any("There is no column “name”" in message for message in said)
    assert {finding.line for finding in reading.findings} == {1}


def test_a_unit_in_the_head_that_is_not_the_columns_is_never_guessed():
    reading = read(
        kinds.RECEIPTS, "parcel,received on,item,amount (oz),price (EUR)\nA,2026-01-02,x,1,1"
    )
    said = " ".join(finding.message for finding in reading.findings)
    assert "amount is read in g or pieces" in said
    assert "keeps its money in USD" in said
    assert "There is no column" not in said


def test_a_file_of_another_kind_is_recognised():
    reading = read(kinds.VESSELS, "parcel,received on,item,amount,price\nA,2026-01-02,x,1,1")
    assert len(reading.findings) >= 1
    reading = read(kinds.ORDERS, "shape,material,depth\nround,glass,7")
    assert "no head of orders" in reading.findings[0].message


def test_every_fault_of_every_line_is_listed():
    reading = read(
        kinds.VESSELS,
        "name,shape,material,depth,wall,leak tested on\n"
        "Tumbler,round,glass,7 spans,3,03/04/2026\n"
        ",straight,glass,80,,\n"
        "Tin,straight,metal,60,1.2,2026-02-01\n"
        "Bowl,straight,clay,4000,,,,stray\n",
    )
    assert faults(reading) == [
        (2, "shape"), (2, "depth"), (2, "leak tested on"), (3, "name"),
        (5, "material"), (5, "depth"), (5, ""),
    ]  # fmt: skip
    assert "write straight, tapered or measured by water" in reading.findings[0].message


def test_lines_of_one_parcel_come_together_and_must_agree():
    reading = read(
        kinds.RECEIPTS,
        "parcel,received on,supplier,item,amount,price\n"
        "A,2026-01-02,Brindle,wax,1 kg,5\n"
        "B,2026-01-03,,wax,1 kg,5\n"
        "A,,Coil,oil,1 kg,5\n",
    )
    assert faults(reading)[-1] == (4, "supplier")
    assert "differs from line 2" in reading.findings[-1].message
    assert [len(group.lines) for group in reading.groups] == [2, 1]


def test_a_head_alone_is_told():
    assert "no line below" in read(kinds.WICKS, "name,size\n").findings[0].message


def test_a_kind_goes_by_its_name_with_hyphens_too():
    assert kind_named("Opening-Stock") is kinds.OPENING
    with pytest.raises(kinds.UnknownKind, match="opening-stock"):
        kind_named("potions")
