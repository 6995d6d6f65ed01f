"""
How long a set of label sheets takes: composing one candle's labels, and 300 of them as a PDF.

    python benchmarks/labels.py [--number 300] [--write docs/benchmarks.md]

The candle is invented. Its wrap has a hazard block, fire warnings, an address, a bar code and a
square code: more than most. The 300 lie on A4 as far as they fit; once all alike, once each with
its own number. Times are the median of several runs, in seconds.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from label_examples import facts
from pourwright.core.labelling.needs import needs_of
from pourwright.core.labelling.panel import us_bottom_zone
from pourwright.papers.labels.faces import WrapSize, base, wrap
from pourwright.papers.labels.marks import Drawing, Words
from pourwright.papers.labels.pdf import labels_pdf
from pourwright.papers.labels.proof import faults
from pourwright.papers.labels.sheets import A4, many_on_a_page, pages_of
from pourwright.papers.labels.style import Style

HEADING = "## Labels"
RUNS = 5
ON_THE_BASE = ("fire_us", "fire_symbols", "lot")


def composed(on_the_base: tuple[str, ...] = ON_THE_BASE) -> tuple[Drawing, Drawing]:
    """Compose the wrap and the base and prove them."""
    known = facts()
    needs = needs_of(known)
    zone = us_bottom_zone(known.panel, on=known.on).height_mm
    size = WrapSize(
        circumference=float(known.panel.width_mm / Fraction("0.4")), height=78,
        front_width=float(known.panel.width_mm), foot_zone=float(zone),
    )  # fmt: skip
    around = wrap(needs, size, style=Style(), on_the_base=on_the_base)
    under = base(needs, diameter=70, style=Style(), keys=on_the_base)
    assert faults(needs, [around, under]) == []
    return around, under


def numbered(drawing: Drawing, number: int) -> Drawing:
    marks = tuple(
        replace(mark, text=f"{mark.text}-{number:03d}")
        if isinstance(mark, Words) and mark.role == "lot"
        else mark
        for mark in drawing.marks
    )
    return replace(drawing, marks=marks)


def sheets(drawings: list[Drawing]) -> bytes:
    sheet = many_on_a_page(drawings[0], A4)
    return labels_pdf(pages_of(drawings, sheet, cut=True), title="Labels")


def timed(act: Callable[[], object]) -> float:
    took = []
    for _ in range(RUNS):
        began = time.perf_counter()
        act()
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def measure(number: int) -> list[tuple[str, float]]:
    around, under = composed()
    with_lot, _ = composed(on_the_base=("fire_us", "fire_symbols"))

    def each(drawing: Drawing) -> bytes:
        return sheets([numbered(drawing, n) for n in range(number)])

    return [
        ("Compose and prove one wrap and base", timed(composed)),
        (f"{number} wraps alike, as a PDF", timed(lambda: sheets([around] * number))),
        (f"{number} bases alike, as a PDF", timed(lambda: sheets([under] * number))),
        (f"{number} bases, each with its own number", timed(lambda: each(under))),
        (f"{number} wraps, each with its own number", timed(lambda: each(with_lot))),
    ]


def table(rows: list[tuple[str, float]]) -> str:
    """Return the section for docs/benchmarks.md."""
    day, python = time.strftime("%d %B %Y"), platform.python_version()
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    machine = f"{os.cpu_count()} cores, {memory:.0f} GiB of memory, {platform.system()}"
    lines = "\n".join(f"| {what} | {took:.2f} |" for what, took in rows)
    return f"""\
{HEADING}

Measured on {day}: {machine}, Python {python}.
Goal: a set of 300 labels within 2 s.

An invented candle with a hazard block, fire warnings, an address, a bar code and a square code, on
A4 with cut marks. Median of {RUNS} runs, in seconds. What recurs, a label or a long outline, is
written into the PDF once; a number of its own on each label costs the rest of the label anew.

| What | s |
|---|---:|
{lines}

Measure again with `python benchmarks/labels.py --write docs/benchmarks.md`.
"""


def written(text: str, section: str) -> str:
    """Return the page with its section put in the old one's place, or at its end."""
    found = re.search(rf"^{HEADING}\n.*?(?=^## |\Z)", text, flags=re.M | re.S)
    if found:
        return (
            text[: found.start()]
            + section
            + ("\n" if found.end() < len(text) else "")
            + (text[found.end() :])
        )
    return f"{text.rstrip()}\n\n{section}"


def main() -> None:
    parser = argparse.ArgumentParser(description="Time label sheets.")
    parser.add_argument("--number", type=int, default=300)
    parser.add_argument("--write", type=Path, metavar="FILE")
    arguments = parser.parse_args()
    section = table(measure(arguments.number))
    print(section)
    if arguments.write:
        page = arguments.write.read_text(encoding="utf-8")
        arguments.write.write_text(written(page, section), encoding="utf-8")


if __name__ == "__main__":
    main()
