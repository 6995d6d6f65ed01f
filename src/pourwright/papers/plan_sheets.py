"""
The week's plan on paper: an overview, and one sheet for each session with its clock.

Masses in milligrams; the sheet shows them in the workshop's units and to its scale's division. It
says only what it is handed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from pourwright.core.amounts import System
from pourwright.papers.documents import compile_pdf, paper_for
from pourwright.papers.pour_sheet import HOT_WAX, NEVER_LEAVE, scale_number


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A line of the clock: from when to when, what, and whether it takes somebody's hands."""

    begins: str
    ends: str
    what: str
    busy: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """One thing to weigh for a melt."""

    name: str
    mass_mg: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MeltOnPaper:
    """A melt: what is weighed, and what is poured from it, as words ("12 Fig, tumbler")."""

    melter: str
    title: str
    weighed: Sequence[Weighed]
    vessels: Sequence[str]
    pour: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionSheet:
    """
    One session.

    ``prepare`` and ``finish`` are what to wick and what to finish besides; ``table`` says when
    places on the table are free again; ``lots`` what of it is known already, such as a pour's
    number.
    """

    on: date
    begins: str
    minutes: int
    people: int
    clock: Sequence[Moment]
    melts: Sequence[MeltOnPaper]
    prepare: Sequence[str] = ()
    finish: Sequence[str] = ()
    table: Sequence[str] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekPlan:
    """A week: its sessions, what is cured in it, what is due, and what to order by when."""

    monday: date
    workshop: str
    plan: str
    sessions: Sequence[SessionSheet]
    division_mg: int
    cured: Sequence[str] = ()
    due: Sequence[str] = ()
    order: Sequence[str] = ()
    late: Sequence[str] = ()


def week_plan_pdf(week: WeekPlan, *, units: System) -> bytes:
    """Return the week's plan as a PDF, a page for the overview and one or more for each session."""
    return compile_pdf("week_plan.typ", _data(week, units), paper=paper_for(units))


def _data(week: WeekPlan, units: System) -> dict[str, Any]:
    def weight(mg: int) -> str:
        return scale_number(mg, division_mg=week.division_mg, units=units)

    return {
        "title": f"Week of {week.monday.day} {week.monday:%B %Y}",
        "workshop": week.workshop,
        "plan": week.plan,
        "unit": "oz" if units == "us" else "g",
        "cured": list(week.cured),
        "due": list(week.due),
        "order": list(week.order),
        "late": list(week.late),
        "caution": f"{NEVER_LEAVE} {HOT_WAX}",
        "sessions": [
            {
                "day": f"{session.on:%A}, {session.on.day} {session.on:%B}",
                "short": f"{session.on:%a} {session.on.day} {session.on:%b}",
                "begins": session.begins,
                "minutes": str(session.minutes),
                "people": session.people,
                "clock": [
                    {"time": f"{m.begins}–{m.ends}", "what": m.what, "busy": m.busy}
                    for m in session.clock
                ],
                "melts": [
                    {
                        "melter": melt.melter,
                        "title": melt.title,
                        "pour": melt.pour,
                        "weighed": [
                            {"name": one.name, "mass": weight(one.mass_mg)} for one in melt.weighed
                        ],
                        "vessels": list(melt.vessels),
                    }
                    for melt in session.melts
                ],
                "prepare": list(session.prepare),
                "finish": list(session.finish),
                "table": list(session.table),
            }
            for session in week.sessions
        ],
    }
