"""Orders and customers: what is wanted, what can be sent now, what went, what came back."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from pourwright.workshop.designs.models import Design
from pourwright.workshop.designs.services import icon
from pourwright.workshop.house import doors
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.orders import forms, queries, services
from pourwright.workshop.orders.models import (
    Channel,
    Customer,
    Despatch,
    DespatchLine,
    Order,
    OrderState,
)
from pourwright.workshop.shelf.lots import newest_versions

SPARE_ROWS = 3


@require_safe
def index(request):
    """List the orders of one tab; a search looks through all of them."""
    tab = request.GET.get("show", "open")
    if request.GET.get("q") and "show" not in request.GET:
        tab = "all"
    today = doors.today()
    found = page_of(request, queries.listed(tab), search=("number", "reference", "customer__name"))
    context = {
        "slice": found,
        "rows": queries.rows_of(found.rows, on=today),
        "tabs": queries.TABS,
        "tab": tab,
        "any": bool(found.rows) or Order.objects.exists(),
    }
    return render(request, "orders/index.html", context)


# --- taking and changing an order ----------------------------------------------------------------


def new(request):
    """Take an order."""
    start = {"on": doors.today(), "channel": request.GET.get("channel", Channel.DIRECT)}
    if (pk := request.GET.get("customer", "")).isdecimal():
        start["customer"] = Customer.objects.filter(pk=pk).first()
    return _edit(request, None, start, [])


def edit(request, number):
    """Change an open order."""
    order = get_object_or_404(Order, number=number)
    if order.state != OrderState.OPEN:
        doors.warn(request, f"Order {number} is {order.get_state_display()}; it cannot be changed.")
        return redirect("orders:order", number=number)
    lines = [
        {
            "line": line.pk,
            "design": line.design_id,
            "qty": line.qty,
            "price_minor100": line.price_minor100,
            "seconds": line.seconds,
        }
        for line in order.lines.all()
    ]
    return _edit(request, order, forms.OrderForm.initial_of(order), lines)


def _edit(request, order: Order | None, start: dict, lines: list[dict]):
    workshop = request.workshop
    kept = [line["design"] for line in lines]
    designs = Design.objects.filter(retired=False) | Design.objects.filter(pk__in=kept)
    given = request.POST or None
    head = forms.OrderForm(given, workshop=workshop, initial=start)
    table = forms.line_set(rows=SPARE_ROWS, changing=order is not None)(
        given,
        prefix="lines",
        initial=lines,
        form_kwargs={"workshop": workshop, "designs": designs.order_by("name")},
    )
    if request.method == "POST" and head.is_valid() & table.is_valid():
        rows = table.cleaned(channel=head.cleaned_data["channel"], order=order)
        if all(not form.errors for form in table.forms):
            with doors.refusals(head):
                done = _save(order, head.cleaned_data, rows)
                doors.say(request, f"Order {done.number} is kept.")
                return redirect("orders:order", number=done.number)
    context = {
        "order": order,
        "form": head,
        "table": table,
        "customers": queries.known_customers(),
    }
    return render(request, "orders/edit.html", context)


def _save(order: Order | None, head: dict, rows: list[tuple]) -> Order:
    if order is None:
        return services.new_order(lines=[row[1:] for row in rows], **head)
    return services.change_order(order, lines=rows, **head)


# --- one order -----------------------------------------------------------------------------------


def order(request, number):
    """Show an order; a POST names what it does in ``do``."""
    found = get_object_or_404(Order.objects.select_related("customer"), number=number)
    page = OrderPage(request, found)
    if request.method == "POST" and (said := page.act(request.POST.get("do", ""))):
        doors.say(request, said)
        return redirect("orders:order", number=number)
    return render(request, "orders/order.html", page.context())


class OrderPage:
    """An order's page: its forms, the one that was sent among them, and what each does."""

    def __init__(self, request, order: Order) -> None:
        self.request = request
        self.order = order
        self.on = doors.today()
        self.workshop = request.workshop
        self.sent: dict[str, object] = {}

    def form(self, name: str, kind, data=None, **more):
        if data is None and name in self.sent:
            return self.sent[name]
        form = kind(data, workshop=self.workshop, auto_id=f"{name}-%s", **more)
        if data is not None:
            self.sent[name] = form
        return form

    def act(self, do: str) -> str:
        name, _, about = do.partition(":")
        action = getattr(self, f"do_{name}", None)
        if action is None or (about and not about.isdecimal()):
            raise Http404(do)
        return action(self.request.POST, about) or ""

    def send_form(self, data=None):
        if self.order.state != OrderState.OPEN:
            offers, self.short = [], []
        else:
            offers, self.short = queries.offers(self.order, on=self.on)
        lines = self.order.lines.select_related("design")
        return self.form(
            "send", forms.SendForm, data, offers=offers, lines=lines, initial={"on": self.on}
        )

    def do_send(self, data, _):
        form = self.send_form(data)
        if form.is_valid():
            with doors.refusals(form):
                sent = services.despatch(
                    self.order,
                    on=form.cleaned_data["on"],
                    at=doors.now(),
                    picks=form.picks,
                    carrier=form.cleaned_data["carrier"],
                    client_id=form.cleaned_data["client_id"],
                )
                qty = sum(sent.lines.values_list("qty", flat=True))
                return f"{qty} candle{'s' if qty != 1 else ''} sent."
        return None

    def do_undo(self, data, about):
        sent = get_object_or_404(Despatch, pk=about, order=self.order)
        form = self.form(f"undo-{about}", forms.UndoForm, data)
        if form.is_valid():
            with doors.refusals(form):
                services.undo_despatch(sent, on=self.on, at=doors.now(), **form.cleaned_data)
                return "The despatch is undone; its candles are back on the shelf."
        return None

    def do_back(self, data, about):
        line = get_object_or_404(DespatchLine, pk=about, despatch__order=self.order)
        form = self.form(f"back-{about}", forms.TakeBackForm, data)
        if form.is_valid():
            with doors.refusals(form):
                back = services.take_back(line, on=self.on, at=doors.now(), **form.cleaned_data)
                return (
                    f"{back.qty} came back as lot {back.lot.code}, set apart until someone has "
                    "looked at them."
                )
        return None

    def do_cancel(self, data, _):
        form = self.form("cancel", forms.ReasonForm, data)
        if form.is_valid():
            with doors.refusals(form):
                services.cancel(self.order, **form.cleaned_data)
                return f"Order {self.order.number} is cancelled."
        return None

    def do_reopen(self, data, _):
        form = self.form("cancel", forms.ReasonForm)
        with doors.refusals(form):
            services.reopen(self.order)
            return f"Order {self.order.number} is open again."

    def context(self) -> dict:
        send = self.send_form()
        states = services.line_states(self.order)
        versions = newest_versions({state.line.design.candle_id for state in states})
        parcels = queries.parcels(self.order)
        tone, word = queries.state_of(
            self.order,
            wanted=sum(state.line.qty for state in states),
            sent=sum(state.sent for state in states),
            on=self.on,
        )
        return {
            "order": self.order,
            "tone": tone,
            "word": word,
            "lines": [
                (state, icon(versions[state.line.design.candle_id])
                 if state.line.design.candle_id in versions else "",
                 state.line.qty * state.line.price_minor100)
                for state in states
            ],
            "value": sum(state.line.qty * state.line.price_minor100 for state in states),
            "any_sent": any(state.sent for state in states),
            "is_open": self.order.state == OrderState.OPEN,
            "send_form": send,
            "short": self.short,
            "parcels": [
                (
                    parcel,
                    self.form(f"undo-{parcel.despatch.pk}", forms.UndoForm),
                    [
                        (sent, self.form(f"back-{sent.line.pk}", forms.TakeBackForm))
                        for sent in parcel.lines
                    ],
                )
                for parcel in parcels
            ],
            "cancel_form": self.form("cancel", forms.ReasonForm),
        }  # fmt: skip


@require_safe
def packing(request, number, pk):
    """Show the note that goes into a parcel, for printing."""
    sent = get_object_or_404(
        Despatch.objects.select_related("order__customer"), pk=pk, order__number=number
    )
    lines = sent.lines.select_related("lot", "order_line__design").order_by("id")
    return render(
        request,
        "orders/packing.html",
        {
            "despatch": sent,
            "order": sent.order,
            "lines": lines,
            "total": sum(line.qty for line in lines),
        },
    )


# --- customers -----------------------------------------------------------------------------------


@require_safe
def customers(request):
    found = page_of(request, Customer.objects.order_by("name", "id"), search=("name", "email"))
    return render(request, "orders/customers.html", {"slice": found})


def customer_new(request):
    return _customer_form(request, None)


def customer_edit(request, pk):
    return _customer_form(request, get_object_or_404(Customer, pk=pk))


def _customer_form(request, customer: Customer | None):
    form = forms.CustomerForm(request.POST or None, instance=customer, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        kept = form.save()
        doors.say(request, f"{kept.name} is kept.")
        return redirect("orders:customer", pk=kept.pk)
    return render(request, "orders/customer_form.html", {"form": form, "customer": customer})


@require_safe
def customer(request, pk):
    found = get_object_or_404(Customer, pk=pk)
    orders = page_of(request, found.orders.select_related("customer").order_by("-on", "-id"))
    context = {
        "customer": found,
        "slice": orders,
        "rows": queries.rows_of(orders.rows, on=doors.today()),
    }
    return render(request, "orders/customer.html", context)
