"""
Which classes compete with each other, and which of two is the more severe.

Classes of one slot exclude each other in one mixture: a candle is Skin Irrit 2 or Skin Corr 1, not
both. The slots follow the chapters of CLP, Annex I.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from pourwright.core.hazard.model import Authority, Entry, HazardClass, Kind, Market, Substance

Slot = tuple[str, str]

_SHARED = {
    Kind.SKIN_CORR: "skin",
    Kind.SKIN_IRRIT: "skin",
    Kind.EYE_DAM: "eye",
    Kind.EYE_IRRIT: "eye",
}
_SLOTS: dict[Kind, Slot] = {kind: (_SHARED.get(kind, kind.value), "") for kind in Kind}
_MILDER = {Kind.SKIN_IRRIT, Kind.EYE_IRRIT}
# Category 1 without a letter may be 1A; it ranks between the two.
_ORDER = ("1A", "1", "1B", "1C", "2", "3", "4", "5", "")


def slot(hazard: HazardClass) -> Slot:
    """Return what a class competes for; acute toxicity by route, STOT SE 3 by its effect."""
    if hazard.kind is Kind.ACUTE and hazard.route:
        return (hazard.kind.value, hazard.route.value)
    if hazard.kind is Kind.STOT_SE and hazard.category == "3":
        return (hazard.kind.value, hazard.detail or "H335")
    return _SLOTS[hazard.kind]


def rank(hazard: HazardClass) -> tuple[bool, int]:
    """Return a number that is lower the more severe a class is; only within one slot."""
    return (hazard.kind in _MILDER, _ORDER.index(hazard.category))


def counting_entries(substance: Substance, *, market: Market, on: date) -> dict[Slot, Entry]:
    """
    Return, by slot, the one entry that counts in a market on a day.

    A harmonised entry outranks the supplier's word; where it is marked as a minimum, a more severe
    word of the supplier counts. Source: CLP Article 4(3) and Annex VI, 1.2.1 (from memory, high).
    """
    found: dict[Slot, Entry] = {}
    for entry in substance.entries:
        if entry.holds(market=market, on=on):
            there = slot(entry.hazard)
            found[there] = _weightier(found[there], entry) if there in found else entry
    return found


def _weightier(one: Entry, other: Entry) -> Entry:
    first, second = sorted((one, other), key=lambda entry: entry.authority.value != "harmonised")
    more_severe = rank(second.hazard) < rank(first.hazard)
    equal_word = first.authority is second.authority
    both_say = first.authority is not Authority.HARMONISED or first.minimum
    return second if more_severe and (equal_word or both_say) else first


def most_severe(hazards: Iterable[HazardClass]) -> HazardClass:
    """Return the most severe of classes of one slot."""
    return min(hazards, key=rank)
