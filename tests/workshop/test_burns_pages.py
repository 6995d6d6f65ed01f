"""The burn book's pages: pieces, lighting, the bench's entries, limits, and the next burn."""

import re
from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from burn_workshop import burnt, lit, readings, take
from candle_examples import lot_of, pour, set_up_bench
from pourwright.workshop.burns import services
from pourwright.workshop.burns.models import BurnPhoto, BurnReading, HouseLimit, TestBurn, TestPiece
from pourwright.workshop.stores.models import Item, WickFacts

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(workshop):
    return set_up_bench()


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def piece(bench, workshop, now):
    on = timezone.localdate()
    return take(bench, workshop, on=on, at=now, poured_on=on - timedelta(20))[0]


def page(client, name, *args, **query):
    answer = client.get(reverse(f"burns:{name}", args=args), query)
    assert answer.status_code == 200
    return re.sub("[\u00a0\u202f]", " ", answer.content.decode())


def ticks(on=None):
    return dict.fromkeys(services.caution_keys(on or timezone.localdate()), "on")


def test_pieces_of_a_lot_are_taken_on_a_page(bench, client):
    on = timezone.localdate()
    lot = lot_of(pour(bench, good=6, on=on - timedelta(30)))
    address = reverse("burns:take", args=[bench.version.pk])
    assert lot.code in page(client, "take", bench.version.pk)
    sent = {
        "lot": lot.pk, "count": 2, "purpose": "series", "wick": bench.items["wick"].pk,
        "wick_count": 1, "trim_mm": "6 mm", "fill_mg": "220 g", "client_id": uuid4(),
    }  # fmt: skip
    answer = client.post(address, sent)
    assert answer.status_code == 302
    client.post(address, sent)
    assert TestPiece.objects.count() == 2
    shown = page(client, "index")
    assert "T-0002" in shown or "T-0003" in shown
    assert "ready" in shown


def test_a_piece_by_hand_asks_for_its_day_and_reads_us_units(bench, client, workshop):
    workshop.units = "us"
    workshop.save()
    address = reverse("burns:take", args=[bench.version.pk])
    sent = {
        "count": 1, "purpose": "search", "wick": bench.items["wick"].pk, "wick_count": 2,
        "trim_mm": "0.25", "fill_mg": "7.75", "positions": "0.5 0; -0.5 0",
    }  # fmt: skip
    answer = client.post(address, sent)
    assert "on which day they were poured" in answer.content.decode()
    client.post(address, sent | {"poured_on": "2026-01-05"})
    made = TestPiece.objects.get()
    assert made.trim_mm == Decimal("6.4")
    assert made.fill_mg == 219_709
    assert made.fingerprint["wick_positions"] == [["13", "0"], ["-13", "0"]]


def test_lighting_asks_for_every_caution_and_leads_to_the_bench(client, piece):
    address = reverse("burns:light", args=[piece.number])
    shown = page(client, "light", piece.number)
    assert "never put water on burning wax" in shown.lower()
    assert "flame is higher than 75 mm" in shown
    sent = {"trim_mm": "6 mm", "planned_minutes": "240", "by": "Ada"}
    answer = client.post(address, sent)
    assert "Not everything is seen to" in answer.content.decode()
    answer = client.post(address, sent | ticks() | {"client_id": uuid4()})
    assert answer.status_code == 302
    shown = client.get(answer.url).content.decode()
    assert "flame is higher than 75 mm" in shown
    assert shown.index("data-due") < shown.index("Read now")


def test_the_bench_takes_each_reading_and_the_full_pool(client, piece, now):
    burn = lit(piece, at=now - timedelta(minutes=62))
    entries = {
        "flame": {"flame_1": "24"},
        "pool": {"wide_1": "50", "wide_2": "52 mm", "depth_mm": "8"},
        "wall": {"wall_dry_c": "51"},
        "soot": {"soot": "1", "mushroom_mm": "2"},
    }
    for group, sent in entries.items():
        answer = client.post(reverse("burns:read", args=[burn.pk, group]), sent)
        assert answer.status_code == 302, group
    client.post(reverse("burns:full", args=[burn.pk]), {"elapsed": "61.5"})
    burn.refresh_from_db()
    assert burn.full_pool_minute == Decimal("61.5")
    assert BurnReading.objects.count() == 4
    shown = page(client, "burn", burn.pk)
    assert "Soot was seen." in shown
    assert "50 mm" in shown


def test_us_units_are_read_and_shown_at_the_bench(client, piece, now, workshop):
    workshop.units = "us"
    workshop.save()
    burn = lit(piece, at=now - timedelta(minutes=62))
    client.post(reverse("burns:read", args=[burn.pk, "flame"]), {"flame_1": "1"})
    client.post(reverse("burns:read", args=[burn.pk, "wall"]), {"wall_dry_c": "122"})
    flame, wall = BurnReading.objects.order_by("id")
    assert flame.flame_mm == ["25.40"]
    assert wall.wall_dry_c == 50
    shown = page(client, "burn", burn.pk)
    assert "122 °F" in shown
    assert "1 in" in shown


def test_what_is_found_is_told_in_the_workshops_units(client, piece, now, workshop):
    workshop.units = "us"
    workshop.save()
    burn = lit(piece, at=now - timedelta(minutes=62))
    services.read(burn, at=now, minute=Decimal(31), flame_mm=[Decimal("76.2")])
    shown = page(client, "burn", burn.pk)
    assert "3 in at 31 min" in shown
    assert "at most 2.95 in" in shown
    assert "76.2" not in shown
    answer = client.post(
        reverse("burns:read", args=[burn.pk, "wall"]), {"elapsed": "31", "wall_dry_c": "900"}
    )
    assert "give −4 °F to 752 °F".replace(" °F", "\u00a0°F") in answer.content.decode()


def test_a_burn_that_goes_on_for_too_long_is_told(client, piece, now):
    burn = lit(piece, at=now - timedelta(minutes=250))
    assert "longer. Put it out" not in page(client, "burn", burn.pk)
    burn.lit_at = now - timedelta(minutes=330)
    burn.save()
    assert "has burned 1:30 h longer. Put it out" in page(client, "burn", burn.pk)


def test_the_script_is_answered_in_json_and_recorded_once(client, piece, now):
    burn = lit(piece, at=now - timedelta(minutes=31))
    address, header = reverse("burns:read", args=[burn.pk, "flame"]), {"X-Burn-Entry": "1"}
    sent = {"flame_1": "24", "elapsed": "30.2", "client_id": str(uuid4())}
    for _ in range(2):
        answer = client.post(address, sent, headers=header)
        assert answer.json() == {"ok": True}
    assert BurnReading.objects.get().minute == Decimal("30.2")
    refused = client.post(address, sent | {"client_id": str(uuid4())}, headers=header)
    assert refused.status_code == 422
    assert "read already" in refused.json()["refused"]


def test_what_was_typed_wrong_stays_and_says_why(client, piece, now):
    burn = lit(piece, at=now - timedelta(minutes=61))
    answer = client.post(
        reverse("burns:read", args=[burn.pk, "pool"]), {"wide_1": "50", "wide_2": "wide"}
    )
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="wide"' in shown
    assert re.search(r'<details[^>]*id="entry-pool" open', shown)


def test_a_photo_is_shown_again(client, piece, now):
    burn = lit(piece, at=now - timedelta(minutes=5))
    out = BytesIO()
    Image.new("RGB", (60, 40), "orange").save(out, "PNG")
    file = SimpleUploadedFile("burn.png", out.getvalue(), "image/png")
    answer = client.post(reverse("burns:photo", args=[burn.pk]), {"file": file, "note": "even"})
    assert answer.status_code == 302
    kept = BurnPhoto.objects.get()
    answer = client.get(reverse("burns:picture", args=[kept.pk]))
    assert answer["Content-Type"] == "image/jpeg"
    assert reverse("burns:picture", args=[kept.pk]) in page(client, "burn", burn.pk)


def test_out_weighed_and_judged_with_rule_and_limit(client, piece, now):
    burn = lit(piece, at=now - timedelta(minutes=241))
    readings(burn, wall_dry_c=Decimal(80))
    answer = client.post(
        reverse("burns:out", args=[burn.pk]),
        {"glow_1": "6", "relit": "no", "secondary_flame_s": "0", "minute": "240"},
    )
    assert answer.status_code == 302
    client.post(reverse("burns:after", args=[burn.pk]), {"mass_after_mg": "484 g"})
    shown = page(client, "burn", burn.pk)
    assert "80 °C at 30 min" in shown
    assert "at most 75 °C" in shown
    assert "your house limit" in shown
    assert "4.00 g" in shown
    assert "failed" in page(client, "piece", piece.number)


def test_a_series_says_what_is_missing_and_only_it_is_passed(client, bench, workshop, now):
    on = timezone.localdate()
    pieces = take(bench, workshop, on=on, at=now, count=3, poured_on=on - timedelta(20))
    burnt(pieces[0], at=now - timedelta(days=1), last=True)
    shown = page(client, "piece", pieces[0].number)
    assert "criteria met in this burn" in shown
    assert "1 of 3 pieces was burnt for its whole life." in shown
    assert "passed</span>" not in shown
    for piece in pieces[1:]:
        burnt(piece, at=now - timedelta(days=1), last=True)
    shown = page(client, "design", bench.design.pk)
    assert "passed</span>" in shown
    assert "They do not say that a candle is safe" in shown


def test_a_piece_is_finished_or_discarded_with_a_reason(client, piece):
    address = reverse("burns:piece", args=[piece.number])
    answer = client.post(address, {"do": "finish"})
    assert "was not burnt yet" in answer.content.decode()
    assert client.post(address, {"do": "discard", "reason": ""}).status_code == 200
    assert client.post(address, {"do": "discard", "reason": "wick sank"}).status_code == 302
    piece.refresh_from_db()
    assert (piece.state, piece.ended_because) == ("discarded", "wick sank")


def test_a_set_asks_and_refuses_more(client, bench, workshop, now):
    on = timezone.localdate()
    pieces = take(bench, workshop, on=on, at=now, count=2, poured_on=on - timedelta(20))
    answer = client.post(
        reverse("burns:set_new"),
        {"room_holds": 3, "person_watches": 1, "by": "Ada", "client_id": uuid4()},
    )
    session = answer.url
    pk = session.rstrip("/").split("/")[-1]
    sent = ticks() | {"trim_mm": "6 mm", "planned_minutes": "240", "by": "Ada"}
    for piece, status in zip(pieces, (302, 200), strict=True):
        answer = client.post(f"{reverse('burns:light', args=[piece.number])}?set={pk}", sent)
        assert answer.status_code == status
    assert "all that the person can watch" in answer.content.decode()
    assert "Put one out before you light another" in client.get(session).content.decode()


def test_house_limits_are_named_as_the_makers_own(client, workshop):
    shown = page(client, "limits")
    assert "No authority set them" in shown
    values = dict(re.findall(r'name="((?!csrf|do|by|why)[a-z_]+)" value="([^"]*)"', shown))
    sent = {"do": "limits", "by": "Ada"} | values
    address = reverse("burns:limits")
    answer = client.post(address, sent | {"wall_fail_c": "80 °C"})
    assert "write the reason" in answer.content.decode()
    answer = client.post(address, sent | {"wall_fail_c": "80 °C", "why_wall_fail_c": "stoneware"})
    assert answer.status_code == 302
    kept = HouseLimit.objects.get()
    assert (kept.key, kept.value, kept.reason) == ("wall_fail_c", 80, "stoneware")
    assert "your own" in page(client, "limits")


def test_a_burn_entered_anew_and_one_left_out(client, piece, now):
    burn = burnt(piece, at=now - timedelta(hours=9))
    address = reverse("burns:anew", args=[burn.pk])
    shown = page(client, "anew", burn.pk)
    sent = dict(re.findall(r'name="([a-z_]+)" value="([^"]*)"', shown)) | {
        "relit": "no", "mass_after_mg": "484 g", "reason": "misread",
    }  # fmt: skip
    assert client.post(address, sent | {"reason": ""}).status_code == 200
    answer = client.post(address, sent)
    assert answer.status_code == 302
    made = TestBurn.objects.get(left_out="")
    assert made.mass_after_mg == 484_000
    assert client.get(reverse("burns:burn", args=[burn.pk])).url == answer.url
    sent = {"reason": "draught from the door"}
    answer = client.post(reverse("burns:leave_out", args=[made.pk]), sent)
    assert answer.status_code == 302, answer.content.decode()
    assert "draught from the door" in page(client, "piece", piece.number)


def test_the_next_burn_needs_rates_and_leads_on_to_the_pieces(client, bench, workshop, now):
    facts = WickFacts.objects.get()
    facts.series, facts.size = "flat braid", "4"
    facts.save()
    shown = page(client, "next", bench.design.pk)
    assert "No wick to choose from" in shown
    assert "Without a series or a burn rate" in shown
    facts.burn_rate_g_h = Decimal("4.2")
    facts.save()
    for size, rate in (("5", "4.8"), ("6", "5.4")):
        wick = Item.objects.create(kind="wick", name=f"Flat braid no. {size}", measure="count")
        WickFacts.objects.create(
            item=wick, series="flat braid", size=size, burn_rate_g_h=Decimal(rate)
        )
    shown = page(client, "next", bench.design.pk)
    assert "Burn next" in shown
    assert "no chance of safety" in shown
    link = re.search(r'href="(/burns/take/[^"]*)"', shown)[1].replace("&amp;", "&")
    taking = client.get(link).content.decode()
    chosen = re.search(r'<option value="(\d+)" selected>Flat braid', taking)[1]
    assert f"wick={chosen}&" in link
    assert '<option value="search" selected>' in taking


def test_the_next_burn_learns_from_every_burn(client, bench, workshop, now):
    on = timezone.localdate()
    piece = take(bench, workshop, on=on, at=now, purpose="search", poured_on=on - timedelta(20))[0]
    burnt(piece, at=now - timedelta(days=1))
    shown = page(client, "next", bench.design.pk)
    assert "Learnt from 1 burn, 1 of this design." in shown
    assert "1 of 1" in shown


def test_today_and_the_search_box_lead_to_what_burns(client, piece, now):
    assert "1 test piece to burn" in client.get("/").content.decode()
    burn = lit(piece, at=now - timedelta(minutes=5))
    shown = client.get("/").content.decode()
    assert "stay with it" in shown
    assert reverse("burns:burn", args=[burn.pk]) in shown
    assert "test piece to burn" not in shown
    found = client.get("/find/", {"q": piece.number.lower()})
    assert reverse("burns:piece", args=[piece.number]) in (found.content.decode() or found.url)
