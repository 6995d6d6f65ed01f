"""The page where files come in and go out."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable
from pathlib import Path

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import connection
from django.http import FileResponse, Http404, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from pourwright.core.errors import BadInput
from pourwright.intake import tables
from pourwright.intake.columns import Context
from pourwright.intake.kinds import KINDS, UnknownKind, kind_named
from pourwright.intake.writing import csv_lines, template
from pourwright.workshop import safekeeping
from pourwright.workshop.house import doors, exchange, exchange_tables

MOST_SHOWN = 200
CSV = "text/csv; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class BringInForm(forms.Form):
    """A file, or cells pasted from a spreadsheet; what was read stays in the box to be mended."""

    file = forms.FileField(
        label="CSV or XLSX file",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
        help_text=f"At most {tables.MOST_BYTES // 2**20} MB and {tables.MOST_ROWS} rows.",
    )
    text = forms.CharField(
        label="or paste the rows here, with the head",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "class": "pasted"}),
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file and file.size > tables.MOST_BYTES:
            raise ValidationError(
                f"The file is {file.size / 2**20:.1f} MB; at most {tables.MOST_BYTES // 2**20} MB "
                "are read at once. Split it into several."
            )
        return file

    def clean(self):
        known = super().clean()
        if not self.errors and not known.get("file") and not known.get("text", "").strip():
            raise ValidationError("Choose a file, or paste rows with their head.")
        return known


@require_http_methods(["GET", "POST"])
def page(request):
    """Show what can come in and go out; check a file, or check it and bring it in."""
    try:
        kind = kind_named(request.GET.get("kind") or KINDS[0].name)
    except UnknownKind as problem:
        raise Http404(str(problem)) from problem
    form = BringInForm(request.POST or None, request.FILES or None, label_suffix="")
    outcome = None
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            rows, text = read_sent(form)
            outcome = exchange.bring_in(
                kind,
                rows,
                workshop=request.workshop,
                on=doors.today(),
                at=doors.now(),
                only_check=request.POST.get("do") != "bring",
            )
            if outcome.brought_in:
                doors.say(
                    request,
                    f"Brought in {outcome.made} {'record' if outcome.made == 1 else 'records'} "
                    f"from {outcome.lines} {'line' if outcome.lines == 1 else 'lines'} of "
                    f"{kind.name}.",
                )
                return redirect(f"{reverse('exchange')}?kind={kind.slug}")
            form = BringInForm(initial={"text": text}, label_suffix="")
    context = Context(currency=request.workshop.currency)
    everything = exchange_tables.every_table(request.workshop)
    return render(
        request,
        "house/exchange.html",
        {
            "kinds": KINDS,
            "kind": kind,
            "columns": [(column, column.unit_in(context)) for column in kind.columns],
            "form": form,
            "outcome": outcome,
            "findings": outcome.findings[:MOST_SHOWN] if outcome else (),
            "more_findings": max(len(outcome.findings) - MOST_SHOWN, 0) if outcome else 0,
            "files": everything[: len(KINDS)],
            "tables": everything[len(KINDS) :],
        },
    )


def read_sent(form: BringInForm) -> tuple[list[tables.Row], str]:
    """Return the rows of what was sent, and the same as text for the box."""
    file = form.cleaned_data["file"]
    if not file:
        text = form.cleaned_data["text"]
        return tables.read_text(text), text
    data = file.read()
    rows = tables.read_file(data)
    is_workbook = data.startswith(b"PK")
    return rows, tables.as_text(rows) if is_workbook else tables.decode(data)


@require_GET
def template_file(request, kind: str):
    """Send an empty file of the kind, with its head and an example line."""
    try:
        found = kind_named(kind)
    except UnknownKind as problem:
        raise Http404(str(problem)) from problem
    text = template(found, Context(currency=request.workshop.currency))
    response = HttpResponse(text, content_type=CSV)
    response["Content-Disposition"] = f'attachment; filename="{found.slug}-template.csv"'
    return response


@require_GET
def table_file(request, name: str, ending: str):
    """Send one table, as CSV in pieces or as a workbook."""
    try:
        table = exchange_tables.table_named(name, request.workshop)
    except BadInput as problem:
        raise Http404(str(problem)) from problem
    stem = f"{table.slug}-{doors.today():%Y-%m-%d}"
    if ending == "xlsx":
        return _workbook([table], stem)
    pieces = (piece.encode() for piece in csv_lines(table.head, table.rows()))
    response = StreamingHttpResponse(pieces, content_type=CSV)
    response["Content-Disposition"] = f'attachment; filename="{stem}.csv"'
    return response


@require_GET
def everything(request):
    """Send every table in one workbook."""
    return _workbook(
        exchange_tables.every_table(request.workshop), f"workshop-{doors.today():%Y-%m-%d}"
    )


@require_GET
def backup(request):
    """Send an intact copy of the whole workshop, which ``pourwright restore`` brings back."""
    if connection.vendor != "sqlite":
        raise Http404("A workshop on a database server is backed up with the server's own tools.")
    with tempfile.TemporaryDirectory(prefix="pourwright-") as folder:
        copy = Path(folder) / "workshop.backup"
        safekeeping.back_up(Path(settings.DATA), copy)
        # On its own once open: the folder goes as soon as the file is read into the answer's own.
        file = tempfile.TemporaryFile()  # noqa: SIM115
        with copy.open("rb") as written:
            shutil.copyfileobj(written, file)
    file.seek(0)
    name = f"workshop-{doors.today():%Y-%m-%d}.backup"
    return FileResponse(
        file, as_attachment=True, filename=name, content_type="application/octet-stream"
    )


def _workbook(found: Iterable[exchange_tables.Table], stem: str) -> FileResponse:
    # Imported here, so that the program's start does not wait for it.
    from pourwright.papers.xlsx import Sheet, write_workbook

    # A long ledger goes by way of the disk; the file goes with the answer.
    file = tempfile.TemporaryFile()  # noqa: SIM115
    try:
        sheets = (Sheet(title=table.name, head=table.head, rows=table.rows()) for table in found)
        write_workbook(sheets, file)
    except BaseException:
        file.close()
        raise
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename=f"{stem}.xlsx", content_type=XLSX)
