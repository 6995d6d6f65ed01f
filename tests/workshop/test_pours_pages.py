"""The pour's pages: planning with a preview, the bench, closing, melters, the sheet."""

import io
import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

import pour_examples as pours
from conftest import AT, ON
from pourwright.workshop.pours import services
from pourwright.workshop.pours.models import Melter, Pour, PourState, Reading, Use
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Lot, OilFacts, Place

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(workshop):
    return pours.a_bench(workshop).stock()


def plan_data(*rows, **more):
    data = {
        "on": "2026-03-02", "melter": "", "loss_pct": "", "extra_wax_mg": "",
        "client_id": str(uuid4()), "rows-TOTAL_FORMS": str(max(len(rows), 1)),
        "rows-INITIAL_FORMS": "0",
    }  # fmt: skip
    for place, (design, number) in enumerate(rows):
        data |= {f"rows-{place}-design": design.pk, f"rows-{place}-number": str(number)}
    return data | more


def words(response) -> str:
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", text.replace("\u00a0", " "))


def at_bench(client, pour, **query):
    return client.get(f"/pours/{pour.number}/bench/", query)


# --- planning ------------------------------------------------------------------------------------


def test_the_preview_shows_amounts_and_lots_and_plans_nothing(client, bench):
    data = plan_data((bench.fig, 20), look="1")
    page = words(client.post("/pours/new/", data))
    assert "all in store" in page
    assert "3,447.9 g" in page
    assert Lot.objects.get(item=bench.wax).code in page
    assert not Pour.objects.exists()


def test_htmx_gets_the_preview_alone(client, bench):
    answer = client.post("/pours/new/", plan_data((bench.fig, 20)), headers={"HX-Request": "true"})
    assert "<h1" not in answer.content.decode()
    assert "3,447.9 g" in words(answer)
    assert not Pour.objects.exists()


def test_what_lacks_is_told_before_anything_is_planned(client, bench):
    page = words(client.post("/pours/new/", plan_data((bench.fig, 120), look="1")))
    assert "the stores are short" in page
    assert "beaker lacks 20 of 120" in page


def test_two_designs_become_two_pitchers_and_sending_twice_plans_once(client, bench):
    data = plan_data((bench.fig, 6), (bench.cedar, 8))
    client.post("/pours/new/", data)
    client.post("/pours/new/", data)
    pour = Pour.objects.get()
    assert pour.pitchers.count() == 2
    assert client.get(f"/pours/{pour.number}/").status_code == 200


def test_a_melter_that_is_too_small_is_told_and_what_was_typed_stays(client, bench):
    melter = Melter.objects.create(name="jug", capacity_mg=1_000_000)
    data = plan_data((bench.fig, 20), melter=melter.pk, extra_wax_mg="250 g")
    answer = client.post("/pours/new/", data)
    assert "does not fit the melter" in words(answer)
    assert 'value="250 g"' in answer.content.decode()
    assert not Pour.objects.exists()


def test_an_empty_plan_says_what_to_choose(client, bench):
    assert "Choose at least one design" in words(client.post("/pours/new/", plan_data()))


def test_left_over_mix_is_offered_and_goes_in_again(client, bench):
    first = pours.opened(bench, (bench.fig, 10))
    pours.closed(bench, first, {"good": 8}, left=[300_000])
    mix = Lot.objects.get(origin="left mix")
    assert mix.code in words(client.get("/pours/new/"))
    client.post("/pours/new/", plan_data((bench.fig, 5), **{f"again-lot_{mix.pk}": "300 g"}))
    assert Pour.objects.latest("pk").takes.get(use=Use.REMELT).target == 300_000
    answer = client.post(
        "/pours/new/", plan_data((bench.cedar, 5), **{f"again-lot_{mix.pk}": "10 g"})
    )
    assert "leave this one empty" in words(answer)


# --- a pour --------------------------------------------------------------------------------------


def test_a_short_pour_is_not_opened_and_the_page_says_why(client, bench):
    pour = pours.planned(bench, (bench.fig, 120))
    answer = client.post(f"/pours/{pour.number}/open/", follow=True)
    assert "The stores are short" in words(answer)
    pour.refresh_from_db()
    assert pour.state == PourState.PLANNED


def test_the_whole_way_from_plan_to_lot_on_pages(client, bench):
    client.post("/pours/new/", plan_data((bench.fig, 10)))
    pour = Pour.objects.get()
    page = client.post(f"/pours/{pour.number}/open/", follow=True)
    seen = []
    for _ in range(40):
        seen.append(re.search(r"<h1>([^<]+)", page.content.decode())[1])
        step = page.context["step"]
        if step.kind == "close":
            break
        data = {"client_id": str(uuid4())}
        if step.kind == "weigh":
            data |= {"actual": f"{step.take.target / 1000} g", "lot": step.take.lot_id}
        if step.kind == "temp":
            data |= {"minutes": "2"} if step.asks_minutes else {"temp_c": "62"}
        page = client.post(f"/pours/{pour.number}/bench/?step={step.key}", data, follow=True)
    assert seen == [
        "How warm is the room?", "Lay out 10 × Fig", "rape blend", "Melt the wax", "fig leaf",
        "Add to Fig", "Stir Fig", "Pour Fig", "Let it set", "Count and close",
    ]  # fmt: skip
    filling = pours.fillings_of(pour)[0]
    data = {
        f"good_{filling.pk}": "9", f"seconds_{filling.pk}": "1", f"scrapped_{filling.pk}": "0",
        f"fill_{filling.pk}": "181 g", "minutes": "45", "on": "2026-03-02",
        "client_id": str(uuid4()),
    }  # fmt: skip
    answer = client.post(f"/pours/{pour.number}/close/", data, follow=True)
    filling.refresh_from_db()
    assert ledger.held(filling.lot, Place.SHELF)[0] == 9
    assert filling.lot.code in words(answer)
    assert "What one candle cost" in words(answer)
    again = client.post(f"/pours/{pour.number}/close/", data, follow=True)
    assert again.status_code == 200
    assert ledger.held(filling.lot, Place.SHELF)[0] == 9


def test_the_bench_goes_on_where_it_was_left(client, bench):
    pour = pours.opened(bench, (bench.fig, 5))
    assert at_bench(client, pour).context["step"].key == "room"
    services.read(pour, step="room", temp_c=Decimal(20), at=AT)
    assert at_bench(client, pour).context["step"].kind == "ready"
    later = at_bench(client, pour, step="melt")
    assert later.context["step"].key == "melt"
    assert "never watered" in words(later)


def test_a_weight_sent_twice_from_the_bench_counts_once(client, bench):
    pour = pours.opened(bench, (bench.fig, 5))
    take = pour.takes.get(use=Use.OIL)
    where = f"/pours/{pour.number}/bench/?step=weigh-{take.pk}"
    own = str(uuid4())
    client.post(where, {"actual": "51.7 g", "lot": take.lot_id, "client_id": own})
    client.post(where, {"actual": "11 g", "lot": take.lot_id, "client_id": own})
    take.refresh_from_db()
    assert take.actual == 51_700
    reading = {"temp_c": "70", "client_id": str(uuid4())}
    for _ in range(2):
        client.post(f"/pours/{pour.number}/bench/?step=melt", reading)
    assert Reading.objects.filter(pour=pour).count() == 1


def test_the_bench_warns_of_flash_point_tolerance_and_safety_limit(client, bench):
    OilFacts.objects.update(flash_point_c=60, max_pct_of_whole=Decimal("5.8"))
    pour = pours.opened(bench, (bench.fig, 5))
    add = words(at_bench(client, pour, step="add-1"))
    assert "at or above a flash point" in add
    take = pour.takes.get(use=Use.OIL)
    answer = client.post(
        f"/pours/{pour.number}/bench/?step=weigh-{take.pk}",
        {"actual": "80 g", "lot": take.lot_id, "client_id": str(uuid4())},
        follow=True,
    )
    page = words(answer)
    assert "out of tolerance" in page
    assert "safety limit is 5.8 %" in page


def test_what_cannot_be_read_is_told_beside_the_field_and_stays(client, bench):
    pour = pours.opened(bench, (bench.fig, 5))
    take = pour.takes.get(use=Use.OIL)
    answer = client.post(
        f"/pours/{pour.number}/bench/?step=weigh-{take.pk}",
        {"actual": "a cup", "lot": take.lot_id},
    )
    assert 'value="a cup"' in answer.content.decode()
    assert "errorlist" in answer.content.decode()
    take.refresh_from_db()
    assert take.actual is None


def test_a_lot_that_ran_out_is_followed_by_another(client, bench):
    other = pours.received(bench.oils[0], 100_000)
    pour = pours.opened(bench, (bench.fig, 5))
    take = pour.takes.get(use=Use.OIL)
    where = f"/pours/{pour.number}/bench/?step=weigh-{take.pk}"
    client.post(where, {"actual": "20 g", "lot": take.lot_id, "client_id": str(uuid4())})
    assert "Did lot" in words(client.get(where))
    client.post(where, {"rest": "1", "lot": other.pk})
    assert pour.takes.filter(use=Use.OIL, lot=other).get().target == 31_700


def test_closing_more_than_went_in_is_refused_and_nothing_moves(client, bench):
    pour = pours.opened(bench, (bench.fig, 5))
    filling = pours.fillings_of(pour)[0]
    data = {
        f"good_{filling.pk}": "50", f"seconds_{filling.pk}": "0", f"scrapped_{filling.pk}": "0",
        "on": "2026-03-02",
    }  # fmt: skip
    answer = client.post(f"/pours/{pour.number}/close/", data)
    assert "are said to have come out" in words(answer)
    pour.refresh_from_db()
    assert pour.state == PourState.OPEN


def test_a_pour_is_abandoned_and_reopened_with_a_reason(client, bench):
    pour = pours.planned(bench, (bench.fig, 5))
    client.post(f"/pours/{pour.number}/abandon/", {"reason": ""})
    pour.refresh_from_db()
    assert pour.state == PourState.PLANNED
    client.post(f"/pours/{pour.number}/abandon/", {"reason": "no time"})
    pour.refresh_from_db()
    assert pour.state == PourState.ABANDONED
    other = pours.opened(bench, (bench.fig, 5))
    pours.closed(bench, other, {"good": 5})
    client.post(f"/pours/{other.number}/reopen/", {"reason": "miscounted"})
    other.refresh_from_db()
    assert other.state == PourState.OPEN


def test_doing_needs_a_post(client, bench):
    pour = pours.planned(bench, (bench.fig, 5))
    for verb in ("open", "abandon", "reopen"):
        assert client.get(f"/pours/{pour.number}/{verb}/").status_code == 405
    assert client.get("/pours/B-9999/").status_code == 404


# --- the list ------------------------------------------------------------------------------------


def test_the_list_finds_by_number_design_and_lot_and_by_state(client, bench):
    fig, cedar = pours.planned(bench, (bench.fig, 2)), pours.opened(bench, (bench.cedar, 3))
    pours.closed(bench, cedar, {"good": 3})
    lot = pours.fillings_of(cedar)[0].lot.code
    assert fig.number in words(client.get("/pours/", {"q": "fig"}))
    for query in ({"q": lot}, {"state": "closed"}, {"q": cedar.number.lower()}):
        page = words(client.get("/pours/", query))
        assert cedar.number in page
        assert fig.number not in page


def test_the_list_asks_as_many_questions_for_many_pours_as_for_one(client, bench):
    def questions():
        with CaptureQueriesContext(connection) as asked:
            assert client.get("/pours/").status_code == 200
        return len(asked)

    pours.planned(bench, (bench.fig, 2), (bench.cedar, 2))
    few = questions()
    for _ in range(6):
        pours.planned(bench, (bench.fig, 2), (bench.cedar, 2))
    assert questions() == few


def test_melters_are_entered_and_changed(client, workshop):
    client.post("/pours/melters/new/", {"name": "urn", "capacity_mg": "6 kg"})
    melter = Melter.objects.get()
    assert melter.capacity_mg == 6_000_000
    client.post(f"/pours/melters/{melter.pk}/", {"name": "urn", "capacity_ml": "7 l"})
    melter.refresh_from_db()
    assert (melter.capacity_mg, melter.capacity_ml) == (None, Decimal(7000))
    assert "a mass, a volume, or both" in words(client.post("/pours/melters/new/", {"name": "x"}))


# --- the sheet -----------------------------------------------------------------------------------


def test_the_sheet_says_what_the_plan_says_and_is_the_same_each_time(client, bench):
    pour = pours.planned(bench, (bench.fig, 20))
    answer = client.get(f"/pours/{pour.number}/sheet.pdf")
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.content)).pages
    text = "\n".join(page.extract_text() for page in pages)
    assert len(pages) == 1
    for take in pour.takes.all():
        assert take.item.name in text
        assert take.lot.code in text
    assert "3,447.9" in text
    assert "206.9" in text
    assert "never watered" in text
    assert client.get(f"/pours/{pour.number}/sheet.pdf").content == answer.content


def test_the_sheet_of_a_us_workshop_is_on_letter_and_in_ounces(client, bench):
    bench.workshop.units = "us"
    bench.workshop.save()
    pour = pours.planned(bench, (bench.fig, 20), (bench.cedar, 4))
    page = PdfReader(io.BytesIO(client.get(f"/pours/{pour.number}/sheet.pdf").content)).pages[0]
    assert [round(float(side)) for side in page.mediabox[2:]] == [612, 792]
    assert "oz" in page.extract_text()
    assert ON.strftime("%B") in page.extract_text()
