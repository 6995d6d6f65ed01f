"""
What a release rests on is watched: when a fact changes, the releases that it closes are withdrawn.

So an oil's new safety limit, a vessel's statement struck out or a finishing check unticked takes
the candle off sale at once, with the reason on record, and selling need not work every check out
again.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from operator import or_

from django.db import transaction
from django.db.models import Q, QuerySet
from django.db.models.signals import post_delete, post_save

from pourwright.workshop.burns.evidence import may_speak_for
from pourwright.workshop.burns.models import BurnReading, HouseLimit, TestBurn, TestPiece
from pourwright.workshop.contents.models import NetCheck, Rework
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates import services
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.hazard.models import ItemComposition
from pourwright.workshop.house import doors
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.stores.models import Lot, OilFacts, VesselFacts, WaxFacts, WickFacts

USES = {
    WaxFacts: "formula_version__waxes__item",
    OilFacts: "formula_version__oils__item",
    VesselFacts: "vessel",
    WickFacts: "wick",
}

PIECE = {
    TestPiece: lambda row: row,
    TestBurn: lambda row: row.piece,
    BurnReading: lambda row: row.burn.piece,
}


def start() -> None:
    """Begin to watch; called once when the program starts."""
    for facts in USES:
        post_save.connect(_facts_changed, sender=facts, dispatch_uid=f"gate {facts.__name__}")
        post_delete.connect(_facts_changed, sender=facts, dispatch_uid=f"gate -{facts.__name__}")
    post_save.connect(
        _composition_changed, sender=ItemComposition, dispatch_uid="gate ItemComposition"
    )
    post_save.connect(_workshop_changed, sender=Workshop, dispatch_uid="gate workshop")
    post_save.connect(_finishing_changed, sender=Finishing, dispatch_uid="gate finishing")
    for evidence in (NetCheck, Rework):
        post_save.connect(_net_changed, sender=evidence, dispatch_uid=f"gate {evidence.__name__}")
    post_save.connect(_lot_changed, sender=Lot, dispatch_uid="gate lot")
    for burnt in PIECE:
        post_save.connect(_burnt, sender=burnt, dispatch_uid=f"gate {burnt.__name__}")
    post_save.connect(_limit_changed, sender=HouseLimit, dispatch_uid="gate house limit")
    post_delete.connect(_limit_changed, sender=HouseLimit, dispatch_uid="gate -house limit")


def _facts_changed(sender, instance, raw=False, **_) -> None:
    if not raw:
        _recheck(DesignVersion.objects.filter(**{USES[sender]: instance.item_id}))


def _composition_changed(sender, instance, raw=False, **_) -> None:
    """A composition confirmed or withdrawn; a draft counts for nothing yet."""
    if not raw and not instance.is_draft:
        formula = "formula_version__"
        uses = (
            Q(**{f"{formula}{parts}__item": instance.item_id})
            for parts in ("oils", "extras", "waxes")
        )
        _recheck(DesignVersion.objects.filter(reduce(or_, uses)).distinct())


def _workshop_changed(sender, instance, created=False, raw=False, **_) -> None:
    if not raw and not created:
        _recheck(DesignVersion.objects.filter(Q(markets="")))


def _finishing_changed(sender, instance, created=False, raw=False, **_) -> None:
    if not raw and not created:
        _recheck(Lot.objects.filter(pk=instance.lot_id))


def _lot_changed(sender, instance, created=False, raw=False, **_) -> None:
    if not raw and not created:
        _recheck(Lot.objects.filter(pk=instance.pk))


def _net_changed(sender, instance, raw=False, **_) -> None:
    if not raw:
        # What was taken from the lot, and the seconds of its pour, lean on its checks too.
        _recheck(
            Lot.objects.filter(
                Q(pk=instance.lot_id)
                | Q(made_from__parent=instance.lot_id, item=instance.lot.item_id)
                | Q(seconds_of__lot=instance.lot_id)
            ).distinct()
        )


def _burnt(sender, instance, raw=False, **_) -> None:
    """A burn may fail the candle that it was of, whichever design's piece it was."""
    if raw:
        return
    piece = PIECE[sender](instance)
    of_it = Q(design=piece.version.design_id) | Q(vessel=piece.version.vessel_id)
    # A reading is saved every few minutes, and most designs in the same vessel are other candles.
    released = services.decided_released(DesignVersion.objects.filter(of_it))
    _recheck_each([version for version in released if may_speak_for(piece, version)])


def _limit_changed(sender, raw=False, **_) -> None:
    if not raw:
        _recheck(
            DesignVersion.objects.filter(design__versions__test_pieces__isnull=False).distinct()
        )


def _recheck(subjects: QuerySet) -> None:
    _recheck_each(services.decided_released(subjects))


def _recheck_each(released: Sequence[services.Subject]) -> None:
    if not released:
        return
    with transaction.atomic():
        for subject in released:
            services.recheck(subject, on=doors.today(), at=doors.now())
