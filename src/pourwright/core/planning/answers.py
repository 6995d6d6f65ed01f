"""A judged draft written out as a plan: melts on the clock, work around them, each line's fate."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from pourwright.core.planning.draft import Cell, Draft, Judge, Verdict
from pourwright.core.planning.ground import Ground
from pourwright.core.planning.model import (
    Bounds,
    Draw,
    LineAnswer,
    Melt,
    Plan,
    Pour,
    Step,
    Task,
    Totals,
)
from pourwright.core.planning.serving import Supply, late_days, supply
from pourwright.core.planning.timetable import Batch


def plan_of(
    judge: Judge, verdict: Verdict, *, bounds: Bounds | None = None, steps: int = 0
) -> Plan:
    """Return the plan that a verdict stands for."""
    ground = judge.ground
    lines, held = _lines(ground, verdict)
    late_units = sum(answer.late for answer in lines)
    totals = Totals(
        late_weight=verdict.late_weight, owed_unit_days=verdict.owed, melts=verdict.melts,
        maker_s=verdict.maker_s, poured_early=verdict.early, cost_minor100=verdict.cost,
        late_units=late_units, held_unit_days=held,
        poured=sum(q for poured in verdict.poured for _, q in poured),
    )  # fmt: skip
    tasks = tuple(
        Task(session=ground.stints[s].key, step=step)
        for s, clock in enumerate(verdict.clocks)
        for step in clock.tasks
    )
    return Plan(
        melts=tuple(_melts(judge, verdict)), tasks=tasks, lines=lines, totals=totals,
        bounds=bounds or Bounds(), sub_solves=steps,
    )  # fmt: skip


def draft_of(ground: Ground, melts: Iterable[Melt]) -> Draft:
    """Return the draft of a plan's melts that are not pinned; what is unknown now is left out."""
    cells: dict[Cell, dict[int, int]] = {}
    for melt in melts:
        known = melt.session in ground.stint_place and melt.melter in ground.melter_place
        if melt.pinned or not known:
            continue
        s, m = ground.stint_place[melt.session], ground.melter_place[melt.melter]
        if ground.stints[s].frozen:
            continue
        for pour in melt.pours:
            k = ground.product_place.get(pour.product)
            if k is not None and pour.quantity:
                cell = cells.setdefault((s, m, ground.group_of(k, m)), {})
                cell[k] = cell.get(k, 0) + pour.quantity
    return {cell: tuple(sorted(items.items())) for cell, items in cells.items()}


def _melts(judge: Judge, verdict: Verdict) -> list[Melt]:
    ground = judge.ground
    melts = []
    for s, batches in enumerate(verdict.batches):
        pinned = len(judge.pinned[s])
        for i, batch in enumerate(batches):
            steps = verdict.clocks[s].batches[i]
            melts.append((s, min((x.start_s for x in steps), default=0), i, batch, i < pinned))
    melts.sort(key=lambda row: row[:3])
    return [
        _melt(ground, s, batch, pinned, verdict.clocks[s].batches[i])
        for s, _, i, batch, pinned in melts
    ]


def _melt(ground: Ground, s: int, batch: Batch, pinned: bool, steps: tuple[Step, ...]) -> Melt:
    problem = ground.problem
    m, draws = batch
    return Melt(
        session=ground.stints[s].key, melter=problem.melters[m].key,
        draws=tuple(
            Draw(
                formula=problem.formulas[f].key,
                pours=tuple(
                    Pour(product=problem.products[k].key, quantity=q) for k, q in items
                ),
            )
            for f, items in draws
        ),
        pinned=pinned, steps=steps,
    )  # fmt: skip


# --- lines ---------------------------------------------------------------------------------------


def _lines(ground: Ground, verdict: Verdict) -> tuple[tuple[LineAnswer, ...], int]:
    """Return each line's answer, in the problem's order, and the unit-days that stock waits."""
    answers: dict[int, LineAnswer] = {}
    held = 0
    for k, wants in enumerate(ground.wants):
        come = supply(ground, k, verdict.poured[k])
        on_time = verdict.served[k].on_time
        ready, days = _ready_days(ground, k, come, on_time)
        lots = _from_lots(come, [(w.due, t) for w, t in zip(wants, on_time, strict=True)])
        for i, want in enumerate(wants):
            line = ground.problem.lines[want.place]
            answers[want.place] = LineAnswer(
                line=line.key, on_time=on_time[i], late=want.quantity - on_time[i],
                ready_on=ready[i], from_stock=lots[i],
            )  # fmt: skip
        end = ground.horizon
        held += sum(c.quantity * (end - max(0, c.ready)) for c in come)
        held -= sum(t * (end - max(0, w.due)) for w, t in zip(wants, on_time, strict=True))
        held -= sum(end - day for day in days)
    return tuple(answers[place] for place in range(len(ground.problem.lines))), held


def _from_lots(come: Sequence[Supply], served: Sequence[tuple[int, int]]) -> list[int]:
    """Return how many on-time units of each line come from lots, first ready first served."""
    left = [c.quantity for c in come]
    found = []
    for due, units in served:
        lots = 0
        for i, c in enumerate(come):
            if units and left[i] and c.ready <= due and (c.last is None or due <= c.last):
                took = min(units, left[i])
                left[i] -= took
                units -= took
                lots += took if c.session < 0 else 0
        found.append(lots)
    return found


def _ready_days(
    ground: Ground, k: int, come: Sequence[Supply], on_time: Sequence[int]
) -> tuple[list[dt.date | None], list[int]]:
    """
    Return by line the day its last unit is there, and the days on which late units leave.

    A late order takes what no line on time needs, in the order of due days.
    """
    wants = ground.wants[k]
    ready: list[dt.date | None] = []
    taken: list[int] = []
    leaving = late_days(wants, on_time, come)
    for want, served, days in zip(wants, on_time, leaving, strict=True):
        late = want.quantity - served
        if not late:
            ready.append(ground.date(_covered_on(want.due, come)))
            continue
        taken += [day for day in days if day <= ground.horizon]
        ready.append(ground.date(max(days)) if want.order and len(days) == late else None)
    return ready, taken


def _covered_on(due: int, come: Sequence[Supply]) -> int:
    """Return the last day on which something came in that could go to a line due then."""
    return max((c.ready for c in come if c.ready <= due and c.quantity), default=due)
