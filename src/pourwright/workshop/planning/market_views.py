"""The pages of markets: their days, what to bring, and what came of it."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render

from pourwright.workshop.designs.models import Design
from pourwright.workshop.house import doors
from pourwright.workshop.orders.models import Channel
from pourwright.workshop.orders.services import default_price_minor100
from pourwright.workshop.planning import bringing, forms
from pourwright.workshop.planning import markets as services
from pourwright.workshop.planning.models import Market, MarketDay


def index(request):
    """Show the markets, with the days to come and the last that are past."""
    form = forms.MarketForm(request.POST or None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        kept = form.save()
        doors.say(request, f"{kept.name} is in.")
        return redirect("planning:market", pk=kept.pk)
    today = doors.today()
    days = MarketDay.objects.select_related("market").prefetch_related("lines")
    return render(
        request,
        "planning/markets.html",
        {
            "form": form,
            "markets": Market.objects.all(),
            "to_record": days.filter(on__lte=today, recorded_at__isnull=True).order_by("on"),
            "to_come": days.filter(on__gt=today, recorded_at__isnull=True).order_by("on"),
            "past": days.filter(recorded_at__isnull=False).order_by("-on")[:12],
        },
    )


def market(request, pk: int):
    """Show a market and its days; a POST changes it or enters a day."""
    found = get_object_or_404(Market, pk=pk)
    about = forms.MarketForm(None, instance=found, workshop=request.workshop, auto_id="about-%s")
    day = forms.MarketDayForm(None, workshop=request.workshop, auto_id="day-%s")
    if request.method == "POST":
        match request.POST.get("do", ""):
            case "about":
                about = forms.MarketForm(
                    request.POST, instance=found, workshop=request.workshop, auto_id="about-%s"
                )
                if about.is_valid():
                    about.save()
                    doors.say(request, "Kept.")
                    return redirect("planning:market", pk=pk)
            case "day":
                day = forms.MarketDayForm(request.POST, workshop=request.workshop, auto_id="day-%s")
                if day.is_valid():
                    with doors.refusals(day, "on"):
                        made = services.new_day(found, **day.cleaned_data)
                        return redirect("planning:market_day", pk=made.pk)
            case other:
                raise Http404(other)
    days = found.days.prefetch_related("lines__design")
    return render(
        request, "planning/market.html",
        {"market": Market.objects.get(pk=pk), "about": about, "form": day, "days": days},
    )  # fmt: skip


def day(request, pk: int):
    """Show what to bring to a day to come, or what came of one that is past."""
    found = get_object_or_404(MarketDay.objects.select_related("market", "order"), pk=pk)
    if found.recorded_at is not None:
        counted = services.counted_minor100(found)
        lines = list(found.lines.select_related("design"))
        return render(
            request, "planning/market_past.html",
            {
                "day": found, "lines": lines, "counted": counted,
                "apart": None if found.takings_minor100 is None
                else found.takings_minor100 - counted,
            },
        )  # fmt: skip
    today = doors.today()
    designs = list(Design.objects.filter(retired=False))
    lines = {line.design_id: line for line in found.lines.all()}
    bring = bringing.advice(found, designs=designs)
    form = forms.DayForm(
        request.POST or None, workshop=request.workshop, designs=designs, lines=lines,
        over=found.on <= today, bring=bring,
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            if request.POST.get("do") == "advised" and bring is not None:
                services.want(
                    found, [(d, bring.of[d.pk].bring) for d in designs if d.pk in bring.of]
                )
                doors.say(request, "Kept as advised. The next plan has it ready.")
            elif request.POST.get("do") == "record":
                services.record(
                    found, form.counted(), takings_minor100=form.cleaned_data["takings"],
                    sell=form.cleaned_data["sell"], on=today, at=doors.now(),
                )  # fmt: skip
                doors.say(request, "Recorded. What was sold has left the shelf.")
            else:
                services.want(found, form.wanted())
                doors.say(request, "Kept. The next plan has it ready.")
            return redirect("planning:market_day", pk=pk)
    prices = {d.pk: default_price_minor100(d, Channel.MARKET) for d in designs}
    return render(
        request, "planning/market_day.html",
        {"day": found, "form": form, "bring": bring, "over": found.on <= today, "prices": prices},
    )  # fmt: skip
