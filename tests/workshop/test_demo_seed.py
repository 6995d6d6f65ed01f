"""The same seed and day give the same demo, to the milligram; another seed gives another."""

import os
import subprocess
import sys

PLAY = """
import hashlib, datetime, django
django.setup()
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


def lived(folder, *, seed, name):
    """Play some months in a process of its own, with another hash seed each time."""
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


def test_the_same_seed_gives_the_same_and_another_seed_another(empty_workshop, tmp_path):
    first = lived(empty_workshop(tmp_path / "one"), seed=3, name="one")
    again = lived(empty_workshop(tmp_path / "again"), seed=3, name="again")
    other = lived(empty_workshop(tmp_path / "other"), seed=4, name="other-seed")
    assert first == again
    assert int(first[0]) > 300
    assert other[1] != first[1]
