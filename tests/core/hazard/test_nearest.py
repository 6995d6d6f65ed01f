"""The nearest shares of a blend that lose a label element: they lose it, and none is nearer."""

from datetime import date
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.hazard.classify import classify
from pourwright.core.hazard.elements import Judge, elements_on
from pourwright.core.hazard.headroom import GOALS, without
from pourwright.core.hazard.headroom_words import shares_as_json
from pourwright.core.hazard.label import elements_of
from pourwright.core.hazard.model import (
    Composition,
    Entry,
    HazardClass,
    Ingredient,
    Kind,
    Market,
    Range,
    Substance,
)
from pourwright.core.hazard.nearest import (
    MARGIN,
    NearestShares,
    NoShares,
    nearest_shares,
    with_shares,
)
from pourwright.core.hazard.paths import Dose, Doses, NoWalk, load_path

AT = {"market": Market.EU, "on": date(2026, 11, 25)}


def substance(name, kind, category):
    return Substance(name=name, entries=(Entry(hazard=HazardClass(kind, category)),))


LINALOOL = substance("linalool", Kind.SKIN_SENS, "1B")
CITRAL = substance("citral", Kind.SKIN_SENS, "1B")
WATER_1 = substance("musk", Kind.AQ_CHRONIC, "1")
WATER_2 = substance("benzyl benzoate", Kind.AQ_CHRONIC, "2")
WATER_2B = substance("another of category 2", Kind.AQ_CHRONIC, "2")
WATER_3 = substance("one of category 3", Kind.AQ_CHRONIC, "3")


def candle(*oils, wax=()):
    def composition(name, parts):
        return Composition(
            name=name,
            ingredients=tuple(
                Ingredient(substance=one, pct=Range(high=Fraction(pct))) for one, pct in parts
            ),
        )

    return Doses(
        waxes=(Dose(composition=composition("wax", wax), pct_of_wax=Fraction(100)),),
        oils=tuple(
            Dose(composition=composition(f"oil {n}", parts), pct_of_wax=Fraction(dose))
            for n, (dose, *parts) in enumerate(oils, 1)
        ),
    )


def misses(doses, shares, goal):
    """Return whether the whole classification of these shares still has what is unwanted."""
    found = classify(with_shares(doses, shares).mixture, **AT)
    return any(goal.unwanted(one) for one in elements_on(found.decision, elements_of(found)))


def test_one_sensitiser_is_thinned_just_below_its_limit():
    """
    5 and 5 of the wax, 22 % of linalool in the first: 110/110 = 1.0 % reaches the limit.

    Any shift to the second oil loses H317; a millionth below the limit is a millionth of a half.
    """
    doses = candle((5, (LINALOOL, 22)), (5, (WATER_3, 1)))
    found = nearest_shares(doses, without("H317"), **AT)
    assert found.shares[0] == Fraction(1, 2) * (1 - MARGIN)
    assert found.change == MARGIN
    assert found.rounded == (Fraction("0.4999"), Fraction("0.5001"))
    assert found.proven
    assert "H317" in {one.code for one in found.lost}
    assert "EUH208" in {one.code for one in found.gained}


def test_the_change_is_the_least_by_hand():
    """
    Oils of 40 %, 10 % and 0 % linalool, thirds of 9 on the wax: sum 150 in 109 must fall to 109.

    Moving from the first to the third takes 40 a unit: 41/40 of the wax, 41/360 of the blend.
    """
    doses = candle((3, (LINALOOL, 40)), (3, (LINALOOL, 10)), (3, (WATER_3, 1)))
    found = nearest_shares(doses, without("H317"), **AT)
    moved = Fraction(41, 360)
    assert found.change == pytest.approx(2 * moved, rel=1e-5)
    assert found.change > 2 * moved
    assert found.shares[1] == Fraction(1, 3)


def test_an_ingredient_is_dropped_below_its_cut_off_where_that_is_nearer():
    """
    Two of Chronic 2 at 1.6 and 1.1 %: 27 reaches 25; the second below 1 % leaves 16.

    Counted in full 0.2 % would have to go; below the cut-off little over 0.1 % is enough.
    """
    doses = candle(
        (5, (WATER_2, "35.2")), (5, (WATER_2B, "24.2")), (0, (LINALOOL, "0.1")),
    )  # fmt: skip
    assert [float(c) for c in doses.mixture.concentrations] == [1.6, 1.1, 0.0]
    found = nearest_shares(doses, without("H412"), **AT)
    assert found.proven
    # 1.1 to 1.0 is an eleventh of half the blend.
    assert found.change == pytest.approx(2 * Fraction(1, 22), rel=1e-4)
    assert found.shares[1] == pytest.approx(Fraction(1, 2) - Fraction(1, 22), rel=1e-4)


def test_shares_that_already_meet_the_goal_stay():
    doses = candle((3, (LINALOOL, 5)), (3, (WATER_3, 1)))
    found = nearest_shares(doses, without("H317"), **AT)
    assert (found.change, found.shares) == (0, (Fraction(1, 2), Fraction(1, 2)))
    assert not found.gained
    assert not found.lost


def test_where_every_oil_brings_it_there_are_no_shares():
    doses = candle((6, (LINALOOL, 40)), (6, (CITRAL, 60)))
    found = nearest_shares(doses, without("GHS07"), **AT)
    assert isinstance(found, NoShares)
    assert found.proven
    assert shares_as_json(found, names=("a", "b"))["shares"] is None


def test_a_single_oil_cannot_give_way():
    assert isinstance(nearest_shares(candle((9, (LINALOOL, 40))), without("H317"), **AT), NoShares)
    with pytest.raises(NoWalk, match="no oil"):
        nearest_shares(candle(), without("H317"), **AT)


def test_shares_are_told_with_the_oils_names():
    doses = candle((5, (LINALOOL, 22)), (5, (WATER_3, 1)))
    told = shares_as_json(nearest_shares(doses, without("H317"), **AT), names=("bay", "moss"))
    assert [(row["oil"], row["pct_of_blend"]) for row in told["shares"]] == [
        ("bay", 49.99),
        ("moss", 50.01),
    ]


GRAVER = {"no EUH208": "H317", "no H412": "H411"}
POOL = (LINALOOL, CITRAL, WATER_1, WATER_2, WATER_2B, WATER_3)


@st.composite
def blends(draw):
    oils = []
    for _ in range(draw(st.integers(2, 3))):
        chosen = draw(st.lists(st.sampled_from(POOL), unique_by=lambda one: one.name, max_size=4))
        parts = [(one, Fraction(draw(st.integers(1, 60)))) for one in chosen]
        oils.append((draw(st.integers(1, 6)), *parts))
    return candle(*oils)


@given(doses=blends(), goal=st.sampled_from([*GOALS, without("H412")]))
@settings(max_examples=30, deadline=None)
def test_no_shares_of_a_grid_are_nearer(doses, goal):
    found = nearest_shares(doses, goal, **AT)
    judge = Judge(load_path(doses).substances, **AT)
    load = doses.load_pct_of_wax
    present = [dose.pct_of_wax / load for dose in doses.oils]
    if isinstance(found, NearestShares):
        assert sum(found.shares) == 1
        assert min(found.shares) >= 0
        assert not misses(doses, found.shares, goal)
        if found.rounded:
            assert sum(found.rounded) == 1
            assert not misses(doses, found.rounded, goal)
    if not found.proven:
        return
    steps = 12
    for parts in product(range(steps + 1), repeat=len(present) - 1):
        if sum(parts) > steps:
            continue
        shares = [Fraction(part, steps) for part in (*parts, steps - sum(parts))]
        change = sum(abs(s - p) for s, p in zip(shares, present, strict=True))
        if isinstance(found, NearestShares) and change >= found.change * (1 - 100 * MARGIN):
            continue
        met = judge.met_at(with_shares(doses, shares).mixture.concentrations)
        # What only gives way to something graver is not lost.
        codes = {element.code for element in judge.elements(met)}
        gave_way = GRAVER.get(goal.key) in codes
        assert gave_way or any(goal.unwanted(one) for one in judge.elements(met)), shares
