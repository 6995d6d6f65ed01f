"""``pourwright cost lot``: what a candle really cost, as its page says it."""

import json

import pytest

from candle_examples import lot_of, pour, set_up_bench
from pourwright.cli.main import run
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Place

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(workshop):
    return set_up_bench()


def test_the_parts_add_up_to_the_lot_s_value_in_the_ledger(bench, capsys):
    lot = lot_of(pour(bench))
    qty, value = ledger.held(lot, Place.SHELF)
    assert run(["cost", "lot", lot.code, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["lot"] == lot.code
    assert sum(said["parts"].values()) == pytest.approx(said["each"], abs=1e-9)
    # The ledger's value is in hundredths of a cent for all of them; half of one is rounding.
    assert said["each"] * qty == pytest.approx(value / 10_000, abs=qty * 0.00005)


def test_a_lot_of_wax_has_no_cost_of_a_candle(bench, capsys):
    assert run(["cost", "lot", bench.lots["wax"].code]) == 2
    heard = capsys.readouterr()
    assert (heard.out, heard.err.count("\n")) == ("", 1)
