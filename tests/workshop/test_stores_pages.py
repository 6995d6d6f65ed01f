"""The stores' pages as a maker meets them."""

import re
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from conftest import AT, ON
from pourwright.workshop.stores import items, ledger, queries, services
from pourwright.workshop.stores.models import (
    Item,
    Kind,
    Lot,
    Measure,
    Place,
    Receipt,
    Supplier,
)
from pourwright.workshop.stores.words import in_words

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def here(workshop):
    return workshop


@pytest.fixture
def wax(db):
    return items.new_item(
        kind=Kind.WAX,
        name="Soy blend",
        reorder_below=20_000_000,
        facts={"density_cold_g_ml": Decimal("0.9"), "figures_from": "Data sheet of May 2025"},
    )


@pytest.fixture
def jar(db):
    return items.new_item(
        kind=Kind.VESSEL,
        name="Tall jar",
        piece_mg=300_000,
        facts={"shape": "straight", "inside_mm": Decimal(80), "depth_mm": Decimal(100)},
    )


def received(item, qty=10_000_000, price=500_000, **more):
    line = services.Received(item=item, qty=qty, price_minor100=price)
    return services.receive(lines=[line], on=ON, at=AT, **more)


def text(response) -> str:
    """Return what a reader sees: without tags, spaces made plain."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", words.replace("\u00a0", " ").replace("&nbsp;", " "))


def receipt_form(*lines, **more) -> dict:
    form = {
        "client_id": str(uuid4()),
        "on": "2026-03-02",
        "spread": "value",
        "lines-TOTAL_FORMS": str(max(len(lines), 1)),
        "lines-INITIAL_FORMS": "0",
    }
    for number, line in enumerate(lines):
        form |= {f"lines-{number}-{name}": value for name, value in line.items()}
    return form | more


# --- what is held --------------------------------------------------------------------------------


def test_an_empty_store_says_what_to_do_next(client):
    response = client.get("/stores/")
    assert "Enter the first item" in text(response)
    assert "/stores/items/new/" in response.content.decode()


def test_the_list_shows_what_is_held_and_what_to_buy_again(client, wax):
    received(wax, qty=12_000_000, price=1_200_000)
    page = text(client.get("/stores/"))
    assert "12 kg $120.00 $10.00 / kg" in page
    assert "buy again" in page
    received(wax)
    assert "buy again" not in text(client.get("/stores/"))


def test_a_kind_a_search_and_a_filter_narrow_the_list(client, wax, jar):
    received(jar, qty=5)
    assert "Tall jar" not in text(client.get("/stores/?kind=wax"))
    assert "Soy blend" not in text(client.get("/stores/?q=jar"))
    assert "Soy blend" not in text(client.get("/stores/?show=held"))
    low = text(client.get("/stores/?show=low"))
    assert "Soy blend" in low
    assert "Tall jar" not in low


def test_a_retired_item_is_hidden_until_asked_for(client, wax):
    items.change_item(wax, retired=True)
    assert "Soy blend" not in text(client.get("/stores/"))
    assert "Soy blend" in text(client.get("/stores/?show=retired"))


def test_a_vessel_is_shown_by_its_drawing(client, jar, wax):
    page = client.get("/stores/?kind=vessel").content.decode()
    assert 'class="cd cd-icon"' in page


LISTS = ("/stores/", "/stores/?show=low", "/stores/receipts/", "/stores/suppliers/",
         "/stores/ledger/")  # fmt: skip


def test_lists_ask_the_database_as_little_for_many_rows_as_for_few(client):
    def queries_for(address: str) -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert client.get(address).status_code == 200
        assert not any(
            "COUNT(*)" in q["sql"] and "stores_move" in q["sql"] and "GROUP BY" not in q["sql"]
            for q in asked
        )
        return len(asked)

    def stock(number: int) -> None:
        supplier = Supplier.objects.create(name=f"Supplier {number}")
        made = [
            items.new_item(
                kind=kind, name=f"Thing {number}", supplier=supplier, reorder_below=10**9,
                facts={"shape": "water", "brim_ml": Decimal(300)} if kind == "vessel" else None,
            )
            for kind in (Kind.WAX, Kind.VESSEL, Kind.PART)
        ]  # fmt: skip
        lines = [services.Received(item=item, qty=100, price_minor100=10) for item in made]
        services.receive(lines=lines * 2, on=ON, at=AT, supplier=supplier)

    for number in range(2):
        stock(number)
    few = {address: queries_for(address) for address in LISTS}
    for number in range(2, 14):
        stock(number)
    assert {address: queries_for(address) for address in LISTS} == few
    assert max(few.values()) <= 6


def test_an_item_page_asks_as_little_for_many_lots_as_for_few(client, wax):
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            client.get(f"/stores/items/{wax.pk}/")
        return len(queries)

    received(wax)
    few = asked()
    for _ in range(12):
        received(wax)
    assert asked() == few


def test_a_list_comes_a_page_at_a_time(client):
    Item.objects.bulk_create(
        Item(kind=Kind.PART, name=f"Label {n:03}", measure=Measure.COUNT) for n in range(60)
    )
    first = client.get("/stores/")
    assert "Label 049" in text(first)
    assert "Label 050" not in text(first)
    assert "Label 059" in text(client.get("/stores/?page=2"))


# --- one item ------------------------------------------------------------------------------------


def test_every_figure_of_a_wax_says_whose_word_it_is(client, wax):
    assert "Data sheet of May 2025" in text(client.get(f"/stores/items/{wax.pk}/"))
    bare = items.new_item(kind=Kind.WAX, name="Unknown wax")
    assert "no source noted" in text(client.get(f"/stores/items/{bare.pk}/"))


def test_an_oil_carries_its_cautions_and_its_flash_point(client):
    oil = items.new_item(kind=Kind.OIL, name="Bay", facts={"flash_point_c": Decimal(66)})
    page = text(client.get(f"/stores/items/{oil.pk}/"))
    assert "Gloves on, window open" in page
    assert "catch fire from 66 °C" in page


def test_an_item_shows_the_formulas_and_designs_it_is_in(client, wax, jar):
    from pourwright.workshop.designs.services import DesignSpec, new_design
    from pourwright.workshop.formulas.services import Recipe, new_formula

    wick = items.new_item(kind=Kind.WICK, name="Braid 3")
    plain = Recipe(waxes=[(wax, Decimal(100))])
    version = new_formula(name="Unscented", recipe=plain, on=ON)
    spec = DesignSpec(formula_version=version, vessel=jar, wick=wick, wick_count=1, fill_mg=200_000)
    design = new_design(name="Plain light", spec=spec, on=ON).design
    assert "Unscented v1" in text(client.get(f"/stores/items/{wax.pk}/"))
    for part in (jar, wick):
        assert "Plain light v1" in text(client.get(f"/stores/items/{part.pk}/"))
    assert client.get(f"/stores/items/{design.candle_id}/").url == f"/designs/{design.pk}/"
    mix = client.get(f"/stores/items/{version.formula.mix_id}/").content.decode()
    assert f'href="/formulas/{version.formula_id}/"' in mix


def test_a_vessel_page_answers_how_much_it_holds(client, wax):
    """
    A vessel sold as 16 fl oz to the brim takes 10 to 11 oz of wax: common practice, no source.
    """
    pint = items.new_item(
        kind=Kind.VESSEL, name="Pint", facts={"shape": "water", "brim_ml": Decimal("473.176")}
    )
    answer = re.search(
        r"([\d.]+) g to ([\d.]+) g of wax", text(client.get(f"/stores/items/{pint.pk}/"))
    )
    low_oz, high_oz = (float(mass) / 28.349523125 for mass in answer.groups())
    assert 9.7 <= low_oz <= 10.3
    assert 10.7 <= high_oz <= 11.3


def test_a_vessel_is_asked_for_a_weight_or_a_height(client, wax, jar):
    # 80 mm across: 50.265 ml to each 10 mm of height.
    page = text(client.get(f"/stores/items/{jar.pk}/?height_mm=50&wax={wax.pk}"))
    assert "226.2 g 50 % of the brim, 50 mm high" in page
    page = text(client.get(f"/stores/items/{jar.pk}/?fill_mg=900+g"))
    assert "but the vessel holds 502.7 ml to the brim" in page
    part = client.get(f"/stores/items/{jar.pk}/?fill_mg=tall", headers={"HX-Request": "true"})
    assert "<h1>" not in part.content.decode()
    assert "is not a mass" in text(part)


def test_missing_evidence_is_open_and_given_evidence_is_shown(client, jar):
    assert text(client.get(f"/stores/items/{jar.pk}/")).count("open") >= 2
    items.change_item(jar, facts={"fit_for_candles": "Letter of 4 May", "leak_tested_on": ON})
    page = text(client.get(f"/stores/items/{jar.pk}/"))
    assert "Fit for candles: Letter of 4 May supplier’s word" in page
    assert "Leak test: 2 Mar 2026" in page


def test_the_level_over_time_goes_back_from_what_is_there_now(wax):
    lot = received(wax, qty=1000).lines.get().lot
    services.scrap(lot=lot, place=Place.STORE, qty=300, reason="x", on=ON + timedelta(5), at=AT)
    levels = queries.levels(wax, today=ON + timedelta(9))
    assert [(level.on, level.value) for level in levels] == [
        (ON + timedelta(9) - timedelta(365), 0),
        (ON, 1000),
        (ON + timedelta(5), 700),
        (ON + timedelta(9), 700),
    ]


def test_the_level_is_a_page_of_its_own_and_a_part_of_another(client, wax):
    received(wax)
    assert "<h1>" in client.get(f"/stores/items/{wax.pk}/level/").content.decode()
    part = client.get(f"/stores/items/{wax.pk}/level/", headers={"HX-Request": "true"})
    assert "<h1>" not in part.content.decode()
    assert "<svg" in part.content.decode()


# --- new and changed items -----------------------------------------------------------------------


def test_a_wax_is_entered_with_its_figures_in_the_makers_units(client):
    form = {"name": "Rapeseed blend", "max_load_pct": "9 %", "max_load_basis": "wax",
            "density_cold_g_ml": "0.91 g/ml", "pour_at_c": "140 °F", "reorder_below": "5 kg",
            "figures_from": "own measuring"}  # fmt: skip
    response = client.post("/stores/items/new/wax/", form, follow=True)
    wax = Item.objects.get(name="Rapeseed blend")
    assert response.redirect_chain == [(f"/stores/items/{wax.pk}/", 302)]
    assert (wax.reorder_below, wax.wax.pour_at_c) == (5_000_000, Decimal("60.0"))
    assert wax.wax.max_load_pct == 9


def test_a_refused_fact_stands_beside_its_field_and_all_that_was_typed_stays(client):
    form = {"name": "Bay leaf", "max_pct_of_whole": "8", "flash_point_c": "66 C", "notes": "sharp"}
    page = client.post("/stores/items/new/oil/", form)
    assert page.status_code == 200
    shown = page.content.decode()
    assert 'id="id_limit_from_error"' in shown
    for typed in ("Bay leaf", 'value="8"', 'value="66 C"', "sharp"):
        assert typed in shown
    assert not Item.objects.exists()


def test_saving_an_untouched_form_changes_nothing(client, jar):
    before = (Item.objects.values().get(), type(jar.vessel).objects.values().get())
    page = client.get(f"/stores/items/{jar.pk}/edit/")
    form = {}
    for part in (page.context["form"], page.context["facts"]):
        for name in part.fields:
            value = part[name].value()
            field = part.fields[name]
            form[name] = field.prepare_value(value) if value is not None else ""
    form.pop("retired")
    client.post(f"/stores/items/{jar.pk}/edit/", form)
    assert (Item.objects.values().get(), type(jar.vessel).objects.values().get()) == before


def test_the_measure_is_not_offered_once_there_are_lots(client):
    glue = items.new_item(kind=Kind.PART, name="Glue")
    assert 'name="measure"' in client.get(f"/stores/items/{glue.pk}/edit/").content.decode()
    received(glue, qty=3)
    assert 'name="measure"' not in client.get(f"/stores/items/{glue.pk}/edit/").content.decode()


def test_the_drawing_follows_the_figures_as_they_are_typed(client):
    typed = {"shape": "tapered", "inside_mm": "70", "top_inside_mm": "80", "depth_mm": "90",
             "material": "glass"}  # fmt: skip
    drawn = client.post("/stores/vessel-preview/", typed)
    # V = pi 90 (35² + 35·40 + 40²) / 3, a cone's frustum
    assert "398.2 ml" in text(drawn)
    assert "<svg" in drawn.content.decode()
    refused = client.post("/stores/vessel-preview/", typed | {"depth_mm": ""})
    assert "needs the depth inside" in text(refused)


def test_a_vessel_measured_by_water_tells_its_volume_at_heights(client):
    form = {"name": "Dimpled", "shape": "water", "material": "glass",
            "water_marks": "20 mm 60 ml\n4 cm 140 ml\n80 mm: 310 ml"}  # fmt: skip
    client.post("/stores/items/new/vessel/", form)
    jar = Item.objects.get(name="Dimpled")
    assert "140 ml" in text(client.get(f"/stores/items/{jar.pk}/"))
    page = client.post("/stores/items/new/vessel/", form | {"name": "X", "water_marks": "20 mm"})
    assert "is not a height and a volume" in text(page)


# --- suppliers -----------------------------------------------------------------------------------


def test_a_supplier_is_entered_and_changed(client):
    client.post("/stores/suppliers/new/", {"name": "Lintel Glass", "lead_days": "9"})
    supplier = Supplier.objects.get()
    client.post(
        f"/stores/suppliers/{supplier.pk}/edit/", {"name": "Lintel Glass", "contact": "Ida"}
    )
    supplier.refresh_from_db()
    assert (supplier.contact, supplier.lead_days) == ("Ida", None)
    again = client.post("/stores/suppliers/new/", {"name": "lintel glass"})
    assert "called “lintel glass” already" in text(again)


# --- receipts ------------------------------------------------------------------------------------


def test_a_parcel_of_several_lines_is_taken_in(client, wax, jar):
    form = receipt_form(
        {"item": wax.pk, "qty": "22 lb", "price_minor100": "80", "supplier_lot": "B7",
         "best_before": "2027-09-01"},
        {"item": jar.pk, "qty": "24", "price_minor100": "$40"},
        {},
        freight_minor100="12",
    )  # fmt: skip
    response = client.post("/stores/receipts/new/", form, follow=True)
    assert "R-0001 is taken in" in text(response)
    wax_lot, jar_lot = Lot.objects.order_by("id")
    assert ledger.held(wax_lot) == (9_979_032, 880_000)  # 22 lb; two thirds of the freight
    assert ledger.held(jar_lot) == (24, 440_000)
    assert (wax_lot.supplier_lot, str(wax_lot.best_before)) == ("B7", "2027-09-01")


def test_sending_the_same_form_again_takes_the_parcel_in_once(client, wax):
    form = receipt_form({"item": wax.pk, "qty": "1 kg", "price_minor100": "5"})
    first = client.post("/stores/receipts/new/", form)
    assert client.post("/stores/receipts/new/", form).url == first.url
    assert Receipt.objects.count() == 1


def test_a_faulty_line_is_told_beside_its_field_and_everything_typed_stays(client, wax):
    form = receipt_form(
        {"item": wax.pk, "qty": "many", "price_minor100": "80", "supplier_lot": "B7"},
        {"item": "", "qty": "3 kg", "price_minor100": "9"},
        reference="INV 77",
    )
    page = client.post("/stores/receipts/new/", form)
    shown = page.content.decode()
    assert 'id="id_lines-0-qty_error"' in shown
    assert 'id="id_lines-1-item_error"' in shown
    for typed in ('value="many"', 'value="B7"', 'value="3 kg"', 'value="INV 77"'):
        assert typed in shown
    assert not Receipt.objects.exists()


def test_a_day_to_come_and_an_empty_parcel_are_refused(client, wax):
    tomorrow = timezone.localdate() + timedelta(days=2)
    line = {"item": wax.pk, "qty": "1 kg", "price_minor100": "5"}
    page = client.post("/stores/receipts/new/", receipt_form(line, on=str(tomorrow)))
    assert "is still to come" in text(page)
    assert "at least one line" in text(client.post("/stores/receipts/new/", receipt_form()))


def test_more_lines_without_javascript_keep_what_was_typed(client, wax):
    form = receipt_form({"item": wax.pk, "qty": "12 stone", "price_minor100": "5"}, more="3")
    page = client.post("/stores/receipts/new/", form)
    assert 'value="12 stone"' in page.content.decode()
    assert "errorlist" not in page.content.decode()
    assert 'name="lines-3-qty"' in page.content.decode()
    assert not Receipt.objects.exists()


def test_the_effect_of_the_freight_is_shown_before_anything_is_recorded(client, wax, jar):
    lines = (
        {"item": wax.pk, "qty": "9 kg", "price_minor100": "10"},
        {"item": jar.pk, "qty": "10", "price_minor100": "30"},
    )
    form = receipt_form(*lines, freight_minor100="8", spread="weight", preview="1")
    page = text(client.post("/stores/receipts/new/", form))
    # By value a quarter and three quarters; by weight 9 kg beside 10 × 300 g.
    assert "Soy blend $10.00 $2.00 $6.00 $1.78 / kg" in page
    assert "Tall jar $30.00 $6.00 $2.00 $3.20 each" in page
    part = client.post("/stores/receipts/new/", form, headers={"HX-Request": "true"})
    assert "<h1>" not in part.content.decode()
    assert not Receipt.objects.exists()


def test_a_receipt_is_undone_with_a_reason_and_shown_as_undone(client, wax):
    receipt = received(wax)
    address = f"/stores/ledger/{receipt.entry_id}/undo/"
    assert "This field is required" in text(client.post(address, {"reason": ""}))
    assert ledger.held(receipt.lines.get().lot) == (10_000_000, 500_000)
    page = client.post(address, {"reason": "entered twice"}, follow=True)
    assert "Undone on" in text(page)
    assert "entered twice" in text(page)
    assert "undone" in text(client.get("/stores/receipts/"))
    assert ledger.held(receipt.lines.get().lot) == (0, 0)


def test_a_receipt_that_was_used_offers_no_undo_and_says_why(client, wax):
    receipt = received(wax)
    lot = receipt.lines.get().lot
    services.scrap(lot=lot, place=Place.STORE, qty=5, reason="spilt", on=ON, at=AT)
    page = client.get(f"/stores/receipts/{receipt.number}/")
    assert "/undo/" not in page.content.decode()
    assert f"Lot {lot.code} has been touched since" in text(page)
    refused = client.post(f"/stores/ledger/{receipt.entry_id}/undo/", {"reason": "no"})
    assert f"Lot {lot.code} has been touched since" in text(refused)
    assert ledger.held(lot)[0] == 9_999_995


# --- lots ----------------------------------------------------------------------------------------


def test_a_lot_shows_what_is_left_and_every_move(client, wax):
    lot = received(wax).lines.get().lot
    services.scrap(lot=lot, place=Place.STORE, qty=2_500_000, reason="spilt", on=ON, at=AT)
    page = text(client.get(f"/stores/lots/{lot.code}/"))
    assert "Store 7,500.0 g $37.50 $5.00 / kg" in page
    assert "Scrap : scrapped from the store spilt" in page
    assert "Receipt : came into the store" in page


def test_a_lot_that_nobody_knows_is_not_found(client):
    assert client.get("/stores/lots/W-9999/").status_code == 404


def test_a_finished_candles_lot_has_its_page_at_the_shelf(client):
    candle = Item.objects.create(kind=Kind.CANDLE, name="Bay in the jar", measure=Measure.COUNT)
    lot = services.open_with(item=candle, qty=3, value=9, on=ON, at=AT)
    assert client.get(f"/stores/lots/{lot.code}/").url == f"/shelf/{lot.code}/"


def test_the_latest_moves_of_an_item_come_from_all_of_its_lots(client, wax):
    lots = [received(wax, qty=1000).lines.get().lot for _ in range(13)]
    services.scrap(lot=lots[0], place=Place.STORE, qty=7, reason="old one", on=ON, at=AT)
    latest = queries.moves_of(wax)
    assert len(latest) == 10
    assert [move.lot for move in latest] == [lots[0], *reversed(lots[4:])]
    assert latest[0].qty == 7


def test_an_item_that_is_not_in_the_list_is_refused(client, wax):
    line = {"item": "999", "qty": "1 kg", "price_minor100": "5"}
    page = client.post("/stores/receipts/new/", receipt_form(line))
    assert "not in the list" in text(page)
    assert not Receipt.objects.exists()


def test_a_count_sets_the_lot_to_what_was_weighed(client, wax):
    lot = received(wax).lines.get().lot
    form = {"counted": "9.8 kg", "on": str(ON), "reason": "weighed", "place": "store"}
    page = client.post(f"/stores/lots/{lot.code}/count/", form, follow=True)
    assert "Counted and corrected" in text(page)
    assert ledger.held(lot)[0] == 9_800_000
    again = client.post(f"/stores/lots/{lot.code}/count/", form, follow=True)
    assert "The count agrees" in text(again)


def test_what_turns_up_of_a_lot_used_up_is_counted_in(client, wax):
    lot = received(wax).lines.get().lot
    services.scrap(lot=lot, place=Place.STORE, qty=10_000_000, reason="x", on=ON, at=AT)
    form = {"counted": "40", "on": str(ON), "place": "store"}
    client.post(f"/stores/lots/{lot.code}/count/", form)
    assert ledger.held(lot) == (40_000, 0)


def test_scrapping_more_than_is_there_is_refused_beside_the_field(client, wax):
    lot = received(wax).lines.get().lot
    form = {"qty": "11 kg", "reason": "spilt", "on": str(ON), "place": "store"}
    page = client.post(f"/stores/lots/{lot.code}/scrap/", form)
    assert 'id="id_qty_error"' in page.content.decode()
    assert 'value="11 kg"' in page.content.decode()
    assert ledger.held(lot)[0] == 10_000_000
    early = client.post(
        f"/stores/lots/{lot.code}/scrap/", form | {"qty": "1 kg", "on": "2026-03-01"}
    )
    assert "nothing can have happened to it before that" in text(early)


def test_a_gift_of_mix_becomes_a_lot_of_its_own(client):
    mix = Item.objects.create(kind=Kind.MIX, name="Bay mix", measure=Measure.MASS)
    lot = services.open_with(item=mix, qty=1_000_000, value=100, on=ON, at=AT)
    form = {"qty": "250 g", "origin": "gift", "on": str(ON), "place": "store", "note": "neighbour"}
    page = client.post(f"/stores/lots/{lot.code}/set-aside/", form, follow=True)
    assert "Set aside as lot M-0002" in text(page)
    assert f"Made from {lot.code}" in text(page)
    assert ledger.held(lot) == (750_000, 75)


def test_a_supply_is_not_set_aside(client, wax):
    lot = received(wax).lines.get().lot
    assert client.get(f"/stores/lots/{lot.code}/set-aside/").status_code == 404


# --- opening stock and the ledger ----------------------------------------------------------------


def test_candles_that_stood_finished_begin_in_the_books(client):
    candle = Item.objects.create(kind=Kind.CANDLE, name="Bay in the jar", measure=Measure.COUNT)
    form = {"item": candle.pk, "qty": "14", "value": "63", "began_on": "2026-01-05",
            "ready_on": "2026-01-19", "client_id": str(uuid4())}  # fmt: skip
    client.post("/stores/opening/", form)
    client.post("/stores/opening/", form)
    lot = Lot.objects.get()
    assert ledger.held(lot, Place.SHELF) == (14, 630_000)
    assert (str(lot.began_on), str(lot.ready_on)) == ("2026-01-05", "2026-01-19")
    cured_first = form | {"client_id": str(uuid4()), "ready_on": "2026-01-01"}
    page = client.post("/stores/opening/", cured_first)
    assert "cannot have cured before it was poured" in text(page)


def test_opening_stock_keeps_what_was_typed(client, wax):
    page = client.post("/stores/opening/", {"item": wax.pk, "qty": "0", "value": "12.50"})
    assert "more than nothing" in text(page)
    assert 'value="12.50"' in page.content.decode()


def test_the_ledger_tells_its_entries_in_words_and_is_narrowed(client, wax):
    lot = received(wax).lines.get().lot
    services.scrap(lot=lot, place=Place.STORE, qty=1000, reason="spilt", on=ON, at=AT)
    page = text(client.get("/stores/ledger/"))
    assert "of Soy blend, lot W-0001 : came into the store" in page
    assert "scrapped from the store spilt" in page.replace("  ", " ")
    only = text(client.get("/stores/ledger/?kind=scrap"))
    assert "scrapped from the store" in only
    assert "came into the store" not in only
    assert "No entry fits" in text(client.get("/stores/ledger/?until=2026-03-01"))
    assert client.get("/stores/ledger/?since=tuesday&page=x").status_code == 200


def test_a_long_entry_is_cut_in_the_ledger_and_whole_on_its_page(client, wax):
    lines = [services.Received(item=wax, qty=10, price_minor100=1)] * 7
    entry = services.receive(lines=lines, on=ON, at=AT).entry
    assert "and 4 more moves" in text(client.get("/stores/ledger/"))
    assert text(client.get(f"/stores/ledger/{entry.pk}/")).count("came into the store") == 7


def test_every_way_a_move_can_go_has_its_words():
    for one in Place.values:
        for other in Place.values:
            if one != other:
                words = in_words(kind="pour", from_place=one, to_place=other, qty=1)
                assert words
                assert "Place." not in words


def test_a_workshop_in_ounces_sees_ounces_and_pounds(client, wax, workshop):
    workshop.units = "us"
    workshop.save()
    received(wax, qty=4_535_924, price=200_000)
    assert "10 lb $20.00 $2.00 / lb" in text(client.get("/stores/"))


def test_an_item_entered_beside_is_offered_without_losing_what_is_typed(client, workshop):
    items.new_item(kind="dye", name="Madder chips")
    typed = {
        "reference": "INV 12",
        "lines-TOTAL_FORMS": "1",
        "lines-INITIAL_FORMS": "0",
        "more": "1",
    }
    said = client.post("/stores/receipts/new/", typed).content.decode()
    assert "Madder chips" in said
    assert 'value="INV 12"' in said
