"""The verdict on a burn and on a series: what is found, in which order, exact limits included."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from burn_examples import CANDLE, ON, READINGS, burn, changed, last_burn, piece, reading, series
from pourwright.core.burns.cautions import cautions
from pourwright.core.burns.due import due_minutes, pool_deadline_h
from pourwright.core.burns.findings import VERDICTS
from pourwright.core.burns.house import BadHouseLimit, house_limits
from pourwright.core.burns.record import BadBurn, Candle, Piece
from pourwright.core.burns.series import judge_series
from pourwright.core.burns.verdict import judge_burn

F = Fraction


def judged(made, candle=CANDLE, **more):
    return judge_burn(made, candle, on=ON, **more)


def test_a_good_burn_meets_the_criteria_and_is_no_pass():
    found = judged(burn())
    assert (found.verdict, found.findings) == ("criteria met", ())
    assert "pass" not in found.verdict
    assert any("only a whole series" in note for note in found.notes)


@pytest.mark.parametrize(
    ("made", "verdict", "key"),
    [
        (burn(vessel_failed="cracked at the base"), "fail", "vessel"),
        (burn(pool_flashed=True), "fail", "flash"),
        (burn(relit=True), "fail", "relit"),
        (last_burn(3, went_out_by_itself=False), "fail", "end of life"),
        (burn(minutes=None), "incomplete", "ended"),
        (burn(readings=READINGS[1:]), "incomplete", "flame"),
        (burn(readings=(*READINGS[:2], *READINGS[3:])), "incomplete", "flame"),
        (changed(120, pool_mm=()), "incomplete", "pool"),
        (changed(240, depth_mm=None), "incomplete", "depth"),
        (changed(240, wall_pool_c=None, wall_dry_c=None, base_c=None), "incomplete", "wall"),
        (burn(minutes=F(200), readings=READINGS[:4]), "incomplete", "pool time"),
        (last_burn(3, went_out_by_itself=None), "incomplete", "end of life"),
        (changed(240, soot=1), "warn", "soot"),
    ],
)
def test_what_a_burn_is_judged(made, verdict, key):
    found = judged(made)
    assert found.verdict == verdict
    assert key in {finding.key for finding in found.findings if finding.verdict == verdict}


def test_the_worst_that_applies_comes_first():
    """One burn with everything: as the worst is put right, the next one shows."""
    everything = burn(
        readings=(
            reading(30, flame_mm=(F(80),), soot=2),
            reading(60, 77),
            reading(240, 77, depth_mm=F(15)),
        ),
        soot_index=F("0.4"),
    )  # fmt: skip
    two_wicks = replace(CANDLE, wick_count=2)
    seen = [judged(everything, two_wicks).verdict]
    calm = (replace(everything.readings[0], flame_mm=(F(55),)), *everything.readings[1:])
    seen.append(judged(replace(everything, readings=calm), two_wicks).verdict)
    seen.append(judged(replace(everything, readings=calm)).verdict)
    whole = (*calm[:2], reading(120, 77), reading(180, 77), calm[2])
    seen.append(judged(replace(everything, readings=whole)).verdict)
    slow = (calm[0], reading(60, 50), reading(120, 60), reading(180, 70), reading(240, 75))
    seen.append(judged(replace(everything, readings=slow)).verdict)
    right = (calm[0], reading(60, 50), reading(120, 60), reading(180, 70), reading(240, 77))
    seen.append(judged(replace(everything, readings=right)).verdict)
    seen.append(judged(burn()).verdict)
    assert seen == [
        "fail", "out of scope", "incomplete", "over-wicked", "under-wicked", "warn", "criteria met"
    ]  # fmt: skip
    assert sorted(seen, key=VERDICTS.index)[0] == VERDICTS[0]
    both = (*slow[:4], reading(240, 75, depth_mm=F(14)))
    assert judged(burn(readings=both)).verdict == "under-wicked", "under-wicked before over-wicked"


def test_each_finding_names_rule_edition_reading_and_limit():
    [finding] = judged(burn(secondary_flame_s=F(11))).findings
    assert finding.edition == "EN 15493:2019"
    assert (finding.reading, finding.limit, finding.house) == ("11 s", "at most 10 s", False)
    assert "not read" in finding.status
    [finding] = judged(changed(240, wall_dry_c=F(61))).findings
    assert finding.house
    assert "own settings" in finding.rule
    assert finding.reading == "61\u00a0°C at 240 min"


@pytest.mark.parametrize(("flame_mm", "read", "most"), [
    ("76.2", "3 in at 30 min", "at most 2.95 in"),
    # Rounded, this reading and the limit of 75 mm look the same.
    ("75.04", "2.95 in (75.04 mm) at 30 min", "at most 2.95 in (75 mm)"),
])  # fmt: skip
def test_findings_follow_the_units_and_tell_a_reading_from_its_limit(flame_mm, read, most):
    found = judge_burn(changed(30, flame_mm=(F(flame_mm),)), CANDLE, on=ON, units="us")
    first = found.findings[0]
    assert (first.key, first.verdict) == ("flame", "fail")
    assert (first.reading.replace("\u00a0", " "), first.limit.replace("\u00a0", " ")) == (
        read,
        most,
    )
    assert not any(" mm" in words.replace("\u00a0", " ") for words in found.criteria)


def test_readings_are_asked_for_when_they_are_due():
    house = house_limits(on=ON)
    due = due_minutes(CANDLE, house, until=F(240))
    assert due["flame"] == [30, 60, 120, 180, 240]
    assert due["pool"] == [60, 120, 180, 240]
    small = Candle(inside_diameter_mm=F("63.5"))  # 2.5 inches: full by 3 h 30 min
    assert 210 in due_minutes(small, house, until=F(240))["pool"]
    assert 210 not in due_minutes(small, house, until=F(200))["pool"]


def test_a_pool_seen_full_only_after_its_time_is_not_known():
    small = Candle(inside_diameter_mm=F("63.5"))
    seen = (*READINGS[:1], reading(60, 50), reading(120, 55), reading(180, 60), reading(240, 64))
    found = judged(burn(readings=seen), small)
    assert found.verdict == "incomplete"
    assert judged(burn(readings=seen, full_pool_minute=F(210)), small).verdict == "criteria met"
    assert judged(burn(readings=seen, full_pool_minute=F(211)), small).verdict == "under-wicked"


def test_before_2019_each_afterglow_has_its_own_limit():
    then = date(2018, 6, 1)
    made = burn(afterglow_s=(F(21), F(3)))
    assert judge_burn(made, CANDLE, on=then).verdict == "fail"
    assert judge_burn(made, CANDLE, on=ON).verdict == "criteria met"


# --- house limits --------------------------------------------------------------------------------


def test_a_laxer_house_limit_needs_a_reason():
    with pytest.raises(BadHouseLimit, match="laxer"):
        house_limits(on=ON, changed={"wall_warn_c": 61})
    with pytest.raises(BadHouseLimit, match="laxer"):
        house_limits(on=ON, changed={"pool_full_pct": 95}, reasons={"pool_full_pct": "  "})
    house = house_limits(
        on=ON, changed={"wall_warn_c": 61}, reasons={"wall_warn_c": "stands in a sleeve"}
    )
    found = judged(changed(240, wall_dry_c=F(61)), house=house)
    assert found.verdict == "criteria met"
    assert any("stands in a sleeve" in note for note in found.notes)


def test_a_stricter_one_needs_none_and_no_house_limit_touches_the_standard():
    house = house_limits(on=ON, changed={"wall_warn_c": 50, "flame_warn_mm": 20})
    assert judged(burn(), house=house).verdict == "warn"
    lax = house_limits(on=ON, changed={"flame_warn_mm": 75}, reasons={"flame_warn_mm": "trial"})
    assert judged(changed(30, flame_mm=(F("75.5"),)), house=lax).verdict == "fail"


@pytest.mark.parametrize("changed_to", [{"wall": 60}, {"wall_warn_c": 900}])
def test_unknown_and_impossible_house_limits_are_refused(changed_to):
    with pytest.raises(BadHouseLimit):
        house_limits(on=ON, changed=changed_to)


# --- records -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong",
    [
        {"number": 0}, {"minutes": F(0)}, {"minutes": F(100)}, {"mass_after_g": F(413)},
        {"readings": (reading(60), reading(30))}, {"readings": (reading(30), reading(30))},
        {"full_pool_minute": F(241)}, {"afterglow_s": (F(-1),)},
        {"readings": (reading(30, depth_mm=F(-1)),)},
    ],
)  # fmt: skip
def test_a_burn_that_cannot_be_is_refused(wrong):
    with pytest.raises(BadBurn):
        burn(**wrong)


def test_the_rate_comes_from_weighing():
    assert burn().rate_g_per_h == F("5.5")
    assert burn(mass_after_g=None).rate_g_per_h is None


# --- the series ----------------------------------------------------------------------------------


def judged_series(made, **more):
    return judge_series(made, on=ON, **more)


def test_a_whole_series_is_passed():
    found = judged_series(series())
    assert (found.state, found.missing, found.findings) == ("passed", (), ())
    assert "do not say that a candle is safe" in found.closing


@pytest.mark.parametrize(
    ("third", "missing"),
    [
        (None, "2 of 3 pieces"),
        (Piece(name="C", burns=(burn(1), burn(2))), "natural end"),
        (Piece(name="C", burns=(burn(1), last_burn(3))), "left out"),
        (Piece(name="C", burns=(burn(1), last_burn(2, residue_mm=None))), "what was left"),
        (Piece(name="C", burns=(burn(1, readings=READINGS[2:]), last_burn(2))), "first hour"),
        (
            Piece(
                name="C",
                burns=(
                    burn(1),
                    last_burn(2, readings=tuple(replace(r, base_c=None) for r in READINGS[:3])),
                ),
            ),
            "base",
        ),
        (Piece(name="C", burns=()), "no burn"),
    ],
)
def test_a_series_that_lacks_something_is_not_passed(third, missing):
    pieces = [piece("A"), piece("B")] + ([third] if third is not None else [])
    found = judged_series(series(*pieces))
    assert found.state == "not complete"
    assert any(missing in words for words in found.missing)


def test_one_failed_burn_fails_the_series_and_says_where():
    bad = Piece(name="C", burns=(burn(1), burn(2, relit=True), last_burn(3)))
    found = judged_series(series(piece("A"), piece("B"), bad))
    assert found.state == "failed"
    assert found.findings[0].where == "C, burn 2"


def test_an_under_wicked_burn_keeps_the_series_from_passing():
    slow = (*READINGS[:4], reading(240, 75))
    bad = Piece(name="C", burns=(burn(1, readings=slow), burn(2), last_burn(3)))
    assert judged_series(series(piece("A"), piece("B"), bad)).state == "criteria not met"


def test_a_warning_is_named_and_stops_nothing():
    warm = tuple(replace(r, wall_dry_c=F(63)) for r in READINGS)
    made = series(
        piece("A"), piece("B"), Piece(name="C", burns=(burn(1, readings=warm), last_burn(2)))
    )
    found = judged_series(made)
    assert found.passed
    assert [finding.key for finding in found.warnings] == ["wall"]


def test_afterglow_is_judged_by_the_mean_of_all():
    long = Piece(name="C", burns=(burn(1, afterglow_s=(F(40),)), last_burn(2)))
    made = series(piece("A"), piece("B"), long)
    assert judged(long.burns[0]).verdict == "fail"
    assert judged_series(made).passed

    def longer(name):
        return Piece(
            name=name, burns=tuple(replace(b, afterglow_s=(F(31),)) for b in piece(name).burns)
        )

    assert judged_series(series(*map(longer, "ABC"))).state == "failed"


def test_soot_is_judged_by_the_mean_of_three():
    def sooty(index):
        return series(*(
            Piece(name=n, burns=(burn(1, soot_index=F(index)), last_burn(2))) for n in "ABC"
        ))  # fmt: skip

    assert judged_series(sooty("0.99")).passed
    assert judged_series(sooty(1)).state == "failed"


def test_the_cautions_are_all_there():
    found = cautions(on=ON)
    words = " ".join((*found.before, *found.stop_now)).lower()
    for needed in ("all the time", "apart", "cannot burn", "extinguisher", "75 mm", "never water"):
        assert needed in words
    assert "no source" in found.status


def test_the_pool_is_due_by_the_vessels_width_and_at_four_hours_at_the_latest():
    house = house_limits(on=ON)
    assert pool_deadline_h(Candle(inside_diameter_mm=F("50.8")), house) == 3
    assert pool_deadline_h(Candle(inside_diameter_mm=F(120)), house) == 4
