"""Costs: nothing is lost by rounding, and every part is where it should be."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.costing.breakdown import PARTS, BadCost, Breakdown, each_of, with_loss
from pourwright.core.costing.breakdown import with_overhead as overheads
from pourwright.core.costing.fifo import Layer, NotEnough, take_fifo
from pourwright.core.costing.work import (
    BadRate,
    allocate,
    labour_minor100,
    overhead_minor100,
    spread_freight,
)
from pourwright.core.costing.worth import take_value

QTY = st.integers(0, 10**9)
MONEY = st.integers(0, 10**10)
LAYERS = st.lists(st.tuples(QTY, MONEY), max_size=6).map(
    lambda rows: [Layer(lot=f"L{i}", qty=q, value=v if q else 0) for i, (q, v) in enumerate(rows)]
)
COSTS = st.builds(Breakdown, **{part: st.integers(0, 10**8) for part in PARTS})


@given(layers=LAYERS, share=st.floats(0, 1))
def test_oldest_goes_first_and_no_value_is_lost(layers, share):
    held = sum(layer.qty for layer in layers)
    takes = take_fifo(layers, int(held * share))
    assert sum(take.qty for take in takes) == int(held * share)
    # All but the last layer touched are taken whole, with the whole of their value.
    full = [layer for layer in layers if layer.qty]
    for take, layer in zip(takes[:-1], full, strict=False):
        assert (take.lot, take.qty, take.value) == (layer.lot, layer.qty, layer.value)
    assert sum(t.value for t in take_fifo(layers, held)) == sum(layer.value for layer in layers)


@given(qty=st.integers(1, 10**9), value=MONEY, cuts=st.lists(st.integers(1, 10**9), max_size=20))
def test_a_lot_taken_bit_by_bit_gives_all_its_value_and_no_more(qty, value, cuts):
    left, worth, out = qty, value, 0
    for cut in [*cuts, qty]:
        part = min(cut, left)
        taken = take_value(left, worth, part)
        assert 0 <= taken <= worth
        left, worth, out = left - part, worth - taken, out + taken
    assert (left, worth, out) == (0, 0, value)


def test_more_than_the_layers_hold_is_refused_with_the_figures():
    with pytest.raises(NotEnough, match=r"50 are wanted and 30 are there: 20 too few"):
        take_fifo([Layer(lot="a", qty=30, value=9)], 50)


def test_labour_is_minutes_at_a_rate():
    assert labour_minor100(minutes=20, rate_minor100_per_hour=24_0000) == 8_0000
    assert labour_minor100(minutes=Fraction(1, 2), rate_minor100_per_hour=60) == 1  # a half, up


@given(minutes=st.fractions(0, 10_000), rate=st.integers(0, 10**8))
def test_labour_is_off_by_half_a_unit_at_most(minutes, rate):
    exact = minutes * rate / 60
    assert abs(labour_minor100(minutes=minutes, rate_minor100_per_hour=rate) - exact) <= Fraction(
        1, 2
    )


@pytest.mark.parametrize(("minutes", "rate"), [(-1, 100), (1, -100)])
def test_work_below_nothing_is_refused(minutes, rate):
    with pytest.raises(BadRate):
        labour_minor100(minutes=minutes, rate_minor100_per_hour=rate)


def test_overhead_is_a_rate_of_materials_labour_and_loss_but_not_of_itself():
    cost = overheads(Breakdown(wax=600, labour=300, loss=100, overhead=999), overhead_pct=15)
    assert cost.overhead == 150
    assert overheads(cost, overhead_pct=15) == cost


def test_an_overhead_rate_out_of_range_is_refused():
    with pytest.raises(BadRate, match="-1 %"):
        overhead_minor100(base_minor100=100, overhead_pct=-1)


@given(freight=MONEY, lines=st.lists(st.tuples(MONEY, QTY), min_size=1, max_size=12))
def test_freight_is_spread_to_the_last_unit_either_way(freight, lines):
    values, weights = [v for v, _ in lines], [w for _, w in lines]
    for by, measure in (("value", values), ("weight", weights)):
        shares = spread_freight(
            freight_minor100=freight, by=by, line_values_minor100=values, line_weights_mg=weights
        )
        assert sum(shares) == freight
        if total := sum(measure):
            assert all(
                abs(s - Fraction(freight * m, total)) < 1
                for s, m in zip(shares, measure, strict=True)
            )


def test_freight_by_weight_without_weights_says_what_to_do():
    with pytest.raises(BadRate, match="spread it by value"):
        spread_freight(freight_minor100=900, by="weight", line_values_minor100=[1, 2])


def test_freight_with_no_line_is_refused():
    with pytest.raises(BadRate, match="no line"):
        spread_freight(freight_minor100=900, by="value", line_values_minor100=[])


def test_a_batch_that_left_nothing_is_not_allocated():
    assert allocate(0, weights=[]) == []
    with pytest.raises(BadRate, match="scrap"):
        allocate(100, weights=[])


@given(cost=COSTS, pieces=st.integers(1, 500))
def test_the_shown_parts_of_one_candle_add_up_to_its_shown_total(cost, pieces):
    one = each_of(cost, pieces=pieces)
    assert abs(one.total_minor100 - Fraction(cost.total_minor100, pieces)) <= Fraction(1, 2)
    for part in PARTS:
        assert abs(one[part] - Fraction(cost[part], pieces)) < 2


@given(cost=COSTS, lost=st.fractions(0, 1))
def test_loss_moves_cost_and_makes_none(cost, lost):
    after = with_loss(cost, lost=lost)
    assert after.total_minor100 == cost.total_minor100
    assert after.loss >= cost.loss
    assert with_loss(cost, lost=Fraction(1)).loss == cost.total_minor100


@given(a=COSTS, b=COSTS)
def test_costs_add_part_by_part(a, b):
    assert (a + b).total_minor100 == a.total_minor100 + b.total_minor100


def test_a_cost_below_zero_is_refused_by_its_name():
    with pytest.raises(BadCost, match="dye and additives"):
        Breakdown(additives=-1)
    with pytest.raises(BadCost, match="each of 0"):
        each_of(Breakdown(wax=1), pieces=0)
