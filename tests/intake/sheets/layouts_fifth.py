"""No spaces, whole statements, an unknown language, broken rows, close columns, no heads."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from reportlab.lib import colors
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph, SimpleDocTemplate, Table

from intake.sheets.drawing import ENGLISH, Pen, build, cell, distractions, filler, paragraphs
from intake.sheets.layouts import Drawn, _heading, _opening, _rest, _t, _typst
from intake.sheets.truth import draw_truth, short, with_details, write_classes, write_details

TEXTS = {
    "H225": "Highly flammable liquid and vapour.", "H226": "Flammable liquid and vapour.",
    "H302": "Harmful if swallowed.", "H304": "May be fatal if swallowed and enters airways.",
    "H312": "Harmful in contact with skin.", "H315": "Causes skin irritation.",
    "H317": "May cause an allergic skin reaction.", "H318": "Causes serious eye damage.",
    "H319": "Causes serious eye irritation.", "H336": "May cause drowsiness or dizziness.",
    "H351": "Suspected of causing cancer.", "H361d": "Suspected of damaging the unborn child.",
    "H371": "May cause damage to organs.", "H400": "Very toxic to aquatic life.",
    "H373": "May cause damage to organs through prolonged or repeated exposure.",
    "H410": "Very toxic to aquatic life with long lasting effects.",
    "H411": "Toxic to aquatic life with long lasting effects.",
    "H412": "Harmful to aquatic life with long lasting effects.",
    "H413": "May cause long lasting harmful effects to aquatic life.",
}  # fmt: skip


def no_spaces(rng: random.Random) -> Drawn:
    """Everything stuck together to save room: "Skin Sens.1B;H317/…", ">5<10%"."""
    truth = draw_truth(rng, ranges="half open")
    rows = [[cell(w, 7, "Sans-Bold") for w in ("Component (CAS; EC)", "%(w/w)", "CLP")]]
    for row in truth.rows:
        classes = "/".join(f"{short(key)};{code}" for key, code in row.fact.classes) or "n.c."
        classes = classes.replace(". ", ".")
        share = f"≥{row.low}-<{row.high}"
        rows.append(
            [cell(t, 7) for t in (f"{row.name} (CAS:{row.cas};EC:{row.ec})", share, classes)]
        )
    table = Table(rows, colWidths=[260, 60, 190])
    table.setStyle([("GRID", (0, 0), (-1, -1), 0.25, colors.grey)])
    story = [
        *_opening(truth, rng, day=f"Rev. date {truth.sheet_date:%d.%m.%y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: >{truth.flash_c}°C",
            density=f"Density: {truth.density}g/cm3",
        ),
    ]
    return build(story), truth


def statements_in_full(rng: random.Random) -> Drawn:
    """The full text of each statement in the class cell, a common name under each substance."""
    truth = draw_truth(rng, fewest=4, most=9, ranges=rng.choice(("plain percent", "both signs")))
    rows = [
        [
            cell(w, 8, "Sans-Bold")
            for w in ("Substance name", "CAS number", "Concentration range", "Hazards")
        ]
    ]
    for row in truth.rows:
        said = "\n".join(f"{short(key)}; {code}: {TEXTS[code]}" for key, code in row.fact.classes)
        rows.append(
            [
                cell(f"{row.name}\nEC number {row.ec}", 8),
                cell(row.cas, 8),
                cell(row.pct_text, 8),
                cell(said or "None known", 8),
            ]
        )
    table = Table(rows, colWidths=[140, 75, 80, 210], repeatRows=1)
    table.setStyle([("LINEBELOW", (0, 0), (-1, -1), 0.5, colors.lightgrey)])
    story = [
        *_opening(truth, rng, day=f"Prepared on {truth.sheet_date:%B %d, %Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} degrees C, closed cup",
            density=f"Specific gravity: {truth.density} at 25 °C",
        ),
    ]
    return build(story), truth


def spanish(rng: random.Random) -> Drawn:
    """A language that the reader was never told of."""
    truth = draw_truth(rng, ranges=rng.choice(("half open comma", "mixed comma")))
    cells = "".join(
        f"[{_t(row.cas)}],[{_t(row.ec)}],[{_t(row.name)}],[{_t(row.pct_text)}],"
        f"[{_t(write_classes(row, 'comma'))}],\n"
        for row in truth.rows
    )
    source = f"""
#set page(paper: "a4", margin: 2cm)
#set text(size: 9pt)
= FICHA DE DATOS DE SEGURIDAD
Fecha de revisión: {truth.sheet_date:%d/%m/%Y} #h(1fr) Versión: {_t(truth.revision)}
== SECCIÓN 1: Identificación de la mezcla y de la sociedad
Nombre del producto: {_t(truth.product)} \\
Proveedor: {_t(truth.supplier)}
== SECCIÓN 2: Identificación de los peligros
H317 Puede provocar una reacción alérgica en la piel.
== SECCIÓN 3: Composición/información sobre los componentes
#table(columns: (auto, auto, 1fr, auto, 1.3fr), stroke: 0.3pt,
[*N.º CAS*], [*N.º CE*], [*Nombre químico*], [*Conc. %*], [*Clasificación (CLP)*],
{cells})
== SECCIÓN 4: Primeros auxilios
{_t(filler(rng, 3))}
== SECCIÓN 9: Propiedades físicas y químicas
Punto de inflamación: {truth.flash_c} °C \\
Densidad: {truth.density.replace(".", ",")} g/cm³
== SECCIÓN 11: Información toxicológica
{_t(distractions(truth)[1])}
"""
    return _typst(source), truth


def split_rows(rng: random.Random) -> Drawn:
    """Rows that break in their middle at the foot of a page; a word across each page."""
    import io

    truth = with_details(
        draw_truth(rng, fewest=18, most=24, ranges=rng.choice(("signs twice", "half open")))
    )
    rows = [[cell(w, 8, "Sans-Bold") for w in ("Chemical name", "CAS-No.", "EC-No.", "%", "Class")]]
    for row in truth.rows:
        said = "\n".join([write_classes(row, "lines"), *write_details(row, "words")])
        rows.append([cell(t, 8) for t in (row.name, row.cas, row.ec, row.pct_text, said)])
    table = Table(rows, colWidths=[140, 65, 65, 75, 160], repeatRows=1, splitInRow=1)
    table.setStyle(
        [("GRID", (0, 0), (-1, -1), 0.4, colors.grey), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    )
    story = [
        *_opening(truth, rng, day=f"Revision date: {truth.sheet_date:%Y-%m-%d}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    buffer = io.BytesIO()

    def across(canvas: Canvas, document: object) -> None:
        canvas.saveState()
        canvas.setFillGray(0.85)
        canvas.setFont("Sans-Bold", 60)
        canvas.translate(300, 420)
        canvas.rotate(45)
        canvas.drawCentredString(0, 0, "UNCONTROLLED COPY")
        canvas.restoreState()
        canvas.setFont("Sans", 7)
        canvas.drawString(45, 815, f"{truth.product}  version {truth.revision}")

    document = SimpleDocTemplate(
        buffer, leftMargin=40, rightMargin=40, topMargin=44, invariant=True
    )
    document.build(story, onFirstPage=across, onLaterPages=across)
    return buffer.getvalue(), truth


def close_columns(rng: random.Random) -> Drawn:
    """Two languages in the heads, numbers flush right, hardly any white between the columns."""
    truth = draw_truth(rng, fewest=6, most=12, ranges=rng.choice(("en dash", "below", "ascii")))
    pen = Pen(size=7)
    pen.line(40, f"SAFETY DATA SHEET / SICHERHEITSDATENBLATT   {truth.product}", bold=True)
    pen.line(40, f"Version {truth.revision} / Revision date / Überarbeitet am: ")
    pen.text(220, f"{truth.sheet_date:%d.%m.%Y}", dy=-9.1)
    pen.line(40, "1. Identification / Bezeichnung", bold=True)
    pen.line(40, f"Trade name / Handelsname: {truth.product}")
    pen.line(40, f"Supplier / Lieferant: {truth.supplier}")
    pen.line(40, "2. Hazards identification / Mögliche Gefahren", bold=True)
    pen.line(40, filler(rng, 5))
    pen.line(40, "3. Composition / Zusammensetzung", bold=True)
    pen.y -= 3
    for x, one, other in (
        (40, "Substance", "Stoff"),
        (182, "CAS", "CAS"),
        (222, "EC", "EG"),
        (262, "Content %", "Gehalt %"),
        (312, "Classification", "Einstufung"),
    ):
        pen.text(x, one, bold=True)
        pen.text(x, other, dy=8)
    pen.y -= 18
    for row in truth.rows:
        cells = [(40, 132, row.name), (312, 235, write_classes(row, "comma"))]
        pen.need(pen.height_of(cells))
        for right, words in ((216, row.cas), (258, row.ec), (307, row.pct_text)):
            pen.canvas.setFont("Sans", 7)
            pen.canvas.drawRightString(right, pen.y, words)
        pen.y -= pen.cells(cells) + 1.5
    for number in (4, 5):
        pen.line(40, f"{number}. {ENGLISH[number]}", bold=True)
        pen.line(40, filler(rng, 4))
    pen.line(40, "9. Physical and chemical properties", bold=True)
    pen.line(40, f"Flash point / Flammpunkt: {truth.flash_c} °C")
    pen.line(40, f"Density / Dichte: {truth.density} g/cm³")
    pen.line(40, "11. Toxicological information", bold=True)
    pen.line(40, distractions(truth)[1])
    return pen.done(), truth


def bare_list(rng: random.Random) -> Drawn:
    """No heads and no labels at all: bare columns below a sentence, shares at the far right."""
    truth = draw_truth(rng, fewest=4, most=9, ranges=rng.choice(("half open", "plain percent")))
    truth = replace(truth, rows=tuple(replace(row, ec="") for row in truth.rows))
    rows = [
        [cell(t, 8) for t in (row.cas, row.name, write_classes(row, "brackets"), row.pct_text)]
        for row in truth.rows
    ]
    table = Table(rows, colWidths=[70, 160, 200, 75])
    table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP")])
    story: list[Paragraph | Table] = [
        *_opening(truth, rng, day=f"Revision date: {truth.sheet_date:%d %B %Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        *paragraphs(["Contains the following ingredients that count towards its classification:"]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    return build(story), truth


FIFTH: dict[str, Callable[[random.Random], Drawn]] = {
    "no spaces": no_spaces,
    "statements in full": statements_in_full,
    "Spanish": spanish,
    "split rows": split_rows,
    "close columns": close_columns,
    "bare list": bare_list,
}
