"""Fitting the burn model: a known truth is found again where it shows, and bands narrow."""

from dataclasses import replace

import numpy as np
import pytest

from pourwright.core.heat.burning import Candle, simulate_burn, with_flame
from pourwright.core.heat.calibrate import BadRecord, Recorded, calibrate, forecast
from pourwright.core.heat.materials import wall, wax

CELL = 5.0
CANDLE = Candle(
    wax=wax("soy"), wall=wall("glass"), inside_diameter_mm=90, wax_depth_mm=40, rim_mm=60,
    burn_rate_g_h=3.4,
)  # fmt: skip


def recorded(candle, hours=3.0):
    """Return what a burn of the model itself would read, to the half millimetre."""
    burn = simulate_burn(candle, hours=hours, cell_mm=CELL, pictures=0)
    return Recorded(
        candle=candle,
        hours=hours,
        pool_mm=tuple((h, round(2 * burn.at(burn.pool_mm, h)) / 2) for h in (1.0, 2.0, 3.0)),
        depth_mm=round(float(burn.depth_mm[-1]), 1),
        wall_c=round(float(burn.wall_c.max()), 1),
    )


@pytest.fixture(scope="module")
def fitted():
    truth = with_flame(CANDLE, returned_share=0.04, radiated_share=0.15)
    one = recorded(truth)
    # The planner does not know the truth.
    return truth, calibrate([replace(one, candle=CANDLE)], cell_mm=CELL)


def test_forecasts_of_another_wick_come_near_the_truth(fitted):
    truth, calibration = fitted
    other = {"burn_rate_g_h": 2.9}
    true = simulate_burn(replace(truth, **other), hours=3, cell_mm=CELL, pictures=0)
    guess = simulate_burn(replace(CANDLE, **other), hours=3, cell_mm=CELL, pictures=0)
    told = simulate_burn(
        calibration.applied(replace(CANDLE, **other)), hours=3, cell_mm=CELL, pictures=0
    )
    before = abs(guess.pool_mm[-1] - true.pool_mm[-1])
    after = abs(told.pool_mm[-1] - true.pool_mm[-1])
    assert after < 3
    assert after < before
    assert abs(told.wall_c[-1] - true.wall_c[-1]) < 2
    assert told.candle.calibrated


def test_the_fit_is_as_good_as_the_readings(fitted):
    _, calibration = fitted
    assert calibration.misfit < 1
    assert set(calibration.log_sd) == {"returned_share", "radiated_share", "pool_mixing_outward"}
    assert all(0 < calibration.log_sd[k] < p for k, p in zip(
        ("returned_share", "radiated_share", "pool_mixing_outward"), (0.5, 0.3, 0.71), strict=True
    ))  # fmt: skip


def test_the_band_narrows_and_holds_the_truth(fitted):
    truth, calibration = fitted
    wide = forecast(CANDLE, hours=3, cell_mm=CELL)
    narrow = forecast(CANDLE, calibration=calibration, hours=3, cell_mm=CELL)
    assert not wide.calibrated
    assert narrow.calibrated
    width = [np.mean(b.high["depth_mm"] - b.low["depth_mm"]) for b in (wide, narrow)]
    assert width[1] < width[0]
    true = simulate_burn(truth, hours=3, cell_mm=CELL, pictures=0)
    inside = (true.pool_mm >= narrow.low["pool_mm"]) & (true.pool_mm <= narrow.high["pool_mm"])
    assert inside.mean() > 0.9


def test_readings_after_the_touch_say_nothing():
    one = Recorded(
        candle=CANDLE, hours=4, pool_mm=((1.0, 70.0), (2.0, 90.0), (3.0, 90.0)), touches_h=1.8
    )
    assert [kind for kind, _, _ in one.readings()] == ["pool", "touches"]


def test_records_that_cannot_be():
    with pytest.raises(BadRecord, match="at least one reading"):
        calibrate([Recorded(candle=CANDLE, hours=4)])
    with pytest.raises(BadRecord, match="wide"):
        Recorded(candle=CANDLE, hours=4, pool_mm=((1.0, 95.0),))
    with pytest.raises(BadRecord, match="long"):
        Recorded(candle=CANDLE, hours=40)
