"""Scent panels of the last weeks: over cure time, hot; a triangle test, cold; one still blind."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from pourwright.workshop.demo.life import Life
from pourwright.workshop.panels import services
from pourwright.workshop.panels.models import Panel, PanelJar, PanelKind, Scent
from pourwright.workshop.panels.services import Candidate
from pourwright.workshop.shelf.lots import version_of
from pourwright.workshop.stores.models import Balance, Kind, Place

DESIGN = "fig_tumbler"
AGES = (4, 13, 27)  # days of cure
# How strongly each age throws, in units of how much one nose differs from another.
THROWS = {4: 0.0, 13: 1.6, 27: 1.7}
RANKED_BEFORE, TRIANGLE_BEFORE = 9, 4  # days
LETTERS = "ambkcsdrelfoghhjiwjpkaltmnnvobpqrstu"


def today(life: Life) -> None:
    """Ask the panels of the last weeks, and leave one open with its first answers."""
    _over_cure_time(life)
    _triangle(life)
    _open(life)


def _over_cure_time(life: Life) -> None:
    version, on = life.designs[DESIGN], life.on - timedelta(days=RANKED_BEFORE)
    panel = services.plan(
        [Candidate(version=version, poured_on=on - timedelta(days=age)) for age in AGES],
        kind=PanelKind.RANKING, question="Which throws most, hot, after an hour and a half?",
        scent=Scent.HOT, room="the back room", minutes=90, on=on, assessors=12,
        alpha=Decimal("0.05"), seed=life.seed, at=life.at(9),
    )  # fmt: skip
    age_of = {
        jar.code: jar.candle.cure_days(on)
        for jar in PanelJar.objects.filter(candle__panel=panel).select_related("candle")
    }
    for serving in panel.servings.all():
        felt = {code: THROWS[age_of[code]] + _nose(life) for code in serving.codes}
        _ranked(life, panel, serving, felt)
    services.close(panel, on=on)


def _triangle(life: Life) -> None:
    """Thirteen days against twenty-seven, cold: nearly all guess."""
    version, on = life.designs[DESIGN], life.on - timedelta(days=TRIANGLE_BEFORE)
    panel = services.plan(
        [Candidate(version=version, poured_on=on - timedelta(days=age)) for age in AGES[1:]],
        kind=PanelKind.TRIANGLE, question="Can 13 and 27 days of cure be told apart, cold?",
        scent=Scent.COLD, room="the hall", minutes=20, on=on, assessors=18,
        alpha=Decimal("0.05"), tell_pct=Decimal(40), power_pct=Decimal(80), seed=life.seed + 1,
        at=life.at(9),
    )  # fmt: skip
    for serving in panel.servings.all():
        services.answer(
            panel, assessor=serving.number, odd=life.chance("noses").choice(serving.codes),
            by=_initials(serving.number), at=life.at(18),
        )  # fmt: skip
    services.close(panel, on=on)


def _open(life: Life) -> None:
    """Three candles from the shelf, asked today: five have answered."""
    held = (
        Balance.objects.filter(place=Place.SHELF, qty__gt=2, lot__item__kind=Kind.CANDLE)
        .select_related("lot__item")
        .order_by("-lot__began_on", "-lot_id")
    )
    lots = {}
    for row in held:
        if version_of(row.lot) is not None:
            lots.setdefault(row.lot.item_id, row.lot)
    if len(lots) < 2:
        return
    panel = services.plan(
        [Candidate(lot=lot) for lot in list(lots.values())[:3]], kind=PanelKind.RANKING,
        question="Which throws most, cold, the lids just off?", scent=Scent.COLD,
        room="the shop", minutes=15, on=life.on, assessors=12, alpha=Decimal("0.05"),
        seed=life.seed + 2, at=life.at(9),
    )  # fmt: skip
    for serving in panel.servings.all()[:5]:
        _ranked(life, panel, serving, {code: _nose(life) for code in serving.codes})


def _initials(number: int) -> str:
    return LETTERS[2 * number - 2 : 2 * number].upper()


def _nose(life: Life) -> float:
    return life.chance("noses").gauss(0, 1)


def _ranked(life: Life, panel: Panel, serving, felt: dict[str, float]) -> None:
    strongest_first = sorted(felt, key=lambda code: -felt[code])
    services.answer(
        panel, assessor=serving.number, by=_initials(serving.number), at=life.at(18),
        ranks={code: place for place, code in enumerate(strongest_first, start=1)},
    )  # fmt: skip
