"""The document of a candle for its hazard class: both shapes, and every fault with its place."""

from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.hazard.model import HazardClass, Kind, Route
from pourwright.intake.hazard_file import MOST_BYTES, BadHazardFile, read_candle

FLAT = """
package_ml = 210
[[ingredient]]
name = "linalool"
cas = "78-70-6"
percent_of_whole = 0.35

[[ingredient]]
name = "quince lactone"
percent_of_whole = "2 - <4 %"
classes = ["Skin Sens 1A", "Chronic 2"]
m_acute = 10
m_chronic = 1
ate = { oral = 1150 }
specific_limits = { "Skin Sens 1A" = 0.02 }
non_additive = true
unknown = ["dermal", "aquatic"]
"""
SHARES = """
name = "Quince and bay"
load = 7
basis = "wax"
[[oil]]
name = "Quince"
share = 3
flash_point_c = 81.5
density_g_ml = 0.95
sheet_date = 2025-11-02
revision = "3"
unknown_acute_pct = { oral = 2 }
[[oil.ingredient]]
cas = "78-70-6"
percent_of_oil = "5 - <10"
[[oil]]
name = "Bay"
share = 1
[[oil.ingredient]]
cas = "5989-27-5"
percent_of_oil = 40
[[oil.ingredient]]
cas = "78-70-6"
percent_of_oil = 1
"""
MASSES = """
wax_g = 930
[[oil]]
name = "Quince"
mass_g = 52.5
[[oil.ingredient]]
cas = "78-70-6"
percent_of_oil = 8
[[extra]]
name = "dye"
mass_g = 17.5
[[extra.ingredient]]
name = "a pigment"
classes = []
percent_of_extra = 20
"""


def faults(text):
    with pytest.raises(BadHazardFile) as refused:
        read_candle(text)
    return [str(fault) for fault in refused.value.faults]


def test_a_flat_list_is_the_whole_candle():
    found = read_candle(FLAT)
    assert found.package_ml == 210
    assert found.doses is None
    assert [p.pct_of_whole for p in found.mixture.present] == [Fraction("0.35"), 4]
    assert found.mixture.undisclosed_pct == 0
    assert [p.open_above for p in found.mixture.present] == [False, True]


def test_what_is_said_of_a_substance_arrives():
    substance = read_candle(FLAT).mixture.present[1].substance
    assert {entry.hazard for entry in substance.entries} == {
        HazardClass(Kind.SKIN_SENS, "1A"),
        HazardClass(Kind.AQ_CHRONIC, "2"),
    }
    assert (substance.m_acute, substance.m_chronic) == (10, 1)
    assert substance.ate == {Route.ORAL: 1150}
    assert substance.specific_limits == {HazardClass(Kind.SKIN_SENS, "1A"): Fraction(1, 50)}
    assert substance.non_additive
    assert substance.unknown_acute == {Route.DERMAL}
    assert substance.unknown_aquatic


def test_decimals_are_read_exactly():
    text = '[[ingredient]]\ncas = "78-70-6"\npercent_of_whole = 0.1\n'
    assert read_candle(text).mixture.present[0].pct_of_whole == Fraction(1, 10)


def test_a_formula_by_shares_is_weighed_out_on_its_basis():
    found = read_candle(SHARES)
    assert found.doses.load_pct_of_wax == 7
    assert [dose.pct_of_wax for dose in found.doses.oils] == [Fraction(21, 4), Fraction(7, 4)]
    linalool = found.mixture.present[0]
    assert linalool.pct_of_whole == (Fraction(21, 4) * 10 + Fraction(7, 4)) / 107
    quince = found.doses.oils[0].composition
    assert (quince.flash_point_c, quince.density_g_ml) == (Fraction("81.5"), Fraction("0.95"))
    assert (quince.sheet_date, quince.revision) == (date(2025, 11, 2), "3")
    assert quince.unknown_acute_pct == {Route.ORAL: 2}


def test_the_same_load_on_the_whole_is_another_candle():
    found = read_candle(SHARES.replace('"wax"', '"whole"'))
    assert sum(p.pct_of_whole for p in found.doses.portions[1:]) == 7


def test_a_formula_by_masses_counts_everything_into_the_whole():
    found = read_candle(MASSES)
    assert [portion.pct_of_whole for portion in found.doses.portions] == [
        93, Fraction("5.25"), Fraction("1.75"),
    ]  # fmt: skip
    assert found.mixture.present[0].pct_of_whole == Fraction("0.42")
    assert found.notes == ()


def test_an_extra_in_percent_of_the_wax_counts_beside_shares():
    text = SHARES.replace('"wax"', '"whole"') + "[[extra]]\npercent_of_wax = 2\n"
    portions = read_candle(text).doses.portions
    assert sum(p.pct_of_whole for p in portions) == 100
    assert sum(p.pct_of_whole for p in portions[1:3]) == 7


def test_a_name_alone_is_taken_for_the_substance_that_has_it_and_told():
    found = read_candle('[[ingredient]]\nname = "Linalool"\npercent_of_whole = 1\n')
    assert found.mixture.present[0].substance.cas == "78-70-6"
    assert "taken for CAS 78-70-6" in found.notes[0]


def test_an_oil_with_nothing_listed_is_told():
    assert "Nothing is listed in Fig" in read_candle(
        'wax_g = 100\n[[oil]]\nname = "Fig"\nmass_g = 5\n'
    ).notes[0]  # fmt: skip


def test_every_fault_is_named_with_its_place():
    text = """
    package_ml = "much"
    colour = "red"
    [[ingredient]]
    cas = "78-70-5"
    percent_of_whole = 1
    [[ingredient]]
    name = "x"
    percent_of_whole = 101
    clases = ["H317"]
    [[ingredient]]
    name = "y"
    classes = ["Skin Trouble 9"]
    ate = { nasal = 4 }
    """
    said = faults(text)
    assert len(said) == 8
    for place, message in [
        ("package_ml", '"much" is no number'),
        ('"colour" is no key of it', "known here: "),
        ("ingredient 1 (78-70-5), cas", "check digit would be 6"),
        ("ingredient 2 (x), percent_of_whole", "101 % does not fit"),
        ("ingredient 2 (x)", '"clases" is no key of it; did you mean "classes"?'),
        ("ingredient 3 (y), classes", '"Skin Trouble 9" names no hazard class'),
        ("ingredient 3 (y), ate", '"nasal" is no route'),
        ("ingredient 3 (y), percent_of_whole", "it is not there"),
    ]:
        assert any(line.startswith(place) and message in line for line in said), place


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Nothing is in the candle"),
        ("ingredient = 3", r"ingredient: it is written with a head of its own"),
        ("[[ingredient]]\npercent_of_whole = 1", "needs a name or a CAS number"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = "some"', '"some" is no percentage'),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = true', "True is no share"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = nan', "not one that a candle has"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = 1e999999999', "not one that a candle has"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = 1\nm_acute = 0', "at least 1"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = 1\nnon_additive = 1', "true nor false"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = 1\nunknown = ["air"]', "is no route"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = 1\nate = { oral = 0 }', "more than 0"),
        ('[[ingredient]]\nname = "x"\npercent_of_whole = 1\nclasses = "H317"', "list of texts"),
        ("name = 'x'\nname = 'y'", "not TOML: cannot overwrite"),
        ("package_ml = " + "9" * 5000, "not TOML"),
        ("x = " + "[" * 5000, "nested too deep"),
        ("#" * (MOST_BYTES + 1), "over 512 kB"),
        ("wax_g = 100", "oil: there is no oil"),
        ("wax_g = 100\n[[oil]]\nshare = 1", "load: shares need the load"),
        ("load = 5\n[[oil]]\nshare = 1", 'add basis = "wax" or basis = "whole"'),
        ("load = 5\nbasis = 'oil'\n[[oil]]\nshare = 1", '"oil" is no basis'),
        ("load = 60\nbasis = 'whole'\n[[oil]]\nshare = 1", "between 0 and 50 %"),
        ("load = 5\nbasis = 'wax'\n[[oil]]\nshare = 0", "come to nothing"),
        ("load = 5\nbasis = 'wax'\n[[oil]]\nshare = 1\nmass_g = 3", "not both"),
        ("[[oil]]\nmass_g = 5", "wax_g: an oil's mass_g needs the wax"),
        ("wax_g = 9\nbasis = 'wax'\n[[oil]]\nmass_g = 5", "basis goes with load"),
        ("wax_g = 9\n[[oil]]\nmass_g = 5\nshere = 1", '"shere" is no key of it'),
        ("wax_g = 9\n[[oil]]\n", "oil 1, mass_g: it is not there"),
        ("wax_g = 9\n[[ingredient]]\n[[oil]]\nmass_g = 1", "stands under its oil"),
        ("wax_g = 9\n[[oil]]\nmass_g = 1\n[[extra]]\n", "extra 1: give what it comes to"),
        ("wax_g = 9\n[[oil]]\nmass_g = 1\nsheet_date = 'May'", '"May" is no day'),
        (
            '[[ingredient]]\nname = "x"\npercent_of_whole = 60\n'
            '[[ingredient]]\nname = "y"\npercent_of_whole = "50 - 60"\n',
            "come to at least 110 %",
        ),
        (
            'wax_g = 9\n[[oil]]\nname = "Fig"\nmass_g = 1\n'
            '[[oil.ingredient]]\nname = "x"\npercent_of_whole = 3',
            r"oil 1 \(Fig\), ingredient 1 \(x\), percent_of_oil: it is not there",
        ),
    ],
)
def test_what_cannot_be_read_says_what_would_be_right(text, said):
    with pytest.raises(BadHazardFile, match=said):
        read_candle(text)


def test_upper_ends_may_come_to_more_than_the_whole():
    """Every upper end counts, though not all can be reached at once."""
    text = '[[ingredient]]\nname = "x"\nclasses = []\npercent_of_whole = "10 - 70"\n'
    assert len(read_candle(text + text.replace('"x"', '"y"')).mixture.present) == 2


def test_a_file_is_read_by_its_path(tmp_path):
    file = tmp_path / "candle.toml"
    file.write_bytes(b"\xef\xbb\xbf" + FLAT.replace("\n", "\r\n").encode())
    assert read_candle(file).package_ml == 210


@pytest.mark.parametrize(
    ("data", "said"),
    [(b"\xff\xfe\x00", "not text in UTF-8"), (b"#" * (MOST_BYTES + 1), "over 512 kB")],
)
def test_a_file_that_is_no_document_is_told(tmp_path, data, said):
    file = tmp_path / "candle.toml"
    file.write_bytes(data)
    with pytest.raises(BadHazardFile, match=said):
        read_candle(file)


def test_a_file_that_is_not_there_is_told():
    with pytest.raises(BadHazardFile, match="No such file"):
        read_candle(Path("nowhere.toml"))


def test_many_faults_stay_one_line_and_are_all_there():
    text = "".join(f"[[ingredient]]\nname = 'a{n}'\n" for n in range(150))
    with pytest.raises(BadHazardFile) as refused:
        read_candle(text)
    assert len(refused.value.faults) == 100
    assert "\n" not in str(refused.value)
    assert "(and 97 more)" in str(refused.value)


LINES = st.sampled_from(
    [*FLAT.splitlines(), *SHARES.splitlines(), *MASSES.splitlines(), "[oil]", "x = [[1]]", "cas=1"]
)


@given(st.lists(LINES, max_size=30))
@settings(max_examples=150)
def test_any_heap_of_lines_is_read_or_refused_with_reasons(lines):
    try:
        outcome = read_candle("\n".join(lines))
    except BadHazardFile as problem:
        outcome = problem.faults
    assert outcome
