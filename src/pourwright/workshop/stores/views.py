"""The pages of the stores: thin; what they read is in queries, what they change in services."""

from __future__ import annotations

from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from pourwright.core import amounts
from pourwright.core.errors import BadInput
from pourwright.papers.charts import stock_level_svg
from pourwright.workshop.house.doors import now, refusals, say, today
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.stores import forms, items, queries, services, vesselview
from pourwright.workshop.stores.drawings import vessel_icon
from pourwright.workshop.stores.models import (
    Entry,
    EntryKind,
    Item,
    Kind,
    Lot,
    Place,
    Receipt,
    Spread,
    Supplier,
    VesselFacts,
)

SHOWS = (
    ("", "everything"),
    ("held", "in the store"),
    ("low", "below its reorder level"),
    ("retired", "retired"),
)
# A chart is drawn for a desk and for a phone; the page shows the one that fits.
CHART_PX = (640, 320)
# One frame for every vessel of a list, so that a tall one looks taller than a low one.
ICON_MM = 110.0
EDIT = require_http_methods(["GET", "HEAD", "POST"])


# --- what is held --------------------------------------------------------------------------------


@require_GET
def index(request: HttpRequest) -> HttpResponse:
    """List what the store holds, a kind at a time or all of it."""
    kind = request.GET.get("kind", "")
    kind = kind if kind in queries.HELD_KINDS else ""
    show = request.GET.get("show", "")
    show = show if show in dict(SHOWS) else ""
    found = page_of(
        request,
        queries.items(kind=kind, show=show, supplier=_whole(request.GET.get("supplier"))),
        search=["name", "supplier__name", "supplier_ref"],
    )
    rows = queries.held(found)
    for row in rows:
        if row.item.kind == Kind.VESSEL:
            row.icon = vessel_icon(row.item, frame_mm=ICON_MM)
    worth = queries.worth_by_kind()
    return render(
        request,
        "stores/index.html",
        {
            "slice": found,
            "rows": rows,
            "kind": kind,
            "kind_name": dict(queries.TABS).get(kind, ""),
            "show": show,
            "shows": SHOWS,
            "tabs": queries.TABS,
            "worth": worth.get(kind, 0) if kind else sum(worth.get(k, 0) for k, _ in queries.TABS),
            "soon": today() + queries.SOON,
            "today": today(),
            "searching": bool(request.GET.get("q") or show),
        },
    )


@require_GET
@vary_on_headers("HX-Request")
def item(request: HttpRequest, pk: int) -> HttpResponse:
    """Show everything of one item."""
    found = get_object_or_404(
        Item.objects.select_related("supplier", "formula", "design", *_FACTS), pk=pk
    )
    if design := getattr(found, "design", None):
        return redirect("designs:design", design.pk)
    ask = forms.AskVessel(request.GET or None, workshop=request.workshop)
    vessel = _vessel_of(request, found, ask) if found.kind == Kind.VESSEL else None
    if vessel is not None and request.htmx:
        told = {"vessel": vessel, "item": found, "ask": ask}
        return render(request, "stores/_vessel.html", told)
    row = queries.held([found])[0]
    lots = queries.lots_held(found)
    return render(
        request,
        "stores/item.html",
        {
            "item": found,
            "row": row,
            "lots": lots,
            "gone": page_of(request, queries.lots_gone(found)) if request.GET.get("gone") else None,
            "moves": queries.moves_of(found),
            "formulas": queries.formulas_with(found),
            "designs": queries.designs_with(found),
            "supplier": found.supplier,
            "facts": items.facts_of(found),
            "vessel": vessel,
            "ask": ask,
            "today": today(),
            "soon": today() + queries.SOON,
            "made_here": found.kind in (Kind.MIX, Kind.CANDLE),
        },
    )


_FACTS = ("wax", "oil", "vessel", "wick")


def _vessel_of(request, found: Item, ask) -> vesselview.VesselView | None:
    if getattr(found, "vessel", None) is None:
        return None
    asked = ask.cleaned_data if ask.is_bound and ask.is_valid() else {}
    try:
        return vesselview.view_of(
            found.vessel,
            units=request.workshop.units,
            name=found.name,
            wax=asked.get("wax"),
            fill_mg=asked.get("fill_mg"),
            height_mm=asked.get("height_mm"),
        )
    except BadInput:
        return None


@require_GET
def level(request: HttpRequest, pk: int) -> HttpResponse:
    """Show an item's level over the last year: a part of its page, or a page of its own."""
    found = get_object_or_404(Item, pk=pk)
    steps = queries.levels(found, today=today())
    units = request.workshop.units

    def show(value: float) -> str:
        if found.by_mass:
            return amounts.show_mass(amounts.from_mg(int(value)), units)
        return amounts.number(int(value), places=0)

    charts = [
        stock_level_svg(
            steps,
            until=today(),
            show=show,
            title=f"{found.name} in the store over the last twelve months",
            low=found.reorder_below,
            width=width,
            prefix=f"level-{width}",
        )
        for width in CHART_PX
    ]
    template = "stores/_level.html" if request.htmx else "stores/level.html"
    return render(request, template, {"item": found, "charts": charts, "steps": steps[::-1][:400]})


# --- new and changed items -----------------------------------------------------------------------


@EDIT
def item_new(request: HttpRequest, kind: str = "") -> HttpResponse:
    """Enter an item; without a kind, choose one first."""
    kind = kind or request.GET.get("kind", "")
    if not kind:
        return render(request, "stores/item_kind.html", {"tabs": queries.TABS[:-1]})
    if kind not in queries.SUPPLY_KINDS:
        raise Http404(f"no kind of supply {kind!r}")
    return _item_form(request, kind=kind)


@EDIT
def item_edit(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Item.objects.select_related(*_FACTS), pk=pk)
    return _item_form(request, kind=found.kind, item=found)


def _item_form(request, *, kind: str, item: Item | None = None) -> HttpResponse:
    data = request.POST or None
    workshop = request.workshop
    known = items.facts_of(item) if item else None
    supplier = _whole(request.GET.get("supplier"))
    form = forms.ItemForm(
        data,
        workshop=workshop,
        kind=kind,
        item=item,
        initial=_initial(item, forms.ItemForm) if item else {"supplier": supplier},
    )
    shape = forms.FACT_FORMS.get(kind)
    facts = None
    if shape:
        start = _initial(known or items.FACTS[kind][1](), shape)
        facts = shape(data, workshop=workshop, initial=start)
    if data and "preview" not in data:
        good = form.is_valid() and (facts is None or facts.is_valid())
        if good:
            told = facts.cleaned_data if facts else {}
            with forms.refused_facts(*filter(None, (form, facts))):
                if item is None:
                    kept = items.new_item(kind=kind, facts=told, **form.cleaned_data)
                    say(request, f"{kept.name} is in the stores’ list.")
                    if "again" in data:
                        from_them = f"?supplier={kept.supplier_id}" if kept.supplier_id else ""
                        return redirect(reverse("stores:item_new", args=[kind]) + from_them)
                else:
                    kept = items.change_item(item, facts=told, on=today(), **form.cleaned_data)
                    say(request, f"{kept.name} is changed.")
                return redirect("stores:item", kept.pk)
    preview = None
    if facts is not None and kind == Kind.VESSEL:
        preview = _preview(request, facts if facts.is_bound else None, item)
    return render(
        request,
        "stores/item_form.html",
        {
            "form": form,
            "facts": facts,
            "kind": kind,
            "kind_word": Kind(kind).label,
            "item": item,
            "preview": preview,
            "is_vessel": kind == Kind.VESSEL,
        },
    )


def _initial(record, form) -> dict:
    names = form.base_fields
    values = {name: getattr(record, name) for name in names if hasattr(record, name)}
    if "supplier" in values:
        values["supplier"] = record.supplier_id
    return values


@require_POST
def vessel_preview(request: HttpRequest) -> HttpResponse:
    """Draw the vessel that the form describes so far."""
    facts = forms.VesselForm(request.POST, workshop=request.workshop)
    return render(
        request, "stores/_vessel_preview.html", {"preview": _preview(request, facts, None)}
    )


def _preview(request, form, item: Item | None) -> dict:
    """Return the view of the vessel in a form, or why it cannot be drawn yet."""
    if form is None:
        facts = getattr(item, "vessel", None) if item else None
        if facts is None:
            return {"refused": "Give its measures, and it is drawn here."}
    else:
        form.is_valid()
        known = {k: v for k, v in form.cleaned_data.items() if v is not None}
        facts = VesselFacts(**known)
    try:
        items.check_facts(facts)
        return {
            "view": vesselview.view_of(facts, units=request.workshop.units, name="Vessel", size=200)
        }
    except BadInput as problem:
        return {"refused": str(problem)}


# --- suppliers -----------------------------------------------------------------------------------


@require_GET
def suppliers(request: HttpRequest) -> HttpResponse:
    found = page_of(request, queries.suppliers(), search=["name", "contact", "email"])
    return render(request, "stores/suppliers.html", {"slice": found})


@require_GET
def supplier(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Supplier, pk=pk)
    theirs = found.items.filter(retired=False).select_related("vessel").order_by("kind", "name")
    rows = queries.held(theirs[:200])
    for row in rows:
        if row.item.kind == Kind.VESSEL:
            row.icon = vessel_icon(row.item, frame_mm=ICON_MM)
    came = list(queries.receipts(supplier=pk)[:12])
    sums = queries.sums_of(came)
    return render(
        request,
        "stores/supplier.html",
        {
            "supplier": found,
            "rows": rows,
            "today": today(),
            "soon": today() + queries.SOON,
            "receipts": [(receipt, *sums[receipt.pk]) for receipt in came],
        },
    )


@EDIT
def supplier_new(request: HttpRequest) -> HttpResponse:
    return _supplier_form(request)


@EDIT
def supplier_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _supplier_form(request, supplier=get_object_or_404(Supplier, pk=pk))


def _supplier_form(request, supplier: Supplier | None = None) -> HttpResponse:
    initial = _initial(supplier, forms.SupplierForm) if supplier else None
    form = forms.SupplierForm(request.POST or None, workshop=request.workshop, initial=initial)
    if form.is_bound and form.is_valid():
        with forms.refused_facts(form):
            kept = items.keep_supplier(items.About(**form.cleaned_data), supplier=supplier)
            say(request, f"{kept.name} is kept.")
            return redirect("stores:supplier", kept.pk)
    return render(request, "stores/supplier_form.html", {"form": form, "supplier": supplier})


# --- receipts ------------------------------------------------------------------------------------


@require_GET
def receipts(request: HttpRequest) -> HttpResponse:
    found = page_of(
        request,
        queries.receipts(supplier=_whole(request.GET.get("supplier"))),
        search=["number", "supplier__name", "reference"],
    )
    sums = queries.sums_of(found.rows)
    return render(
        request,
        "stores/receipts.html",
        {"slice": found, "rows": [(receipt, *sums[receipt.pk]) for receipt in found]},
    )


@require_GET
def receipt(request: HttpRequest, number: str) -> HttpResponse:
    found = get_object_or_404(
        Receipt.objects.select_related("supplier", "entry__undone_by"), number=number
    )
    lines = list(found.lines.select_related("lot__item").order_by("id"))
    for line in lines:
        line.worth = line.price_minor100 + line.freight_minor100
    return render(
        request,
        "stores/receipt.html",
        {
            "receipt": found,
            "lines": lines,
            "price": sum(line.price_minor100 for line in lines),
            "total": sum(line.worth for line in lines),
            "undone": getattr(found.entry, "undone_by", None),
            "why_not": services.why_not_undone(found.entry),
        },
    )


@EDIT
def receipt_new(request: HttpRequest) -> HttpResponse:
    """Take in a parcel. ``more`` adds rows, ``preview`` works the freight out; neither records."""
    known = forms.supplies()
    data = request.POST or None
    told = {"workshop": request.workshop}
    line_told = {**told, "options": forms.ItemOptions(known)}
    effect = None
    if data and "more" in data:
        form, lines = _with_more_rows(data, told, line_told, request)
    else:
        form = forms.ReceiptForm(
            data,
            today=today(),
            initial={"on": today(), "supplier": request.GET.get("supplier")},
            **told,
        )
        first = [{"item": request.GET["item"]}] if request.GET.get("item") else None
        lines = forms.LineSet(data, prefix="lines", form_kwargs=line_told, initial=first)
        if data:
            good = form.is_valid()
            good = lines.is_valid() and good
            if "preview" in data:
                effect = _effect(form, lines, request)
            elif good:
                with refusals(form):
                    kept = services.receive(
                        lines=lines.received(),
                        at=now(),
                        **{
                            **form.cleaned_data,
                            "freight_minor100": _or_0(form, "freight_minor100"),
                        },
                    )
                    say(request, f"{kept.number} is taken in; its lots are in the store.")
                    return redirect("stores:receipt", kept.number)
    if request.htmx:
        return render(request, "stores/_effect.html", {"effect": effect})
    return render(
        request,
        "stores/receipt_form.html",
        {"form": form, "lines": lines, "effect": effect, "nothing": not known},
    )


def _or_0(form, name: str) -> int:
    return form.cleaned_data.get(name) or 0


def _with_more_rows(data, told, line_told, request):
    """Return the forms as typed, not judged yet, with three more empty lines."""
    typed = {name: data.get(name, "") for name in forms.ReceiptForm.base_fields}
    form = forms.ReceiptForm(today=today(), initial=typed, **told)
    count = min(_whole(data.get("lines-TOTAL_FORMS")) or 0, forms.MOST_LINES)
    rows = [
        {name: data.get(f"lines-{row}-{name}", "") for name in forms.LineForm.base_fields}
        for row in range(count)
    ]
    lines = forms.LineSet(prefix="lines", form_kwargs=line_told, initial=rows)
    return form, lines


def _effect(form, lines, request) -> dict:
    """Return what the freight does to each line's cost, or what is missing to say so."""
    if not form.is_valid() or not lines.is_valid():
        wrong = [str(e) for f in (form, *lines.forms) for es in f.errors.values() for e in es]
        return {"refused": wrong or ["Fill in a line: what came, how much, its price."]}
    received = lines.received()
    freight = _or_0(form, "freight_minor100")
    both = []
    for spread in Spread:
        try:
            both.append(services.freight_shares(received, freight_minor100=freight, spread=spread))
        except BadInput as problem:
            if spread == form.cleaned_data["spread"]:
                return {"refused": [str(problem)]}
            both.append([None] * len(received))
    chosen = list(Spread).index(Spread(form.cleaned_data["spread"]))
    rows = [
        {
            "line": line,
            "by_value": by_value,
            "by_weight": by_weight,
            "worth": line.price_minor100 + share,
        }
        for line, by_value, by_weight, share in zip(received, *both, both[chosen], strict=True)
    ]
    return {
        "rows": rows,
        "freight": freight,
        "total": sum(row["worth"] for row in rows),
        "spread": form.cleaned_data["spread"],
    }


# --- lots ----------------------------------------------------------------------------------------


@require_GET
def lot(request: HttpRequest, code: str) -> HttpResponse:
    """Show a lot of a supply or of scented mix; a finished candle's has its page at the shelf."""
    found = _lot(code)
    if found.item.kind == Kind.CANDLE:
        return redirect("shelf:lot", code)
    line = getattr(found, "receipt_line", None)
    moves = page_of(request, queries.moves_of_lot(found))
    for move in moves:
        move.lot = found
    balances = list(found.balances.order_by("id"))
    for balance in balances:
        balance.inside = balance.place in queries.INSIDE
    inside = [b for b in balances if b.inside and (b.qty or b.value)]
    return render(
        request,
        "stores/lot.html",
        {
            "lot": found,
            "item": found.item,
            "line": line,
            "inside": inside,
            "outside": [b for b in balances if not b.inside and b.qty > 0],
            "slice": moves,
            "origin": _origin_of(found),
            "went_into": found.went_into.filter(entry__undone_by__isnull=True).count(),
            "made_from": list(
                found.made_from.filter(entry__undone_by__isnull=True).select_related(
                    "parent__item"
                )[:30]
            ),
            "can_set_aside": found.item.kind in (Kind.MIX, Kind.CANDLE),
            "today": today(),
            "soon": today() + queries.SOON,
        },
    )


def _lot(code: str) -> Lot:
    return get_object_or_404(
        Lot.objects.select_related("item__supplier", "receipt_line__receipt__supplier"), code=code
    )


def _origin_of(lot: Lot):
    """Return the entry that made the lot."""
    first = lot.moves.select_related("entry").order_by("id").first()
    return first.entry if first else None


def _done_with(request, lot: Lot, words: str) -> HttpResponse:
    say(request, words)
    return redirect("stores:lot", lot.code)


@EDIT
def count(request: HttpRequest, code: str) -> HttpResponse:
    """Set a lot to what was counted or weighed."""
    found = _lot(code)
    places = forms.places_of(found)
    if not places:
        places = {Place.SHELF if found.item.kind == Kind.CANDLE else Place.STORE: 0}
    form = _lot_form(request, forms.CountForm, found, places)
    if form.is_bound and form.is_valid():
        with refusals(form, "counted"):
            entry = services.count(lot=found, at=now(), **form.cleaned_data)
            agreed = "The count agrees; nothing was changed."
            return _done_with(request, found, "Counted and corrected." if entry else agreed)
    return _lot_page(request, form, found, "stores/count.html")


@EDIT
def scrap(request: HttpRequest, code: str) -> HttpResponse:
    found = _lot(code)
    form = _lot_form(request, forms.ScrapForm, found, forms.places_of(found))
    if form.is_bound and form.is_valid():
        with refusals(form, "qty"):
            services.scrap(lot=found, at=now(), **form.cleaned_data)
            return _done_with(request, found, f"Scrapped from {found.code}.")
    return _lot_page(request, form, found, "stores/scrap.html")


@EDIT
def set_aside(request: HttpRequest, code: str) -> HttpResponse:
    """Set testers or gifts aside: a lot of their own."""
    found = _lot(code)
    if found.item.kind not in (Kind.CANDLE, Kind.MIX):
        raise Http404("only finished candles and scented mix are set aside")
    form = _lot_form(request, forms.SetAsideForm, found, forms.places_of(found))
    if form.is_bound and form.is_valid():
        with refusals(form, "qty"):
            made = services.set_aside(lot=found, at=now(), **form.cleaned_data)
            return _done_with(request, made, f"Set aside as lot {made.code}.")
    return _lot_page(request, form, found, "stores/set_aside.html")


def _lot_form(request, form, lot: Lot, places: dict[str, int]):
    return form(
        request.POST or None,
        workshop=request.workshop,
        lot=lot,
        places=places,
        today=today(),
        initial={"on": today()},
    )


def _lot_page(request, form, lot: Lot, template: str) -> HttpResponse:
    places = [
        {"place": Place(place).label, "qty": qty, "value": services.ledger.held(lot, place)[1]}
        for place, qty in form.places.items()
    ]
    return render(request, template, {"form": form, "lot": lot, "item": lot.item, "places": places})


# --- opening stock and the ledger ----------------------------------------------------------------


@EDIT
def opening(request: HttpRequest) -> HttpResponse:
    """Enter what was there before the books began."""
    known = {item.pk: item for item in Item.objects.filter(retired=False).order_by("kind", "name")}
    form = forms.OpeningForm(
        request.POST or None,
        workshop=request.workshop,
        options=forms.ItemOptions(known),
        today=today(),
        initial={"item": request.GET.get("item")},
    )
    if form.is_bound and form.is_valid():
        told = {k: v for k, v in form.cleaned_data.items() if v not in (None, "")}
        with refusals(form):
            made = services.open_with(on=today(), at=now(), **told)
            say(request, f"{made.item.name}: lot {made.code} is in the books.")
            if "again" in request.POST:
                return redirect("stores:opening")
            return redirect("stores:lot", made.code)
    return render(request, "stores/opening.html", {"form": form, "nothing": not known})


@require_GET
def ledger(request: HttpRequest) -> HttpResponse:
    """Show the latest entries in words."""
    kind = request.GET.get("kind", "")
    since, until = _day(request.GET.get("since")), _day(request.GET.get("until"))
    found = page_of(request, queries.entries(kind=kind, since=since, until=until))
    return render(
        request,
        "stores/ledger.html",
        {
            "slice": found,
            "events": queries.with_moves(found.rows),
            "kinds": EntryKind.choices,
            "kind": kind,
            "since": since,
            "until": until,
        },
    )


@require_GET
def entry(request: HttpRequest, pk: int) -> HttpResponse:
    return _entry_page(request, _entry(pk), form=None)


@EDIT
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo an entry with a reason, where it can be undone here."""
    found = _entry(pk)
    form = forms.UndoForm(request.POST or None, workshop=request.workshop)
    if form.is_bound and form.is_valid():
        with refusals(form):
            services.undo_entry(entry=found, on=today(), at=now(), **form.cleaned_data)
            say(request, "Undone: everything is back where it was.")
            receipt = getattr(found, "receipt", None)
            if receipt:
                return redirect("stores:receipt", receipt.number)
            return redirect("stores:entry", found.pk)
    return _entry_page(request, found, form=form)


def _entry(pk: int) -> Entry:
    return get_object_or_404(
        Entry.objects.select_related("undoes", "undone_by", "receipt", "pour"), pk=pk
    )


def _entry_page(request, found: Entry, *, form) -> HttpResponse:
    moves = page_of(request, found.moves.select_related("lot__item").order_by("id"))
    return render(
        request,
        "stores/entry.html",
        {
            "entry": found,
            "slice": moves,
            "form": form,
            "why_not": services.why_not_undone(found),
            "pour": getattr(found, "pour", None),
            "receipt": getattr(found, "receipt", None),
        },
    )


def _whole(text: str | None) -> int | None:
    """Return a whole number of an address, or None for anything else."""
    return int(text) if text and text.isdigit() and len(text) < 12 else None


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None
