"""
What a pour would take: amounts, lots, whether the stores suffice and the melter fits.

Reads the stores and writes nothing, so that the page can show a plan before it is made. Amounts
come from ``core.formula``; lots are taken oldest first, after what other pours have claimed.
"""

from __future__ import annotations

from calendar import monthrange
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from django.db.models import F, Sum
from django.db.models.functions import Coalesce

from pourwright.core import amounts
from pourwright.core import formula as core
from pourwright.core.errors import BadInput
from pourwright.core.formula import spread
from pourwright.workshop.designs.models import DesignVersion, Stage
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.formulas.services import core_formula
from pourwright.workshop.pours.models import Melter, PourState, Take, Use
from pourwright.workshop.stores.models import Balance, Item, Kind, Lot, Place

# How far a weighing may be off without a word: half a per cent, at least one division of the
# scale. Common practice, no source.
TOLERANCE = Fraction(1, 200)


# What these have planned to take is not free for another.
CLAIMING = (PourState.PLANNED, PourState.OPEN)


class CannotPlan(BadInput):
    """A pour that cannot be made as asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PitcherPlan:
    """
    One pitcher: its formula (``None``: plain wax), what is poured from it, what is melted again.

    ``remelts`` are lots of this formula's mix with milligrams, or of plain wax of the melt's own
    blend.
    """

    formula_version: FormulaVersion | None
    fillings: Sequence[tuple[DesignVersion, int]]
    remelts: Sequence[tuple[Lot, int]] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTake:
    """So much of an item, from a lot; without a lot the store lacks it."""

    use: str
    item: Item
    lot: Lot | None
    target: int
    tolerance: int
    pitcher: int | None = None
    filling: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """What lacks of an item: ``needed`` and ``there`` in milligrams or pieces."""

    item: Item
    needed: int
    there: int

    @property
    def lacking(self) -> int:
        return self.needed - self.there


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPitcher:
    """A pitcher's amounts in milligrams; formula and weighing as the core gives them."""

    plan: PitcherPlan
    formula: core.Formula
    weighing: core.Weighing | None
    wax_mg: int
    mix_mg: int

    @property
    def oil_mg(self) -> int:
        return amounts.to_mg(self.weighing.oil_g) if self.weighing else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheme:
    """The whole plan, before anything is written."""

    pitchers: tuple[PlannedPitcher, ...]
    takes: tuple[PlannedTake, ...]
    shortages: tuple[Shortage, ...]
    warnings: tuple[str, ...]
    wax_mg: int
    extra_wax_mg: int
    loss_pct: Decimal
    division_mg: int

    @property
    def mix_mg(self) -> int:
        return sum(pitcher.mix_mg for pitcher in self.pitchers)


@dataclass(slots=True, kw_only=True)
class _Need:
    """A want, before it is given lots. ``lots`` fixes them (a remelt names its lot)."""

    use: str
    item: Item
    target: int
    pitcher: int | None = None
    filling: int | None = None
    lot: Lot | None = None


def scheme(
    *,
    on: date,
    pitchers: Sequence[PitcherPlan],
    division_mg: int,
    loss_pct: Decimal,
    melter: Melter | None = None,
    extra_wax_mg: int = 0,
    states: Sequence[str] = CLAIMING,
    without: int | None = None,
) -> Scheme:
    """
    Return what the pour takes: amounts, lots, shortages and warnings.

    ``division_mg`` is the scale's; ``loss_pct`` of the mix stays in the pots. What pours in
    ``states`` (all but ``without``) have claimed is not free. Raises ``CannotPlan`` where the
    pitchers cannot share a melt, a core error where a formula is over a limit, and
    ``MelterTooSmall`` where the wax does not fit.
    """
    _check(pitchers, extra_wax_mg=extra_wax_mg)
    blend = one_blend(pitchers)
    warnings: list[str] = []
    planned = [
        _planned_pitcher(plan, loss_pct=loss_pct, division_mg=division_mg, warnings=warnings)
        for plan in pitchers
    ]
    extra = round(Fraction(extra_wax_mg, division_mg)) * division_mg
    wax_mg = sum(pitcher.wax_mg for pitcher in planned) + extra
    _check_melter(melter, planned, wax_mg=wax_mg, warnings=warnings)
    needs = _needs(planned, blend=blend, wax_mg=wax_mg, division_mg=division_mg)
    stock = Stock.for_items([need.item for need in needs], states=states, without=without)
    _check_remelts_are_there(pitchers, stock)
    takes, shortages = stock.allot(needs, division_mg=division_mg)
    warnings += _past_best_before(takes, on=on)
    return Scheme(
        pitchers=tuple(planned),
        takes=tuple(takes),
        shortages=tuple(shortages),
        warnings=tuple(dict.fromkeys(warnings)),
        wax_mg=wax_mg,
        extra_wax_mg=extra,
        loss_pct=Decimal(loss_pct),
        division_mg=division_mg,
    )


# --- what is asked for ---------------------------------------------------------------------------


def _check(pitchers: Sequence[PitcherPlan], *, extra_wax_mg: int) -> None:
    if not pitchers:
        raise CannotPlan("A pour needs at least one pitcher: choose a design and a number.")
    if extra_wax_mg < 0:
        raise CannotPlan("Extra wax in the melt is nothing or more.")
    for plan in pitchers:
        if not plan.fillings:
            raise CannotPlan(
                f"Nothing is poured from {_called(plan)}; choose a design and a number, such as 12."
            )
        for version, number in plan.fillings:
            if number < 1:
                raise CannotPlan(
                    f"{number} of {version.design.name} are asked for; pour one or more."
                )
            _check_scent(plan, version)
        for lot, mg in plan.remelts:
            _check_remelt(plan, lot, mg)


def _called(plan: PitcherPlan) -> str:
    return f"the pitcher of {plan.formula_version}" if plan.formula_version else "the plain pitcher"


def _check_scent(plan: PitcherPlan, version: DesignVersion) -> None:
    """A candle of a design is made of the design's own formula version, and of no other."""
    wanted = version.formula_version
    if plan.formula_version is not None:
        if plan.formula_version.pk != wanted.pk:
            raise CannotPlan(
                f"{version} is designed with {wanted}, but its pitcher holds "
                f"{plan.formula_version}; put it in a pitcher of its own."
            )
        return
    if wanted.oils.exists() or wanted.extras.exists():
        raise CannotPlan(
            f"{version} is designed with {wanted}, which is more than plain wax; "
            "pour it from a pitcher of that formula."
        )


def _check_remelt(plan: PitcherPlan, lot: Lot, mg: int) -> None:
    if mg <= 0:
        raise CannotPlan(f"Lot {lot.code}: say how much of it is melted again, more than nothing.")
    if lot.item.kind == Kind.WAX:
        return  # plain wax; the melt's blend is checked where the wax is counted
    if lot.item.kind != Kind.MIX:
        raise CannotPlan(f"Lot {lot.code} is {lot.item.get_kind_display()}; only mix is remelted.")
    if plan.formula_version is None or lot.item_id != plan.formula_version.formula.mix_id:
        raise CannotPlan(
            f"Lot {lot.code} is {lot.item.name}; it is melted again only into its own formula, "
            f"or the oils in {_called(plan)} would no longer be known."
        )


def _check_remelts_are_there(pitchers: Sequence[PitcherPlan], stock: Stock) -> None:
    for plan in pitchers:
        for lot, mg in plan.remelts:
            free = sum(left for held, left in stock.free[lot.item_id] if held.pk == lot.pk)
            if mg > free:
                raise CannotPlan(
                    f"Lot {lot.code} has {free / 1000:,.1f} g free to melt again and "
                    f"{mg / 1000:,.1f} g are asked for; take less."
                )


Blend = dict[int, tuple[Item, Fraction]]


def _waxes_of(plan: PitcherPlan) -> Blend:
    """Return the pitcher's waxes and their fractions; a plain one's are those of its design."""
    return waxes_of(plan.formula_version or plan.fillings[0][0].formula_version)


def waxes_of(version: FormulaVersion) -> Blend:
    """Return a version's waxes by item, with their fractions, which add up to one."""
    parts = list(version.waxes.select_related("item"))
    whole = sum((Fraction(part.share) for part in parts), Fraction(0))
    if not whole:
        raise CannotPlan(f"{version} names no wax; give it one on its page.")
    return {part.item_id: (part.item, Fraction(part.share) / whole) for part in parts}


def one_blend(pitchers: Sequence[PitcherPlan]) -> Blend:
    first = _waxes_of(pitchers[0])
    for plan in pitchers[1:]:
        other = _waxes_of(plan)
        if {pk: part for pk, (_, part) in other.items()} != {
            pk: part for pk, (_, part) in first.items()
        }:
            raise CannotPlan(
                "One melt has one wax: "
                f"{_called(pitchers[0])} is {blend_words(first.values())}, but {_called(plan)} is "
                f"{blend_words(other.values())}. Make them two pours."
            )
    return first


def blend_words(parts: Iterable[tuple[Item, Fraction]]) -> str:
    """Return a blend in words: ``soy 70 % + beeswax 30 %``; a single wax by its name."""
    parts = list(parts)
    if len(parts) == 1:
        return parts[0][0].name
    return " + ".join(
        f"{item.name} {amounts.show_percent(100 * share, places=1)}" for item, share in parts
    )


# --- amounts -------------------------------------------------------------------------------------


def _planned_pitcher(
    plan: PitcherPlan, *, loss_pct: Decimal, division_mg: int, warnings: list[str]
) -> PlannedPitcher:
    version = plan.formula_version or plan.fillings[0][0].formula_version
    formula = core_formula(version)
    findings = core.refuse_over_limit(
        core.check_limits(formula), override_reason=version.override_reason
    )
    warnings += [finding.message for finding in findings if finding.severity == "warn"]
    batch = core.batch_for_vessels(
        formula,
        fills=[
            core.Fill(count=number, fill_g=amounts.from_mg(design.fill_mg))
            for design, number in plan.fillings
        ],
        loss_pct_of_mix=Fraction(loss_pct),
    )
    again_g = amounts.from_mg(sum(mg for lot, mg in plan.remelts if lot.item.kind == Kind.MIX))
    fresh_g = batch.mix_g - again_g
    weighing = None
    if fresh_g > 0:
        fresh = core.batch_for_wax(formula, wax_g=fresh_g * 100 / formula.mix_pct_of_wax)
        weighing = core.weighing_targets(
            formula,
            fresh,
            division_g=amounts.from_mg(division_mg),
            past_wax_limit=bool(version.override_reason),
        )
        warnings += [finding.message for finding in weighing.findings]
    else:
        warnings.append(
            f"What is melted again covers all that {_called(plan)} needs; nothing fresh is weighed."
        )
    wax_mg = amounts.to_mg(weighing.wax_g) if weighing else 0
    mix_mg = (amounts.to_mg(weighing.mix_g) if weighing else 0) + amounts.to_mg(again_g)
    return PlannedPitcher(
        plan=plan, formula=formula, weighing=weighing, wax_mg=wax_mg, mix_mg=mix_mg
    )


def _check_melter(
    melter: Melter | None, planned: Sequence[PlannedPitcher], *, wax_mg: int, warnings: list[str]
) -> None:
    if melter is None or wax_mg == 0:
        return
    density = planned[0].formula.liquid_density_g_per_ml
    by_volume = melter.capacity_ml if density else None
    if melter.capacity_ml and not density:
        warnings.append(
            f"The volume in {melter.name} cannot be checked: the melted wax's density is not "
            "known. Enter it on the wax's page."
        )
    if melter.capacity_mg is None and by_volume is None:
        return
    pot = core.Melter(
        usable_g=None if melter.capacity_mg is None else amounts.from_mg(melter.capacity_mg),
        usable_ml=None if by_volume is None else Fraction(by_volume),
        liquid_density_g_per_ml=density,
        oil_goes_in="pitcher",
    )
    wax_g = amounts.from_mg(wax_mg)
    pot.refuse_unless_it_fits(wax_g=wax_g, mix_g=wax_g)
    added_mg = sum(pitcher.mix_mg - pitcher.wax_mg for pitcher in planned)
    if added_mg and wax_g + amounts.from_mg(added_mg) > pot.most_g:
        warnings.append(
            f"The wax fits {melter.name}, but not with the oil in it as well: "
            "draw the wax off and add the oil in the pitcher."
        )


def _needs(
    planned: Sequence[PlannedPitcher], *, blend: Blend, wax_mg: int, division_mg: int
) -> list[_Need]:
    """Return everything the pour takes, in the order of the bench."""
    needs: list[_Need] = []
    filling = 0
    for place, pitcher in enumerate(planned):
        for version, number in pitcher.plan.fillings:
            needs += [
                _Need(
                    use=Use.PIECE,
                    item=item,
                    target=each * number,
                    pitcher=place,
                    filling=filling,
                )
                for item, each in pieces_each(version)
            ]
            filling += 1
    needs += _wax_needs(planned, blend=blend, wax_mg=wax_mg, division_mg=division_mg)
    for place, pitcher in enumerate(planned):
        needs += [
            _Need(use=Use.REMELT, item=lot.item, target=mg, pitcher=place, lot=lot)
            for lot, mg in pitcher.plan.remelts
            if lot.item.kind == Kind.MIX
        ]
        if pitcher.weighing is None or pitcher.plan.formula_version is None:
            continue
        version = pitcher.plan.formula_version
        for use, parts, targets in (
            (Use.EXTRA, version.extras, pitcher.weighing.extras),
            (Use.OIL, version.oils, pitcher.weighing.oils),
        ):
            needs += [
                _Need(use=use, item=part.item, target=amounts.to_mg(target.weigh_g), pitcher=place)
                for part, target in zip(parts.select_related("item"), targets, strict=True)
                if target.weigh_g
            ]
    return needs


def _wax_needs(
    planned: Sequence[PlannedPitcher], *, blend: Blend, wax_mg: int, division_mg: int
) -> list[_Need]:
    """Return the melt's wax: plain lots named for remelting first, the rest by the blend."""
    needs = []
    for pitcher in planned:
        for lot, mg in pitcher.plan.remelts:
            if lot.item.kind != Kind.WAX:
                continue
            if not (set(blend) == {lot.item_id} or lot.item.name == blend_name(blend.values())):
                raise CannotPlan(
                    f"Lot {lot.code} is {lot.item.name}, but the melt is "
                    f"{blend_words(blend.values())}; it does not go into it."
                )
            needs.append(_Need(use=Use.WAX, item=lot.item, target=mg, lot=lot))
    rest = max(wax_mg - sum(need.target for need in needs), 0)
    divisions = [rest * share / division_mg for _, share in blend.values()]
    for (item, _), count in zip(
        blend.values(), spread(divisions, total=round(Fraction(rest, division_mg))), strict=True
    ):
        if count:
            needs.append(_Need(use=Use.WAX, item=item, target=count * division_mg))
    return needs


def blend_name(parts: Iterable[tuple[Item, Fraction]]) -> str:
    """Return the name under which what is left of a plain blend is kept, at most 120 letters."""
    return f"Blend: {blend_words(parts)}".replace("\u00a0", " ")[:120]


def pieces_each(version: DesignVersion) -> list[tuple[Item, int]]:
    """Return what one candle takes when it is poured: vessel, wicks, and parts of that stage."""
    pieces = [(version.vessel, 1), (version.wick, version.wick_count)]
    parts = version.parts.filter(stage=Stage.POUR).select_related("item")
    return pieces + [(part.item, part.qty) for part in parts]


def tolerance_of(target: int, *, by_mass: bool, division_mg: int) -> int:
    """Return how far a weighing may be off: half a per cent in whole divisions, at least one."""
    if not by_mass:
        return 0
    return max(int(target * TOLERANCE / division_mg), 1) * division_mg


# --- lots ----------------------------------------------------------------------------------------


@dataclass(slots=True)
class Stock:
    """What is free of some items, lot by lot, oldest first; what is given out is taken off."""

    free: dict[int, list[list]] = field(default_factory=lambda: defaultdict(list))

    @classmethod
    def for_items(
        cls,
        items: Iterable[Item],
        *,
        states: Sequence[str] = CLAIMING,
        without: int | None = None,
    ) -> Stock:
        """Read what the store holds, less what pours in these states (but one) have claimed."""
        wanted = {item.pk for item in items}
        claimed = claims(wanted, states=states, without=without)
        stock = cls()
        for balance in (
            Balance.objects.filter(lot__item__in=wanted, place=Place.STORE, qty__gt=0)
            .select_related("lot__item")
            .order_by("lot__began_on", "lot_id")
        ):
            left = balance.qty - claimed.get(balance.lot_id, 0)
            if left > 0:
                stock.free[balance.lot.item_id].append([balance.lot, left])
        return stock

    def allot(
        self, needs: Sequence[_Need], *, division_mg: int
    ) -> tuple[list[PlannedTake], list[Shortage]]:
        """Give each need its lots; return the takes and what lacks of each item."""
        takes: list[PlannedTake] = []
        lacking: dict[int, list] = {}
        for need in needs:
            left = need.target
            for lot, qty in self.draw(need.item, left, lot=need.lot, division_mg=division_mg):
                takes.append(_take(need, lot, qty, division_mg))
                left -= qty
            if left:
                takes.append(_take(need, None, left, division_mg))
            row = lacking.setdefault(need.item.pk, [need.item, 0, 0])
            row[1] += need.target
            row[2] += left
        shortages = [
            Shortage(item=item, needed=needed, there=needed - short)
            for item, needed, short in lacking.values()
            if short
        ]
        return takes, shortages

    def give(self, lot: Lot, qty: int) -> None:
        """Take off what a lot has given elsewhere."""
        for row in self.free[lot.item_id]:
            if row[0].pk == lot.pk:
                row[1] = max(row[1] - qty, 0)

    def draw(
        self, item: Item, wanted: int, *, division_mg: int, lot: Lot | None = None
    ) -> list[tuple[Lot, int]]:
        """
        Take up to ``wanted`` off, oldest first (or from one lot only).

        A lot that is emptied gives whole divisions of the scale; its crumb stays. A lot that holds
        less than the weighing may be off by is left alone, unless all else does not suffice.
        """
        crumb = tolerance_of(wanted, by_mass=item.by_mass, division_mg=division_mg)
        drawn: dict[int, list] = {}
        for least in (crumb, 0):
            for row in self.free[item.pk]:
                if not wanted or (lot is not None and row[0].pk != lot.pk) or row[1] <= least:
                    continue
                qty = min(row[1], wanted)
                if qty < wanted and item.by_mass:
                    qty -= qty % division_mg
                row[1] -= qty
                wanted -= qty
                if qty:
                    drawn.setdefault(row[0].pk, [row[0], 0])[1] += qty
        return [(one, qty) for one, qty in drawn.values()]


def _take(need: _Need, lot: Lot | None, qty: int, division_mg: int) -> PlannedTake:
    return PlannedTake(
        use=need.use,
        item=need.item,
        lot=lot,
        target=qty,
        tolerance=tolerance_of(qty, by_mass=need.item.by_mass, division_mg=division_mg),
        pitcher=None if need.use == Use.WAX else need.pitcher,
        filling=need.filling,
    )


def claims(
    items: Iterable[int], *, states: Sequence[str], without: int | None = None
) -> dict[int, int]:
    """Return what pours in these states have claimed of each lot, by lot."""
    rows = Take.objects.filter(pour__state__in=states, item__in=list(items), lot__isnull=False)
    if without is not None:
        rows = rows.exclude(pour=without)
    return dict(
        rows.order_by().values_list("lot").annotate(claimed=Sum(Coalesce(F("actual"), F("target"))))
    )


def _past_best_before(takes: Sequence[PlannedTake], *, on: date) -> list[str]:
    return [
        f"Lot {take.lot.code} of {take.item.name} is past its best-before date of "
        f"{take.lot.best_before:%d %b %Y}; look and smell before you use it."
        for take in takes
        if take.lot and take.lot.best_before and take.lot.best_before < on
    ]


def days_after(on: date, days: int) -> date:
    return on + timedelta(days=days)


def months_after(on: date, months: int | None) -> date | None:
    """Return the same day so many months later, or the month's last day where it has none.

    >>> months_after(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    if not months:
        return None
    years, month = divmod(on.month - 1 + months, 12)
    year, month = on.year + years, month + 1
    return date(year, month, min(on.day, monthrange(year, month)[1]))
