"""
One part of a plan solved exactly while the rest stands still: the step of the search.

Free are some scents in some sessions; everything else is constant. The model has whole melts and
vessels by session and melter, and units on time by line; time, table, hands at the melts, and
materials bound them. Wick prep, finishing, the split into melts and the clock are left to the
judge: they hardly ever refuse what this proposes, and leaving them out makes each step lighter.

The engine runs in one thread to a limit of its own count of work, so that an answer does not
depend on how busy the machine is.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pourwright.core.planning.capacity import covers
from pourwright.core.planning.draft import Cell, Draft, Items, Judge, Verdict
from pourwright.core.planning.ground import Ground, Want

Level = Literal["late", "owed", "changes", "melts", "maker", "early", "cost"]
Aim = Literal["late", "melts", "all"]
LEVELS: tuple[Level, ...] = ("late", "owed", "changes", "melts", "maker", "early", "cost")
WORK = 0.1
LEVEL_WORK = 1.0
OWED_EVERY_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """What one unit of each level weighs in the sum that a step minimises."""

    late: int
    owed: int
    changes: int
    melts: int
    maker: int
    early: int
    cost: int = 0


def weights(ground: Ground, aim: Aim = "all") -> Weights:
    """
    Return weights nearly in strict order; the judge compares in strict order after all.

    Aimed at late units alone, or at no level below melts, a part is solved in less work, and to
    the end more often. What the lower levels lose by it is won back by later parts.
    """
    worth = ground.problem.late_unit_worth_s
    if worth is None and aim == "late":
        return Weights(late=1, owed=0, changes=0, melts=0, maker=0, early=0)
    if worth is None and aim == "melts":
        return Weights(late=100_000, owed=300, changes=1000, melts=100, maker=0, early=0)
    if worth is None:
        return Weights(
            late=600_000_000, owed=200_000, changes=1_000_000, melts=120_000, maker=1, early=6
        )
    return Weights(late=1000 * worth, owed=100, changes=200_000, melts=50, maker=1000, early=1)


@dataclass(frozen=True, slots=True)
class Answer:
    """A proposal (None: none found), whether it is proven best, and the engine's work on it."""

    draft: Draft | None
    proven: bool
    columns: int
    work: float


class Part:
    """The model of one part. ``sessions`` and ``formulas`` are free, crossed."""

    def __init__(
        self, judge: Judge, now: Verdict, sessions: Collection[int], formulas: Collection[int],
        *, exact: bool = False, near_days: int | None = None,
        aim: Aim = "all",
    ) -> None:  # fmt: skip
        """
        Make the model.

        With ``exact``, what is owed is counted by the day and no line is settled beforehand. With
        ``near_days``, nothing is newly poured that nobody asks for within so many days of its cure.
        """
        from ortools.sat.python import cp_model

        self.exact, self.near_days = exact, near_days

        self.judge, self.ground, self.now = judge, judge.ground, now
        ground = self.ground
        self.cp = cp_model
        self.model = cp_model.CpModel()
        self.sessions = sorted(
            s for s in sessions if not ground.stints[s].frozen and ground.stints[s].people
        )
        self.products = [
            k
            for f in sorted(formulas)
            for k in ground.of_formula[f]
            if ground.wants[k] or now.poured[k]
        ]
        self.weights = weights(ground, aim)
        self.x: dict[tuple[int, int, int], Any] = {}
        self.levels: dict[Level, tuple[list[Any], list[int]]] = {
            level: ([], []) for level in LEVELS
        }
        self.was = self._was()
        self.fixed = self._fixed()
        for s in self.sessions:
            self._session(s)
        self._table()
        self._materials()
        for k in self.products:
            self._product(k)
        self._aim_at_all()

    # --- what stands still -----------------------------------------------------------------------

    def _was(self) -> dict[tuple[int, int, int], int]:
        """Return what the plan so far pours in the free part, by session, melter and product."""
        mine, free = set(self.products), set(self.sessions)
        return {
            (s, m, k): q
            for (s, m, _), items in self.now.draft.items()
            if s in free
            for k, q in items
            if k in mine
        }

    def _fixed(self) -> list[dict[int, int]]:
        """Return by session what is poured whatever this part decides, pinned melts included."""
        left: list[dict[int, int]] = [{} for _ in self.ground.stints]
        for k, poured in enumerate(self.now.poured):
            for s, q in poured:
                left[s][k] = q
        for (s, _, k), q in self.was.items():
            left[s][k] -= q
        return left

    def _sum(self, variables: Sequence[Any], by: Sequence[int]) -> Any:
        return self.cp.LinearExpr.weighted_sum(variables, by)

    def _limit(self, what: str, s: int, row: Any, most: int) -> None:
        """Bound a row by what there is of something in a session."""
        self.model.add(row <= most)

    def _pay(self, level: Level, variable: Any, by: int) -> None:
        if by:
            self.levels[level][0].append(variable)
            self.levels[level][1].append(by)

    def _aim_at_all(self) -> None:
        """Minimise the weighted sum of all levels."""
        variables, by = [], []
        for level in LEVELS:
            weight = getattr(self.weights, level)
            if weight:
                variables += self.levels[level][0]
                by += [weight * value for value in self.levels[level][1]]
        self.model.minimize(self._sum(variables, by))

    # --- a session -------------------------------------------------------------------------------

    def _session(self, s: int) -> None:
        ground = self.ground
        stint = ground.stints[s]
        kept = self._kept_items(s)
        batches = self.judge.pinned[s] + tuple(
            (m, draws) for m, items in kept for draws in self.judge.melts_of(m, items) or ()
        )
        hands: list[Any] = []
        hands_by: list[int] = []
        melts: list[Any] = []
        from pourwright.core.planning.timetable import busy_s, chain_s

        for m in stint.melters:
            mine = [b for b in batches if b[0] == m]
            there = {f for b in mine for f, _ in b[1]}
            left = stint.length_s - chain_s(ground, mine)
            self._melter(s, m, left, there, (hands, hands_by, melts))
        if hands:
            self._limit(
                "hands", s, self._sum(hands, hands_by), stint.maker_s - busy_s(ground, batches)
            )
        if stint.most_melts is not None and melts:
            self.model.add(sum(melts) <= stint.most_melts - len(batches))

    def _kept_items(self, s: int) -> list[tuple[int, Items]]:
        mine = set(self.products)
        found = []
        for (at, m, _), items in sorted(self.now.draft.items()):
            if at == s:
                rest = tuple((k, q) for k, q in items if k not in mine)
                if rest:
                    found.append((m, rest))
        return found

    def _melter(
        self, s: int, m: int, left: int, there: set[int], sums: tuple[list[Any], ...]
    ) -> None:
        ground = self.ground
        melter = ground.melters[m]
        hands, hands_by, melts = sums
        fixed = melter.set_up_s + melter.melt_s + melter.cool_s + melter.wipe_s
        if not melter.pitchers:
            fixed += melter.stir_s
        most = self._most_melts(left, fixed)
        groups: dict[int, list[int]] = {}
        for k in self.products:
            groups.setdefault(ground.group_of(k, m), []).append(k)
        counts: list[Any] = []
        time: list[Any] = []
        time_by: list[int] = []
        for group, products in sorted(groups.items()):
            mine = [k for k in products if self._useful(k, s)]
            was = [self.was.get((s, m, k), 0) for k in products]
            if not mine or most < 1:
                continue
            count = self.model.new_int_var(0, most, "")
            held = self._held_melts(s, m, group, products)
            self.model.add_hint(count, min(most, held))
            melts.append(count)
            counts.append(count)
            melt_busy = melter.set_up_s + melter.wipe_s
            melt_busy += 0 if melter.pitchers else melter.stir_s
            time.append(count)
            time_by.append(fixed)
            hands.append(count)
            hands_by.append(melt_busy)
            self._pay("melts", count, 1)
            self._pay("maker", count, melt_busy)
            self._pay("cost", count, melter.melt_cost_minor100)
            units, masses = [], []
            for k in mine:
                u = self.model.new_int_var(0, self._most(k, m, most), "")
                self.model.add_hint(u, self.was.get((s, m, k), 0))
                self.x[s, m, k] = u
                self._keep(u, (s, m, group, k))
                units.append(u)
                masses.append(ground.mass_in_melter(k, m))
                pour = ground.goods[k].pour_s
                time.append(u)
                time_by.append(ground.melt_s_of(k, m) + pour)
                hands.append(u)
                hands_by.append(pour)
                good = ground.goods[k]
                self._pay("maker", u, pour + good.prep_s + good.finish_s)
                self._pay("early", u, ground.horizon - ground.ready(k, s))
                self._pay("cost", u, good.cost)
            mass = self._sum(units, masses)
            self.model.add(mass <= self._sum([count], [melter.capacity_mg]))
            if melter.minimum_mg:
                self.model.add(mass >= self._sum([count], [melter.minimum_mg]))
            self._cleaning(s, m, mine, count, most, there, (time, time_by, hands, hands_by), was)
        if time:
            self._limit("time", s, self._sum(time, time_by), left)
            self._cover(s, m, counts, left=left, most=most, begun=bool(there))

    def _cover(
        self, s: int, m: int, counts: list[Any], *, left: int, most: int, begun: bool
    ) -> None:  # fmt: skip
        """Say again, over whole melts, what time and mass allow; the engine sees little of it."""
        mine = [(k, u) for (n, o, k), u in self.x.items() if (n, o) == (s, m)]
        columns = [*(u for _, u in mine), *counts]
        products = [k for k, _ in mine]
        for by, _, chord in covers(self.ground, m, products, left_s=left, most=most, begun=begun):
            row = [chord.scale * v for v in by] + [-chord.slope] * len(counts)
            self.model.add(self._sum(columns, row) <= chord.start)

    def _most_melts(self, left: int, fixed: int) -> int:
        """Return how many melts the time that is left allows."""
        if left <= 0:
            return 0
        return left // fixed if fixed else 20

    def _keep(self, u: Any, place: tuple[int, int, int, int]) -> None:
        """Count a place that comes to differ from the plan to be kept."""
        if self.judge.keep is None:
            return
        s, m, group, k = place
        kept = dict(self.judge.keep.get((s, m, group), ())).get(k, 0)
        changed = self.model.new_bool_var("")
        self.model.add(u == kept).only_enforce_if(~changed)
        self.model.add_hint(changed, self.was.get((s, m, k), 0) != kept)
        self._pay("changes", changed, 1)

    def _cleaning(
        self, s: int, m: int, mine: list[int], count: Any, most: int, there: set[int],
        rows: tuple[list[Any], list[int], list[Any], list[int]], was: list[int],
    ) -> None:  # fmt: skip
        """Charge the clean: by formula in a session, or by pitcher with its stir."""
        ground, melter = self.ground, self.ground.melters[m]
        time, time_by, hands, hands_by = rows
        if not melter.pitchers:
            formula = ground.goods[mine[0]].formula
            if formula in there or not melter.clean_s:
                return
            used = count
            if most > 1:
                used = self.model.new_bool_var("")
                self.model.add(count <= most * used)
                self.model.add_hint(used, any(was))
            time.append(used)
            time_by.append(melter.clean_s)
            hands.append(used)
            hands_by.append(melter.clean_s)
            self._pay("maker", used, melter.clean_s)
            return
        drawn = []
        for formula in sorted({ground.goods[k].formula for k in mine}):
            ks = [k for k in mine if ground.goods[k].formula == formula]
            z = self.model.new_int_var(0, most * melter.pitchers, "")
            fill = [ground.goods[k].fill_mg for k in ks]
            poured = sum(ground.goods[k].fill_mg * self.was.get((s, m, k), 0) for k in ks)
            self.model.add_hint(z, -(-poured // melter.pitcher_mg))
            self.model.add(
                self._sum([self.x[s, m, k] for k in ks], fill)
                <= self._sum([z], [melter.pitcher_mg])
            )
            drawn.append(z)
            each = melter.stir_s + melter.clean_s
            time.append(z)
            time_by.append(each)
            hands.append(z)
            hands_by.append(each)
            self._pay("maker", z, each)
        self.model.add(sum(drawn) <= self._sum([count], [melter.pitchers]))

    def _held_melts(self, s: int, m: int, group: int, products: list[int]) -> int:
        items = tuple(sorted((k, self.was[s, m, k]) for k in products if (s, m, k) in self.was))
        return len(self.judge.melts_of(m, items) or ()) if items else 0

    def _useful(self, k: int, s: int) -> bool:
        """Return whether pouring ``k`` in session ``s`` could serve any line of it."""
        ready = self.ground.ready(k, s)
        last = self.ground.horizon if self.near_days is None else ready + self.near_days
        return any(
            w.due <= last and (w.order or w.due >= ready) for w in self.ground.wants[k]
        ) or any((s, m, k) in self.was for m in self.ground.stints[s].melters)

    def _most(self, k: int, m: int, most: int) -> int:
        ground = self.ground
        asked = ground.to_pour(sum(w.quantity for w in ground.wants[k]))
        asked = max(asked, max((q for (_, _, n), q in self.was.items() if n == k), default=0))
        if ground.melters[m].minimum_mg:
            asked += -(-ground.melters[m].minimum_mg // ground.mass_in_melter(k, m))
        fits = most * ground.melters[m].capacity_mg // ground.mass_in_melter(k, m)
        if ground.goods[k].places:
            fits = min(fits, ground.places // ground.goods[k].places)
        return max(0, min(asked, fits))

    # --- what couples sessions -------------------------------------------------------------------

    def _by_session(self) -> dict[int, list[tuple[int, Any]]]:
        found: dict[int, list[tuple[int, Any]]] = {}
        for (s, _, k), u in self.x.items():
            found.setdefault(s, []).append((k, u))
        return found

    def _table(self) -> None:
        ground = self.ground
        taken = [0] * len(ground.stints)
        pours = [False] * len(ground.stints)
        for s, items in enumerate(self.fixed):
            for k, q in items.items():
                if q:
                    pours[s] = True
                    for t in ground.rests[s][ground.goods[k].setting_s]:
                        taken[t] += q * ground.goods[k].places
        rows: dict[int, tuple[list[Any], list[int]]] = {}
        for s, units in self._by_session().items():
            pours[s] = True
            for k, u in units:
                places = ground.goods[k].places
                if not places:
                    continue
                for t in ground.rests[s][ground.goods[k].setting_s]:
                    row = rows.setdefault(t, ([], []))
                    row[0].append(u)
                    row[1].append(places)
        for t, (units_at, places_at) in sorted(rows.items()):
            if pours[t]:
                self._limit("table", t, self._sum(units_at, places_at), ground.places - taken[t])

    def _materials(self) -> None:
        ground = self.ground
        by_session = self._by_session()
        for i, stuff in enumerate(ground.stuffs):
            if not stuff.bound_until:
                continue
            row: list[Any] = []
            row_by: list[int] = []
            total = 0
            pending: int | None = None
            for s in range(stuff.bound_until):
                total += sum(
                    q * amount
                    for k, q in self.fixed[s].items()
                    for j, amount in ground.goods[k].uses
                    if j == i
                )
                fresh = [
                    (u, amount)
                    for k, u in by_session.get(s, ())
                    for j, amount in ground.goods[k].uses
                    if j == i and amount
                ]
                if fresh:
                    if pending is not None:
                        self._limit(stuff.key, s, self._sum(row, row_by), pending)
                    pending = None
                    row = row + [u for u, _ in fresh]
                    row_by = row_by + [amount for _, amount in fresh]
                if row:
                    spare = stuff.by_session[s] - total
                    pending = spare if pending is None else min(pending, spare)
            if row and pending is not None:
                self._limit(stuff.key, stuff.bound_until - 1, self._sum(row, row_by), pending)

    # --- demand ----------------------------------------------------------------------------------

    def _product(self, k: int) -> None:
        """Bind units on time by what is ready; pay for what is late and owed."""
        ground = self.ground
        wants, was = ground.wants[k], self.now.served[k].on_time
        mine = [(ground.ready(k, s), u) for (s, _, n), u in self.x.items() if n == k]
        fixed = [
            (ground.ready(k, s), items[k]) for s, items in enumerate(self.fixed) if items.get(k)
        ]
        first = min((r for r, _ in mine), default=ground.horizon + 1)
        on_time: list[Any] = []
        due = 0
        for i, want in enumerate(wants):
            if want.due < first and not self.exact:
                on_time.append(was[i])
                continue
            a = self.model.new_int_var(0, want.quantity, "")
            self.model.add_hint(a, was[i])
            self._on_time(want, a)
            on_time.append(a)
        for i, want in enumerate(wants):
            due = want.due
            last = i + 1 == len(wants) or wants[i + 1].due != due
            if last and not isinstance(on_time[i], int):
                self._ready_by(k, due, on_time[: i + 1], mine, fixed)
        behind = any(w.order and t < w.quantity for w, t in zip(wants, was, strict=True))
        if behind or (self.exact and any(w.order for w in wants)):
            self._owed(k, on_time, mine, fixed)

    def _on_time(self, want: Want, units: Any) -> None:
        """Say what units of a line on time are worth."""
        self._pay("late", units, -want.priority)

    def _come(
        self, k: int, day: int, mine: list[tuple[int, Any]], fixed: list[tuple[int, int]]
    ) -> tuple[int, list[Any]]:
        """Return in thousandths what is certain to be ready by a day, and the units that may be."""
        ground = self.ground
        lots = sum(h.quantity for h in ground.haves[k] if h.ready <= day)
        certain = 1000 * lots + ground.kept_per_1000 * sum(q for r, q in fixed if r <= day)
        return certain, [u for r, u in mine if r <= day]

    def _ready_by(
        self, k: int, due: int, served: Sequence[Any], mine: list[tuple[int, Any]],
        fixed: list[tuple[int, int]],
    ) -> None:  # fmt: skip
        certain, units = self._come(k, due, mine, fixed)
        constant = sum(a for a in served if isinstance(a, int))
        variables = [a for a in served if not isinstance(a, int)]
        row = [*variables, *units]
        by = [1000] * len(variables) + [-self.ground.kept_per_1000] * len(units)
        self.model.add(self._sum(row, by) <= certain - 1000 * constant)

    def _owed(
        self, k: int, served: Sequence[Any], mine: list[tuple[int, Any]],
        fixed: list[tuple[int, int]],
    ) -> None:  # fmt: skip
        ground = self.ground
        wants = ground.wants[k]
        first = min(w.due for w in wants if w.order)
        every = 1 if self.exact else OWED_EVERY_DAYS
        for day in range(max(0, first), ground.horizon, every):
            constant = sum(w.quantity for w in wants if w.order and w.due <= day)
            row: list[Any] = []
            for want, a in zip(wants, served, strict=True):
                if want.order or want.due > day:
                    continue
                if isinstance(a, int):
                    constant += a
                else:
                    row.append(a)
            certain, units = self._come(k, day, mine, fixed)
            owed = self.model.new_int_var(0, constant + sum(w.quantity for w in wants), "")
            by = [1000] * len(row) + [-ground.kept_per_1000] * len(units) + [-1000]
            self.model.add(self._sum([*row, *units, owed], by) <= certain - 1000 * constant)
            self._pay("owed", owed, every)

    # --- solving ---------------------------------------------------------------------------------

    def solve(self, *, work: float = WORK, seed: int = 1) -> Answer:
        """Return the best that so much of the engine's work finds."""
        if not self.x:
            return Answer(draft=None, proven=True, columns=0, work=0.0)
        solver = self._solver(work, seed)
        status = solver.solve(self.model)
        found = status in (self.cp.OPTIMAL, self.cp.FEASIBLE)
        return Answer(
            draft=self._draft(solver) if found else None, proven=status == self.cp.OPTIMAL,
            columns=len(self.x), work=solver.response_proto.deterministic_time,
        )  # fmt: skip

    def _solver(self, work: float, seed: int) -> Any:
        solver = self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = work
        solver.parameters.random_seed = seed
        solver.parameters.symmetry_level = 0
        # Parts are small and many: what preparing a model costs has to be earned back at once.
        solver.parameters.max_presolve_iterations = 1
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.linearization_level = 2
        return solver

    def solve_in_order(self, *, work: float = LEVEL_WORK) -> tuple[Draft, dict[Level, int]] | None:
        """Return a draft proven best level by level, and each level's value; None if not proven."""
        values: dict[Level, int] = {}
        draft: Draft | None = None
        for level in LEVELS:
            variables, by = self.levels[level]
            if not variables:
                values[level] = 0
                continue
            aim = self._sum(variables, by)
            self.model.minimize(aim)
            solver = self._solver(work, 1)
            if solver.solve(self.model) != self.cp.OPTIMAL:
                return None
            values[level] = round(solver.objective_value)
            self.model.add(aim <= values[level])
            draft = self._draft(solver)
        return None if draft is None else (draft, values)

    def _draft(self, solver: Any) -> Draft:
        """Return the whole draft with this part's cells as solved."""
        mine, free = set(self.products), set(self.sessions)
        cells: dict[Cell, dict[int, int]] = {}
        for (s, m, group), items in self.now.draft.items():
            for k, q in items:
                if s not in free or k not in mine:
                    cells.setdefault((s, m, group), {})[k] = q
        for (s, m, k), u in self.x.items():
            q = solver.value(u)
            if q:
                cells.setdefault((s, m, self.ground.group_of(k, m)), {})[k] = q
        return {cell: tuple(sorted(items.items())) for cell, items in cells.items()}
