"""Every file of a jig, by its name."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from io import BytesIO

from pourwright.core.errors import BadInput
from pourwright.core.wicks.jigs import CAUTIONS, Jig
from pourwright.papers.jigs.dxf import jig_dxf
from pourwright.papers.jigs.solids import jig_3mf, jig_stl
from pourwright.papers.jigs.svg_out import jig_svg
from pourwright.papers.jigs.template import jig_pdf

KINDS = ("pdf", "svg", "dxf", "stl", "3mf")
MIME = {
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "stl": "model/stl",
    "3mf": "model/3mf",
    "zip": "application/zip",
}


class NoSuchFile(BadInput):
    """A jig is not made in that format."""


def jig_file(jig: Jig, kind: str, *, title: str, paper: str = "A4") -> bytes:
    """Return a jig in one format: pdf, svg, dxf, stl or 3mf."""
    makers: dict[str, Callable[[], bytes]] = {
        "pdf": lambda: jig_pdf(jig, title=title, paper=paper),
        "svg": lambda: f"{jig_svg(jig, title=title)}\n".encode(),
        "dxf": lambda: jig_dxf(jig, title=title),
        "stl": lambda: jig_stl(jig, title=title),
        "3mf": lambda: jig_3mf(jig, title=title),
    }
    if kind not in makers:
        raise NoSuchFile(f'A jig is not made as "{kind}"; it is made as {", ".join(KINDS)}.')
    return makers[kind]()


def notes(jig: Jig, *, title: str) -> str:
    """Return the words that go with the files: what they are, how to use them, the cautions."""
    fit = jig.fit
    lines = [title, ""]
    if jig.form == "bar":
        lines += [
            "The bar rests on the rim; its lip goes just inside and centres it.",
            "From sheet: cut both parts, put drills through the holes and glue the lip centred "
            "below the bar.",
            "Printed: as it is, lip up; turned over for use. In the STL and 3MF x is therefore "
            "turned round.",
        ]
        if fit.slots:
            lines.append(
                "To take it off, lift it clear of the rim and turn it until it comes free."
            )
    else:
        lines += [
            "Lay the guide on the vessel's floor, press each wick's tab down through its opening, "
            "and lift the guide off over the wicks.",
        ]
    lines += [
        f"It can lie up to {jig.play_mm:.1f} mm off the middle.",
        "Lengths are millimetres; an STL does not say so itself.",
        f"The SVG and DXF allow for a kerf of {fit.kerf_mm:g} mm; the others do not need to.",
        *jig.notes,
        "",
        "Cautions",
        *(f"- {caution}" for caution in CAUTIONS),
        "",
    ]
    return "\n".join(lines)


def jig_zip(jig: Jig, *, name: str, title: str, paper: str = "A4") -> bytes:
    """Return all the files and their words as one zip; the same jig gives the same bytes."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for kind in (*KINDS, "txt"):
            entry = zipfile.ZipInfo(f"{name}.{kind}", date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 0
            body = (
                notes(jig, title=title).encode()
                if kind == "txt"
                else jig_file(jig, kind, title=title, paper=paper)
            )
            package.writestr(entry, body)
    return out.getvalue()
