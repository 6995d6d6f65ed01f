"""
How long the fill to aim at takes to work out, over spreads, lots and rules, and how sure it is.

    python benchmarks/contents.py [--write docs/benchmarks.md]

Each case is worked out in this one process after a first one that loads scipy's tables; a figure is
the median of three. ``--write`` puts the table in place of the one there.
"""

from __future__ import annotations

import argparse
import statistics
import time
from datetime import date
from itertools import product
from pathlib import Path

from pourwright.core.contents import parse_declared
from pourwright.core.contents.target import _points, target_fill

GOAL_S = 1.0
HEAD = "## The fill to aim at"
CASES = tuple(product(("us", "gb", "eu"), (12, 60, 300), (1.0, 3.0, 6.0), (0.0, 1.0), (0.95, 0.99)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[1])
    parser.add_argument("--write", type=Path, help="the page that has the table")
    arguments = parser.parse_args()
    report = markdown([(case, *measured(case)) for case in CASES])
    print(report)
    if arguments.write:
        page = arguments.write.read_text(encoding="utf-8")
        before, _, old = page.partition(f"\n{HEAD}\n")
        _, mark, after = old.partition("\n## ")
        page = f"{before.rstrip()}\n\n{report}{mark}{after}"
        arguments.write.write_text(page, encoding="utf-8")


def measured(case) -> tuple[float, float]:
    """Return the seconds that a case takes, and how far its answer may be off, in grams."""
    market, lot_size, sd_g, batch_sd_g, probability = case
    label = parse_declared("210 g")
    seconds = []
    for _ in range(3):
        _points.cache_clear()  # the draws are part of the work
        began = time.perf_counter()
        found = target_fill(
            market=market, declared=label, sd_g=sd_g, lot_size=lot_size, on=date(2026, 11, 25),
            batch_sd_g=batch_sd_g, probability=probability,
        )  # fmt: skip
        seconds.append(time.perf_counter() - began)
    return statistics.median(seconds), found.error_g


def markdown(rows) -> str:
    lines = [
        HEAD,
        "",
        f"Goal: an answer within {GOAL_S:g} s. A label of 210 g, 95 and 99 %, spreads of 1, 3 and "
        "6 g within a lot; seconds",
        "of one process, the loading of scipy left out (some 0.5 s, once).",
        "",
        "| Lot | lots alike: median | slowest | lots differ by 1 g: median | slowest |"
        " largest error, g |",
        "|---|---:|---:|---:|---:|---:|",
    ]
    for market, lot_size in product(("us", "gb", "eu"), (12, 60, 300)):
        own = [row for row in rows if row[0][:2] == (market, lot_size)]
        alike = [seconds for case, seconds, _ in own if case[3] == 0]
        differ = [seconds for case, seconds, _ in own if case[3] > 0]
        error = max(error for _, _, error in own)
        lines.append(
            f"| {market.upper()}, {lot_size} candles | {statistics.median(alike):.2f} | "
            f"{max(alike):.2f} | {statistics.median(differ):.2f} | {max(differ):.2f} | "
            f"{error:.3f} |"
        )
    lines += ["", "Measure again with `python benchmarks/contents.py --write docs/benchmarks.md`."]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
