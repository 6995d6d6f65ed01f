"""What candle lots are: their design versions, and the drawings that stand for them in lists."""

from __future__ import annotations

from collections.abc import Sequence

from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import for_icons, icon
from pourwright.workshop.gates.services import design_version_ids
from pourwright.workshop.stores.models import Lot


def versions_of(lots: Sequence[Lot]) -> dict[int, DesignVersion]:
    """
    Return the design version of each candle lot by the lot's primary key, in a few queries.

    Opening stock came from no pour and is left out.
    """
    pks = {
        lot: version
        for lot, version in design_version_ids(lot.pk for lot in lots).items()
        if version
    }
    versions = for_icons(DesignVersion.objects).in_bulk(set(pks.values()))
    return {lot: versions[pk] for lot, pk in pks.items()}


def version_of(lot: Lot) -> DesignVersion | None:
    """Return the design version of one candle lot, ready to be drawn; None for opening stock."""
    return versions_of([lot]).get(lot.pk)


def icons_of(lots: Sequence[Lot]) -> dict[int, str]:
    """Return each candle lot's drawing by primary key; opening stock shows its design's newest."""
    versions = versions_of(lots)
    items = {lot.item_id for lot in lots if lot.pk not in versions}
    newest = newest_versions(items) if items else {}
    shown = {lot.pk: versions.get(lot.pk) or newest.get(lot.item_id) for lot in lots}
    return {pk: icon(version) for pk, version in shown.items() if version}


def newest_versions(items: set[int]) -> dict[int, DesignVersion]:
    """Return the newest version of the design that each candle item belongs to."""
    rows = DesignVersion.objects.filter(design__candle__in=items).order_by("number")
    pks = dict(rows.values_list("design__candle", "pk"))
    versions = for_icons(DesignVersion.objects).in_bulk(set(pks.values()))
    return {item: versions[pk] for item, pk in pks.items()}
