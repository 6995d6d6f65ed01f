"""
What no plan can beat, proven by a relaxed plan: late units, and melts for so few late units.

The relaxed plan keeps whole melts, whole vessels, melter time, the table, hands at the melts,
materials, cure and demand; it leaves out wick prep, finishing, the split of a session's vessels
into single melts and the clock. It can do at least what every real plan does, so its proven bound
holds for them all. Melts are helped by cuts: by each day at which lines of a scent are due, so many
whole melts of it must have been poured (rounded up), each at most as full as the melter allows.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from pourwright.core.planning.capacity import covers
from pourwright.core.planning.draft import Judge
from pourwright.core.planning.highs import quiet_highs
from pourwright.core.planning.timetable import busy_s, chain_s

NODES = 40
SMALL = 1e-6


@dataclass(frozen=True, slots=True)
class Proof:
    """A proven lower bound, and whether a relaxed plan attains it."""

    bound: float
    closed: bool

    @property
    def whole(self) -> int:
        """Return the bound on a whole number."""
        return max(0, math.ceil(self.bound - 1e-4))


class Relaxation:
    """The relaxed plan's rows and columns; solved for one aim after another."""

    def __init__(self, judge: Judge) -> None:
        self.judge, self.ground = judge, judge.ground
        self.low: list[float] = []
        self.high: list[float] = []
        self.rows: list[tuple[float, float, list[int], list[float]]] = []
        self.x: dict[tuple[int, int, int], int] = {}
        self.n: dict[tuple[int, int, int], int] = {}
        self.late: list[tuple[int, int, int]] = []
        self.units: dict[int, list[int]] = {}
        self.fixed: list[dict[int, int]] = [{} for _ in self.ground.stints]
        for s, batches in enumerate(judge.pinned):
            for _, draws in batches:
                for _, items in draws:
                    for k, q in items:
                        self.fixed[s][k] = self.fixed[s].get(k, 0) + q
        for s, stint in enumerate(self.ground.stints):
            if not stint.frozen and stint.people:
                self._session(s)
        self._table()
        self._materials()
        for k in range(len(self.ground.goods)):
            self._demand(k)

    def _column(self, low: float, high: float) -> int:
        self.low.append(low)
        self.high.append(high)
        return len(self.low) - 1

    def _row(self, low: float, high: float, columns: Sequence[int], by: Sequence[float]) -> None:
        if columns:
            self.rows.append((low, high, list(columns), list(by)))

    # --- rows ------------------------------------------------------------------------------------

    def _session(self, s: int) -> None:
        ground = self.ground
        stint = ground.stints[s]
        hands: list[tuple[int, float]] = []
        melts: list[int] = []
        for m in stint.melters:
            self._melter(s, m, hands, melts)
        pinned = self.judge.pinned[s]
        left = stint.maker_s - busy_s(ground, pinned)
        self._row(-math.inf, left, [c for c, _ in hands], [v for _, v in hands])
        if stint.most_melts is not None:
            self._row(-math.inf, stint.most_melts - len(pinned), melts, [1.0] * len(melts))

    def _melter(self, s: int, m: int, hands: list[tuple[int, float]], melts: list[int]) -> None:
        ground = self.ground
        melter, stint = ground.melters[m], ground.stints[s]
        pinned = [b for b in self.judge.pinned[s] if b[0] == m]
        there = {f for b in pinned for f, _ in b[1]}
        left = stint.length_s - chain_s(ground, pinned)
        busy = melter.set_up_s + melter.wipe_s + (0 if melter.pitchers else melter.stir_s)
        fixed = busy + melter.melt_s + melter.cool_s
        most = left // fixed if fixed else 20
        if most < 1:
            return
        time: list[tuple[int, float]] = []
        groups: dict[int, list[int]] = {}
        for k in range(len(ground.goods)):
            if self._useful(k, s):
                groups.setdefault(ground.group_of(k, m), []).append(k)
        for group, products in sorted(groups.items()):
            n = self.n[s, m, group] = self._column(0, most)
            melts.append(n)
            columns, masses = [n], [-float(melter.capacity_mg)]
            clean = 0 if melter.pitchers or ground.goods[products[0]].formula in there else 1
            y = self._column(0, 1) if most > 1 and clean else n
            if y != n:
                self._row(-math.inf, 0, [n, y], [1.0, -float(most)])
            extra = melter.clean_s * clean
            if y == n:
                time.append((n, fixed + extra))
                hands.append((n, busy + extra))
            else:
                time += [(n, fixed), (y, extra)]
                hands += [(n, busy), (y, extra)]
            for k in products:
                good = ground.goods[k]
                each = float(ground.mass_in_melter(k, m))
                u = self.x[s, m, k] = self._column(0, most * melter.capacity_mg // each)
                columns.append(u)
                masses.append(each)
                time.append((u, ground.melt_s_of(k, m) + good.pour_s))
                hands.append((u, good.pour_s))
            scale = float(melter.capacity_mg)
            self._row(-math.inf, 0, columns, [v / scale for v in masses])
            if melter.pitchers:
                self._pitchers(s, m, n, products, time, hands)
        self._row(-math.inf, left, [c for c, _ in time], [float(v) for _, v in time])
        products = [k for ks in groups.values() for k in ks]
        units = [self.x[s, m, k] for k in products]
        counts = [self.n[s, m, group] for group in groups]
        for by, most_held, chord in covers(
            ground, m, products, left_s=left, most=most, begun=bool(there)
        ):  # fmt: skip
            unit = float(max(1, most_held))
            self._row(
                -math.inf, chord.start / unit, [*units, *counts],
                [*(chord.scale * v / unit for v in by), *[-chord.slope / unit] * len(counts)],
            )  # fmt: skip

    def _pitchers(
        self, s: int, m: int, n: int, products: Sequence[int], time: list[tuple[int, float]],
        hands: list[tuple[int, float]],
    ) -> None:  # fmt: skip
        ground, melter = self.ground, self.ground.melters[m]
        drawn = []
        for formula in sorted({ground.goods[k].formula for k in products}):
            ks = [k for k in products if ground.goods[k].formula == formula]
            z = self._column(0, math.inf)
            drawn.append(z)
            self._row(
                -math.inf, 0, [z, *(self.x[s, m, k] for k in ks)],
                [-1.0, *(ground.goods[k].fill_mg / melter.pitcher_mg for k in ks)],
            )  # fmt: skip
            time.append((z, melter.stir_s + melter.clean_s))
            hands.append((z, melter.stir_s + melter.clean_s))
        self._row(-math.inf, 0, [n, *drawn], [-float(melter.pitchers), *[1.0] * len(drawn)])

    def _useful(self, k: int, s: int) -> bool:
        ready = self.ground.ready(k, s)
        return any(w.due >= ready for w in self.ground.wants[k])

    def _table(self) -> None:
        ground = self.ground
        taken = [0] * len(ground.stints)
        for s, items in enumerate(self.fixed):
            for k, q in items.items():
                for t in ground.rests[s][ground.goods[k].setting_s]:
                    taken[t] += q * ground.goods[k].places
        rows: dict[int, tuple[list[int], list[float]]] = {}
        for (s, _, k), u in self.x.items():
            places = ground.goods[k].places
            for t in ground.rests[s][ground.goods[k].setting_s] if places else ():
                row = rows.setdefault(t, ([], []))
                row[0].append(u)
                row[1].append(float(places))
        for t, (columns, by) in sorted(rows.items()):
            if self.fixed[t] or any(s == t for s, _, _ in self.x):
                self._row(-math.inf, max(0, ground.places - taken[t]), columns, by)

    def _materials(self) -> None:
        ground = self.ground
        for i, stuff in enumerate(ground.stuffs):
            by: dict[int, list[tuple[int, float]]] = {}
            for (s, _, k), u in self.x.items():
                for j, amount in ground.goods[k].uses:
                    if j == i and amount and s < stuff.bound_until:
                        by.setdefault(s, []).append((u, float(amount)))
            columns: list[int] = []
            amounts: list[float] = []
            used = 0
            for s in range(stuff.bound_until):
                used += sum(
                    q * amount
                    for k, q in self.fixed[s].items()
                    for j, amount in ground.goods[k].uses
                    if j == i
                )
                columns += [c for c, _ in by.get(s, ())]
                amounts += [a for _, a in by.get(s, ())]
                nxt = s + 1
                level = stuff.by_session[s]
                same = nxt < stuff.bound_until and stuff.by_session[nxt] == level
                if columns and not (same and nxt in by):
                    scale = max(amounts)
                    left = max(0, level - used) / scale
                    self._row(-math.inf, left, columns, [a / scale for a in amounts])

    def _demand(self, k: int) -> None:
        ground = self.ground
        mine = sorted((ground.ready(k, s), u) for (s, _, n), u in self.x.items() if n == k)
        pinned = [
            (ground.ready(k, s), items[k]) for s, items in enumerate(self.fixed) if k in items
        ]
        a_columns: list[int] = []
        for i, want in enumerate(ground.wants[k]):
            a = self._column(0, want.quantity)
            self.late.append((a, want.priority, want.quantity))
            self.units.setdefault(k, []).append(a)
            a_columns.append(a)
            if i + 1 < len(ground.wants[k]) and ground.wants[k][i + 1].due == want.due:
                continue
            lots = sum(h.quantity for h in ground.haves[k] if h.ready <= want.due)
            share = ground.kept_per_1000 / 1000
            sure = lots + share * sum(q for r, q in pinned if r <= want.due)
            units = [u for r, u in mine if r <= want.due]
            if not units:
                sure = math.floor(sure + SMALL)
            self._row(
                -math.inf, sure, [*a_columns, *units],
                [1.0] * len(a_columns) + [-share] * len(units),
            )  # fmt: skip

    # --- aims ------------------------------------------------------------------------------------

    def late_weight(self, *, units: bool = False, **limits: Any) -> Proof:
        """Return the least weight (or number) of late units."""
        cost = [0.0] * len(self.low)
        total = 0
        for a, priority, quantity in self.late:
            by = 1 if units else priority
            cost[a] = -float(by)
            total += by * quantity
        found = self._solve(cost, float(total), self.rows, **limits)
        return Proof(bound=max(0.0, found.bound), closed=found.closed)

    def melts(self, *, late_weight: int, whole: bool = True, **limits: Any) -> Proof:
        """
        Return the least number of melts of a plan with no more than so much late weight.

        With ``whole`` false the cuts alone make melts whole: weaker, and a matter of seconds.
        """
        cost = [0.0] * len(self.low)
        for n in self.n.values():
            cost[n] = 1.0
        total = sum(p * q for _, p, q in self.late)
        columns = [a for a, _, _ in self.late]
        row = (float(total - late_weight), math.inf, columns, [float(p) for _, p, _ in self.late])
        pinned = sum(map(len, self.judge.pinned))
        rows = [*self.rows, row, *self._whole_melts(late_weight)]
        return self._solve(cost, float(pinned), rows, whole=whole, **limits)

    def _whole_melts(self, late_weight: int) -> list[tuple[float, float, list[int], list[float]]]:
        """
        Return cuts: of each scent, so many whole melts by each day that its lines are due.

        Mass asked by the day, less lots, less what the late weight could at most leave out, over
        the fullest melt of the largest melter, rounded up; and the same with each late unit in
        the cut itself, by mixed-integer rounding: where N + sum a l >= R, N whole and l >= 0,
        then N + sum (a / f) l >= R rounded up, f being the fraction of R.
        Source: Nemhauser and Wolsey, Mathematical Programming 46 (1990), from memory.
        """
        ground = self.ground
        cuts = []
        if any(melter.pitchers for melter in ground.melters):
            return []
        largest = max((melter.capacity_mg for melter in ground.melters), default=0)
        for products in ground.of_formula:
            days = sorted({w.due for k in products for w in ground.wants[k]})
            for day in days:
                mass = self._mass_by(products, day, late_weight)
                whole = math.ceil(mass / largest - SMALL) if largest else 0
                formula = ground.goods[products[0]].formula
                shortest = min(ground.goods[k].cure_days for k in products)
                columns = [
                    n for (s, _, f), n in self.n.items()
                    if f == formula and ground.stints[s].day + shortest <= day
                ]  # fmt: skip
                if whole > 0:
                    cuts.append((float(whole), math.inf, columns, [1.0] * len(columns)))
                rounded = self._rounded(products, day, largest)
                if rounded is not None and columns:
                    least, late, by = rounded
                    cuts.append((least, math.inf, columns + late, [1.0] * len(columns) + by))
        return [cut for cut in cuts if cut[2]]

    def _rounded(
        self, products: Sequence[int], day: int, largest: int
    ) -> tuple[float, list[int], list[float]] | None:
        """Return the rounded cut's right side, and its units on time with their factors."""
        ground = self.ground
        right, late, by, asked = 0.0, [], [], []
        for k in products:
            rows = [
                (a, w.quantity)
                for a, w in zip(self.units.get(k, ()), ground.wants[k], strict=True)
                if w.due <= day
            ]
            lots = sum(h.quantity for h in ground.haves[k] if h.ready <= day)
            pinned = sum(
                items.get(k, 0) for s, items in enumerate(self.fixed) if ground.ready(k, s) <= day
            )
            kept = ground.kept_per_1000 / 1000
            short = sum(q for _, q in rows) - lots - kept * pinned
            if short <= 0:
                continue
            each = ground.goods[k].fill_mg / (kept * largest)
            right += each * short
            late += [a for a, _ in rows]
            by += [each] * len(rows)
            asked += [q for _, q in rows]
        part = right - math.floor(right)
        if not 0.01 < part < 1 - SMALL:
            return None
        factors = [each / part for each in by]
        least = math.ceil(right) - sum(f * q for f, q in zip(factors, asked, strict=True))
        return least, late, [-f for f in factors]

    def _mass_by(self, products: Sequence[int], day: int, late_weight: int) -> int:
        """Return the mg of new pours that must be ready by a day whatever is late."""
        ground = self.ground
        need = 0
        savings: list[tuple[float, int, int]] = []
        for k in products:
            wants = [w for w in ground.wants[k] if w.due <= day]
            asked = sum(w.quantity for w in wants)
            lots = sum(h.quantity for h in ground.haves[k] if h.ready <= day)
            pinned = sum(
                items.get(k, 0) for s, items in enumerate(self.fixed) if ground.ready(k, s) <= day
            )
            short = max(0, asked - lots - pinned)
            if not short:
                continue
            fill = ground.goods[k].fill_mg
            poured = ground.to_pour(short)
            need += poured * fill
            cheapest = min(w.priority for w in wants)
            each = fill * poured / short
            savings.append((each / cheapest, cheapest, short))
        left = float(late_weight)
        saved = 0.0
        for per_weight, cheapest, short in sorted(savings, reverse=True):
            took = min(left, cheapest * short)
            saved += took * per_weight
            left -= took
        return max(0, math.floor(need - saved))

    def _solve(
        self, cost: Sequence[float], offset: float,
        rows: Sequence[tuple[float, float, list[int], list[float]]], *, nodes: int = NODES,
        whole: bool = True, seconds: float | None = None, stop: Callable[[], bool] | None = None,
    ) -> Proof:  # fmt: skip
        import highspy
        import numpy as np

        if not cost:
            return Proof(bound=offset, closed=True)
        solver = quiet_highs()
        solver.setOptionValue("threads", 1)
        solver.setOptionValue("random_seed", 1)
        solver.setOptionValue("mip_max_nodes", nodes)
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.setOptionValue("mip_abs_gap", 0.99)
        if seconds is not None:
            solver.setOptionValue("time_limit", float(seconds))
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(cost), len(rows)
        lp.col_cost_ = np.array(cost)
        lp.offset_ = offset
        lp.col_lower_ = np.array(self.low)
        lp.col_upper_ = np.array(self.high)
        lp.row_lower_ = np.array([r[0] for r in rows])
        lp.row_upper_ = np.array([r[1] for r in rows])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(r[2]) for r in rows)])
        lp.a_matrix_.index_ = np.array([c for r in rows for c in r[2]])
        lp.a_matrix_.value_ = np.array([v for r in rows for v in r[3]])
        if whole:
            lp.integrality_ = [highspy.HighsVarType.kInteger] * len(cost)
        if stop is not None:

            def asked(event: Any) -> None:
                if stop():
                    event.interrupt()

            solver.cbMipInterrupt.subscribe(asked)
        solver.passModel(lp)
        solver.run()
        info, state = solver.getInfo(), solver.getModelStatus()
        closed = state == highspy.HighsModelStatus.kOptimal
        if whole:
            return Proof(bound=float(info.mip_dual_bound), closed=closed)
        if state == highspy.HighsModelStatus.kInfeasible:
            return Proof(bound=math.inf, closed=False)
        return Proof(bound=float(info.objective_function_value) if closed else 0.0, closed=False)
