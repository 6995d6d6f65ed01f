"""What makes a line late and what would change it, as a maker takes it in at a glance."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from pourwright.core.planning.model import Change, Line, LineAnswer, Problem, Reason
from pourwright.core.planning.wording import (
    amount_words,
    clock_words,
    day_words,
    names_words,
    session_words,
    span_words,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """So much of "table" (places), "time", "hands" (seconds) or a material is short."""

    what: str
    amount: int
    session: str


def short_words(problem: Problem, short: Short) -> str:
    """Return what is short, by how much and where; of a material also when more of it comes."""
    session = next(s for s in problem.sessions if s.key == short.session)
    where = session_words(session.on, session.start_s, session.name)
    if short.what == "table":
        places = "1 place" if short.amount == 1 else f"{short.amount} places"
        return f"The pour table is {places} short on {where}."
    if short.what == "time":
        return f"Melting time is {span_words(short.amount)} short on {where}."
    if short.what == "hands":
        return f"Hands are {span_words(short.amount)} short on {where}."
    record = next(m for m in problem.materials if m.key == short.what)
    words = f"{record.name} is {amount_words(short.amount, record.unit)} short"
    words += f" on {day_words(session.on)}"
    coming = sorted(a.on for a in record.arrivals if a.on > session.on)
    ordered = None
    if record.lead_days is not None:
        ordered = problem.today + dt.timedelta(days=record.lead_days)
    if coming and (ordered is None or coming[0] <= ordered):
        return f"{words}; the next parcel comes on {day_words(coming[0])}."
    if ordered is not None:
        return f"{words}; ordered today it comes on {day_words(ordered)}."
    return f"{words}."


def changes_words(problem: Problem, reason: Reason, *, together: int = 0) -> str:
    """Return what would have it on time; with ``together``, so many lines at once."""
    whole = "All on time" if together > 2 else "Both on time" if together == 2 else "On time"
    if len(reason.changes) == 1 and _just_that(problem, reason.changes[0], reason):
        assert reason.changes[0].on is not None
        return f"{whole} if it is there by {day_words(reason.changes[0].on)}."
    longer = [c for c in reason.changes if c.kind == "longer"]
    table = [c for c in reason.changes if c.kind == "table"]
    said = [_longer(problem, c, reason) for c in longer]
    said += [
        f"{c.amount} more table {'place' if c.amount == 1 else 'places'} ({_places(problem, c)})"
        for c in table
    ]
    said += _sessions([c for c in reason.changes if c.kind == "session"])
    said += [_material(problem, c) for c in reason.changes if c.kind == "material"]
    return f"{whole} with {names_words(said, most=9)}."


def _just_that(problem: Problem, change: Change, reason: Reason) -> bool:
    """Return whether a change is just what the reason has said to be short."""
    session = next((s for s in problem.sessions if s.key == reason.session), None)
    said = (change.kind, change.what, change.amount, change.on)
    return session is not None and said == (
        "material", reason.resource, reason.amount, session.on
    )  # fmt: skip


def _places(problem: Problem, change: Change) -> str:
    return f"{problem.table_places + change.amount} in all"


def _longer(problem: Problem, change: Change, reason: Reason) -> str:
    session = next(s for s in problem.sessions if s.key == change.session)
    if change.session == reason.session:
        return f"that session {span_words(change.amount)} longer"
    where = session_words(session.on, session.start_s, session.name)
    return f"the session {where} {span_words(change.amount)} longer"


def _sessions(changes: Sequence[Change]) -> list[str]:
    if not changes:
        return []
    first = changes[0]
    hours = f"{clock_words(first.start_s)} to {clock_words(first.start_s + first.amount)}"
    days = names_words([day_words(c.on) for c in changes if c.on is not None])
    if len(changes) == 1:
        return [f"one more session on {days} ({hours})"]
    return [f"{len(changes)} more sessions on {days} ({hours})"]


def _material(problem: Problem, change: Change) -> str:
    record = next(m for m in problem.materials if m.key == change.what)
    assert change.on is not None
    amount = amount_words(change.amount, record.unit)
    more = amount.replace(" ", " more ") if record.unit == "pieces" else f"{amount} more"
    return f"{more} of {record.name} there by {day_words(change.on)}"


def instead_words(line: Line, answer: LineAnswer) -> str:
    """Return what can be promised of a line as the plan stands; "" where that is nothing."""
    first = f"{answer.on_time} by then" if answer.on_time else ""
    if line.kind == "order" and answer.ready_on is not None:
        rest = f"{'the rest' if first else 'it'} for {day_words(answer.ready_on)}"
        return f"Promise {f'{first} and ' if first else ''}{rest}."
    return f"Plan {first}." if first else ""
