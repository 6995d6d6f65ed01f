"""``pourwright plan buy`` and ``plan market``: the documents of the page, and refusals."""

import json
import re
from pathlib import Path

import pytest

from pourwright.cli.main import run

PAGE = Path(__file__).resolve().parents[2] / "docs" / "plan-file.md"
_, BUY, MARKET = re.findall(r"^```toml\n(.*?)^```$", PAGE.read_text("utf-8"), re.M | re.S)


@pytest.fixture
def file(tmp_path):
    def written(text, name="given.toml"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return written


def answer(capsys, *words):
    status = run(["plan", *words, "--json"])
    out, err = capsys.readouterr()
    assert (status, err) == (0, "")
    return json.loads(out)


def refused(capsys, *words):
    assert run(["plan", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    return err


# --- buy -----------------------------------------------------------------------------------------


def test_the_documented_purchase_says_what_to_order_and_what_comes_late(capsys, file):
    found = answer(capsys, "buy", file(BUY))
    sums = [sum(line["value"] for line in order["lines"]) for order in found["orders"]]
    assert sums == [order["goods"] for order in found["orders"]]
    assert found["total"] == pytest.approx(
        found["goods"] + found["freight"] + found["holding"], abs=1e-3
    )
    assert found["bound"] <= found["total"]
    assert all(row["total"] >= found["total"] for row in found["rhythms"])
    [late] = found["late"]
    assert (late["material"], late["short"], late["days_late"]) == ("Quince oil", 50_000, 3)
    waxes = [row["last_order_on"] for row in found["materials"] if row["material"] != "Quince oil"]
    # Used on 28 September, 2 days spare, 4 and 7 days on the way.
    assert waxes == ["2027-09-22", "2027-09-19"]


def test_the_same_purchase_in_json_gives_the_same_answer(capsys, file):
    import tomllib

    as_json = json.dumps(tomllib.loads(BUY), default=str)
    assert answer(capsys, "buy", file(as_json, "given.json")) == answer(capsys, "buy", file(BUY))


def test_orders_are_printed_for_people(capsys, file):
    assert run(["plan", "buy", file(BUY)]) == 0
    out = capsys.readouterr().out
    assert "Orris House" in out
    assert "every fortnight" in out
    assert "order by 2027-09-22" in out


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('supplier = "Marram Waxes"', 'supplier = "Nobody"', 'no [[supplier]] is named "Nobody"'),
        ('unit = "kg"', 'unit = "stone"', '"stone" is no unit'),
        ("until = 2027-11-15\n", "", "until: it is not there"),
        ("until = 2027-11-15", "until = 2027-10-01", "the plan runs from"),
        ("spare_days = 2", "sparedays = 2", "did you mean spare_days?"),
        ('name = "Tumbler"\non_hand = 40', 'name = "Tumbler"\non_hand = 40.5', "no whole number"),
    ],
)
def test_a_faulty_purchase_is_refused_in_one_line(capsys, file, old, new, words):
    assert words in refused(capsys, "buy", file(BUY.replace(old, new)))


# --- market --------------------------------------------------------------------------------------


def test_the_documented_market_fills_the_stall_and_checks_the_takings(capsys, file):
    found = answer(capsys, "market", file(MARKET))
    room = {"Quince tumbler": 1, "Smoke tin": 0.5, "Orris bowl": 2}
    used = sum(room[row["name"]] * row["bring"] for row in found["designs"])
    assert used == found["places_used"] <= found["places"]
    assert found["one_more_place"] > 0
    bowl = found["designs"][2]
    assert (bowl["days_seen"], bowl["bring"]) == (0, 5)
    # 12 at 21 and 13 at 12.50 were counted, 414.50; 411.50 was in the till.
    assert found["notes"] == [
        "2027-08-21: the takings are €3.00 less than what was counted as sold."
    ]
    assert [row["sold_out_days"] for row in found["designs"]] == [0, 1, 0]


def test_not_knowing_when_it_sold_out_is_counted_as_sold_out(capsys, file):
    found = answer(capsys, "market", file(MARKET.replace('sold_out_at = "13:30"\n', "")))
    assert found["designs"][0]["sold_out_days"] == 1


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("sold = 13", "sold = 23", "23 sold of 20 taken"),
        ('sold_out_at = "13:30"', 'sold_out_at = "16:30"', "not between the times"),
        ('design = "Smoke tin"', 'design = "Smoke tint"', 'no [[design]] is named "Smoke tint"'),
        ("too_many = 2\n", "", "too_many: it is not there"),
        ("exposure = 0.5", 'exposure = "half"', "is no number"),
    ],
)
def test_a_faulty_market_is_refused_in_one_line(capsys, file, old, new, words):
    assert words in refused(capsys, "market", file(MARKET.replace(old, new)))
