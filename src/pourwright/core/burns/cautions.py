"""The cautions of a test burn, for every page and paper on which one is begun."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pourwright.core.rules import rule


@dataclass(frozen=True, slots=True, kw_only=True)
class Cautions:
    """What to see to before lighting, the signs at which to stop now, and the closing words."""

    before: tuple[str, ...]
    stop_now: tuple[str, ...]
    closing: str
    status: str


def cautions(*, on: date) -> Cautions:
    """Return the cautions of a day, in the order in which they are to be read."""
    table = rule("burns/cautions", on=on)
    return Cautions(
        before=tuple(row["text"] for row in table["before"]),
        stop_now=tuple(row["text"] for row in table["stop_now"]),
        closing=table["closing"],
        status=table.status,
    )
