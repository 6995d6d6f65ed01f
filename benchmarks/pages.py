"""
How long pages take as a workshop grows: the demo's own size, and many times that.

    python benchmarks/pages.py [--times 1 10 100 300] [--keep FOLDER] [--write docs/benchmarks.md]

The demo is built once. Its rows are then copied in the database with shifted keys. The first ten
copies make the workshop broader: ten times the supplies, formulas and designs, with all that is in
stock, open, curing and due. Every further copy is its past, two years back at a time: the lots of
it are used up, its orders and pours are done. The largest is thus ten times as broad as the demo
and thirty times as old, with about a million moves.
Pages are called through Django in one process, without network or browser, after a warm-up; a
figure is the median. The start is timed as a process of its own, from the command to the first
page received.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from datetime import UTC, datetime
from pathlib import Path

from sections import put

MOST_CATALOGUES = 10
CALLS = 15
GOAL_MS = 100
GOAL_START_S = 3
HERE = Path(__file__).resolve()


def main() -> int:
    arguments = _arguments()
    if arguments.measure:
        print(json.dumps(measure(calls=arguments.calls)))
        return 0
    folder = Path(arguments.keep or tempfile.mkdtemp(prefix="pourwright-bench-"))
    try:
        sizes = [_of_size(folder, times, calls=arguments.calls) for times in arguments.times]
    finally:
        if not arguments.keep:
            shutil.rmtree(folder, ignore_errors=True)
    report = markdown(sizes, note=arguments.note)
    print(report)
    if arguments.write:
        put(arguments.write, report)
    return 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[1])
    parser.add_argument("--times", type=int, nargs="+", default=[1, 10, 100, 300])
    parser.add_argument("--calls", type=int, default=CALLS, help="how often each page is called")
    parser.add_argument("--keep", help="a folder to keep the databases in, and to find them again")
    parser.add_argument("--write", type=Path, help="where to write the table")
    parser.add_argument("--note", default="", help="a sentence on the circumstances, kept with it")
    parser.add_argument("--measure", action="store_true", help=argparse.SUPPRESS)
    return parser.parse_args()


def _of_size(folder: Path, times: int, *, calls: int) -> dict:
    data = folder / f"times-{times}"
    if not (data / "workshop.sqlite3").exists():
        base = _base(folder)
        data.mkdir(parents=True, exist_ok=True)
        _say(f"copying the demo {times} times")
        shutil.copy(base / "workshop.sqlite3", data / "workshop.sqlite3")
        grow(data / "workshop.sqlite3", times)
    _say(f"measuring at {times} times")
    command = [sys.executable, str(HERE), "--measure", "--calls", str(calls)]
    found = subprocess.run(
        command, env=_environment(data), capture_output=True, text=True, check=False
    )
    if found.returncode:
        raise SystemExit(found.stderr)
    return {"times": times, "start_s": start_seconds(data), **json.loads(found.stdout)}


def _say(words: str) -> None:
    print(f"{time.strftime('%H:%M:%S')} {words}", file=sys.stderr, flush=True)


def _environment(data: Path) -> dict[str, str]:
    environment = os.environ | {
        "POURWRIGHT_DATA": str(data),
        "DJANGO_SETTINGS_MODULE": "pourwright.workshop.settings",
    }
    environment.pop("DATABASE_URL", None)
    return environment


def _base(folder: Path) -> Path:
    data = folder / "base"
    if not (data / "workshop.sqlite3").exists():
        data.mkdir(parents=True, exist_ok=True)
        _say("building the demo")
        build = (
            "import django; django.setup()\n"
            "from django.core.management import call_command\n"
            "call_command('migrate', verbosity=0)\n"
            "from pourwright.workshop import demo; demo.build()\n"
            "from django.db import connection\n"
            "connection.cursor().execute('PRAGMA wal_checkpoint(TRUNCATE)')"
        )
        subprocess.run([sys.executable, "-c", build], env=_environment(data), check=True)
    return data


# --- growing -------------------------------------------------------------------------------------

CATALOGUE = {
    "stores.Supplier", "stores.Item", "stores.WaxFacts", "stores.OilFacts", "stores.VesselFacts",
    "stores.WickFacts", "formulas.Formula", "formulas.FormulaVersion", "formulas.FormulaWax",
    "formulas.FormulaOil", "formulas.FormulaExtra", "designs.Design", "designs.DesignVersion",
    "designs.DesignPart",
}  # fmt: skip
ONCE = {"house.Workshop", "house.Counter", "pours.Melter"}
APPS = ("stores", "formulas", "designs", "gates", "pours", "orders", "trace")


def grow(database: Path, times: int) -> None:
    """Copy every row ``times`` - 1 times over, keys shifted so that each copy is a world apart."""
    _django(database.parent)
    from django.apps import apps

    models = [model for model in apps.get_models() if model._meta.app_label in APPS]
    catalogues = min(times, MOST_CATALOGUES)
    with sqlite3.connect(database) as connection:
        connection.execute("PRAGMA synchronous=OFF")
        connection.execute("PRAGMA cache_size=-400000")
        step = 1 + max(
            connection.execute(f"SELECT coalesce(max(id), 0) FROM {m._meta.db_table}").fetchone()[0]
            for m in models
        )
        numbers = f"""WITH RECURSIVE copies(n) AS (
            SELECT 1 UNION ALL SELECT n + 1 FROM copies WHERE n < {times - 1})"""
        for model in models:
            label = f"{model._meta.app_label}.{model.__name__}"
            if label in ONCE or times == 1:
                continue
            most = catalogues - 1 if label in CATALOGUE else times - 1
            if most:
                connection.execute(_copy(model, label, numbers, step, most, catalogues))
        _make_past(connection, first_lot=catalogues * step, step=step)
    connection.close()
    from pourwright.workshop.stores.ledger import check_ledger

    if wrong := check_ledger():
        raise SystemExit(f"the copied ledger does not add up: {wrong[:3]}")


def _make_past(connection: sqlite3.Connection, *, first_lot: int, step: int) -> None:
    """Use up what copies of the past still hold, by moves of their own; end what is open."""
    held = f"place IN ('store', 'shelf', 'test', 'returned') AND lot_id >= {first_lot}"
    begin = step * 1_000_000
    connection.execute(f"""
        INSERT INTO stores_entry (id, kind, "on", at, reason)
        SELECT {begin} + lot_id / {step}, 'count', max(l.began_on), max(l.began_on) || ' 12:00:00',
            'used up'
        FROM stores_balance JOIN stores_lot AS l ON l.id = lot_id
        WHERE {held} AND (qty > 0 OR value > 0) GROUP BY lot_id / {step}""")
    connection.execute(f"""
        INSERT INTO stores_move (entry_id, lot_id, from_place, to_place, qty, value)
        SELECT {begin} + lot_id / {step}, lot_id, place, 'correction', qty, value
        FROM stores_balance WHERE {held} AND (qty > 0 OR value > 0)""")
    connection.execute(f"""
        INSERT INTO stores_balance (lot_id, place, qty, value)
        SELECT lot_id, 'correction', sum(qty), sum(value) FROM stores_balance
        WHERE {held} AND (qty > 0 OR value > 0) GROUP BY lot_id
        ON CONFLICT (lot_id, place)
        DO UPDATE SET qty = qty + excluded.qty, value = value + excluded.value""")
    connection.execute(f"UPDATE stores_balance SET qty = 0, value = 0 WHERE {held}")
    connection.execute(f"UPDATE orders_order SET state = 'cancelled' "
                       f"WHERE state = 'open' AND id >= {first_lot}")  # fmt: skip
    connection.execute(
        "UPDATE trace_recall SET ended_on = \"on\", ended_how = 'all of it found' "
        f"WHERE id >= {first_lot}"
    )
    connection.execute(f"UPDATE pours_pour SET state = 'abandoned' "
                       f"WHERE state IN ('open', 'planned') AND id >= {first_lot}")  # fmt: skip


def _copy(model, label: str, numbers: str, step: int, most: int, catalogues: int) -> str:
    table = model._meta.db_table
    columns, values = [], []
    for field in model._meta.concrete_fields:
        columns.append(f'"{field.column}"')
        values.append(_shifted(field, label, step, catalogues))
    return (
        f"INSERT INTO {table} ({', '.join(columns)}) {numbers} "
        f"SELECT {', '.join(values)} FROM copies CROSS JOIN {table} AS old "
        f"WHERE old.id < {step} AND copies.n <= {most}"
    )


def _shifted(field, label: str, step: int, catalogues: int) -> str:
    column = f'old."{field.column}"'
    if field.primary_key:
        return f"{column} + copies.n * {step}"
    if field.is_relation:
        target = field.related_model._meta
        name = f"{target.app_label}.{target.object_name}"
        if name in ONCE:
            return column
        if name in CATALOGUE and label not in CATALOGUE:
            return f"{column} + (copies.n % {catalogues}) * {step}"
        return f"{column} + copies.n * {step}"
    past = f"'-' || ((copies.n / {catalogues}) * 730) || ' days'"
    if label not in CATALOGUE and field.get_internal_type() == "DateField":
        return f"date({column}, {past})"
    if label not in CATALOGUE and field.get_internal_type() == "DateTimeField":
        return f"datetime({column}, {past})"
    unique_text = field.unique or (label == "stores.Item" and field.name == "name")
    if field.get_internal_type() == "CharField" and unique_text:
        return f"{column} || '-' || copies.n"
    return column


# --- measuring -----------------------------------------------------------------------------------


def _django(data: Path) -> None:
    os.environ.update(_environment(data))
    import django

    django.setup()


def measure(*, calls: int) -> dict:
    """Return the median time of each page in milliseconds, for the workshop of the environment."""
    _django(Path(os.environ["POURWRIGHT_DATA"]))
    from django.conf import settings
    from django.test import Client

    from pourwright.workshop.stores.models import Lot, Move

    settings.ALLOWED_HOSTS.append("testserver")
    client = Client(raise_request_exception=False)
    found = {}
    for name, address in pages().items():
        answers = [client.get(address) for _ in range(2)]
        if answers[-1].status_code != 200:
            _say(f"  LEFT OUT {name}: {address} answered {answers[-1].status_code}")
            continue
        times = []
        for _ in range(calls):
            began = time.perf_counter()
            client.get(address)
            times.append((time.perf_counter() - began) * 1000)
        found[name] = statistics.median(times)
        _say(f"  {found[name]:7.1f} ms  {name}")
    return {"moves": Move.objects.count(), "lots": Lot.objects.count(), "pages": found}


def pages() -> dict[str, str]:
    """Return the pages to time: every list, and of each thing one that has much to it."""
    from django.db.models import Count
    from django.urls import reverse

    from pourwright.workshop.demo.buying import RECALL_LOT
    from pourwright.workshop.designs.models import Design
    from pourwright.workshop.formulas.models import Formula
    from pourwright.workshop.orders.models import Customer, Order
    from pourwright.workshop.pours.models import Pour
    from pourwright.workshop.stores.models import Item, Lot

    first = 20_000  # within the demo's own rows, whatever the size
    bottle = Lot.objects.filter(supplier_lot=RECALL_LOT).order_by("pk").first()
    base = Lot.objects.filter(pk__lt=first)
    candle = (
        base.filter(origin="pour").annotate(n=Count("sent"), m=Count("made_from")).order_by(
            "-n", "-m", "pk"
        )
    ).first()  # fmt: skip
    wax = base.filter(item__kind="wax").annotate(n=Count("went_into")).order_by("-n", "pk").first()
    pour = Pour.objects.filter(pk__lt=first, state="closed").annotate(n=Count("takes"))
    pour = pour.order_by("-n", "pk").first()
    order = Order.objects.filter(pk__lt=first).annotate(n=Count("lines")).order_by("-n", "pk")
    customer = Customer.objects.filter(pk__lt=first).annotate(n=Count("orders"))
    return {
        "Today": reverse("today"),
        "Stores": reverse("stores:index"),
        "Formulas": reverse("formulas:index"),
        "Designs": reverse("designs:index"),
        "Pours": reverse("pours:index"),
        "Pours, page 40": reverse("pours:index") + "?page=40",
        "Shelf": reverse("shelf:index"),
        "Orders": reverse("orders:index"),
        "Orders, page 40": reverse("orders:index") + "?page=40",
        "A supply": reverse("stores:item", args=[Item.objects.get(pk=wax.item_id).pk]),
        "A lot of wax": reverse("stores:lot", args=[wax.code]),
        "A lot of candles": reverse("shelf:lot", args=[candle.code]),
        "A formula": reverse("formulas:formula", args=[Formula.objects.order_by("pk")[0].pk]),
        "A design": reverse("designs:design", args=[Design.objects.order_by("pk")[0].pk]),
        "A pour": reverse("pours:pour", args=[pour.number]),
        "An order": reverse("orders:order", args=[order.first().number]),
        "A customer": reverse("orders:customer", args=[customer.order_by("-n", "pk").first().pk]),
        "Trace forward, a recalled oil": reverse("trace:lot", args=[bottle.code]),
        "Trace forward, a much used wax": reverse("trace:lot", args=[wax.code]),
        "Trace back, a lot of candles": reverse("trace:lot", args=[candle.code]),
        "Find, three letters": reverse("find") + "?q=ora",
        "Find, part of a number": reverse("find") + "?q=L-01",
        "Find, nothing there": reverse("find") + "?q=qzxw",
    }


def start_seconds(data: Path, *, tries: int = 3) -> float:
    """Return the median time from the command to the first page received."""
    return statistics.median(_start_once(data) for _ in range(tries))


def _start_once(data: Path) -> float:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "pourwright.cli.main", "serve", "--data", str(data)]
    command += ["--port", str(port), "--no-browser"]
    began = time.perf_counter()
    server = subprocess.Popen(
        command, env=_environment(data), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    try:
        while time.perf_counter() - began < 60:
            if server.poll() is not None:
                raise SystemExit(server.stderr.read().decode())
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=30) as page:
                    page.read()
                    return time.perf_counter() - began
            except OSError:
                time.sleep(0.02)
        raise SystemExit("the server did not answer within a minute")
    finally:
        server.terminate()
        server.wait(20)
        server.stderr.close()


# --- telling -------------------------------------------------------------------------------------


def markdown(sizes: list[dict], *, note: str = "") -> str:
    """Return the report: what was measured on what, the table, and how it grows."""
    first, last = sizes[0], sizes[-1]
    head = " | ".join(f"{size['moves']:,} moves" for size in sizes)
    rows = []
    for name in first["pages"]:
        figures = [size["pages"][name] for size in sizes]
        growth = figures[-1] / figures[0]
        flag = "" if figures[-1] <= GOAL_MS else " **over**"
        shown = " | ".join(f"{figure:.1f}" for figure in figures)
        rows.append(f"| {name} | {shown} | × {growth:.1f}{flag} |")
    start = " | ".join(f"{size['start_s']:.2f}" for size in sizes)
    over = sum(figure > GOAL_MS for figure in last["pages"].values())
    verdict = (
        "Every page is within the goal."
        if not over
        else f"{over} of {len(last['pages'])} pages miss the goal at the largest size."
    )
    return f"""# How quick the pages are, and how that grows

Measured on {datetime.now(UTC):%d %B %Y}: {_machine()}.
Goals: every page within {GOAL_MS} ms of server time at a million stock moves, trace included; from
the command to the first page within {GOAL_START_S} s.

{" ".join(filter(None, (verdict, note)))}

Server time in milliseconds, the median of {CALLS} calls after two to warm up; one process, SQLite
in one file with the program's own settings. The sizes are the demo workshop times
{", ".join(str(size["times"]) for size in sizes)}. Up to {MOST_CATALOGUES} times it grows broader:
more supplies, formulas and designs, with all their stock, open orders and curing lots. Beyond that
it grows older: each further copy lies two years back, its lots used up and its orders done. The
last column is the largest against the smallest.

| Page | {head} | growth |
|---|{"---:|" * (len(sizes) + 1)}
{chr(10).join(rows)}

From the command to the first page, in seconds (median of three starts):

| | {head} |
|---|{"---:|" * len(sizes)}
| Start | {start} |

Measure again with `python benchmarks/pages.py --write docs/benchmarks.md`. Figures depend on the
machine and on what else it does; the growth depends on little but the program.
"""


def _machine() -> str:
    cores = os.cpu_count()
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    python, database = platform.python_version(), sqlite3.sqlite_version
    return (
        f"{platform.machine()}, {cores} cores, {memory:.0f} GiB of memory, {platform.system()}, "
        f"Python {python}, SQLite {database}"
    )


if __name__ == "__main__":
    sys.exit(main())
