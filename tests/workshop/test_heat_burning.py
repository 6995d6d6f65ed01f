"""How a candle burns, on its page: its range, the fit to the book, its life, its forecasts."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest
from django.urls import reverse

from candle_examples import set_up_bench
from conftest import AT, ON
from pourwright.core.heat.calibrate import Calibration
from pourwright.workshop.burns.models import BurnReading, TestBurn, TestPiece
from pourwright.workshop.heat import burning, recorded, services
from pourwright.workshop.heat import work as background
from pourwright.workshop.heat.candles import standing_of
from pourwright.workshop.heat.kept import as_kept, calibration_from, candle_from, recorded_from
from pourwright.workshop.heat.models import Forecast
from pourwright.workshop.house import jobs
from pourwright.workshop.house.models import Job
from pourwright.workshop.stores.models import WickFacts

pytestmark = pytest.mark.django_db
COARSE_MM = 8.0


@pytest.fixture(scope="module", autouse=True)
def _coarse():
    """Coarse, so that a page is quick; what the grid does is tested with the core."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(burning, "CELL_MM", COARSE_MM)
        patch.setattr(burning, "SOLID_CELL_MM", COARSE_MM)
        yield
    burning._burns.clear()
    burning._bands.clear()


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    WickFacts.objects.filter(item=made.version.wick).update(
        series="flat braid", burn_rate_g_h=Decimal("3.6")
    )
    made.version.refresh_from_db()
    return made


def burnt(bench, *, number=1, piece=None, grams=None, minutes=120, pool=((60, 40, 44),), room=20):
    """Enter a burn with its readings: minute and two widths of the pool."""
    if piece is None:
        piece = TestPiece.objects.create(
            number=f"T-{TestPiece.objects.count() + 1:04d}", version=bench.version,
            wick=bench.version.wick, trim_mm=6, fill_mg=bench.version.fill_mg, poured_on=ON,
            made_on=ON, at=AT,
        )  # fmt: skip
    burn = TestBurn.objects.create(
        piece=piece, number=number, lit_at=AT + timedelta(days=number), minutes=minutes,
        planned_minutes=120, room_c=room,
        mass_before_mg=None if grams is None else 500_000,
        mass_after_mg=None if grams is None else 500_000 - round(grams * 1000),
    )  # fmt: skip
    for minute, one, other in pool:
        BurnReading.objects.create(
            burn=burn, minute=minute, pool_mm=[str(one), str(other)], depth_mm=Decimal(7),
            wall_pool_c=Decimal(38), wall_dry_c=Decimal(41), at=AT,
        )  # fmt: skip
    return burn


def page(client, bench, query=""):
    answer = client.get(reverse("heat:burning", args=[bench.design.pk]) + query)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode().replace("\xa0", " "))


def words_of(answer) -> str:
    return re.sub(r"\s+", " ", answer.content.decode().replace("\xa0", " "))


# --- what it rests on ----------------------------------------------------------------------------


def test_the_rate_is_weighed_where_it_was_and_else_the_suppliers(bench):
    found = recorded.rate_of(bench.version.wick, bench.version)
    assert (found.g_h, found.words) == (3.6, "the supplier’s chart")
    burnt(bench, grams=8, minutes=120)
    burnt(bench, grams=13, minutes=180)
    burnt(bench, grams=None)
    found = recorded.rate_of(bench.version.wick, bench.version)
    assert found.g_h == pytest.approx(21 / 5)
    assert "2 burns" in found.words
    WickFacts.objects.update(burn_rate_g_h=None)
    TestBurn.objects.update(left_out="the scale was off")
    bench.version.refresh_from_db()
    assert recorded.rate_of(bench.version.wick, bench.version) is None


def test_a_burn_of_the_book_is_what_the_calibration_takes(bench):
    burn = burnt(bench, grams=8, minutes=120, pool=((60, 40, 44), (115, 50, 54)), room=18)
    (found,) = recorded.recorded_for(bench.version, bench.version.wick)
    assert found.hours == 2
    assert found.pool_mm == ((1.0, 42.0), (115 / 60, 52.0))
    assert found.depth_mm == 7  # read within the burn's last part
    assert found.wall_c == 41  # the hottest of the wall
    assert found.touches_h is None
    assert found.candle.burn_rate_g_h == pytest.approx(4)
    assert found.candle.room.air_c == 18
    burn.full_pool_minute = 100
    burn.save()
    assert recorded.recorded_for(bench.version, bench.version.wick)[0].touches_h == 100 / 60


def test_later_burns_of_a_piece_begin_with_the_wax_that_is_left(bench):
    first = burnt(bench, grams=20, minutes=240)
    burnt(bench, piece=first.piece, number=2, grams=8)
    one, two = recorded.recorded_for(bench.version, bench.version.wick)
    left = 1 - 20_000 / bench.version.fill_mg
    assert two.candle.wax_depth_mm == pytest.approx(one.candle.wax_depth_mm * left)
    assert two.candle.fill_g == pytest.approx(bench.version.fill_mg / 1000 - 20)


def test_only_burns_of_the_same_series_count_and_none_that_is_left_out(bench):
    burnt(bench, grams=8)
    other = bench.items["wick"].__class__.objects.create(
        kind="wick", name="Round 2", measure="count"
    )
    stranger = burnt(bench, grams=8)
    TestPiece.objects.filter(pk=stranger.piece_id).update(wick=other)
    left_out = burnt(bench, grams=8)
    TestBurn.objects.filter(pk=left_out.pk).update(left_out="a slip")
    assert len(recorded.recorded_for(bench.version, bench.version.wick)) == 1
    assert recorded.recorded_for(bench.version, bench.version.wick, before=AT) == []


def test_what_is_kept_comes_back_as_it_was(bench):
    burnt(bench, grams=8)
    (found,) = recorded.recorded_for(bench.version, bench.version.wick)
    assert recorded_from(as_kept(found)) == found
    assert candle_from(as_kept(found.candle)) == found.candle


# --- the page ------------------------------------------------------------------------------------


def test_the_page_tells_one_burn_and_then_its_range(client, bench):
    query = "?rate_g_h=3.6&hours=1&room_c=20"
    first = page(client, bench, query)
    assert "unverified" in first
    assert "passes no candle" in first
    assert "extinguisher" in first
    assert 'class="ln-band"' not in first
    rest = re.search(r'hx-get="([^"]*all=1[^"]*)"', first)[1].replace("&amp;", "&")
    ranged = words_of(client.get(rest, headers={"HX-Request": "true"}))
    assert ranged.count('class="ln-band"') >= 3
    assert re.search(r"\d+ to \d+ mm", ranged)


def test_what_was_measured_stands_on_the_range(client, bench):
    burnt(bench, pool=((20, 30, 34), (50, 41, 43)))
    query = "?rate_g_h=3.6&hours=1&room_c=20"
    words = page(client, bench, query)
    # Two readings in each of three charts, and each chart's key.
    assert words.count('class="ln-point"') == 3 * 2 + 3
    assert "Fit the model to them" in words


def test_without_a_rate_it_is_asked_for(client, bench):
    WickFacts.objects.update(burn_rate_g_h=None)
    words = page(client, bench)
    assert "is not known yet" in words
    assert "Say how fast a wick burns" in words
    assert "greater than or equal to 0.5" in page(client, bench, "?rate_g_h=0.1&hours=1&room_c=20")


CALIBRATED = Calibration(
    values={"returned_share": 0.06, "radiated_share": 0.17, "pool_mixing_outward": 60.0},
    log_sd={"returned_share": 0.1, "radiated_share": 0.2, "pool_mixing_outward": 0.3},
    covariance=np.diag([0.01, 0.04, 0.09]),
    prior_values={"returned_share": 0.055, "radiated_share": 0.17, "pool_mixing_outward": 50.0},
    misfit=0.8, residuals=(("pool", 1.0, 42.0, 43.0),), runs=17, burns=1, cell_mm=COARSE_MM,
)  # fmt: skip


def test_a_fit_is_asked_for_kept_by_its_burns_and_used(client, bench, monkeypatch):
    seen = []

    def fitted(recorded, *, cell_mm, told):
        seen.append(len(recorded))
        told(1)
        return CALIBRATED

    monkeypatch.setattr("pourwright.core.heat.calibrate.calibrate", fitted)
    burnt(bench, grams=8, pool=((20, 30, 34),))
    ask = {"do": "fit", "rate_g_h": "3.6", "hours": "1", "room_c": "20"}
    address = reverse("heat:burning", args=[bench.design.pk])
    assert client.post(address, ask).status_code == 302
    fit = burning.fit_for(bench.version, bench.version.wick)
    assert fit.calibration.values == CALIBRATED.values
    words = page(client, bench, "?rate_g_h=3.6&hours=1&room_c=20")
    assert "fitted to 1 burn of this wax" in words
    assert ">unverified<" not in words
    assert "Unverified:" not in words
    client.post(address, ask)
    assert seen == [1]  # the same burns are fitted once
    burnt(bench, grams=8, pool=((20, 30, 34),))
    assert burning.fit_for(bench.version, bench.version.wick).calibration is None


def test_its_life_is_burnt_down_in_the_background(client, bench, monkeypatch):
    monkeypatch.setattr(burning, "LEFT_MM", 56.0)
    ask = {"do": "life", "rate_g_h": "12", "hours": "1", "room_c": "20"}
    answer = client.post(reverse("heat:burning", args=[bench.design.pk]), ask)
    job = Job.objects.get(kind="heat.life")
    assert job.state == "done", job.problem
    assert job.result["burns"][-1]["till_h"] == pytest.approx(job.result["hours"])
    assert len(job.result["film"].split("\n")) == len(job.result["burns"]) + 1
    words = page(client, bench, "?" + answer["Location"].partition("?")[2].partition("#")[0])
    assert "Unmelted ring at the end" in words
    assert "Burn by burn" in words


def test_several_wicks_are_burnt_each_where_it_stands(client, bench):
    bench.version.wick_count = 3
    bench.version.save()
    ask = {"do": "solid", "rate_g_h": "2", "hours": "0.5", "room_c": "20"}
    answer = client.post(reverse("heat:burning", args=[bench.design.pk]), ask)
    job = Job.objects.get(kind="heat.solid")
    assert job.state == "done", job.problem
    assert len(job.result["positions_mm"]) == 3
    words = page(client, bench, "?" + answer["Location"].partition("?")[2].partition("#")[0])
    assert "The pool from above, to scale" in words
    assert "burn hotter" in words


# --- forecasts -----------------------------------------------------------------------------------


@pytest.fixture
def worked_out(settings):
    settings.FORECAST_WHEN_LIT = True


def test_a_burn_that_is_lit_keeps_its_forecast_and_is_measured_by_it(client, bench, worked_out):
    burn = burnt(bench, minutes=None, pool=())
    TestBurn.objects.filter(pk=burn.pk).update(planned_minutes=60)
    burn.refresh_from_db()
    kept = services.forecast_for_burn(burn.piece, on=ON, at=burn.lit_at, burn=burn)
    kept.refresh_from_db()
    assert not kept.calibrated
    assert kept.inputs["recorded"] == []
    assert set(kept.values) == {"pool_mm 1", "depth_mm 1", "wall_c 1"}
    assert services.forecast_for_burn(burn.piece, on=ON, at=AT, burn=burn).pk == kept.pk
    band = services.band_for(burn)
    hours, low, high = band.bands["pool_mm"][-1]
    assert hours == 1
    assert low < high
    assert kept.basis in band.words
    middle = kept.values["pool_mm 1"]["value"]
    for minute, width in ((58, middle), (20, 5)):  # the later one is near its time
        BurnReading.objects.create(
            burn=burn, minute=minute, pool_mm=[str(round(width, 1))] * 2, at=AT
        )
    (pool, *_) = services.hits(kept)
    assert pool.recorded == pytest.approx(middle, abs=0.1)
    assert pool.within
    TestBurn.objects.filter(pk=burn.pk).update(minutes=60)
    words = words_of(client.get(reverse("heat:score")))
    assert burn.piece.number in words
    assert "Burning" in words
    assert "in the range" in words_of(client.get(reverse("heat:forecast", args=[kept.pk])))


def test_a_burn_of_which_too_little_is_known_has_no_forecast(bench):
    WickFacts.objects.update(burn_rate_g_h=None)
    bench.version.refresh_from_db()
    assert services.forecast_for_burn(bench.version, on=ON, at=AT) is None
    assert not Forecast.objects.exists()


def test_values_that_were_not_worked_out_can_be_asked_for(client, bench):
    kept = services.forecast_for_burn(bench.version, on=ON, at=AT)
    kept.inputs["hours"] = 0.5
    kept.save()
    address = reverse("heat:forecast", args=[kept.pk])
    assert "Work it out" in words_of(client.get(address))
    client.post(address)
    kept.refresh_from_db()
    assert kept.values
    assert "unverified" in kept.basis


def test_a_forecast_rests_on_a_fit_to_the_burns_before_it(bench, monkeypatch, worked_out):
    monkeypatch.setattr(background, "calibrated", lambda args, watch: as_kept(CALIBRATED))
    burnt(bench, grams=8, pool=((20, 30, 34),))
    kept = services.forecast_for_burn(bench.version, on=ON, at=AT + timedelta(days=5))
    kept.refresh_from_db()
    assert kept.calibrated
    assert "fitted to 1 burn of yours" in kept.basis
    # The fit is kept for the page, which asks the same.
    fit = burning.fit_for(bench.version, bench.version.wick)
    assert fit.calibration.values == calibration_from(as_kept(CALIBRATED)).values


def test_a_forecast_of_a_burn_is_kept_from_the_page(client, bench):
    ask = {"do": "keep", "rate_g_h": "3.6", "hours": "1", "room_c": "20"}
    answer = client.post(reverse("heat:burning", args=[bench.design.pk]), ask)
    kept = Forecast.objects.get()
    assert answer["Location"] == reverse("heat:forecast", args=[kept.pk])
    assert kept.by_hand
    assert kept.curve["wall_c"][0][0] == 0
    assert candle_from(kept.inputs["candle"]).burn_rate_g_h == 3.6


def test_a_question_asked_again_is_the_same_job(bench):
    candle = recorded.candle_of(standing_of(bench.version), rate_g_h=3.6, wicks=1)
    first = jobs.key_of("heat.life", burning.life_args(candle, hours=4.0, units="metric"))
    again = jobs.key_of("heat.life", burning.life_args(candle, hours=4.0, units="metric"))
    other = jobs.key_of("heat.life", burning.life_args(candle, hours=3.0, units="metric"))
    assert first == again != other
