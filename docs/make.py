#!/usr/bin/env python3
"""
Make what in the documentation comes out of the program itself.

    python docs/make.py             all of it
    python docs/make.py decisions   the list of decisions
    python docs/make.py files       docs/files.md, from the column tables
    python docs/make.py commands    docs/commands.md, from every command's help and a run of each
    python docs/make.py pictures    docs/pictures, from the demo in a real browser

Run it with the development environment's Python (``start.py check`` makes it). The demo is made in
a folder of its own that is thrown away; ``--data DIR`` uses a copy of one that is there. What a
picture shows depends on the day on which it is taken: the demo's two years end today.
"""

from __future__ import annotations

import argparse
import base64
import contextlib
import os
import re
import shlex
import shutil
import signal
import sqlite3
import struct
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

DOCS = Path(__file__).resolve().parent
PICTURES = DOCS / "pictures"
MOST_BYTES_A_PICTURE = 150_000
MOST_BYTES_IN_ALL = 1_500_000
DESK, PHONE = 1280, 390
HOME = "/home/maker"
PORT = 8137


# --- docs/files.md -------------------------------------------------------------------------------

FILES_HEAD = """\
# Files that come in and go out

Written by `docs/make.py` from the program's own column tables; change those, not this page.

A file is CSV (comma, semicolon or tab between; UTF-8) or XLSX. Its first line names the columns, in
any order; columns that you do not need may be left out. **Bring in, take out**, at the foot of
every page, has a template of each kind, and so has the terminal:

```
pourwright import wicks --template wicks.csv
```

The template's second line is an example. It is never brought in.

- A number without a unit is in the unit of the column's head, as in `fill (g)`. Another unit is
  written in the cell: `5 lb`, `16 fl oz`, `175 F`.
- Money is in the workshop's currency; the head then names it, as in `price (GBP)`.
- Days are written year-month-day, as `2026-03-31`.
- Where a column allows certain words only, they are listed.
- A column marked “must be there” may not be left out and has a value in every line.
- “Once a …” columns belong to the whole of it: write them on its first line, or the same on each.

With any fault nothing is brought in, and every faulty line is listed with its number. Names that
are there already are refused and never overwritten. What is taken out has the same columns, so that
it can be brought into another workshop.

In a new workshop the order is: {order}.

A candle for the terminal's `hazard` commands is a document of its own: see
[its page](candle-file.md).
"""


def files_page() -> str:
    """Return docs/files.md as the column tables say it today."""
    from pourwright.intake.columns import Context
    from pourwright.intake.kinds import KINDS

    context = Context(currency="")
    parts = [FILES_HEAD.format(order=", ".join(kind.name for kind in KINDS))]
    for kind in KINDS:
        parts.append(f"\n## {kind.name.capitalize()}\n\n{_sentence(kind.what)}")
        if kind.needs:
            parts.append(f" First come: {', '.join(kind.needs)}.")
        parts.append(
            "\n\n| column | unit or words | what it means | example |\n|---|---|---|---|\n"
        )
        for column in kind.columns:
            unit = column.unit_in(context).strip() if column.unit != "{currency}" else "currency"
            words = ", ".join(column.words)
            meaning = column.meaning
            if column.required:
                meaning += "; **must be there**"
            if column.head and column.name != kind.group:
                meaning += f" *(once a {kind.group})*"
            cells = (f"`{column.name}`", unit or words, meaning, column.example)
            parts.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |\n")
    return "".join(parts)


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


# --- docs/commands.md ----------------------------------------------------------------------------

COMMANDS_HEAD = """\
# The commands

Written by `docs/make.py` from the program's own help; change that, not this page.

After `python3 start.py setup` the command line is `.venv/bin/pourwright`, on Windows
`.venv\\Scripts\\pourwright`. Every command that computes takes `--json` and then prints one JSON
object. What cannot be done is said in one line on stderr, and the exit status is 2. Commands that
look into a workshop take the one in your user data folder, or another with `--data`; the demo is in
its own folder `demo` beneath it.

The examples were run on the demo workshop. Their names and figures are invented.
"""


@dataclass(frozen=True)
class Example:
    """
    A command to run and show. Those ``on_a_workshop`` print what changes with the day.

    ``{lot}`` in the words is the demo's first lot of *Fig and black tea*; it differs with the day.
    ``lines`` is how much of the answer is shown; ``until`` is what a server has said when it runs.
    """

    words: str
    on_a_workshop: bool = False
    lines: int = 60
    until: str = ""


EXAMPLES: dict[str, Example] = {
    "amount": Example('pourwright amount mass "3 lb 2 1/2 oz"'),
    "formula batch": Example(
        'pourwright formula batch --vessels 18 --fill "190 g" --load 6 --basis wax '
        '--oil "fig leaf"=2 --oil cedar=1 --loss 2 --scale-division "1 g"'
    ),
    "vessel fill": Example(
        'pourwright vessel fill --inside-diameter "68 mm" --top-diameter "76 mm" --depth "85 mm" '
        '--density 0.88 --liquid-density 0.82 --weight "190 g"'
    ),
    "wick place": Example(
        'pourwright wick place --inside-diameter "96 mm" --count 4 --reach "34 mm"'
    ),
    "wick jig": Example(
        'pourwright wick jig --inside-diameter "96 mm" --count 4 --form bar --kerf "0.15 mm" '
        "--out jigs"
    ),
    "vessel draw": Example(
        'pourwright vessel draw --inside-diameter "68 mm" --top-diameter "76 mm" --depth "85 mm" '
        '--wall "3 mm" --base "6 mm" --density 0.88 --weight "190 g" --out cup.svg'
    ),
    "heat melt": Example("pourwright heat melt jar.toml"),
    "heat set": Example("pourwright heat set jar.toml"),
    "heat burn": Example("pourwright heat burn jar.toml"),
    "burn verdict": Example("pourwright burn verdict burns.toml"),
    "burn next": Example("pourwright burn next search.toml"),
    "panel rank": Example("pourwright panel rank ranks.csv"),
    "panel triangle": Example(
        "pourwright panel triangle --assessors 21 --alpha 0.05 --correct 11 --tell 0.4"
    ),
    "plan solve": Example("pourwright plan solve autumn.toml --effort 4"),
    "plan promise": Example(
        'pourwright plan promise autumn.toml --design "Quince tumbler" --quantity 10 '
        "--by 2027-10-23 --effort 4"
    ),
    "plan buy": Example("pourwright plan buy purchases.toml"),
    "plan market": Example("pourwright plan market market.toml"),
    "cost price": Example(
        "pourwright cost price --unit-cost 6.10 --margin 52 --fee-pct 4 --fee-fixed 0.25 "
        "--ending 0.50 --wholesale-margin 28 --currency GBP"
    ),
    "contents check": Example(
        'pourwright contents check --rule gb --declared "165 g" --lot-size 16 --weights fills.txt '
        '--scale-division "0.5 g"'
    ),
    "contents target": Example(
        'pourwright contents target --rule gb --declared "165 g" --sd "1.4 g" --lot-size 16 '
        '--probability 0.99 --eye-sd "4 g" --candles-a-year 900 --mix-price 11'
    ),
    "contents declare": Example('pourwright contents declare "5 3/4 oz"'),
    "hazard classify": Example(
        "pourwright hazard classify candle.toml --market eu --on 2026-11-24"
    ),
    "hazard headroom": Example(
        "pourwright hazard headroom candle.toml --market eu --on 2026-11-24"
    ),
    "hazard identifier make": Example(
        "pourwright hazard identifier make --country AT --vat U24681357 --formulation 1042"
    ),
    "hazard identifier check": Example("pourwright hazard identifier check sgv2s071q00335ry"),
    "demo": Example("pourwright demo --no-serve --data demo", on_a_workshop=True),
    "label needs": Example(
        'pourwright label needs "Fig and black tea" --market gb --data demo',
        on_a_workshop=True,
        lines=30,
    ),
    "label print": Example(
        'pourwright label print "Fig and black tea" --lot {lot} --sheet plain-a4 --count 12 '
        "--out labels.pdf --data demo",
        on_a_workshop=True,
    ),
    "cost lot": Example("pourwright cost lot L-0042 --data demo", on_a_workshop=True),
    "trace": Example("pourwright trace W-0001 --data demo", on_a_workshop=True, lines=28),
    "backup": Example("pourwright backup safe-copy.backup --data demo", on_a_workshop=True),
    "restore": Example("pourwright restore safe-copy.backup --data looked-at", on_a_workshop=True),
    "import": Example("pourwright import wicks --template wicks.csv"),
    "export": Example("pourwright export lots lots.csv --data demo", on_a_workshop=True),
    "check": Example("pourwright check --data demo", on_a_workshop=True),
    "serve": Example(
        "pourwright serve --data demo --no-browser", on_a_workshop=True, until="Pourwright is at"
    ),
    "start": Example(
        "pourwright start --data demo --no-browser", on_a_workshop=True, until="Pourwright is at"
    ),
}


def commands() -> dict[str, argparse.ArgumentParser]:
    """Return the parser of every command that does something, by its words, in order."""
    from pourwright.cli.main import build_parser

    def leaves(parser, words: tuple[str, ...]) -> Iterator[tuple[str, argparse.ArgumentParser]]:
        below = [a for a in parser._actions if isinstance(a, argparse._SubParsersAction)]
        if not below:
            yield " ".join(words), parser
        for action in below:
            for name, child in action.choices.items():
                yield from leaves(child, (*words, name))

    return dict(leaves(build_parser(), ()))


def help_of(parser: argparse.ArgumentParser) -> str:
    """Return a help text, laid out for a page and without colour."""
    was = {name: os.environ.get(name) for name in ("COLUMNS", "NO_COLOR")}
    os.environ.update(COLUMNS="100", NO_COLOR="1")
    try:
        return parser.format_help().strip()
    finally:
        for name, value in was.items():
            os.environ.pop(name) if value is None else os.environ.update({name: value})


# Sixteen net weights of an invented lot, in grams, as a scale of half a gram shows them.
FILLS = """\
166.0 165.5 167.0 166.5 164.5 166.0 167.5 165.0 166.5 165.5 166.0 164.0 167.0 166.5 165.5 166.0
"""


def candles(page: str = "candle-file.md") -> list[str]:
    """Return the documents that a page shows."""
    text = (DOCS / page).read_text(encoding="utf-8")
    return re.findall(r"^```toml\n(.*?)^```$", text, re.M | re.S)


def run_example(example: Example, folder: Path) -> str:
    """Run it in ``folder`` and return what it prints, places and ports made the same everywhere."""
    if "candle.toml" in example.words:
        (folder / "candle.toml").write_text(candles()[0], encoding="utf-8")
    if "jar.toml" in example.words:
        (folder / "jar.toml").write_text(candles("heat-file.md")[0], encoding="utf-8")
    for place, name in enumerate(("burns.toml", "search.toml")):
        if name in example.words:
            (folder / name).write_text(candles("burn-file.md")[place], encoding="utf-8")
    for place, name in enumerate(("autumn.toml", "purchases.toml", "market.toml")):
        if name in example.words:
            (folder / name).write_text(candles("plan-file.md")[place], encoding="utf-8")
    if "ranks.csv" in example.words:
        text = (DOCS / "burn-file.md").read_text(encoding="utf-8")
        [ranks] = re.findall(r"^```csv\n(.*?)^```$", text, re.M | re.S)
        (folder / "ranks.csv").write_text(ranks, encoding="utf-8")
    if "fills.txt" in example.words:
        (folder / "fills.txt").write_text(FILLS.replace(" ", "\n"), encoding="utf-8")
    words = [sys.executable, "-m", "pourwright.cli.main", *shlex.split(example.words)[1:]]
    env = _environment()
    if example.until:
        port = str(_free_port())
        with _running([*words, "--port", port], folder, env, example.until) as said:
            said.append("^C\n")
        out = "".join(said).replace(f":{port}/", f":{PORT}/")
    else:
        done = subprocess.run(
            words, cwd=folder, env=env, capture_output=True, encoding="utf-8", check=False
        )
        out = done.stdout + done.stderr
        if done.returncode:
            raise SystemExit(f"{example.words}\nended with {done.returncode}:\n{out}")
    out = out.replace(str(folder.resolve()), HOME).replace(str(folder), HOME)
    lines = out.rstrip().splitlines()
    if len(lines) > example.lines:
        more = len(lines) - example.lines
        lines = [*lines[: example.lines], f"… ({more} more lines)"]
    return "\n".join(line.rstrip() for line in lines)


def commands_page(folder: Path) -> str:
    """Return docs/commands.md; ``folder`` is where the examples run, the demo in it as ``demo``."""
    from pourwright.cli.main import build_parser

    every = commands()
    if missing := every.keys() ^ EXAMPLES.keys():
        raise SystemExit(f"EXAMPLES and the commands differ in: {', '.join(sorted(missing))}")
    parts = [COMMANDS_HEAD, f"\n```text\n{help_of(build_parser())}\n```\n"]
    # Run in EXAMPLES' order (a restore needs its backup), shown in the program's.
    said = {}
    for name, example in EXAMPLES.items():
        asked = filled(example, folder)
        said[name] = asked, run_example(asked, folder)
    for name, parser in every.items():
        parts.append(f"\n## {name}\n\n```text\n{help_of(parser)}\n```\n")
        asked, answer = said[name]
        parts.append(f"\n```console\n$ {_folded(asked.words)}\n{answer}\n```\n")
    return "".join(parts)


def filled(example: Example, folder: Path) -> Example:
    """Return an example with the lot that it speaks of, from the demo beside it."""
    if "{lot}" not in example.words:
        return example
    with contextlib.closing(sqlite3.connect(folder / "demo" / "workshop.sqlite3")) as books:
        (lot,) = books.execute(
            "SELECT l.code FROM stores_lot l JOIN designs_design d ON l.item_id = d.candle_id"
            " WHERE d.name LIKE 'Fig and black tea%' ORDER BY l.id LIMIT 1"
        ).fetchone()
    return replace(example, words=example.words.format(lot=lot))


def _folded(words: str) -> str:
    """Break a long command before an option, as one writes it in a shell."""
    lines, line = [], ""
    for word in re.split(r" (?=--)", words):
        if line and len(line) + len(word) > 88:
            lines.append(line)
            line = "   " + word
        else:
            line = f"{line} {word}".lstrip() if not line.startswith("   ") else f"{line} {word}"
    return " \\\n".join([*lines, line])


# --- running the program -------------------------------------------------------------------------


def _environment() -> dict[str, str]:
    without = ("DJANGO_SETTINGS_MODULE", "POURWRIGHT_DATA", "DATABASE_URL", "DISPLAY")
    kept = {name: value for name, value in os.environ.items() if name not in without}
    return {**kept, "PYTHONIOENCODING": "utf-8", "NO_COLOR": "1"}


def _free_port() -> int:
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextlib.contextmanager
def _running(words: list[str], folder: Path, env: dict[str, str], until: str):
    """Run a server of ours until the block ends; yields the lines it has said."""
    process = subprocess.Popen(
        words, cwd=folder, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        encoding="utf-8",
    )  # fmt: skip
    said: list[str] = []
    try:
        for line in process.stdout:
            said.append(line)
            if until in line:
                break
        else:
            raise SystemExit(f"{' '.join(words)} ended early:\n{''.join(said)}")
        yield said
    finally:
        process.send_signal(signal.SIGINT)
        said.extend(process.communicate(timeout=60)[0].splitlines(keepends=True))


@contextlib.contextmanager
def demo_folder(data: Path | None) -> Iterator[Path]:
    """Yield a folder with the demo in it as ``demo``; one that is made here is thrown away."""
    with tempfile.TemporaryDirectory(prefix="pourwright-docs-") as place:
        folder = Path(place)
        if data is not None:
            shutil.copytree(data, folder / "demo")
        words = [sys.executable, "-m", "pourwright.cli.main", "demo", "--no-serve"]
        subprocess.run(
            [*words, "--data", str(folder / "demo")], env=_environment(), check=True,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
        yield folder


# --- docs/pictures -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Shot:
    """One picture: where to go, what to do there, and how much of the page to show."""

    name: str
    go: Callable
    width: int = DESK
    height: int = 900
    of: str = ""  # only this sheet, by its heading


def _at(path: str) -> Callable:
    return lambda page, address: page.goto(address + path)


def _found(path: str, name: str) -> Callable:
    """Open the page of a thing by its name in a list."""

    def go(page, address):
        page.goto(address + path)
        page.locator("main").get_by_role("link", name=name, exact=True).first.click()

    return go


def _today(link: str) -> Callable:
    def go(page, address):
        page.goto(address)
        page.locator("main").get_by_role("link", name=link).first.click()

    return go


def _parcel(page, address):
    page.goto(address + "/stores/receipts/new/")
    page.get_by_label("Supplier", exact=False).first.select_option(label="Casa Ferrante Essences")
    page.get_by_label("Invoice or parcel number").fill("CAS-30118")
    page.get_by_label("Freight and duty").fill("9.90")
    for row, (item, much, price, lot) in enumerate(
        (
            ("Blood orange", "300 g", "14.10", "SC-4182"),
            ("Cedar shavings", "1 kg", "41.20", "SC-5507"),
        )
    ):
        select = page.get_by_label("Item", exact=True).nth(row)
        value = select.locator("option", has_text=item).first.get_attribute("value")
        select.select_option(value)
        page.get_by_label("How much", exact=True).nth(row).fill(much)
        page.get_by_label("Price of the line", exact=True).nth(row).fill(price)
        page.get_by_label("Supplier’s lot", exact=True).nth(row).fill(lot)
    page.get_by_role("button", name="Work it out").click()


def _batch(page, address):
    _found("/formulas/", "Orange and cardamom")(page, address)
    page.get_by_label("Vessels", exact=True).fill("14")
    page.get_by_role("button", name="Work it out").click()


def _gate(page, address):
    _found("/designs/", "Clary hour, tumbler")(page, address)
    page.locator("summary", has_text="Pass by hand").first.click()


def _burning(page, address):
    _found("/designs/", "Clary hour, tumbler")(page, address)
    page.get_by_role("link", name="How it burns").click()
    # The range takes some burns to work out: without htmx's second asking it is there at once.
    page.goto(f"{page.url}&all=1")


def _next_burn(page, address):
    _found("/burns/", "Clary hour, tumbler")(page, address)
    page.get_by_role("link", name="What to burn next").first.click()
    page.locator("summary", has_text="The figures and reasons").click()


def _panel(page, address):
    page.goto(address + "/panels/")
    page.locator("tr", has_text="told apart").get_by_role("link").last.click()


def _plan(page, address):
    page.goto(address + "/pours/new/")
    for row, (design, number) in enumerate((("Sunday linen", "6"), ("Smoked vanilla", "8"))):
        select = page.locator("select[name$='design']").nth(row)
        value = select.locator("option", has_text=design).first.get_attribute("value")
        select.select_option(value)
        page.locator("input[name$='number']").nth(row).fill(number)
    page.get_by_role("button", name="See what it takes").click()


def _bench(heading: str) -> Callable:
    """The open pour at the bench, on the step that asks this."""

    def go(page, address):
        _today("Go on at the bench")(page, address)
        for _ in range(30):
            if heading in page.locator("h1").inner_text():
                return
            page.get_by_role("link", name=re.compile("Later|Next")).last.click()
            page.wait_for_load_state("load")
        raise SystemExit(f"No step at the bench asks for {heading}.")

    return go


def _close(page, address):
    _today("Go on at the bench")(page, address)
    page.goto(page.url.split("/bench/")[0] + "/close/")
    page.get_by_label("Good").fill("9")
    page.get_by_label("Seconds").fill("1")
    page.get_by_label("Mix left over, kept").fill("22 g")


def _faults(page, address):
    page.goto(address + "/exchange/?kind=wicks")
    page.locator("textarea").fill(
        "name,series,size,length (mm),reorder below\n"
        "Flat braid no. 5,flat braid,5,120,100\n"
        "Round braid no. 1,round braid,1,long,many\n"
        "Flat braid no. 3,flat braid,3,120,100\n"
    )
    page.get_by_role("button", name="Check").click()


SHOTS = (
    Shot("today", _at("/"), height=1120),
    Shot("today-phone", _at("/"), PHONE, 844),
    Shot("stores", _at("/stores/"), height=900),
    Shot("vessel", _found("/stores/?kind=vessel", "Tapered cup, oat stoneware"), height=820),
    Shot("parcel", _parcel, height=1150),
    Shot("batch", _batch, height=1300),
    Shot("design", _found("/designs/", "Fig and black tea, tumbler"), height=1080),
    Shot("gate-phone", _gate, PHONE, of="Release"),
    Shot("panel", _panel, height=1180),
    Shot("burning", _burning, of="Pool, depth, wall"),
    Shot("burn", _found("/burns/T-0003/", "Burn 9"), height=1100),
    Shot("next-burn", _next_burn, height=980),
    Shot("plan-ahead", _at("/planning/PL-0001/"), height=1180),
    Shot("plan", _plan, height=1180),
    Shot("bench-phone", _bench("Black tea"), PHONE, 844),
    Shot("close", _close, height=930),
    Shot("shelf", _at("/shelf/"), height=1000),
    Shot("lot", _today("Check and release"), height=980),
    Shot("order", _today("Send to Chidera Obi"), height=860),
    Shot("recall", _today("Recall of Blood orange"), height=1250),
    Shot("faults", _faults, height=900),
)


QUIET = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")


def take_pictures(data: Path | None) -> None:
    from playwright.sync_api import sync_playwright

    PICTURES.mkdir(exist_ok=True)
    with demo_folder(data) as folder, sync_playwright() as play:
        port = str(_free_port())
        words = [sys.executable, "-m", "pourwright.cli.main", "serve", "--data", "demo"]
        words += ["--no-browser", "--port", port]
        address = f"http://127.0.0.1:{port}"
        with _running(words, folder, _environment(), "Pourwright is at"):
            browser = play.chromium.launch(executable_path=_browser(), args=list(QUIET))
            for shot in SHOTS:
                _save(shot.name, _shoot(browser, shot, address), browser)
            _save("pour-sheet", _pour_sheet(browser, address), browser)
            browser.close()
    in_all = sum(path.stat().st_size for path in PICTURES.glob("*.png"))
    print(f"{in_all:,} bytes in all (at most {MOST_BYTES_IN_ALL:,})")


def _browser() -> str | None:
    for name in ("chromium", "chromium-browser", "google-chrome"):
        if found := shutil.which(name):
            return found
    return None  # playwright's own


def _shoot(browser, shot: Shot, address: str) -> bytes:
    page = browser.new_page(
        viewport={"width": shot.width, "height": shot.height},
        color_scheme="light", locale="en-GB", timezone_id="Europe/London",
    )  # fmt: skip
    shot.go(page, address)
    page.wait_for_load_state("networkidle")
    page.wait_for_timeout(300)
    page.evaluate("window.scrollTo(0, 0); document.activeElement?.blur()")
    if shot.of:
        sheet = page.locator("section, article", has=page.get_by_role("heading", name=shot.of))
        box = sheet.last.bounding_box()
        clip = {"x": 0, "y": box["y"] - 12, "width": shot.width, "height": box["height"] + 24}
        taken = page.screenshot(clip=clip, full_page=True)
    else:
        taken = page.screenshot()
    page.close()
    return taken


def _pour_sheet(browser, address: str) -> bytes:
    """The planned pour's sheet as it comes from the printer, its first page."""
    import pypdfium2

    page = browser.new_page()
    page.goto(address)
    page.locator("main").get_by_role("link", name="Pour", exact=True).first.click()
    sheet = page.get_by_role("link", name="Pour sheet").get_attribute("href")
    data = page.request.get(address + sheet).body()
    page.close()
    bitmap = pypdfium2.PdfDocument(data)[0].render(scale=1.55, rev_byteorder=True)
    return _png_of_rows(bitmap)


def _png_of_rows(bitmap) -> bytes:
    raw, channels = bytes(bitmap.buffer), bitmap.n_channels
    kind = {1: 0, 3: 2, 4: 6}[channels]
    rows = (
        b"\0" + raw[y * bitmap.stride : y * bitmap.stride + bitmap.width * channels]
        for y in range(bitmap.height)
    )
    return _png(bitmap.width, bitmap.height, 8, kind, b"".join(rows))


# --- small pictures ------------------------------------------------------------------------------

# The browser decodes the picture and counts its colours; each pixel then takes the nearest of the
# commonest that differ enough to be told apart, so that a small dot keeps its colour beside much
# text. Pages are flat: a small palette keeps them as they are to the eye.
TO_PALETTE = """
async ([data, most]) => {
  const blob = await (await fetch("data:image/png;base64," + data)).blob();
  const image = await createImageBitmap(blob);
  const canvas = new OffscreenCanvas(image.width, image.height);
  const context = canvas.getContext("2d");
  context.fillStyle = "#fff";
  context.fillRect(0, 0, image.width, image.height);
  context.drawImage(image, 0, 0);
  const pixels = context.getImageData(0, 0, image.width, image.height).data;
  const counts = new Map();
  const key = (i) => (pixels[i] << 16) | (pixels[i + 1] << 8) | pixels[i + 2];
  for (let i = 0; i < pixels.length; i += 4) counts.set(key(i), (counts.get(key(i)) || 0) + 1);
  const apart = (one, other) => {
    let far = 0;
    for (const shift of [16, 8, 0]) far += (((one >> shift) & 255) - ((other >> shift) & 255)) ** 2;
    return far;
  };
  const palette = [];
  for (const [colour, count] of [...counts].sort((a, b) => b[1] - a[1])) {
    if (palette.length === most) break;
    const enough = count > 2000 ? 1 : 150;
    if (palette.every((other) => apart(colour, other) >= enough)) palette.push(colour);
  }
  const nearest = new Map(palette.map((colour, index) => [colour, index]));
  const find = (colour) => {
    let best = 0, least = Infinity;
    palette.forEach((other, index) => {
      const far = apart(colour, other);
      if (far < least) { least = far; best = index; }
    });
    nearest.set(colour, best);
    return best;
  };
  const indexes = new Uint8Array(image.width * image.height);
  for (let i = 0; i < indexes.length; i++) indexes[i] = nearest.get(key(i * 4)) ?? find(key(i * 4));
  let text = "";
  for (let i = 0; i < indexes.length; i += 32768)
    text += String.fromCharCode(...indexes.subarray(i, i + 32768));
  return { width: image.width, height: image.height, palette, indexes: btoa(text) };
}
"""


def _save(name: str, png: bytes, browser) -> None:
    page = browser.new_page()
    for most in (256, 128, 64, 32):
        asked = [base64.b64encode(png).decode(), most]
        small = page.evaluate(TO_PALETTE, asked)
        width, height = small["width"], small["height"]
        indexes = base64.b64decode(small["indexes"])
        rows = b"".join(b"\0" + indexes[y * width : (y + 1) * width] for y in range(height))
        palette = b"".join(colour.to_bytes(3, "big") for colour in small["palette"])
        made = _png(width, height, 8, 3, rows, palette)
        if len(made) < MOST_BYTES_A_PICTURE:
            break
    page.close()
    (PICTURES / f"{name}.png").write_bytes(made)
    print(f"{name}.png  {width} x {height}, {len(palette) // 3} colours, {len(made):,} bytes")


def _png(
    width: int, height: int, depth: int, kind: int, rows: bytes, palette: bytes = b""
) -> bytes:
    def chunk(name: bytes, data: bytes) -> bytes:
        checked = struct.pack(">I", zlib.crc32(name + data))
        return struct.pack(">I", len(data)) + name + data + checked

    head = struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0)
    parts = [b"\x89PNG\r\n\x1a\n", chunk(b"IHDR", head)]
    if palette:
        parts.append(chunk(b"PLTE", palette))
    return b"".join([*parts, chunk(b"IDAT", zlib.compress(rows, 9)), chunk(b"IEND", b"")])


# --- docs/decisions/README.md ---------------------------------------------------------------------

DECISIONS_HEAD = """\
# Decisions

Half a page each, for what someone will question: context, decision, consequences. A decision that
is overtaken stays, and says by which it was. A number is kept once it is given; gaps mean nothing.

"""


def decisions_page() -> str:
    """Return the list of decisions, by number; written by ``docs/make.py decisions``."""
    lines = []
    for path in sorted((DOCS / "decisions").glob("0*.md")):
        number, title = re.match(r"# (\d+)\. (.+)", path.read_text(encoding="utf-8")).groups()
        lines.append(f"- {number}: [{title}]({path.name})\n")
    return DECISIONS_HEAD + "".join(lines)


# --- all of it -----------------------------------------------------------------------------------


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.strip().split("\n")[0])
    parser.add_argument(
        "what", nargs="*", help="decisions, files, commands, pictures; all if left out"
    )
    parser.add_argument("--data", type=Path, help="a demo that is there already")
    asked = parser.parse_args()
    what = asked.what or ["decisions", "files", "commands", "pictures"]
    if "decisions" in what:
        (DOCS / "decisions" / "README.md").write_text(decisions_page(), encoding="utf-8")
        print("docs/decisions/README.md")
    if "files" in what:
        (DOCS / "files.md").write_text(files_page(), encoding="utf-8")
        print("docs/files.md")
    if "commands" in what:
        with demo_folder(asked.data) as folder:
            (DOCS / "commands.md").write_text(commands_page(folder), encoding="utf-8")
        print("docs/commands.md")
    if "pictures" in what:
        take_pictures(asked.data)


if __name__ == "__main__":
    main()
