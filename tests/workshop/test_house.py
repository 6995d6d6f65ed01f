"""Today, find, the settings and what went wrong: as the maker meets them."""

from datetime import timedelta

import pytest

from conftest import AT, ON
from pourwright.workshop.house import today as now
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders.models import Customer
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Item, Kind, Measure, Supplier

pytestmark = pytest.mark.django_db

SETTINGS = {
    "name": "Corner Bench", "maker": "Ama Berg", "address": "3 Mill Row", "units": "metric",
    "currency": "GBP", "time_zone": "Europe/London", "scale_division_mg": "0.1 g",
    "loss_pct": "1.5", "labour_rate_minor100": "14", "overhead_pct": "8", "cure_days": "10",
    "markets": ["gb", "eu"],
}  # fmt: skip


def test_a_new_workshop_is_shown_the_way_to_the_first_candle(client):
    page = client.get("/")
    assert page.status_code == 200
    assert "Fill the stores" in page.content.decode()
    assert "0 of 5 done" in page.content.decode()
    assert "Cure shelf" not in page.content.decode()


def test_steps_are_ticked_when_their_record_is_there(client, workshop):
    before = [step.done for step in now.guide()]
    for kind, measure in ((Kind.WAX, Measure.MASS), (Kind.VESSEL, "count"), (Kind.WICK, "count")):
        item = Item.objects.create(kind=kind, name=f"a {kind}", measure=measure)
        stores.open_with(item=item, qty=100, value=100, on=ON, at=AT)
    after = [step.done for step in now.guide()]
    assert before == [True, False, False, False, False]
    assert after == [True, True, False, False, False]


def test_the_settings_are_kept_and_shown_back(client):
    answer = client.post("/workshop/", SETTINGS)
    assert answer.status_code == 302
    kept = Workshop.load()
    assert (kept.name, kept.currency, kept.markets) == ("Corner Bench", "GBP", "eu,gb")
    assert (kept.scale_division_mg, kept.labour_rate_minor100) == (100, 140_000)
    page = client.get("/workshop/").content.decode()
    assert "£14.00" in page
    assert "Europe/London" in page


def test_what_was_typed_stays_when_a_setting_is_wrong(client):
    wrong = SETTINGS | {"time_zone": "Middle/Earth", "currency": "pounds", "name": "Kept Name"}
    page = client.post("/workshop/", wrong).content.decode()
    assert "not a time zone" in page
    assert "Kept Name" in page
    assert not Workshop.objects.exists()


def test_a_rate_in_another_currency_than_the_one_chosen_is_refused(client):
    page = client.post("/workshop/", SETTINGS | {"labour_rate_minor100": "$14"}).content.decode()
    assert "is not in GBP" in page


def test_changing_the_units_changes_how_amounts_show_and_no_record(client, workshop):
    wax = Item.objects.create(
        kind=Kind.WAX, name="Soy", measure=Measure.MASS, reorder_below=9_071_847
    )
    lot = stores.open_with(item=wax, qty=2_267_962, value=1, on=ON, at=AT)
    metric = now.day(on=ON, workshop=workshop).at_risk
    client.post("/workshop/", SETTINGS | {"units": "us"})
    us = now.day(on=ON, workshop=Workshop.load()).at_risk
    assert "2,268.0 g left" in metric[0].detail.replace("\u00a0", " ")
    assert "80 oz left" in us[0].detail.replace("\u00a0", " ")
    lot.refresh_from_db()
    assert lot.balances.get(place="store").qty == 2_267_962


def test_a_supply_below_its_level_is_told_and_one_above_is_not(workshop):
    low = Item.objects.create(
        kind=Kind.OIL, name="Fig", measure=Measure.MASS, reorder_below=500_000
    )
    Item.objects.create(kind=Kind.OIL, name="Unwatched", measure=Measure.MASS)
    enough = Item.objects.create(
        kind=Kind.OIL, name="Tea", measure=Measure.MASS, reorder_below=500_000
    )
    stores.open_with(item=low, qty=499_999, value=1, on=ON, at=AT)
    stores.open_with(item=enough, qty=500_000, value=1, on=ON, at=AT)
    risks = now.day(on=ON, workshop=workshop).at_risk
    assert [(line.what, line.word) for line in risks] == [("Fig", "runs low")]


def test_what_is_near_its_best_before_is_told(workshop):
    oil = Item.objects.create(kind=Kind.OIL, name="Fig", measure=Measure.MASS)
    for days in (-1, 10, 300):
        stores.open_with(
            item=oil,
            qty=1000,
            value=1,
            on=ON,
            at=AT,
            best_before=ON + timedelta(days=days),
            began_on=ON - timedelta(days=400),
        )
    words = [line.word for line in now.day(on=ON, workshop=workshop).at_risk]
    assert words == ["past its date", "use it soon"]


def test_a_code_goes_straight_to_its_record(client, workshop):
    wax = Item.objects.create(kind=Kind.WAX, name="Soy", measure=Measure.MASS)
    lot = stores.open_with(item=wax, qty=1000, value=1, on=ON, at=AT)
    answer = client.get("/find/", {"q": lot.code.lower()})
    assert answer.status_code == 302
    assert answer.url.endswith(f"/{lot.code}/")


def test_a_few_letters_find_records_of_every_kind(client, workshop):
    supplier = Supplier.objects.create(name="Rhubarb Brothers")
    oil = Item.objects.create(kind=Kind.OIL, name="Rhubarb leaf", measure=Measure.MASS)
    line = stores.Received(item=oil, qty=1000, price_minor100=1, supplier_lot="RHU-77")
    stores.receive(lines=[line], on=ON, at=AT, supplier=supplier, reference="INV rhu 3")
    Customer.objects.create(name="Zoë Rhurhu")
    page = client.get("/find/", {"q": "rhu"}).content.decode()
    for expected in ("Rhubarb leaf", "RHU-77", "Rhubarb Brothers", "Zoë Rhurhu", "R-0001"):
        assert expected in page
    assert "Rhubarb leaf" not in client.get("/find/", {"q": "rhu xyz"}).content.decode()


def test_as_one_types_only_the_list_is_sent(client, workshop):
    Customer.objects.create(name="Ama <b>Berg</b>")
    part = client.get("/find/", {"q": "ama"}, headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert "Ama &lt;b&gt;Berg&lt;/b&gt;" in part.content.decode()
    assert "HX-Request" in part.headers["Vary"]


def test_nothing_found_says_so_and_nothing_asked_says_what_can_be(client, workshop):
    assert "Nothing has “qzx”" in client.get("/find/", {"q": "qzx"}).content.decode()
    assert "Type what you remember" in client.get("/find/").content.decode()


def test_an_address_without_a_record_says_where_to_go(client, workshop):
    page = client.get("/no/such/page/")
    assert page.status_code == 404
    assert "nothing at this address" in page.content.decode()


def test_what_breaks_says_that_nothing_was_lost(client, workshop, monkeypatch):
    def breaks(**_):
        raise RuntimeError

    monkeypatch.setattr(now, "day", breaks)
    client.raise_request_exception = False
    page = client.get("/")
    assert page.status_code == 500
    assert "saved before is safe" in page.content.decode()


def test_today_asks_few_questions_however_much_there_is(
    client, workshop, django_assert_max_num_queries
):
    wax = Item.objects.create(kind=Kind.WAX, name="Soy", measure=Measure.MASS, reorder_below=1)
    for _ in range(30):
        stores.open_with(item=wax, qty=1000, value=1, on=ON, at=AT, best_before=ON)
    with django_assert_max_num_queries(26):
        client.get("/")
