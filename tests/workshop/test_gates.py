"""The gates: what keeps them shut, what a reason passes, and what may be sold."""

from datetime import timedelta
from decimal import Decimal

import pytest

from conftest import AT, ON
from design_examples import design, formula, oil, vessel, wax, wick
from pourwright.core.release import GateClosed
from pourwright.workshop.designs import services as designs
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Decision, Finishing
from pourwright.workshop.pours.models import Filling, Pitcher, Pour
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Lot, Origin, Place

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


def states(subject, on=ON):
    return {check.name: check.state for check in gates.checks_of(subject, on=on)}


def waive_open(subject):
    for check in gates.checks_of(subject, on=ON):
        if check.state == "open" and check.waivable:
            gates.waive(
                subject=subject, check_name=check.name, reason="known from before", by="Ada", at=AT
            )


def released(subject):
    waive_open(subject)
    gates.release(subject, by="Ada", on=ON, at=AT)
    return subject


def shelf_lot(version, qty=6, *, seconds=False, ready_on=ON, began_on=ON):
    """Put candles of a design version on the shelf as a pour would leave them."""
    lot = stores.open_with(
        item=version.design.candle, qty=qty, value=qty * 500, on=began_on, at=AT, ready_on=ready_on
    )
    pour = Pour.objects.create(number=f"T-{lot.pk}", on=ON, scale_division_mg=100, loss_pct=1)
    pitcher = Pitcher.objects.create(pour=pour, position=1, wax_mg=1, mix_mg=1)
    Filling.objects.create(
        pitcher=pitcher, design_version=version, wanted=qty,
        **{"seconds_lot" if seconds else "lot": lot},
    )  # fmt: skip
    lot.origin = Origin.SECONDS if seconds else Origin.POUR
    lot.save()
    return lot


# --- a design's gate -----------------------------------------------------------------------------


def test_a_design_with_all_papers_lacks_only_what_cannot_be_proved_yet(workshop):
    assert states(design()) == {
        "wax_limit": "met", "oil_limits": "met", "hazard": "open", "fill": "met",
        "vessel": "met", "wick": "met", "burns": "open",
    }  # fmt: skip


def test_each_missing_paper_opens_its_own_check(workshop):
    version = design(
        vessel=vessel(fit="", leak=None), wick=wick(lead_free=""),
        formula_version=formula(
            waxes=[(wax(limit=None, density_cold_g_ml=None), Decimal(1))],
            oils=[(oil(limit=None), Decimal(1))],
        ),
    )  # fmt: skip
    checks = {check.name: check for check in gates.design_checks(version, on=ON)}
    assert {check.state for check in checks.values()} == {"open"}
    assert "leak test" in checks["vessel"].detail
    assert "Fig leaf" in checks["oil_limits"].detail
    assert "density of the wax" in checks["fill"].detail
    assert all(check.waivable for check in checks.values())


def test_a_shut_gate_names_what_keeps_it_shut(workshop):
    with pytest.raises(GateClosed, match=r"Hazard class.*test burns"):
        gates.release(design(), by="Ada", on=ON, at=AT)
    assert not Decision.objects.exists()


def test_a_reason_passes_an_open_check_and_a_release_keeps_what_the_checks_said(workshop):
    version = design()
    waive_open(version)
    assert states(version)["burns"] == "waived"
    decision = gates.release(version, by="Ada", on=ON, at=AT)
    kept = {found["name"]: found for found in decision.findings}
    assert kept["burns"]["state"] == "waived"
    assert kept["burns"]["reason"] == "known from before"
    assert gates.is_released(version)


@pytest.mark.parametrize("reason", ["", "   "])
def test_passing_by_hand_needs_a_reason(workshop, reason):
    with pytest.raises(GateClosed, match="needs a reason"):
        gates.waive(subject=design(), check_name="burns", reason=reason, by="Ada", at=AT)


def test_what_is_met_is_not_passed_by_hand(workshop):
    with pytest.raises(GateClosed, match="is met"):
        gates.waive(subject=design(), check_name="wick", reason="sure", by="Ada", at=AT)


def test_an_oil_beyond_its_safety_limit_is_refused_and_cannot_be_passed(workshop):
    version = design()
    facts = version.formula_version.oils.get().item.oil
    facts.max_pct_of_whole = Decimal(5)
    facts.save()
    assert states(version)["oil_limits"] == "refused"
    with pytest.raises(GateClosed, match=r"cannot be passed by hand.*safety limit is 5 %"):
        gates.waive(subject=version, check_name="oil_limits", reason="it is fine", by="A", at=AT)


def test_a_reason_given_before_an_oil_was_found_beyond_its_limit_passes_nothing(workshop):
    fragrance = oil(limit=None)
    version = design(formula_version=formula(oils=[(fragrance, Decimal(1))]))
    released(version)
    fragrance.oil.max_pct_of_whole = Decimal(5)
    fragrance.oil.save()
    assert states(version)["oil_limits"] == "refused"
    assert not gates.is_released(version)


def test_an_override_of_the_waxs_limit_shows_as_passed_by_hand(workshop):
    version = design(
        formula_version=formula(
            waxes=[(wax(limit="6"), Decimal(1))], override_reason="tested over four burns"
        )
    )
    check = next(c for c in gates.design_checks(version, on=ON) if c.name == "wax_limit")
    assert (check.state, check.reason) == ("waived", "tested over four burns")


def test_taking_a_reason_back_withdraws_the_release(workshop):
    version = released(design())
    gates.unwaive(subject=version, check_name="burns", by="Ada", at=AT)
    assert not gates.is_released(version)
    last = Decision.objects.last()
    assert (last.what, last.by) == ("withdrawn", gates.PROGRAM)
    assert "test burns" in last.reason
    waive_open(version)
    gates.release(version, by="Ada", on=ON, at=AT)
    assert gates.is_released(version)


def test_a_struck_out_paper_withdraws_the_release_by_itself(workshop):
    version = released(design())
    other = released(design("Other", vessel=vessel("Tin"), wick=version.wick,
                            formula_version=version.formula_version))  # fmt: skip
    facts = version.vessel.vessel
    facts.fit_for_candles = ""
    facts.save()
    assert not gates.is_released(version)
    assert gates.is_released(other)


def test_a_new_market_is_not_covered_by_an_old_reason(workshop):
    version = released(design())
    workshop.markets = "us, eu"
    workshop.save()
    assert states(version)["hazard"] == "open"
    assert not gates.is_released(version)
    waive_open(version)
    workshop.markets = "eu"
    workshop.save()
    assert states(version)["hazard"] == "waived"


def test_a_withdrawal_needs_a_reason_and_a_release(workshop):
    version = design()
    with pytest.raises(GateClosed, match="is not released"):
        gates.withdraw(version, reason="cracked", by="Ada", at=AT)
    released(version)
    with pytest.raises(GateClosed, match="needs a reason"):
        gates.withdraw(version, reason=" ", by="Ada", at=AT)
    gates.withdraw(version, reason="cracked", by="Ada", at=AT)
    assert not gates.is_released(version)


def test_a_new_version_of_a_released_design_is_not_released(workshop):
    version = released(design())
    changed = designs.revise(
        version.design, spec=designs.DesignSpec(
            formula_version=version.formula_version, vessel=version.vessel, wick=version.wick,
            fill_mg=200_000,
        ), on=ON,
    )  # fmt: skip
    assert changed.number == 2
    assert not gates.is_released(changed)
    assert gates.is_released(version)


# --- a lot's gate --------------------------------------------------------------------------------


def test_a_fresh_lot_waits_for_its_design_its_cure_its_net_check_and_its_finish(workshop):
    lot = shelf_lot(design(), ready_on=ON + timedelta(days=14))
    assert states(lot) == {"design": "open", "cured": "open", "net": "open", "finishing": "open"}
    assert states(lot, on=ON + timedelta(days=14))["cured"] == "met"
    assert states(lot, on=ON + timedelta(days=13))["cured"] == "open"


def test_a_lot_of_an_unreleased_design_cannot_be_passed_by_hand(workshop):
    lot = shelf_lot(design())
    with pytest.raises(GateClosed, match="release the design first"):
        gates.waive(subject=lot, check_name="design", reason="never mind", by="Ada", at=AT)


def test_finishing_is_met_when_every_box_is_ticked_and_its_gaps_are_named(workshop):
    lot = shelf_lot(released(design()))
    ticks = dict.fromkeys(Finishing.CHECKS, True) | {"closed": False}
    finishing = Finishing.objects.create(lot=lot, **ticks)
    check = next(c for c in gates.lot_checks(lot, on=ON) if c.name == "finishing")
    assert check.gaps == ("lids or boxes on",)
    finishing.closed = True
    finishing.save()
    assert states(lot)["finishing"] == "met"


def test_unticking_a_finishing_check_takes_the_lot_off_sale(workshop):
    version = released(design())
    lot = shelf_lot(version)
    finishing = Finishing.objects.create(lot=lot, **dict.fromkeys(Finishing.CHECKS, True))
    released(lot)
    assert gates.sellable(version.design, on=ON)
    finishing.labelled = False
    finishing.save()
    assert gates.sellable(version.design, on=ON) == []


def test_opening_stock_is_sold_once_its_lot_is_passed_by_hand_and_released(workshop):
    version = design()
    lot = stores.open_with(item=version.design.candle, qty=4, value=2000, on=ON, at=AT, ready_on=ON)
    assert states(lot)["design"] == "open"
    released(lot)
    assert [b.lot for b in gates.sellable(version.design, on=ON)] == [lot]


# --- what may be sold ----------------------------------------------------------------------------


def test_the_oldest_released_lot_is_sold_first_and_seconds_apart(workshop):
    version = released(design())
    late = released(shelf_lot(version, began_on=ON))
    early = released(shelf_lot(version, began_on=ON - timedelta(days=9)))
    shelf_lot(version)  # not released
    second = released(shelf_lot(version, seconds=True))
    assert [b.lot for b in gates.sellable(version.design, on=ON)] == [early, late]
    assert [b.lot for b in gates.sellable(version.design, on=ON, seconds=True)] == [second]


def test_withdrawing_a_design_takes_every_lot_of_it_off_sale(workshop):
    version = released(design())
    lot = released(shelf_lot(version))
    gates.withdraw(version, reason="glass cracked", by="Ada", at=AT)
    assert gates.sellable(version.design, on=ON) == []
    assert not gates.is_released(lot)
    assert gates.released_ids(Lot, [lot.pk]) == set()


def test_what_was_taken_from_a_lot_keeps_its_design_and_needs_its_own_release(workshop):
    version = released(design())
    lot = released(shelf_lot(version))
    second = stores.set_aside(
        lot=lot, place=Place.SHELF, qty=2, origin=Origin.SECONDS, on=ON, at=AT
    )
    assert gates.design_version_ids([second.pk]) == {second.pk: version.pk}
    assert states(second)["design"] == "met"
    assert gates.sellable(version.design, on=ON, seconds=True) == []
    released(second)
    assert [b.lot for b in gates.sellable(version.design, on=ON, seconds=True)] == [second]


def test_what_may_be_sold_is_told_in_four_queries_however_many_lots(
    workshop, django_assert_max_num_queries
):
    version = released(design())
    for _ in range(7):
        released(shelf_lot(version))
    with django_assert_max_num_queries(4):
        assert len(gates.sellable(version.design, on=ON)) == 7


def test_bulk_and_single_answers_agree(workshop):
    first, second = released(design()), design("Plain", formula_version=formula(
        "Plain", oils=[], load_pct=Decimal(0), waxes=[(wax("Other wax"), Decimal(1))]
    ), vessel=vessel("Jar"), wick=wick("Cord"))  # fmt: skip
    ids = gates.released_ids(type(first), [first.pk, second.pk])
    assert ids == {v.pk for v in (first, second) if gates.is_released(v)} == {first.pk}
