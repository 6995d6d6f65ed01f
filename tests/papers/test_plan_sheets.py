"""The week's plan on paper says each session, weight and clock time that it was handed."""

import io
from dataclasses import replace
from datetime import date

import pytest
from pypdf import PdfReader

from pourwright.papers.plan_sheets import (
    MeltOnPaper,
    Moment,
    SessionSheet,
    WeekPlan,
    Weighed,
    week_plan_pdf,
)

SESSION = SessionSheet(
    on=date(2026, 3, 3), begins="18:30", minutes=150, people=1,
    clock=[
        Moment(begins="18:30", ends="18:42", what="Set up and weigh"),
        Moment(begins="18:42", ends="19:31", what="Melt", busy=False),
    ],
    melts=[
        MeltOnPaper(
            melter="Wide pot", title="Quince skin", pour="B-0107",
            weighed=[Weighed(name="Rapeseed blend", mass_mg=2_222_200)],
            vessels=["12 Quince, *tumbler*"],
        )
    ],
    prepare=["Wick 12 tumblers"], finish=["Label 10 Bay"], table=["12 places free from Wed 10:00"],
)  # fmt: skip
WEEK = WeekPlan(
    monday=date(2026, 3, 2), workshop="A test workshop", plan="PL-0004", sessions=[SESSION],
    division_mg=100, cured=["10 Bay on Thu 5 Mar"], due=["12 Quince for Mill shop on Fri 6 Mar"],
    order=["Wax by Wed 4 Mar"], late=["2 Quince for the quay market are late."],
)  # fmt: skip


def pages(week, units="metric"):
    read = PdfReader(io.BytesIO(week_plan_pdf(week, units=units)))
    return read, [page.extract_text() for page in read.pages]


def test_the_overview_and_each_session_have_a_page_of_their_own():
    _, (overview, session) = pages(WEEK)
    for words in ("Week of 2 March 2026", "Tue 3 Mar", "Mill shop", "Wax by Wed", "are late"):
        assert words in overview
    for words in ("Tuesday, 3 March", "2,222.2", "18:42–19:31", "B-0107", "free from Wed"):
        assert words in session


def test_names_are_text_and_never_markup():
    _, (overview, _) = pages(WEEK)
    assert "*tumbler*" in overview


def test_the_caution_of_hot_wax_stands_where_something_is_melted():
    _, (_, session) = pages(WEEK)
    assert "Never leave a melt" in " ".join(session.split())


@pytest.mark.parametrize(("units", "size"), [("metric", (595, 842)), ("us", (612, 792))])
def test_paper_and_weights_follow_the_workshops_units(units, size):
    read, (_, session) = pages(WEEK, units)
    box = read.pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == size
    assert ("78.386" in session) == (units == "us")


def test_a_week_without_a_melt_says_so():
    read, (only,) = pages(replace(WEEK, sessions=[], late=[]))
    assert len(read.pages) == 1
    assert "Nothing is melted" in only
