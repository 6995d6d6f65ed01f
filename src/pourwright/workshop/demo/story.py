"""
What happens once: old stock, a slip that is corrected, a supplier's notice, and how today looks.

The recall worth tracing: one bottle of blood orange goes into a blend of oils, into several lots
of candles, into mix that is left over and melted again, and so to different customers. The
supplier's notice comes in the last week; nobody has acted on it yet.
"""

from __future__ import annotations

from datetime import timedelta

from pourwright.workshop.demo import bench, selling
from pourwright.workshop.demo.buying import recall_lots
from pourwright.workshop.demo.life import Life
from pourwright.workshop.demo.tables import table
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import Channel
from pourwright.workshop.pours import services as pours
from pourwright.workshop.pours.models import Filling, Pour, PourState
from pourwright.workshop.pours.services import Outcome, PitcherPlan
from pourwright.workshop.stores import services as stores
from pourwright.workshop.trace.services import begin_recall

OLD_STOCK_DAY = 25
OLD_STOCK = 12
REOPENED_POUR = 31
NOTICE_BEFORE = 2  # days; by then nothing more is released
NOTICE = "Supplier’s notice of {day}: the allergen statement of this lot was wrong."
AT_THE_BENCH, PLANNED = "fig_tumbler", "geranium_cup"


def of_the_day(life: Life) -> None:
    if life.day == OLD_STOCK_DAY:
        _old_stock(life)
    if life.pours == REOPENED_POUR:
        _correct_a_slip(life)
    if life.days_left == NOTICE_BEFORE:
        _notice(life)


def _old_stock(life: Life) -> None:
    """A dozen candles from before the books, found in the cupboard and entered late."""
    version = life.designs["linen_tin"]
    lot = stores.open_with(
        item=version.design.candle, qty=OLD_STOCK, value=OLD_STOCK * life.money("3.90"),
        on=life.on, at=life.at(10, 50), began_on=life.start - timedelta(days=60),
        ready_on=life.start - timedelta(days=46), note="poured before the books began",
    )  # fmt: skip
    bench.release_old_stock(life, lot)


def _correct_a_slip(life: Life) -> None:
    """The day after a pour: one of the good ones had a sinkhole, so the pour is opened again."""
    pour = Pour.objects.filter(state=PourState.CLOSED).order_by("-id").first()
    if pour is None or (life.on - pour.on).days != 1:
        return
    fillings = list(Filling.objects.filter(pitcher__pour=pour).order_by("id"))
    before = {f.pk: Outcome(good=f.good, seconds=f.seconds, scrapped=f.scrapped) for f in fillings}
    left = {pitcher.pk: pitcher.left_mg or 0 for pitcher in pour.pitchers.all()}
    reason = "one of the good ones has a sinkhole; it is a second"
    pours.reopen(pour, reason=reason, on=life.on, at=life.at(8, 30))
    first, was = fillings[0], before[fillings[0].pk]
    before[first.pk] = Outcome(good=was.good - 1, seconds=was.seconds + 1, scrapped=was.scrapped)
    pours.close(
        pour, outcomes=before, left=left, on=pour.on, at=life.at(8, 40), workshop=life.workshop,
    )  # fmt: skip
    first.refresh_from_db()
    due = [row for row in life.to_finish if row[1].pk != first.seconds_lot_id]
    soon = life.on + timedelta(days=1)
    life.to_finish = [*due, (soon, first.seconds_lot, first.design_version)]


def _notice(life: Life) -> None:
    reason = NOTICE.format(day=f"{life.on.day} {life.on:%B %Y}")
    for lot in recall_lots(life):
        begin_recall(lot, reason=reason, by=life.workshop.maker, on=life.on, at=life.at(19))


# --- how today looks -----------------------------------------------------------------------------


def today(life: Life) -> None:
    """One pour half weighed at the bench, one planned, orders due soon: one of them short."""
    _open_at_the_bench(life)
    _planned(life)
    _due_soon(life)


def _plan(life: Life, key: str, number: int, *, ahead: int) -> Pour:
    version = life.designs[key]
    plan = PitcherPlan(formula_version=version.formula_version, fillings=[(version, number)])
    return pours.plan(
        on=life.on + timedelta(days=ahead), pitchers=[plan], workshop=life.workshop,
        melter=life.melters[0],
    )  # fmt: skip


def _open_at_the_bench(life: Life) -> None:
    pour = _plan(life, AT_THE_BENCH, 10, ahead=0)
    pours.open_pour(pour, at=life.at(9, 5))
    bench.weigh_all(life, pour, most=2)


def _planned(life: Life) -> None:
    _plan(life, PLANNED, 12, ahead=2)


def _due_soon(life: Life) -> None:
    """A direct order that can go, and a shop's that asks for more than there is."""
    offer = selling.on_offer(life)
    most = max(offer, key=lambda version: selling.free(life, version.design))
    least = min(offer, key=lambda version: selling.free(life, version.design))
    people = table("people")
    orders.new_order(
        customer=selling.customer(life, people["people"][2]), channel=Channel.DIRECT,
        on=life.on - timedelta(days=1), due=life.on + timedelta(days=2),
        lines=[(most.design, 2, most.price_minor100, False)],
    )  # fmt: skip
    wanted = selling.free(life, least.design) + 6
    orders.new_order(
        customer=selling.customer(life, people["shops"][1]), channel=Channel.WHOLESALE,
        on=life.on - timedelta(days=6), due=life.on + timedelta(days=5), reference="PO 418",
        lines=[(least.design, wanted, least.wholesale_minor100, False)],
    )  # fmt: skip
