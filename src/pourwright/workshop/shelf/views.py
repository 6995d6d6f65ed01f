"""The shelf: every candle lot held, and one lot with all that can be done with it."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from pourwright.core.amounts import show_money
from pourwright.papers.candle import above_svg, section_svg, shared_px_per_mm
from pourwright.papers.charts import Bar, Curing, Part, cure_shelf_svg, stacked_bar_svg
from pourwright.papers.lot_paper import lot_paper_pdf
from pourwright.workshop.designs.services import drawing
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.gates.show import gate_of
from pourwright.workshop.house import doors
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.orders import services as orders
from pourwright.workshop.shelf import forms, queries, services
from pourwright.workshop.shelf.facts import came_from, paper_of
from pourwright.workshop.shelf.lots import newest_versions
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import INSIDE, Entry, EntryKind, Kind, Lot, Place

MOST_DRAWN = 14


@require_safe
def index(request):
    """Show the candle lots held."""
    today = doors.today()
    tab = request.GET.get("show", "")
    balances = page_of(
        request, queries.held(tab, on=today), search=("lot__code", "lot__item__name")
    )
    curing = list(queries.held("curing", on=today)[:MOST_DRAWN]) if tab in ("", "curing") else []
    context = {
        "rows": queries.rows_of(balances.rows, on=today),
        "slice": balances,
        "tabs": queries.TABS,
        "tab": tab,
        "curing": curing,
        "pictures": [_cure_picture(curing, today, width) for width in (560, 330)],
        "today": today,
        "waiting": queries.held("checks", on=today)[:1].count() if not tab else 0,
    }
    return render(request, "shelf/index.html", context)


def _cure_picture(balances, today, width: int) -> str:
    return cure_shelf_svg(
        [
            Curing(
                label=f"{held.lot.code} {held.lot.item.name}",
                start=held.lot.began_on,
                ready=held.lot.ready_on,
            )
            for held in balances
        ],
        today=today,
        title="What cures on the shelf, and until when",
        width=width,
        prefix=f"cure{width}",
    )


# --- one lot -------------------------------------------------------------------------------------


def lot(request, code):
    """Show a candle lot; a POST names what it does in ``do``."""
    found = get_object_or_404(Lot.objects.select_related("item__design"), code=code)
    if found.item.kind != Kind.CANDLE:
        return redirect("stores:lot", code=code)
    page = LotPage(request, found)
    if request.method == "POST" and (said := page.act(request.POST.get("do", ""))):
        doors.say(request, said)
        return redirect("shelf:lot", code=code)
    return render(request, "shelf/lot.html", page.context())


class LotPage:
    """A lot's page: its forms, the one that was sent among them, and what each does."""

    def __init__(self, request, lot: Lot) -> None:
        self.request = request
        self.lot = lot
        self.on = doors.today()
        self.workshop = request.workshop
        self.finishing = Finishing.objects.filter(lot=lot).first() or Finishing(lot=lot)
        self.balances = queries.places_of(lot)
        self.at = {balance.place: balance for balance in self.balances}
        self.sent: dict[str, object] = {}

    def form(self, name: str, kind, data=None, **more):
        """Return the form that was sent under this name, or a fresh one."""
        if data is None and name in self.sent:
            return self.sent[name]
        form = kind(data, workshop=self.workshop, auto_id=f"{name}-%s", **more)
        if data is not None:
            self.sent[name] = form
        return form

    def act(self, do: str) -> str:
        """Do what was sent and return what to say, or "" where something was refused."""
        name, _, about = do.partition(":")
        action = getattr(self, f"do_{name}", None)
        if action is None:
            raise Http404(do)
        return action(self.request.POST, about) or ""

    def places(self) -> list[str]:
        return [place for place in self.at if place in INSIDE]

    def _stamp(self) -> dict:
        return {"on": self.on, "at": doors.now()}

    # Each returns the words to say when it was done.

    def do_finish(self, data, _):
        form = self.form("finish", forms.FinishForm, data, finishing=self.finishing)
        if not form.is_valid():
            return None
        with doors.refusals(form):
            if not all(form.ticks.values()):
                for check, done in form.ticks.items():
                    services.tick(self.lot, check=check, done=done, by=form.cleaned_data["by"])
                return "The ticks are kept."
            services.finish(
                self.lot,
                checks=form.ticks,
                by=form.cleaned_data["by"],
                minutes=form.cleaned_data["minutes"],
                note=form.cleaned_data["note"],
                client_id=form.cleaned_data["client_id"],
                workshop=self.workshop,
                **self._stamp(),
            )
            return f"Lot {self.lot.code} is finished; its parts are taken from the store."
        return None

    def do_unfinish(self, data, _):
        form = self.form("unfinish", forms.TakeBackFinishingForm, data)
        if form.is_valid():
            with doors.refusals(form):
                services.take_back_finishing(self.lot, **form.cleaned_data, **self._stamp())
                return "The finishing is taken back; its parts are in the store again."
        return None

    def do_aside(self, data, _):
        form = self.form("aside", forms.AsideForm, data)
        if form.is_valid():
            with doors.refusals(form):
                made = stores.set_aside(
                    lot=self.lot, place=Place.SHELF, **form.cleaned_data, **self._stamp()
                )
                return f"{form.cleaned_data['qty']} set aside as lot {made.code}."
        return None

    def do_scrap(self, data, _):
        form = self.form("scrap", forms.ScrapForm, data, places=self.places())
        if form.is_valid():
            with doors.refusals(form):
                stores.scrap(lot=self.lot, **form.cleaned_data, **self._stamp())
                return f"{form.cleaned_data['qty']} scrapped."
        return None

    def do_count(self, data, _):
        form = self.form("count", forms.CountForm, data, places=self.places() or [Place.SHELF])
        if form.is_valid():
            with doors.refusals(form):
                entry = stores.count(lot=self.lot, **form.cleaned_data, **self._stamp())
                return "The count is entered." if entry else "The count agrees with the books."
        return None

    def do_burn(self, data, _):
        form = self.form("burn", forms.BurnForm, data)
        if form.is_valid():
            with doors.refusals(form):
                services.burn(self.lot, **form.cleaned_data, **self._stamp())
                return f"{form.cleaned_data['qty']} burnt."
        return None

    def do_look(self, data, _):
        form = self.form("look", forms.LookForm, data)
        if form.is_valid():
            with doors.refusals(form):
                entry = orders.return_to_shelf(self.lot, **form.cleaned_data, **self._stamp())
                shelved = entry.moves.get(to_place=Place.SHELF).lot
                return f"Back on the shelf as lot {shelved.code}, which waits for its release."
        return None

    def do_undo(self, data, _):
        form = self.form("undo", forms.UndoForm, data, entries=self.undoable())
        if form.is_valid():
            with doors.refusals(form):
                ledger.undo(
                    Entry.objects.get(pk=form.cleaned_data["entry"]),
                    reason=form.cleaned_data["reason"],
                    **self._stamp(),
                )
                return "Undone; the books show both."
        return None

    def undoable(self) -> list[tuple[int, str]]:
        """Return burns and returns that can be undone; the rest is undone in the ledger."""
        return [
            (event.entry, f"{event.what}, {event.on.day} {event.on:%b %Y}: {event.qty}")
            for event in queries.history(self.lot)
            if event.kind in (EntryKind.TEST, EntryKind.RETURN) and not event.undone
        ]

    def context(self) -> dict:
        came = came_from(self.lot)
        version = came.version
        shown = version or newest_versions({self.lot.item_id}).get(self.lot.item_id)
        shelf_qty = self.at[Place.SHELF].qty if Place.SHELF in self.at else 0
        parts = (
            []
            if self.finishing.done_at or services.packed_before(self.lot)
            else services.parts_needed(version, shelf_qty)
        )
        released = gates.is_released(self.lot)
        main_place = next(iter(self.places()), Place.SHELF)
        tone, word = queries.state_of(
            self.lot,
            place=main_place,
            lot_released=released,
            design_released=version is None or gates.is_released(version),
            withdrawn=self.lot.pk in gates.withdrawn_lots([self.lot.pk]),
            on=self.on,
        )
        if not self.places():
            tone, word = "quiet", "none left here"
        cost = queries.cost_of(self.lot)
        return {
            "lot": self.lot,
            "came": came,
            "version": version,
            "pictures": _pictures(shown, self.request.workshop.units) if shown else None,
            "balances": self.balances,
            "at": self.at,
            "shelf_qty": shelf_qty,
            "tone": tone,
            "word": word,
            "cost": cost,
            "cost_picture": _cost_picture(cost, self.workshop.currency) if cost else "",
            "gate": gate_of(self.lot, on=self.on),
            "finishing": self.finishing,
            "finish_form": self.form("finish", forms.FinishForm, finishing=self.finishing),
            "unfinish_form": self.form("unfinish", forms.TakeBackFinishingForm),
            "parts": [
                (item, qty, there := ledger.stock_of(item), max(qty - there, 0))
                for item, qty in parts
            ],
            "actions": self._actions(),
            "history": queries.history(self.lot),
        }

    def _actions(self) -> list[tuple[str, str, object]]:
        actions = []
        if Place.RETURNED in self.at:
            back = self.form("look", forms.LookForm, initial={"qty": self.at[Place.RETURNED].qty})
            actions.append(("look", "Looked at: back on the shelf", back))
        if Place.TEST in self.at:
            actions.append(("burn", "Burnt in a test", self.form("burn", forms.BurnForm)))
        if Place.SHELF in self.at:
            actions.append(
                ("aside", "Testers, gifts, seconds", self.form("aside", forms.AsideForm))
            )
        if places := self.places():
            actions.append(("scrap", "Scrap", self.form("scrap", forms.ScrapForm, places=places)))
        actions.append(
            (
                "count",
                "Count",
                self.form("count", forms.CountForm, places=places or [Place.SHELF]),
            )
        )
        if entries := self.undoable():
            form = self.form("undo", forms.UndoForm, entries=entries)
            actions.append(("undo", "Undo a burn or a return", form))
        return actions


def _pictures(version, units: str) -> tuple[str, str]:
    picture = drawing(version)
    scale = shared_px_per_mm(picture, size=200)
    return (
        section_svg(picture, px_per_mm=scale, prefix="section", units=units),
        above_svg(picture, px_per_mm=scale, prefix="above", units=units),
    )


def _cost_picture(cost, currency: str) -> str:
    def text(value):
        return show_money(value, currency=currency)

    parts = tuple(
        Part(label=part.component, value=part.each, text=text(part.each)) for part in cost.parts
    )
    return stacked_bar_svg(
        [Bar(label="One candle", parts=parts, text=text(cost.each))],
        title="What one candle of this lot cost, by part",
        width=370,
    )


@require_safe
def paper(request, code):
    """Return the lot's paper as a PDF."""
    found = get_object_or_404(Lot.objects.select_related("item"), code=code, item__kind=Kind.CANDLE)
    facts = paper_of(found, workshop=request.workshop, on=doors.today())
    data = lot_paper_pdf(facts, units=request.workshop.units)
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="lot-{found.code}.pdf"'
    return response
