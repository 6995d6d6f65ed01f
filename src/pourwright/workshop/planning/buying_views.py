"""What to order from whom by when, offers, and orders from their sending to their parcel."""

from __future__ import annotations

import time
from datetime import date

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from pourwright.core import amounts
from pourwright.core.amounts.units import from_mg
from pourwright.core.errors import BadInput
from pourwright.papers.documents import paper_for
from pourwright.papers.order_list import Ordered, OrderList, order_pdf, order_text
from pourwright.workshop.house import doors
from pourwright.workshop.planning import buying, purchases, services
from pourwright.workshop.planning.buying_forms import (
    ExpectForm,
    FreightForm,
    OfferForm,
    OrderedForm,
)
from pourwright.workshop.planning.models import Freight, Offer, Purchase, PurchaseState
from pourwright.workshop.stores.forms import ItemOptions, LineSet, ReceiptForm, supplies
from pourwright.workshop.stores.models import Item, Supplier

MOST_S = 4.0


def _bought(on: date, system: str):
    """Return the followed plan, what it asks to be bought, and what the core says to that."""
    plan = services.followed()
    if plan is None:
        return None, None, None
    from pourwright.core.planning.purchases import plan_purchases  # its solver is slow to load

    asked = buying.asked(plan, today=on)
    ends = time.monotonic() + MOST_S
    found = plan_purchases(
        asked.buying, effort=purchases.EFFORT, system=system,
        should_stop=lambda: time.monotonic() > ends,
    )  # fmt: skip
    return plan, asked, found


def buy(request):
    """Show what to order; a POST says that an order was sent."""
    today = doors.today()
    try:
        plan, asked, found = _bought(today, request.workshop.units)
    except BadInput as problem:
        plan, asked, found = services.followed(), None, None
        doors.warn(request, str(problem))
    orders = purchases.to_order(found, asked) if found and asked else []
    if request.method == "POST":
        form = OrderedForm(request.POST)
        sent = form.is_valid() and form.cleaned_data["client_id"]
        if sent and Purchase.objects.filter(client_id=sent).exists():
            return redirect("planning:buy")
        wanted = form.is_valid() and _among(
            orders, form.cleaned_data["supplier"], form.cleaned_data["on"]
        )
        if not wanted:
            doors.warn(request, "The plan has changed since; look at the orders again.")
            return redirect("planning:buy")
        made = purchases.ordered(wanted, on=today, client_id=form.cleaned_data["client_id"])
        doors.say(request, f"{made.number} is on its way, expected on {made.expected_on:%-d %b}.")
        return redirect("planning:buy")
    context = {
        "plan": plan, "found": found, "today": today, "way": purchases.on_the_way(),
        "orders": [
            (one, order_text(_list(one, request.workshop, today)), doors.new_id())
            for one in orders
        ],
        "offers": Offer.objects.filter(retired=False)
        .select_related("item", "supplier").prefetch_related("prices"),
    }  # fmt: skip
    if found and asked:
        rows = [(row, asked.items[row.material]) for row in found.outlook]
        short = [(row, item) for row, item in rows if row.out_on_without]
        short.sort(key=lambda pair: (pair[0].out_on_without, pair[1].name))
        told = {row.material for row, _ in short} | {one.order.supplier for one in orders}
        context |= {
            "short": short, "enough": [item for row, item in rows if not row.out_on_without],
            "assumed": [words for key, words in asked.assumed if key in told],
            "now": next((r for r in found.rhythms if r.every_days is None), None),
        }  # fmt: skip
    return render(request, "planning/buy.html", context)


def _among(orders, supplier: str, on: date):
    return next(
        (one for one in orders if one.order.supplier == supplier and one.order.on == on), None
    )


@require_safe
def order_paper(request, supplier: str, on: str):
    """Give an order of the purchase plan as a PDF to send."""
    today = doors.today()
    _, asked, found = _bought(today, request.workshop.units)
    try:
        day = date.fromisoformat(on)
    except ValueError as problem:
        raise Http404(on) from problem
    one = _among(purchases.to_order(found, asked), supplier, day) if found and asked else None
    if one is None:
        doors.warn(request, "The plan has changed since; look at the orders again.")
        return redirect("planning:buy")
    return _pdf(_list(one, request.workshop, today), request.workshop, f"order {one.supplier}")


@require_safe
def purchase_paper(request, number: str):
    """Give an order that was sent as a PDF."""
    found = get_object_or_404(Purchase.objects.select_related("supplier"), number=number)
    return _pdf(_sent(found, request.workshop), request.workshop, found.number)


def _pdf(order: OrderList, workshop, name: str) -> HttpResponse:
    return HttpResponse(
        order_pdf(order, paper=paper_for(workshop.units)), content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name.replace(chr(34), "")}.pdf"'},
    )  # fmt: skip


def _list(one: purchases.ToOrder, workshop, on: date) -> OrderList:
    rows = [
        (item, line.packs, line.amount // line.packs, line.price_minor100)
        for line, item in one.lines
    ]
    return _order_list(rows, one.supplier, one.order.freight_minor100, workshop, on=on, number="")


def _sent(found: Purchase, workshop) -> OrderList:
    rows = [
        (line.item, line.packs, line.pack_qty, line.price_minor100)
        for line in found.lines.select_related("item")
    ]
    return _order_list(
        rows, found.supplier, found.freight_minor100, workshop, on=found.on, number=found.number
    )


def _order_list(rows, supplier, freight: int, workshop, *, on: date, number: str) -> OrderList:
    def money(minor100: int) -> str:
        return amounts.show_money(minor100, currency=workshop.currency)

    goods = sum(packs * price for _, packs, _, price in rows)
    return OrderList(
        workshop=workshop.name, supplier=supplier.name, address=supplier.address,
        day=f"{on.day} {on:%B %Y}", number=number,
        lines=[
            Ordered(
                packs=packs, pack=_amount(item, qty, workshop), item=item.name,
                reference=item.supplier_ref, price=money(price), total=money(packs * price),
            )
            for item, packs, qty, price in rows
        ],
        goods=money(goods), freight=money(freight), total=money(goods + freight),
    )  # fmt: skip


def _amount(item: Item, qty: int, workshop) -> str:
    if item.by_mass:
        return amounts.show_mass(from_mg(qty), workshop.units)
    return "1 piece" if qty == 1 else f"{qty} pieces"


# --- offers --------------------------------------------------------------------------------------


def item_offers(request, pk: int):
    """Show who offers an item; a POST enters an offer."""
    item = get_object_or_404(Item.objects.select_related("supplier"), pk=pk)
    form = OfferForm(request.POST or None, item=item, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            purchases.keep_offer(item, **form.told())
            doors.say(request, "Kept. What to order is reckoned with it from now on.")
            return redirect("planning:item_offers", pk=pk)
    offers = item.offers.select_related("supplier").prefetch_related("prices")
    return render(request, "planning/offers.html", {"item": item, "form": form, "offers": offers})


def offer(request, pk: int):
    """Change an offer, or say that it is no longer made."""
    found = get_object_or_404(Offer.objects.select_related("item", "supplier"), pk=pk)
    form = OfferForm(request.POST or None, item=found.item, offer=found, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            purchases.keep_offer(found.item, offer=found, **form.told())
            doors.say(request, "Kept.")
            return redirect("planning:item_offers", pk=found.item_id)
    return render(request, "planning/offer.html", {"offer": found, "form": form})


def freight(request, pk: int):
    """Show what a supplier offers; a POST says what sending costs."""
    supplier = get_object_or_404(Supplier, pk=pk)
    row = Freight.objects.filter(supplier=supplier).first()
    names = ("charge_minor100", "free_from_minor100")
    initial = {name: getattr(row, name) for name in names} if row else {}
    form = FreightForm(request.POST or None, initial=initial, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        purchases.keep_freight(supplier, **form.cleaned_data)
        doors.say(request, "Kept.")
        return redirect("planning:freight", pk=pk)
    offers = supplier.offers.select_related("item").prefetch_related("prices")
    sold = supplier.items.filter(retired=False).order_by("name")
    return render(
        request, "planning/freight.html",
        {"supplier": supplier, "form": form, "offers": offers, "sold": sold},
    )  # fmt: skip


# --- what was ordered ----------------------------------------------------------------------------


def purchase(request, number: str):
    """Show an order that was sent; a POST says that it comes later, or takes it back."""
    found = get_object_or_404(
        Purchase.objects.select_related("supplier", "entry__receipt"), number=number
    )
    form = ExpectForm(
        request.POST if request.POST.get("do") == "expect" else None,
        initial={"expected_on": found.expected_on}, workshop=request.workshop,
    )  # fmt: skip
    if request.method == "POST":
        match request.POST.get("do", ""):
            case "cancel":
                try:
                    purchases.cancel(found)
                    doors.say(request, f"{found.number} is cancelled.")
                except BadInput as problem:
                    doors.warn(request, str(problem))
                return redirect("planning:purchase", number=number)
            case "expect":
                if form.is_valid():
                    with doors.refusals(form):
                        purchases.expect(found, on=form.cleaned_data["expected_on"])
                        doors.say(request, "Kept. Plan anew where it comes too late for a melt.")
                        return redirect("planning:purchase", number=number)
            case other:
                raise Http404(other)
    coming = purchases.on_the_way().filter(pk=found.pk).exists()
    lines = list(found.lines.select_related("item"))
    return render(
        request, "planning/purchase.html",
        {
            "purchase": found, "form": form, "coming": coming, "today": doors.today(),
            "lines": [(line, line.packs * line.price_minor100) for line in lines],
            "goods": sum(line.packs * line.price_minor100 for line in lines),
            "text": order_text(_sent(found, request.workshop)),
            "cancelled": found.state == PurchaseState.CANCELLED,
        },
    )  # fmt: skip


def take_in(request, number: str):
    """Take an order's parcel in: a receipt with what was ordered filled in, to be corrected."""
    found = get_object_or_404(Purchase.objects.select_related("supplier"), number=number)
    ordered = list(found.lines.select_related("item"))
    known = supplies() | {line.item_id: line.item for line in ordered}
    told = {"workshop": request.workshop, "options": ItemOptions(known)}
    data = request.POST or None
    form = ReceiptForm(
        data, today=doors.today(), workshop=request.workshop,
        initial={
            "on": doors.today(), "supplier": found.supplier_id, "reference": found.number,
            "freight_minor100": found.freight_minor100,
        },
    )  # fmt: skip
    initial = [
        {
            "item": line.item_id, "qty": line.packs * line.pack_qty,
            "price_minor100": line.packs * line.price_minor100,
        }
        for line in ordered
    ]  # fmt: skip
    lines = LineSet(data, prefix="lines", form_kwargs=told, initial=initial)
    lines.extra = 1
    if data:
        good = form.is_valid()
        if lines.is_valid() and good:
            with doors.refusals(form):
                cleaned = form.cleaned_data
                receipt = purchases.take_in(
                    found, lines=lines.received(), at=doors.now(),
                    **(cleaned | {"freight_minor100": cleaned.get("freight_minor100") or 0}),
                )  # fmt: skip
                doors.say(request, f"{receipt.number} is taken in; its lots are in the store.")
                return redirect("stores:receipt", receipt.number)
    return render(
        request, "planning/take_in.html", {"purchase": found, "form": form, "lines": lines}
    )
