"""Today, the search box, the workshop's own settings, and the pages for what went wrong."""

from django.http import HttpResponse, HttpResponseServerError
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.views.decorators.http import require_GET, require_POST
from django.views.decorators.vary import vary_on_headers

from pourwright.workshop.house import doors, jobs
from pourwright.workshop.house import today as now
from pourwright.workshop.house.find import exactly, search, words_of
from pourwright.workshop.house.forms import WorkshopSettings
from pourwright.workshop.house.models import Job

MANY = 30


def today(request):
    """Show the day; in a new workshop, the way to the first candle."""
    on = doors.today()
    steps = now.guide()
    day = now.day(on=on, workshop=request.workshop)
    context = {
        "on": on,
        "steps": steps,
        "steps_done": sum(step.done for step in steps),
        "next_step": next((step for step in steps if not step.done), None),
        "day": day,
        "picture": now.cure_picture(day.curing, on),
    }
    return render(request, "house/today.html", context)


@require_GET
@vary_on_headers("HX-Request")
def find(request):
    """Find any record; as one types only the list is sent, without JavaScript the whole page."""
    text = request.GET.get("q", "")
    if request.htmx:
        return render(request, "house/_found.html", {"q": text, "groups": search(text)})
    if address := exactly(text):
        return redirect(address)
    groups = search(text, shown=MANY)
    return render(
        request, "house/find.html", {"q": text, "groups": groups, "asked": bool(words_of(text))}
    )


def workshop(request):
    """Show and change the workshop's settings."""
    form = WorkshopSettings(
        request.POST or None, instance=request.workshop, workshop=request.workshop
    )
    if form.is_valid():
        form.save()
        doors.say(request, "Saved. From now on the pages show amounts this way.")
        return redirect("workshop")
    return render(request, "house/workshop.html", {"form": form})


@require_GET
@vary_on_headers("HX-Request")
def job(request, pk: int):
    """Show how far a job is, to the page that it stands on; that page anew when it is over."""
    found = jobs.look(get_object_or_404(Job, pk=pk), at=doors.now())
    if not request.htmx:
        return redirect(found.where or "today")
    if found.over:
        return HttpResponse(headers={"HX-Refresh": "true"})
    return render(request, "house/_job.html", {"job": found, "title": jobs.title_of(found)})


@require_POST
def job_stop(request, pk: int):
    found = jobs.stop(get_object_or_404(Job, pk=pk), at=doors.now())
    return redirect(found.where or "today")


def not_found(request, exception):
    return render(request, "404.html", status=404)


def broken(request):
    # Without the request: whatever broke may break what a page asks of it, too.
    return HttpResponseServerError(render_to_string("500.html"))
