"""What a classified candle's label carries: names, sizes by pack, dates and reliefs."""

from datetime import date
from fractions import Fraction

import pytest

from pourwright.core.hazard.assess import assess
from pourwright.core.hazard.criteria import decide
from pourwright.core.hazard.label import elements_of
from pourwright.core.hazard.model import Market, Mixture, Presence, Route
from pourwright.core.hazard.reference import substance

ON = date(2026, 11, 24)


def of(*has, name="a substance", **options):
    return substance(name=name, classes=has, **options)


def label_of(*rows, market=Market.EU, on=ON, package_ml=None):
    present = tuple(Presence(substance=one, pct_of_whole=Fraction(pct)) for one, pct in rows)
    return assess(Mixture(present=present), market=market, on=on, package_ml=package_ml).label


def codes(statements):
    return [one.code for one in statements]


SENSITISER = (of("Skin Sens 1", name="a sensitiser"), "2")
HARMS_WATER = (of("Chronic 2", name="a water hazard"), "25")


# Names


def test_what_only_elicits_is_named_by_its_own_sentence_and_not_twice():
    label = label_of(
        (of("Acute 4 oral", name="a poison"), "30"),
        (of("Skin Sens 1B", name="an allergen"), "0.5"),
    )
    assert label.contains == "Contains: a poison."
    assert label.supplemental[0].text.startswith("Contains an allergen.")
    assert set(label.named_substances) == {"a poison", "an allergen"}


def test_irritants_and_water_hazards_are_not_named():
    label = label_of((of("Skin Irrit 2", "Eye Irrit 2"), "20"), HARMS_WATER)
    assert codes(label.hazard_statements) == ["H315", "H319", "H411"]
    assert (label.named_substances, label.contains) == ((), "")


def test_the_uns_model_has_no_sentence_for_allergens():
    label = label_of((of("Skin Sens 1B"), "0.5"), market=Market.UN)
    assert (label.supplemental, label.named_substances) == ((), ())


# Precautions


def test_at_most_six_precautions_with_a_place_kept_for_disposal():
    has = ("Skin Corr 1", "Skin Sens 1", "Resp Sens 1", "Acute 3 oral", "Chronic 1", "STOT RE 1")
    label = label_of((of(*has, m_chronic=1), "40"))
    assert len(label.precautionary) == 6
    assert "P501" in codes(label.precautionary)


def test_irritants_alone_need_no_disposal_statement():
    label = label_of((of("Skin Irrit 2", "Eye Irrit 2"), "20"))
    assert "P501" not in codes(label.precautionary)
    assert "P332+P313" in codes(label.precautionary)


# Identifier, tactile warning, closure


def test_the_identifier_is_asked_for_in_the_eu_and_for_health_hazards_only():
    assert label_of(SENSITISER).identifier_needed
    assert not label_of(HARMS_WATER).identifier_needed
    assert not label_of(SENSITISER, market=Market.GB).identifier_needed
    assert "no identifier" in label_of(SENSITISER, market=Market.GB).reasons["identifier"].why


@pytest.mark.parametrize(
    ("has", "tactile", "closure"),
    [
        ("Acute 3 oral", True, True),
        ("Acute 4 oral", True, False),
        ("Skin Corr 1", True, True),
        ("Repr 2", True, False),
        ("STOT RE 2", True, False),
        ("Skin Sens 1", False, False),
        ("Skin Irrit 2", False, False),
        ("Chronic 2", False, False),
    ],
)
def test_tactile_warning_and_closure_by_class(has, tactile, closure):
    label = label_of((of(has), "60"))
    assert (label.tactile_warning, label.child_resistant) == (tactile, closure)


# Sizes, small packs, dates


@pytest.mark.parametrize(
    ("ml", "area", "side", "least"),
    [(250, (52, 74), 16, 10), (3000, (52, 74), 16, 10), (3001, (74, 105), 23, 23)],
)
def test_sizes_go_by_the_packages_capacity(ml, area, side, least):
    sizes = label_of(SENSITISER, package_ml=Fraction(ml)).sizes
    assert (sizes.width_mm, sizes.height_mm) == area
    assert (sizes.side_mm, sizes.least_side_mm) == (side, least)
    # A diamond stands on its point: the square around it is wider by the root of two.
    assert sizes.bounding_mm == pytest.approx(side * 1.41421, abs=1e-3)


def test_every_size_in_the_table_holds_its_fifteenth_of_the_label():
    """The table's own rule catches a mistyped row; the first row's 16.02 mm is printed as 16."""
    for ml in (250, 10_000, 100_000, 900_000):
        sizes = label_of(SENSITISER, package_ml=Fraction(ml)).sizes
        assert sizes.side_mm**2 * 15 == pytest.approx(
            float(sizes.width_mm * sizes.height_mm), rel=0.03
        )


@pytest.mark.parametrize(("ml", "x"), [(250, "1.2"), (500, "1.2"), (501, "1.4"), (4000, "1.8")])
def test_the_type_has_a_least_height_from_2028_on(ml, x):
    before = label_of(SENSITISER, on=date(2027, 12, 31), package_ml=Fraction(ml)).sizes
    after = label_of(SENSITISER, on=date(2028, 1, 1), package_ml=Fraction(ml)).sizes
    assert before.x_height_mm is None
    assert before.x_height_rows[0].valid_from == date(2028, 1, 1)
    assert after.x_height_mm == Fraction(x)
    assert label_of(SENSITISER, market=Market.GB, on=date(2028, 1, 1)).sizes.x_height_mm is None


def test_what_is_still_to_come_is_told_until_it_is_there():
    assert [c.valid_from for c in label_of(SENSITISER).coming] == [
        date(2027, 2, 1), date(2028, 1, 1), date(2028, 5, 1), date(2030, 1, 1),
    ]  # fmt: skip
    assert [c.valid_from for c in label_of(SENSITISER, on=date(2028, 5, 1)).coming] == [
        date(2030, 1, 1)
    ]
    assert label_of(SENSITISER, market=Market.GB).coming == ()


@pytest.mark.parametrize(("ml", "gone"), [("125", ["H411", "P102", "P273", "P501"]), ("125.1", [])])
def test_small_packs_end_at_their_limit(ml, gone):
    assert codes(label_of(HARMS_WATER, package_ml=Fraction(ml)).left_out) == gone


def test_a_third_category_keeps_its_statement_on_a_small_pack():
    label = label_of((of("Chronic 3"), "25"), package_ml=Fraction(100))
    assert "H412" not in codes(label.left_out)
    assert "P273" in codes(label.left_out)


# A decision alone


def test_a_decision_alone_gives_the_same_elements_without_percentages():
    found = assess(
        Mixture(
            present=(
                Presence(substance=of("Skin Sens 1", "Acute 4 oral"), pct_of_whole=Fraction(40)),
                Presence(
                    substance=of(name="untested", unknown_acute=[Route.DERMAL]),
                    pct_of_whole=Fraction(5),
                ),
            )
        ),
        market=Market.EU,
        on=ON,
    )
    full, bare = found.label, elements_of(found.classification.decision)
    assert codes(full.hazard_statements) == codes(bare.hazard_statements) == ["H302", "H317"]
    assert (full.pictograms, full.signal_word) == (bare.pictograms, bare.signal_word)
    assert codes(full.supplemental) == codes(bare.supplemental)
    assert full.supplemental[0].text.startswith("5 % of the mixture")
    assert "40" not in bare.hazard_statements[0].why


def test_nothing_met_is_an_empty_label():
    classification = assess(
        Mixture(present=(Presence(substance=of("Skin Sens 1"), pct_of_whole=Fraction(1)),)),
        market=Market.EU,
        on=ON,
    ).classification
    label = elements_of(decide(frozenset(), classification.criteria))
    assert (label.pictograms, label.hazard_statements, label.supplemental) == ((), (), ())
    assert (label.signal_word, label.precautionary, label.refused) == (None, (), ())
