"""A design's gate asks for a complete series of test burns of exactly this candle."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from candle_examples import set_up_bench
from conftest import AT, ON
from pourwright.workshop.burns.evidence import as_json, fingerprint_of, standing_of
from pourwright.workshop.burns.models import BurnReading, HouseLimit, Purpose, TestBurn, TestPiece
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Decision
from pourwright.workshop.stores.models import Item, WickFacts

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(workshop):
    made = set_up_bench()
    WickFacts.objects.update(series="flat braid", size="4", revision="B")
    return fresh(made)


def fresh(bench):
    """The version without what was read of its materials before."""
    bench.version = DesignVersion.objects.get(pk=bench.version.pk)
    return bench


def a_piece(version, *, purpose=Purpose.SERIES, burns=2, **reading):
    """A piece burnt for its whole life, nothing against it until a reading says so."""
    number = f"T-{TestPiece.objects.count() + 1:04d}"
    piece = TestPiece.objects.create(
        number=number, version=version, wick=version.wick, wick_count=version.wick_count,
        trim_mm=version.trim_mm, fill_mg=version.fill_mg, poured_on=ON - timedelta(30),
        fingerprint=as_json(fingerprint_of(version)), purpose=purpose, made_on=ON, at=AT,
    )  # fmt: skip
    for count in range(1, burns + 1):
        last = count == burns and purpose == Purpose.SERIES
        burn = TestBurn.objects.create(
            piece=piece, number=count, lit_at=AT, minutes=240, room_c=21, trim_mm=6, last=last,
            mass_before_mg=500_000 - 20_000 * count, mass_after_mg=480_000 - 20_000 * count,
            afterglow_s=["6"], relit=False, secondary_flame_s=0,
            went_out_by_itself=True if last else None, residue_mm=5 if last else None,
        )  # fmt: skip
        for minute, pool in ((30, 40), (60, 50), (120, 62), (180, 70), (230, 74), (240, 74)):
            figures = {
                "flame_mm": ["25"], "pool_mm": [str(pool)] * 2, "depth_mm": Decimal(9),
                "wall_pool_c": 48, "wall_dry_c": 50, "base_c": 37, "soot": 0,
            }  # fmt: skip
            BurnReading.objects.create(
                burn=burn, minute=minute, at=AT, **(figures | (reading if minute == 240 else {}))
            )
    return piece


def check(version):
    return next(c for c in gates.design_checks(version, on=ON) if c.name == "burns")


def test_without_burns_it_is_open_and_takes_a_reason(bench):
    found = check(bench.version)
    assert (found.state, found.waivable, found.gaps) == ("open", True, ("burn series",))


def test_a_complete_series_meets_it(bench):
    for _ in range(2):
        a_piece(bench.version)
    assert check(bench.version).state == "open"
    a_piece(bench.version)
    found = check(bench.version)
    assert (found.state, found.gaps) == ("met", ())
    assert "do not say that a candle is safe" in found.detail


def test_a_new_version_of_the_same_candle_keeps_its_series(bench):
    for _ in range(3):
        a_piece(bench.version)
    spec = designs.spec_of(bench.version)
    dearer = designs.revise(bench.design, spec=replace(spec, price_minor100=260_000), on=ON)
    assert check(dearer).state == "met"


def test_another_fill_asks_for_the_whole_series(bench):
    for _ in range(3):
        a_piece(bench.version)
    spec = designs.spec_of(bench.version)
    fuller = designs.revise(bench.design, spec=replace(spec, fill_mg=230_000), on=ON)
    found = check(fuller)
    assert found.state == "open"
    assert "another fill" in found.detail
    assert "whole series" in found.detail


def test_a_suppliers_new_revision_shuts_the_gate_again_until_one_piece_is_burnt(bench):
    for _ in range(3):
        a_piece(bench.version)
    gates_open(bench)
    wick = WickFacts.objects.get(item=bench.items["wick"])
    wick.revision = "C"
    wick.save()
    newest = Decision.objects.filter(design_version=bench.version).latest("id")
    assert (newest.what, newest.by) == ("withdrawn", gates.PROGRAM)
    assert "one piece for its whole life" in newest.reason
    a_piece(fresh(bench).version)
    assert check(bench.version).state == "met"


def test_a_failed_burn_of_a_mere_try_withdraws_the_release_for_good(bench):
    gates_open(bench)
    a_piece(bench.version, purpose=Purpose.SEARCH, burns=1, flame_mm=["80"])
    assert not gates.is_released(bench.version)
    found = check(bench.version)
    assert (found.state, found.waivable) == ("refused", False)
    assert "flame" in found.detail
    with pytest.raises(gates.GateClosed, match="cannot be passed by hand"):
        gates.waive(subject=bench.version, check_name="burns", reason="it went", by="M", at=AT)


def test_a_burn_that_was_left_out_does_not_count(bench):
    piece = a_piece(bench.version, purpose=Purpose.SEARCH, burns=1, flame_mm=["80"])
    for burn in piece.burns.all():
        burn.left_out, burn.left_out_at = "another candle was measured", AT
        burn.save()
    assert check(bench.version).state == "open"


def test_a_stricter_house_limit_of_the_makers_own_counts_at_once(bench):
    for _ in range(3):
        a_piece(bench.version)
    HouseLimit.objects.create(key="pool_depth_mm", value=8, at=AT)
    found = check(bench.version)
    assert (found.state, found.waivable) == ("open", True)
    assert "too deep" in found.detail


def test_a_failed_burn_of_the_same_candle_under_another_name_withdraws_the_release(bench):
    """One of another candle in the same vessel says nothing of it."""
    gates_open(bench)
    spec = designs.spec_of(bench.version)
    same = designs.new_design(name="For the market", spec=spec, on=ON)
    other = designs.new_design(name="Less of it", spec=replace(spec, fill_mg=150_000), on=ON)
    a_piece(other, purpose=Purpose.SEARCH, burns=1, flame_mm=["80"])
    assert gates.is_released(bench.version)
    a_piece(same, purpose=Purpose.SEARCH, burns=1, flame_mm=["80"])
    assert not gates.is_released(bench.version)


def test_a_try_of_another_wick_says_nothing_of_this_one(bench):
    other = Item.objects.create(kind="wick", name="Flat braid no. 9", measure="count")
    WickFacts.objects.create(item=other, series="flat braid", size="9")
    piece = a_piece(bench.version, purpose=Purpose.SEARCH, burns=1, flame_mm=["80"])
    piece.fingerprint = as_json(fingerprint_of(bench.version, wick=other))
    piece.save()
    found = standing_of(bench.version, on=ON)
    assert found.state == "no series"
    assert "wick size" in found.changed


def gates_open(bench):
    for found in gates.design_checks(bench.version, on=ON):
        if found.state == "open":
            gates.waive(subject=bench.version, check_name=found.name, reason="known", by="M", at=AT)
    gates.release(bench.version, by="M", on=ON, at=AT)
