"""What a plan is made with: when somebody is there, what there is, how long things take."""

from __future__ import annotations

from datetime import timedelta

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from pourwright.workshop.designs.models import Design
from pourwright.workshop.house import doors
from pourwright.workshop.planning import demand, forms
from pourwright.workshop.planning import means as services
from pourwright.workshop.planning.models import (
    DayOff,
    DesignMeans,
    ExtraSession,
    Means,
    MelterMeans,
    StockTarget,
    WeeklySession,
)
from pourwright.workshop.planning.problem import sessions_between
from pourwright.workshop.pours.models import Melter

# What can be added on the page of sessions, by the word in ``do``.
ROWS = {
    "weekly": (WeeklySession, forms.WeeklySessionForm),
    "extra": (ExtraSession, forms.ExtraSessionForm),
    "off": (DayOff, forms.DayOffForm),
}
SHOWN_DAYS = 28


def when(request):
    """Show the sessions of the week, single ones and days off; a POST adds or removes one."""
    built = {
        name: form(None, workshop=request.workshop, auto_id=f"{name}-%s")
        for name, (_, form) in ROWS.items()
    }
    if request.method == "POST":
        verb, _, name = request.POST.get("do", "").partition("-")
        if name not in ROWS:
            raise Http404(name)
        model, kind = ROWS[name]
        if verb == "remove":
            row = get_object_or_404(model, pk=request.POST.get("row") or 0)
            said = f"{row} is taken out."
            services.remove(row)
            doors.say(request, said)
            return redirect("planning:when")
        form = kind(request.POST, workshop=request.workshop, auto_id=f"{name}-%s")
        built[name] = form
        if form.is_valid():
            with doors.refusals(form):
                doors.say(request, f"{services.add(form.save(commit=False))} is in.")
                return redirect("planning:when")
    today = doors.today()
    return render(
        request,
        "planning/when.html",
        {
            "forms": built,
            "weekly": WeeklySession.objects.all(),
            "extra": ExtraSession.objects.filter(on__gte=today),
            "off": DayOff.objects.filter(until_on__gte=today),
            "weeks": services.by_week(
                sessions_between(today, today + timedelta(SHOWN_DAYS)), first=today
            ),
        },
    )


def means(request):
    """Show and change what there is and how long things take."""
    row = Means.load()
    if request.POST.get("do") == "learnt":
        services.use_learnt(on=doors.today())
        doors.say(request, "The next plan is made with what the bench has taught.")
        return redirect("planning:means")
    form = forms.MeansForm(request.POST or None, instance=row, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        form.save()
        doors.say(request, "Kept. The next plan is made with it.")
        return redirect("planning:means")
    own = {row.melter_id: row for row in MelterMeans.objects.all()}
    melters = [(melter, own.get(melter.pk)) for melter in Melter.objects.filter(retired=False)]
    return render(
        request,
        "planning/means.html",
        {"form": form, "melters": melters, "learnt": services.learnt(on=doors.today())},
    )


def wanted(request):
    """Show what the next plan is to have ready."""
    found = demand.demand(now=timezone.localtime())
    return render(request, "planning/wanted.html", {"demand": found, "today": doors.today()})


def melter(request, pk: int):
    """Say how a melter is used: one formula a melt, or plain wax drawn off into pitchers."""
    found = get_object_or_404(Melter, pk=pk)
    row = MelterMeans.objects.filter(melter=found).first() or MelterMeans(melter=found)
    names = ("minimum_mg", "pitchers", "pitcher_mg")
    form = forms.MelterMeansForm(
        request.POST or None, workshop=request.workshop,
        initial={name: getattr(row, name) or (0 if name == "pitchers" else None) for name in names},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        for name in names:
            setattr(row, name, form.cleaned_data[name] or 0)
        row.save()
        doors.say(request, f"{found.name} is planned so from now on.")
        return redirect("planning:means")
    return render(request, "planning/one.html", {
        "form": form, "title": found.name, "back": "planning:means", "back_words": "Means",
    })  # fmt: skip


def design(request, pk: int):
    """Say how many of a design to keep, and what room it takes."""
    found = get_object_or_404(Design, pk=pk)
    target = StockTarget.objects.filter(design=found).first()
    own = DesignMeans.objects.filter(design=found).first()
    initial = {}
    if target:
        initial |= {"qty": target.qty, "priority": target.priority}
    if own:
        names = ("table_places", "set_hours", "stall_room")
        initial |= {name: getattr(own, name) for name in names}
    form = forms.DesignMeansForm(request.POST or None, workshop=request.workshop, initial=initial)
    if request.method == "POST" and form.is_valid():
        services.set_design(found, **form.cleaned_data)
        doors.say(request, f"{found.name} is planned so from now on.")
        return redirect("planning:wanted")
    return render(request, "planning/one.html", {
        "form": form, "title": found.name, "back": "planning:wanted", "back_words": "Wanted",
    })  # fmt: skip
