"""Where a candle lot came from, for its page, and everything about it, for its paper."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q
from django.utils import timezone

from pourwright.core.amounts import show_mass, show_money
from pourwright.core.amounts.units import from_mg
from pourwright.papers.candle import describe, section_svg
from pourwright.papers.lot_paper import LotPaper, PaperCheck, PaperDecision, PaperSupply
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import drawing
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.gates.show import gate_of
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import Filling
from pourwright.workshop.shelf import queries
from pourwright.workshop.shelf.lots import version_of
from pourwright.workshop.stores.models import Kind, Lot
from pourwright.workshop.trace import services as trace


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """Where a lot came from: its pour and filling, or the lot that it was taken from."""

    filling: Filling | None
    parent: Lot | None
    version: DesignVersion | None

    @property
    def pour(self):
        return self.filling.pitcher.pour if self.filling else None


def came_from(lot: Lot) -> Came:
    filling = (
        Filling.objects.filter(Q(lot=lot) | Q(seconds_lot=lot))
        .select_related("pitcher__pour")
        .first()
    )
    return Came(
        filling=filling,
        parent=None if filling else queries.parent_of(lot),
        version=version_of(lot),
    )


def paper_of(lot: Lot, *, workshop: Workshop, on: date) -> LotPaper:
    """Return everything that the lot's paper says, as it stands on a day."""
    came = came_from(lot)
    version = came.version
    gate = gate_of(lot, on=on)
    back = trace.back(lot)
    cost = queries.cost_of(lot)
    finishing = Finishing.objects.filter(lot=lot).first() or Finishing(lot=lot)

    def money(value: int) -> str:
        return show_money(value, currency=workshop.currency)

    return LotPaper(
        code=lot.code,
        candle=lot.item.name,
        workshop=workshop.name,
        maker=workshop.maker,
        on=on,
        origin=lot.get_origin_display(),
        began_on=lot.began_on,
        ready_on=lot.ready_on,
        best_before=lot.best_before,
        pour=came.pour.number if came.pour else "",
        parent=came.parent.code if came.parent else "",
        design=str(version) if version else "",
        formula=str(version.formula_version) if version else "",
        fill=show_mass(from_mg(version.fill_mg), workshop.units) if version else "",
        note=lot.note,
        drawing=_drawn(version, workshop) if version else "",
        drawing_alt=describe(drawing(version)) if version else "",
        places=[(b.get_place_display(), b.qty) for b in queries.places_of(lot)],
        released=gate.word,
        checks=[
            PaperCheck(title=c.title, state=c.state, detail=c.detail, reason=c.reason)
            for c in gate.checks
        ],
        decisions=[
            PaperDecision(
                on=timezone.localdate(d.at),
                what=f"{d.get_what_display()}{f': {d.title}' if d.title else ''}",
                by=d.by,
                reason=d.reason,
            )
            for d in reversed(gate.decisions)
        ],
        finishing=[
            (str(Finishing._meta.get_field(name).verbose_name), getattr(finishing, name))
            for name in Finishing.CHECKS
        ],
        finished=(
            f"{finishing.by or 'finished'}, {timezone.localdate(finishing.done_at):%d %b %Y}"
            if finishing.done_at
            else ""
        ),
        supplies=[
            PaperSupply(
                kind=Kind(node.kind).label,
                item=node.item,
                lot=node.code,
                supplier=node.supplier,
                supplier_lot=node.supplier_lot,
                receipt=node.receipt,
                through=", ".join(step.code for step in back.through(node)),
            )
            for node in back.supplies
        ],
        cost=[(part.component, money(part.each)) for part in cost.parts] if cost else [],
        cost_each=money(cost.each) if cost else "",
    )


def _drawn(version, workshop) -> str:
    return section_svg(drawing(version), standalone=True, size=300, units=workshop.units)
