"""Scent panels: planned in balance, answered once each, blind until closed, and then plain."""

import uuid
from collections import Counter
from datetime import timedelta
from decimal import Decimal

import pytest

from candle_examples import lot_of, pour, set_up_bench
from conftest import AT, ON
from pourwright.core.panels import BadPanel, rank_panel, triangle_needed
from pourwright.workshop.panels import services, show
from pourwright.workshop.panels.models import Panel, PanelAnswer, PanelJar
from pourwright.workshop.panels.services import Candidate, CannotPanel

pytestmark = pytest.mark.django_db
AGES = (7, 14, 28)


@pytest.fixture
def bench(workshop):
    return set_up_bench()


def planned(candidates, *, kind="ranking", assessors=12, **more):
    told = {
        "question": "Which throws most?", "scent": "cold", "on": ON, "alpha": Decimal("0.05"),
        "seed": 5, "at": AT,
    } | more  # fmt: skip
    return services.plan(candidates, kind=kind, assessors=assessors, **told)


def at_ages(version, *ages, **more):
    poured = [ON - timedelta(days=age) for age in ages]
    return planned([Candidate(version=version, poured_on=day) for day in poured], **more)


def ages_by_code(panel):
    jars = PanelJar.objects.filter(candle__panel=panel).select_related("candle")
    return {jar.code: jar.candle.cure_days(panel.on) for jar in jars}


def rank_by(panel, key):
    """Let every assessor rank the codes by a key, the lowest first."""
    for serving in panel.servings.all():
        order = sorted(serving.codes, key=key)
        ranks = {code: order.index(code) + 1 for code in order}
        services.answer(panel, assessor=serving.number, ranks=ranks, at=AT)


def test_a_ranking_is_served_in_balance(bench):
    panel = at_ages(bench.version, *AGES, assessors=12)
    orders = [tuple(serving.codes) for serving in panel.servings.all()]
    assert len(orders) == 12
    assert set(Counter(orders).values()) == {2}  # six orders of three, each twice
    assert Counter(order[0] for order in orders) == dict.fromkeys(ages_by_code(panel), 4)


def test_a_triangle_has_two_jars_of_each_and_one_odd_one_a_serving(bench):
    panel = at_ages(bench.version, 7, 28, kind="triangle", assessors=12)
    ages = ages_by_code(panel)
    assert len(ages) == 4
    for serving in panel.servings.all():
        assert len(set(serving.codes)) == 3
        assert len({ages[code] for code in serving.codes}) == 2


def test_what_was_smelled_is_fixed(bench):
    bench.version.used = False
    bench.version.save()
    at_ages(bench.version, 7, 14)
    bench.version.refresh_from_db()
    assert bench.version.used


def test_a_lot_brings_its_version_and_its_age(bench):
    lot = lot_of(pour(bench, good=6, on=ON - timedelta(days=9)))
    panel = planned([Candidate(lot=lot), Candidate(words="the old formula")])
    candle, other = panel.candles.all()
    assert candle.version == bench.version
    assert candle.named(panel.on) == f"{lot.item.name}, {lot.code}, 9 days"
    assert (other.named(panel.on), other.cure_days(panel.on)) == ("the old formula", None)


def test_a_panel_is_blind_until_it_is_closed_and_then_plain(bench):
    panel = at_ages(bench.version, *AGES)
    ages = ages_by_code(panel)
    rank_by(panel, lambda code: -ages[code])
    with pytest.raises(CannotPanel, match="still blind"):
        services.result_of(panel)
    closed = services.close(panel, on=ON)
    assert closed.told_apart
    found = services.result_of(closed)
    # All agree: the oldest first in all twelve, as the core ranks the same rows given in order.
    assert dict(zip(found.candles, found.rank_sums, strict=True)) == {
        "7 days": 36, "14 days": 24, "28 days": 12,
    }  # fmt: skip
    assert found.friedman == rank_panel([[3, 2, 1]] * 12).friedman
    assert show.result_shown(closed).verdict == "The panel could tell some of them apart."
    with pytest.raises(CannotPanel, match="stays as it is"):
        services.more_assessors(closed, count=1)


@pytest.mark.parametrize("short", [0, 1])
def test_a_triangle_is_told_apart_from_the_number_needed_on(bench, short):
    panel = at_ages(bench.version, 7, 28, kind="triangle", assessors=18)
    ages = ages_by_code(panel)
    right = triangle_needed(assessors=18, alpha=0.05) - short
    for serving in panel.servings.all():
        seen = Counter(ages[code] for code in serving.codes)
        odd = next(code for code in serving.codes if seen[ages[code]] == 1)
        wrong = next(code for code in serving.codes if code != odd)
        services.answer(
            panel, assessor=serving.number, odd=odd if serving.number <= right else wrong, at=AT
        )
    closed = services.close(panel, on=ON)
    found = services.result_of(closed)
    assert found.correct == right
    assert closed.told_apart is (short == 0)
    words = show.result_shown(closed).verdict
    assert words == (
        "No difference was shown: that is not proof that there is none."
        if short
        else "The panel could tell them apart."
    )


def test_an_answer_that_is_sent_again_counts_once(bench):
    panel = at_ages(bench.version, 7, 14)
    codes = panel.servings.first().codes
    ranks, key = {codes[0]: 1, codes[1]: 2}, uuid.uuid4()
    first = services.answer(panel, assessor=1, ranks=ranks, at=AT, client_id=key)
    again = services.answer(panel, assessor=1, ranks=ranks, at=AT, client_id=key)
    assert first == again
    with pytest.raises(CannotPanel, match="answered already"):
        services.answer(panel, assessor=1, ranks=ranks, at=AT, client_id=uuid.uuid4())
    assert PanelAnswer.objects.count() == 1


def test_a_panel_that_is_sent_again_is_planned_once(bench):
    key = uuid.uuid4()
    first = at_ages(bench.version, 7, 14, client_id=key)
    assert at_ages(bench.version, 7, 14, client_id=key) == first
    assert Panel.objects.count() == 1


def test_a_slip_is_left_out_with_its_reason_and_entered_anew(bench):
    panel = at_ages(bench.version, 7, 14)
    codes = panel.servings.first().codes
    slip = services.answer(panel, assessor=1, ranks={codes[0]: 1, codes[1]: 2}, at=AT)
    with pytest.raises(CannotPanel, match="why"):
        services.leave_out(slip, reason=" ")
    services.leave_out(slip, reason="typed the wrong way round")
    anew = services.answer(panel, assessor=1, ranks={codes[0]: 2, codes[1]: 1}, at=AT)
    assert list(PanelAnswer.objects.filter(left_out="")) == [anew]
    assert PanelAnswer.objects.count() == 2


def test_tied_candles_share_a_place_and_nonsense_is_refused(bench):
    panel = at_ages(bench.version, *AGES)
    one, two, three = panel.servings.first().codes
    with pytest.raises(BadPanel, match="each once"):
        services.answer(panel, assessor=1, ranks={one: 1, two: 3, three: 3}, at=AT)
    with pytest.raises(CannotPanel, match=three):
        services.answer(panel, assessor=1, ranks={one: 1, two: 2}, at=AT)
    assert services.answer(panel, assessor=1, ranks={one: 1, two: 2, three: 2}, at=AT).ranks
    with pytest.raises(CannotPanel, match="not planned for"):
        services.answer(panel, assessor=99, ranks={one: 1, two: 2, three: 3}, at=AT)


def test_whoever_turns_up_late_gets_an_order_and_the_others_keep_theirs(bench):
    panel = at_ages(bench.version, *AGES, assessors=5)
    before = [serving.codes for serving in panel.servings.all()]
    services.more_assessors(panel, count=2)
    after = [serving.codes for serving in panel.servings.all()]
    assert len(after) == 7
    assert after[:5] == before


def test_too_few_answers_close_nothing_and_a_spoilt_panel_is_discarded(bench):
    panel = at_ages(bench.version, 7, 28, kind="triangle", assessors=6)
    with pytest.raises(CannotPanel, match="takes 2 or more"):
        services.close(panel, on=ON)
    for serving in panel.servings.all()[:2]:
        services.answer(panel, assessor=serving.number, odd=serving.codes[0], at=AT)
    with pytest.raises(CannotPanel, match="even all right could be guessing"):
        services.close(panel, on=ON)
    with pytest.raises(CannotPanel, match="why"):
        services.discard(panel, on=ON, reason="")
    gone = services.discard(panel, on=ON, reason="the lids were mixed up")
    assert gone.get_state_display() == "discarded"


def test_candles_that_make_no_panel_are_refused(bench):
    version, words = Candidate(version=bench.version), Candidate(words="another")
    for candidates, kind, said in (
        ([version], "ranking", "2 to 8"),
        ([version, words, Candidate(words="a third")], "triangle", "exactly 2"),
        ([version, version], "ranking", "two rows"),
        ([version, Candidate()], "ranking", "each row"),
        ([version, Candidate(words="x", poured_on=ON + timedelta(days=1))], "ranking", "after"),
        ([version, Candidate(lot=bench.lots["wax"])], "ranking", "no candle"),
    ):
        with pytest.raises(CannotPanel, match=said):
            planned(candidates, kind=kind)
    for more in ({"assessors": 1}, {"alpha": Decimal(0)}, {"question": " "}):
        with pytest.raises(CannotPanel):
            planned([version, words], **more)


def test_throw_over_cure_time_keeps_cold_and_hot_apart(bench):
    hot = at_ages(bench.version, *AGES, scent="hot")
    ages = ages_by_code(hot)
    rank_by(hot, lambda code: -min(ages[code], 14) * 1000 - int(code) % 7)
    services.close(hot, on=ON)
    alike = at_ages(bench.version, 14, 28, kind="triangle", assessors=12)
    for serving in alike.servings.all():
        services.answer(alike, assessor=serving.number, odd=serving.codes[0], at=AT)
    services.close(alike, on=ON)
    liked = at_ages(bench.version, *AGES, asks="liking")
    rank_by(liked, lambda code: code)
    services.close(liked, on=ON)
    cold, burning = show.by_cure(bench.design)
    assert [row.days for row in burning.rows] == list(AGES)
    assert burning.rows[0].ahead == "0 %"
    assert "<svg" in burning.wide
    assert len(burning.says) == 1
    # What is liked says nothing of strength; a triangle stands as a row.
    assert cold.rows == []
    assert cold.triangles[0][1] == "14 days and 28 days"


def test_what_so_many_can_show_is_said_beforehand():
    ask = {"kind": "triangle", "candles": 2, "alpha": 0.05, "power_pct": Decimal(90)}
    said = " ".join(show.beforehand(assessors=21, tell_pct=Decimal(40), **ask))
    assert f"{triangle_needed(assessors=21)} of 21" in said
    assert "To be 90 % sure" in said
    said = show.beforehand(assessors=2, tell_pct=None, **ask)
    assert "too few" in said[0]
    ask |= {"kind": "ranking", "candles": 3, "tell_pct": None}
    assert "can show nothing" in show.beforehand(assessors=2, **ask)[-1]
    assert "60 or more" in show.beforehand(assessors=15, asks="liking", **ask)[-1]
