"""What every test may lean on: a workshop in a real database file."""

import shutil
import subprocess
import sys
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from django.db import connection

from running import environment

ON = date(2026, 3, 2)
AT = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """
    Let the tests empty the ledger between them, which nobody else can.

    Transactional tests end by deleting every row, and SQLite's guard would stop that. That the
    guard is there is tested on a database of its own (tests/workshop/test_guard.py).
    """
    with django_db_blocker.unblock():
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("DROP TRIGGER move_never_deleted")


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
