"""The database itself refuses to change or delete a move, whoever asks."""

import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest
from django.db import connection, transaction
from django.db.utils import Error

from conftest import AT, ON
from pourwright.workshop.stores import services
from pourwright.workshop.stores.models import Item, Kind, Measure, Move
from running import environment

MAKE = """
from datetime import UTC, date, datetime
from pathlib import Path
import sys
from pourwright.cli.serve import brought_up_to_date
with brought_up_to_date(Path(sys.argv[1])):
    from pourwright.workshop.stores import items, services
    wax = items.new_item(kind="wax", name="Soy")
    line = services.Received(item=wax, qty=1000, price_minor100=10)
    services.receive(lines=[line], on=date(2026, 3, 2), at=datetime(2026, 3, 2, tzinfo=UTC))
"""


@pytest.fixture(scope="module")
def made(empty_workshop, tmp_path_factory):
    """A workshop as the migrations and the program make it, with one move in it."""
    folder = empty_workshop(tmp_path_factory.mktemp("guarded"))
    subprocess.run([sys.executable, "-c", MAKE, str(folder)], env=environment(), check=True)
    return folder / "workshop.sqlite3"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE stores_move SET qty = qty + 1",
        "UPDATE stores_move SET value = 0",
        "DELETE FROM stores_move",
        "UPDATE OR REPLACE stores_move SET id = id + 1",
    ],
)
def test_a_move_that_is_written_stands(made, statement):
    with closing(sqlite3.connect(made)) as database:
        before = database.execute("SELECT * FROM stores_move").fetchall()
        assert len(before) == 1
        with pytest.raises(sqlite3.IntegrityError, match="a move is never"):
            database.execute(statement)
        assert database.execute("SELECT * FROM stores_move").fetchall() == before


def test_a_weight_is_on_the_disk_before_it_is_acknowledged(made):
    """The settings that a power cut asks for are those of the program's own connections."""
    ask = (
        "import sys\nfrom pathlib import Path\nfrom pourwright.cli.workshop import open_workshop\n"
        "open_workshop(Path(sys.argv[1]))\nfrom django.db import connection\n"
        "cursor = connection.cursor()\n"
        "for name in ('journal_mode', 'synchronous', 'foreign_keys'):\n"
        "    print(cursor.execute(f'PRAGMA {name}').fetchone()[0])\n"
    )
    said = subprocess.run(
        [sys.executable, "-c", ask, str(made.parent)],
        env=environment(), capture_output=True, encoding="utf-8", check=True,
    ).stdout.split()  # fmt: skip
    assert said == ["wal", "2", "1"]  # write-ahead log, FULL, on


@pytest.mark.django_db
@pytest.mark.both_databases
@pytest.mark.skipif(
    "connection.vendor == 'sqlite'",
    reason="SQLite's guard is let down between tests; it is tested above on a database of its own",
)
def test_postgresql_refuses_as_well():
    wax = Item.objects.create(kind=Kind.WAX, name="Soy", measure=Measure.MASS)
    line = services.Received(item=wax, qty=1000, price_minor100=10)
    services.receive(lines=[line], on=ON, at=AT)
    for change in (Move.objects.all().delete, lambda: Move.objects.update(qty=1)):
        with pytest.raises(Error, match="a move is never changed"), transaction.atomic():
            change()
    assert connection.vendor == "postgresql"
