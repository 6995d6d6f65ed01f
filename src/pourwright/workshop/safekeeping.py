"""
Keeping the maker's records safe: backups, bringing one back, and who is using a data folder.

For the one-file database of a workshop on one machine; a PostgreSQL server has tools of its own.
Nothing here needs Django, so that a backup is quick and works while the program runs.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pourwright.core.errors import BadInput

DATABASE = "workshop.sqlite3"
BACKUPS = "backups"
LOCK = "in-use.lock"
# What every Pourwright database holds, whatever its age.
TELLING_TABLES = {"django_migrations", "house_workshop", "stores_move", "stores_balance"}
HERE = Path(__file__).resolve().parent


class CannotBackUp(BadInput):
    """A backup cannot be made there."""


class CannotRestore(BadInput):
    """A file that cannot be brought back."""


class InUse(BadInput):
    """Another Pourwright is working in the data folder."""


# --- who is using a data folder ------------------------------------------------------------------


@contextmanager
def in_use(data: Path) -> Iterator[None]:
    """Say that this process works in ``data``; others may too, but nobody may replace it."""
    with _locked(data, shared=True):
        yield


@contextmanager
def alone_in(data: Path, *, wait_s: float = 0) -> Iterator[None]:
    """Be the only one in ``data``, or raise ``InUse`` after ``wait_s`` seconds."""
    with _locked(data, shared=False, wait_s=wait_s):
        yield


@contextmanager
def _locked(data: Path, *, shared: bool, wait_s: float = 0) -> Iterator[None]:
    """
    Hold a lock of the operating system's on a file in ``data``: it goes with the process, however
    that ends.
    """
    deadline = time.monotonic() + wait_s
    with open(data / LOCK, "a+b") as file:
        while not _take(file.fileno(), shared=shared):
            if time.monotonic() >= deadline:
                raise InUse(
                    f"Another Pourwright is working in {data}; stop it first (Ctrl-C where it "
                    "runs), then try again."
                )
            time.sleep(0.1)
        # The system lets go of the lock when the file is closed.
        yield


if os.name == "nt":  # pragma: no cover - there is no shared lock: one byte for each user instead
    import msvcrt

    USERS = 32

    def _take(descriptor: int, *, shared: bool) -> bool:
        taken = []
        for place in range(USERS):
            os.lseek(descriptor, place, os.SEEK_SET)
            try:
                msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
            except OSError:
                if not shared:
                    for held in taken:
                        os.lseek(descriptor, held, os.SEEK_SET)
                        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)
                    return False
                continue
            if shared:
                return True
            taken.append(place)
        return not shared

else:
    import fcntl

    def _take(descriptor: int, *, shared: bool) -> bool:
        try:
            fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except OSError:
            return False
        return True


# --- backups -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Contents:
    """What a database file holds: its rows in all, and the migrations it has seen."""

    rows: int
    migrations: frozenset[tuple[str, str]]


def back_up(data: Path, target: Path, *, overwrite: bool = False) -> Contents:
    """
    Write an intact copy of the workshop in ``data`` to ``target``; it may be in use meanwhile.

    The copy is made beside the target, checked, and only then given its name.
    """
    source = data / DATABASE
    if not source.exists():
        raise CannotBackUp(f"There is no workshop in {data}; name its folder with --data.")
    if target.is_dir():
        raise CannotBackUp(f"{target} is a folder; name a file in it, such as workshop.backup.")
    if target.exists() and not overwrite:
        raise CannotBackUp(f"{target} is there already; name another file, or add --overwrite.")
    if target.exists() and target.samefile(source):
        raise CannotBackUp(f"{target} is the workshop itself; name another file.")
    half = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with closing(sqlite3.connect(source, timeout=20)) as database:
            database.execute("VACUUM INTO ?", [str(half)])
        contents = examine(half)
        _to_disk(half)
        if target.exists() and not overwrite:  # made by somebody while we copied
            raise CannotBackUp(f"{target} is there already; name another file, or add --overwrite.")
        os.replace(half, target)
        _to_disk(target.parent)
    except CannotRestore as problem:
        raise CannotBackUp(f"The copy is not intact, so none was kept. {problem}") from problem
    except (OSError, sqlite3.Error) as problem:
        raise CannotBackUp(f"The backup could not be written to {target}: {problem}.") from problem
    finally:
        half.unlink(missing_ok=True)
    return contents


def back_up_aside(data: Path, *, why: str, at: datetime) -> Path:
    """Back up into the data folder's own backups, under a name with the time; return the file."""
    folder = data / BACKUPS
    folder.mkdir(exist_ok=True)
    target = _free_name(folder, f"{why}-{at:%Y%m%d-%H%M%S}", ".sqlite3")
    back_up(data, target)
    return target


def _free_name(folder: Path, stem: str, suffix: str) -> Path:
    target, again = folder / f"{stem}{suffix}", 1
    while target.exists():
        again += 1
        target = folder / f"{stem}-{again}{suffix}"
    return target


def _to_disk(path: Path) -> None:
    """Have the system write a file, or a folder's list of files, out to the disk now."""
    if path.is_dir() and os.name == "nt":
        return
    flags = os.O_RDONLY if path.is_dir() else os.O_RDWR
    descriptor = os.open(path, flags)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


# --- bringing one back ---------------------------------------------------------------------------


def examine(file: Path) -> Contents:
    """Return what a file that nobody writes to holds; refuse what is damaged or not ours."""
    if not file.is_file():
        raise CannotRestore(f"{file} is not there; name a file made by pourwright backup.")
    wal = file.with_name(f"{file.name}-wal")
    if wal.exists() and wal.stat().st_size:
        raise CannotRestore(
            f"{file} is a database in use (there is {wal.name} beside it); make a backup of it "
            "with pourwright backup and name that."
        )
    try:
        address = f"{file.absolute().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(address, uri=True)) as database:
            tables = {
                row[0]
                for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            }
            if not tables >= TELLING_TABLES:
                raise CannotRestore(
                    f"{file} is a database, but not one of Pourwright's; name a file made by "
                    "pourwright backup."
                )
            said = database.execute("PRAGMA integrity_check(1)").fetchone()[0]
            if said != "ok":
                raise CannotRestore(f"{file} is damaged ({said}); use another backup.")
            if database.execute("PRAGMA foreign_key_check").fetchone():
                raise CannotRestore(f"{file} lacks records that others need; use another backup.")
            migrations = database.execute("SELECT app, name FROM django_migrations").fetchall()
            rows = sum(
                database.execute(f'SELECT COUNT(*) FROM "{table}"').fetchone()[0]
                for table in tables
                if not table.startswith(("sqlite_", "django_"))
            )
    except sqlite3.DatabaseError as problem:
        raise CannotRestore(
            f"{file} is not a backup, or it is damaged ({problem}); name a file made by "
            "pourwright backup."
        ) from problem
    return Contents(rows=rows, migrations=frozenset(migrations))


def known_migrations() -> frozenset[tuple[str, str]]:
    """Return the migrations that this version of the program comes with, as (app, name)."""
    return frozenset(
        (file.parent.parent.name, file.stem) for file in HERE.glob("*/migrations/[0-9]*.py")
    )


def restore(file: Path, data: Path, *, at: datetime) -> tuple[Contents, Path | None]:
    """
    Put the backup ``file`` in the place of the workshop in ``data``.

    What is there now is kept aside first, in the folder's backups; return what came back and where
    the other was put. Nothing is changed unless the file is intact and this program can read it.
    """
    database = data / DATABASE
    if file.exists() and database.exists() and file.samefile(database):
        raise CannotRestore(f"{file} is the workshop itself; name a backup of it.")
    examine(file)
    with alone_in(data):
        fresh = data / f".{DATABASE}.{os.getpid()}.part"
        try:
            shutil.copyfile(file, fresh)
            contents = examine(fresh)  # what was copied is what is checked
            _refuse_newer(file, contents)
            _to_disk(fresh)
            kept = _put_aside(data, at=at) if database.exists() else None
            for more in ("-wal", "-shm"):
                database.with_name(DATABASE + more).unlink(missing_ok=True)
            os.replace(fresh, database)
            _to_disk(data)
        except OSError as problem:
            raise CannotRestore(f"{file} could not be put into {data}: {problem}.") from problem
        finally:
            fresh.unlink(missing_ok=True)
    return contents, kept


def _refuse_newer(file: Path, contents: Contents) -> None:
    ours = known_migrations()
    apps = {app for app, _ in ours}
    if newer := sorted(m for m in contents.migrations - ours if m[0] in apps):
        app, name = newer[-1]
        raise CannotRestore(
            f"{file} was made by a newer version of Pourwright ({app} {name}); update the program, "
            "then restore it."
        )


def _put_aside(data: Path, *, at: datetime) -> Path:
    """Keep the present database: as a proper backup, or as it lies if it is too damaged for one."""
    try:
        kept = back_up_aside(data, why="before-restore", at=at)
        # Everything is in the one file now, so that removing the others takes nothing away.
        with closing(sqlite3.connect(data / DATABASE, timeout=1)) as database:
            busy = database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        if busy:
            raise InUse(f"Another program has the workshop in {data} open; close it first.")
        return kept
    except (BadInput, sqlite3.Error) as problem:
        if isinstance(problem, InUse):
            raise
    folder = _free_name(data / BACKUPS, f"before-restore-{at:%Y%m%d-%H%M%S}-damaged", "")
    folder.mkdir(parents=True)
    for name in (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm"):
        with suppress(FileNotFoundError):
            shutil.copyfile(data / name, folder / name)
    return folder
