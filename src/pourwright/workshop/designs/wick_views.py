"""The pages on where a design's wicks stand, and on the jigs that put them there."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.text import slugify
from django.views.decorators.http import require_safe
from django.views.decorators.vary import vary_on_headers

from pourwright.core.amounts import number
from pourwright.core.errors import BadInput
from pourwright.workshop.designs import placing, queries
from pourwright.workshop.designs.models import Design
from pourwright.workshop.designs.wick_forms import (
    MM_PER_INCH,
    PLACING,
    JigForm,
    PlacingForm,
    ReachForm,
)
from pourwright.workshop.formulas.views import version_asked

DRAWN_PX = 320
JIG_KINDS = ("pdf", "svg", "dxf", "stl", "3mf")


class _Asked:
    """A design's version, the form that places its wicks, and what comes of it."""

    def __init__(self, request, pk: int) -> None:
        self.design = get_object_or_404(Design, pk=pk)
        versions = list(queries.versions_with_all().filter(design=self.design).order_by("-number"))
        self.version = version_asked(request, versions)
        self.form = PlacingForm(request.GET, workshop=request.workshop)
        self.inside = None
        self.lacking: placing.NotPlaced | None = None
        if self.form.is_valid():
            try:
                self.inside = placing.inside_for(self.version, self.form.asked().shape)
            except placing.NotPlaced as lacking:
                self.lacking = lacking
            except BadInput as problem:
                self.form.add_error("width_mm", str(problem))

    @property
    def is_quick(self) -> bool:
        return placing.is_quick(self.inside, self.version.wick_count, self.form.asked())

    def placement(self):
        """Return the placement, or None with what does not fit told beside its field."""
        try:
            return placing.placed(self.inside, self.version.wick_count, self.form.asked())
        except BadInput as problem:
            several = self.version.wick_count > 1
            self.form.add_error("spacing_mm" if several else "gap_mm", str(problem))
            return None

    def context(self) -> dict:
        return {
            "design": self.design,
            "version": self.version,
            "form": self.form,
            "lacking": self.lacking,
            "round": self.inside is not None and placing.is_round(self.inside.surface),
        }

    def query(self, request) -> str:
        """Return what places the wicks, to carry along in an address."""
        kept = {name: request.GET[name] for name in PLACING if request.GET.get(name)}
        return urlencode({"version": self.version.number, **kept})


@require_safe
@vary_on_headers("HX-Request")
def wicks(request, pk: int):
    """Show where a design's wicks stand and what lone pools of a reach would cover."""
    asked = _Asked(request, pk)
    reach_form = ReachForm(request.GET, workshop=request.workshop)
    reach_form.is_valid()
    context = {**asked.context(), "reach_form": reach_form, "query": asked.query(request)}
    if asked.inside is not None:
        if request.htmx or request.GET.get("now") or asked.is_quick:
            context |= _shown(asked, reach_form, request.workshop)
        else:
            # A search may take a second or two: the page comes first, and asks for it.
            context["waiting"] = request.GET.urlencode()
        _slide(reach_form, asked, context.get("placement"), request)
    context["wrong"] = [box for one in (reach_form, asked.form) for box in one if box.errors]
    return render(request, f"designs/{'_placed' if request.htmx else 'wicks'}.html", context)


def _shown(asked: _Asked, reach_form: ReachForm, workshop) -> dict:
    """Return a placement's figures and picture, at the reach asked for or its own."""
    from pourwright.papers.wicks_above import wicks_above_svg

    found = asked.placement()
    if found is None:
        return {}
    surface, question = asked.inside.surface, asked.form.asked()
    given = reach_form.cleaned_data.get("reach")
    reach = found.reach_mm if given is None else float(given)
    return {
        "placement": found,
        "inside": asked.inside,
        "places": places(found),
        "reach_mm": reach,
        "covered_pct": 100 * placing.covered(found, surface, reach_mm=reach),
        "near": placing.too_near(found, question),
        "rings": placing.rings(surface, asked.version.wick_count, question),
        "scatter": placing.scatter(found.positions_mm, surface),
        "asked": question,
        "picture": wicks_above_svg(
            found.positions_mm, asked.inside, pool_radius_mm=reach, size=DRAWN_PX,
            units=workshop.units, name=asked.design.name, prefix="wicks-above",
        ),
    }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """A wick's place from the vessel's middle, as the table shows it."""

    right_mm: str
    away_mm: str
    right_in: str
    away_in: str


def places(found) -> list[Place]:
    """Return the places in millimetres to the tenth and inches to the hundredth."""
    return [
        Place(_bare(x, 1), _bare(y, 1), _bare(x / float(MM_PER_INCH), 2),
              _bare(y / float(MM_PER_INCH), 2))
        for x, y in found.positions_mm
    ]  # fmt: skip


def _bare(value: float, places: int) -> str:
    return number(Fraction(round(value, places) + 0.0), places=places)


def _slide(reach_form: ReachForm, asked: _Asked, found, request) -> None:
    """Fit the reach's box to the vessel: what it starts with and how far it slides."""
    surface = asked.inside.surface
    most = 1.2 * max(surface.half_width_mm, surface.half_height_mm)
    attributes = reach_form.fields["reach"].widget.attrs
    step = "0.02" if reach_form.us else "0.5"
    attributes["data-slide"] = f"{reach_form.from_mm(2)} {reach_form.from_mm(most)} {step}"
    attributes |= {
        "hx-get": reverse("designs:wicks", args=[asked.design.pk]),
        "hx-trigger": "input delay:150ms, change",
        "hx-include": "closest form",
        "hx-target": "#placed",
        "hx-swap": "outerHTML",
        "hx-sync": "this:replace",
    }
    if found is not None and not request.GET.get("reach"):
        reach_form.data = {**request.GET.dict(), "reach": str(reach_form.from_mm(found.reach_mm))}


# --- the jigs ------------------------------------------------------------------------------------


class _AskedJig(_Asked):
    """The jig asked for: for the placement, by a form of its own."""

    def __init__(self, request, pk: int) -> None:
        super().__init__(request, pk)
        self.jig_form = JigForm(request.GET, workshop=request.workshop)
        self.jig = None
        self.found = None if self.inside is None else self.placement()
        if self.jig_form.is_valid() and self.found is not None:
            self.jig = self.jig_form.jig(self.found.positions_mm, self.inside)


@require_safe
def jig(request, pk: int):
    """Show a wick bar or a setting guide for the placement, and its files."""
    asked = _AskedJig(request, pk)
    context = asked.context() | {
        "jig_form": asked.jig_form,
        "query": asked.query(request),
        "carried": [(name, request.GET[name]) for name in PLACING if request.GET.get(name)],
        "placement": asked.found,
    }
    if asked.jig is not None:
        context |= _of_the_jig(asked, request)
    return render(request, "designs/jig.html", context)


def _of_the_jig(asked: _AskedJig, request) -> dict:
    from pourwright.core.wicks.jigs import CAUTIONS
    from pourwright.papers.jigs.preview import jig_preview_svg
    from pourwright.papers.jigs.template import sheets_for

    try:
        sheets = sheets_for(asked.jig, paper=asked.jig_form.cleaned_data["paper"])
    except BadInput as problem:
        asked.jig_form.add_error("paper", str(problem))
        return {}
    query = f"{asked.query(request)}&{urlencode(_sent(asked.jig_form))}"
    return {
        "jig": asked.jig,
        "sheets": sheets.columns * sheets.rows,
        "sheets_wide": sheets.columns,
        "sheets_high": sheets.rows,
        "files": [
            (kind, f"{reverse('designs:jig_file', args=[asked.design.pk, kind])}?{query}")
            for kind in (*JIG_KINDS, "zip")
        ],
        "cautions": CAUTIONS,
        "picture": jig_preview_svg(
            asked.jig, wall_mm=asked.inside.wall_mm, size=DRAWN_PX + 40,
            units=request.workshop.units,
        ),
    }  # fmt: skip


def _sent(form: JigForm) -> dict:
    return {name: form.data[name] for name in form.fields if form.data.get(name)}


@require_safe
def jig_file(request, pk: int, kind: str):
    """Save a jig in one format, or all in a zip; what cannot be made is told on its page."""
    if kind not in (*JIG_KINDS, "zip"):
        raise Http404(kind)
    asked = _AskedJig(request, pk)
    back = redirect(f"{reverse('designs:jig', args=[pk])}?{request.GET.urlencode()}")
    if asked.jig is None:
        return back
    from pourwright.papers.jigs.files import MIME, jig_file, jig_zip

    what = "wick bar" if asked.jig.form == "bar" else "setting guide"
    title = f"{asked.design.name}, version {asked.version.number}: {what}"
    name = f"{slugify(asked.design.name) or 'candle'}-{what.replace(' ', '-')}"
    paper = asked.jig_form.cleaned_data["paper"]
    try:
        if kind == "zip":
            data = jig_zip(asked.jig, name=name, title=title, paper=paper)
        else:
            data = jig_file(asked.jig, kind, title=title, paper=paper)
    except BadInput:
        return back
    answer = HttpResponse(data, content_type=MIME[kind])
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    return answer
