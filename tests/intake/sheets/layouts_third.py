"""Sheets with what spoils simple readings: many numbers a row, none, notes between, odd signs."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from reportlab.lib import colors
from reportlab.platypus import Table

from intake.sheets.drawing import ENGLISH, Pen, build, cell, distractions, filler, paragraphs
from intake.sheets.layouts import Drawn, _heading, _opening, _rest, _t, _typst
from intake.sheets.truth import draw_truth, short, with_details, write_classes

ISOMERS = "68155-66-8"  # another isomer of the naphthyl ethanone; its check digit fits


def many_numbers(rng: random.Random) -> Drawn:
    """Ruled; some ingredients have several CAS numbers, some have none."""
    truth = draw_truth(rng, fewest=6, ranges=rng.choice(("half open", "both signs")))
    rows = [[cell(w, 8, "Sans-Bold") for w in ("Name", "CAS", "EC", "Content (%)", "CLP class")]]
    kept = []
    for at, row in enumerate(truth.rows):
        cas = row.cas
        if at == 1:
            cas, row = "-", replace(row, cas="")
        elif at == 3:
            cas = f"{row.cas}\n{ISOMERS}"
        kept.append(row)
        rows.append(
            [cell(t, 8) for t in (row.name, cas, row.ec, row.pct_text, write_classes(row, "comma"))]
        )
    table = Table(rows, colWidths=[150, 65, 65, 75, 150], repeatRows=1)
    table.setStyle([("GRID", (0, 0), (-1, -1), 0.4, colors.black)])
    truth = replace(truth, rows=tuple(kept))
    story = [
        *_opening(truth, rng, day=f"Revision: {truth.sheet_date:%d.%m.%Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    return build(story), truth


def limits_below(rng: random.Random) -> Drawn:
    """Specific limits, factors and estimates in a row of their own across the table."""
    truth = with_details(draw_truth(rng, ranges="half open comma"))
    cells: list[list] = [
        [
            cell(w, 7.5, "Sans-Bold")
            for w in ("Chemical name", "CAS-No.\nEC-No.", "Conc. [%]", "CLP")
        ]
    ]
    spans = []
    for row in truth.rows:
        texts = (row.name, f"{row.cas}\n{row.ec}", row.pct_text, write_classes(row, "comma"))
        cells.append([cell(t, 7.5) for t in texts])
        said = []
        for key, limit in row.specific.items():
            said.append(f"{short(key)}; H317: C ≥ {limit.replace('.', ',')} %")
        if row.m_acute:
            said.append(f"M-factor (Aquatic Acute) = {row.m_acute}")
        if row.m_chronic:
            said.append(f"M-factor (Aquatic Chronic) = {row.m_chronic}")
        if row.ate_oral:
            said.append(f"ATE (oral) = {row.ate_oral} mg/kg bw")
        if said:
            spans.append(("SPAN", (0, len(cells)), (-1, len(cells))))
            cells.append([cell("   ".join(said), 7), "", "", ""])
    table = Table(cells, colWidths=[150, 80, 90, 185], repeatRows=1)
    table.setStyle([("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.grey), *spans])
    story = [
        *_opening(truth, rng, day=f"Date of issue: {truth.sheet_date:%d/%m/%Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        *paragraphs(["3.2 Mixtures", "Description: fragrance mixture"]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    return build(story, head="Safety data sheet"), truth


def symbol_signs(rng: random.Random) -> Drawn:
    """Signs of the Symbol font that come out as other letters; two-tier heads; tight columns."""
    truth = draw_truth(rng, ranges="both signs")
    pen = Pen(size=7)
    pen.line(36, f"{truth.product}", bold=True, size=12)
    pen.line(36, f"Safety Data Sheet   Revision Number {rng.randint(2, 9)}")
    truth = replace(truth, revision="")
    pen.line(36, f"Issuing Date 05-Apr-2019   Revision Date {truth.sheet_date:%d-%b-%Y}")
    pen.line(36, "1. IDENTIFICATION OF THE SUBSTANCE/PREPARATION AND OF THE COMPANY", bold=True)
    pen.line(36, f"Product Name            {truth.product}")
    pen.line(36, f"Supplier: {truth.supplier}")
    pen.line(36, "2. HAZARDS IDENTIFICATION", bold=True)
    pen.line(36, filler(rng, 4))
    pen.line(36, "3. COMPOSITION/INFORMATION ON INGREDIENTS", bold=True)
    pen.line(36, "Chemical nature: mixture of fragrance materials. Hazardous components are:")
    pen.y -= 5
    pen.text(215, "Identifiers", bold=True)
    pen.text(400, "According to Regulation 1272/2008", bold=True)
    pen.y -= 9
    places, widths = (36, 180, 229, 276, 326, 360), (141, 46, 44, 47, 30, 190)
    heads = ("Chemical Name", "CAS-No", "EC-No", "Weight %", "Symbol", "Classification")
    for x, word in zip(places, heads, strict=True):
        pen.text(x, word, bold=True)
    pen.y -= 11
    for row in truth.rows:
        share = row.pct_text.replace("≥", "³").replace("≤", "£")
        texts = (row.name, row.cas, row.ec, share, "GHS07", write_classes(row, "brackets"))
        cells = list(zip(places, widths, texts, strict=True))
        pen.need(pen.height_of(cells))
        pen.y -= pen.cells(cells) + 3
    pen.line(36, "For the full text of the H-Statements mentioned in this Section, see Section 16")
    for number in (4, 5, 8):
        pen.line(36, f"{number}. {ENGLISH[number].upper()}", bold=True)
        pen.line(36, distractions(truth)[0] if number == 8 else filler(rng, 5))
    pen.line(36, "9. PHYSICAL AND CHEMICAL PROPERTIES", bold=True)
    pen.line(
        36, f"Flash Point          {truth.flash_c}°C / {float(truth.flash_c) * 1.8 + 32:.1f}°F"
    )
    pen.line(36, f"Specific Gravity     {truth.density}")
    pen.line(36, "11. TOXICOLOGICAL INFORMATION", bold=True)
    pen.line(36, distractions(truth)[1])
    return pen.done(), truth


def cards_two_up(rng: random.Random) -> Drawn:
    """Cards set by another program, labels above their values."""
    truth = draw_truth(rng, fewest=4, most=8, ranges=rng.choice(("plain percent", "half open")))
    cards = "\n".join(
        f"""#block(breakable: false, stroke: 0.4pt, inset: 6pt, width: 100%)[
*{_t(row.name)}* \\
#grid(columns: (1fr, 1fr, 1fr), row-gutter: 3pt,
text(size: 7pt)[CAS number], text(size: 7pt)[EC number], text(size: 7pt)[Concentration],
[{_t(row.cas)}], [{_t(row.ec)}], [{_t(row.pct_text)}])
Classification: {_t(write_classes(row, "brackets"))}
]"""
        for row in truth.rows
    )
    source = f"""
#set page(paper: "a4", margin: 2cm)
#set text(size: 9pt)
= {_t(truth.product)}
Version: {_t(truth.revision)} #h(1fr) Revision date: {truth.sheet_date:%d %B %Y}
= SECTION 1: {_t(ENGLISH[1])}
Product name: {_t(truth.product)} \\
Supplier: {_t(truth.supplier)}
= SECTION 2: {_t(ENGLISH[2])}
{_t(filler(rng, 3))}
= SECTION 3: {_t(ENGLISH[3])}
{cards}
= SECTION 4: {_t(ENGLISH[4])}
{_t(filler(rng, 4))}
= SECTION 9: {_t(ENGLISH[9])}
Flash point: {truth.flash_c} °C \\
Density: {truth.density} g/cm³
"""
    return _typst(source), truth


def numbers_under_name(rng: random.Random) -> Drawn:
    """The numbers below the name in its own cell, share in the middle, classes to the right."""
    truth = draw_truth(rng, ranges=rng.choice(("half open", "signs twice")))
    rows = [[cell(w, 8, "Sans-Bold") for w in ("Hazardous component", "% w/w", "Classification")]]
    for row in truth.rows:
        name = f"{row.name}\nCAS No.: {row.cas}\nEC No.: {row.ec}\nREACH No.: 01-2119474016-42-XXXX"
        rows.append([cell(t, 8) for t in (name, row.pct_text, write_classes(row, "lines"))])
    table = Table(rows, colWidths=[230, 100, 170], repeatRows=1)
    table.setStyle(
        [("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]
    )
    story = [
        *_opening(truth, rng, day=f"Revision date {truth.sheet_date:%d.%m.%Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    return build(story), truth


THIRD: dict[str, Callable[[random.Random], Drawn]] = {
    "many numbers": many_numbers,
    "limits below": limits_below,
    "symbol signs": symbol_signs,
    "cards, labels above": cards_two_up,
    "numbers under the name": numbers_under_name,
}
