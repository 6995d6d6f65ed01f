"""What the stores accept, refuse, spread and undo, below any page."""

from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest

from conftest import AT, ON
from pourwright.workshop.stores import items, ledger, services
from pourwright.workshop.stores.models import Entry, Item, Kind, Lot, Measure, Place, Receipt

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def wax(db):
    return items.new_item(kind=Kind.WAX, name="Soy blend")


@pytest.fixture
def box(db):
    return items.new_item(kind=Kind.PART, name="Kraft box", piece_mg=50_000)


def received(item, qty=10_000_000, price=500_000, **more):
    line = services.Received(item=item, qty=qty, price_minor100=price)
    return services.receive(lines=[line], on=ON, at=AT, **more)


# --- items ---------------------------------------------------------------------------------------


def test_an_item_is_entered_with_what_is_known_of_it(db):
    item = items.new_item(
        kind=Kind.WAX, name="  Soy   blend ", facts={"density_cold_g_ml": Decimal("0.905")}
    )
    item = Item.objects.get(pk=item.pk)
    assert (item.name, item.measure) == ("Soy blend", Measure.MASS)
    assert item.wax.density_cold_g_ml == Decimal("0.905")


def test_a_name_stands_once_in_its_kind_whatever_its_capitals(wax):
    with pytest.raises(items.BadFact, match="called “soy BLEND” already") as refused:
        items.new_item(kind=Kind.WAX, name="soy BLEND")
    assert refused.value.field == "name"
    assert items.new_item(kind=Kind.OIL, name="Soy blend").pk


@pytest.mark.parametrize(
    ("kind", "facts", "field"),
    [
        (Kind.WAX, {"density_cold_g_ml": Decimal("9")}, "density_cold_g_ml"),
        (
            Kind.WAX,
            {"density_cold_g_ml": Decimal("0.86"), "density_liquid_g_ml": Decimal("0.9")},
            "density_liquid_g_ml",
        ),
        (Kind.WAX, {"add_at_c": Decimal(90), "never_above_c": Decimal(85)}, "add_at_c"),
        (Kind.WAX, {"melt_to_c": Decimal(180)}, "melt_to_c"),
        (Kind.WAX, {"cure_days": 4000}, "cure_days"),
        (Kind.OIL, {"max_pct_of_whole": Decimal(5)}, "limit_from"),
        (Kind.OIL, {"flash_point_c": Decimal(740)}, "flash_point_c"),
        (Kind.OIL, {"sheet_date": date(1205, 3, 1)}, "sheet_date"),
        (Kind.VESSEL, {"shape": "straight", "depth_mm": Decimal(80)}, "inside_mm"),
        (
            Kind.VESSEL,
            {"shape": "tapered", "inside_mm": Decimal(60), "depth_mm": Decimal(80)},
            "top_inside_mm",
        ),
        (Kind.VESSEL, {"shape": "water"}, "brim_ml"),
        (Kind.WICK, {"length_mm": Decimal(1)}, "length_mm"),
    ],
)
def test_a_fact_that_cannot_be_is_refused_with_its_field_and_nothing_is_kept(
    db, kind, facts, field
):
    with pytest.raises(items.BadFact) as refused:
        items.new_item(kind=kind, name="Something", facts=facts)
    assert refused.value.field == field
    assert not Item.objects.exists()


def test_a_vessel_whose_brim_contradicts_its_measures_is_refused(db):
    measures = {"shape": "straight", "inside_mm": Decimal(74), "depth_mm": Decimal(88)}
    with pytest.raises(items.BadFact, match="measure again"):
        items.new_item(kind=Kind.VESSEL, name="Jar", facts=measures | {"brim_ml": Decimal(900)})


def test_how_an_item_is_measured_stands_once_there_is_a_lot(db):
    glue = items.new_item(kind=Kind.PART, name="Glue dots")
    items.change_item(glue, measure=Measure.MASS)
    received(glue)
    with pytest.raises(items.BadFact, match="kept by weight and there are lots") as refused:
        items.change_item(Item.objects.get(pk=glue.pk), measure=Measure.COUNT)
    assert refused.value.field == "measure"
    assert Item.objects.get(pk=glue.pk).measure == Measure.MASS


def test_wax_is_never_kept_by_the_piece(db):
    with pytest.raises(items.BadFact, match="by weight"):
        items.new_item(kind=Kind.WAX, name="Blocks", measure=Measure.COUNT)


def test_a_leak_test_is_not_dated_to_come(db):
    jar = items.new_item(
        kind=Kind.VESSEL, name="Jar", facts={"shape": "water", "brim_ml": Decimal(300)}
    )
    with pytest.raises(items.BadFact, match="still to come"):
        items.change_item(jar, facts={"leak_tested_on": date(2026, 3, 3)}, on=ON)


# --- receipts ------------------------------------------------------------------------------------


def test_freight_by_weight_follows_the_mass_of_each_line(wax, box):
    lines = [
        services.Received(item=wax, qty=9_000_000, price_minor100=1_000),
        services.Received(item=box, qty=20, price_minor100=99_000),  # 20 × 50 g = 1 kg
    ]
    receipt = services.receive(lines=lines, on=ON, at=AT, freight_minor100=10_001, spread="weight")
    shares = list(receipt.lines.order_by("id").values_list("freight_minor100", flat=True))
    assert shares == [9_001, 1_000]  # nine tenths and one tenth, the odd unit to the larger rest
    assert sum(ledger.held(line.lot)[1] for line in receipt.lines.all()) == 110_001


def test_freight_by_weight_asks_for_a_piece_that_was_never_weighed(wax):
    tag = items.new_item(kind=Kind.PART, name="Swing tag")
    lines = [services.Received(item=i, qty=10, price_minor100=1) for i in (wax, tag)]
    with pytest.raises(services.CannotReceive, match="what one Swing tag weighs"):
        services.receive(lines=lines, on=ON, at=AT, freight_minor100=5, spread="weight")
    assert not Lot.objects.exists()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ({"qty": 0}, "more than nothing"),
        ({"qty": 10**13}, "more than any workshop"),
        ({"price_minor100": 10**15}, "price cannot be right"),
        ({"best_before": date(2025, 1, 1)}, "earlier than the day it came"),
        ({"best_before": date(3026, 1, 1)}, "check the year"),
    ],
)
def test_a_line_that_cannot_be_is_refused(wax, line, words):
    told = {"item": wax, "qty": 1000, "price_minor100": 1} | line
    with pytest.raises(services.CannotReceive, match=words):
        services.receive(lines=[services.Received(**told)], on=ON, at=AT)
    assert not Receipt.objects.exists()


# --- once only -----------------------------------------------------------------------------------


def test_a_form_that_is_sent_twice_is_recorded_once(wax):
    said = {"on": ON, "at": AT}
    sent, opened, counted, thrown = (uuid4() for _ in range(4))
    first = received(wax, client_id=sent)
    assert received(wax, client_id=sent) == first
    told = {"item": wax, "qty": 500, "value": 3, "client_id": opened, **said}
    lot = services.open_with(**told)
    assert services.open_with(**told) == lot
    told = {"lot": lot, "place": Place.STORE, "reason": "weighed", **said}
    services.count(counted=400, client_id=counted, **told)
    services.count(counted=400, client_id=counted, **told)
    services.scrap(qty=100, client_id=thrown, **told)
    services.scrap(qty=100, client_id=thrown, **told)
    assert ledger.held(lot) == (300, 3 - ledger.held(lot, Place.SCRAP)[1]
                                - ledger.held(lot, Place.CORRECTION)[1])  # fmt: skip
    assert (Receipt.objects.count(), Lot.objects.count(), Entry.objects.count()) == (1, 2, 4)


def test_setting_aside_twice_makes_one_lot(db):
    mix = Item.objects.create(kind=Kind.MIX, name="Bay mix", measure=Measure.MASS)
    lot = services.open_with(item=mix, qty=1000, value=100, on=ON, at=AT)
    told = {"lot": lot, "place": Place.STORE, "qty": 400, "origin": "tester", "on": ON, "at": AT}
    sent = uuid4()
    tester = services.set_aside(client_id=sent, **told)
    assert services.set_aside(client_id=sent, **told) == tester
    assert ledger.held(lot) == (600, 60)
    assert ledger.held(tester, Place.TEST) == (400, 40)


def test_an_id_that_recorded_something_else_is_refused(wax):
    sent = uuid4()
    lot = received(wax, client_id=sent).lines.get().lot
    with pytest.raises(services.CannotCorrect, match="used for something else"):
        services.scrap(
            lot=lot, place=Place.STORE, qty=1, reason="spilt", on=ON, at=AT, client_id=sent
        )


# --- undoing -------------------------------------------------------------------------------------


def undo(entry, **more):
    return services.undo_entry(entry=entry, reason="it was wrong", on=ON, at=AT, **more)


def test_an_untouched_receipt_is_undone_with_its_freight(wax):
    receipt = received(wax, freight_minor100=777)
    undo(receipt.entry)
    assert ledger.held(receipt.lines.get().lot) == (0, 0)
    assert ledger.check_ledger() == []


def test_a_receipt_whose_stock_was_touched_stays_until_that_is_undone(wax):
    receipt = received(wax)
    lot = receipt.lines.get().lot
    # A count that finds more leaves enough to take back; the receipt must stay all the same.
    more = services.count(lot=lot, place=Place.STORE, counted=10_000_500, reason="", on=ON, at=AT)
    with pytest.raises(ledger.CannotUndo, match=f"Lot {lot.code} has been touched since: count"):
        undo(receipt.entry)
    undo(more)
    undo(receipt.entry)
    assert ledger.held(lot) == (0, 0)


def test_what_hangs_on_more_than_stock_is_undone_elsewhere(wax):
    lot = received(wax).lines.get().lot
    step = ledger.Step(lot=lot, from_place=Place.STORE, to_place=Place.MADE, qty=1)
    poured = ledger.post(kind="pour", on=ON, at=AT, steps=[step])
    with pytest.raises(ledger.CannotUndo, match="on its own page"):
        undo(poured)


def test_nothing_is_undone_twice_or_without_a_reason(wax):
    entry = received(wax).entry
    with pytest.raises(ledger.CannotUndo, match="needs a reason"):
        services.undo_entry(entry=entry, reason=" ", on=ON, at=AT)
    undone = undo(entry)
    with pytest.raises(ledger.CannotUndo, match="undone before"):
        undo(entry)
    with pytest.raises(ledger.CannotUndo, match="cannot itself be undone"):
        undo(undone)


def test_undoing_sent_twice_is_done_once(wax):
    entry = received(wax).entry
    sent = uuid4()
    assert undo(entry, client_id=sent) == undo(entry, client_id=sent)
