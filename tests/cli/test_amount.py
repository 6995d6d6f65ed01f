"""``pourwright amount``: read exactly, shown in both systems, refused in one line."""

import json

import pytest

from pourwright.cli.main import run


def test_a_mass_is_read_exactly(capsys):
    """An international pound is 453.59237 g (see tests/published/test_units.py)."""
    assert run(["amount", "mass", "2 lb", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["value"] == pytest.approx(2 * 453.59237, abs=1e-9)
    assert said["unit"] == "g"
    assert said["us"].replace("\xa0", " ") in ("2 lb", "32 oz")


def test_a_temperature_is_shown_in_both(capsys):
    """Water boils at 212 °F and 100 °C."""
    assert run(["amount", "temperature", "212 F"]) == 0
    said = capsys.readouterr().out.replace("\xa0", " ")
    assert "100 °C" in said
    assert "212 °F" in said


@pytest.mark.parametrize(
    "words", [["mass", "a lump"], ["mass", "3 ml"], ["weight", "3 g"], ["mass"]]
)
def test_what_cannot_be_read_is_one_line_and_status_2(capsys, words):
    try:
        status = run(["amount", *words])
    except SystemExit as end:
        status = end.code
    said = capsys.readouterr()
    assert (status, said.out, said.err.count("\n")) == (2, "", 1)
