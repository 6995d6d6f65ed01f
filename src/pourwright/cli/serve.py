"""``pourwright serve``, ``start`` and ``demo``: the program itself, for this machine's browser."""

from __future__ import annotations

import argparse
import json
import os
import signal
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json
from pourwright.cli.workshop import (
    add_data_flag,
    missing_migrations,
    open_workshop,
    own_folder,
    usable_folder,
)
from pourwright.core.errors import BadInput
from pourwright.workshop import safekeeping

HOST = "127.0.0.1"
PORT = 8137
PORTS_TRIED = 40
THREADS = 8
# Far above any form or file that is taken in, so that those are refused in words of our own.
MOST_BODY_BYTES = 32 * 1024 * 1024
# SQLite waits up to 20 s for a turn to write; a request in flight gets that long to end well.
DRAIN_S = 25
DEMO_MARK = "demo.json"
DEMO_SEED = 7

EPILOG = """\
The address is for this machine alone. Ctrl-C stops the program; what is being saved is saved first.

Example:
  pourwright start --demo
"""


class CannotServe(BadInput):
    """The program cannot be started as asked."""


class CannotMakeDemo(BadInput):
    """The demo workshop cannot be made there."""


def register(parts) -> None:
    serve = parts.add_parser(
        "serve", help="run the program", description="Run the program.", epilog=EPILOG
    )
    start = parts.add_parser(
        "start",
        help="run the program, on the workshop or with --demo on the demo",
        description="Run the program on your workshop, or on a separate demo workshop.",
        epilog=EPILOG,
    )
    start.add_argument("--demo", action="store_true", help="a separate workshop full of life")
    demo = parts.add_parser(
        "demo",
        help="make the demo workshop and run the program on it",
        description="Make a demo workshop in a folder of its own and run the program on it.",
        epilog="Example:\n  pourwright demo --seed 12 --fresh --no-serve",
    )
    demo.add_argument("--seed", type=_seed, default=None, help=f"what it grows from ({DEMO_SEED})")
    demo.add_argument("--fresh", action="store_true", help="make it anew if it is there already")
    demo.add_argument("--no-serve", action="store_true", help="make it and stop")
    add_json_flag(demo)
    for part, run in ((serve, run_serve), (start, run_start), (demo, run_demo)):
        part.formatter_class = argparse.RawDescriptionHelpFormatter
        part.add_argument("--port", type=_port, metavar="N", help=f"({PORT}, or the next free)")
        add_data_flag(part)
        part.add_argument("--no-browser", action="store_true", help="do not open a browser")
        part.add_argument(
            "--backed-up",
            action="store_true",
            help="bring a PostgreSQL database up to date: you have a pg_dump of it",
        )
        part.set_defaults(run=run)


def _port(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f'"{text[:20]}" is no port; give one from 1024 to 65535')
    return int(text)


def _seed(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise argparse.ArgumentTypeError(f'"{text[:20]}" is no seed; give a whole number such as 7')
    return int(text)


def run_serve(arguments: argparse.Namespace) -> int:
    with brought_up_to_date(arguments.data, backed_up=arguments.backed_up) as data:
        return serve(data, port=arguments.port, browser=not arguments.no_browser)


def run_start(arguments: argparse.Namespace) -> int:
    if arguments.demo:
        arguments.seed, arguments.fresh, arguments.no_serve = None, False, False
        arguments.json = False
        return run_demo(arguments)
    return run_serve(arguments)


def run_demo(arguments: argparse.Namespace) -> int:
    if os.environ.get("DATABASE_URL"):
        raise CannotMakeDemo(
            "The demo lives in a file of its own; unset DATABASE_URL to make or open it."
        )
    data = usable_folder(arguments.data or own_folder() / "demo", make=True)
    made = _demo_to_make(data, seed=arguments.seed, fresh=arguments.fresh)
    with brought_up_to_date(data) as data:
        if made is not None:
            _make_demo(data, seed=made, quiet=arguments.json)
        if arguments.json:
            mark = _demo_mark(data) or {}
            print_json({"data": str(data), "seed": mark.get("seed"), "made": made is not None})
        elif arguments.no_serve:
            print(f"The demo workshop is in {data}")
        if arguments.no_serve:
            return 0
        return serve(data, port=arguments.port, browser=not arguments.no_browser)


# --- the demo's folder ---------------------------------------------------------------------------


def _demo_to_make(data: Path, *, seed: int | None, fresh: bool) -> int | None:
    """
    Return the seed to make the demo from, its folder cleared for it; None: it is there.

    Only what carries the demo's mark is ever cleared away.
    """
    mark, database = _demo_mark(data), data / safekeeping.DATABASE
    if database.exists() and mark is None:
        raise CannotMakeDemo(
            f"{data} holds a workshop that is not a demo; name another folder with --data."
        )
    if mark and mark.get("ready") and database.exists() and not fresh:
        if seed is not None and seed != mark.get("seed"):
            raise CannotMakeDemo(
                f"The demo in {data} was made from seed {mark.get('seed')}; add --fresh to make it "
                f"anew from {seed}."
            )
        return None
    seed = DEMO_SEED if seed is None else seed
    with safekeeping.alone_in(data):
        _write_mark(data, seed=seed, ready=False)
        for more in ("", "-wal", "-shm"):
            database.with_name(database.name + more).unlink(missing_ok=True)
    return seed


def _demo_mark(data: Path) -> dict | None:
    try:
        return json.loads((data / DEMO_MARK).read_text(encoding="utf-8"))
    except (FileNotFoundError, ValueError):
        return None


def _write_mark(data: Path, *, seed: int, ready: bool) -> None:
    mark = json.dumps({"seed": seed, "ready": ready})
    (data / DEMO_MARK).write_text(mark + "\n", encoding="utf-8")


def _make_demo(data: Path, *, seed: int, quiet: bool) -> None:
    from pourwright.workshop import demo

    def progress(*words) -> None:
        if not quiet:
            print("  " + " ".join(str(word) for word in words), flush=True)

    if not quiet:
        print("Making the demo workshop (under a minute, once) …", flush=True)
    demo.build(seed=seed, progress=progress)
    _write_mark(data, seed=seed, ready=True)


# --- bringing the database up to date ------------------------------------------------------------


@contextmanager
def brought_up_to_date(data: Path | None, *, backed_up: bool = False) -> Iterator[Path]:
    """
    Open the workshop in ``data``, new or old, and keep its folder marked as in use.

    A database that needs migrating is backed up first, with nobody else at it.
    """
    data = usable_folder(data, make=True)
    on_a_server = bool(os.environ.get("DATABASE_URL"))
    is_new = not on_a_server and not (data / safekeeping.DATABASE).exists()
    if not is_new and not on_a_server:
        _refuse_newer(data)
    open_workshop(data, make=True)
    if missing_migrations():
        # Another one that starts at the same moment may be at it: wait, then look again.
        with safekeeping.alone_in(data, wait_s=15):
            if missing := missing_migrations():
                _migrate(data, missing, is_new=is_new, on_a_server=on_a_server, backed_up=backed_up)
    from django.db import connection

    with safekeeping.in_use(data):
        connection.close()  # whatever file it had open: from here on nobody replaces it
        yield data


def _refuse_newer(data: Path) -> None:
    """Refuse a database of a newer program before this one writes to it."""
    import sqlite3

    ours = safekeeping.known_migrations()
    with closing(sqlite3.connect(data / safekeeping.DATABASE, timeout=20)) as database:
        try:
            seen = set(database.execute("SELECT app, name FROM django_migrations"))
        except sqlite3.OperationalError:
            return  # a first start that was interrupted: nothing in it yet
        except sqlite3.DatabaseError as problem:
            raise CannotServe(
                f"The workshop in {data} is damaged ({problem}); bring back a backup with "
                "pourwright restore."
            ) from problem
    apps = {app for app, _ in ours}
    if newer := sorted(m for m in seen - ours if m[0] in apps):
        raise CannotServe(
            f"The workshop in {data} was used with a newer version of Pourwright "
            f"({newer[-1][0]} {newer[-1][1]}); update this program to open it."
        )


def _migrate(data: Path, missing: int, *, is_new: bool, on_a_server: bool, backed_up: bool) -> None:
    from django.core.management import call_command
    from django.db import connection

    holds_records = not is_new and "stores_move" in connection.introspection.table_names()
    if holds_records and on_a_server and not backed_up:
        raise CannotServe(
            f"The PostgreSQL database needs {missing} steps to come up to date; back it up with "
            "pg_dump, then start again with --backed-up."
        )
    if holds_records and not on_a_server:
        kept = safekeeping.back_up_aside(data, why="before-upgrade", at=datetime.now().astimezone())
        print(f"Bringing the workshop up to date; it was backed up first, to {kept}", flush=True)
    call_command("migrate", verbosity=0, interactive=False)


# --- serving -------------------------------------------------------------------------------------


def serve(data: Path, *, port: int | None, browser: bool) -> int:
    """Serve the open workshop on this machine until Ctrl-C or SIGTERM; return the exit status."""
    from django.core.wsgi import get_wsgi_application
    from django.urls import get_resolver

    application = get_wsgi_application()
    # Every page's code is loaded before the first is asked for: a fault in it shows here.
    _ = get_resolver().url_patterns
    server = _listening(application, port)
    stop = _Stop(server)
    address = f"http://{HOST}:{server.effective_port}/"
    print(f"Pourwright is at {address}  (data in {data}; Ctrl-C stops it)", flush=True)
    if browser and _has_display():
        threading.Thread(target=webbrowser.open, args=[address], daemon=True).start()
    stop.serve_until_asked()
    print("Stopped.", flush=True)
    return 0


def _listening(application, port: int | None):
    from waitress.server import create_server

    for candidate in [port] if port else range(PORT, PORT + PORTS_TRIED):
        if _answers(candidate):
            continue
        with suppress(OSError):
            return create_server(
                application,
                host=HOST,
                port=candidate,
                threads=THREADS,
                ident=None,
                max_request_body_size=MOST_BODY_BYTES,
                clear_untrusted_proxy_headers=True,
            )
    if port:
        raise CannotServe(
            f"Port {port} is taken or not yours to use; give another with --port, or none and the "
            "next free one is taken."
        )
    raise CannotServe(f"No free port from {PORT} on; name one with --port.")


def _answers(port: int) -> bool:
    """
    Return whether somebody listens there already.

    On Windows two programs can bind the same port, so that a failed bind says too little.
    """
    with closing(socket.socket(socket.AF_INET, socket.SOCK_STREAM)) as probe:
        probe.settimeout(0.5)
        return probe.connect_ex((HOST, port)) == 0


def _has_display() -> bool:
    if sys.platform.startswith(("linux", "freebsd", "openbsd")):
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return "SSH_CONNECTION" not in os.environ


class _Stop:
    """
    Stops a server well: no new requests, those in flight get their answer.

    Left alone, waitress ends at once on SIGTERM, whatever its threads are writing.
    """

    def __init__(self, server) -> None:
        self.server = server
        self.asked_at: float | None = None
        names = ("SIGINT", "SIGTERM", "SIGBREAK")  # the last is Windows's
        self.signals = [getattr(signal, name) for name in names if hasattr(signal, name)]
        for number in self.signals:
            signal.signal(number, self._ask)

    def _ask(self, number, frame) -> None:
        if self.asked_at is None:
            self.asked_at = time.monotonic()
            with suppress(OSError):
                self.server.pull_trigger()
        elif number == signal.SIGINT and time.monotonic() - self.asked_at > 1:
            # Ctrl-C once more, by somebody who will not wait. (One stop may arrive twice at once:
            # by way of the parent, and from whoever signals the whole group.)
            raise KeyboardInterrupt

    def serve_until_asked(self) -> None:
        from waitress import wasyncore

        sockets = self.server._map
        with suppress(KeyboardInterrupt):
            while self.asked_at is None:
                wasyncore.loop(timeout=1, map=sockets, count=1)
            wasyncore.dispatcher.close(self.server)
            for _ in range(DRAIN_S * 20):
                if not self._in_flight():
                    break
                wasyncore.loop(timeout=0.05, map=sockets, count=1)
        for number in self.signals:
            signal.signal(number, signal.SIG_IGN)
        self.server.task_dispatcher.shutdown(timeout=1)

    def _in_flight(self) -> bool:
        channels = list(self.server.active_channels.values())
        return any(channel.requests or channel.total_outbufs_len for channel in channels)
