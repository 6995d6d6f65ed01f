"""
Closing a pour: what really went in, what came of it, and how the one is shared over the other.

One transaction under locks. Inputs go from the store to the place *worked up*; what came of them
goes from there to shelf, store or scrap with all of their value (see
``docs/decisions/0003-cost-of-a-pour.md``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from pourwright.core import amounts
from pourwright.core.costing import labour_minor100, overhead_minor100, take_value
from pourwright.core.errors import BadInput
from pourwright.core.shares import split_exactly
from pourwright.workshop.designs.services import cure_days
from pourwright.workshop.formulas.services import core_formula, newest_version
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours import planning
from pourwright.workshop.pours.allocation import (
    Portion,
    add_up,
    by_lot,
    by_part,
    loss_apart,
    share_out,
)
from pourwright.workshop.pours.models import Filling, LotCost, Pitcher, Pour, PourState, Take, Use
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores.ledger import Step
from pourwright.workshop.stores.models import (
    Balance,
    Entry,
    EntryKind,
    Item,
    Kind,
    Lot,
    LotSource,
    Measure,
    Origin,
    Place,
    WaxFacts,
)
from pourwright.workshop.stores.services import new_lot

# More than this above what went in is a slip of the pen, not of the scale.
# Common practice, no source.
MOST_OVER = Fraction(102, 100)

PART_OF = {
    Use.WAX: "wax",
    Use.OIL: "fragrance",
    Use.EXTRA: "additives",
    Use.REMELT: "wax",
}
PIECE_PART = {Kind.VESSEL: "vessel", Kind.WICK: "wick"}


class CannotClose(BadInput):
    """What is said to have come of a pour does not fit what went in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of one filling: pieces, and their average fill weight in mg where it was taken."""

    good: int
    seconds: int = 0
    scrapped: int = 0
    fill_mg: int | None = None

    @property
    def poured(self) -> int:
        return self.good + self.seconds + self.scrapped


@dataclass(slots=True, kw_only=True)
class Used:
    """So much that a take really took of its lot, and what it is worth."""

    take: Take
    lot: Lot
    qty: int
    value: int = 0


@dataclass(slots=True, kw_only=True)
class Made:
    """A lot that comes of the pour, before and after it is written."""

    item: Item
    origin: str
    place: str
    qty: int
    portions: list[Portion]
    parts: dict[str, int]
    scrapped: int = 0
    filling: Filling | None = None
    pitcher: Pitcher | None = None
    pieces: int = 0
    lot: Lot | None = None
    note: str = ""
    work: dict[str, int] = field(default_factory=dict)

    @property
    def value(self) -> int:
        return sum(self.parts.values())


def close(
    pour: Pour,
    *,
    outcomes: Mapping[int, Outcome],
    left: Mapping[int, int],
    left_plain_mg: int,
    minutes: Decimal | None,
    on: date,
    at: datetime,
    workshop: Workshop,
    client_id: UUID | None,
) -> Entry:
    """Close a locked, open pour; see ``services.close``."""
    pitchers = list(pour.pitchers.select_related("formula_version__formula__mix"))
    fillings = list(
        Filling.objects.filter(pitcher__pour=pour).select_related(
            "design_version__design__candle",
            "design_version__vessel",
            "design_version__wick",
            "design_version__formula_version",
            "pitcher",
            "lot",
            "seconds_lot",
        )
    )
    takes = list(pour.takes.select_related("item", "lot__item"))
    bench = _Bench(pitchers, fillings, takes, outcomes, left, left_plain_mg)
    bench.check()
    used = bench.used() + _pieces_used(pour, fillings, takes, outcomes)
    _value(used)
    made = _made(bench, used)
    _add_work(made, fillings, outcomes, minutes=minutes, workshop=workshop)
    _name_lots(made, used, on=on, workshop=workshop)
    entry = ledger.post(
        kind=EntryKind.POUR, on=on, at=at, client_id=client_id, steps=_steps(used, made)
    )
    _record(pour, entry, made, bench, minutes=minutes, on=on, at=at)
    _record_pieces(takes, used)
    return entry


# --- what went in --------------------------------------------------------------------------------


class _Bench:
    """What the bench says went in and came out, pitcher by pitcher."""

    def __init__(
        self,
        pitchers: Sequence[Pitcher],
        fillings: Sequence[Filling],
        takes: Sequence[Take],
        outcomes: Mapping[int, Outcome],
        left: Mapping[int, int],
        left_plain_mg: int,
    ) -> None:
        self.pitchers = pitchers
        self.fillings = {
            pitcher.pk: [filling for filling in fillings if filling.pitcher_id == pitcher.pk]
            for pitcher in pitchers
        }
        self.takes = [take for take in takes if take.use != Use.PIECE]
        self.outcomes = outcomes
        self.left = {pitcher.pk: left.get(pitcher.pk, 0) for pitcher in pitchers}
        self.left_plain_mg = left_plain_mg
        self.unknown = [pk for pk in left if pk not in self.left]

    def outcome(self, filling: Filling) -> Outcome:
        return self.outcomes[filling.pk]

    def fill_mg(self, filling: Filling) -> int:
        """Return the fill as weighed, else as designed."""
        return self.outcome(filling).fill_mg or filling.design_version.fill_mg

    def out_mg(self, pitcher: Pitcher) -> int:
        """Return the mix that came out of a pitcher in candles of any kind, and what is left."""
        poured = sum(
            self.outcome(filling).poured * self.fill_mg(filling)
            for filling in self.fillings[pitcher.pk]
        )
        return poured + self.left[pitcher.pk]

    def started(self, pitcher: Pitcher) -> bool:
        """Return whether anything was weighed into a pitcher, or came out of it."""
        return bool(
            self.out_mg(pitcher)
            or pitcher.wax_drawn_mg
            or any(take.actual for take in self.takes if take.pitcher_id == pitcher.pk)
        )

    def qty(self, take: Take) -> int:
        """
        Return what a take took: as weighed; unweighed, its target where something came of it.
        """
        if take.actual is not None:
            return take.actual
        if take.pitcher_id is None:
            something = self.left_plain_mg or any(self.out_mg(p) for p in self.pitchers)
        else:
            something = next(self.out_mg(p) for p in self.pitchers if p.pk == take.pitcher_id)
        return take.target if something else 0

    @property
    def wax_mg(self) -> int:
        return sum(self.qty(take) for take in self.takes if take.use == Use.WAX)

    def wax_shares(self) -> list[int]:
        """Return the wax of each pitcher and the plain wax left, as weights for sharing."""
        drawn = [pitcher.wax_drawn_mg for pitcher in self.pitchers]
        planned = [
            pitcher.wax_mg if self.started(pitcher) and pitcher.wax_drawn_mg is None else 0
            for pitcher in self.pitchers
        ]
        rest = max(self.wax_mg - self.left_plain_mg - sum(mg or 0 for mg in drawn), 0)
        scaled = split_exactly(rest, planned) if any(planned) else [0] * len(planned)
        return [scaled[place] if mg is None else mg for place, mg in enumerate(drawn)] + [
            self.left_plain_mg
        ]

    def used(self) -> list[Used]:
        found = []
        for take in self.takes:
            qty = self.qty(take)
            if not qty:
                continue
            if take.lot is None:
                raise CannotClose(
                    f"{take.item.name} was planned without a lot; say which lot it came from."
                )
            found.append(Used(take=take, lot=take.lot, qty=qty))
        return found

    def check(self) -> None:
        """Refuse what cannot be: a filling without an outcome, more out than in, an unsafe mix."""
        if self.unknown:
            raise CannotClose("Mix is said to be left in a pitcher of another pour.")
        for fillings in self.fillings.values():
            for filling in fillings:
                self._check_outcome(filling)
        if self.left_plain_mg < 0 or any(mg < 0 for mg in self.left.values()):
            raise CannotClose("What is left over is nothing or more.")
        if not any(self.qty(take) for take in self.takes):
            raise CannotClose(
                "Nothing was weighed and nothing came of it; abandon the pour instead, and the "
                "stores stay as they are."
            )
        shares = self.wax_shares()
        if sum(shares) > self.wax_mg * MOST_OVER:
            raise CannotClose(
                f"{_g(sum(shares))} of plain wax are said to be drawn off or left, but "
                f"{_g(self.wax_mg)} were melted; check both."
            )
        for pitcher, wax_mg in zip(self.pitchers, shares, strict=False):
            self._check_mass(pitcher, wax_mg)
            self._check_safety(pitcher, wax_mg)

    def _check_outcome(self, filling: Filling) -> None:
        name = filling.design_version.design.name
        outcome = self.outcomes.get(filling.pk)
        if outcome is None:
            raise CannotClose(f"Say how many of {name} were poured, good, seconds and scrapped.")
        if min(outcome.good, outcome.seconds, outcome.scrapped) < 0:
            raise CannotClose(f"{name}: a number of candles is nothing or more.")
        if outcome.fill_mg is not None and outcome.fill_mg <= 0:
            raise CannotClose(f"{name}: the average fill is more than nothing.")

    def mix_in_mg(self, pitcher: Pitcher, wax_mg: int) -> int:
        return wax_mg + sum(self.qty(t) for t in self.takes if t.pitcher_id == pitcher.pk)

    def _check_mass(self, pitcher: Pitcher, wax_mg: int) -> None:
        went_in, came_out = self.mix_in_mg(pitcher, wax_mg), self.out_mg(pitcher)
        if came_out > went_in * MOST_OVER:
            raise CannotClose(
                f"{_g(came_out)} are said to have come out of {called(pitcher)}, but "
                f"{_g(went_in)} went in; check the numbers, the average fill and what is left."
            )

    def _check_safety(self, pitcher: Pitcher, wax_mg: int) -> None:
        """Never past an oil's safety limit: what is over it may only be thrown away."""
        keeps = self.left[pitcher.pk] or any(
            self.outcome(filling).good or self.outcome(filling).seconds
            for filling in self.fillings[pitcher.pk]
        )
        if not keeps:
            return
        weighed = [(t, self.qty(t)) for t in self.takes if t.pitcher_id == pitcher.pk]
        over = oils_over_limit(weighed, wax_mg=wax_mg)
        if over:
            raise CannotClose(
                f"{' '.join(over)} Nothing of {called(pitcher)} can be kept: enter its candles as "
                "scrapped and nothing as left over. If a weight was mistyped, correct it first."
            )


def called(pitcher: Pitcher) -> str:
    if pitcher.formula_version is None:
        return f"pitcher {pitcher.position}, plain wax,"
    return f"pitcher {pitcher.position}, {pitcher.formula_version.formula.name},"


def _g(mg: int) -> str:
    grams = amounts.from_mg(mg)
    return f"{amounts.show_mass(grams, 'metric')} ({amounts.show_mass(grams, 'us')})"


def oils_over_limit(weighed: Sequence[tuple[Take, int]], *, wax_mg: int) -> list[str]:
    """Return a sentence for each oil above its safety limit in a pitcher's mix as weighed."""
    whole = wax_mg + sum(qty for _, qty in weighed)
    if not whole:
        return []
    oils: dict[int, Fraction] = defaultdict(Fraction)
    items: dict[int, Item] = {}
    for take, qty in weighed:
        if take.use == Use.OIL:
            oils[take.item_id] += qty
            items[take.item_id] = take.item
        elif take.use == Use.REMELT and take.lot is not None:
            for item, share in oils_in(take.lot).values():
                oils[item.pk] += qty * share
                items[item.pk] = item
    found = []
    for pk, mg in oils.items():
        limit = getattr(getattr(items[pk], "oil", None), "max_pct_of_whole", None)
        if limit is not None and 100 * mg > Fraction(limit) * whole:
            found.append(
                f"{items[pk].name} is {amounts.show_percent(100 * mg / whole, places=3)} of the "
                f"mix as weighed; its safety limit is "
                f"{amounts.show_percent(Fraction(limit), places=3)}."
            )
    return found


def oils_in(mix: Lot, *, depth: int = 8) -> dict[int, tuple[Item, Fraction]]:
    """
    Return the oils in a lot of mix, by item, as shares of its mass; from what really went into it.

    A lot from before the books has no record: it is taken to be of its formula's newest version.
    """
    sources = list(
        LotSource.objects.filter(child=mix, entry__undone_by__isnull=True).select_related(
            "parent__item__oil"
        )
    )
    whole = sum(source.qty for source in sources if source.parent.item.by_mass)
    if not whole or depth == 0:
        return _oils_by_formula(mix)
    found: dict[int, tuple[Item, Fraction]] = {}
    for source in sources:
        item, share = source.parent.item, Fraction(source.qty, whole)
        if item.kind == Kind.OIL:
            found[item.pk] = (item, found.get(item.pk, (item, Fraction(0)))[1] + share)
        elif item.kind == Kind.MIX:
            for pk, (oil, part) in oils_in(source.parent, depth=depth - 1).items():
                found[pk] = (oil, found.get(pk, (oil, Fraction(0)))[1] + share * part)
    return found


def _oils_by_formula(mix: Lot) -> dict[int, tuple[Item, Fraction]]:
    version = newest_version(mix.item.formula)
    if version is None:
        return {}
    formula = core_formula(version)
    parts = version.oils.select_related("item__oil")
    return {
        part.item_id: (part.item, formula.load_pct_of_whole * fraction / 100)
        for part, fraction in zip(parts, formula.oil_fractions, strict=True)
    }


def _pieces_used(
    pour: Pour,
    fillings: Sequence[Filling],
    takes: Sequence[Take],
    outcomes: Mapping[int, Outcome],
) -> list[Used]:
    """
    Return the vessels, wicks and parts that were used: as counted, else by what was poured.

    More than was planned comes from the oldest lots that have it.
    """
    pieces = [take for take in takes if take.use == Use.PIECE]
    stock = planning.Stock.for_items(
        {take.item for take in pieces}, states=(PourState.OPEN,), without=pour.pk
    )
    found = []
    for filling in fillings:
        poured = outcomes[filling.pk].poured
        for item, each in planning.pieces_each(filling.design_version):
            own = [t for t in pieces if t.filling_id == filling.pk and t.item_id == item.pk]
            counted = sum(take.actual for take in own if take.actual is not None)
            rest = max(poured * each - counted, 0)
            for take in own:
                qty = take.actual
                if qty is None:
                    qty = min(rest, take.target)
                    rest -= qty
                if qty and take.lot is not None:
                    stock.give(take.lot, qty)
                    found.append(Used(take=take, lot=take.lot, qty=qty))
            if rest and not (own and all(take.actual is not None for take in own)):
                found += _more_pieces(pour, filling, item, rest, stock)
    return found


def _more_pieces(
    pour: Pour, filling: Filling, item: Item, rest: int, stock: planning.Stock
) -> list[Used]:
    drawn = stock.draw(item, rest, division_mg=1)
    lacking = rest - sum(qty for _, qty in drawn)
    if lacking:
        raise CannotClose(
            f"More of {filling.design_version.design.name} were poured than planned, and the store "
            f"lacks {lacking:,} of {item.name} for them; correct the number or the count first."
        )
    return [
        Used(
            take=Take(
                pour=pour,
                pitcher=filling.pitcher,
                filling=filling,
                use=Use.PIECE,
                item=item,
                lot=lot,
                position=900,
                target=0,
            ),
            lot=lot,
            qty=qty,
        )
        for lot, qty in drawn
    ]


def _value(used: Sequence[Used]) -> None:
    """Lock the lots and give each use its share of their value, one after the other."""
    pks = sorted({one.lot.pk for one in used})
    list(Lot.objects.select_for_update().filter(pk__in=pks).order_by("pk").values_list("pk"))
    there = {
        balance.lot_id: [balance.qty, balance.value]
        for balance in Balance.objects.filter(lot__in=pks, place=Place.STORE)
    }
    for one in used:
        held = there.get(one.lot.pk, [0, 0])
        if one.qty > held[0]:
            raise ledger.Overdrawn(
                f"{_qty(one.lot.item, one.qty)} were taken of {one.lot.item.name}, lot "
                f"{one.lot.code}, but the store holds {_qty(one.lot.item, held[0])} of it by the "
                "books. Correct the weight, take another lot, or correct the count first."
            )
        one.value = take_value(held[0], held[1], one.qty)
        held[0] -= one.qty
        held[1] -= one.value


def _qty(item: Item, qty: int) -> str:
    return _g(qty) if item.by_mass else f"{qty:,}"


# --- what came of it -----------------------------------------------------------------------------


def _portion(one: Used) -> Portion:
    return Portion(lot=one.lot.pk, qty=one.qty, parts=_parts_of(one))


def _parts_of(one: Used) -> tuple[tuple[str, int], ...]:
    """Return what a use is worth, by part; mix melted again brings the parts it was made of."""
    if one.take.use == Use.PIECE:
        return ((PIECE_PART.get(one.take.item.kind, "wick"), one.value),)
    if one.take.use == Use.REMELT:
        costs = [(cost.component, cost.value) for cost in one.lot.costs.order_by("component")]
        if any(value for _, value in costs):
            split = split_exactly(one.value, [value for _, value in costs])
            return tuple(
                (part, value) for (part, _), value in zip(costs, split, strict=True) if value
            )
    return ((PART_OF[one.take.use], one.value),)


def _made(bench: _Bench, used: Sequence[Used]) -> list[Made]:
    """Share everything that was used over the lots that came of it."""
    wax = [_portion(one) for one in used if one.take.use == Use.WAX]
    shares = bench.wax_shares()
    if not any(shares):
        # Wax was melted and nothing drawn off: it all went with the first pitcher's waste.
        shares[0] = 1
    *by_pitcher, plain = share_out(wax, shares)
    made = []
    for pitcher, drawn in zip(bench.pitchers, by_pitcher, strict=True):
        own = [
            _portion(one)
            for one in used
            if one.take.pitcher_id == pitcher.pk and one.take.use != Use.PIECE
        ]
        pieces = {
            filling.pk: [_portion(one) for one in used if one.take.filling_id == filling.pk]
            for filling in bench.fillings[pitcher.pk]
        }
        made += _of_pitcher(bench, pitcher, drawn + own, pieces)
    if bench.left_plain_mg:
        made.append(_left_plain(bench, plain, used))
    return made


def _of_pitcher(
    bench: _Bench,
    pitcher: Pitcher,
    mix: list[Portion],
    pieces: Mapping[int, list[Portion]],
) -> list[Made]:
    fillings = bench.fillings[pitcher.pk]
    weights: list[int] = []
    for filling in fillings:
        outcome, fill = bench.outcome(filling), bench.fill_mg(filling)
        weights += [outcome.good * fill, outcome.seconds * fill, outcome.scrapped * fill]
    weights.append(bench.left[pitcher.pk])
    if not any(weights):
        return [_waste(pitcher, mix)] if mix else []
    *by_filling, left = share_out(mix, weights)
    made = []
    for place, filling in enumerate(fillings):
        made += _of_filling(
            filling,
            bench.outcome(filling),
            fill_mg=bench.fill_mg(filling),
            mixes=by_filling[3 * place : 3 * place + 3],
            pieces=pieces[filling.pk],
        )
    if bench.left[pitcher.pk]:
        made.append(_left_mix(pitcher, left, bench.left[pitcher.pk]))
    return made


def _of_filling(
    filling: Filling,
    outcome: Outcome,
    *,
    fill_mg: int,
    mixes: Sequence[list[Portion]],
    pieces: list[Portion],
) -> list[Made]:
    """Return the good lot and the seconds; scrapped candles are a loss that the good ones bear."""
    if not outcome.poured:
        return []
    counts = [outcome.good, outcome.seconds, outcome.scrapped]
    things = share_out(pieces, counts)
    bearer = next((place for place in (0, 1, 2) if counts[place]), 0)
    made = []
    for place, origin in ((0, Origin.POUR), (1, Origin.SECONDS), (2, Origin.POUR)):
        scrap_only = place == 2
        if not counts[place] or (scrap_only and bearer != 2):
            continue
        scrapped = outcome.scrapped if place == bearer else 0
        mix, piece = list(mixes[place]), list(things[place])
        if place == bearer and not scrap_only:
            mix, piece = mix + mixes[2], piece + things[2]
        good = 0 if scrap_only else counts[place]
        parts = _with_loss(mix, piece, own_mg=counts[place] * fill_mg, own=counts[place],
                           all_of_them=counts[place] + (0 if scrap_only else scrapped))  # fmt: skip
        made.append(
            Made(
                item=filling.design_version.design.candle,
                origin=origin,
                place=Place.SCRAP if scrap_only else Place.SHELF,
                qty=outcome.scrapped if scrap_only else good,
                portions=mix + piece,
                parts=parts,
                scrapped=0 if scrap_only else scrapped,
                filling=filling,
                pieces=counts[place] + (0 if scrap_only else scrapped),
                note="all scrapped" if scrap_only else "",
            )
        )
    return made


def _with_loss(
    mix: list[Portion], pieces: list[Portion], *, own_mg: int, own: int, all_of_them: int
) -> dict[str, int]:
    given = sum(portion.qty for portion in mix)
    kept = Fraction(own_mg, given) if given else Fraction(1)
    return add_up(
        loss_apart(by_part(mix), kept=kept),
        loss_apart(by_part(pieces), kept=Fraction(own, all_of_them)),
    )


def _left_mix(pitcher: Pitcher, portions: list[Portion], left_mg: int) -> Made:
    item, origin = _mix_item(pitcher)
    return Made(
        item=item,
        origin=origin,
        place=Place.STORE,
        qty=left_mg,
        portions=portions,
        parts=_with_loss(portions, [], own_mg=left_mg, own=1, all_of_them=1),
        pitcher=pitcher,
    )


def _waste(pitcher: Pitcher, portions: list[Portion]) -> Made:
    """Return the mix of a pitcher that came to nothing: a lot that goes to scrap at once."""
    item, origin = _mix_item(pitcher)
    return Made(
        item=item,
        origin=origin,
        place=Place.SCRAP,
        qty=sum(portion.qty for portion in portions),
        portions=portions,
        parts=by_part(portions),
        note="thrown away",
    )


def _mix_item(pitcher: Pitcher) -> tuple[Item, str]:
    if pitcher.formula_version is not None and pitcher.formula_version.oils.exists():
        return pitcher.formula_version.formula.mix, Origin.LEFT_MIX
    version = pitcher.formula_version or pitcher.fillings.first().design_version.formula_version
    if version.extras.exists() and pitcher.formula_version is not None:
        return pitcher.formula_version.formula.mix, Origin.LEFT_MIX
    return plain_item(pitcher), Origin.LEFT_PLAIN


def _left_plain(bench: _Bench, portions: list[Portion], used: Sequence[Used]) -> Made:
    return Made(
        item=plain_item(bench.pitchers[0]),
        origin=Origin.LEFT_PLAIN,
        place=Place.STORE,
        qty=bench.left_plain_mg,
        portions=portions,
        parts=_with_loss(portions, [], own_mg=bench.left_plain_mg, own=1, all_of_them=1),
    )


def plain_item(pitcher: Pitcher) -> Item:
    """
    Return the item that the melt's plain wax is kept as: the wax itself, or an item for the blend.

    A blend is never put back as one of its waxes: it would then be taken for pure.
    """
    version = pitcher.formula_version or pitcher.fillings.first().design_version.formula_version
    blend = planning.waxes_of(version)
    if len(blend) == 1:
        return next(iter(blend.values()))[0]
    name = planning.blend_name(blend.values())
    item, new = Item.objects.get_or_create(
        kind=Kind.WAX, name=name, defaults={"measure": Measure.MASS}
    )
    if new:
        WaxFacts.objects.create(item=item, figures_from="a blend: see the waxes in it")
    return item


# --- labour and overhead -------------------------------------------------------------------------


def _add_work(
    made: Sequence[Made],
    fillings: Sequence[Filling],
    outcomes: Mapping[int, Outcome],
    *,
    minutes: Decimal | None,
    workshop: Workshop,
) -> None:
    """Put labour on the candles by their minutes, and overhead on what they then cost."""
    candles = [one for one in made if one.filling is not None]
    if not candles:
        return
    each = [Fraction(one.filling.design_version.minutes_each) * one.pieces for one in candles]
    worked = Fraction(minutes) if minutes is not None else sum(each, Fraction(0))
    labour = labour_minor100(minutes=worked, rate_minor100_per_hour=workshop.labour_rate_minor100)
    weights = each if any(each) else [one.pieces for one in candles]
    for one, share in zip(candles, split_exactly(labour, weights), strict=True):
        overhead = 0
        if one.place != Place.SCRAP:
            overhead = overhead_minor100(
                base_minor100=one.value + share, overhead_pct=workshop.overhead_pct
            )
        one.work = {
            part: value for part, value in (("labour", share), ("overhead", overhead)) if value
        }


# --- writing -------------------------------------------------------------------------------------

# Lots are numbered in one order by everybody, so that two closings never wait for each other.
_ORDER = {Kind.CANDLE: 0, Kind.MIX: 1, Kind.WAX: 2}


def _name_lots(made: list[Made], used: Sequence[Used], *, on: date, workshop: Workshop) -> None:
    expiry = {one.lot.pk: one.lot.best_before for one in used}
    made.sort(key=lambda one: _ORDER[one.item.kind])
    for one in made:
        facts = {"note": one.note, "best_before": None, "ready_on": None}
        if one.filling is None:
            dates = [expiry[portion.lot] for portion in one.portions if expiry[portion.lot]]
            facts["best_before"] = min(dates, default=None)
        else:
            version = one.filling.design_version
            facts["ready_on"] = planning.days_after(on, cure_days(version, workshop))
            facts["best_before"] = planning.months_after(on, version.best_before_months)
        kept = _lot_before(one)
        if kept is None:
            one.lot = new_lot(one.item, origin=one.origin, began_on=on, **facts)
        else:
            for name, value in {"began_on": on, "origin": one.origin, **facts}.items():
                setattr(kept, name, value)
            kept.save()
            one.lot = kept


def _lot_before(one: Made) -> Lot | None:
    """Return the lot that an earlier closing, since undone, gave its number to: labels bear it."""
    if one.filling is not None:
        return one.filling.seconds_lot if one.origin == Origin.SECONDS else one.filling.lot
    return one.pitcher.left_lot if one.pitcher is not None else None


def _steps(used: Sequence[Used], made: Sequence[Made]) -> list[Step]:
    steps = [
        Step(lot=one.lot, from_place=Place.STORE, to_place=Place.MADE, qty=one.qty, value=one.value)
        for one in used
    ]
    for one in made:
        steps.append(
            Step(
                lot=one.lot,
                from_place=Place.MADE,
                to_place=one.place,
                qty=one.qty,
                value=one.value,
            )
        )
        if one.scrapped:
            steps.append(
                Step(
                    lot=one.lot,
                    from_place=Place.MADE,
                    to_place=Place.SCRAP,
                    qty=one.scrapped,
                    value=0,
                )
            )
        steps += [
            Step(lot=one.lot, from_place=Place.WORK, to_place=one.place, qty=0, value=value)
            for value in one.work.values()
        ]
    return steps


def _record_pieces(takes: Sequence[Take], used: Sequence[Used]) -> None:
    """Keep how many vessels, wicks and parts were used, beside how many were planned."""
    counted = {take: 0 for take in takes if take.use == Use.PIECE}
    for one in used:
        if one.take.use == Use.PIECE and one.take.pk:
            counted[one.take] += one.qty
        elif one.take.use == Use.PIECE:
            one.take.actual = one.qty
            one.take.save()
    for take, qty in counted.items():
        take.actual = qty
    Take.objects.bulk_update(counted, ["actual"])


def _record(
    pour: Pour,
    entry: Entry,
    made: Sequence[Made],
    bench: _Bench,
    *,
    minutes: Decimal | None,
    on: date,
    at: datetime,
) -> None:
    LotSource.objects.bulk_create(
        LotSource(entry=entry, parent_id=parent, child=one.lot, qty=qty, value=value)
        for one in made
        for parent, (qty, value) in by_lot(one.portions).items()
    )
    LotCost.objects.filter(lot__in=[one.lot for one in made]).delete()
    LotCost.objects.bulk_create(
        LotCost(lot=one.lot, component=part, value=value)
        for one in made
        for part, value in add_up(one.parts, one.work).items()
        if value
    )
    for one in made:
        if one.filling is not None and one.origin == Origin.SECONDS:
            one.filling.seconds_lot = one.lot
        elif one.filling is not None:
            one.filling.lot = one.lot
        elif one.pitcher is not None:
            one.pitcher.left_lot = one.lot
    for pitcher in bench.pitchers:
        pitcher.left_mg = bench.left[pitcher.pk]
        pitcher.save(update_fields=["left_mg", "left_lot"])
        for filling in bench.fillings[pitcher.pk]:
            outcome = bench.outcome(filling)
            filling.good, filling.seconds = outcome.good, outcome.seconds
            filling.scrapped, filling.fill_mg = outcome.scrapped, outcome.fill_mg
            filling.save()
    pour.state, pour.entry, pour.closed_at = PourState.CLOSED, entry, at
    pour.on, pour.minutes = on, minutes
    pour.save()
