"""What every test may lean on: a workshop in a real database file."""

import gc
import shutil
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection

from running import environment

ON = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)


def pytest_collection_finish():
    """
    Let what is loaded by now be looked through no more for what could be let go of.

    Django's models, the pages and the tests stay to the end; to search them again and again took
    a tenth of all the time.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


@pytest.fixture(scope="session")
def _empty_made_once(tmp_path_factory) -> Path:
    return tmp_path_factory.mktemp("empty made once") / "workshop.sqlite3"


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker, _empty_made_once):
    """
    Keep a copy of the empty workshop for those who need one in a folder of their own, then
    let the tests empty the ledger between them, which nobody else can.

    Transactional tests end by deleting every row, and SQLite's guard would stop that. That the
    guard is there is tested on a database of its own (tests/workshop/test_guard.py).
    """
    with django_db_blocker.unblock():
        if connection.vendor == "sqlite":
            if not connection.introspection.table_names():
                # No test that was chosen asks for the database itself, so nothing has made it.
                call_command("migrate", verbosity=0)
            with connection.cursor() as cursor:
                cursor.execute("VACUUM INTO %s", [str(_empty_made_once)])
                cursor.execute("DROP TRIGGER move_never_deleted")


@pytest.fixture(scope="session")
def empty_workshop(django_db_setup, _empty_made_once):
    """
    Give a function that puts an empty workshop, as the migrations leave it, into a folder.

    To live through every migration takes a new folder some seconds; only the tests of a first
    start have to.
    """

    def put(folder: Path) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(_empty_made_once, folder / "workshop.sqlite3")
        return folder

    return put


@pytest.fixture(scope="session")
def _demo_made_once(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("demo made once") / "demo"
    maker = Path(__file__).with_name("demo_of_a_day.py")
    made = subprocess.run(
        [sys.executable, maker, folder],
        env=environment(),
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    return folder


@pytest.fixture(scope="module")
def demo_folder(_demo_made_once, tmp_path_factory) -> Path:
    """A folder with the demo in it, in ``demo``: made once a run, a copy for each file of tests."""
    folder = tmp_path_factory.mktemp("with the demo")
    shutil.copytree(_demo_made_once, folder / "demo")
    return folder


@pytest.fixture
def workshop(db):
    from pourwright.workshop.house.models import Workshop

    made = Workshop(pk=1, name="Test workshop", currency="USD")
    made.save()
    return made
