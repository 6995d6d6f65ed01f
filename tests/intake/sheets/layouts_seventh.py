"""Groups by share, cards side by side, two unlike tables, all in one cell but the share."""

from __future__ import annotations

import random
from collections.abc import Callable

from reportlab.lib import colors
from reportlab.platypus import Table

from intake.sheets.drawing import ENGLISH, build, cell, paragraphs
from intake.sheets.layouts import Drawn, _heading, _opening, _rest
from intake.sheets.truth import draw_truth, short, with_details, write_classes, write_details


def _sheet(truth, rng: random.Random, section: list) -> bytes:
    story = [
        *_opening(truth, rng, day=f"Revision date: {truth.sheet_date:%d.%m.%Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        *section,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    return build(story)


def grouped_by_share(rng: random.Random) -> Drawn:
    """The share as a heading over each group of ingredients, as washing agents have it."""
    truth = draw_truth(rng, fewest=5, most=10, ranges=rng.choice(("plain percent", "half open")))
    groups: dict[str, list] = {}
    for row in truth.rows:
        groups.setdefault(row.pct_text, []).append(row)
    section: list = []
    for share, rows in groups.items():
        section += [cell(f"{share}:", 9, "Sans-Bold", spaceBefore=4)]
        lines = [[cell(w, 7.5, "Sans-Bold") for w in ("Substance", "CAS", "EC", "Classification")]]
        for row in rows:
            texts = (row.name, row.cas, row.ec, write_classes(row, "comma"))
            lines.append([cell(text, 7.5) for text in texts])
        table = Table(lines, colWidths=[160, 70, 70, 205])
        table.setStyle([("GRID", (0, 0), (-1, -1), 0.3, colors.grey)])
        section.append(table)
    return _sheet(truth, rng, section), truth


def cards_side_by_side(rng: random.Random) -> Drawn:
    """Two cards of labels and values beside each other."""
    truth = draw_truth(rng, fewest=4, most=8, ranges=rng.choice(("plain percent", "both signs")))
    cards = []
    for row in truth.rows:
        pairs = (
            ("Name:", row.name),
            ("CAS:", row.cas),
            ("EC:", row.ec),
            ("Conc.:", row.pct_text),
            ("CLP:", write_classes(row, "comma")),
        )
        cards.append(Table([[cell(a, 7), cell(b, 7)] for a, b in pairs], colWidths=[38, 200]))
    if len(cards) % 2:
        cards.append("")
    grid = Table([[cards[n], cards[n + 1]] for n in range(0, len(cards), 2)], colWidths=[252, 252])
    grid.setStyle([("GRID", (0, 0), (-1, -1), 0.6, colors.black)])
    return _sheet(truth, rng, [grid]), truth


def two_tables(rng: random.Random) -> Drawn:
    """One table for what is classified, another with other columns for what is not named above."""
    truth = with_details(
        draw_truth(rng, fewest=7, most=12, ranges=rng.choice(("signs twice", "mixed")))
    )
    cut = len(truth.rows) * 2 // 3
    first = [[cell(w, 7.5, "Sans-Bold") for w in ("Substance", "Numbers", "Content", "CLP")]]
    for row in truth.rows[:cut]:
        said = "\n".join([write_classes(row, "brackets"), *write_details(row, "equals")])
        texts = (row.name, f"CAS {row.cas}\nEC {row.ec}", row.pct_text, said)
        first.append([cell(text, 7.5) for text in texts])
    second = [[cell(w, 7.5, "Sans-Bold") for w in ("CAS", "EC", "Further substances", "CLP", "%")]]
    for row in truth.rows[cut:]:
        said = "; ".join([write_classes(row, "comma"), *write_details(row, "equals")])
        second.append([cell(text, 7.5) for text in (row.cas, row.ec, row.name, said, row.pct_text)])
    one = Table(first, colWidths=[150, 90, 90, 175])
    one.setStyle([("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.grey)])
    two = Table(second, colWidths=[60, 60, 130, 175, 80])
    two.setStyle([("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.grey)])
    section = [one, *paragraphs(["Further substances with a limit at the workplace:"]), two]
    return _sheet(truth, rng, section), truth


def name_over_codes(rng: random.Random) -> Drawn:
    """Two columns only: all on a substance left, its share right; classes below in smaller type."""
    truth = draw_truth(rng, fewest=5, most=10, ranges=rng.choice(("half open", "en dash")))
    rows = [[cell("Components", 8, "Sans-Bold"), cell("Weight percent", 8, "Sans-Bold")]]
    for row in truth.rows:
        classes = ", ".join(f"{short(key)} {code}" for key, code in row.fact.classes) or "-"
        text = f"{row.name}\nCAS-No. {row.cas} / EC-No. {row.ec}\n{classes}"
        rows.append([cell(text, 7.5), cell(row.pct_text, 8, alignment=2)])
    table = Table(rows, colWidths=[390, 110])
    table.setStyle(
        [("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.black), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    )
    return _sheet(truth, rng, [table]), truth


SEVENTH: dict[str, Callable[[random.Random], Drawn]] = {
    "grouped by share": grouped_by_share,
    "cards side by side": cards_side_by_side,
    "two tables": two_tables,
    "name over codes": name_over_codes,
}
