"""A move of the ledger in the maker's words."""

from __future__ import annotations

from pourwright.workshop.stores.models import EntryKind, Place

_WORDS = {
    (Place.SUPPLIER, Place.STORE): "came into the store",
    (Place.OPENING, Place.STORE): "was there when the books began",
    (Place.OPENING, Place.SHELF): "was there when the books began",
    (Place.STORE, Place.MADE): "taken from the store",
    (Place.SHELF, Place.MADE): "taken from the shelf",
    (Place.TEST, Place.MADE): "taken from the test table",
    (Place.MADE, Place.SHELF): "made, onto the cure shelf",
    (Place.MADE, Place.STORE): "made, into the store",
    (Place.MADE, Place.TEST): "onto the test table",
    (Place.MADE, Place.GIVEN): "given away",
    (Place.MADE, Place.SCRAP): "spoilt in the making",
    (Place.MADE, Place.RETURNED): "came back, set apart",
    (Place.SHELF, Place.SOLD): "sold",
    (Place.SOLD, Place.MADE): "taken back from a customer",
    (Place.SHELF, Place.BURNT): "burnt in a test",
    (Place.TEST, Place.BURNT): "burnt in a test",
    (Place.WORK, Place.SHELF): "labour and overhead",
}


def in_words(*, kind: str, from_place: str, to_place: str, qty: int) -> str:
    """
    Return what a move did, to stand after its quantity: "came into the store".

    An undo says where the stock went back to.
    """
    if kind == EntryKind.UNDO:
        return f"put back: {Place(from_place).label} to {Place(to_place).label}"
    if not qty:
        return "value only: labour, overhead or a rounding"
    if to_place == Place.SCRAP and from_place != Place.MADE:
        return f"scrapped from the {Place(from_place).label}"
    if to_place == Place.CORRECTION:
        return f"found missing from the {Place(from_place).label}"
    if from_place == Place.CORRECTION:
        return f"found over in the {Place(to_place).label}"
    words = _WORDS.get((Place(from_place), Place(to_place)))
    return words or f"{Place(from_place).label} to {Place(to_place).label}"
