"""Which units are on time: as good as every way to serve them, with and without best-before."""

import itertools
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from planning_examples import day, evening, order, problem, product
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.model import Lot
from pourwright.core.planning.packing import fewest_bins
from pourwright.core.planning.serving import late_days, serve, supply


@st.composite
def shelves(draw):
    """Return up to four lots and four lines of one product, small enough to enumerate."""
    whole = lambda low, high: draw(st.integers(low, high))  # noqa: E731
    lots = []
    for i in range(whole(0, 4)):
        ready = whole(0, 8)
        last = draw(st.sampled_from((None, ready + 1, ready + 3)))
        lots.append(
            Lot(
                key=f"{i}", product="A", quantity=whole(0, 3), ready_on=day(ready),
                best_before=None if last is None else day(last),
            )
        )  # fmt: skip
    lines = tuple(
        order("A", whole(0, 3), whole(0, 10), key=f"{i}", priority=whole(1, 3),
              kind=draw(st.sampled_from(("order", "market"))))
        for i in range(whole(1, 4))
    )  # fmt: skip
    return problem(products=(product("A"),), sessions=(evening(20),), lots=tuple(lots), lines=lines)


def can_serve(lots, claims):
    """Return whether claims (day, units) can all be met: a unit for a unit, by brute force."""
    units = [due for due, count in claims for _ in range(count)]

    def go(i, left):
        if i == len(units):
            return True
        for j, (ready, last, quantity) in enumerate(left):
            if quantity and ready <= units[i] and (last is None or units[i] <= last):
                rest = [*left[:j], (ready, last, quantity - 1), *left[j + 1 :]]
                if go(i + 1, rest):
                    return True
        return False

    return go(0, lots)


@settings(max_examples=60, deadline=None)
@given(shelves())
def test_no_way_to_serve_leaves_less_late(given):
    ground = Ground(given)
    found = serve(ground, 0, ())
    wants = ground.wants[0]
    lots = [(h.ready, h.last, h.quantity) for h in ground.haves[0]]
    best = min(
        sum(w.priority * (w.quantity - u) for w, u in zip(wants, units, strict=True))
        for units in itertools.product(*(range(w.quantity + 1) for w in wants))
        if can_serve(lots, [(w.due, u) for w, u in zip(wants, units, strict=True)])
    )
    assert found.late_weight == best
    claims = [(w.due, u) for w, u in zip(wants, found.on_time, strict=True)]
    assert can_serve(lots, claims)


def test_scrap_is_taken_over_the_running_sum():
    given = problem(
        products=(product("A", cure=1),), scrap_per_1000=250,
        sessions=(evening(0), evening(1), evening(2)), lines=(order("A", 9, 9),),
    )  # fmt: skip
    ground = Ground(given)
    assert serve(ground, 0, ((0, 3), (1, 3), (2, 2))).on_time == (6,)
    assert ground.to_pour(6) == 8


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from((120, 200, 300, 450)), st.integers(0, 9)), min_size=1, max_size=3
    ),
    st.sampled_from((900, 1000, 1350)),
    st.sampled_from((0, 400)),
)  # fmt: skip
def test_vessels_are_split_into_whole_melts(items, most, least):
    masses, counts = [w for w, _ in items], [q for _, q in items]
    bins = fewest_bins(masses, counts, least=least, most=most)
    if bins is None:
        total = sum(w * q for w, q in items)
        assert total < least or total > 0
        return
    assert [sum(column) for column in zip(*bins, strict=True)] == counts or not bins
    for one in bins:
        assert least <= sum(w * q for w, q in zip(masses, one, strict=True)) <= most


def test_best_before_that_does_not_matter_changes_nothing():
    lots = (Lot(key="1", product="A", quantity=5, ready_on=day(0)),)
    lines = (order("A", 3, 4), order("A", 4, 9, priority=2))
    plain = problem(products=(product("A"),), sessions=(), lots=lots, lines=lines)
    marked = replace(plain, lots=(replace(lots[0], best_before=day(9)),))
    soon = replace(plain, lots=(replace(lots[0], best_before=day(8)),))
    assert serve(Ground(plain), 0, ()).on_time == serve(Ground(marked), 0, ()).on_time == (1, 4)
    assert serve(Ground(soon), 0, ()).on_time == (3, 0)


def owed_at_best(wants, on_time, come, end):
    """Return the fewest unit-days owed, over every unit that every late unit could get."""
    asked = [(w.due, w.due) for w, t in zip(wants, on_time, strict=True) for _ in range(t)]
    asked += [
        (w.due, None) for w, t in zip(wants, on_time, strict=True) if w.order
        for _ in range(w.quantity - t)
    ]  # fmt: skip

    def go(i, left):
        if i == len(asked):
            return 0
        due, day = asked[i]
        best = float("inf") if day is not None else end - due + go(i + 1, left)
        for j, (ready, last, quantity) in enumerate(left):
            leaves = max(ready, due)
            fits = leaves == due if day is not None else leaves > due or last is None or last > due
            if quantity and fits and (last is None or leaves <= last):
                rest = [*left[:j], (ready, last, quantity - 1), *left[j + 1 :]]
                best = min(best, leaves - due + go(i + 1, rest))
        return best

    return go(0, [(c.ready, c.last, c.quantity) for c in come])


@settings(max_examples=60, deadline=None)
@given(shelves())
def test_what_is_owed_is_paid_with_units_that_are_good_and_no_later_than_must_be(given):
    ground = Ground(given)
    found = serve(ground, 0, ())
    wants, come = ground.wants[0], supply(ground, 0, ())
    at_best = owed_at_best(wants, found.on_time, come, ground.horizon)
    assert not ground.spoils[0] or found.owed >= at_best
    plain = replace(given, lots=tuple(replace(lot, best_before=None) for lot in given.lots))
    served = serve(Ground(plain), 0, ())
    come = supply(Ground(plain), 0, ())
    days = late_days(wants, served.on_time, come)
    by_unit = sum(
        sum(row) - len(row) * w.due + (w.quantity - t - len(row)) * (ground.horizon - w.due)
        for w, t, row in zip(wants, served.on_time, days, strict=True) if w.order
    )  # fmt: skip
    assert by_unit == owed_at_best(wants, served.on_time, come, ground.horizon)
    # Where nothing spoils orders may change their units about, which can only shorten the debt.
    assert served.owed <= by_unit


def test_a_lot_that_has_spoilt_pays_no_debt():
    given = problem(
        products=(product("A"),), sessions=(evening(4),), lines=(order("A", 5, 3),),
        lots=(Lot(key="old", product="A", quantity=5, ready_on=day(0), best_before=day(2)),),
    )  # fmt: skip
    ground = Ground(given)
    assert serve(ground, 0, ((0, 5),)).owed == 5 * (4 + 7 - 3)
    assert serve(ground, 0, ()).owed == 5 * (ground.horizon - 3)
