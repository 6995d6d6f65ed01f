"""Deciding at a gate: pass a check by hand, take that back, release, withdraw."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from pourwright.workshop.gates import services
from pourwright.workshop.gates.forms import DecisionForm
from pourwright.workshop.gates.show import KINDS, page_of
from pourwright.workshop.house.doors import now, refusals, say, today


def _waive(subject, given):
    services.waive(subject=subject, at=now(), **given)
    return "Passed by hand; the reason is on record."


def _unwaive(subject, given):
    services.unwaive(subject=subject, at=now(), **given)
    return "No longer passed by hand."


def _release(subject, given):
    services.release(subject, by=given["by"], on=today(), at=now())
    return f"{subject} is released."


def _withdraw(subject, given):
    services.withdraw(subject, reason=given["reason"], by=given["by"], at=now())
    return f"The release of {subject} is withdrawn."


DECISIONS = {
    "waive": (_waive, "Pass by hand"),
    "unwaive": (_unwaive, "Take it back"),
    "release": (_release, "Release"),
    "withdraw": (_withdraw, "Withdraw the release"),
}


@require_POST
def decide(request, kind: str, pk: int, what: str):
    """Take one decision; what is refused is said above what was typed."""
    if kind not in KINDS or what not in DECISIONS:
        raise Http404
    subject = get_object_or_404(KINDS[kind], pk=pk)
    form = DecisionForm(request.POST)
    decision, words = DECISIONS[what]
    if form.is_valid():
        with refusals(form):
            say(request, decision(subject, form.cleaned_data))
            return redirect(page_of(subject))
    return render(
        request,
        "gates/refused.html",
        {"form": form, "subject": subject, "words": words, "back": page_of(subject)},
        status=422,
    )
