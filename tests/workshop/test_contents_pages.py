"""The pages of net contents: one weight at a time, a pasted column, the check, the advice."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from candle_examples import lot_of, pour, set_up_bench
from conftest import AT
from pourwright.workshop.contents import queries
from pourwright.workshop.contents.models import Fill, Instrument, InstrumentCheck, NetCheck
from pourwright.workshop.gates import services as gates
from pourwright.workshop.house.doors import new_id
from pourwright.workshop.pours.models import Filling

pytestmark = pytest.mark.django_db
GOOD = "213\n212.8\n213.4 g\n212.9\n213.2\n213.1"


@pytest.fixture
def bench(workshop):
    workshop.markets = "us,eu"
    workshop.save()
    made = set_up_bench()
    made.version.declared = "7.5 oz (212 g)"
    made.version.save()
    return made


@pytest.fixture
def lot(bench):
    return lot_of(pour(bench, good=6, on=timezone.localdate() - timedelta(days=30)))


def page(client, lot):
    return client.get(reverse("contents:lot", args=[lot.code])).content.decode()


def send(client, lot, do, **typed):
    return client.post(reverse("contents:lot", args=[lot.code]), {"do": do, **typed})


def test_a_lot_says_what_to_weigh_before_anything_is(client, lot):
    words = page(client, lot)
    assert "7.5 oz (212 g)" in words
    assert "weigh 6 of 6" in words
    assert "No candle is weighed yet" in words
    assert "competent adviser" in words


def test_a_pasted_column_is_drawn_told_in_figures_and_checked(client, lot):
    assert send(client, lot, "column", weights=GOOD, by="Ada").status_code == 302
    words = page(client, lot)
    assert words.count("<circle") >= 6
    assert "What the fills say so far" in words
    assert "Standard deviation of all" in words
    send(client, lot, "check", lot_size="6", by="Ada")
    words = page(client, lot)
    assert NetCheck.objects.filter(lot=lot, verdict="pass").count() == 2
    assert "from memory" in words
    assert "Table 2-5" in words
    gate = client.get(reverse("shelf:lot", args=[lot.code])).content.decode()
    assert "Passed under" in gate


def test_the_same_form_sent_twice_enters_the_column_once(client, lot):
    once = new_id()
    for _ in range(2):
        send(client, lot, "column", weights=GOOD, client_id=once)
    assert Fill.objects.count() == 6


def test_faulty_lines_are_named_and_what_was_typed_stays(client, lot):
    answer = send(client, lot, "column", weights="213\nheavy\n")
    assert answer.status_code == 200
    words = answer.content.decode()
    assert "Line 2" in words
    assert "heavy" in words
    assert not Fill.objects.exists()


def test_a_file_and_one_tare_for_all(client, lot):
    file = SimpleUploadedFile("fills.csv", b"filled\n363.2\n363.5\n")
    send(client, lot, "column", file=file, tare_mg="150 g")
    assert [fill.net_mg for fill in queries.standing_fills(lot)] == [213_200, 213_500]
    broken = SimpleUploadedFile("fills.csv", b"\xff\xfe\x00")
    assert "no text" in send(client, lot, "column", file=broken).content.decode()


def test_a_fill_is_left_out_from_its_row(client, lot):
    send(client, lot, "column", weights=GOOD)
    wrong = queries.fills_of(lot).first()
    send(client, lot, "leave_out", fill=wrong.pk, reason="read with its lid on")
    assert "read with its lid on" in page(client, lot)
    assert len(queries.standing_fills(lot)) == 5


def test_a_short_lot_is_told_its_two_ways_and_relabelled(client, lot):
    send(client, lot, "column", weights="\n".join(["211"] * 6))
    send(client, lot, "check", lot_size="6")
    assert "A short weight is not sold" in page(client, lot)
    asked = {"lot_size": "6", "reason": "new labels"}
    refused = send(client, lot, "relabel", declared="212 g", **asked)
    assert "not true of this lot either" in refused.content.decode()
    assert send(client, lot, "relabel", declared="7.4 oz (209 g)", **asked).status_code == 302
    assert "relabelled" in page(client, lot)
    send(client, lot, "rework", reason="melted the tops")
    assert "melted the tops" in page(client, lot)
    net = next(c for c in gates.lot_checks(lot, on=timezone.localdate()) if c.name == "net")
    assert net.state == "open"


def test_at_the_bench_each_vessel_is_weighed_empty_and_then_filled(client, bench, lot):
    where = reverse("contents:lot_bench", args=[lot.code])
    for empty in ("150.2 g", "149.8 g"):
        client.post(f"{where}?mode=empty", {"weight_mg": empty, "client_id": new_id()})
    words = client.get(where).content.decode()
    assert "Vessel 1" in words
    assert "Filled and set" in words
    client.post(f"{where}?mode=full", {"weight_mg": "363.4 g"})
    assert queries.standing_fills(lot)[0].net_mg == 213_200
    assert "Vessel 2" in client.get(where).content.decode()
    wrong = client.post(f"{where}?mode=full", {"weight_mg": "100 g"})
    assert wrong.status_code == 422
    assert "filled must be more" in wrong.content.decode()
    client.post(f"{where}?mode=net", {"weight_mg": "213 g", "client_id": new_id()})
    assert len(queries.standing_fills(lot)) == 2


def test_vessels_are_weighed_while_their_pour_is_open(client, bench, lot):
    filling = Filling.objects.get(lot=lot)
    became = client.get(reverse("contents:filling", args=[filling.pk]))
    assert became.headers["Location"] == reverse("contents:lot", args=[lot.code])
    Filling.objects.filter(pk=filling.pk).update(lot=None)
    where = reverse("contents:filling_bench", args=[filling.pk])
    client.post(f"{where}?mode=empty", {"weight_mg": "150 g", "client_id": new_id()})
    client.post(reverse("contents:filling", args=[filling.pk]), {"do": "column", "weights": "213"})
    words = client.get(reverse("contents:filling", args=[filling.pk])).content.decode()
    assert "1 weighed empty only" in words
    Filling.objects.filter(pk=filling.pk).update(lot=lot)
    assert len(queries.standing_fills(lot)) == 1


def test_the_advice_agrees_with_the_command(client, bench, lot, capsys):
    import json

    from pourwright.cli.main import run

    asked = {
        "declared": "212 g", "sd_mg": "2 g", "lot_size": "40", "probability": "99",
        "eye_sd_mg": "6 g", "candles_a_year": "500", "mix_minor100": "9",
    }  # fmt: skip
    words = client.get(reverse("contents:target", args=[bench.design.pk]), asked).content.decode()
    run(["contents", "target", "--rule", "eu", "--declared", "212 g", "--sd", "2 g", "--lot-size",
         "40", "--probability", "0.99", "--json"])  # fmt: skip
    told = json.loads(capsys.readouterr().out)
    assert f"{told['target_g']:.3f}".rstrip("0") in words
    assert "Poured by eye" in words
    assert "from memory" in words
    wrong = client.get(
        reverse("contents:target", args=[bench.design.pk]), asked | {"sd_mg": "200 g"}
    )
    assert "up to a third" in wrong.content.decode()


def test_an_instrument_its_checks_and_what_leans_on_it(client, lot):
    made = client.post(
        reverse("contents:new_instrument"),
        {"what": "scale", "name": "Bench scale", "division_mg": "0.1 g", "scale_class": "II"},
    )
    scale = Instrument.objects.get()
    where = reverse("contents:instrument", args=[scale.pk])
    assert made.headers["Location"] == where
    assert "never checked" in client.get(where).content.decode()
    day = timezone.localdate().isoformat()
    client.post(
        where, {"do": "check", "test_mg": "400 g", "reading_mg": "400 g", "on": day, "by": "Ada"}
    )
    assert InstrumentCheck.objects.get().passed
    send(client, lot, "column", weights=GOOD, scale=scale.pk)
    words = page(client, lot)
    assert "checked that day" in words
    assert "fine enough" in words
    client.post(where, {"do": "describe", "about-what": "scale", "about-name": "Old scale",
                        "about-division_mg": "0.1 g", "about-retired": "on"})  # fmt: skip
    index = client.get(reverse("contents:index")).content.decode()
    assert "No longer used" in index
    refused = client.post(reverse("contents:new_instrument"), {"what": "scale", "name": "Other"})
    assert "smallest step" in refused.content.decode()


def test_the_list_of_checks_takes_no_more_queries_for_more(
    client, bench, lot, django_assert_max_num_queries
):
    for minute in range(12):
        NetCheck.objects.create(
            lot=lot, market="us", rule="a rule", plan="p", declared="212 g", lot_size=6, weighed=6,
            verdict="pass", on=timezone.localdate(),
            at=AT + timedelta(minutes=minute),
        )  # fmt: skip
    with django_assert_max_num_queries(8):
        words = client.get(reverse("contents:index")).content.decode()
    assert words.count(lot.code) >= 12
    assert "competent adviser" in words


def test_what_waits_for_its_check_is_listed(client, lot):
    assert lot.code in client.get(reverse("contents:index")).content.decode()
