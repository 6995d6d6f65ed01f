"""
What must be bought for the plan that is followed: stated for the core, from the records.

What nobody has entered an offer for is taken as it came last: that pack, that price, from that
supplier; where a figure is lacking an assumption stands in, and the page says which.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from pourwright.core.planning import buying as core
from pourwright.core.planning.needs import net_uses
from pourwright.workshop.planning.models import Freight, Means, Offer, Plan
from pourwright.workshop.planning.problem import (
    UNKNOWN_LEAD_DAYS,
    lead_days,
    material_key,
    materials_of,
    number_in,
    product_key,
)
from pourwright.workshop.stores.models import Item, Measure, ReceiptLine, Supplier

SPARE_DAYS = 2
# Where nothing of an item ever came: a pack of a kilogram, or of one piece.
UNKNOWN_PACK = {Measure.MASS: 1_000_000, Measure.COUNT: 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The question, the records behind its keys, and what was assumed of each key, in words."""

    buying: core.Buying
    items: Mapping[str, Item]
    suppliers: Mapping[str, Supplier]
    assumed: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunsOut:
    """An item that the plan uses up: from when, and by when to order it (None: nobody says)."""

    item: Item
    on: date
    order_by: date | None


def supplies(plan: Plan, *, today: date) -> tuple[list[core.Supply], dict[str, Item]]:
    """Return what a plan's melts to come use of each item, beside what is there and coming."""
    uses = {row["key"]: row["uses"] for row in plan.problem["products"]}
    needs: dict[str, Counter[date]] = defaultdict(Counter)
    rows = plan.melts.filter(pour__isnull=True, on__gte=today)
    for row in rows.prefetch_related("fillings__design_version"):
        for filling in row.fillings.all():
            for use in uses.get(product_key(filling.design_version.design_id), ()):
                needs[use["material"]][row.on] += filling.qty * use["amount"]
    known = Item.objects.filter(pk__in=[number_in(key) for key in needs])
    items = {item.pk: item for item in known.select_related("supplier").order_by("name")}
    found = [
        core.Supply(
            key=material.key, name=material.name, unit=material.unit, on_hand=material.on_hand,
            arrivals=material.arrivals,
            needs=tuple(
                core.Need(on=on, amount=amount)
                for on, amount in sorted(needs[material.key].items())
            ),
        )
        for material in materials_of(items, today)
    ]  # fmt: skip
    return found, {material_key(pk): item for pk, item in items.items()}


def running_out(plan: Plan, *, today: date) -> list[RunsOut]:
    """Return what a plan uses up before more of it comes, what to order first at the head."""
    found, items = supplies(plan, today=today)
    leads = lead_days({item.pk: item for item in items.values()})
    short = []
    for supply in found:
        if net := net_uses(supply, today):
            first = today + timedelta(net[0][0])
            item = items[supply.key]
            lead = leads.get(item.pk)
            by = None if lead is None else first - timedelta(lead + SPARE_DAYS)
            short.append(RunsOut(item=item, on=first, order_by=by))
    return sorted(short, key=lambda row: (row.order_by or row.on, row.item.name))


def asked(plan: Plan, *, today: date) -> Asked:
    """Return what to ask of the core for a plan that is followed."""
    found, items = supplies(plan, today=today)
    last = max((need.on for supply in found for need in supply.needs), default=today)
    offers, suppliers, assumed = _offers(items)
    freights = {row.supplier_id: row for row in Freight.objects.all()}
    sellers = []
    for key, supplier in suppliers.items():
        freight = freights.get(supplier.pk)
        if freight is None:
            assumed.append((key, f"{supplier}: no freight is entered, taken as none."))
        sellers.append(
            core.Supplier(
                key=key, name=supplier.name,
                freight_minor100=freight.charge_minor100 if freight else 0,
                free_from_minor100=freight.free_from_minor100 if freight else None,
            )
        )  # fmt: skip
    keeps = [offer.keeps_days for offer in offers if offer.keeps_days is not None]
    buying = core.Buying(
        today=today, until=max(plan.until_on, last) + timedelta(1), materials=tuple(found),
        offers=tuple(offers), suppliers=tuple(sellers),
        holding_per_year=Fraction(Means.load().holding_pct_year) / 100,
        spare_days=min([SPARE_DAYS, *keeps]),
    )  # fmt: skip
    return Asked(buying=buying, items=items, suppliers=suppliers, assumed=tuple(assumed))


def supplier_key(pk: int) -> str:
    return f"supplier-{pk}"


def _offers(
    items: Mapping[str, Item],
) -> tuple[list[core.Offer], dict[str, Supplier], list[tuple[str, str]]]:
    by_item: dict[str, list[Offer]] = defaultdict(list)
    rows = Offer.objects.filter(item__in=items.values(), retired=False)
    for row in rows.select_related("supplier").prefetch_related("prices"):
        by_item[material_key(row.item_id)].append(row)
    offers: list[core.Offer] = []
    suppliers: dict[str, Supplier] = {}
    assumed: list[tuple[str, str]] = []
    for key, item in items.items():
        for row in by_item[key]:
            lead = row.lead_days if row.lead_days is not None else row.supplier.lead_days
            if lead is None:
                assumed.append((key, _no_lead(item, row.supplier)))
            suppliers[supplier_key(row.supplier_id)] = row.supplier
            offers.append(
                core.Offer(
                    key=f"offer-{row.pk}", material=key, supplier=supplier_key(row.supplier_id),
                    pack=row.pack_qty, lead_days=UNKNOWN_LEAD_DAYS if lead is None else lead,
                    prices=tuple(_prices(row)), keeps_days=row.keeps_days,
                )
            )  # fmt: skip
        if not by_item[key] and (made := _as_it_came(item)):
            offer, supplier, words = made
            offers.append(offer)
            suppliers[offer.supplier] = supplier
            assumed += [(key, said) for said in words]
    return offers, suppliers, assumed


def _prices(row: Offer) -> Iterator[core.Price]:
    for price in row.prices.all():
        yield core.Price(from_packs=price.from_packs, minor100=price.price_minor100)


def _no_lead(item: Item, supplier: Supplier) -> str:
    return f"{item.name}: {supplier} says no days to arrive, taken as {UNKNOWN_LEAD_DAYS}."


def _as_it_came(item: Item) -> tuple[core.Offer, Supplier, list[str]] | None:
    """Return the offer that an item's last parcel stands for; None where nobody is known."""
    came = (
        ReceiptLine.objects.filter(lot__item=item, receipt__entry__undone_by__isnull=True)
        .select_related("receipt__supplier")
        .order_by("-receipt__on", "-id")
        .first()
    )
    supplier = (came.receipt.supplier if came else None) or item.supplier
    if supplier is None:
        return None
    words = []
    if came:
        words.append(
            f"{item.name}: no offer is entered; one pack as it came last, on "
            f"{came.receipt.on.day} {came.receipt.on:%b %Y}, at the price paid then."
        )
    else:
        words.append(
            f"{item.name}: no offer is entered and none ever came; its price is not known, and a "
            "pack is taken as " + ("1 kg." if item.measure == Measure.MASS else "one piece.")
        )
    if supplier.lead_days is None:
        words.append(_no_lead(item, supplier))
    lead = UNKNOWN_LEAD_DAYS if supplier.lead_days is None else supplier.lead_days
    offer = core.Offer(
        key=f"last-{item.pk}", material=material_key(item.pk), supplier=supplier_key(supplier.pk),
        pack=came.qty if came else UNKNOWN_PACK[Measure(item.measure)], lead_days=lead,
        prices=(core.Price(from_packs=1, minor100=came.price_minor100 if came else 0),),
    )  # fmt: skip
    return offer, supplier, words
