"""Files come in whole or not at all, and what goes out can be brought in again, the same."""

import io
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from django.apps import apps
from django.db import transaction
from openpyxl import load_workbook

from conftest import AT, ON
from pourwright.core.hazard.model import Range, Route
from pourwright.core.hazard.words import parse_class
from pourwright.intake import kinds
from pourwright.intake.kinds import KINDS, kind_named
from pourwright.intake.tables import read_file, read_text
from pourwright.intake.writing import csv_lines
from pourwright.papers.xlsx import Sheet, write_workbook
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import Design
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.hazard import keeping
from pourwright.workshop.hazard.records import Row
from pourwright.workshop.house.exchange import bring_in
from pourwright.workshop.house.exchange_tables import every_table, table_named, table_of
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import Customer, Order, OrderState
from pourwright.workshop.stores import items, ledger, services
from pourwright.workshop.stores.models import Item, Lot, Place, Receipt, Supplier

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

TODAY = date(2026, 6, 1)


@pytest.fixture
def bring(workshop):
    """Bring text in as a kind; ``bring("wicks", text)`` returns the outcome."""

    def brought(kind, text, **more):
        return bring_in(
            kind_named(kind), read_text(text), workshop=workshop, on=TODAY, at=AT, **more
        )

    return brought


def full_workshop():
    """A workshop with something in every kind of file, and every awkward case we know."""
    brindle = items.keep_supplier(
        items.About(
            name="Brindle Wax Works", email="a@brindle.example", lead_days=5,
            address="4 Mill Lane\nDunmoor", notes="=SUM(A1) and 'quotes', \"both\"; – ½",
        )
    )  # fmt: skip
    items.keep_supplier(items.About(name="Coil & Cord"))
    soy = items.new_item(
        kind="wax", name="Soy no. 2", supplier=brindle, supplier_ref="007", reorder_below=4_000_001,
        facts={
            "max_load_pct": Decimal("9.125"), "max_load_basis": "whole",
            "density_cold_g_ml": Decimal("0.91"), "density_liquid_g_ml": Decimal("0.8325"),
            "melt_to_c": Decimal("80.5"), "never_above_c": Decimal(95), "cure_days": 10,
            "set_hours": Decimal("12.5"), "figures_from": "their sheet, 2025", "revision": "2",
        },
    )  # fmt: skip
    plum = items.new_item(
        kind="oil", name="Plum", supplier=brindle, notes="-strong",
        facts={
            "flash_point_c": Decimal(93), "density_g_ml": Decimal("0.97"),
            "max_pct_of_whole": Decimal("11.111"), "limit_from": "certificate of 2025",
            "sheet_date": date(2025, 4, 3), "sheet_revision": "3.1",
        },
    )  # fmt: skip
    dye = items.new_item(kind="dye", name="Rust", measure="count")
    compose(plum, dye)
    items.new_item(kind="additive", name="Old additive", retired=True)
    label = items.new_item(kind="part", name="Round label", piece_mg=350)
    glue = items.new_item(kind="part", name="Glue", measure="mass", reorder_below=50_500)
    jar = items.new_item(
        kind="vessel", name="Tumbler", piece_mg=215_000, reorder_below=24,
        facts={
            "shape": "straight", "inside_mm": Decimal("76.2"), "depth_mm": Decimal(82),
            "wall_mm": Decimal("3.5"), "base_mm": Decimal(6), "material": "ceramic",
            "fit_for_candles": "letter", "leak_tested_on": date(2026, 1, 20),
            "revision": "mould B", "shock_statement": "35 K, annealed",
        },
    )  # fmt: skip
    items.new_item(
        kind="vessel", name="Odd bowl",
        facts={"shape": "water", "water_marks": [["20.00", "90.000"], ["40.00", "215.500"]]},
    )  # fmt: skip
    wick = items.new_item(
        kind="wick",
        name="Braid 3",
        facts={
            "length_mm": Decimal("100.5"),
            "lead_free": "letter",
            "revision": "C",
            "burn_rate_g_h": Decimal("4.125"),
        },
    )
    # Two things of one name, in different kinds.
    items.new_item(kind="part", name="Tumbler")
    for day, freight, spread, reference in (
        (2, 1_234_567, "value", "INV 1"), (3, 10_001, "weight", ""),
    ):  # fmt: skip
        services.receive(
            supplier=brindle if day == 2 else None, on=date(2026, 2, day), at=AT,
            freight_minor100=freight, spread=spread, reference=reference, note="by van",
            lines=[
                services.Received(item=soy, qty=20_000_123, price_minor100=960_001,
                                  best_before=date(2027, 2, 1), supplier_lot="=B-7"),
                services.Received(item=jar, qty=48, price_minor100=960_000),
            ],
        )  # fmt: skip
    version = formulas.new_formula(
        name="Plum and smoke", idea="an orchard\nin October", on=ON,
        recipe=formulas.Recipe(
            waxes=[(soy, Decimal(100))], oils=[(plum, Decimal("33.333"))],
            extras=[(dye, Decimal("0.0125"))], load_pct=Decimal("7.5"), load_basis="whole",
            add_at_c=Decimal(74), stir_minutes=Decimal("2.5"), note="gently",
        ),
    )  # fmt: skip
    plain = formulas.new_formula(
        name="Unscented", on=ON, recipe=formulas.Recipe(waxes=[(soy, Decimal(1))])
    )
    formulas.retire(plain.formula)
    made = designs.new_design(
        name="Plum tumbler", label_name="Plum!", on=ON,
        spec=designs.DesignSpec(
            formula_version=version, vessel=jar, wick=wick, wick_count=2, fill_mg=180_000,
            trim_mm=Decimal("5.5"), cure_days=14, best_before_months=24,
            minutes_each=Decimal("3.25"), price_minor100=220_050, wholesale_minor100=120_000,
            markets="us,gb", parts=[(label, 2, "finish"), (glue, 1_500, "pour")],
        ),
    )  # fmt: skip
    other = designs.new_design(
        name="Plain tumbler", on=ON,
        spec=designs.DesignSpec(formula_version=plain, vessel=jar, wick=wick, fill_mg=170_000),
    )  # fmt: skip
    designs.retire(other.design)
    services.open_with(item=plum, qty=1_250_500, value=333_333, on=ON, at=AT)
    services.open_with(
        item=made.design.candle, qty=16, value=840_000, on=ON, at=AT, began_on=date(2026, 1, 5),
        ready_on=date(2026, 1, 19), supplier_lot="PT-11", note="shelf 2",
    )  # fmt: skip
    shop = Customer.objects.create(name="Corner Shop", email="one@corner.example", phone="555")
    twin = Customer.objects.create(name="Corner Shop", email="two@corner.example")
    for customer, day, reference in ((shop, 5, "PO 1"), (twin, 6, ""), (None, 7, "fair")):
        orders.new_order(
            customer=customer, channel="wholesale" if customer else "market",
            on=date(2026, 2, day), due=date(2026, 3, day), reference=reference, note="soon",
            lines=[(made.design, 24, 120_000, False), (other.design, 1, 0, True)],
        )  # fmt: skip
    Order.objects.filter(reference="fair").update(state=OrderState.CANCELLED)


def compose(plum, dye):
    """Confirm what an oil is made of, with one of everything that a row can say, and a dye."""
    full = Row(
        name="isoeugenol", cas="97-54-1",
        pct=Range(low=Fraction("0.1"), high=Fraction("0.25"), open_above=True),
        classes_text="Acute 4* oral\nSkin Sens 1A",
        classes=(parse_class("Acute 4* oral"), parse_class("Skin Sens 1A")),
        m_acute=Fraction(1), m_chronic=Fraction(10), non_additive=True,
        specific_limits={parse_class("Skin Sens 1A")[0]: Fraction("0.01")},
        ate={Route.ORAL: Fraction("1500.5"), Route.VAPOUR: Fraction(3)},
        unknown_acute=frozenset({Route.DERMAL, Route.GAS}), unknown_aquatic=True,
    )  # fmt: skip
    bare = Row(name="=vetiver, oil", pct=Range(high=Fraction(2)))
    keeping.bring_in(
        plum, rows=[full, bare], by="Ada", on=ON, at=AT,
        head=keeping.Head(
            product_name="Plum & Smoke", sheet_date=date(2025, 4, 3), revision="3.1",
            flash_point_c=Decimal(93), density_g_ml=Decimal("0.97"), note="in English",
            unknown_acute={Route.ORAL: Fraction("12.5")},
        ),
    )  # fmt: skip
    keeping.bring_in(dye, head=keeping.Head(nothing_listed=True), rows=[], by="Ada", on=ON, at=AT)


def as_csv(table):
    return "".join(csv_lines(table.head, table.rows())).encode()


def as_xlsx(table):
    file = io.BytesIO()
    write_workbook([Sheet(title=table.name, head=table.head, rows=table.rows())], file)
    return file.getvalue()


@pytest.mark.parametrize("write", [as_csv, as_xlsx])
def test_what_goes_out_comes_back_the_same(workshop, write):
    def taken_out():
        return {kind.name: write_out(kind) for kind in KINDS}

    def write_out(kind):
        return [list(row) for row in table_of(kind, workshop).rows()]

    with transaction.atomic():
        full_workshop()
        files = {kind.name: write(table_of(kind, workshop)) for kind in KINDS}
        before = taken_out()
        worth = sum(
            b.value for lot in Lot.objects.all() for b in lot.balances.filter(place="store")
        )
        transaction.set_rollback(True)
    assert Item.objects.count() == 0
    for kind in KINDS:
        outcome = bring_in(kind, read_file(files[kind.name]), workshop=workshop, on=TODAY, at=AT)
        assert outcome.findings == (), kind.name
        assert outcome.brought_in
    assert taken_out() == before
    assert all(before.values())
    assert (
        sum(b.value for lot in Lot.objects.all() for b in lot.balances.filter(place="store"))
        == worth
    )
    assert ledger.check_ledger() == []


@pytest.mark.parametrize("kind", [kind.name for kind in KINDS])
def test_bringing_the_same_file_in_again_is_refused_line_by_line(workshop, kind):
    full_workshop()
    file = as_csv(table_of(kind_named(kind), workshop))
    before = _counts()
    outcome = bring_in(kind_named(kind), read_file(file), workshop=workshop, on=TODAY, at=AT)
    assert outcome.findings
    assert not outcome.brought_in
    said = " ".join(finding.message for finding in outcome.findings)
    assert "already" in said or "cannot be brought in" in said
    assert _counts() == before


def _counts():
    return {
        model._meta.label: model.objects.count()
        for model in apps.get_app_config("stores").get_models()
    }


def test_one_faulty_line_keeps_every_other_out(bring):
    outcome = bring("suppliers", "name,lead days\nBrindle,5\nCoil,soon\nDamson,900\n")
    assert [(f.line, f.column) for f in outcome.findings] == [(3, "lead days"), (4, "lead days")]
    assert Supplier.objects.count() == 0
    assert not outcome.brought_in


def test_a_check_promises_what_bringing_in_does_and_saves_nothing(bring):
    text = "name,lead days\nBrindle,5\nCoil,\n"
    checked = bring("suppliers", text, only_check=True)
    assert (checked.findings, checked.made, checked.brought_in) == ((), 2, False)
    assert Supplier.objects.count() == 0
    assert bring("suppliers", text).brought_in
    assert Supplier.objects.count() == 2


def test_a_name_that_is_there_is_refused_and_stays_as_it_was(bring):
    items.keep_supplier(items.About(name="Brindle", contact="Ada"))
    outcome = bring("suppliers", "name,contact\nbrindle,Bo\n")
    assert "already" in outcome.findings[0].message
    assert outcome.findings[0].column == "name"
    assert Supplier.objects.get().contact == "Ada"


def test_a_name_twice_in_one_file_is_refused(bring):
    outcome = bring("wicks", "name\nBraid\nBRAID\n")
    assert [finding.line for finding in outcome.findings] == [3]


def test_a_name_that_is_not_there_is_told_with_what_comes_close(bring):
    items.new_item(kind="wax", name="Soy no. 2")
    outcome = bring(
        "receipts",
        "parcel,received on,supplier,item,amount,price\n"
        "A,2026-02-03,Brindel,Soy no 2,1 kg,9\n"
        "B,2026-02-03,,Beeswax,1 kg,9\n",
    )
    said = {(f.line, f.column): f.message for f in outcome.findings}
    assert "There is no supplier “Brindel”" in said[2, "supplier"]
    assert "Did you mean “soy no. 2”" in said[2, "item"]
    assert "Enter it first" in said[3, "item"]


def test_an_amount_must_fit_how_the_item_is_kept(bring):
    items.new_item(kind="wick", name="Braid")
    items.new_item(kind="wax", name="Soy")
    outcome = bring(
        "receipts",
        "parcel,received on,item,amount,price\nA,2026-02-03,Braid,2 kg,9\n"
        "A,,Braid,1.5,9\nA,,Soy,1.5,9",
    )
    assert [(f.line, f.column) for f in outcome.findings] == [(2, "amount"), (3, "amount")]
    assert "Braid is kept by the piece" in outcome.findings[0].message


def test_two_things_of_one_name_need_their_kind(bring):
    items.new_item(kind="part", name="Tin")
    items.new_item(kind="vessel", name="Tin", facts={"shape": "water", "brim_ml": Decimal(200)})
    head = "parcel,received on,kind,item,amount,price\n"
    outcome = bring("receipts", head + "A,2026-02-03,,Tin,5,9")
    assert outcome.findings[0].column == "kind"
    assert bring("receipts", head + "A,2026-02-03,vessel,Tin,5,9").brought_in
    assert Lot.objects.get().item.kind == "vessel"


def test_a_parcel_becomes_one_receipt_with_its_freight_shared(bring):
    for name in ("Soy", "Palm"):
        items.new_item(kind="wax", name=name)
    outcome = bring(
        "receipts",
        "parcel,received on,freight,item,amount,price\n"
        "P-9,2026-02-03,10,Soy,1 lb,30\nP-9,,,Palm,2 kg,10\n",
    )
    assert (outcome.made, outcome.lines) == (1, 2)
    receipt = Receipt.objects.get()
    assert receipt.reference == "P-9"
    assert [(line.qty, line.freight_minor100) for line in receipt.lines.order_by("id")] == [
        (453_592, 75_000),
        (2_000_000, 25_000),
    ]


def test_a_fact_of_another_kind_of_supply_is_refused(bring):
    outcome = bring("supplies", "kind,name,flash point,cure days\nwax,Soy,80,10\noil,Plum,90,\n")
    assert [(f.line, f.column) for f in outcome.findings] == [(2, "flash point")]
    assert Item.objects.count() == 0


def test_a_load_without_its_basis_is_never_guessed(bring):
    items.new_item(kind="wax", name="Soy")
    items.new_item(kind="oil", name="Plum")
    text = "formula,load,load basis,kind,part,share\nP,7,{},wax,Soy,1\nP,,,oil,Plum,1\n"
    outcome = bring("formulas", text.format(""))
    assert [f.column for f in outcome.findings] == ["load basis"]
    assert bring("formulas", text.format("of the whole")).brought_in
    assert Formula.objects.get().versions.get().load_basis == "whole"


def test_what_a_service_refuses_is_told_at_its_line(bring):
    items.new_item(
        kind="oil", name="Plum", facts={"max_pct_of_whole": Decimal(2), "limit_from": "certificate"}
    )
    items.new_item(kind="wax", name="Soy")
    outcome = bring(
        "formulas",
        "formula,load,load basis,kind,part,share\n"
        "Fine,1,of the wax,wax,Soy,1\nFine,,,oil,Plum,1\n"
        "Strong,9,of the wax,wax,Soy,1\nStrong,,,oil,Plum,1\n",
    )
    assert [f.line for f in outcome.findings] == [4]
    assert Formula.objects.count() == 0


def test_a_design_says_what_it_lacks(bring):
    head = "design,formula,vessel,wick,fill,part,part amount\n"
    outcome = bring("designs", head + "Plum,,,,a bit,,3\n")
    assert {f.column for f in outcome.findings} == {"formula", "vessel", "wick", "fill"}
    full_workshop()
    before = Design.objects.count()
    outcome = bring("designs", head + "P,Unscented,Tumbler,Braid 3,150,,3\nP,,,,,Glue,\n")
    assert [(f.line, f.column) for f in outcome.findings] == [
        (2, "part amount"),
        (3, "part amount"),
    ]
    assert Design.objects.count() == before


def test_days_to_come_and_sent_orders_are_refused(bring):
    full_workshop()
    before = Order.objects.count()
    outcome = bring(
        "orders",
        "order,state,channel,ordered on,design,number,price each\n"
        "A,,market stall,2027-01-01,Plum tumbler,1,9\n"
        "B,sent,market stall,2026-01-01,Plum tumbler,1,9\n",
    )
    assert [(f.line, f.column) for f in outcome.findings] == [(2, "ordered on"), (3, "state")]
    assert Order.objects.count() == before


def test_opening_stock_of_candles_stands_on_the_shelf(bring):
    full_workshop()
    text = "item,amount,value,since,cured on,own lot\nPlum tumbler,7,30,2026-01-05,2026-01-20,X1\n"
    assert bring("opening stock", text).brought_in
    lot = Lot.objects.get(supplier_lot="X1")
    assert ledger.held(lot, Place.SHELF) == (7, 300_000)
    assert (lot.began_on, lot.ready_on) == (date(2026, 1, 5), date(2026, 1, 20))


def test_every_table_of_the_database_can_be_taken_out(workshop):
    full_workshop()
    found = every_table(workshop)
    ours = [m for m in apps.get_models() if m.__module__.startswith("pourwright.")]
    # All but the sheets' bytes, which fit in no cell and go with a backup, and the calendar's word,
    # which is a secret.
    assert len(found) == len(KINDS) + len(ours) - 2
    assert len({table.name for table in found}) == len(found)
    file = io.BytesIO()
    rows = write_workbook(
        (Sheet(title=table.name, head=table.head, rows=table.rows()) for table in found), file
    )
    book = load_workbook(file)
    assert len(book.sheetnames) == len(found)
    assert rows == sum(sheet.max_row - 1 for sheet in book if sheet.max_row)
    moves = list(book["moves"].iter_rows(values_only=True))
    assert len(moves) - 1 == sum(lot.moves.count() for lot in Lot.objects.all())
    head = dict(zip(moves[0], moves[1], strict=True))
    assert head["lot"] == "W-0001"
    assert head["qty (g or pieces)"] == 20_000.123


def test_text_in_a_workbook_is_never_a_formula(workshop):
    full_workshop()
    file = io.BytesIO(as_xlsx(table_named("suppliers", workshop)))
    sheet = load_workbook(file).active
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert any(str(cell.value).startswith("=") for cell in cells)
    assert all(cell.data_type in ("s", "n") for cell in cells)
    assert sheet.freeze_panes == "A2"
    assert next(cell for cell in cells if cell.value == 5).data_type == "n"


def test_another_currency_in_a_price_is_refused(bring):
    items.new_item(kind="wax", name="Soy")
    outcome = bring("receipts", "parcel,received on,item,amount,price\nA,2026-02-03,Soy,5,€9")
    assert "not in USD" in outcome.findings[0].message


def test_the_kinds_come_in_an_order_in_which_each_finds_what_it_needs():
    seen = set()
    for kind in KINDS:
        assert set(kind.needs) <= {*seen, "designs", "customers"} - (
            set() if kind in (kinds.OPENING, kinds.ORDERS) else {"designs", "customers"}
        )
        seen.add(kind.name)
