"""What differs between two plans, in words, in the order of time."""

from __future__ import annotations

from collections import Counter

from pourwright.core.planning.model import Melt, Plan, Problem
from pourwright.core.planning.wording import day_words, session_words, units_words

HOUR_S = 3600


def differences(problem: Problem, before: Plan, after: Plan) -> tuple[str, ...]:
    """Return each session whose melts change and each line that fares otherwise; () if none."""
    return (*_melts(problem, before, after), *_lines(problem, before, after))


def better_at(one: Plan, other: Plan, *, names: tuple[str, str]) -> tuple[str, ...]:
    """Return which of two plans is better at what, in words, and how sure the lateness is."""
    a, b = one.totals, other.totals
    rows = [
        ("Fewer late", a.late_units, b.late_units, "{:g}"),
        ("Fewer melts", a.melts, b.melts, "{:g}"),
        ("Less work", round(a.maker_s / HOUR_S, 1), round(b.maker_s / HOUR_S, 1), "{:g} h"),
        ("Less waiting on the shelf", a.held_unit_days, b.held_unit_days, "{:g} unit-days"),
    ]
    if (a.late_weight < b.late_weight) != (a.late_units < b.late_units):
        rows.insert(1, ("Less late by priority", a.late_weight, b.late_weight, "{:g}"))
    found = []
    for what, mine, theirs, unit in rows:
        if mine != theirs:
            better = names[0] if mine < theirs else names[1]
            less, more = (unit.format(value) for value in sorted((mine, theirs)))
            found.append(f"{what}: {better}, {less} against {more}.")
    if not found:
        found.append("Both come to the same.")
    return (*found, *_how_sure(one, other, names))


def _how_sure(one: Plan, other: Plan, names: tuple[str, str]) -> list[str]:
    """Return what is proven of two plans' lateness, and what may still change it."""
    late = (one.totals.late_units, other.totals.late_units)
    least = (one.bounds.unavoidable_late_units, other.bounds.unavoidable_late_units)
    open_ = [i for i in (0, 1) if least[i] < late[i]]
    if not open_:
        return ["Proven: neither can be less late under its own means and wishes."]
    worse = 0 if late[0] > late[1] else 1
    if late[0] != late[1] and least[worse] >= late[1 - worse]:
        words = f"Sure: {names[worse]} cannot have fewer late than {names[1 - worse]}"
        return [f"{words}; {least[worse]} of its units are late whatever one plans."]
    said = [f"{names[i]} might come down to {least[i]} late" for i in open_]
    return [f"Not proven: looked for longer, {' and '.join(said)}."]


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
