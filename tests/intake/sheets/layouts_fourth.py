"""Typewriter lines, a table on its side, a report, a form, classes first, blocks by letter."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from reportlab.lib import colors
from reportlab.platypus import Table

from intake.sheets.drawing import ENGLISH, Pen, build, cell, distractions, filler, paragraphs
from intake.sheets.layouts import Drawn, _heading, _opening, _rest, _t, _typst
from intake.sheets.truth import (
    by_statement,
    draw_truth,
    short,
    with_details,
    write_classes,
    write_details,
)


def one_line_each(rng: random.Random) -> Drawn:
    """Typewriter letters, one long line an ingredient, columns padded with spaces."""
    truth = by_statement(draw_truth(rng, fewest=5, most=10, ranges=rng.choice(("plain", "ascii"))))
    lines = [f"{'Ingredient':<34}{'CAS#':<13}{'EINECS#':<12}{'Wt.%':<15}Hazard codes"]
    for row in truth.rows:
        name = row.name[:32]
        lines.append(
            f"{name:<34}{row.cas:<13}{row.ec:<12}{row.pct_text:<15}{write_classes(row, 'codes')}"
        )
    pen = Pen(size=6.6, font="Courier")
    pen.canvas.setFont("Courier", 8)
    for words in (
        f"SAFETY DATA SHEET     {truth.product}",
        f"DATE OF ISSUE: {truth.sheet_date:%d.%m.%Y}     VERSION: {truth.revision}",
        "1. IDENTIFICATION",
        f"PRODUCT NAME: {truth.product}",
        f"SUPPLIER: {truth.supplier}",
        "2. HAZARDS IDENTIFICATION",
        "H317 H411",
        "3. COMPOSITION / INFORMATION ON INGREDIENTS",
        *lines,
        "-" * 60,
        "4. FIRST AID MEASURES",
        "IF ON SKIN: WASH WITH PLENTY OF WATER.",
        "9. PHYSICAL AND CHEMICAL PROPERTIES",
        f"FLASH POINT.......: {truth.flash_c} C",
        f"DENSITY...........: {truth.density} g/cm3",
        "11. TOXICOLOGICAL INFORMATION",
        distractions(truth)[1],
    ):
        pen.text(30, words)
        pen.y -= 9.5
    kept = tuple(replace(row, fact=replace(row.fact, name=row.name[:32])) for row in truth.rows)
    return pen.done(), replace(truth, rows=kept)


def across(rng: random.Random) -> Drawn:
    """A table on its side: an ingredient a column, the kinds of facts as rows."""
    truth = draw_truth(rng, fewest=3, most=4, ranges=rng.choice(("half open", "plain percent")))
    kinds: list[tuple[str, list[str]]] = [
        ("Ingredient", [row.name for row in truth.rows]),
        ("CAS No.", [row.cas for row in truth.rows]),
        ("EC No.", [row.ec for row in truth.rows]),
        ("Concentration", [row.pct_text for row in truth.rows]),
        ("Classification", [write_classes(row, "lines") for row in truth.rows]),
    ]
    rows = [
        [cell(label, 8, "Sans-Bold"), *[cell(text, 7.5) for text in texts]]
        for label, texts in kinds
    ]
    table = Table(rows, colWidths=[85, *[105] * len(truth.rows)])
    table.setStyle(
        [("GRID", (0, 0), (-1, -1), 0.4, colors.black), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    )
    story = [
        *_opening(truth, rng, day=f"Revision date: {truth.sheet_date:%d/%m/%Y}"),
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


def serif_report(rng: random.Random) -> Drawn:
    """A report in serif letters: heads over two lines and a rule, share last, letters in names."""
    truth = with_details(
        draw_truth(rng, fewest=6, most=14, ranges=rng.choice(("x between", "to", "below"))),
        specific=False,
    )
    cells = "".join(
        f"[{n}],[{_t(row.name)} \\ #text(size: 7pt)[EC {_t(row.ec)}]],[{_t(row.cas)}],"
        f"[{', '.join(_t(short(k)) for k, _ in row.fact.classes) or '–'} \\ "
        f"{' '.join(c for _, c in row.fact.classes)} \\ "
        f"{' · '.join(map(_t, write_details(row, 'words')))}],[{_t(row.pct_text)}],\n"
        for n, row in enumerate(truth.rows, start=1)
    )
    source = f"""
#set page(paper: "us-letter", margin: (x: 2cm, y: 2.2cm), numbering: "1 / 1",
header: [{_t(truth.product)} #h(1fr) Safety data sheet])
#set text(size: 8.5pt)
#set par(justify: true)
= Safety data sheet
/ Revision date: {truth.sheet_date:%d %B %Y}
/ Version: {_t(truth.revision)}
== SECTION 1: {_t(ENGLISH[1])}
/ Product name: {_t(truth.product)}
/ Supplier: {_t(truth.supplier)}
== SECTION 2: {_t(ENGLISH[2])}
{_t(filler(rng, 6))}
== SECTION 3: {_t(ENGLISH[3])}
The preparation holds the following substances that are hazardous or have a limit for the workplace.
#table(columns: (auto, 1.2fr, auto, 1.5fr, auto), stroke: none, inset: 4pt,
table.hline(), [No.], [Substance \\ (EC number)], [CAS \\ number],
[Classification \\ Statements, factors],
[Content \\ (% by mass)], table.hline(stroke: 0.4pt),
{cells} table.hline())
#super[1] Statements in full: section 16.
== SECTION 4: {_t(ENGLISH[4])}
{_t(filler(rng, 6))}
== SECTION 8: {_t(ENGLISH[8])}
{_t(distractions(truth)[0])}
== SECTION 9: {_t(ENGLISH[9])}
#table(columns: (1fr, 1fr), [a) Physical state], [liquid],
[h) Flash point], [{truth.flash_c} °C, closed cup],
[m) Density and/or relative density], [{truth.density} g/cm³ (20 °C)])
"""
    return _typst(source), truth


def boxed_two_columns(rng: random.Random) -> Drawn:
    """A form: every section in a box, labels small above values, ingredients in a ruled grid."""
    truth = draw_truth(rng, fewest=5, most=9, ranges=rng.choice(("signs twice", "mixed comma")))
    head = ["Substance", "Index-No. / CAS / EC", "Hazard category", "H", "Share in %"]
    rows = [[cell(w, 6.5, "Sans-Bold") for w in head]]
    for row in truth.rows:
        ids = f"603-{rng.randint(100, 999)}-00-{rng.randint(0, 9)} / {row.cas} / {row.ec}"
        names = ", ".join(short(key) for key, _ in row.fact.classes) or "-"
        codes = ", ".join(code for _, code in row.fact.classes) or "-"
        rows.append([cell(t, 7) for t in (row.name, ids, names, codes, row.pct_text)])
    table = Table(rows, colWidths=[120, 95, 140, 80, 65])
    table.setStyle(
        [
            ("GRID", (0, 0), (-1, -1), 0.4, colors.grey),
            ("BACKGROUND", (0, 0), (-1, 0), colors.lightblue),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ]
    )
    inside = [[[*paragraphs(["Dangerous ingredients of the mixture"], 8), table]]]
    box = Table(inside, colWidths=[515])
    box.setStyle([("BOX", (0, 0), (-1, -1), 1.2, colors.black)])
    story = [
        *_opening(truth, rng, day=f"Last updated: {truth.sheet_date:%d.%m.%Y}", before="{} - "),
        _heading("3 - " + ENGLISH[3]),
        box,
        *_rest(
            truth,
            rng,
            before="{} - ",
            flash=f"Flash point (°C): > {truth.flash_c}",
            density=f"Specific gravity (20 °C): {truth.density.replace('.', ',')}",
        ),
    ]
    return build(story, margin=40), truth


def classes_first(rng: random.Random) -> Drawn:
    """White columns, long classes left and short facts right, rows close together."""
    truth = draw_truth(rng, fewest=6, most=16, ranges=rng.choice(("en dash", "half open", "mixed")))
    pen = Pen(size=7.5)
    pen.line(45, "Material safety data sheet", bold=True, size=13)
    pen.line(45, f"Commercial product name: {truth.product}")
    pen.line(45, f"Revision: {truth.revision}   Date: {truth.sheet_date.isoformat()}")
    pen.line(45, "Section 1 - Identification of the mixture and the supplier", bold=True)
    pen.line(45, f"Company: {truth.supplier}")
    pen.line(45, "Section 2 - Hazards identification", bold=True)
    pen.line(45, filler(rng, 12))
    pen.line(45, "Section 3 - Composition / information on ingredients", bold=True)
    places, widths = (45, 225, 345, 410, 470), (172, 116, 60, 55, 90)
    heads = ("Hazard class / category / statement", "Component", "CAS RN", "EC", "Concentration")
    for x, word in zip(places, heads, strict=True):
        pen.text(x, word, bold=True)
    pen.y -= 10
    for row in truth.rows:
        texts = (write_classes(row, "long"), row.name, row.cas, row.ec, row.pct_text)
        cells = list(zip(places, widths, texts, strict=True))
        if pen.need(pen.height_of(cells)):
            pen.y -= 4
        pen.y -= pen.cells(cells) + rng.choice((1.0, 1.5))
    for number in (4, 5, 7, 8):
        pen.line(45, f"Section {number} - {ENGLISH[number]}", bold=True)
        pen.line(45, distractions(truth)[0] if number == 8 else filler(rng, 4))
    pen.line(45, "Section 9 - Physical and chemical properties", bold=True)
    pen.line(45, f"Flash point: about {truth.flash_c} °C (DIN EN ISO 2719)")
    pen.line(45, f"Density (20 °C): {truth.density} g/ml")
    pen.line(45, "Section 12 - Ecological information", bold=True)
    pen.line(45, distractions(truth)[2])
    return pen.done(), truth


def lettered_blocks(rng: random.Random) -> Drawn:
    """Blocks that begin with share and number; the name after them, the classes below."""
    truth = with_details(draw_truth(rng, fewest=4, most=9, ranges=rng.choice(("half open", "to"))))
    story = [
        *_opening(truth, rng, day=f"Date of revision: {truth.sheet_date:%d/%m/%Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        *paragraphs(["3.2 Mixtures", "Hazardous components"]),
    ]
    for letter, row in zip("abcdefghijkl", truth.rows, strict=False):
        lines = [
            f"{letter}) {row.pct_text}   CAS {row.cas}   EINECS {row.ec}   {row.name}",
            write_classes(row, "comma"),
        ]
        if details := write_details(row, "equals"):
            lines.append(", ".join(details))
        story.append(cell("\n".join(lines), 8, spaceAfter=4))
    story += _rest(
        truth,
        rng,
        flash=f"Flash point: {truth.flash_c} °C",
        density=f"Relative density: {truth.density}",
    )
    return build(story, margin=55), truth


FOURTH: dict[str, Callable[[random.Random], Drawn]] = {
    "one line each": one_line_each,
    "across": across,
    "serif report": serif_report,
    "boxed form": boxed_two_columns,
    "classes first": classes_first,
    "lettered blocks": lettered_blocks,
}
