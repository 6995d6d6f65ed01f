"""What every test may lean on: a workshop in a real database file."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection

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


@pytest.fixture
def workshop(db):
    from pourwright.workshop.house.models import Workshop

    made = Workshop(pk=1, name="Test workshop", currency="USD")
    made.save()
    return made
