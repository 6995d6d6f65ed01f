"""Sheets are kept once, drafts keep what was typed, and only what is confirmed counts."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest

from composition_examples import BENZOATE, EUGENOL, LINALOOL, confirmed, drafted, head, oil, row
from conftest import AT, ON
from design_examples import design, formula, wax
from pourwright.core.hazard.model import Range, Route
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates import watch
from pourwright.workshop.hazard import drafts, keeping, services
from pourwright.workshop.hazard.models import ItemComposition, Made, SafetySheet, SheetFile, State
from pourwright.workshop.hazard.records import BadRow, Row, row_of
from pourwright.workshop.stores import items

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

PDF = b"%PDF-1.7\n" + bytes(range(256))


# --- sheets --------------------------------------------------------------------------------------


def test_the_same_sheet_under_two_oils_is_stored_once(workshop):
    first = keeping.keep_sheet(PDF, name="a.pdf", at=AT)
    again = keeping.keep_sheet(PDF, name="another name.pdf", at=AT)
    assert first == again
    assert bytes(SheetFile.objects.get().content) == PDF


def test_a_sheet_stays_while_anything_rests_on_it_and_goes_with_its_last_draft(workshop):
    sheet = keeping.keep_sheet(PDF, name="a.pdf", at=AT)
    one, other = (
        keeping.begin(oil(name), made=Made.SHEET, at=AT, sheet=sheet) for name in ("Fig", "Plum")
    )
    keeping.discard(one)
    assert SafetySheet.objects.count() == 1
    keeping.discard(other)
    assert (SafetySheet.objects.count(), SheetFile.objects.count()) == (0, 0)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"PK\x03\x04 a workbook", "no PDF"),
        (b"<html>" + b" " * 2000 + b"%PDF-1.7", "no PDF"),
        (b"%PDF-1.7" + b"0" * keeping.MOST_BYTES, "up to 20 MB"),
    ],
)
def test_what_is_no_sheet_is_not_kept(workshop, content, says):
    with pytest.raises(keeping.CannotKeep, match=says):
        keeping.keep_sheet(content, name="a.pdf", at=AT)


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("..\\..\\system\\Fig.PDF", "Fig.pdf"),
        ("/etc/passwd", "passwd.pdf"),
        ('a"b\r\nSet-Cookie: x.pdf', "a_b__Set-Cookie_ x.pdf"),
        ("...pdf", "safety sheet.pdf"),
        ("Ä" * 300, "Ä" * 110 + ".pdf"),
    ],
)
def test_a_files_name_is_kept_without_what_a_system_trips_over(given, kept):
    assert keeping.plain_name(given) == kept


# --- drafts and confirming -----------------------------------------------------------------------


def test_a_draft_keeps_what_cannot_be_read_and_counts_for_nothing(workshop):
    fig = oil()
    nonsense = {"name": "linalool", "cas": "78-70-5", "share": "lots", "classes": "Smelly 3"}
    made = drafted(fig, LINALOOL, nonsense)
    made.refresh_from_db()
    assert made.typed["rows"][1] == nonsense
    rows, unread = drafts.rows_that_read(made)
    assert ([one.name for one in rows], unread) == (["linalool"], 1)
    assert set(drafts.read_row(nonsense).wrong) == {"cas", "share", "classes"}
    assert services.composition_of(fig) is None


def test_confirming_makes_it_count_and_supersedes_what_counted(workshop):
    fig = oil()
    first = confirmed(fig, LINALOOL)
    later = AT + timedelta(days=30)
    second = confirmed(fig, LINALOOL, BENZOATE, at=later)
    first.refresh_from_db()
    assert (first.state, first.closed_at) == (State.SUPERSEDED, later)
    assert (second.number, second.counts, second.confirmed_by) == (2, True, "Ada")
    found = services.composition_of(fig)
    assert [part.substance.cas for part in found.ingredients] == ["78-70-6", "120-51-4"]
    assert found.ingredients[0].pct == Range(low=Fraction(5), high=Fraction(10), open_above=True)


def test_everything_that_a_row_says_comes_back_exactly(workshop):
    full = row(
        {
            "name": "isoeugenol", "cas": "97-54-1", "share": "0.0125 - <0.3333333",
            "classes": "Acute Tox. 4* (oral); H302\nSkin Sens. 1A", "m_acute": "10",
            "m_chronic": "1", "limits": "Skin Sens 1A 0.01", "ate": "oral 1500.5",
            "non_additive": True, "unknown_acute": "dermal, gas", "unknown_aquatic": True,
        }
    )  # fmt: skip
    fig = oil()
    made = keeping.settle(
        fig, draft=None, head=head(unknown_acute={Route.ORAL: Fraction("12.5")}), rows=[full],
        facts_too=False, by="Ada", on=ON, at=AT,
    )  # fmt: skip
    assert row_of(made.rows.get()) == full
    assert services.composition_of(fig).unknown_acute_pct == {Route.ORAL: Fraction("12.5")}
    # And typed out anew it is read as the same.
    again = drafts.read_row(drafts.typed_row(full)).row
    assert again == full


def test_what_was_confirmed_is_never_edited_and_is_mended_by_the_next(workshop):
    fig = oil()
    made = confirmed(fig, EUGENOL, product_name="Fig", flash_point_c=Decimal(93))
    for change in (
        lambda: keeping.keep_draft(made, typed={}),
        lambda: keeping.discard(made),
        lambda: keeping.confirm(made, head=head(), rows=[row()], by="", on=ON, at=AT),
    ):
        with pytest.raises(keeping.CannotKeep, match="stands as it is"):
            change()
    following = keeping.redraft(made, at=AT)
    assert following.typed["head"]["flash_point_c"].split() == ["93", "°C"]
    assert drafts.rows_that_read(following) == ([row(EUGENOL)], 0)
    assert services.composition_of(fig) is not None


def test_withdrawn_nothing_counts_and_the_reason_stays(workshop):
    fig = oil()
    made = confirmed(fig, LINALOOL)
    with pytest.raises(keeping.CannotKeep, match="Say why"):
        keeping.withdraw(made, reason=" ", at=AT)
    keeping.withdraw(made, reason="the wrong oil's sheet", at=AT)
    made.refresh_from_db()
    assert (made.state, made.reason) == (State.WITHDRAWN, "the wrong oil's sheet")
    assert services.composition_of(fig) is None
    with pytest.raises(keeping.CannotKeep, match="does not count"):
        keeping.withdraw(made, reason="again", at=AT)


@pytest.mark.parametrize(
    ("rows", "about", "says"),
    [
        ([], {}, "no substance"),
        ([LINALOOL], {"nothing_listed": True}, "take one of them back"),
        ([LINALOOL], {"sheet_date": date(2026, 3, 3)}, "between 1980 and today"),
        ([LINALOOL, LINALOOL], {}, "rows 1 and 2"),
        ([{**LINALOOL, "share": "60 - 70"}, {**EUGENOL, "share": "41 - 50"}], {}, "come to 101 %"),
        ([LINALOOL], {"unknown_acute": {Route.ORAL: Fraction(101)}}, "unknown oral toxicity"),
    ],
)
def test_what_no_sheet_can_say_is_refused_and_nothing_is_kept(workshop, rows, about, says):
    with pytest.raises(keeping.CannotKeep, match=says):
        keeping.settle(
            oil(), draft=None, head=head(**about), rows=[row(one) for one in rows],
            facts_too=False, by="", on=ON, at=AT,
        )  # fmt: skip
    assert not ItemComposition.objects.exists()


def test_a_share_finer_than_the_record_is_refused_and_not_rounded(workshop):
    fine = Row(name="linalool", pct=Range(high=Fraction(1, 3)))
    with pytest.raises(BadRow, match="Row 1, linalool"):
        keeping.settle(
            oil(), draft=None, head=head(), rows=[fine], facts_too=False, by="", on=ON, at=AT
        )
    assert not ItemComposition.objects.exists()


def test_upper_ends_above_a_hundred_together_are_as_sheets_are(workshop):
    wide = confirmed(oil(), {**LINALOOL, "share": "50 - 75"}, {**EUGENOL, "share": "25 - 50"})
    assert wide.counts


def test_only_what_melts_has_a_composition(workshop):
    lid = items.new_item(kind="part", name="Lid")
    with pytest.raises(keeping.CannotKeep, match="waxes, oils, dyes and additives"):
        keeping.begin(lid, made=Made.TYPED, at=AT)


# --- the oil's facts and the gate ----------------------------------------------------------------


def test_flash_point_density_and_date_go_to_the_oils_facts_where_that_is_ticked(workshop):
    about = {"flash_point_c": Decimal("93.5"), "density_g_ml": Decimal("0.985"), "revision": "4"}
    told, kept = (oil(name, flash_point_c=Decimal(60), sheet_revision="1") for name in ("A", "B"))
    confirmed(told, LINALOOL, facts_too=True, **about)
    confirmed(kept, LINALOOL, **about)
    told.oil.refresh_from_db()
    kept.oil.refresh_from_db()
    facts = told.oil
    assert (facts.flash_point_c, facts.density_g_ml) == (Decimal("93.5"), Decimal("0.985"))
    assert (facts.sheet_date, facts.sheet_revision) == (date(2025, 4, 3), "4")
    assert (kept.oil.flash_point_c, kept.oil.sheet_revision) == (Decimal(60), "1")


def test_a_figure_that_no_oil_has_keeps_the_composition_from_counting(workshop):
    fig = oil()
    with pytest.raises(items.BadFact, match="flash point"):
        confirmed(fig, LINALOOL, facts_too=True, flash_point_c=Decimal(999))
    assert services.composition_of(fig) is None


@pytest.fixture
def rechecked(monkeypatch):
    """The designs that were looked at again, with what counted for their oil at that moment."""
    seen = []

    def note(subject, **_):
        item = subject.formula_version.oils.get().item
        found = services.composition_of(item)
        seen.append((subject.pk, found and len(found.ingredients)))

    monkeypatch.setattr(gates, "recheck", note)
    monkeypatch.setattr(watch.services, "decided_released", lambda subjects: list(subjects))
    return seen


def test_what_is_confirmed_or_withdrawn_is_held_against_the_releases_that_rest_on_it(
    workshop, rechecked
):
    fig, plum = oil(), oil("Plum")
    with_fig = design(
        formula_version=formula(waxes=[(wax(), Decimal(1))], oils=[(fig, Decimal(1))])
    )
    drafted(fig, LINALOOL)
    confirmed(plum, LINALOOL)
    assert rechecked == []
    first = confirmed(fig, LINALOOL)
    assert rechecked == [(with_fig.pk, 1)]
    # At no moment does it look as if nothing counted: that would withdraw a good release.
    second = confirmed(fig, LINALOOL, EUGENOL)
    assert rechecked[1:] == [(with_fig.pk, 2)]
    keeping.withdraw(second, reason="misread", at=AT)
    assert rechecked[2:] == [(with_fig.pk, None)]
    assert first.item == fig


def test_a_sheet_that_brings_a_banned_substance_takes_the_candle_off_sale(workshop):
    """
    2-(4-tert-butylbenzyl)propionaldehyde, Repr 1B, in the candle at 0.3 % or more.

    Source: CLP Annex I, 3.7.2; REACH Annex XVII, entry 30 (from memory): no sale to the public.
    """
    fig = oil()
    version = design(
        formula_version=formula(waxes=[(wax(), Decimal(1))], oils=[(fig, Decimal(1))]), markets="eu"
    )
    confirmed(fig, LINALOOL)
    for one in gates.checks_of(version, on=ON):
        if one.state == "open":
            gates.waive(subject=version, check_name=one.name, reason="as before", by="Ada", at=AT)
    gates.release(version, by="Ada", on=ON, at=AT)
    assert gates.is_released(version)
    banned = {"name": "butylphenyl methylpropional", "cas": "80-54-6", "share": "4"}
    # At 8 % of the wax: 4 % of 8/108 is 0.296 % of the whole, just below; 4.05 % is 0.3 % exactly.
    confirmed(fig, LINALOOL, banned)
    assert gates.is_released(version)
    confirmed(fig, LINALOOL, {**banned, "share": "4.05"})
    assert not gates.is_released(version)
