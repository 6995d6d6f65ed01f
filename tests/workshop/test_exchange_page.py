"""The page where files come and go, as a person meets it."""

import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook, load_workbook

from pourwright.intake.kinds import KINDS
from pourwright.intake.tables import MOST_BYTES, read_file
from pourwright.workshop.house.exchange_tables import every_table
from pourwright.workshop.stores.models import Supplier

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(client, workshop):
    def asked(kind="suppliers", **data):
        address = f"{reverse('exchange')}?kind={kind}"
        return client.post(address, data) if data else client.get(address)

    return asked


@pytest.mark.parametrize("kind", [kind.slug for kind in KINDS])
def test_every_kind_explains_its_columns(page, kind):
    text = page(kind).content.decode()
    for column in next(k for k in KINDS if k.slug == kind).columns:
        assert f'<th scope="row">{column.name.replace(chr(39), "&#x27;")}' in text


def test_an_unknown_kind_is_not_found(page):
    assert page("potions").status_code == 404


def test_a_check_shows_every_fault_and_keeps_what_was_pasted(page):
    pasted = "name,lead days\nBrindle,soon\n,5\n"
    text = page(text=pasted, do="check").content.decode()
    assert "Nothing was brought in" in text
    assert re.search(r'<td class="n">2</td><td>lead days</td>', text)
    assert re.search(r'<td class="n">3</td><td>name</td>', text)
    assert "Brindle,soon" in text
    assert 'value="bring"' not in text


def test_a_file_is_checked_first_and_then_brought_in(page):
    upload = SimpleUploadedFile("s.csv", "name;lead days\nCrème & Co;5\n".encode("cp1252"))
    response = page(file=upload, do="check")
    text = response.content.decode()
    assert "All is well" in text
    assert 'value="bring"' in text
    assert Supplier.objects.count() == 0
    in_the_box = response.context["form"].initial["text"]
    response = page(text=in_the_box, do="bring")
    assert response.status_code == 302
    assert Supplier.objects.get().name == "Crème & Co"


def test_a_workbook_comes_in_as_well(page):
    book, file = Workbook(), io.BytesIO()
    for row in (["name", "lead days"], [], ["Brindle", 5]):
        book.active.append(row)
    book.save(file)
    upload = SimpleUploadedFile("s.xlsx", file.getvalue())
    response = page(file=upload, do="check")
    assert response.context["outcome"].findings == ()
    assert response.context["form"].initial["text"] == "name\tlead days\n\nBrindle\t5\n"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"do": "check"}, "Choose a file, or paste rows"),
        ({"do": "check", "text": "name\n"}, "no line below it"),
        ({"do": "check", "text": 'name\n"open'}, "quotation mark"),
    ],
)
def test_what_cannot_be_read_is_said_on_the_page(page, data, says):
    assert says in page(**data).content.decode()


def test_a_file_too_large_is_refused_by_its_size(page):
    upload = SimpleUploadedFile("s.csv", b"x" * (MOST_BYTES + 1))
    assert "at most 2 MB" in page(file=upload, do="check").content.decode()
    assert Supplier.objects.count() == 0


def test_sending_the_form_twice_records_once(page):
    for _ in range(2):
        page(text="name\nBrindle\n", do="bring")
    assert Supplier.objects.count() == 1


@pytest.mark.parametrize("kind", [kind.slug for kind in KINDS])
def test_every_template_is_a_file_of_its_kind(client, workshop, kind):
    response = client.get(reverse("exchange_template", args=[kind]))
    assert f"{kind}-template.csv" in response["Content-Disposition"]
    assert len(read_file(response.content)) == 2


def test_every_table_can_be_had_both_ways(client, workshop):
    Supplier.objects.create(name="=Brindle")
    for table in every_table(workshop):
        response = client.get(reverse("exchange_table", args=[table.slug, "csv"]))
        first, *_ = read_file(b"".join(response.streaming_content))
        assert first.cells == table.head
        response = client.get(reverse("exchange_table", args=[table.slug, "xlsx"]))
        sheet = load_workbook(io.BytesIO(b"".join(response.streaming_content))).active
        assert tuple(cell.value for cell in sheet[1]) == table.head


def test_everything_comes_in_one_workbook(client, workshop):
    response = client.get(reverse("exchange_everything"))
    book = load_workbook(io.BytesIO(b"".join(response.streaming_content)))
    assert len(book.sheetnames) == len(every_table(workshop))


def test_a_table_that_is_not_there_is_not_found(client, workshop):
    assert client.get("/exchange/potions.csv").status_code == 404
