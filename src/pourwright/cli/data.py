"""``pourwright backup``, ``restore``, ``import``, ``export`` and ``check``: the maker's records."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from pourwright.cli.output import add_json_flag, print_json
from pourwright.cli.workshop import add_data_flag, open_workshop, usable_folder
from pourwright.core.errors import BadInput
from pourwright.workshop import safekeeping

MOST_SHOWN = 200

IMPORT_EPILOG = """\
KIND is one of suppliers, supplies, compositions, vessels, wicks, receipts, formulas, designs,
opening-stock, customers and orders. FILE is CSV or .xlsx; its head names the columns. Every faulty
row is listed with its line, and nothing is brought in if there is one. A template with the columns:

  pourwright import wicks --template wicks.csv

Example:
  pourwright import wicks wicks.csv --check
"""
EXPORT_EPILOG = """\
KIND is what can be imported, or any other table, such as lots, moves, pours or despatches; all
writes every table into one workbook. FILE ends in .csv or .xlsx.

Example:
  pourwright export opening-stock stock.xlsx
"""


class BadFile(BadInput):
    """A file that cannot be read or written."""


class OnPostgreSQL(BadInput):
    """What PostgreSQL's own tools do better."""


def register(parts) -> None:
    backup = _part(parts, "backup", run_backup, "copy the whole workshop into one file")
    backup.add_argument("file", metavar="FILE", type=Path)
    backup.add_argument("--overwrite", action="store_true", help="replace a file that is there")
    restore = _part(parts, "restore", run_restore, "bring a backup back; the present is kept aside")
    restore.add_argument("file", metavar="FILE", type=Path)
    bring = _part(parts, "import", run_import, "bring records in from CSV or XLSX", IMPORT_EPILOG)
    bring.add_argument("kind", metavar="KIND")
    bring.add_argument("file", metavar="FILE", type=Path, nargs="?")
    bring.add_argument("--check", action="store_true", help="only say what is wrong; save nothing")
    bring.add_argument(
        "--template", metavar="FILE", type=Path, help="write a template of the kind and stop"
    )
    export = _part(parts, "export", run_export, "write a table, or all, to a file", EXPORT_EPILOG)
    export.add_argument("kind", metavar="KIND")
    export.add_argument("file", metavar="FILE", type=Path)
    export.add_argument("--overwrite", action="store_true", help="replace a file that is there")
    _part(parts, "check", run_check, "compare every balance with the sum of its moves")


def _part(parts, name: str, run, what: str, epilog: str | None = None):
    part = parts.add_parser(
        name,
        help=what,
        description=f"{what[0].upper()}{what[1:]}.",
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_data_flag(part)
    add_json_flag(part)
    part.set_defaults(run=run)
    return part


# --- backup and restore --------------------------------------------------------------------------


def run_backup(arguments: argparse.Namespace) -> int:
    _refuse_postgresql("pg_dump --format=custom --file=workshop.dump $DATABASE_URL")
    data = usable_folder(arguments.data, make=False)
    contents = safekeeping.back_up(data, arguments.file, overwrite=arguments.overwrite)
    if arguments.json:
        print_json({"file": str(arguments.file), "data": str(data), "rows": contents.rows})
    else:
        print(f"Backed up {data} to {arguments.file} ({contents.rows} records, checked).")
    return 0


def run_restore(arguments: argparse.Namespace) -> int:
    _refuse_postgresql("pg_restore --clean --dbname=$DATABASE_URL workshop.dump")
    safekeeping.examine(arguments.file)
    data = usable_folder(arguments.data, make=True)
    at = datetime.now().astimezone()
    contents, kept = safekeeping.restore(arguments.file, data, at=at)
    older = len(safekeeping.known_migrations() - contents.migrations)
    if arguments.json:
        print_json(
            {
                "data": str(data),
                "rows": contents.rows,
                "kept": None if kept is None else str(kept),
                "to_bring_up_to_date": older,
            }
        )
        return 0
    print(f"Restored {arguments.file} into {data} ({contents.rows} records).")
    if kept is not None:
        print(f"What was there before is kept in {kept}")
    if older:
        print("It is from an older version; the program brings it up to date when it next starts.")
    return 0


def _refuse_postgresql(instead: str) -> None:
    if os.environ.get("DATABASE_URL"):
        raise OnPostgreSQL(
            f"This workshop is on PostgreSQL, which has tools of its own; use for example {instead}"
        )


# --- import and export ---------------------------------------------------------------------------


def run_import(arguments: argparse.Namespace) -> int:
    from pourwright.intake import kinds, tables

    kind = kinds.kind_named(arguments.kind)
    if arguments.template is not None:
        return _write_template(kind, arguments)
    if arguments.file is None:
        raise BadFile("import needs a FILE to read; or --template FILE to write one to fill in.")
    rows = tables.read_file(_bytes_of(arguments.file, tables.MOST_BYTES))
    with _at_work(arguments.data):
        from django.utils import timezone

        from pourwright.workshop.house import exchange
        from pourwright.workshop.house.middleware import own_time_zone
        from pourwright.workshop.house.models import Workshop

        workshop = Workshop.load()
        timezone.activate(own_time_zone(workshop))
        outcome = exchange.bring_in(
            kind,
            rows,
            workshop=workshop,
            on=timezone.localdate(),
            at=timezone.now(),
            only_check=arguments.check,
        )
    if arguments.json:
        print_json(
            {
                "kind": kind.name,
                "lines": outcome.lines,
                "records": outcome.made,
                "brought_in": outcome.brought_in,
                "findings": list(outcome.findings),
                "notes": list(outcome.notes),
            }
        )
    else:
        _print_outcome(outcome, arguments.file)
    return 2 if outcome.findings else 0


def _print_outcome(outcome, file: Path) -> None:
    for note in outcome.notes:
        print(f"Note: {note}")
    for finding in outcome.findings[:MOST_SHOWN]:
        column = f", {finding.column}" if finding.column else ""
        print(f"{file}, line {finding.line}{column}: {finding.message}")
    if len(outcome.findings) > MOST_SHOWN:
        print(f"… and {len(outcome.findings) - MOST_SHOWN} more.")
    if outcome.findings:
        faults = _counted(len(outcome.findings), "fault")
        print(f"pourwright: {faults} in {file}; nothing was brought in.", file=sys.stderr)
        return
    lines, records = _counted(outcome.lines, "line"), _counted(outcome.made, "record")
    if outcome.brought_in:
        print(f"Brought in {records} from {lines} of {outcome.kind.name}.")
    else:
        print(f"All is well: {lines} of {outcome.kind.name} would make {records}. Nothing saved.")


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _write_template(kind, arguments: argparse.Namespace) -> int:
    from pourwright.intake.columns import Context
    from pourwright.intake.writing import template

    # Without a workshop there is no currency; a money column's bare name serves in any.
    context = Context(currency="")
    with _new_file(arguments.template, overwrite=False) as file:
        file.write(template(kind, context).encode())
    if arguments.json:
        print_json({"file": str(arguments.template), "kind": kind.name})
        return 0
    print(f"Wrote {arguments.template}. Its columns:")
    for column in kind.columns:
        must = "must be there" if column.required else "may be empty"
        print(f"  {column.title(context)}: {column.meaning}; {must}")
    return 0


def _bytes_of(file: Path, most: int) -> bytes:
    try:
        with open(file, "rb") as opened:
            return opened.read(most + 1)
    except OSError as problem:
        raise BadFile(f"{file} cannot be read ({problem.strerror or problem}).") from problem


def run_export(arguments: argparse.Namespace) -> int:
    ending = arguments.file.suffix.lower()
    if ending not in (".csv", ".xlsx"):
        raise BadFile(f"{arguments.file} must end in .csv or .xlsx, which says how it is written.")
    everything = arguments.kind.casefold() == "all"
    if everything and ending == ".csv":
        raise BadFile("All tables go into one workbook; name a file that ends in .xlsx.")
    with _at_work(arguments.data):
        from django.utils import timezone

        from pourwright.workshop.house import exchange_tables
        from pourwright.workshop.house.middleware import own_time_zone
        from pourwright.workshop.house.models import Workshop

        workshop = Workshop.load()
        timezone.activate(own_time_zone(workshop))
        tables = (
            exchange_tables.every_table(workshop)
            if everything
            else [exchange_tables.table_named(arguments.kind, workshop)]
        )
        with _new_file(arguments.file, overwrite=arguments.overwrite) as file:
            rows = _write_tables(tables, file, ending)
    if arguments.json:
        print_json({"file": str(arguments.file), "tables": len(tables), "rows": rows})
    else:
        print(
            f"Wrote {_counted(rows, 'row')} of {_counted(len(tables), 'table')} to "
            f"{arguments.file}."
        )
    return 0


def _write_tables(tables, file, ending: str) -> int:
    if ending == ".xlsx":
        from pourwright.papers.xlsx import Sheet, write_workbook

        sheets = (Sheet(title=table.name, head=table.head, rows=table.rows()) for table in tables)
        return write_workbook(sheets, file)
    from pourwright.intake.writing import csv_lines

    counted = _Counting(tables[0].rows())
    for piece in csv_lines(tables[0].head, counted):
        file.write(piece.encode())
    return counted.number


class _Counting:
    """Rows on their way, and how many have gone by."""

    def __init__(self, rows: Iterable) -> None:
        self.rows = rows
        self.number = 0

    def __iter__(self):
        for row in self.rows:
            self.number += 1
            yield row


@contextmanager
def _new_file(path: Path, *, overwrite: bool):
    """Write a file whole or not at all: under its own name only once everything is in it."""
    if path.is_dir():
        raise BadFile(f"{path} is a folder; name a file in it.")
    if path.exists() and not overwrite:
        raise BadFile(f"{path} is there already; name another file.")
    half = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with open(half, "wb") as file:
            yield file
        os.replace(half, path)
    except OSError as problem:
        raise BadFile(f"{path} cannot be written ({problem.strerror or problem}).") from problem
    finally:
        half.unlink(missing_ok=True)


@contextmanager
def _at_work(data: Path | None):
    """Open the workshop, and have nobody put another in its place meanwhile."""
    folder = open_workshop(data)
    with safekeeping.in_use(folder):
        yield folder


# --- check ---------------------------------------------------------------------------------------


def run_check(arguments: argparse.Namespace) -> int:
    with _at_work(arguments.data):
        from pourwright.workshop.stores.ledger import check_ledger
        from pourwright.workshop.stores.models import Move

        findings = check_ledger()
        moves = Move.objects.count()
    if arguments.json:
        print_json({"moves": moves, "findings": list(findings)})
    else:
        for finding in findings:
            print(f"Lot {finding.lot}, {finding.place}: {finding.message}.")
        if not findings:
            print(f"All is well: every balance is the sum of its moves ({moves} moves).")
    return 1 if findings else 0
