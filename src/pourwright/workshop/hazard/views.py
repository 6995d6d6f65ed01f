"""The pages of compositions and safety sheets: thin; rules are in the core, writing in keeping."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django.views.decorators.vary import vary_on_headers

from pourwright.core.errors import BadInput
from pourwright.intake import tables
from pourwright.intake.sheets import SheetUnreadable, read_sheet
from pourwright.workshop.hazard import (
    alone,
    drafts,
    forms,
    keeping,
    pasting,
    queries,
    services,
    show,
)
from pourwright.workshop.hazard.models import (
    MELTED_KINDS,
    ItemComposition,
    Made,
    SafetySheet,
    SheetFile,
    State,
)
from pourwright.workshop.hazard.pictures import picture
from pourwright.workshop.house.doors import now, refusals, say, today, warn
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.stores.forms import refused_facts
from pourwright.workshop.stores.models import Item

EDIT = require_http_methods(["GET", "HEAD", "POST"])
FIRST_ROWS = 3
# Never changes under its address, which is the hash of its bytes.
FOR_GOOD = "private, max-age=31536000, immutable"


# --- lists ---------------------------------------------------------------------------------------


@require_GET
def index(request: HttpRequest) -> HttpResponse:
    """List everything that melts into a candle, and what is known of each."""
    chosen = request.GET.get("show", "")
    chosen = chosen if chosen in dict(queries.SHOWS) else ""
    kind = request.GET.get("kind", "")
    kind = kind if kind in MELTED_KINDS else ""
    found = page_of(
        request,
        queries.items(kind=kind, show=chosen, on=today(), workshop=request.workshop),
        search=["name", "supplier__name"],
    )
    return render(
        request,
        "hazard/index.html",
        {
            "slice": found,
            "rows": queries.listed(found, on=today(), workshop=request.workshop),
            "shows": queries.SHOWS,
            "show": chosen,
            "kinds": queries.KINDS,
            "kind": kind,
            "searching": bool(request.GET.get("q") or chosen or kind),
        },
    )


@require_GET
def substances(request: HttpRequest) -> HttpResponse:
    """Show the substances that come with the program, each with its source and how it was read."""
    return render(request, "hazard/substances.html", {"rows": show.reference_rows()})


# --- an item's compositions ----------------------------------------------------------------------


@require_GET
def item(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what an item is made of, its sheets and every version there was."""
    found = _item(pk)
    versions = list(
        found.compositions.select_related("sheet").defer("typed", "reading").order_by("-number")
    )
    return render(
        request,
        "hazard/item.html",
        {
            "item": found,
            "known": show.known_of(found, on=today(), workshop=request.workshop),
            "versions": versions,
            "sheets": queries.sheets_of(found),
        },
    )


@require_GET
@vary_on_headers("HX-Request")
def alone_in_wax(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what a candle with one oil alone would carry: a part of the oil's page, or a page."""
    found = _item(pk)
    counts = services.composition_of(found)
    if counts is None:
        raise Http404("nothing counts for it yet")
    markets = alone.markets_of(request.workshop.market_list)
    asked = request.GET.get("market", "")
    market = next((one for one in markets if one == asked), markets[0])
    told = {
        "item": found,
        "alone": alone.alone(counts, market=market, on=today()),
        "markets": [(one, alone.MARKET_NAMES[one]) for one in markets],
    }
    template = "hazard/_alone.html" if request.htmx else "hazard/alone.html"
    return render(request, template, told)


@EDIT
def sheet_add(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a safety sheet in: keep its file, read it, and lead on to what was found."""
    found = _item(pk)
    form = forms.SheetForm(request.POST or None, request.FILES or None, workshop=request.workshop)
    if form.is_bound and form.is_valid():
        with refusals(form, "file"):
            made = _from_sheet(request, found, form)
            return redirect("hazard:composition", made.pk)
    return render(request, "hazard/sheet_add.html", {"item": found, "form": form})


def _from_sheet(request, item: Item, form: forms.SheetForm) -> ItemComposition:
    file = form.cleaned_data["file"]
    content = file.read()
    keeping.check_file(content)
    reading = None if form.cleaned_data["only_keep"] else read_sheet(content)
    sheet = keeping.keep_sheet(
        content,
        name=file.name,
        at=now(),
        pages=reading and reading.page_count,
        has_text=reading and reading.has_text,
    )
    if there := item.compositions.filter(sheet=sheet, state__in=[State.DRAFT, State.CONFIRMED]):
        known = there.order_by("-number")[0]
        warn(request, f"This very sheet is here already: {known.get_state_display()}.")
        return known
    if reading is not None and not reading.has_text:
        warn(request, "This sheet is a picture of text and cannot be read. Type it from the pages.")
    elif reading is not None and not reading.rows:
        warn(request, "No table of substances was found. Type it from the pages beside the form.")
    elif reading is not None:
        say(request, f"{len(reading.rows)} substances were found. Look each one over.")
    return keeping.begin(
        item,
        made=Made.SHEET,
        at=now(),
        typed=drafts.typed_from(reading) if reading else {},
        reading=drafts.places_of(reading) if reading else {},
        sheet=sheet,
    )


@EDIT
def paste(request: HttpRequest, pk: int) -> HttpResponse:
    """Take rows from a spreadsheet as a draft to look over."""
    found = _item(pk)
    form = forms.PasteForm(request.POST or None, request.FILES or None, workshop=request.workshop)
    if form.is_bound and form.is_valid():
        file = form.cleaned_data.get("file")
        with refusals(form, "file" if file else "text"):
            lines = (
                tables.read_file(file.read())
                if file
                else tables.read_text(form.cleaned_data["text"])
            )
            rows = pasting.typed_rows(lines)
            made = keeping.begin(found, made=Made.PASTED, at=now(), typed={"rows": rows})
            say(request, f"{len(rows)} rows were read. Look each one over.")
            return redirect("hazard:composition", made.pk)
    return render(request, "hazard/paste.html", {"item": found, "form": form})


@EDIT
def type_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Type a composition; nothing is kept before it is sent."""
    return _draft_page(request, _item(pk), None)


@EDIT
def composition(request: HttpRequest, pk: int) -> HttpResponse:
    """Look a draft over and confirm it; show one that stands as it is."""
    found = get_object_or_404(
        ItemComposition.objects.select_related("item", "sheet").prefetch_related("rows"), pk=pk
    )
    if found.is_draft:
        return _draft_page(request, found.item, found)
    if request.method == "POST":
        raise Http404("what was confirmed is not edited")
    return render(
        request,
        "hazard/composition.html",
        {
            "composition": found,
            "item": found.item,
            "facts": show.told_of(found, on=today(), workshop=request.workshop),
        },
    )


def _draft_page(request, item: Item, draft: ItemComposition | None) -> HttpResponse:
    """Show the form of a composition, with what was found beside it; keep it or confirm it."""
    data = request.POST if request.method == "POST" else None
    told = {"item": item, "workshop": request.workshop}
    if data is not None and "more" in data:
        sheet = forms.more_rows(data, **told)
    elif data is not None:
        sheet = forms.Sheet(data=data, **told)
        if data.get("do") == "keep":
            kept = _keep(item, draft, sheet)
            say(request, "Kept as a draft. It counts once you confirm it.")
            return redirect("hazard:composition", kept.pk)
        if sheet.is_valid():
            with refused_facts(sheet.head), _refused(sheet.head):
                _confirm(request, item, draft, sheet)
                say(request, f"Confirmed: from now on this counts for {item.name}.")
                return redirect(reverse("stores:item", args=[item.pk]) + "#composition")
    else:
        typed = forms.begun(draft)
        sheet = forms.Sheet(typed=typed, empty_rows=0 if typed.get("rows") else FIRST_ROWS, **told)
    return render(
        request,
        "hazard/draft.html",
        {
            "item": item,
            "draft": draft,
            "sheet": sheet,
            "cards": show.cards(sheet, draft),
            "empty_card": show.Card(form=sheet.rows.empty_form, number=0),
            "pages": show.pages_of(draft),
            "texts": (draft.reading.get("texts") or {}) if draft else {},
            "notes": (draft.reading.get("notes") or []) if draft else [],
            "change": show.change_of(draft, on=today(), workshop=request.workshop)
            if draft and data is None
            else None,
        },
    )


@contextmanager
def _refused(form) -> Iterator[None]:
    """Put a refusal that names a field of the form beside it."""
    try:
        yield
    except (keeping.CannotKeep, keeping.BadRow) as problem:
        form.add_error(problem.field if problem.field in form.fields else None, str(problem))


def _keep(item: Item, draft: ItemComposition | None, sheet: forms.Sheet) -> ItemComposition:
    if draft is None:
        return keeping.begin(item, made=Made.TYPED, at=now(), typed=sheet.typed())
    keeping.keep_draft(draft, typed=sheet.typed())
    return draft


def _confirm(request, item: Item, draft: ItemComposition | None, sheet: forms.Sheet) -> None:
    keeping.settle(
        item,
        draft=draft,
        head=sheet.head.head(),
        rows=sheet.rows.rows(),
        facts_too=bool(sheet.head.cleaned_data.get("facts_too")),
        by=request.workshop.maker,
        on=today(),
        at=now(),
    )


@require_POST
def discard(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a draft away."""
    found = get_object_or_404(ItemComposition.objects.select_related("item"), pk=pk)
    try:
        keeping.discard(found)
    except keeping.CannotKeep as problem:
        warn(request, str(problem))
        return redirect("hazard:composition", pk)
    say(request, "The draft is thrown away.")
    return redirect("hazard:item", found.item_id)


@require_POST
def again(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin the next version from one that stands."""
    found = get_object_or_404(ItemComposition.objects.select_related("item", "sheet"), pk=pk)
    made = keeping.redraft(found, at=now())
    return redirect("hazard:composition", made.pk)


@EDIT
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back what counts, with a reason."""
    found = get_object_or_404(
        ItemComposition.objects.select_related("item"), pk=pk, state=State.CONFIRMED
    )
    form = forms.WithdrawForm(request.POST or None, workshop=request.workshop)
    if form.is_bound and form.is_valid():
        with refusals(form, "reason"):
            keeping.withdraw(found, reason=form.cleaned_data["reason"], at=now())
            say(request, f"It no longer counts: {found.item.name} has no composition now.")
            return redirect("hazard:item", found.item_id)
    return render(
        request,
        "hazard/withdraw.html",
        {
            "composition": found,
            "item": found.item,
            "form": form,
            "designs": queries.designs_with(found.item),
        },
    )


# --- files ---------------------------------------------------------------------------------------


@require_GET
def sheet_file(request: HttpRequest, sha256: str) -> HttpResponse:
    """Send a sheet as it was brought in."""
    sheet = get_object_or_404(SafetySheet, sha256=sha256)
    content = get_object_or_404(SheetFile, sheet=sheet).content
    response = HttpResponse(bytes(content), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{_ascii(sheet.name)}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = FOR_GOOD
    return response


def _ascii(name: str) -> str:
    return name.encode("ascii", "replace").decode().replace("?", "_").replace('"', "_")


@require_GET
def sheet_page(request: HttpRequest, sha256: str, page: int) -> HttpResponse:
    """Send one page of a sheet as a picture."""
    try:
        data = picture(sha256, page)
    except SheetFile.DoesNotExist as problem:
        raise Http404("there is no such sheet") from problem
    except SheetUnreadable as problem:
        raise Http404(str(problem)) from problem
    response = HttpResponse(data, content_type="image/png")
    response["Cache-Control"] = FOR_GOOD
    return response


def _item(pk: int) -> Item:
    found = get_object_or_404(Item.objects.select_related("supplier", "oil"), pk=pk)
    try:
        keeping.refuse_unmelted(found)
    except BadInput as problem:
        raise Http404(str(problem)) from problem
    return found
