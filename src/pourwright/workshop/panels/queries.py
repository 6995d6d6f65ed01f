"""What is read of scent panels: the list, what can be compared, and a design's throw by cure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.db.models import Count, Q, QuerySet

from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.panels.models import (
    Panel,
    PanelAnswer,
    PanelCandle,
    PanelServing,
    PanelState,
)
from pourwright.workshop.stores.models import Kind, Lot, Place

MOST_LOTS, MOST_VERSIONS = 80, 200
Choices = list[tuple[str, str | list[tuple[str, str]]]]


def listed() -> QuerySet[Panel]:
    """Return panels, the newest first, with how many have answered."""
    return Panel.objects.annotate(
        answered=Count("servings__answers", filter=Q(servings__answers__left_out=""))
    ).prefetch_related("candles__lot__item", "candles__version__design")


def panel_named(number: str) -> QuerySet[Panel]:
    return Panel.objects.filter(number=number)


def candles_of(panel: Panel) -> list[PanelCandle]:
    return list(
        panel.candles.select_related("lot__item__design", "version__design").prefetch_related(
            "jars"
        )
    )


def servings_of(panel: Panel) -> list[tuple[PanelServing, PanelAnswer | None]]:
    """Return each assessor's serving with the answer that counts, if there is one."""
    answers = {
        one.serving_id: one for one in PanelAnswer.objects.filter(serving__panel=panel, left_out="")
    }
    return [(serving, answers.get(serving.pk)) for serving in panel.servings.all()]


def left_out_of(panel: Panel) -> list[PanelAnswer]:
    found = PanelAnswer.objects.filter(serving__panel=panel).exclude(left_out="")
    return list(found.select_related("serving"))


def lots_of(design: Design) -> list[Lot]:
    """Return the design's lots of which there are candles to smell, the youngest first."""
    return list(_held().filter(item=design.candle_id))


def _held() -> QuerySet[Lot]:
    return (
        Lot.objects.filter(
            item__kind=Kind.CANDLE, balances__place__in=[Place.SHELF, Place.TEST],
            balances__qty__gt=0,
        )
        .select_related("item")
        .distinct()
        .order_by("-began_on", "-id")
    )  # fmt: skip


def offered(*, on: date, design: Design | None = None) -> Choices:
    """Return what a panel may compare, in groups: lots at hand with their age, then designs."""

    def words(lot: Lot) -> tuple[str, str]:
        days = (on - lot.began_on).days
        return (
            f"lot:{lot.pk}",
            f"{lot.item.name}, {lot.code}: {days} day{'' if days == 1 else 's'} today",
        )

    own = lots_of(design)[:MOST_LOTS] if design else []
    others = [lot for lot in _held()[:MOST_LOTS] if lot not in own]
    versions = (
        DesignVersion.objects.filter(design__retired=False)
        .select_related("design")
        .order_by("design__name", "-number")[:MOST_VERSIONS]
    )
    groups: Choices = [("", "–")]
    if own:
        groups.append((f"Lots of {design}", [words(lot) for lot in own]))
    if others:
        groups.append(("Lots at hand", [words(lot) for lot in others]))
    if versions:
        groups.append(
            ("Poured by hand, of a design", [(f"version:{one.pk}", str(one)) for one in versions])
        )
    return groups


def panels_of(design: Design, *, most: int = 60) -> Sequence[Panel]:
    """Return the panels in which a candle of the design stood, the newest first."""
    mine = PanelCandle.objects.filter(
        Q(version__design=design) | Q(lot__item=design.candle_id)
    ).values("panel")
    return list(listed().filter(pk__in=mine).exclude(state=PanelState.DISCARDED)[:most])
