"""Answers of a panel from a file: one line an assessor, all or none, each fault with its line."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from pourwright.intake import tables
from pourwright.workshop.panels import bringing, services
from pourwright.workshop.panels.models import PanelAnswer
from pourwright.workshop.panels.services import Candidate

pytestmark = pytest.mark.django_db


def planned(kind="ranking", assessors=4):
    on = timezone.localdate()
    names = ("fig", "bay", "plum") if kind == "ranking" else ("fig", "bay")
    return services.plan(
        [Candidate(words=name, poured_on=on - timedelta(days=14)) for name in names],
        kind=kind, question="Which throws most?", scent="hot", on=on, assessors=assessors,
        alpha=Decimal("0.05"), seed=7, at=timezone.now(),
        tell_pct=Decimal(40), power_pct=Decimal(90),
    )  # fmt: skip


def brought(panel, text, **more):
    return bringing.bring_in(panel, tables.read_text(text), at=timezone.now(), **more)


def said(outcome):
    return [(finding.line, finding.column) for finding in outcome.findings]


def test_the_panels_own_file_filled_in_is_brought_in(workshop):
    panel = planned()
    file = "".join(bringing.blank_file(panel)).lstrip("\ufeff").replace("\r", "")
    head, *lines = file.strip().split("\n")
    filled = "\n".join(
        [head, *(f"{line.rstrip(',')},{places},AB" for line, places in zip(
            lines, ("2 1 3", "1 2 2", "3-2-1", "1 3 2"), strict=True
        ))]
    )  # fmt: skip
    outcome = brought(panel, filled)
    assert (outcome.findings, outcome.made, outcome.kept) == ((), 4, True)
    answers = PanelAnswer.objects.order_by("serving__number")
    assert [one.ranks for one in answers] == [[2, 1, 3], [1, 2, 2], [3, 2, 1], [1, 3, 2]]
    assert {one.by for one in answers} == {"AB"}
    assert next(bringing.blank_file(panel)).count("\n") == 1, "nobody is left to be asked"


def test_every_fault_is_told_with_its_line_and_nothing_is_kept(workshop):
    panel = planned()
    first, second = panel.servings.order_by("number")[:2]
    services.answer(
        panel, assessor=1, at=timezone.now(),
        ranks={code: place for place, code in enumerate(first.codes, start=1)},
    )  # fmt: skip
    outcome = brought(
        panel,
        "assessor\tsmells\tanswer\n"
        "1\t\t1 2 3\n"  # has answered
        f"2\t{' '.join(reversed(second.codes))}\t1 2 3\n"  # another sheet's codes
        "2\t\t1 2\n"  # too few places
        "3\t\t1 1 3 x\n"
        "3\t\t2 2 2\n"  # all tied is a ranking
        "4\t\t1 4 4\n"  # no ranking of three
        "9\t\t1 2 3\n"  # not planned for
        "two\t\t1 2 3\n",
    )
    assert said(outcome) == [
        (2, "answer"), (3, "smells"), (4, "answer"), (5, "answer"), (7, "answer"),
        (8, "assessor"), (9, "assessor"),
    ]  # fmt: skip
    assert not outcome.kept
    assert PanelAnswer.objects.count() == 1


def test_of_a_triangle_the_odd_code_is_given(workshop):
    panel = planned("triangle", assessors=6)
    one, two = panel.servings.order_by("number")[:2]
    wrong = brought(panel, f"assessor,answer\n1,{one.codes[0]}\n2,{'000'}\n")
    assert said(wrong) == [(3, "answer")]
    assert ", ".join(two.codes) in wrong.findings[0].message
    right = brought(panel, f"assessor,answer\n1,{one.codes[0]}\n2,{two.codes[2]}\n")
    assert right.kept
    assert PanelAnswer.objects.get(serving=two).odd == two.codes[2]


def test_a_check_keeps_nothing_and_the_page_leads_on(client, workshop):
    panel = planned()
    address = reverse("panels:bring_in", args=[panel.number])
    assert address in client.get(reverse("panels:panel", args=[panel.number])).content.decode()
    text = "assessor,answer\n1,1 2 3\n2,3 1 2\n"
    shown = client.post(address, {"text": text, "do": "check"}).content.decode()
    assert "2 answers can be entered" in shown
    assert not PanelAnswer.objects.exists()
    shown = client.post(address, {"text": text + "3,1 2\n", "do": "bring"}).content.decode()
    assert "is not a place for each of" in shown
    assert not PanelAnswer.objects.exists()
    assert client.post(address, {"text": text, "do": "bring"}).status_code == 302
    assert PanelAnswer.objects.count() == 2


def test_a_closed_panel_takes_no_file(client, workshop):
    panel = planned()
    brought(panel, "assessor,answer\n1,1 2 3\n2,1 2 3\n")
    services.close(panel, on=timezone.localdate())
    assert said(brought(panel, "assessor,answer\n3,1 2 3\n")) == [(2, "answer")]
    shown = client.get(reverse("panels:bring_in", args=[panel.number])).content.decode()
    assert "nothing is added to it any more" in shown
