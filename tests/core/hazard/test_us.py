"""The US lists: sums, names, what is said where nothing is found. Limits: tests/published."""

from datetime import date
from fractions import Fraction

import pytest

from pourwright.core.hazard.model import Mixture, Presence, Substance
from pourwright.core.hazard.us import assess_us
from pourwright.core.rules import NoRuleForDate

ON = date(2026, 11, 24)
KEYS = {
    "classes", "pictograms", "signal_word", "hazard_statements", "supplemental_statements",
    "precautionary_statements", "named_substances", "identifier_needed", "refused", "warnings",
    "trace",
}  # fmt: skip


def present(name, pct, cas="", parts=()):
    return Presence(
        substance=Substance(name=name, cas=cas), pct_of_whole=Fraction(pct), parts=tuple(parts)
    )


def candle(*presences):
    return Mixture(present=presences)


def test_a_candle_without_anything_listed_needs_no_label_and_says_what_was_not_looked_at():
    found = assess_us(candle(present("linalool", 3, "78-70-6")), ON)
    assert (found.signal_word, found.elements, found.trace) == (None, (), ())
    assert "competent adviser" in found.advice
    assert "15 USC 1261(f)" in found.advice


def test_the_same_thing_under_two_names_is_added_up():
    found = assess_us(
        candle(present("turpentine oil", 6, "8006-64-2"), present("gum turpentine", 4)), ON
    )
    assert found.signal_word == "Danger"
    assert "recognised by its name" in found.trace[0]
    assert any("check that" in warning for warning in found.warnings)


def test_below_its_limit_it_is_traced_and_not_labelled():
    found = assess_us(candle(present("bergamot oil", "1.5", "8007-75-8")), ON)
    assert found.trace == (
        "strong sensitizer: oil of bergamot 1.5 %, limit 2 %: not reached [16 CFR 1500.13(e)]",
    )
    assert found.elements == ()


def test_the_graver_word_stands_for_all_and_every_hazard_is_told():
    found = assess_us(
        candle(present("bergamot oil", 2, "8007-75-8"), present("turpentine", 10, "8006-64-2")), ON
    )
    assert found.signal_word == "Danger"
    assert [e.text for e in found.elements if e.what == "hazard"] == [
        "Harmful or fatal if swallowed.",
        "May cause an allergic skin reaction.",
    ]
    assert found.named_substances == ("turpentine", "oil of bergamot")


def test_a_material_named_after_it_without_such_an_ingredient_is_asked_about():
    found = assess_us(
        candle(present("limonene", 3, parts=[("Bergamot and sage", Fraction(3))])), ON
    )
    assert found.listed == ()
    assert "ask the supplier" in found.warnings[0]


@pytest.mark.parametrize(
    "name", ["octahydrotetramethyl naphthalenyl ethanone", "formaldehyde cyclododecyl ethyl acetal"]
)
def test_a_fragrance_material_that_only_sounds_like_it_is_not_listed(name):
    assert assess_us(candle(present(name, 12)), ON).listed == ()


def test_what_is_not_there_is_not_listed():
    assert assess_us(candle(present("orris root powder", 0)), ON).listed == ()


def test_every_element_has_its_reason_and_clause():
    found = assess_us(candle(present("bergamot oil", 2, "8007-75-8")), ON)
    assert all(e.text and e.why and e.clause and e.status for e in found.elements)


def test_programs_get_the_keys_of_every_market():
    told = assess_us(candle(present("bergamot oil", 2, "8007-75-8")), ON).as_json()
    assert set(told) >= KEYS
    assert told["signal_word"] == "Warning"
    assert told["classes"] == ["strong sensitizer: oil of bergamot"]
    assert told["trace"][0]["met"] is True
    assert assess_us(candle(), ON).as_json()["signal_word"] is None


def test_before_the_lists_there_is_no_answer():
    with pytest.raises(NoRuleForDate):
        assess_us(candle(), date(1960, 1, 1))
