"""
One session on the clock: whose hands do what when, nothing beyond the session's end.

Each melter works through its melts in turn: set up, melt, stir, cool, pour, wipe, and a clean
before another formula and at the end. Hands are few: whoever is free takes what is most pressing
(pour before stir before wipe, clean and set up), and fills the waits with wick prep and finishing,
a vessel at a time. Wicks come before their pour. This is a list schedule; where one order does not
fit into the session, others are tried, and a schedule that was found needs no proof but itself.

Melters on one circuit take turns where together they would draw more than it gives: a melt waits
until enough of the others have been poured empty.

Caution: somebody stays in the room as long as wax is melting or hot. A session whose people leave
early is a session that has not enough time: the planner never runs a melt beyond it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice, permutations

from pourwright.core.planning.ground import Ground
from pourwright.core.planning.model import Step, StepKind

Items = tuple[tuple[int, int], ...]
Draws = tuple[tuple[int, Items], ...]
Batch = tuple[int, Draws]
"""A melter and its draws: formula, and vessels by product."""

MOST_ORDERS = 12
_PRESSING = {"pour": 0, "stir": 1, "wipe": 2, "clean": 3, "set up": 4}


@dataclass(frozen=True, slots=True)
class Clock:
    """A session's schedule: each batch's steps (as given), and prep and finishing."""

    batches: tuple[tuple[Step, ...], ...]
    tasks: tuple[Step, ...]


def chain_s(ground: Ground, batches: Sequence[Batch]) -> int:
    """Return the seconds that one melter needs for its melts of a session, one after another."""
    total = 0
    cleaned: set[int] = set()
    for m, draws in batches:
        melter = ground.melters[m]
        total += melter.set_up_s + melter.melt_s + melter.cool_s + melter.wipe_s
        total += melter.stir_s * len(draws)
        for formula, items in draws:
            if melter.pitchers or formula not in cleaned:
                total += melter.clean_s
                cleaned.add(formula)
            for k, q in items:
                total += q * (ground.melt_s_of(k, m) + ground.goods[k].pour_s)
    return total


def hot_s(ground: Ground, batches: Sequence[Batch]) -> int:
    """Return the seconds at least that a melter's melts keep it hot: from melting to poured."""
    total = 0
    for m, draws in batches:
        melter = ground.melters[m]
        total += melter.melt_s + melter.cool_s + melter.stir_s * len(draws)
        total += sum(
            q * (ground.melt_s_of(k, m) + ground.goods[k].pour_s)
            for _, items in draws
            for k, q in items
        )
    return total


def take_turns(ground: Ground) -> frozenset[int]:
    """Return melters of which no two may be hot at once: each draws over half the circuit."""
    circuit = ground.problem.circuit_w
    if circuit is None:
        return frozenset()
    return frozenset(m for m, x in enumerate(ground.melters) if 2 * (x.power_w or 0) > circuit)


def busy_s(ground: Ground, batches: Sequence[Batch]) -> int:
    """Return the seconds of hands that a session's melts need, prep and finishing apart."""
    total = 0
    cleaned: set[tuple[int, int]] = set()
    for m, draws in batches:
        melter = ground.melters[m]
        total += melter.set_up_s + melter.wipe_s + melter.stir_s * len(draws)
        for formula, items in draws:
            if melter.pitchers or (m, formula) not in cleaned:
                total += melter.clean_s
                cleaned.add((m, formula))
            total += sum(q * ground.goods[k].pour_s for k, q in items)
    return total


def schedule(
    ground: Ground, s: int, batches: Sequence[Batch], *, ready: Items = (), prep: Items = (),
    finish: Items = (),
) -> Clock | None:  # fmt: skip
    """
    Return clock times for a session; None where no order that was tried fits into it.

    ``ready``: vessels with their wicks in before the session; ``prep`` and ``finish``: what is to
    be prepared and finished in it.
    """
    stint = ground.stints[s]
    if not batches and not prep and not finish:
        return Clock(batches=(), tasks=())
    if stint.people < 1:
        return None
    for order in islice(_orders(batches), MOST_ORDERS):
        for patient in (True, False):
            run = _Run(ground, s, batches, order, dict(ready), dict(prep), dict(finish))
            run.patient = patient
            found = run.clock()
            if found is not None:
                return found
    return None


def _orders(batches: Sequence[Batch]) -> Iterator[tuple[int, ...]]:
    """Yield orders of the batches: one formula's melts together, then every order of the groups."""
    groups: dict[tuple[int, object], list[int]] = {}
    for i, (m, draws) in enumerate(batches):
        groups.setdefault((m, draws[0][0] if len(draws) == 1 else i), []).append(i)
    for order in permutations(groups.values()):
        yield tuple(i for group in order for i in group)


@dataclass
class _Chain:
    """
    A melter at work: its batches in turn, each as a row of (kind, draw, seconds).

    ``cold_from``: for each melt begun, when it has been poured empty (None: not yet known).
    """

    melter: int
    queue: list[tuple[int, list[tuple[StepKind, int, int]]]]
    ready: int = 0
    cooled: dict[int, int] = field(default_factory=dict)
    cold_from: list[int | None] = field(default_factory=list)


class _Run:
    """One try at a session, from its first second to its last."""

    def __init__(
        self, ground: Ground, s: int, batches: Sequence[Batch], order: Sequence[int],
        ready: dict[int, int], prep: dict[int, int], finish: dict[int, int],
    ) -> None:  # fmt: skip
        self.ground, self.stint, self.batches = ground, ground.stints[s], batches
        self.base = self.stint.start % 86_400
        self.wicked, self.prep, self.finish = ready, prep, finish
        self.steps: list[list[Step]] = [[] for _ in batches]
        self.tasks: list[Step] = []
        self.people = [0] * self.stint.people
        self.patient = True
        self.chains = self._chains(order)

    def _chains(self, order: Sequence[int]) -> list[_Chain]:
        chains: dict[int, _Chain] = {}
        for place, i in enumerate(order):
            m, _ = self.batches[i]
            chain = chains.setdefault(m, _Chain(melter=m, queue=[]))
            following = [j for j in order[place + 1 :] if self.batches[j][0] == m]
            chain.queue.append((i, self._row(i, following)))
        return list(chains.values())

    def _row(self, i: int, following: Sequence[int]) -> list[tuple[StepKind, int, int]]:
        m, draws = self.batches[i]
        melter, goods = self.ground.melters[m], self.ground.goods
        melting = melter.melt_s + sum(
            q * self.ground.melt_s_of(k, m) for _, items in draws for k, q in items
        )
        row: list[tuple[StepKind, int, int]] = [("set up", -1, melter.set_up_s)]
        row.append(("melt", -1, melting))
        row += [("stir", d, melter.stir_s) for d in range(len(draws))]
        row += [
            ("pour", d, sum(q * goods[k].pour_s for k, q in items))
            for d, (_, items) in enumerate(draws)
        ]
        row.append(("wipe", -1, melter.wipe_s))
        if melter.pitchers:
            row += [("clean", d, melter.clean_s) for d in range(len(draws))]
        elif not any(self.batches[j][1][0][0] == draws[0][0] for j in following):
            row.append(("clean", 0, melter.clean_s))
        return row

    def clock(self) -> Clock | None:
        """Return the schedule, or None where it does not fit."""
        limit = self.stint.length_s
        while True:
            now = min(self.people)
            if now > limit:
                return None
            self._let_melt()
            if not self._take(now):
                later = self._next_moment(now)
                if later is None:
                    break
                person = self.people.index(now)
                self.people[person] = later
        ends = [step.end_s - self.base for steps in self.steps for step in steps]
        ends += [step.end_s - self.base for step in self.tasks]
        undone = any(chain.queue for chain in self.chains)
        undone = undone or any(self.prep.values()) or any(self.finish.values())
        if undone or max(ends, default=0) > limit:
            return None
        return Clock(batches=tuple(map(tuple, self.steps)), tasks=tuple(_joined(self.tasks)))

    def _let_melt(self) -> None:
        """Let each melter that has been set up melt: nobody's hands, so it begins at once."""
        for chain in self.chains:
            if chain.queue and chain.queue[0][1][0][0] == "melt":
                begins = self._power_from(chain)
                if begins is None:
                    continue
                i, row = chain.queue[0]
                _, _, seconds = row.pop(0)
                self._note(i, "melt", begins, seconds, -1, busy=False)
                chain.ready = begins + seconds
                chain.cold_from.append(None)

    def _power_from(self, chain: _Chain) -> int | None:
        """Return from when a set-up melter has its power; None while that is not known."""
        melters, circuit = self.ground.melters, self.ground.problem.circuit_w
        mine = melters[chain.melter].power_w
        begins = chain.ready
        if circuit is None or not mine:
            return begins
        while True:
            ends: list[int] = []
            drawn = mine
            for other in self.chains:
                hot = [end for end in other.cold_from if end is None or end > begins]
                power = melters[other.melter].power_w
                if other is not chain and hot and power:
                    drawn += power
                    ends += [end for end in hot if end is not None]
            if drawn <= circuit:
                return begins
            if not ends:
                return None
            begins = min(ends)

    def _moment(self, chain: _Chain) -> int | None:
        """Return when the chain's next step can begin; None while wicks or power are missing."""
        i, row = chain.queue[0]
        kind, d, _ = row[0]
        if kind == "melt":
            return None
        if kind != "pour":
            return chain.ready
        if any(self.wicked.get(k, 0) < q for k, q in self._needs(i, d)):
            return None
        return max(chain.ready, chain.cooled[d])

    def _needs(self, i: int, d: int) -> Items:
        goods = self.ground.goods
        return tuple((k, q) for k, q in self.batches[i][1][d][1] if goods[k].prep_s)

    def _take(self, now: int) -> bool:
        """Give whoever is free the most pressing piece of work; False where there is none."""
        best = None
        for c, chain in enumerate(self.chains):
            if not chain.queue:
                continue
            moment = self._moment(chain)
            if moment is not None and moment <= now:
                rank = (_PRESSING[chain.queue[0][1][0][0]], c)
                if best is None or rank < best[0]:
                    best = (rank, chain)
        if best is not None:
            self._do(best[1], now)
            return True
        return self._fill_in(now)

    def _do(self, chain: _Chain, now: int) -> None:
        i, row = chain.queue[0]
        kind, d, seconds = row.pop(0)
        self._note(i, kind, now, seconds, d, busy=True)
        self._occupy(now, seconds)
        chain.ready = now + seconds
        melter = self.ground.melters[chain.melter]
        if kind == "stir":
            chain.cooled[d] = now + seconds + melter.cool_s
            self._note(i, "cool", now + seconds, melter.cool_s, d, busy=False)
        if kind == "pour":
            for k, q in self._needs(i, d):
                self.wicked[k] -= q
            if not any(later == "pour" for later, _, _ in row):
                chain.cold_from[-1] = chain.ready
        if not row:
            chain.queue.pop(0)

    def _fill_in(self, now: int) -> bool:
        """Prepare or finish as many vessels as fit before the next step calls, one at least."""
        goods = self.ground.goods
        call = self._next_moment(now)
        for kind, k, most in self._fillers():
            each = goods[k].prep_s if kind == "prep" else goods[k].finish_s
            fits = most if call is None else (call - now) // each
            if not fits and not self.patient:
                fits = 1
            fits = min(fits, most)
            if not fits:
                continue
            if kind == "prep":
                self.wicked[k] = self.wicked.get(k, 0) + fits
                self.prep[k] -= fits
            else:
                self.finish[k] -= fits
            self.tasks.append(
                Step(
                    kind=kind, start_s=self.base + now, end_s=self.base + now + fits * each,
                    busy=True, what=goods[k].key, quantity=fits,
                )
            )  # fmt: skip
            self._occupy(now, fits * each)
            return True
        return False

    def _fillers(self) -> Iterator[tuple[StepKind, int, int]]:
        """Yield work for a wait, wicks that a melt under way lacks first: kind, product, most."""
        for k in sorted(self.prep):
            short = min(self.prep[k], self._short(k))
            if short:
                yield "prep", k, short
        for k in sorted(self.finish):
            if self.finish[k]:
                yield "finish", k, self.finish[k]
        for k in sorted(self.prep):
            if self.prep[k]:
                yield "prep", k, self.prep[k]

    def _short(self, k: int) -> int:
        """Return how many wicked vessels of a product this session's melts still lack."""
        needed = 0
        for chain in self.chains:
            for i, row in chain.queue:
                for kind, d, _ in row:
                    if kind == "pour":
                        needed += sum(q for n, q in self.batches[i][1][d][1] if n == k)
        return max(0, needed - self.wicked.get(k, 0))

    def _next_moment(self, now: int) -> int | None:
        """Return the next moment after now at which something can change."""
        moments = [person for person in self.people if person > now]
        for chain in self.chains:
            if chain.queue:
                moment = self._moment(chain)
                if moment is not None and moment > now:
                    moments.append(moment)
        return min(moments, default=None)

    def _occupy(self, now: int, seconds: int) -> None:
        self.people[self.people.index(min(self.people))] = now + seconds

    def _note(self, i: int, kind: StepKind, at: int, seconds: int, d: int, *, busy: bool) -> None:
        if not seconds and kind not in ("melt", "pour"):
            return
        m, draws = self.batches[i]
        formula = draws[d][0] if d >= 0 else draws[0][0]
        whole = d < 0 and bool(self.ground.melters[m].pitchers)
        count = sum(q for _, q in draws[d][1]) if kind == "pour" else 0
        self.steps[i].append(
            Step(
                kind=kind, start_s=self.base + at, end_s=self.base + at + seconds, busy=busy,
                what="" if whole else self.ground.problem.formulas[formula].key, quantity=count,
            )
        )  # fmt: skip


def _joined(tasks: Sequence[Step]) -> list[Step]:
    """Join pieces of the same work that follow each other."""
    joined: list[Step] = []
    for step in sorted(tasks, key=lambda t: (t.start_s, t.end_s)):
        before = joined[-1] if joined else None
        same = before is not None and (before.kind, before.what, before.end_s) == (
            step.kind, step.what, step.start_s
        )  # fmt: skip
        if before is not None and same:
            joined[-1] = Step(
                kind=before.kind, start_s=before.start_s, end_s=step.end_s, busy=True,
                what=before.what, quantity=before.quantity + step.quantity,
            )  # fmt: skip
        else:
            joined.append(step)
    return joined
