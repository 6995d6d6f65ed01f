"""Trace: where a lot went, and what a candle or an order was made from."""

from __future__ import annotations

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from pourwright.papers.trace_sheet import trace_sheet_pdf
from pourwright.workshop.designs.services import icon
from pourwright.workshop.house import doors
from pourwright.workshop.house.find import lot_address
from pourwright.workshop.orders.models import Customer, Order
from pourwright.workshop.shelf.lots import newest_versions
from pourwright.workshop.stores.models import Kind, Lot
from pourwright.workshop.trace import forms, services
from pourwright.workshop.trace.models import Recall
from pourwright.workshop.trace.sheet import order_sheet_of, sheet_of
from pourwright.workshop.trace.show import MOST_STEPS, picture, thread

MOST_ROWS = 60
MOST_LOTS = 150
MOST_FOUND = 12
RECENT = 10


@require_safe
def index(request):
    """One box for a lot, an order or a customer; below it the recalls."""
    words = request.GET.get("q", "").strip()[:80]
    context = {"q": words, "recalls": Recall.objects.select_related("lot__item")[:RECENT]}
    if words:
        if lot := Lot.objects.filter(code__iexact=words).first():
            return redirect("trace:lot", code=lot.code)
        if order := Order.objects.filter(number__iexact=words).first():
            return redirect("trace:order", number=order.number)
        context |= _found(words)
    else:
        context["newest"] = (
            Lot.objects.filter(item__kind=Kind.CANDLE).select_related("item").order_by("-id")[:6]
        )
    return render(request, "trace/index.html", context)


def _found(words: str) -> dict:
    lots = (
        Lot.objects.filter(Q(code__icontains=words) | Q(supplier_lot__icontains=words))
        .select_related("item")
        .order_by("-id")[:MOST_FOUND]
    )
    near = services.near_matches(words) if not lots else []
    orders = (
        Order.objects.filter(Q(number__icontains=words) | Q(reference__icontains=words))
        .select_related("customer")
        .order_by("-id")[:MOST_FOUND]
    )
    customers = Customer.objects.filter(name__icontains=words)[:MOST_FOUND]
    bought = (
        Order.objects.filter(customer__in=list(customers.values_list("pk", flat=True)))
        .select_related("customer")
        .order_by("-on", "-id")[: 3 * MOST_FOUND]
    )
    return {
        "lots": lots,
        "near": Lot.objects.filter(code__in=near).select_related("item"),
        "orders": orders,
        "bought": bought,
        "nothing": not (lots or orders or bought or near),
    }


def lot(request, code):
    """Show both ways from one lot; a POST begins or ends its recall."""
    found = get_object_or_404(Lot.objects.select_related("item__design"), code=code)
    begin = forms.BeginForm(workshop=request.workshop)
    end = forms.EndForm(workshop=request.workshop)
    recall = Recall.objects.filter(lot=found, ended_on__isnull=True).first()
    if request.method == "POST":
        if request.POST.get("do") == "end" and recall:
            end = forms.EndForm(request.POST, workshop=request.workshop)
            if end.is_valid():
                with doors.refusals(end):
                    services.end_recall(recall, on=doors.today(), **end.cleaned_data)
                    doors.say(request, "The recall has ended.")
                    return redirect("trace:lot", code=code)
        else:
            begin = forms.BeginForm(request.POST, workshop=request.workshop)
            if begin.is_valid():
                with doors.refusals(begin):
                    _, off = services.begin_recall(
                        found, on=doors.today(), at=doors.now(), **begin.cleaned_data
                    )
                    doors.say(request, _begun(off))
                    return redirect("trace:lot", code=code)
    return render(
        request,
        "trace/lot.html",
        {"begin_form": begin, "end_form": end, "recall": recall, **_both_ways(request, found)},
    )


def _begun(off: list[str]) -> str:
    if not off:
        return "The recall is begun. None of it was on sale."
    return f"The recall is begun; taken off sale: {', '.join(off)}."


def _both_ways(request, found: Lot) -> dict:
    page = max(int(p), 1) if (p := request.GET.get("page", "1")).isdecimal() else 1
    page = min(page, 10_000)
    forward = services.forward(
        found, most=MOST_LOTS, most_sent=MOST_ROWS, start=(page - 1) * MOST_ROWS
    )
    back = services.back(found)
    ahead = [] if forward.cut else thread([found.pk], forward.links, forward.nodes, ahead=True)
    behind = thread([found.pk], back.links, back.nodes, ahead=False)
    made = [node for node in forward.candles if node.pk != found.pk]
    held = [node for node in [*forward.candles, *forward.others] if node.inside]
    return {
        "lot": found,
        "address": lot_address(found),
        "forward": forward,
        "back": back,
        "root": forward.root,
        "made": _by_design(made),
        "listed": len(made),
        "held": held,
        "ahead": ahead[:MOST_STEPS],
        "behind": behind[:MOST_STEPS],
        "supplies": _supplies(back),
        "picture": "" if forward.cut or page > 1 else picture(
            forward.root, forward if forward.links or forward.sent else None, back
        ),
        "page": page,
        "first": (page - 1) * MOST_ROWS + 1,
    }  # fmt: skip


def _by_design(made: list[services.Node]) -> list[tuple[str, str, list[services.Node]]]:
    """Return (candle, its drawing, its lots) for each kind of candle."""
    groups: dict[int, list[services.Node]] = {}
    for node in made:
        groups.setdefault(node.item_pk, []).append(node)
    versions = newest_versions(set(groups))
    return [
        (nodes[0].item, icon(versions[item]) if item in versions else "", nodes)
        for item, nodes in sorted(groups.items(), key=lambda group: group[1][0].item)
    ]


def _supplies(back: services.Back) -> list[tuple]:
    return [(node, back.direct(node), back.through(node)) for node in back.supplies]


@require_safe
def order(request, number):
    """Show every supply lot in what went out on an order."""
    found = get_object_or_404(Order.objects.select_related("customer"), number=number)
    back = services.back_of_order(found)
    return render(
        request,
        "trace/order.html",
        {
            "order": found,
            "sent": services.sent_on(found),
            "back": back,
            "supplies": _supplies(back),
            "behind": thread([root.pk for root in back.roots], back.links, back.nodes, ahead=False)[
                :MOST_STEPS
            ],
        },
    )


@require_safe
def sheet(request, code):
    """Return the whole trace of a lot, or of an order by its number, on paper."""
    on, workshop = doors.today(), request.workshop
    found = Lot.objects.select_related("item").filter(code=code).first()
    if found is None:
        data = order_sheet_of(get_object_or_404(Order, number=code), workshop=workshop, on=on)
    else:
        data = sheet_of(found, workshop=workshop, on=on)
    response = HttpResponse(
        trace_sheet_pdf(data, units=workshop.units), content_type="application/pdf"
    )
    response["Content-Disposition"] = f'inline; filename="trace-{code}.pdf"'
    return response
