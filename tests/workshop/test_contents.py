"""Net contents in the workshop: the log, the checks, the gate, and what scales are leant on."""

from datetime import timedelta
from decimal import Decimal

import pytest

from candle_examples import lot_of, pour, set_up_bench
from conftest import AT, ON
from pourwright.core.contents import BadSample
from pourwright.core.release import GateClosed
from pourwright.intake.fills import Weighed
from pourwright.workshop.contents import queries, services
from pourwright.workshop.contents.models import Fill, Instrument, NetCheck
from pourwright.workshop.designs.services import revise, spec_of
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Decision, Finishing
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Origin, Place

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]
LATER = AT + timedelta(hours=1)


@pytest.fixture
def bench(workshop):
    workshop.markets = "us,gb"
    workshop.save()
    made = set_up_bench()
    made.version.declared = "7.5 oz (212 g)"
    made.version.save()
    return made


def lot_with(bench, workshop, *nets_g, size=6, seconds=0):
    """A lot of six, its candles weighed."""
    lot = lot_of(pour(bench, good=size, seconds=seconds))
    weigh(lot, *nets_g)
    return lot


def weigh(lot, *nets_g, at=AT):
    fills = [Weighed(net_mg=round(net * 1000)) for net in nets_g]
    return services.log_fills(lot, fills, by="Ada", at=at)


def check(lot, bench, workshop, at=AT, size=6):
    return services.check_lot(
        lot, version=bench.version, workshop=workshop, lot_size=size, by="Ada", on=ON, at=at
    )


def net_of(lot):
    return next(check for check in gates.lot_checks(lot, on=ON) if check.name == "net")


GOOD = (213, 212.8, 213.4, 212.9, 213.2, 213.1)
SHORT = (211.1, 211.3, 211.0, 211.2, 211.1, 211.2)


# --- the fill log --------------------------------------------------------------------------------


def test_a_vessel_weighed_empty_gets_its_net_weight_when_it_is_filled(bench, workshop):
    lot = lot_with(bench, workshop, 213)
    (empty,) = services.log_fills(lot, [Weighed(empty_mg=150_000)], by="Ada", at=AT)
    assert (empty.number, empty.net_mg) == (2, None)
    assert len(queries.standing_fills(lot)) == 1
    filled = services.fill_later(empty, full_mg=363_500, by="Ada", at=AT)
    assert filled.net_mg == 213_500
    services.fill_later(filled, full_mg=363_500, by="Ada", at=AT)  # sent twice
    with pytest.raises(services.CannotWeigh, match="was weighed filled before"):
        services.fill_later(filled, full_mg=364_000, by="Ada", at=AT)


def test_the_same_entry_sent_twice_is_one(bench, workshop):
    from uuid import uuid4

    lot, key = lot_with(bench, workshop, 213), uuid4()
    for _ in range(2):
        services.log_fills(lot, [Weighed(net_mg=212_000)], by="Ada", at=AT, client_id=key)
    assert queries.fills_of(lot).count() == 2


@pytest.mark.parametrize(
    ("one", "says"),
    [
        (Weighed(empty_mg=5, full_mg=4), "filled must be more"),
        (Weighed(full_mg=4), "not weighed empty"),
        (Weighed(net_mg=4, full_mg=4), "net weight, or empty"),
        (Weighed(), "has no weight"),
    ],
)
def test_a_weight_that_cannot_be_is_refused(bench, workshop, one, says):
    with pytest.raises(services.CannotWeigh, match=says):
        services.log_fills(lot_with(bench, workshop, 213), [one], by="Ada", at=AT)


def test_what_was_wrong_is_left_out_with_a_reason_and_stays(bench, workshop):
    lot = lot_with(bench, workshop, 213, 500)
    wrong = queries.fills_of(lot).last()
    with pytest.raises(services.CannotWeigh, match="needs a reason"):
        services.leave_out(wrong, reason=" ")
    services.leave_out(wrong, reason="two on the pan")
    assert [fill.net_mg for fill in queries.standing_fills(lot)] == [213_000]
    assert Fill.objects.count() == 2


def test_fills_of_a_filling_belong_to_the_lot_it_becomes(bench, workshop):
    lot = lot_of(pour(bench))
    services.log_fills(lot.filling, [Weighed(net_mg=213_000)], by="Ada", at=AT)
    assert len(queries.standing_fills(lot)) == 1


# --- checks and the gate -------------------------------------------------------------------------


def test_a_lot_without_a_check_is_open_and_can_be_passed_with_a_reason(bench, workshop):
    lot = lot_of(pour(bench))
    assert (net_of(lot).state, net_of(lot).gaps) == ("open", ("net check",))
    gates.waive(subject=lot, check_name="net", reason="weighed on paper", by="Ada", at=AT)
    assert net_of(lot).state == "waived"


def test_a_check_of_every_market_opens_the_gate_and_names_rule_and_label(bench, workshop):
    lot = lot_with(bench, workshop, *GOOD)
    made = check(lot, bench, workshop)
    assert [(c.market, c.verdict, c.weighed) for c in made] == [
        ("us", "pass", 6),
        ("gb", "pass", 6),
    ]
    assert net_of(lot).state == "met"
    assert "Handbook 133" in net_of(lot).detail
    assert "7.5 oz (212 g)" in net_of(lot).detail
    kept = NetCheck.objects.get(market="us").result
    assert any("from memory" in step["status"] for step in kept["steps"])
    assert kept["nets_mg"][0] == 213_000


def test_a_market_that_comes_later_opens_the_check_again(bench, workshop):
    lot = lot_with(bench, workshop, *GOOD)
    check(lot, bench, workshop)
    workshop.markets = "us,gb,eu"
    workshop.save()
    assert net_of(lot).gaps == ("net check for eu",)


def test_too_few_weights_are_no_check(bench, workshop):
    lot = lot_with(bench, workshop, *GOOD[:4])
    with pytest.raises(BadSample, match="Weigh 2 more"):
        check(lot, bench, workshop)
    assert not NetCheck.objects.exists()


def test_a_short_lot_is_refused_whatever_reason_is_written(bench, workshop):
    lot = lot_of(pour(bench, good=6))
    gates.waive(subject=lot, check_name="net", reason="looks full", by="Ada", at=AT)
    weigh(lot, *SHORT)
    check(lot, bench, workshop)
    assert net_of(lot).state == "refused"
    with pytest.raises(GateClosed, match="cannot be passed by hand"):
        gates.waive(subject=lot, check_name="net", reason="nearly", by="Ada", at=AT)
    with pytest.raises(services.CannotCheck, match="another sample of the same fills is no check"):
        check(lot, bench, workshop)


def test_a_reworked_lot_is_weighed_anew_and_passes(bench, workshop):
    lot = lot_with(bench, workshop, *SHORT)
    check(lot, bench, workshop)
    services.rework(lot, reason="topped up to the line", by="Ada", at=LATER)
    assert net_of(lot).state == "refused"
    assert queries.standing_fills(lot) == []
    weigh(lot, *GOOD, at=LATER + timedelta(minutes=5))
    check(lot, bench, workshop, at=LATER + timedelta(minutes=9))
    assert net_of(lot).state == "met"


def relabel(lot, bench, workshop, declared, reason="short by a gram; new labels printed"):
    return services.relabel(
        lot, declared=declared, version=bench.version, workshop=workshop, lot_size=6,
        reason=reason, by="Ada", on=ON, at=LATER,
    )  # fmt: skip


def test_a_relabelled_lot_passes_when_its_new_label_is_true(bench, workshop):
    lot = lot_with(bench, workshop, *SHORT)
    check(lot, bench, workshop)
    with pytest.raises(services.CannotCheck, match="not true of this lot either"):
        relabel(lot, bench, workshop, "212 g")
    with pytest.raises(services.CannotCheck, match="needs a reason"):
        relabel(lot, bench, workshop, "210 g", reason=" ")
    assert net_of(lot).state == "refused"
    relabel(lot, bench, workshop, "7.4 oz (209 g)")
    assert net_of(lot).state == "met"
    label = queries.label_of(lot, bench.version)
    assert (label.text, label.origin) == ("7.4 oz (209 g)", "relabelled")


def test_a_short_lot_is_not_sold_as_seconds_either(bench, workshop):
    lot = lot_with(bench, workshop, *SHORT, seconds=2)
    check(lot, bench, workshop)
    aside = stores.set_aside(lot=lot, place=Place.SHELF, qty=2, origin=Origin.SECONDS, on=ON, at=AT)
    of_the_pour = lot.filling.seconds_lot
    assert net_of(aside).state == "refused"
    assert net_of(of_the_pour).state == "refused"
    relabel(lot, bench, workshop, "209 g")
    assert net_of(aside).state == "met"
    assert "209 g" in queries.label_of(aside, bench.version).text
    assert net_of(of_the_pour).state == "open"  # it was never weighed itself


def released(lot, version):
    for subject in (version, lot):
        for one in gates.checks_of(subject, on=ON):
            if one.state == "open":
                gates.waive(subject=subject, check_name=one.name, reason="known", by="A", at=AT)
        gates.release(subject, by="Ada", on=ON, at=AT)


@pytest.mark.parametrize("what", ["short", "reworked"])
def test_a_release_is_withdrawn_when_its_net_check_no_longer_holds(bench, workshop, what):
    lot = lot_with(bench, workshop, *GOOD)
    check(lot, bench, workshop)
    lot.ready_on = ON
    lot.save()
    Finishing.objects.create(lot=lot, **dict.fromkeys(Finishing.CHECKS, True))
    released(lot, bench.version)
    assert gates.sellable(bench.design, on=ON)
    if what == "reworked":
        services.rework(lot, reason="tops melted smooth again", by="Ada", at=LATER)
    else:
        weigh(lot, *(net - 3 for net in SHORT))
        check(lot, bench, workshop, size=12)
    assert gates.sellable(bench.design, on=ON) == []
    last = Decision.objects.filter(lot=lot).last()
    assert (last.what, last.by) == ("withdrawn", gates.PROGRAM)
    assert "Net contents" in last.reason


def test_what_comes_back_leans_on_the_check_of_the_lot_it_was_sold_from(bench, workshop):
    lot = lot_with(bench, workshop, *GOOD)
    check(lot, bench, workshop)
    back = stores.set_aside(lot=lot, place=Place.SHELF, qty=1, origin=Origin.GIFT, on=ON, at=AT)
    assert net_of(back).state == "met"


def test_stock_from_before_the_books_has_no_label_until_it_is_given_one(bench, workshop):
    lot = stores.open_with(item=bench.candle, qty=6, value=3000, on=ON, at=AT, ready_on=ON)
    weigh(lot, *GOOD)
    with pytest.raises(services.CannotCheck, match="not known"):
        services.check_lot(lot, version=None, workshop=workshop, lot_size=6, by="Ada", on=ON, at=AT)
    assert queries.lot_size(lot) == 6
    services.relabel(
        lot, declared="212 g", version=None, workshop=workshop, lot_size=6, reason="new labels",
        by="Ada", on=ON, at=AT,
    )  # fmt: skip
    assert net_of(lot).state == "met"


# --- past fills ----------------------------------------------------------------------------------


def test_the_spread_within_lots_is_told_apart_from_that_between_them():
    found = queries.spread_of([[100.0, 102.0, 101.0, 101.0], [104.0, 106.0, 105.0, 105.0]])
    assert found.within_g == pytest.approx((4 / 6) ** 0.5)
    # means 101 and 105: variance 8, of which two thirds over four is the fills' own scatter
    assert found.between_g == pytest.approx((8 - (4 / 6) / 4) ** 0.5)
    assert queries.spread_of([[100.0]]).within_g is None
    assert queries.spread_of([]).mean_g is None


def test_past_fills_are_those_of_every_version_of_a_design(bench, workshop):
    lot = lot_with(bench, workshop, *GOOD)
    services.leave_out(queries.fills_of(lot).last(), reason="two on the pan")
    revise(bench.design, spec=spec_of(bench.version), on=ON)
    found = queries.past_fills(bench.design)
    assert (found.lots, found.fills) == (1, 5)
    assert queries.poured_a_year(bench.design, on=ON) == 6
    assert queries.poured_a_year(bench.design, on=ON - timedelta(days=1)) == 0


# --- scales and thermometers ---------------------------------------------------------------------


def a_scale(**more):
    about = {"what": "scale", "name": "Bench scale", "division_mg": 100} | more
    return services.keep_instrument(Instrument(**about))


@pytest.mark.parametrize(
    ("scale_class", "reading_mg", "allowed", "passed"),
    [
        ("", 400_100, "0.1", True), ("", 400_200, "0.1", False), ("II", 400_100, "0.05", False),
        ("III", 400_200, "0.15", False),
    ],
)  # fmt: skip
def test_a_test_weight_is_judged_by_the_scales_class(
    workshop, scale_class, reading_mg, allowed, passed
):
    scale = a_scale(scale_class=scale_class)
    made = services.check_scale(
        scale, test_mg=400_000, reading_mg=reading_mg, by="Ada", on=ON, at=AT
    )
    assert (made.allowed, made.passed) == (Decimal(allowed), passed)
    leaning = queries.leaning(scale, made, on=ON)
    assert leaning.leans == passed


def test_a_thermometer_is_judged_where_water_boils(workshop):
    probe = services.keep_instrument(Instrument(what="thermometer", name="Probe"))
    about = {"by": "Ada", "on": ON, "at": AT}
    ice = services.check_thermometer(probe, how="ice", reading_c=Decimal("0.4"), **about)
    assert ice.passed
    high = services.check_thermometer(
        probe, how="boiling", reading_c=Decimal(97), altitude_m=800, **about
    )
    assert high.passed
    assert Decimal("97.2") <= high.true_value <= Decimal("97.5")
    low = services.check_thermometer(
        probe, how="boiling", reading_c=Decimal(97), pressure_hpa=Decimal(1013), **about
    )
    assert not low.passed
    with pytest.raises(services.CannotKeep, match="altitude, or the pressure"):
        services.check_thermometer(probe, how="boiling", reading_c=Decimal(97), **about)
    with pytest.raises(services.CannotKeep, match="no scale"):
        services.check_scale(probe, test_mg=1, reading_mg=1, **about)
    with pytest.raises(services.CannotKeep, match="no thermometer"):
        services.check_thermometer(a_scale(), how="ice", reading_c=Decimal(0), **about)


def test_an_old_check_is_leant_on_no_longer(workshop):
    scale = a_scale()
    made = services.check_scale(scale, test_mg=1000, reading_mg=1000, by="A", on=ON, at=AT)
    (found,) = queries.leaning_on(on=ON + timedelta(days=200))
    assert (found.check, found.leans, found.tone) == (made, False, "warn")
    assert queries.newest_check_of(scale, by_day=ON - timedelta(days=1)) is None


def test_a_scale_needs_a_step_and_a_name_of_its_own(workshop):
    with pytest.raises(services.CannotKeep, match="smallest step"):
        a_scale(division_mg=None)
    a_scale()
    with pytest.raises(services.CannotKeep, match="already"):
        a_scale()
