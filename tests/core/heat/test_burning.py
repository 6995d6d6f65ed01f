"""Burning: laws of mass and energy, limits, and what follows from what."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from pourwright.core.heat.burning import (
    BadBurn,
    Candle,
    simulate_burn,
    simulate_life,
    with_flame,
)
from pourwright.core.heat.flame import near_wick, seen_from_axis, seen_from_ring
from pourwright.core.heat.losses import Room
from pourwright.core.heat.materials import flame_values, wall, wax

CANDLE = Candle(
    wax=wax("paraffin"), wall=wall("glass"), inside_diameter_mm=72, wax_depth_mm=40, rim_mm=70,
    burn_rate_g_h=3.2,
)  # fmt: skip


def quick(candle, **keywords):
    return simulate_burn(
        candle, **{"hours": 2, "cell_mm": 4, "probe_s": 120, "pictures": 0, **keywords}
    )


@pytest.fixture(scope="module")
def burn():
    return simulate_burn(CANDLE, hours=3, cell_mm=3, probe_s=120)


def test_mass_and_energy_close(burn):
    assert burn.mass_error_g < 1e-9
    assert burn.energy_error < 0.005
    assert burn.burned_g == pytest.approx(3 * 3.2, rel=1e-12)


def test_a_pool_grows_and_warms_the_wall(burn):
    assert np.all(np.diff(burn.pool_mm) > -2)
    assert 40 < burn.at(burn.pool_mm, 2) < 72
    assert 3 < burn.depth_mm[-1] < 20
    assert burn.wall_c[-1] > burn.wall_c[5] > 21
    assert burn.level_mm[-1] < 40
    assert burn.pictures[0][0] == 0


def test_an_uncalibrated_burn_says_that_it_is_unverified(burn):
    assert any("Unverified" in said for said in burn.words)
    fitted = replace(burn, candle=replace(CANDLE, calibrated=True))
    assert not any("Unverified" in said for said in fitted.words)
    assert any("passes no candle" in said for said in fitted.words)


@pytest.mark.parametrize(
    "more",
    [
        {"burn_rate_g_h": 4.2}, {"room": Room(air_c=28)},
        {"wax": wax("paraffin", melting_end_c=50)},
        {"flame": flame_values(returned_share=0.08)},
    ],
)  # fmt: skip
def test_what_makes_a_pool_larger(more):
    usual, larger = quick(CANDLE), quick(replace(CANDLE, **more))
    assert larger.pool_mm[-1] > usual.pool_mm[-1] + 0.5


def test_a_ring_of_wicks_melts_more_than_one_wick_in_the_middle():
    one = replace(CANDLE, burn_rate_g_h=6.0)
    ring = replace(CANDLE, burn_rate_g_h=2.0, wicks=3, ring_radius_mm=18)
    assert ring.heat_w == pytest.approx(one.heat_w)
    middle, round_ = quick(one), quick(ring)
    assert round_.wall_c[10] > middle.wall_c[10]
    assert round_.wick_c[-1] < middle.wick_c[-1]


def test_a_small_wick_tunnels_and_a_large_one_overheats():
    small = quick(replace(CANDLE, burn_rate_g_h=1.5))
    assert small.touches_h is None
    assert any("tunnelling" in flag for flag in small.flags)
    large = quick(replace(CANDLE, burn_rate_g_h=9.0))
    assert large.touches_h is not None
    assert any("overheating" in flag for flag in large.flags)
    assert any("flame" in flag for flag in large.flags)


def test_a_life_with_a_small_wick_leaves_a_ring_standing():
    squat = replace(CANDLE, wax_depth_mm=24)
    lives = [
        simulate_life(replace(squat, burn_rate_g_h=rate), burn_hours=3, left_mm=10, cell_mm=6)
        for rate in (1.6, 4.5)
    ]
    assert lives[0].tunnels
    assert not lives[1].tunnels
    for life in lives:
        density = squat.wax.density_kg_m3
        assert life.burned_g + life.left_g == pytest.approx(density * pi * 0.036**2 * 24, rel=1e-9)
    assert lives[0].hours < (squat.fill_g - 10 / 24 * squat.fill_g) / 1.6 * 1.0001


def test_all_radiation_lands_or_leaves():
    """A point over an endless plane gives it half; over a disc the solid angle of the cone."""
    radii, tops = np.linspace(0, 0.04, 41), np.full(40, 0.05)
    wall_faces = np.linspace(0, 0.09, 46)
    seen = seen_from_axis(radii, tops, wall_faces, (0.02,))
    cone = (1 - 0.02 / np.hypot(0.02, 0.04)) / 2
    assert seen.tops.sum() == pytest.approx(cone, rel=1e-9)
    # 20 mm below the rim: the same cone is open upward.
    assert seen.wall.sum() == pytest.approx(1 - 2 * cone, rel=1e-9)
    level = seen_from_ring(radii, 0.05, wall_faces, (0.02,), 0.0)
    np.testing.assert_allclose(level.tops, seen.tops, rtol=2e-3)
    np.testing.assert_allclose(level.wall, seen.wall, atol=2e-4)
    off = seen_from_ring(radii, 0.05, wall_faces, (0.02,), 0.02)
    assert off.tops.sum() < level.tops.sum()
    assert off.tops.sum() + off.wall.sum() < 1


def test_a_ring_that_stands_high_is_seen_from_inside_and_hides_what_is_behind():
    radii = np.linspace(0, 0.04, 41)
    tops = np.where(np.arange(40) < 30, 0.03, 0.05)
    seen = seen_from_axis(radii, tops, np.linspace(0, 0.05, 26), (0.012,))
    assert seen.cliffs[30] > 0.2
    assert seen.cliffs.sum() == pytest.approx(seen.cliffs[30])
    assert seen.tops[30:].sum() == 0  # its top is higher than the flame


def test_the_heat_near_the_wicks_is_shared_out_whole():
    radii = np.linspace(0, 0.05, 26)
    for ring in (0.0, 0.02):
        share = near_wick(radii, ring_radius_m=ring, width_m=0.005)
        assert share.sum() == pytest.approx(1)
        assert abs((radii[1:] + radii[:-1])[np.argmax(share)] / 2 - ring) < 0.007


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"burn_rate_g_h": 60}, "burn rate"), ({"wicks": 0}, "wicks"), ({"wicks": 3}, "ring"),
        ({"ring_radius_mm": 40}, "ring"), ({"room": Room(air_c=44)}, "melting already"),
        ({"rim_mm": 30}, "runs over"),
        ({"flame": flame_values(radiated_share=0.9)}, "less than 0.8"),
    ],
)  # fmt: skip
def test_candles_that_cannot_be(change, word):
    with pytest.raises(BadBurn, match=word):
        replace(CANDLE, **change)


def test_a_candle_that_burns_out_says_so():
    low = replace(CANDLE, wax_depth_mm=6, burn_rate_g_h=12)
    ended = quick(low, hours=4, cell_mm=3, probe_s=300)
    assert "used up" in ended.ended_early


def test_flame_values_can_be_changed():
    assert with_flame(CANDLE, returned_share=0.07).flame.returned_share == 0.07


def test_a_whole_number_is_a_temperature_like_any_other():
    """A room of 21 is a room of 21.0; whole numbers must not make whole temperatures."""
    whole, real = (quick(replace(CANDLE, room=Room(air_c=c)), hours=1) for c in (21, 21.0))
    assert whole.wall_c[-1] == real.wall_c[-1]
