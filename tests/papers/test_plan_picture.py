"""The plan’s picture shows what it says: melts by day, places taken, cure and what is late."""

import datetime as dt
import re

from hypothesis import given, settings
from hypothesis import strategies as st

from plan_picture_examples import ON, a_plan, a_problem
from pourwright.core.planning.model import Draw, Melt, Pour
from pourwright.papers.plan_picture import plan_picture, taken_by_day, window_of

HOUR = 3600


def melt(number, quantity, product="fig"):
    return Melt(
        session=f"s{number}", melter="pot",
        draws=(Draw(formula=product, pours=(Pour(product=product, quantity=quantity),)),),
    )  # fmt: skip


def test_vessels_take_their_places_until_they_have_set():
    # From 21:00, set for 12 h: the evening and the next morning, and no longer.
    problem = a_problem(setting_s=12 * HOUR)
    assert taken_by_day(problem, a_plan(melt(0, 10))) == {ON: 10, ON + dt.timedelta(1): 10}


def test_two_evenings_meet_on_the_table_only_where_the_first_has_not_set():
    plan = a_plan(melt(0, 10), melt(1, 6))  # a day apart
    day = dt.timedelta(1)
    assert taken_by_day(a_problem(setting_s=12 * HOUR), plan) == {
        ON: 10, ON + day: 10, ON + 2 * day: 6
    }  # fmt: skip
    assert taken_by_day(a_problem(setting_s=30 * HOUR), plan)[ON + day] == 16


@settings(max_examples=20)
@given(st.lists(st.tuples(st.integers(0, 5), st.integers(1, 30)), max_size=6), st.integers(1, 60))
def test_places_taken_are_those_of_the_spans_looked_at_hour_by_hour(melts, hours):
    """Against a plain count at every hour."""
    problem = a_problem(setting_s=hours * HOUR)
    plan = a_plan(*(melt(number, quantity) for number, quantity in melts))
    by_hour = {}
    for number, quantity in melts:
        begins = dt.datetime.combine(ON, dt.time(18)) + dt.timedelta(number)
        for hour in range(3 + hours):
            at = begins + dt.timedelta(hours=hour)
            by_hour[at] = by_hour.get(at, 0) + quantity
    by_day = {}
    for at, taken in by_hour.items():
        by_day[at.date()] = max(by_day.get(at.date(), 0), taken)
    assert taken_by_day(problem, plan) == by_day


def test_what_is_late_is_marked_otherwise_than_what_is_on_time():
    text = plan_picture(a_problem(), a_plan(melt(0, 10), late=4))
    assert len(re.findall('class="pp-late"', text)) == 1
    assert "12 for Mill shop by" in text
    assert "4 late" in text
    assert 'class="pp-late"' not in plan_picture(a_problem(), a_plan(melt(0, 12)))


def test_the_window_reaches_from_this_week_to_the_last_cure_and_wish():
    window = window_of(a_problem(), a_plan(melt(5, 3)))
    assert window.first.weekday() == 0
    assert window.last == ON + dt.timedelta(5 + 14)
