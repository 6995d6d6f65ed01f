"""Purchases: what must hold of every plan, and what is said where no order can help."""

import datetime as dt
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.planning.buying import (
    BadPurchase,
    Buying,
    Need,
    Offer,
    Price,
    Supplier,
    Supply,
)
from pourwright.core.planning.model import Arrival
from pourwright.core.planning.purchases import plan_purchases

TODAY = dt.date(2026, 5, 4)
EURO = 10_000


def day(number):
    return TODAY + dt.timedelta(days=number)


def oil(*needs, **more):
    rows = tuple(Need(on=day(on), amount=amount) for on, amount in needs)
    return Supply(key="oil", name="Quince oil", unit="pieces", needs=rows, **more)


def offer(pack=10, euros=8, *, supplier="orris", lead=3, key="", material="oil", breaks=(), **more):
    prices = (Price(from_packs=1, minor100=euros * EURO), *breaks)
    return Offer(
        key=key or f"{supplier} {pack}", material=material, supplier=supplier, pack=pack,
        lead_days=lead, prices=prices, **more,
    )  # fmt: skip


def buying(*materials, offers, freight=6, free=None, end=70, **more):
    names = sorted({row.supplier for row in offers})
    return Buying(
        today=TODAY, until=day(end), materials=materials, offers=tuple(offers),
        suppliers=tuple(
            Supplier(key=name, name=name.title(), freight_minor100=freight * EURO,
                     free_from_minor100=None if free is None else free * EURO)
            for name in names
        ),
        **{"holding_per_year": Fraction(15, 100), **more},
    )  # fmt: skip


def short_of(problem, plan):
    """Follow the stock day by day, apart from the planner: the first day and material short."""
    moves = defaultdict(int)
    for material in problem.materials:
        moves[material.key, TODAY, 0] += material.on_hand
        for row in material.arrivals:
            moves[material.key, row.on, 0] += row.amount
        for row in material.needs:
            moves[material.key, row.on, 1] -= row.amount
    for order in plan.orders:
        assert order.on >= TODAY
        for line in order.lines:
            moves[line.material, line.arrives_on, 0] += line.amount
    held = defaultdict(int)
    for (material, on, _), amount in sorted(moves.items()):
        held[material] += amount
        if held[material] < 0:
            return material, on
    return None


# --- plans ---------------------------------------------------------------------------------------


def test_what_is_there_and_coming_is_used_before_anything_is_ordered():
    problem = buying(
        oil((10, 6), (20, 6), on_hand=5, arrivals=(Arrival(on=day(9), amount=7),)),
        offers=[offer()],
    )  # fmt: skip
    plan = plan_purchases(problem)
    assert plan.orders == ()
    assert plan.cost.total_minor100 == 0
    assert plan.outlook[0].out_on_without is None


def test_an_order_goes_out_as_late_as_it_still_comes_in_time():
    problem = buying(oil((30, 8)), offers=[offer(lead=4)], spare_days=2)
    [order] = plan_purchases(problem).orders
    assert (order.on, order.lines[0].arrives_on) == (day(24), day(28))
    assert order.latest_on == day(24)
    [row] = plan_purchases(problem).outlook
    assert (row.out_on_without, row.last_order_on, row.left_at_end) == (day(30), day(24), 2)


def test_freight_that_becomes_free_puts_orders_together():
    materials = (oil((10, 10)), replace(oil((24, 10)), key="wax", name="Wax"))
    offers = [offer(euros=20), offer(euros=20, key="wax 10", material="wax")]
    assert len(plan_purchases(buying(*materials, offers=offers, freight=1)).orders) == 1
    apart = plan_purchases(buying(*materials, offers=offers, freight=0))
    assert len(apart.orders) == 2
    joined = plan_purchases(buying(*materials, offers=offers, freight=6, free=40))
    [order] = joined.orders
    assert order.freight_minor100 == 0


def test_a_price_break_is_taken_only_where_it_pays():
    broken = offer(euros=10, breaks=(Price(from_packs=4, minor100=7 * EURO),))
    three = plan_purchases(buying(oil((10, 30)), offers=[broken]))
    assert three.orders[0].lines[0].packs == 4  # 28 instead of 30
    two = plan_purchases(buying(oil((10, 20)), offers=[broken]))
    assert two.orders[0].lines[0].packs == 2  # 20, not 28


def test_many_days_of_use_are_ordered_for_on_one_day_a_week():
    needs = [(on, 3) for on in range(8, 60)]
    problem = buying(oil(*needs), offers=[offer(2, 2), offer(9, 7)], freight=1)
    plan = plan_purchases(problem, effort=5)
    assert plan.order_days == "one day a week"
    assert {(order.on - TODAY).days % 7 for order in plan.orders} == {0}
    assert short_of(problem, plan) is None
    assert all(plan.cost.total_minor100 <= row.cost.total_minor100 for row in plan.rhythms)


def test_what_keeps_two_weeks_is_bought_twice():
    needs = (10, 5), (40, 5)
    once = plan_purchases(buying(oil(*needs), offers=[offer()]))
    assert len(once.orders) == 1
    twice = plan_purchases(buying(oil(*needs), offers=[offer(keeps_days=14)]))
    assert [order.on for order in twice.orders] == [day(7), day(37)]
    assert twice.rhythms[-1].cost is None
    assert "spoilt" in twice.rhythms[-1].words


def test_a_start_on_a_day_that_is_not_looked_at_is_improved_all_the_same():
    """Held for nothing, an order of the weekly rhythm on day 7 costs what one on day 9 does."""
    problem = buying(
        oil((9, 5), holding_minor100=Fraction(0)), offers=[offer(lead=0, keeps_days=3)]
    )
    plan = plan_purchases(problem)
    assert short_of(problem, plan) is None
    assert plan.cost.paid_minor100 == 14 * EURO


# --- what no order can help ----------------------------------------------------------------------


def test_what_comes_too_late_is_said_with_its_days():
    plan = plan_purchases(buying(oil((2, 4), (3, 4), (20, 4)), offers=[offer(lead=5)]))
    [late] = plan.late
    assert (late.needed_on, late.short, late.comes_on, late.days_late) == (day(2), 8, day(5), 3)
    assert "Quince oil: 8 pieces" in late.words
    assert "3 days late" in late.words
    assert plan.outlook[0].must_order_today
    assert plan.orders[0].on == TODAY


def test_what_nobody_offers_is_said_and_the_rest_is_planned():
    wax = replace(oil((9, 4)), key="wax", name="Wax")
    plan = plan_purchases(buying(oil((9, 4)), wax, offers=[offer()]))
    [late] = plan.late
    assert (late.material, late.comes_on, late.short) == ("wax", None, 4)
    assert [line.material for order in plan.orders for line in order.lines] == ["oil"]


def test_a_month_s_limit_moves_an_order_into_the_month_before():
    """Both needs fall due in June (from day 28 on); one pack each, 8 and 6 freight."""
    needs = (35, 10), (50, 10)
    free = plan_purchases(buying(oil(*needs), offers=[offer(euros=30)], freight=0))
    assert {order.on.month for order in free.orders} == {6}
    limited = plan_purchases(
        buying(oil(*needs), offers=[offer(euros=30)], freight=0, cash_minor100=30 * EURO)
    )
    assert [order.on.month for order in limited.orders] == [5, 6]
    assert limited.cash_short == ()
    assert limited.rhythms[-1].cost is None
    assert "2026-05" in limited.rhythms[-1].words


def test_a_limit_that_cannot_be_kept_is_said_by_the_least_that_is_missing():
    plan = plan_purchases(
        buying(oil((9, 10)), offers=[offer(euros=30)], freight=6, cash_minor100=25 * EURO)
    )
    [short] = plan.cash_short
    assert (short.month, short.over_minor100) == ("2026-05", 11 * EURO)
    assert len(plan.orders) == 1


@pytest.mark.parametrize(
    ("problem", "words"),
    [
        (lambda: buying(oil((90, 1)), offers=[offer()]), "the plan runs from"),
        (lambda: buying(oil((9, 1)), offers=[offer(material="wax")]), "no material is named"),
        (lambda: buying(oil((9, 1)), offers=[offer(), offer()]), "Two offers"),
        (
            lambda: buying(
                oil((9, 1)), offers=[offer(breaks=(Price(from_packs=2, minor100=9 * EURO),))]
            ),
            "no higher",
        ),
        (lambda: buying(oil((9, 1)), offers=[offer(keeps_days=1)], spare_days=2), "keeps 1 days"),
    ],
)
def test_what_contradicts_itself_is_refused(problem, words):
    with pytest.raises(BadPurchase, match=words):
        plan_purchases(problem())


# --- stopping and repeating ----------------------------------------------------------------------

MANY = tuple(
    replace(
        oil(*((7 * week + 5, 3 + (5 * week + place) % 7) for week in range(9))),
        key=f"oil {place}", name=f"Oil {place}",
    )
    for place in range(5)
)  # fmt: skip
MANY_OFFERS = [
    offer(pack, euros, key=f"{m.key} {pack}", material=m.key)
    for m in MANY
    for pack, euros in ((4, 5), (10, 9))
]


def test_the_same_purchase_gives_the_same_plan():
    problem = buying(*MANY, offers=MANY_OFFERS, free=60)
    assert plan_purchases(problem, effort=5) == plan_purchases(problem, effort=5)


def test_a_stopped_search_gives_a_whole_plan():
    problem = buying(*MANY, offers=MANY_OFFERS, free=60)
    seen = []
    plan = plan_purchases(problem, should_stop=lambda: True, on_progress=seen.append)
    assert short_of(problem, plan) is None
    assert plan.bound_minor100 <= plan.cost.total_minor100
    assert [row.done for row in seen] == [1]


@settings(max_examples=15, deadline=None)
@given(data=st.data())
def test_every_plan_comes_in_time_and_is_no_dearer_than_any_rhythm(data):
    days = st.integers(min_value=8, max_value=60)
    materials, offers = [], []
    for place in range(data.draw(st.integers(min_value=1, max_value=3))):
        key = f"m{place}"
        rows = data.draw(st.lists(st.tuples(days, st.integers(1, 40)), min_size=1, max_size=5))
        hand = data.draw(st.integers(0, 30))
        materials.append(replace(oil(*rows, on_hand=hand), key=key, name=key))
        for number in range(data.draw(st.integers(min_value=1, max_value=3))):
            offers.append(
                offer(
                    data.draw(st.integers(1, 25)),
                    data.draw(st.integers(2, 20)),
                    supplier=data.draw(st.sampled_from(["orris", "marram"])),
                    lead=data.draw(st.integers(0, 8)),
                    key=f"{key} {number}",
                    material=key,
                    breaks=data.draw(
                        st.sampled_from([(), (Price(from_packs=3, minor100=2 * EURO),)])
                    ),
                )
            )
    problem = buying(
        *materials, offers=offers, freight=data.draw(st.integers(0, 9)),
        free=data.draw(st.sampled_from([None, 15, 60])),
    )  # fmt: skip
    plan = plan_purchases(problem, effort=20)
    assert short_of(problem, plan) is None
    assert plan.bound_minor100 <= plan.cost.total_minor100
    for rhythm in plan.rhythms:
        assert rhythm.cost is not None
        assert plan.cost.total_minor100 <= rhythm.cost.total_minor100
        assert plan.bound_minor100 <= rhythm.cost.total_minor100
    goods = sum(order.goods_minor100 for order in plan.orders)
    freight = sum(order.freight_minor100 for order in plan.orders)
    assert (plan.cost.goods_minor100, plan.cost.freight_minor100) == (goods, freight)
    for order in plan.orders:
        moved = [replace(o, lines=tuple(
            replace(line, arrives_on=line.arrives_on + (order.latest_on - order.on))
            for line in o.lines
        )) if o is order else o for o in plan.orders]  # fmt: skip
        assert short_of(problem, replace(plan, orders=tuple(moved))) is None
