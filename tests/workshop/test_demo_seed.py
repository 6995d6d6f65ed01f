"""The same seed and day give the same demo, to the milligram; another seed gives another."""

import os
import subprocess
import sys

FIRST_DAYS = 40
PLAY = """
import hashlib, datetime, django
django.setup()
from pourwright.workshop import demo
from pourwright.workshop.demo import life
life.DAYS = 160
from pourwright.workshop.orders.models import DespatchLine
from pourwright.workshop.stores.models import Move

def tell():
    moves = list(Move.objects.order_by("id").values_list(
        "lot__code", "lot__supplier_lot", "from_place", "to_place", "qty", "value", "entry__on"))
    sent = list(DespatchLine.objects.order_by("id").values_list(
        "despatch__order__customer__name", "lot__code", "qty"))
    print(len(moves), hashlib.sha256(repr((moves, sent)).encode()).hexdigest())

live = demo._day

def day(lived):
    live(lived)
    if lived.day == {first_days}:
        tell()
        if {stop_there}:
            raise SystemExit

demo._day = day
demo.build(seed={seed}, today=datetime.date(2026, 6, 15))
tell()
"""


def lived(folder, *, seed, name, stop_there=False):
    """
    Play some months in a process of its own, with another hash seed each time; return what was
    there, as number of moves and digest, after the first days and at the end.
    """
    environment = os.environ | {
        "POURWRIGHT_TEST_DATA": str(folder),
        "DJANGO_SETTINGS_MODULE": "pourwright.workshop.settings_test",
        "PYTHONHASHSEED": str(len(name)),
    }
    environment.pop("DATABASE_URL", None)
    play = PLAY.format(seed=seed, first_days=FIRST_DAYS, stop_there=stop_there)
    done = subprocess.run(
        [sys.executable, "-c", play],
        env=environment, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return [tuple(line.split()) for line in done.stdout.splitlines()]


def test_the_same_seed_gives_the_same_and_another_seed_another(empty_workshop, tmp_path):
    first = lived(empty_workshop(tmp_path / "one"), seed=3, name="one")
    again = lived(empty_workshop(tmp_path / "again"), seed=3, name="again")
    other = lived(empty_workshop(tmp_path / "other"), seed=4, name="other-seed", stop_there=True)
    assert first == again
    early, end = first
    assert int(end[0]) > 300
    assert int(early[0]) > 30
    [other_early] = other
    assert other_early[1] != early[1]
