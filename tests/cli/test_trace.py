"""``pourwright trace``: both ways in the terminal, and a clear word for what is not there."""

import json

import pytest
from django.utils import timezone

from candle_examples import customer, lot_of, pour, release, set_up_bench
from conftest import AT
from pourwright.cli.main import run
from pourwright.workshop.orders import services as orders
from pourwright.workshop.trace import services as trace

pytestmark = pytest.mark.django_db


@pytest.fixture
def sold(workshop):
    today = timezone.localdate()
    bench = set_up_bench()
    release(bench.version, on=today)
    lot = lot_of(pour(bench))
    release(lot, on=today)
    order = orders.new_order(
        customer=customer(), channel="direct", on=today, lines=[(bench.design, 5, 0, False)]
    )
    orders.despatch(order, on=today, at=AT)
    return bench, lot, order


def test_a_supply_lot_names_candles_customers_and_what_is_left(sold, capsys):
    bench, lot, order = sold
    assert run(["trace", bench.lots["wax"].code]) == 0
    said = capsys.readouterr().out
    for expected in (lot.code, order.number, "Tilda Wren", "19 cure shelf", "5 sold"):
        assert expected in said


def test_json_gives_both_ways_and_agrees_with_the_page(sold, capsys):
    _, lot, _ = sold
    assert run(["trace", lot.code.lower(), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["lot"]["code"] == lot.code
    assert {one["code"] for one in said["back"]["supplies"]} == {
        node.code for node in trace.back(lot).supplies
    }
    wax = next(one for one in said["back"]["supplies"] if one["kind"] == "wax")
    assert (wax["supplier"], wax["unit"]) == ("Millrace Waxworks", "mg")
    assert (
        said["forward"]["sent"][0] | {"customer": "Tilda Wren", "qty": 5}
        == (said["forward"]["sent"][0])
    )
    assert said["forward"]["totals"]["candles_sold"] == 5


def test_an_unknown_lot_is_one_line_on_stderr_with_those_near_and_status_2(sold, capsys):
    bench, _, _ = sold
    assert run(["trace", "Q-0001"]) == 2
    heard = capsys.readouterr()
    assert heard.out == ""
    assert heard.err.count("\n") == 1
    assert "no lot “Q-0001”" in heard.err
    assert bench.lots["wax"].code in heard.err
