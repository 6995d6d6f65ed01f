"""
A plan in the making: what is poured, by session and melter; and the judge of what it is worth.

A draft holds vessels by (session, melter, group), a group being what may share a melt (a formula,
or a wax where it is drawn off). The judge splits groups into melts, holds them against every limit,
shares out the labour and sets the clocks. He keeps what he has worked out, since a search asks
about nearly the same draft again and again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pourwright.core.planning.ground import Ground
from pourwright.core.planning.labour import Hands, Shares
from pourwright.core.planning.packing import Draws, pack
from pourwright.core.planning.serving import Poured, Served, serve
from pourwright.core.planning.timetable import (
    Batch,
    Clock,
    busy_s,
    chain_s,
    hot_s,
    schedule,
    take_turns,
)

Cell = tuple[int, int, int]
Items = tuple[tuple[int, int], ...]
Draft = dict[Cell, Items]
"""Vessels by product (rising), by session, melter and group; pinned melts are not in it."""

Key = tuple[int, ...]
MOST_KEPT = 200_000
MOST_SHARINGS = 12


@dataclass(frozen=True, slots=True)
class Verdict:
    """A draft that keeps every limit, its melts by session, and what it is worth."""

    key: Key
    draft: Draft
    batches: tuple[tuple[Batch, ...], ...]
    poured: tuple[Poured, ...]
    served: tuple[Served, ...]
    shares: Shares
    clocks: tuple[Clock, ...]
    late_weight: int
    owed: int
    melts: int
    maker_s: int
    early: int
    cost: int


class Judge:
    """Judges drafts on one ground."""

    def __init__(self, ground: Ground, *, keep: Draft | None = None) -> None:
        """With ``keep``, drafts that differ less from it come before those with fewer melts."""
        self.ground, self.keep = ground, keep
        self.hands = Hands(ground)
        self.turns = take_turns(ground)
        self.pinned: list[tuple[Batch, ...]] = [() for _ in ground.stints]
        for melt in ground.problem.pinned:
            m = ground.melter_place[melt.melter]
            draws: Draws = tuple(
                (
                    ground.formula_place[d.formula],
                    tuple((ground.product_place[p.product], p.quantity) for p in d.pours),
                )
                for d in melt.draws
            )
            self.pinned[ground.stint_place[melt.session]] += ((m, draws),)
        self.why = ""
        self._packs: dict[tuple[int, Items], tuple[Draws, ...] | None] = {}
        self._served: dict[tuple[int, Poured], Served] = {}
        self._clocks: dict[object, Clock | None] = {}
        self._less: dict[tuple[int, tuple[Batch, ...]], int] = {}
        self._busy: dict[tuple[Batch, ...], int] = {}
        self._fits: dict[tuple[int, tuple[Batch, ...]], bool] = {}

    def learn_from(self, other: Judge) -> None:
        """Share what another judge has worked out of the same products and melters."""
        self._packs, self._busy, self._clocks = other._packs, other._busy, other._clocks

    def judge(self, draft: Mapping[Cell, Items], *, beat: Key | None = None) -> Verdict | None:
        """
        Return what a draft is worth; None where it breaks a limit (``why`` says which).

        With ``beat``, None also where it is not better than that.
        """
        batches = self._batches(draft)
        if batches is None:
            return None
        poured, by_session = self._poured(batches)
        served = tuple(self.serve(k, poured[k]) for k in range(len(poured)))
        if not self._materials(by_session) or not self._table(by_session):
            return None
        busy = [self._busy_of(one) for one in batches]
        goods = self.ground.goods
        hands = sum(q * (goods[k].prep_s + goods[k].finish_s) for one in by_session for k, q in one)
        late, owed = sum(x.late_weight for x in served), sum(x.owed for x in served)
        melts, maker = sum(map(len, batches)), sum(busy) + hands
        early = sum(x.early for x in served)
        cost = sum(q * goods[k].cost for one in by_session for k, q in one)
        cost += sum(self.ground.melters[m].melt_cost_minor100 for one in batches for m, _ in one)
        key = self.key(late, owed, melts, maker, early, cost)
        if self.keep is not None:
            key = (*key[:2], self.changes(draft), *key[2:])
        if beat is not None and key >= beat:
            self.why = "no better"
            return None
        for s, one in enumerate(batches):
            if one and not self._session(s, one):
                return None
        found = self._on_the_clock(batches, by_session, busy)
        if found is None:
            return None
        shares, clocks = found
        return Verdict(
            key=key, draft=dict(draft), batches=batches, poured=poured, served=served,
            shares=shares, clocks=clocks, late_weight=late, owed=owed, melts=melts, maker_s=maker,
            early=early, cost=cost,
        )  # fmt: skip

    def key(self, late: int, owed: int, melts: int, maker: int, early: int, cost: int) -> Key:
        """Return what drafts are compared by, least first."""
        worth = self.ground.problem.late_unit_worth_s
        if worth is None:
            return (late, owed, melts, maker, early, cost)
        return (late * worth + maker, owed, melts, early, cost)

    def changes(self, draft: Mapping[Cell, Items]) -> int:
        """Return in how many places (session, melter, product) a draft is not the kept one."""
        was = {(s, m, k): q for (s, m, _), items in (self.keep or {}).items() for k, q in items}
        now = {(s, m, k): q for (s, m, _), items in draft.items() for k, q in items}
        return sum(1 for place in was.keys() | now.keys() if was.get(place) != now.get(place))

    def serve(self, k: int, poured: Poured) -> Served:
        found = self._served.get((k, poured))
        if found is None:
            if len(self._served) > MOST_KEPT:
                self._served.clear()
            found = self._served[k, poured] = serve(self.ground, k, poured)
        return found

    # --- melts -----------------------------------------------------------------------------------

    def melts_of(self, m: int, items: Items) -> tuple[Draws, ...] | None:
        if (m, items) not in self._packs:
            if len(self._packs) > MOST_KEPT:
                self._packs.clear()
            self._packs[m, items] = pack(self.ground, m, items) if items else ()
        return self._packs[m, items]

    def _batches(self, draft: Mapping[Cell, Items]) -> tuple[tuple[Batch, ...], ...] | None:
        batches = list(self.pinned)
        for (s, m, _), items in sorted(draft.items()):
            melts = self.melts_of(m, items)
            if melts is None:
                self.why = "vessels do not split into whole melts"
                return None
            batches[s] += tuple((m, draws) for draws in melts)
        return tuple(batches)

    def _poured(
        self, batches: Iterable[tuple[Batch, ...]]
    ) -> tuple[tuple[Poured, ...], list[Items]]:
        poured: list[list[tuple[int, int]]] = [[] for _ in self.ground.goods]
        by_session: list[Items] = []
        for s, one in enumerate(batches):
            sums: dict[int, int] = {}
            for _, draws in one:
                for _, items in draws:
                    for k, q in items:
                        sums[k] = sums.get(k, 0) + q
            for k, q in sums.items():
                if q:
                    poured[k].append((s, q))
            by_session.append(tuple(sorted(sums.items())))
        return tuple(map(tuple, poured)), by_session

    # --- limits ----------------------------------------------------------------------------------

    def _materials(self, by_session: list[Items]) -> bool:
        ground = self.ground
        used = [0] * len(ground.stuffs)
        for s, items in enumerate(by_session):
            if not items:
                continue
            for k, q in items:
                for i, amount in ground.goods[k].uses:
                    used[i] += q * amount
            for i, stuff in enumerate(ground.stuffs):
                if s < stuff.bound_until and used[i] > stuff.by_session[s]:
                    self.why = f"material {stuff.key} in session {ground.stints[s].key}"
                    return False
        return True

    def _table(self, by_session: list[Items]) -> bool:
        ground = self.ground
        on_table = [0] * len(ground.stints)
        for s, items in enumerate(by_session):
            for k, q in items:
                good = ground.goods[k]
                for t in ground.rests[s][good.setting_s]:
                    on_table[t] += q * good.places
        for s, places in enumerate(on_table):
            if places > ground.places and (by_session[s]):
                self.why = f"the table in session {ground.stints[s].key}"
                return False
        return True

    def _busy_of(self, batches: tuple[Batch, ...]) -> int:
        if batches not in self._busy:
            if len(self._busy) > MOST_KEPT:
                self._busy.clear()
            self._busy[batches] = busy_s(self.ground, batches)
        return self._busy[batches]

    def _session(self, s: int, batches: tuple[Batch, ...]) -> bool:
        known = self._fits.get((s, batches))
        if known is None:
            if len(self._fits) > MOST_KEPT:
                self._fits.clear()
            known = self._fits[s, batches] = self._session_fits(s, batches)
        if not known:
            self.why = f"the time of session {self.ground.stints[s].key}"
        return known

    def _session_fits(self, s: int, batches: tuple[Batch, ...]) -> bool:
        stint = self.ground.stints[s]
        if stint.most_melts is not None and len(batches) > stint.most_melts:
            return False
        for m in sorted({m for m, _ in batches}):
            mine = [b for b in batches if b[0] == m]
            if m not in stint.melters or chain_s(self.ground, mine) > stint.length_s:
                return False
        in_turn = [b for b in batches if b[0] in self.turns]
        if hot_s(self.ground, in_turn) > stint.length_s:
            return False
        return self._busy_of(batches) <= stint.maker_s

    def _on_the_clock(
        self, batches: tuple[tuple[Batch, ...], ...], by_session: list[Items], busy: list[int]
    ) -> tuple[Shares, tuple[Clock, ...]] | None:
        """Share out prep and finishing; a session whose clock cannot hold its share gets less."""
        less = [self._less.get((s, one), 0) for s, one in enumerate(batches)]
        for _ in range(MOST_SHARINGS):
            shares = self.hands.share(by_session, [b + x for b, x in zip(busy, less, strict=True)])
            if shares is None:
                self.why = "hands"
                return None
            clocks, bad = self._set_clocks(batches, by_session, shares)
            if not bad:
                return shares, tuple(clocks)
            for s in bad:
                less[s] += max(600, self.ground.stints[s].maker_s // 20)
                less[s] = min(less[s], self.ground.stints[s].maker_s - busy[s])
                self._less[s, batches[s]] = less[s]
        self.why = "the clock"
        return None

    def _set_clocks(
        self, batches: tuple[tuple[Batch, ...], ...], by_session: list[Items], shares: Shares
    ) -> tuple[list[Clock], list[int]]:
        """Return each session's clock, and the sessions that have none."""
        wicked: dict[int, int] = {}
        clocks, bad = [], []
        for s, one in enumerate(batches):
            ready = tuple((k, wicked[k]) for k, _ in by_session[s] if wicked.get(k))
            clock = self._clock(s, one, ready, shares.prep[s], shares.finish[s])
            if clock is None:
                bad.append(s)
            else:
                clocks.append(clock)
            for k, q in shares.prep[s]:
                wicked[k] = wicked.get(k, 0) + q
            for k, q in by_session[s]:
                if self.ground.goods[k].prep_s:
                    wicked[k] = wicked.get(k, 0) - q
        return clocks, bad

    def _clock(
        self, s: int, batches: tuple[Batch, ...], ready: Items, prep: Items, finish: Items
    ) -> Clock | None:
        stint = self.ground.stints[s]
        asked = (stint.start % 86_400, stint.length_s, stint.people, batches, ready, prep, finish)
        if asked not in self._clocks:
            if len(self._clocks) > MOST_KEPT:
                self._clocks.clear()
            self._clocks[asked] = schedule(
                self.ground, s, batches, ready=ready, prep=prep, finish=finish
            )
        return self._clocks[asked]
