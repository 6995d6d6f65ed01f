"""What the program acknowledged is there after it was killed in the middle of writing."""

import random
import sqlite3
import threading
import time
import uuid
from contextlib import closing

from running import Browser, Server, pourwright

KILLS = 3
SENDERS = 3
SUPPLIES = "kind,name\nwax,Soy\nfragrance oil,Plum\n"


def test_every_acknowledged_receipt_outlives_a_killed_server(empty_workshop, tmp_path):
    server = Server(empty_workshop(tmp_path))
    chance = random.Random(20260302)
    sent: dict[str, dict[str, str]] = {}
    acknowledged: set[str] = set()
    with server:
        browser = Browser(server.address)
        token = browser.token("/exchange/?kind=supplies")
        brought = {"csrfmiddlewaretoken": token, "do": "bring", "text": SUPPLIES}
        assert browser.post("/exchange/?kind=supplies", brought) == 302
        with closing(sqlite3.connect(tmp_path / "workshop.sqlite3")) as database:
            items = dict(database.execute("SELECT name, id FROM stores_item"))

        def send_until(stopped):
            """Send one receipt after the other, each of two lines, until the server is gone."""
            own = Browser(server.address)
            try:
                token = own.token("/stores/receipts/new/")
                while not stopped.is_set():
                    reference = f"parcel {uuid.uuid4()}"
                    form = _receipt(reference, items, token)
                    sent[reference] = form
                    if own.post("/stores/receipts/new/", form) == 302:
                        acknowledged.add(reference)
            except (OSError, TypeError):
                return  # the connection went with the server

        for _ in range(KILLS):
            stopped = threading.Event()
            senders = [threading.Thread(target=send_until, args=[stopped]) for _ in range(SENDERS)]
            for sender in senders:
                sender.start()
            time.sleep(chance.uniform(0.4, 1.0))
            server.kill()
            stopped.set()
            for sender in senders:
                sender.join(timeout=30)
            server.start()

        there = _receipts(tmp_path)
        assert len(acknowledged) > KILLS, "too few receipts to have met a kill in the middle"
        assert acknowledged <= there.keys()
        assert set(there.values()) == {2}, "a receipt came in by halves"
        # Whoever got no answer sends again; each is recorded once, known by the id of its form.
        token = browser.token("/stores/receipts/new/")
        for reference in sorted(sent.keys() - acknowledged):
            form = {**sent[reference], "csrfmiddlewaretoken": token}
            assert browser.post("/stores/receipts/new/", form) == 302
    there = _receipts(tmp_path)
    assert there.keys() == sent.keys()
    assert set(there.values()) == {2}
    checked = pourwright("check", "--data", tmp_path)
    assert checked.returncode == 0, checked.stdout + checked.stderr


def _receipt(reference: str, items: dict[str, int], token: str) -> dict[str, str]:
    form = {
        "csrfmiddlewaretoken": token,
        "client_id": str(uuid.uuid4()),
        "on": "2026-02-03",
        "reference": reference,
        "freight_minor100": "3.33",
        "spread": "value",
        "lines-TOTAL_FORMS": "2",
        "lines-INITIAL_FORMS": "0",
    }
    for place, (name, qty) in enumerate((("Soy", "10 kg"), ("Plum", "1 kg"))):
        form[f"lines-{place}-item"] = str(items[name])
        form[f"lines-{place}-qty"] = qty
        form[f"lines-{place}-price_minor100"] = "40"
    return form


def _receipts(folder) -> dict[str, int]:
    """Return the receipts that are there, by their reference, and how many lots each brought."""
    with closing(sqlite3.connect(folder / "workshop.sqlite3")) as database:
        rows = database.execute(
            "SELECT r.reference, COUNT(b.id) FROM stores_receipt r "
            "LEFT JOIN stores_receiptline l ON l.receipt_id = r.id "
            "LEFT JOIN stores_balance b ON b.lot_id = l.lot_id AND b.place = 'store' "
            "GROUP BY r.id"
        ).fetchall()
    assert len(dict(rows)) == len(rows), "a receipt was recorded twice"
    return dict(rows)
