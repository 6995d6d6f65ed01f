"""
The limits of a test burn, each at its exact edge.

EN 15493:2007 and 2019 and EN 15426:2018 as summarised by test houses (SGS, TÜV SÜD; scope of
EN 15426 from CEN); the standards themselves were not read. House limits: the trade's common
practice, no source.
"""

from fractions import Fraction

import pytest

from burn_examples import CANDLE, ON, READINGS, burn, changed, reading
from pourwright.core.burns.record import Candle
from pourwright.core.burns.verdict import judge_burn

F = Fraction

EDGE = F(1, 100)


def verdict(made, candle=CANDLE):
    return judge_burn(made, candle, on=ON).verdict


@pytest.mark.parametrize(
    ("make", "limit", "worse", "where"),
    [
        (lambda v: changed(120, flame_mm=(v,)), 75, "fail", "EN 15493: flame at most 75 mm"),
        (lambda v: burn(secondary_flame_s=v), 10, "fail", "EN 15493: secondary ignition over 10 s"),
        (lambda v: burn(afterglow_s=(v - 4, v + 4)), 30, "fail", "EN 15493:2019: mean of 30 s"),
        (lambda v: changed(240, wall_dry_c=v), 60, "warn", "house, common practice"),
        (lambda v: changed(240, base_c=v), 75, "fail", "house, common practice"),
        (lambda v: changed(240, depth_mm=v), 13, "over-wicked", "house, common practice"),
        (lambda v: burn(full_pool_minute=v), 240, None, "house, common practice: 3 inches, 4 h"),
        (lambda v: changed(30, flame_mm=(v,)), 50, "warn", "house: warning"),
    ],
)  # fmt: skip
def test_a_reading_at_the_limit_keeps_it_and_one_above_does_not(make, limit, worse, where):
    at = verdict(make(F(limit)))
    assert at in ("criteria met", "warn"), where
    assert at != worse, where
    if worse is not None:
        assert verdict(make(limit + EDGE)) == worse, where


def test_a_tea_light_has_its_own_flame():
    """EN 15493: tea lights at most 30 mm."""
    tea = Candle(inside_diameter_mm=F(38), tea_light=True, container=False)
    full = tuple(reading(m, 40, flame_mm=(F(30),)) for m in (30, 60, 120, 150, 180, 240))
    watched = {"full_pool_minute": F(100)}
    assert verdict(burn(readings=full, **watched), tea) != "fail"
    high = (reading(30, 40, flame_mm=(F(30) + EDGE,)), *full[1:])
    assert verdict(burn(readings=high, **watched), tea) == "fail"


def test_the_pool_is_full_in_its_time_and_not_before_half_of_it():
    """An hour an inch and one more: 2.5 inches by 3 h 30 min, half of which is 1 h 45 min."""
    small = Candle(inside_diameter_mm=F("63.5"))
    seen = tuple(reading(r.minute, 40) for r in READINGS)

    def at(minute):
        read = tuple(r for r in seen if r.minute < minute) + tuple(
            reading(r.minute, 64) for r in seen if r.minute >= minute
        )
        return verdict(burn(readings=read, full_pool_minute=F(minute)), small)

    assert [at(F(105) - EDGE), at(105), at(210), at(F(210) + EDGE)] == [
        "over-wicked", "criteria met", "criteria met", "under-wicked"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("candle", "room", "expected"),
    [
        (Candle(inside_diameter_mm=F(100)), 25, False),
        (Candle(inside_diameter_mm=F(100) + EDGE), 25, True),
        (Candle(inside_diameter_mm=F(90), wick_count=2), 20, True),
        (Candle(inside_diameter_mm=F(90)), 15, False),
        (Candle(inside_diameter_mm=F(90)), F(15) - EDGE, True),
        (Candle(inside_diameter_mm=F(90)), F(25) + EDGE, True),
    ],
)
def test_a_soot_index_is_for_one_wick_100_mm_and_20_plus_minus_5_degrees(candle, room, expected):
    """EN 15426:2018, scope (read) and room (a laboratory's page)."""
    found = judge_burn(burn(soot_index=F("0.5"), room_c=F(room)), candle, on=ON)
    assert any(finding.verdict == "out of scope" for finding in found.findings) is expected
