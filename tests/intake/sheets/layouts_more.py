"""More unlike layouts: cards, upright rules alone, rows in pairs, turned pages, running lists."""

from __future__ import annotations

import random
from collections.abc import Callable

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4, landscape
from reportlab.platypus import KeepTogether, Spacer, Table

from intake.sheets.drawing import ENGLISH, Pen, build, cell, distractions, filler, paragraphs
from intake.sheets.layouts import Drawn, _heading, _opening, _rest, _t, _typst
from intake.sheets.truth import draw_truth, with_details, write_classes, write_details


def cards(rng: random.Random) -> Drawn:
    """A little ruled table of labels and values for each ingredient."""
    truth = with_details(
        draw_truth(rng, fewest=4, most=9, ranges=rng.choice(("half open comma", "x between")))
    )
    day = f"Revision date: {truth.sheet_date:%d %B %Y}"
    story = _opening(truth, rng, day=day)
    story += [_heading("SECTION 3: " + ENGLISH[3]), *paragraphs(["3.2 Mixtures"])]
    for row in truth.rows:
        details = "\n".join(write_details(row, "words"))
        pairs = [
            ("Substance name", row.name),
            ("CAS No.", row.cas),
            ("EC No.", row.ec),
            ("REACH No.", f"01-2119{rng.randint(100000, 999999)}-{rng.randint(10, 99)}"),
            ("Concentration", row.pct_text),
            ("Classification", write_classes(row, "comma")),
        ]
        if details:
            pairs.append(("SCL, M-factors, ATE", details))
        table = Table([[cell(a, 7.5, "Sans-Bold"), cell(b)] for a, b in pairs], [130, 350])
        table.setStyle([("GRID", (0, 0), (-1, -1), 0.4, colors.grey)])
        story += [KeepTogether([table, Spacer(1, 8)])]
    story += _rest(
        truth,
        rng,
        flash=f"Flash point: {truth.flash_c} °C (Pensky-Martens, closed cup)",
        density=f"Density and/or relative density: {truth.density} g/cm³",
    )
    return build(story), truth


def upright_rules(rng: random.Random) -> Drawn:
    """A page on its side, upright rules alone, everything centred, classes in full words."""
    truth = draw_truth(rng, fewest=5, most=9, ranges=rng.choice(("plain percent", "en dash")))
    rows = [
        [
            cell(word, 8, "Sans-Bold", alignment=1)
            for word in ("Identification", "Identifiers\nCAS / EC", "Hazard classification", "wt%")
        ]
    ]
    for row in truth.rows:
        texts = (row.name, f"{row.cas} / {row.ec}", write_classes(row, "long"), row.pct_text)
        rows.append([cell(text, 8, alignment=1) for text in texts])
    table = Table(rows, colWidths=[170, 140, 300, 90], repeatRows=1)
    table.setStyle(
        [
            ("LINEBEFORE", (0, 0), (-1, -1), 0.4, colors.black),
            ("LINEAFTER", (-1, 0), (-1, -1), 0.4, colors.black),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
        ]
    )
    day = f"Issued: {truth.sheet_date:%d/%m/%Y}"
    story = [
        *_opening(truth, rng, day=day, before="{}. "),
        _heading("3. " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            before="{}. ",
            flash=f"Flash point, closed cup: {truth.flash_c}°C",
            density=f"Density at 20 °C: {truth.density} kg/l",
        ),
    ]
    return build(story, pagesize=landscape(A4)), truth


def factor_columns(rng: random.Random) -> Drawn:
    """EC number first, share flush right, the M-factors as bare numbers in columns of their own."""
    truth = with_details(
        draw_truth(rng, ranges=rng.choice(("plain", "ascii"))), specific=False, ate=False
    )
    pen = Pen(size=7.5)
    pen.line(40, "SAFETY DATA SHEET", bold=True, size=13)
    pen.line(40, f"Trade name: {truth.product}")
    pen.line(40, f"Last revised {truth.sheet_date:%d.%m.%Y}, version {truth.revision}")
    pen.line(40, "Section 1: Identification of the mixture and the company", bold=True)
    pen.line(40, f"Manufacturer: {truth.supplier}")
    pen.line(40, "Section 2: Hazards identification", bold=True)
    pen.line(40, filler(rng, 4))
    pen.line(40, "Section 3: Composition / information on ingredients", bold=True)
    pen.y -= 4
    places, widths = (40, 92, 145, 0, 340, 485, 520), (50, 50, 135, 0, 140, 30, 30)
    heads = ("EC no.", "CAS no.", "Substance", "% (w/w)", "Hazard class and H-statement")
    for x, word in zip((40, 92, 145, 290, 340), heads, strict=True):
        pen.text(x, word, bold=True)
    pen.text(485, "M acute", bold=True, size=6.5)
    pen.text(520, "M chronic", bold=True, size=6.5)
    pen.y -= 12
    for row in truth.rows:
        factors = (str(row.m_acute or ""), str(row.m_chronic or ""))
        texts = (row.ec, row.cas, row.name, "", write_classes(row, "brackets"), *factors)
        cells = [(x, w, t) for x, w, t in zip(places, widths, texts, strict=True) if x]
        pen.need(pen.height_of(cells))
        pen.canvas.drawRightString(330, pen.y, row.pct_text)
        pen.y -= pen.cells(cells) + 4
    for number in (4, 5, 8):
        pen.line(40, f"Section {number}: {ENGLISH[number]}", bold=True)
        pen.line(40, distractions(truth)[0] if number == 8 else filler(rng, 5))
    pen.line(40, "Section 9: Physical and chemical properties", bold=True)
    pen.text(40, "Flash point")
    pen.text(250, f"{truth.flash_c} °C")
    pen.y -= 12
    pen.text(40, "Relative density")
    pen.text(250, truth.density)
    pen.y -= 12
    pen.line(40, "Section 11: Toxicological information", bold=True)
    pen.line(40, distractions(truth)[1])
    return pen.done(), truth


def turned_page(rng: random.Random) -> Drawn:
    """Pages that are stored upright and shown on their side."""
    import io

    from pypdf import PdfWriter

    truth = draw_truth(rng, ranges=rng.choice(("both signs", "mixed")))
    rows = [[cell(w, 8, "Sans-Bold") for w in ("Component", "CAS-No.", "EC-No.", "%", "GHS")]]
    for row in truth.rows:
        texts = (row.name, row.cas, row.ec, row.pct_text, write_classes(row, "semicolon"))
        rows.append([cell(text, 8) for text in texts])
    table = Table(rows, colWidths=[200, 75, 75, 90, 280], repeatRows=1)
    table.setStyle([("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.grey)])
    story = [
        *_opening(truth, rng, day=f"Date of issue: {truth.sheet_date:%Y-%m-%d}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        table,
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    writer = PdfWriter(clone_from=io.BytesIO(build(story, pagesize=landscape(A4))))
    for page in writer.pages:
        # Turn what is drawn a quarter, then say that the page is to be shown a quarter back.
        page.rotate(90)
        page.transfer_rotation_to_content()
        page.rotate(270)
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue(), truth


def running_list(rng: random.Random) -> Drawn:
    """A numbered list, each ingredient a sentence."""
    truth = draw_truth(rng, fewest=4, most=8, ranges=rng.choice(("half open", "en dash")))
    lines = [
        f"{n}) {row.name} (CAS {row.cas}; EC {row.ec}), {row.pct_text}: "
        f"{write_classes(row, 'brackets')}"
        for n, row in enumerate(truth.rows, start=1)
    ]
    story = [
        *_opening(truth, rng, day=f"Version {truth.revision} of {truth.sheet_date:%d %B %Y}"),
        _heading("SECTION 3: " + ENGLISH[3]),
        *paragraphs(["The mixture contains:"]),
        *[flowable for line in lines for flowable in paragraphs([line])],
        *_rest(
            truth,
            rng,
            flash=f"Flash point: {truth.flash_c} °C",
            density=f"Density: {truth.density} g/cm³",
        ),
    ]
    return build(story, margin=70), truth


def rows_in_pairs(rng: random.Random) -> Drawn:
    """Each ingredient two rows: its name across the table, then its numbers, share and classes."""
    truth = draw_truth(rng, ranges=rng.choice(("signs twice", "half open comma")))
    cells = "".join(
        f"table.cell(colspan: 4)[_{_t(row.name)}_],[{_t(row.cas)}],[{_t(row.ec)}],"
        f"[{_t(row.pct_text)}],[{_t(write_classes(row, 'comma'))}],\n"
        for row in truth.rows
    )
    source = f"""
#set page(paper: "a4", margin: 2cm)
#set text(size: 9pt, font: "New Computer Modern")
= Safety Data Sheet: {_t(truth.product)}
Version {_t(truth.revision)} \\
Revision date: {truth.sheet_date:%d.%m.%Y}
= SECTION 1: {_t(ENGLISH[1])}
Product identifier: {_t(truth.product)} \\
Supplier: {_t(truth.supplier)}
= SECTION 2: {_t(ENGLISH[2])}
{_t(filler(rng, 3))}
= SECTION 3: {_t(ENGLISH[3])}
#table(columns: (auto, auto, auto, 1fr), stroke: 0.4pt + gray,
[*CAS No.*], [*EC No.*], [*Conc.*], [*Classification*],
{cells})
= SECTION 4: {_t(ENGLISH[4])}
{_t(filler(rng, 4))}
= SECTION 9: {_t(ENGLISH[9])}
Flash point: {truth.flash_c} °C \\
Density: {truth.density} g/cm³
= SECTION 11: {_t(ENGLISH[11])}
{_t(distractions(truth)[1])}
"""
    return _typst(source), truth


MORE: dict[str, Callable[[random.Random], Drawn]] = {
    "cards": cards,
    "upright rules": upright_rules,
    "factor columns": factor_columns,
    "turned page": turned_page,
    "running list": running_list,
    "rows in pairs": rows_in_pairs,
}
