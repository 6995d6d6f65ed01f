"""Amounts for a batch, however it is sized."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_examples import FORMULAS, formula
from pourwright.core.formula import (
    BadBatch,
    BadMelter,
    Fill,
    Formula,
    Melter,
    MelterTooSmall,
    WaxPart,
    batch_for_melter,
    batch_for_vessels,
    batch_for_wax,
)

MASSES = st.fractions(1, 10**5)
LOSSES = st.fractions(0, 20)
FILLS = st.lists(
    st.builds(Fill, count=st.integers(1, 500), fill_g=st.fractions(1, 2000)), min_size=1, max_size=4
)


def check_whole(batch, made):
    """What goes in is what comes out, and every part has its percentage."""
    assert sum(part.mass_g for part in (*batch.waxes, *batch.oils, *batch.extras)) == batch.mix_g
    assert sum(wax.mass_g for wax in batch.waxes) == batch.wax_g
    assert sum(oil.mass_g for oil in batch.oils) == batch.oil_g
    assert 100 * batch.oil_g == made.load_pct_of_wax * batch.wax_g
    assert 100 * batch.oil_g == made.load_pct_of_whole * batch.mix_g
    poured_g = sum((fill.mass_g for fill in batch.fills), Fraction(0))
    assert poured_g + batch.left_g + batch.loss_g == batch.mix_g
    assert batch.left_g >= 0


@given(FORMULAS, FILLS, LOSSES)
def test_a_batch_for_vessels_fills_them_and_leaves_nothing(made, fills, loss):
    batch = batch_for_vessels(made, fills=fills, loss_pct_of_mix=loss)
    check_whole(batch, made)
    assert batch.left_g == 0
    assert batch.vessels == sum(fill.count for fill in fills)
    assert 100 * batch.loss_g == loss * batch.mix_g


@given(FORMULAS, MASSES, st.fractions(1, 2000), LOSSES)
def test_a_batch_from_wax_uses_it_all_and_could_not_fill_one_vessel_more(made, wax_g, fill_g, loss):
    batch = batch_for_wax(made, wax_g=wax_g, fill_g=fill_g, loss_pct_of_mix=loss)
    check_whole(batch, made)
    assert batch.wax_g == wax_g
    assert batch.left_g < fill_g


@given(FORMULAS, FILLS, LOSSES)
def test_the_wax_of_a_batch_for_vessels_fills_as_many_again(made, fills, loss):
    batch = batch_for_vessels(made, fills=fills, loss_pct_of_mix=loss)
    *first, last = fills
    again = batch_for_wax(
        made, wax_g=batch.wax_g, first=first, fill_g=last.fill_g, loss_pct_of_mix=loss
    )
    assert again.vessels == batch.vessels
    assert again.mix_g == batch.mix_g


@given(FORMULAS, MASSES, st.sampled_from(["melter", "pitcher"]))
def test_a_melters_batch_fills_it_exactly_with_what_counts(made, usable_g, oil_goes_in):
    melter = Melter(usable_g=usable_g, oil_goes_in=oil_goes_in)
    batch = batch_for_melter(made, melter=melter, fill_g=Fraction(200))
    check_whole(batch, made)
    assert usable_g == (batch.mix_g if oil_goes_in == "melter" else batch.wax_g)


def test_vessels_of_several_kinds_come_from_one_batch():
    small, large = Fill(count=6, fill_g=Fraction(90)), Fill(count=4, fill_g=Fraction(250))
    batch = batch_for_vessels(formula(), fills=[small, large])
    assert batch.vessels == 10
    assert batch.mix_g == 1540


def test_vessels_asked_for_come_first_and_the_rest_fills_the_others():
    plain = Formula(waxes=(WaxPart(name="soy"),))
    batch = batch_for_wax(
        plain,
        wax_g=Fraction(2000),
        first=[Fill(count=3, fill_g=Fraction(500))],
        fill_g=Fraction(150),
    )
    assert [fill.count for fill in batch.fills] == [3, 3]
    assert batch.left_g == 50
    with pytest.raises(BadBatch, match="ask for fewer, or melt more"):
        batch_for_wax(plain, wax_g=Fraction(400), first=[Fill(count=1, fill_g=Fraction(500))])


def test_a_melter_is_as_large_as_the_smaller_of_its_mass_and_its_volume():
    by_volume = Melter(
        usable_g=Fraction(5000),
        usable_ml=Fraction(6000),
        liquid_density_g_per_ml=Fraction("0.8"),
    )
    assert by_volume.most_g == 4800
    with pytest.raises(MelterTooSmall, match=r"6,000\.0.ml.*of melted wax"):
        batch_for_wax(formula(), wax_g=Fraction(4900), melter=by_volume)


def test_the_oil_counts_against_the_melter_only_where_it_goes_into_it():
    """1000 g of wax with 60 g of oil."""
    tight = {"usable_g": Fraction(1030)}
    batch_for_wax(formula(), wax_g=Fraction(1000), melter=Melter(**tight, oil_goes_in="pitcher"))
    with pytest.raises(MelterTooSmall, match="of wax with oil does not fit"):
        batch_for_wax(formula(), wax_g=Fraction(1000), melter=Melter(**tight, oil_goes_in="melter"))


@pytest.mark.parametrize("loss", [Fraction(-1), Fraction(100), Fraction(140)])
def test_a_loss_that_cannot_be_is_refused(loss):
    with pytest.raises(BadBatch, match="Loss is"):
        batch_for_wax(formula(), wax_g=Fraction(100), loss_pct_of_mix=loss)


def test_nothing_to_make_is_refused():
    with pytest.raises(BadBatch, match="at least one vessel"):
        batch_for_vessels(formula(), fills=[Fill(count=0, fill_g=Fraction(100))])
    with pytest.raises(BadBatch, match="fill is more than zero"):
        batch_for_vessels(formula(), fills=[Fill(count=1, fill_g=Fraction(0))])
    with pytest.raises(BadBatch, match="zero or more"):
        batch_for_vessels(formula(), fills=[Fill(count=-1, fill_g=Fraction(100))])
    with pytest.raises(BadBatch, match="some wax"):
        batch_for_wax(formula(), wax_g=Fraction(0))


def test_a_melter_without_figures_that_make_sense_is_refused():
    with pytest.raises(BadMelter, match="needs a capacity"):
        Melter()
    with pytest.raises(BadMelter, match="more than zero"):
        Melter(usable_g=Fraction(0))
    with pytest.raises(BadMelter, match="needs the density"):
        Melter(usable_ml=Fraction(5000))
