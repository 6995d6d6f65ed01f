"""Records in and out in the terminal; what is wrong is one line on stderr and status 2."""

import csv
import io
import json

import pytest
from openpyxl import load_workbook

from running import pourwright

HEAD = "name,lead days\n"


@pytest.fixture(scope="module")
def data(empty_workshop, tmp_path_factory):
    return empty_workshop(tmp_path_factory.mktemp("a workshop"))


@pytest.fixture
def file(tmp_path):
    def written(text, name="in.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return written


def test_a_file_is_checked_brought_in_and_taken_out_again(data, file, tmp_path):
    source = file(HEAD + "Brindle,5\n=Coil,\n")
    checked = pourwright("import", "suppliers", source, "--check", "--data", data, "--json")
    assert json.loads(checked.stdout) == {
        "kind": "suppliers", "lines": 2, "records": 2, "brought_in": False,
        "findings": [], "notes": [],
    }  # fmt: skip
    brought = pourwright("import", "suppliers", source, "--data", data)
    assert brought.returncode == 0, brought.stderr
    assert brought.stdout == "Brought in 2 records from 2 lines of suppliers.\n"
    out = tmp_path / "out.csv"
    assert pourwright("export", "suppliers", out, "--data", data).returncode == 0
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8-sig"))))
    assert [(row["name"], row["lead days"]) for row in rows] == [("'=Coil", ""), ("Brindle", "5")]


def test_every_faulty_line_is_listed_and_nothing_is_kept(data, file):
    source = file(HEAD + "Damson,soon\nElder,5\n,7\n")
    said = pourwright("import", "suppliers", source, "--data", data)
    assert said.returncode == 2
    assert said.stdout.splitlines()[0].startswith(f"{source}, line 2, lead days: Lead days")
    assert said.stdout.splitlines()[1].startswith(f"{source}, line 4, name: Name is empty")
    assert said.stderr == f"pourwright: 2 faults in {source}; nothing was brought in.\n"
    as_json = pourwright("import", "suppliers", source, "--data", data, "--json")
    assert as_json.returncode == 2
    assert [f["line"] for f in json.loads(as_json.stdout)["findings"]] == [2, 4]


def test_everything_goes_into_one_workbook(data, tmp_path):
    out = tmp_path / "all.xlsx"
    said = pourwright("export", "all", out, "--data", data, "--json")
    book = load_workbook(out)
    assert json.loads(said.stdout)["tables"] == len(book.sheetnames) > 40
    again = pourwright("export", "all", out, "--data", data)
    assert again.returncode == 2
    assert "there already" in again.stderr
    assert pourwright("export", "all", out, "--overwrite", "--data", data).returncode == 0


def test_a_plain_table_goes_by_its_name_with_hyphens(data, tmp_path):
    out = tmp_path / "out.csv"
    said = pourwright("export", "lot-sources", out, "--data", data)
    assert said.stdout == f"Wrote 0 rows of 1 table to {out}.\n"
    assert out.read_text(encoding="utf-8-sig").startswith("id,entry,parent,child,")


def test_a_template_needs_no_workshop(tmp_path):
    out = tmp_path / "t.csv"
    said = pourwright("import", "receipts", "--template", out, "--data", tmp_path / "none")
    assert said.returncode == 0
    assert "parcel: " in said.stdout
    assert out.read_text(encoding="utf-8-sig").startswith("parcel,received on,supplier,")
    assert not (tmp_path / "none").exists()


def test_the_ledger_is_checked(data):
    said = pourwright("check", "--data", data, "--json")
    assert json.loads(said.stdout) == {"moves": 0, "findings": []}


def test_a_backup_and_a_restore_say_what_they_did(data, tmp_path):
    out = tmp_path / "b"
    made = json.loads(pourwright("backup", out, "--data", data, "--json").stdout)
    assert made["file"] == str(out)
    fresh = tmp_path / "fresh"
    back = json.loads(pourwright("restore", out, "--data", fresh, "--json").stdout)
    assert back == {
        "data": str(fresh), "rows": made["rows"], "kept": None, "to_bring_up_to_date": 0,
    }  # fmt: skip
    assert pourwright("check", "--data", fresh).returncode == 0
    # With a data folder on PostgreSQL it is PostgreSQL's own tools that do it.
    for words in (["backup", out], ["restore", out]):
        said = pourwright(*words, "--data", data, DATABASE_URL="postgres://x/y")
        assert said.returncode == 2
        assert "PostgreSQL" in said.stderr
        assert "pg_" in said.stderr


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["backup"], "FILE"),
        (["backup", "{folder}"], "is a folder"),
        (["backup", "{folder}/no/such/b"], "could not be written"),
        (["restore"], "FILE"),
        (["restore", "{folder}/none"], "is not there"),
        (["restore", "{folder}"], "is not there"),
        (["import"], "KIND"),
        (["import", "potions", "{csv}"], "no kind of file; write one of suppliers"),
        (["import", "suppliers"], "needs a FILE"),
        (["import", "suppliers", "{folder}/none.csv"], "cannot be read"),
        (["import", "suppliers", "{folder}"], "cannot be read"),
        (["import", "suppliers", "{noise}"], "not text"),
        (["import", "suppliers", "{empty}"], "nothing in it"),
        (["export", "all", "{folder}/x.csv"], "ends in .xlsx"),
        (["export", "potions", "{folder}/x.csv"], "is no table"),
        (["export", "suppliers", "{folder}/x.ods"], "must end in .csv or .xlsx"),
        (["export", "suppliers", "{folder}/no/such/x.csv"], "cannot be written"),
        (["check", "--data", "{folder}/none"], "There is no workshop in"),
        (["backup", "b", "--data", "{folder}/none"], "There is no workshop in"),
        (["import", "suppliers", "{csv}", "--data", "{folder}/none"], "There is no workshop in"),
        (["export", "suppliers", "x.csv", "--data", "{csv}"], "is a file; name a folder"),
    ],
)
def test_what_is_wrong_is_one_line_and_status_2(data, tmp_path, words, says):
    for name, content in (("csv", b"name\nx\n"), ("noise", b"a\x00\x00\x00"), ("empty", b"")):
        (tmp_path / name).write_bytes(content)
    places = {"folder": tmp_path} | {name: tmp_path / name for name in ("csv", "noise", "empty")}
    words = [word.format(**places) for word in words]
    if "--data" not in words:
        words += ["--data", str(data)]
    said = pourwright(*words)
    assert said.returncode == 2, said
    assert said.stderr.count("\n") == 1, said.stderr
    assert says in said.stderr
    assert said.stdout == ""
    assert not (tmp_path / "none").exists()


def test_a_plain_command_starts_without_the_framework():
    import subprocess
    import sys

    from running import environment

    ask = (
        "import sys\nfrom pourwright.cli.main import build_parser\nbuild_parser()\n"
        "print([m for m in ('django', 'openpyxl', 'waitress', 'typst') if m in sys.modules])"
    )
    said = subprocess.run(
        [sys.executable, "-c", ask], env=environment(), capture_output=True, encoding="utf-8",
        check=True,
    )  # fmt: skip
    assert said.stdout == "[]\n"


def test_a_command_is_the_same_whether_its_module_comes_alone_or_with_all():
    from pourwright.cli.main import build_parser

    def commands(parser):
        return parser._subparsers._group_actions[0].choices

    every = commands(build_parser())
    assert len(every) > 15
    for name, known in every.items():
        alone = commands(build_parser(name))
        assert alone[name].format_help() == known.format_help()
        assert len(alone) < len(every), f"name {name}'s module in main.ELSEWHERE"
    for word in ("data", "--help", "nonsense"):
        assert commands(build_parser(word)).keys() == every.keys()
