"""Labels: a design's label on its candle, a lot's labels on paper, sheets and printers."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from pourwright.core.labelling.needs import ADVICE
from pourwright.papers.labels import sheets as papers
from pourwright.papers.labels.pdf import labels_pdf, single_page
from pourwright.papers.labels.svg_out import label_svg
from pourwright.workshop.contents.queries import lot_size
from pourwright.workshop.designs import queries as designs
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.house import doors
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.labels import composing, forms, services, show
from pourwright.workshop.labels.models import LabelPrint, Printer, SheetSize
from pourwright.workshop.stores.models import Kind, Lot


def _page(request, template: str, context: dict, *, status: int = 200):
    """Every label page ends with the closing caution."""
    return render(request, f"labels/{template}.html", context | {"advice": ADVICE}, status=status)


@require_safe
def index(request):
    """Show what was printed lately, and the sheets and printers."""
    printed = page_of(
        request,
        LabelPrint.objects.select_related("lot__item", "version__design"),
        search=("lot__code", "lot__item__name", "face"),
        size=25,
    )
    return _page(
        request,
        "index",
        {
            "slice": printed,
            "own": list(SheetSize.objects.all()),
            "sheets": list(services.sheets().items()),
            "printers": list(Printer.objects.all()),
        },
    )


# --- a design's label ----------------------------------------------------------------------------


def _version(pk: int) -> DesignVersion:
    found = designs.versions_with_all().filter(design=pk).order_by("-number").first()
    if found is None:
        raise Http404(pk)
    return found


@vary_on_headers("HX-Request")
def design(request, pk: int):
    """Show a design's labels on its candle; a POST names what it does in ``do``."""
    version = _version(pk)
    look = composing.look_of(version.design, request.workshop)
    do = request.POST.get("do", "") if request.method == "POST" else ""
    art_form = forms.ArtForm()
    if do == "art":
        art_form = forms.ArtForm(request.POST, request.FILES, label_suffix="")
        if art_form.is_valid() and _keep_art(request, version, art_form):
            return redirect(reverse("labels:design", args=[pk]) + "#art")
    elif do == "leave_art":
        services.leave_art(version.design)
        doors.say(request, "The picture is taken off.")
        return redirect("labels:design", pk=pk)
    data = request.POST if do in ("keep", "show") else None
    form = forms.LookForm(data, instance=look, workshop=request.workshop)
    if data is not None and form.is_valid() and do == "keep" and not request.htmx:
        services.keep_look(form.instance)
        doors.say(request, "Kept. Every lot’s labels are now printed this way.")
        return redirect("labels:design", pk=pk)
    if data is not None and not form.is_valid():
        # What cannot be read is said at its field; the label is shown as it is kept.
        look = composing.look_of(version.design, request.workshop)
    context = _label_context(request, version, look)
    form.propose(context["labels"])
    context |= {"form": form, "art_form": art_form, "look": look, "unkept": do == "show"}
    return _page(request, "_labels" if request.htmx else "design", context)


def _keep_art(request, version, form) -> bool:
    given = form.cleaned_data["art"]
    with doors.refusals(form, "art"):
        services.keep_art(
            version.design, name=given.name, data=given.read(), at=doors.now(),
            workshop=request.workshop,
        )  # fmt: skip
        doors.say(request, "The picture is on the label.")
        return True
    return False


def _label_context(request, version: DesignVersion, look) -> dict:
    facts = composing.facts_of(version, on=doors.today(), workshop=request.workshop, look=look)
    labels = composing.compose(version, look, facts)
    front, base = show.on_candle(labels, version)
    return {
        "design": version.design,
        "version": version,
        "labels": labels,
        "front": front,
        "base": base,
        "faces": show.shown(labels),
        "lines": show.checklist(labels, version),
        "ways": composing.ways_out(version, look, labels),
        "narrows": labels.measures.narrows,
    }


def _one_face(request, pk: int, key: str) -> composing.Face:
    version = _version(pk)
    look = composing.look_of(version.design, request.workshop)
    facts = composing.facts_of(version, on=doors.today(), workshop=request.workshop, look=look)
    face = composing.compose(version, look, facts, only=(key,)).face(key)
    if face is None or not face.drawings:
        raise Http404(key)
    return face


@require_safe
def face_pdf(request, pk: int, face: str):
    """Return one face at its true size, with marks to cut by, as it would be without a lot."""
    found = _one_face(request, pk, face)
    pages = [single_page(one, across=services.DRAFT) for one in found.drawings]
    title = found.drawings[0].title
    return _file(labels_pdf(pages, title=title), name=f"label-{face}.pdf", kind="application/pdf")


@require_safe
def face_svg(request, pk: int, face: str):
    """Return the first drawing of a face as an SVG file with its fonts."""
    drawn = _one_face(request, pk, face).drawings[0]
    return _file(
        label_svg(drawn, letters="text").encode(), name=f"label-{face}.svg", kind="image/svg+xml",
        how="attachment",
    )  # fmt: skip


def _file(data: bytes, *, name: str, kind: str, how: str = "inline") -> HttpResponse:
    response = HttpResponse(data, content_type=kind)
    response["Content-Disposition"] = f'{how}; filename="{name}"'
    return response


# --- a lot's labels ------------------------------------------------------------------------------


def lot(request, code: str):
    """Print a lot's labels, with its number filled in; what was printed is kept on record."""
    found = get_object_or_404(Lot.objects.select_related("item"), code=code, item__kind=Kind.CANDLE)
    on = doors.today()
    context = {"lot": found, "prints": list(services.printed_of(found)[:50])}
    try:
        version, labels = services.labels_of(found, on=on, workshop=request.workshop)
    except services.CannotPrint as problem:
        return _page(request, "lot", context | {"problem": str(problem)})
    version = designs.versions_with_all().get(pk=version.pk)
    reasons = labels.standing_in_the_way
    first = [face.key for face in labels.faces if face.counts and not face.problem]
    form = forms.PrintForm(
        request.POST or None, workshop=request.workshop, labels=labels,
        initial={
            "faces": first, "number": lot_size(found), "cut": True, "draft": bool(reasons),
            "sheet": services.plain_for(labels, units=request.workshop.units),
        },
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            pdf = services.print_labels(
                found, form.printing, on=on, at=doors.now(), workshop=request.workshop,
                client_id=form.cleaned_data["client_id"],
            )  # fmt: skip
            return _file(pdf, name=f"labels-{found.code}.pdf", kind="application/pdf",
                         how="attachment")  # fmt: skip
    front, base = show.on_candle(labels, version)
    context |= {
        "form": form, "labels": labels, "version": version, "reasons": reasons, "front": front,
        "base": base, "sheets": services.sheets(),
    }  # fmt: skip
    return _page(request, "lot", context, status=422 if form.errors else 200)


# --- sheets and printers -------------------------------------------------------------------------


def new_sheet(request):
    return _edit_sheet(request, None)


def sheet(request, pk: int):
    found = get_object_or_404(SheetSize, pk=pk)
    if request.method == "POST" and request.POST.get("do") == "leave":
        found.delete()
        doors.say(request, "The sheet is gone; what was printed on it stays on record.")
        return redirect("labels:index")
    return _edit_sheet(request, found)


def _edit_sheet(request, found: SheetSize | None):
    form = forms.SheetForm(request.POST or None, instance=found, workshop=request.workshop)
    if form.is_valid():
        kept = form.save()
        doors.say(request, "Kept. Print its test page before the first labels.")
        return redirect(reverse("labels:index") + f"#sheet-{kept.pk}")
    return _page(request, "sheet", {"form": form, "sheet": found})


@require_safe
def test_page(request, key: str):
    """Return a sheet’s test page, moved by the offset of the printer that ``?printer=`` names."""
    found = services.sheets().get(key)
    if found is None:
        raise Http404(key)
    moved = found
    if (asked := request.GET.get("printer", "")).isdigit():
        moved = services.offset(found, get_object_or_404(Printer, pk=asked))
    pdf = labels_pdf([papers.test_page(moved)], title=f"Test page, {found.name}")
    return _file(pdf, name=f"test-{key}.pdf", kind="application/pdf")


def new_printer(request):
    return _edit_printer(request, None)


def printer(request, pk: int):
    return _edit_printer(request, get_object_or_404(Printer, pk=pk))


def _edit_printer(request, found: Printer | None):
    form = forms.PrinterForm(request.POST or None, instance=found, workshop=request.workshop)
    if form.is_valid():
        kept = form.save(commit=False)
        kept.measured_on = doors.today()
        kept.save()
        doors.say(request, f"{kept.name} is kept; choose it when you print.")
        return redirect("labels:index")
    return _page(request, "printer",
        {"form": form, "printer": found, "sheets": list(services.sheets().items())},
    )  # fmt: skip
