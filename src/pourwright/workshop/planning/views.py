"""The plan: made, watched, followed; its melts pinned, moved and started; what can be promised."""

from __future__ import annotations

from datetime import date, timedelta

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from pourwright.core.errors import BadInput
from pourwright.papers.plan_sheets import week_plan_pdf
from pourwright.workshop.house import doors
from pourwright.workshop.planning import forms, paper, promises, services, what_if
from pourwright.workshop.planning.models import CalendarKey, Plan, PlannedMelt
from pourwright.workshop.planning.show import PlanPage


def index(request):
    """Show the plan that is followed; before there is one, how to come to it."""
    followed = services.followed()
    if followed is not None and request.method == "GET" and "all" not in request.GET:
        return redirect("planning:plan", number=followed.number)
    form = forms.MakeForm(request.POST or None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            plan = services.make(now=timezone.localtime(), **form.cleaned_data)
            return redirect("planning:plan", number=plan.number)
    plans = [(plan, services.state_of(plan)) for plan in Plan.objects.select_related("job")[:40]]
    return render(request, "planning/index.html", {"form": form, "plans": plans})


def plan(request, number: str):
    """Show a plan; a POST names what it does in ``do``."""
    found = _plan(number)
    if request.method == "POST":
        return _act(request, found)
    found = services.answered(found, at=doors.now())
    page = PlanPage(found)
    context = {
        "plan": found, "page": page, "job": found.job, "state": services.state_of(found),
        "form": forms.MakeForm(workshop=request.workshop), "today": doors.today(),
        "may_look_longer": found.answer is not None and found.start_on == doors.today(),
        "promise": forms.PromiseForm(workshop=request.workshop),
        "what_if": forms.WhatIfForm(workshop=request.workshop),
    }  # fmt: skip
    return render(request, "planning/plan.html", context)


def _act(request, found: Plan):
    match request.POST.get("do", ""):
        case "follow":
            try:
                services.follow(found)
                doors.say(request, f"{found.number} is followed from now on.")
            except BadInput as problem:
                doors.warn(request, str(problem))
        case "stop":
            services.stop(found, at=doors.now())
            doors.say(request, "Stopped. The best plan so far stays.")
        case "longer":
            try:
                found = services.look_longer(found, now=timezone.localtime())
            except BadInput as problem:
                doors.warn(request, str(problem))
        case other:
            raise Http404(other)
    return redirect("planning:plan", number=found.number)


def _plan(number: str) -> Plan:
    return get_object_or_404(Plan.objects.select_related("job", "based_on"), number=number)


@require_safe
def so_far(request, number: str):
    """Give the best that a plan's search has found until now, for its page to show."""
    found = services.answered(_plan(number), at=doors.now())
    return render(
        request, "planning/_so_far.html",
        {"plan": found, "page": PlanPage(found), "state": services.state_of(found)},
    )  # fmt: skip


@require_POST
def melt(request, pk: int):
    """Pin, move, drop or start a melt. A page with a script asks for the board alone."""
    found = get_object_or_404(PlannedMelt.objects.select_related("plan"), pk=pk)
    number = found.plan.number
    try:
        match request.POST.get("do", ""):
            case "move":
                session = forms.SessionChoice(request.POST)
                if session.is_valid():
                    services.move(found, **session.cleaned_data["to"])
                else:
                    doors.warn(request, "Choose a session of this plan to move the melt to.")
            case "pin":
                services.pin(found)
            case "unpin":
                services.pin(found, pinned=False)
            case "drop":
                services.drop(found)
            case "start":
                pour = services.start(found, on=doors.today())
                doors.say(request, f"Pour {pour.number} is planned from {number}.")
                return redirect("pours:pour", number=pour.number)
            case other:
                raise Http404(other)
    except BadInput as problem:
        doors.warn(request, str(problem))
    if request.htmx:
        page = PlanPage(_plan(number))
        return render(request, "planning/_board.html", {"plan": page.plan, "page": page})
    return redirect("planning:plan", number=number)


@require_safe
def promise(request):
    """Answer what can be promised, against the plan that is followed."""
    form = forms.PromiseForm(request.GET or None, workshop=request.workshop)
    answer = None
    if form.is_valid():
        with doors.refusals(form):
            answer = promises.promise(now=timezone.localtime(), **form.cleaned_data)
    template = "planning/_promise.html" if request.htmx else "planning/promise.html"
    found = {"promise": form, "answer": answer, "followed": services.followed()}
    return render(request, template, found)


def alternatives(request):
    """Ask for a plan under other means, to set beside the one that is followed."""
    form = forms.WhatIfForm(request.POST or None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            made = what_if.make(now=timezone.localtime(), **form.cleaned_data)
            return redirect("planning:plan", number=made.number)
    return render(request, "planning/what_if.html", {"what_if": form})


@require_safe
def week(request, number: str, monday: str):
    """Give a week of the plan as a PDF: an overview, and a sheet for each session."""
    found = services.answered(_plan(number), at=doors.now())
    try:
        day = date.fromisoformat(monday)
    except ValueError as problem:
        raise Http404(monday) from problem
    wanted = paper.week_plan(
        found, monday=day - timedelta(day.weekday()), workshop=request.workshop
    )
    name = f"{found.number} week of {wanted.monday}.pdf"
    return HttpResponse(
        week_plan_pdf(wanted, units=request.workshop.units), content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )  # fmt: skip


@require_safe
def calendar(request, word: str):
    """Give the followed plan as a calendar to whoever knows its secret word."""
    from pourwright.papers.calendar import calendar_bytes  # its library is slow to load

    if not CalendarKey.objects.filter(word=word).exists():
        raise Http404
    followed = services.followed()
    zone = timezone.get_current_timezone()
    entries = paper.calendar_entries(followed, zone=zone) if followed else []
    made = followed.made_at if followed else doors.now()
    return HttpResponse(
        calendar_bytes(entries, name=f"{request.workshop.name}: pours", made_at=made, zone=zone),
        content_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="pours.ics"'},
    )  # fmt: skip


def subscribe(request):
    """Show the calendar's address; a POST makes a new one and shuts the old."""
    key = paper.calendar_key(at=doors.now(), new=request.method == "POST")
    if request.method == "POST":
        doors.say(request, "A new address is made; the old one gives nothing any more.")
        return redirect("planning:subscribe")
    address = request.build_absolute_uri(reverse("planning:calendar", args=[key.word]))
    return render(request, "planning/subscribe.html", {"address": address, "key": key})


@require_safe
def compare(request):
    """Set two plans side by side, with what differs in words."""
    form = forms.CompareForm(request.GET or None, workshop=request.workshop)
    pages, beside = (), None
    if form.is_valid():
        one, other = form.cleaned_data["one"], form.cleaned_data["other"]
        pages = tuple(PlanPage(services.answered(p, at=doors.now())) for p in (one, other))
        beside = what_if.beside(*pages)
    return render(
        request, "planning/compare.html",
        {"form": form, "pages": pages, "beside": beside, "enough": Plan.objects.count() > 1},
    )  # fmt: skip
