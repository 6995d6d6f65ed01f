"""``pourwright contents``: the answers programs read, and refusals in one line."""

import io
import json

import pytest

from pourwright.cli.main import run

FILLS = "169.2\n170.4 g\n\n169.6  # after the phone rang\n170.1,\n6 oz\n"


@pytest.fixture
def fills(tmp_path):
    path = tmp_path / "fills.txt"
    path.write_text(FILLS)
    return str(path)


def answer(capsys, *words):
    status = run(["contents", *words, "--json"])
    out, err = capsys.readouterr()
    assert (status, err) == (0, "")
    return json.loads(out)


def refused(capsys, *words):
    assert run(["contents", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    return err


def test_a_us_check(capsys, fills):
    given = ("check", "--rule", "us", "--declared", "170 g", "--lot-size", "5")
    found = answer(capsys, *given, "--weights", fills)
    assert found["verdict"] == "pass"
    assert found["verified_g"] == 170
    assert (found["mav_g"], found["beyond_mav"]) == (10.8, 0)
    assert found["average_error_g"] == pytest.approx((169.2 + 170.4 + 169.6 + 170.1 + 170.097) / 5
                                                     - 170, abs=1e-4)  # fmt: skip
    assert found["sample_error_limit_g"] > 0
    assert found["reasons"]
    assert {step["name"] for step in found["steps"]} == {"sample", "verified", "mav", "average"}
    assert any("from memory" in rule["status"] for rule in found["rules"])


@pytest.mark.parametrize("rule", ["eu", "gb"])
def test_an_average_check(capsys, fills, rule):
    given = ("check", "--rule", rule, "--declared", "6 oz (170 g)", "--lot-size", "5")
    found = answer(capsys, *given, "--weights", fills)
    assert found["verdict"] == "fail"
    assert (found["tne_g"], found["t1_g"], found["t2_g"]) == (7.7, 162.3, 154.6)
    assert (found["defectives"], found["limit_g"]) == (0, 170)
    assert found["mean_g"] == pytest.approx(169.879, abs=1e-3)


def test_gross_weights_a_pipe_and_a_scale(capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("315.2\n316.0\n"))
    given = ("check", "--rule", "us", "--declared", "170 g", "--lot-size", "2", "--weights", "-")
    found = answer(capsys, *given, "--tare", "145.5 g", "--scale-division", "2 g")
    assert found["average_error_g"] == pytest.approx(0.1)
    assert found["scale"] == {"suitable": False, "coarsest_g": 1.8}


def test_a_person_reads_each_step(capsys, fills):
    given = ("check", "--rule", "us", "--declared", "170 g", "--lot-size", "5")
    assert run(["contents", *given, "--weights", fills, "--scale-division", "0.5 g"]) == 0
    out = capsys.readouterr().out
    assert "PASS" in out
    assert "from memory, high" in out
    assert "fine enough" in out


def test_a_target_from_a_spread_and_from_past_fills(capsys, fills):
    common = ("target", "--rule", "gb", "--declared", "170 g", "--lot-size", "30")
    found = answer(capsys, *common, "--sd", "2 g", "--probability", "99 %")
    assert found["target_g"] == pytest.approx(170 + found["over_g"])
    assert found["passes"] == pytest.approx(0.99, abs=1e-3)
    assert found["limited_by"] == "the average"
    past = answer(capsys, *common, "--fills", fills, "--scale-division", "0.5 g")
    assert past["sd_upper_g"] > past["sd_g"] > 0
    assert past["aim_g"] >= past["target_g"]
    assert (past["aim_g"] * 2) == int(past["aim_g"] * 2)


def test_what_pouring_by_eye_costs(capsys):
    found = answer(
        capsys, "target", "--rule", "gb", "--declared", "170 g", "--lot-size", "30", "--sd", "1 g",
        "--eye-sd", "5 g", "--candles-a-year", "600", "--mix-price", "12",
    )["by_eye"]  # fmt: skip
    assert found["extra_year_g"] == pytest.approx(600 * found["extra_each_g"])
    assert found["cost"] == pytest.approx(found["extra_year_g"] * 0.012, abs=1e-2)


def test_a_declaration(capsys):
    found = answer(capsys, "declare", "6 oz")
    assert found["statement"] == "6 oz (170 g)"
    assert (found["grams"], found["enforced_g"]) == (170, 170.097)
    assert answer(capsys, "declare", "6 oz", "--rule", "eu")["statement"] == "170 g"


def test_every_fault_is_one_line(capsys, fills, tmp_path):
    check = ("check", "--rule", "us", "--declared", "170 g", "--lot-size", "5", "--weights")
    assert "cannot be read" in refused(capsys, *check, str(tmp_path / "none.txt"))
    bad = tmp_path / "bad.txt"
    bad.write_text("170\nheavy\n\n3 apples\n")
    said = refused(capsys, *check, str(bad))
    assert "Line 2" in said
    assert "Line 4" in said
    (tmp_path / "empty.txt").write_text("# none yet\n")
    assert "has no weight" in refused(capsys, *check, str(tmp_path / "empty.txt"))
    few = [*check[:-2], "12", "--weights", fills]
    assert "Weigh 7 more" in refused(capsys, *few)
    assert "no grams" in refused(
        capsys, "check", "--rule", "eu", "--declared", "6 oz", "--lot-size", "5", "--weights", fills
    )
    assert "number of candles" in refused(capsys, *check[:-2], "2.5", "--weights", fills)
    assert "not a day" in refused(capsys, *check, fills, "--on", "soon")
    assert "before" not in refused(capsys, *check, fills, "--on", "1950-01-01")
    assert "one plan" in refused(capsys, *check, fills, "--plan", "single")
    assert "is not a mass" in refused(capsys, "declare", "a jar")
    target = ("target", "--rule", "us", "--declared", "170 g", "--lot-size", "5")
    assert "spread of" in refused(capsys, *target, "--sd", "0 g")
    assert "0.5 to" in refused(capsys, *target, "--sd", "1 g", "--probability", "2")
