"""The gates' pure rules: every state a check can have, and what a reason can and cannot pass."""

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core import release
from pourwright.core.burns.standing import Standing
from pourwright.core.formula import Formula, LoadOfWax, OilPart, WaxPart
from pourwright.core.release import Check, GateClosed, MarketFinding, Waiver
from pourwright.core.vessel.fill import fill_by_weight
from pourwright.core.vessel.vessel import vessel_from

TODAY = date(2026, 3, 2)
NO_BURNS = Standing(state="no series", says="No burns.", gaps=("burn series",))


def mix(*, load=8, wax_limit=10, oil_limit=12):
    return Formula(
        waxes=(WaxPart(name="blend", max_load=wax_limit and LoadOfWax(Fraction(wax_limit))),),
        load=LoadOfWax(Fraction(load)),
        oils=(OilPart(name="fig", max_pct_of_whole=oil_limit and Fraction(oil_limit)),),
    )


PLAIN = Formula(waxes=(WaxPart(name="blend"),))


@pytest.mark.parametrize(
    ("formula", "reason", "state"),
    [
        (mix(), "", "met"),
        (mix(load=10), "", "met"),
        (mix(load=11), "", "open"),
        (mix(load=11), "a month of trials", "waived"),
        (mix(load=11), "  ", "open"),
        (mix(wax_limit=None), "", "open"),
        (PLAIN, "", "met"),
    ],
)
def test_the_waxs_limit(formula, reason, state):
    check = release.wax_limit(formula, override_reason=reason)
    assert check.state == state


@pytest.mark.parametrize(
    ("formula", "state"),
    [
        # 13 % of the wax is 11.504 % of the whole; 14 % is 12.281 %.
        (mix(load=13, wax_limit=20), "met"),
        (mix(load=14, wax_limit=20), "refused"),
        (mix(oil_limit=None), "open"),
        (PLAIN, "met"),
    ],
)
def test_the_oils_safety_limits(formula, state):
    check = release.oil_limits(formula)
    assert check.state == state
    assert check.waivable == (state == "open")


def test_the_fill():
    vessel = vessel_from(inside_diameter_mm=74, depth_mm=85)
    fits = fill_by_weight(vessel, fill_g=220, density_g_per_ml=0.9)
    assert release.fill(fits).state == "met"
    assert release.fill(None, gaps=["density of the wax"]).state == "open"
    refused = release.fill(None, refusal="It runs over.")
    assert (refused.state, refused.waivable) == ("refused", False)


def test_the_vessels_and_the_wicks_papers():
    both = release.vessel(fit_for_candles="letter 3", leak_tested_on=TODAY)
    assert both.state == "met"
    assert release.vessel(fit_for_candles=" ", leak_tested_on=TODAY).gaps == (
        "supplier’s statement that it is fit for candles",
    )
    assert release.vessel(fit_for_candles="letter 3", leak_tested_on=None).gaps == ("leak test",)
    for material, gaps in (("glass", 1), ("ceramic", 1), ("metal", 0)):
        found = release.vessel(fit_for_candles="letter 3", leak_tested_on=TODAY, material=material)
        assert len(found.gaps) == gaps
    stated = release.vessel(
        fit_for_candles="letter 3", leak_tested_on=TODAY, material="glass",
        shock_statement="annealed, 35 K",
    )  # fmt: skip
    assert stated.state == "met"
    assert "annealed, 35 K" in stated.detail
    assert release.wick(lead_free="letter 4").state == "met"
    assert release.wick(lead_free="").state == "open"


def test_what_no_record_can_prove_yet_is_open_and_can_be_passed_by_hand():
    for check in (release.hazard(["us"]), release.burns(NO_BURNS), release.net()):
        assert (check.state, check.waivable) == ("open", True)
    assert release.hazard([" EU ", "us"]).gaps == ("eu", "us")
    assert release.hazard([]).gaps == ("no market named",)


def test_a_failed_burn_is_refused_and_missed_criteria_take_a_reason():
    found = {
        state: release.burns(Standing(state=state, says="So it is."))
        for state in ("passed", "failed", "criteria not met", "not complete", "no series")
    }
    assert {state: (check.state, check.waivable) for state, check in found.items()} == {
        "passed": ("met", False), "failed": ("refused", False),
        "criteria not met": ("open", True), "not complete": ("open", True),
        "no series": ("open", True),
    }  # fmt: skip


SOLD_IN = ["eu", "us"]
ANSWERS = (
    MarketFinding(market="eu", words="Skin Sens 1; Warning, H317."),
    MarketFinding(market="us", words="no class."),
)


def test_the_hazard_class_is_met_when_every_market_has_its_answer():
    check = release.hazard(SOLD_IN, found=ANSWERS)
    assert check.state == "met"
    assert "EU: Skin Sens 1; Warning, H317." in check.detail
    assert "US: no class." in check.detail
    assert release.hazard(SOLD_IN, found=ANSWERS[:1]).gaps == ("us",)


def test_a_material_without_a_composition_opens_the_hazard_check_in_each_market():
    check = release.hazard(SOLD_IN, found=ANSWERS, missing=["Fig leaf", "Rust dye"])
    assert (check.state, check.waivable) == ("open", True)
    assert "Fig leaf and Rust dye" in check.detail
    assert set(check.gaps) == {
        "Fig leaf (EU)", "Fig leaf (US)", "Rust dye (EU)", "Rust dye (US)",
    }  # fmt: skip
    fewer = release.hazard(["eu"], missing=["Fig leaf"])
    known = Waiver(reason="on paper", gaps=fewer.gaps)
    assert release.with_waivers([fewer], {"hazard": known})[0].state == "waived"
    assert release.with_waivers([check], {"hazard": known})[0].state == "open"


def test_a_ban_on_sale_is_refused_whatever_else_is_not_known():
    ban = MarketFinding(market="eu", words="", banned="0.4 % of a Repr 1B substance.")
    check = release.hazard(SOLD_IN, found=(ban,), missing=["Fig leaf"])
    assert (check.state, check.waivable) == ("refused", False)
    assert "0.4 %" in check.detail
    with pytest.raises(GateClosed, match="cannot be passed by hand"):
        release.refuse_unless_waivable(check, reason="sold for years")


def net_result(market, answer, **more):
    return release.NetResult(market=market, answer=answer, words=f"the {market} rule", **more)


def test_a_net_check_is_met_when_every_market_passed():
    passed = [net_result("us", "pass"), net_result("eu", "pass")]
    assert release.net(passed, markets=["US", "eu"]).state == "met"
    part = release.net(passed[:1], markets=["us", "eu"])
    assert (part.state, part.waivable, part.gaps) == ("open", True, ("net check for eu",))


def test_a_short_weight_is_refused_and_nobody_can_pass_it():
    short = release.net([net_result("us", "fail", why="Average short."), net_result("eu", "pass")])
    assert (short.state, short.waivable) == ("refused", False)
    assert "relabel" in short.detail
    knows = Waiver(reason="it is fine", gaps=("net check",))
    assert release.with_waivers([short], {"net": knows})[0].state == "refused"
    with pytest.raises(GateClosed, match="cannot be passed by hand"):
        release.refuse_unless_waivable(short, reason="it is fine")


def test_a_second_sample_or_a_rework_leaves_the_check_open():
    more = release.net([net_result("gb", "more")], markets=["gb"])
    assert (more.state, more.gaps) == ("open", ("net check for gb",))
    old = net_result("gb", "pass", stale="Reworked since.")
    again = release.net([old], markets=["gb"])
    assert (again.state, again.detail) == ("open", "Reworked since.")


@pytest.mark.parametrize(("days", "state"), [(-1, "met"), (0, "met"), (1, "open"), (None, "open")])
def test_the_cure_counts_from_its_day(days, state):
    ready = None if days is None else TODAY + timedelta(days=days)
    assert release.cured(ready_on=ready, on=TODAY).state == state


def test_a_lots_design():
    assert release.design_released(design="Fig v1", released=True).state == "met"
    shut = release.design_released(design="Fig v1", released=False)
    assert (shut.state, shut.waivable) == ("open", False)
    unknown = release.design_released(design=None, released=False)
    assert (unknown.state, unknown.waivable) == ("open", True)


def test_a_waiver_passes_what_its_writer_knew_and_nothing_more():
    known = Waiver(reason="on paper", gaps=("us",))
    (passed,) = release.with_waivers([release.hazard(["us"])], {"hazard": known})
    assert (passed.state, passed.reason) == ("waived", "on paper")
    (more,) = release.with_waivers([release.hazard(["us", "eu"])], {"hazard": known})
    assert more.state == "open"


checks = st.builds(
    Check,
    name=st.sampled_from(["a", "b", "c"]),
    title=st.just("Title"),
    state=st.sampled_from(["met", "open", "refused"]),
    detail=st.just("detail"),
    waivable=st.booleans(),
    gaps=st.sets(st.sampled_from("xyz")).map(tuple),
)
waivers = st.dictionaries(
    st.sampled_from(["a", "b", "c"]),
    st.builds(Waiver, reason=st.just("why"), gaps=st.sets(st.sampled_from("xyz")).map(tuple)),
)


@given(st.lists(checks, max_size=6), waivers)
def test_no_reason_ever_passes_what_is_refused_or_may_not_be_waived(found, given_waivers):
    after = release.with_waivers(found, given_waivers)
    for before, now in zip(found, after, strict=True):
        if before.state == "refused" or (before.state == "open" and not before.waivable):
            assert now == before
        if before.state == "met":
            assert now == before
        assert replace(now, state=before.state, reason=before.reason) == before
    if any(check.state == "refused" for check in found):
        assert not release.passes(after)
        with pytest.raises(GateClosed):
            release.refuse_unless_passed(after, what="It")


@given(checks)
def test_only_an_open_check_that_may_be_waived_takes_a_reason(check):
    allowed = check.state == "open" and check.waivable
    if allowed:
        release.refuse_unless_waivable(check, reason="why")
        with pytest.raises(GateClosed, match="needs a reason"):
            release.refuse_unless_waivable(check, reason=" ")
    else:
        with pytest.raises(GateClosed):
            release.refuse_unless_waivable(check, reason="why")


def test_a_shut_gate_names_every_check_that_is_shut():
    with pytest.raises(GateClosed, match=r"Fig v1 cannot be released yet:.*Hazard.*burns"):
        release.refuse_unless_passed(
            [release.hazard(["us"]), release.burns(NO_BURNS)], what="Fig v1"
        )
