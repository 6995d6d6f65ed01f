"""Opening the maker's workshop for a command: which folder, is it there, and Django made ready."""

from __future__ import annotations

import os
from pathlib import Path

from pourwright.core.errors import BadInput
from pourwright.workshop.safekeeping import DATABASE


class NoWorkshop(BadInput):
    """The data folder cannot be used, or holds no workshop yet."""


def add_data_flag(parser) -> None:
    parser.add_argument(
        "--data",
        metavar="DIR",
        type=Path,
        help="the folder of the workshop's data (the user's own data folder)",
    )


def own_folder() -> Path:
    """Return the folder that is used when none is named: ``POURWRIGHT_DATA`` or the user's own."""
    if named := os.environ.get("POURWRIGHT_DATA"):
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("pourwright", appauthor=False)


def usable_folder(data: Path | None, *, make: bool) -> Path:
    """
    Return the data folder, absolute; make it where asked, and refuse what cannot be written to.
    """
    folder = (data or own_folder()).expanduser().absolute()
    if folder.exists() and not folder.is_dir():
        raise NoWorkshop(f"--data {folder} is a file; name a folder.")
    if not folder.exists() and not make:
        raise NoWorkshop(_nothing_in(folder))
    probe = folder / f".can-write-{os.getpid()}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        probe.touch()
        probe.unlink()
    except OSError as problem:
        raise NoWorkshop(
            f"The data folder {folder} cannot be written to ({problem.strerror or problem}); "
            "name another with --data, or make this one yours."
        ) from problem
    return folder


def open_workshop(data: Path | None = None, *, make: bool = False) -> Path:
    """
    Make Django ready on the workshop in ``data`` and return the folder.

    Raises ``NoWorkshop`` when there is none, or when it was last used with another version; with
    ``make`` the folder may be new and the caller brings the database up to date. Inside a process
    that has Django ready already, that workshop stays the open one.
    """
    from django.apps import apps
    from django.conf import settings

    if apps.ready:
        return Path(settings.DATA)
    folder = usable_folder(data, make=make)
    on_a_server = bool(os.environ.get("DATABASE_URL"))
    if not make and not on_a_server and not (folder / DATABASE).exists():
        raise NoWorkshop(_nothing_in(folder))
    os.environ["POURWRIGHT_DATA"] = str(folder)
    os.environ["DJANGO_SETTINGS_MODULE"] = "pourwright.workshop.settings"
    import django

    django.setup()
    if not make and (missing := missing_migrations()):
        raise NoWorkshop(
            f"The workshop in {folder} was last used with another version of Pourwright "
            f"({missing} steps to bring it up to date). Start the program once: it backs up first."
        )
    return folder


def missing_migrations() -> int:
    """Return how many migrations the open workshop's database has not seen."""
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def _nothing_in(folder: Path) -> str:
    return (
        f"There is no workshop in {folder}. Start the program once, as in "
        f"pourwright start --data {folder}, or name another folder with --data."
    )
