"""What the pour pages read: the list, remelts on offer, and what a lot really cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, Q

from pourwright.core.amounts import show_money
from pourwright.core.costing import PARTS
from pourwright.papers.charts import Bar, Part, stacked_bar_svg
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import for_icons, icon
from pourwright.workshop.pours.models import Filling, Pour, PourState
from pourwright.workshop.stores.models import Balance, Kind, Lot, Place

MOST_REMELTS = 40

TONES = {
    PourState.PLANNED: "wait",
    PourState.OPEN: "warn",
    PourState.CLOSED: "ok",
    PourState.ABANDONED: "quiet",
}


def listed(state: str = ""):
    """Return pours, newest first, with their fillings and all that the icons need."""
    rows = Pour.objects.select_related("melter").prefetch_related(
        Prefetch(
            "pitchers__fillings",
            Filling.objects.select_related("lot", "seconds_lot").prefetch_related(
                Prefetch("design_version", for_icons(DesignVersion.objects.all()))
            ),
        )
    )
    return rows.filter(state=state) if state in PourState.values else rows


def found(rows, words: str):
    """Keep the pours whose number, design or lot has these letters; each pour once."""
    for word in words.split()[:6]:
        inside = Filling.objects.filter(
            Q(design_version__design__name__icontains=word) | Q(lot__code__icontains=word)
        )
        rows = rows.filter(Q(number__icontains=word) | Q(pk__in=inside.values("pitcher__pour")))
    return rows


@dataclass(slots=True)
class Row:
    """A pour in the list."""

    pour: Pour
    tone: str
    fillings: list[Filling]
    icon: str

    @property
    def wanted(self) -> int:
        return sum(filling.wanted for filling in self.fillings)

    @property
    def good(self) -> int | None:
        counts = [filling.good for filling in self.fillings]
        return None if None in counts else sum(counts)


def as_rows(pours: Sequence[Pour]) -> list[Row]:
    rows = []
    for pour in pours:
        fillings = [f for pitcher in pour.pitchers.all() for f in pitcher.fillings.all()]
        rows.append(
            Row(
                pour=pour,
                tone=TONES[pour.state],
                fillings=fillings,
                icon=icon(fillings[0].design_version) if fillings else "",
            )
        )
    return rows


def usual_melter() -> int | None:
    """Return the melter of the last pour, where it is still in use."""
    last = Pour.objects.filter(melter__isnull=False, melter__retired=False).order_by("-id")
    return last.values_list("melter", flat=True).first()


def remelts_on_offer() -> list[Balance]:
    """Return the lots of scented mix and of plain blends that stand in the store, oldest first."""
    return list(
        Balance.objects.filter(place=Place.STORE, qty__gt=0)
        .filter(
            Q(lot__item__kind=Kind.MIX)
            | Q(lot__item__kind=Kind.WAX, lot__item__name__startswith="Blend: ")
        )
        .select_related("lot__item")
        .order_by("lot__began_on", "lot_id")[:MOST_REMELTS]
    )


# --- what it cost --------------------------------------------------------------------------------


@dataclass(slots=True)
class Made:
    """A lot that came of the pour: how much, what it cost in all, each, and part by part."""

    lot: Lot
    qty: int
    scrapped: int
    value: int
    parts: list[tuple[str, int]]
    filling: Filling | None = None

    @property
    def each(self) -> int | None:
        return self.value // self.qty if self.qty and not self.lot.item.by_mass else None

    @property
    def is_candle(self) -> bool:
        return self.lot.item.kind == Kind.CANDLE


def made_of(pour: Pour, fillings: Sequence[Filling]) -> list[Made]:
    """Return the lots that closing made, candles first, as they were when the pour was closed."""
    if pour.entry is None:
        return []
    qty: dict[int, int] = {}
    scrapped: dict[int, int] = {}
    value: dict[int, int] = {}
    lots: dict[int, Lot] = {}
    moves = pour.entry.moves.filter(from_place__in=[Place.MADE, Place.WORK]).select_related(
        "lot__item"
    )
    for move in moves:
        lots[move.lot_id] = move.lot
        value[move.lot_id] = value.get(move.lot_id, 0) + move.value
        into = scrapped if move.to_place == Place.SCRAP else qty
        into[move.lot_id] = into.get(move.lot_id, 0) + move.qty
    costs: dict[int, dict[str, int]] = {}
    for source in Lot.objects.filter(pk__in=lots).prefetch_related("costs"):
        costs[source.pk] = {cost.component: cost.value for cost in source.costs.all()}
    of_lot = {f.lot_id: f for f in fillings} | {f.seconds_lot_id: f for f in fillings}
    rows = [
        Made(
            lot=lot,
            qty=qty.get(pk, 0),
            scrapped=scrapped.get(pk, 0),
            value=value[pk],
            parts=[(part, costs[pk][part]) for part in PARTS if costs[pk].get(part)],
            filling=of_lot.get(pk),
        )
        for pk, lot in lots.items()
    ]
    return sorted(rows, key=lambda row: (not row.is_candle, row.lot.code))


def cost_picture(rows: Sequence[Made], *, currency: str, width: float, prefix: str) -> str:
    """Return what one candle of each lot cost, as bars of parts on one scale."""
    bars = []
    for row in rows:
        if not row.is_candle or not row.qty:
            continue
        total = sum(value for _, value in row.parts)
        bars.append(
            Bar(
                label=f"{row.lot.code}, one candle",
                parts=tuple(
                    Part(
                        label=PARTS[part],
                        value=value / row.qty,
                        text=show_money(value // row.qty, currency=currency),
                    )
                    for part, value in row.parts
                ),
                text=show_money(total // row.qty, currency=currency),
            )
        )
    if not bars:
        return ""
    return str(stacked_bar_svg(bars, title="Real cost of one candle", width=width, prefix=prefix))
