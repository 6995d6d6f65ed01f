"""
Ingredients that stand one below the other with labels instead of a table's columns.

Each block holds one CAS number. Its name and often its share stand above or before that; classes,
factors and limits come after. Where every block opens with the same label, that parts them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from pourwright.intake.sheets.lines import Line, text_of
from pourwright.intake.sheets.marks import (
    CAS,
    CLASS_WORD,
    CODE,
    EC,
    FACTOR,
    REACH,
    SHARE,
    joined,
    kind_of_head,
    numbers_in,
    without_labels,
)
from pourwright.intake.sheets.table import RawRow

_NAME_LABEL = re.compile(
    r"^\W*(?:chemical|substance|ingredient|component|stoff|bestandteil)?\s*"
    r"(?:name|ingredient|component|substance|bezeichnung|stoffname|nom|bestandteil)\s*"
    r"(?:of (?:the )?(?:substance|ingredient))?\s*\d*\s*[:.]\s*(.*)$",
    re.IGNORECASE,
)
_SHARE_LABEL = re.compile(
    r"(?:conc(?:entration|\.)?|content|amount|percent(?:age)?|share|range|weight|gehalt|"
    r"konz(?:entration|\.)?|anteil|teneur|concentration|proportion)\s*"
    r"(?:range)?\s*(?:\(?\s*(?:%|wt\.?|w/w|in|by weight)[^)\d:]*\)?)?\s*[:=]?\s*",
    re.IGNORECASE,
)
_CLASS_LABEL = re.compile(
    r"^\W*(?:hazards?|classification|hazard classification|einstufung|classes|h-?statements?|"
    r"gefahren|dangers?|clp|ghs)\b[^:A-Z]{0,30}(?:\([^)]*\))?\s*:?\s*",
    re.IGNORECASE,
)
# The left half of a card, whose right half is the value.
_NAME_HEAD = re.compile(
    r"(?:chemical|substance|ingredient|component)?\s*name|substance|ingredient|component|stoffname"
    r"|bezeichnung|nom chimique",
    re.IGNORECASE,
)
_LIMITS_HEAD = re.compile(
    r"(?:scl|specific|m-?\s?factors?|ate|conc|limits?|and|[\s,./&()-])+", re.IGNORECASE
)
_NOTE = re.compile(r"full text|wording of|see section|volltext|texte? complet|section 16", re.I)


def read_blocks(lines: Sequence[Line]) -> list[RawRow]:
    """Return one row for each CAS number in these lines."""
    anchors = [at for at, line in enumerate(lines) if CAS.search(EC.sub("", line.text))]
    if not anchors:
        return []
    edges = [
        _opening(lines, at, before) for at, before in zip(anchors, [-1, *anchors], strict=False)
    ]
    rows = []
    for begin, end in zip(edges, [*edges[1:], len(lines)], strict=True):
        rows.append(_block(lines[begin:end]))
    return rows


def _opening(lines: Sequence[Line], anchor: int, before: int) -> int:
    """Return the line at which the block of the number at ``anchor`` begins."""
    if _NAME_LABEL.match(lines[anchor].text):
        return anchor
    begin = anchor
    own = lines[anchor].text
    if CODE.search(own) or CLASS_WORD.search(own):
        own = own[: CAS.search(EC.sub(lambda m: " " * len(m[0]), own)).start()]
    rest = SHARE.sub("", without_labels(numbers_in(_SHARE_LABEL.sub("", own))[2]))
    named = len(re.sub(r"[\W\d]", "", rest)) >= 4
    for at in range(anchor - 1, before, -1):
        line, below = lines[at], lines[at + 1]
        if _NAME_LABEL.match(line.text):
            return at
        text = line.text
        if _CLASS_LABEL.match(text) and CODE.search(text):
            break
        if (
            CODE.search(text)
            or CLASS_WORD.search(text)
            or FACTOR.search(text)
            or _NOTE.search(text)
        ):
            break
        gap = below.y0 - line.y1 if line.page is below.page else 0.0
        wide = gap > 0.9 * line.size
        if wide and begin < anchor and (gap > 2 * line.size or _has_name(lines[begin:anchor])):
            break
        if re.match(r"\d\.\d|mixtures?\b|gemisch|mélange", text, re.IGNORECASE) or text.endswith(
            ":"
        ):
            break
        if named and (wide or not _wraps(line)):
            break
        numbers = EC.search(text) or REACH.search(text) or SHARE.fullmatch(text.strip())
        if not numbers and begin < anchor and _has_name(lines[begin:anchor]) and not _wraps(line):
            break
        begin = at
    return begin


def _is_labels(line: Line) -> bool:
    """Return whether a line is nothing but labels, whose values stand below it."""
    texts = [text_of(chunk) for chunk in line.chunks(1.2)]
    return not re.search(r"\d", line.text) and all(kind_of_head(text) for text in texts)


def _has_name(lines: Sequence[Line]) -> bool:
    return any(
        len(re.sub(r"[\W\d]", "", without_labels(numbers_in(line.text)[2]))) >= 4
        and not _SHARE_LABEL.match(line.text)
        and not _is_labels(line)
        for line in lines
    )


def _wraps(line: Line) -> bool:
    return line.text.rstrip().endswith(("-", ",", "("))


def _running(lines: Sequence[Line]) -> RawRow | None:
    """Return an ingredient that is one sentence: name, numbers, share, then classes; else None."""
    first = lines[0].text
    found = CAS.search(EC.sub(lambda m: " " * len(m[0]), first))
    if not found or _NAME_LABEL.match(first):
        return None
    before = without_labels(numbers_in(first[: found.start()])[2])
    if len(re.sub(r"[\W\d]", "", before)) < 4 or len(lines[0].chunks(1.2)) > 1:
        return None
    kept = [line for line in lines if not _NOTE.search(line.text)]
    text = joined([line.text for line in kept])
    after = text[found.start() :]
    begins = [m.start() for m in (CODE.search(after), CLASS_WORD.search(after)) if m]
    if not begins:
        return None
    numbers = after[: min(begins)]
    _, share = _take_share(None, numbers, "")
    row = RawRow()
    row.cells = {
        "cas": [numbers],
        "name": [re.sub(r"^\(?\d{1,2}[.)]\s+", "", before)],
        "pct": [share] if share else [],
        "classes": [after[min(begins) :]],
    }
    row.words = [(line.page, word) for line in kept for word in line.words]
    return row


def _block(lines: Sequence[Line]) -> RawRow:
    if running := _running(lines):
        return running
    row = RawRow()
    name: list[str] = []
    classes: list[str] = []
    share = ""
    seen_number = False
    in_classes = False
    for line in lines:
        text = line.text
        if _NOTE.search(text) and seen_number:
            break
        chunks = line.chunks(1.2)
        if len(chunks) > 1 and _is_labels(line):
            row.words += [(line.page, word) for word in line.words]
            continue
        if len(chunks) > 1:
            label, value = text_of(chunks[0]), text_of(w for chunk in chunks[1:] for w in chunk)
            if _NAME_HEAD.fullmatch(label):
                row.words += [(line.page, word) for word in line.words]
                name.append(value)
                continue
            if _LIMITS_HEAD.fullmatch(label):
                text = value
        row.words += [(line.page, word) for word in line.words]
        has_class = bool(CODE.search(text) or CLASS_WORD.search(text))
        labelled = _CLASS_LABEL.match(text)
        if seen_number and not share and (label := _SHARE_LABEL.match(text)):
            found = SHARE.fullmatch(text, label.end())
            if found:
                share = found[0].strip()
                continue
        if seen_number and (has_class or FACTOR.search(text) or labelled or in_classes):
            in_classes = True
            classes.append(_CLASS_LABEL.sub("", text, count=1) if labelled else text)
            continue
        found = CAS.search(EC.sub(lambda m: " " * len(m[0]), text))
        seen_number = seen_number or bool(found)
        text, said = _take_share(line, text, share)
        share = share or said
        row.cells.setdefault("cas", []).append(line.text)
        if match := _NAME_LABEL.match(text):
            text = match[1]
        rest = without_labels(numbers_in(text)[2])
        if found and has_class:
            # All on one line: what follows the number is not the name.
            before = text[: text.find(found[1])]
            classes.append(text[text.find(found[1]) :])
            rest = without_labels(numbers_in(before)[2])
        if rest and not _SHARE_LABEL.fullmatch(rest) and not (seen_number and name):
            name.append(rest)
    if name:
        name[0] = re.sub(r"^\(?[a-z\d]{1,2}[.)]\s+", "", name[0])  # "b) Linalool"
    row.cells["name"] = name
    row.cells["pct"] = [share] if share else []
    row.cells["classes"] = classes
    return row


def _take_share(line: Line | None, text: str, share: str) -> tuple[str, str]:
    """Return the text without its share, and the share: behind a label, or standing apart."""
    if share:
        return text, ""
    for label in _SHARE_LABEL.finditer(text):
        found = SHARE.match(text, label.end())
        if found and re.search(r"\d", found[0]):
            return text[: label.start()] + " " + text[found.end() :], found[0].strip()
    chunks = line.chunks(1.2) if line else []
    last = text_of(chunks[-1]) if chunks else ""
    if len(chunks) > 1 and SHARE.fullmatch(last.strip()):
        return text[: text.rfind(last)], last
    plain = REACH.sub("", CAS.sub("", EC.sub("", text)))
    for found in SHARE.finditer(plain):
        if "%" in found[0] and text.count(found[0].strip()) == 1:
            return text.replace(found[0].strip(), " "), found[0].strip()
    return text, ""
