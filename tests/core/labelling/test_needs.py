"""What must stand on a candle's label: the list, its sizes and what is missing."""

from dataclasses import replace
from fractions import Fraction

import pytest

from label_examples import IN_THE_UNION, MAKER, elements, facts
from pourwright.core.contents import parse_declared
from pourwright.core.labelling.facts import Business
from pourwright.core.labelling.needs import lacking, needs_of
from pourwright.core.labelling.texts import NoSuchWords, Texts, languages, texts


def by_key(given):
    return {need.key: need for need in needs_of(given)}


def test_a_complete_candle_lacks_nothing():
    assert lacking(needs_of(facts())) == []


def test_every_line_names_its_source_and_reason():
    for need in needs_of(facts(metal_core=True)):
        assert need.why, need.key
        assert need.source, need.key


def test_net_weight_stands_in_both_systems_at_the_height_of_the_panel():
    """16 CFR 500.21: a front of 5 to 25 square inches asks for 1/8 inch, on the lower-case o."""
    net = by_key(facts())["net_us"]
    assert "8 oz (226 g)" in net.text
    assert (net.least_mm, net.measured_on) == (Fraction("3.2"), "o")
    assert net.place == "front foot"


def test_the_metric_figure_goes_by_the_quantity():
    """Directive 76/211/EEC, Annex I, 3.1: over 200 g, figures of 4 mm."""
    net = by_key(facts())["net_eu"]
    assert (net.least_mm, net.measured_on) == (4, "figure")


def test_without_a_declared_weight_there_is_one_thing_to_enter():
    net = by_key(facts(declared=None))["net"]
    assert net.state == "missing"
    assert "net weight" in net.missing


def test_ounces_alone_do_not_serve_the_union():
    found = by_key(facts(markets=("eu",), declared=parse_declared("8 oz")))
    assert found["net_eu"].state == "missing"


def test_without_the_vessel_s_outside_the_letter_height_cannot_be_told():
    assert by_key(facts(panel=None))["net_us"].state == "missing"


def test_a_maker_outside_the_union_needs_somebody_inside():
    found = by_key(facts(responsible_eu=Business()))
    assert found["responsible_eu"].state == "missing"
    inside = replace(MAKER, country="DE")
    assert "responsible_eu" not in by_key(facts(maker=inside, responsible_eu=Business()))


def test_one_line_of_the_maker_serves_both_markets():
    found = by_key(facts())
    assert "business" not in found
    assert found["business_eu"].markets == ("us", "eu")
    assert MAKER.telephone in found["business_eu"].text


def test_the_telephone_is_asked_for_only_where_there_is_a_hazard_statement():
    silent = {"eu": elements(linalool="0.01", hhcb="0.01")}
    mute = replace(MAKER, telephone="")
    assert by_key(facts(maker=mute))["business_eu"].state == "missing"
    assert by_key(facts(maker=mute, hazard=silent))["business_eu"].state == "ready"


def test_hazard_words_come_in_reading_order_and_never_on_the_base_alone():
    need = by_key(facts())["hazard_eu"]
    assert need.text.startswith("Warning ")
    assert need.text.index("allergic skin reaction") < need.text.index("Contains:")
    assert need.text.index("Contains:") < need.text.index("Keep out of reach")
    assert need.text.endswith("KMTT-DSP3-7FD7-6RWY")
    assert need.signs == ("GHS07",)
    assert not need.base_alone
    assert by_key(facts(in_a_box=True))["hazard_eu"].base_alone


def test_an_identifier_that_is_needed_and_lacking_is_named():
    assert "formula identifier" in by_key(facts(identifier=""))["hazard_eu"].missing


def test_until_the_class_is_known_its_place_is_kept():
    need = by_key(facts(hazard={}))["hazard_eu"]
    assert need.state == "kept"
    assert need in lacking(needs_of(facts(hazard={})))


def test_a_candle_without_hazards_has_no_hazard_block():
    silent = {"eu": elements(linalool="0.01", hhcb="0.01")}
    assert not [key for key in by_key(facts(hazard=silent)) if key.startswith("hazard")]


def test_fire_words_for_the_us_and_symbols_for_the_union():
    found = by_key(facts())
    assert found["fire_us"].text.startswith("WARNING ")
    assert "4 hours" in found["fire_us"].text
    assert found["fire_symbols"].least_mm == 5
    assert "fire_symbols" not in by_key(facts(markets=("us",)))


def test_burn_hours_stand_only_where_burns_gave_them():
    assert "44 hours" in by_key(facts())["burn_hours"].text
    assert "burn_hours" not in by_key(facts(burn_hours=None))


def test_a_metal_core_is_named_on_the_outer_pack():
    need = by_key(facts(metal_core=True))["metal_core"]
    assert need.place == "outer pack"
    assert "1500.17(a)(13)" in need.text


def test_two_markets_with_the_same_hazard_words_share_one_block():
    both = facts(
        markets=("eu", "gb"), hazard={"eu": elements(), "gb": elements()},
        responsible_eu=IN_THE_UNION,
    )  # fmt: skip
    blocks = [need for need in needs_of(both) if need.key.startswith("hazard")]
    assert [block.markets for block in blocks] == [("eu", "gb")]


def test_a_language_without_words_is_refused():
    with pytest.raises(NoSuchWords, match="“xx”"):
        needs_of(facts(language="xx"))


def test_a_language_that_lacks_a_text_says_which():
    half = Texts("de", {"language": "German", "words": {}})
    with pytest.raises(NoSuchWords, match=r"words\.lot"):
        half.of("words.lot", lot="1")


def test_every_language_has_every_english_text():
    for code in languages():
        assert texts(code).keys() >= texts("en").keys()
