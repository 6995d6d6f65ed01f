"""The ledger keeps quantity and value, refuses what is not there, and undoes by opposite moves."""

import pytest

from conftest import AT, ON
from pourwright.workshop.stores import ledger, services
from pourwright.workshop.stores.models import Item, Kind, Measure, Place

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def wax(db):
    return Item.objects.create(kind=Kind.WAX, name="Soy blend", measure=Measure.MASS)


def received(item, qty=10_000_000, price=500_000, **more):
    line = services.Received(item=item, qty=qty, price_minor100=price)
    return services.receive(lines=[line], on=ON, at=AT, **more).lines.get().lot


def test_a_receipt_brings_stock_with_its_price_and_freight(wax):
    lot = received(wax, freight_minor100=12_345)
    assert ledger.held(lot) == (10_000_000, 512_345)
    assert ledger.check_ledger() == []


def test_taking_more_than_a_lot_holds_is_refused_and_nothing_is_written(wax):
    lot = received(wax)
    with pytest.raises(ledger.Overdrawn, match=r"10,000\.1 g are wanted.*holds 10,000\.0 g"):
        services.scrap(lot=lot, place=Place.STORE, qty=10_000_100, reason="spilt", on=ON, at=AT)
    assert ledger.held(lot) == (10_000_000, 500_000)


def test_the_last_of_a_lot_takes_all_the_value_that_is_left(wax):
    lot = received(wax, qty=3, price=100)
    for _ in range(3):
        services.scrap(lot=lot, place=Place.STORE, qty=1, reason="spilt", on=ON, at=AT)
    assert ledger.held(lot) == (0, 0)
    assert ledger.held(lot, Place.SCRAP) == (3, 100)


def test_undoing_puts_back_quantity_and_value(wax):
    lot = received(wax)
    entry = services.scrap(lot=lot, place=Place.STORE, qty=999, reason="spilt", on=ON, at=AT)
    ledger.undo(entry, reason="it was another lot", on=ON, at=AT)
    assert ledger.held(lot) == (10_000_000, 500_000)
    assert ledger.held(lot, Place.SCRAP) == (0, 0)
    with pytest.raises(ledger.CannotUndo, match="undone before"):
        ledger.undo(entry, reason="again", on=ON, at=AT)


def test_a_receipt_cannot_be_undone_once_its_stock_was_used(wax):
    receipt = services.receive(
        lines=[services.Received(item=wax, qty=1000, price_minor100=10)], on=ON, at=AT
    )
    lot = receipt.lines.get().lot
    services.scrap(lot=lot, place=Place.STORE, qty=1, reason="spilt", on=ON, at=AT)
    with pytest.raises(ledger.Overdrawn):
        ledger.undo(receipt.entry, reason="wrong parcel", on=ON, at=AT)


def test_undoing_the_last_of_a_lot_leaves_no_value_behind(wax):
    receipt = services.receive(
        lines=[services.Received(item=wax, qty=3, price_minor100=100)], on=ON, at=AT
    )
    lot = receipt.lines.get().lot
    services.scrap(lot=lot, place=Place.STORE, qty=2, reason="spilt", on=ON, at=AT)
    services.count(lot=lot, place=Place.STORE, counted=3, reason="found", on=ON, at=AT)
    assert ledger.held(lot) == (3, 102)  # what was found came in at the dearer remainder's worth
    ledger.undo(receipt.entry, reason="another shop's parcel", on=ON, at=AT)
    assert ledger.held(lot) == (0, 0)
    assert ledger.check_ledger() == []


def test_what_is_set_aside_is_a_lot_of_its_own_with_its_share_of_the_value(wax):
    lot = received(wax, qty=7, price=100)
    gift = services.set_aside(
        lot=lot, place=Place.STORE, qty=2, origin="gift", on=ON, at=AT, note="for a neighbour"
    )
    assert ledger.held(gift, Place.GIVEN) == (2, 28)
    assert ledger.held(lot) == (5, 72)
    assert gift.made_from.get().parent == lot
    assert ledger.check_ledger() == []
