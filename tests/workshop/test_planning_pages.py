"""The plan's pages: each opens, does what its buttons say, and refuses what cannot be."""

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from candle_examples import release, set_up_bench
from conftest import ON
from plan_examples import an_order, evenings, planned, pot
from pourwright.workshop.house.exchange_tables import plain_tables
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.planning import services
from pourwright.workshop.planning.bringing import seen_at
from pourwright.workshop.planning.models import (
    CalendarKey,
    Market,
    MarketDay,
    MarketLine,
    Means,
    Offer,
    Plan,
    Purchase,
)
from pourwright.workshop.pours.models import Pour
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Place, Receipt

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    release(made.version, on=ON)
    return made


@pytest.fixture
def plan(bench):
    return planned(bench, now=timezone.localtime())


def opened(client, name, *args, **get):
    answer = client.get(reverse(f"planning:{name}", args=args), get)
    assert answer.status_code == 200, answer
    return answer.content.decode()


def sent(client, name, *args, **told):
    return client.post(reverse(f"planning:{name}", args=args), told)


def test_from_what_is_wanted_to_a_plan_that_is_followed(client, bench):
    evenings(0, 3)
    pot()
    an_order(bench, on=timezone.localdate())
    assert "Quince in amber" in opened(client, "wanted")
    assert "Plan the pours" in opened(client, "index")
    answer = sent(client, "index", effort="20")
    made = Plan.objects.get()
    assert answer.url == reverse("planning:plan", args=[made.number])
    page = opened(client, "plan", made.number)
    for words in ("Follow this plan", "Week by week", "Who gets what, when", "on time", "<svg"):
        assert words in page
    sent(client, "plan", made.number, do="follow")
    assert services.followed() == made
    assert client.get(reverse("planning:index")).url == answer.url


def test_what_is_late_for_one_reason_is_said_once_with_what_would_help(client, bench):
    evenings(0, 3)
    pot()
    orders = [an_order(bench, on=timezone.localdate(), qty=qty, days=3) for qty in (5, 7)]
    sent(client, "index", effort="20")
    page = opened(client, "plan", Plan.objects.get().number)
    assert "What is late, and why" in page
    assert page.count("It cures 14 days") == 1
    for order, qty in zip(orders, (5, 7), strict=True):
        assert order.number in page
        assert re.search(rf"\b\d+ of {qty} Quince in amber", page)


def test_a_plan_that_cannot_be_made_says_why_beside_the_form(client, bench):
    answer = sent(client, "index", effort="20")
    assert "No session to pour in" in answer.content.decode()


def test_a_melt_is_moved_pinned_and_started_from_the_board(client, plan):
    melt = plan.melts.first()
    to = [row["key"] for row in plan.problem["sessions"]]
    board = client.post(
        reverse("planning:melt", args=[melt.pk]), {"do": "move", "to": to[-1]},
        headers={"hx-request": "true"},
    ).content.decode()  # fmt: skip
    assert "this breaks" in board
    assert "<html" not in board
    sent(client, "melt", melt.pk, do="move", to="no session")
    assert "Choose a session" in opened(client, "plan", plan.number)
    sent(client, "melt", melt.pk, do="move", to=to[0])
    assert "pinned" in opened(client, "plan", plan.number)
    sent(client, "melt", melt.pk, do="unpin")
    assert sent(client, "melt", melt.pk, do="nothing known").status_code == 404
    answer = sent(client, "melt", melt.pk, do="start")
    assert answer.url == reverse("pours:pour", args=[Pour.objects.get().number])


def test_what_can_be_promised_is_answered_on_the_page_and_within_it(client, plan, bench):
    by = timezone.localdate() + timedelta(27)
    asked = {"quantity": 2, "design": bench.design.pk, "by": by.isoformat()}
    assert "2 Quince in amber by" in opened(client, "promise", **asked)
    past = asked | {"by": "2020-01-01"}
    assert "is past" in opened(client, "promise", **past)
    piece = client.get(reverse("planning:promise"), asked, headers={"hx-request": "true"})
    assert b"<html" not in piece.content


def test_a_what_if_is_set_beside_the_plan(client, plan):
    answer = sent(client, "what_if", effort="20", table_places="48")
    other = Plan.objects.exclude(pk=plan.pk).get()
    assert answer.url == reverse("planning:plan", args=[other.number])
    page = opened(client, "plan", other.number)
    assert "48 places on the pour table" in page
    assert "Follow this plan" not in page
    assert f"{plan.number} as it stands: 0 late" in page
    both = opened(client, "compare", one=plan.number, other=other.number)
    assert "What differs" in both
    assert "Which is better at what" in both
    assert re.search(r"Proven: neither|Sure: |Not proven: ", both)
    assert "at least one thing" in sent(client, "what_if", effort="20").content.decode()


def test_a_circuit_that_gives_less_than_a_melter_draws_is_refused(client, bench):
    pot_w = pot()
    pot_w.power_w = 1800
    pot_w.save()
    form = client.get(reverse("planning:means")).context["form"]
    given = {field.html_name: field.value() for field in form if field.value() is not None}
    refused = sent(client, "means", **given | {"circuit_w": "1200"}).content.decode()
    assert "Pot alone draws 1800 W" in refused
    assert Means.load().circuit_w is None
    sent(client, "means", **given | {"circuit_w": "2300"})
    assert Means.load().circuit_w == 2300


def test_a_plan_that_is_not_proven_best_can_be_looked_for_longer(client, plan):
    def offered():
        return "Look for longer" in opened(client, "plan", plan.number)

    plan.answer["bounds"]["all_levels"] = True
    plan.save()
    assert not offered()
    sent(client, "plan", plan.number, do="longer")
    assert "proven best" in opened(client, "plan", plan.number)
    plan.answer["bounds"]["all_levels"] = False
    plan.save()
    assert offered()
    answer = sent(client, "plan", plan.number, do="longer")
    other = Plan.objects.exclude(pk=plan.pk).get()
    assert answer.url == reverse("planning:plan", args=[other.number])
    assert other.problem == plan.problem


def test_a_week_is_printed_and_the_calendar_is_for_those_who_know_its_word(client, plan):
    monday = plan.melts.first().on
    paper = client.get(reverse("planning:week", args=[plan.number, monday.isoformat()]))
    assert paper.content.startswith(b"%PDF")
    assert client.get(reverse("planning:week", args=[plan.number, "no-day"])).status_code == 404
    opened(client, "subscribe")
    word = CalendarKey.objects.get().word
    entries = client.get(reverse("planning:calendar", args=[word])).content
    assert b"Quince in amber" in entries
    sent(client, "subscribe")
    assert client.get(reverse("planning:calendar", args=[word])).status_code == 404


def test_an_order_is_sent_comes_and_is_taken_in(client, bench):
    stores.scrap(
        lot=bench.lots["lid"], place=Place.STORE, qty=95, reason="damp", on=ON,
        at=timezone.now(),
    )  # fmt: skip
    lid = bench.items["lid"]
    offer = {"supplier": lid.supplier_id, "pack_qty": "10", "price_1": "9", "lead_days": "4"}
    refused = sent(client, "item_offers", lid.pk, **offer | {"from_2": "3", "price_2": "12"})
    assert "no higher" in refused.content.decode()
    sent(client, "item_offers", lid.pk, **offer, from_2="3", price_2="8.50")
    assert [p.from_packs for p in Offer.objects.get().prices.all()] == [1, 3]
    sent(client, "freight", lid.supplier_id, charge_minor100="5", free_from_minor100="100")
    planned(bench, now=timezone.localtime())
    page = opened(client, "buy")
    assert "Cork lid" in page
    told = dict(re.findall(r'name="(client_id|supplier|on)" value="([^"]+)"', page))
    paper = client.get(reverse("planning:order_paper", args=[told["supplier"], told["on"]]))
    assert paper.content.startswith(b"%PDF")
    for _ in range(2):
        sent(client, "buy", **told)
    order = Purchase.objects.get()
    assert order.freight_minor100 == 50_000
    assert "Nothing: what is there" in opened(client, "buy")
    form = opened(client, "take_in", order.number)
    filled = dict(re.findall(r'name="([^"]+)"[^>]*value="([^"]*)"', form))
    filled |= {"lines-0-item": lid.pk, "supplier": order.supplier_id, "spread": "value"}
    answer = sent(client, "take_in", order.number, **filled)
    receipt = Receipt.objects.latest("id")
    assert answer.url == reverse("stores:receipt", args=[receipt.number])
    assert receipt.number in opened(client, "purchase", order.number)


def test_how_many_to_bring_comes_from_days_that_are_counted(client, bench):
    market = Market.objects.create(name="Quay market", stall_places=12)
    for days in (30, 20, 10):
        day = market.days.create(
            on=timezone.localdate() - timedelta(days), recorded_at=timezone.now()
        )
        day.lines.create(design=bench.design, taken=10, sold=8, back=2)
    ahead = market.days.create(on=timezone.localdate() + timedelta(30))
    page = opened(client, "market_day", ahead.pk)
    assert "eight days of ten" in page
    assert "Only 3 days seen" in page
    sent(client, "market_day", ahead.pk, do="advised")
    wanted = MarketLine.objects.get(day=ahead).wanted
    assert 1 <= wanted <= 12
    never = Market.objects.create(name="New fair").days.create(on=ahead.on)
    assert "eight days of ten" not in opened(client, "market_day", never.pk)


def test_a_day_that_sold_out_at_a_known_time_counts_as_so_much_of_a_day(bench):
    market = Market.objects.create(name="Quay market", opens="10:00", closes="14:00")
    market.refresh_from_db()
    for number, at in enumerate(("12:00", None)):
        day = market.days.create(on=date(2026, 2, 1 + number), recorded_at=timezone.now())
        day.lines.create(design=bench.design, taken=6, sold=6, back=0, sold_out_at=at)
    known, unknown = seen_at(market, before=MarketDay(pk=0))[f"design-{bench.design.pk}"]
    assert (known.exposure, known.sold_out) == (0.5, False)
    assert (unknown.exposure, unknown.sold_out) == (1.0, True)


def test_the_plans_tables_go_out_and_the_calendars_word_does_not(client, plan, bench):
    opened(client, "subscribe")
    word = CalendarKey.objects.get().word
    tables = {table.name: table for table in plain_tables(Workshop.load())}
    assert {"plans", "planned melts", "market days", "offers", "purchases"} <= tables.keys()
    assert not any(word in str(cell) for t in tables.values() for row in t.rows() for cell in row)
    assert list(tables["planned melts"].rows())
