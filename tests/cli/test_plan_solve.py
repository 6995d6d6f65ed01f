"""``pourwright plan solve`` and ``plan promise``: the documented example, and refusals."""

import argparse
import json
import re
from pathlib import Path

import pytest

from pourwright.cli import plan_solve
from pourwright.core.errors import BadInput
from pourwright.core.planning.checker import findings
from pourwright.core.planning.solving import solve
from pourwright.intake.plan_problem import read_plan_problem
from pourwright.intake.plan_tables import BadPlanFile

PAGE = Path(__file__).resolve().parents[2] / "docs" / "plan-file.md"
SECTION = PAGE.read_text("utf-8").split("## What to pour when")[1]
EXAMPLE = re.search(r"^```toml\n(.*?)^```$", SECTION, re.M | re.S)[1]


@pytest.fixture
def file(tmp_path):
    def written(text, name="autumn.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return written


def run(*words):
    parser = argparse.ArgumentParser()
    plan_solve.register(parser.add_subparsers(dest="verb", required=True))
    arguments = parser.parse_args([str(word) for word in words])
    return arguments.run(arguments)


def test_the_documented_example_is_solved(file, capfd):
    # By the descriptor: what a library prints by itself would spoil the JSON too.
    path = file(EXAMPLE)
    assert run("solve", path, "--effort", 2, "--json") == 0
    out, err = capfd.readouterr()
    assert err == ""
    answer = json.loads(out)
    assert {
        "late_units", "unavoidable_late_units", "bound", "melts", "sessions", "lines"
    } <= answer.keys()  # fmt: skip
    assert answer["melts"] == sum(len(s["melts"]) for s in answer["sessions"])
    assert answer["late_units"] == sum(line["late"] for line in answer["lines"])
    assert answer["late_units"] >= answer["unavoidable_late_units"]
    assert all(line["reason"] for line in answer["lines"] if line["late"])
    late = [line["line"] for line in answer["lines"] if line["late"]]
    assert late, "the example shows a reason"
    assert sorted(key for group in answer["late_together"] for key in group["lines"]) == late
    step = answer["sessions"][0]["melts"][0]["steps"][0]
    assert (step["step"], step["from"]) == ("set up", answer["sessions"][0]["from"])
    given = read_plan_problem(path)
    plan = solve(given, effort=2)
    assert findings(given, plan) == []
    assert plan.totals.late_units == answer["late_units"]


def test_the_example_reads_well_on_paper_and_answers_an_enquiry(file, capsys):
    path = file(EXAMPLE)
    assert run("solve", path, "--effort", 0) == 0
    out = capsys.readouterr().out
    assert "never watered" in out
    assert re.search(r"harvest market: .* of 18 late\n    \S", out), "the reason is under its line"
    assert re.search(r"\d\d:\d\d-\d\d:\d\d  pour    \d+ ", out)
    asked = ("--design", "Quince tumbler", "--quantity", 500, "--by", "2027-09-20", "--effort", 0)
    assert run("promise", path, *asked, "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["can"] is False
    assert answer["on_time"] < 500


def test_json_says_the_same_as_toml(file):
    small = {
        "today": "2027-09-06", "table_places": 9,
        "product": [{
            "name": "Tin", "formula": "Bay", "vessel": "Tin", "fill_g": 110.5, "cure_days": 7,
            "setting_hours": 6, "pour_minutes": 0.75,
        }],
        "session": [{"on": "2027-09-07", "from": "18:30", "to": "24:00"}],
        "line": [{"product": "Tin", "quantity": 3, "due": "2027-09-20"}],
    }  # fmt: skip
    read = read_plan_problem(file(json.dumps(small), "p.json"))
    assert read.products[0].fill_mg == 110_500
    assert read.products[0].pour_s == 45
    assert (read.sessions[0].start_s, read.sessions[0].end_s) == (66_600, 86_400)
    assert (read.lines[0].kind, read.lines[0].priority) == ("order", 3)


def test_weeks_become_sessions_except_where_somebody_is_away(file):
    read = read_plan_problem(file(EXAMPLE))
    tuesdays = [s.on.isoformat() for s in read.sessions if s.on.weekday() == 1]
    assert tuesdays[:3] == ["2027-09-07", "2027-09-14", "2027-09-21"]
    assert "2027-09-28" not in tuesdays
    assert read.materials[0].unit == "mg"


def test_every_fault_of_a_document_is_told_with_its_place(file):
    bad = EXAMPLE.replace("cure_days = 7", "cure_day = 7").replace(
        "quantity = 24", 'quantity = "x"'
    )
    bad = bad.replace('"Sat"', '"Feiertag"').replace('to = "17:00"', 'to = "13:00"')
    with pytest.raises(BadPlanFile) as refused:
        read_plan_problem(file(bad))
    told = " ".join(refused.value.faults)
    for words in (
        "product 2, cure_days: it is not there", "did you mean cure_days?", "line 3, quantity:",
        "no weekday", "later than from",
    ):  # fmt: skip
        assert words in told


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("formula = \"Smoke\"", "formula = \"Smoke\"\nvessels = 3"), "no key of it"),
        (('product = "Smoke tin"\nquantity = 24', 'product = "No"\nquantity = 24'), "not there"),
        (("capacity_g = 2400", "capacity_g = 0"), "more than 0"),
        (("today = 2027-09-06", "today = 2027-09-06x"), "not TOML"),
    ],
)  # fmt: skip
def test_a_fault_is_told_in_a_sentence(file, change, words):
    with pytest.raises(BadInput, match=words):
        read_plan_problem(file(EXAMPLE.replace(*change)))


def test_a_day_that_is_none_is_refused(file):
    asked = ("--design", "Quince tumbler", "--quantity", 1, "--by", "soon", "--effort", 0)
    with pytest.raises(BadInput, match="2027-03-31"):
        run("promise", file(EXAMPLE), *asked)


def test_a_melter_too_strong_for_the_circuit_is_refused(file):
    strong = EXAMPLE.replace("capacity_g = 2400", "capacity_g = 2400\npower_w = 2800")
    read = read_plan_problem(file(f"circuit_w = 3000\n{strong}"))
    assert (read.circuit_w, read.melters[0].power_w) == (3000, 2800)
    with pytest.raises(BadPlanFile, match=r"alone draws 2800 W, and the circuit gives 2300 W"):
        read_plan_problem(file(f"circuit_w = 2300\n{strong}"))
