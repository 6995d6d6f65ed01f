"""How the demo's labels look, what they are printed on, and the newest lots' labels printed."""

from __future__ import annotations

from contextlib import suppress
from decimal import Decimal
from importlib import resources

from pourwright.workshop.demo.life import Life
from pourwright.workshop.demo.tables import table
from pourwright.workshop.labels import services
from pourwright.workshop.labels.composing import look_of
from pourwright.workshop.labels.models import Printer, SheetSize
from pourwright.workshop.labels.services import Printing
from pourwright.workshop.stores.models import Kind, Lot

LOTS_PRINTED = 2


def today(life: Life) -> None:
    """Keep the looks, enter a sheet and a printer, and print the labels of the newest lots."""
    for row in table("labels")["looks"]:
        _look(life, row)
    for row in table("labels")["sheets"]:
        SheetSize.objects.create(**_exact(row))
    for row in table("labels")["printers"]:
        Printer.objects.create(**_exact(row), measured_on=life.on)
    for lot in Lot.objects.filter(item__kind=Kind.CANDLE, began_on__lt=life.on).order_by("-id"):
        if _printed(life, lot) == LOTS_PRINTED:
            return


def _look(life: Life, row: dict) -> None:
    design = life.designs[row["design"]].design
    picture = resources.files("pourwright.workshop.demo.tables").joinpath(row["art"])
    services.keep_art(
        design, name=row["art"], data=picture.read_bytes(), at=life.at(9), workshop=life.workshop
    )
    look = look_of(design, life.workshop)
    for name, value in _exact(row).items():
        if name not in ("design", "art"):
            setattr(look, name, value)
    services.keep_look(look)


def _printed(life: Life, lot: Lot) -> int:
    """Print a lot's labels where they are ready; return how many lots have some now."""
    printing = Printing(faces=("base",), sheet="plain-a4", number=12)
    with suppress(services.CannotPrint):
        services.print_labels(lot, printing, on=life.on, at=life.at(10), workshop=life.workshop)
    return Lot.objects.filter(label_prints__isnull=False).distinct().count()


def _exact(row: dict) -> dict:
    return {name: Decimal(value) if name.endswith("_mm") else value for name, value in row.items()}
