"""The walks through the candles near one, and where on them a limit is met."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.formula import Extra, Formula, LoadOfWax, LoadOfWhole, OilPart, WaxPart
from pourwright.core.hazard.criterion import Criterion, Term
from pourwright.core.hazard.model import (
    Composition,
    Entry,
    HazardClass,
    Ingredient,
    Kind,
    Range,
    Substance,
)
from pourwright.core.hazard.paths import (
    Dose,
    Doses,
    NoWalk,
    all_paths,
    amount_path,
    doses_of,
    load_path,
    oil_path,
)
from pourwright.core.hazard.spans import Sheet, spans

SUBSTANCES = [Substance(name=f"substance {letter}") for letter in "abcdef"]


def material(name: str, **pct: object) -> Composition:
    """Return a material of the substances a to f: ``material("x", a=5)``."""
    return Composition(
        name=name,
        ingredients=tuple(
            Ingredient(substance=SUBSTANCES["abcdef".index(letter)], pct=Range(high=Fraction(part)))
            for letter, part in pct.items()
        ),
    )


@st.composite
def materials(draw, name):
    letters = draw(st.lists(st.sampled_from("abcdef"), unique=True, max_size=4))
    parts = {letter: Fraction(draw(st.integers(0, 240)), 10) for letter in letters}
    return material(name, **parts)


@st.composite
def candles(draw):
    oils = draw(st.integers(1, 3))
    # Every substance is named once in the wax, so that each candle knows the same six.
    wax = material("wax", **{letter: draw(st.sampled_from([0, 0, 0, 2])) for letter in "abcdef"})
    return Doses(
        waxes=(Dose(composition=wax, pct_of_wax=Fraction(100)),),
        oils=tuple(
            Dose(
                composition=draw(materials(f"oil {place}")),
                pct_of_wax=Fraction(draw(st.integers(1, 40)), 4),
            )
            for place in range(oils)
        ),
        extras=(
            Dose(composition=draw(materials("dye")), pct_of_wax=Fraction(draw(st.integers(0, 4)))),
        ),
    )


@st.composite
def criteria(draw):
    letters = draw(st.lists(st.integers(0, 5), unique=True, min_size=1, max_size=4))
    cut_off = st.sampled_from([0, Fraction(1, 10), Fraction(1, 2), 1])
    return Criterion(
        key="k",
        effect="class",
        hazard=None,
        terms=tuple(
            Term(letter, Fraction(draw(st.integers(1, 10)), 2), Fraction(draw(cut_off)))
            for letter in letters
        ),
        limit=Fraction(draw(st.integers(1, 40)), 4),
        rule="",
    )


@given(doses=candles(), criterion=criteria(), data=st.data())
@settings(max_examples=80, deadline=None)
def test_a_limit_is_met_on_its_spans_and_nowhere_else(doses, criterion, data):
    path = data.draw(st.sampled_from(all_paths(doses)))
    found = spans(criterion, path)
    ends = sorted({path.low, path.high, *(t for span in found for t in (span.low, span.high))})
    between = [(low + high) / 2 for low, high in pairwise(ends)]
    close = [t + (high - low) * Fraction(1, 10**9) for (low, high) in pairwise(ends) for t in [low]]
    anywhere = [path.high * data.draw(st.fractions(0, 1, max_denominator=997)) for _ in range(5)]
    for t in [*ends, *between, *close, *anywhere]:
        met = criterion.met_at(path.concentrations_at(t))
        assert met == any(span.holds(t) for span in found), t


@given(doses=candles(), criterion=criteria())
@settings(max_examples=40, deadline=None)
def test_spans_stand_in_order_and_never_touch(doses, criterion):
    for path in all_paths(doses):
        for one, next_one in pairwise(spans(criterion, path)):
            gap = one.high < next_one.low
            hole = one.high == next_one.low and not one.high_in and not next_one.low_in
            assert gap or hole


@given(doses=candles())
@settings(max_examples=40, deadline=None)
def test_every_walk_goes_through_the_candle_as_it_is(doses):
    for path in all_paths(doses):
        assert path.mixture_at(path.present).concentrations == doses.mixture.concentrations
        assert path.low <= path.present <= path.high


@given(doses=candles(), share=st.fractions(0, 1, max_denominator=997))
@settings(max_examples=40, deadline=None)
def test_a_walk_knows_the_concentrations_that_mixing_gives(doses, share):
    for path in (*all_paths(doses), amount_path_of(doses)):
        t = path.high * share
        assert path.concentrations_at(t) == path.mixture_at(t).concentrations
        assert path.substances == tuple(p.substance for p in path.mixture_at(t).present)


def amount_path_of(doses: Doses):
    try:
        return amount_path(doses.mixture)
    except NoWalk:
        return load_path(doses)


def test_a_sum_and_a_limit_shared_by_many_are_each_told_apart():
    """Criteria on one sum are walked together; each keeps its own limit."""
    oil = Dose(composition=material("oil", a=50, b=50), pct_of_wax=Fraction(10))
    wax = Dose(composition=material("wax"), pct_of_wax=Fraction(100))
    path = load_path(Doses(waxes=(wax,), oils=(oil,)))
    terms = (Term(0, Fraction(1)), Term(1, Fraction(1)))
    limits = [Fraction(5), Fraction(10), Fraction(50)]
    rows = [
        Criterion(key=str(limit), effect="class", hazard=None, terms=terms, limit=limit, rule="")
        for limit in limits
    ]
    starts = [[start[0] for start, _ in met] for met in Sheet(rows).walk(path)]
    # 5 % of the whole is 100/19 % of the wax, 10 % is 100/9 %; 50 % is never reached.
    assert starts == [[Fraction(100, 19)], [Fraction(100, 9)], []]


def test_sheets_that_differ_on_a_substance_are_joined_as_in_the_mixture():
    """One oil's sheet calls a substance a sensitiser, the other's gives an M-factor."""
    sensitiser = Entry(hazard=HazardClass(Kind.SKIN_SENS, "1B"))
    sheets = (
        Substance(name="musk", cas="1222-05-5", entries=(sensitiser,)),
        Substance(name="a trade name", cas="1222-05-5", m_acute=Fraction(10)),
    )
    oils = tuple(
        Dose(
            composition=Composition(
                name=f"oil {n}",
                ingredients=(Ingredient(substance=one, pct=Range(high=Fraction(5))),),
            ),
            pct_of_wax=Fraction(4),
        )
        for n, one in enumerate(sheets)
    )
    doses = Doses(
        waxes=(Dose(composition=material("wax"), pct_of_wax=Fraction(100)),), oils=oils
    )  # fmt: skip
    for path in all_paths(doses):
        assert path.substances == tuple(p.substance for p in doses.mixture.present)
        assert path.substances[0].entries == (sensitiser,)
        assert path.substances[0].m_acute == 10


def test_the_load_walk_holds_the_shares_and_the_dye():
    doses = Doses(
        waxes=(Dose(composition=material("wax"), pct_of_wax=Fraction(100)),),
        oils=(
            Dose(composition=material("bay", a=10), pct_of_wax=Fraction(6)),
            Dose(composition=material("moss", b=10), pct_of_wax=Fraction(2)),
        ),
        extras=(Dose(composition=material("dye", c=50), pct_of_wax=Fraction(4)),),
    )
    path = load_path(doses)
    # At 16 % of the wax the whole is 120: bay 12, moss 4, dye 4.
    assert path.concentrations_at(Fraction(16)) == (
        Fraction(120, 120),
        Fraction(40, 120),
        Fraction(200, 120),
    )
    assert path.pct_of_whole_at(Fraction(16)) == Fraction(1600, 120)
    assert path.t_of_whole(Fraction(1600, 120)) == 16


def test_an_oils_walk_holds_the_other_oils_and_tells_the_share():
    doses = Doses(
        waxes=(Dose(composition=material("wax"), pct_of_wax=Fraction(100)),),
        oils=(
            Dose(composition=material("bay", a=10), pct_of_wax=Fraction(6)),
            Dose(composition=material("moss", b=10), pct_of_wax=Fraction(2)),
        ),
    )
    path = oil_path(doses, 1)
    # 18 % of moss beside the 6 % of bay: a whole of 124.
    assert path.mixture_at(Fraction(8)).concentrations == (Fraction(60, 114), Fraction(80, 114))
    assert path.share_at(Fraction(18)) == 75
    assert path.pct_of_whole_at(Fraction(6)) == Fraction(600, 112)


def test_a_formula_gives_its_doses_on_either_basis():
    waxes = (WaxPart(name="soft", share=Fraction(3)), WaxPart(name="hard", share=Fraction(1)))
    oils = (OilPart(name="bay", share=Fraction(3)), OilPart(name="moss", share=Fraction(1)))
    extras = (Extra(name="dye", pct_of_wax=Fraction(5)),)
    bay = material("bay", a=10)
    of_wax = doses_of(
        Formula(waxes=waxes, oils=oils, extras=extras, load=LoadOfWax(Fraction(20))),
        oils={"bay": bay},
    )
    # 20 in 125 is 16 % of the whole.
    of_whole = doses_of(
        Formula(waxes=waxes, oils=oils, extras=extras, load=LoadOfWhole(Fraction(16))),
        oils={"bay": bay},
    )
    assert of_wax == of_whole
    assert [dose.pct_of_wax for dose in of_wax.all] == [75, 25, 15, 5, 5]
    assert of_wax.mixture.concentrations == (Fraction(150, 125),)


def test_without_oil_there_is_no_load_to_move():
    wax = Dose(composition=material("wax", a=1), pct_of_wax=Fraction(100))
    with pytest.raises(NoWalk, match="no oil"):
        load_path(Doses(waxes=(wax,)))
    with pytest.raises(NoWalk, match="no oil 1"):
        oil_path(Doses(waxes=(wax,)), 0)
