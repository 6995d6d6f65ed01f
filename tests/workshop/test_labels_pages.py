"""The pages of labels: the checklist, the look kept and shown, a lot's PDF, sheets and printers."""

from io import BytesIO

import pypdf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from label_workshop import a_bench, a_lot
from pourwright.workshop.house.doors import new_id
from pourwright.workshop.labels.models import LabelLook, LabelPrint, Printer, SheetSize

pytestmark = pytest.mark.django_db
ART = b"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><path d="M2 18L20 2L38 18Z"
fill="#7a4a2a"/></svg>"""


@pytest.fixture
def bench(workshop):
    return a_bench(workshop)


@pytest.fixture
def lot(bench):
    return a_lot(bench)


def label_page(bench) -> str:
    return reverse("labels:design", args=[bench.design.pk])


def look(**more) -> dict:
    """Return the look's form as the page sends it untouched."""
    return {
        "ground": "#ffffff", "ink": "#1a1714", "brand": "Lanternwick", "identity": "",
        "art_place": "above", "language": "en", "overlap_mm": "6 mm", "bleed_mm": "2 mm",
        "carrier": "wrap", "on_base": ["fire", "lot"], "tag_width_mm": "70", "tag_height_mm": "120",
        "carton_width_mm": "148", "carton_height_mm": "105", "carton_holds": "6", "do": "keep",
        **more,
    }  # fmt: skip


def to_print(**more) -> dict:
    return {
        "faces": ["base"], "sheet": "plain-a4", "number": "5", "start": "1", "cut": "on",
        "client_id": new_id(), **more,
    }  # fmt: skip


def test_the_page_lists_what_must_be_on_it_and_ends_with_the_caution(client, bench):
    words = client.get(label_page(bench)).content.decode()
    for wanted in ("Net Wt 7.5 oz (212 g)", "says everything", "16 CFR 500.21",
                   "from memory", "Print it 1:1", "with a competent adviser"):  # fmt: skip
        assert wanted in words
    assert words.count("<svg") >= 6


def test_what_is_missing_leads_to_where_it_is_entered(client, bench, workshop):
    workshop.telephone = ""
    workshop.save()
    words = client.get(label_page(bench)).content.decode()
    assert "Enter the maker’s telephone number in the settings." in words
    assert f"{reverse('workshop')}#label" in words
    assert "What stands in the way of printing" in words


def test_a_look_is_kept_in_one_row(client, bench):
    for ground in ("#f2ead8", "#e6efe9"):
        answer = client.post(label_page(bench), look(ground=ground, base_mm="70"))
        assert answer.status_code == 302
    kept = LabelLook.objects.get()
    assert (kept.ground, kept.base_mm, kept.on_base) == ("#e6efe9", 70, "fire,lot")


def test_showing_it_first_keeps_nothing(client, bench):
    whole = client.post(label_page(bench), look(do="show", height_mm="64"))
    part = client.post(label_page(bench), look(do="show", height_mm="64"), HTTP_HX_REQUEST="true")
    for answer in (whole, part):
        words = answer.content.decode()
        assert "Shown, not kept yet" in words
        assert "× 64.0 mm" in words
    assert "<html" not in part.content.decode()
    assert not LabelLook.objects.exists()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"ink": "#dddddd"}, "has a contrast of"),
        ({"article_number": "4006381333932"}, "ends in 2 where 1 would be right"),
        ({"web_page": "lanternwick"}, "begins with https://"),
        ({"base_mm": "2"}, "from 4 to 600 mm"),
    ],
)
def test_what_cannot_be_kept_is_said_at_its_field(client, bench, change, says):
    answer = client.post(label_page(bench), look(**change))
    assert says in answer.content.decode()
    assert not LabelLook.objects.exists()


def test_a_label_that_does_not_fit_says_what_would_make_room(client, bench):
    client.post(label_page(bench), look(height_mm="22"))
    words = client.get(label_page(bench)).content.decode()
    assert "does not fit at the least lawful sizes" in words
    assert "Ways to make room, each tried" in words
    assert "then it fits" in words


def test_a_picture_goes_on_and_comes_off(client, bench):
    file = SimpleUploadedFile("hill.svg", ART)
    answer = client.post(label_page(bench), {"do": "art", "art": file}, follow=True)
    assert "hill.svg" in answer.content.decode()
    bad = client.post(label_page(bench), {"do": "art", "art": SimpleUploadedFile("x.png", b"no")})
    assert "is not a PNG, JPEG or SVG" in bad.content.decode()
    client.post(label_page(bench), {"do": "leave_art"})
    assert LabelLook.objects.get().art is None


def test_a_face_is_printed_1_to_1_and_saved_as_svg(client, bench):
    at = [bench.design.pk, "base"]
    pdf = client.get(reverse("labels:face_pdf", args=at))
    assert pdf["Content-Type"] == "application/pdf"
    assert "DRAFT" in pypdf.PdfReader(BytesIO(pdf.content)).pages[0].extract_text()
    svg = client.get(reverse("labels:face_svg", args=at))
    assert svg["Content-Type"] == "image/svg+xml"
    assert b"@font-face" in svg.content
    assert client.get(reverse("labels:face_pdf", args=[bench.design.pk, "fold"])).status_code == 404


def test_a_lot_s_labels_come_as_a_pdf_and_stand_on_its_page(client, lot):
    there = reverse("labels:lot", args=[lot.code])
    assert "ready to print" in client.get(there).content.decode()
    answer = client.post(there, to_print())
    assert answer["Content-Type"] == "application/pdf"
    read = pypdf.PdfReader(BytesIO(answer.content))
    assert sum(page.extract_text().count(lot.code) for page in read.pages) == 5
    words = client.get(there).content.decode()
    assert "plain paper, A4, to cut" in words
    assert LabelPrint.objects.get().number == 5
    assert lot.code in client.get(reverse("labels:index")).content.decode()


def test_a_lot_whose_label_lacks_something_gives_only_a_draft(client, lot, workshop):
    workshop.place = ""
    workshop.save()
    there = reverse("labels:lot", args=[lot.code])
    answer = client.post(there, to_print())
    assert answer.status_code == 422
    assert "These labels are not ready" in answer.content.decode()
    drawn = client.post(there, to_print(draft="on"))
    assert drawn["Content-Type"] == "application/pdf"
    assert LabelPrint.objects.get().draft


def test_a_sheet_and_a_printer_are_entered_and_tried(client, workshop):
    sheet = {
        "paper": "A4", "columns": "2", "rows": "3", "width_mm": "90", "height_mm": "90",
        "left_mm": "10", "top_mm": "10", "across_mm": "95", "down_mm": "93",
    }  # fmt: skip
    there = reverse("labels:new_sheet")
    refused = client.post(there, {**sheet, "columns": "3"})
    assert "beyond the paper" in refused.content.decode()
    assert client.post(there, sheet).status_code == 302
    client.post(reverse("labels:new_printer"), {"name": "Attic", "dx_mm": "1.5", "dy_mm": "0"})
    printer = Printer.objects.get()
    test = reverse("labels:test_page", args=["a4-2x3-90x90"])
    plain, moved = client.get(test), client.get(f"{test}?printer={printer.pk}")
    assert plain.content != moved.content
    kept = SheetSize.objects.get()
    client.post(reverse("labels:sheet", args=[kept.pk]), {"do": "leave"})
    assert not SheetSize.objects.exists()


def test_the_list_of_prints_asks_the_database_no_more_for_many(
    client, lot, django_assert_max_num_queries
):
    there = reverse("labels:lot", args=[lot.code])
    for _ in range(3):
        client.post(there, to_print(faces=["base"], sheet="alone", number="1"))
    with django_assert_max_num_queries(8):
        client.get(reverse("labels:index"))


def test_the_settings_propose_the_maker_s_address(client, workshop):
    workshop.address = "4 Weir Lane\nDunmere EX9 2QQ"
    workshop.save()
    words = client.get(reverse("workshop")).content.decode()
    assert 'value="4 Weir Lane"' in words
    assert 'value="Dunmere EX9 2QQ"' in words
    workshop.refresh_from_db()
    assert workshop.street == ""
