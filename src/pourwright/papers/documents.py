"""
Documents on paper: a typst template of ours and data in, a PDF out.

What a maker typed reaches a template as data (JSON strings) and is never read as markup. Templates
see only their own folder, no system fonts, no packages from elsewhere and no clock, so that the
same data gives the same bytes. The PDF is tagged to PDF/UA-1, for those who hear it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal

import typst

from pourwright.core.amounts import System

HERE = Path(__file__).resolve().parent
TEMPLATES = HERE / "templates"
FONTS = HERE / "fonts"

Paper = Literal["a4", "us-letter"]


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False, font_paths=[FONTS])


def paper_for(units: System) -> Paper:
    """Return the paper that is in the printer where these units are used."""
    return "us-letter" if units == "us" else "a4"


def compile_pdf(template: str, data: Mapping[str, Any], *, paper: Paper = "a4") -> bytes:
    """
    Return the PDF that a template in ``papers/templates`` makes of ``data``.

    The template reads ``#let data = json(bytes(sys.inputs.data))``; every value is a string,
    number, list, dictionary, true, false or none, and ``data.paper`` is the paper. It should set
    ``document(title: …, date: none)`` and give each picture an ``alt``. Drawings go in as SVG text:
    ``image(bytes(data.drawing), format: "svg", alt: …)``.
    """
    given = json.dumps({**data, "paper": paper}, ensure_ascii=False, sort_keys=True)
    made = typst.compile(
        TEMPLATES / template,
        root=TEMPLATES,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"data": given},
        pdf_standards=["ua-1"],
        timestamp=0,
    )
    assert isinstance(made, bytes)
    return made
