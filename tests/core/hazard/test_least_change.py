"""The exact linear programme, against scipy's and by its own optimality."""

from fractions import Fraction

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from pourwright.core.hazard.least_change import Programme


def test_a_small_programme_by_hand():
    """x + 2y >= 3 and x <= 1 at cost x + y: x = 1 and y = 1 cost 2; y = 3/2 alone costs less."""
    programme = Programme([1, 1])
    programme.add([Fraction(-1), Fraction(-2)], Fraction(-3))
    programme.add([Fraction(1), Fraction(0)], Fraction(1))
    assert programme.solve()
    assert (programme.cost, programme.values) == (Fraction(3, 2), [0, Fraction(3, 2)])


def test_what_cannot_be_is_said():
    programme = Programme([1])
    programme.add([Fraction(-1)], Fraction(-2))
    programme.add([Fraction(1)], Fraction(1))
    assert not programme.solve()


@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_agrees_with_scipy_also_when_rows_come_later(data):
    count = data.draw(st.integers(1, 5))
    cost = data.draw(st.lists(st.integers(0, 5), min_size=count, max_size=count))
    number = st.integers(-12, 12).map(lambda n: Fraction(n, 4))
    rows = data.draw(
        st.lists(
            st.tuples(st.lists(number, min_size=count, max_size=count), number),
            min_size=1,
            max_size=7,
        )
    )
    programme = Programme(cost)
    solved = True
    for row, at_most in rows:
        programme.add(row, at_most)
        solved = solved and programme.solve()
    known = linprog(
        cost,
        A_ub=np.array([[float(value) for value in row] for row, _ in rows]),
        b_ub=[float(at_most) for _, at_most in rows],
    )
    assert solved == known.success
    if solved:
        values = programme.values
        assert all(value >= 0 for value in values)
        for row, at_most in rows:
            assert sum(a * x for a, x in zip(row, values, strict=True)) <= at_most
        assert programme.cost == sum(c * x for c, x in zip(cost, values, strict=True))
        assert abs(float(programme.cost) - known.fun) < 1e-6
