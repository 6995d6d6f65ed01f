"""The pages of scent panels: planned, answered at a phone, closed, and read over cure time."""

import io
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from candle_examples import lot_of, pour, set_up_bench
from pourwright.workshop.house.doors import new_id
from pourwright.workshop.panels.models import Panel, PanelAnswer

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(workshop):
    return set_up_bench()


def typed(bench, kind="ranking", **more):
    today = timezone.localdate()
    rows = {"candle-TOTAL_FORMS": "4", "candle-INITIAL_FORMS": "0"}
    for place, days in enumerate((7, 14, 28) if kind == "ranking" else (7, 28)):
        rows[f"candle-{place}-candle"] = f"version:{bench.version.pk}"
        rows[f"candle-{place}-poured_on"] = (today - timedelta(days=days)).isoformat()
    return rows | {
        "kind": kind, "question": "Which throws most, hot?", "asks": "strength", "scent": "hot",
        "room": "the small room", "minutes": "120", "on": today.isoformat(), "assessors": "6",
        "alpha": "0.05", "tell_pct": "40", "power_pct": "90", "client_id": new_id(),
    } | more  # fmt: skip


@pytest.fixture
def panel(client, bench):
    answer = client.post(reverse("panels:new"), typed(bench))
    assert answer.status_code == 302, answer.content.decode()
    return Panel.objects.get()


def page(client, name, *arguments):
    return client.get(reverse(f"panels:{name}", args=arguments)).content.decode()


def send(client, panel, assessor, codes, **more):
    given = {f"place-{code}": str(place) for place, code in enumerate(codes, start=1)}
    return client.post(
        reverse("panels:answer", args=[panel.number]),
        {"assessor": assessor, "client_id": new_id()} | given | more,
    )


def test_an_empty_list_says_how_to_begin(client, workshop):
    assert "Plan the first one" in page(client, "index")


def test_the_plan_says_what_so_many_can_show_while_one_types(client, bench):
    words = client.post(
        reverse("panels:new"), typed(bench), headers={"HX-Request": "true"}
    ).content.decode()
    assert "places on average" in words
    assert "<html" not in words
    assert Panel.objects.count() == 0
    whole = client.post(reverse("panels:new"), typed(bench, work="1")).content.decode()
    assert "places on average" in whole
    assert Panel.objects.count() == 0


def test_a_plan_that_cannot_be_keeps_what_was_typed(client, bench):
    answer = client.post(reverse("panels:new"), typed(bench, kind="triangle", question=""))
    assert answer.status_code == 422
    words = answer.content.decode()
    assert 'value="the small room"' in words
    assert f'value="version:{bench.version.pk}" selected' in words
    answer = client.post(reverse("panels:new"), typed(bench) | {"kind": "triangle"})
    assert "exactly 2" in answer.content.decode()


def test_a_design_offers_its_own_lots_first(client, bench):
    lot = lot_of(pour(bench, good=6, on=timezone.localdate() - timedelta(days=9)))
    words = client.get(reverse("panels:new") + f"?design={bench.design.pk}").content.decode()
    assert f'value="lot:{lot.pk}" selected' in words
    assert f"{lot.code}: 9 days today" in words


def test_a_hot_panel_carries_its_cautions(client, panel):
    words = page(client, "panel", panel.number)
    for said in ("asthma", "pregnancy", "Never put water", "Stay with a test burn", "safe"):
        assert said in words


def test_nothing_is_unblinded_before_the_panel_is_closed(client, panel):
    codes = panel.servings.first().codes
    words = page(client, "answer", panel.number)
    assert "Assessor 1" in words
    assert "28 days" not in words
    for assessor in range(1, 7):
        assert send(client, panel, assessor, codes).status_code == 302
    words = page(client, "panel", panel.number)
    assert "The panel could tell" not in words
    assert "rank sum" not in words.partition("Planned")[0]
    client.post(reverse("panels:panel", args=[panel.number]), {"do": "close"})
    words = page(client, "panel", panel.number)
    assert "The panel could tell some of them apart." in words
    assert "<svg" in words
    assert "The same in figures" in words
    assert "ISO 8587" in words
    assert page(client, "answer", panel.number) == ""  # sent on to the panel


def test_an_answer_sent_twice_counts_once_and_a_slip_is_told(client, panel):
    codes = panel.servings.first().codes
    key = new_id()
    for _ in range(2):
        assert send(client, panel, 1, codes, client_id=key).status_code == 302
    assert PanelAnswer.objects.count() == 1
    answer = send(client, panel, 2, codes[:2])
    assert answer.status_code == 422
    assert f"Give a place to {codes[2]}" in answer.content.decode()
    assert "checked" in answer.content.decode()
    assert send(client, panel, 1, codes).status_code == 422  # somebody else's phone
    given = PanelAnswer.objects.get()
    where = reverse("panels:panel", args=[panel.number])
    client.post(where, {"do": "leave out", "answer": given.pk, "reason": "read wrong"})
    assert "read wrong" in page(client, "panel", panel.number)
    assert client.post(where, {"do": "discard", "reason": ""}).status_code == 422
    client.post(where, {"do": "one more"})
    assert panel.servings.count() == 7


def test_a_design_shows_its_throw_over_cure_time(client, bench, panel):
    assert "No closed panel" in page(client, "design", bench.design.pk)
    ages = {
        jar.code: candle.cure_days(panel.on)
        for candle in panel.candles.all()
        for jar in candle.jars.all()
    }
    for serving in panel.servings.all():
        send(client, panel, serving.number, sorted(serving.codes, key=lambda code: -ages[code]))
    client.post(reverse("panels:panel", args=[panel.number]), {"do": "close"})
    words = page(client, "design", bench.design.pk)
    assert "Throw over cure time, hot" in words
    assert "100 %" in words
    assert panel.number in page(client, "index")


def test_the_blind_sheets_show_no_candle_and_the_key_shows_all(client, panel):
    def text(name):
        answer = client.get(reverse(f"panels:{name}", args=[panel.number]))
        pdf = PdfReader(io.BytesIO(answer.content))
        return pdf, "\n".join(sheet.extract_text() for sheet in pdf.pages)

    pdf, sheets = text("blind_sheets")
    assert len(pdf.pages) == 3  # six assessors, two to a page
    for serving in panel.servings.all():
        assert f"assessor {serving.number}" in sheets
    assert "days" not in sheets
    assert "You may stop at any time" in " ".join(sheets.split())
    _, key = text("key")
    for candle in panel.candles.all():
        assert candle.named(panel.on) in key
        assert candle.jars.get().code in key
    assert "asthma" in key
    assert "class F" in key
