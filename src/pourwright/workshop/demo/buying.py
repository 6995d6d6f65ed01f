"""What runs low is ordered; it comes some days later, with its freight. Now and then one counts."""

from __future__ import annotations

from datetime import timedelta

from pourwright.workshop.demo.catalogue import best_before, price_of, unit_of
from pourwright.workshop.demo.life import Life
from pourwright.workshop.demo.tables import table
from pourwright.workshop.stores import ledger, services
from pourwright.workshop.stores.models import Balance, Kind, Place

# The parcel whose oil the supplier writes about two years in (see story.py).
RECALL_FROM_DAY = 420
RECALL_LOT = "CF-2291"
# In the last days nothing is ordered: Today then has something to say.
LAST_ORDER = 11
FORGOTTEN, FORGOTTEN_FOR = ("linen", "label"), 75


def needed_so_far(life: Life) -> set[str]:
    """Return the supplies that some formula or design calls for by now."""
    keys: set[str] = set()
    for row in table("formulas")["formulas"]:
        if row["key"] in life.formulas:
            keys |= {*row["wax"], *row["oils"], *row.get("extras", {})}
    for row in table("designs")["designs"]:
        if row["key"] in life.designs:
            keys |= {row["vessel"], row["wick"], "tab", "sticker", *row["finish"]}
    return keys


def order_what_runs_low(life: Life) -> None:
    """Order, on a Monday or when something new is wanted, all that is below its level."""
    if life.days_left < LAST_ORDER:
        return
    needed = needed_so_far(life)
    held = life.held(Place.STORE)
    baskets: dict[str, list[dict]] = {}
    for row in table("supplies")["items"]:
        if row["key"] not in needed or row["key"] in life.on_order:
            continue
        if row["key"] in FORGOTTEN and life.days_left < FORGOTTEN_FOR:
            continue
        there = held.get(life.items[row["key"]].pk, 0)
        if there <= row["low"] * unit_of(row):
            baskets.setdefault(row["supplier"], []).append(row)
    for supplier, rows in baskets.items():
        late = life.chance("parcels").choice((0, 0, 0, 1, 2, 4))
        days = max(life.suppliers[supplier].lead_days + late, 1)
        life.to_come.setdefault(life.on + timedelta(days=days), []).append((supplier, rows))
        life.on_order |= {row["key"]: row["order"] for row in rows}


def take_in_parcels(life: Life) -> None:
    for supplier, rows in life.to_come.pop(life.on, ()):
        _receive(life, supplier, rows)


def _receive(life: Life, supplier: str, rows: list[dict]) -> None:
    dice = life.chance("prices")
    about = next(row for row in table("supplies")["suppliers"] if row["key"] == supplier)
    lines = []
    for row in rows:
        life.on_order.pop(row["key"], None)
        drift = 100 + life.day // 120 + dice.randint(-2, 3)
        lines.append(
            services.Received(
                item=life.items[row["key"]],
                qty=row["order"] * unit_of(row),
                price_minor100=price_of(life, row, row["order"]) * drift // 100,
                best_before=best_before(life, row),
                supplier_lot=_their_lot(life, row, dice),
            )
        )
    services.receive(
        lines=lines,
        on=life.on,
        at=life.at(10, 20),
        supplier=life.suppliers[supplier],
        freight_minor100=life.money(about["freight"]),
        spread=about["spread"],
        reference=f"{about['name'].split()[0][:3].upper()}-{dice.randint(10_000, 99_999)}",
    )


def _their_lot(life: Life, row: dict, dice) -> str:
    number = dice.randint(1_000, 9_999)
    if row["kind"] not in (Kind.WAX, Kind.OIL, Kind.DYE, Kind.ADDITIVE):
        return ""
    if row["key"] == "orange" and life.day >= RECALL_FROM_DAY and not recall_lots(life):
        return RECALL_LOT
    return f"{row['supplier'][:2].upper()}-{number}"


def recall_lots(life: Life) -> list:
    return list(life.items["orange"].lots.filter(supplier_lot=RECALL_LOT))


# --- counting and breakage -----------------------------------------------------------------------


def count_a_shelf(life: Life) -> None:
    """Each quarter, count a few lots: wax sticks to scoops, and a wick falls behind the bench."""
    if life.day == 0 or life.day % 91:
        return
    dice = life.chance("counts")
    held = list(
        Balance.objects.filter(place=Place.STORE, qty__gt=0)
        .select_related("lot__item")
        .order_by("lot_id")
    )
    for balance in dice.sample(held, min(5, len(held))):
        missing = dice.choice((0, 0, balance.qty // 250, balance.qty // 120))
        if not balance.lot.item.by_mass:
            missing = dice.choice((-1, 0, 1, 2))
        counted = max(balance.qty - missing, 0)
        services.count(
            lot=balance.lot, place=Place.STORE, counted=counted, reason="quarterly count",
            on=life.on, at=life.at(16),
        )  # fmt: skip


def break_something(life: Life) -> None:
    """Glass falls, and now and then a cup has a crack."""
    dice = life.chance("breakage")
    if dice.random() > 1 / 45:
        return
    key, reason = dice.choice(
        (("tumbler", "dropped"), ("cup", "crack in the glaze"), ("tin", "dented"))
    )
    held = [b for b in ledger.oldest_first(life.items[key]) if b.qty > 3]
    if held:
        services.scrap(
            lot=held[0].lot, place=Place.STORE, qty=dice.randint(1, 2), reason=reason,
            on=life.on, at=life.at(11),
        )  # fmt: skip
