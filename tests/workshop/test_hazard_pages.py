"""The pages of compositions as a maker meets them: from a sheet's PDF to what counts."""

import io
import re
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from reportlab.lib.styles import getSampleStyleSheet
from reportlab.platypus import PageBreak, Paragraph, SimpleDocTemplate, Table

from composition_examples import BENZOATE, EUGENOL, LINALOOL, confirmed, drafted, oil
from conftest import AT
from design_examples import design, formula, wax
from pourwright.intake.sheets import SheetReading, SheetUnreadable
from pourwright.workshop.hazard import services, views
from pourwright.workshop.hazard.models import ItemComposition, SafetySheet, State
from pourwright.workshop.house.exchange_tables import plain_tables
from pourwright.workshop.stores import items

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def here(workshop):
    workshop.markets = "eu"
    workshop.maker = "Ada"
    workshop.save()
    return workshop


@pytest.fixture
def fig(db):
    return oil()


def text(response) -> str:
    """Return what a reader sees: without tags, spaces made plain."""
    words = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", words.replace("\u00a0", " ").replace("&nbsp;", " "))


def boxes(response) -> dict[str, str]:
    """Return what stands in a page's boxes, by their names."""
    found = {}
    for tag, inner in re.findall(
        r"<(?:input|textarea)([^>]*)>(?:\s*([^<]*)</textarea>)?", response.content.decode()
    ):
        if name := re.search(r'name="([^"]+)"', tag):
            value = re.search(r'value="([^"]*)"', tag)
            found[name[1]] = (value[1] if value else inner.strip()).replace("&lt;", "<")
    return found


def sent(*rows, **head) -> dict:
    """Return a form as it is sent."""
    form = {
        "rows-TOTAL_FORMS": str(len(rows)),
        "rows-INITIAL_FORMS": "0",
        "sheet_date": "2025-04-03",
    }
    for number, row in enumerate(rows):
        form |= {f"rows-{number}-{name}": value for name, value in row.items()}
    return form | head


def sheet_pdf() -> bytes:
    """Return a small safety sheet of two pages."""
    body = getSampleStyleSheet()["BodyText"]
    table = Table(
        [
            ["Substance", "CAS No.", "%", "Classification"],
            ["Linalool", "78-70-6", "5 - <10", "Skin Irrit. 2; H315, Skin Sens. 1B; H317"],
            ["Eugenol", "97-53-0", "1 - 3", "Skin Sens. 1B; H317, Eye Irrit. 2; H319"],
        ]
    )
    file = io.BytesIO()
    SimpleDocTemplate(file, invariant=True).build(
        [
            Paragraph("SECTION 1: Identification", body),
            Paragraph("Product name: Fig and Lantern", body),
            Paragraph("Revision date: 14 March 2025", body),
            Paragraph("The mixture is described by its ingredients in section 3. " * 6, body),
            Paragraph("SECTION 3: Composition/information on ingredients", body),
            table,
            PageBreak(),
            Paragraph("SECTION 9: Physical and chemical properties", body),
            Paragraph("Flash point: 93 °C (closed cup)", body),
        ]
    )
    return file.getvalue()


def brought(client, item, content, name="sheet.pdf", **more):
    file = SimpleUploadedFile(name, content, content_type="application/pdf")
    return client.post(f"/hazard/items/{item.pk}/sheet/", {"file": file, **more})


# --- from a sheet --------------------------------------------------------------------------------


def test_a_sheet_is_read_shown_beside_its_page_and_counts_once_confirmed(client, fig):
    answer = brought(client, fig, sheet_pdf(), "Fig & Lantern.pdf")
    page = client.get(answer.url)
    found = boxes(page)
    assert (found["rows-0-name"], found["rows-0-cas"]) == ("Linalool", "78-70-6")
    assert (found["rows-0-share"], found["rows-1-share"]) == ("5 - <10", "1 - 3")
    assert found["rows-0-classes"].split("\n") == ["Skin Irrit 2", "Skin Sens 1B"]
    assert (found["product_name"], found["sheet_date"]) == ("Fig and Lantern", "2025-03-14")
    # Each row leads to its mark on the page's picture, and the mark back to the row.
    content = page.content.decode()
    assert 'href="#mark-0-0"' in content
    assert re.search(
        r'<a href="#row-1" id="mark-0-0"[^>]*><title>Row 1</title><rect x="\d', content
    )
    assert services.composition_of(fig) is None
    # What was read is mended, and confirmed.
    answer = client.post(
        answer.url, {**found, "rows-1-share": "0.5", "facts_too": "on", "do": "confirm"}
    )
    assert answer.url == f"/stores/items/{fig.pk}/#composition"
    made = ItemComposition.objects.get()
    assert (made.state, made.confirmed_by, made.sheet.name) == (
        State.CONFIRMED, "Ada", "Fig _ Lantern.pdf",
    )  # fmt: skip
    assert [str(one.pct) for one in services.composition_of(fig).ingredients] == [
        "5 - <10 %", "0.5 %",
    ]  # fmt: skip
    fig.oil.refresh_from_db()
    assert (fig.oil.flash_point_c, fig.oil.sheet_date) == (93, date(2025, 3, 14))
    shown = text(client.get(f"/stores/items/{fig.pk}/"))
    assert "linalool" in shown.casefold()
    assert "Read from a safety sheet “Fig and Lantern”, sheet of 14 Mar 2025" in shown


def test_the_sheet_and_its_pages_are_sent_as_they_are_and_for_good(client, fig):
    content = sheet_pdf()
    brought(client, fig, content)
    SafetySheet.objects.update(name='Fïg "a".pdf')
    sha256 = SafetySheet.objects.get().sha256
    sheet = client.get(f"/hazard/sheets/{sha256}.pdf")
    assert sheet.content == content
    assert sheet["Content-Type"] == "application/pdf"
    assert sheet["X-Content-Type-Options"] == "nosniff"
    assert sheet["Content-Disposition"] == 'inline; filename="F_g _a_.pdf"'
    assert "immutable" in sheet["Cache-Control"]
    assert "default-src 'none'" in sheet["Content-Security-Policy"]
    picture = client.get(f"/hazard/sheets/{sha256}/page-2.png")
    assert picture.content.startswith(b"\x89PNG")
    assert client.get(f"/hazard/sheets/{sha256}/page-3.png").status_code == 404
    assert client.get(f"/hazard/sheets/{'0' * 64}.pdf").status_code == 404
    assert client.get(f"/hazard/sheets/{'0' * 64}/page-1.png").status_code == 404
    assert client.get("/hazard/sheets/../secret-key").status_code == 404


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"not a sheet at all", "This is no PDF"),
        (b"%PDF-1.7 and then nothing that a reader could use", "PDF"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_and_leaves_nothing_behind(client, fig, content, says):
    answer = brought(client, fig, content)
    assert answer.status_code == 200
    assert says in text(answer)
    assert "type it" in text(answer)
    assert not SafetySheet.objects.exists()
    assert not ItemComposition.objects.exists()


def test_a_sheet_that_cannot_be_read_can_still_be_kept_and_typed(client, fig, monkeypatch):
    def never(content):
        raise SheetUnreadable("not to be opened")

    monkeypatch.setattr(views, "read_sheet", never)
    answer = brought(client, fig, b"%PDF-1.7 locked", only_keep="on")
    page = client.get(answer.url)
    assert "The whole sheet" in text(page)
    assert boxes(page)["rows-0-name"] == ""


def test_the_very_sheet_brought_again_leads_to_what_it_already_made(client, fig):
    first = brought(client, fig, sheet_pdf())
    assert brought(client, fig, sheet_pdf()).url == first.url
    assert "This very sheet is here already" in text(client.get(first.url))
    plum = brought(client, oil("Plum"), sheet_pdf())
    assert plum.url != first.url
    assert (SafetySheet.objects.count(), ItemComposition.objects.count()) == (1, 2)


def test_a_sheet_of_pictures_opens_an_empty_form_beside_its_pages(client, fig, monkeypatch):
    scanned = SheetReading(has_text=False, page_count=2, page_sizes=((595.0, 842.0),) * 2)
    monkeypatch.setattr(views, "read_sheet", lambda content: scanned)
    page = client.get(brought(client, fig, b"%PDF-1.7 scanned").url)
    assert "a picture of text and cannot be read" in text(page)
    assert 'alt="Page 2 of the safety sheet"' in page.content.decode()
    assert boxes(page)["rows-2-name"] == ""


def test_too_large_a_file_is_refused_by_its_size(client, fig, monkeypatch):
    monkeypatch.setattr(views.keeping, "MOST_BYTES", 100)
    monkeypatch.setattr(views.forms.keeping, "MOST_BYTES", 100)
    assert "The file is 0.0 MB" in text(brought(client, fig, b"%PDF-1.7" + b"0" * 200))
    assert not SafetySheet.objects.exists()


# --- typing and mending --------------------------------------------------------------------------


def test_what_is_wrong_is_said_at_its_box_and_nothing_typed_is_lost(client, fig):
    typed = {"name": "linalool", "cas": "78-70-5", "share": "lots", "classes": "Smelly 3",
             "m_acute": "ten", "limits": "Skin Sens 1B", "ate": "1200"}  # fmt: skip
    form = sent(typed, EUGENOL, note="by hand", flash_point_c="hot", do="confirm")
    page = client.post(f"/hazard/items/{fig.pk}/type/", form)
    assert page.status_code == 200
    found = boxes(page)
    for name, value in typed.items():
        assert found[f"rows-0-{name}"] == value
    assert (found["note"], found["flash_point_c"]) == ("by hand", "hot")
    assert found["rows-1-classes"].split() == EUGENOL["classes"].split()
    said = text(page)
    for words in ("check digit would be 6", "is no percentage", "names no hazard class",
                  "such as 10", "is not a class and its limit", "not a route"):  # fmt: skip
        assert words in said
    assert page.content.decode().count('class="errorlist"') >= 7
    assert not ItemComposition.objects.exists()


def test_a_refusal_of_the_whole_stands_at_the_head_and_keeps_what_was_typed(client, fig):
    page = client.post(
        f"/hazard/items/{fig.pk}/type/", sent(LINALOOL, LINALOOL, do="confirm", revision="7")
    )
    assert "rows 1 and 2, the same in both" in text(page)
    assert boxes(page)["revision"] == "7"
    page = client.post(f"/hazard/items/{fig.pk}/type/", sent(do="confirm"))
    assert "There is no substance in it" in text(page)


def test_rows_are_added_and_taken_out_without_javascript(client, fig):
    address = f"/hazard/items/{fig.pk}/type/"
    page = client.post(address, sent(LINALOOL, {"name": "half", "share": "?"}, more="3"))
    found = boxes(page)
    assert found["rows-TOTAL_FORMS"] == "5"
    assert (found["rows-1-name"], found["rows-1-share"]) == ("half", "?")
    assert "errorlist" not in page.content.decode()
    gone = {"name": "half", "share": "?", "gone": "on"}
    client.post(address, sent(LINALOOL, gone, {"name": ""}, EUGENOL, do="confirm"))
    kept = services.composition_of(fig).ingredients
    assert [part.substance.cas for part in kept] == ["78-70-6", "97-53-0"]


def test_a_half_typed_draft_is_kept_and_found_again(client, fig):
    half = {"name": "linalool", "share": "some", "found": "", "unknown_acute": "oral"}
    answer = client.post(
        f"/hazard/items/{fig.pk}/type/", sent(half, sheet_date="", note="ask them", do="keep")
    )
    found = boxes(client.get(answer.url))
    assert (found["rows-0-share"], found["note"]) == ("some", "ask them")
    assert "waits to be confirmed" in text(client.get(f"/stores/items/{fig.pk}/"))
    # And kept again: doubts and marks of the reading stay with their rows.
    client.post(answer.url, sent(half, LINALOOL, do="keep"))
    assert len(ItemComposition.objects.get().typed["rows"]) == 2


def test_what_confirming_would_change_is_shown_before(client, fig):
    version = formula(waxes=[(wax(), 1)], oils=[(fig, 1)])
    design(formula_version=version)
    confirmed(fig, {**LINALOOL, "share": "1"}, sheet_date=date(2025, 9, 1))
    waiting = drafted(fig, {**LINALOOL, "share": "30"}, EUGENOL, sheet_date="2025-01-01")
    shown = text(client.get(f"/hazard/compositions/{waiting.pk}/"))
    assert "This sheet is older than the one that counts now (1 Sep 2025)" in shown
    assert "linalool: 1 % becomes 30 %" in shown
    assert "eugenol is new" in shown
    assert "no hazard element" in shown
    assert "Warning, H317" in shown


def test_the_harmonised_entry_stands_beside_the_suppliers_word(client, fig):
    unsaid = {"name": "citronellol", "cas": "106-22-9", "share": "1", "classes": ""}
    musk = {"name": "musk", "share": "1"}
    confirmed(fig, {**BENZOATE, "classes": "Chronic 3"}, EUGENOL, unsaid, musk)
    shown = text(client.get(f"/hazard/items/{fig.pk}/"))
    assert "adds Acute 4* oral" in shown
    assert "takes the place of Chronic 3 by Chronic 2" in shown
    assert "no harmonised entry" in shown
    assert "usual on sheets, counted here: Skin Irrit 2" in shown
    assert "not in the table that comes with the program" in shown


# --- pasting -------------------------------------------------------------------------------------


def test_rows_pasted_or_from_a_file_become_a_draft_to_look_over(client, fig):
    pasted = "linalool\t78-70-6\t5 - <10\tSkin Sens. 1B\nodd\t78-70-5\tsome\t"
    answer = client.post(f"/hazard/items/{fig.pk}/paste/", {"text": pasted})
    found = boxes(client.get(answer.url))
    assert (found["rows-0-cas"], found["rows-1-share"]) == ("78-70-6", "some")
    file = SimpleUploadedFile("a.csv", b"CAS;%;name\r\n97-53-0;1,5;eugenol\r\n")
    answer = client.post(f"/hazard/items/{fig.pk}/paste/", {"file": file})
    found = boxes(client.get(answer.url))
    assert (found["rows-0-name"], found["rows-0-share"]) == ("eugenol", "1,5")
    page = client.post(f"/hazard/items/{fig.pk}/paste/", {"text": ""})
    assert "Paste the rows, or choose a file" in text(page)


# --- versions, lists, finding --------------------------------------------------------------------


def test_a_version_is_withdrawn_with_a_reason_and_the_next_begun_from_it(client, fig):
    made = confirmed(fig, LINALOOL)
    page = client.post(f"/hazard/compositions/{made.pk}/withdraw/", {"reason": ""})
    assert "required" in text(page)
    client.post(f"/hazard/compositions/{made.pk}/withdraw/", {"reason": "the wrong sheet"})
    shown = text(client.get(f"/hazard/items/{fig.pk}/"))
    assert "the wrong sheet" in shown
    assert "Nothing counts for it yet" in shown
    answer = client.post(f"/hazard/compositions/{made.pk}/again/")
    assert boxes(client.get(answer.url))["rows-0-name"] == "linalool"
    answer = client.post(f"{answer.url}discard/")
    assert answer.url == f"/hazard/items/{fig.pk}/"
    assert ItemComposition.objects.count() == 1
    # What stands is not thrown away, and not edited.
    client.post(f"/hazard/compositions/{made.pk}/discard/")
    assert client.post(f"/hazard/compositions/{made.pk}/", sent(LINALOOL)).status_code == 404
    assert ItemComposition.objects.count() == 1


def test_an_oil_alone_is_shown_by_its_load_for_the_market_asked(client, fig, workshop):
    assert client.get(f"/hazard/items/{fig.pk}/alone/").status_code == 404
    confirmed(fig, {**LINALOOL, "share": "20"})
    workshop.markets = "eu,us"
    workshop.save()
    shown = text(client.get(f"/hazard/items/{fig.pk}/alone/"))
    assert "H317" in shown
    assert "competent adviser" in shown
    assert "16 CFR 1500.13" in text(client.get(f"/hazard/items/{fig.pk}/alone/?market=us"))


def test_what_does_not_melt_has_no_such_pages(client):
    lid = items.new_item(kind="part", name="Lid")
    assert client.get(f"/hazard/items/{lid.pk}/").status_code == 404
    assert "What is in it" not in text(client.get(f"/stores/items/{lid.pk}/"))


def test_the_list_tells_what_lacks_waits_and_is_old_without_a_query_for_each(client, fig):
    plum, tea = oil("Plum"), oil("Tea")
    items.new_item(kind="wax", name="Soy")
    confirmed(fig, LINALOOL, sheet_date=date(2019, 1, 1))
    drafted(plum, LINALOOL)

    def listed(show):
        page = text(client.get(f"/hazard/?show={show}"))
        return {name for name in ("Fig leaf", "Plum", "Tea", "Soy") if f" {name} " in page}

    assert listed("") == {"Fig leaf", "Plum", "Tea", "Soy"}
    assert listed("lacking") == {"Plum", "Tea", "Soy"}
    assert listed("waits") == {"Plum"}
    assert listed("old") == {"Fig leaf"}
    with CaptureQueriesContext(connection) as few:
        client.get("/hazard/")
    for number in range(12):
        confirmed(oil(f"Oil {number}"), LINALOOL)
    with CaptureQueriesContext(connection) as many:
        client.get("/hazard/")
    assert len(many) == len(few)
    assert tea.pk


def test_a_cas_number_or_a_name_finds_the_materials_that_hold_it(client, fig):
    confirmed(fig, LINALOOL)
    confirmed(fig, EUGENOL, at=AT.replace(day=3))
    drafted(oil("Plum"), EUGENOL)
    found = text(client.get("/find/?q=97-53-0"))
    assert "Fig leaf holds eugenol (97-53-0)" in found
    assert "Plum" not in found
    assert "holds" not in text(client.get("/find/?q=linalool"))


def test_the_known_substances_say_whose_word_and_what_is_from_memory(client):
    shown = text(client.get("/hazard/substances/"))
    assert "linalool 78-70-6 harmonised entry: Skin Sens 1B (Annex VI, index 603-235-00-2)" in shown
    assert "from memory" in shown
    assert "competent adviser" in shown


def test_plain_tables_leave_the_sheets_bytes_out(workshop, fig):
    names = [table.name for table in plain_tables(workshop)]
    assert "safety sheets" in names
    assert "sheet files" not in names


def test_the_months_after_which_a_sheet_is_old_are_set_with_the_workshop(client, workshop):
    page = boxes(client.get("/workshop/"))
    assert page["sheet_old_months"] == "36"
    form = {**page, "name": "W", "units": "metric", "currency": "USD", "markets": ["eu"]}
    assert client.post("/workshop/", {**form, "sheet_old_months": "24"}).status_code == 302
    workshop.refresh_from_db()
    assert workshop.sheet_old_months == 24
    assert client.post("/workshop/", {**form, "sheet_old_months": ""}).status_code == 302
    workshop.refresh_from_db()
    assert workshop.sheet_old_months == 24
