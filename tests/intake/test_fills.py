"""Columns of weights: each way in which they come, and every faulty line by its number."""

import pytest

from pourwright.core.errors import BadInput
from pourwright.intake.fills import Weighed, read_fills


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("168\n\n167.5 g\n", [Weighed(net_mg=168_000), Weighed(net_mg=167_500)]),
        ("net weight\n168,5\n", [Weighed(net_mg=168_500)]),
        ("empty\tfilled\n150.2\t318\n", [Weighed(empty_mg=150_200, full_mg=318_000)]),
        ("150,2;318,0", [Weighed(empty_mg=150_200, full_mg=318_000)]),
        ("150.2, 318.0", [Weighed(empty_mg=150_200, full_mg=318_000)]),
        ('"150.2","318.5"', [Weighed(empty_mg=150_200, full_mg=318_500)]),
        ("6 oz", [Weighed(net_mg=170_097)]),
    ],
)
def test_what_is_read(text, found):
    assert read_fills(text) == found


def test_one_tare_stands_for_every_vessel():
    assert read_fills("318\n319", tare_mg=150_000) == [
        Weighed(empty_mg=150_000, full_mg=318_000),
        Weighed(empty_mg=150_000, full_mg=319_000),
    ]


def test_a_bare_number_is_in_the_workshops_unit():
    assert read_fills("6", bare="oz")[0].net_mg == 170_097


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("168\nheavy\n167\nmore", "Line 2.*Line 4"), ("1;2;3", "3 figures"),
        ("318;150", "heavier empty"), ("", "No weight"), ("weights\n", "No weight"),
        ("1\n" * 3001, "3001 lines"), ("x1\n" * 12, "And 4 more"),
    ],
)  # fmt: skip
def test_every_faulty_line_is_named(text, says):
    with pytest.raises(BadInput, match=f"(?s){says}"):
        read_fills(text)


def test_a_weight_below_the_tare_is_refused():
    with pytest.raises(BadInput, match="less than the tare"):
        read_fills("100", tare_mg=150_000)
