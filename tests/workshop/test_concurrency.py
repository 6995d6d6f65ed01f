"""Eight writers at once lose nothing, never meet a locked database, and take no lot below zero."""

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from conftest import AT, ON
from pourwright.workshop.house.models import Counter, next_number
from pourwright.workshop.stores import ledger, services
from pourwright.workshop.stores.models import Item, Kind, Lot, Measure, Place, Receipt

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both_databases]

WRITERS = 8
PROCESSES = 4


@pytest.fixture
def wax(db):
    return Item.objects.create(kind=Kind.WAX, name="Soy", measure=Measure.MASS)


def together(work):
    """Run ``work(writer)`` in eight threads that begin at once; return what each gave back."""
    barrier = Barrier(WRITERS)

    def one(writer):
        try:
            barrier.wait(timeout=30)
            return work(writer)
        finally:
            connection.close()

    with ThreadPoolExecutor(WRITERS) as pool:
        return list(pool.map(one, range(WRITERS)))


def received(wax, qty=1000):
    line = services.Received(item=wax, qty=qty, price_minor100=77)
    return services.receive(lines=[line], on=ON, at=AT)


def test_no_two_things_ever_get_one_number():
    numbers = together(lambda writer: [next_number("X") for _ in range(25)])
    given = [number for those in numbers for number in those]
    assert sorted(given) == [f"X-{n:04d}" for n in range(1, WRITERS * 25 + 1)]


def test_every_receipt_of_eight_writers_is_there(wax):
    together(lambda writer: [received(wax, qty=writer + 1).pk for _ in range(10)])
    assert Receipt.objects.count() == WRITERS * 10
    assert Lot.objects.count() == WRITERS * 10
    assert ledger.stock_of(wax) == 10 * sum(range(1, WRITERS + 1))
    assert ledger.check_ledger() == []


def test_writers_who_take_from_one_lot_never_take_it_below_zero(wax):
    lot = received(wax, qty=100).lines.get().lot

    def take(writer):
        taken = 0
        for _ in range(20):
            try:
                services.scrap(lot=lot, place=Place.STORE, qty=3, reason="spilt", on=ON, at=AT)
                taken += 3
            except ledger.Overdrawn:
                pass
        return taken

    taken = together(take)
    # 160 tries of 3 out of 100: 33 succeed, and the rest are told that there is not enough.
    assert sum(taken) == 99
    assert ledger.held(lot)[0] == 1
    assert ledger.held(lot, Place.SCRAP)[0] == 99
    assert ledger.check_ledger() == []


def test_crossing_moves_of_two_lots_do_not_wait_for_each_other_forever(wax):
    """Both orders of two lots in one entry: locked in one order by everybody."""
    one, two = (received(wax, qty=10_000).lines.get().lot for _ in range(2))

    def cross(writer):
        lots = (one, two) if writer % 2 else (two, one)
        for _ in range(10):
            ledger.post(
                kind="scrap", on=ON, at=AT, reason="spilt",
                steps=[
                    ledger.Step(lot=lot, from_place=Place.STORE, to_place=Place.SCRAP, qty=1)
                    for lot in lots
                ],
            )  # fmt: skip

    together(cross)
    assert ledger.held(one)[0] == ledger.held(two)[0] == 10_000 - WRITERS * 10
    assert ledger.check_ledger() == []


def test_one_form_sent_by_eight_at_once_records_once(wax):
    from uuid import uuid4

    client_id = uuid4()
    line = services.Received(item=wax, qty=1000, price_minor100=10)
    pks = together(
        lambda writer: services.receive(lines=[line], on=ON, at=AT, client_id=client_id).pk
    )
    assert len(set(pks)) == 1
    assert Receipt.objects.count() == 1


WRITE = """
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "pourwright.workshop.settings"
from django.conf import settings
settings.DATABASES["default"]["NAME"] = sys.argv[2]
import django
django.setup()
from datetime import UTC, date, datetime
from django.db import connection
from pourwright.workshop.stores import services
from pourwright.workshop.stores.models import Item
wax = Item.objects.get(name="Soy")
for turn in range(int(sys.argv[1])):
    line = services.Received(item=wax, qty=turn + 1, price_minor100=5)
    services.receive(lines=[line], on=date(2026, 3, 2), at=datetime(2026, 3, 2, tzinfo=UTC))
"""


def test_processes_lose_nothing_either(wax, tmp_path):
    """Each process is one of its own, as two programs on one folder would be."""
    turns = 15
    env = {**os.environ, "POURWRIGHT_DATA": str(tmp_path)}
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WRITE, str(turns), str(connection.settings_dict["NAME"])],
            env=env, stderr=subprocess.PIPE, encoding="utf-8",
        )
        for _ in range(PROCESSES)
    ]  # fmt: skip
    said = [process.communicate(timeout=120)[1] for process in running]
    assert [process.returncode for process in running] == [0] * PROCESSES, said
    assert not any("locked" in words for words in said)
    assert Receipt.objects.count() == PROCESSES * turns
    assert ledger.stock_of(wax) == PROCESSES * sum(range(1, turns + 1))
    assert ledger.check_ledger() == []
    assert Counter.objects.get(prefix="W").last == PROCESSES * turns
