"""
How far a candle is from the next element of its label.

The figures at the limits are worked by hand beside each test from the limits of CLP, Annex I
(Tables 3.4.5, 3.4.6, 4.1.2), which the rule tables cite. The properties compare the walks with
``classify`` and ``elements_of``, which know nothing of them.
"""

from datetime import date
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.formula import Extra, Formula, LoadOfWax, LoadOfWhole, OilPart, WaxPart
from pourwright.core.hazard.classify import classify
from pourwright.core.hazard.elements import elements_on
from pourwright.core.hazard.headroom import (
    GOALS,
    headroom,
    headrooms,
    highest_keeping,
    keeping,
    rounded_down,
    without,
)
from pourwright.core.hazard.headroom_words import (
    change_words,
    driver_words,
    headroom_as_json,
    span_words,
)
from pourwright.core.hazard.label import elements_of
from pourwright.core.hazard.model import (
    Composition,
    Entry,
    HazardClass,
    Ingredient,
    Kind,
    Market,
    Mixture,
    Presence,
    Range,
    Route,
    Substance,
)
from pourwright.core.hazard.paths import (
    Dose,
    Doses,
    all_paths,
    amount_path,
    doses_of,
    load_path,
    oil_path,
)
from pourwright.core.hazard.severity import rank, slot
from pourwright.core.hazard.spans import Span

AT = {"market": Market.EU, "on": date(2026, 11, 25)}
GOAL = {goal.key: goal for goal in GOALS}


def substance(name, *classes, **more):
    return Substance(name=name, entries=tuple(Entry(hazard=hazard) for hazard in classes), **more)


SENS_1B = HazardClass(Kind.SKIN_SENS, "1B")
SENS_1A = HazardClass(Kind.SKIN_SENS, "1A")
LINALOOL = substance("linalool", SENS_1B)
CITRAL = substance("citral", SENS_1B, HazardClass(Kind.SKIN_IRRIT, "2"))
WATER_2 = substance("benzyl benzoate", HazardClass(Kind.AQ_CHRONIC, "2"))
WATER_2B = substance("another of category 2", HazardClass(Kind.AQ_CHRONIC, "2"))
WATER_1 = substance("musk", HazardClass(Kind.AQ_CHRONIC, "1"), m_chronic=Fraction(1))


def composition(name, *parts):
    return Composition(
        name=name,
        ingredients=tuple(
            Ingredient(substance=one, pct=Range(high=Fraction(pct))) for one, pct in parts
        ),
    )


def candle(*oils, wax=(), dye=0):
    """Return a candle: oils as (percent of the wax, (substance, percent of the oil) ...)."""
    return Doses(
        waxes=(Dose(composition=composition("wax", *wax), pct_of_wax=Fraction(100)),),
        oils=tuple(
            Dose(composition=composition(f"oil {n}", *parts), pct_of_wax=Fraction(dose))
            for n, (dose, *parts) in enumerate(oils, 1)
        ),
        extras=(Dose(composition=composition("dye"), pct_of_wax=Fraction(dye)),) if dye else (),
    )


def spans_of(found, code):
    return next((band.spans for band in found.bands if band.element.code == code), ())


# --- by hand -------------------------------------------------------------------------------------


def test_one_sensitiser_turns_at_its_two_limits():
    """Linalool, 12 % of the oil: 1.0 % is reached at 8.3333 % of the whole, 0.1 % at 0.83333 %."""
    found = headroom(load_path(candle((8, (LINALOOL, 12)))), **AT)
    (allergy,), (contains,) = spans_of(found, "H317"), spans_of(found, "EUH208")
    assert found.path.pct_of_whole_at(allergy.low) == Fraction(100, 12)
    # h of the whole is 100 h / (100 - h) of the wax: 100/11 and 100/119.
    assert allergy == Span(Fraction(100, 11), Fraction(16))
    assert contains == Span(Fraction(100, 119), Fraction(100, 11), True, False)
    assert spans_of(found, "GHS07") == spans_of(found, "Warning") == (allergy,)
    assert [one.code for one in found.now if one.kind == "supplemental"] == ["EUH208"]


def test_dye_makes_the_whole_heavier_and_moves_the_place():
    """With 2 % of dye 12 t / (102 + t) = 1 at t = 102/11."""
    found = headroom(load_path(candle((8, (LINALOOL, 12)), dye=2)), **AT)
    assert spans_of(found, "H317")[0].low == Fraction(102, 11)


def test_both_load_bases_give_the_same_headroom():
    wax, oils = (WaxPart(name="wax"),), (OilPart(name="bay"),)
    extras = (Extra(name="dye", pct_of_wax=Fraction(2)),)
    known = {"bay": composition("bay", (LINALOOL, 12))}
    found = [
        headroom(
            load_path(
                doses_of(Formula(waxes=wax, oils=oils, extras=extras, load=load), oils=known)
            ),
            **AT,
        )
        # 8 in 110 on the wax is 80/11 % of the whole.
        for load in (LoadOfWax(Fraction(8)), LoadOfWhole(Fraction(80, 11)))
    ]
    assert found[0] == found[1]
    assert spans_of(found[0], "H317")[0].low == Fraction(102, 11)


def test_a_cut_off_makes_a_sum_jump():
    """
    30 % and 20 % of Chronic 2: H412 at 10 x sum of those from 1 % on >= 25.

    At 5 % of the whole they are 1.5 and 1.0: the second starts to count, 15 becomes 25.
    """
    found = headroom(load_path(candle((8, (WATER_2, 30), (WATER_2B, 20)))), **AT)
    (harmful,) = spans_of(found, "H412")
    assert found.path.pct_of_whole_at(harmful.low) == 5
    assert harmful.low == Fraction(100, 19)
    assert harmful.low_in


def test_a_sum_between_two_cut_offs_turns_at_its_root():
    """40 % and 10 % of Chronic 2: the first alone is 2.5 % at 6.25 % of the whole."""
    found = headroom(load_path(candle((8, (WATER_2, 40), (WATER_2B, 10)))), **AT)
    assert found.path.pct_of_whole_at(spans_of(found, "H412")[0].low) == Fraction(625, 100)


def test_one_water_class_gives_way_to_a_graver_one():
    """Musk at 20 %, Chronic 1, M = 1: H412 from 0.25 %, H411 with GHS09 from 2.5 % of the whole."""
    found = headroom(load_path(candle((8, (WATER_1, 20))), most_pct_of_wax=Fraction(30)), **AT)
    whole = found.path.pct_of_whole_at
    (harmful,), (toxic,) = spans_of(found, "H412"), spans_of(found, "H411")
    assert (whole(harmful.low), whole(harmful.high)) == (Fraction(5, 4), Fraction(25, 2))
    assert harmful.high == toxic.low
    assert (harmful.high_in, toxic.low_in) == (False, True)
    assert spans_of(found, "GHS09") == (toxic,)


def test_more_oil_thins_what_the_wax_brings():
    """1.05 % in the wax is 105 / (100 + t): 1.0 % up to and with t = 5."""
    found = headroom(load_path(candle((8, (WATER_2, 1)), wax=[(LINALOOL, "1.05")])), **AT)
    assert spans_of(found, "H317") == (Span(Fraction(0), Fraction(5)),)
    assert found.at(Fraction(8)) != found.at(Fraction(5))
    (gone,) = [b for b in found.breakpoints if b.at == 5]
    words = {change.element.code: change_words(change) for change in gone.changes}
    assert words["H317"] == "gone above"
    assert words["EUH208"] == "appears above"


def test_an_oils_dose_moves_beside_the_others():
    """6 % of an oil with 10 % linalool, t of one with 5 %: (60 + 5 t) / (106 + t) = 1 at 11.5."""
    doses = candle((6, (LINALOOL, 10)), (2, (LINALOOL, 5)))
    found = headroom(oil_path(doses, 1, most_pct_of_wax=Fraction(20)), **AT)
    assert spans_of(found, "H317") == (Span(Fraction("11.5"), Fraction(20)),)
    assert found.path.share_at(Fraction(2)) == 25


def test_the_ingredient_behind_an_element_is_named_with_its_part():
    found = headroom(load_path(candle((8, (WATER_2, 30), (WATER_2B, 20)))), **AT)
    (band,) = [band for band in found.bands if band.element.code == "H412"]
    # At 8 % of the wax: 240/108 and 160/108 %, together 400/108 times 10 against 25.
    assert band.driven_at == 8
    assert [driver.part for driver in band.drivers] == [Fraction(3, 5), Fraction(2, 5)]
    assert band.drivers[0].reach == Fraction(4000, 108) / 25
    assert "benzyl benzoate: 2.2222 % of the whole, 60 % of a sum" in driver_words(band.drivers[0])


def test_an_element_not_there_yet_names_what_would_bring_it():
    found = headroom(load_path(candle((2, (LINALOOL, 12), (CITRAL, 9)))), **AT)
    (band,) = [band for band in found.bands if band.element.code == "H317"]
    assert not band.now
    assert band.driven_at == Fraction(100, 11)
    assert [driver.substance.name for driver in band.drivers] == ["linalool"]
    assert band.drivers[0].reach == 1


def test_a_ban_is_on_the_walk():
    """Repr 1B at 0.3 % of the whole must not be sold to the public (REACH Annex XVII, 28-30)."""
    banned = substance("a Repr 1B", HazardClass(Kind.REPR, "1B", detail="FD"))
    found = headroom(load_path(candle((8, (banned, 5)))), **AT)
    (ban,) = [band for band in found.bands if band.element.kind == "ban"]
    assert found.path.pct_of_whole_at(ban.spans[0].low) == 6
    ceiling = highest_keeping(found, GOAL["no ban"])
    assert (ceiling.pct_of_whole, ceiling.included) == (6, False)


def test_northern_and_british_walks_differ_where_the_rules_do():
    disruptor = substance("a disruptor", HazardClass(Kind.ED_HH, "1"))
    path = load_path(candle((8, (disruptor, 10))))
    on = AT["on"]
    assert spans_of(headroom(path, market=Market.EU, on=on), "Danger")
    assert not spans_of(headroom(path, market=Market.GB, on=on), "Danger")


# --- the highest load ----------------------------------------------------------------------------


def test_the_highest_load_says_whether_its_bound_is_allowed():
    found = headroom(load_path(candle((8, (LINALOOL, 12)))), **AT)
    ceiling = highest_keeping(found, without("H317"))
    assert (ceiling.at, ceiling.included, ceiling.met_now) == (Fraction(100, 11), False, True)
    # Rounded down it lies below the bound, and is allowed.
    assert ceiling.words() == "up to 9.0909"
    assert ceiling.words(places=2, of_whole=True) == "up to 8.33"


def test_an_exact_bound_is_said_to_lie_above():
    """Linalool at 21 %: 21 t / (100 + t) = 1 at t = 5 exactly."""
    found = headroom(load_path(candle((4, (LINALOOL, 21)))), **AT)
    assert highest_keeping(found, without("H317")).words() == "below 5"


def test_the_end_of_the_walk_is_no_bound():
    found = headroom(load_path(candle((8, (LINALOOL, 1)))), **AT)
    ceiling = highest_keeping(found, GOAL["no pictogram"])
    assert (ceiling.at, ceiling.included, ceiling.to_the_end) == (16, True, True)


def test_a_goal_that_the_wax_misses_has_no_highest_load():
    found = headroom(load_path(candle((8, (WATER_2, 1)), wax=[(LINALOOL, "1.05")])), **AT)
    assert highest_keeping(found, without("H317")) is None
    assert keeping(found, without("H317")) == (Span(Fraction(5), Fraction(16), False, True),)


def test_a_statement_that_gives_way_does_not_count_as_kept_for_ever():
    """EUH208 goes where H317 comes; the load that stays free of it ends where it first stands."""
    found = headroom(load_path(candle((8, (LINALOOL, 12)))), **AT)
    ceiling = highest_keeping(found, without("EUH208"))
    assert ceiling.at == Fraction(100, 119)
    assert [span.low for span in ceiling.spans] == [0, Fraction(100, 11)]


def test_each_goal_of_the_list_can_be_missed():
    """A goal that no element can miss would always say yes."""
    awkward = substance(
        "awkward",
        SENS_1A,
        HazardClass(Kind.REPR, "1B", detail="F"),
        HazardClass(Kind.AQ_CHRONIC, "1"),
    )
    found = headroom(load_path(candle((8, (awkward, 20)))), **AT)
    for goal in GOALS:
        assert not highest_keeping(found, goal).to_the_end, goal.key


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (Span(Fraction(0), Fraction(16)), "all along"),
        (Span(Fraction(50, 7), Fraction(16)), "from 7.1428"),
        (Span(Fraction(5), Fraction(16), False, True), "above 5"),
        (Span(Fraction(0), Fraction(5), True, False), "below 5"),
        (Span(Fraction(0), Fraction(5)), "up to 5"),
        (Span(Fraction(50, 7), Fraction(71, 9), True, False), "from 7.1428 to 7.8889"),
        (Span(Fraction(3), Fraction(3)), "at 3 only"),
    ],
)
def test_spans_are_told_on_the_safe_side(span, words):
    assert span_words(span, load_path(candle((8, (LINALOOL, 1))))) == words


def test_a_flat_list_is_walked_by_its_amount():
    """0.60 % of linalool reaches 1.0 % at 166.67 % of the present amount."""
    mixture = Mixture(present=(Presence(substance=LINALOOL, pct_of_whole=Fraction("0.6")),))
    found = headroom(amount_path(mixture), **AT)
    assert spans_of(found, "H317")[0].low == Fraction(500, 3)
    assert found.path.unit == "% of the present amount"


def test_plain_data_carries_exact_places_and_bases():
    told = headroom_as_json(headroom(load_path(candle((8, (LINALOOL, 12)))), **AT))
    (band,) = [band for band in told["bands"] if band["code"] == "H317"]
    assert band["spans"][0]["from"] == {"exact": "100/11", "value": 9.0909}
    (highest,) = [row for row in told["highest"] if row["goal"] == "no H317"]
    assert highest["at"]["pct_of_whole"] == 8.3333
    assert highest["words"] == "up to 9.0909 % of the wax"
    assert told["present"]["pct_of_whole"] == 7.4074


# --- against classify ----------------------------------------------------------------------------

POOL = (
    LINALOOL,
    CITRAL,
    substance("isoeugenol", SENS_1A, specific_limits={SENS_1A: Fraction("0.01")}),
    WATER_1,
    WATER_2,
    substance("limonene", HazardClass(Kind.AQ_ACUTE, "1"), HazardClass(Kind.AQ_CHRONIC, "3"),
              m_acute=Fraction(1)),
    substance("geraniol", SENS_1B, HazardClass(Kind.EYE_DAM, "1"),
              HazardClass(Kind.SKIN_IRRIT, "2")),
    substance("alcohol", HazardClass(Kind.ACUTE, "4", Route.ORAL), HazardClass(Kind.EYE_IRRIT, "2"),
              ate={Route.ORAL: Fraction(1200)}),
    substance("aldehyde", HazardClass(Kind.ACUTE, "3", Route.ORAL),
              HazardClass(Kind.SKIN_IRRIT, "2"), non_additive=True),
    substance("salicylate", HazardClass(Kind.REPR, "2", detail="d")),
    substance("safrole", HazardClass(Kind.CARC, "1B"), HazardClass(Kind.MUTA, "2")),
    substance("unknown", unknown_acute=frozenset({Route.ORAL})),
    substance("breathed", HazardClass(Kind.RESP_SENS, "1")),
    substance("drowsy", HazardClass(Kind.STOT_SE, "3", detail="H336")),
    substance("corrosive", HazardClass(Kind.SKIN_CORR, "1B")),
    substance("disruptor", HazardClass(Kind.ED_ENV, "2")),
)  # fmt: skip


@st.composite
def candles(draw):
    def parts(most):
        chosen = draw(
            st.lists(
                st.sampled_from(POOL), unique_by=lambda one: one.name, min_size=1, max_size=most
            )
        )
        return [(one, Fraction(draw(st.integers(1, 500)), 10)) for one in chosen]

    oils = [
        (Fraction(draw(st.integers(1, 30)), 3), *parts(5)) for _ in range(draw(st.integers(1, 3)))
    ]
    wax = [(one, pct / 20) for one, pct in parts(2)] if draw(st.booleans()) else []
    return candle(*oils, wax=wax, dye=draw(st.integers(0, 3)))


def label_at(path, t, market):
    """Return what stands on the label by classifying the candle there, keys only."""
    found = classify(path.mixture_at(t), market=market, on=AT["on"])
    return {element.key for element in elements_on(found.decision, elements_of(found))}


@given(doses=candles(), market=st.sampled_from([Market.EU, Market.GB, Market.UN]), data=st.data())
@settings(max_examples=35, deadline=None)
def test_breakpoints_agree_with_classify_below_at_and_above(doses, market, data):
    path = data.draw(st.sampled_from(all_paths(doses)))
    found = headroom(path, market=market, on=AT["on"])
    ends = [path.low, *(b.at for b in found.breakpoints if path.low < b.at < path.high), path.high]
    gap = min(high - low for low, high in pairwise(ends))
    close = gap * Fraction(1, 10**6)
    places = {t for end in ends for t in (end - close, end, end + close)}
    anywhere = [path.high * data.draw(st.fractions(0, 1, max_denominator=499)) for _ in range(3)]
    for t in sorted(t for t in {*places, *anywhere} if path.low <= t <= path.high):
        assert {element.key for element in found.at(t)} == label_at(path, t, market), t


@given(doses=candles(), data=st.data())
@settings(max_examples=25, deadline=None)
def test_nothing_changes_between_breakpoints(doses, data):
    path = data.draw(st.sampled_from(all_paths(doses)))
    found = headroom(path, **AT)
    ends = [path.low, *(b.at for b in found.breakpoints if path.low < b.at < path.high), path.high]
    place = data.draw(st.integers(0, len(ends) - 2))
    inside = st.fractions(0, 1, max_denominator=99).filter(lambda part: 0 < part < 1)
    low, high = ends[place], ends[place + 1]
    one, other = (low + (high - low) * data.draw(inside) for _ in range(2))
    assert label_at(path, one, Market.EU) == label_at(path, other, Market.EU)


@given(doses=candles())
@settings(max_examples=25, deadline=None)
def test_every_breakpoint_changes_something(doses):
    for path in all_paths(doses):
        for one in headroom(path, **AT).breakpoints:
            assert one.changes
            for change in one.changes:
                seen = {change.below, change.here, change.above} - {None}
                assert seen == {True, False}, change


@given(doses=candles())
@settings(max_examples=20, deadline=None)
def test_more_load_never_makes_a_class_milder_where_the_wax_brings_nothing(doses):
    """A class only goes where a graver one of the same chapter takes its place."""
    inert = Dose(composition=composition("wax"), pct_of_wax=Fraction(100))
    found = headroom(load_path(Doses(waxes=(inert,), oils=doses.oils, extras=doses.extras)), **AT)
    path = found.path
    places = [path.low, *(b.at for b in found.breakpoints), path.high]
    places += [(low + high) / 2 for low, high in pairwise(places)]
    before = {}
    for t in sorted(places):
        classes = classify(path.mixture_at(t), **AT).classes
        here = {slot(one.hazard): rank(one.hazard) for one in classes}
        for chapter, severity in before.items():
            assert here[chapter] <= severity, (t, chapter)
        before = here


@given(doses=candles(), goal=st.sampled_from(GOALS))
@settings(max_examples=25, deadline=None)
def test_up_to_the_highest_load_the_goal_holds_and_then_no_more(doses, goal):
    found = headroom(load_path(doses), **AT)
    ceiling = highest_keeping(found, goal)
    if ceiling is None:
        assert any(goal.unwanted(element) for element in found.at(found.path.low))
        return
    for part in (0, Fraction(1, 3), Fraction(99, 100)):
        assert not any(goal.unwanted(element) for element in found.at(ceiling.at * part))
    assert ceiling.included != any(goal.unwanted(element) for element in found.at(ceiling.at))
    shown = rounded_down(ceiling.at, 4)
    if shown < ceiling.at:
        assert not any(goal.unwanted(element) for element in found.at(shown))


@given(doses=candles())
@settings(max_examples=25, deadline=None)
def test_all_walks_together_are_the_walks_alone(doses):
    """Work shared between walks must not leak from one to the other."""
    together = headrooms(doses, **AT)
    load, *oils = all_paths(doses)
    assert together.load == headroom(load, **AT)
    assert list(together.oils) == [headroom(path, **AT) for path in oils]
