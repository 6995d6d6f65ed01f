"""
What came of a pour: everything that was used, shared over the lots that it made.

Scrapped candles are a loss that the good ones bear; what is left over takes its own share with it
(see ``docs/decisions/0003-cost-of-a-pour.md``). Labour goes by the candles' minutes, overhead by
what they then cost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from pourwright.core.costing import labour_minor100, overhead_minor100
from pourwright.core.shares import split_exactly
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours import planning
from pourwright.workshop.pours.account import Account, Outcome
from pourwright.workshop.pours.allocation import Portion, add_up, by_part, loss_apart, share_out
from pourwright.workshop.pours.models import Filling, Pitcher, Use
from pourwright.workshop.pours.used import Used, portion_of
from pourwright.workshop.stores.models import (
    Item,
    Kind,
    Lot,
    Measure,
    Origin,
    Place,
    WaxFacts,
)


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


def made_of(account: Account, used: Sequence[Used]) -> list[Made]:
    """Share everything that was used over the lots that came of it."""
    wax = [portion_of(one) for one in used if one.take.use == Use.WAX]
    shares = account.wax_shares()
    if not any(shares):
        # Wax was melted and nothing drawn off: it all went with the first pitcher's waste.
        shares[0] = 1
    *by_pitcher, plain = share_out(wax, shares)
    made = []
    for pitcher, drawn in zip(account.pitchers, by_pitcher, strict=True):
        own = [
            portion_of(one)
            for one in used
            if one.take.pitcher_id == pitcher.pk and one.take.use != Use.PIECE
        ]
        pieces = {
            filling.pk: [portion_of(one) for one in used if one.take.filling_id == filling.pk]
            for filling in account.fillings[pitcher.pk]
        }
        made += _of_pitcher(account, pitcher, drawn + own, pieces)
    if account.left_plain_mg:
        made.append(_left_plain(account, plain, used))
    return made


def _of_pitcher(
    account: Account,
    pitcher: Pitcher,
    mix: list[Portion],
    pieces: Mapping[int, list[Portion]],
) -> list[Made]:
    fillings = account.fillings[pitcher.pk]
    weights: list[int] = []
    for filling in fillings:
        outcome, fill = account.outcome(filling), account.fill_mg(filling)
        weights += [outcome.good * fill, outcome.seconds * fill, outcome.scrapped * fill]
    weights.append(account.left[pitcher.pk])
    if not any(weights):
        return [_waste(pitcher, mix)] if mix else []
    *by_filling, left = share_out(mix, weights)
    made = []
    for place, filling in enumerate(fillings):
        made += _of_filling(
            filling,
            account.outcome(filling),
            fill_mg=account.fill_mg(filling),
            mixes=by_filling[3 * place : 3 * place + 3],
            pieces=pieces[filling.pk],
        )
    if account.left[pitcher.pk]:
        made.append(_left_mix(pitcher, left, account.left[pitcher.pk]))
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


def _left_plain(account: Account, portions: list[Portion], used: Sequence[Used]) -> Made:
    return Made(
        item=plain_item(account.pitchers[0]),
        origin=Origin.LEFT_PLAIN,
        place=Place.STORE,
        qty=account.left_plain_mg,
        portions=portions,
        parts=_with_loss(portions, [], own_mg=account.left_plain_mg, own=1, all_of_them=1),
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


def add_work(
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
