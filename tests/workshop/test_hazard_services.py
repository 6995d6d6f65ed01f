"""What a candle is made of, its class by that, and what is new about the sheets behind it."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from composition_examples import BENZOATE, EUGENOL, LINALOOL, confirmed, drafted, oil, row
from conftest import AT, ON
from design_examples import design, formula, wax
from pourwright.intake.tables import read_text
from pourwright.workshop.hazard import news, pasting, queries, services
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores import items
from pourwright.workshop.stores.models import Item, OilFacts

pytestmark = pytest.mark.django_db


def of(*oils, load=10, basis="wax", extras=()):
    """Return a formula's version with these oils in equal shares."""
    return formula(
        name=f"Formula {'+'.join(oil.name for oil in oils)}",
        waxes=[(wax(f"Wax for {oils[0].name}", limit=None), Decimal(1))],
        oils=[(oil, Decimal(1)) for oil in oils],
        extras=list(extras),
        load_pct=Decimal(load),
        load_basis=basis,
    )


# --- what a candle is made of --------------------------------------------------------------------


def test_percent_of_the_whole_is_exact_on_either_basis(workshop):
    fig, plum = oil(), oil("Plum")
    dye = items.new_item(kind="dye", name="Rust")
    of_wax = services.mixture_for(of(fig, plum, extras=[(dye, Decimal("0.5"))]))
    assert of_wax.pct_of_whole[fig.pk] == Fraction(5) / Fraction("110.5") * 100
    assert of_wax.pct_of_whole[dye.pk] == Fraction("0.5") / Fraction("110.5") * 100
    assert sum(of_wax.pct_of_whole.values()) == 100


def test_the_same_substance_in_two_oils_is_added_up_and_what_lacks_is_named(workshop):
    fig, plum, tea = oil(), oil("Plum"), oil("Tea")
    confirmed(fig, LINALOOL, BENZOATE)
    confirmed(plum, {**LINALOOL, "share": "20"})
    drafted(tea, LINALOOL)
    whole = services.mixture_for(of(fig, plum, tea, load=12, basis="whole"))
    present = {found.substance.cas: found for found in whole.mixture.present}
    assert present["78-70-6"].pct_of_whole == Fraction(4 * 10 + 4 * 20, 100)
    assert present["78-70-6"].open_above
    assert whole.gaps == (tea,)
    assert not whole.complete
    assert [item.kind for item in whole.waxes_taken] == ["wax"]


def test_an_empty_composition_is_no_gap_and_a_waxs_counts(workshop):
    fig = oil()
    dye = items.new_item(kind="dye", name="Rust")
    version = of(fig, extras=[(dye, Decimal(1))])
    confirmed(fig, LINALOOL)
    confirmed(dye)
    confirmed(version.waxes.get().item, {**BENZOATE, "share": "1"})
    whole = services.mixture_for(version)
    assert (whole.gaps, whole.waxes_taken) == ((), ())
    cas = {found.substance.cas for found in whole.mixture.present}
    assert cas == {"78-70-6", "120-51-4"}


def test_compositions_come_in_two_queries_however_many_oils(workshop):
    oils = [oil(f"Oil {number}") for number in range(8)]
    for one in oils:
        confirmed(one, LINALOOL, EUGENOL, BENZOATE)
    with CaptureQueriesContext(connection) as few:
        services.compositions_for(oils[:2])
    with CaptureQueriesContext(connection) as many:
        assert len(services.compositions_for(oils)) == 8
    assert len(few) == len(many) == 2


def test_the_upper_end_of_a_range_classifies_where_its_middle_would_not(workshop):
    """
    Linalool at 5 - <10 % of an oil dosed at 12 % of the whole: 1.2 % is at or above the 1.0 % of
    Skin Sens 1B, and the middle of the range, 0.9 %, is not.

    Source: CLP Annex I, Table 3.4.5 (consolidated text of 1 July 2026); that the upper end counts:
    REACH Annex II, 3.2 (from memory).
    """
    fig = oil()
    confirmed(fig, LINALOOL)
    found = services.assess_version(of(fig, load=12, basis="whole"), market="eu", on=ON)
    assert [said.code for said in found.label.hazard_statements] == ["H317"]
    middle = oil("Middle")
    confirmed(middle, {**LINALOOL, "share": "7.5"})
    found = services.assess_version(of(middle, load=12, basis="whole"), market="eu", on=ON)
    assert found.label.hazard_statements == ()


def test_what_a_waiting_sheet_would_make_of_a_label_is_told_for_each_design(workshop):
    fig = oil()
    confirmed(fig, {**LINALOOL, "share": "1"})
    version = of(fig)
    design(formula_version=version, markets="eu,us")
    waiting = drafted(fig, {**LINALOOL, "share": "20"})
    found = queries.designs_with(fig)
    eu, us = news.effects_of(waiting, found, on=ON, workshop=workshop)
    assert (eu.before, eu.differs) == ("no hazard element", True)
    assert eu.after.startswith("Warning, H317")
    assert (us.before, us.differs) == ("nothing listed", False)


# --- age and news --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("then", "on", "months"),
    [
        (date(2023, 3, 2), date(2026, 3, 2), 36),
        (date(2023, 3, 3), date(2026, 3, 2), 35),
        (date(2024, 1, 31), date(2024, 2, 29), 0),
        (date(2024, 1, 31), date(2024, 3, 1), 1),
        (date(2026, 3, 5), date(2026, 3, 2), 0),
    ],
)
def test_months_are_whole_ones(then, on, months):
    assert news.months_between(then, on) == months


@pytest.mark.parametrize(("day", "old"), [(date(2023, 3, 2), True), (date(2023, 3, 3), False)])
def test_a_sheet_is_old_from_the_day_that_the_set_months_are_full(workshop, day, old):
    fig = oil()
    confirmed(fig, LINALOOL, sheet_date=day)
    assert news.sheet_age(fig, on=ON).old is old
    assert [one.kind for one in news.news_of(fig, ON)] == (["old"] if old else [])
    listed = queries.items(show="old", on=ON, workshop=Workshop.load())
    assert list(listed) == ([fig] if old else [])
    workshop.sheet_old_months = 48
    workshop.save()
    assert news.news_of(fig, ON) == []


def test_an_item_without_a_composition_has_no_age_and_no_news(workshop):
    fig = oil()
    assert news.sheet_age(fig, on=ON) is None
    assert news.news_of(fig, ON) == []


def test_a_sheet_without_a_date_says_so(workshop):
    fig = oil()
    confirmed(fig, LINALOOL, sheet_date=None)
    assert [one.kind for one in news.news_of(fig, ON)] == ["undated"]


def test_a_later_sheet_among_the_oils_facts_is_told(workshop):
    fig = oil()
    confirmed(fig, LINALOOL, sheet_date=date(2020, 5, 9))
    OilFacts.objects.filter(item=fig).update(sheet_date=date(2025, 8, 1))
    fig.refresh_from_db()
    (one,) = news.news_of(fig, ON)
    assert one.kind == "newer"
    assert "9 May 2020" in one.text
    assert "1 Aug 2025" in one.text


def test_a_waiting_sheet_is_told_with_what_differs(workshop):
    fig = oil()
    confirmed(fig, LINALOOL, EUGENOL)
    broken = {"name": "musk", "share": "?"}
    drafted(fig, {**LINALOOL, "share": "12"}, BENZOATE, broken, sheet_date="2026-02-01")
    (one,) = news.news_for_version(of(fig), ON)
    assert one.kind == "waits"
    assert "newer sheet" in one.text
    assert "1 of its rows cannot be read" in one.text
    assert [(change.kind, change.substance) for change in one.changes] == [
        ("share", "linalool"), ("added", "benzyl benzoate"), ("removed", "eugenol"),
    ]  # fmt: skip
    assert one.changes[0].text == "linalool: 5 - <10 % becomes 12 %"


def test_what_counts_anew_since_a_release_is_told_with_what_changed(workshop):
    fig = oil()
    confirmed(fig, LINALOOL)
    released = AT + timedelta(days=1)
    assert news.news_of(fig, ON, since=released) == []
    confirmed(fig, {**LINALOOL, "classes": "Skin Sens. 1A"}, at=AT + timedelta(days=2))
    (one,) = news.news_of(fig, ON, since=released)
    assert (one.kind, one.changes[0].kind) == ("changed", "classes")
    assert one.changes[0].text == "linalool: Skin Sens 1B becomes Skin Sens 1A"
    assert news.news_of(fig, ON, since=AT + timedelta(days=3)) == []


def test_figures_that_differ_are_told_too():
    old, new = row(EUGENOL, m_acute="1"), row(EUGENOL, m_acute="10", limits="Skin Sens 1B 0.5")
    (change,) = news.what_changes([old], [new])
    assert change.text == "eugenol: M acute 1 becomes M acute 10, Skin Sens 1B from 0.5 %"
    assert news.what_changes([old], [old]) == ()


def test_news_of_many_items_asks_no_more_for_each(workshop):
    oils = [oil(f"Oil {number}") for number in range(9)]
    for one in oils:
        confirmed(one, LINALOOL, sheet_date=date(2020, 1, 1))
        confirmed(one, LINALOOL, EUGENOL, sheet_date=date(2021, 1, 1), at=AT + timedelta(days=1))
        drafted(one, BENZOATE)

    def asked(these):
        with CaptureQueriesContext(connection) as found:
            told = news.news_for(these, ON, since=AT, workshop=workshop)
        assert len(told) == 3 * len(these)
        return len(found)

    assert asked(items_again(oils)) == asked(items_again(oils[:2]))


def items_again(oils):
    return list(Item.objects.filter(pk__in=[one.pk for one in oils]).select_related("oil"))


# --- pasting -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "Substance\tCAS-No\tConc. %\tClassification\nlinalool\t78-70-6\t5 - <10\tSkin Sens. 1B",
        "78-70-6;5 - <10;Skin Sens. 1B;linalool",
        "linalool,201-134-4,78-70-6,5 - <10,Skin Sens. 1B",
        '"Ingredient","Hazard class","CAS","w/w"\n"linalool","Skin Sens. 1B","78-70-6","5 - <10"',
    ],
)
def test_pasted_rows_are_known_by_their_head_or_by_what_stands_in_them(text):
    (typed,) = pasting.typed_rows(read_text(text))
    assert {part: typed.get(part) for part in LINALOOL} == LINALOOL


def test_what_cannot_be_placed_stays_in_sight():
    rows = pasting.typed_rows(read_text("name\tcas\tshare\nlinalool\t78-70-5\tsome\n\t\t\n"))
    assert rows == [{"name": "linalool", "cas": "78-70-5", "share": "some"}]
