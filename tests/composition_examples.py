"""Compositions for tests: invented oils of real substances, typed as a maker types them."""

from datetime import date

from conftest import AT, ON
from pourwright.workshop.hazard import drafts, keeping
from pourwright.workshop.hazard.models import ItemComposition, Made
from pourwright.workshop.hazard.records import Row
from pourwright.workshop.stores import items

LINALOOL = {"name": "linalool", "cas": "78-70-6", "share": "5 - <10", "classes": "Skin Sens. 1B"}
EUGENOL = {
    "name": "eugenol", "cas": "97-53-0", "share": "1 - 3", "classes": "Skin Sens. 1B\nEye Irrit. 2",
}  # fmt: skip
BENZOATE = {
    "name": "benzyl benzoate", "cas": "120-51-4", "share": "30", "classes": "Aquatic Chronic 2",
}  # fmt: skip


def oil(name="Fig leaf", **facts):
    return items.new_item(kind="oil", name=name, facts=facts)


def row(typed=LINALOOL, **more) -> Row:
    read = drafts.read_row({**typed, **more})
    assert read.row is not None, read.wrong
    return read.row


def head(sheet_date=date(2025, 4, 3), **more) -> keeping.Head:
    return keeping.Head(sheet_date=sheet_date, **more)


def confirmed(item, *typed, on=ON, at=AT, facts_too=False, **about) -> ItemComposition:
    """Confirm what an item is made of."""
    return keeping.settle(
        item,
        draft=None,
        head=head(**{"nothing_listed": not typed, **about}),
        rows=[row(one) for one in typed],
        facts_too=facts_too,
        by="Ada",
        on=on,
        at=at,
    )


def drafted(item, *typed, at=AT, **about) -> ItemComposition:
    """Draft a composition as it was typed."""
    about.setdefault("sheet_date", "2026-01-15")
    return keeping.begin(
        item, made=Made.TYPED, at=at, typed={"head": about, "rows": [dict(one) for one in typed]}
    )
