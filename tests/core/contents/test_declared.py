"""Net-weight statements: what is read, what is refused, and that none says more than is there."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.contents import BadDeclaration, parse_declared, statement_for, us_statement
from pourwright.core.contents.declared import Declared, largest_true
from pourwright.core.errors import BadInput

ounces = st.integers(min_value=40, max_value=40_000).map(lambda n: Fraction(n, 100))
grams = st.integers(min_value=10, max_value=100_000).map(lambda n: Fraction(n, 10))


@given(st.fractions(min_value=Fraction(1, 2), max_value=400))
def test_a_statement_from_ounces_never_says_more_than_is_there(oz):
    given_ = Declared(oz=oz, metric_g=None)
    assert us_statement(given_).enforced_g <= given_.enforced_g


@given(st.fractions(min_value=10, max_value=10_000))
def test_a_statement_from_grams_never_says_more_than_is_there(metric_g):
    given_ = Declared(oz=None, metric_g=metric_g)
    assert us_statement(given_).enforced_g <= metric_g


@given(ounces, st.booleans())
def test_a_statement_is_read_back_as_what_it_says(oz, fractions):
    stated = us_statement(Declared(oz=oz, metric_g=None, fractions=fractions))
    read = parse_declared(stated.text)
    assert (read.oz, read.metric_g) == (stated.declared.oz, stated.declared.metric_g)
    assert us_statement(read).text == stated.text


@given(grams, st.sampled_from(["us", "eu", "gb"]))
def test_what_is_enforced_is_the_larger_figure(metric_g, market):
    stated = statement_for(Declared(oz=None, metric_g=metric_g), market)
    figures = [stated.declared.metric_g, stated.declared.inch_pound_g]
    assert stated.enforced_g == max(figure for figure in figures if figure is not None)


@given(grams.filter(lambda g: g >= 30), st.booleans())
def test_a_proposal_is_borne_out_by_the_fill(fill_g, in_ounces):
    assert largest_true(fill_g, "us", in_ounces=in_ounces).enforced_g <= fill_g


@pytest.mark.parametrize(
    ("text", "oz", "metric_g"),
    [
        ("6 oz (170 g)", "6", "170"), ("170 g (6 oz)", "6", "170"), ("6oz/170g", "6", "170"),
        ("Net Wt 6 oz | 170 g", "6", "170"), ("NET WT. 6 OZ · 170 G", "6", "170"),
        ("net weight: 6 1/2 oz", "13/2", None), ("1 lb 3 oz (538 g)", "19", "538"),
        ("1.2 kg", None, "1200"), ("5 ¼ oz", "21/4", None), ("0.5 lb", "8", None),
    ],
)  # fmt: skip
def test_what_labels_say_is_read(text, oz, metric_g):
    read = parse_declared(text)
    assert read.oz == (None if oz is None else Fraction(oz))
    assert read.metric_g == (None if metric_g is None else Fraction(metric_g))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"), ("6", "without a unit"), ("6 (170)", "without a unit"),
        ("0 g", "declares nothing"), ("6 oz (7 oz)", "two figures in ounces"),
        ("170 g / 171 g", "two figures in grams"), ("6 oz (120 g)", "two different weights"),
        ("a jar", "is not a mass"), ("6 fl oz", "is a volume"), ("1 g 2 oz 3 g; 4; 5", "one"),
    ],
)  # fmt: skip
def test_what_no_label_may_say_is_refused_in_the_makers_words(text, says):
    with pytest.raises(BadInput, match=says):
        parse_declared(text)


def test_eu_and_gb_need_grams():
    with pytest.raises(BadDeclaration, match="no grams"):
        _ = parse_declared("6 oz").nominal_g
    assert statement_for(parse_declared("6 oz"), "gb").text == "170 g"
    assert statement_for(parse_declared("1250 g"), "eu").text == "1.25 kg"


def test_a_statement_says_what_it_changed():
    cut = us_statement(parse_declared("6.123 oz (173.55 g)"))
    assert cut.text == "6.12 oz (173 g)"
    assert len(cut.notes) == 2
    larger = us_statement(parse_declared("6 oz (171 g)"))
    assert "171 g beside it is the larger" in larger.notes[0]
