"""A backup made while the program runs comes back row for row; nothing else can take its place."""

import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from datetime import datetime

import pytest

from pourwright.workshop import safekeeping
from pourwright.workshop.safekeeping import CannotBackUp, CannotRestore, InUse
from running import Browser, Server, environment, pourwright

AT = datetime(2026, 3, 2, 18, 0)  # noqa: DTZ001 - names of files only
MAKE = """
import sys
from pathlib import Path
from datetime import UTC, date, datetime
from pourwright.cli.serve import brought_up_to_date
with brought_up_to_date(Path(sys.argv[1])):
    from pourwright.workshop.stores import items, services
    for name in ("Soy", "Palm", "Rape"):
        wax = items.new_item(kind="wax", name=name, notes="½ – “quoted”")
        line = services.Received(item=wax, qty=10**9 + 1, price_minor100=10**10 + 1)
        services.receive(lines=[line], on=date(2026, 3, 2), at=datetime(2026, 3, 2, tzinfo=UTC))
    from pourwright.workshop.hazard import keeping
    sheet = b"%PDF-1.7" + bytes(range(256)) * 400
    keeping.keep_sheet(sheet, name="Soy.pdf", at=datetime(2026, 3, 2, tzinfo=UTC))
"""


@pytest.fixture(scope="module")
def made(empty_workshop, tmp_path_factory):
    folder = empty_workshop(tmp_path_factory.mktemp("made"))
    subprocess.run([sys.executable, "-c", MAKE, str(folder)], env=environment(), check=True)
    return folder


@pytest.fixture
def data(made, tmp_path):
    """A data folder of its own for each test, with a space and an accent in its name."""
    folder = tmp_path / "my wörkshop"
    shutil.copytree(made, folder)
    return folder


def every_row(file):
    """Return every table's rows, and the schema."""
    with closing(sqlite3.connect(file)) as database:
        schema = database.execute(
            "SELECT type, name, tbl_name, sql FROM sqlite_master "
            "WHERE name NOT LIKE 'sqlite_%' ORDER BY type, name"
        ).fetchall()
        tables = [name for kind, name, _, _ in schema if kind == "table"]
        rows = {
            name: database.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall()
            for name in tables
        }
    return schema, rows


def rows_of(data):
    return every_row(data / "workshop.sqlite3")


def test_a_backup_comes_back_row_for_row(data, tmp_path):
    before = rows_of(data)
    assert len(before[1]["stores_move"]) == 3
    assert [len(content) for _, content in before[1]["hazard_sheetfile"]] == [102_408]
    file = tmp_path / "all of it.backup"
    safekeeping.back_up(data, file)
    with closing(sqlite3.connect(data / "workshop.sqlite3")) as database, database:
        database.execute("UPDATE stores_item SET name = name || ' spoilt'")
    assert rows_of(data) != before
    _, kept = safekeeping.restore(file, data, at=AT)
    assert rows_of(data) == before
    # What was there before is not lost either.
    assert all(row[2].endswith(" spoilt") for row in every_row(kept)[1]["stores_item"])
    # And it comes back into an empty folder as well.
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    safekeeping.restore(file, fresh, at=AT)
    assert rows_of(fresh) == before


def test_a_backup_saved_from_the_page_comes_back_too(data, tmp_path):
    before = rows_of(data)
    file = tmp_path / "saved.backup"
    with Server(data) as server:
        file.write_bytes(Browser(server.address).get("/exchange/workshop.backup").read())
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    safekeeping.restore(file, fresh, at=AT)
    assert rows_of(fresh) == before


def test_a_backup_under_a_writer_is_whole(data, tmp_path):
    """Pairs of rows written together are both in the copy, or neither."""
    stop = threading.Event()

    def write():
        with closing(sqlite3.connect(data / "workshop.sqlite3", timeout=20)) as database:
            number = 0
            while not stop.is_set():
                number += 1
                with database:
                    database.execute(
                        "INSERT INTO house_counter (prefix, last) VALUES (?, 1)", [f"a{number}"]
                    )
                    database.execute(
                        "INSERT INTO house_counter (prefix, last) VALUES (?, 1)", [f"b{number}"]
                    )

    writer = threading.Thread(target=write)
    writer.start()
    try:
        found = []
        for number in range(5):
            file = tmp_path / f"{number}.backup"
            safekeeping.back_up(data, file)
            prefixes = {row[0] for row in every_row(file)[1]["house_counter"]}
            assert len([p for p in prefixes if p[0] == "a"]) == len(
                [p for p in prefixes if p[0] == "b"]
            )
            found.append(len(prefixes))
    finally:
        stop.set()
        writer.join()
    assert found == sorted(found)
    assert found[-1] > found[0], "nothing was written meanwhile"


def test_what_lies_in_the_log_beside_the_file_is_in_the_backup(data, tmp_path):
    with closing(sqlite3.connect(data / "workshop.sqlite3")) as database:
        database.execute("PRAGMA journal_mode=WAL")
        with database:
            database.execute("INSERT INTO house_counter (prefix, last) VALUES ('zz', 9)")
        assert (data / "workshop.sqlite3-wal").stat().st_size > 0
        safekeeping.back_up(data, tmp_path / "b")
    assert ("zz", 9) in every_row(tmp_path / "b")[1]["house_counter"]


def test_a_file_that_is_there_is_not_overwritten_unasked(data, tmp_path):
    file = tmp_path / "precious.txt"
    file.write_text("a letter")
    with pytest.raises(CannotBackUp, match="there already"):
        safekeeping.back_up(data, file)
    assert file.read_text() == "a letter"
    safekeeping.back_up(data, file, overwrite=True)
    safekeeping.examine(file)
    with pytest.raises(CannotBackUp, match="the workshop itself"):
        safekeeping.back_up(data, data / "workshop.sqlite3", overwrite=True)


def test_a_backup_that_fails_leaves_no_half_file(data, tmp_path):
    with pytest.raises(CannotBackUp, match="could not be written"):
        safekeeping.back_up(data, tmp_path / "no" / "such" / "folder" / "b")
    database = data / "workshop.sqlite3"
    half = database.stat().st_size // 2
    os.truncate(database, half)
    with pytest.raises(CannotBackUp):
        safekeeping.back_up(data, tmp_path / "b")
    assert not list(tmp_path.glob("*b*.part"))
    assert not (tmp_path / "b").exists()


def _spoil(file, tmp_path, how):
    if how == "no file":
        file.unlink()
    elif how == "a letter":
        file.write_text("Dear Ada, " * 500)
    elif how == "empty":
        file.write_bytes(b"")
    elif how == "cut short":
        os.truncate(file, file.stat().st_size // 2)
    elif how == "another program's":
        file.unlink()
        with closing(sqlite3.connect(file)) as database:
            database.execute("CREATE TABLE recipes (name)")
    elif how == "a flipped page":
        with open(file, "r+b") as opened:
            opened.seek(4096 * 3)
            opened.write(os.urandom(4096 * 6))
    elif how == "newer":
        with closing(sqlite3.connect(file)) as database, database:
            database.execute(
                "INSERT INTO django_migrations (app, name, applied) "
                "VALUES ('stores', '0999_to_come', '2030-01-01')"
            )
    elif how == "in use":
        file.with_name(f"{file.name}-wal").write_bytes(b"x" * 100)


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ("no file", "is not there"),
        ("a letter", "not a backup"),
        ("empty", "not one of Pourwright's"),
        ("cut short", "damaged|not a backup"),
        ("another program's", "not one of Pourwright's"),
        ("a flipped page", "damaged|not a backup"),
        ("newer", "newer version of Pourwright"),
        ("in use", "database in use"),
    ],
)
def test_what_is_no_backup_changes_nothing(data, tmp_path, how, says):
    file = tmp_path / "b"
    safekeeping.back_up(data, file)
    _spoil(file, tmp_path, how)
    before = rows_of(data)
    with pytest.raises(CannotRestore, match=says):
        safekeeping.restore(file, data, at=AT)
    assert rows_of(data) == before
    assert not list(data.glob("*.part"))


def test_a_damaged_workshop_is_kept_as_it_lies_and_the_backup_takes_its_place(data, tmp_path):
    file = tmp_path / "b"
    safekeeping.back_up(data, file)
    (data / "workshop.sqlite3").write_bytes(b"nothing but noise" * 1000)
    _, kept = safekeeping.restore(file, data, at=AT)
    assert (kept / "workshop.sqlite3").read_bytes().startswith(b"nothing but noise")
    assert rows_of(data) == every_row(file)


def test_nothing_is_restored_under_a_running_program(data, tmp_path):
    file = tmp_path / "b"
    safekeeping.back_up(data, file)
    with Server(data):
        # Nor hindered: a backup may be made while it runs.
        made = pourwright("backup", tmp_path / "second", "--data", data)
        assert made.returncode == 0, made.stderr
        refused = pourwright("restore", file, "--data", data)
        assert refused.returncode == 2
        assert "Another Pourwright is working" in refused.stderr
    restored = pourwright("restore", file, "--data", data)
    assert restored.returncode == 0, restored.stderr


def test_a_lock_goes_with_the_process_that_held_it(data, tmp_path):
    server = Server(data)
    server.start()
    server.kill()
    with safekeeping.alone_in(data):
        pass
    with (
        safekeeping.in_use(data),
        safekeeping.in_use(data),
        pytest.raises(InUse),
        safekeeping.alone_in(data, wait_s=0.2),
    ):
        pass


def test_an_upgrade_backs_up_first(data):
    """A workshop of a version before: the tables of recalls are not there yet."""
    older = [sys.executable, "-m", "django", "migrate", "trace", "zero", "-v0"]
    settings = {
        "DJANGO_SETTINGS_MODULE": "pourwright.workshop.settings",
        "POURWRIGHT_DATA": str(data),
    }
    subprocess.run(older, env={**environment(), **settings}, check=True)
    before = rows_of(data)
    # A command that would read it says what to do instead of failing half way.
    refused = pourwright("check", "--data", data)
    assert refused.returncode == 2
    assert "another version" in refused.stderr
    with Server(data) as server:
        pass
    assert "it was backed up first" in server.output
    kept = list((data / "backups").glob("before-upgrade-*.sqlite3"))
    assert len(kept) == 1
    assert every_row(kept[0]) == before
    assert pourwright("check", "--data", data).returncode == 0
    # The next start finds nothing to do.
    with Server(data) as server:
        pass
    assert "backed up" not in server.output
    # And the kept one can be brought back, and upgraded again.
    assert pourwright("restore", kept[0], "--data", data).returncode == 0
    assert rows_of(data) == before


def test_a_workshop_of_a_newer_version_is_not_touched(data):
    _spoil(data / "workshop.sqlite3", None, "newer")
    before = rows_of(data)
    refused = pourwright("serve", "--no-browser", "--data", data)
    assert refused.returncode == 2
    assert "newer version of Pourwright" in refused.stderr
    assert rows_of(data) == before
