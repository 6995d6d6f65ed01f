"""The hazard commands: the same answers as the core, and clear refusals of what cannot be read."""

import io
import json
import shlex
import xml.etree.ElementTree as ET
from contextlib import redirect_stderr, redirect_stdout
from fractions import Fraction
from pathlib import Path

import pytest

from pourwright.cli import hazard
from pourwright.cli.main import Parser
from pourwright.core.errors import BadInput
from pourwright.core.hazard.identifier import make
from pourwright.intake.hazard_file import read_candle

DOCUMENTED = Path(__file__).resolve().parents[2] / "docs" / "candle-file.md"
KEYS = {
    "classes", "pictograms", "signal_word", "hazard_statements", "supplemental_statements",
    "precautionary_statements", "named_substances", "identifier_needed", "refused", "warnings",
    "trace",
}  # fmt: skip
ON = "--on 2026-11-24"
SENSITISING = """
package_ml = 200
[[ingredient]]
cas = "78-70-6"
percent_of_whole = 0.45
[[ingredient]]
cas = "97-54-1"
percent_of_whole = 0.02
"""
BLEND = """
wax_g = 1000
[[oil]]
name = "Quince"
mass_g = 40
[[oil.ingredient]]
cas = "78-70-6"
percent_of_oil = 30
[[oil]]
name = "Bay"
mass_g = 20
[[oil.ingredient]]
cas = "120-51-4"
percent_of_oil = 5
"""


def command(line):
    """Run one command line as main does, with this part alone."""
    parser = Parser(prog="pourwright")
    hazard.register(parser.add_subparsers(dest="part", required=True))
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            arguments = parser.parse_args(shlex.split(line))
            status = arguments.run(arguments)
        except BadInput as problem:
            status = 2
            err.write(f"pourwright: {problem}\n")
        except SystemExit as end:
            status = end.code
    return status, out.getvalue(), err.getvalue()


def answer(line):
    status, out, err = command(f"{line} --json")
    assert (status, err) == (0, "")
    return json.loads(out)


@pytest.fixture
def candle(tmp_path):
    """Return a function that writes a document and returns its path, quoted for a shell."""

    def write(text):
        file = tmp_path / "candle.toml"
        file.write_text(text, encoding="utf-8")
        return shlex.quote(str(file))

    return write


# --- identifiers ---------------------------------------------------------------------------------


def test_an_identifier_is_made_and_read_back():
    made = answer("hazard identifier make --country DE --vat 224466880 --formulation 31")
    assert made["identifier"] == make(country="DE", vat="224466880", formulation=31)
    read = answer(f"hazard identifier check {made['identifier'].lower().replace('-', '')}")
    assert read == {**made, "valid": True}
    assert (read["country"], read["vat"], read["formulation"]) == ("DE", "224466880", 31)


def test_an_identifier_is_made_from_a_company_key():
    made = answer("hazard identifier make --company-key 4812 --formulation 3")
    assert (made["company_key"], made["country"]) == (4812, "")
    status, out, _ = command(f"hazard identifier check {made['identifier']}")
    assert (status, "company key  4812" in out) == (0, True)


def test_people_read_the_code_as_it_is_printed():
    status, out, _ = command("hazard identifier make --country DE --vat 224466880 --formulation 31")
    assert (status, out) == (0, f"UFI: {make(country='DE', vat='224466880', formulation=31)}\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("make --country DE --vat 12 --formulation 1", '"12" has not the shape'),
        ("make --country DE --vat 224466880 --formulation x1", '--formulation "x1" is not a whole'),
        ("make --country DE --vat 224466880 --formulation 999999999", "268435455"),
        ("make --country DE --vat 224466880 --company-key 1 --formulation 1", "not both"),
        ("make --company-key 1.5 --formulation 1", '--company-key "1.5" is not a whole number'),
        ("make --formulation 1", "needs a country and its VAT number"),
        ("make --country DE --vat 224466880", "--formulation"),
        ("check SGV2-S071-Q003-35R0", "check digit does not fit"),
        ("check 12", "16 letters and digits"),
    ],
)
def test_what_is_no_identifier_is_refused(words, said):
    status, out, err = command(f"hazard identifier {words}")
    assert (status, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


# --- classify ------------------------------------------------------------------------------------


@pytest.mark.parametrize("market", ["eu", "gb", "un", "us"])
def test_programs_get_the_same_keys_in_every_market(candle, market):
    found = answer(f"hazard classify {candle(SENSITISING)} --market {market} {ON}")
    assert set(found) >= KEYS


def test_a_sensitising_candle_gets_its_label(candle):
    found = answer(f"hazard classify {candle(SENSITISING)} {ON}")
    assert found["signal_word"] == "Warning"
    assert found["pictograms"] == ["GHS07"]
    assert [one["code"] for one in found["hazard_statements"]] == ["H317"]
    assert found["identifier_needed"] is True
    assert found["refused"] == []
    assert "isoeugenol" in found["named_substances"]


def test_a_candle_without_a_class_has_no_signal_word(candle):
    text = '[[ingredient]]\ncas = "78-70-6"\npercent_of_whole = 0.05\n'
    found = answer(f"hazard classify {candle(text)} {ON}")
    assert (found["classes"], found["signal_word"], found["pictograms"]) == ([], None, [])


def test_people_read_the_label_and_why(candle):
    status, out, err = command(f"hazard classify {candle(SENSITISING)} {ON}")
    assert (status, err) == (0, "")
    for said in ("Warning", "H317", "GHS07", "isoeugenol", "competent adviser", "24 November 2026"):
        assert said in out


def test_a_candle_that_may_not_be_sold_says_so_first(candle):
    text = '[[ingredient]]\ncas = "80-54-6"\npercent_of_whole = 0.4\n'
    status, out, _ = command(f"hazard classify {candle(text)} --market eu {ON}")
    assert status == 0
    assert "not for sale" in out.casefold().split("\n\n")[1]
    assert answer(f"hazard classify {candle(text)} --market eu {ON}")["refused"]


def test_without_a_day_it_is_today(candle):
    assert command(f"hazard classify {candle(SENSITISING)}")[0] == 0


def test_notes_on_the_document_are_among_the_warnings(candle):
    text = '[[ingredient]]\nname = "linalool"\npercent_of_whole = 0.45\n'
    found = answer(f"hazard classify {candle(text)} {ON}")
    assert any("taken for CAS 78-70-6" in warning for warning in found["warnings"])


# --- headroom ------------------------------------------------------------------------------------


def test_a_formula_has_its_headroom_along_the_load_and_each_oil(candle):
    found = answer(f"hazard headroom {candle(BLEND)} {ON}")
    assert found["load"]["walk"] == "load"
    assert [walk["name"] for walk in found["oils"]] == ["Quince", "Bay"]
    assert found["load"]["breakpoints"]
    assert found["nearest"]


def test_a_breakpoint_of_the_headroom_is_where_the_label_changes(candle, tmp_path):
    """The load of the first H317, put into the document, has H317; a little less has not."""
    text = BLEND.replace("wax_g = 1000", 'load = LOAD\nbasis = "wax"')
    text = text.replace("mass_g = 40", "share = 2").replace("mass_g = 20", "share = 1")
    found = answer(f"hazard headroom {candle(text.replace('LOAD', '6'))} {ON}")
    band = next(band for band in found["load"]["bands"] if band["code"] == "H317")
    at = Fraction(band["spans"][0]["from"]["exact"])
    for load, there in ((at + Fraction(1, 10**8), True), (at - Fraction(1, 10**8), False)):
        said = answer(f"hazard classify {candle(text.replace('LOAD', f'{float(load):.9f}'))} {ON}")
        assert ("H317" in [one["code"] for one in said["hazard_statements"]]) is there


def test_people_read_the_bands_and_the_highest_loads(candle):
    status, out, err = command(f"hazard headroom {candle(BLEND)} {ON}")
    assert (status, err) == (0, "")
    for said in ("Along the load", "Along Quince", "H317", "free of H317", "The nearest shares"):
        assert said in out


def test_a_list_of_the_whole_moves_its_amount_and_says_what_a_load_needs(candle):
    found = answer(f"hazard headroom {candle(SENSITISING)} {ON}")
    assert found["amount"]["walk"] == "amount"
    assert any("[[oil]]" in note for note in found["notes"])
    assert "Along the amount" in command(f"hazard headroom {candle(SENSITISING)} {ON}")[1]


def test_the_bar_is_drawn_to_a_file(candle, tmp_path):
    bar = tmp_path / "bar.svg"
    status, _, _ = command(f"hazard headroom {candle(BLEND)} {ON} --draw {shlex.quote(str(bar))}")
    assert status == 0
    assert ET.parse(bar).getroot().tag.endswith("svg")
    status, _, err = command(f"hazard headroom {candle(BLEND)} {ON} --draw /nowhere/at/all.svg")
    assert (status, "cannot be written" in err) == (2, True)


# --- what cannot be read -------------------------------------------------------------------------


@pytest.mark.parametrize("verb", ["classify", "headroom"])
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("ingredient = [", "not TOML"),
        ("[[ingredient]]\nnam = 'x'", '"nam" is no key of it'),
        ("[[ingredient]]\nname = 'x'\npercent_of_whole = 104", "104 % does not fit"),
        ("[[ingredient]]\ncas = '78-70-1'\npercent_of_whole = 1", "check digit would be 6"),
        (
            "[[ingredient]]\nname = 'x'\npercent_of_whole = 1\nclasses = ['Smelly 3']",
            '"Smelly 3" names no hazard class',
        ),
    ],
)
def test_a_document_with_faults_is_refused_with_each_of_them(candle, verb, text, said):
    status, out, err = command(f"hazard {verb} {candle(text)} {ON}")
    assert (status, out) == (2, "")
    assert said in err
    assert "candle.toml" in err


def test_several_faults_have_a_line_each(candle):
    text = "[[ingredient]]\nname = 'x'\n[[ingredient]]\nname = 'y'\nm_acute = -1\n"
    status, out, err = command(f"hazard classify {candle(text)} {ON}")
    assert (status, out) == (2, "")
    assert len(err.splitlines()) == 4
    assert err.splitlines()[-1].startswith("pourwright: 3 faults in ")


def test_a_document_that_is_not_there_is_told():
    status, _, err = command(f"hazard classify nowhere.toml {ON}")
    assert (status, "nowhere.toml: It cannot be read" in err) == (2, True)


@pytest.mark.parametrize("day", ["yesterday", "24.11.2026", "2026-13-01"])
def test_a_day_that_cannot_be_read_is_told(candle, day):
    status, _, err = command(f"hazard classify {candle(SENSITISING)} --on {day}")
    assert status == 2
    assert f'--on "{day}" is no day' in err


def test_a_day_before_the_rules_is_told(candle):
    status, _, err = command(f"hazard classify {candle(SENSITISING)} --on 1901-01-01")
    assert (status, "1901-01-01" in err) == (2, True)


def test_a_market_that_is_none_is_told(candle):
    status, _, err = command(f"hazard classify {candle(SENSITISING)} --market mars")
    assert (status, "mars" in err) == (2, True)


def test_the_documents_in_the_documentation_can_be_read():
    shown = DOCUMENTED.read_text(encoding="utf-8").split("```toml\n")[1:]
    candles = [read_candle(text.split("```")[0]) for text in shown]
    assert [found.doses is not None for found in candles] == [True, True, False]
