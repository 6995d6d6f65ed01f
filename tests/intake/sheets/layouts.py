"""Unlike layouts of safety data sheets, each drawn by a function of its own from a seed."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date

from reportlab.lib import colors
from reportlab.lib.pagesizes import LETTER
from reportlab.platypus import KeepTogether, Spacer, Table
from reportlab.platypus.flowables import Flowable

from intake.sheets.drawing import (
    ENGLISH,
    Pen,
    build,
    cell,
    distractions,
    filler,
    paragraphs,
)
from intake.sheets.truth import (
    Truth,
    by_statement,
    draw_truth,
    short,
    with_details,
    write_classes,
    write_details,
)

Drawn = tuple[bytes, Truth]


def _heading(text: str, size: float = 10.5):
    return cell(text, size, "Sans-Bold", spaceBefore=6, spaceAfter=3)


def _opening(truth: Truth, rng: random.Random, *, day: str, before: str = "SECTION {}: ") -> list:
    first = truth.rows[0]
    return [
        cell("SAFETY DATA SHEET", 15, "Sans-Bold", spaceAfter=8),
        cell(f"{day}   Version: {truth.revision}", 8, spaceAfter=6),
        _heading(before.format(1) + ENGLISH[1]),
        *paragraphs(
            [
                "1.1 Product identifier",
                f"Product name: {truth.product}",
                "1.3 Details of the supplier of the safety data sheet",
                f"Supplier: {truth.supplier}",
                "12 Paper Mill Lane, Tel. +44 20 7946 0018",
            ]
        ),
        _heading(before.format(2) + ENGLISH[2]),
        *paragraphs(
            [
                "Skin Irrit. 2 H315; Skin Sens. 1 H317; Aquatic Chronic 2 H411",
                f"Contains: {first.name}. May produce an allergic reaction.",
            ]
        ),
    ]


def _rest(truth: Truth, rng: random.Random, *, before: str = "SECTION {}: ", flash: str, density):
    lines = {
        4: [filler(rng, 4)],
        5: [filler(rng, 3)],
        7: [filler(rng, 4)],
        8: [distractions(truth)[0], filler(rng, 2)],
        9: ["Appearance: clear liquid", flash, "Boiling point: > 200 °C", density],
        11: [distractions(truth)[1], filler(rng)],
        12: [distractions(truth)[2], filler(rng)],
        16: [filler(rng, 3)],
    }
    story: list = []
    for number, words in lines.items():
        story += [_heading(before.format(number) + ENGLISH[number]), *paragraphs(words)]
    return story


def ruled_grid(rng: random.Random) -> Drawn:
    """A ruled table, heads in bold, classes one a line: the plainest that there is."""
    truth = draw_truth(rng, ranges=rng.choice(("half open", "plain percent", "mixed")))
    head = ["Substance", "CAS No.", "EC No.", "Content", "Classification (CLP)"]
    rows = [[cell(word, 7.5, "Sans-Bold") for word in head]]
    for row in truth.rows:
        texts = [row.name, row.cas, row.ec, row.pct_text, write_classes(row, "lines")]
        rows.append([cell(text) for text in texts])
    table = Table(rows, colWidths=[140, 62, 62, 70, 160], repeatRows=1)
    table.setStyle(
        [("GRID", (0, 0), (-1, -1), 0.5, colors.grey), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    )
    day = f"Revision date: {truth.sheet_date:%d.%m.%Y}"
    story = [
        *_opening(truth, rng, day=day),
        _heading("SECTION 3: " + ENGLISH[3]),
        *paragraphs(["3.2 Mixtures"]),
        table,
        *paragraphs(["For the full text of H-statements see section 16."]),
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C (closed cup)",
            density=f"Relative density: {truth.density}",
        ),
    ]
    return build(story, head=truth.product), truth


def unruled_columns(rng: random.Random) -> Drawn:
    """Columns by white space alone, classes in one run of text, concentration in the middle."""
    truth = draw_truth(rng, ranges=rng.choice(("both signs", "mixed", "en dash")))
    pen = Pen(size=8.5)
    pen.line(40, "Safety Data Sheet", bold=True, size=14)
    pen.line(40, "according to Regulation (EC) No. 1907/2006", size=7)
    pen.line(40, f"Issue date {truth.sheet_date:%d %B %Y}    Revision {truth.revision}", size=8)
    pen.y -= 10
    pen.line(40, "1. IDENTIFICATION OF THE MIXTURE AND OF THE COMPANY", bold=True)
    for label, words in (("Trade name", truth.product), ("Company", truth.supplier)):
        pen.text(50, label)
        pen.text(180, words)
        pen.y -= 12
    pen.line(40, "2. HAZARDS IDENTIFICATION", bold=True)
    pen.line(50, "Warning. H317 May cause an allergic skin reaction. H411 Toxic to aquatic life.")
    pen.y -= 6
    pen.line(40, "3. COMPOSITION / INFORMATION ON INGREDIENTS", bold=True)
    pen.line(50, "Hazardous ingredients:")
    pen.y -= 4
    places = (45, 200, 268, 330, 392)
    widths = (150, 64, 60, 58, 165)
    heads = ("Chemical name", "CAS", "EC", "Conc. % w/w", "Classification")
    for x, word in zip(places, heads, strict=True):
        pen.text(x, word, bold=True, size=8)
    pen.y -= 14
    way = rng.choice(("comma", "brackets", "semicolon"))
    for row in truth.rows:
        texts = (row.name, row.cas, row.ec, row.pct_text, write_classes(row, way))
        cells = list(zip(places, widths, texts, strict=True))
        pen.need(pen.height_of(cells, size=8))
        pen.y -= pen.cells(cells, size=8) + 4
    pen.y -= 6
    pen.line(50, "The wording of the statements is given in section 16.")
    for number in (4, 5, 7, 8):
        pen.line(40, f"{number}. {ENGLISH[number].upper()}", bold=True)
        pen.line(50, distractions(truth)[0] if number == 8 else filler(rng))
    pen.line(40, "9. PHYSICAL AND CHEMICAL PROPERTIES", bold=True)
    for label, words in (
        ("Form", "liquid"),
        ("Flash point", f"{truth.flash_c} °C"),
        ("Density (20 °C)", f"{truth.density} g/cm³"),
    ):
        pen.text(50, label)
        pen.text(200, words)
        pen.y -= 12
    for number, index in ((11, 1), (12, 2)):
        pen.line(40, f"{number}. {ENGLISH[number].upper()}", bold=True)
        pen.line(50, distractions(truth)[index])
    return pen.done(), truth


class _Turned(Flowable):
    """Words that run upwards, as heads of narrow columns do."""

    def __init__(self, words: str, size: float = 7):
        super().__init__()
        self.words, self.size = words, size
        self.width, self.height = size * 1.3, 66

    def draw(self) -> None:
        self.canv.saveState()
        self.canv.rotate(90)
        self.canv.setFont("Sans-Bold", self.size)
        self.canv.drawString(2, -self.size - 1, self.words)
        self.canv.restoreState()


def turned_heads(rng: random.Random) -> Drawn:
    """Head words turned upright over columns so narrow that CAS and EC numbers wrap."""
    truth = draw_truth(rng, ranges=rng.choice(("plain", "both signs", "up to")))
    heads = ["Ingredient", "CAS number", "EC number", "Weight-%", "Hazard classification"]
    rows: list[list] = [[_Turned(word) for word in heads]]
    for row in truth.rows:
        cas = row.cas.rsplit("-", 1)
        ec = row.ec.split("-")
        texts = [
            row.name,
            f"{cas[0]}-\n{cas[1]}",
            f"{ec[0]}-\n{ec[1]}-{ec[2]}",
            row.pct_text,
            write_classes(row, "brackets"),
        ]
        rows.append([cell(text, 7) for text in texts])
    table = Table(rows, colWidths=[150, 42, 40, 60, 200], repeatRows=1)
    table.setStyle(
        [
            ("BOX", (0, 0), (-1, -1), 1, colors.black),
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.black),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ]
    )
    day = f"Date of revision: {truth.sheet_date.isoformat()}"
    story = [
        *_opening(truth, rng, day=day, before="{}  "),
        _heading("3  " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            before="{}  ",
            flash=f"Flash point (closed cup)   > {truth.flash_c} °C",
            density=f"Density   {float(truth.density) * 1000:.0f} kg/m³",
        ),
    ]
    return build(story), truth


def stacked_numbers(rng: random.Random) -> Drawn:
    """All numbers of a substance in one cell, cells centred, limits and factors in the last."""
    truth = with_details(draw_truth(rng, ranges=rng.choice(("half open comma", "signs twice"))))
    head = [
        "Name",
        "Product identifier",
        "%",
        "Classification according to\nRegulation (EC) No. 1272/2008 [CLP]",
        "Specific conc. limits,\nM-factors and ATE",
    ]
    rows = [[cell(word, 7, "Sans-Bold") for word in head]]
    for row in truth.rows:
        numbers = (
            f"(CAS-No.) {row.cas}\n(EC-No.) {row.ec}\n(REACH-no) "
            f"01-21194{rng.randint(10000, 99999)}-{rng.randint(10, 99)}-0000"
        )
        limits = "\n".join(write_details(row, "equals"))
        texts = [row.name, numbers, row.pct_text, write_classes(row, "comma"), limits]
        rows.append([cell(text, 7) for text in texts])
    table = Table(rows, colWidths=[100, 130, 68, 125, 90], repeatRows=1)
    table.setStyle(
        [
            ("LINEABOVE", (0, 0), (-1, -1), 0.5, colors.grey),
            ("LINEBELOW", (0, -1), (-1, -1), 0.5, colors.grey),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("BACKGROUND", (0, 0), (-1, 0), colors.lightgrey),
        ]
    )
    day = f"Issue date: 3/1/2019   Revision date: {truth.sheet_date:%d/%m/%Y}"
    story = [
        *_opening(truth, rng, day=day),
        _heading("SECTION 3: " + ENGLISH[3]),
        *paragraphs(["3.1. Substances", "Not applicable", "3.2. Mixtures"]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point : {truth.flash_c} °C",
            density=f"Relative density : {truth.density} (20 °C)",
        ),
    ]
    return build(story), truth


def blocks_by_name(rng: random.Random) -> Drawn:
    """No table: each ingredient a block, its name left and its share right, classes below."""
    truth = with_details(
        draw_truth(rng, ranges=rng.choice(("plain percent", "half open"))),
        specific=False,
        ate=False,
    )
    pen = Pen(size=9)
    pen.line(40, "SAFETY DATA SHEET", bold=True, size=16)
    pen.line(40, truth.product, bold=True, size=12)
    pen.line(40, f"Revision date: {truth.sheet_date:%d/%m/%Y}     Revision: {truth.revision}")
    pen.y -= 8
    bold = {"bold": True, "size": 10}
    pen.line(40, "SECTION 1: " + ENGLISH[1], **bold)
    pen.text(50, "Product name")
    pen.text(190, truth.product)
    pen.y -= 14
    pen.text(50, "Supplier")
    pen.text(190, truth.supplier)
    pen.y -= 20
    pen.line(40, "SECTION 2: " + ENGLISH[2], **bold)
    pen.line(50, "Skin Sens. 1 - H317 Aquatic Chronic 2 - H411")
    pen.line(40, "SECTION 3: " + ENGLISH[3], **bold)
    pen.line(50, "3.2. Mixtures")
    pen.y -= 6
    for row in truth.rows:
        pen.need(95)
        pen.canvas.line(45, pen.y + 10, 550, pen.y + 10)
        pen.text(50, row.name, bold=True)
        pen.canvas.drawRightString(545, pen.y, row.pct_text)
        pen.y -= 13
        pen.text(50, f"CAS number: {row.cas}", size=8)
        pen.text(220, f"EC number: {row.ec}", size=8)
        pen.y -= 13
        factors = []
        if row.m_acute:
            factors.append(f"M factor (Acute) = {row.m_acute}")
        if row.m_chronic:
            factors.append(f"M factor (Chronic) = {row.m_chronic}")
        if factors:
            for x, words in zip((50, 220), factors, strict=False):
                pen.text(x, words, size=8)
            pen.y -= 13
        pen.line(50, "Classification", bold=True, size=8)
        for words in write_classes(row, "lines").split("\n"):
            pen.line(50, words, size=8)
        pen.y -= 10
    pen.line(50, "The full text for all hazard statements is displayed in Section 16.")
    for number in (4, 5, 6, 7, 8):
        pen.line(40, f"SECTION {number}: {ENGLISH[number]}", **bold)
        pen.line(50, distractions(truth)[0] if number == 8 else filler(rng, 4))
    pen.line(40, "SECTION 9: " + ENGLISH[9], **bold)
    fahrenheit = f"{float(truth.flash_c) * 9 / 5 + 32:.0f}"
    for label, words in (
        ("Appearance", "Liquid."),
        ("Flash point", f"{truth.flash_c}°C ({fahrenheit}°F) Closed cup."),
        ("Relative density", f"{truth.density} @ 20°C"),
    ):
        pen.text(50, label)
        pen.text(220, words)
        pen.y -= 14
    pen.line(40, "SECTION 11: " + ENGLISH[11], **bold)
    pen.line(50, distractions(truth)[1])
    return pen.done(), truth


def labelled_blocks(rng: random.Random) -> Drawn:
    """Each ingredient a paragraph of labels: "CAS: ... EC: ... Conc.: ...", wrapped as it falls."""
    truth = with_details(draw_truth(rng, fewest=4, most=9, ranges=rng.choice(("up to", "to"))))
    story = _opening(
        truth, rng, day=f"Compiled: {truth.sheet_date:%B %d, %Y}", before="Section {} "
    )
    story += [_heading("Section 3 " + ENGLISH[3]), *paragraphs(["Mixture of:"])]
    for row in truth.rows:
        details = "; ".join(write_details(row, "words"))
        text = (
            f"{row.name}\nCAS: {row.cas}   EC: {row.ec}   Conc.: {row.pct_text}\n"
            f"Hazards: {write_classes(row, 'semicolon')}" + (f"\n{details}" if details else "")
        )
        story += [KeepTogether([cell(text, 8.5), Spacer(1, 7)])]
    story += _rest(
        truth,
        rng,
        before="Section {} ",
        flash=f"Flash point: {truth.flash_c}°C",
        density=f"Density: {truth.density} g/ml",
    )
    return build(story, margin=60), truth


def two_columns(rng: random.Random) -> Drawn:
    """The whole sheet in two columns a page; the little table sits in one of them."""
    truth = draw_truth(rng, fewest=5, most=8, ranges=rng.choice(("plain", "both signs")))
    truth = by_statement(truth)
    pen = Pen(size=7.5, top=70)
    left, gap, width = 36, 20, 250
    pen.text(left, f"{truth.product} - Material safety data", bold=True, size=11, dy=-30)
    pen.text(left, f"Version {truth.revision} of {truth.sheet_date:%d.%m.%Y}", size=7, dy=-16)
    column = 0

    def x() -> float:
        return left + column * (width + gap)

    def need(height: float) -> None:
        nonlocal column
        if pen.y - height > 45:
            return
        if column == 0:
            column, pen.y = 1, pen.height - pen.top
        else:
            column = 0
            pen.page()

    def write(words: str, *, bold: bool = False) -> None:
        cells = [(x(), width, words)]
        height = pen.height_of(cells)
        need(height)
        if bold:
            pen.text(x(), words, bold=True)
        else:
            pen.cells([(x(), width, words)])
        pen.y -= height + 2

    def section(number: int, title: str, *lines: str) -> None:
        need(40)
        pen.y -= 4
        write(f"{number}. {title}", bold=True)
        for words in lines:
            write(words)

    section(
        1, "Identification", f"Product name: {truth.product}", f"Manufacturer: {truth.supplier}"
    )
    section(2, "Hazards identification", filler(rng, 5), "H317, H411", filler(rng, 6))
    section(3, "Composition/information on ingredients", "Dangerous components:")
    offsets, widths = (0, 88, 132, 172, 205), (86, 43, 40, 34, 46)
    need(30)
    for off, word in zip(offsets, ("Name", "CAS", "EC", "%", "Hazard"), strict=True):
        pen.text(x() + off, word, bold=True, size=6.5)
    pen.y -= 10
    for row in truth.rows:
        texts = (row.name, row.cas, row.ec, row.pct_text, write_classes(row, "codes"))

        def cells_at(texts=texts):
            return [(x() + o, w, t) for o, w, t in zip(offsets, widths, texts, strict=True)]

        need(pen.height_of(cells_at(), size=6.5))
        pen.y -= pen.cells(cells_at(), size=6.5) + 3
    for number in (4, 5, 6, 7):
        section(number, ENGLISH[number], filler(rng, 8))
    section(8, ENGLISH[8], distractions(truth)[0], filler(rng, 4))
    section(
        9,
        ENGLISH[9],
        "Physical state: liquid",
        f"Flash point: > {truth.flash_c} °C (ISO 2719)",
        f"Specific gravity: {truth.density}",
    )
    section(10, ENGLISH[10], filler(rng, 6))
    section(11, ENGLISH[11], distractions(truth)[1], filler(rng, 6))
    section(12, ENGLISH[12], distractions(truth)[2], filler(rng, 6))
    return pen.done(), truth


def long_with_heads(rng: random.Random) -> Drawn:
    """A table over several pages, its head on each, every second row shaded, codes apart."""
    truth = draw_truth(rng, fewest=22, most=30, ranges=rng.choice(("ascii", "x between")))
    head = ["CAS-No.\nEC-No.", "Ingredient", "Hazard class", "H-code", "Range\n[% w/w]"]
    rows = [[cell(word, 8, "Sans-Bold") for word in head]]
    for row in truth.rows:
        names = "\n".join(short(key) for key, _ in row.fact.classes) or "-"
        codes = "\n".join(code for _, code in row.fact.classes) or "-"
        texts = [f"{row.cas}\n{row.ec}", row.name, names, codes, row.pct_text]
        rows.append([cell(text, 8) for text in texts])
    table = Table(rows, colWidths=[70, 175, 110, 50, 90], repeatRows=1)
    table.setStyle(
        [
            ("ROWBACKGROUNDS", (0, 1), (-1, -1), [colors.white, colors.whitesmoke]),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEBELOW", (0, 0), (-1, 0), 1, colors.black),
        ]
    )
    day = f"Date of last revision {truth.sheet_date:%d-%b-%Y}"
    story = [
        *_opening(truth, rng, day=day),
        _heading("SECTION 3: " + ENGLISH[3]),
        table,
        *paragraphs(["Substances with a workplace exposure limit: none."]),
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm3",
        ),
    ]
    return build(story, head=f"{truth.product}   SDS"), truth


def long_without_heads(rng: random.Random) -> Drawn:
    """A table that goes on over the page without its head; rows parted by hairlines or nothing."""
    truth = draw_truth(rng, fewest=16, most=24, ranges=rng.choice(("mixed", "mixed comma")))
    truth = with_details(truth, specific=False, ate=False)
    hairlines = rng.random() < 0.5
    pen = Pen(size=8)
    pen.line(40, "SAFETY DATA SHEET", bold=True, size=13)
    pen.line(40, f"Product identifier: {truth.product}")
    pen.line(40, f"Version {truth.revision}   Date of issue: {truth.sheet_date:%Y-%m-%d}")
    pen.line(40, "SECTION 1. Identification", bold=True)
    pen.line(40, f"Supplier: {truth.supplier}")
    pen.line(40, "SECTION 2. Hazards identification", bold=True)
    for _ in range(12):
        pen.line(40, filler(rng, 2))
    pen.line(40, "SECTION 3. Composition/information on ingredients", bold=True)
    pen.y -= 4
    places, widths = (42, 112, 175, 325, 395), (64, 58, 145, 66, 155)
    for x, word in zip(
        places, ("CAS-No.", "EC-No.", "Component", "Concentration", "Classification"), strict=True
    ):
        pen.text(x, word, bold=True)
    pen.y -= 13
    for row in truth.rows:
        details = "; ".join(write_details(row, "equals"))
        classes = write_classes(row, "semicolon") + (f"; {details}" if details else "")
        texts = (row.cas, row.ec, row.name, row.pct_text, classes)
        cells = list(zip(places, widths, texts, strict=True))
        pen.need(pen.height_of(cells))
        if hairlines:
            pen.canvas.setLineWidth(0.2)
            pen.canvas.line(40, pen.y + 9, 555, pen.y + 9)
        pen.y -= pen.cells(cells) + 5
    pen.y -= 8
    for number in (4, 5, 7):
        pen.line(40, f"SECTION {number}. {ENGLISH[number]}", bold=True)
        pen.line(40, filler(rng, 4))
    pen.line(40, "SECTION 9. Physical and chemical properties", bold=True)
    pen.line(40, "Initial boiling point: 210 °C")
    pen.line(40, f"Flash point: approx. {truth.flash_c} °C")
    pen.line(40, f"Density: {truth.density} g/cm³ (20 °C)")
    return pen.done(), truth


def american(rng: random.Random) -> Drawn:
    """A letter-size sheet from the United States: Fahrenheit, month first, no EC numbers."""
    truth = draw_truth(rng, fewest=4, most=9, ranges=rng.choice(("plain", "to")))
    truth = Truth(
        product=truth.product,
        supplier=truth.supplier,
        sheet_date=date(truth.sheet_date.year, truth.sheet_date.month, rng.randint(13, 28)),
        revision="",
        flash_c=str(rng.choice((65, 70, 75, 80, 85, 90, 95))),
        density=truth.density,
        rows=tuple(replace(row, ec="") for row in truth.rows),
        unknown_pct=str(rng.randint(2, 30)),
    )
    grid = [
        [cell(w, 8, "Sans-Bold") for w in ("Chemical Name", "CAS Number", "% by weight", "GHS")]
    ]
    for row in truth.rows:
        grid.append(
            [cell(t, 8) for t in (row.name, row.cas, row.pct_text, write_classes(row, "names"))]
        )
    table = Table(grid, colWidths=[170, 75, 75, 190])
    table.setStyle(
        [
            ("LINEABOVE", (0, 0), (-1, 0), 1, colors.black),
            ("LINEBELOW", (0, 0), (-1, 0), 1, colors.black),
            ("LINEBELOW", (0, -1), (-1, -1), 1, colors.black),
            ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
            ("TOPPADDING", (0, 1), (-1, -1), 5),
        ]
    )
    day = truth.sheet_date
    story = [
        cell("Safety Data Sheet", 15, "Sans-Bold", spaceAfter=12),
        _heading("1. Identification"),
        *paragraphs(
            [
                f"Product Name: {truth.product}",
                f"Company Name: {truth.supplier}",
                f"Revision Date: {day.month}/{day.day}/{day.year}",
                "Print Date: 1/2/2026",
            ]
        ),
        _heading("2. Hazard(s) Identification"),
        *paragraphs(
            [
                "Skin Sensitizer, Category 1. Warning.",
                f"{truth.unknown_pct}% of the mixture consists of ingredient(s) of unknown acute "
                "oral toxicity",
            ]
        ),
        _heading("3. Composition/Information on Ingredients"),
        table,
        *paragraphs(["Exact percentages are withheld as a trade secret."]),
        _heading("4. First-Aid Measures"),
        *paragraphs([filler(rng, 5)]),
        _heading("8. Exposure Controls/Personal Protection"),
        *paragraphs([distractions(truth)[0]]),
        _heading("9. Physical and Chemical Properties"),
        *paragraphs(
            [
                "Odor: characteristic",
                f"Flash Point: {float(truth.flash_c) * 9 / 5 + 32:.0f} °F",
                f"Specific Gravity: {truth.density}",
            ]
        ),
        _heading("11. Toxicological Information"),
        *paragraphs([distractions(truth)[1]]),
    ]
    return build(story, pagesize=LETTER, margin=54), truth


def letter_codes(rng: random.Random) -> Drawn:
    """A perfumer's terse table: classes as letters of a trade code, then the statements."""
    truth = draw_truth(rng, ranges=rng.choice(("plain percent", "half open")))
    pen = Pen(size=8, font="Sans")
    pen.line(40, "SAFETY DATA SHEET (in accordance with Regulation (EU) 2020/878)", bold=True)
    pen.line(40, f"Product: {truth.product}")
    pen.line(40, f"Date: {truth.sheet_date:%d %b %Y}   Version: {truth.revision}")
    pen.line(40, "1. Identification of the substance/mixture and of the company", bold=True)
    pen.line(40, f"1.3 Supplier: {truth.supplier}")
    pen.line(40, "2. Hazards identification", bold=True)
    pen.line(40, "SS 1A-EH C2;H317-H411,-")
    pen.line(40, "3. Composition / Information on Ingredients", bold=True)
    pen.line(40, "3.2 Mixtures - Contains:")
    places, widths = (40, 190, 250, 310, 370), (145, 58, 58, 58, 190)
    pen.y -= 4
    heads = ("Name", "CAS", "EC", "%", "Classification for (CLP) 1272/2008")
    for x, word in zip(places, heads, strict=True):
        pen.text(x, word, bold=True, size=7.5)
    pen.y -= 12
    for row in truth.rows:
        texts = (row.name, row.cas, row.ec, row.pct_text, write_classes(row, "letters"))
        cells = list(zip(places, widths, texts, strict=True))
        pen.need(pen.height_of(cells))
        pen.y -= pen.cells(cells) + 3
    for number in (4, 5, 7, 8):
        pen.line(40, f"{number}. {ENGLISH[number]}", bold=True)
        pen.line(40, distractions(truth)[0] if number == 8 else filler(rng, 4))
    pen.line(40, "9. Physical and chemical properties", bold=True)
    pen.line(40, f"Flash point (°C): {truth.flash_c}")
    pen.line(40, f"Relative density: {truth.density}")
    pen.line(40, "11. Toxicological information", bold=True)
    pen.line(40, distractions(truth)[1])
    return pen.done(), truth


def german(rng: random.Random) -> Drawn:
    """A German sheet: other words, decimal commas, dots in dates."""
    truth = draw_truth(rng, ranges=rng.choice(("half open comma", "mixed comma")))
    head = ["Stoffname", "CAS-Nr.\nEG-Nr.", "Gew.-%", "Einstufung gemäß (EG) 1272/2008"]
    rows = [[cell(word, 7.5, "Sans-Bold") for word in head]]
    for row in truth.rows:
        texts = [row.name, f"{row.cas}\n{row.ec}", row.pct_text, write_classes(row, "comma")]
        rows.append([cell(text) for text in texts])
    table = Table(rows, colWidths=[160, 80, 90, 170], repeatRows=1)
    table.setStyle([("INNERGRID", (0, 0), (-1, -1), 0.3, colors.grey)])
    day = truth.sheet_date
    density = truth.density.replace(".", ",")
    story = [
        cell("SICHERHEITSDATENBLATT", 14, "Sans-Bold", spaceAfter=8),
        *paragraphs([f"Überarbeitet am: {day:%d.%m.%Y}   Version: {truth.revision}"]),
        _heading("ABSCHNITT 1: Bezeichnung des Stoffs beziehungsweise des Gemischs"),
        *paragraphs(["1.1 Produktidentifikator", f"Handelsname: {truth.product}"]),
        *paragraphs([f"Lieferant: {truth.supplier}"]),
        _heading("ABSCHNITT 2: Mögliche Gefahren"),
        *paragraphs(["H317 Kann allergische Hautreaktionen verursachen."]),
        _heading("ABSCHNITT 3: Zusammensetzung/Angaben zu Bestandteilen"),
        *paragraphs(["3.2 Gemische"]),
        table,
        _heading("ABSCHNITT 4: Erste-Hilfe-Maßnahmen"),
        *paragraphs([filler(rng, 3)]),
        _heading("ABSCHNITT 8: Begrenzung und Überwachung der Exposition"),
        *paragraphs([distractions(truth)[0]]),
        _heading("ABSCHNITT 9: Physikalische und chemische Eigenschaften"),
        *paragraphs([f"Flammpunkt: {truth.flash_c} °C", f"Dichte: {density} g/cm³"]),
        _heading("ABSCHNITT 11: Toxikologische Angaben"),
        *paragraphs([distractions(truth)[1]]),
    ]
    return build(story, head=truth.product), truth


def _typst(source: str) -> bytes:
    import typst

    return typst.compile(source.encode())


def _t(text: str) -> str:
    """Return text that typst takes as it stands."""
    return "".join("\\" + c if c in '#$*_`<>@\\[]"~=+/-' else c for c in text)


def percent_first(rng: random.Random) -> Drawn:
    """Set by another program: share first, name last, statements alone, en dashes."""
    truth = by_statement(draw_truth(rng, ranges=rng.choice(("en dash", "both signs"))))
    cells = "".join(
        f"[{_t(row.pct_text)}],[{_t(row.cas)}],[{_t(write_classes(row, 'codes'))}],"
        f"[{_t(row.ec)}],[{_t(row.name)}],\n"
        for row in truth.rows
    )
    more = "".join(
        f"= Section {n} {_t(ENGLISH[n])}\n"
        f"{_t(distractions(truth)[0] if n == 8 else filler(rng, 5))}\n\n"
        for n in (4, 5, 6, 7, 8)
    )
    source = f"""
#set page(paper: "a4", margin: 2cm, footer: [{_t(truth.product)} #h(1fr)
#context counter(page).display()])
#set text(size: 9pt)
= {_t(truth.product)}
Safety data sheet, version {_t(truth.revision)}, date of issue {truth.sheet_date:%d.%m.%Y}
= Section 1 Identification
Product name: {_t(truth.product)} \\
Supplier: {_t(truth.supplier)}
= Section 2 Hazards identification
H315 H317 H411. {_t(filler(rng, 2))}
= Section 3 {_t(ENGLISH[3])}
#table(columns: (auto, auto, 1fr, auto, 1.4fr), stroke: none, inset: (x: 4pt, y: 3pt),
table.hline(),
table.header([*Share*], [*CAS*], [*H statements*], [*EC*], [*Substance*]), table.hline(),
{cells} table.hline())
{more}
= Section 9 {_t(ENGLISH[9])}
#table(columns: 2, [Form], [liquid], [Flash point], [{truth.flash_c} °C],
[Density], [{truth.density} g/mL])
= Section 11 {_t(ENGLISH[11])}
{_t(distractions(truth)[1])}
"""
    return _typst(source), truth


def french(rng: random.Random) -> Drawn:
    """A French sheet set by another program, cells centred, M-factors in the class cell."""
    truth = draw_truth(rng, ranges=rng.choice(("half open comma", "x between")))
    truth = with_details(truth, specific=False, ate=False)
    cells = "".join(
        f"[{_t(row.name)}],[{_t(row.cas)} \\ {_t(row.ec)}],"
        f"[{' '.join([_t(write_classes(row, 'comma')), *map(_t, write_details(row, 'equals'))])}],"
        f"[{_t(row.pct_text)}],\n"
        for row in truth.rows
    )
    source = f"""
#set page(paper: "a4", margin: 2cm)
#set text(size: 9pt)
#align(center)[= FICHE DE DONNÉES DE SÉCURITÉ]
Date de révision : {truth.sheet_date:%d/%m/%Y} #h(1fr) Version : {_t(truth.revision)}
== RUBRIQUE 1 : Identification de la substance ou du mélange
Nom du produit : {_t(truth.product)} \\
Fournisseur : {_t(truth.supplier)}
== RUBRIQUE 2 : Identification des dangers
H317 Peut provoquer une allergie cutanée.
== RUBRIQUE 3 : Composition/informations sur les composants
#table(columns: (1.3fr, auto, 1.3fr, auto), align: horizon + left,
[*Nom chimique*], [*N° CAS \\ N° CE*], [*Classification*], [*% en poids*],
{cells})
== RUBRIQUE 4 : Premiers secours
{_t(filler(rng, 4))}
== RUBRIQUE 9 : Propriétés physiques et chimiques
Point d'éclair : {truth.flash_c} °C \\
Densité : {truth.density.replace(".", ",")} g/cm³
== RUBRIQUE 11 : Informations toxicologiques
{_t(distractions(truth)[1])}
"""
    return _typst(source), truth


LAYOUTS: dict[str, Callable[[random.Random], Drawn]] = {
    "ruled grid": ruled_grid,
    "unruled columns": unruled_columns,
    "turned heads": turned_heads,
    "stacked numbers": stacked_numbers,
    "blocks by name": blocks_by_name,
    "labelled blocks": labelled_blocks,
    "two columns": two_columns,
    "long with heads": long_with_heads,
    "long without heads": long_without_heads,
    "American": american,
    "letter codes": letter_codes,
    "German": german,
    "share first": percent_first,
    "French": french,
}
