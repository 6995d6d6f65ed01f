"""What candle lots are: their design versions, and the drawings that stand for them in lists."""

from __future__ import annotations

from collections.abc import Sequence

from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates.services import design_version_ids
from pourwright.workshop.stores.models import Lot


def versions_of(lots: Sequence[Lot]) -> dict[int, DesignVersion]:
    """
    Return the design version of each candle lot by the lot's primary key, in a few queries.

    Opening stock came from no pour and is left out.
    """
    pks = {lot: version for lot, version in design_version_ids(lots).items() if version}
    versions = DesignVersion.objects.select_related(
        "design", "vessel__vessel", "formula_version__formula"
    ).in_bulk(set(pks.values()))
    return {lot: versions[pk] for lot, pk in pks.items()}


def version_of(lot: Lot) -> DesignVersion | None:
    """Return the design version of one candle lot, or None for opening stock."""
    return versions_of([lot]).get(lot.pk)
