"""``pourwright label``: the needs as JSON, a lot's PDF, and one line for what is wrong."""

import json

import pypdf
import pytest

from label_workshop import a_bench, a_lot
from pourwright.cli.main import run
from pourwright.workshop.labels.models import LabelPrint

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(workshop):
    return a_lot(a_bench(workshop))


def refused(capsys, *words) -> str:
    assert run(["label", *words]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    return err


def test_the_needs_come_with_size_reason_and_source(lot, capsys):
    assert run(["label", "needs", "quince", "--market", "us,eu", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["markets"] == ["us", "eu"]
    needs = {need["key"]: need for need in said["needs"]}
    assert needs["net_us"]["text"] == "Net Wt 7.5 oz (212 g)"
    # 0.4 x 91 x 80 pi mm2 is 14.2 in2: over 5 and up to 25, so 1/8 in, 3.175 mm.
    assert 3.17 < needs["net_us"]["least_mm"] < 3.3
    assert needs["lot"]["state"] == "missing"
    assert needs["responsible_eu"]["state"] == "missing"
    assert all(need["source"] for need in said["needs"])
    assert "competent adviser" in said["advice"]


def test_a_lot_fills_in_its_number(lot, capsys):
    assert run(["label", "needs", "Quince in amber", "--lot", lot.code]) == 0
    assert f"Lot {lot.code}" in capsys.readouterr().out


def test_labels_are_printed_to_a_file_and_kept_on_record(lot, capsys, tmp_path):
    out = tmp_path / "labels.pdf"
    words = [
        "label",
        "print",
        "quince",
        "--lot",
        lot.code,
        "--sheet",
        "plain-a4",
        "--out",
        str(out),
    ]
    assert run([*words, "--face", "base", "--count", "7", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["count"] == 7
    assert sum(p.extract_text().count(lot.code) for p in pypdf.PdfReader(out).pages) == 7
    assert LabelPrint.objects.get().face == "base"


def test_without_a_face_all_that_go_with_the_candle_are_printed(lot, capsys, tmp_path):
    out = tmp_path / "labels.pdf"
    words = ["label", "print", "quince", "--lot", lot.code, "--sheet", "alone", "--out", str(out)]
    assert run(words) == 0
    assert f"6 each of wrap, base for lot {lot.code}" in capsys.readouterr().out
    assert len(pypdf.PdfReader(out).pages) == 12


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"design": "walnut"}, "There is no design “walnut”"),
        ({"--lot": "L-9999"}, "L-9999"),
        ({"--sheet": "a9"}, "There is no sheet “a9”"),
        ({"--face": "fold"}, "it has wrap, base"),
        ({"--start": "3", "--sheet": "plain-a4"}, "places 1 to 2; 3 was asked for"),
        ({"--out": "/nowhere/at/all.pdf"}, "cannot be written"),
    ],
)
def test_what_is_wrong_is_one_line(lot, capsys, tmp_path, change, says):
    given = {"design": "quince", "--lot": lot.code, "--sheet": "alone",
             "--out": str(tmp_path / "x.pdf"), "--face": "wrap", **change}  # fmt: skip
    design = given.pop("design")
    words = [word for pair in given.items() for word in pair]
    assert says in refused(capsys, "print", design, *words)
    assert not (tmp_path / "x.pdf").exists()
    assert not LabelPrint.objects.exists()


def test_a_label_that_lacks_something_is_refused_but_for_a_draft(lot, capsys, tmp_path, workshop):
    workshop.place = ""
    workshop.save()
    out = str(tmp_path / "x.pdf")
    words = ["print", "quince", "--lot", lot.code, "--sheet", "alone", "--out", out]
    assert "not ready" in refused(capsys, *words)
    assert run(["label", *words, "--draft"]) == 0
