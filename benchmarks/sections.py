"""Writing one report of several into the same document, the others left as they are."""

from __future__ import annotations

import re
from pathlib import Path


def put(document: Path, report: str) -> None:
    """
    Put a report in its place in the document.

    A report that begins with "# " is the document's first part, up to the first "## " heading; one
    that begins with "## " replaces the section of the same heading, or comes last.
    """
    text = document.read_text(encoding="utf-8") if document.exists() else ""
    first, *sections = re.split(r"(?m)^(?=## )", text)
    heading = report.split("\n", 1)[0]
    if heading.startswith("# "):
        first = report
    else:
        kept = [section for section in sections if section.split("\n", 1)[0] != heading]
        place = next(
            (i for i, section in enumerate(sections) if section.split("\n", 1)[0] == heading),
            len(kept),
        )
        sections = [*kept[:place], report, *kept[place:]]
    parts = [part.strip() + "\n" for part in (first, *sections) if part.strip()]
    document.write_text("\n".join(parts), encoding="utf-8")
