"""
Choose the precautionary statements of a candle: at most six, each with its reason.

The law leaves the choice to the supplier; the order of choice is this program's, from a table.
Source: CLP Articles 22 and 28.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pourwright.core.rules import rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Care:
    """A precautionary statement, and the hazard statements that call for it."""

    code: str
    text: str
    why: str
    status: str
    clause: str
    calls: tuple[str, ...]


def precautions_for(codes: Sequence[str], *, on: date) -> tuple[Care, ...]:
    """
    Return the precautionary statements for hazard statements, in the order of their numbers.

    None for a candle without a hazard statement: what only needs EUH208 is not hazardous.
    """
    if not codes:
        return ()
    table = rule("hazard/precautionary", on=on)
    disposal = [code for code in codes if _bare(code) in table["disposal_for"]]
    room = int(table["most"]) - bool(disposal)
    chosen: dict[str, Care] = {}
    for row in table["choices"]:
        calls = _calling(row, codes)
        redundant = any(code in chosen for code in row.get("not_beside", ()))
        if calls and not redundant and len(chosen) < room:
            chosen[row["code"]] = _care(table.values, row["code"], row["why"], calls)
    if disposal:
        code = table["disposal"]
        why = table["disposal_why"].format(codes=_and(disposal))
        chosen[code] = _care(table.values, code, why, disposal, clause=table["disposal_clause"])
    return tuple(chosen[code] for code in sorted(chosen))


def _calling(row: Mapping[str, Any], codes: Sequence[str]) -> list[str]:
    wanted = row["for"]
    return [
        code
        for code in codes
        if "any" in wanted or ("health" in wanted and _is_health(code)) or _bare(code) in wanted
    ]


def _care(
    table: Mapping[str, Any], code: str, why: str, calls: Sequence[str], *, clause: str = ""
) -> Care:
    text = table["texts"][code]
    named = why if all(call in why for call in calls) else f"For {_and(calls)}. {why}"
    return Care(
        code=code,
        text=text["text"],
        why=named,
        status=text["status"],
        clause=clause or table["clause"],
        calls=tuple(calls),
    )


def _bare(code: str) -> str:
    """Return a code without its effect letters: H360Fd is H360."""
    return code.rstrip("FDfd") if not code.startswith("EUH") else code


def _is_health(code: str) -> bool:
    return code.startswith("H3") or code in ("EUH380", "EUH381")


def _and(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
