"""The heat commands on small documents."""

import json

import pytest

from pourwright.cli.main import run

JAR = """
[wax]
kind = "paraffin"
[vessel]
inside_diameter = "64 mm"
height = "70 mm"
[fill]
depth = "40 mm"
[melt]
mass = "1.5 kg"
power_w = 700
to = "180 F"
pour = "150 F"
pot_area_m2 = 0.09
[set]
pour = "66 °C"
cell = "4 mm"
[[compare]]
name = "cooler room"
room = "15 °C"
[burn]
burn_rate_g_h = 2.9
hours = 1
cell = "4 mm"
"""


@pytest.fixture
def jar(tmp_path):
    path = tmp_path / "jar.toml"
    path.write_text(JAR, encoding="utf-8")
    return path


def answer(capsys, *words):
    assert run([*map(str, words), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_melt(jar, capsys):
    found = answer(capsys, "heat", "melt", jar)
    assert found["minutes"] == pytest.approx(found["heat_j"] / (0.75 * 700) / 60, rel=1e-4)
    assert 0 < found["to_pour_min"] < found["to_melting_min"]
    assert found["materials"]["latent_heat_j_kg"]["status"]
    assert run(["heat", "melt", str(jar)]) == 0
    said = capsys.readouterr().out
    assert "never put water on it" in said


def test_settings_side_by_side(jar, capsys):
    found = answer(capsys, "heat", "set", jar)
    first, cooler = found["settings"]
    assert cooler["name"] == "cooler room"
    assert cooler["set_through_h"] < first["set_through_h"]
    assert len(first["times_h"]) == len(first["curves_c"]["core"])
    assert "passes no candle" in found["words"][0]


def test_a_burn_is_unverified_until_fitted(jar, capsys):
    found = answer(capsys, "heat", "burn", jar)
    assert not found["calibrated"]
    assert any("Unverified" in said for said in found["words"])
    assert found["burned_g"] == pytest.approx(2.9, rel=1e-6)
    low, high = (found["band"]["pool_mm"][end][-1] for end in ("low", "high"))
    assert low < found["pool_mm"][-1] <= high
    with jar.open("a") as more:
        more.write('[[burn.recorded]]\nhours = 1\nburned = "2.8 g"\npool = [[1, "42 mm"]]\n')
    fitted = answer(capsys, "heat", "burn", jar)
    assert fitted["calibrated"]
    assert not any("Unverified" in said for said in fitted["words"])
    assert fitted["calibration"]["values"] != fitted["calibration"]["prior_values"]
    (reading,) = fitted["calibration"]["residuals"]
    assert abs(reading["model"] - 42) < abs(found["pool_mm"][-1] - 42)


def test_several_wicks_each_where_it_stands(jar, capsys):
    with jar.open("a") as more:
        more.write("three_dimensions = true\npositions = [[0, 14], [0, -14]]\n")
    found = answer(capsys, "heat", "burn", jar)["three_dimensions"]
    assert len(found["positions_mm"]) == 2
    assert 0 < found["covered_share"][-1] <= 1
    assert found["energy_error"] < 0.005


def test_a_document_s_fault_is_one_line(tmp_path, capsys):
    path = tmp_path / "jar.toml"
    path.write_text(JAR.replace("burn_rate_g_h", "burn_rate"), encoding="utf-8")
    assert run(["heat", "burn", str(path)]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "burn_rate_g_h is missing" in error
