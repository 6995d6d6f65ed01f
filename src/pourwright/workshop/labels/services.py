"""What is kept of labels: looks and art, sheets and printers, and what was printed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import PurePath
from uuid import UUID

from django.db import transaction

from pourwright.core.errors import BadInput
from pourwright.papers.labels.marks import Drawing, Words
from pourwright.papers.labels.pdf import Page, labels_pdf, single_page
from pourwright.papers.labels.proof import said
from pourwright.papers.labels.sheets import (
    PAPERS,
    BadSheet,
    Sheet,
    known_sheets,
    many_on_a_page,
    pages_of,
    sheet_key,
    sheet_name,
)
from pourwright.papers.labels.style import read_art
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.labels.composing import Face, LabelSet, compose, facts_of, look_of
from pourwright.workshop.labels.models import Art, LabelLook, LabelPrint, Printer, SheetSize
from pourwright.workshop.shelf.lots import newest_versions, version_of
from pourwright.workshop.stores.models import Kind, Lot

MOST_LABELS = 2_000
ALONE = "alone"
PLAIN = "plain-"
DRAFT = "DRAFT"


class CannotPrint(BadInput):
    """Labels that cannot be printed as asked."""


class NotReady(CannotPrint):
    """Labels that lack something; only a draft of them is printed."""

    def __init__(self, reasons: Sequence[str]) -> None:
        super().__init__(
            "These labels are not ready: " + " ".join(reasons) + " Print them as a draft to look "
            "at them."
        )
        self.reasons = tuple(reasons)


# --- looks and art -------------------------------------------------------------------------------


def keep_look(look: LabelLook) -> LabelLook:
    """Keep a design's look in its one row."""
    with transaction.atomic():
        standing = LabelLook.objects.select_for_update().filter(design=look.design).first()
        look.pk = standing.pk if standing else None
        look.save()
    return look


def keep_art(design: Design, *, name: str, data: bytes, at: datetime, workshop: Workshop) -> Art:
    """
    Keep a picture and let the design's look use it; raises ``BadArt`` for what cannot be printed.
    """
    art = read_art(data)
    kept, _ = Art.objects.get_or_create(
        sha256=hashlib.sha256(art.data).hexdigest(),
        defaults={
            "name": PurePath(name).name[:120], "width_px": art.width_px,
            "height_px": art.height_px, "content": art.data, "added_at": at,
        },
    )  # fmt: skip
    look = look_of(design, workshop)
    look.art = kept
    keep_look(look)
    return kept


def leave_art(design: Design) -> None:
    """Take the picture off a design's label; one that no label uses goes."""
    with transaction.atomic():
        look = LabelLook.objects.select_for_update().filter(design=design).first()
        if look is None or look.art is None:
            return
        art, look.art = look.art, None
        look.save(update_fields=["art"])
        if not art.looks.exists():
            art.delete()


# --- sheets --------------------------------------------------------------------------------------


def as_sheet(row: SheetSize) -> Sheet:
    """Return a maker's own sheet as the papers take it; raises ``BadSheet`` where it cannot be."""
    measures = {
        "columns": row.columns, "rows": row.rows, "width": float(row.width_mm),
        "height": float(row.height_mm), "round": row.round,
    }  # fmt: skip
    return Sheet(
        name=sheet_name(paper=row.paper, **measures), paper=PAPERS[row.paper], **measures,
        left=float(row.left_mm), top=float(row.top_mm), across=float(row.across_mm),
        down=float(row.down_mm),
    )  # fmt: skip


def sheets() -> dict[str, Sheet]:
    """Return every sheet of labels by its key; the maker's own measures come before the common."""
    own = [as_sheet(row) for row in SheetSize.objects.all()]
    found: dict[str, Sheet] = {}
    for sheet in (*own, *known_sheets()):
        found.setdefault(sheet_key(sheet), sheet)
    return found


def plain_papers() -> dict[str, str]:
    """Return the ways to print without a sheet of labels: key and words."""
    papers = {
        f"{PLAIN}{name.split()[-1].lower()}": f"plain paper, {name}, to cut" for name in PAPERS
    }
    return papers | {ALONE: "each label on a page of its own size"}


def sheet_choices() -> list[tuple[str, str]]:
    return [*plain_papers().items(), *((key, sheet.name) for key, sheet in sheets().items())]


def sheet_of(key: str, drawing: Drawing) -> Sheet:
    """Return the sheet that a key names for a label; raises ``BadSheet`` for one that is none."""
    for name, paper in PAPERS.items():
        if key == f"{PLAIN}{name.split()[-1].lower()}":
            return many_on_a_page(drawing, paper)
    found = sheets().get(key)
    if found is None:
        known = ", ".join(key for key, _ in sheet_choices())
        raise BadSheet(f"There is no sheet “{key}”; there are {known}.")
    return found


def offset(sheet: Sheet, printer: Printer) -> Sheet:
    """Return a sheet as a printer needs it, moved by what it prints too far left and too high."""
    return replace(sheet, dx=float(printer.dx_mm), dy=float(printer.dy_mm))


def plain_for(labels: LabelSet, *, units: str) -> str:
    """Return the plain paper that takes all that goes with a candle, the usual one first."""
    usual = ("letter", "ledger") if units == "us" else ("a4", "a3")
    drawings = [one for face in labels.faces if face.counts for one in face.drawings]
    for name in usual:
        with suppress(BadSheet):
            for drawing in drawings:
                sheet_of(f"{PLAIN}{name}", drawing)
            return f"{PLAIN}{name}"
    return ALONE


# --- printing ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Printing:
    """
    What is to be printed: which faces, on what, how many, from which place of the first sheet.

    ``serial`` numbers each label within its lot; ``draft`` prints DRAFT across and lets labels out
    that are not ready.
    """

    faces: Sequence[str]
    sheet: str
    number: int
    start: int = 1
    cut: bool = True
    draft: bool = False
    serial: bool = False
    printer: Printer | None = None


def version_for(lot: Lot) -> DesignVersion:
    """Return the design version whose label a lot carries; opening stock takes the newest."""
    if lot.item.kind != Kind.CANDLE:
        raise CannotPrint(f"Lot {lot.code} is {lot.item.name}; labels are for lots of candles.")
    found = version_of(lot) or newest_versions({lot.item_id}).get(lot.item_id)
    if found is None:
        raise CannotPrint(f"Lot {lot.code} belongs to no design, so that nothing is known of it.")
    return found


def labels_of(
    lot: Lot, *, on: date, workshop: Workshop, serial_of: int = 0
) -> tuple[DesignVersion, LabelSet]:
    """
    Return a lot's design version and its label set; with ``serial_of`` labels numbered up to it,
    the lot's number is composed with the last one's behind it, so that all have room.
    """
    version = version_for(lot)
    look = look_of(version.design, workshop)
    facts = facts_of(version, on=on, workshop=workshop, look=look, lot=lot)
    if serial_of:
        facts = replace(facts, lot=serial(lot.code, serial_of, of=serial_of))
    return version, compose(version, look, facts)


def print_labels(
    lot: Lot, wanted: Printing, *, on: date, at: datetime, workshop: Workshop,
    client_id: UUID | None = None,
) -> bytes:  # fmt: skip
    """
    Return the PDF of a lot's labels, and keep on record what was printed.

    Raises ``NotReady`` while anything stands in the way, unless it is a draft.
    """
    version, labels = labels_of(
        lot, on=on, workshop=workshop, serial_of=wanted.number if wanted.serial else 0
    )
    pdf, printed = pdf_of(labels, wanted, title=f"Labels of lot {lot.code}")
    with transaction.atomic():
        Lot.objects.select_for_update().get(pk=lot.pk)
        if client_id and LabelPrint.objects.filter(client_id=client_id).exists():
            return pdf
        LabelPrint.objects.bulk_create(
            LabelPrint(
                lot=lot, version=version, face=face.key, number=wanted.number,
                sheet=sheet_words(wanted.sheet), start=wanted.start, draft=wanted.draft,
                says="\n".join(said(drawing) for drawing in face.drawings), at=at,
                client_id=client_id,
            )
            for face in printed
        )  # fmt: skip
    return pdf


def sheet_words(key: str) -> str:
    return dict(sheet_choices()).get(key, key)


def pdf_of(labels: LabelSet, wanted: Printing, *, title: str) -> tuple[bytes, list[Face]]:
    """Return the PDF of a label set's faces and which they were; raises as ``print_labels``."""
    if not 1 <= wanted.number <= MOST_LABELS:
        raise CannotPrint(f"1 to {MOST_LABELS:,} labels are printed at once; not {wanted.number}.")
    if not wanted.faces:
        raise CannotPrint("Choose which labels to print.")
    if not wanted.draft and (reasons := labels.standing_in_the_way):
        raise NotReady(reasons)
    printed = [_printable(labels, key) for key in wanted.faces]
    pages: list[Page] = []
    for face in printed:
        for drawing in face.drawings:
            pages += _pages(drawing, wanted, lot=labels.facts.lot, first=not pages)
    return labels_pdf(pages, title=title), printed


def _printable(labels: LabelSet, key: str) -> Face:
    face = labels.face(key)
    if face is None:
        there = ", ".join(face.key for face in labels.faces)
        raise CannotPrint(f"This candle has no label “{key}”; it has {there}.")
    if face.problem:
        raise CannotPrint(f"{face.title}: {face.problem}")
    return face


def _pages(drawing: Drawing, wanted: Printing, *, lot: str, first: bool) -> list[Page]:
    across = DRAFT if wanted.draft else ""
    copies = [drawing] * wanted.number
    if wanted.serial:
        copies = [numbered(drawing, lot=lot, number=n, of=wanted.number)
                  for n in range(1, wanted.number + 1)]  # fmt: skip
    if wanted.sheet == ALONE:
        return [single_page(copy, marks=wanted.cut, across=across) for copy in copies]
    sheet = sheet_of(wanted.sheet, drawing)
    if wanted.printer is not None:
        sheet = offset(sheet, wanted.printer)
    # Only the first face begins on a sheet that was begun before.
    return pages_of(copies, sheet, start=wanted.start if first else 1, cut=wanted.cut,
                    across=across)  # fmt: skip


def serial(lot: str, number: int, *, of: int) -> str:
    """Return a label's own number within its lot: "L-0042-07" of some dozens."""
    return f"{lot}-{number:0{len(str(of))}d}"


def numbered(drawing: Drawing, *, lot: str, number: int, of: int) -> Drawing:
    """
    Return a label with its own number in the place of the last one's, which ``lot`` ends with.

    Figures are all equally wide, so that nothing moves.
    """
    last = str(of)
    mine = lot.removesuffix(last) + f"{number:0{len(last)}d}"
    marks = tuple(
        replace(mark, text=mark.text.replace(lot, mine))
        if isinstance(mark, Words) and "lot" in mark.role.split()
        else mark
        for mark in drawing.marks
    )
    return replace(drawing, marks=marks)


def printed_of(lot: Lot) -> Iterable[LabelPrint]:
    return LabelPrint.objects.filter(lot=lot)
