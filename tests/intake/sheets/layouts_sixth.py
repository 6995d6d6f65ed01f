"""Classes in rows of their own, dotted lines, remarks and a last line, everything centred."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from reportlab.lib import colors
from reportlab.lib.pagesizes import LETTER
from reportlab.platypus import Table

from intake.sheets.drawing import ENGLISH, Pen, build, cell, distractions, filler, paragraphs
from intake.sheets.layouts import Drawn, _heading, _opening, _rest, _t, _typst
from intake.sheets.truth import draw_truth, short, with_details, write_classes, write_details


def classes_in_rows(rng: random.Random) -> Drawn:
    """Ruled inside too: each class of an ingredient has a little row of its own."""
    truth = draw_truth(rng, fewest=5, most=9, ranges=rng.choice(("half open", "signs twice")))
    cells = ""
    for row in truth.rows:
        pairs = row.fact.classes or (("-", "-"),)
        span = len(pairs)
        names = [short(key) if key != "-" else "-" for key, _ in pairs]
        fixed = "".join(
            f"table.cell(rowspan: {span})[{_t(text)}],"
            for text in (row.name, row.cas, row.ec, row.pct_text)
        )
        cells += fixed + f"[{names[0]}],[{pairs[0][1]}],\n"
        for name, (_, code) in zip(names[1:], pairs[1:], strict=True):
            cells += f"[{name}],[{code}],\n"
    source = f"""
#set page(paper: "a4", margin: 1.8cm)
#set text(size: 8pt)
= Safety data sheet
Revision date: {truth.sheet_date:%d.%m.%Y}, version {_t(truth.revision)}
== SECTION 1: {_t(ENGLISH[1])}
Product name: {_t(truth.product)} \\
Supplier: {_t(truth.supplier)}
== SECTION 2: {_t(ENGLISH[2])}
{_t(filler(rng, 4))}
== SECTION 3: {_t(ENGLISH[3])}
#table(columns: (1fr, auto, auto, auto, auto, auto), stroke: 0.3pt, align: left + horizon,
[*Component*], [*CAS*], [*EC*], [*Share*], [*Class*], [*Code*],
{cells})
== SECTION 4: {_t(ENGLISH[4])}
{_t(filler(rng, 4))}
== SECTION 9: {_t(ENGLISH[9])}
Flash point: {truth.flash_c} °C \\
Density: {truth.density} g/cm³
"""
    return _typst(source), truth


def dotted_lines(rng: random.Random) -> Drawn:
    """Blocks of labels and values joined by dots; the share as the last of them."""
    truth = with_details(
        draw_truth(rng, fewest=4, most=8, ranges=rng.choice(("plain percent", "below")))
    )
    pen = Pen(size=8.5)
    pen.line(50, "PRODUCT SAFETY DATA SHEET", bold=True, size=13)
    pen.line(50, f"Product name ........ {truth.product}")
    pen.line(50, f"Revision date ....... {truth.sheet_date:%d %b %Y}")
    pen.line(50, f"Version ............. {truth.revision}")
    pen.line(50, "SECTION 1 IDENTIFICATION", bold=True)
    pen.line(50, f"Supplier: {truth.supplier}")
    pen.line(50, "SECTION 2 HAZARDS IDENTIFICATION", bold=True)
    pen.line(50, filler(rng, 3))
    pen.line(50, "SECTION 3 COMPOSITION / INFORMATION ON INGREDIENTS", bold=True)
    for number, row in enumerate(truth.rows, start=1):
        pen.need(80)
        pen.line(50, f"Ingredient {number}: {row.name}")
        for label, words in (
            ("CAS number", row.cas),
            ("EC number", row.ec),
            ("Classification", write_classes(row, "semicolon")),
            ("Further", ", ".join(write_details(row, "words")) or "none"),
            ("Amount", row.pct_text),
        ):
            pen.line(62, f"{label + ' ':.<24} {words}")
        pen.y -= 5
    pen.line(50, "SECTION 4 FIRST AID MEASURES", bold=True)
    pen.line(50, filler(rng, 4))
    pen.line(50, "SECTION 9 PHYSICAL AND CHEMICAL PROPERTIES", bold=True)
    pen.line(50, f"Flash point ......... {truth.flash_c} °C")
    pen.line(50, f"Density ............. {truth.density} g/ml")
    pen.line(50, "SECTION 11 TOXICOLOGICAL INFORMATION", bold=True)
    pen.line(50, distractions(truth)[1])
    return pen.done(), truth


def with_remarks(rng: random.Random) -> Drawn:
    """A letter-size table with marks behind the shares, remarks, and a sum at its foot."""
    truth = draw_truth(rng, fewest=5, most=12, ranges=rng.choice(("plain", "to")))
    truth = replace(truth, rows=tuple(replace(row, ec="") for row in truth.rows))
    heads = ("#", "Hazardous Ingredient", "CAS #", "Wt. %", "GHS Classification", "Remarks")
    rows = [[cell(w, 7.5, "Sans-Bold") for w in heads]]
    for number, row in enumerate(truth.rows, start=1):
        remark = rng.choice(("", "See section 8", "Trade secret range", "Natural origin"))
        texts = (str(number), row.name, row.cas, row.pct_text, write_classes(row, "names"), remark)
        rows.append([cell(t, 7.5) for t in texts])
    rows.append(
        [cell(t, 7.5) for t in ("", "Other components below reportable levels", "", "", "", "")]
    )
    table = Table(rows, colWidths=[20, 140, 65, 55, 165, 70], repeatRows=1)
    table.setStyle(
        [
            ("LINEBELOW", (0, 0), (-1, 0), 1.0, colors.black),
            ("ROWBACKGROUNDS", (0, 1), (-1, -1), [colors.whitesmoke, colors.white]),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ]
    )
    day = truth.sheet_date
    story = [
        *_opening(truth, rng, day=f"Revision Date: {day:%B} {day.day}, {day.year}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        *paragraphs(
            ["The exact percentage of the composition has been withheld as a trade secret."]
        ),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash Point: {float(truth.flash_c) * 1.8 + 32:.1f} °F (PMCC)",
            density=f"Specific Gravity (water = 1): {truth.density}",
        ),
    ]
    return build(story, pagesize=LETTER), truth


def middle_column(rng: random.Random) -> Drawn:
    """White columns with every cell centred both ways, share between name and numbers."""
    truth = draw_truth(
        rng, fewest=6, most=12, ranges=rng.choice(("both signs", "mixed", "en dash"))
    )
    heads = ("Raw material", "Concentration\nin %", "CAS-No.\nEC-No.", "CLP\nclassification")
    rows = [[cell(w, 7.5, "Sans-Bold", alignment=1) for w in heads]]
    for row in truth.rows:
        texts = (row.name, row.pct_text, f"{row.cas}\n{row.ec}", write_classes(row, "comma"))
        rows.append([cell(t, 7.5, alignment=1) for t in texts])
    table = Table(rows, colWidths=[150, 80, 85, 190], repeatRows=1)
    table.setStyle([("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("TOPPADDING", (0, 1), (-1, -1), 4)])
    story = [
        *_opening(truth, rng, day=f"Date of issue: {truth.sheet_date:%d.%m.%Y}"),
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


SIXTH: dict[str, Callable[[random.Random], Drawn]] = {
    "classes in rows": classes_in_rows,
    "dotted lines": dotted_lines,
    "with remarks": with_remarks,
    "middle column": middle_column,
}
