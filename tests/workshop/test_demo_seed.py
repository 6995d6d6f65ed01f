"""The same seed and day give the same demo, to the milligram; another seed gives another."""

import os
import subprocess
import sys

PLAY = """
import hashlib, datetime, django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from pourwright.workshop import demo
from pourwright.workshop.demo import life
life.DAYS = 160
from pourwright.workshop.orders.models import DespatchLine
from pourwright.workshop.stores.models import Move
demo.build(seed={seed}, today=datetime.date(2026, 6, 15))
moves = list(Move.objects.order_by("id").values_list(
    "lot__code", "lot__supplier_lot", "from_place", "to_place", "qty", "value", "entry__on"))
sent = list(DespatchLine.objects.order_by("id").values_list(
    "despatch__order__customer__name", "lot__code", "qty"))
print(len(moves), hashlib.sha256(repr((moves, sent)).encode()).hexdigest())
"""


def lived(tmp_path, *, seed, name):
    """Play some months in a process of its own, with another hash seed each time."""
    folder = tmp_path / name
    folder.mkdir()
    environment = os.environ | {
        "POURWRIGHT_TEST_DATA": str(folder),
        "DJANGO_SETTINGS_MODULE": "pourwright.workshop.settings_test",
        "PYTHONHASHSEED": str(len(name)),
    }
    environment.pop("DATABASE_URL", None)
    done = subprocess.run(
        [sys.executable, "-c", PLAY.format(seed=seed)],
        env=environment, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def test_the_same_seed_gives_the_same_and_another_seed_another(tmp_path):
    first = lived(tmp_path, seed=3, name="one")
    again = lived(tmp_path, seed=3, name="again")
    other = lived(tmp_path, seed=4, name="other-seed")
    assert first == again
    assert int(first[0]) > 300
    assert other[1] != first[1]
