"""The documentation says what is so: commands, columns, names, links, pictures and examples."""

import doctest
import importlib.util
import re
import struct
import sys
from contextlib import closing
from pathlib import Path

import pytest

from pourwright.core.amounts import number, to_mg
from pourwright.core.formula import LoadOfWax, LoadOfWhole
from pourwright.intake.kinds import KINDS
from running import pourwright

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
PAGES = sorted([ROOT / "README.md", ROOT / "CHANGELOG.md", *DOCS.rglob("*.md")])
GUIDE = (DOCS / "guide.md").read_text(encoding="utf-8")


def _tool():
    spec = importlib.util.spec_from_file_location("docs_make", DOCS / "make.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


make = _tool()
COMMANDS = make.commands()


def _words(text: str) -> list[str]:
    """Without line breaks, which argparse sets differently from one Python to the next."""
    return text.split()


def _prose(text: str) -> str:
    """Return a page without its code, in which marks mean something else."""
    return re.sub(r"```.*?```|`[^`\n]*`", "", text, flags=re.S)


# --- commands.md ---------------------------------------------------------------------------------


def _documented() -> dict[str, tuple[str, str]]:
    """Return the help and the example's run of each command, as docs/commands.md has them."""
    text = (DOCS / "commands.md").read_text(encoding="utf-8")
    section = re.compile(
        r"^## ([^\n]+)\n\n```text\n(.*?)\n```\n\n```console\n(.*?)\n```$", re.M | re.S
    )
    return {name: (helped, run) for name, helped, run in section.findall(text)}


def test_every_command_is_documented_and_no_other():
    assert list(_documented()) == list(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_s_help_is_what_the_program_says_today(name):
    helped, _ = _documented()[name]
    assert _words(helped) == _words(make.help_of(COMMANDS[name])), "run docs/make.py commands"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_of_a_command_is_documented_with_its_meaning_or_words(name):
    helped, _ = _documented()[name]
    for action in COMMANDS[name]._actions:
        for option in action.option_strings:
            assert option in helped
        told = action.help or action.choices or action.metavar
        assert told, f"{name} {action.option_strings} says nothing of itself"


def _command_line(run: str) -> str:
    lines = run.split("\n")
    asked = [lines.pop(0)]
    while asked[-1].endswith("\\"):
        asked[-1] = asked[-1][:-1]
        asked.append(lines.pop(0))
    return " ".join(" ".join(asked).removeprefix("$ ").split())


@pytest.mark.parametrize("name", COMMANDS)
def test_the_example_in_the_documentation_is_the_tool_s(name):
    _, run = _documented()[name]
    wanted = re.escape(make.EXAMPLES[name].words).replace(r"\{lot\}", r"L-\d{4}")
    assert re.fullmatch(wanted, _command_line(run))


@pytest.mark.parametrize("name", [n for n, e in make.EXAMPLES.items() if not e.on_a_workshop])
def test_an_example_that_computes_still_gives_the_same(name, tmp_path):
    _, run = _documented()[name]
    said = make.run_example(make.EXAMPLES[name], tmp_path)
    assert run.endswith(f"\n{said}"), "run docs/make.py commands"


def test_the_examples_on_a_workshop_run_in_turn_on_the_demo(demo_folder):
    """What they print changes with the day; that they run and begin as documented does not."""
    for name, example in make.EXAMPLES.items():
        if example.on_a_workshop:
            _, run = _documented()[name]
            example = make.filled(example, demo_folder)
            said = make.run_example(example, demo_folder)
            lines = run.split("\n")[1 + make._folded(example.words).count("\n") :]
            assert _without_numbers(said.split("\n")[0]) == _without_numbers(lines[0]), name


def _without_numbers(line: str) -> str:
    return re.sub(r"\d+", "0", line)


# --- files.md ------------------------------------------------------------------------------------


def test_the_columns_of_the_files_are_what_the_program_reads_today():
    assert (DOCS / "files.md").read_text(encoding="utf-8") == make.files_page(), (
        "run docs/make.py files"
    )


def test_every_kind_of_file_and_every_column_of_it_has_its_line():
    text = (DOCS / "files.md").read_text(encoding="utf-8")
    sections = dict(re.findall(r"^## (.+?)\n(.*?)(?=^## |\Z)", text, re.M | re.S))
    assert {name.lower() for name in sections} == {kind.name for kind in KINDS}
    for kind in KINDS:
        named = re.findall(r"^\| `(.+?)` \|", sections[kind.name.capitalize()], re.M)
        assert named == [column.name for column in kind.columns]


# --- python.md -----------------------------------------------------------------------------------


class SpacesAreSpaces(doctest.OutputChecker):
    """An amount keeps its number and unit together with a space that does not break."""

    def check_output(self, want, got, optionflags):
        return super().check_output(want, got.replace("\N{NO-BREAK SPACE}", " "), optionflags)


def test_the_examples_in_python_run():
    text = (DOCS / "python.md").read_text(encoding="utf-8")
    test = doctest.DocTestParser().get_doctest(text, {}, "docs/python.md", "docs/python.md", 0)
    assert len(test.examples) > 20
    told = []
    doctest.DocTestRunner(checker=SpacesAreSpaces()).run(test, out=told.append)
    assert told == []


# --- links and pictures --------------------------------------------------------------------------


LINK = re.compile(r"(!?)\[([^\]]*)\]\(([^)\s]+)\)")


def _links() -> list[tuple[Path, bool, str, str]]:
    """Return page, whether it is a picture, words and target of every link."""
    return [
        (page, bool(mark), words, target)
        for page in PAGES
        for mark, words, target in LINK.findall(_prose(page.read_text(encoding="utf-8")))
    ]


def _anchors(page: Path) -> set[str]:
    heads = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), re.M)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


def test_every_link_and_picture_leads_somewhere():
    dead = []
    for page, _, _, target in _links():
        if target.startswith(("http://", "https://")):
            continue
        path, _, anchor = target.partition("#")
        there = (page.parent / path) if path else page
        if not there.exists() or (anchor and anchor not in _anchors(there)):
            dead.append(f"{page.relative_to(ROOT)}: {target}")
    assert dead == []


def test_every_picture_has_words_for_those_who_do_not_see_it():
    pictures = [(page.name, words, target) for page, is_one, words, target in _links() if is_one]
    assert pictures
    assert [one for one in pictures if not one[1].strip()] == []


def test_every_picture_that_is_kept_is_shown_somewhere_and_is_made_by_the_tool():
    shown = {Path(target).name for *_, target in _links() if target.endswith(".png")}
    kept = {path.name for path in make.PICTURES.iterdir()}
    made = {f"{shot.name}.png" for shot in make.SHOTS} | {"pour-sheet.png"}
    assert shown == kept == made


def test_pictures_are_small_and_of_a_desk_s_or_a_phone_s_width():
    sizes = []
    for path in make.PICTURES.iterdir():
        data = path.read_bytes()
        width, height = struct.unpack(">II", data[16:24])
        sizes.append(len(data))
        assert len(data) < make.MOST_BYTES_A_PICTURE, path.name
        if path.name != "pour-sheet.png":  # that one is paper
            assert width == (make.PHONE if "phone" in path.name else make.DESK), path.name
        assert height > 0
    assert sum(sizes) < make.MOST_BYTES_IN_ALL


def test_every_decision_is_in_the_list_of_decisions():
    listed = (DOCS / "decisions" / "README.md").read_text(encoding="utf-8")
    assert listed == make.decisions_page(), "run docs/make.py decisions"


# --- README --------------------------------------------------------------------------------------


def test_the_readme_s_commands_are_the_ones_that_start_py_has():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    start = (ROOT / "start.py").read_text(encoding="utf-8")
    told = set(re.findall(r"python3 start\.py(?: (--?\w+|[a-z]+))?", start.split('"""')[1]))
    for page in (readme, GUIDE, (DOCS / "developing.md").read_text(encoding="utf-8")):
        used = set(re.findall(r"python3 start\.py(?: (--?\w+|[a-z]+)\b)?(?=[`\s])", page))
        assert used <= told
    assert {"", "--demo"} <= set(re.findall(r"^python3 start\.py(?: (--\w+))?", readme, re.M))


# --- the guide -----------------------------------------------------------------------------------


def _marked(stars: str) -> list[str]:
    """Return what the guide has between one star (names in the demo) or two (words on pages)."""
    found = re.findall(r"(?<!\*)(\*{1,2})(?![*\s])([^*]+?)\1(?!\*)", _prose(GUIDE))
    texts = [" ".join(text.split()) for mark, text in found if mark == stars]
    return [text for text in texts if text not in ("in bold", "in italics", "Caution.")]


def test_the_names_and_lots_in_the_guide_are_the_demo_s(demo_folder, tmp_path):
    from openpyxl import load_workbook

    book = tmp_path / "demo.xlsx"
    assert pourwright("export", "all", book, "--data", demo_folder / "demo").returncode == 0
    there: set[str] = set()
    with closing(load_workbook(book, read_only=True)) as workbook:
        for table in ("workshop", "suppliers", "items", "formulas", "designs", "customers", "lots"):
            for row in workbook[table].iter_rows(values_only=True):
                there |= {cell for cell in row if isinstance(cell, str)}
    lots = set(re.findall(r"\b[A-Z]{1,2}-\d{4}\b", GUIDE))
    assert lots, "the guide names no lot any more"
    assert {name for name in [*_marked("*"), *lots] if name not in there} == set()


def test_the_words_in_bold_in_the_guide_stand_on_the_pages():
    """In a template, or as a label, state or title in the code of pages and gates."""
    sources = [
        *(ROOT / "src/pourwright/workshop").rglob("*.html"),
        *(ROOT / "src/pourwright/workshop").rglob("*.py"),
        ROOT / "src/pourwright/core/release.py",
    ]
    on_pages = "\n".join(path.read_text(encoding="utf-8") for path in sources)
    bold = [text for text in _marked("**") if not text.endswith(".") and text not in GENERAL]
    assert len(bold) > 40
    assert {text for text in bold if text not in on_pages} == set()


# What is in bold as the head of a list's entry, and not for a word on a page.
GENERAL = {
    "A wax",
    "An oil",
    "A vessel",
    "A wick",
    "Above the wax's limit",
    "Above an oil's safety limit",
    "An adding temperature at or above a flash point",
    "A design or lot cannot be sold",
    "The stores are short, but the shelf is full",
    "A count will not match",
    "The program is gone",
}


def test_the_guide_s_own_example_of_the_two_bases_is_right():
    """1,200 g of mix at 6 %: the guide's table against the core's conversions."""
    rows = re.findall(r"^\| 6 % of the (wax|whole) \| (.+?) \|$", GUIDE, re.M)
    assert [basis for basis, _ in rows] == ["wax", "whole"]
    for basis, cells in rows:
        load = LoadOfWax(6) if basis == "wax" else LoadOfWhole(6)
        whole = load.of_whole() if basis == "wax" else load
        of_wax = load if basis == "wax" else load.of_wax()
        oil = 1200 * whole.pct_of_whole / 100
        wax = 1200 - oil
        shown = [_rounded(wax, 1) + " g", _rounded(oil, 1) + " g"]
        shown += [f"{number(of_wax.pct_of_wax, places=2, strip=True)} %"]
        shown += [f"{number(whole.pct_of_whole, places=2, strip=True)} %"]
        assert [cell.strip() for cell in cells.split("|")] == shown


def _rounded(grams, places: int) -> str:
    return f"{to_mg(grams) / 1000:,.{places}f}"
