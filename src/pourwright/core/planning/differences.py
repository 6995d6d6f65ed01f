"""What differs between two plans, in words, in the order of time."""

from __future__ import annotations

from collections import Counter

from pourwright.core.planning.model import Melt, Plan, Problem
from pourwright.core.planning.wording import day_words, session_words, units_words


def differences(problem: Problem, before: Plan, after: Plan) -> tuple[str, ...]:
    """Return each session whose melts change and each line that fares otherwise; () if none."""
    return (*_melts(problem, before, after), *_lines(problem, before, after))


def _melts(problem: Problem, before: Plan, after: Plan) -> list[str]:
    names = {p.key: p.name or p.key for p in problem.products}
    melters = {m.key: m.name or m.key for m in problem.melters}
    several = len(problem.melters) > 1

    def words(melt: Melt) -> str:
        poured: Counter[str] = Counter()
        for pour in melt.pours:
            poured[pour.product] += pour.quantity
        said = ", ".join(f"{q} {names.get(key, key)}" for key, q in sorted(poured.items()))
        return f"{said} ({melters.get(melt.melter, melt.melter)})" if several else said

    found = []
    known = {s.key for s in problem.sessions}
    for session in sorted(problem.sessions, key=lambda s: (s.on, s.start_s)):
        where = session_words(session.on, session.start_s, session.name)
        was = Counter(words(m) for m in before.melts_of(session.key))
        now = Counter(words(m) for m in after.melts_of(session.key))
        gone, new = sorted((was - now).elements()), sorted((now - was).elements())
        for old, fresh in zip(gone, new, strict=False):
            found.append(f"{where}: {fresh} instead of {old}.")
        found += [f"{where}: no longer {old}." for old in gone[len(new) :]]
        found += [f"{where}: also {fresh}." for fresh in new[len(gone) :]]
    lost = Counter(words(m) for m in before.melts if m.session not in known)
    found += [f"No longer, since its session is gone: {old}." for old in sorted(lost.elements())]
    return found


def _lines(problem: Problem, before: Plan, after: Plan) -> list[str]:
    was = {answer.line: answer for answer in before.lines}
    names = {p.key: p.name or p.key for p in problem.products}
    found = []
    for line, now in zip(problem.lines, after.lines, strict=True):
        name = f"{line.whose or line.key}, {names[line.product]}"
        old = was.get(line.key)
        if old is None:
            state = "on time" if not now.late else f"{units_words(now.late)} late"
            found.append(f"{name}, due {day_words(line.due)}: new, {state}.")
        elif old.late != now.late:
            if not now.late:
                found.append(f"{name}, due {day_words(line.due)}: now on time.")
            else:
                text = f"{units_words(now.late)} late instead of {old.late}"
                found.append(f"{name}, due {day_words(line.due)}: {text}.")
    return found
