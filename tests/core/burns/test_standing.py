"""Whether burns on record still speak for a design that has changed since."""

from dataclasses import replace
from fractions import Fraction

import pytest

from burn_examples import CANDLE, CHANGES, ON, TESTED, burn, changed, last_burn, piece
from pourwright.core.burns.record import Piece
from pourwright.core.burns.standing import Burnt, standing

SERIES = [Burnt(fingerprint=TESTED, piece=piece(name)) for name in "ABC"]
NEW_WAX_LOT = replace(TESTED, wax_revisions=CHANGES["wax_revisions"])
SMALL = ("wax_revisions", "oil_revisions", "wick_revision", "vessel_revision")


def stands(now, tested):
    return standing(now, tested, candle=CANDLE, on=ON)


def failing(name, **more):
    too_high = changed(60, flame_mm=(Fraction(80),))
    return Burnt(fingerprint=TESTED, piece=Piece(name=name, burns=(too_high, last_burn(2)), **more))


def test_nothing_burnt_is_no_series():
    found = stands(TESTED, [])
    assert (found.state, found.gaps, found.tests) == ("no series", ("burn series",), ())


def test_a_whole_series_of_exactly_this_candle_passes():
    assert stands(TESTED, SERIES).state == "passed"


def test_a_piece_too_few_is_not_complete():
    found = stands(TESTED, SERIES[:2])
    assert (found.state, found.gaps) == ("not complete", ("burn series",))
    assert "2 of 3" in found.says


@pytest.mark.parametrize("field", [name for name in CHANGES if name not in SMALL])
def test_any_change_of_the_candle_itself_asks_for_the_whole_series(field):
    found = stands(replace(TESTED, **{field: CHANGES[field]}), SERIES)
    assert (found.state, found.gaps) == ("no series", ("burn series",))
    assert "series" in {test.key for test in found.tests}
    assert "whole series" in found.says


@pytest.mark.parametrize("field", SMALL)
def test_a_suppliers_new_revision_asks_for_one_more_piece(field):
    now = replace(TESTED, **{field: CHANGES[field]})
    found = stands(now, SERIES)
    assert found.state == "no series"
    assert found.gaps != ("burn series",), "a reason given for no series must not cover this"
    one_more = [*SERIES, Burnt(fingerprint=now, piece=piece("D"))]
    assert stands(now, one_more).state == "passed"


def test_the_one_piece_after_a_small_change_is_burnt_for_its_whole_life():
    begun = Burnt(fingerprint=NEW_WAX_LOT, piece=Piece(name="D", burns=(burn(1), burn(2))))
    assert stands(NEW_WAX_LOT, [*SERIES, begun]).state == "not complete"


def test_a_small_change_after_an_incomplete_series_saves_nothing():
    found = stands(NEW_WAX_LOT, SERIES[:2])
    assert (found.state, found.gaps) == ("no series", ("burn series",))


def test_what_failed_in_a_mere_try_fails_the_candle():
    found = stands(TESTED, [*SERIES, failing("T", part_only=True)])
    assert found.state == "failed"
    assert "T, burn 1" in found.says


def test_a_try_that_met_the_criteria_need_not_be_burnt_to_its_end():
    tried = Burnt(fingerprint=TESTED, piece=Piece(name="T", burns=(burn(1),), part_only=True))
    assert stands(TESTED, [*SERIES, tried]).state == "passed"
    assert stands(TESTED, [tried]).state == "not complete"


def test_a_failure_of_another_candle_does_not_count_against_this_one():
    other = replace(failing("X"), fingerprint=replace(TESTED, wick_size="no. 9"))
    assert stands(TESTED, [*SERIES, other]).state == "passed"


def test_missed_criteria_name_each_finding_as_a_gap_of_its_own():
    deep = changed(240, depth_mm=Fraction(20))
    missed = Burnt(fingerprint=TESTED, piece=Piece(name="A", burns=(deep, last_burn(2))))
    found = stands(TESTED, [missed, *SERIES[1:]])
    assert found.state == "criteria not met"
    assert found.gaps
    assert all("A, burn 1" in gap for gap in found.gaps)
