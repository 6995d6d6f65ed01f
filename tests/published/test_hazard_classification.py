"""
Classification and label of mixtures, against published worked examples and rows of the law.

Sources, named again at each case:

- UN: worked examples of the GHS sub-committee, ST/SG/AC.10/C.4/2008/23 and 2012/25 (read).
- ECHA Helpdesk: exercises on classifying mixtures, 2012 (read in a secondary source).
- Czech guide: a national guide to classification, 2014 (read in a secondary source).
- Annex VI: Regulation (EC) No 1272/2008, Annex VI, Part 3, Table 3, text of 1 July 2026 (read).
- By hand: worked on paper from the tables of Annex I; each case says which step it pins. What rests
  on a clause that was written down from memory says so.
"""

from datetime import date
from fractions import Fraction

import pytest

from pourwright.core.hazard.assess import assess
from pourwright.core.hazard.classify import classify
from pourwright.core.hazard.label import pictograms_of
from pourwright.core.hazard.model import (
    Composition,
    Ingredient,
    Market,
    Mixture,
    Portion,
    Presence,
    Route,
    mixture_of,
)
from pourwright.core.hazard.reference import substance
from pourwright.core.hazard.signs import signal_word_of, statements_of
from pourwright.core.hazard.words import parse_class, parse_range, write_class

ON = date(2026, 11, 24)
LINALOOL, D_LIMONENE, DIPENTENE = "78-70-6", "5989-27-5", "138-86-3"
CITRAL, ISOEUGENOL, HHCB = "5392-40-5", "97-54-1", "1222-05-5"
BENZYL_BENZOATE, BENZYL_ALCOHOL = "120-51-4", "100-51-6"
BMHCA, HEXYL_SALICYLATE = "80-54-6", "6259-76-3"


def whole(*rows):
    """Return a whole candle of (substance or CAS number, percent as text) pairs."""
    return Mixture(
        present=tuple(
            Presence(
                substance=substance(one) if isinstance(one, str) else one,
                pct_of_whole=Fraction(pct),
            )
            for one, pct in rows
        )
    )


def hhcb():
    return substance(HHCB, m_acute=1, m_chronic=1)


def assessed(*rows, market=Market.EU, package_ml=None):
    return assess(whole(*rows), market=market, on=ON, package_ml=package_ml)


def classes(found):
    return [str(one.hazard) for one in found.classes]


def codes(statements):
    return [one.code for one in statements]


def sums(found, start):
    """Return the sums of the limits whose key starts so, in the order of their categories."""
    return [float(step.sum) for step in found.trace if step.rule.startswith(start)]


def estimate(found, route):
    """Return the acute toxicity estimate that decides on a route."""
    steps = [
        step
        for step in found.trace
        if step.rule.startswith(f"class/acute/{route}/")
        and step.rule.endswith("corrected") == (Route(route) in found.unknown_acute)
    ]
    (only,) = {step.estimate for step in steps}
    return float(only)


# Published worked examples


def three_of_example_3_1a():
    return [
        (substance(name="ingredient 1", ate={Route.ORAL: Fraction(1600)}), "16"),
        (substance(name="ingredient 2", ate={Route.ORAL: Fraction(200)}), "4"),
        (substance(name="ingredient 3", ate={Route.ORAL: Fraction(3450)}), "80"),
    ]


def test_un_example_3_1a_oral_estimate_with_a_category_5_ingredient():
    """UN example 3.1a: 1880 mg/kg, category 4; a range of 200 to 2000 counts as 200."""
    found = classify(whole(*three_of_example_3_1a()), market=Market.UN, on=ON)
    assert round(estimate(found, "oral"), -1) == 1880
    assert classes(found) == ["Acute 4 oral"]


def test_under_clp_the_category_5_ingredient_of_example_3_1a_is_left_out():
    """By hand, CLP 3.1.3.6.1: 100 / (16/1600 + 4/200) = 3333, above 2000."""
    found = classify(whole(*three_of_example_3_1a()), market=Market.EU, on=ON)
    assert estimate(found, "oral") == pytest.approx(3333, abs=0.5)
    assert classes(found) == []


def four_of_example_3_1d():
    def one(name, oral, vapour):
        estimates = {Route.ORAL: oral, Route.VAPOUR: vapour}
        unknown = [Route.VAPOUR] if vapour is None else []
        given = {route: Fraction(ate) for route, ate in estimates.items() if ate is not None}
        return substance(name=name, ate=given, unknown_acute=unknown)

    return [
        (one("ingredient 1", 2737, 11), "26"),
        (one("ingredient 2", 4500, 19), "23"),
        (one("ingredient 3", 5001, None), "11"),
        (one("ingredient 4", 400, 4), "40"),
    ]


def test_un_example_3_1d_corrects_for_what_is_unknown():
    """UN example 3.1d: oral 872.5, category 4; vapour 6.56 mg/l, category 3; 11 % unknown."""
    found = assessed(*four_of_example_3_1d(), market=Market.UN)
    classified, label = found.classification, found.label
    assert round(estimate(classified, "oral"), 1) == 872.5
    assert round(estimate(classified, "vapour"), 2) == 6.56
    assert classes(classified) == ["Acute 4 oral", "Acute 3 vapour"]
    assert label.signal_word == "Danger"
    assert list(label.pictograms) == ["GHS06"]
    assert codes(label.hazard_statements) == ["H302", "H331"]
    (said,) = label.supplemental
    assert said.text.startswith("11 % ")
    assert "unknown inhalation toxicity" in said.text


def test_example_3_1d_under_clp_leaves_out_two_oral_estimates():
    """By hand, CLP 3.1.3.6.1: only 40 % at 400 mg/kg counts; 100 / 0.1 = 1000, category 4."""
    found = classify(whole(*four_of_example_3_1d()), market=Market.EU, on=ON)
    assert estimate(found, "oral") == 1000
    assert "Acute 4 oral" in classes(found)


@pytest.mark.parametrize(
    ("non_additive", "expected"), [(True, "Skin Corr 1"), (False, "Skin Irrit 2")]
)
def test_un_example_3_2_acid_that_sums_do_not_fit(non_additive, expected):
    """
    UN example 3.2/3.3a: 4 % of a Cat 1 acid at pH 1.8 and 5 % of Cat 2 are Cat 1.

    That 1 % of such an acid is enough: CLP Table 3.2.4, from memory. Added up instead, 4 % is below
    5 % and 10 x 4 + 5 = 45 is an irritant.
    """
    acid = substance(name="an acid", classes=["Skin Corr 1"], non_additive=non_additive)
    irritant = substance(name="an irritant", classes=["Skin Irrit 2"])
    found = classify(whole((acid, "4"), (irritant, "5")), market=Market.UN, on=ON)
    assert classes(found)[0] == expected


def test_un_example_4_1a_falls_through_to_the_last_category():
    """UN example 4.1a: sums 0.1, 2, 20 and 26.01; Chronic 4, no acute class."""
    first = substance(
        name="ingredient 1", classes=["Aq Acute 1", "Chronic 1"], m_acute=10, m_chronic=10
    )
    second = substance(name="ingredient 2", classes=["Aquatic Acute 2", "Aquatic Chronic 2"])
    third = substance(name="ingredient 3", classes=["Aquatic Chronic 4"])
    found = assessed((first, "0.01"), (second, "1.0"), (third, "25"), market=Market.UN)
    chronic = sums(found.classification, "class/aquatic/chronic/")
    assert chronic == [0.1, 2, 20, 26.01]
    assert classes(found.classification) == ["Chronic 4"]
    assert codes(found.label.hazard_statements) == ["H413"]
    assert not found.label.pictograms


def test_echa_helpdesk_irritant_below_its_cut_off():
    """ECHA Helpdesk 2012: 0.8 % of an irritant does not count; the rest is not classified."""
    rows = [
        (substance(name="an irritant", classes=["Skin Irrit 2"]), "0.8"),
        (substance(name="a solvent"), "9.2"),
        (substance(name="water"), "90"),
    ]
    assert classes(classify(whole(*rows), market=Market.EU, on=ON)) == []


@pytest.mark.parametrize(("share", "expected"), [("3-7 %", "Skin Corr 1"), ("4 %", "Skin Irrit 2")])
def test_czech_guide_takes_the_upper_end_of_a_range(share, expected):
    """
    Czech guide 2014: 3 to 7 % of a corrosive counts as 7 % and burns; the true 4 % would irritate.

    REACH Annex II, 3.2 has the same rule (from memory).
    """
    corrosive = substance(name="a corrosive", classes=["Skin Corr. 1B"])
    sheet = Composition(
        name="the product",
        ingredients=(Ingredient(substance=corrosive, pct=parse_range(share)),),
    )
    mixture = mixture_of([Portion(composition=sheet, pct_of_whole=Fraction(100))])
    assert classes(classify(mixture, market=Market.EU, on=ON))[0] == expected


# Official labels of substances: which pictograms and statements give way


@pytest.mark.parametrize(
    ("row", "has", "pictograms", "statements"),
    [
        (
            "601-096-00-2, d-limonene",
            ["Flam Liq 3", "Skin Irrit 2", "Skin Sens 1B", "Asp 1", "Aq Acute 1", "Chronic 3"],
            ["GHS02", "GHS07", "GHS08", "GHS09"],
            ["H226", "H304", "H315", "H317", "H410"],
        ),
        (
            "605-022-00-X",
            ["Acute 2 vapour", "Acute 3 oral", "STOT SE 3 H335", "Skin Corr 1B", "Resp Sens 1",
             "Skin Sens 1A", "Aq Acute 1", "Chronic 2"],
            ["GHS05", "GHS06", "GHS08", "GHS09"],
            ["H301", "H314", "H317", "H330", "H334", "H335", "H410"],
        ),
        (
            "607-009-00-4",
            ["Acute 4 oral", "STOT SE 3 H335", "Skin Irrit 2", "Eye Dam 1", "Resp Sens 1",
             "Skin Sens 1"],
            ["GHS05", "GHS07", "GHS08"],
            ["H302", "H315", "H317", "H318", "H334", "H335"],
        ),
        (
            "603-223-00-7",
            ["Skin Irrit 2", "Eye Dam 1", "Chronic 3"],
            ["GHS05"],
            ["H315", "H318", "H412"],
        ),
        (
            "607-774-00-4",
            ["Resp Sens 1A", "Skin Sens 1"],
            ["GHS08"],
            ["H317", "H334"],
        ),
    ],
)  # fmt: skip
def test_annex_vi_label_of_a_substance(row, has, pictograms, statements):
    """Annex VI, Table 3: the label columns of these rows; all five say Danger."""
    hazards = [parse_class(text)[0] for text in has]
    assert [one.code for one in pictograms_of(hazards, on=ON)] == pictograms, row
    assert [one.code for one in statements_of(hazards, on=ON)] == statements, row
    assert signal_word_of(hazards, on=ON) == "Danger", row


# By hand, from the tables of Annex I


def test_sensitisers_below_their_class_limits_are_named_only():
    """By hand, Table 3.4.6 with Note 1 (from memory): isoeugenol from 0.01 / 10 = 0.001 % on."""
    found = assessed((LINALOOL, "0.60"), (CITRAL, "0.12"), (ISOEUGENOL, "0.004"))
    label = found.label
    assert classes(found.classification) == []
    assert codes(label.supplemental) == ["EUH208"]
    assert label.supplemental[0].text == (
        "Contains citral, isoeugenol, linalool. May produce an allergic reaction."
    )
    assert (label.pictograms, label.signal_word, label.precautionary) == ((), None, ())
    assert not label.identifier_needed


def test_one_sensitiser_over_its_specific_limit_and_another_is_named():
    """By hand, Annex II 2.8: no EUH208 beside H317, the names instead."""
    found = assessed((LINALOOL, "0.60"), (ISOEUGENOL, "0.012"))
    label = found.label
    assert classes(found.classification) == ["Skin Sens 1A"]
    assert codes(label.hazard_statements) == ["H317"]
    assert (list(label.pictograms), label.signal_word) == (["GHS07"], "Warning")
    assert list(label.named_substances) == ["isoeugenol", "linalool"]
    assert label.contains == "Contains: isoeugenol, linalool."
    assert label.supplemental == ()
    assert label.identifier_needed


def test_aquatic_sum_that_reaches_the_third_category():
    """By hand, Table 4.1.2: 1.5, 10 x 1.5 + 1 = 16, 100 x 1.5 + 10 = 160. No identifier."""
    found = assessed((hhcb(), "1.5"), (BENZYL_BENZOATE, "1.0"))
    label = found.label
    assert sums(found.classification, "class/aquatic/chronic/")[:3] == [1.5, 16, 160]
    assert codes(label.hazard_statements) == ["H412"]
    assert (label.pictograms, label.signal_word) == ((), None)
    assert codes(label.precautionary) == ["P102", "P273", "P501"]
    assert not label.identifier_needed


def test_aquatic_sum_that_reaches_the_second_category_has_no_signal_word():
    """By hand, Table 4.1.2: 10 x 2.6 = 26."""
    label = assessed((hhcb(), "2.6")).label
    assert codes(label.hazard_statements) == ["H411"]
    assert (list(label.pictograms), label.signal_word) == (["GHS09"], None)


def test_two_irritants_add_up_and_liquid_classes_stay_behind():
    """By hand, Table 3.2.3: 5.0 + 5.2 = 10.2; aquatic acute 5 and chronic 5 stay below 25."""
    found = assessed((D_LIMONENE, "5.0"), (CITRAL, "5.2"))
    label = found.label
    assert classes(found.classification) == ["Skin Irrit 2", "Skin Sens 1"]
    assert codes(label.hazard_statements) == ["H315", "H317"]
    assert sums(found.classification, "class/skin/Skin Irrit/sum") == [10.2]
    assert sums(found.classification, "class/aquatic/acute/1") == [5]
    assert sums(found.classification, "class/aquatic/chronic/3") == [5]
    left = [str(s.hazard) for s in found.classification.trace if s.effect == "left"]
    assert left == ["Flam Liq 3", "Asp 1"]
    assert (list(label.pictograms), label.signal_word) == (["GHS07"], "Warning")
    assert codes(label.precautionary) == [
        "P101", "P102", "P280", "P302+P352", "P333+P313", "P501",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("damaging", "irritant", "code", "pictogram", "signal"),
    [("2.0", "3.0", "H319", "GHS07", "Warning"), ("3.0", "0", "H318", "GHS05", "Danger")],
)
def test_eyes(damaging, irritant, code, pictogram, signal):
    """By hand, Table 3.3.3: 10 x 2 + 3 = 23 irritates; 3 % damages."""
    one = substance(name="damages eyes", classes=["Eye Dam 1"])
    other = substance(name="irritates eyes", classes=["Eye Irrit 2"])
    label = assessed((one, damaging), (other, irritant)).label
    assert codes(label.hazard_statements) == [code]
    assert (list(label.pictograms), label.signal_word) == ([pictogram], signal)


def test_harmonised_estimate_and_a_converted_one_in_one_sum():
    """By hand, 3.1.3.6.1: 6/1200 + 5/500 = 0.015, an estimate of 6667; water 10 x 5 = 50."""
    found = assessed((BENZYL_ALCOHOL, "6.0"), (BENZYL_BENZOATE, "5.0"))
    label = found.label
    assert estimate(found.classification, "oral") == pytest.approx(6667, abs=0.5)
    assert codes(label.hazard_statements) == ["H317", "H412"]
    assert (list(label.pictograms), label.signal_word) == (["GHS07"], "Warning")


@pytest.mark.parametrize(("share", "expected"), [("5 - <10 %", ["Skin Sens 1B"]), ("7.5", [])])
def test_an_open_range_in_the_oil_counts_at_its_upper_end(share, expected):
    """By hand: 12 % of the whole x 10 % = 1.2 %; the middle of the range, 0.9 %, would miss it."""
    oil = Composition(
        name="the oil",
        ingredients=(Ingredient(substance=substance(LINALOOL), pct=parse_range(share)),),
    )
    mixture = mixture_of([Portion(composition=oil, pct_of_whole=Fraction(12))])
    assert classes(classify(mixture, market=Market.EU, on=ON)) == expected


def test_a_cause_and_another_sensitiser_are_named_beside_a_water_hazard():
    """By hand, Table 4.1.2: 2, 10 x 2 + 4 = 24, 100 x 2 + 10 x 4 = 240; skin 2.0 is below 10."""
    dipentene = substance(DIPENTENE, m_acute=1, m_chronic=1)
    found = assessed((dipentene, "2.0"), (BENZYL_BENZOATE, "4.0"), (LINALOOL, "0.9"))
    assert codes(found.label.hazard_statements) == ["H317", "H412"]
    assert list(found.label.named_substances) == ["dipentene", "linalool"]
    assert sums(found.classification, "class/aquatic/chronic/")[:3] == [2, 24, 240]


def test_m_factors_multiply_the_most_toxic():
    """By hand, Tables 4.1.1 and 4.1.2: 10 x 0.30 = 3 acute; 3, then 10 x 3 = 30 chronic."""
    one = substance(
        name="very toxic to water life",
        classes=["Aq Acute 1", "Chronic 1"], m_acute=10, m_chronic=10,
    )  # fmt: skip
    found = assessed((one, "0.30"))
    assert sums(found.classification, "class/aquatic/acute/") == [3]
    assert sums(found.classification, "class/aquatic/chronic/")[:2] == [3, 30]
    assert codes(found.label.hazard_statements) == ["H411"]


def test_a_reproductive_toxicant_at_its_limit_is_banned_from_sale():
    """By hand, Table 3.7.2: from 0.3 % on. The ban, REACH Annex XVII entry 30: from memory."""
    found = assessed((BMHCA, "0.30"))
    assert [write_class(one.hazard) for one in found.classification.classes] == ["Repr 1B H360Fd"]
    assert codes(found.label.hazard_statements) == ["H360Fd"]
    assert (list(found.label.pictograms), found.label.signal_word) == (["GHS08"], "Danger")
    (refusal,) = found.label.refused
    assert "must not be sold to the public" in refusal.reason
    assert "entry 30" in refusal.rule


def test_just_below_it_only_a_sheet_is_due_on_request():
    """By hand, Table 3.7.2: a safety data sheet on request from 0.1 % on."""
    found = assessed((BMHCA, "0.29"))
    assert classes(found.classification) == []
    assert found.label.refused == ()
    assert found.classification.sheet_on_request


def test_a_suspected_toxicant_that_also_sensitises_has_two_pictograms():
    """By hand, Tables 3.7.2 and 3.4.5, the harmonised row alone. Tactile warning: from memory."""
    label = assessed((HEXYL_SALICYLATE, "3.0")).label
    assert codes(label.hazard_statements) == ["H317", "H361d"]
    assert (list(label.pictograms), label.signal_word) == (["GHS07", "GHS08"], "Warning")
    assert label.tactile_warning


def test_what_may_go_on_a_small_pack():
    """By hand, Annex I 1.5.2.1: the irritant's and the water hazard's statements, never H317."""
    label = assessed(
        (D_LIMONENE, "5.0"), (CITRAL, "5.2"), (hhcb(), "2.6"), package_ml=Fraction(100)
    ).label
    assert codes(label.hazard_statements) == ["H315", "H317", "H411"]
    assert (list(label.pictograms), label.signal_word) == (["GHS07", "GHS09"], "Warning")
    gone = codes(label.left_out)
    assert [code for code in gone if code.startswith("H")] == ["H315", "H411"]
    stays = {"P302+P352", "P333+P313"}
    assert not stays & set(gone)
    assert "P273" in gone
