"""The vessel and cost commands: the same answers as the core, and clear refusals."""

import io
import json
import re
import shlex
import xml.etree.ElementTree as ET
from contextlib import redirect_stderr, redirect_stdout

import pytest

from pourwright.cli import cost, vessel
from pourwright.cli.main import Parser
from pourwright.core.costing.price import price_for_margin
from pourwright.core.errors import BadInput


def command(line):
    """Run one command line as main does, with these two parts alone."""
    parser = Parser(prog="pourwright")
    parts = parser.add_subparsers(dest="part", required=True)
    for module in (vessel, cost):
        module.register(parts)
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


def test_a_fill_by_weight_in_a_vessel_sold_as_16_oz():
    """Check values P23 of tests/published/test_vessel_fill.py, through the command."""
    found = answer('vessel fill --brim "16 fl oz" --density 0.90 --weight "10.5 oz"')
    assert found["brim_ml"] == pytest.approx(473.18, abs=0.005)
    assert found["fill_ml"] == pytest.approx(330.7, abs=0.05)
    assert found["fill_pct_of_brim"] == pytest.approx(69.9, abs=0.05)
    assert found["height_mm"] is None


def test_a_height_is_told_where_the_shape_is_known():
    found = answer(
        'vessel fill --inside-diameter "70 mm" --top-diameter "80 mm" --depth "9 cm" '
        '--density 0.8 --volume "250 ml"'
    )
    assert found["height_mm"] == pytest.approx(59.22, rel=1e-4)
    assert found["headspace_mm"] == pytest.approx(90 - 59.22, rel=1e-3)
    assert found["fill_g"] == pytest.approx(200)


def test_a_brim_and_a_shape_give_share_and_height():
    found = answer(
        'vessel fill --brim "300 ml" --inside-diameter 70 --depth 80 --density 0.9 --weight 180'
    )
    assert found["brim_ml"] == 300
    assert found["fill_pct_of_brim"] == pytest.approx(66.67, abs=0.01)
    assert found["height_mm"] == pytest.approx(51.97, abs=0.01)
    assert found["brim_by_shape_ml"] == pytest.approx(307.88, abs=0.01)


def test_water_marks_and_the_liquid_level():
    found = answer(
        "vessel fill --mark 20mm=100ml --mark 80mm=400ml --density 0.9 --liquid-density 0.8 "
        "--height 40"
    )
    assert found["fill_ml"] == pytest.approx(200)
    assert found["liquid_ml"] == pytest.approx(225)
    assert found["liquid_height_mm"] == pytest.approx(45)


def test_words_for_people_follow_the_units_that_were_typed():
    status, out, _ = command('vessel fill --brim "8 fl oz" --density 0.9 --weight "5 oz"')
    assert status == 0
    assert "5\u00a0oz" in out
    assert "height not known" in out
    assert "common practice, no source" in out


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('vessel fill --brim "16 oz" --density 0.9', "fl oz"),
        ("vessel fill --density 0.9 --weight 100", "size is not known"),
        ("vessel fill --brim 200 --density 0.9 --weight 500", "Lower the fill weight"),
        ("vessel fill --brim 200 --density 90 --weight 50", "g/ml"),
        ("vessel fill --brim 200 --density 0.9 --height 20", "cannot be told"),
        ("vessel fill --mark 20mm --density 0.9", "40mm=150ml"),
        ("vessel fill --brim 200 --weight 50", "--density"),
        ("vessel fill --brim 200 --density 0.9 --weight 5 --volume 5", "not allowed"),
        ("vessel draw --brim 200 --weight 50 --out -", "--density"),
        ("vessel draw --brim 200 --out /no/such/folder/a.svg", "cannot be written"),
        ("vessel draw --brim 200 --wicks 40 --volume 90 --out -", "40 wicks"),
        ("cost price --unit-cost 4 --margin 98 --fee-pct 2", "below 100 %"),
        ("cost price --unit-cost 4 --margin 50 --ending 1.20", "ending"),
        ("cost price --unit-cost abc --margin 50", "Unit cost"),
        ("cost price --unit-cost 4", "--margin"),
        ("cost price --unit-cost 4 --margin 5 --currency dollars", "currency code"),
        ("cost price --unit-cost 4 --price 9 --ending 0.5", "already set"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line_with_status_2(line, says):
    status, out, err = command(line)
    assert status == 2
    assert out == ""
    assert says in err
    assert "Traceback" not in err


def test_a_drawing_is_written_that_stands_alone(tmp_path):
    file = tmp_path / "cup.svg"
    status, _, err = command(
        "vessel draw --inside-diameter 70 --depth 80 --height 55 --wicks 2 --lit "
        f"--name 'Cup & lid' --out {shlex.quote(str(file))}"
    )
    assert (status, err) == (0, "")
    root = ET.fromstring(file.read_text(encoding="utf-8"))
    painted = [e for e in root.iter() if e.get("fill") or e.get("stroke")]
    assert painted
    assert not [e for e in root.iter("{http://www.w3.org/2000/svg}path") if e.get("class")]


def test_an_empty_vessel_can_be_drawn_from_above_to_the_terminal():
    status, out, _ = command("vessel draw --brim 300ml --view above --out -")
    assert status == 0
    title = ET.fromstring(out).find("{http://www.w3.org/2000/svg}title").text
    assert "shape not measured" in title.lower()


def test_a_price_is_the_cores_price():
    found = answer(
        "cost price --unit-cost 4.31 --margin 60 --fee-pct 3 --fee-fixed 0.30 --wholesale-margin 40"
    )
    core = price_for_margin(
        unit_cost_minor100=43100, margin_pct=60, fee_pct=3, fee_fixed_minor100=3000
    )
    assert found["price"] * 10_000 == pytest.approx(core.price_minor100)
    assert found["margin_pct"] >= 60 - 0.05
    assert found["price"] == pytest.approx(
        found["unit_cost"] + found["fees"] + found["profit"], abs=1e-9
    )
    # Without fees the wholesale price is the cost over 0.6, up to the cent.
    assert found["wholesale"]["price"] == 7.19


def test_an_ending_holds_for_both_prices():
    found = answer("cost price --unit-cost 6 --margin 50 --wholesale-margin 20 --ending 0.95")
    assert found["price"] == 12.95
    assert found["wholesale"]["price"] == 7.95


def test_a_set_price_tells_its_margin_and_warns_of_a_loss():
    found = answer("cost price --unit-cost 6 --price 5")
    assert found["margin_pct"] == -20
    assert "does not cover" in found["notes"][0]


def test_a_wholesale_price_above_the_direct_one_is_noted():
    status, out, _ = command("cost price --unit-cost 6 --margin 20 --wholesale-margin 50")
    assert status == 0
    assert "could not resell" in out


def test_a_currency_without_minor_unit_rounds_to_whole_ones():
    found = answer("cost price --unit-cost 500 --margin 30 --currency JPY")
    assert found["price"] == 715  # 500 / 0.7 = 714.29


@pytest.mark.parametrize("line", ["vessel fill --help", "vessel draw --help", "cost price --help"])
def test_the_example_in_the_help_can_be_pasted(line, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    _, out, _ = command(line)
    example = re.sub(r"\\\n\s*", "", out.split("Example:")[1]).strip()
    status, out, err = command(example.removeprefix("pourwright "))
    assert (status, err) == (0, "")
    assert out
