"""The burn book's records: pieces from lots, burns that are entered once, and what is left out."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from uuid import uuid4

import pytest
from django.db import connection
from PIL import Image

from burn_workshop import burnt, lit, readings, take
from candle_examples import lot_of, pour, set_up_bench
from conftest import AT, ON
from pourwright.core.burns.house import BadHouseLimit
from pourwright.core.burns.record import BadBurn
from pourwright.workshop.burns import queries, records, services
from pourwright.workshop.burns.models import BurnReading, HouseLimit, TestBurn, TestPiece
from pourwright.workshop.burns.services import CannotTest
from pourwright.workshop.designs import services as designs
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.models import Item, Kind, Place, WickFacts

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def bench(workshop):
    return set_up_bench()


@pytest.fixture
def piece(bench, workshop):
    return take(bench, workshop)[0]


# --- pieces --------------------------------------------------------------------------------------


def test_pieces_of_a_lot_leave_the_shelf_and_are_burnt_one_by_one(bench, workshop):
    lot = lot_of(pour(bench, good=10, on=ON - timedelta(30)))
    made = take(bench, workshop, lot=lot, count=3)
    testers = made[0].lot
    assert {piece.lot for piece in made} == {testers}
    assert (ledger.held(lot, Place.SHELF)[0], ledger.held(testers, Place.TEST)[0]) == (7, 3)
    assert made[0].poured_on == lot.began_on
    burnt(made[0])
    services.finish(made[0], on=ON, at=AT)
    services.discard(made[1], reason="wick leant over when poured", on=ON, at=AT)
    assert ledger.held(testers, Place.TEST)[0] == 1
    assert ledger.held(testers, Place.BURNT)[0] == 1
    assert ledger.held(testers, Place.SCRAP)[0] == 1
    assert ledger.check_ledger() == []


def test_testers_that_no_piece_stands_for_are_taken_first(bench, workshop):
    lot = lot_of(pour(bench, good=10, on=ON - timedelta(30)))
    testers = take(bench, workshop, lot=lot, count=2)[0].lot
    TestPiece.objects.filter(lot=testers).first().delete()
    again = take(bench, workshop, lot=testers, count=1)
    assert again[0].lot == testers
    assert ledger.held(testers, Place.TEST)[0] == 2


def test_a_lot_of_another_version_is_refused(bench, workshop):
    lot = lot_of(pour(bench, on=ON - timedelta(30)))
    bench.version.used = True
    bench.version.save()
    spec = designs.spec_of(bench.version)
    spec = type(spec)(**{**{f: getattr(spec, f) for f in spec.__slots__}, "fill_mg": 230_000})
    bench.version = designs.revise(bench.design, spec=spec, on=ON)
    with pytest.raises(CannotTest, match="was not poured as"):
        take(bench, workshop, lot=lot)


def test_taking_pieces_twice_takes_them_once(bench, workshop):
    lot = lot_of(pour(bench, good=10, on=ON - timedelta(30)))
    sent = uuid4()
    first = take(bench, workshop, lot=lot, count=2, client_id=sent)
    again = take(bench, workshop, lot=lot, count=2, client_id=sent)
    assert [p.pk for p in first] == [p.pk for p in again]
    assert TestPiece.objects.count() == 2
    assert ledger.held(lot, Place.SHELF)[0] == 8


def test_a_try_keeps_its_own_wick_in_its_fingerprint(bench, workshop):
    wick = Item.objects.create(kind=Kind.WICK, name="Flat braid no. 5", measure="count")
    WickFacts.objects.create(item=wick, series="flat braid", size="5")
    tried = take(bench, workshop, wick=wick, purpose="search")[0]
    same = take(bench, workshop)[0]
    assert tried.fingerprint["wick_size"] == "5"
    assert not records.is_as_designed(tried)
    assert records.is_as_designed(same)
    assert records.core_piece(tried).part_only
    bench.version.refresh_from_db()
    assert bench.version.used, "a version that pieces are of stays as it is"


# --- lighting ------------------------------------------------------------------------------------


def test_nothing_is_lit_before_every_caution_is_ticked(piece):
    with pytest.raises(CannotTest, match="not ticked"):
        lit(piece, ticked=services.caution_keys(ON)[:-1])
    assert not TestBurn.objects.exists()


def test_a_piece_that_cures_is_lit_only_where_that_is_meant(bench, workshop):
    fresh = take(bench, workshop, poured_on=ON - timedelta(2))[0]
    with pytest.raises(CannotTest, match="cures until"):
        lit(fresh)
    assert lit(fresh, uncured=True).number == 1


def test_a_second_piece_asks_how_many_can_be_watched(bench, workshop):
    one, two, three = take(bench, workshop, count=3)
    lit(one)
    with pytest.raises(CannotTest, match="burns already"):
        lit(two)
    asked = {"on": ON, "at": AT, "room_holds": 4, "person_watches": 2}
    session = services.begin_session(**asked)
    with pytest.raises(CannotTest, match="burns by itself"):
        lit(two, session=session)
    services.put_out(one.burns.get(), at=AT + timedelta(minutes=5))
    lit(one, session=session, at=AT + timedelta(minutes=9))
    lit(two, session=session, at=AT + timedelta(minutes=9))
    with pytest.raises(CannotTest, match="2 is all that the person can watch"):
        lit(three, session=session, at=AT + timedelta(minutes=9))


def test_what_was_burnt_to_its_natural_end_is_not_lit_again(piece):
    burnt(piece, last=True)
    with pytest.raises(CannotTest, match="natural end"):
        lit(piece, at=AT + timedelta(days=1))


# --- readings ------------------------------------------------------------------------------------


def test_a_reading_sent_twice_is_recorded_once(piece):
    burn, sent = lit(piece), uuid4()
    told = {"at": AT + timedelta(minutes=31), "minute": Decimal(30), "flame_mm": [Decimal("24.5")]}
    first = services.read(burn, client_id=sent, **told)
    again = services.read(burn, client_id=sent, **told)
    assert first.pk == again.pk
    assert BurnReading.objects.count() == 1
    assert records.core_burn(burn).readings[0].flame_mm == (Fraction("24.5"),)


def test_what_is_read_of_one_minute_in_two_entries_is_one_reading(piece):
    burn = lit(piece)
    later = AT + timedelta(minutes=61)
    services.read(burn, at=later, minute=Decimal(60), flame_mm=[Decimal(25)])
    services.read(burn, at=later, minute=Decimal(60), pool_mm=[Decimal(50), Decimal(52)])
    core = records.core_burn(burn)
    assert len(core.readings) == 1
    assert core.readings[0].pool_mm == (50, 52)
    with pytest.raises(CannotTest, match="read already"):
        services.read(burn, at=later, minute=Decimal(60), flame_mm=[Decimal(19)])


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"minute": Decimal(90)}, "is not yet"),
        ({"flame_mm": [Decimal(20), Decimal(21)]}, "2 flames"),
        ({"pool_mm": [Decimal(50)]}, "give both"),
        ({"pool_mm": [Decimal(120), Decimal(50)]}, "does not fit"),
        ({"soot": 7}, "give 0 to 3"),
        ({"wall_dry_c": Decimal(900)}, "give −20\u00a0°C to 400\u00a0°C"),
        ({}, "Nothing was read"),
    ],
)
def test_what_cannot_be_is_refused_in_words(piece, told, says):
    burn = lit(piece)
    given = {"flame_mm": [Decimal(20)]} if "minute" in told else {}
    with pytest.raises(CannotTest, match=says):
        services.read(burn, at=AT + timedelta(minutes=30), **(given | told))


def test_a_reading_that_comes_late_counts_if_it_was_taken_while_it_burned(piece):
    burn = lit(piece)
    services.put_out(burn, at=AT + timedelta(hours=2), minutes=Decimal(120))
    later = AT + timedelta(hours=5)
    services.read(burn, at=later, minute=Decimal(119), depth_mm=Decimal(8))
    with pytest.raises(CannotTest, match="after its end"):
        services.read(burn, at=later, minute=Decimal(125), depth_mm=Decimal(8))


def test_a_reading_left_out_stays_in_the_book_and_counts_no_more(piece):
    burn = lit(piece)
    wrong = services.read(burn, at=AT, minute=Decimal(0), flame_mm=[Decimal(250)])
    with pytest.raises(CannotTest, match="reason"):
        services.leave_out_reading(wrong, reason=" ", at=AT)
    services.leave_out_reading(wrong, reason="typed 250 for 25", at=AT)
    services.read(burn, at=AT, minute=Decimal(0), flame_mm=[Decimal(25)])
    assert records.core_burn(burn).readings[0].flame_mm == (25,)
    assert BurnReading.objects.count() == 2


# --- the end -------------------------------------------------------------------------------------


def test_a_burn_is_put_out_once_and_weighed_when_cold(piece):
    burn, sent = lit(piece), uuid4()
    readings(burn)
    told = {"at": AT + timedelta(hours=4), "minutes": Decimal(240), "afterglow_s": [Decimal(7)]}
    out = services.put_out(burn, client_id=sent, **told)
    assert services.put_out(burn, client_id=sent, **told).pk == out.pk
    with pytest.raises(CannotTest, match="was put out"):
        services.put_out(burn, **told)
    services.weigh_after(out, at=AT + timedelta(hours=9), mass_after_mg=482_000)
    core = records.core_burn(TestBurn.objects.get())
    assert core.rate_g_per_h == Fraction(18, 4)
    with pytest.raises(CannotTest, match="on record"):
        services.weigh_after(out, at=AT, mass_after_mg=481_000)


def test_a_candle_that_gained_mass_is_refused(piece):
    burn = lit(piece)
    services.put_out(burn, at=AT + timedelta(hours=1))
    with pytest.raises(BadBurn, match="loses mass"):
        services.weigh_after(burn, at=AT, mass_after_mg=600_000)
    assert TestBurn.objects.get().mass_after_mg is None


def test_entered_anew_a_burn_keeps_its_readings_and_the_old_one_stands_left_out(piece):
    burn = burnt(piece)
    anew = services.enter_anew(burn, reason="misread the scale", at=AT, mass_after_mg=484_000)
    assert (anew.number, anew.instead_of) == (burn.number, burn)
    assert len(records.core_burn(anew).readings) == 6
    assert [b.mass_after_mg for b in records.burns_of(piece)] == [484_000]
    burn.refresh_from_db()
    assert burn.left_out == "misread the scale"
    # An entry that was on its way to the old one still arrives.
    late = services.read(burn, at=AT + timedelta(hours=5), minute=Decimal(200), depth_mm=Decimal(9))
    assert late.burn == anew


def test_a_burn_left_out_leaves_a_gap_unless_nothing_was_lit(piece):
    burnt(piece)
    second = burnt(piece, at=AT + timedelta(hours=6))
    services.leave_out_burn(second, reason="too hot a room", at=AT)
    third = burnt(piece, at=AT + timedelta(hours=12))
    assert third.number == 3
    mistaken = lit(piece, at=AT + timedelta(days=2))
    services.leave_out_burn(mistaken, reason="wrong piece", at=AT, never_lit=True)
    assert lit(piece, at=AT + timedelta(days=2)).number == 4
    assert [burn.number for burn in records.core_piece(piece).burns] == [1, 3, 4]


def test_a_photo_is_kept_small_and_without_where_it_was_taken(piece):
    burn, sent = lit(piece), uuid4()
    picture = Image.new("RGB", (2400, 1800), (190, 150, 90))
    exif = Image.Exif()
    exif[0x010F] = "Some camera"
    out = BytesIO()
    picture.save(out, "JPEG", exif=exif)
    kept = services.photo(burn, data=out.getvalue(), at=AT, client_id=sent)
    assert services.photo(burn, data=out.getvalue(), at=AT, client_id=sent).pk == kept.pk
    with Image.open(BytesIO(bytes(kept.image))) as read:
        assert read.size == (1600, 1200)
        assert not read.getexif()
    with pytest.raises(CannotTest, match="no photo"):
        services.photo(burn, data=b"%PDF-1.7", at=AT)


# --- what is due, and what it showed -------------------------------------------------------------


def test_due_readings_follow_the_minute(piece):
    burn = lit(piece)
    later = AT + timedelta(minutes=31)
    services.read(burn, at=later, minute=Decimal(31), flame_mm=[Decimal(25)])
    given = {
        "candle": records.candle_of(piece), "house": records.limits_on(ON),
    }  # fmt: skip
    due = queries.due_of(burn, records.core_burn(burn).readings, minute=Decimal(58), **given)
    states = {(one.group, one.minute): one.state for one in due}
    assert states["flame", 30] == "read"
    assert states["pool", 60] == "now"
    assert states["flame", 120] == "later"
    # The pool must be full by 3 h 54.8 min: it is seen before that, and once.
    assert [m for g, m in states if g == "pool"] == [60, 120, 180, 234]
    late = queries.due_of(burn, [], minute=Decimal(80), **given)
    assert {one.state for one in late if one.minute in (30, 60)} == {"missed"}


def test_a_burn_is_judged_under_the_makers_own_limits(piece):
    found = queries.judged(burnt(piece), units="metric")
    assert found.verdict.verdict == "criteria met"
    HouseLimit.objects.create(key="wall_warn_c", value=Decimal(45), at=AT)
    found = queries.judged(TestBurn.objects.get(), units="metric")
    assert (found.verdict.verdict, found.verdict.findings[0].house) == ("warn", True)


def test_a_laxer_limit_needs_its_reason_and_a_default_is_no_change(workshop):
    start = {k: Decimal(v.numerator) / v.denominator for k, v in
             records.limits_on(ON).values.items()}  # fmt: skip
    told = {"on": ON, "at": AT, "by": "Ada"}
    laxer = start | {"wall_warn_c": Decimal(65)}
    with pytest.raises(BadHouseLimit, match="write the reason"):
        services.set_limits(values=laxer, reasons={}, **told)
    services.set_limits(values=laxer, reasons={"wall_warn_c": "thick stoneware"}, **told)
    assert records.limits_on(ON)["wall_warn_c"] == 65
    services.set_limits(values=start, reasons={}, **told)
    assert not HouseLimit.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_the_same_reading_sent_at_the_same_moment_is_recorded_once(bench, workshop):
    burn, sent = lit(take(bench, workshop)[0]), uuid4()

    def send(_):
        try:
            return services.read(
                burn, at=AT, minute=Decimal(0), flame_mm=[Decimal(20)], client_id=sent
            ).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        assert len(set(pool.map(send, range(4)))) == 1
    assert BurnReading.objects.count() == 1
