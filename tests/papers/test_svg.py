"""The writer of SVG: nothing that was typed becomes markup, nothing the page forbids gets in."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.papers.svg import Markup, el, number, path, picture


@given(st.text())
def test_any_text_comes_back_as_text(words):
    root = ET.fromstring(el("text", words, class_=words))
    kept = "".join(c for c in words if c in "\t\n\r" or (c >= " " and c not in "\ufffe\uffff"))
    kept = "".join(c for c in kept if not "\ud800" <= c <= "\udfff")
    assert not list(root)
    # XML reads a carriage return as a line feed.
    assert (root.text or "") == kept.replace("\r\n", "\n").replace("\r", "\n")


def test_markup_given_as_an_attribute_is_still_text():
    root = ET.fromstring(el("text", aria_label=el("b", "x")))
    assert root.get("aria-label") == "<b>x</b>"


@pytest.mark.parametrize("name", ["style", "onclick", "href"])
def test_attributes_that_the_policy_forbids_are_refused(name):
    with pytest.raises(ValueError, match=name):
        el("path", **{name: "x"})


@pytest.mark.parametrize(
    ("value", "shown"),
    [(0.005, "0.01"), (-0.001, "0"), (12.0, "12"), (100, "100"), (-3.456, "-3.46")],
)
def test_numbers_are_short(value, shown):
    assert number(value) == shown


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_none_is_refused(value):
    with pytest.raises(ValueError, match="number"):
        path([(value, 0)])


def test_templates_take_a_picture_as_finished():
    made = picture(width=10, height=10, prefix="p", title="A & B")
    assert isinstance(made, Markup)
    assert made.__html__() == made
    assert "A &amp; B" in made
