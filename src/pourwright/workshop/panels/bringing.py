"""Answers of a panel brought in from a file: all of them or none, each fault with its line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from pourwright.core.errors import BadInput
from pourwright.intake.columns import Context
from pourwright.intake.panel_answers import PANEL_ANSWERS, codes_in, places_in
from pourwright.intake.reading import Finding, Record, read_rows
from pourwright.intake.tables import Row
from pourwright.intake.writing import csv_lines, header
from pourwright.workshop.panels import queries, services
from pourwright.workshop.panels.models import Panel, PanelServing


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """What came of a file: its lines, the answers made of them, and what is wrong."""

    lines: int
    made: int
    kept: bool
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]


def bring_in(
    panel: Panel, rows: Sequence[Row], *, at: datetime, only_check: bool = False
) -> Brought:
    """
    Enter the answers of a file, or say everything that is wrong with it.

    ``only_check`` enters them and takes them back, so that a check promises what it says.
    """
    reading = read_rows(PANEL_ANSWERS, rows, Context())
    findings = list(reading.findings)
    faulty = {finding.line for finding in findings}
    made = 0
    with transaction.atomic():
        servings = {serving.number: serving for serving, _ in queries.servings_of(panel)}
        for record in reading.records:
            if record.line in faulty:
                continue
            try:
                # A savepoint: a line that is refused takes back what it began, and no more.
                with transaction.atomic():
                    _enter(panel, servings, record, at)
            except BadInput as problem:
                column = problem.column if isinstance(problem, _InColumn) else "answer"
                findings.append(Finding(line=record.line, column=column, message=str(problem)))
            else:
                made += 1
        if findings or only_check:
            transaction.set_rollback(True)
    return Brought(
        lines=len(reading.records), made=made, kept=not findings and not only_check,
        findings=tuple(sorted(findings, key=lambda finding: finding.line)), notes=reading.notes,
    )  # fmt: skip


class _InColumn(BadInput):
    """A fault that is another column's than the answer's."""

    def __init__(self, column: str, message: str) -> None:
        super().__init__(message)
        self.column = column


def _enter(panel: Panel, servings: dict[int, PanelServing], record: Record, at: datetime) -> None:
    number, written = record.values["assessor"], str(record.values["answer"])
    serving = servings.get(number)  # type: ignore[call-overload]
    if serving is None:
        raise _InColumn(
            "assessor", f"Assessor {number} is not planned for; there are {panel.planned}."
        )
    smells = codes_in(str(record.get("smells", "")))
    if smells and smells != serving.codes:
        raise _InColumn(
            "smells",
            f"Assessor {number} smells {' '.join(serving.codes)} from left to right, not "
            f"{' '.join(smells)}; look at the sheet's number.",
        )
    given: dict = (
        {"ranks": places_in(written, serving.codes)} if panel.is_ranking else {"odd": written}
    )
    services.answer(
        panel, assessor=serving.number, at=at, by=str(record.get("initials", "")),
        note=str(record.get("note", "")), **given,
    )  # fmt: skip


def blank_file(panel: Panel) -> Iterator[str]:
    """Yield a CSV file with a line for each assessor who has not answered yet, to be filled in."""
    waiting = [serving for serving, given in queries.servings_of(panel) if given is None]
    rows = [[one.number, " ".join(one.codes), None, None, None] for one in waiting]
    return csv_lines(header(PANEL_ANSWERS, Context()), rows)
