"""Classifying a candle: limits, sums, dates, and what a person is told."""

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pourwright.core.hazard.assess import as_json, assess
from pourwright.core.hazard.classify import classify
from pourwright.core.hazard.criteria import criteria_for
from pourwright.core.hazard.criterion import sums_at
from pourwright.core.hazard.model import (
    Composition,
    Ingredient,
    Market,
    Mixture,
    Portion,
    Presence,
    Range,
    Route,
    mixture_of,
)
from pourwright.core.hazard.reference import substance
from pourwright.core.hazard.rulebook import NoSuchMarket
from pourwright.core.hazard.severity import rank, slot

ON = date(2026, 11, 24)


def whole(*rows):
    return Mixture(
        present=tuple(Presence(substance=one, pct_of_whole=Fraction(pct)) for one, pct in rows)
    )


def classes(*rows, market=Market.EU, on=ON, **options):
    found = classify(whole(*rows), market=market, on=on, **options)
    return [str(one.hazard) for one in found.classes]


def of(*has, **options):
    name = options.pop("name", "a substance")
    return substance(name=name, classes=has, **options)


# Limits of single ingredients


@pytest.mark.parametrize(
    ("has", "at", "becomes"),
    [
        ("Skin Sens 1", "1", "Skin Sens 1"),
        ("Skin Sens 1A", "0.1", "Skin Sens 1A"),
        ("Resp Sens 1B", "1", "Resp Sens 1B"),
        ("Muta 2", "1", "Muta 2"),
        ("Carc 1A", "0.1", "Carc 1A"),
        ("Repr 2", "3", "Repr 2"),
        ("Lact", "0.3", "Lact"),
        ("STOT RE 1", "10", "STOT RE 1"),
        ("STOT RE 1", "1", "STOT RE 2"),
        ("STOT SE 2", "10", "STOT SE 2"),
        ("ED HH 1", "0.1", "ED HH 1"),
        ("ED ENV 2", "1", "ED ENV 2"),
        ("vPvM", "0.1", "vPvM"),
    ],
)
def test_one_ingredient_classifies_from_its_limit_on(has, at, becomes):
    just_below = Fraction(at) - Fraction(1, 10**9)
    assert becomes in classes((of(has), at))
    assert becomes not in classes((of(has), just_below))


def test_sensitisers_are_not_added_up():
    rows = [(of("Skin Sens 1B", name=f"sensitiser {n}"), "0.9") for n in range(5)]
    assert classes(*rows) == []


def test_the_weightiest_sensitiser_gives_the_category():
    rows = [(of("Skin Sens 1", name="one"), "2"), (of("Skin Sens 1B", name="other"), "2")]
    assert classes(*rows) == ["Skin Sens 1"]
    assert classes(*rows, (of("Skin Sens 1A", name="third"), "0.1")) == ["Skin Sens 1A"]


def test_effects_of_two_toxicants_are_said_together():
    one = of("Repr 1B H360D", name="one")
    other = of("Repr 2 H361f", name="other")
    found = assess(whole((one, "0.3"), (other, "3")), market=Market.UN, on=ON)
    assert [s.code for s in found.label.hazard_statements] == ["H360Df"]


# Sums


def test_a_specific_limit_weighs_more_in_the_sum():
    strong = of("Skin Irrit 2", name="strong", specific_limits={})
    limits = {entry.hazard: Fraction(2) for entry in strong.entries}
    strong = of("Skin Irrit 2", name="strong", specific_limits=limits)
    weak = of("Skin Irrit 2", name="weak")
    # c / L: 1 / 2 + 5 / 10 is just 1.
    assert classes((strong, "1"), (weak, "5")) == ["Skin Irrit 2"]
    assert classes((strong, "1"), (weak, "4.999")) == []


def test_a_corrosive_counts_once_for_the_eyes():
    corrosive = of("Skin Corr 1B", "Eye Dam 1")
    assert classes((corrosive, "2.9")) == ["Skin Irrit 2", "Eye Irrit 2"]
    assert classes((corrosive, "3")) == ["Skin Irrit 2", "Eye Dam 1"]


def test_a_corrosive_candle_damages_eyes_and_says_so_once():
    found = assess(whole((of("Skin Corr 1B"), "5")), market=Market.EU, on=ON)
    assert [str(c.hazard) for c in found.classification.classes] == ["Skin Corr 1", "Eye Dam 1"]
    assert [s.code for s in found.label.hazard_statements] == ["H314"]


def test_irritation_and_drowsiness_are_summed_apart():
    irritating = of("STOT SE 3 H335", name="irritating")
    drowsy = of("STOT SE 3 H336", name="drowsy")
    assert classes((irritating, "15"), (drowsy, "15")) == []
    assert classes((irritating, "20"), (drowsy, "15")) == ["STOT SE 3"]


def test_an_m_factor_lowers_the_cut_off_and_the_last_category_has_none():
    strong = of("Chronic 1", m_chronic=100)
    # 0.1 / 100 = 0.001 % counts: 100 x 100 x 0.0025 = 25.
    assert classes((strong, "0.0025")) == ["Chronic 3"]
    assert classes((strong, "0.0009")) == []
    assert classes((of("Chronic 4"), "24.99"), (strong, "0.0009")) == []


# Acute toxicity


def test_unknown_toxicity_corrects_above_ten_percent_and_not_at_it():
    known = of(name="known", ate={Route.ORAL: Fraction(500)})
    unknown = of(name="unknown", unknown_acute=[Route.ORAL])
    # 24 / 500: an estimate of 2083; with 10 % unknown taken out, (100 - 10) / 0.048 = 1875.
    assert classes((known, "24"), (unknown, "10")) == []
    assert classes((known, "24"), (unknown, "10.0001")) == ["Acute 4 oral"]


def test_a_harmonised_class_is_not_softened_by_a_milder_estimate():
    one = substance("100-52-7", ate={Route.ORAL: Fraction(2500)})
    assert classes((one, "50")) == ["Acute 4 oral"]


# Markets and dates


def test_the_newest_classes_are_the_eus_and_have_their_dates():
    one = of("ED HH 1")
    assert classes((one, "1")) == ["ED HH 1"]
    assert classes((one, "1"), on=date(2026, 4, 30)) == []
    assert classes((one, "1"), marketed_before=True) == []
    assert classes((one, "1"), on=date(2028, 5, 1), marketed_before=True) == ["ED HH 1"]
    assert classes((one, "1"), market=Market.GB) == []


def test_a_class_that_changes_the_signal_word_without_a_pictogram():
    label = assess(whole((of("ED HH 1"), "0.1")), market=Market.EU, on=ON).label
    assert (label.signal_word, label.pictograms) == ("Danger", ())
    assert [s.code for s in label.hazard_statements] == ["EUH380"]


def test_only_the_uns_model_has_the_milder_aquatic_categories():
    rows = [(of("Aq Acute 1", m_acute=1), "3")]
    assert classes(*rows, market=Market.UN) == ["Aq Acute 2"]
    assert classes(*rows) == []


def test_an_unlisted_carcinogen_is_refused_on_the_suppliers_word():
    found = classify(whole((of("Carc 1B"), "0.1")), market=Market.GB, on=ON)
    (refusal,) = found.refusals
    assert "supplier's word" in refusal.reason
    assert "UK REACH" in refusal.rule


def test_the_us_is_not_classified_by_limits():
    with pytest.raises(NoSuchMarket, match="eu, gb or un"):
        classify(whole((of("Carc 1B"), "1")), market=Market.US, on=ON)


# What a person is told


def warnings(*rows, **options):
    return " ".join(classify(Mixture(present=rows, **options), market=Market.EU, on=ON).warnings)


def test_a_result_that_rests_on_an_open_end_is_flagged():
    linalool = substance("78-70-6")
    at = Presence(substance=linalool, pct_of_whole=Fraction(1), open_above=True)
    above = Presence(substance=linalool, pct_of_whole=Fraction(2), open_above=True)
    assert "open end" in warnings(at)
    assert "open end" not in warnings(above)


def test_a_missing_m_factor_a_minimum_class_and_memory_are_told():
    rows = [
        Presence(substance=substance(cas), pct_of_whole=Fraction(1))
        for cas in ("1222-05-5", "120-51-4", "97-53-0", "5392-40-5")
    ]
    said = warnings(*rows, undisclosed_pct=Fraction(3))
    for words in ("M-factor", "Acute 4* oral", "from memory", "aldehydes", "3 % of the candle"):
        assert words in said


def test_every_decision_leaves_a_line_with_its_clause():
    rows = [(of("Skin Irrit 2", "Skin Sens 1", "Chronic 2", "Flam Liq 3", "Acute 4 oral"), "2")]
    found = classify(whole(*rows), market=Market.EU, on=ON)
    assert all("[CLP, Annex I" in step.text for step in found.trace)
    assert {step.effect for step in found.trace} == {"class", "elicitation", "left"}


def test_plain_data_is_plain():
    import json

    rows = [(of("Skin Irrit 2", "Skin Sens 1", "Chronic 2", "Repr 1B", m_chronic=1), "30")]
    for market in (Market.EU, Market.GB, Market.UN):
        data = as_json(assess(whole(*rows), market=market, on=ON, package_ml=Fraction(100)))
        assert json.loads(json.dumps(data)) == data


def test_every_element_has_its_reason():
    has = ("Skin Irrit 2", "Skin Sens 1", "Eye Dam 1", "Chronic 2", "Resp Sens 1", "Acute 3 oral")
    rows = [(of(*has), "30")]
    label = assess(whole(*rows), market=Market.EU, on=ON, package_ml=Fraction(100)).label
    statements = (*label.hazard_statements, *label.precautionary, *label.supplemental)
    assert all(one.why and one.rule and one.status for one in statements)
    explained = (*label.pictograms, *label.named_substances)
    assert all(one.why and one.rule and one.status for one in explained)
    assert len(label.precautionary) <= 6


# Properties

HAS = [
    "Skin Sens 1A", "Skin Sens 1B", "Resp Sens 1", "Skin Irrit 2", "Skin Corr 1B", "Eye Dam 1",
    "Eye Irrit 2", "Acute 3 oral", "Acute 4 oral", "Acute 4 dermal", "Repr 2 H361d", "Carc 2",
    "STOT RE 1", "STOT RE 2", "STOT SE 3 H335", "Aq Acute 1", "Chronic 1", "Chronic 2",
    "Chronic 3", "Chronic 4", "ED HH 2", "Lact",
]  # fmt: skip


@st.composite
def mixtures(draw, most=6):
    """Return substances with percentages that together leave room for something inert."""
    rows = []
    for n in range(draw(st.integers(1, most))):
        has = draw(st.lists(st.sampled_from(HAS), min_size=1, max_size=4, unique=True))
        one = of(
            *has,
            name=f"substance {n}",
            m_acute=draw(st.sampled_from([1, 10])),
            m_chronic=draw(st.sampled_from([1, 10, 100])),
            non_additive=draw(st.booleans()),
        )
        rows.append((one, Fraction(draw(st.integers(1, 1600)), 100)))
    return rows


def severities(rows):
    """Return, by what competes, how severe the class is (lower is worse)."""
    found = classify(whole(*rows), market=Market.EU, on=ON)
    return {slot(one.hazard): rank(one.hazard) for one in found.classes}


@settings(max_examples=40, deadline=None)
@given(rows=mixtures(), parts=st.integers(1, 99))
def test_diluting_never_makes_a_class_more_severe(rows, parts):
    before = severities(rows)
    after = severities([(one, pct * parts / 100) for one, pct in rows])
    assert all(key in before and rank >= before[key] for key, rank in after.items())


@settings(max_examples=40, deadline=None)
@given(rows=mixtures(), parts=st.integers(101, 400))
def test_raising_the_load_never_removes_a_class(rows, parts):
    raised = [(one, pct * parts / 100) for one, pct in rows]
    assume(sum(pct for _, pct in raised) <= 100)
    before, after = severities(rows), severities(raised)
    assert all(key in after and after[key] <= rank for key, rank in before.items())


@settings(max_examples=40, deadline=None)
@given(rows=mixtures())
def test_adding_up_whole_numbers_agrees_with_adding_up_fractions(rows):
    mixture = whole(*rows)
    criteria = criteria_for(mixture.present, market=Market.EU, on=ON)
    found = sums_at(criteria, mixture.concentrations)
    assert found == [one.sum_at(mixture.concentrations) for one in criteria]


# One substance, several sheets


@pytest.mark.parametrize("turned", [False, True])
def test_where_two_sheets_differ_the_order_of_the_oils_does_not_decide(turned):
    sheets = [
        substance("107-75-5", classes=["Skin Sens 1B", "Chronic 1"], m_chronic=1),
        substance("107-75-5", classes=["Skin Sens 1A", "Chronic 1"], m_chronic=10),
    ]
    oils = [
        Portion(
            composition=Composition(
                name=f"oil {n}",
                ingredients=(Ingredient(substance=one, pct=Range(high=Fraction(1))),),
            ),
            pct_of_whole=Fraction(5),
        )
        for n, one in enumerate(reversed(sheets) if turned else sheets)
    ]
    mixture = mixture_of(oils)
    found = classify(mixture, market=Market.EU, on=ON)
    # 5 % of 1 % twice is 0.1 %: a class as 1A; 100 x 10 x 0.1 = 100.
    assert [str(one.hazard) for one in found.classes] == ["Skin Sens 1A", "Chronic 3"]
