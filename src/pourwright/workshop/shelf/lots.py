"""What a candle lot is: its design version, and the lot that it was taken from."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import F

from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.stores.models import Lot, LotSource

# A tester can be taken from seconds that were taken from a lot that came back; not much more.
MOST_STEPS = 6


def parents_of(lots: Iterable[int]) -> dict[int, int]:
    """Return for each lot taken from another of its own kind (testers, returns) that other one."""
    return dict(
        LotSource.objects.filter(
            child__in=list(lots),
            entry__undone_by__isnull=True,
            parent__item=F("child__item"),
        ).values_list("child", "parent")
    )


def versions_of(lots: Iterable[int]) -> dict[int, DesignVersion]:
    """
    Return the design version of each candle lot (by primary key), in a few queries for all.

    It is that of the filling it came from, itself or through the lot it was taken from. Opening
    stock came from no pour and has none.
    """
    came_from = {lot: lot for lot in lots}
    found: dict[int, DesignVersion] = {}
    for _ in range(MOST_STEPS):
        wanted = set(came_from.values())
        if not wanted:
            break
        known = _poured(wanted)
        found |= {lot: known[source] for lot, source in came_from.items() if source in known}
        parents = parents_of(wanted - known.keys())
        came_from = {lot: parents[s] for lot, s in came_from.items() if s in parents}
    return found


def _poured(lots: set[int]) -> dict[int, DesignVersion]:
    known: dict[int, DesignVersion] = {}
    for link in ("lot", "seconds_lot"):
        versions = DesignVersion.objects.filter(**{f"fillings__{link}__in": lots})
        rows = versions.annotate(from_lot=F(f"fillings__{link}")).select_related(
            "design", "vessel__vessel", "formula_version__formula"
        )
        known |= {version.from_lot: version for version in rows}
    return known


def version_of(lot: Lot) -> DesignVersion | None:
    """Return the design version of one candle lot, or None for opening stock."""
    return versions_of([lot.pk]).get(lot.pk)
